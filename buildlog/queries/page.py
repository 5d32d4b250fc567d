"""The page of hours and its tables for spreadsheets."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from accounts.models import Project
from accounts.rules import BUILDER, PAID, ROLES
from buildlog import rules
from buildlog.models import WorkSession
from buildlog.queries.hours import (
    Overlap,
    PersonHours,
    Work,
    by_person,
    day_of,
    hours_by_assembly,
    hours_elsewhere,
    month_of,
    overlaps,
    rolled_hours,
    summed,
    total_seconds,
    week_of,
    work,
)
from buildlog.queries.sessions import sessions
from calc import hours
from parts.models import Assembly

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
