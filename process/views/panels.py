"""The process records of an assembly and of a part, as a page or as the piece of it for the page of the thing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from accounts.models import Project
from foundation.answer import answer
from parts import queries as parts
from process.models import KINDS
from process.pages.judged import Judged, judged
from process.queries import facts
from process.queries.own import own_values
from process.queries.story import records_of
from process.rules.verdicts import MARKS

MOST = 40


@require_safe
@for_member()
def on_assembly(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The process records that stand on one assembly."""
    project = request.seat.project
    shown = get_object_or_404(parts.assemblies(project), pk=key)
    rows = {kind: facts.rows(kind, project).filter(withdrawn_at=None, assembly=shown) for kind in KINDS}
    return panel(request, judged_now(project, rows), {"thing": shown, "on": f"assembly={shown.pk}"})


@require_safe
@for_member()
def on_part(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The process records of one part: made for it, joined, mixed or cured with it."""
    project = request.seat.project
    shown = get_object_or_404(parts.parts_of(project).select_related("assembly"), pk=key)
    keys: dict[str, list[str]] = {}
    for record in records_of(project, {shown.pk}):
        keys.setdefault(record.KIND, []).append(record.pk)
    rows = {kind: facts.rows(kind, project).filter(pk__in=found) for kind, found in keys.items()}
    on = f"assembly={shown.assembly_id}&part={shown.pk}"
    return panel(request, judged_now(project, rows), {"thing": shown, "on": on, "is_part": True})


def judged_now(project: Project, rows: dict[str, Any]) -> list[tuple[Judged, str]]:
    """Records of several kinds, newest first, each with the mark of its state."""
    known = own_values(project)
    found = [one for kind, some in rows.items() for one in judged(kind, project, some, known)]
    found.sort(key=lambda one: (one.record.done_at, one.record.number), reverse=True)
    return [(one, MARKS[one.state]) for one in found]


def panel(request: SeatedRequest, rows: list[tuple[Judged, str]], place: dict[str, Any]) -> HttpResponse:
    context = {"rows": rows[:MOST], "count": len(rows), **place}
    return answer(request, "process/panel.html", context, piece="panel")
