"""The facts of process records: how things were made and checked, with verdicts, lots, tools and what was corrected."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Field, ForeignKey, QuerySet, prefetch_related_objects

from accounts.models import Project
from certification.queries.history import corrections, withdrawal_facts, withdrawals
from certification.queries.words import moment
from evidence.models import Photo
from journal.models import Entry
from journal.queries.story import field_words
from parts.models import Lot
from process.models import KINDS, Bond, CureRun, Layup, Mix, ProcessRecord, Shot, TapMap, Tool, Weighing
from process.pages import cures as cure_pages
from process.pages.cure_plot import Size, plot
from process.pages.judged import Judged, judged
from process.queries import facts, own
from process.rules.usual import Own
from process.rules.verdicts import BAD, GOOD, Verdict
from process.rules.words import MOMENTS

STATES = {GOOD: "good", BAD: "bad", "open": "open"}
# What every record says in the columns of its table, or what only its machinery needs.
ELSEWHERE = {
    *("id", "project", "number", "assembly", "part", "session", "title", "done_at", "done_by", "withdrawn_at"),
    *("entered_at", "entered_by", "finished_at", "request_id", "received_at", "verdict", "judged_at", "mapping"),
}
# The plot of a cure as it is printed, in points.
PRINTED = Size("print", 480, 190, 34, 78, 8, top=52, foot=26)
# A record goes on by these; they correct nothing.
ON_ITS_WAY = (".withdrawn", ".finished", ".photo_shown", ".ply_laid", ".spread", ".used", ".stopped", ".recorded")


def process_rows(project: Project) -> list[ProcessRecord]:
    """Every process record with all that is in it, withdrawn ones too, kind by kind and by number."""
    found: list[ProcessRecord] = []
    for kind in KINDS:
        rows: QuerySet[Any] = facts.rows(kind, project)
        found += rows.order_by("number")
    prefetch_related_objects(shots_of(found), "photo")
    return found


def shots_of(rows: Iterable[ProcessRecord]) -> list[Shot]:
    """What ties photos to these records."""
    return [shot for row in rows for shot in row.shots.all()]  # type: ignore[attr-defined]  # every kind


def process_judged(project: Project, rows: Iterable[ProcessRecord] | None = None) -> list[Judged]:
    """The process records that stand with their verdicts, in their order."""
    known = own.own_values(project)
    by_kind: dict[str, list[ProcessRecord]] = {kind: [] for kind in KINDS}
    for row in process_rows(project) if rows is None else rows:
        if not row.withdrawn:
            by_kind[row.KIND].append(row)
    return [one for kind, standing in by_kind.items() for one in judged(kind, project, standing, known)]


def process_facts(project: Project, rows: list[Judged]) -> list[dict[str, Any]]:
    """Every standing process record as it is printed."""
    corrected = corrections(project, tuple(model._meta.label_lower for model in KINDS.values()), is_correction)
    zone, known = project.zone, own.own_values(project)
    return [record_facts(one, zone, known) | {"corrections": corrected.get(one.record.subject, [])} for one in rows]


def is_correction(entry: Entry) -> bool:
    """Whether an entry about a process record alters what it said before."""
    return not entry.verb.endswith(ON_ITS_WAY)


def process_photos(rows: Iterable[Judged]) -> list[Photo]:
    """The photos of process records, and those on which it is marked what was heard."""
    rows = list(rows)
    found = [shot.photo for shot in shots_of(one.record for one in rows)]
    return found + [one.record.photo for one in rows if isinstance(one.record, TapMap) and one.record.photo]


def withdrawn_process(project: Project, rows: Iterable[ProcessRecord]) -> list[dict[str, Any]]:
    """Process records that were made by mistake, with the reason."""
    gone = [row for row in rows if row.withdrawn]
    told = withdrawals(gone)
    return [{"title": f"{one.TELLING.noun} {one}"} | withdrawal_facts(one, told, project.zone) for one in gone]


def record_facts(one: Judged, zone: ZoneInfo, known: Own) -> dict[str, Any]:
    """One process record."""
    row = one.record
    shots = sorted(shots_of([row]), key=lambda shot: (shot.at, shot.photo.number))
    typed = row.entered_by_id != row.done_by_id or row.received_at is not None
    return {
        "kind": row.KIND,
        "noun": row.TELLING.noun,
        "label": row.label,
        "title": title(row),
        "assembly": str(row.assembly),
        "part": str(row.part) if row.part else "",
        "done": moment(row.done_at, zone),
        "by": row.done_by.name,
        "entered": f"Entered {moment(row.entered_at, zone)} by {row.entered_by.name}" if typed else "",
        "finished": moment(row.finished_at, zone) if row.finished_at else "",
        "state": one.state,
        "state_words": "recorded" if one.recorded else STATES[one.state],
        "verdicts": [verdict_facts(verdict) for verdict in one.verdicts],
        "facts": said(row, zone),
        "lots": lots(row),
        "tools": [str(tool) for tool in related(row, Tool)],
        "photos": [shot.photo.label for shot in shots if not shot.photo.withdrawn],
        "moments": moments(shots),
    } | more(one, zone, known)


def title(row: ProcessRecord) -> str:
    """What it is about: its title, or the place or thing that its kind names."""
    return row.title or next((getattr(row, name) for name in ("place", "what", "test") if getattr(row, name, "")), "")


def moments(shots: Iterable[Shot]) -> list[str]:
    """Which moment and ply each photo shows."""
    found = []
    for shot in shots:
        words = [MOMENTS.get(shot.moment, "").lower(), f"ply {shot.ply}" if shot.ply else ""]
        if any(words) and not shot.photo.withdrawn:
            found.append(f"{shot.photo.label} {', '.join(filter(None, words))}")
    return found


def verdict_facts(verdict: Verdict) -> dict[str, Any]:
    return asdict(verdict) | {"lines": list(verdict.lines)}


def said(row: Any, zone: ZoneInfo) -> list[list[str]]:
    """What was recorded, field by field, in the words of the record's history."""
    apart = ELSEWHERE | row.TELLING.silent
    fields = [one for one in row._meta.concrete_fields if one.name not in apart]
    pairs = [[first_up(field_words(type(row), one.name)), value_words(row, one, zone)] for one in fields]
    return [pair for pair in pairs if pair[1]]


def first_up(words: str) -> str:
    return words[:1].upper() + words[1:]


def value_words(row: Any, field: Field, zone: ZoneInfo) -> str:
    """One value as it reads; empty where nothing was said."""
    value = getattr(row, field.name)
    if value in (None, "", [], {}, False):
        return ""
    if isinstance(value, datetime):
        return moment(value, zone)
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if value is True:
        return "yes"
    return str(getattr(row, f"get_{field.name}_display")() if field.choices else value)


def related(row: Any, model: type[Any]) -> list[Any]:
    """The rows of a model that a record points to."""
    fields = [one for one in row._meta.concrete_fields if isinstance(one, ForeignKey) and one.related_model is model]
    found = {each.pk: each for one in fields if (each := getattr(row, one.name)) is not None}
    return list(found.values())


def lots(row: Any) -> list[str]:
    """The lots of material that went into it, those of its plies too."""
    found = {lot.pk: lot for lot in related(row, Lot)}
    if isinstance(row, Layup):
        found |= {ply.lot.pk: ply.lot for ply in row.plies.all() if ply.lot is not None}
    return [str(lot) for lot in found.values()]


def more(one: Judged, zone: ZoneInfo, known: Own) -> dict[str, Any]:
    """What records of some kinds have beside their fields."""
    row = one.record
    if isinstance(row, Layup):
        return {"mixes": [mix.label for mix in one.mixes], "plies": plies(row, zone)}
    if isinstance(row, Bond):
        joined = [str(each.part) for each in row.joined.all()]
        return {"mixes": [mix.label for mix in one.mixes], "with": joined}
    if isinstance(row, Mix):
        return {"with": [str(use.layup or use.bond or use.part) for use in row.uses.all()]}
    if isinstance(row, CureRun):
        lay = [str(each.layup or each.bond or each.part or each.coupon) for each in row.cured.all()]
        return {"with": lay, "plot": plot_facts(row, zone, known), "log": str(row.log) if row.log else ""}
    if isinstance(row, TapMap):
        heard = [
            ", ".join(filter(None, (f"{tap.position}: {tap.get_sound_display().lower()}", tap.words)))
            for tap in row.taps.all()
        ]
        return {"with": heard, "marked": row.photo.label if row.photo and not row.photo.withdrawn else ""}
    if isinstance(row, Weighing):
        return {"with": [f"{each.place}: {each.shown}, tare {each.tare or 'none'}" for each in row.readings.all()]}
    return {}


def plies(layup: Layup, zone: ZoneInfo) -> list[dict[str, Any]]:
    """The ply schedule, from the mold up."""
    return [
        {
            "position": ply.position,
            "kind": ply.get_kind_display(),
            "cloth": ", ".join(filter(None, (ply.cloth, ply.faw))),
            "orientation": ply.orientation,
            "extent": ", ".join(filter(None, (ply.extent, ply.splice))),
            "lot": ply.lot.number if ply.lot else "",
            "laid": moment(ply.laid_at, zone) if ply.laid_at else "",
        }
        for ply in layup.plies.all()
    ]


def plot_facts(run: CureRun, zone: ZoneInfo, known: Own) -> dict[str, Any] | None:
    """The plot of a cure as it is drawn on paper; None where there is nothing to draw."""
    drawn = plot(cure_pages.standing(run, known), cure_pages.spec(run, known), zone, PRINTED)
    return asdict(drawn) if drawn else None
