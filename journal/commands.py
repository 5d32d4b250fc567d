"""All writes to the journal. Other apps call these inside their own transaction."""

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Protocol

from django.db import connection, transaction

from foundation.digest import canonical, digest_bytes
from foundation.record import Recorded, plain
from foundation.refusal import Refusal
from journal import rules
from journal.models import Entry, Signature


class Writer(Protocol):
    """Who a change is by: a person of the project, with or without an account."""

    pk: Any
    name: str


def take_turn(project: str) -> None:
    """Wait until no other writer is at work in this project.

    SQLite has taken its only write lock at BEGIN already; PostgreSQL takes an advisory lock until the transaction ends.
    """
    if connection.vendor == "postgresql":
        number = int.from_bytes(hashlib.sha256(project.encode()).digest()[:8], "big", signed=True)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])


def record_change(*, project: str, by: Writer, at: datetime, verb: str, subject: Recorded, reason: str = "") -> Entry:
    """Append one entry with the subject's state as it now is. Must run in the transaction that made the change."""
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("a change and its journal entry belong in one transaction")
    take_turn(project)
    last = Entry.objects.filter(project=project).order_by("-seq").values_list("seq", "digest").first()
    seq, previous = (last[0] + 1, last[1]) if last else (1, rules.START)
    facts = {
        "project": project,
        "seq": seq,
        "at": plain(at),
        "by": str(by.pk),
        "by_name": by.name,
        "verb": verb,
        "subject": subject.subject,
        "state": as_stored(subject),
        "reason": reason,
        "previous": previous,
    }
    entry = Entry(**(facts | {"at": at}), digest=rules.entry_digest(facts))
    entry.save(force_insert=True)
    return entry


def as_stored(subject: Any) -> str:
    """The canonical state of a record as the database has it, not as the object in hand remembers it.

    The object may have been read before the lock was taken, its values rounded by the database since, or its parts
    prefetched; what it holds from the command that just wrote it is used once. A command that holds every part has
    just written the whole record, which then need not be read back.
    """
    if subject.PARTS and set(subject.PARTS) == set(subject.held or ()):
        return canonical(subject.state())
    row = type(subject)._base_manager.get(pk=subject.pk)
    row.held, subject.held = subject.held, None
    return canonical(row.state())


def withdraw_record(*, project: str, by: Writer, at: datetime, record: Any, verb: str, reason: str) -> Any:
    """Mark a record as withdrawn, with a reason; it stays readable. Refused when it was withdrawn before."""
    if not reason.strip():
        raise Refusal("no_reason", "Say why this is withdrawn. The reason stays with it.", "reason")
    if not type(record).objects.filter(pk=record.pk, withdrawn_at__isnull=True).update(withdrawn_at=at):
        raise Refusal("already_withdrawn", "This was withdrawn before.")
    record.withdrawn_at = at
    record_change(project=project, by=by, at=at, verb=verb, subject=record, reason=reason)
    return record


def sign(
    *,
    project: str,
    by: Writer,
    at: datetime,
    zone: str,
    under: str,
    role: str,
    certificate: tuple[str, str],
    shown_by: str,
    statement: str,
    self_inspected: bool,
    covers: Sequence[dict[str, str]],
    name: str = "",
    **more: Any,
) -> Signature:
    """Store a signature and its journal entry.

    `covers` lists what is signed, each as {"subject", "label", "digest"}; `shown_by` says how identity was shown.
    `name` is the name as the signer wrote it where that is not the person's; `more` are the signature's further fields,
    such as capacity, outcome with reason, strokes, ink or visit.
    """
    signature = Signature(
        project=project,
        under=under,
        at=at.astimezone(UTC),
        zone=zone,
        person=str(by.pk),
        name=name or by.name,
        role=role,
        certificate_kind=certificate[0],
        certificate_number=certificate[1],
        shown_by=shown_by,
        statement=statement,
        self_inspected=self_inspected,
        covers=list(covers),
        covers_digest=digest_bytes(canonical(list(covers)).encode()),
        **more,
    )
    signature.save(force_insert=True)
    record_change(project=project, by=by, at=at, verb="signed", subject=signature)
    return signature
