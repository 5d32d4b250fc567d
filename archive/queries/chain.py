"""The journal of one project, read once from its first entry to its last and held against its digests."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django.db import connection
from django.db.models import Max

from archive.queries import stored
from archive.rules import Fault, count_words, sentence
from journal import queries as journal
from journal.models import Entry

OUT_OF_ORDER = "journal entry {seq} stands in row {row}, out of the order in which entries were written"


@dataclass
class Chain:
    """What the journal says of a project, and what is wrong with the journal itself.

    `last` has for each subject the number and the state text of its newest entry, `signed` the subjects that an entry
    tells to have been signed, `altered` the numbers of entries whose words cannot be trusted.
    """

    project: str
    entries: int = 0
    newest_seq: int = 0
    newest_digest: str = ""
    last: dict[str, tuple[int, str]] = field(default_factory=dict)
    signed: set[str] = field(default_factory=set)
    altered: set[int] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)

    def blame(self, words: str) -> None:
        self.faults.append(Fault("journal", "entry", sentence(words)))


def read_chain(project: str) -> Chain:
    """Read the journal of a project. Memory holds the newest state of each record, not the whole journal."""
    chain = Chain(project)
    for fault in journal.linked_faults(numbered(chain)):
        chain.blame(fault.words)
        if fault.altered:
            chain.altered.add(fault.seq)
    return chain


def numbered(chain: Chain) -> Iterator[tuple[int, dict[str, Any]]]:
    """Every entry by its number, noting what it says; their row numbers have to rise with them."""
    before, last, last_seq = 0, 0, 0
    for row in stored.rows(Entry, Entry._meta.concrete_fields, chunk=200, order="seq", project=chain.project):
        seq, subject, state = row["seq"], row["subject"], row["state"]
        if not isinstance(seq, int):
            chain.blame(f"the journal entry of {subject} in row {row['id']} has no number any more: it was altered")
            continue
        if row["id"] > last:
            before, last, last_seq = last, row["id"], seq
        elif row["id"] > before:  # this one fits those before, so the last one does not
            chain.blame(OUT_OF_ORDER.format(seq=last_seq, row=last))
            last, last_seq = row["id"], seq
        else:
            chain.blame(OUT_OF_ORDER.format(seq=seq, row=row["id"]))
        chain.entries += 1
        chain.newest_seq, chain.newest_digest = seq, str(row["digest"])
        if isinstance(subject, str) and isinstance(state, str):
            chain.last[subject] = seq, state
            if row["verb"] == "signed":
                chain.signed.add(subject)
        yield seq, row


def cut_faults() -> Iterator[Fault]:
    """SQLite counts the entries that it ever took in: told when the newest of them are gone or were renumbered."""
    if connection.vendor != "sqlite":
        return
    newest = Entry.objects.aggregate(last=Max("id"))["last"]
    with connection.cursor() as cursor:
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [Entry._meta.db_table])
        counted = (cursor.fetchone() or (newest,))[0]
    if newest is None or newest == counted:
        return
    if newest < counted:
        gone = count_words(counted - newest, "entry was", "entries were")
        words = f"the newest {gone} cut off the journal: the database counted {counted}, the last one is {newest}"
    else:
        words = f"the newest journal entry stands in row {newest}, but the database counted no more than {counted}"
    yield Fault("journal", "entry", sentence(words))
