"""Pages of closure lists: what gates of common closures ask, bundled and the project's own."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections import queries
from inspections.commands import closures as commands
from inspections.forms import areas as item_forms
from inspections.forms import closures as forms
from inspections.models import ClosureList
from inspections.queries import closures, processes
from inspections.queries.closures import Listed
from journal.queries.story import told


def found(request: SeatedRequest, key: str) -> Listed:
    """The list of this key: bundled, or this project's own."""
    one = closures.list_of(request.seat.project, key)
    if one is None:
        raise Http404("No such list.")
    return one


def found_own(request: SeatedRequest, key: str) -> tuple[Listed, ClosureList]:
    """The project's own list of this key: the bundled ones are not changed."""
    one = found(request, key)
    if one.own is None:
        raise Http404("No such list of this project.")
    return one, one.own


@for_member()
def closure_lists(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every list, the project's own first."""
    lists = closures.all_lists(request.seat.project)
    return answer(request, "inspections/closures.html", {"groups": closures.grouped(lists), "data": closures.data()})


@for_member()
def closure_list(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One list with all it asks, its edition and where it comes from."""
    one = found(request, key)
    history = told(request.seat.project.pk, one.own.subject) if one.own else []
    context = {"one": one, "data": closures.data(), "history": history}
    return answer(request, "inspections/closure.html", context)


@for_member("edit")
def closure_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Make a list of one's own: from a list, from the gate of an area, or from nothing."""
    seat = request.seat
    values = copied(request)
    based_on, lines = values.pop("based_on"), values.pop("items")
    form = forms.ListForm(sent(request), initial=values)
    items = listed_items(request, lines)
    if request.method == "POST" and form.is_valid() and items.is_valid():
        try:
            made = commands.add_list(
                by=seat.person,
                at=timezone.now(),
                project=seat.project,
                items=item_forms.first_items(items),
                based_on=based_on,
                **form.cleaned_data,
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{made.name} is kept as edition 1.")
            return redirect("inspections:closure", slug, made.pk)
    context = {"form": form, "items": items, "based_on": based_on}
    return answer(request, "inspections/closure_form.html", context, forms=(form, *items))


def copied(request: SeatedRequest) -> dict[str, Any]:
    """What a new list starts with."""
    project = request.seat.project
    area = queries.areas(project).filter(pk=request.GET.get("area", "")).first()
    one = closures.list_of(project, request.GET.get("list", ""))
    if area:
        lines = closures.items_of(area)
        return {"name": area.name[:80], "kind": area.kind, "items": lines, "based_on": f"the gate of {area}"[:160]}
    if one:
        name = "" if one.own else f"{one.name}, own"
        return {"name": name, "kind": one.kind, "note": one.note, "items": one.offered(), "based_on": one.words}
    return {"name": "", "kind": "permanent", "items": item_forms.USUAL, "based_on": ""}


def listed_items(request: SeatedRequest, lines: list[dict[str, Any]]) -> Any:
    """The lines of a list as forms."""
    return item_forms.ListItems(sent(request), prefix="item", initial=lines, form_kwargs={"known": processes.kinds()})


@for_member("edit")
def closure_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a list of the project: it becomes the next edition."""
    (one, own), seat = found_own(request, key), request.seat
    form = forms.CorrectedListForm(sent(request), initial={"name": one.name, "kind": one.kind, "note": one.note})
    items = listed_items(request, list(one.items))
    if request.method == "POST" and form.is_valid() and items.is_valid():
        try:
            now = commands.correct_list(
                by=seat.person,
                at=timezone.now(),
                closure_list=own,
                items=item_forms.first_items(items),
                **form.cleaned_data,
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{now.name} stands at edition {now.edition}.")
            return redirect("inspections:closure", slug, now.pk)
    context = {"form": form, "items": items, "one": one}
    return answer(request, "inspections/closure_form.html", context, forms=(form, *items))


@for_member("edit")
def closure_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a list of the project off the lists."""
    one, own = found_own(request, key)
    form = item_forms.ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_list(
                by=request.seat.person, at=timezone.now(), closure_list=own, reason=form.cleaned_data["reason"]
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{one.name} is off the lists. Areas set up from it keep what they ask.")
            return redirect("inspections:closures", slug)
    return answer(request, "inspections/closure_withdraw.html", {"form": form, "one": one}, forms=(form,))
