"""Lists to choose from that are known only when a form is made."""

from collections.abc import Iterable
from typing import cast

from django.forms import BaseForm, ChoiceField


def offer(form: BaseForm, name: str, choices: Iterable[tuple[str, str]]) -> None:
    """Offer these values, each with its words, in the choice field `name` of a form."""
    cast(ChoiceField, form.fields[name]).choices = list(choices)
