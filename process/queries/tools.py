"""Tools, how they stand, and every record that was made with them (rule R44)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import reduce
from operator import or_

from django.db.models import ForeignKey, Q, QuerySet

from accounts.models import Project
from process.models import KINDS, ProcessRecord, Tool, ToolEvent
from process.rules import tools as rules


def tools(project: Project) -> QuerySet[Tool]:
    """The tools of a project that stand, by number."""
    return Tool.objects.standing().filter(project=project)


def all_tools(project: Project) -> QuerySet[Tool]:
    """The tools of a project, withdrawn ones too."""
    return Tool.objects.filter(project=project).select_related("project")


def events_of(tool: Tool) -> list[ToolEvent]:
    """What happened to a tool, in order of days and, within a day, of entering."""
    return in_order(tool.events.select_related("by", "photo"))


def in_order(events: Iterable[ToolEvent]) -> list[ToolEvent]:
    return sorted(events, key=lambda event: (event.happened_on, event.at, event.pk))


def as_rules(events: Iterable[ToolEvent]) -> list[rules.Event]:
    """Events as the rules take them."""
    return [rules.Event(event.kind, event.happened_on) for event in events]


def standing_of(tool: Tool, today: date) -> rules.Standing:
    """How one tool stands today: a query for its events unless they were fetched with it."""
    return rules.standing(tool.interval_months, as_rules(in_order(tool.events.all())), today)


@dataclass(frozen=True)
class Stood:
    """A tool with how it stands."""

    tool: Tool
    standing: rules.Standing


def stood(project: Project, today: date) -> list[Stood]:
    """All tools with how they stand: two queries. First those that want something done."""
    rows = [Stood(tool, standing_of(tool, today)) for tool in tools(project).prefetch_related("events")]
    return sorted(rows, key=lambda one: (not one.standing.verdict.bad, not one.standing.soon, one.tool.number))


def tool_fields(model: type[ProcessRecord]) -> list[str]:
    """The fields of a kind of record that name a tool it was made with."""
    return [
        field.name
        for field in model._meta.get_fields()
        if isinstance(field, ForeignKey) and field.related_model is Tool
    ]


@dataclass(frozen=True)
class MadeWith:
    """A record that was made with a tool, on which day, and as what the tool stands in it."""

    record: ProcessRecord
    day: date
    roles: str


def made_with(tool: Tool) -> list[MadeWith]:
    """Every standing process record that names this tool, in order of time: one query for each kind that can."""
    zone = tool.project.zone
    found: list[MadeWith] = []
    for model in KINDS.values():
        names = tool_fields(model)
        if not names:
            continue
        any_of = reduce(or_, (Q(**{name: tool}) for name in names))
        rows = model._default_manager.filter(any_of, project=tool.project_id, withdrawn_at=None)
        for record in rows.select_related("assembly", "part", "done_by"):
            roles = ", ".join(name for name in names if getattr(record, f"{name}_id") == tool.pk)
            found.append(MadeWith(record, record.done_at.astimezone(zone).date(), roles))
    return sorted(found, key=lambda one: (one.record.done_at, one.record.KIND, one.record.number))


@dataclass(frozen=True)
class Suspect:
    """One time a tool was found bad, with the records to be looked at again."""

    doubt: rules.Doubt
    made: list[MadeWith]
    after: list[MadeWith]

    @property
    def count(self) -> int:
        return len(self.made) + len(self.after)


def suspects(tool: Tool) -> list[Suspect]:
    """For each time a tool was found bad: what was made with it since it was last good, and what though it was bad."""
    used = made_with(tool)
    days = [(one, one.day) for one in used]
    return [
        Suspect(doubt, rules.suspects(doubt, days), rules.used_though_bad(doubt, days))
        for doubt in rules.doubts(as_rules(events_of(tool)))
    ]


def usable_at(tool: Tool, at: datetime) -> rules.Standing:
    """How a tool stood on the day of a record, by what had happened to it by then."""
    day = at.astimezone(tool.project.zone).date()
    known = [event for event in in_order(tool.events.all()) if event.happened_on <= day]
    return rules.standing(tool.interval_months, as_rules(known), day)
