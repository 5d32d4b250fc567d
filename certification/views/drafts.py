"""Pages of drafts: what a statement has to say, with the record's facts, and the builder's own text."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import drafts as commands
from certification.forms.papers import DraftForm, ReasonForm
from certification.models.papers import DRAFTS
from certification.queries import drafts as queries
from certification.rules import drafts as rules
from foundation.answer import answer
from foundation.posting import sent, written
from journal.queries.story import told


@require_safe
@for_member()
def drafts(request: SeatedRequest, slug: str) -> HttpResponse:
    """The drafts, and which of them has something still to fill in."""
    found = [(one, rules.holes(one.draft.text) if one.draft else []) for one in queries.drafts(request.seat.project)]
    return render(request, "certification/drafts.html", {"drafts": found})


def known_kind(kind: str) -> str:
    if kind not in DRAFTS:
        raise Http404
    return kind


@for_member("read", post="edit")
def draft(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """One draft: its elements as a list to go through, and the text to write."""
    project = request.seat.project
    found = queries.written(project, known_kind(kind))
    text = found.draft.text if found.draft else queries.first_text(found)
    form = DraftForm(sent(request), initial={"text": text})
    if written(form, commands.write_draft, by=request.seat.person, project=project, kind=kind):
        messages.success(request, f"{found.title} is kept. The text before it stays in the history.")
        return redirect("certification:draft", slug, kind)
    ever = [row.subject for row in queries.drafts_ever(project, kind)]
    context = {
        "found": found,
        "form": form,
        "text": text,
        "holes": rules.holes(found.draft.text) if found.draft else [],
        "caution": rules.caution(text),
        "history": told(project.pk, *ever) if ever else [],
        "today": timezone.localdate(),
    }
    return answer(request, "certification/draft.html", context, forms=(form,))


@for_member("edit")
def draft_withdraw(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """Put a draft away."""
    found = queries.written(request.seat.project, known_kind(kind))
    if found.draft is None:
        raise Http404
    form = ReasonForm(sent(request))
    if written(form, commands.withdraw_draft, by=request.seat.person, draft=found.draft):
        messages.success(request, f"{found.title}: the draft is withdrawn. Its text stays in the history.")
        return redirect("certification:drafts", slug)
    return answer(request, "certification/draft_withdraw.html", {"form": form, "found": found}, forms=(form,))
