"""Pages of hold and witness points: all of them, one with its photos and signatures, and signing there."""

from collections.abc import Callable
from typing import Any

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from accounts.queries import people
from accounts.rules import INSPECTOR, ROLES
from evidence import queries as evidence
from evidence.commands import take_in_many
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections.commands import points as commands
from inspections.forms import points as forms
from inspections.forms.areas import ReasonForm, SignAreaForm, file_time
from inspections.models import Point
from inspections.queries import covered, points
from inspections.queries.pictures import photos_for_point
from inspections.queries.points import JudgedPoint
from inspections.rules import points as rules
from inspections.views.areas import check_password, refusal
from journal.queries.story import told
from parts import queries as parts

PICK = 60


def found(request: SeatedRequest, key: str) -> JudgedPoint:
    """The point of this project by key, judged."""
    project = request.seat.project
    return points.judged(project, [get_object_or_404(points.points(project), pk=key)])[0]


def back(point: Point) -> HttpResponse:
    return redirect("inspections:point", point.project.slug, point.pk)


def tell(form: django_forms.Form, no: Refusal) -> None:
    """A refusal beside the field that it is about."""
    form.add_error(no.field if no.field in form.fields else None, no.message)


@for_member()
def listed(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every point by what it means for the work, of all assemblies or of one and all below it."""
    project = request.seat.project
    nodes = parts.tree(project)
    chosen = next((n.assembly for n in nodes if n.assembly.pk == request.GET.get("assembly")), None)
    rows = points.judged(project)
    shown = points.on_assemblies(rows, points.below(project, chosen.pk)) if chosen else rows
    context = {
        "groups": points.grouped(shown),
        "nodes": nodes,
        "chosen": chosen,
        "any": bool(rows),
    }
    return answer(request, "inspections/points.html", context)


@for_member()
def points_panel(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The points on one part: a page, or for the part's own page the piece of it."""
    project = request.seat.project
    part = get_object_or_404(parts.parts_of(project), pk=key)
    context = {"part": part, "points": points.on_part(project, part)}
    return answer(request, "inspections/points_panel.html", context, piece="panel")


@for_member()
def point(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One point: its state, what is to be seen, its photos, who was invited and who signed."""
    one = found(request, key)
    subjects = [one.point.subject, *[signed.signature.subject for signed in one.signed]]
    context = {"one": one, "point": one.point, "history": told(one.point.project_id, *subjects)}
    return answer(request, "inspections/point.html", context)


@for_member("edit")
def point_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Set a point."""
    seat = request.seat
    part = parts.parts_of(seat.project).filter(pk=request.GET.get("part", "")).first()
    initial = {
        "kind": rules.HOLD,
        "role": INSPECTOR,
        "part": part.pk if part else "",
        "assembly": part.assembly_id if part else request.GET.get("assembly", ""),
    }
    proposed = " or ".join(points.proposed(seat.project, kind) for kind in rules.KINDS)
    form = forms.PointForm(sent(request), project=seat.project, proposed=proposed, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = commands.add_point(by=seat.person, at=timezone.now(), project=seat.project, **form.cleaned_data)
        except Refusal as no:
            tell(form, no)
        else:
            messages.success(request, f"{made.number} is set.")
            return back(made)
    return answer(request, "inspections/point_form.html", {"form": form}, forms=(form,))


@for_member("edit")
def point_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a point; what was signed needs a reason and then signing again."""
    one, seat = found(request, key), request.seat
    shown = one.point
    initial = {name: getattr(shown, name) for name in ("kind", "words", "step", "detail", "role", "number")}
    initial |= {"assembly": shown.assembly_id, "part": shown.part_id or ""}
    form = forms.CorrectedPointForm(sent(request), project=seat.project, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_point(by=seat.person, at=timezone.now(), point=shown, **form.cleaned_data)
        except Refusal as no:
            tell(form, no)
        else:
            messages.success(request, f"{shown.number} is corrected.")
            return back(shown)
    # The form's own number may be a refused one: headings keep the one that stands.
    context = {"form": form, "point": shown, "one": one, "number": initial["number"]}
    return answer(request, "inspections/point_form.html", context, forms=(form,))


@for_member("edit")
def point_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a point that was set by mistake off the lists; one that was signed stays."""
    one = found(request, key)
    context = {
        "heading": f"Withdraw {one.number}?",
        "words": "It goes off the lists and stays in the history with your reason.",
        "button": "Withdraw it",
        "refusal": refusal(rules.check_withdraw, bool(one.signed)),
    }
    form = ReasonForm(sent(request))
    return asked(request, one, form, context, commands.withdraw_point, to="inspections:points")


@for_member("edit")
def point_invite(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Note who was invited to look, and for when."""
    one = found(request, key)
    names = [person.name for person in people(request.seat.project).filter(role=one.point.role)]
    context = {
        "heading": f"Invite to {one.number}",
        "words": "This notes who was asked and for when. Nothing is sent: ask him yourself.",
        "button": "Note the invitation",
        "names": names,
        "inviting": True,
        "refusal": refusal(rules.check_invite, one.state, "somebody"),
    }
    form = forms.InviteForm(sent(request), initial={"whom": names[0] if len(names) == 1 else ""})
    return asked(request, one, form, context, commands.invite)


@for_member("edit")
def point_go_on(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Go on past a witness point without anybody having looked."""
    one = found(request, key)
    context = {
        "heading": f"Go on without, at {one.number}",
        "words": "Work goes on and nobody has looked. Your words stay with the point and print with it.",
        "button": "Go on without",
        "refusal": refusal(rules.check_go_on, one.point.kind, one.state, "words"),
    }
    return asked(request, one, forms.GoOnForm(sent(request)), context, commands.go_on)


def asked(
    request: SeatedRequest,
    one: JudgedPoint,
    form: django_forms.Form,
    context: dict[str, Any],
    command: Callable[..., Any],
    to: str = "",
) -> HttpResponse:
    """A page that asks for a few words and then runs one command; back to the point, or to the page named in `to`."""
    if request.method == "POST" and form.is_valid():
        try:
            command(by=request.seat.person, at=timezone.now(), point=one.point, **form.cleaned_data)
        except Refusal as no:
            tell(form, no)
        else:
            messages.success(request, "Done. It is kept with the point.")
            return redirect(to, one.point.project.slug) if to else back(one.point)
    context = {"form": form, "point": one.point, "one": one, **context}
    return answer(request, "inspections/point_ask.html", context, forms=(form,))


@for_member("log")
def point_photo(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Put photos in place at a point: taken now, sent as a file, or chosen among those kept."""
    one, seat, now = found(request, key), request.seat, timezone.now()
    refused: list[str] = []
    if request.method == "POST":
        files = request.FILES.getlist("new_photos")
        taken = take_in_many(
            by=seat.person,
            at=now,
            project=seat.project,
            files=files,
            places=[one.point.part or one.point.assembly],
            # The form sends one time, so it is the time of one file.
            file_time=file_time(request.POST.get("file_time", "")) if len(files) == 1 else None,
        )
        chosen = evidence.by_keys(seat.project, request.POST.getlist("photos"))
        refused = taken.refused + show(request, one.point, [*taken.photos, *chosen])
        if not refused and not taken.photos and not chosen:
            refused = ["Choose or take a photo first."]
        if not refused:
            return back(one.point)
        one = found(request, key)
    context = {
        "one": one,
        "point": one.point,
        "in_place": [(photo, points.is_covered(one, photo)) for photo in one.photos],
        "refused": refused,
        "kept": photos_for_point(seat.project, one.point)[:PICK],
    }
    response = answer(request, "inspections/point_photo.html", context)
    if refused:
        response.status_code = 422
    return response


def show(request: SeatedRequest, shown: Point, photos: list) -> list[str]:
    """Put photos in place; sentences about those that cannot stand there."""
    trouble = []
    for photo in photos:
        try:
            commands.show_photo(by=request.seat.person, at=timezone.now(), point=shown, photo=photo)
        except Refusal as no:
            trouble.append(no.message)
        else:
            messages.success(request, f"{photo.label} stands at {shown.number}.")
    return trouble


@for_member("log")
def point_photo_away(request: SeatedRequest, slug: str, key: str, photo: str) -> HttpResponse:
    """Take a photo off a point; for one that a signature covers the page asks why."""
    one = found(request, key)
    shown = get_object_or_404(one.point.point_photos.select_related("photo", "point__project"), photo=photo)
    form = ReasonForm(sent(request))
    if request.method == "POST" and (form.is_valid() or not points.is_covered(one, shown.photo)):
        try:
            commands.take_away_photo(
                by=request.seat.person, at=timezone.now(), shown=shown, reason=form.cleaned_data.get("reason", "")
            )
        except Refusal as no:
            tell(form, no)
        else:
            messages.success(request, f"{shown.photo.label} no longer stands at {one.number}. It stays in the record.")
            return redirect("inspections:point_photo", slug, one.point.pk)
    context = {
        "heading": f"Take {shown.photo.label} away from {one.number}?",
        "words": "A signature covers it. The signature stays, shows as signed, then changed, and is asked for again.",
        "button": "Take it away",
        "form": form,
        "point": one.point,
        "one": one,
    }
    return answer(request, "inspections/point_ask.html", context, forms=(form,))


@for_member("sign")
def point_sign(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Show exactly what is signed; accept it or not, with the password given again."""
    one, seat = found(request, key), request.seat
    present = covered.seen(points.covers(one.point))
    form = SignAreaForm(sent(request), present=present)
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        try:
            check_password(request, values["password"])
            commands.sign_point(
                by=seat.person,
                at=timezone.now(),
                point=one.point,
                seen=values["seen"],
                accepted=form.accepted,
                reason=values["reason"],
            )
        except Refusal as no:
            tell(form, no)
        else:
            messages.success(request, f"Signed by {seat.person.name}{'' if form.accepted else ': not accepted'}.")
            return back(one.point)
    form.untick()
    context = {
        "form": form,
        "one": one,
        "point": one.point,
        "seen": present,
        "refusal": refusal(rules.check_sign, one.point.kind, one.point.role, seat.person.role, ROLES[one.point.role]),
        "photos": [photo for photo in one.photos if not photo.withdrawn],
        "statement": commands.STATEMENT,
        "statement_not_accepted": commands.STATEMENT_NOT_ACCEPTED,
        "self_inspected": covered.worked_below(seat.person, seat.project, one.point.assembly_id),
    }
    return answer(request, "inspections/point_sign.html", context, forms=(form,))
