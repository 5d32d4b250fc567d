"""Pages of discrepancies: the list and its print, one with its way, and each step on it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from accounts.models import Person
from accounts.queries import authority_of
from evidence import queries as evidence
from evidence.access import chosen_photos
from evidence.commands import take_in_many
from evidence.models import Photo
from evidence.rules import CLIPS
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections import queries as areas
from inspections.commands import discrepancies as commands
from inspections.forms import areas as area_forms
from inspections.forms import discrepancies as forms
from inspections.models import Discrepancy
from inspections.pages import discrepancies as pages
from inspections.queries import covered
from inspections.queries import discrepancies as queries
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.rules import discrepancies as rules
from inspections.views.areas import check_password
from journal.queries.story import told

PICK = 60


def found(request: SeatedRequest, key: str) -> JudgedDiscrepancy:
    """A discrepancy of this project by key, judged; a withdrawn one stays readable."""
    project = request.seat.project
    return queries.judged(project, [get_object_or_404(queries.all_rows(project), pk=key)])[0]


def standing(request: SeatedRequest, key: str) -> JudgedDiscrepancy:
    """A discrepancy of this project that was not withdrawn."""
    one = found(request, key)
    if one.discrepancy.withdrawn:
        raise Http404("This discrepancy was withdrawn.")
    return one


def back(one: Discrepancy) -> HttpResponse:
    return redirect("inspections:discrepancy", one.project.slug, one.pk)


# ---- the list ----


@for_member()
def discrepancies(request: SeatedRequest, slug: str) -> HttpResponse:
    """The open ones, those that block first; with a filter that works without a script."""
    form = forms.FilterForm(request.GET, project=request.seat.project)
    wanted = form.wanted
    context = {
        "form": form,
        "wanted": wanted,
        "states": queries.SHOWN,
        "listed": queries.listed(request.seat.project, wanted),
    }
    return answer(request, "inspections/discrepancies.html", context, forms=(form,))


@require_safe
@for_member()
def discrepancies_print(request: SeatedRequest, slug: str) -> HttpResponse:
    """The list as sheets to take along and to sign by hand: a PDF."""
    project = request.seat.project
    form = forms.FilterForm(request.GET, project=project)
    rows = queries.listed(project, form.wanted).shown
    content = pages.print_discrepancies(project, rows, heading(form.wanted), timezone.localtime())
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="discrepancies-{slug}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


def heading(wanted: queries.Wanted) -> str:
    """What a list shows, in one line."""
    words = {queries.OPEN: "Open discrepancies", queries.SETTLED: "Discrepancies that are done"}
    parts = [
        words.get(wanted.state, "All discrepancies"),
        "only those that block" if wanted.blocks else "",
        f"severity {rules.SEVERITIES[wanted.severity].lower()}" if wanted.severity else "",
        f"on {wanted.assembly} and below" if wanted.assembly else "",
        f"in area {wanted.area}" if wanted.area else "",
        f"on part {wanted.part}" if wanted.part else "",
        f"from visit {wanted.visit}" if wanted.visit else "",
        f"found by {wanted.found_by}" if wanted.found_by else "",
    ]
    return ", ".join(filter(None, parts))


# ---- one ----


@for_member()
def discrepancy(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """What was found, what became of it, and what comes next."""
    one = found(request, key)
    signed = [step for step in one.steps if step.signature]
    context = {
        "one": one,
        "found": one.discrepancy,
        "phases": [("found", "As found", one.found_photos), ("corrected", "Corrected", one.corrected_photos)],
        "signed": signed,
        "independent": authority_of(request.seat.project).independent,
        "history": told(
            request.seat.project.pk,
            one.discrepancy.subject,
            *[step.signature.subject for step in signed if step.signature],
        ),
    }
    return answer(request, "inspections/discrepancy.html", context)


@for_member("find")
def discrepancy_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Record what was found; ?area=, ?part= or ?assembly= says where."""
    seat, now = request.seat, timezone.now()
    initial = {name: request.GET.get(name, "") for name in ("area", "part", "assembly") if request.GET.get(name)}
    form = forms.FindForm(sent(request), project=seat.project, by=seat.person, at=now, initial=initial)
    fill(form)
    photos, refused = chosen_photos(request, seat.project, seat.person, now)
    if request.method == "POST" and form.is_valid() and not refused:
        try:
            made = commands.find(by=seat.person, at=now, project=seat.project, photos=photos, **form.cleaned_data)
        except Refusal as no:
            tell(form, refused, no)
        else:
            messages.success(request, f"{made.label} is recorded.")
            return back(made)
    context = {"form": form, "photos": photos, "refused": refused}
    return page(request, "inspections/discrepancy_form.html", context, form, refused)


def fill(form: forms.FindForm) -> None:
    """Choose the assembly of the part or area that the address names."""
    place = form.parts.get(form.initial.get("part", "")) or form.areas.get(form.initial.get("area", ""))
    if place and not form.initial.get("assembly"):
        form.initial["assembly"] = place.assembly_id


def tell(form: Any, refused: list[str], no: Refusal) -> None:
    """Say a refusal where it belongs: at its field, with the photos, or above all."""
    if no.field == "photos":
        refused.append(no.message)
    else:
        form.add_error(no.field if no.field in form.fields else None, no.message)


def page(request: SeatedRequest, template: str, context: dict[str, Any], form: Any, refused: list[str]) -> HttpResponse:
    """A form's page; 422 also where only a photo was refused."""
    response = answer(request, template, context, forms=(form,))
    if refused:
        response.status_code = 422
    return response


@for_member("edit")
def discrepancy_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct what was entered, with a reason."""
    one, seat, now = standing(request, key).discrepancy, request.seat, timezone.now()
    form = forms.CorrectForm(sent(request), project=seat.project, by=seat.person, at=now, one=one)
    if request.method == "POST" and form.is_valid():
        try:
            commands.correct(by=seat.person, at=now, discrepancy=one, **form.cleaned_data)
        except Refusal as no:
            tell(form, [], no)
        else:
            messages.success(request, f"{one.label} is corrected. What stood there before stays in its history.")
            return back(one)
    return page(request, "inspections/discrepancy_form.html", {"form": form, "found": one}, form, [])


@for_member("edit")
def discrepancy_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take one that was entered by mistake off the lists."""
    one = standing(request, key)
    form = area_forms.ReasonForm(sent(request))
    context = {
        "heading": f"Withdraw {one.discrepancy.label}?",
        "words": "It goes off the lists and stays in the history with your reason. Its number is not given again.",
        "button": "Withdraw it",
    }
    return step(request, one, form, context, lambda **more: commands.withdraw(discrepancy=one.discrepancy, **more))


@for_member("edit")
def discrepancy_decide(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Decide what is to become of it."""
    one, seat = standing(request, key), request.seat
    form = forms.DecideForm(sent(request), project=seat.project, by=seat.person, at=timezone.now())
    context = {
        "heading": f"{one.discrepancy.label}: what is to become of it",
        "button": "Decide",
        "dispositions": [(key, word, rules.DISPOSITION_WORDS[key]) for key, word in rules.DISPOSITIONS.items()],
        "chosen": form["disposition"].value(),
    }
    return step(request, one, form, context, lambda **more: commands.decide(discrepancy=one.discrepancy, **more))


@for_member("log")
def discrepancy_fix(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Tell what was done about it, with photos."""
    one, seat, now = standing(request, key), request.seat, timezone.now()
    form = forms.FixForm(sent(request), project=seat.project, by=seat.person, at=now)
    photos, refused = chosen_photos(request, seat.project, seat.person, now)
    context = {
        "heading": f"{one.discrepancy.label}: what was done",
        "button": "Keep it",
        "photos": photos,
        "refused": refused,
        "with_photos": True,
    }
    return step(
        request, one, form, context, lambda **more: commands.fix(discrepancy=one.discrepancy, photos=photos, **more)
    )


def step(
    request: SeatedRequest,
    one: JudgedDiscrepancy,
    form: Any,
    context: dict[str, Any],
    command: Callable[..., Any],
) -> HttpResponse:
    """A page that asks for one step and then runs one command."""
    refused: list[str] = context.get("refused", [])
    if request.method == "POST" and form.is_valid() and not refused:
        try:
            command(by=request.seat.person, at=timezone.now(), **form.cleaned_data)
        except Refusal as no:
            tell(form, refused, no)
        else:
            messages.success(request, f"Kept with {one.discrepancy.label}.")
            return back(one.discrepancy)
    context |= {"form": form, "one": one, "found": one.discrepancy}
    return page(request, "inspections/discrepancy_step.html", context, form, refused)


@for_member("sign")
def discrepancy_reinspect(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Show exactly what is signed; accept it or not, with the password given again."""
    one, seat = standing(request, key), request.seat
    covers = queries.covers(one.discrepancy)
    form = forms.ReinspectForm(sent(request), present=covered.seen(covers))
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            check_password(request, said["password"])
            commands.reinspect(
                by=seat.person,
                at=timezone.now(),
                discrepancy=one.discrepancy,
                accepted=said["accepted"],
                words=said["words"],
                seen=said["seen"],
            )
        except Refusal as no:
            tell(form, [], no)
        else:
            messages.success(request, f"Signed by {seat.person.name}.")
            return back(one.discrepancy)
    form.untick()
    context = {
        "form": form,
        "one": one,
        "found": one.discrepancy,
        "photos": [
            (words, [row for row in one.photos(phase) if not row.photo.withdrawn])
            for phase, words in rules.PHASES.items()
        ],
        "seen": covered.seen(covers),
        "refusal": cannot_accept(one, seat.person, authority_of(seat.project).independent),
        "said": [
            ("yes", "Accepted", commands.ACCEPTS),
            ("no", "Not accepted", commands.DOES_NOT_ACCEPT),
        ],
        "chosen": form["accepted"].value(),
        "own": seat.person.pk in one.standing.doers,
    }
    return answer(request, "inspections/discrepancy_reinspect.html", context, forms=(form,))


def cannot_accept(one: JudgedDiscrepancy, person: Person, independent: bool) -> str:
    """Why this person cannot accept it now, in a sentence; empty where he can."""
    try:
        rules.check_reinspect(
            one.standing,
            person=person.pk,
            may_sign=person.may("sign"),
            accepted=True,
            words="",
            independent=independent,
        )
    except Refusal as no:
        return no.message
    return ""


# ---- photos ----


@for_member("find")
def discrepancy_photo(request: SeatedRequest, slug: str, key: str, phase: str) -> HttpResponse:
    """Put photos to what was found or to its correction: taken now, sent as a file, or chosen among those kept."""
    one, seat, now = standing(request, key), request.seat, timezone.now()
    if phase not in rules.PHASES:
        raise Http404("There is no such kind of photo.")
    refused: list[str] = []
    if request.method == "POST":
        photos, refused = photos_sent(request, one.discrepancy)
        if not refused:
            try:
                commands.show_photos(by=seat.person, at=now, discrepancy=one.discrepancy, photos=photos, phase=phase)
            except Refusal as no:
                refused = [no.message]
            else:
                labels = ", ".join(photo.label for photo in photos)
                messages.success(request, f"{labels}: kept. Marks can be drawn now.")
                return back(one.discrepancy)
    there = {row.photo_id for row in one.photos(phase)}
    near = areas.photos_of(seat.project, areas.below(seat.project, one.discrepancy.assembly_id))
    context = {
        "one": one,
        "found": one.discrepancy,
        "phase": phase,
        "phase_words": rules.PHASES[phase],
        "refused": refused,
        "kept": near.exclude(pk__in=there).exclude(kind__in=CLIPS)[:PICK],
    }
    response = answer(request, "inspections/discrepancy_photo.html", context)
    if refused:
        response.status_code = 422
    return response


def photos_sent(request: SeatedRequest, one: Discrepancy) -> tuple[list[Photo], list[str]]:
    """The photos that were taken, sent or chosen, and sentences about those that were refused."""
    seat, files = request.seat, request.FILES.getlist("new_photos")
    taken = take_in_many(
        by=seat.person,
        at=timezone.now(),
        project=seat.project,
        files=files,
        places=[one.assembly],
        # The form sends one time, so it is the time of one file.
        file_time=area_forms.file_time(request.POST.get("file_time", "")) if len(files) == 1 else None,
    )
    photos = [*taken.photos, *evidence.by_keys(seat.project, request.POST.getlist("photos"))]
    return photos, taken.refused if photos or taken.refused else ["Choose or take a photo first."]


@for_member("log")
@require_POST
def discrepancy_photo_away(request: SeatedRequest, slug: str, key: str, photo: str) -> HttpResponse:
    """Take a photo off a discrepancy; the photo itself stays in the record."""
    one = standing(request, key).discrepancy
    row = get_object_or_404(one.found_photos.select_related("photo", "discrepancy__project"), pk=photo)
    try:
        commands.take_away_photo(by=request.seat.person, at=timezone.now(), found_photo=row)
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{row.photo.label} no longer stands with {one.label}. It stays in the record.")
    return back(one)
