"""All writes to own values: set with a source, taken away with a reason."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from accounts.models import Person, Project
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from process.models import HouseValue
from process.rules import own
from process.rules.usual import USUAL


@transaction.atomic
def set_value(
    *, by: Person, at: datetime, project: Project, key: str, value: Decimal, source: str, reason: str = ""
) -> HouseValue:
    """Put an own value in place of a built-in one, or of the own one before, which then needs a reason."""
    take_turn(project.pk)
    own.check(key, value, source)
    row = HouseValue.objects.standing().filter(project=project, key=key).first()
    if row is None:
        row = HouseValue(project=project, key=key, value=value, unit=USUAL[key].unit, source=source)
        row.save(force_insert=True)
        record_change(project=project.pk, by=by, at=at, verb="housevalue.set", subject=row)
        return row
    if (row.value, row.source) == (value, source):
        return row
    if not reason.strip():
        raise Refusal("no_reason", "Say why the value changes. Verdicts made with the old one are made anew.", "reason")
    row.value, row.source = value, source
    row.save(update_fields=["value", "source"])
    record_change(project=project.pk, by=by, at=at, verb="housevalue.corrected", subject=row, reason=reason)
    return row


@transaction.atomic
def take_away_value(*, by: Person, at: datetime, row: HouseValue, reason: str) -> HouseValue:
    """Go back to the built-in value, with a reason."""
    take_turn(row.project_id)
    return withdraw_record(project=row.project_id, by=by, at=at, record=row, verb="housevalue.withdrawn", reason=reason)
