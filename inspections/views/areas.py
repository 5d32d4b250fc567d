"""Pages of one enclosed area: its gate, supplying what is asked, signing, closing, reopening."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from allauth.core import ratelimit
from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from accounts.models import Project
from accounts.queries import authority_of
from evidence import queries as evidence
from evidence.commands import take_in_many
from foundation.answer import answer, go_back
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections import commands, queries, rules
from inspections.forms import areas as forms
from inspections.models import Area, Requirement
from inspections.queries import JudgedArea, Line, closures, discrepancies, missing, processes, since
from inspections.queries.processes import ProcessRecord
from inspections.rules import missing as missing_rules
from inspections.rules.visits import DECLINED
from journal.queries.story import told

PICK = 60


def found(request: SeatedRequest, key: str) -> Area:
    """The area of this project by key, with all that its gate needs."""
    return get_object_or_404(queries.areas(request.seat.project), pk=key)


def item_of(area: Area, key: str, **more: str) -> Requirement:
    """A gate item of this area that is still asked for."""
    return get_object_or_404(
        area.requirements.filter(dropped_at__isnull=True, **more).select_related("area__project"), pk=key
    )


def back(area: Area) -> HttpResponse:
    return redirect("inspections:area", area.project.slug, area.pk)


@dataclass(frozen=True)
class Row:
    """One item of a gate on its page: its line, process records shown and to choose from, a form that was refused."""

    line: Line
    shown: list[tuple[ProcessRecord, bool]]
    to_choose: list[ProcessRecord]
    new: str = ""
    form: django_forms.Form | None = None

    @property
    def limits(self) -> str:
        """The limits of a value that was measured; until then the line of what is missing tells them."""
        asked = self.line.item.asked
        return rules.limits(asked) if asked.kind == rules.MEASURE and self.line.answer else ""

    @property
    def error(self) -> str:
        """What was wrong with what was typed here."""
        return next((str(errors[0]) for errors in self.form.errors.values()), "") if self.form else ""


@for_member()
def area(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The gate: may it be closed, what is missing and how to supply it, who signed."""
    return gate_page(request, found(request, key))


def gate_page(
    request: SeatedRequest, shown: Area, wrong: Requirement | None = None, form: django_forms.Form | None = None
) -> HttpResponse:
    """The page of a gate; with what was typed for one item and why it was refused."""
    project = request.seat.project
    one = queries.judged(project, [shown])[0]
    refused = {wrong.pk: form} if wrong and form else {}
    after = since.worked_after(project, [one])
    context = {
        "one": one,
        "area": shown,
        "groups": rows_of(one, refused),
        "wrong": wrong,
        "form": form,
        "stops": [line for line in missing.lines(one, request.seat.person) if line.stops],
        "worked": after[0] if after else None,
        "since_closing": missing.since_closing(one),
        "discrepancies": discrepancies.of(project, area=shown),
        "authority": authority_of(project),
        "history": told(shown.project_id, shown.subject, *[signed.signature.subject for signed in one.signed]),
    }
    return answer(request, "inspections/area.html", context, forms=(form,) if form else ())


def rows_of(one: JudgedArea, refused: Mapping[str, django_forms.Form]) -> list[tuple[str, list[Row]]]:
    """The items of a gate under their headings, each with the process records that it is about."""
    project, asked = one.area.project, one.area.asked
    known = processes.records(project, [(i.process, row.record) for i in asked for row in i.shown_records.all()])
    below = queries.below(project, one.area.assembly_id) if any(i.kind == rules.PROCESS for i in asked) else set()
    to_choose = {kind: processes.to_choose(project, kind, below) for kind in {i.process for i in asked if i.process}}

    def row(line: Line) -> Row:
        item = line.requirement
        records = [known[shown.record] for shown in item.shown_records.all() if shown.record in known]
        there = {record.subject for record in records}
        return Row(
            line,
            [(record, record.subject in line.item.serving) for record in records],
            [record for record in to_choose.get(item.process, []) if record.subject not in there],
            processes.new_page(project, item.process, one.area.assembly_id) if item.process else "",
            refused.get(item.pk),
        )

    order = {lack.key: place for place, lack in enumerate(missing_rules.lacking(one.gate))}
    groups = queries.lines(one)
    if not one.closing:
        groups = [(words, sorted(lines, key=lambda line: order.get(line.requirement.pk, 0))) for words, lines in groups]
    return [(words, [row(line) for line in lines]) for words, lines in groups]


@for_member("edit")
def area_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Set up an area and what its gate asks, from a closure list or from the usual few things."""
    seat = request.seat
    lists = closures.all_lists(seat.project)
    chosen = next((one for one in lists if one.key == request.GET.get("list")), None)
    initial = {"assembly": request.GET.get("assembly", ""), "kind": chosen.kind if chosen else "permanent"}
    form = forms.AreaForm(sent(request), project=seat.project, initial=initial)
    items = forms.FirstItems(
        sent(request),
        prefix="item",
        initial=chosen.offered() if chosen else forms.USUAL,
        form_kwargs=choices(seat.project),
    )
    if request.method == "POST" and form.is_valid() and items.is_valid():
        try:
            made = commands.add_area(
                by=seat.person,
                at=timezone.now(),
                project=seat.project,
                requirements=forms.first_items(items),
                closure_list=chosen.words if chosen else "",
                **form.cleaned_data,
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{made.number} is set up. Its gate shows what is asked before it is closed.")
            return redirect("inspections:area", slug, made.pk)
    context = {
        "form": form,
        "items": items,
        "lists": closures.grouped(lists),
        "chosen": chosen,
        "note": closures.data()["note"],
        "from_assembly": request.GET.get("assembly", ""),
    }
    return answer(request, "inspections/area_form.html", context, forms=(form, *items))


def choices(project: Project, but: Area | None = None) -> dict[str, Any]:
    """What the form of a gate item offers: areas to be closed first, and kinds of process records."""
    rows = queries.areas(project)
    return {"areas": list(rows.exclude(pk=but.pk) if but else rows), "known": processes.kinds()}


@for_member("edit")
def area_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct an area that is open."""
    shown = found(request, key)
    initial = {
        "assembly": shown.assembly_id,
        "number": shown.number,
        "name": shown.name,
        "kind": shown.kind,
        "note": shown.note,
    }
    form = forms.ReasonedAreaForm(sent(request), project=request.seat.project, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct_area(by=request.seat.person, at=timezone.now(), area=shown, **form.cleaned_data)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{shown.number} is corrected.")
            return back(shown)
    return answer(request, "inspections/area_form.html", {"form": form, "area": shown}, forms=(form,))


@for_member("edit")
def item_new(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Ask for one thing more."""
    shown = found(request, key)
    form = forms.ItemForm(sent(request), **choices(shown.project, but=shown))
    if request.method == "POST" and form.is_valid():
        try:
            commands.ask_for(by=request.seat.person, at=timezone.now(), area=shown, **form.cleaned_data)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"Asked for: {form.cleaned_data['words']}.")
            return back(shown)
    return answer(request, "inspections/item_form.html", {"form": form, "area": shown}, forms=(form,))


@for_member("edit")
def item_drop(request: SeatedRequest, slug: str, key: str, item: str) -> HttpResponse:
    """Stop asking for something, with a reason."""
    shown = found(request, key)
    requirement = item_of(shown, item)
    context = {
        "heading": f"Stop asking for item {requirement.position}?",
        "words": f"{requirement.words}. It stays in the history with your reason.",
        "button": "Stop asking for it",
    }
    return reasoned(request, shown, context, lambda **more: commands.drop_requirement(requirement=requirement, **more))


@for_member("log")
def item_photo(request: SeatedRequest, slug: str, key: str, item: str) -> HttpResponse:
    """Put photos in place for an item: taken now, sent as a file, or chosen among those kept."""
    shown, seat, now = found(request, key), request.seat, timezone.now()
    requirement = item_of(shown, item, kind=rules.PHOTO)
    refused: list[str] = []
    if request.method == "POST":
        files = request.FILES.getlist("new_photos")
        taken = take_in_many(
            by=seat.person,
            at=now,
            project=seat.project,
            files=files,
            places=[shown.assembly],
            # The form sends one time, so it is the time of one file.
            file_time=forms.file_time(request.POST.get("file_time", "")) if len(files) == 1 else None,
        )
        chosen = evidence.by_keys(seat.project, request.POST.getlist("photos"))
        refused = taken.refused + show(request, requirement, [*taken.photos, *chosen])
        if not refused and not taken.photos and not chosen:
            refused = ["Choose or take a photo first."]
        if not refused:
            return go_back(request, reverse("inspections:area", args=[slug, shown.pk]))
    one = queries.judged(seat.project, queries.areas(seat.project).filter(pk=shown.pk))[0]
    context = {
        "area": shown,
        "item": requirement,
        "closing": one.closing,
        "in_place": queries.line_of(one, requirement).photos,
        "refused": refused,
        "kept": queries.photos_to_choose(seat.project, shown, requirement)[:PICK],
    }
    response = answer(request, "inspections/item_photo.html", context)
    if refused:
        response.status_code = 422
    return response


@for_member("log")
@require_POST
def photo_away(request: SeatedRequest, slug: str, key: str, item: str, photo: str) -> HttpResponse:
    """Take a photo off an item; the photo itself stays in the record."""
    shown = found(request, key)
    requirement = item_of(shown, item)
    exhibit = get_object_or_404(requirement.exhibits.select_related("photo", "requirement__area"), photo=photo)
    try:
        commands.take_away_photo(by=request.seat.person, at=timezone.now(), exhibit=exhibit)
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(
            request, f"{exhibit.photo.label} no longer stands for item {requirement.position}. It stays in the record."
        )
    return redirect("inspections:item_photo", slug, shown.pk, requirement.pk)


def show(request: SeatedRequest, requirement: Requirement, photos: list) -> list[str]:
    """Put photos in place; sentences about those that cannot serve."""
    trouble = []
    for photo in photos:
        try:
            commands.show_photo(by=request.seat.person, at=timezone.now(), requirement=requirement, photo=photo)
        except Refusal as no:
            trouble.append(no.message)
        else:
            messages.success(request, f"{photo.label} stands for item {requirement.position}.")
    return trouble


@for_member("log")
@require_POST
def item_answer(request: SeatedRequest, slug: str, key: str, item: str) -> HttpResponse:
    """Answer an item: a check, a measured value, a count, or that it does not apply."""
    shown = found(request, key)
    requirement = item_of(shown, item)
    form, command = answering(requirement, request.POST)
    if form.is_valid():
        try:
            command(by=request.seat.person, at=timezone.now(), requirement=requirement, **form.cleaned_data)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            return go_back(request, reverse("inspections:area", args=[slug, shown.pk]))
    return gate_page(request, found(request, key), requirement, form)


def answering(requirement: Requirement, said: QueryDict) -> tuple[django_forms.Form, Callable[..., Any]]:
    """The form and the command for what was sent about an item."""
    if "answer" not in said and requirement.kind == rules.MEASURE:
        return forms.MeasureForm(said), answer_measure
    if "answer" not in said and requirement.kind == rules.COUNT:
        return forms.CountForm(said), commands.answer_count
    return forms.AnswerForm(said), commands.answer_check


def answer_measure(*, requirement: Requirement, **said: Any) -> Any:
    """A value is read in the unit that stands beside its field."""
    return commands.answer_measure(requirement=requirement, unit=requirement.unit, **said)


@for_member("log")
@require_POST
def item_record(request: SeatedRequest, slug: str, key: str, item: str) -> HttpResponse:
    """Put a process record in place for an item."""
    shown = found(request, key)
    requirement = item_of(shown, item, kind=rules.PROCESS)
    record = request.POST.get("record", "")
    try:
        if not record:
            raise Refusal("no_record", "Choose a record first.")
        commands.show_record(by=request.seat.person, at=timezone.now(), requirement=requirement, record=record)
    except Refusal as no:
        messages.error(request, no.message)
    return back(shown)


@for_member("log")
@require_POST
def record_away(request: SeatedRequest, slug: str, key: str, item: str) -> HttpResponse:
    """Take a process record off an item; the record itself stays."""
    shown = found(request, key)
    requirement = item_of(shown, item, kind=rules.PROCESS)
    row = get_object_or_404(
        requirement.shown_records.select_related("requirement__area"), record=request.POST.get("record", "")
    )
    try:
        commands.take_away_record(by=request.seat.person, at=timezone.now(), shown=row)
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"It no longer stands for item {requirement.position}. It stays in the record.")
    return back(shown)


@for_member("sign")
def area_sign(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Show exactly what is signed; accept it or not, with the password given again."""
    shown, seat = found(request, key), request.seat
    one = queries.judged(seat.project, [shown])[0]
    covers = queries.covers(one)
    form = forms.SignAreaForm(sent(request), present=queries.seen(covers))
    if request.method == "POST" and form.is_valid():
        try:
            check_password(request, form.cleaned_data["password"])
            commands.sign_area(
                by=seat.person,
                at=timezone.now(),
                area=shown,
                seen=form.cleaned_data["seen"],
                accepted=form.accepted,
                statement=commands.STATEMENT if form.accepted else DECLINED,
                reason="" if form.accepted else form.cleaned_data["reason"],
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"Signed by {seat.person.name}{'' if form.accepted else ': not accepted'}.")
            return back(shown)
    form.untick()
    context = {
        "form": form,
        "one": one,
        "seen": queries.seen(covers),
        "area": shown,
        "refusal": refusal(rules.check_sign, one.gate, seat.person.role, False),
        "gap": bool(one.gate.lacks_before_signing),
        "rows": signed_rows(one),
        "statement": commands.STATEMENT,
        "statement_not_accepted": DECLINED,
        "self_inspected": queries.worked_on(seat.person, seat.project, shown),
    }
    return answer(request, "inspections/area_sign.html", context, forms=(form,))


def signed_rows(one: JudgedArea) -> list[tuple[Row, list[Any]]]:
    """What a signature covers, in the gate's order: each item with its records, and the photos that count."""
    rows = {row.line.requirement.pk: row for _, found_rows in rows_of(one, {}) for row in found_rows}
    return [(rows[line.requirement.pk], photos) for line, photos in queries.covered_lines(one)]


def refusal(check: Callable[..., None], *facts: Any) -> str:
    """The sentence with which a rule refuses, empty when it lets pass."""
    try:
        check(*facts)
    except Refusal as no:
        return no.message
    return ""


def check_password(request: SeatedRequest, password: str) -> None:
    """Refuse a signature without the account's own password; too many tries have to wait."""
    if not ratelimit.consume(request, action="reauthenticate", user=request.user):
        raise Refusal("too_many_tries", "Too many tries. Wait a minute, then try again.", "password")
    if not request.user.has_usable_password():
        raise Refusal("no_password", "This account has no password yet. Choose one in Settings, then sign.", "password")
    if not request.user.check_password(password):
        raise Refusal("wrong_password", "That is not this account's password.", "password")


@for_member("close")
def area_close(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Close an area; with something missing it is refused or asks for a reason that stays."""
    shown, seat = found(request, key), request.seat
    one = queries.judged(seat.project, [shown])[0]
    authority = authority_of(seat.project)
    form = forms.CloseForm(sent(request), asked=authority.closing == rules.ADVISE and not one.gate.may_close)
    if request.method == "GET" and one.closing:
        return back(shown)
    if request.method == "POST" and form.is_valid():
        try:
            commands.close_area(by=seat.person, at=timezone.now(), area=shown, reason=form.cleaned_data["reason"])
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{shown.number} is closed up. What was in place is kept with it.")
            return back(shown)
    context = {
        "form": form,
        "one": one,
        "area": shown,
        "authority": authority,
        "lacking": missing.lines(one, seat.person),
    }
    return answer(request, "inspections/area_close.html", context, forms=(form,))


@for_member("close")
def area_reopen(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Open a closed area again, with a reason."""
    shown = found(request, key)
    if request.method == "GET" and not queries.judged(request.seat.project, [shown])[0].closing:
        return back(shown)
    context = {
        "heading": f"Open {shown.number} again?",
        "words": "Its gate is armed again: photos, checks and signatures from before do not count any more.",
        "button": "Open it again",
    }
    return reasoned(request, shown, context, lambda **more: commands.reopen_area(area=shown, **more))


@for_member("edit")
def area_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take an area that was set up by mistake off the lists."""
    shown = found(request, key)
    context = {
        "heading": f"Withdraw {shown.number}?",
        "words": "It goes off the lists and stays in the history with your reason.",
        "button": "Withdraw it",
        "then": "holds",
    }
    return reasoned(request, shown, context, lambda **more: commands.withdraw_area(area=shown, **more))


def reasoned(request: SeatedRequest, area: Area, context: dict[str, Any], command: Callable[..., Any]) -> HttpResponse:
    """A page that asks for a reason and then runs one command."""
    form = forms.ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            command(by=request.seat.person, at=timezone.now(), reason=form.cleaned_data["reason"])
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, "Done. The reason is kept with it.")
            return redirect("inspections:holds", area.project.slug) if context.get("then") else back(area)
    return answer(request, "inspections/reason.html", {"form": form, "area": area, **context}, forms=(form,))
