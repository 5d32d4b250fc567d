"""Pages of one enclosed area: its gate, supplying what is asked, signing, closing, reopening."""

from collections.abc import Callable
from typing import Any

from allauth.core import ratelimit
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from accounts.queries import authority_of
from evidence import queries as evidence
from evidence.commands import take_in_many
from foundation.answer import answer
from foundation.refusal import Refusal
from inspections import commands, queries, rules
from inspections.forms import areas as forms
from inspections.models import Area, Requirement
from journal.queries.story import told

PICK = 60


def found(request: SeatedRequest, key: str) -> Area:
    """The area of this project by key, with all that its gate needs."""
    return get_object_or_404(queries.areas(request.seat.project), pk=key)


def sent(request: HttpRequest) -> QueryDict | None:
    """What was posted, be it nothing at all; None for a page that is only looked at."""
    return request.POST if request.method == "POST" else None


def item_of(area: Area, key: str, **more: str) -> Requirement:
    """A gate item of this area that is still asked for."""
    return get_object_or_404(
        area.requirements.filter(dropped_at__isnull=True, **more).select_related("area__project"), pk=key
    )


def back(area: Area) -> HttpResponse:
    return redirect("inspections:area", area.project.slug, area.pk)


@for_member()
def area(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The gate: may it be closed, what is missing and how to supply it, who signed."""
    shown = found(request, key)
    one = queries.judged(request.seat.project, [shown])[0]
    context = {
        "one": one,
        "area": shown,
        "groups": queries.lines(one),
        "authority": authority_of(request.seat.project),
        "history": told(shown.project_id, shown.subject, *[signed.signature.subject for signed in one.signed]),
    }
    return answer(request, "inspections/area.html", context)


@for_member("edit")
def area_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Set up an area and what its gate asks."""
    seat = request.seat
    initial = {"assembly": request.GET.get("assembly", ""), "kind": "permanent"}
    form = forms.AreaForm(sent(request), project=seat.project, initial=initial)
    items = forms.FirstItems(sent(request), prefix="item", initial=forms.USUAL)
    if request.method == "POST" and form.is_valid() and items.is_valid():
        try:
            made = commands.add_area(
                by=seat.person,
                at=timezone.now(),
                project=seat.project,
                requirements=forms.first_items(items),
                **form.cleaned_data,
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{made.number} is set up. Its gate shows what is asked before it is closed.")
            return redirect("inspections:area", slug, made.pk)
    return answer(request, "inspections/area_form.html", {"form": form, "items": items}, forms=(form, *items))


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
    form = forms.ItemForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            commands.ask_for(by=request.seat.person, at=timezone.now(), area=shown, **form.cleaned_data)
        except Refusal as no:
            form.add_error(None, no.message)
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
            return back(shown)
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
    """Answer a check: yes, no, or does not apply with a reason."""
    shown = found(request, key)
    requirement = item_of(shown, item)
    form = forms.AnswerForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Choose yes, no, or does not apply.")
        return back(shown)
    try:
        commands.answer_check(by=request.seat.person, at=timezone.now(), requirement=requirement, **form.cleaned_data)
    except Refusal as no:
        messages.error(request, no.message)
    return back(shown)


@for_member("sign")
def area_sign(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Show exactly what is signed; sign it with the password given again."""
    shown, seat = found(request, key), request.seat
    one = queries.judged(seat.project, [shown])[0]
    covers = queries.covers(one)
    form = forms.SignForm(sent(request), present=queries.seen(covers))
    if request.method == "POST" and form.is_valid():
        try:
            check_password(request, form.cleaned_data["password"])
            commands.sign_area(by=seat.person, at=timezone.now(), area=shown, seen=form.cleaned_data["seen"])
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"Signed by {seat.person.name}.")
            return back(shown)
    form.untick()
    context = {
        "form": form,
        "one": one,
        "seen": queries.seen(covers),
        "area": shown,
        "refusal": refusal(rules.check_sign, one.gate, seat.person.role),
        "groups": queries.covered_lines(one),
        "statement": commands.STATEMENT,
        "self_inspected": queries.worked_on(seat.person, seat.project, shown),
    }
    return answer(request, "inspections/area_sign.html", context, forms=(form,))


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
    context = {"form": form, "one": one, "area": shown, "authority": authority}
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
