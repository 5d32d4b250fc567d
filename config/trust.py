"""The page that helps a phone trust the server's certificate, served without encryption beside the record."""

from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_safe

from config import env
from config.certificates import authority_certificate, common_name, fingerprint
from config.ports import address

# The port at which the same machine serves the record itself.
HTTPS_PORT = env.whole("TRUST_FOR_PORT", 8000, least=1)
# A file of this type opens the installer of a phone; saved under a name, as a download is, it would not.
CERTIFICATE_TYPE = "application/x-x509-ca-cert"


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """Where to go on to, what to do before, and how to see that nobody swapped the certificate."""
    certificate = authority_certificate(settings.DATA_DIR / "secrets")
    context = {
        "secure": address(host(request), HTTPS_PORT, "https"),
        "name": common_name(certificate),
        "fingerprint": fingerprint(certificate),
    }
    response = render(request, "trust.html", context)
    add_never_cache_headers(response)
    return response


def host(request: HttpRequest) -> str:
    """The name or address by which the phone reached this machine, without the port."""
    return request.get_host().rpartition("]")[0].lstrip("[") or request.get_host().partition(":")[0]


@require_safe
def certificate(request: HttpRequest) -> HttpResponse:
    """The authority's certificate, never its key."""
    data = authority_certificate(settings.DATA_DIR / "secrets").public_bytes(Encoding.DER)
    response = HttpResponse(data, content_type=CERTIFICATE_TYPE)
    add_never_cache_headers(response)
    return response


urlpatterns = [
    path("", page, name="trust"),
    path("build-record.crt", certificate, name="certificate"),
]
