"""From what was posted to a command: what was sent, and writing what a good form says."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, QueryDict
from django.utils import timezone

from foundation.refusal import Refusal


def sent(request: HttpRequest) -> QueryDict | None:
    """What was posted, be it nothing at all; None for a page that is only looked at."""
    return request.POST if request.method == "POST" else None


def written(form: Any, write: Callable[..., Any], **known: Any) -> Any:
    """What the command made of a good form; None when it has to be shown again, with the refusal if there is one.

    The command gets `at`, what is `known`, and the values of the form, which shows a Refusal by its `refuse`.
    """
    if not form.is_valid():
        return None
    values = form.values if hasattr(form, "values") else form.cleaned_data
    try:
        return write(at=timezone.now(), **known, **values)
    except Refusal as no:
        form.refuse(no)
        return None
