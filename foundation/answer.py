"""Answers that are a whole page for a browser, the named piece of it for htmx, and JSON for a script."""

from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import urlsplit

from django.core.exceptions import PermissionDenied
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_vary_headers
from django.utils.http import url_has_allowed_host_and_scheme

SIGNED_OUT = "You are signed out. Sign in in another tab, then try again."
NOT_HERE = "This project is not to be found. Reload the page."
STALE = "This page is too old to send from. Reload it, then choose the photo again."

View = Callable[..., HttpResponseBase]


def answer(
    request: HttpRequest,
    template: str,
    context: dict[str, Any],
    *,
    piece: str = "",
    forms: tuple[BaseForm, ...] = (),
) -> HttpResponse:
    """Render a page, or for htmx its `piece`; status 422 when one of the `forms` was sent and is bad."""
    bad = any(form.is_bound and not form.is_valid() for form in forms)
    htmx = getattr(request, "htmx", None)
    wants_piece = piece and htmx and not htmx.boosted
    response = render(request, f"{template}#{piece}" if wants_piece else template, context, status=422 if bad else 200)
    patch_vary_headers(response, ["HX-Request"])
    return response


def go_back(request: HttpRequest, to: str) -> HttpResponse:
    """Redirect to the page named by the field `next` if it is one of ours, else to `to`."""
    wanted = request.POST.get("next", "")
    if wanted and url_has_allowed_host_and_scheme(wanted, {request.get_host()}) and not urlsplit(wanted).netloc:
        return redirect(wanted)
    return redirect(to)


def says_json(request: HttpRequest) -> bool:
    """Whether a script asks, which wants every answer as JSON."""
    return "application/json" in request.headers.get("Accept", "")


def in_json(view: View) -> View:
    """Give a script JSON also where the answer is no: signed out, no such project, not allowed, stale page."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not says_json(request):
            return view(request, *args, **kwargs)
        if not request.user.is_authenticated:
            return JsonResponse({"error": SIGNED_OUT}, status=401)
        try:
            response = view(request, *args, **kwargs)
        except PermissionDenied as no:
            return JsonResponse({"error": str(no) or "You may not do this here."}, status=403)
        except Http404:
            return JsonResponse({"error": NOT_HERE}, status=404)
        if response.status_code == 403 and not isinstance(response, JsonResponse):
            return JsonResponse({"error": STALE}, status=403)
        return response

    return answered
