"""All writes about the equipment list."""

from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Equipment
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record


@transaction.atomic
def add_equipment(*, by: Person, at: datetime, project: Project, **said: Any) -> Equipment:
    """Enter a line of the equipment list."""
    take_turn(project.pk)
    row = Equipment(project=project, entered_at=at, entered_by=by)
    change(row, said)
    row.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="equipment.entered", subject=row)
    return row


@transaction.atomic
def correct_equipment(*, by: Person, at: datetime, row: Equipment, reason: str = "", **said: Any) -> Equipment:
    """Write what differs, with one journal entry; nothing where nothing does."""
    take_turn(row.project_id)
    if row.withdrawn:
        raise Refusal("withdrawn", "It was withdrawn. It stays as it is.")
    if changed := change(row, said):
        row.save(update_fields=changed)
        record_change(project=row.project_id, by=by, at=at, verb="equipment.corrected", subject=row, reason=reason)
    return row


@transaction.atomic
def withdraw_equipment(*, by: Person, at: datetime, row: Equipment, reason: str) -> Equipment:
    """Take it off the list, with a reason; it stays readable."""
    take_turn(row.project_id)
    return withdraw_record(project=row.project_id, by=by, at=at, record=row, verb="equipment.withdrawn", reason=reason)


def change(row: Equipment, said: dict[str, Any]) -> list[str]:
    """Set what is said and name what differs. Raises Refusal where it cannot be."""
    changed = [name for name, value in said.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, said[name])
    if not row.name.strip():
        raise Refusal("no_name", "Say what it is.", "name")
    return changed
