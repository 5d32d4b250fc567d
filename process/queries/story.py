"""The whole story of a part: its own records, and those of what it comes from and of what comes from it."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Project
from buildlog.models import SessionPhoto, WorkSession
from evidence import queries as evidence
from evidence.models import Document, DocumentPlace, Photo, Placement
from parts import rules as part_rules
from parts.models import MadeOf, Origin, Part
from process.models import KINDS, Bond, Cured, CureRun, JoinedPart, Layup, Mix, MixUse, ProcessRecord, Shot
from process.queries import trace
from process.queries.trace import Hit
from process.rules.trace import walk

PART, PHOTOS, SESSION, DOCUMENT = "part", "photos", "session", "document"


@dataclass(frozen=True)
class Relative:
    """A part of the family, and how it came to be one: such as "cut from" of "made on"."""

    part: Part
    how: str


@dataclass(frozen=True)
class Event:
    """One thing that happened, at its time. `of` names the part where it is not the part itself."""

    at: datetime
    kind: str
    key: str
    label: str
    words: str
    of: Part | None = None
    state: str = ""
    photos: list[Photo] = field(default_factory=list)


@dataclass(frozen=True)
class Story:
    """A part with its relatives, everything recorded about them in order of time, and the lots in it."""

    ancestors: list[Relative]
    offspring: list[Relative]
    events: list[Event]
    lots: list[Hit]
    made_of: QuerySet[MadeOf]


def any_part(project: Project, key: str) -> Part | None:
    """A part of the project, withdrawn ones too."""
    return Part.objects.filter(project=project, pk=key).select_related("project", "assembly").first()


def story_of(part: Part) -> Story:
    """The story of a part. The number of queries does not depend on how much is recorded."""
    project = part.project
    ancestors, offspring = relatives(part)
    family = {part.pk: part} | {one.part.pk: one.part for one in (*ancestors, *offspring)}
    records = list(records_of(project, set(family)))
    shown = shots_of(records)
    whose = owners(records, family)
    events = [event_of(record, whose.get((record.KIND, record.pk)), part, shown) for record in records]
    placed = placements(project, set(family))
    events += photo_events(placed, part)
    events += session_events(project, records, [placement.photo for placement in placed])
    events += document_events(project, family, part)
    return Story(
        ancestors=ancestors,
        offspring=offspring,
        events=sorted(events, key=lambda one: (one.at, one.kind, one.label)),
        lots=trace.lots_in(project, part),
        made_of=part.made_of.select_related("lot"),
    )


def relatives(part: Part) -> tuple[list[Relative], list[Relative]]:
    """What a part comes from, however far back, and what comes from it: two queries."""
    rows = Origin.objects.filter(part__project=part.project_id, part__withdrawn_at=None).order_by()
    links = list(rows.values_list("part_id", "source_id", "kind"))
    back = walk([((PART, later), (PART, earlier), kind) for later, earlier, kind in links], [(PART, part.pk)])
    on = walk([((PART, earlier), (PART, later), kind) for later, earlier, kind in links], [(PART, part.pk)])
    known = Part.objects.standing().select_related("assembly").in_bulk([key for _, key in (*back.found, *on.found)])

    def named(found: Iterable[tuple[str, str]], before: dict, words: dict[str, str]) -> list[Relative]:
        return [Relative(known[key], words[before[kind, key][1]]) for kind, key in found if key in known]

    earlier = {kind: f"{said.lower()}" for kind, said in part_rules.ORIGIN_KINDS.items()}
    return named(back.found, dict(back.before), earlier), named(on.found, dict(on.before), part_rules.OFFSPRING_WORDS)


def records_of(project: Project, family: set[str]) -> Iterable[ProcessRecord]:
    """The process records of any of these parts: made for them, joined by them, mixed or cured for what was."""
    layups = set(Layup.objects.standing().filter(project=project, part__in=family).values_list("pk", flat=True))
    joined = JoinedPart.objects.filter(part__in=family).values("bond")
    bonds = set(
        Bond.objects.standing()
        .filter(Q(part__in=family) | Q(pk__in=joined), project=project)
        .values_list("pk", flat=True)
    )
    inside = Q(layup__in=layups) | Q(bond__in=bonds) | Q(part__in=family)
    more = {
        Bond: Q(pk__in=bonds),
        Mix: Q(pk__in=MixUse.objects.filter(inside).values("mix")),
        CureRun: Q(pk__in=Cured.objects.filter(inside).values("run")),
    }
    for model in KINDS.values():
        rows = model._default_manager.filter(project=project, withdrawn_at=None)
        yield from rows.filter(Q(part__in=family) | more.get(model, Q(pk__in=[]))).select_related("part", "done_by")


def shots_of(records: list[ProcessRecord]) -> dict[tuple[str, str], list[Photo]]:
    """The photos that stand for records, by kind and key: one query."""
    keys: dict[str, list[str]] = {}
    for record in records:
        keys.setdefault(record.KIND, []).append(record.pk)
    found: dict[tuple[str, str], list[Photo]] = {}
    if not keys:
        return found
    wanted = Q()
    for kind, some in keys.items():
        wanted |= Q(**{f"{kind}__in": some})
    for shot in Shot.objects.filter(wanted, photo__withdrawn_at=None).select_related("photo").order_by("at", "pk"):
        kind = next(kind for kind in KINDS if getattr(shot, f"{kind}_id"))
        found.setdefault((kind, getattr(shot, f"{kind}_id")), []).append(shot.photo)
    return found


def owners(records: list[ProcessRecord], family: dict[str, Part]) -> dict[tuple[str, str], Part]:
    """The part of the family that a record was made for, where it says one."""
    return {(one.KIND, one.pk): family[one.part_id] for one in records if one.part_id in family}


def event_of(record: ProcessRecord, owner: Part | None, part: Part, shown: dict[tuple[str, str], list[Photo]]) -> Event:
    """A process record as an event."""
    words = f"{record.TELLING.noun} {record.title}".strip()
    return Event(
        at=record.done_at,
        kind=record.KIND,
        key=record.pk,
        label=record.label,
        words=f"{words}, by {record.done_by}",
        of=owner if owner is not None and owner.pk != part.pk else None,
        state="" if record.finished_at else "open",
        photos=shown.get((record.KIND, record.pk), []),
    )


def placements(project: Project, family: set[str]) -> list[Placement]:
    """The standing photos placed on these parts."""
    rows = Placement.objects.filter(photo__project=project, photo__withdrawn_at=None, part__in=family)
    return list(rows.select_related("photo", "part"))


def photo_events(placed: list[Placement], part: Part) -> list[Event]:
    """The photos of each part, those of one hour together."""
    together: dict[tuple[str, str], list[Placement]] = {}
    for one in sorted(placed, key=lambda one: (one.photo.when, one.photo.number)):
        together.setdefault((one.part_id or "", f"{one.photo.when:%Y%m%d%H}"), []).append(one)
    events = []
    for some in together.values():
        photos, owner = [one.photo for one in some], some[0].part
        count = f"{len(photos)} photo{'s' if len(photos) > 1 else ''}"
        of = owner if owner is not None and owner.pk != part.pk else None
        events.append(Event(photos[0].when, PHOTOS, photos[0].pk, photos[0].label, count, of, photos=photos))
    return events


def session_events(project: Project, records: list[ProcessRecord], photos: list[Photo]) -> list[Event]:
    """The work sessions in which the records were made, and those that the photos belong to."""
    keys = {record.session_id for record in records if record.session_id}
    with_photos = SessionPhoto.objects.filter(photo__in=[photo.pk for photo in photos]).values("session")
    rows = WorkSession.objects.standing().filter(Q(pk__in=keys) | Q(pk__in=with_photos), project=project)
    return [
        Event(row.started_at, SESSION, row.pk, str(row), row.note.split("\n")[0][:160] or "No note")
        for row in rows.order_by("started_at")
    ]


def document_events(project: Project, family: dict[str, Part], part: Part) -> list[Event]:
    """The papers about these parts, on the day they carry, or else when they came in."""
    rows = DocumentPlace.objects.filter(document__in=evidence.documents(project), part__in=family)
    events = []
    for place in rows.select_related("document"):
        one: Document = place.document
        at = evidence.document_time(one, project)
        of = family[place.part_id or ""] if place.part_id != part.pk else None
        events.append(Event(at, DOCUMENT, one.pk, one.label, f"{one.get_kind_display()}: {one.title}", of))
    return events
