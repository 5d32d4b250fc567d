"""Triggers by which the database itself refuses to change or delete what must only be added to (rule R32)."""

from typing import Any

from django.db import connections

GUARDED = ("journal_entry", "journal_signature")

SQLITE = """CREATE TRIGGER IF NOT EXISTS {name} BEFORE {act} ON {table}
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END"""

POSTGRES_FUNCTION = """CREATE OR REPLACE FUNCTION journal_refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'the journal is append-only' USING ERRCODE = 'integrity_constraint_violation'; END $$"""

POSTGRES = """CREATE OR REPLACE TRIGGER {name} BEFORE {act} ON {table}
FOR EACH {each} EXECUTE FUNCTION journal_refuse()"""


def names() -> list[tuple[str, str, str]]:
    """Every guard as (trigger name, act, table)."""
    return [(f"{table}_no_{act.lower()}", act, table) for table in GUARDED for act in ("UPDATE", "DELETE")]


def make(using: str = "default") -> None:
    """Create the guards that are missing."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRES_FUNCTION)
            for name, act, table in names():
                cursor.execute(POSTGRES.format(name=name, act=act, table=table, each="ROW"))
            for table in GUARDED:
                cursor.execute(
                    POSTGRES.format(name=f"{table}_no_truncate", act="TRUNCATE", table=table, each="STATEMENT")
                )
        else:
            for name, act, table in names():
                cursor.execute(SQLITE.format(name=name, act=act, table=table))


def missing(using: str = "default") -> list[str]:
    """Names of guards that are not in the database (none are missed before the tables exist)."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if not set(GUARDED) <= set(connection.introspection.table_names(cursor)):
            return []
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        present = {row[0] for row in cursor.fetchall()}
    return [name for name, _, _ in names() if name not in present]


def after_migrate(*, using: str, **_: Any) -> None:
    """Signal receiver: a table rebuilt by a migration has lost its triggers without a word."""
    make(using)
