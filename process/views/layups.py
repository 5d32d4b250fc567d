"""Pages of layups: the list, one layup as a run of moments, its ply schedule, finishing and withdrawing."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SENTENCES, SeatedRequest, for_member
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told
from process.commands import layups as commands
from process.forms import layups as forms
from process.forms.common import values_of
from process.forms.mixes import MixForm, initial_for_new
from process.models import Layup
from process.pages.judged import judged
from process.queries import checks
from process.queries import layups as queries
from process.queries import mixes as mix_queries
from process.queries.own import own_values
from process.queries.shots import shots
from process.rules import layups as rules
from process.rules import mixes as mix_rules
from process.rules import schedule, words
from process.rules.summary import at_a_glance, cautions, in_a_word, placed, worth_a_look
from process.rules.usual import usual
from process.views.common import address, may_change, page_of, saved, with_reason

A_PAGE = 60
SPARE_ROWS = 3


def one(request: SeatedRequest, key: str) -> Layup:
    """A layup of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_layups(request.seat.project), pk=key)


def only_who_may(request: SeatedRequest, layup: Layup) -> None:
    """Let through who may correct, finish or withdraw this layup."""
    if not may_change(request, layup):
        raise PermissionDenied(SENTENCES["edit"])


@for_member()
def layups(request: SeatedRequest, slug: str) -> HttpResponse:
    """The layups of the project, newest first: where each is, or how it was judged."""
    project = request.seat.project
    page = Paginator(queries.layups(project), A_PAGE).get_page(request.GET.get("page"))
    now = {layup.pk: words.MOMENTS.get(moment, "") for layup, moment in queries.current(list(page))}
    found = judged(words.LAYUP, project, page)
    lines = [(one.record, in_a_word(one.verdicts, now[one.record.pk])) for one in found]
    return answer(request, "process/layups.html", {"page": page, "lines": lines})


@for_member("log")
def layup_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Begin a layup."""
    seat = request.seat
    form = forms.NewLayupForm(
        sent(request),
        project=seat.project,
        layups=queries.with_schedule(seat.project),
        initial={name: request.GET.get(name, "") for name in ("assembly", "part", "schedule_of")},
    )

    def begin(**values: Any) -> Layup:
        like, mirror = values.pop("schedule_of"), values.pop("mirror")
        plies = forms.PlyRows(seat.project, forms.copied(like, mirror) if like else []).values()
        return commands.start_layup(project=seat.project, plies=plies, **values)

    if request.method == "POST" and (made := written(form, begin, by=seat.person)):
        messages.success(request, f"{made.label} is begun.")
        return redirect("process:layup" if made.plies.exists() else "process:layup_plies", slug, made.pk)
    return answer(request, "process/layup_new.html", {"form": form}, forms=(form,))


@for_member()
def layup(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One layup: what it is, its schedule and picture, mixes, cures, photos, verdicts, and the form of its moment."""
    return show(request, one(request, key))


def show(request: SeatedRequest, shown: Layup, form: Any = None, moment: str = "") -> HttpResponse:
    """The page of a layup; `form` is a moment's form that was sent and is to be shown again."""
    project, own = shown.project, own_values(shown.project)
    mixes, cures = mix_queries.mixes_of(shown), queries.cures_of(shown)
    facts = queries.facts_of(shown, len(mixes), len(cures))
    finished = shown.finished_at is not None
    moments = rules.moments(facts, over=finished)
    present = next((one for one in moments if one.now), None)
    asked = moment or request.GET.get("moment", "")
    # Of a finished layup the verdicts come first; the form of a moment is there for who asks for it.
    open_moment = asked if asked in words.MOMENTS else present.key if present else ""
    can = request.seat.may("log") and not shown.withdrawn and (not finished or may_change(request, shown))
    forms_ = moment_forms(shown, open_moment, form) if can else {}
    last = mix_queries.last_mix(project)
    # While resin is wet the page has both mixing and wet on it: it may be all that is at hand without signal.
    together = open_moment in {"mixing", "wet"} and not finished
    mix_form = None
    if can and together:
        initial = initial_for_new(last) | {"used_in": shown.pk, "assembly": shown.assembly_id}
        mix_form = MixForm(project=project, initial=initial)
    photos = shots(shown)
    verdicts = placed(
        [("", verdict) for verdict in rules.verdicts(facts, own)]
        + [(mix.label, verdict) for mix in mixes for verdict in mix_queries.verdicts(mix, own)]
    )
    context = {
        "layup": shown,
        "record": shown,
        "moments": moments,
        "present": present,
        "moment": next((one for one in moments if one.key == open_moment), None),
        "together": together,
        "can": can,
        "form": forms_.get(open_moment),
        "wet_form": forms_.get("wet"),
        "mix_form": mix_form,
        "scale_errors": mix_queries.scale_errors(project) if mix_form else {},
        "usual_window": usual("mix_window_percent", own),
        "plies": [(ply, schedule.rosette(ply.orientation)) for ply in shown.plies.all()],
        "next_ply": rules.next_ply(facts.plies),
        "laid": sum(1 for ply in facts.plies if ply.laid_at),
        "stack": queries.stack_of(shown),
        "estimate": rules.estimate(facts, own),
        "checks": check_lines(shown),
        "to_mix": rules.to_mix(facts, queries.ratio_of(project), own),
        "mixes": [(mix, mix_rules.ratio_verdict(mix_queries.facts_of(mix), own)) for mix in mixes],
        "mix_totals": queries.totals(mixes),
        "cures": [(run, address("process:cure", project.slug, run.pk)) for run in cures],
        "cure_new": address("process:cure_new", project.slug),
        "verdicts": verdicts,
        "cautions": cautions(verdicts),
        "state": in_a_word([one.verdict for one in verdicts]),
        "at_a_glance": at_a_glance(verdicts),
        "worth_a_look": worth_a_look(verdicts, open_too=finished),
        "shots": photos,
        "by_ply": {shot.ply for shot in photos if shot.ply},
        "may_change": may_change(request, shown),
        "history": told(shown.project_id, shown.subject),
    }
    sent_form = (form,) if form is not None else ()
    return answer(request, "process/layup.html", context, forms=sent_form)


# What is checked on the part that came of a layup, or on what was made with it.
CHECKED = (words.HARDNESS, words.COUPON, words.TAP_MAP, words.WEIGHING)


def check_lines(shown: Layup) -> list[tuple[Any, str, str, str]]:
    """The checks of the layup's part: record, state, words and page."""
    if shown.part is None:
        return []
    rows: list[Any] = []
    for kind in CHECKED:
        rows += checks.checks(shown.project, kind).filter(part=shown.part)
    return [(one, state, said, page_of(one)) for one, state, said in checks.judged(rows, shown.project)]


def moment_forms(shown: Layup, moment: str, sent_form: Any) -> dict[str, Any]:
    """The forms of the moment that is open; the wet one comes with the mixing one."""
    wanted = {"mixing": ["wet"], "wet": ["wet"]}.get(moment, [moment])
    made = {}
    for key in wanted:
        kind = forms.MOMENTS.get(key)
        if kind is None:
            continue
        made[key] = kind(project=shown.project, record=shown, initial=values_of(shown, kind.base_fields))
    if sent_form is not None:
        made[moment] = sent_form
    return made


@for_member("log")
def layup_moment(request: SeatedRequest, slug: str, key: str, moment: str) -> HttpResponse:
    """Write what is known at one moment."""
    shown = one(request, key)
    kind = forms.MOMENTS.get(moment)
    if kind is None:
        raise Http404
    if request.method != "POST":
        return show(request, shown, moment=moment)
    if shown.finished_at is not None:
        only_who_may(request, shown)
    form = kind(request.POST, project=shown.project, record=shown)
    # What is not said stays as it is only where its field was not on the page.
    if written(form, lambda **values: commands.tell_moment(shown, **values), by=request.seat.person) is not None:
        messages.success(request, f"{words.MOMENTS[moment]}: kept.")
        return redirect("process:layup", slug, key)
    return show(request, shown, form, moment)


@for_member("log")
@require_POST
def ply_laid(request: SeatedRequest, slug: str, key: str, ply: int) -> HttpResponse:
    """One tap: this ply is laid, or with `back` it is not after all."""
    shown = one(request, key)
    write = commands.take_back_ply if "back" in request.POST else commands.lay_ply
    try:
        write(shown, by=request.seat.person, at=timezone.now(), position=ply)
    except Refusal as no:
        messages.error(request, no.message)
    return redirect("process:layup", slug, key)


# ---- the ply schedule ----


@for_member("log")
def layup_plies(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The editor of the schedule. Its buttons work without a script: each shows the form again as it then is."""
    shown = one(request, key)
    if shown.finished_at is not None:
        only_who_may(request, shown)
    project = shown.project
    others = queries.with_schedule(project, but=shown)
    refused: list[str] = []
    if request.method != "POST":
        rows = forms.PlyRows.kept(project, shown.plies.all())
        return editor(request, shown, with_spare(rows), others, refused)
    rows = forms.PlyRows.sent(project, request.POST)
    act = request.POST.get("act", "")
    if act == "copy_of":
        like = next((other for other in others if other.pk == request.POST.get("schedule_of")), None)
        if like is not None:
            rows = forms.PlyRows(project, forms.copied(like, "mirror" in request.POST))
        return editor(request, shown, with_spare(rows), others, refused)
    if act and act != "save":
        return editor(request, shown, forms.PlyRows(project, schedule.acted(rows.rows, act)), others, refused)
    values = rows.values()
    if rows.good:
        try:
            commands.set_plies(
                shown,
                by=request.seat.person,
                at=timezone.now(),
                plies=values,
                reason=request.POST.get("reason", "")[:400],
            )
        except Refusal as no:
            refused = [no.message]
        else:
            messages.success(request, f"The schedule of {shown.label} has {len(values)} layers.")
            return redirect("process:layup", slug, key)
    return editor(request, shown, with_spare(rows), others, refused, bad=True)


def with_spare(rows: forms.PlyRows) -> forms.PlyRows:
    """The rows, and a few empty ones where there are none."""
    spare = max(0, SPARE_ROWS - len(rows.rows))
    rows.rows = schedule.numbered([*rows.rows, *({"kind": schedule.CLOTH} for _ in range(spare))])
    rows.errors += [{} for _ in range(spare)]
    return rows


def editor(
    request: HttpRequest,
    shown: Layup,
    rows: forms.PlyRows,
    others: list[Layup],
    refused: list[str],
    bad: bool = False,
) -> HttpResponse:
    laid = any(ply.laid_at for ply in shown.plies.all())
    context = {
        "layup": shown,
        "rows": rows.shown,
        "count": len(rows.rows),
        "lots": list(rows.lots.values()),
        "kinds": schedule.KINDS,
        "others": others,
        "refused": refused,
        "asks_reason": laid or shown.finished_at is not None,
        "reason": request.POST.get("reason", ""),
        "chosen": request.POST.get("schedule_of", ""),
    }
    response = answer(request, "process/plies.html", context)
    if bad:
        response.status_code = 422
    return response


# ---- correct, finish, withdraw ----


@for_member("log")
def layup_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct what a layup is."""
    shown = one(request, key)
    only_who_may(request, shown)
    form = forms.CorrectLayupForm(
        sent(request),
        project=shown.project,
        record=shown,
        initial=values_of(shown, forms.CorrectLayupForm.base_fields),
    )
    if request.method == "POST" and saved(request, form, lambda **values: commands.correct_layup(shown, **values)):
        messages.success(request, f"{shown.label} is corrected. The old values stay in the history.")
        return redirect("process:layup", slug, key)
    return answer(request, "process/layup_edit.html", {"form": form, "layup": shown}, forms=(form,))


@for_member("log")
@require_POST
def layup_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say that a layup is complete."""
    shown = one(request, key)
    only_who_may(request, shown)
    try:
        commands.finish_layup(shown, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{shown.label} is finished. From now on a correction needs a reason.")
    return redirect("process:layup", slug, key)


@for_member("log")
def layup_reopen(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say with a reason that a layup was not complete."""
    shown = one(request, key)
    only_who_may(request, shown)
    heading = f"Open {shown.label} again?"
    return with_reason(
        request,
        shown,
        lambda **values: commands.reopen_layup(shown, **values),
        heading,
        f"{shown.label} is open again.",
        "Open it again",
    )


@for_member("log")
def layup_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a layup that was begun by mistake out of what counts."""
    shown = one(request, key)
    only_who_may(request, shown)
    return with_reason(
        request,
        shown,
        lambda **values: commands.withdraw_layup(shown, **values),
        f"Withdraw {shown.label}?",
        f"{shown.label} is withdrawn. It stays readable.",
        "Withdraw",
    )
