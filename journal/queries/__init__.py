"""Reads of the journal: its entries, states and signatures, and the check of the whole chain."""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import batched
from typing import Any

from django.db.models import Max, QuerySet

from foundation.digest import digest_bytes
from foundation.record import plain
from journal import rules
from journal.models import Entry, Signature

BATCH = 500
FACTS = ("project", "seq", "at", "by", "by_name", "verb", "subject", "state", "reason", "previous")


def entries(project: str) -> QuerySet[Entry]:
    """The whole history of a project, newest first."""
    return Entry.objects.filter(project=project).order_by("-seq")


def head(project: str) -> Entry | None:
    """The newest entry: its digest stands for the whole record at that moment."""
    return entries(project).first()


def last_states(project: str, kind: str = "") -> dict[str, str]:
    """The newest journaled state (canonical JSON text) of every record, by subject."""
    about = Entry.objects.filter(project=project, subject__startswith=kind)
    newest = about.values("subject").annotate(last=Max("seq")).values_list("subject", "last")
    wanted = dict(newest)
    rows = about.values_list("subject", "seq", "state").iterator()
    return {subject: state for subject, seq, state in rows if wanted[subject] == seq}


def signatures(*subjects: str) -> QuerySet[Signature]:
    """Signatures under these records, oldest first."""
    return Signature.objects.filter(under__in=subjects)


@dataclass(frozen=True)
class ChainFault:
    """What is wrong with an entry, or where one is missing; `altered`: its own words cannot be trusted."""

    seq: int
    words: str
    altered: bool = False


def chain_faults(project: str) -> Iterator[str]:
    """Each entry that is missing, altered or out of place, as a sentence."""
    yield from (fault.words for fault in linked_faults(entry_rows(project)))


def linked_faults(rows: Iterable[tuple[int, Mapping[str, Any] | None]]) -> Iterator[ChainFault]:
    """What is wrong with entries, each as plain values by number, in order; None for one that cannot be read."""
    expected, previous = 1, rules.START
    for seq, row in rows:
        if seq > expected:
            yield ChainFault(expected, missing_words(expected, seq - 1))
        if row is None:
            yield ChainFault(seq, f"journal entry {seq} was altered: it cannot be read", altered=True)
        else:
            yield from entry_faults(row, previous)
        expected, previous = seq + 1, row["digest"] if row else ""


def entry_rows(project: str) -> Iterator[tuple[int, dict[str, Any] | None]]:
    """Every entry as plain values, by number; None for one that holds what its fields cannot hold."""
    rows = Entry.objects.filter(project=project).order_by("seq")
    for some in batched(list(rows.values_list("seq", flat=True)), BATCH):
        try:
            found = {row["seq"]: row for row in rows.filter(seq__in=some).values(*FACTS, "digest")}
        except (ValueError, TypeError, AttributeError):
            found = {seq: entry_row(rows, seq) for seq in some}
        yield from ((seq, found.get(seq)) for seq in some)


def entry_row(rows: QuerySet[Entry], seq: int) -> dict[str, Any] | None:
    """One entry as plain values, or None when it cannot be read."""
    try:
        return rows.filter(seq=seq).values(*FACTS, "digest").first()
    except (ValueError, TypeError, AttributeError):
        return None


def missing_words(first: int, last: int) -> str:
    """One sentence for a gap, however wide somebody made it."""
    return f"journal entry {first} is missing" if first == last else f"journal entries {first} to {last} are missing"


def entry_faults(row: Mapping[str, Any], previous: str) -> Iterator[ChainFault]:
    """What is wrong with one entry, given the digest of the entry before it."""
    name = f"journal entry {row['seq']} ({row['verb']} {row['subject']})"
    if digest_of(row) != row["digest"]:
        yield ChainFault(row["seq"], f"{name} was altered: its digest does not match", altered=True)
    if row["previous"] != previous:
        yield ChainFault(row["seq"], f"{name} does not follow the entry before it")


def digest_of(row: Mapping[str, Any]) -> str:
    """The digest that an entry with these values has; empty when no entry can have them."""
    try:
        facts = {name: row[name] for name in FACTS} | {"at": plain(row["at"])}
        if quick_digest(facts) == row["digest"]:
            return row["digest"]
        return rules.entry_digest(facts)
    except (ValueError, TypeError, AttributeError):
        return ""


def quick_digest(facts: Mapping[str, Any]) -> str:
    """The digest over Python's own JSON text: the canonical one for all that entries usually hold, and much sooner."""
    return digest_bytes(json.dumps(facts, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode())
