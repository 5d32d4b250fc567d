"""Who built what: the evidence of a primary builder, on screen and on paper."""

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from certification.queries import people as queries
from foundation.answer import answer


@require_safe
@for_member()
def people(request: SeatedRequest, slug: str) -> HttpResponse:
    """Everybody's part, and paid help session by session."""
    return answer(request, "certification/people.html", {"now": queries.builders(request.seat.project)})


@require_safe
@for_member()
def person_evidence(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One person's part as a sheet to print: what stands behind an application."""
    now = queries.builders(request.seat.project)
    one = now.of(key)
    if one is None:
        raise Http404("Nobody of this project.")
    return answer(request, "certification/people_sheet.html", {"now": now, "one": one})
