"""All writes about checks: recorded, corrected, marked on a photo, finished, withdrawn."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from evidence.models import Photo
from foundation.fields import new_key
from foundation.refusal import Refusal
from parts import commands as parts
from parts.models import Assembly, Part
from process.commands import common
from process.models import KINDS, ProcessRecord, ScaleReading, Tap, TapMap, Weighing
from process.queries import checks as queries
from process.rules import checks as rules
from process.rules import words
from process.rules.verdicts import OPEN

SCALE_FIELDS = ("place", "shown", "shown_g", "tare", "tare_g", "arm", "arm_mm")
TAP_FIELDS = ("x", "y", "sound", "words")
# What a kind has to say before it can be called finished.
ASKED = {
    words.TORQUE: ("shown", "Enter what the wrench showed first."),
    words.HARDNESS: ("readings", "Enter the readings first."),
    words.TAP_MAP: ("accepted", "Say first whether what was heard is accepted."),
}


def record_check(
    kind: str,
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    scales: Sequence[dict[str, Any]] = (),
    **values: Any,
) -> ProcessRecord:
    """Record a check of one kind; sent twice it is recorded once. `scales` are those under an aircraft."""

    def then(record: ProcessRecord) -> None:
        if isinstance(record, Weighing):
            write_scales(record, scales)

    return common.start(
        KINDS[kind],
        by=by,
        at=at,
        project=project,
        assembly=assembly,
        verb=f"{kind}.recorded",
        then=then,
        **values,
    )


def correct_check(
    record: ProcessRecord,
    *,
    by: Person,
    at: datetime,
    reason: str = "",
    scales: Sequence[dict[str, Any]] | None = None,
    **values: Any,
) -> ProcessRecord:
    """Change what is said of a check; the old values stay in the journal."""

    def then(fresh: ProcessRecord) -> bool:
        if not isinstance(fresh, Weighing) or scales is None:
            return False
        return write_scales(fresh, scales)

    return common.correct_fields(record, by=by, at=at, reason=reason, then=then, **values)


def write_scales(weighing: Weighing, scales: Sequence[dict[str, Any]]) -> bool:
    """Write the scales under an aircraft by their place, and whether anything changed."""
    before = {row.place: row for row in weighing.readings.all()}
    changed = False
    for said in scales:
        values = {name: said.get(name, None if name.endswith(("_g", "_mm")) else "") for name in SCALE_FIELDS}
        row = before.pop(said["place"], None)
        if row is None:
            ScaleReading(id=new_key(), weighing=weighing, **values).save(force_insert=True)
        elif any(getattr(row, name) != value for name, value in values.items()):
            for name, value in values.items():
                setattr(row, name, value)
            row.save(update_fields=SCALE_FIELDS)
        else:
            continue
        changed = True
    for row in before.values():
        row.delete()
        changed = True
    return changed


def mark_taps(
    tapmap: TapMap,
    *,
    by: Person,
    at: datetime,
    photo: Photo | None,
    taps: Sequence[dict[str, Any]],
    accepted: str = "",
    reason: str = "",
) -> TapMap:
    """Say what was heard where on a photo, and whether it is accepted; the old marks stay in the journal."""
    if photo is not None and photo.withdrawn:
        raise Refusal("photo_withdrawn", f"{photo.label} was withdrawn. Choose another.", "photo")
    if taps and photo is None:
        raise Refusal("no_photo", "Choose the photo that the marks belong on.", "photo")
    return common.correct_fields(
        tapmap,
        by=by,
        at=at,
        reason=reason,
        verb="tapmap.marked",
        then=lambda fresh: write_taps(fresh, taps),
        photo=photo,
        accepted=accepted,
    )


def write_taps(tapmap: TapMap, taps: Sequence[dict[str, Any]]) -> bool:
    """Write the marks in their order, and whether anything changed."""
    before = [tuple(getattr(row, name) for name in TAP_FIELDS) for row in tapmap.taps.all()]
    if before == [tuple(tap[name] for name in TAP_FIELDS) for tap in taps]:
        return False
    # Numbers stand once in a map, so the old rows go first; the journal keeps them.
    tapmap.taps.all().delete()
    for position, tap in enumerate(taps, start=1):
        values = {name: tap[name] for name in TAP_FIELDS}
        Tap(id=new_key(), tapmap=tapmap, position=position, **values).save(force_insert=True)
    return True


def finish_check(record: ProcessRecord, *, by: Person, at: datetime) -> ProcessRecord:
    """Say that a check is complete; refused while what it is about is missing."""
    field, sentence = ASKED.get(record.KIND, ("", ""))
    if field and not getattr(record, field):
        raise Refusal("not_complete", sentence, field)
    if record.KIND == words.WEIGHING and queries.nothing_weighed(record):
        raise Refusal("not_complete", "Enter what the scale showed first.", "weight")
    if record.KIND in {words.COUPON, words.FUNCTION} and queries.state(record) == OPEN:
        raise Refusal("not_complete", "Enter the result first.", "value")
    return common.finish(record, by=by, at=at)


@transaction.atomic
def give_weight_to_part(weighing: Weighing, *, by: Person, at: datetime) -> Part:
    """Write the weighed weight to the part, with the weighing as the reason."""
    part = weighing.part
    if weighing.withdrawn or weighing.whole_aircraft or part is None or not weighing.weight:
        raise Refusal("no_weight", f"{weighing.label} has no weight for a part.")
    if part.withdrawn:
        raise Refusal("withdrawn", f"{part} was withdrawn. It stays as it is.")
    value, unit = rules.part_weight(weighing.weight)
    reason = f"Weighed: {weighing.label}."
    return parts.correct_part(by=by, at=at, part=part, reason=reason, weight=value, weight_unit=unit)


reopen_check, withdraw_check = common.reopen, common.withdraw
