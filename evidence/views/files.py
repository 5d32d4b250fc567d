"""Files of photos: renditions, originals, and clips to be played."""

from django.http import Http404, HttpResponseBase
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from evidence import commands, queries, rules
from evidence.views.photos import found
from foundation.sending import send_file

FOR_EVER = "private, max-age=31536000, immutable"
ASK_AGAIN = "private, no-cache"
NOT_ON_DISK = "The original is not on the server's disk. Check the health of the record."


@require_safe
@for_member()
def rendition(request: SeatedRequest, slug: str, key: str, size: int) -> HttpResponseBase:
    """A drawn picture, 320 or 1280 pixels at its longest side; a lost one is drawn again."""
    if size not in queries.SIZES:
        raise Http404("No such size.")
    shown = found(request, key)
    if not queries.has_rendition(shown, size) and not commands.draw_now(shown):
        raise Http404("Not drawn yet.")
    return send_file(
        request,
        queries.rendition_path(shown.digest, size),
        etag=f"{shown.digest}-{size}",
        content_type="image/jpeg",
        cache=FOR_EVER,
    )


@require_safe
@for_member()
def play(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """A clip for the player in its page, in the pieces that it asks for; a picture is not played."""
    shown = found(request, key)
    if not shown.is_clip:
        raise Http404("A picture is not played.")
    try:
        return send_file(
            request,
            queries.original_path(shown),
            etag=shown.digest,
            content_type=rules.PLAYED.get(shown.kind, rules.TYPES[shown.kind]),
            cache=FOR_EVER,
        )
    except FileNotFoundError:
        raise Http404(NOT_ON_DISK) from None


@require_safe
@for_member()
def original(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The file exactly as it came."""
    shown = found(request, key)
    try:
        return send_file(
            request,
            queries.original_path(shown),
            etag=shown.digest,
            content_type=rules.TYPES[shown.kind],
            cache=ASK_AGAIN,
            save_as=f"{shown.label}.{shown.kind}",
        )
    except FileNotFoundError:
        raise Http404(NOT_ON_DISK) from None
