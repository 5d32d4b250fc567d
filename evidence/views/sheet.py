"""The contact sheet: photos by month, loaded piece by piece as they come near."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from evidence import forms, queries
from evidence.queries import Month, Spot, Wanted
from foundation.answer import answer


@require_safe
@for_member()
def contact_sheet(request: SeatedRequest, slug: str) -> HttpResponse:
    """The photos of the project, newest first; of one assembly, without a caption and so on, when asked.

    `month` begins the sheet with that month, `before` goes on after a place; for a script the pieces alone.
    """
    project = request.seat.project
    form = forms.FilterForm(request.GET, project=project)
    wanted = form.wanted
    rows = queries.shown(project, wanted)
    month, before = month_in(request), Spot.read(request.GET.get("before", ""))
    after = before or (Spot.end_of(month) if month else None)
    context = {
        "chunk": queries.chunk(rows, after),
        "wanted": wanted,
        "carried": form.carried,
        "comparing": request.GET.get("compare") == "on",
    }
    if is_piece(request):
        return answer(request, "evidence/photos.html", context, piece="pieces")
    months = queries.months(rows)
    return answer(request, "evidence/photos.html", context | around(form, wanted, months, month, before))


def is_piece(request: HttpRequest) -> bool:
    """Whether the script of the sheet asks for what comes next."""
    htmx = getattr(request, "htmx", None)
    return bool(htmx and not htmx.boosted and request.GET.get("before"))


def around(
    form: forms.FilterForm, wanted: Wanted, months: list[Month], month: date | None, before: Spot | None
) -> dict[str, object]:
    """What stands around the pieces on a whole page: filters with their counts, and the months to jump to."""
    project = form.project
    counts = queries.counts(queries.photos(project))
    start = month or (queries.month_of(before.when) if before else None)
    unplaced = Wanted(unplaced=True)
    return {
        "form": form,
        "counts": counts,
        "unplaced": queries.shown(project, unplaced).count(),
        "filtered": wanted != Wanted(),
        "months": months,
        "count": sum(one.count for one in months),
        "newer_month": next((one for one in reversed(months) if start and one.day > start), None),
        "mid": before is not None,
        "month": month,
    }


def month_in(request: HttpRequest) -> date | None:
    """The month that the address asks for, such as 2026-05; None for what is not one."""
    try:
        return date.fromisoformat(f"{request.GET.get('month', '')}-01")
    except ValueError:
        return None
