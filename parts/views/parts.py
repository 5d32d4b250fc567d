"""Pages about parts."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from foundation.refusal import Refusal
from journal.queries.story import told
from parts import commands, queries, rules
from parts.forms import (
    CorrectPartForm,
    FindForm,
    MadeOfForm,
    OriginForm,
    PartForm,
    PlainForm,
    WithdrawForm,
    values_of_part,
)
from parts.models import Part

A_PAGE = 60


def one_part(request: SeatedRequest, key: str) -> Part:
    """A standing part of the project at hand, or 404."""
    return get_object_or_404(queries.parts_of(request.seat.project).select_related("project"), pk=key)


@for_member("read")
def parts(request: SeatedRequest, slug: str) -> HttpResponse:
    """The parts of the project, all or those looked for."""
    project = request.seat.project
    form = FindForm(queries.tree(project), request.GET)
    found = queries.find_parts(project, **form.wanted)
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "parts/parts.html", {"form": form, "page": page, "looking": bool(form.wanted)})


@for_member("read")
def part(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One part: facts, weights, history."""
    part, project = one_part(request, key), request.seat.project
    context = {
        "part": part,
        "weight": queries.weight_of(part, project),
        "estimate": queries.estimate_of(part, project),
        "origins": queries.origins(part),
        "offspring": queries.offspring(part),
        "made_of": queries.made_of(part),
        "offspring_words": rules.OFFSPRING_WORDS,
        "history": told(project.pk, part.subject),
    }
    return render(request, "parts/part.html", context)


@for_member("edit")
def part_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Put a part into an assembly."""
    seat, nodes = request.seat, queries.tree(request.seat.project)
    form = PartForm(nodes, seat.project, request.POST or None, initial={"assembly": request.GET.get("assembly", "")})
    if request.method == "POST" and form.is_valid():
        try:
            part = commands.add_part(by=seat.person, at=timezone.now(), project=seat.project, **form.values)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{part} is in {part.assembly}.")
            return redirect("parts:part", slug, part.pk)
    return answer(request, "parts/part_new.html", {"form": form, "has_tree": bool(nodes)}, forms=(form,))


@for_member("edit")
def part_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a part."""
    part, seat = one_part(request, key), request.seat
    form = CorrectPartForm(queries.tree(seat.project), seat.project, request.POST or None, initial=values_of_part(part))
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_part(by=seat.person, at=timezone.now(), part=part, **form.values)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{part} is corrected. The old values stay in the history.")
            return redirect("parts:part", slug, part.pk)
    return answer(request, "parts/part_edit.html", {"form": form, "part": one_part(request, key)}, forms=(form,))


@for_member("edit")
def part_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a part that was entered by mistake out of lists and weights."""
    part, seat = one_part(request, key), request.seat
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_part(by=seat.person, at=timezone.now(), part=part, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{part} is withdrawn and out of lists and weights.")
            return redirect("inspections:assembly", slug, part.assembly_id)
    return answer(request, "parts/part_withdraw.html", {"form": form, "part": part}, forms=(form,))


@for_member("read", post="edit")
def part_origins(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Where a part comes from, with two forms that add to it: another part, or a lot."""
    part, seat = one_part(request, key), request.seat
    sent = request.POST if request.method == "POST" else None
    lot_sent = sent if sent is not None and "lot" in sent else None
    origin_form = OriginForm(part, None if lot_sent is not None else sent)
    lot_form = MadeOfForm(seat.project, lot_sent)
    form: PlainForm = lot_form if lot_sent is not None else origin_form
    write = commands.add_made_of if lot_sent is not None else commands.add_origin
    if request.method == "POST" and form.is_valid():
        try:
            write(by=seat.person, at=timezone.now(), part=part, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"It stands with {part}.")
            return redirect("parts:part_origins", slug, part.pk)
    context = {
        "part": part,
        "origins": queries.origins(part),
        "made_of": queries.made_of(part),
        "origin_form": origin_form,
        "lot_form": lot_form,
    }
    return answer(request, "parts/part_origins.html", context, forms=(origin_form, lot_form))


@for_member("edit")
def part_origin_away(request: SeatedRequest, slug: str, key: str, link: str) -> HttpResponse:
    """Take away an origin or a lot that was entered by mistake, with a reason."""
    part, seat = one_part(request, key), request.seat
    shown = queries.origins(part).filter(pk=link).first() or get_object_or_404(queries.made_of(part), pk=link)
    form = WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.take_away_origin(by=seat.person, at=timezone.now(), part=part, link=link, **form.cleaned_data)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"It is taken away from {part}. The history keeps it.")
            return redirect("parts:part_origins", slug, part.pk)
    return answer(request, "parts/part_origin_away.html", {"form": form, "part": part, "link": shown}, forms=(form,))
