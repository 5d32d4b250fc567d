"""All writes about drafts."""

from datetime import datetime

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Draft
from certification.queries.drafts import draft_of
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record


@transaction.atomic
def write_draft(*, by: Person, at: datetime, project: Project, kind: str, text: str) -> Draft:
    """Write a draft or change it; the text before stays in the journal. The same text again writes nothing."""
    take_turn(project.pk)
    if not text.strip():
        raise Refusal("empty", "Write something, or withdraw the draft.", "text")
    draft = draft_of(project, kind)
    if draft is None:
        draft = Draft(project=project, kind=kind, text=text, entered_at=at, entered_by=by)
        draft.save(force_insert=True)
    elif draft.text == text:
        return draft
    else:
        draft.text = text
        draft.save(update_fields=["text"])
    record_change(project=project.pk, by=by, at=at, verb="draft.written", subject=draft)
    return draft


@transaction.atomic
def withdraw_draft(*, by: Person, at: datetime, draft: Draft, reason: str) -> Draft:
    """Put a draft away; it stays readable in the journal."""
    take_turn(draft.project_id)
    return withdraw_record(project=draft.project_id, by=by, at=at, record=draft, verb="draft.withdrawn", reason=reason)
