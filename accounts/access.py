"""The door to every page of a project: who is asking, in which project, and may he do this?"""

from collections.abc import Callable
from datetime import date
from functools import wraps
from typing import Any, cast

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from accounts import queries, rules
from accounts.models import User

SENTENCES = {
    "log": "Only builders and helpers log work here.",
    "find": "Only who works here or inspects tells what was found.",
    "edit": "Only the builder changes this.",
    "close": "Only the builder closes an area.",
    "manage": "Only the builder manages the project.",
    "sign": "Only an inspector or the builder signs.",
}


class SignedInRequest(HttpRequest):
    """A request by somebody who is signed in, as `login_required` lets through."""

    user: User


class SeatedRequest(SignedInRequest):
    """A request that has come through the door: by a member, with his seat in the project of the page."""

    seat: queries.Seat


View = Callable[..., HttpResponseBase]


def for_member(act: str = "read", post: str | None = None) -> Callable[[View], View]:
    """Let members through who may do `act` (or `post` for anything but reading), with `request.seat` set.

    A stranger gets 404, a member without the right gets 403 with a sentence. Times are shown in the project's zone.
    """

    def decorate(view: View) -> View:
        @login_required
        @wraps(view)
        def guarded(request: HttpRequest, slug: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            seated = cast(SeatedRequest, request)
            seated.seat = queries.seat(seated.user, slug)
            needed = act if request.method in {"GET", "HEAD"} else (post or act)
            if not rules.may(seated.seat.person.role, needed):
                raise PermissionDenied(SENTENCES.get(needed, ""))
            stay_signed_in(seated, timezone.now().date())
            with timezone.override(seated.seat.project.zone):
                return view(seated, slug, *args, **kwargs)

        return guarded

    return decorate


def stay_signed_in(request: HttpRequest, today: date) -> None:
    """Renew the sign-in once a day of use: a phone in the shop must never meet a sign-in prompt."""
    if request.session.get("renewed") != today.isoformat():
        request.session["renewed"] = today.isoformat()
