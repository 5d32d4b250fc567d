"""The door to every page of a project: who is asking, in which project, and may he do this?"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from accounts import queries, rules

View = Callable[..., HttpResponse]

SENTENCES = {
    "log": "Only builders and helpers log work here.",
    "edit": "Only the builder changes this.",
    "close": "Only the builder closes an area.",
    "manage": "Only the builder manages the project.",
    "sign": "Only an inspector or the builder signs.",
}


def for_member(act: str = "read", post: str | None = None) -> Callable[[View], View]:
    """Let members through who may do `act` (or `post` for anything but reading), with `request.seat` set.

    A stranger gets 404, a member without the right gets 403 with a sentence. Times are shown in the project's zone.
    """

    def decorate(view: View) -> View:
        @login_required
        @wraps(view)
        def guarded(request: HttpRequest, slug: str, *args: Any, **kwargs: Any) -> HttpResponse:
            request.seat = queries.seat(request.user, slug)
            needed = act if request.method in {"GET", "HEAD"} else (post or act)
            if not rules.may(request.seat.person.role, needed):
                raise PermissionDenied(SENTENCES.get(needed, ""))
            timezone.activate(request.seat.project.zone)
            return view(request, slug, *args, **kwargs)

        return guarded

    return decorate
