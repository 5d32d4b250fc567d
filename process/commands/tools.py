"""All writes to tools and what happens to them."""

from datetime import date, datetime
from typing import IO, Any

from django.db import transaction

from accounts.models import Person, Project
from calc.trouble import Impossible
from evidence.commands import keep_document
from evidence.models import Document, Photo
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from process.models import Recheck, Tool, ToolDocument, ToolEvent
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


# ---- documents ----


@transaction.atomic
def put_paper(
    *, by: Person, at: datetime, tool: Tool, document: Document, event: ToolEvent | None = None
) -> ToolDocument:
    """Put a document with a tool, or with one thing that happened to it; the same again writes nothing."""
    take_turn(tool.project_id)
    refuse_withdrawn(tool)
    if document.project_id != tool.project_id or (event is not None and event.tool_id != tool.pk):
        raise Refusal("elsewhere", "That belongs to another project or tool.", "document")
    paper = ToolDocument.objects.filter(tool=tool, document=document).first()
    if paper is None:
        paper = ToolDocument(tool=tool, document=document, event=event)
        paper.save(force_insert=True)
    elif event is None or paper.event_id == event.pk:
        return paper
    else:
        paper.event = event
        paper.save(update_fields=["event"])
    record_change(project=tool.project_id, by=by, at=at, verb="tool.paper", subject=tool)
    return paper


def keep_paper(
    *,
    by: Person,
    at: datetime,
    tool: Tool,
    file: IO[bytes],
    name: str,
    event: ToolEvent | None = None,
    **said: Any,
) -> ToolDocument:
    """Keep a file as a document and put it with a tool: two records, and an entry for each."""
    refuse_withdrawn(tool)
    document, _ = keep_document(by=by, at=at, project=tool.project, file=file, name=name, **said)
    return put_paper(by=by, at=at, tool=tool, document=document, event=event)


@transaction.atomic
def take_paper_off(*, by: Person, at: datetime, paper: ToolDocument) -> Tool:
    """Say that a document is not about a tool after all; twice does nothing. The document itself stays."""
    tool = paper.tool
    take_turn(tool.project_id)
    gone, _ = tool.papers.filter(pk=paper.pk).delete()
    if gone:
        record_change(project=tool.project_id, by=by, at=at, verb="tool.paper_off", subject=tool)
    return tool


# ---- looked at again ----


@transaction.atomic
def look_again(
    *, by: Person, at: datetime, event: ToolEvent, record: queries.Made, outcome: str, looked_on: date, words: str
) -> Recheck:
    """Say what came of looking again at a record that was made with a tool found bad."""
    tool = event.tool
    take_turn(tool.project_id)
    refuse_withdrawn(tool)
    doubt = next((one for one in queries.suspects(tool) if event.pk in one.doubt.events), None)
    rows = [] if doubt is None else [*doubt.made, *doubt.after]
    made = next((one for one in rows if one.record.pk == record.pk and record.KIND == one.record.KIND), None)
    if made is None:
        raise Refusal("not_suspect", f"{record.label} is not on the list of what is to be looked at again.")
    if made.recheck is not None:
        raise Refusal("looked_at", f"{record.label} was looked at again already. Correct what is said of it.")
    check_recheck(tool, event, outcome, looked_on, words, at)
    said = {"outcome": outcome, "looked_on": looked_on, "words": words}
    named = {"kind": record.KIND, "record": record.pk, "cited": record.label}
    recheck = Recheck(project=tool.project, tool=tool, event=event, **named, **said, at=at, by=by)
    recheck.save(force_insert=True)
    record_change(project=tool.project_id, by=by, at=at, verb="recheck.told", subject=recheck)
    return recheck


@transaction.atomic
def correct_recheck(
    *, by: Person, at: datetime, recheck: Recheck, outcome: str, looked_on: date, words: str, reason: str
) -> Recheck:
    """Put right what was said of looking again, with a reason."""
    take_turn(recheck.project_id)
    if recheck.withdrawn:
        raise Refusal("withdrawn", "This was withdrawn. It stays as it is.")
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is changed. The old words stay in the history.", "reason")
    check_recheck(recheck.tool, recheck.event, outcome, looked_on, words, at)
    recheck.outcome, recheck.looked_on, recheck.words = outcome, looked_on, words
    recheck.save(update_fields=["outcome", "looked_on", "words"])
    record_change(project=recheck.project_id, by=by, at=at, verb="recheck.corrected", subject=recheck, reason=reason)
    return recheck


@transaction.atomic
def withdraw_recheck(*, by: Person, at: datetime, recheck: Recheck, reason: str) -> Recheck:
    """Say that a record was not looked at again after all: it is on the list again."""
    take_turn(recheck.project_id)
    return withdraw_record(
        project=recheck.project_id, by=by, at=at, record=recheck, verb="recheck.withdrawn", reason=reason
    )


# ---- checks ----


def refuse_withdrawn(tool: Tool) -> None:
    """Refuse to add to a tool that was withdrawn."""
    if tool.withdrawn:
        raise Refusal("withdrawn", f"{tool} was withdrawn. It stays as it is.")


def check_recheck(tool: Tool, event: ToolEvent, outcome: str, day: date, words: str, at: datetime) -> None:
    """Refuse a look that cannot be."""
    today = at.astimezone(tool.project.zone).date()
    wrong = rules.check_recheck(outcome, day, words, event.happened_on, today)
    if wrong is not None:
        raise Refusal(*wrong)


def check_event(tool: Tool, kind: str, day: date, words: str, at: datetime) -> None:
    """Refuse an event that cannot be."""
    refuse_withdrawn(tool)
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
