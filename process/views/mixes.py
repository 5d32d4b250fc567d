"""Pages of mixes: measured out, spread, corrected."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SENTENCES, SeatedRequest, for_member
from accounts.models import Project
from foundation.answer import answer, go_back
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told
from process.commands import mixes as commands
from process.forms import mixes as forms
from process.models import Layup, Mix
from process.pages.judged import judged
from process.queries import mixes as queries
from process.queries.own import own_values
from process.queries.shots import shots
from process.rules import mixes as rules
from process.rules import words
from process.rules.usual import usual
from process.views.common import may_change, page_of, saved, with_reason

A_PAGE = 60


def one(request: SeatedRequest, key: str) -> Mix:
    """A mix of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_mixes(request.seat.project), pk=key)


def only_who_may(request: SeatedRequest, mix: Mix) -> None:
    """Let through who may correct, finish or withdraw this mix."""
    if not may_change(request, mix):
        raise PermissionDenied(SENTENCES["edit"])


@for_member()
def mixes(request: SeatedRequest, slug: str) -> HttpResponse:
    """The mixes of the project, newest first, with the verdict on their ratio and whatever else is not good."""
    project = request.seat.project
    page = Paginator(queries.mixes(project), A_PAGE).get_page(request.GET.get("page"))
    found = judged(words.MIX, project, page)
    lines = [(one.record, [it for it in one.verdicts if it.about == rules.RATIO or not it.good]) for one in found]
    return answer(request, "process/mixes.html", {"page": page, "lines": lines})


def for_the_scale(project: Project) -> dict[str, Any]:
    """What the page needs to judge a mix before it is kept."""
    return {
        "usual_window": usual("mix_window_percent", own_values(project)),
        "scale_errors": queries.scale_errors(project),
    }


@for_member("log")
def mix_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Record a mix; its verdict stands on the page before the pot is spread."""
    seat, project = request.seat, request.seat.project
    initial = forms.initial_for_new(queries.last_mix(project))
    initial |= {name: request.GET[name] for name in ("assembly", "used_in") if name in request.GET}
    form = forms.MixForm(sent(request), project=project, initial=initial)
    made = None
    if request.method == "POST":
        made = written(form, lambda **values: commands.record_mix(project=project, **values), by=seat.person)
    if made is not None:
        verdict = rules.ratio_verdict(queries.facts_of(queries.all_mixes(project).get(pk=made.pk)), own_values(project))
        tell = messages.warning if verdict.bad else messages.success
        tell(request, f"{made.label} is kept. {verdict.words}.")
        thing = form.cleaned_data.get("used_in")
        return redirect(page_of(thing) if isinstance(thing, Layup) else page_of(made))
    context = {"form": form, **for_the_scale(project)}
    return answer(request, "process/mix_new.html", context, forms=(form,))


@for_member()
def mix(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One mix: amounts, verdicts, its clock, where it went."""
    shown = one(request, key)
    context = {
        "mix": shown,
        "record": shown,
        "verdicts": queries.verdicts(shown),
        "hint": rules.pot_hint(shown.pot_life_min, shown.pot_temp),
        "ends_at": rules.ends_at(queries.facts_of(shown)),
        "uses": uses_of(shown),
        "shots": shots(shown),
        "may_change": may_change(request, shown),
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "process/mix.html", context)


def uses_of(shown: Mix) -> list[tuple[Any, str]]:
    """Where a mix went, with the page of that."""
    found = []
    for use in shown.uses.all():
        record = use.layup or use.bond
        found.append((record or use.part, page_of(record) if record else ""))
    return found


@for_member("log")
@require_POST
def mix_spread(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One tap: the pot is finished, its clock ends."""
    shown = one(request, key)
    form = forms.SpreadForm(request.POST)
    try:
        when = form.cleaned_data["spread_at"] if form.is_valid() else None
        commands.spread_mix(shown, by=request.seat.person, at=timezone.now(), spread_at=when)
    except Refusal as no:
        messages.error(request, no.message)
    return go_back(request, page_of(shown))


@for_member("log")
def mix_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a mix."""
    shown = one(request, key)
    only_who_may(request, shown)
    form = forms.CorrectMixForm(sent(request), project=shown.project, record=shown, initial=forms.initial_of(shown))
    if request.method == "POST" and saved(request, form, lambda **values: commands.correct_mix(shown, **values)):
        messages.success(request, f"{shown.label} is corrected. The old values stay in the history.")
        return redirect("process:mix", slug, key)
    return answer(
        request, "process/mix_edit.html", {"form": form, "mix": shown, **for_the_scale(shown.project)}, forms=(form,)
    )


@for_member("log")
@require_POST
def mix_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say that a mix is completely told."""
    shown = one(request, key)
    only_who_may(request, shown)
    try:
        commands.finish_mix(shown, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{shown.label} is finished. From now on a correction needs a reason.")
    return redirect("process:mix", slug, key)


@for_member("log")
def mix_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a mix that was recorded by mistake out of what counts."""
    shown = one(request, key)
    only_who_may(request, shown)
    return with_reason(
        request,
        shown,
        lambda **values: commands.withdraw_mix(shown, **values),
        f"Withdraw {shown.label}?",
        f"{shown.label} is withdrawn. It stays readable.",
        "Withdraw",
    )
