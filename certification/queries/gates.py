"""The facts of enclosed areas: gates with all that was given for them, signatures, closings, items dropped."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Prefetch

from accounts.models import Project
from accounts.rules import ROLES
from certification.queries.history import corrections, drops, withdrawal_facts, withdrawals
from certification.queries.scope import Scope
from certification.queries.signatures import Known, signature_facts
from certification.queries.words import day, moment
from inspections import queries as inspections
from inspections import rules
from inspections.models import Answer, Area, Closing, Exhibit, Explained, Requirement
from inspections.queries import JudgedArea, Line, processes
from inspections.queries.processes import ProcessRecord
from inspections.rules.gates import limits, measured, record_fault
from journal.models import Entry

VERDICTS = {rules.GOOD: "good", rules.BAD: "bad", rules.OPEN: "no verdict yet"}


def areas_facts(project: Project, rows: list[JudgedArea], beside: Known) -> list[dict[str, Any]]:
    """Every standing area with its gate and its history: a fixed number of queries."""
    zone = project.zone
    corrected = corrections(project, Area._meta.label_lower)
    dropped, explained = dropped_facts(project), explained_facts(project)
    records = shown_records(project, rows)
    return [
        area_facts(one, zone, beside, records)
        | {
            "dropped": dropped[one.area.pk],
            "explained": explained[one.area.pk],
            "corrections": corrected.get(one.area.subject, []),
        }
        for one in rows
    ]


def shown_records(project: Project, rows: Iterable[JudgedArea]) -> dict[str, ProcessRecord]:
    """The process records that stand at gates, by name."""
    shown = ((item.process, row.record) for one in rows for item in one.area.asked for row in item.shown_records.all())
    return processes.records(project, shown)


def area_facts(
    one: JudgedArea, zone: ZoneInfo, beside: Known | None = None, records: dict[str, ProcessRecord] | None = None
) -> dict[str, Any]:
    """One enclosed area with its gate, signatures and closings."""
    lines = [line for _, found in inspections.lines(one) for line in found]
    lines.sort(key=lambda line: line.item.asked.position)
    return {
        "number": one.area.number,
        "name": one.area.name,
        "assembly": str(one.area.assembly),
        "kind": one.area.get_kind_display(),
        "list": one.area.closure_list,
        "state": one.gate.state,
        "state_words": one.gate.words,
        "waits": [{"kind": wait.kind, "label": wait.label, "words": wait.words} for wait in one.gate.waits],
        "lost": lost(one),
        "items": [item_facts(line, zone, records or {}) for line in lines],
        "signatures": [signature_facts(signed, beside) for signed in one.signed],
        "closings": [closing_facts(closing, zone) for closing in one.closings],
    }


def lost(one: JudgedArea) -> list[str]:
    """What a closed area asked for and has no more: nothing of what was told to be missing when it was closed."""
    told = one.closing.missing if one.closing else []
    return [name for name in one.gate.lacks if name not in told] if one.gate.lost else []


def item_facts(line: Line, zone: ZoneInfo, records: dict[str, ProcessRecord]) -> dict[str, Any]:
    """One item of a gate and what was supplied for it; answers that no longer count stay."""
    item, requirement = line.item, line.requirement
    return {
        "position": item.asked.position,
        "kind": rules.KINDS[item.asked.kind],
        "words": item.asked.words,
        "detail": requirement.detail,
        "asks": asks_words(line),
        "in_place": item.in_place,
        "why": item.why,
        "photos": [exhibit.photo.label for exhibit in requirement.exhibits.all() if not exhibit.photo.withdrawn],
        "answer": answer_words(line.answer, zone) if line.answer else "",
        "earlier": [answer_words(answer, zone) for answer in reversed(line.earlier)],
        "records": [record_words(records.get(shown.record), line, zone) for shown in requirement.shown_records.all()],
        "inner": inner_words(requirement.inner, zone) if requirement.inner and item.in_place else "",
        "late": list(item.late),
    }


def asks_words(line: Line) -> str:
    """What an item asks beside its words: limits, who signs, which kind of record."""
    asked, requirement = line.item.asked, line.requirement
    if asked.kind == rules.MEASURE:
        return limits(asked)
    if asked.kind == rules.SIGN_OFF:
        return f"To be signed by: {ROLES.get(asked.role, asked.role).lower()}"
    if asked.kind == rules.PROCESS:
        return f"Kind of record: {processes.kinds().get(requirement.process, requirement.process)}"
    return f"Asked for: {asked.count} photos" if asked.kind == rules.PHOTO and asked.count > 1 else ""


def answer_words(answer: Answer, zone: ZoneInfo) -> str:
    """An answer, a measured value or two counts, with what was said to it, by whom and when."""
    if answer.value is not None:
        said = measured(answer.value, answer.unit)
    elif answer.number_in is not None:
        said = f"{answer.number_in} went in, {answer.number_out} came out"
    else:
        said = rules.ANSWERS[answer.answer]
    said += f": {answer.reason}" if answer.reason else ""
    return f"{said}, {answer.by.name}, {moment(answer.at, zone)}"


def record_words(record: ProcessRecord | None, line: Line, zone: ZoneInfo) -> str:
    """A process record with its verdict, and why it does not count where it does not."""
    if record is None:
        return "A record that this program does not know"
    verdict = "recorded, no rule judges it" if record.recorded else VERDICTS.get(record.verdict, record.verdict)
    fault = record_fault(record.told(), line.since)
    return f"{record.label}: {verdict}, {moment(record.at, zone)}" + (f"; it {fault}" if fault else "")


def inner_words(area: Area, zone: ZoneInfo) -> str:
    """How the area inside stands."""
    closing = next((one for one in area.closings.all() if one.reopened_at is None), None)
    if area.withdrawn or closing is None:
        return f"{area}: {'withdrawn' if area.withdrawn else 'open'}"
    reason = ", with something missing" if closing.missing else ""
    return f"{area}: closed {moment(closing.closed_at, zone)}{reason}"


def closing_facts(closing: Closing, zone: ZoneInfo) -> dict[str, Any]:
    """One closing; what was missing and why it was closed all the same stays for ever (rule R22)."""
    return {
        "closed": moment(closing.closed_at, zone),
        "by": closing.closed_by.name,
        "missing": closing.missing,
        "reason": closing.reason,
        "reopened": moment(closing.reopened_at, zone) if closing.reopened_at else "",
        "reopened_by": closing.reopened_by.name if closing.reopened_by else "",
        "reopen_reason": closing.reopen_reason,
    }


def dropped_facts(project: Project) -> dict[str, list[dict[str, Any]]]:
    """The items that are no longer asked for, by the key of their area, with what was given for them."""
    given = [
        Prefetch("exhibits", Exhibit.objects.select_related("photo")),
        Prefetch("answers", Answer.objects.select_related("by")),
    ]
    rows = Requirement.objects.filter(area__project=project, area__withdrawn_at=None, dropped_at__isnull=False)
    told = drops(Entry.objects.filter(project=project.pk, verb="area.item_dropped"))
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for one in rows.prefetch_related(*given).order_by("dropped_at", "position", "pk"):
        entry = told.get(one.pk)
        found[one.area_id].append(
            {
                "position": one.position,
                "kind": rules.KINDS[one.kind],
                "words": one.words,
                "given": [answer_words(answer, project.zone) for answer in one.answers.all()]
                + [exhibit.photo.label for exhibit in one.exhibits.all()],
                "at": moment(one.dropped_at, project.zone) if one.dropped_at else "",
                "by": entry.by_name if entry else "",
                "reason": entry.reason if entry else "",
            }
        )
    return found


def explained_facts(project: Project) -> dict[str, list[dict[str, Any]]]:
    """Sessions worked on an assembly after its area was closed, by the key of the area: what they were (rule R23)."""
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for one in Explained.objects.filter(area__project=project).select_related("session", "by"):
        found[one.area_id].append(
            {
                "session": one.session.number,
                "day": day(one.session.started_at, project.zone),
                "words": one.words,
                "by": one.by.name,
                "at": moment(one.at, project.zone),
            }
        )
    return found


def withdrawn_areas(project: Project, asked: Scope) -> list[dict[str, Any]]:
    """Areas that were set up by mistake, with the reason."""
    gone = Area.objects.withdrawn().filter(project=project).order_by("withdrawn_at")
    rows = [one for one in gone if asked.at(one.assembly_id)]
    told = withdrawals(rows)
    return [{"title": str(one)} | withdrawal_facts(one, told, project.zone) for one in rows]
