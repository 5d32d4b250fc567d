"""Which part of the record is printed: all of it, one assembly with what is below, a stretch of days, or both."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from accounts.models import Project
from buildlog.models import WorkSession
from certification.queries.words import calendar_day
from inspections.models import Visit
from parts import queries as parts
from parts.models import Assembly


@dataclass(frozen=True)
class Scope:
    """What is printed. `keys` are the assemblies, None for all; `since` and `until` are days, both printed."""

    zone: ZoneInfo
    assembly: Assembly | None = None
    keys: frozenset[str] | None = None
    since: date | None = None
    until: date | None = None

    @property
    def whole(self) -> bool:
        return self.keys is None and self.since is None and self.until is None

    def at(self, assembly: str | None) -> bool:
        """Whether what stands on this assembly is printed."""
        return self.keys is None or assembly in self.keys

    def on(self, when: datetime | None) -> bool:
        """Whether what happened then is printed; what has no time is, unless days are asked for."""
        if when is None:
            return self.since is None and self.until is None
        day = when.astimezone(self.zone).date()
        return (self.since is None or day >= self.since) and (self.until is None or day <= self.until)

    def session(self, session: WorkSession) -> bool:
        """Whether a session began on a printed day and has a share on a printed assembly."""
        return self.on(session.started_at) and (
            self.keys is None or any(share.assembly_id in self.keys for share in session.shares.all())
        )

    def visit(self, visit: Visit) -> bool:
        """Whether a visit was made on printed days and had to do with a printed assembly."""
        things = [one.area.assembly_id for one in visit.visit_areas.all()]
        things += [one.point.assembly_id for one in visit.visit_points.all()]
        return self.on(visit.made_at) and (self.keys is None or any(map(self.at, things)))

    @property
    def words(self) -> list[str]:
        """What is printed, in words; nothing of the whole record."""
        found = [f"{self.assembly} and everything below it"] if self.assembly else []
        if self.since or self.until:
            first = f"from {calendar_day(self.since)} " if self.since else ""
            last = f"to {calendar_day(self.until)}" if self.until else "on"
            found.append(f"sessions, process records and visits {first}{last}")
        return found


def scope(
    project: Project, assembly: Assembly | None = None, since: date | None = None, until: date | None = None
) -> Scope:
    """The part of a project's record that was asked for."""
    keys = frozenset(parts.subtree(assembly.pk, parts.parents(project))) if assembly else None
    return Scope(project.zone, assembly, keys, since, until)


def own_seconds(sessions: Iterable[WorkSession], asked: Scope) -> dict[str, int]:
    """Seconds of the printed shares, by assembly."""
    found: dict[str, int] = {}
    for session in sessions:
        for share in session.shares.all():
            if asked.at(share.assembly_id):
                found[share.assembly_id] = found.get(share.assembly_id, 0) + share.seconds
    return found
