"""The photos placed on one thing, as a piece of the page of that thing, which lies below this app."""

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from evidence import queries
from foundation.answer import answer

STRIP = 12


@require_safe
@for_member()
def photos_of(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The newest photos placed on an assembly, part, bin or lot, withdrawn ones too."""
    project = request.seat.project
    thing = queries.place_by_key(project, key, withdrawn_too=True)
    if thing is None:
        raise Http404
    rows = queries.photos(project).filter(pk__in=queries.placements_on(thing).values("photo"))
    context = {"thing": thing, "kind": thing._meta.model_name, "photos": rows[:STRIP], "count": rows.count()}
    return answer(request, "evidence/photos_of.html", context, piece="strip")
