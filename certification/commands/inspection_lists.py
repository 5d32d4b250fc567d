"""All writes about inspection lists: begun, answered line by line, tied to discrepancies, finished, opened again."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Inspection, LineAnswer
from certification.queries import inspection_lists as queries
from certification.rules import inspection_lists as rules
from foundation.refusal import Refusal
from inspections.commands import discrepancies
from inspections.models import Discrepancy
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly


@transaction.atomic
def begin(*, by: Person, at: datetime, project: Project, kind: str, content: dict[str, Any]) -> Inspection:
    """Begin a run through a list; it keeps that very list, whatever becomes of it elsewhere."""
    take_turn(project.pk)
    text, digest = queries.seal(content)
    made = Inspection(
        project=project,
        kind=kind,
        number=queries.next_number(project),
        title=content["title"],
        edition=content["edition"],
        content=text,
        digest=digest,
        begun_at=at,
        begun_by=by,
    )
    made.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="inspection.begun", subject=made)
    return made


def open_now(inspection: Inspection) -> Inspection:
    """The run as it stands in the database; refused when it is finished or withdrawn."""
    now = Inspection.objects.select_related("project").get(pk=inspection.pk)
    if now.withdrawn:
        raise Refusal("withdrawn", f"{now} was withdrawn. It stays as it is.")
    if now.finished_at:
        raise Refusal("finished", f"{now} is finished. Open it again first, with a reason.")
    return now


def standing_answer(inspection: Inspection, code: str) -> LineAnswer | None:
    """What stands at a line now."""
    return LineAnswer.objects.standing().filter(inspection=inspection, code=code).first()


@transaction.atomic
def give_answer(
    *,
    by: Person,
    at: datetime,
    inspection: Inspection,
    code: str,
    answer: str,
    note: str | None = None,
    reason: str = "",
) -> LineAnswer:
    """Answer a line; another answer than the one that stands needs a reason. The same again writes nothing."""
    take_turn(inspection.project_id)
    now = open_now(inspection)
    row = standing_answer(now, code)
    if row is None and queries.judge(now, []).line(code) is None:
        raise Refusal("no_such_line", "The list has no such line.")
    rules.check_answer(answer, row.answer if row else "", reason)
    if row is None:
        row = LineAnswer(project=now.project, inspection=now, code=code, answer=answer, note=note or "", at=at, by=by)
        row.save(force_insert=True)
        verb = "lineanswer.given"
    else:
        note = row.note if note is None else note
        if (row.answer, row.note) == (answer, note):
            return row
        verb = "lineanswer.changed" if row.answer else "lineanswer.given"
        row.answer, row.note, row.at, row.by = answer, note, at, by
        row.save(update_fields=["answer", "note", "at", "by"])
    record_change(project=now.project_id, by=by, at=at, verb=verb, subject=row, reason=reason.strip())
    return row


@transaction.atomic
def add_line(*, by: Person, at: datetime, inspection: Inspection, words: str) -> LineAnswer:
    """Add a line of one's own to this run; it has to be answered like the others."""
    take_turn(inspection.project_id)
    now = open_now(inspection)
    words = words.strip()
    if not 0 < len(words) <= rules.LONGEST_WORDS:
        raise Refusal("words", f"Say what is to be looked at, in at most {rules.LONGEST_WORDS} signs.", "words")
    taken = LineAnswer.objects.filter(inspection=now, added=True).values_list("code", flat=True)
    row = LineAnswer(
        project=now.project,
        inspection=now,
        code=rules.next_own_code(taken),
        added=True,
        words=words,
        answer="",
        at=at,
        by=by,
    )
    row.save(force_insert=True)
    record_change(project=now.project_id, by=by, at=at, verb="lineanswer.added", subject=row)
    return row


def check_line(answer: LineAnswer) -> LineAnswer:
    """The answer as it stands now, in a run that is open."""
    row = LineAnswer.objects.select_related("project", "inspection").get(pk=answer.pk)
    if row.withdrawn:
        raise Refusal("withdrawn", "This answer was taken back. Answer the line again.")
    open_now(row.inspection)
    return row


@transaction.atomic
def take_back(*, by: Person, at: datetime, answer: LineAnswer, reason: str) -> LineAnswer:
    """Take an answer back, so that its line is open again; a line of one's own leaves the list."""
    take_turn(answer.project_id)
    row = check_line(answer)
    return withdraw_record(
        project=row.project_id, by=by, at=at, record=row, verb="lineanswer.withdrawn", reason=reason.strip()
    )


@transaction.atomic
def make_discrepancy(
    *,
    by: Person,
    at: datetime,
    answer: LineAnswer,
    assembly: Assembly,
    words: str,
    severity: str,
    blocks: bool = True,
) -> Discrepancy:
    """Make a discrepancy of a line that is not in order: two records, and an entry for each."""
    take_turn(answer.project_id)
    row = check_tie(check_line(answer))
    found = discrepancies.find(
        by=by, at=at, project=row.project, assembly=assembly, words=words, severity=severity, blocks=blocks
    )
    put(row, found, by, at)
    return found


@transaction.atomic
def tie(*, by: Person, at: datetime, answer: LineAnswer, discrepancy: Discrepancy) -> LineAnswer:
    """Say that a line that is not in order is told of by a discrepancy that is there already."""
    take_turn(answer.project_id)
    row = check_line(answer)
    if discrepancy.project_id != row.project_id or discrepancy.withdrawn:
        raise Refusal("elsewhere", "Choose a discrepancy of this project that stands.", "discrepancy")
    if row.discrepancy_id == discrepancy.pk:
        return row
    return put(check_tie(row), discrepancy, by, at)


def check_tie(row: LineAnswer) -> LineAnswer:
    """Refuse to tie a line that is in order, or tied already."""
    if row.answer != rules.NO:
        raise Refusal("in_order", "Only a line that is not in order becomes a discrepancy.")
    if row.discrepancy_id:
        raise Refusal("tied", "A discrepancy tells of this line already.", "discrepancy")
    return row


def put(row: LineAnswer, discrepancy: Discrepancy, by: Person, at: datetime) -> LineAnswer:
    """Write the tie."""
    row.discrepancy = discrepancy
    row.save(update_fields=["discrepancy"])
    record_change(project=row.project_id, by=by, at=at, verb="lineanswer.tied", subject=row)
    return row


@transaction.atomic
def finish(
    *,
    by: Person,
    at: datetime,
    inspection: Inspection,
    done_on: date,
    done_by: str,
    statement: str,
    wording: str,
    certificate: str = "",
    total_hours: Decimal | None = None,
    gap_reason: str = "",
) -> Inspection:
    """Finish a run with what its entry carries; over a gap only with a reason that prints with it."""
    take_turn(inspection.project_id)
    now = open_now(inspection)
    zone = now.project.zone
    counts = queries.judged([now])[0].counts
    if not wording:
        raise Refusal("no_wording", "Say where the words of the statement come from.", "wording")
    rules.check_finish(
        now.kind,
        counts,
        done_on=done_on,
        today=at.astimezone(zone).date(),
        begun_on=now.begun_at.astimezone(zone).date(),
        done_by=done_by,
        certificate=certificate,
        total_hours=total_hours,
        statement=statement,
        gap_reason=gap_reason,
    )
    now.done_on, now.done_by, now.certificate, now.total_hours = done_on, done_by, certificate, total_hours
    now.statement, now.wording, now.finished_at = statement, wording, at
    now.gap_reason = gap_reason.strip() if rules.gaps(counts) else ""
    now.save()
    record_change(project=now.project_id, by=by, at=at, verb="inspection.finished", subject=now)
    return now


@transaction.atomic
def reopen(*, by: Person, at: datetime, inspection: Inspection, reason: str) -> Inspection:
    """Open a finished run again, to correct it; what it said when it was finished stays in its history."""
    take_turn(inspection.project_id)
    now = Inspection.objects.select_related("project").get(pk=inspection.pk)
    if now.withdrawn or not now.finished_at:
        raise Refusal("not_finished", f"{now} is not finished.")
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is opened again. The reason stays with it.", "reason")
    now.finished_at = None
    now.save(update_fields=["finished_at"])
    record_change(project=now.project_id, by=by, at=at, verb="inspection.reopened", subject=now, reason=reason.strip())
    return now


@transaction.atomic
def withdraw_inspection(*, by: Person, at: datetime, inspection: Inspection, reason: str) -> Inspection:
    """Take a run that was begun by mistake off the lists; it stays readable, and its number is not given again."""
    take_turn(inspection.project_id)
    return withdraw_record(
        project=inspection.project_id,
        by=by,
        at=at,
        record=inspection,
        verb="inspection.withdrawn",
        reason=reason.strip(),
    )
