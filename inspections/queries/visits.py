"""Reads about visits: whose link a token is, what a visitor may see, and what he said of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max, Prefetch, Q, QuerySet

from accounts.models import Person, Project
from accounts.rules import INSPECTOR
from evidence.models import Photo
from foundation.digest import digest_bytes
from inspections.models import Discrepancy, Exhibit, FoundPhoto, Look, PointPhoto, Visit, VisitArea, VisitPoint
from inspections.queries import covered, gates, points
from inspections.queries import discrepancies as defects
from inspections.rules import Wait
from inspections.rules import gates as gate_rules
from inspections.rules import points as point_rules
from inspections.rules import visits as rules
from journal.models import Signature
from parts import queries as parts

AREA, POINT = "area", "point"


def digest_of(token: str) -> str:
    """What is kept of a link's token."""
    return digest_bytes(token.encode(errors="replace"))


def by_token(token: str) -> Visit | None:
    """The visit whose link this is, however it stands. Looked up by digest: how long that takes tells nothing."""
    rows = Visit.objects.standing().select_related("project", "person", "made_by")
    return rows.filter(digest=digest_of(token), project__withdrawn_at=None, person__withdrawn_at=None).first()


def standing(visit: Visit, at: datetime) -> str:
    """Whether the link of a visit opens at this moment."""
    return rules.standing(at=at, expires_at=visit.expires_at, revoked_at=visit.revoked_at, ended_at=visit.ended_at)


def visits(project: Project) -> QuerySet[Visit]:
    """The visits of a project, newest first."""
    rows = Visit.objects.standing().filter(project=project).select_related("project", "person", "made_by")
    return rows.order_by("-number").prefetch_related(
        Prefetch("visit_areas", VisitArea.objects.select_related("area")),
        Prefetch("visit_points", VisitPoint.objects.select_related("point")),
        "openings",
        "looks",
    )


def next_number(project: Project) -> int:
    """The number for the next visit."""
    return (Visit.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def inspectors(project: Project) -> QuerySet[Person]:
    """Who a visit can be made for."""
    return Person.objects.standing().filter(project=project, role=INSPECTOR)


def signatures(visit: Visit) -> QuerySet[Signature]:
    """What was signed on a visit, oldest first."""
    return Signature.objects.filter(project=visit.project_id, visit=visit.subject)


def remarks(visit: Visit) -> QuerySet[Discrepancy]:
    """What the visitor found."""
    return defects.rows(visit.project).filter(visit=visit)


@dataclass(frozen=True)
class Thing:
    """An area or a point that a visit is about, judged, with what this visit said of it."""

    kind: str
    one: gates.JudgedArea | points.JudgedPoint
    looks: dict[str, Look]
    signed: tuple[covered.Signed, ...]
    """Signatures given on this visit."""

    @property
    def row(self):  # an area or a point
        return self.one.area if isinstance(self.one, gates.JudgedArea) else self.one.point

    @property
    def key(self) -> str:
        return self.row.pk

    @property
    def subject(self) -> str:
        return self.row.subject

    @property
    def number(self) -> str:
        return self.row.number

    @property
    def name(self) -> str:
        return self.one.area.name if isinstance(self.one, gates.JudgedArea) else self.one.point.words

    @property
    def label(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def done(self) -> bool:
        """Whether it was signed for on this visit, accepted or not, and nothing was changed since."""
        return any(not one.changes or not one.signature.accepted for one in self.signed)

    @property
    def lacks(self) -> list[str]:
        """What has to be in place or settled before it can be accepted, by name."""
        return self.one.gate.lacks_before_signing if isinstance(self.one, gates.JudgedArea) else []

    @property
    def closing(self):  # a closing or none
        return self.one.closing if isinstance(self.one, gates.JudgedArea) else None

    @property
    def waits(self) -> list[Wait]:
        return list(self.one.gate.waits) if isinstance(self.one, gates.JudgedArea) else []

    @property
    def lines(self) -> list[gates.Line]:
        """The gate's items in their order; none for a point."""
        if not isinstance(self.one, gates.JudgedArea):
            return []
        found = [line for _, lines in gates.lines(self.one) for line in lines]
        return sorted(found, key=lambda line: line.item.asked.position)

    @property
    def in_place(self) -> int:
        """How many items of the gate are in place."""
        return sum(line.item.in_place for line in self.lines)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The gate's items with the photos that count and what the visitor said of each; sign-offs left out."""
        return [
            {
                "line": line,
                "photos": [photo for photo, counts in line.photos if counts],
                "subject": line.requirement.subject,
                "said": self.looks.get(line.requirement.subject),
            }
            for line in self.lines
            if line.requirement.kind != gate_rules.SIGN_OFF
        ]

    @property
    def photos(self) -> list[Photo]:
        """The photos that count for it."""
        if isinstance(self.one, gates.JudgedArea):
            return [photo for line in self.lines for photo, counts in line.photos if counts]
        return [photo for photo in self.one.photos if not photo.withdrawn]

    @property
    def covers(self) -> list[dict]:
        """What a signature given now covers."""
        return gates.covers(self.one) if isinstance(self.one, gates.JudgedArea) else points.covers(self.one.point)

    @property
    def seen(self) -> str:
        """The digest of what stands before the signer's eyes."""
        return covered.seen(self.covers)

    @property
    def roles(self) -> set[str]:
        """Whose signature it asks for."""
        if isinstance(self.one, gates.JudgedArea):
            return {item.asked.role for item in self.one.gate.items if item.asked.kind == gate_rules.SIGN_OFF}
        return {self.one.point.role}

    @property
    def since(self) -> datetime | None:
        """When an area was last opened again."""
        return self.one.since if isinstance(self.one, gates.JudgedArea) else None

    @property
    def look(self) -> Look | None:
        """What the visitor said of the whole."""
        return self.looks.get(self.subject)

    @property
    def looked_at(self) -> int:
        """How many things of it the visitor said something of."""
        subjects = {self.subject, *(line.requirement.subject for line in self.lines)}
        return len(subjects & set(self.looks))

    def names(self) -> dict[str, str]:
        """What a visitor may say something of here: the journal's names with their labels."""
        items = {
            line.requirement.subject: f"{self.number}, item {line.requirement.position} {line.requirement.words}"
            for line in self.lines
            if line.requirement.kind != gate_rules.SIGN_OFF
        }
        return {self.subject: self.label} | items


def things(visit: Visit) -> list[Thing]:
    """What a visit is about, in the order of the numbers: areas, then points; withdrawn ones left out."""
    said = latest_looks(visit)
    areas = gates.areas(visit.project).filter(pk__in=visit.visit_areas.values("area"))
    spots = points.points(visit.project).filter(pk__in=visit.visit_points.values("point"))
    found = [Thing(AREA, one, said, by_visit(visit, one.signed)) for one in gates.judged(visit.project, areas)]
    return found + [Thing(POINT, one, said, by_visit(visit, one.signed)) for one in points.judged(visit.project, spots)]


def by_visit(visit: Visit, signed: Iterable[covered.Signed]) -> tuple[covered.Signed, ...]:
    """Those signatures that were given on this visit."""
    return tuple(one for one in signed if one.signature.visit == visit.subject)


def thing(visit: Visit, kind: str, key: str) -> Thing | None:
    """One of the things that a visit is about; none for anything else of the project."""
    return next((one for one in things(visit) if (one.kind, one.key) == (kind, key)), None)


def all_done(found: Iterable[Thing]) -> bool:
    """Whether everything a visit is about was signed for, accepted or not."""
    found = list(found)
    return bool(found) and all(one.done for one in found)


def latest_looks(visit: Visit) -> dict[str, Look]:
    """The last thing said of each subject; what was taken back says nothing."""
    last = {one.thing: one for one in sorted(visit.looks.all(), key=lambda one: (one.at, one.pk))}
    return {subject: one for subject, one in last.items() if one.outcome != rules.CLEARED}


def discrepancies(visit: Visit, found: Iterable[Thing]) -> QuerySet[Discrepancy]:
    """Discrepancies a visitor sees: of these areas, those below that block, and what he remarked there himself."""
    found = list(found)
    parent_of = parts.parents(visit.project)
    own = {one.row.assembly_id for one in found}
    below = set().union(*(parts.subtree(key, parent_of) for key in own)) if own else set()
    areas = [one.key for one in found if one.kind == AREA]
    return defects.rows(visit.project).filter(
        Q(visit=visit, assembly__in=own) | Q(area__in=areas) | Q(assembly__in=below, blocks=True)
    )


def photos_in_scope(visit: Visit) -> QuerySet[Photo]:
    """The photos that a visitor may see, and no others: those in place for what he looks at, and of what was found."""
    found = things(visit)
    areas = [one.key for one in found if one.kind == AREA]
    spots = [one.key for one in found if one.kind == POINT]
    at_gates = Exhibit.objects.filter(requirement__area__in=areas, requirement__dropped_at=None)
    at_points = PointPhoto.objects.filter(point__in=spots)
    of_found = FoundPhoto.objects.filter(discrepancy__in=discrepancies(visit, found))
    return Photo.objects.standing().filter(
        Q(project=visit.project),
        Q(pk__in=at_gates.values("photo")) | Q(pk__in=at_points.values("photo")) | Q(pk__in=of_found.values("photo")),
    )


def holds_beside(visit: Visit, one: Thing) -> list[points.JudgedPoint]:
    """The points on the assembly of an area or below it: a visitor sees how they stand."""
    below = parts.subtree(one.row.assembly_id, parts.parents(visit.project))
    found = points.on_assemblies(points.judged(visit.project), below)
    return [spot for spot in found if spot.point.pk != one.key and spot.state != point_rules.WENT_ON]
