"""Pages about the tree of assemblies."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from foundation.refusal import Refusal
from parts import commands, queries
from parts.forms import CorrectAssemblyForm, MoveForm, NewAssemblyForm, WithdrawForm, values_of_assembly
from parts.models import Assembly


def one_assembly(request: SeatedRequest, key: str) -> Assembly:
    """A standing assembly of the project at hand, or 404."""
    return get_object_or_404(queries.assemblies(request.seat.project).select_related("project", "parent"), pk=key)


@for_member("read", post="edit")
def assemblies(request: SeatedRequest, slug: str) -> HttpResponse:
    """The tree with hours and state; with `?arrange` also the buttons that move things. POST moves one step."""
    if request.method == "POST":
        up = "up" in request.POST
        assembly = one_assembly(request, request.POST.get("up" if up else "down", ""))
        commands.step_assembly(by=request.seat.person, at=timezone.now(), assembly=assembly, up=up)
        return redirect(f"{reverse('parts:assemblies', args=[slug])}?arrange=1#a-{assembly.pk}")
    project = request.seat.project
    if "arrange" in request.GET and request.seat.may("edit"):
        return render(request, "parts/arrange.html", {"part_of": queries.parent_names(project)})
    return render(request, "parts/assemblies.html", {"counts": queries.part_counts(project)})


@for_member("edit")
def assembly_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Put an assembly into the tree."""
    seat, nodes = request.seat, queries.tree(request.seat.project)
    form = NewAssemblyForm(nodes, request.POST or None, initial={"parent": request.GET.get("parent", "")})
    if request.method == "POST" and form.is_valid():
        parents = {node.assembly.pk: node.assembly for node in nodes}
        values = form.cleaned_data | {"parent": parents.get(form.cleaned_data["parent"])}
        try:
            assembly = commands.add_assembly(by=seat.person, at=timezone.now(), project=seat.project, **values)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{assembly} is in the tree.")
            return redirect("inspections:assembly", slug, assembly.pk)
    return answer(request, "parts/assembly_new.html", {"form": form}, forms=(form,))


@for_member("edit")
def assembly_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct number, name or note of an assembly."""
    assembly = one_assembly(request, key)
    form = CorrectAssemblyForm(request.POST or None, initial=values_of_assembly(assembly))
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_assembly(by=request.seat.person, at=timezone.now(), assembly=assembly, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{assembly} is corrected. The old values stay in the history.")
            return redirect("inspections:assembly", slug, assembly.pk)
    return answer(request, "parts/assembly_edit.html", {"form": form, "assembly": assembly}, forms=(form,))


@for_member("edit")
def assembly_move(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Hang an assembly, with all below it, in another place of the tree."""
    assembly, project = one_assembly(request, key), request.seat.project
    now = queries.present_place(project, assembly)
    form = MoveForm(queries.places(project, assembly), request.POST or None, initial={"place": now})
    if request.method == "POST" and form.is_valid():
        to = form.chosen
        try:
            commands.move_assembly(
                by=request.seat.person, at=timezone.now(), assembly=assembly, parent=to.parent, after=to.after
            )
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{assembly} is {to.words} now.")
            return redirect(f"{reverse('parts:assemblies', args=[slug])}#a-{assembly.pk}")
    return answer(request, "parts/assembly_move.html", {"form": form, "assembly": assembly}, forms=(form,))


@for_member("edit")
def assembly_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take an assembly out of the tree, with a reason."""
    assembly = one_assembly(request, key)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_assembly(
                by=request.seat.person, at=timezone.now(), assembly=assembly, **form.cleaned_data
            )
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{assembly} is withdrawn. What was logged on it stays readable.")
            return redirect("parts:assemblies", slug)
    return answer(request, "parts/assembly_withdraw.html", {"form": form, "assembly": assembly}, forms=(form,))
