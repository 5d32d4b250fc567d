"""Two photos beside each other: before and after."""

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from evidence import queries
from evidence.models import Photo
from foundation.answer import answer


@require_safe
@for_member()
def compare(request: SeatedRequest, slug: str) -> HttpResponse:
    """Two photos, named by `a` and `b` or ticked on the contact sheet as `pick`; the earlier one is the one before."""
    keys = [request.GET.get("a", ""), request.GET.get("b", ""), *request.GET.getlist("pick")]
    wanted = [key for key in dict.fromkeys(keys) if key]
    chosen = pictures(request, wanted) if len(wanted) == 2 else []
    pair = sorted(chosen, key=lambda photo: (photo.when, photo.number)) if len(chosen) == 2 else []
    context = {
        "before": pair[0] if pair else None,
        "after": pair[-1] if pair else None,
        "pair": list(zip(pair, ("Before", "After"), strict=False)),
        "ticked": len(wanted),
    }
    response = answer(request, "evidence/compare.html", context)
    response.status_code = 200 if pair or not wanted else 422
    return response


def pictures(request: SeatedRequest, keys: list[str]) -> list[Photo]:
    """The pictures of the member's project with these keys, withdrawn ones too."""
    rows = queries.all_photos(request.seat.project).filter(pk__in=keys).prefetch_related("marks")
    return [photo for photo in rows if photo.medium == "picture"]
