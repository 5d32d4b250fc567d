"""All writes about lists of tasks and the credit for tasks."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Credit, CreditPlace, TaskList
from certification.queries import credit as queries
from certification.rules import credit as rules
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly, Part

type Place = Assembly | Part


@transaction.atomic
def take_up_list(
    *,
    by: Person,
    at: datetime,
    project: Project,
    title: str,
    edition: str,
    source: str,
    sections: Sequence[rules.Section],
    official: bool = False,
) -> TaskList:
    """Take a list up: it counts from now on, whole as it was read. Earlier ones stay readable."""
    take_turn(project.pk)
    rules.check_list(title, edition, source, len(rules.tasks(sections)))
    text, digest = queries.kept(sections)
    now = queries.list_now(project)
    if now and (now.digest, now.edition, now.official) == (digest, edition, official):
        raise Refusal("same_list", f"This very list counts already: {now}.", "edition")
    row = TaskList(
        project=project,
        title=title,
        edition=edition,
        source=source,
        official=official,
        content=text,
        digest=digest,
        taken_at=at,
        taken_by=by,
    )
    row.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="tasklist.taken", subject=row)
    return row


@transaction.atomic
def withdraw_list(*, by: Person, at: datetime, task_list: TaskList, reason: str) -> TaskList:
    """Withdraw a list that was taken up by mistake; the one before it counts again."""
    take_turn(task_list.project_id)
    return withdraw_record(
        project=task_list.project_id, by=by, at=at, record=task_list, verb="tasklist.withdrawn", reason=reason
    )


@transaction.atomic
def give_credit(
    *,
    by: Person,
    at: datetime,
    project: Project,
    code: str,
    tenths: Mapping[str, int] = rules.NOTHING,
    applies: bool = True,
    reason: str = "",
    places: Sequence[Place] | None = None,
    why: str = "",
) -> Credit:
    """Say how a task is split, why, and at which places its evidence stands; `why` is for changing the split.

    Without `places` those that are tied stay. Credit that stands as it is told is left alone.
    """
    take_turn(project.pk)
    line = line_of(queries.sheet(project), code)
    said: dict[str, Any] = {"tenths": tenths, "applies": applies, "reason": reason, "places": places, "why": why}
    return credited(line, project=project, by=by, at=at, **said)


@transaction.atomic
def give_all(
    *, by: Person, at: datetime, project: Project, changes: Mapping[str, tuple[rules.Split, rules.Split]], reason: str
) -> list[Credit]:
    """Split many tasks at once, each with a journal entry of its own and all with one reason: all of them or none.

    `changes` are by task what the builder saw and what he wants. What stands already as he wants it is left alone; what
    was changed meanwhile is refused. A Refusal names its task as the field.
    """
    take_turn(project.pk)
    found = queries.sheet(project)
    made = []
    for code, (seen, wanted) in changes.items():
        line = line_of(found, code)
        if line.split == wanted:
            continue
        if line.split != seen:
            raise Refusal("changed_elsewhere", rules.changed_words(line.split), code)
        # Why a task was split as it was stays with it, but why it did not apply does not.
        stays = line.credit.reason if line.credit and line.applies and wanted.applies else ""
        if not line.split.told:
            stays = reason or stays
        said: dict[str, Any] = {"tenths": wanted.by_column, "applies": wanted.applies, "why": reason}
        said["reason"] = stays or reason
        try:
            given = credited(line, project=project, by=by, at=at, **said)
        except Refusal as no:
            raise Refusal(no.code, no.message, "reason" if no.code == "no_reason" else code) from None
        made.append(given)
    return made


def line_of(found: queries.Sheet, code: str) -> queries.Line:
    """The task of this number in the list that counts, or a refusal."""
    line = found.line(code)
    if line is None:
        raise Refusal("no_such_task", "This task is not in the list that counts now. Go back to the list.", None)
    return line


def credited(
    line: queries.Line,
    *,
    by: Person,
    at: datetime,
    project: Project,
    tenths: Mapping[str, int],
    applies: bool,
    reason: str,
    places: Sequence[Place] | None = None,
    why: str = "",
) -> Credit:
    """The credit for a task as it is to stand, written with one journal entry where that changes anything."""
    code, tenths = line.code, {**rules.NOTHING, **tenths}
    rules.check_split(tenths, applies=applies, reason=reason)
    now = Credit.objects.filter(pk=line.credit.pk).first() if line.credit else None
    said = {**tenths, "applies": applies, "reason": reason}
    if now is None:
        row = Credit(project=project, code=code, entered_at=at, entered_by=by, **said)
        row.save(force_insert=True)
        tie(row, places or ())
        record_change(project=project.pk, by=by, at=at, verb="credit.given", subject=row)
        return row
    split_changes = any(getattr(now, name) != value for name, value in {**tenths, "applies": applies}.items())
    if split_changes and not why.strip() and (any(queries.tenths_of(now).values()) or not now.applies):
        raise Refusal("no_reason", "Say why the split changes. The old one stays readable in the history.", "why")
    moved = places is not None and tie(now, places)
    changed = [name for name, value in said.items() if getattr(now, name) != value]
    if not changed and not moved:
        return now
    for name in changed:
        setattr(now, name, said[name])
    if changed:
        now.save(update_fields=changed)
    verb = "credit.corrected" if changed else "credit.placed"
    record_change(project=project.pk, by=by, at=at, verb=verb, subject=now, reason=why)
    return now


@transaction.atomic
def add_task(
    *,
    by: Person,
    at: datetime,
    project: Project,
    section: str,
    words: str,
    tenths: Mapping[str, int] = rules.NOTHING,
    reason: str = "",
    places: Sequence[Place] = (),
) -> Credit:
    """Add a task that the list does not have to one of its sections; it counts as one more task."""
    take_turn(project.pk)
    found = queries.sheet(project)
    if found.section(section) is None:
        raise Refusal("no_such_section", "Choose a section of the list.", "section")
    if not words.strip():
        raise Refusal("no_words", "Say what the task is, as the list would say it.", "words")
    tenths = {**rules.NOTHING, **tenths}
    rules.check_split(tenths, applies=True, reason=reason)
    # A withdrawn task keeps its number, so that its history is not mixed with another's.
    taken = set(Credit.objects.filter(project=project, added=True).values_list("code", flat=True))
    row = Credit(
        project=project,
        code=rules.next_code(section, taken),
        added=True,
        section=section,
        words=words,
        reason=reason,
        entered_at=at,
        entered_by=by,
        **tenths,
    )
    row.save(force_insert=True)
    tie(row, places)
    record_change(project=project.pk, by=by, at=at, verb="credit.added", subject=row)
    return row


@transaction.atomic
def withdraw_credit(*, by: Person, at: datetime, credit: Credit, reason: str) -> Credit:
    """Take credit back: a listed task has nothing for anybody then, an added task is no longer counted."""
    take_turn(credit.project_id)
    return withdraw_record(
        project=credit.project_id, by=by, at=at, record=credit, verb="credit.withdrawn", reason=reason
    )


def tie(row: Credit, places: Iterable[Place]) -> bool:
    """Make the places of a task those given; whether that changed anything. Places only link, so they may go."""
    wanted = {(type(one).__name__.lower(), one.pk) for one in places}
    have = {("part" if one.part_id else "assembly", one.part_id or one.assembly_id): one for one in row.places.all()}
    if set(have) == wanted:
        return False
    CreditPlace.objects.filter(pk__in=[one.pk for key, one in have.items() if key not in wanted]).delete()
    for kind, key in sorted(wanted - set(have)):
        CreditPlace(credit=row, **{f"{kind}_id": key}).save(force_insert=True)
    return True
