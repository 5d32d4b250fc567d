"""Work that was logged after an area had been closed for good, and what was said of it (rule R23)."""

from collections.abc import Iterable
from dataclasses import dataclass

from accounts.models import Project
from buildlog import queries as work
from buildlog.models import SessionShare, WorkSession
from inspections.models import Area, Explained
from inspections.queries.gates import JudgedArea
from inspections.rules.since import FOR_GOOD
from parts import queries as parts


@dataclass(frozen=True)
class After:
    """A session that began after an area was closed for good, and why the inside was not touched if that was said."""

    session: WorkSession
    explained: Explained | None


@dataclass(frozen=True)
class WorkedAfter:
    """An area closed for good with the work logged on its assembly, or below it, after the closing."""

    one: JudgedArea
    sessions: tuple[After, ...]

    @property
    def area(self) -> Area:
        return self.one.area

    @property
    def to_explain(self) -> list[WorkSession]:
        return [row.session for row in self.sessions if row.explained is None]

    @property
    def told(self) -> list[After]:
        return [row for row in self.sessions if row.explained is not None]


def worked_after(project: Project, rows: Iterable[JudgedArea], *, untold: bool = False) -> list[WorkedAfter]:
    """Those of the given areas that are closed for good and saw work afterwards, in the given order.

    With `untold` only what nobody has explained yet. A fixed number of queries; none when no area is closed for good.
    """
    shut = [(one, one.closing.closed_at) for one in rows if one.closing and one.area.kind == FOR_GOOD]
    if not shut:
        return []
    first = min(at for _, at in shut)
    shares = SessionShare.objects.filter(session__project=project, session__withdrawn_at=None)
    later = list(shares.filter(session__started_at__gt=first).values_list("assembly", "session", "session__started_at"))
    parent_of = parts.parents(project)
    below = {one.area.pk: parts.subtree(one.area.assembly_id, parent_of) for one, _ in shut}
    pairs = {
        (one.area.pk, session)
        for one, closed_at in shut
        for assembly, session, started_at in later
        if started_at > closed_at and assembly in below[one.area.pk]
    }
    keys = {area for area, _ in pairs}
    said = {(row.area_id, row.session_id): row for row in Explained.objects.filter(area__in=keys).select_related("by")}
    wanted = {session for area, session in pairs if not untold or (area, session) not in said}
    sessions = list(work.sessions(project).filter(pk__in=wanted).order_by("started_at", "number")) if wanted else []

    def after(area: str) -> tuple[After, ...]:
        return tuple(After(one, said.get((area, one.pk))) for one in sessions if (area, one.pk) in pairs)

    found = [WorkedAfter(one, after(one.area.pk)) for one, _ in shut]
    return [row for row in found if row.sessions]


def to_explain(rows: Iterable[WorkedAfter]) -> list[WorkedAfter]:
    """Those with work that nobody has explained yet."""
    return [row for row in rows if row.to_explain]


def beside(rows: Iterable[WorkedAfter], session: WorkSession) -> list[tuple[WorkedAfter, Explained | None]]:
    """The areas that one session came after, each with what was said of it."""
    return [(row, after.explained) for row in rows for after in row.sessions if after.session.pk == session.pk]


def shut_above(rows: Iterable[JudgedArea], above: Iterable[str]) -> list[JudgedArea]:
    """The areas closed for good on any of these assemblies: work there has to be told apart from work inside."""
    keys = set(above)
    return [one for one in rows if one.closing and one.area.kind == FOR_GOOD and one.area.assembly_id in keys]
