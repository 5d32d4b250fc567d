"""Pages of the equipment list."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import equipment as commands
from certification.forms.papers import EquipmentForm, ReasonForm
from certification.models import Equipment
from certification.queries import equipment as queries
from foundation.answer import answer
from foundation.posting import sent, written
from journal.queries.story import told


@require_safe
@for_member()
def equipment(request: SeatedRequest, slug: str) -> HttpResponse:
    """The list, made to be printed too."""
    rows = list(queries.equipment(request.seat.project))
    return render(request, "certification/equipment.html", {"rows": rows, "sum": queries.summed(rows)})


def one(request: SeatedRequest, key: str) -> Equipment:
    """A line of the list, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_equipment(request.seat.project), pk=key)


@for_member("edit")
def equipment_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a line of the list."""
    form = EquipmentForm(sent(request), project=request.seat.project)
    if made := written(form, commands.add_equipment, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made} is on the list.")
        return redirect("certification:equipment", slug)
    return answer(request, "certification/equipment_form.html", {"form": form}, forms=(form,))


@for_member("read", post="edit")
def equipment_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a line; with its history."""
    row = one(request, key)
    form = EquipmentForm(sent(request), project=request.seat.project, row=row)
    if written(form, commands.correct_equipment, by=request.seat.person, row=row):
        messages.success(request, f"{row} is corrected. The old values stay in the history.")
        return redirect("certification:equipment", slug)
    context = {"form": form, "row": one(request, key), "history": told(row.project_id, row.subject)}
    return answer(request, "certification/equipment_form.html", context, forms=(form,))


@for_member("edit")
def equipment_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a line off the list."""
    row = one(request, key)
    form = ReasonForm(sent(request))
    if written(form, commands.withdraw_equipment, by=request.seat.person, row=row):
        messages.success(request, f"{row} is off the list. The history keeps it.")
        return redirect("certification:equipment", slug)
    return answer(request, "certification/equipment_withdraw.html", {"form": form, "row": row}, forms=(form,))
