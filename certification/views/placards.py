"""Pages of plates, marks and placards, and the sheets to scale."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import placards as commands
from certification.forms.papers import PlacardForm, ReasonForm
from certification.models import Placard
from certification.pages.placards import PAPERS, CannotDraw, draw_placards
from certification.queries import placards as queries
from foundation.answer import answer
from foundation.posting import sent, written
from journal.queries.story import told


@require_safe
@for_member()
def placards(request: SeatedRequest, slug: str) -> HttpResponse:
    """The list with the height of letters checked, and what the authority's list asks for."""
    project = request.seat.project
    context = {"rows": queries.all_checked(project), "asked": queries.asked_for(project), "papers": PAPERS}
    return render(request, "certification/placards.html", context)


@require_safe
@for_member()
def placards_pdf(request: SeatedRequest, slug: str) -> HttpResponse:
    """The sheets to scale; `?only=` draws one of them, `?paper=` names the paper."""
    project = request.seat.project
    usual = "letter" if project.authority in {"US", "CA"} else "a4"
    paper = request.GET.get("paper", usual)
    rows = list(queries.placards(project))
    if only := request.GET.get("only"):
        rows = [row for row in rows if row.pk == only]
    try:
        content = draw_placards(rows, paper if paper in PAPERS else usual, f"Plates and placards, {project.name}")
    except CannotDraw as no:
        messages.error(request, str(no))
        return redirect("certification:placards", slug)
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="placards-{project.slug}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def one(request: SeatedRequest, key: str) -> Placard:
    """A placard, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_placards(request.seat.project), pk=key)


@for_member("edit")
def placard_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a placard; `?from=` begins with what the authority's list says."""
    project = request.seat.project
    form = PlacardForm(sent(request), initial=queries.suggestion(project, request.GET.get("from", "")))
    if made := written(form, commands.add_placard, by=request.seat.person, project=project):
        messages.success(request, f"“{made}” is on the list.")
        return redirect("certification:placards", slug)
    return answer(request, "certification/placard_form.html", {"form": form}, forms=(form,))


@for_member("read", post="edit")
def placard(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One placard: how its letters stand, correcting it, its history."""
    row = one(request, key)
    form = PlacardForm(sent(request), row=row)
    if written(form, commands.correct_placard, by=request.seat.person, row=row):
        messages.success(request, "It is corrected. The old words stay in the history.")
        return redirect("certification:placards", slug)
    row = one(request, key)
    context = {
        "form": form,
        "row": row,
        "checked": queries.checked(request.seat.project, row),
        "history": told(row.project_id, row.subject),
    }
    return answer(request, "certification/placard_form.html", context, forms=(form,))


@for_member("edit")
def placard_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a placard off the list."""
    row = one(request, key)
    form = ReasonForm(sent(request))
    if written(form, commands.withdraw_placard, by=request.seat.person, row=row):
        messages.success(request, f"“{row}” is off the list. The history keeps it.")
        return redirect("certification:placards", slug)
    return answer(request, "certification/placard_withdraw.html", {"form": form, "row": row}, forms=(form,))
