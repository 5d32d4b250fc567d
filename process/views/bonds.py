"""Pages of bonds: begun, told step by step, judged."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SENTENCES, SeatedRequest, for_member
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told
from process.commands import bonds as commands
from process.forms import bonds as forms
from process.models import Bond
from process.queries import bonds as queries
from process.queries.shots import shots
from process.rules import bonds as rules
from process.rules.verdicts import MARKS
from process.views.common import may_change, page_of, with_reason

A_PAGE = 40


def one(request: SeatedRequest, key: str) -> Bond:
    """A bond of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_bonds(request.seat.project), pk=key)


def one_to_change(request: SeatedRequest, key: str) -> Bond:
    """A bond that this member may correct, finish or withdraw."""
    bond = one(request, key)
    if not may_change(request, bond):
        raise PermissionDenied(SENTENCES["edit"])
    return bond


@require_safe
@for_member()
def bonds(request: SeatedRequest, slug: str) -> HttpResponse:
    """The bonds of the project, newest first, with their verdicts."""
    page = Paginator(queries.bonds(request.seat.project), A_PAGE).get_page(request.GET.get("page"))
    judged = []
    for bond in page:
        state = rules.state(queries.verdicts(bond))
        judged.append((bond, MARKS[state], rules.SAID[state]))
    return answer(request, "process/bonds.html", {"page": page, "judged": judged})


@for_member("log")
def bond_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Begin a bond."""
    seat, project = request.seat, request.seat.project
    initial = forms.initial_for_new(queries.bonds(project).first())
    initial |= {name: request.GET[name] for name in ("assembly", "part") if name in request.GET}
    form = forms.NewBondForm(sent(request), project=project, initial=initial)
    made = None
    if request.method == "POST":
        made = written(form, lambda **values: commands.start_bond(project=project, **values), by=seat.person)
    if made is not None:
        messages.success(request, f"{made.label} is begun. Tell each step when it is done.")
        return redirect("process:bond", slug, made.pk)
    return answer(request, "process/bond_new.html", {"form": form}, forms=(form,))


@require_safe
@for_member()
def bond(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One bond: its steps, the time left, the verdicts, what it joins, mixes, cures, photos."""
    shown = one(request, key)
    facts, verdicts = queries.facts_of(shown), queries.verdicts(shown)
    state, may = rules.state(verdicts), may_change(request, shown)
    goes_on = not shown.withdrawn and shown.finished_at is None
    is_open, waits = may and goes_on, goes_on and facts.on_at is None
    context = {
        "bond": shown,
        "record": shown,
        "facts": facts,
        "is_open": is_open,
        # A page kept on a phone may be old: what was tapped since then stands on it all the same.
        "made": timezone.now(),
        "shows_window": waits and (is_open or facts.wiped_at is not None),
        "dry_from": rules.whole_minute(facts.dry_at) if facts.dry_at is not None else None,
        "steps": [step for step in rules.steps(facts) if step.needed],
        "verdicts": verdicts,
        "mark": MARKS[state],
        "said": rules.SAID[state],
        "mixes": [(mix, page_of(mix)) for mix in queries.mixes_of(shown)],
        "cures": [(run, page_of(run)) for run in queries.cures_of(shown)],
        "shots": shots(shown),
        "may_change": may,
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "process/bond.html", context)


def told_or_said(request: SeatedRequest, shown: Bond, write: Any) -> HttpResponse:
    """Do one thing from the page of a bond, and say what stood in its way."""
    try:
        write(by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    return redirect("process:bond", shown.project.slug, shown.pk)


@for_member("log")
@require_POST
def bond_step(request: SeatedRequest, slug: str, key: str, step: str) -> HttpResponse:
    """One tap: a step is done now."""
    shown = one_to_change(request, key)
    return told_or_said(request, shown, lambda **who: commands.tell_step(shown, step=step, **who))


@for_member("log")
@require_POST
def bond_squeeze(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One tap: whether adhesive came out all round."""
    shown = one_to_change(request, key)
    form = forms.SqueezeForm(request.POST)
    if not form.is_valid():
        return redirect("process:bond", slug, key)
    return told_or_said(request, shown, lambda **who: commands.correct_bond(shown, **form.cleaned_data, **who))


@for_member("log")
def bond_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a bond."""
    shown = one_to_change(request, key)
    form = forms.CorrectBondForm(sent(request), project=shown.project, record=shown, initial=forms.initial_of(shown))

    def write(**values: Any) -> Bond:
        return commands.correct_bond(shown, **values)

    if request.method == "POST" and written(form, write, by=request.seat.person) is not None:
        messages.success(request, f"{shown.label} is corrected. The old values stay in the history.")
        return redirect("process:bond", slug, key)
    return answer(request, "process/bond_edit.html", {"form": form, "bond": shown}, forms=(form,))


@for_member("log")
@require_POST
def bond_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say that a bond is told completely."""
    shown = one_to_change(request, key)
    return told_or_said(request, shown, lambda **who: commands.finish_bond(shown, **who))


@for_member("log")
def bond_reopen(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Open a finished bond again, with a reason."""
    shown = one_to_change(request, key)
    words = (f"Open {shown.label} again?", f"{shown.label} is open again.", "Open it again")
    return with_reason(request, shown, lambda **values: commands.reopen_bond(shown, **values), *words)


@for_member("log")
def bond_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a bond that was recorded by mistake out of what counts."""
    shown = one_to_change(request, key)
    words = (f"Withdraw {shown.label}?", f"{shown.label} is withdrawn. It stays readable.", "Withdraw")
    return with_reason(request, shown, lambda **values: commands.withdraw_bond(shown, **values), *words)
