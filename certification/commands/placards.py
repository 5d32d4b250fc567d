"""All writes about plates, marks and placards."""

from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Placard
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

# No letters on an aircraft of this kind are higher, and a sheet of more copies is a slip of the finger.
MOST_MM, MOST = 1000, 20


@transaction.atomic
def add_placard(*, by: Person, at: datetime, project: Project, **said: Any) -> Placard:
    """Enter a plate, marks or a placard."""
    take_turn(project.pk)
    row = Placard(project=project, entered_at=at, entered_by=by)
    change(row, said)
    row.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="placard.entered", subject=row)
    return row


@transaction.atomic
def correct_placard(*, by: Person, at: datetime, row: Placard, reason: str = "", **said: Any) -> Placard:
    """Write what differs, with one journal entry; nothing where nothing does."""
    take_turn(row.project_id)
    if row.withdrawn:
        raise Refusal("withdrawn", "It was withdrawn. It stays as it is.")
    if changed := change(row, said):
        row.save(update_fields=changed)
        record_change(project=row.project_id, by=by, at=at, verb="placard.corrected", subject=row, reason=reason)
    return row


@transaction.atomic
def withdraw_placard(*, by: Person, at: datetime, row: Placard, reason: str) -> Placard:
    """Take it off the list, with a reason; it stays readable."""
    take_turn(row.project_id)
    return withdraw_record(project=row.project_id, by=by, at=at, record=row, verb="placard.withdrawn", reason=reason)


def change(row: Placard, said: dict[str, Any]) -> list[str]:
    """Set what is said and name what differs. Raises Refusal where it cannot be."""
    changed = [name for name, value in said.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, said[name])
    if not row.words.strip():
        raise Refusal("no_words", "Say what stands on it.", "words")
    if not 1 <= row.letter_mm <= MOST_MM:
        raise Refusal("height", f"Give a height of letters from 1 to {MOST_MM} mm.", "letter_mm")
    if not 1 <= row.count <= MOST:
        raise Refusal("count", f"Print from 1 to {MOST} of it.", "count")
    return changed
