"""What every kind of process record is written by: begun once, corrected, finished, withdrawn."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, cast

from django.db import transaction
from django.db.models import Model

from accounts.models import Person, Project
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly
from process.models import ProcessRecord
from process.queries.common import by_request, next_number

CLOCK_SLACK = timedelta(minutes=10)
# What came from a phone within this time is not called late.
PROMPT = timedelta(minutes=10)

__all__ = ["check_known", "correct_fields", "finish", "next_number", "reopen", "start", "withdraw"]


def check_known[R: ProcessRecord](model: type[R], project: Project, request_id: str) -> R | None:
    """The record that this request made before: posting twice makes one record."""
    known = by_request(model, request_id) if request_id else None
    if known is not None and known.project_id != project.pk:
        raise Refusal("request_reused", "This was sent before for another project. Reload the page and send it again.")
    return known


@transaction.atomic
def start[R: ProcessRecord](
    model: type[R],
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    request_id: str = "",
    done_at: datetime | None = None,
    done_by: Person | None = None,
    received_at: datetime | None = None,
    verb: str = "",
    then: Callable[[R], object] | None = None,
    **values: Any,
) -> R:
    """Write a new record under the next number of its kind, with one journal entry; the same request makes it once.

    `then` writes the rows that belong to it. `received_at` is when a phone without signal brought it.
    """
    take_turn(project.pk)
    known = check_known(model, project, request_id)
    if known is not None:
        return known
    now = received_at or at
    values |= {"assembly": assembly, "done_by": done_by or by, "done_at": done_at or at}
    check(project, values, now)
    record = model(
        project=project,
        number=next_number(model, project),
        request_id=request_id or new_key(),
        entered_at=at,
        entered_by=by,
        received_at=received_at if received_at is not None and received_at - at > PROMPT else None,
        **values,
    )
    record.save(force_insert=True)
    if then is not None:
        then(record)
    record_change(project=project.pk, by=by, at=now, verb=verb or f"{model.KIND}.begun", subject=record)
    return record


def check(project: Project, values: dict[str, Any], now: datetime) -> None:
    """Refuse what belongs to another project, and what is said to be done before it can have been."""
    for name, value in values.items():
        owner = getattr(value, "project_id", None) if isinstance(value, Model) else None
        if owner is not None and owner != project.pk:
            raise Refusal("elsewhere", "That belongs to another project.", name)
    done_at = values.get("done_at")
    if done_at is not None and done_at > now + CLOCK_SLACK:
        raise Refusal("in_future", "That lies in the future. Check date and time.", "done_at")


def refuse_withdrawn(record: ProcessRecord) -> None:
    """Refuse to change what was withdrawn."""
    if record.withdrawn:
        raise Refusal("withdrawn", f"{record.label} was withdrawn. It stays as it is.")


def fresh[R: ProcessRecord](record: R) -> R:
    """The record as it stands now that it is this writer's turn; a withdrawn one is refused."""
    take_turn(record.project_id)
    rows = type(record)._default_manager.select_related("project", "assembly", "part")
    now = cast(R, rows.get(pk=record.pk))
    refuse_withdrawn(now)
    return now


@transaction.atomic
def correct_fields[R: ProcessRecord](
    record: R,
    *,
    by: Person,
    at: datetime,
    reason: str = "",
    verb: str = "",
    then: Callable[[R], bool] | None = None,
    **values: Any,
) -> R:
    """Write new values with one journal entry; nothing is written where nothing differs.

    A finished record is corrected with a reason only. `then` changes rows that belong to it and says whether it did.
    """
    record = fresh(record)
    if record.finished_at is not None and not reason.strip():
        raise Refusal("no_reason", "Say why it is corrected. The old values stay in the history.", "reason")
    check(record.project, values, at)
    changed = [name for name, value in values.items() if getattr(record, name) != value]
    for name in changed:
        setattr(record, name, values[name])
    if changed:
        record.save(update_fields=changed)
    more = then(record) if then is not None else False
    if changed or more:
        verb = verb or f"{record.KIND}.corrected"
        record_change(project=record.project_id, by=by, at=at, verb=verb, subject=record, reason=reason)
    return record


@transaction.atomic
def finish[R: ProcessRecord](record: R, *, by: Person, at: datetime) -> R:
    """Say that a record is complete: from now on its verdict counts, and a correction needs a reason."""
    record = fresh(record)
    if record.finished_at is not None:
        return record
    record.finished_at = at
    record.save(update_fields=["finished_at"])
    record_change(project=record.project_id, by=by, at=at, verb=f"{record.KIND}.finished", subject=record)
    return record


@transaction.atomic
def reopen[R: ProcessRecord](record: R, *, by: Person, at: datetime, reason: str) -> R:
    """Say with a reason that a record was not complete after all."""
    record = fresh(record)
    if record.finished_at is None:
        return record
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is opened again.", "reason")
    record.finished_at = None
    record.save(update_fields=["finished_at"])
    record_change(
        project=record.project_id, by=by, at=at, verb=f"{record.KIND}.reopened", subject=record, reason=reason
    )
    return record


@transaction.atomic
def withdraw[R: ProcessRecord](record: R, *, by: Person, at: datetime, reason: str) -> R:
    """Take a record that was made by mistake out of everything that counts; it stays readable with the reason."""
    take_turn(record.project_id)
    return withdraw_record(
        project=record.project_id, by=by, at=at, record=record, verb=f"{record.KIND}.withdrawn", reason=reason
    )
