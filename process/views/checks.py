"""Pages of checks of every kind: recorded, judged, corrected, finished."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SENTENCES, SeatedRequest, for_member
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told
from process.commands import checks as commands
from process.forms import checks as forms
from process.models import KINDS, Coupon, ProcessRecord, TapMap, Torque, Weighing
from process.queries import checks as queries
from process.queries import cures
from process.queries.shots import shots
from process.rules import words
from process.rules.verdicts import MARKS
from process.views.common import may_change, page_of, saved, with_reason

A_PAGE = 60


def one(request: SeatedRequest, kind: str, key: str) -> Any:
    """A check of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_checks(request.seat.project, known(kind)), pk=key)


def known(kind: str) -> str:
    """A kind of check, or 404."""
    if kind not in queries.CHECKS:
        raise Http404
    return kind


def one_to_change(request: SeatedRequest, kind: str, key: str) -> Any:
    """A check that this member may correct, finish or withdraw."""
    record = one(request, kind, key)
    if not may_change(request, record):
        raise PermissionDenied(SENTENCES["edit"])
    return record


def named(kind: str) -> dict[str, str]:
    """What pages call a kind."""
    noun = KINDS[kind].TELLING.noun
    return {"kind": kind, "noun": noun, "plural": words.CHECK_PLURALS[kind], "begin": words.CHECK_BEGIN[kind]}


@require_safe
@for_member()
def overview(request: SeatedRequest, slug: str) -> HttpResponse:
    """The kinds of checks, each with how many there are."""
    counts = queries.counts(request.seat.project)
    return answer(request, "process/checks_overview.html", {"kinds": [(named(one), n) for one, n in counts.items()]})


@require_safe
@for_member()
def checks(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """The checks of one kind, newest first."""
    project = request.seat.project
    page = Paginator(queries.checks(project, known(kind)), A_PAGE).get_page(request.GET.get("page"))
    lines = [(row, MARKS[state], said) for row, state, said in queries.judged(list(page), project)]
    return answer(request, "process/checks.html", {"page": page, "lines": lines, **named(kind)})


@for_member("log")
def check_new(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """Record a check; what follows from it is said before it is kept."""
    seat, project = request.seat, request.seat.project
    kind_form = forms.FORMS[known(kind)]
    initial = forms.initial_for_new(queries.last_of(project, kind), kind_form)
    initial |= {name: request.GET[name] for name in ("assembly", "part") if name in request.GET}
    form = kind_form(sent(request), project=project, initial=initial)
    made = None
    if request.method == "POST":
        made = written(form, lambda **values: commands.record_check(kind, project=project, **rows(form), **values),
                       by=seat.person)  # fmt: skip
    if made is not None:
        messages.success(request, f"{made.label} is kept.")
        return redirect("process:check_taps" if kind == words.TAP_MAP else "process:check", slug, *place(kind, made))
    return answer(request, "process/check_new.html", {"form": form, **named(kind)}, forms=(form,))


def rows(form: forms.CheckForm) -> dict[str, Any]:
    """The rows of a form as a command takes them."""
    return {} if form.rows is None else {"scales": form.rows}


def place(kind: str, record: ProcessRecord) -> tuple[str, ...]:
    """The rest of a check's address."""
    return (record.pk,) if kind == words.TAP_MAP else (kind, record.pk)


@for_member("log")
@require_POST
def check_look(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """What follows from a check that is still being typed; nothing is kept."""
    project = request.seat.project
    form = forms.FORMS[known(kind)](request.POST, project=project)
    form.is_valid()
    record = queries.unkept(project, kind, request.seat.person, form.values, timezone.now())
    context = {
        "verdicts": queries.verdicts(record, rows=form.rows or []),
        "setting": queries.setting(record) if isinstance(record, Torque) else None,
    }
    return answer(request, "process/_check_look.html", context)


@require_safe
@for_member()
def check(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """One check: what was typed, its verdicts, photos, history."""
    record = one(request, kind, key)
    return show(request, record, forms.TightenedForm(project=record.project) if kind == words.TORQUE else None)


def show(request: SeatedRequest, record: Any, form: Any = None) -> HttpResponse:
    """The page of a check, with the form for what the wrench showed."""
    kind = record.KIND
    state = queries.state(record)
    context = {
        "record": record,
        "state": state,
        "state_mark": MARKS[state],
        "verdicts": queries.verdicts(record),
        "facts": forms.facts_of(record),
        "shots": shots(record),
        "may_change": may_change(request, record),
        "history": told(record.project_id, record.subject),
        **named(kind),
    }
    if isinstance(record, Torque):
        open_ = not record.shown and not record.withdrawn and record.finished_at is None
        context |= {"setting": queries.setting(record), "form": form if open_ else None}
    if isinstance(record, Weighing):
        context["to_part"] = queries.weight_to_give(record) if request.seat.may("edit") else ""
    if isinstance(record, TapMap):
        taps = [(tap, forms.percent(tap.x), forms.percent(tap.y)) for tap in record.taps.all()]
        context |= {"taps": taps, "photo": record.photo}
    if isinstance(record, Coupon):
        context["made_with"] = [(said, page_of(made) if made else "") for said, made in queries.made_with(record)]
        context["runs"] = [(run, page_of(run)) for run in cures.runs_of(record)]
    return answer(request, "process/check.html", context, forms=(form,) if form is not None else ())


@for_member("log")
@require_POST
def check_tightened(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """What the wrench showed, straight after tightening."""
    record = one_to_change(request, words.TORQUE, key)
    form = forms.TightenedForm(request.POST, project=record.project)
    if written(form, lambda **values: commands.correct_check(record, **values), by=request.seat.person) is None:
        return show(request, record, form)
    fresh = one(request, words.TORQUE, key)
    verdict = queries.verdicts(fresh)[0]
    tell = messages.warning if verdict.bad else messages.success
    tell(request, f"{fresh.label}: {verdict.words}.")
    return redirect(page_of(fresh))


@for_member("log")
def check_edit(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Correct a check."""
    record = one_to_change(request, kind, key)
    form = forms.FORMS[kind](sent(request), project=record.project, record=record, initial=forms.initial_of(record))
    if request.method == "POST" and saved(
        request, form, lambda **values: commands.correct_check(record, **rows(form), **values)
    ):
        messages.success(request, f"{record.label} is corrected. The old values stay in the history.")
        return redirect(page_of(record))
    return answer(request, "process/check_edit.html", {"form": form, "record": record, **named(kind)}, forms=(form,))


@for_member("log")
def check_taps(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Mark what was heard where, on a photo of the area."""
    record = one_to_change(request, words.TAP_MAP, key)
    photos = queries.photos_of(record)
    photo = record.photo or next(iter(photos), None)
    initial = {"photo": photo.pk if photo else "", "accepted": record.accepted}
    form = forms.TapsForm(sent(request), tapmap=record, photos=photos, initial=initial)
    if request.method == "POST" and saved(request, form, lambda **values: commands.mark_taps(record, **values)):
        messages.success(request, f"What was heard is kept with {record.label}.")
        return redirect(page_of(record))
    context = {
        "form": form,
        "record": record,
        "photo": photo,
        "sounds": words.SOUNDS,
        "blank": range(4),
        **named(words.TAP_MAP),
    }
    return answer(request, "process/check_taps.html", context, forms=(form,))


@for_member("edit")
@require_POST
def check_to_part(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One tap: the part gets the weighed weight."""
    record = one(request, words.WEIGHING, key)
    try:
        part = commands.give_weight_to_part(record, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{part} now weighs {record.weight}, from {record.label}.")
    return redirect(page_of(record))


@for_member("log")
@require_POST
def check_finish(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Say that a check is told completely."""
    record = one_to_change(request, kind, key)
    try:
        commands.finish_check(record, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{record.label} is finished. From now on a correction needs a reason.")
    return redirect(page_of(record))


@for_member("log")
def check_reopen(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Open a finished check again, with a reason."""
    record = one_to_change(request, kind, key)
    return with_reason(
        request,
        record,
        lambda **values: commands.reopen_check(record, **values),
        f"Open {record.label} again?",
        f"{record.label} is open again.",
        "Open it again",
    )


@for_member("log")
def check_withdraw(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Take a check that was recorded by mistake out of what counts."""
    record = one_to_change(request, kind, key)
    return with_reason(
        request,
        record,
        lambda **values: commands.withdraw_check(record, **values),
        f"Withdraw {record.label}?",
        f"{record.label} is withdrawn. It stays readable.",
        "Withdraw",
    )
