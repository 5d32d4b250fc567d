"""Where the hours went: labor by assembly, person, day, and what overlaps."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Sum

from accounts.models import Project
from accounts.rules import ROLES
from buildlog.models import SessionPerson, SessionShare, WorkSession
from calc import hours
from parts import queries as parts_queries
from parts.models import Assembly
from parts.queries import Node


@dataclass(frozen=True)
class AssemblyHours:
    """One line of the tree of hours, in seconds."""

    node: Node
    own: int
    below: int

    @property
    def total(self) -> int:
        return self.own + self.below


def own_seconds(project: Project) -> dict[str, int]:
    """Seconds logged on each assembly itself: one query, grouped in the database."""
    rows = (
        SessionShare.objects.filter(
            session__project=project, session__withdrawn_at__isnull=True, session__ended_at__isnull=False
        )
        .order_by()
        .values_list("assembly")
        .annotate(seconds=Sum("seconds"))
    )
    return dict(rows)


def hours_by_assembly(project: Project) -> list[AssemblyHours]:
    """Own, below and total of every assembly in reading order (rule R4): two queries and one pass.

    Hours on a withdrawn assembly still count; they are shown on a line of their own by `hours_elsewhere`.
    """
    nodes = parts_queries.tree(project)
    own = own_seconds(project)
    known = {node.assembly.pk for node in nodes}
    parents = {n.assembly.pk: n.assembly.parent_id if n.assembly.parent_id in known else None for n in nodes}
    rolled = hours.roll_up(parents, own)
    return [AssemblyHours(node, rolled[node.assembly.pk].own, rolled[node.assembly.pk].below) for node in nodes]


def rolled_hours(project: Project) -> dict[str, hours.Rolled]:
    """Own, below and total of every assembly, by key: two queries and one pass, no model instances."""
    parents = parts_queries.parents(project)
    return hours.roll_up(
        {key: parent if parent in parents else None for key, parent in parents.items()}, own_seconds(project)
    )


def hours_elsewhere(project: Project) -> list[tuple[Assembly, int]]:
    """Withdrawn assemblies that hours were logged on, with those seconds: the tree and these make the project total."""
    rows = (
        SessionShare.objects.filter(
            session__project=project,
            session__withdrawn_at__isnull=True,
            session__ended_at__isnull=False,
            assembly__withdrawn_at__isnull=False,
        )
        .order_by()
        .values_list("assembly")
        .annotate(seconds=Sum("seconds"))
    )
    seconds = {key: value for key, value in rows if value}
    return [(assembly, seconds[assembly.pk]) for assembly in Assembly.objects.filter(pk__in=seconds)]


def total_seconds(project: Project) -> int:
    """The project's labor: the sum over its counted sessions."""
    return WorkSession.objects.counted().filter(project=project).aggregate(total=Sum("labor_seconds"))["total"] or 0


@dataclass(frozen=True)
class Overlap:
    """Two sessions of one person that overlap in time (rule R3)."""

    person: str
    name: str
    first: str
    first_number: int
    second: str
    second_number: int
    start: datetime
    end: datetime

    @property
    def seconds(self) -> int:
        return hours.elapsed(self.start, self.end)

    def other(self, key: str) -> int:
        """The number of the session on the other side."""
        return self.second_number if key == self.first else self.first_number


@dataclass(frozen=True)
class PersonHours:
    """One person's labor: what the sessions say, and what counts once overlaps count once. Seconds."""

    person: str
    name: str
    role: str
    sessions: int
    logged: int
    counted: int

    @property
    def doubled(self) -> int:
        return self.logged - self.counted

    @property
    def role_word(self) -> str:
        return ROLES[self.role].lower()


@dataclass(frozen=True)
class Work:
    """One person's stretch in a counted session, as read for sums."""

    session: str
    number: int
    person: str
    name: str
    role: str
    kind: str
    work: str
    started_at: datetime
    ended_at: datetime
    labor: int


def work(
    project: Project,
    people: Iterable[str] | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> list[Work]:
    """Every person's stretch in every counted session of a project, by start: one query.

    Of these `people` only, and of those that began from `since` on and before `until`, where given.
    """
    counted = SessionPerson.objects.filter(
        session__project=project, session__withdrawn_at__isnull=True, session__ended_at__isnull=False
    )
    if people is not None:
        counted = counted.filter(person__in=list(people))
    if since is not None:
        counted = counted.filter(started_at__gte=since)
    if until is not None:
        counted = counted.filter(started_at__lt=until)
    # Nobody's end is missing where the session has one, which the types of the rows cannot tell.
    rows: Iterable[tuple[Any, ...]] = counted.order_by("started_at", "id").values_list(
        "session",
        "session__number",
        "person",
        "person__name",
        "person__role",
        "session__kind",
        "session__work",
        "started_at",
        "ended_at",
        "labor_seconds",
    )
    return [Work(*row) for row in rows]


def by_person(stretches: Iterable[Work]) -> list[PersonHours]:
    """Labor per person, overlaps counted once, most hours first."""
    groups: dict[str, list[Work]] = defaultdict(list)
    for stretch in stretches:
        groups[stretch.person].append(stretch)
    rows = [
        PersonHours(
            person=group[0].person,
            name=group[0].name,
            role=group[0].role,
            sessions=len(group),
            logged=sum(s.labor for s in group),
            counted=hours.counted_once(hours.Stretch(s.started_at, s.ended_at, s.labor) for s in group),
        )
        for group in groups.values()
    ]
    return sorted(rows, key=lambda row: (-row.counted, row.name))


def overlap_of(first: Work, second: Work) -> Overlap:
    """What two stretches of one person have in common, the earlier first; it ends before it starts where nothing."""
    end = min(first.ended_at, second.ended_at)
    return Overlap(
        second.person, second.name, first.session, first.number, second.session, second.number, second.started_at, end
    )


def overlaps(stretches: Iterable[Work]) -> list[Overlap]:
    """Every pair of one person's sessions that overlap, by time."""
    found: list[Overlap] = []
    open_by_person: dict[str, list[Work]] = defaultdict(list)
    for now in sorted(stretches, key=lambda s: s.started_at):
        before = [s for s in open_by_person[now.person] if s.ended_at > now.started_at]
        found += [overlap_of(earlier, now) for earlier in before]
        open_by_person[now.person] = [*before, now]
    return [overlap for overlap in found if overlap.end > overlap.start]


def summed(stretches: Iterable[Work], key: Callable[[Work], object]) -> dict:
    """Seconds of labor by whatever `key` says of a stretch."""
    sums: dict = defaultdict(int)
    for stretch in stretches:
        sums[key(stretch)] += stretch.labor
    return dict(sums)


def month_of(zone: ZoneInfo) -> Callable[[Work], date]:
    """The first day of the local month in which a stretch began."""
    return lambda stretch: stretch.started_at.astimezone(zone).date().replace(day=1)


def week_of(zone: ZoneInfo) -> Callable[[Work], date]:
    """The Monday of the local week in which a stretch began."""
    return lambda stretch: hours.week_start(stretch.started_at.astimezone(zone).date())


def day_of(zone: ZoneInfo) -> Callable[[Work], date]:
    """The local day on which a stretch began."""
    return lambda stretch: stretch.started_at.astimezone(zone).date()


@dataclass(frozen=True)
class DayHours:
    """One local day and the labor that began on it, in seconds."""

    day: date
    seconds: int


def last_days(project: Project, now: datetime, days: int) -> list[DayHours]:
    """Labor on each of the last local days up to today, the oldest first."""
    zone = project.zone
    today = now.astimezone(zone).date()
    wanted = [today - timedelta(days=back) for back in range(days - 1, -1, -1)]
    first = datetime.combine(wanted[0], time(), zone)
    sums = summed(work(project, since=first), day_of(zone))
    return [DayHours(day, sums.get(day, 0)) for day in wanted]
