"""The door to the pages of a visit: whoever has the link, and nobody because of who he is.

A link that was never made, that expired or was taken back, an address below it that does not exist, a photo outside of
the visit and a method that a page does not take all get one and the same answer.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.conf import settings
from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django_htmx.middleware import HtmxDetails

from inspections.models import Visit
from inspections.queries import visits as queries
from inspections.rules import visits as rules

COOKIE, SALT = "visit", "a browser that opened a visit"
GUESSES, GUESSES_FOR = 60, 10 * 60
SEALS = {
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow, noarchive, nosnippet",
}
READS = {"GET": {"GET", "HEAD"}, "POST": {"POST"}}


class VisitRequest(HttpRequest):
    """A request that has come through the door, by somebody who has the link."""

    visit: Visit
    token: str
    htmx: HtmxDetails


View = Callable[..., HttpResponseBase]


def for_visitor(*methods: str, cover: bool = False) -> Callable[[View], View]:
    """Let through whoever has the link of a visit that is open, and asks by one of these methods.

    A browser that has not opened the visit yet is led to its `cover`. Django's own check of where a form came from is
    left out: it needs the referrer, which must not be told here. What keeps a foreign page from sending a form is that
    it does not know the address, and that the cookie of the opened visit does not come along with it.
    """
    allowed = {one for method in methods for one in READS[method]}

    def decorate(view: View) -> View:
        @csrf_exempt
        @wraps(view)
        def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            visit = found(request, token)
            if visit is None or request.method not in allowed or foreign(request):
                return sealed(nothing(request))
            asked = cast(VisitRequest, request)
            asked.visit, asked.token = visit, token
            with timezone.override(visit.project.zone):
                if visit.ended_at is not None:
                    return sealed(ended(asked))
                if not cover and not has_opened(request, visit):
                    return sealed(redirect("visitor:cover", token))
                try:
                    return sealed(view(asked, *args, **kwargs))
                except Http404:
                    return sealed(nothing(request))

        return guarded

    return decorate


def found(request: HttpRequest, token: str) -> Visit | None:
    """The visit of this link if it opens, or has ended; guessing is slowed down, address by address."""
    place = f"visit-guesses:{request.META.get('REMOTE_ADDR', '')}"
    visit = queries.by_token(token)
    if visit is not None and queries.standing(visit, timezone.now()) == rules.SHUT:
        visit = None
    if visit is not None and has_opened(request, visit):
        return visit
    if cache.get(place, 0) >= GUESSES:
        return None
    if visit is None and not cache.add(place, 1, GUESSES_FOR):
        cache.incr(place)
    return visit


def foreign(request: HttpRequest) -> bool:
    """Whether a page of somebody else sends this form, as far as the browser says."""
    return request.method == "POST" and request.headers.get("Sec-Fetch-Site", "same-origin") == "cross-site"


def has_opened(request: HttpRequest, visit: Visit) -> bool:
    """Whether this browser opened the visit before."""
    return request.get_signed_cookie(COOKIE, default="", salt=SALT) == visit.pk


def remember(response: HttpResponse, visit: Visit, token: str) -> None:
    """Let this browser come back until the link ends."""
    response.set_signed_cookie(
        COOKIE,
        visit.pk,
        salt=SALT,
        path=reverse("visitor:cover", args=[token]),
        expires=visit.expires_at,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def nothing(request: HttpRequest) -> HttpResponse:
    """The one answer to whatever does not open."""
    return render(request, "inspections/visitor/nothing.html", status=404)


def ended(request: VisitRequest) -> HttpResponse:
    """That the visit has ended and whom to ask; no record. Whoever was in it reads it as a page, not as an error."""
    context = {"visit": request.visit, "signed": queries.signatures(request.visit).count()}
    expected = request.method in READS["GET"] and has_opened(request, request.visit)
    return render(request, "inspections/visitor/ended.html", context, status=200 if expected else 410)


def sealed(response: HttpResponseBase) -> HttpResponseBase:
    """The answer, with all that keeps a link from being told on, kept or indexed; a picture says how long it keeps."""
    for name, value in SEALS.items():
        response.headers.setdefault(name, value)
    return response
