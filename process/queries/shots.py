"""Photos of process records."""

from collections.abc import Sequence

from django.db.models import QuerySet

from evidence import queries as evidence
from evidence.models import Photo
from evidence.rules import CLIPS
from process.models import ProcessRecord, Shot


def shots(record: ProcessRecord) -> list[Shot]:
    """The photos of a record with their moments, in the order in which they were put there."""
    rows = Shot.objects.filter(**{f"{record.KIND}_id": record.pk})
    return list(rows.select_related("photo", "by").prefetch_related("photo__placements"))


def shots_of(records: Sequence[ProcessRecord]) -> dict[str, list[Shot]]:
    """The photos of several records of one kind, by the record's key."""
    if not records:
        return {}
    name = f"{records[0].KIND}_id"
    found: dict[str, list[Shot]] = {}
    for shot in Shot.objects.filter(**{f"{name}__in": [record.pk for record in records]}).select_related("photo"):
        found.setdefault(getattr(shot, name), []).append(shot)
    return found


def to_choose(record: ProcessRecord) -> QuerySet[Photo]:
    """Photos of the record's assembly or part that do not stand for it yet; newest first. No clip can."""
    there = Shot.objects.filter(**{f"{record.KIND}_id": record.pk}).values("photo")
    parts = [record.part_id] if record.part_id else []
    on = evidence.placed_on([record.assembly_id], parts)
    return evidence.photos(record.project).filter(on).exclude(kind__in=CLIPS).exclude(pk__in=there).distinct()
