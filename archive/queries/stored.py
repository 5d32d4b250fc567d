"""Rows as they are stored: a value is taken only in the very form in which the program writes it.

Reading rows as the program does elsewhere forgives much: SQLite keeps a blob where a text belongs, a 2 where yes or no
belongs, a time with more digits than it needs, a number changed in its last bit, and all of them read like the value
that was written. Here such a value comes out as `Odd`, which equals no value: nothing changed hides behind reading.
"""

import json
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Context, Decimal, InvalidOperation
from functools import partial
from typing import Any

from django.db import connection, models, transaction

from foundation.record import plain

# Rows held in memory at a time.
CHUNK = 2000
MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2}) ([0-9]{2}:[0-9]{2}:[0-9]{2})(?:\.([0-9]{1,6}))?")
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
# SQLite gives back a decimal to this many digits, whatever it keeps behind them.
SQLITE_DIGITS = 15

type Read = Callable[[Any], Any]


@dataclass(frozen=True, eq=False)
class Odd:
    """A stored value in a form that the program never writes. It equals nothing but itself."""

    stored: Any

    def __str__(self) -> str:
        return self.stored.decode(errors="replace") if isinstance(self.stored, bytes) else str(self.stored)


@contextmanager
def snapshot() -> Iterator[None]:
    """All reads inside see the database at one moment, and no writer is held up. Nothing may be written inside.

    Inside a transaction that is open already, that transaction's own view is taken.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":  # atomic() would take the write lock
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


def rows(
    model: Any, fields: Sequence[Any], *, chunk: int = CHUNK, order: str = "", **where: Any
) -> Iterator[dict[str, Any]]:
    """Every row of a table as plain values by field name: what `Recorded.state` gives for what the program wrote.

    `where` names columns of which a row has to have these values.
    """
    name = connection.ops.quote_name
    sqlite = connection.vendor == "sqlite"
    column = sqlite_column if sqlite else postgres_column
    asked = ", ".join(column(field, name(field.column)) for field in fields)
    condition = " AND ".join(f"{name(each)} = %s" for each in where)
    sql = f"SELECT {asked} FROM {name(model._meta.db_table)}"  # names from models only
    sql += (f" WHERE {condition}" if where else "") + (f" ORDER BY {name(order)}" if order else "")
    readers = [(field.name, (sqlite_reader if sqlite else postgres_reader)(field)) for field in fields]
    with connection.cursor() as cursor:
        cursor.execute(sql, list(where.values()))
        while some := cursor.fetchmany(chunk):
            for row in some:
                cells = zip(row[::2], row[1::2], strict=True) if sqlite else row
                yield {name: read(cell) for (name, read), cell in zip(readers, cells, strict=True)}


def kind_of(field: models.Field) -> str:
    """How values of a field are stored."""
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    for kind, classes in KINDS:
        if isinstance(field, classes):
            return kind
    raise TypeError(f"{field} is of a kind whose stored form is not known yet; add it to archive.queries.stored")


KINDS: tuple[tuple[str, tuple[type[models.Field], ...]], ...] = (
    ("json", (models.JSONField,)),
    ("moment", (models.DateTimeField,)),
    ("day", (models.DateField,)),
    ("bool", (models.BooleanField,)),
    ("decimal", (models.DecimalField,)),
    ("int", (models.IntegerField,)),
    ("text", (models.CharField, models.TextField)),
)


# ---- SQLite: each value with its storage class, text as its bytes ----


def sqlite_column(field: models.Field, name: str) -> str:
    """Storage class and value. As an expression it has no declared type, so that no converter forgives anything."""
    return f"typeof({name}), CASE typeof({name}) WHEN 'text' THEN CAST({name} AS BLOB) ELSE {name} END"


def sqlite_reader(field: models.Field) -> Read:
    """How a (storage class, value) of this field is read."""
    kind = kind_of(field)
    if kind == "bool":
        return sqlite_bool
    if kind == "int":
        return sqlite_int
    if isinstance(field, models.DecimalField):
        return partial(sqlite_decimal, field)
    texts: dict[str, Callable[[str], Any]] = {"json": text_of_json, "moment": moment, "day": day, "text": str}
    return partial(sqlite_text, texts[kind])


def sqlite_text(read: Callable[[str], Any], cell: tuple[str, Any]) -> Any:
    """A value that is stored as text."""
    storage, value = cell
    if storage == "null":
        return None
    if storage != "text":
        return Odd(value)
    try:
        return read(value.decode())
    except ValueError:
        return Odd(value)


def sqlite_int(cell: tuple[str, Any]) -> Any:
    """A whole number, stored as one."""
    storage, value = cell
    return None if storage == "null" else value if storage == "integer" else Odd(value)


def sqlite_bool(cell: tuple[str, Any]) -> Any:
    """Yes or no, stored as 1 or 0."""
    storage, value = cell
    return None if storage == "null" else bool(value) if storage == "integer" and value in (0, 1) else Odd(value)


def sqlite_decimal(field: models.DecimalField, cell: tuple[str, Any]) -> Any:
    """A decimal. SQLite keeps it as the nearest binary number, as a whole number where it is one."""
    storage, value = cell
    if storage == "null":
        return None
    if storage not in ("integer", "real"):
        return Odd(value)
    step = Decimal(1).scaleb(-field.decimal_places)
    try:
        nearest = Decimal(value).quantize(step, context=Context(prec=60))
        told = Context(prec=SQLITE_DIGITS).create_decimal(nearest)
    except InvalidOperation:
        return Odd(value)
    stored = int(nearest) if nearest == nearest.to_integral_value() else float(nearest)
    if (type(stored), stored) != (type(value), value) and sqlite_number(nearest) != (storage, value):
        return Odd(value)
    return plain(told)


def sqlite_number(value: Decimal) -> tuple[str, Any]:
    """What SQLite itself makes of a decimal: on some machines its last binary digit is another."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT typeof(n), n FROM (SELECT CAST(%s AS NUMERIC) AS n)", [format(value, "f")])
        return cursor.fetchone()


def text_of_json(text: str) -> Any:
    """A value of a JSON field, which Django writes in one way only."""
    value = json.loads(text)
    if json.dumps(value) != text:
        raise ValueError("not as the program writes it")
    return value


def moment(text: str) -> str:
    """A time, stored in UTC without saying so."""
    found = MOMENT.fullmatch(text)
    if not found or (found[3] is not None and (len(found[3]) < 6 or found[3] == "000000")):
        raise ValueError("no time as the program writes it")
    return text.replace(" ", "T") + "Z"


def day(text: str) -> str:
    """A date."""
    if not DAY.fullmatch(text):
        raise ValueError("no date as the program writes it")
    return text


# ---- PostgreSQL: its types leave one form for each value; some hold more than Python's, so they come as text ----


def postgres_column(field: models.Field, name: str) -> str:
    """The value, as text where Python's types hold less than the database's."""
    kind = kind_of(field)
    if kind == "moment":
        return f"({name} AT TIME ZONE 'UTC')::text"
    return f"{name}::text" if kind in ("day", "decimal", "json") else name


def postgres_reader(field: models.Field) -> Read:
    """How a value of this field is read."""
    texts: dict[str, Callable[[str], Any]] = {
        "moment": postgres_moment,
        "day": day,
        "decimal": postgres_decimal,
        "json": json.loads,
    }
    read = texts.get(kind_of(field))
    return partial(postgres_text, read) if read else (lambda cell: cell)


def postgres_text(read: Callable[[str], Any], cell: Any) -> Any:
    """A value that was asked for as text."""
    try:
        return None if cell is None else read(cell)
    except ValueError:
        return Odd(cell)


def postgres_moment(text: str) -> str:
    """A time, told in UTC."""
    found = MOMENT.fullmatch(text)
    if not found:
        raise ValueError("no time that the program writes")
    return f"{found[1]}T{found[2]}" + (f".{found[3]:0<6}" if found[3] else "") + "Z"


def postgres_decimal(text: str) -> str:
    """A decimal, told with all its places."""
    if not NUMBER.fullmatch(text):
        raise ValueError("no number that the program writes")
    return plain(Decimal(text))
