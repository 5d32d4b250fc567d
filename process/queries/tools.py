"""Tools, how they stand, and every record that was made with them (rule R44)."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import reduce
from operator import or_
from typing import Any, Protocol

from django.db.models import ForeignKey, Q, QuerySet

from accounts.models import Project
from evidence.models import Document
from evidence.queries import documents
from process.models import KINDS, ProcessRecord, Recheck, Tool, ToolDocument, ToolEvent
from process.queries import common
from process.rules import tools as rules
from process.rules import words


class Made(Protocol):
    """A record that names tools it was made with: a process record, or one of an app above (`ABOVE`)."""

    KIND: str
    pk: Any

    @property
    def number(self) -> int: ...
    @property
    def label(self) -> str: ...
    @property
    def withdrawn(self) -> bool: ...
    @property
    def done_at(self) -> datetime: ...
    @property
    def project(self) -> Project: ...


@dataclass(frozen=True)
class Above:
    """A kind of record of an app above that names the tools it was made with.

    `page` names the address of its page. `rows` gives those of a project that stand and name one of these tools, in one
    query or few; `one` gives a record by its key, be it withdrawn; `tools` the keys of the tools that a record names.
    """

    page: str
    rows: Callable[[Project, Collection[str]], Iterable[Any]]
    one: Callable[[Project, str], Any]
    tools: Callable[[Any], set[str]]


# By kind, added by apps above at start. Without it a tool found bad would not list what was made with it up there.
ABOVE: dict[str, Above] = {}


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
    return [rules.Event(event.kind, event.happened_on, event.pk) for event in events]


def standing_of(tool: Tool, today: date) -> rules.Standing:
    """How one tool stands today: a query for its events unless they were fetched with it."""
    return rules.standing(tool.interval_months, as_rules(in_order(tool.events.all())), today)


@dataclass(frozen=True)
class Stood:
    """A tool with how it stands, and how many records made with it are still to be looked at again."""

    tool: Tool
    standing: rules.Standing
    again: int = 0

    @property
    def wanted(self) -> bool:
        """Whether it wants something done."""
        return self.standing.verdict.bad or self.standing.soon or self.again > 0


def stood(project: Project, today: date) -> list[Stood]:
    """All tools with how they stand, first those that want something done: two queries.

    Where a tool was ever found bad, one more for each kind of record that can name a tool.
    """
    found = list(tools(project).select_related("project").prefetch_related("events"))
    again = {key: sum(one.open for one in some) for key, some in suspects_of(found).items()}
    rows = [Stood(tool, standing_of(tool, today), again.get(tool.pk, 0)) for tool in found]
    return sorted(
        rows, key=lambda one: (not one.standing.verdict.bad, not one.again, not one.standing.soon, one.tool.number)
    )


def tool_fields(model: type[ProcessRecord]) -> list[str]:
    """The fields of a kind of record that name a tool it was made with."""
    return [
        field.name
        for field in model._meta.get_fields()
        if isinstance(field, ForeignKey) and field.related_model is Tool
    ]


def tools_named(record: Made) -> set[str]:
    """The keys of the tools that a record says it was made with."""
    if record.KIND in ABOVE:
        return ABOVE[record.KIND].tools(record)
    return {getattr(record, f"{name}_id") for name in tool_fields(KINDS[record.KIND])} - {None}


def made_of(project: Project, kind: str, key: str) -> Made | None:
    """A record of a project that may name tools, by kind and key, withdrawn ones too."""
    return ABOVE[kind].one(project, key) if kind in ABOVE else common.record_of(project, kind, key)


@dataclass(frozen=True)
class MadeWith:
    """A record that was made with a tool, and on which day; looked at again where that is known and was done."""

    record: Made
    day: date
    recheck: Recheck | None = None


def made_with(tool: Tool) -> list[MadeWith]:
    """Every standing record that names this tool, in order of time: one query for each kind that can."""
    return made_with_each([tool])[tool.pk]


def made_with_each(some: Sequence[Tool]) -> dict[str, list[MadeWith]]:
    """The same for several tools of one project, by key, in as many queries."""
    found: dict[str, list[MadeWith]] = {tool.pk: [] for tool in some}
    for record in records_naming(some[0].project, list(found)) if some else ():
        one = MadeWith(record, record.done_at.astimezone(some[0].project.zone).date())
        for key in tools_named(record) & found.keys():
            found[key].append(one)
    for made in found.values():
        made.sort(key=lambda one: (one.record.done_at, one.record.KIND, one.record.number))
    return found


def records_naming(project: Project, keys: Collection[str]) -> Iterable[Any]:
    """The standing records of a project that name one of these tools, kind by kind."""
    for model in KINDS.values():
        if names := tool_fields(model):
            any_of = reduce(or_, (Q(**{f"{name}__in": keys}) for name in names))
            rows = model._default_manager.filter(any_of, project=project, withdrawn_at=None)
            yield from rows.select_related("assembly", "part", "done_by")
    for kind in ABOVE.values():
        yield from kind.rows(project, keys)


@dataclass(frozen=True)
class Suspect:
    """One time a tool was found bad, with the records to be looked at again."""

    doubt: rules.Doubt
    made: list[MadeWith]
    after: list[MadeWith]

    @property
    def count(self) -> int:
        return len(self.made) + len(self.after)

    @property
    def open(self) -> int:
        """How many of them have not been looked at again."""
        return sum(one.recheck is None for one in (*self.made, *self.after))

    @property
    def event(self) -> str:
        """The key of the event that says so."""
        return self.doubt.events[0]


def suspects(tool: Tool) -> list[Suspect]:
    """For each time a tool was found bad: what was made with it since it was last good, and what though it was bad."""
    return suspects_of([tool]).get(tool.pk, [])


def suspects_of(some: Iterable[Tool]) -> dict[str, list[Suspect]]:
    """The same for several tools of one project, by key; those that were never found bad are left out."""
    doubts = {tool: rules.doubts(as_rules(in_order(tool.events.all()))) for tool in some}
    bad = [tool for tool, found in doubts.items() if found]
    used, done = made_with_each(bad), rechecks(bad)
    return {tool.pk: [suspect(one, used[tool.pk], done) for one in doubts[tool]] for tool in bad}


def suspect(doubt: rules.Doubt, used: list[MadeWith], done: dict[tuple[str, str, str], Recheck]) -> Suspect:
    """What one doubt casts itself on, each with how it was looked at again."""
    days = [(one, one.day) for one in used]

    def looked_at(rows: list[MadeWith]) -> list[MadeWith]:
        return [replace(one, recheck=recheck_of(doubt, one.record, done)) for one in rows]

    return Suspect(doubt, looked_at(rules.suspects(doubt, days)), looked_at(rules.used_though_bad(doubt, days)))


# ---- looked at again ----


def all_rechecks(project: Project) -> QuerySet[Recheck]:
    """How records of a project were looked at again, withdrawn ones too."""
    return Recheck.objects.filter(project=project).select_related("tool", "event", "project", "by")


def rechecks(some: Sequence[Tool]) -> dict[tuple[str, str, str], Recheck]:
    """How records made with these tools were looked at again, by event, kind and key: one query."""
    if not some:
        return {}
    rows = Recheck.objects.standing().filter(tool__in=some).select_related("by")
    return {(row.event_id, row.kind, row.record): row for row in rows}


def recheck_of(doubt: rules.Doubt, record: Made, done: dict[tuple[str, str, str], Recheck]) -> Recheck | None:
    """How a record was looked at again in one doubt, whichever of its findings that was told of; None if not yet."""
    found = (done.get((event, record.KIND, record.pk)) for event in doubt.events)
    return next((one for one in found if one is not None), None)


@dataclass(frozen=True)
class Doubted:
    """A tool that a record was made with and that was found bad, and how the record was looked at again."""

    tool: Tool
    doubt: rules.Doubt
    recheck: Recheck | None


def doubted(record: Made) -> list[Doubted]:
    """The doubts on a standing record by its tools: one query where none of them was ever found bad, else three."""
    keys = tools_named(record)
    if not keys or record.withdrawn:
        return []
    bad = ToolEvent.objects.filter(kind=words.BAD, tool__in=keys).values("tool")
    found = Tool.objects.filter(pk__in=bad).prefetch_related("events", "rechecks")
    day = record.done_at.astimezone(record.project.zone).date()
    return [Doubted(tool, doubt, recheck) for tool in found for doubt, recheck in doubts_on(tool, record, day)]


def doubts_on(tool: Tool, record: Made, day: date) -> list[tuple[rules.Doubt, Recheck | None]]:
    """The doubts that one tool casts on a record made with it on this day, each with how it was looked at again.

    No query where the tool's events and rechecks were fetched with it.
    """
    found = rules.doubts(as_rules(in_order(tool.events.all())))
    cast = [one for one in found if rules.suspects(one, [(0, day)]) or rules.used_though_bad(one, [(0, day)])]
    if not cast:
        return []
    done = {(row.event_id, row.kind, row.record): row for row in tool.rechecks.all() if not row.withdrawn}
    return [(one, recheck_of(one, record, done)) for one in cast]


def told_again(doubt: rules.Doubt, recheck: Recheck) -> tuple[str, str, str, str]:
    """A recheck as a verdict tells it: when the tool was found bad, what came of it, when, and in words."""
    return rules.day_words(doubt.found_bad), recheck.outcome, rules.day_words(recheck.looked_on), recheck.words


# ---- documents ----


def papers(tool: Tool) -> list[ToolDocument]:
    """The standing documents about a tool, newest first, each with the event that it is about."""
    rows = tool.papers.filter(document__withdrawn_at=None).select_related("document", "event")
    return list(rows.order_by("-document__number"))


def papers_to_choose(tool: Tool) -> QuerySet[Document]:
    """The standing documents of the project that are not with this tool yet, newest first."""
    return documents(tool.project).exclude(pk__in=tool.papers.values("document"))


def tools_of(document: Document) -> list[Tool]:
    """The standing tools that a document is about, by number."""
    there = ToolDocument.objects.filter(document=document).values("tool")
    return list(Tool.objects.standing().filter(pk__in=there, project=document.project_id))


def usable_at(tool: Tool, at: datetime) -> rules.Standing:
    """How a tool stood on the day of a record, by what had happened to it by then."""
    day = at.astimezone(tool.project.zone).date()
    known = [event for event in in_order(tool.events.all()) if event.happened_on <= day]
    return rules.standing(tool.interval_months, as_rules(known), day)
