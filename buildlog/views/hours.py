"""The page of hours and its tables for a spreadsheet."""

from django.http import Http404, HttpResponse
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from buildlog import queries
from calc import chart
from calc.hours import HOUR
from foundation.answer import answer
from foundation.table import csv_bytes


@for_member("read")
def hours(request: SeatedRequest, slug: str) -> HttpResponse:
    """Where the hours went: in all, by assembly, week, month, person, kind."""
    page = queries.hours_page(request.seat.project, timezone.localdate())
    drawn = chart.columns([seconds / HOUR for _, seconds in page.weeks], page.average / HOUR)
    weeks = list(zip(page.weeks, drawn.columns, strict=True))
    return answer(request, "buildlog/hours.html", {"hours": page, "chart": drawn, "weeks": weeks})


@for_member("read")
def hours_csv(request: SeatedRequest, slug: str) -> HttpResponse:
    """One table of hours as CSV: ?table= assemblies, sessions, people or months."""
    table = request.GET.get("table", "assemblies")
    if table not in queries.TABLES:
        raise Http404("No such table.")
    project = request.seat.project
    response = HttpResponse(csv_bytes(queries.TABLES[table](project)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{project.slug}-hours-{table}.csv"'
    response["Cache-Control"] = "no-store"
    return response
