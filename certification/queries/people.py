"""Who built what: the evidence of a primary builder, person by person, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from accounts.models import Person, Project
from accounts.rules import PAID, ROLES, WORKERS
from buildlog.models import SessionPerson, SessionPhoto, SessionShare
from buildlog.queries.hours import Work, by_person, work
from buildlog.rules import KINDS, WORK
from calc.hours import decimal_hours
from certification.queries import coverage
from certification.rules import people as rules
from evidence.models import Photo
from evidence.queries import photos
from journal.models import Entry
from parts.models import Assembly

NOT_KNOWN = (
    "Who owned the aircraft when is not recorded here: bill of sale, registration and affidavit tell that.",
    "Hours count by the role that a person has now; how a role changed stands in that person's history.",
    "Work that nobody logged is not here.",
)


@dataclass(frozen=True)
class Task:
    """A task of the list at whose places somebody worked, and for how long."""

    code: str
    words: str
    seconds: int
    in_frame: int


@dataclass(frozen=True)
class Did:
    """One person's part in one session, for paid help, which is listed session by session (rule R53)."""

    session: str
    number: int
    day: date
    seconds: int
    work: str
    note: str
    assemblies: tuple[str, ...]


@dataclass(frozen=True)
class PersonEvidence:
    """What the record holds of one person."""

    person: Person
    sums: rules.Sums
    counted: int
    assemblies: tuple[tuple[Assembly, int], ...]
    photos: tuple[Photo, ...]
    tasks: tuple[Task, ...]
    entered: date | None
    left: date | None
    did: tuple[Did, ...]

    @property
    def role_word(self) -> str:
        return ROLES[self.person.role]

    @property
    def paid(self) -> bool:
        return self.person.role == PAID

    @property
    def kinds(self) -> list[tuple[str, int]]:
        return [(KINDS[key], seconds) for key, seconds in self.sums.by_kind.items()]

    @property
    def works(self) -> list[tuple[str, int]]:
        return [(WORK[key], seconds) for key, seconds in self.sums.by_work.items()]


@dataclass(frozen=True)
class Builders:
    """Everybody's part in the aircraft."""

    project: Project
    people: tuple[PersonEvidence, ...]
    by_role: tuple[tuple[str, int], ...]
    in_frame: int
    cautions = rules.CAUTIONS
    not_known = NOT_KNOWN
    source = rules.SOURCE

    @property
    def paid(self) -> tuple[PersonEvidence, ...]:
        return tuple(one for one in self.people if one.paid)

    def of(self, key: str) -> PersonEvidence | None:
        return next((one for one in self.people if one.person.pk == key), None)


def builders(project: Project) -> Builders:
    """The evidence of everybody who worked or who stands in the record as a worker, most hours first."""
    stretches = work(project)
    people = {row.pk: row for row in Person.objects.filter(project=project).select_related("project")}
    shares = session_shares(project)
    counted = {row.person: row.counted for row in by_person(stretches)}
    frames = in_frame(project)
    came, went = joined(project)
    tasks = tasks_of(project)
    grouped: dict[str, list[Work]] = defaultdict(list)
    for stretch in stretches:
        grouped[stretch.person].append(stretch)
    wanted = [row for row in people.values() if row.pk in grouped or (row.role in WORKERS and not row.withdrawn)]
    notes = notes_of(project, [row.pk for row in wanted if row.role == PAID])
    every = photos(project).in_bulk({key for keys in frames.values() for key in keys})
    found = [
        evidence(row, grouped[row.pk], shares, counted.get(row.pk, 0), frames, every, tasks, came, went, notes)
        for row in wanted
    ]
    order = list(ROLES)
    return Builders(
        project,
        tuple(sorted(found, key=lambda one: (order.index(one.person.role), -one.counted, one.person.name))),
        tuple((ROLES[role], sum(one.counted for one in found if one.person.role == role)) for role in WORKERS),
        photos(project).filter(builder_in_frame=True).count(),
    )


def evidence(
    person: Person,
    stretches: Iterable[Work],
    shares: Mapping[str, list[tuple[Assembly, int]]],
    counted: int,
    frames: Mapping[str, set[str]],
    every: Mapping[str, Photo],
    tasks: Mapping[tuple[str, str], list[Task]],
    came: Mapping[str, datetime],
    went: Mapping[str, datetime],
    notes: Mapping[str, str],
) -> PersonEvidence:
    """One person's evidence from what was read for all."""
    rows, zone = list(stretches), person.project.zone
    sums = rules.sums(
        rules.Stretch(
            row.session,
            row.started_at.astimezone(zone).date(),
            row.kind,
            row.work,
            row.labor,
            tuple((assembly.pk, weight) for assembly, weight in shares.get(row.session, ())),
        )
        for row in rows
    )
    places = {assembly.pk: assembly for row in rows for assembly, _ in shares.get(row.session, ())}
    shown = {key for row in rows for key in frames.get(row.session, ())}
    did = (
        Did(
            row.session,
            row.number,
            row.started_at.astimezone(zone).date(),
            row.labor,
            WORK[row.work],
            notes.get(row.session, ""),
            tuple(str(assembly) for assembly, _ in shares.get(row.session, ())),
        )
        for row in rows
        if person.role == PAID
    )
    at = {
        key: moments[person.pk].astimezone(zone).date()
        for key, moments in (("came", came), ("went", went))
        if person.pk in moments
    }
    return PersonEvidence(
        person,
        sums,
        counted,
        tuple((places[key], seconds) for key, seconds in sums.by_assembly.items()),
        tuple(sorted((every[key] for key in shown if key in every), key=lambda photo: photo.number)),
        tuple(tasks.get((person.name, person.role), ())),
        at.get("came"),
        at.get("went"),
        tuple(did),
    )


def session_shares(project: Project) -> dict[str, list[tuple[Assembly, int]]]:
    """The assemblies of every counted session with their weights: one query."""
    found: dict[str, list[tuple[Assembly, int]]] = defaultdict(list)
    rows = SessionShare.objects.filter(
        session__project=project, session__withdrawn_at__isnull=True, session__ended_at__isnull=False
    )
    for row in rows.select_related("assembly").order_by("session", "-weight", "id"):
        found[row.session_id].append((row.assembly, row.weight))
    return found


def in_frame(project: Project) -> dict[str, set[str]]:
    """The standing photos with the builder in the picture that are attached to each counted session: one query."""
    found: dict[str, set[str]] = defaultdict(set)
    rows = SessionPhoto.objects.filter(
        session__project=project,
        session__withdrawn_at__isnull=True,
        photo__builder_in_frame=True,
        photo__withdrawn_at__isnull=True,
    )
    for session, photo in rows.values_list("session", "photo"):
        found[session].add(photo)
    return found


def joined(project: Project) -> tuple[dict[str, datetime], dict[str, datetime]]:
    """When each person was entered in the record and, where it is so, taken out again: one query of the journal."""
    came: dict[str, datetime] = {}
    went: dict[str, datetime] = {}
    rows = Entry.objects.filter(project=project.pk, verb__in=("person.added", "person.withdrawn")).order_by("seq")
    for verb, subject, at in rows.values_list("verb", "subject", "at"):
        (came if verb == "person.added" else went)[subject.partition(":")[2]] = at
    return came, went


def notes_of(project: Project, paid: Iterable[str]) -> dict[str, str]:
    """What the sessions of paid help say of the work: one query."""
    rows = SessionPerson.objects.filter(session__project=project, person__in=list(paid))
    return dict(rows.values_list("session", "session__note"))


def tasks_of(project: Project) -> dict[tuple[str, str], list[Task]]:
    """The tasks of the list at whose places each person worked, by name and role."""
    found: dict[tuple[str, str], list[Task]] = defaultdict(list)
    for covered in coverage.coverage(project).covered:
        for one in covered.evidence.people:
            line = covered.line
            found[(one.name, one.role)].append(Task(line.code, line.words, one.seconds, covered.evidence.in_frame))
    return found


def builders_facts(project: Project) -> dict[str, Any]:
    """Everybody's part for the printed record."""
    now = builders(project)
    return {
        "started_on": project.started_on.isoformat() if project.started_on else "",
        "source": now.source,
        "cautions": list(now.cautions),
        "not_known": list(now.not_known),
        "by_role": [{"role": role, "hours": hours_of(seconds)} for role, seconds in now.by_role],
        "people": [person_facts(one) for one in now.people],
    }


def person_facts(one: PersonEvidence) -> dict[str, Any]:
    """One person's part as JSON values."""
    days = {"first": one.sums.first, "last": one.sums.last, "entered": one.entered, "left": one.left}
    return {
        "name": one.person.name,
        "role": one.role_word,
        "certificate": one.person.certificate,
        "paid": one.paid,
        "hours": hours_of(one.counted),
        "sessions": one.sums.sessions,
        "days": one.sums.days,
        **{name: day.isoformat() if day else "" for name, day in days.items()},
        "kinds": [{"words": words, "hours": hours_of(seconds)} for words, seconds in one.kinds],
        "works": [{"words": words, "hours": hours_of(seconds)} for words, seconds in one.works],
        "assemblies": [{"words": str(place), "hours": hours_of(seconds)} for place, seconds in one.assemblies],
        "tasks": [{"code": row.code, "words": row.words, "hours": hours_of(row.seconds)} for row in one.tasks],
        "photos": [photo.label for photo in one.photos],
        "did": [
            {
                "session": row.number,
                "day": row.day.isoformat(),
                "hours": hours_of(row.seconds),
                "work": row.work,
                "note": row.note,
                "assemblies": list(row.assemblies),
            }
            for row in one.did
        ],
    }


def hours_of(seconds: int) -> str:
    """Hours in tenths, rounded once (rule R2)."""
    return f"{decimal_hours(seconds):,}"
