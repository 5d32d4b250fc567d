"""Going through every migration gives the same tables as the models say, with which the other tests work."""

import os
import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from django.db import connection

ROOT = Path(__file__).resolve().parent.parent
# A constraint by its name, up to the next one or to the end of the table.
NAMED = re.compile(r'CONSTRAINT "(\w+)" (.*?)(?=, CONSTRAINT "|\)$)')
# The book of migrations itself, and what the database keeps for itself.
APART = ("django_migrations", "sqlite_")


def described(rows: Iterable[tuple[str, str, str]], columns: dict[str, set[tuple]]) -> dict[str, object]:
    """Everything in a database by kind and name: a table as columns and constraints in no order, else as written."""
    told: dict[str, object] = {}
    for kind, name, sql in rows:
        if not name.startswith(APART):
            named = dict(NAMED.findall(sql)) if kind == "table" else {}
            told[f"{kind} {name}"] = (columns[name], named) if kind == "table" else sql
    return told


def read(cursor: sqlite3.Cursor) -> dict[str, object]:
    rows = cursor.execute("SELECT type, name, coalesce(sql, '') FROM sqlite_master").fetchall()
    columns = {}
    for kind, name, _ in rows:
        if kind == "table":
            facts = cursor.execute(f'PRAGMA table_info("{name}")').fetchall()
            keys = cursor.execute(f'PRAGMA foreign_key_list("{name}")').fetchall()
            columns[name] = {fact[1:] for fact in facts} | {("to", *key[2:5]) for key in keys}
    return described(rows, columns)


@pytest.mark.slow
@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="the database of a person who sets up nothing is looked at")
def test_the_migrations_lead_to_the_tables_of_the_models(tmp_path: Path) -> None:
    environment = {**os.environ, "DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"}
    environment |= {"MANAGE_NO_BOOT": "1", "DATABASE_URL": ""}
    command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    with sqlite3.connect(tmp_path / "record.sqlite3") as file:
        migrated = read(file.cursor())
    connection.ensure_connection()
    made = read(connection.connection.cursor())
    assert len(made) > 200
    assert migrated == made
