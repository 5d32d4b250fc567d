"""All writes to tools and what happens to them."""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from calc.trouble import Impossible
from evidence.models import Photo
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from process.models import Tool, ToolEvent
from process.queries import tools as queries
from process.rules import tools as rules


@transaction.atomic
def add_tool(*, by: Person, at: datetime, project: Project, number: str, name: str, kind: str, **more: Any) -> Tool:
    """Enter a tool whose readings the record rests on."""
    take_turn(project.pk)
    tool = Tool(project=project, number=number, name=name, kind=kind)
    fill(tool, more)
    tool.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="tool.added", subject=tool)
    return tool


@transaction.atomic
def correct_tool(*, by: Person, at: datetime, tool: Tool, reason: str = "", **values: Any) -> Tool:
    """Change what is said of a tool; the old values stay in the journal."""
    take_turn(tool.project_id)
    fill(tool, values)
    tool.save()
    record_change(project=tool.project_id, by=by, at=at, verb="tool.corrected", subject=tool, reason=reason)
    return tool


@transaction.atomic
def withdraw_tool(*, by: Person, at: datetime, tool: Tool, reason: str) -> Tool:
    """Take a tool that was entered by mistake out of the lists. A scrapped one stays: records were made with it."""
    take_turn(tool.project_id)
    return withdraw_record(project=tool.project_id, by=by, at=at, record=tool, verb="tool.withdrawn", reason=reason)


@transaction.atomic
def record_event(
    *,
    by: Person,
    at: datetime,
    tool: Tool,
    kind: str,
    happened_on: date,
    words: str = "",
    certificate: str = "",
    photo: Photo | None = None,
) -> ToolEvent:
    """Enter what happened to a tool: calibrated, checked, dropped, repaired, found bad."""
    take_turn(tool.project_id)
    check_event(tool, kind, happened_on, words, at)
    event = ToolEvent(
        tool=tool, kind=kind, happened_on=happened_on, words=words, certificate=certificate, photo=photo, at=at, by=by
    )
    event.save(force_insert=True)
    record_change(project=tool.project_id, by=by, at=at, verb="tool.event", subject=tool)
    return event


@transaction.atomic
def correct_event(
    *,
    by: Person,
    at: datetime,
    event: ToolEvent,
    reason: str,
    kind: str,
    happened_on: date,
    words: str = "",
    certificate: str = "",
) -> ToolEvent:
    """Put right what was entered about an event, with a reason."""
    take_turn(event.tool.project_id)
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is changed. The old words stay in the history.", "reason")
    check_event(event.tool, kind, happened_on, words, at)
    event.kind, event.happened_on, event.words, event.certificate = kind, happened_on, words, certificate
    event.save(update_fields=["kind", "happened_on", "words", "certificate"])
    project = event.tool.project_id
    record_change(project=project, by=by, at=at, verb="tool.event_corrected", subject=event.tool, reason=reason)
    return event


def check_event(tool: Tool, kind: str, day: date, words: str, at: datetime) -> None:
    """Refuse an event that cannot be."""
    if tool.withdrawn:
        raise Refusal("withdrawn", f"{tool} was withdrawn. It stays as it is.")
    wrong = rules.check_event(kind, day, words, at.astimezone(tool.project.zone).date())
    if wrong is not None:
        raise Refusal(*wrong)


def fill(tool: Tool, values: dict[str, Any]) -> None:
    """Set what is said of a tool, keep range and resolution beside their figures, and refuse what cannot be."""
    for name, value in values.items():
        setattr(tool, name, value)
    same = queries.tools(tool.project).filter(number=tool.number).exclude(pk=tool.pk)
    if same.exists():
        raise Refusal("number_taken", f"Tool {tool.number} is there already. Choose another number.", "number")
    units = tool.project.units
    try:
        tool.full_scale, tool.full_scale_si = rules.reading(tool.kind, tool.full_scale, units, "full_scale")
        tool.resolution, tool.resolution_si = rules.reading(tool.kind, tool.resolution, units, "resolution", step=True)
    except Impossible as no:
        raise Refusal(no.code, no.sentence, no.field) from None
