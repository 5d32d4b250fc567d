"""What the record holds for each task, by the places tied to it (rules R51, R53), in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from functools import cached_property
from typing import Any

from django.db.models import Q

from accounts.models import Person, Project
from accounts.rules import BUILDER, PAID, ROLES
from buildlog.models import SessionPerson, SessionPhoto, SessionShare
from calc.major_portion import PAID as PAID_COLUMN
from certification.models import CreditPlace
from certification.queries import credit
from certification.queries.credit import Line, Sheet
from certification.rules import coverage as rules
from evidence.models import Placement
from inspections.models import Area, Exhibit, Point, PointPhoto
from journal.models import Signature
from journal.rules import ACCEPTED
from parts import queries as parts
from parts.models import Assembly, Part

type Keys = set[str]


@dataclass(frozen=True)
class Session:
    """A session that counts: its day, and everybody's time in it."""

    day: date
    labor: int
    people: tuple[tuple[str, int], ...]


@dataclass
class Spot:
    """What stands at one assembly itself, or at one part. `shares` are seconds by session and assembly."""

    shares: dict[tuple[str, str], int] = field(default_factory=dict)
    photos: Keys = field(default_factory=set)
    areas: Keys = field(default_factory=set)
    looks: Keys = field(default_factory=set)
    paid_parts: Keys = field(default_factory=set)

    def take(self, other: "Spot") -> None:
        """Add what stands at another one; nothing counts twice."""
        for name in ("shares", "photos", "areas", "looks", "paid_parts"):
            getattr(self, name).update(getattr(other, name))


@dataclass(frozen=True)
class Ground:
    """All that can be evidence in a project, by assembly and by part."""

    assemblies: Mapping[str, Assembly]
    parents: Mapping[str, str | None]
    spots: Mapping[str, Spot]
    part_spots: Mapping[str, Spot]
    part_home: Mapping[str, str]
    sessions: Mapping[str, Session]
    people: Mapping[str, Person]
    in_frame: Keys

    @cached_property
    def below(self) -> dict[str, list[str]]:
        """Each assembly with all below it."""
        found: dict[str, list[str]] = defaultdict(list)
        for key in self.parents:
            node: str | None = key
            while node is not None:
                found[node].append(key)
                node = self.parents.get(node)
        return found

    def named(self, places: Iterable[CreditPlace]) -> Keys:
        """The assemblies that these places name, with all below them."""
        return {key for one in places if one.assembly_id for key in self.below.get(one.assembly_id, [one.assembly_id])}

    def evidence(self, places: Iterable[CreditPlace]) -> rules.Evidence:
        """What stands at these places."""
        places = list(places)
        whole, named = Spot(), self.named(places)
        for key in named:
            whole.take(self.spots.get(key, Spot()))
        for one in places:
            if one.part_id and self.part_home.get(one.part_id) not in named:
                whole.take(self.part_spots.get(one.part_id, Spot()))
        return self.told(whole)

    def told(self, spot: Spot) -> rules.Evidence:
        """A spot as the rule takes it. Time goes to people by their part in each session."""
        seconds: dict[str, Fraction] = defaultdict(Fraction)
        ours: Keys = set()
        for (key, _), share in spot.shares.items():
            session = self.sessions[key]
            for person, labor in session.people:
                if session.labor:
                    seconds[person] += Fraction(share * labor, session.labor)
                if self.people[person].role != PAID:
                    ours.add(key)
        days = [self.sessions[key].day for key, _ in spot.shares]
        people = (rules.Hours(self.people[p].name, self.people[p].role, round(seconds[p])) for p in seconds)
        order = list(ROLES)
        return rules.Evidence(
            sessions=len(ours),
            first=min(days, default=None),
            last=max(days, default=None),
            people=tuple(sorted(people, key=lambda one: (order.index(one.role), -one.seconds, one.name))),
            photos=len(spot.photos),
            in_frame=len(spot.photos & self.in_frame),
            areas=len(spot.areas),
            looks=len(spot.looks),
            paid_parts=tuple(sorted(spot.paid_parts)),
        )


def ground(project: Project) -> Ground:
    """Read all that can be evidence: twelve queries, however many tasks and sessions there are."""
    assemblies = {row.pk: row for row in parts.assemblies(project)}
    parents = {key: row.parent_id if row.parent_id in assemblies else None for key, row in assemblies.items()}
    people = {row.pk: row for row in Person.objects.filter(project=project)}
    spots: dict[str, Spot] = defaultdict(Spot)
    part_spots: dict[str, Spot] = defaultdict(Spot)
    shares = SessionShare.objects.filter(
        session__project=project, session__withdrawn_at=None, session__ended_at__isnull=False
    ).order_by()
    started: dict[str, tuple[Any, int]] = {}
    on: dict[str, dict[str, int]] = defaultdict(dict)
    for session, assembly, seconds, at, labor in shares.values_list(
        "session", "assembly", "seconds", "session__started_at", "session__labor_seconds"
    ):
        spots[assembly].shares[session, assembly] = seconds
        on[session][assembly] = seconds
        started[session] = (at, labor)
    sessions = sessions_of(project, started)

    homes: dict[str, str] = {}
    for row in Part.objects.standing().filter(project=project):
        homes[row.pk] = row.assembly_id
        part_spots[row.pk] = Spot(paid_parts={str(row)} if row.origin == "paid" else set())
        spots[row.assembly_id].paid_parts |= part_spots[row.pk].paid_parts

    in_frame = take_photos(project, spots, part_spots, homes, on)
    take_looks(project, spots, part_spots, homes, people)
    return Ground(assemblies, parents, spots, part_spots, homes, sessions, people, in_frame)


def sessions_of(project: Project, started: Mapping[str, tuple[Any, int]]) -> dict[str, Session]:
    """Each session that counts, with everybody's time in it: one query."""
    people: dict[str, list[tuple[str, int]]] = defaultdict(list)
    rows = SessionPerson.objects.filter(session__project=project, session__withdrawn_at=None).order_by()
    for session, person, labor in rows.values_list("session", "person", "labor_seconds"):
        people[session].append((person, labor))
    return {
        key: Session(at.astimezone(project.zone).date(), labor, tuple(people[key]))
        for key, (at, labor) in started.items()
    }


def take_photos(
    project: Project,
    spots: dict[str, Spot],
    part_spots: dict[str, Spot],
    homes: Mapping[str, str],
    on: Mapping[str, Mapping[str, int]],
) -> Keys:
    """Put photos where they stand: placed, in sessions, at gates and points. Returns those with a builder in them."""
    in_frame: Keys = set()
    of_part: dict[str, Keys] = defaultdict(set)
    stands = {"photo__project": project, "photo__withdrawn_at": None}
    placed = Placement.objects.filter(Q(assembly__isnull=False) | Q(part__isnull=False), **stands)
    for photo, seen, assembly, part in placed.values_list("photo", "photo__builder_in_frame", "assembly", "part"):
        in_frame |= {photo} if seen else set()
        if part in homes:
            part_spots[part].photos.add(photo)
            of_part[photo].add(part)
        home = assembly or homes.get(part)
        if home:
            spots[home].photos.add(photo)
    attached = SessionPhoto.objects.filter(session__withdrawn_at=None, **stands)
    for session, photo, seen in attached.values_list("session", "photo", "photo__builder_in_frame"):
        in_frame |= {photo} if seen else set()
        for assembly in on.get(session, {}):
            spots[assembly].photos.add(photo)
        for part in of_part[photo]:  # a photo of the part tells that the session was about it
            seconds = on.get(session, {}).get(homes[part])
            if seconds is not None:
                part_spots[part].shares[session, homes[part]] = seconds
    shown = Exhibit.objects.filter(requirement__dropped_at=None, requirement__area__withdrawn_at=None, **stands)
    where = ("requirement__area__assembly", "photo", "photo__builder_in_frame")
    pointed = PointPhoto.objects.filter(point__withdrawn_at=None, **stands)
    for assembly, photo, seen in [
        *shown.values_list(*where),
        *pointed.values_list("point__assembly", "photo", "photo__builder_in_frame"),
    ]:
        in_frame |= {photo} if seen else set()
        spots[assembly].photos.add(photo)
    return in_frame


def take_looks(
    project: Project,
    spots: dict[str, Spot],
    part_spots: dict[str, Spot],
    homes: Mapping[str, str],
    people: Mapping[str, Person],
) -> None:
    """Put areas where they stand, and the looks of people who did not build it. A part has those of its assembly."""
    under: dict[str, str] = {}
    for area in Area.objects.standing().filter(project=project).only("assembly_id"):
        spots[area.assembly_id].areas.add(area.pk)
        under[area.subject] = area.assembly_id
    for point in Point.objects.standing().filter(project=project).only("assembly_id"):
        under[point.subject] = point.assembly_id
    given = Signature.objects.filter(project=project.pk, outcome=ACCEPTED, self_inspected=False)
    for key, name, person in given.values_list("pk", "under", "person"):
        own = person in people and people[person].role == BUILDER
        if name in under and not own:
            spots[under[name]].looks.add(key)
    for part, home in homes.items():
        part_spots[part].areas |= spots[home].areas
        part_spots[part].looks |= spots[home].looks


@dataclass(frozen=True)
class Covered:
    """A task with what the record holds for it."""

    line: Line
    evidence: rules.Evidence

    @cached_property
    def grade(self) -> rules.Grade:
        return rules.grade(self.evidence)

    @property
    def hidden_help(self) -> str:
        """What is said where paid help is in the record and not in its column (rule R53)."""
        return rules.hidden_help(self.evidence, self.line.tenths)

    @property
    def capture(self) -> Assembly | None:
        """The assembly at which a photo for it would be taken."""
        found = [*self.line.assemblies, *(one.assembly for one in self.line.parts)]
        return next((one for one in found if not one.withdrawn), None)


@dataclass(frozen=True)
class Unclaimed:
    """An assembly on which a builder or paid help worked, and that no task names."""

    assembly: Assembly
    evidence: rules.Evidence


@dataclass(frozen=True)
class Coverage:
    """The evidence of every task, and both lists of what does not meet."""

    sheet: Sheet
    covered: tuple[Covered, ...]
    unclaimed: tuple[Unclaimed, ...]

    @cached_property
    def by_code(self) -> dict[str, Covered]:
        return {one.line.code: one for one in self.covered}

    @cached_property
    def claims(self) -> tuple[Covered, ...]:
        """Tasks of which the builders claim something."""
        return tuple(one for one in self.covered if one.line.claimed)

    @cached_property
    def counts(self) -> dict[str, int]:
        """How many claims are strong, thin and without evidence."""
        return {state: sum(one.grade.state == state for one in self.claims) for state in rules.WORDS}

    @property
    def without_evidence(self) -> tuple[Covered, ...]:
        return tuple(one for one in self.claims if one.grade.state == rules.NONE)

    @property
    def thin(self) -> tuple[Covered, ...]:
        return tuple(one for one in self.claims if one.grade.state == rules.THIN)

    @property
    def with_hidden_help(self) -> tuple[Covered, ...]:
        return tuple(one for one in self.covered if one.hidden_help)

    @property
    def sections(self) -> list[tuple[str, str, list[Covered]]]:
        """Letter, title and claims of each section that has any."""
        found = [
            (section.code, section.title, [self.by_code[one.code] for one in section.lines if one.claimed])
            for section in self.sheet.sections
        ]
        return [row for row in found if row[2]]


def coverage(project: Project, sheet: Sheet | None = None) -> Coverage:
    """The evidence of every task: the queries of the sheet and of the ground, whatever the number of tasks."""
    sheet = sheet or credit.sheet(project)
    around = ground(project)
    held = [(line, around.evidence(line.places)) for line in sheet.lines]
    # A part made for pay is told once a task it belongs to gives paid help something; sessions are asked for on each.
    told = {part for line, one in held if line.task.of(PAID_COLUMN) for part in one.paid_parts}
    covered = (
        Covered(line, replace(one, paid_parts=tuple(p for p in one.paid_parts if p not in told))) for line, one in held
    )
    return Coverage(sheet, tuple(covered), tuple(without_claim(sheet, around)))


def without_claim(sheet: Sheet, around: Ground) -> Iterable[Unclaimed]:
    """Assemblies on which a builder or paid help worked and that no task names, in the order of the tree."""
    named: Keys = set()
    for line in sheet.lines:
        if line.applies:
            named |= around.named(line.places)
    for node in parts.in_order(around.assemblies.values()):
        if node.assembly.pk in named or node.assembly.pk not in around.spots:
            continue
        found = around.told(around.spots[node.assembly.pk])
        if any(one.role in {BUILDER, PAID} and one.seconds for one in found.people):
            yield Unclaimed(node.assembly, found)


def coverage_facts(project: Project) -> dict[str, Any]:
    """The evidence of every claim as plain values, for the printed record and the page of the file."""
    found = coverage(project)
    return {
        "rule": rules.RULE,
        "source": rules.RULE_SOURCE,
        "claims": len(found.claims),
        "counts": found.counts,
        "tasks": [covered_facts(one) for one in found.claims],
        "without_claim": [
            {
                "assembly": str(one.assembly),
                "seconds": one.evidence.amateur_seconds,
                "paid_seconds": one.evidence.paid_seconds,
            }
            for one in found.unclaimed
        ],
        "paid_help": [{"code": one.line.code, "words": one.hidden_help} for one in found.with_hidden_help],
    }


def covered_facts(one: Covered) -> dict[str, Any]:
    """The evidence of one task as plain values."""
    held = one.evidence
    return {
        "code": one.line.code,
        "words": one.line.words,
        "builders": one.line.builders,
        "state": one.grade.state,
        "lacks": list(one.grade.lacks),
        "first": held.first and held.first.isoformat(),
        "last": held.last and held.last.isoformat(),
        "people": [{"name": p.name, "role": p.role, "seconds": p.seconds} for p in held.people],
        "sessions": held.sessions,
        "seconds": held.seconds,
        "photos": held.photos,
        "in_frame": held.in_frame,
        "areas": held.areas,
        "looks": held.looks,
        "places": [str(place) for place in [*one.line.assemblies, *one.line.parts]],
    }
