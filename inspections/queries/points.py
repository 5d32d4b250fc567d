"""Hold and witness points judged from their signatures, and what such a signature covers (rules R25, R30, R31)."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from accounts.rules import INSPECTOR
from buildlog import queries as work
from evidence.models import Photo
from inspections.models import Point, PointCall, PointPhoto
from inspections.queries.covered import Signed, photo_words
from inspections.rules import covers as covering
from inspections.rules import points as rules
from inspections.rules.gates import SignatureFacts
from journal.models import Signature
from journal.queries import signatures
from parts import queries as parts
from parts.models import Part

# The mark and line of each state, as `look.state` knows them.
MARKS = {
    rules.HOLD: {rules.OPEN: "hold", rules.INVITED: "hold"},
    rules.WITNESS: {rules.OPEN: "not-started", rules.INVITED: "invited", rules.WENT_ON: "thin"},
}
SIGNED_MARKS = {rules.RELEASED: "signed", rules.NOT_ACCEPTED: "refused", rules.CHANGED: "changed"}


def points(project: Project) -> QuerySet[Point]:
    """The points of a project that stand, with all that judging them needs: a fixed number of queries."""
    photos = PointPhoto.objects.select_related("photo", "by").prefetch_related("photo__marks")
    rows = Point.objects.standing().filter(project=project).select_related("assembly", "part", "project")
    return rows.prefetch_related(
        Prefetch("point_photos", photos), Prefetch("calls", PointCall.objects.select_related("by"))
    )


@dataclass(frozen=True)
class JudgedPoint:
    """A point with its state as it stands now."""

    point: Point
    state: str
    signed: tuple[Signed, ...]

    @property
    def number(self) -> str:
        return self.point.number

    @property
    def name(self) -> str:
        return self.point.words

    @property
    def words(self) -> str:
        """The state in the words of the shop."""
        return rules.STATE_WORDS[self.point.kind][self.state]

    @property
    def mark(self) -> str:
        """The mark that stands beside the state's words."""
        return SIGNED_MARKS.get(self.state) or MARKS[self.point.kind][self.state]

    @property
    def stops(self) -> bool:
        """Whether work has to stop here now."""
        return rules.stops(self.point.kind, self.state)

    @property
    def settled(self) -> bool:
        return rules.settled(self.state)

    @property
    def is_released(self) -> bool:
        return self.state == rules.RELEASED

    @property
    def changed(self) -> bool:
        """Signed, then changed: it needs signing again."""
        return self.state == rules.CHANGED

    @property
    def last(self) -> Signed | None:
        """The signature that decides, by the role that may release the point where there is one."""
        given = [one for one in self.signed if one.signature.role == self.point.role] or self.signed
        return max(given, key=lambda one: (one.signature.at, one.signature.pk), default=None)

    @property
    def changes(self) -> tuple[str, ...]:
        """What was changed under the signature that decides."""
        return self.last.changes if self.last else ()

    @property
    def call(self) -> PointCall | None:
        """The last invitation or going on, unless a signature has settled it."""
        since = self.last.signature.at if self.last else None
        calls = [one for one in self.point.calls.all() if since is None or one.at > since]
        return max(calls, key=lambda one: (one.at, one.pk), default=None)

    @property
    def calls(self) -> list[PointCall]:
        """Every invitation and going on, newest first."""
        return sorted(self.point.calls.all(), key=lambda one: (one.at, one.pk), reverse=True)

    @property
    def for_inspector(self) -> bool:
        return self.point.role == INSPECTOR

    @property
    def releaser(self) -> str:
        """Who may release it, within a sentence."""
        return "an inspector" if self.for_inspector else "the builder"

    @property
    def photos(self) -> list[Photo]:
        """The photos in place, withdrawn ones too."""
        return [one.photo for one in self.point.point_photos.all()]

    def awaits(self, role: str) -> bool:
        """Whether a signature by this role is waited for."""
        return self.point.role == role and not self.settled


def judged(project: Project, rows: Iterable[Point] | None = None) -> list[JudgedPoint]:
    """The points of a project judged, or just the given ones (as fetched by `points`), in order of their numbers."""
    rows = list(points(project) if rows is None else rows)
    by_subject: dict[str, list[Signature]] = defaultdict(list)
    for signature in signatures(*[point.subject for point in rows]):
        by_subject[signature.under].append(signature)
    if not rows:
        return []
    parent_of, workers = parts.parents(project), work.workers_by_assembly(project)
    found = [
        judge(point, by_subject[point.subject], workers_below(point.assembly_id, parent_of, workers)) for point in rows
    ]
    return sorted(found, key=lambda one: rules.order_of(one.number))


def workers_below(assembly: str, parent_of: dict[str, str | None], workers: Mapping[str, Set[str]]) -> frozenset[str]:
    """Keys of the people who worked on an assembly or on anything below it."""
    below = (one for key, one in workers.items() if key == assembly or assembly in parts.above(key, parent_of))
    return frozenset().union(*below)


def judge(point: Point, given: list[Signature], workers: Set[str]) -> JudgedPoint:
    """Judge one point that was fetched by `points`; `workers` are those who worked on what it belongs to."""
    facts = {item["subject"]: item["facts"] for item in covers(point)}
    signed = tuple(
        Signed(one, covering.changes_since(one.covers, facts), own_work=one.person in workers) for one in given
    )
    marks = [
        SignatureFacts(one.signature.pk, one.signature.role, one.signature.at, one.changes, one.signature.accepted)
        for one in signed
    ]
    calls = [(one.at, one.kind) for one in point.calls.all()]
    return JudgedPoint(point, rules.state(point.kind, point.role, marks, calls), signed)


def covers(point: Point) -> list[dict]:
    """What a signature given now covers: the point's wording and each photo in place.

    The same list, made later, tells what was changed since.
    """
    items = [covering.cover(point.subject, f"{point.number} {point.words}", point_words(point))]
    photos = (one.photo for one in point.point_photos.all())
    return items + [
        covering.cover(f"{point.subject}+{photo.subject}", photo.label, photo_words(photo))
        for photo in photos
        if not photo.withdrawn
    ]


def point_words(point: Point) -> dict:
    """The wording of a point, as far as a signature covers it."""
    return {
        "number": point.number,
        "point": point.kind,
        "step": point.step,
        "words": point.words,
        "detail": point.detail,
        "role": point.role,
        "assembly": point.assembly_id,
        "part": point.part_id,
    }


def is_covered(one: JudgedPoint, photo: Photo) -> bool:
    """Whether a signature at this point covers this photo."""
    name = f"{one.point.subject}+{photo.subject}"
    return any(item["subject"] == name for signed in one.signed for item in signed.signature.covers)


def open_holds(project: Project) -> dict[str, list[JudgedPoint]]:
    """The hold points that stop work now, by the key of their assembly."""
    by_assembly: dict[str, list[JudgedPoint]] = defaultdict(list)
    for one in stopping(judged(project, points(project).filter(kind=rules.HOLD))):
        by_assembly[one.point.assembly_id].append(one)
    return dict(by_assembly)


def stopping(rows: Iterable[JudgedPoint]) -> list[JudgedPoint]:
    """Those at which work has to stop now."""
    return [one for one in rows if one.stops]


def awaiting(rows: Iterable[JudgedPoint], role: str) -> list[JudgedPoint]:
    """Those that wait for a signature by this role; what stops work comes first."""
    return sorted((one for one in rows if one.awaits(role)), key=lambda one: not one.stops)


def on_assemblies(rows: Iterable[JudgedPoint], assemblies: Iterable[str]) -> list[JudgedPoint]:
    """Those on any of these assemblies or on their parts."""
    keys = set(assemblies)
    return [one for one in rows if one.point.assembly_id in keys]


def below(project: Project, assembly: str) -> set[str]:
    """The keys of an assembly and of all below it."""
    return parts.subtree(assembly, parts.parents(project))


def on_part(project: Project, part: Part) -> list[JudgedPoint]:
    """The points on one part."""
    return judged(project, points(project).filter(part=part))


def grouped(rows: Iterable[JudgedPoint]) -> list[tuple[str, list[JudgedPoint]]]:
    """Points under headings by what they mean for the work; empty headings are left out."""
    rows = list(rows)
    groups = [
        ("Stops work now", [one for one in rows if one.stops]),
        ("To be witnessed", [one for one in rows if not one.stops and not one.settled]),
        ("Released or gone on", [one for one in rows if one.settled]),
    ]
    return [(words, found) for words, found in groups if found]


def proposed(project: Project, kind: str) -> str:
    """The next free number for a point of this kind; the number of a withdrawn one is not given again."""
    return rules.next_number(kind, Point.objects.filter(project=project).values_list("number", flat=True))
