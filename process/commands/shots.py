"""Photos put in place for process records, and taken away again."""

from datetime import datetime

from django.db import transaction

from accounts.models import Person
from evidence.models import Photo
from foundation.refusal import Refusal
from journal.commands import record_change
from process.commands.common import fresh
from process.models import ProcessRecord, Shot


@transaction.atomic
def show_shot(
    *, by: Person, at: datetime, record: ProcessRecord, photo: Photo, moment: str = "", ply: int | None = None
) -> Shot:
    """Put a photo in place for a record; the same photo for the same moment and ply twice does nothing."""
    record = fresh(record)
    if photo.project_id != record.project_id:
        raise Refusal("elsewhere", "That photo belongs to another project.")
    if photo.withdrawn:
        raise Refusal("photo_withdrawn", f"{photo.label} was withdrawn. Choose another.")
    where = {record.KIND: record, "photo": photo, "moment": moment, "ply": ply}
    shot, is_new = Shot.objects.get_or_create(**where, defaults={"at": at, "by": by})
    if is_new:
        verb = f"{record.KIND}.photo_shown"
        record_change(project=record.project_id, by=by, at=at, verb=verb, subject=record)
    return shot


@transaction.atomic
def take_away_shot(*, by: Person, at: datetime, record: ProcessRecord, shot: Shot) -> None:
    """Take a photo off a record; the photo itself stays, and the journal keeps that it stood there."""
    record = fresh(record)
    if record.finished_at is not None:
        raise Refusal("finished", f"{record.label} is finished. Open it again before a photo is taken away.")
    if getattr(shot, f"{record.KIND}_id") != record.pk:
        raise Refusal("not_there", "That photo does not stand for this record.")
    shot.delete()
    verb = f"{record.KIND}.photo_taken_away"
    record_change(project=record.project_id, by=by, at=at, verb=verb, subject=record)
