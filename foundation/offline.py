"""What works without signal: the service worker, and the page in place of those that are not kept on the device."""

import json
from fnmatch import fnmatch
from functools import cache

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import get_template, render_to_string
from django.urls import reverse
from django.views.decorators.http import require_safe

from foundation.digest import digest_bytes

# All styles and scripts together are smaller than one photo, so every page that is kept finds what it names.
KEPT = ("css/*.css", "js/*.js", "fonts/*-latin.woff2", "img/icon.svg", "django_htmx/htmx-2.min.js")
WORKER = "foundation/sw.js"
PAGE = "foundation/offline.html"


@cache
def assets() -> tuple[list[str], str]:
    """The addresses of the static files that are kept on the device, and a digest of their contents."""
    found: dict[str, bytes] = {}
    for finder in get_finders():
        for name, storage in finder.list([]):
            if name not in found and any(fnmatch(name, pattern) for pattern in KEPT):
                with storage.open(name) as file:
                    found[name] = file.read()
    names = sorted(found)
    sources = [get_template(name).template.source.encode() for name in (WORKER, PAGE)]  # type: ignore[attr-defined]
    whole = b"".join(name.encode() + b"\0" + found[name] for name in names) + b"".join(sources)
    return [staticfiles_storage.url(name) for name in names], digest_bytes(whole).removeprefix("sha256:")[:12]


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, asked for at the root so that it may answer for every page; new with each release."""
    addresses, version = assets()
    told = {
        "assets": [reverse("foundation:offline"), *addresses],
        "version": version,
        "offline": reverse("foundation:offline"),
        "sign_in": reverse("account_login"),
        "sign_out": reverse("account_logout"),
        "static": settings.STATIC_URL,
    }
    response = render(request, WORKER, {"told": json.dumps(told)}, content_type="text/javascript; charset=utf-8")
    response["Cache-Control"] = "no-cache"
    response["Service-Worker-Allowed"] = "/"
    return response


@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """In place of a page that is not kept on the device: what opens without signal. The same whoever asks."""
    return HttpResponse(render_to_string(PAGE))
