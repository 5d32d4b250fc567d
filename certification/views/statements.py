"""Pages of the statements that the builder signs in his own logbook."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import statements as commands
from certification.forms import statements as forms
from certification.models import Statement
from certification.models.flying import STATEMENTS
from certification.queries import flights as queries
from certification.rules import statements as rules
from certification.views.inspection_lists import with_reason
from foundation.answer import answer
from foundation.posting import sent, written
from journal.queries.story import told


def statement_found(request: SeatedRequest, key: str) -> Statement:
    """A statement of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_statements(request.seat.project), pk=key)


@for_member("edit")
def statement_new(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """Keep a statement with the elements that its kind needs; refused while one is missing."""
    if kind not in rules.ELEMENTS:
        raise Http404("There is no such statement.")
    project = request.seat.project
    phase, progress = queries.phase(project), queries.progress(project)
    ready = phase is not None and kind == rules.PHASE_END and phase.wording
    initial = {"made_on": timezone.localdate()} | (
        {"text": phase.wording, "wording": "limits"} if ready and phase else {}
    )
    form = forms.StatementForm(sent(request), project=project, kind=kind, initial=initial)
    if made := written(form, commands.make_statement, by=request.seat.person, project=project, kind=kind):
        messages.success(request, "Kept. What counts is the page in your logbook, and the authority decides.")
        return redirect("certification:statement", slug, made.pk)
    context = {
        "form": form,
        "kind": kind,
        "kind_words": STATEMENTS[kind],
        "source": rules.SOURCES[kind],
        "progress": progress,
        "with_hours": kind == rules.PHASE_END,
    }
    return answer(request, "certification/statement_form.html", context, forms=(form,))


@require_safe
@for_member()
def statement(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One statement with its elements and history."""
    shown = statement_found(request, key)
    names = {"vso": "Vso", "vx": "Vx", "vy": "Vy", "weight": "At weight", "arm": "At center of gravity"}
    context = {
        "statement": shown,
        "elements": queries.elements_of(shown),
        "figures": [(word, getattr(shown, name)) for name, word in names.items() if getattr(shown, name)],
        "source": rules.SOURCES[shown.kind],
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "certification/statement.html", context)


@for_member("edit")
def statement_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a statement that was entered wrongly off the list."""
    shown = statement_found(request, key)
    return with_reason(
        request,
        lambda **said: commands.withdraw_statement(statement=shown, **said),
        reverse("certification:statement", args=[slug, shown.pk]),
        f"Withdraw this statement of {shown.made_on:%-d %b %Y}?",
        "A statement is not changed: withdraw the wrong one and keep the right one. It stays readable.",
        "Withdraw it",
        "Withdrawn. It stays readable.",
    )
