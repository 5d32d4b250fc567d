"""Answers that are a whole page for a browser and the named piece of it for htmx."""

from typing import Any
from urllib.parse import urlsplit

from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_vary_headers
from django.utils.http import url_has_allowed_host_and_scheme


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
