"""Work after an area had been closed for good: said of it on the gate's page, and told beside sessions."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from accounts.models import Project
from buildlog import queries as work
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections import queries
from inspections.commands.since import explain_work
from inspections.forms.since import ExplainForm
from inspections.queries import JudgedArea, since
from inspections.views.areas import found


@for_member("edit")
def area_since(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say of sessions after the closing why the inside was not touched."""
    shown, seat = found(request, key), request.seat
    one = queries.judged(seat.project, [shown])[0]
    after = next(iter(since.worked_after(seat.project, [one])), None)
    if after is None:
        return redirect("inspections:area", slug, shown.pk)
    form = ExplainForm(sent(request), after=after)
    if request.method == "POST" and form.is_valid():
        try:
            explain_work(by=seat.person, at=timezone.now(), area=shown, **form.cleaned_data)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, "Said. It stays with the area and with its history.")
            return redirect("inspections:area", slug, shown.pk)
    context = {"form": form, "area": shown, "one": one, "worked": after}
    return answer(request, "inspections/area_since.html", context, forms=(form,))


@for_member()
def session_panel(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The areas closed for good before this session: a page, or for the session's own page the piece of it."""
    project = request.seat.project
    session = get_object_or_404(work.sessions(project), pk=key)
    worked = since.beside(since.worked_after(project, shut(project)), session)
    context = {"session": session, "beside": worked}
    return answer(request, "inspections/session_panel.html", context, piece="panel")


def shut(project: Project) -> list[JudgedArea]:
    """The areas of a project whose closing stands."""
    return [one for one in queries.judged(project) if one.closing]
