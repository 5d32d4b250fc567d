"""Changes of one byte made behind the program's back, and what a check has to say of each.

`cells` lists every stored value of the record: each column of each row of every kind of record, of their parts and of
the journal, but for what is set apart (renditions, accounts). `SqliteHand` and `PostgresHand` change one of them as
somebody with a database shell would: guards put aside, constraints not minded, the guards put back after.
"""

import json
import re
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from random import Random
from typing import Any

from django.db.models import Field, JSONField

from archive.queries import whole
from archive.queries.stored import kind_of
from journal import guards
from journal.models import Entry
from journal.queries.story import field_words, loaded, model_of, title

MISSING = re.compile(r"Journal entr(?:y (\d+) is|ies (-?\d+) to (-?\d+) are) missing\.")


@dataclass(frozen=True)
class Cell:
    """One stored value: which column of which row, the record it belongs to, and its list in that record."""

    model: Any
    field: Field
    key: Any
    subject: str = ""
    part: str = ""
    seq: int = 0

    def __str__(self) -> str:
        return f"{self.model._meta.label}.{self.field.name} of {self.key}"


def columns(model: Any) -> list[Field]:
    """The stored fields of a kind of record, with the text that is kept apart under a digest."""
    sealed = {name for name, _ in model.SEALED}
    return [one for one in model._meta.concrete_fields if one.name not in model.APART or one.name in sealed]


def places(states: Iterable[tuple[str, str]]) -> Iterator[tuple[Any, str, str, str]]:
    """Model and key of every row that these states tell of, with the record and the list it stands in."""
    for subject, text in states:
        model = model_of(subject)
        yield model, subject.partition(":")[2], subject, ""
        yield from parts_of(model, loaded(text), subject, "")


def parts_of(model: Any, state: dict[str, Any], subject: str, top: str) -> Iterator[tuple[Any, str, str, str]]:
    for part in model.PARTS:
        inner = model._meta.get_field(part).related_model
        for row in state.get(part, []):
            yield inner, row["id"], subject, top or part
            yield from parts_of(inner, row, subject, top or part)


def cells(project: str) -> list[Cell]:
    """Every stored value of a project's record, the journal first."""
    entries = list(Entry.objects.filter(project=project).order_by("seq").values_list("pk", "seq", "subject", "state"))
    found = [Cell(Entry, one, pk, subject, seq=seq) for pk, seq, subject, _ in entries for one in columns(Entry)]
    newest = {subject: state for _, _, subject, state in entries}
    for model, key, subject, part in places(newest.items()):
        found += [Cell(model, one, key, subject, part) for one in columns(model)]
    return found


# ---- what has to be said ----


def called(subject: str, state: dict[str, Any]) -> str:
    """What a record is called in a fault: on one line."""
    return " ".join(title(subject, state).split())


def named(cell: Cell, state: dict[str, Any], faults: Iterable[str]) -> bool:
    """Whether these faults name the record and the field, or the entry, of a changed value."""
    if cell.model is Entry:
        renumbered = "The newest journal entry stands in row " if cell.field.primary_key else "\n"
        return any(names_entry(cell.seq, fault) or fault.startswith(renumbered) for fault in faults)
    return any(names_row(cell, state, fault) for fault in faults)


def names_entry(seq: int, fault: str) -> bool:
    """Whether a fault names this entry: altered, missing, out of place."""
    if found := MISSING.fullmatch(fault):
        first, last = int(found[1] or found[2]), int(found[1] or found[3])
        return first <= seq <= last
    return fault.startswith(f"Journal entry {seq} ")


def names_row(cell: Cell, state: dict[str, Any], fault: str) -> bool:
    """Whether a fault names this record and what of it is not as it was."""
    name, root = f"{called(cell.subject, state)}: ", model_of(cell.subject)
    if not fault.startswith(name):
        return False
    words = fault.removeprefix(name)
    if cell.part:
        inner = "gone" if cell.field.primary_key else field_words(cell.model, cell.field.name)
        listed = re.search(rf"{re.escape(field_words(root, cell.part))} \(([^)]*)\)", words)
        return listed is not None and inner in listed[1]
    if cell.field.primary_key:
        return "the record is gone" in words
    return field_words(root, cell.field.name) in words.partition(" changed outside")[0]


def belongs(cell: Cell, names: Iterable[str], fault: str) -> bool:
    """Whether a fault may be said because of this change, though it need not name it; `names` its record ever had."""
    if fault.startswith("The database file is damaged: "):
        return True  # a constraint that the new value breaks
    if any(name in fault for name in names) or str(cell.key) in fault or "the journal knows nothing of it" in fault:
        return True
    if cell.model is not Entry:
        return False
    # The entry after it, the record that it tells of, the count of rows, the gap of a new number.
    if cell.subject in fault or fault.startswith("The newest journal entry "):
        return True
    gap = cell.field.name == "seq" and ("missing" in fault or "which was altered" in fault)
    return gap or bool(re.search(rf"\b({cell.seq}|{cell.seq + 1})\b", fault))


def names_ever(project: str) -> dict[str, set[str]]:
    """What each record was called in each of its entries."""
    found: dict[str, set[str]] = {}
    for subject, state in Entry.objects.filter(project=project).values_list("subject", "state"):
        found.setdefault(subject, set()).add(called(subject, loaded(state)))
    return found


# ---- hands ----


class SqliteHand:
    """Changes one byte of a value as it lies in the file, whatever comes of it."""

    def __init__(self, connection: Any, chance: Random) -> None:
        self.connection, self.chance = connection, chance
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        self.triggers = [row[0] for row in connection.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'")]
        for name, _, _ in guards.names():
            connection.execute(f"DROP TRIGGER {name}")

    def put_back(self) -> None:
        """The guards again."""
        for sql in self.triggers:
            self.connection.execute(sql)
        self.connection.commit()

    def change(self, cell: Cell) -> bool:
        """Change one byte of this value; False when it has none or the new value cannot stand (a number twice)."""
        table, column, key = cell.model._meta.db_table, cell.field.column, cell.model._meta.pk.column
        asked = f'SELECT typeof("{column}"), CASE typeof("{column}") WHEN \'text\' THEN CAST("{column}" AS BLOB) '
        asked += f'ELSE "{column}" END FROM {table} WHERE "{key}" = ?'
        row = self.connection.execute(asked, [cell.key]).fetchone()
        new = self.other(*row)
        if new is None:
            return False
        written = "CAST(? AS TEXT)" if row[0] == "text" else "?"
        try:
            self.connection.execute(f'UPDATE {table} SET "{column}" = {written} WHERE "{key}" = ?', [new, cell.key])
        except self.connection.IntegrityError:
            return False
        return True

    def other(self, storage: str, value: Any) -> Any:
        """The value with one byte changed, or one more or less; None where there is no byte."""
        if storage == "text":
            return self.other_bytes(value)
        if storage == "integer":
            return value ^ (1 << self.chance.randrange(8)) << 8 * self.chance.choice([0, 0, 0, 1, 2])
        if storage == "real":
            raw = bytearray(struct.pack(">d", value))
            raw[self.chance.randrange(8)] ^= self.chance.randint(1, 255)
            return struct.unpack(">d", raw)[0]
        return None

    def other_bytes(self, value: bytes) -> bytes | None:
        """Text with one byte replaced, mostly by one that reads well; now and then one more or one less."""
        if not value:
            return None
        where, kind = self.chance.randrange(len(value)), self.chance.random()
        if kind < 0.05:
            return value + self.chance.choice([b"\0", b" ", b"0"])
        if kind < 0.1:
            return value[:where] + value[where + 1 :]
        byte = self.chance.randrange(32, 127) if kind < 0.7 else self.chance.randrange(256)
        byte = (byte + 1) % 256 if byte == value[where] else byte
        return value[:where] + bytes([byte]) + value[where + 1 :]


class PostgresHand:
    """Changes one sign, digit or moment of a value; the types of PostgreSQL let nothing smaller through."""

    def __init__(self, cursor: Any, chance: Random) -> None:
        self.cursor, self.chance = cursor, chance
        for table in guards.GUARDED:
            cursor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")

    def put_back(self) -> None:
        """The guards again."""
        for table in guards.GUARDED:
            self.cursor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")

    def change(self, cell: Cell) -> bool:
        """Change this value a little; False where there is none. Whoever calls minds constraints."""
        table, column, key = cell.model._meta.db_table, cell.field.column, cell.model._meta.pk.column
        self.cursor.execute(f'SELECT "{column}"::text FROM {table} WHERE "{key}" = %s', [cell.key])
        (value,) = self.cursor.fetchone()
        kind = kind_of(cell.field)
        if not value or (new := self.other(kind, value)) is None:
            return False
        sql = {
            "moment": f"\"{column}\" + interval '1 microsecond'",
            "day": f'"{column}" + 1',
            "bool": f'NOT "{column}"',
        }.get(kind, "%s::jsonb" if isinstance(cell.field, JSONField) else "%s")
        values = [new, cell.key] if "%s" in sql else [cell.key]
        self.cursor.execute(f'UPDATE {table} SET "{column}" = {sql} WHERE "{key}" = %s', values)
        return True

    def other(self, kind: str, value: str) -> Any:
        """Text or a number a little changed."""
        if kind == "text":
            where = self.chance.randrange(len(value))
            sign = self.chance.choice([sign for sign in "abcXYZ019 -" if sign != value[where]])
            return value[:where] + sign + value[where + 1 :]
        if kind == "int":
            return int(value) + 1
        if kind == "decimal":
            return Decimal(value) + Decimal(1).scaleb(Decimal(value).as_tuple().exponent)
        if kind == "json":
            return json.dumps([json.loads(value), 0])
        return value


def photos(project: str) -> dict[str, dict[str, Any]]:
    """The journaled state of everything of a project that has an original file, by its name in the journal."""
    rows = Entry.objects.filter(project=project).order_by("seq").values_list("subject", "state")
    return {subject: json.loads(state) for subject, state in rows if subject.startswith(tuple(whole.KEPT))}
