"""Reads about work: sessions, timers, and where the hours went."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max, Prefetch, QuerySet, Sum

from accounts.models import Person, Project
from accounts.rules import BUILDER, PAID, ROLES
from buildlog import rules
from buildlog.models import SessionPerson, SessionPhoto, SessionShare, WorkSession
from buildlog.rules import LONGEST
from calc import hours
from evidence.models import Photo
from journal.models import Entry
from parts import queries as parts_queries
from parts.models import Assembly
from parts.queries import Node


def sessions(project: Project) -> QuerySet[WorkSession]:
    """The sessions of a project that stand, newest first, with people, shares and photos at hand."""
    return (
        WorkSession.objects.standing()
        .filter(project=project)
        .select_related("project", "entered_by")
        .prefetch_related(*whole())
        .order_by("-started_at", "-number")
    )


def all_sessions(project: Project) -> QuerySet[WorkSession]:
    """The sessions of a project with the withdrawn ones among them."""
    return (
        WorkSession.objects.filter(project=project).select_related("project", "entered_by").prefetch_related(*whole())
    )


def sessions_on(project: Project, assembly: Assembly) -> QuerySet[WorkSession]:
    """The sessions worked on an assembly or on anything below it, newest first."""
    below = parts_queries.subtree(assembly.pk, parts_queries.parents(project))
    shares = SessionShare.objects.filter(assembly__in=below)
    return sessions(project).filter(pk__in=shares.values("session"))


def is_described(session: WorkSession) -> bool:
    """Whether somebody has put words to a session; until then a stopped timer is only being finished."""
    entries = Entry.objects.filter(subject=session.subject)
    return entries.filter(verb__in=["session.logged", "session.corrected"]).exists()


def overlaps_of(session: WorkSession) -> "list[Overlap]":
    """The overlaps that this session has a part in: only its people and its hours are read."""
    if session.withdrawn or session.ended_at is None:
        return []
    people = [row.person_id for row in (session.held or {}).get("people") or session.people.all()]
    beside = SessionPerson.objects.filter(
        person__in=people, started_at__lt=session.ended_at, ended_at__gt=session.started_at
    )
    if not beside.exclude(session=session.pk).order_by().exists():
        return []
    near = work(session.project, people, since=session.started_at - LONGEST, until=session.ended_at)
    mine = {stretch.person: stretch for stretch in near if stretch.session == session.pk}
    others = (stretch for stretch in near if stretch.session != session.pk)
    pairs = (sorted((other, mine[other.person]), key=lambda one: one.started_at) for other in others)
    return [overlap for first, second in pairs if (overlap := overlap_of(first, second)).end > overlap.start]


def whole() -> list[Prefetch]:
    """What a session is shown with: four queries for any number of sessions."""
    return [
        Prefetch("people", SessionPerson.objects.select_related("person")),
        Prefetch("shares", SessionShare.objects.select_related("assembly")),
        Prefetch("attachments", SessionPhoto.objects.select_related("photo")),
    ]


def next_number(project: Project) -> int:
    """The number for the next session; withdrawn sessions keep theirs."""
    return (WorkSession.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def running_of(person: Person) -> WorkSession | None:
    """The session that this person's timer runs in, if any."""
    return (
        WorkSession.objects.running()
        .filter(people__person=person, people__ended_at__isnull=True)
        .select_related("project")
        .first()
    )


def runs_elsewhere(person: Person) -> bool:
    """Whether a timer runs for the same account in another project."""
    if person.user_id is None:
        return False
    rows = SessionPerson.objects.filter(person__user=person.user_id, ended_at__isnull=True)
    return rows.filter(session__withdrawn_at__isnull=True).exclude(session__project=person.project_id).exists()


def running(project: Project) -> QuerySet[WorkSession]:
    """All timers that run in a project, the oldest first."""
    return WorkSession.objects.running().filter(project=project).prefetch_related(*whole()).order_by("started_at")


def photos_of(session: WorkSession) -> list[Photo]:
    """The standing photos attached to a session that was fetched `whole()`."""
    return session.photos


def photos_on(assemblies: Iterable[str]) -> QuerySet[Photo]:
    """Photos attached to sessions that were worked on any of these assemblies."""
    attached = SessionPhoto.objects.filter(
        session__withdrawn_at__isnull=True, session__shares__assembly__in=list(assemblies)
    )
    return Photo.objects.standing().filter(pk__in=attached.values("photo"))


# ---- where the hours went ----


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


def workers_on(assemblies: Iterable[str]) -> set[str]:
    """Keys of the people who worked on any of these assemblies, in sessions that stand."""
    rows = SessionPerson.objects.filter(
        session__withdrawn_at__isnull=True, session__shares__assembly__in=list(assemblies)
    )
    return set(rows.values_list("person", flat=True))


def last_worked(project: Project) -> dict[str, datetime]:
    """When each assembly was last worked on, by key."""
    rows = (
        SessionShare.objects.filter(session__project=project, session__withdrawn_at__isnull=True)
        .order_by()
        .values_list("assembly")
        .annotate(last=Max("session__started_at"))
    )
    return dict(rows)


# ---- the page of hours ----

WEEKS = 12


@dataclass(frozen=True)
class KindLine:
    """Labor of one kind in seconds, by who did it: builders, unpaid help, paid help."""

    key: str
    words: str
    builder: int
    helpers: int
    paid: int

    @property
    def total(self) -> int:
        return self.builder + self.helpers + self.paid


@dataclass(frozen=True)
class HoursPage:
    """Everything that the page of hours says beside the tree, in seconds."""

    everybody: KindLine
    sessions: int
    since: date | None
    this_week: int
    average: int
    weeks: list[tuple[date, int]]
    months: list[tuple[date, int]]
    people: list[PersonHours]
    conflicts: list[Overlap]
    works: list[KindLine]
    kinds: list[KindLine]
    elsewhere: list[tuple[Assembly, int]]
    longest: int

    @property
    def total(self) -> int:
        return self.everybody.total

    @property
    def doubled(self) -> int:
        """Seconds that overlapping sessions of one person say twice."""
        return sum(person.doubled for person in self.people)


def hours_page(project: Project, today: date) -> HoursPage:
    """The figures of the page of hours on a local day: a handful of queries whatever the log."""
    stretches = work(project)
    by_week = summed(stretches, week_of(project.zone))
    this_week = hours.week_start(today)
    return HoursPage(
        everybody=kind_line("", "All", stretches),
        sessions=len({stretch.session for stretch in stretches}),
        since=min(map(day_of(project.zone), stretches), default=None),
        this_week=by_week.get(this_week, 0),
        average=weekly_average(by_week, this_week),
        weeks=[(week, by_week.get(week, 0)) for week in weeks_before(this_week + timedelta(weeks=1), WEEKS)],
        months=by_month(stretches, project.zone),
        people=by_person(stretches),
        conflicts=overlaps(stretches),
        works=kind_lines(stretches, what_was_done, rules.WORK | rules.KINDS),
        kinds=kind_lines(stretches, lambda stretch: stretch.kind, rules.KINDS),
        elsewhere=hours_elsewhere(project),
        longest=max((rolled.total for rolled in rolled_hours(project).values()), default=0),
    )


def weeks_before(week: date, count: int) -> list[date]:
    """The Mondays of the weeks before this one, oldest first."""
    return [week - timedelta(weeks=back) for back in range(count, 0, -1)]


def weekly_average(by_week: dict[date, int], this_week: date) -> int:
    """Seconds a week over the twelve full weeks before this one, or those since the first work; idle weeks count."""
    first = min(by_week, default=this_week)
    full = [week for week in weeks_before(this_week, WEEKS) if week >= first]
    return round(sum(by_week.get(week, 0) for week in full) / len(full)) if full else 0


def by_month(stretches: Iterable[Work], zone: ZoneInfo) -> list[tuple[date, int]]:
    """Seconds by local month, newest first; months without work between the first and the last stand with zero."""
    sums = summed(stretches, month_of(zone))
    rows, month = [], min(sums, default=None)
    while month is not None and month <= max(sums):
        rows.append((month, sums.get(month, 0)))
        month = (month + timedelta(days=31)).replace(day=1)
    return rows[::-1]


def what_was_done(stretch: Work) -> str:
    """The kind of work as the shop names it; where none was said, the kind of session unless it is plain labor."""
    return stretch.work or ("" if stretch.kind == "labor" else stretch.kind)


def kind_line(key: str, words: str, stretches: Iterable[Work]) -> KindLine:
    """The labor in these stretches by who did it."""
    by_role = summed(stretches, lambda stretch: stretch.role)
    builder, paid = by_role.get(BUILDER, 0), by_role.get(PAID, 0)
    return KindLine(key, words, builder, sum(by_role.values()) - builder - paid, paid)


def kind_lines(stretches: Iterable[Work], kind: Callable[[Work], str], words: dict[str, str]) -> list[KindLine]:
    """One line for each kind there is, most hours first."""
    groups: dict[str, list[Work]] = defaultdict(list)
    for stretch in stretches:
        groups[kind(stretch)].append(stretch)
    rows = [kind_line(key, words.get(key, key), group) for key, group in groups.items()]
    return sorted(rows, key=lambda row: (-row.total, row.words))


# ---- tables for spreadsheets ----


def duration(seconds: int) -> list[str | int]:
    """A duration in the three forms of every table: decimal hours, h:min, seconds."""
    return [str(hours.decimal_hours(seconds, 2)), hours.clock_hours(seconds), seconds]


def heads(word: str) -> list[str]:
    """The three headings over a `duration`."""
    return [f"{word}, hours", f"{word}, h:min", f"{word}, seconds"]


def assemblies_table(project: Project) -> list[list[str | int]]:
    """Own, below and total of every assembly; withdrawn ones with hours and the project total at the end."""
    head: list[str | int] = ["Number", "Assembly", "Depth", "Standing", *heads("Own"), *heads("Below"), *heads("Total")]
    rows = [
        [
            row.node.assembly.number,
            row.node.assembly.name,
            row.node.depth,
            "yes",
            *duration(row.own),
            *duration(row.below),
            *duration(row.total),
        ]
        for row in hours_by_assembly(project)
    ]
    gone = [
        [assembly.number, assembly.name, 0, "withdrawn", *duration(own), *duration(0), *duration(own)]
        for assembly, own in hours_elsewhere(project)
    ]
    blank = [""] * 3
    return [head, *rows, *gone, ["", "All", "", "", *blank, *blank, *duration(total_seconds(project))]]


def sessions_table(project: Project) -> list[list[str | int]]:
    """Every counted session, oldest first."""
    head: list[str | int] = [
        "Session",
        "Date",
        "Start",
        "End",
        "People",
        "Assemblies",
        "Kind",
        "Kind of work",
        "Entry",
        "Entered",
        "Note",
        *heads("Labor"),
    ]
    zone = project.zone
    rows = sessions(project).filter(ended_at__isnull=False).order_by("started_at", "number")
    return [head, *([*session_cells(session, zone), *duration(session.labor_seconds)] for session in rows)]


def session_cells(session: WorkSession, zone: ZoneInfo) -> list[str | int]:
    """One session as cells, times on the clock of the shop."""
    start, end = session.started_at.astimezone(zone), session.end.astimezone(zone)
    return [
        session.number,
        f"{start:%Y-%m-%d}",
        f"{start:%Y-%m-%d %H:%M}",
        f"{end:%Y-%m-%d %H:%M}",
        "; ".join(f"{row.person.name} {hours.clock_hours(row.labor_seconds)}" for row in session.people.all()),
        "; ".join(f"{share.assembly} {hours.clock_hours(share.seconds)}" for share in session.shares.all()),
        session.get_kind_display(),
        session.get_work_display() if session.work else "",
        session.get_source_display(),
        f"{session.entered_at.astimezone(zone):%Y-%m-%d %H:%M}",
        session.note,
    ]


def people_table(project: Project) -> list[list[str | int]]:
    """Everybody who worked: what the sessions say, and what counts once overlaps count once."""
    head: list[str | int] = ["Person", "Role", "Sessions", *heads("Logged"), *heads("Counted")]
    people = by_person(work(project))
    return [head, *([p.name, ROLES[p.role], p.sessions, *duration(p.logged), *duration(p.counted)] for p in people)]


def months_table(project: Project) -> list[list[str | int]]:
    """Labor by local month, oldest first."""
    months = by_month(work(project), project.zone)
    return [["Month", *heads("Labor")], *([f"{month:%Y-%m}", *duration(seconds)] for month, seconds in months[::-1])]


TABLES: dict[str, Callable[[Project], list[list[str | int]]]] = {
    "assemblies": assemblies_table,
    "sessions": sessions_table,
    "people": people_table,
    "months": months_table,
}


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
