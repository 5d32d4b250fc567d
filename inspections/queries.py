"""Reads about enclosed areas: gates judged from what lies below, and the state of every assembly."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from datetime import datetime
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet

from accounts.models import Person, Project
from buildlog import queries as work
from calc.hours import decimal_hours
from evidence import queries as evidence
from evidence.models import Photo, Placement
from foundation.record import plain
from inspections import rules
from inspections.models import Answer, Area, Closing, Exhibit, Requirement
from inspections.rules import Asked, Gate, PhotoFacts, SignatureFacts
from journal.models import Signature
from journal.queries import signatures
from parts import queries as parts_queries
from parts.models import Assembly
from parts.queries import Node


def areas(project: Project) -> QuerySet[Area]:
    """The areas of a project that stand, with all that their gates need: a fixed number of queries."""
    exhibits = Exhibit.objects.select_related("photo", "by")
    answers = Answer.objects.select_related("by")
    requirements = Requirement.objects.filter(dropped_at__isnull=True).prefetch_related(
        Prefetch("exhibits", exhibits), Prefetch("answers", answers)
    )
    return (
        Area.objects.standing()
        .filter(project=project)
        .select_related("assembly", "project")
        .prefetch_related(
            Prefetch("requirements", requirements, to_attr="asked"),
            Prefetch("closings", Closing.objects.select_related("closed_by", "reopened_by"), to_attr="all_closings"),
        )
    )


@dataclass(frozen=True)
class Signed:
    """A signature and what was changed under it since."""

    signature: Signature
    changes: tuple[str, ...]


@dataclass(frozen=True)
class JudgedArea:
    """An area with its gate as it stands now."""

    area: Area
    gate: Gate
    signed: tuple[Signed, ...]
    closing: Closing | None
    closings: tuple[Closing, ...]

    @property
    def line(self) -> str:
        """The line in which a drawing shows this state."""
        return {"not_started": "not-started", "hold": "hold", "ready": "signed"}.get(self.gate.state, "closed")

    @property
    def changed(self) -> bool:
        """Signed by somebody, then changed."""
        return any(signed.changes for signed in self.signed)


def judged(project: Project, rows: Iterable[Area] | None = None) -> list[JudgedArea]:
    """The areas of a project judged, or just the given ones (as fetched by `areas`)."""
    rows = list(areas(project) if rows is None else rows)
    by_subject: dict[str, list[Signature]] = defaultdict(list)
    for signature in signatures(*[area.subject for area in rows]):
        by_subject[signature.subject].append(signature)
    worked = {key for key, seconds in work.rolled_hours(project).items() if seconds.total}
    return [judge(area, by_subject[area.subject], area.assembly_id in worked) for area in rows]


def judge(area: Area, given: list[Signature], worked: bool) -> JudgedArea:
    """Judge one area that was fetched by `areas`."""
    facts = {item["subject"]: item["facts"] for item in covers(area)}
    signed = tuple(Signed(one, rules.changes_since(one.covers, facts)) for one in given)
    marks = tuple(SignatureFacts(s.signature.pk, s.signature.role, s.signature.at, s.changes) for s in signed)
    closing = next((one for one in area.all_closings if one.reopened_at is None), None)
    reopened = [one.reopened_at for one in area.all_closings if one.reopened_at is not None]
    gate = rules.gate(
        [asked(requirement, marks) for requirement in area.asked],
        worked=worked,
        since=max(reopened, default=None),
        closed_at=closing.closed_at if closing else None,
        advised=bool(closing and closing.missing),
    )
    return JudgedArea(area, gate, signed, closing, tuple(area.all_closings))


def asked(requirement: Requirement, marks: tuple[SignatureFacts, ...]) -> Asked:
    """A requirement and what was supplied for it, as plain facts."""
    answer = max(requirement.answers.all(), key=lambda one: (one.at, one.pk), default=None)
    return Asked(
        key=requirement.pk,
        position=requirement.position,
        kind=requirement.kind,
        words=requirement.words,
        count=requirement.count,
        role=requirement.role,
        photos=tuple(photo_facts(exhibit.photo) for exhibit in requirement.exhibits.all()),
        answer=answer.answer if answer else "",
        answered_at=answer.at if answer else None,
        signatures=marks if requirement.kind == rules.SIGN_OFF else (),
    )


def photo_facts(photo: Photo) -> PhotoFacts:
    return PhotoFacts(photo.pk, photo.label, photo.taken_at, photo.taken_known, photo.received_at, photo.withdrawn)


def covers(area: Area) -> list[dict]:
    """What a signature under this area covers now: the gate's wording, each photo in place, each check answered."""
    items = [rules.cover(area.subject, f"{area.number} {area.name}", area_words(area))]
    for requirement in area.asked:
        if requirement.kind == rules.PHOTO:
            items += [
                rules.cover(f"{requirement.subject}+{exhibit.photo.subject}", f"Item {requirement.position}, {exhibit.photo.label}", photo_words(exhibit.photo))
                for exhibit in requirement.exhibits.all()
                if not exhibit.photo.withdrawn
            ]
        elif requirement.kind == rules.CHECK:
            answer = max(requirement.answers.all(), key=lambda one: (one.at, one.pk), default=None)
            if answer:
                items.append(rules.cover(requirement.subject, f"Item {requirement.position}, {requirement.words}", answer_words(answer)))
    return items


def area_words(area: Area) -> dict:
    """The wording of an area and its gate, as far as a signature covers it."""
    return {
        "number": area.number,
        "name": area.name,
        "kind": area.kind,
        "assembly": area.assembly_id,
        "items": [[r.position, r.kind, r.words, r.detail, r.count, r.role] for r in area.asked],
    }


def photo_words(photo: Photo) -> dict:
    """What a signature covers of a photo: the very bytes, its time, and what is said of it."""
    return {
        "photo": photo.digest,
        "taken_at": plain(photo.taken_at),
        "taken_known": photo.taken_known,
        "caption": photo.caption,
        "shows": photo.shows,
        "builder_in_frame": photo.builder_in_frame,
    }


def answer_words(answer: Answer) -> dict:
    return {"answer": answer.answer, "reason": answer.reason, "answered_at": plain(answer.at), "answered_by": answer.by.name}


# ---- the state of every assembly ----

ASSEMBLY_WORDS = {
    "not-started": "Not started",
    "work": "In work",
    "hold": "Hold",
    "signed": "Signed",
    "closed": "Closed up",
}


@dataclass(frozen=True)
class Branch:
    """One assembly as the tree shows it: place, hours in seconds, state."""

    node: Node
    own: int
    below: int
    state: str

    @property
    def key(self) -> str:
        return self.node.assembly.pk

    @property
    def number(self) -> str:
        return self.node.assembly.number

    @property
    def name(self) -> str:
        return self.node.assembly.name

    @property
    def depth(self) -> int:
        return self.node.depth

    @property
    def total(self) -> int:
        return self.own + self.below

    @property
    def own_hours(self) -> Decimal:
        return decimal_hours(self.own)

    @property
    def below_hours(self) -> Decimal:
        return decimal_hours(self.below)

    @property
    def state_word(self) -> str:
        return ASSEMBLY_WORDS[self.state]


def assembly_state(gates: list[JudgedArea], total: int) -> str:
    """The state of an assembly, derived from its own areas and from whether any work was logged."""
    states = [one.gate.state for one in gates]
    if states and all(state in {rules.CLOSED, rules.ADVISED} for state in states):
        return "closed"
    if rules.HOLD in states:
        return "hold"
    if rules.READY in states and all(state != rules.NOT_STARTED for state in states):
        return "signed"
    return "work" if total else "not-started"


def branches(project: Project, gates: list[JudgedArea] | None = None) -> list[Branch]:
    """Every assembly in reading order with hours and state: a fixed number of queries whatever the tree."""
    by_assembly: dict[str, list[JudgedArea]] = defaultdict(list)
    for one in judged(project) if gates is None else gates:
        by_assembly[one.area.assembly_id].append(one)
    return [
        Branch(row.node, row.own, row.below, assembly_state(by_assembly[row.node.assembly.pk], row.total))
        for row in work.hours_by_assembly(project)
    ]


def below(project: Project, assembly: str) -> set[str]:
    """The keys of an assembly and of all below it."""
    return parts_queries.subtree(assembly, parts_queries.parents(project))


def trail(rows: list[Branch], assembly: Assembly) -> list[Branch]:
    """The assemblies that this one is part of, from the top."""
    by_key = {branch.key: branch for branch in rows}
    parent_of = {branch.key: branch.node.assembly.parent_id for branch in rows}
    return [by_key[key] for key in reversed(list(parts_queries.above(assembly.pk, parent_of))) if key in by_key]


def children(rows: list[Branch], assembly: Assembly) -> list[Branch]:
    """The assemblies right below this one."""
    return [branch for branch in rows if branch.node.assembly.parent_id == assembly.pk]


def recent_branches(project: Project, rows: list[Branch], most: int, but: set[str]) -> list[tuple[Branch, datetime | None]]:
    """The assemblies worked on last, with when; filled up from the top of the tree on a fresh project."""
    last = work.last_worked(project)
    order = sorted((b for b in rows if b.key in last and b.key not in but), key=lambda b: last[b.key], reverse=True)
    order += [branch for branch in rows if branch.key not in last and branch.key not in but]
    return [(branch, last.get(branch.key)) for branch in order[:most]]


def photos_of(project: Project, assemblies: set[str]) -> QuerySet[Photo]:
    """Photos of these assemblies: placed on them or their parts, or taken in sessions worked on them; newest first."""
    placed = Placement.objects.filter(Q(assembly__in=assemblies) | Q(part__assembly__in=assemblies))
    return evidence.photos(project).filter(Q(pk__in=placed.values("photo")) | Q(pk__in=work.photos_on(assemblies).values("pk")))


def worked_on(person: Person, project: Project, area: Area) -> bool:
    """Whether this person worked on what the area belongs to (rule R24)."""
    return person.pk in work.workers_on(below(project, area.assembly_id))
