"""The tray: photos without a place, gathered by time, each group with what it probably belongs to."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from accounts.models import Person, Project
from buildlog import rules
from buildlog.models import WorkSession
from buildlog.queries.sessions import last_worked, sessions
from calc.groups import Group, grouped
from evidence import queries as evidence
from evidence.models import Photo, Place
from parts import queries as parts
from parts.models import Assembly, Bin, Lot

Times = Group[str]


def in_tray(project: Project) -> QuerySet[Photo]:
    """The standing photos that have no place: not on a thing, in no session, at no gate. Oldest number first."""
    return evidence.photos(project).exclude(evidence.has_place(project)).order_by("number")


def tray_count(project: Project) -> int:
    """How many photos wait for a place."""
    return in_tray(project).count()


@dataclass(frozen=True)
class Tray:
    """Every group of the tray by its times, the latest first, and the keys of photos whose time is not known."""

    groups: list[Times]
    timeless: list[str]

    @property
    def count(self) -> int:
        return sum(len(group.members) for group in self.groups) + len(self.timeless)

    def keys(self) -> set[str]:
        """The keys of all photos in the tray."""
        return {*self.timeless, *(key for group in self.groups for key in group.members)}

    def before(self, group: Times) -> Times | None:
        """The group that comes before this one in time: below it on the page."""
        place = self.groups.index(group) + 1
        return self.groups[place] if place < len(self.groups) else None


def tray(project: Project, *, gap: timedelta = rules.TRAY_GAP, marks: rules.Marks | None = None) -> Tray:
    """Gather the photos in the tray by the pauses between them. One query: keys and times only."""
    marks = marks or rules.Marks()
    rows = list(in_tray(project).values_list("pk", "taken_at"))
    found = grouped(
        [(at, key) for key, at in rows if at is not None],
        gap=gap,
        longest=rules.LONGEST,
        apart=marks.apart,
        together=marks.together,
    )
    return Tray(found[::-1], [key for key, at in rows if at is None])


@dataclass(frozen=True)
class TrayGroup:
    """One group as it is shown.

    `sessions` overlap its time or lie right beside it, the likeliest first. `assembly` is what was probably worked on.
    `start` and `end` are the whole minutes around its photos, None where those do not tell how long the work was.
    `joins` is the first moment of the group before it, where the two can go together.
    """

    photos: list[Photo]
    first: datetime
    last: datetime
    sessions: list[WorkSession]
    assembly: Assembly | None
    start: datetime | None
    end: datetime | None
    joins: datetime | None

    @property
    def key(self) -> str:
        """The key of its first photo, by which the page names it."""
        return self.photos[0].pk

    @property
    def known(self) -> list[str]:
        """How the times of its photos are known, in a word or two for each way; the camera's zone is not told here."""
        return sorted({photo.known_short.partition(",")[0] for photo in self.photos})

    @property
    def senders(self) -> list[Person]:
        """Who sent its photos, whoever sent the first one first."""
        return list({photo.sent_by_id: photo.sent_by for photo in self.photos}.values())


def shown_groups(project: Project, whole: Tray, groups: Sequence[Times], now: datetime) -> list[TrayGroup]:
    """Groups of the tray with their photos and what they belong to: as many queries for many groups as for one."""
    keys = [key for group in groups for key in group.members]
    photos = Photo.objects.select_related("sent_by").in_bulk(keys)
    near = sessions_near(project, groups)
    standing = {one.pk: one for one in parts.assemblies(project)}
    usual = last_assembly(project, standing)
    return [
        shown_group(whole, group, [photos[key] for key in group.members], near, standing, usual, now)
        for group in groups
    ]


def shown_group(
    whole: Tray,
    group: Times,
    photos: list[Photo],
    near: Sequence[WorkSession],
    standing: dict[str, Assembly],
    usual: Assembly | None,
    now: datetime,
) -> TrayGroup:
    """One group with its proposal."""
    senders = {photo.sent_by_id for photo in photos}
    times = rules.proposed_times(group.first, group.last)
    before = whole.before(group)
    return TrayGroup(
        photos=photos,
        first=group.first,
        last=group.last,
        sessions=beside(group, near, senders, now),
        assembly=guessed(group, near, senders, standing, now) or usual,
        start=times[0] if times else None,
        end=times[1] if times else None,
        joins=before.first if before and group.last - before.first <= rules.LONGEST else None,
    )


def sessions_near(project: Project, groups: Iterable[Times]) -> list[WorkSession]:
    """The sessions within a day of any of these groups; timers that run are among them."""
    reach = Q(pk__in=())
    for group in groups:
        over = Q(ended_at__gte=group.first - rules.NEAR_SESSION) | Q(ended_at__isnull=True)
        reach |= over & Q(started_at__lte=group.last + rules.NEAR_SESSION)
    return list(sessions(project).filter(reach))


def beside(group: Times, near: Iterable[WorkSession], senders: set[str], now: datetime) -> list[WorkSession]:
    """The sessions that overlap a group or lie right beside it: the senders' own first, then by overlap."""

    def ends(session: WorkSession) -> datetime:
        return session.ended_at or max(now, session.started_at)

    def likely(session: WorkSession) -> tuple[bool, timedelta, timedelta]:
        times = (session.started_at, ends(session), group.first, group.last)
        return not own(session, senders), -rules.shared(*times), rules.between(*times)

    there = (
        session
        for session in near
        if rules.between(session.started_at, ends(session), group.first, group.last) <= rules.BESIDE_SESSION
    )
    return sorted(there, key=likely)


def own(session: WorkSession, people: set[str]) -> bool:
    """Whether any of these people stands in a session."""
    return any(row.person_id in people for row in session.people.all())


def guessed(
    group: Times, near: Iterable[WorkSession], senders: set[str], standing: dict[str, Assembly], now: datetime
) -> Assembly | None:
    """The main assembly of the senders' session that lies nearest to a group in time, within a day of it."""
    away: list[tuple[timedelta, Assembly]] = []
    for session in near:
        shares = session.shares.all()
        far = rules.between(session.started_at, session.ended_at or now, group.first, group.last)
        if own(session, senders) and far <= rules.NEAR_SESSION and shares and shares[0].assembly_id in standing:
            away.append((far, standing[shares[0].assembly_id]))
    return min(away, key=lambda row: row[0])[1] if away else None


def last_assembly(project: Project, standing: dict[str, Assembly]) -> Assembly | None:
    """The standing assembly that was worked on last."""
    worked = {key: at for key, at in last_worked(project).items() if key in standing}
    return standing[max(worked, key=lambda key: worked[key])] if worked else None


def timeless(project: Project, whole: Tray) -> list[Photo]:
    """The photos in the tray whose time is not known, in the order of their numbers."""
    return evidence.by_keys(project, whole.timeless)


def further_places(project: Project) -> list[tuple[str, list[Place]]]:
    """What photos can be placed on besides assemblies: parts, bins and lots, each kind by its name. Three queries."""
    kinds: list[tuple[str, Iterable[Place]]] = [
        ("Parts", parts.parts_of(project)),
        ("Bins", Bin.objects.standing().filter(project=project)),
        ("Lots", Lot.objects.standing().filter(project=project)),
    ]
    return [(name, list(rows)) for name, rows in kinds]
