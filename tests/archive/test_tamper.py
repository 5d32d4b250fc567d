"""A thousand changes of one byte behind the program's back: each is found, and named (rule R33).

The demo project, with a while of other things done in it so that every kind of record is there, is loaded once into a
database file of its own. Each round copies that file, changes some values in it with SQLite alone, no two of them in
the same record or in entries beside each other, and then runs the whole check over the copy, the very code that
`manage.py verify` and the health page run. Every change has to be named by its record and field, its entry or its
file, and nothing may be named that no change of the round accounts for. That several changes are looked for in one
round saves time only; a share of the rounds has a single change, and some go through the command itself.
"""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from random import Random

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test import override_settings

from accounts.models import Project
from archive import queries
from archive.queries import whole
from journal.models import Entry
from journal.queries import last_states
from journal.queries.story import loaded, title
from tests.archive import tampering
from tests.archive.honest import NEVER_THERE, History
from tests.archive.tampering import Cell, PostgresHand, SqliteHand

CHANGES, IN_JOURNAL, IN_PHOTOS = 1000, 200, 100
TOGETHER = 10
SEED = int(os.environ.get("TAMPER_SEED", "20260514"))


@dataclass
class Bench:
    """The demo project in a file of its own, and where a copy of it is worked on."""

    master: Path
    work: Path
    project: str
    cells: list[Cell]
    states: dict[str, str]
    names: dict[str, set[str]]

    def title(self, cell: Cell) -> str:
        """What the record of a value is called."""
        return tampering.called(cell.subject, loaded(self.states[cell.subject]))

    def fresh(self) -> None:
        """A copy as it was."""
        connection.close()
        for path in self.work.parent.glob(f"{self.work.name}*"):
            path.unlink()
        shutil.copyfile(self.master, self.work)


@pytest.fixture(scope="module")
def bench(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Bench]:  # noqa: ANN001
    """The demo project, with some of everything, in a database file of its own."""
    if connection.vendor != "sqlite":
        pytest.skip("a file of its own")
    folder = tmp_path_factory.mktemp("tamper")
    with django_db_blocker.unblock(), override_settings(**folders(folder)):
        before = connection.settings_dict["NAME"]
        connection.close()
        # Not the file alone: what a browser test wrote last may still stand in the log beside it.
        with closing(sqlite3.connect(before)) as source, closing(sqlite3.connect(folder / "master.sqlite3")) as copy:
            source.backup(copy)
        try:
            connection.settings_dict["NAME"] = str(folder / "master.sqlite3")
            call_command("demo", stdout=StringIO())
            project = Project.objects.get()
            with transaction.atomic():
                History(Random(SEED), project).live_it_all()
            assert queries.faults(project) == []
            made = Bench(
                folder / "master.sqlite3",
                folder / "work.sqlite3",
                project.pk,
                tampering.cells(project.pk),
                last_states(project.pk),
                tampering.names_ever(project.pk),
            )
            connection.close()
            connection.settings_dict["NAME"] = str(made.work)
            yield made
        finally:
            connection.close()
            connection.settings_dict["NAME"] = before


def folders(folder: Path) -> dict[str, Path]:
    shelves = ("originals", "documents", "renditions")
    return {f"{name.upper()}_DIR": folder / name for name in shelves}


@pytest.fixture
def hands(bench: Bench, own_folders, settings, django_db_blocker) -> Iterator[Bench]:  # noqa: ANN001
    """The bench with its photos, and the database open."""
    for name, path in folders(bench.master.parent).items():
        setattr(settings, name, path)
    with django_db_blocker.unblock():
        yield bench
        bench.fresh()


def faults_of(bench: Bench) -> list[str]:
    """All that the check of everything says, as `manage.py verify` runs it."""
    found = [fault.words for key in queries.projects_by_key() for fault in queries.check(key).faults]
    return found + [fault.words for fault in queries.stray_faults()]


# ---- choosing what to change ----


def chosen(bench: Bench, chance: Random) -> Iterator[Cell]:
    """Values without end: a few of every kind, then a fifth in the journal, the others over all columns alike."""
    journal = [cell for cell in bench.cells if cell.model is Entry]
    columns: dict[tuple, list[Cell]] = {}
    for cell in bench.cells:
        if cell.model is not Entry:
            columns.setdefault((cell.model, cell.field.name), []).append(cell)
    rows = list(columns.values())
    # First some of every kind: with many of them chance alone may pass one by. A key can be changed in every row, other
    # columns may be empty in all; kinds of one record do not follow each other, or they would be left out.
    kinds: dict[str, list[list[Cell]]] = {}
    for (model, _), cells in columns.items():
        kinds.setdefault(model._meta.label, []).append(cells)
    for only_keys in (True, True, True, False, False):
        for label in chance.sample(sorted(kinds), len(kinds)):
            keys = [cells for cells in kinds[label] if cells[0].field.primary_key]
            yield chance.choice(chance.choice(keys if only_keys else kinds[label]))
    while True:
        if chance.random() < IN_JOURNAL / (CHANGES - IN_PHOTOS):
            yield chance.choice(journal)
        else:
            yield chance.choice(chance.choice(rows))


def apart(cell: Cell, taken: list[Cell], bench: Bench) -> bool:
    """Whether a change here cannot be taken for one of those: another record, and no entry beside theirs."""
    names = {title(one.subject, loaded(bench.states[one.subject])) for one in taken}
    if (
        cell.subject in {one.subject for one in taken}
        or title(cell.subject, loaded(bench.states[cell.subject])) in names
    ):
        return False
    return not (cell.seq and any(one.seq and abs(one.seq - cell.seq) < 3 for one in taken))


def tampered(bench: Bench, chance: Random, source: Iterator[Cell], many: int) -> list[Cell]:
    """A fresh copy with this many values changed."""
    bench.fresh()
    raw = sqlite3.connect(bench.work)
    hand, done = SqliteHand(raw, chance), []
    while len(done) < many:
        cell = next(source)
        if apart(cell, done, bench) and hand.change(cell):
            done.append(cell)
    hand.put_back()
    raw.close()
    return done


def check_named(bench: Bench, done: list[Cell], faults: list[str]) -> None:
    """Each change is named, and nothing else."""
    states = {cell: loaded(bench.states[cell.subject]) for cell in done}
    told = f"seed {SEED}, faults:\n" + "\n".join(faults)
    for cell in done:
        assert tampering.named(cell, states[cell], faults), f"{cell} ({cell.seq or cell.subject}) is not named; {told}"
    for fault in faults:
        assert any(tampering.belongs(cell, bench.names[cell.subject], fault) for cell in done), (
            f"nothing accounts for {fault}; {told}"
        )


# ---- the tests ----


@pytest.mark.slow
def test_each_changed_byte_of_rows_and_journal_is_found_and_named(hands: Bench) -> None:
    chance = Random(SEED)
    source, left, rounds, kinds = chosen(hands, chance), CHANGES - IN_PHOTOS, 0, set()
    while left:
        done = tampered(hands, chance, source, min(left, 1 if rounds % 5 == 0 else TOGETHER))
        check_named(hands, done, faults_of(hands))
        kinds |= {cell.model for cell in done}
        left -= len(done)
        rounds += 1
    wanted = {*whole.root_models(), *whole.part_models(), Entry}
    assert {model._meta.label for model in wanted - kinds} <= NEVER_THERE


@pytest.mark.slow
def test_each_changed_byte_of_an_original_is_found_and_named(hands: Bench) -> None:
    hands.fresh()
    chance, all_photos = Random(SEED), tampering.photos(hands.project)
    for number in range(IN_PHOTOS // TOGETHER):
        some = dict(chance.sample(sorted(all_photos.items()), TOGETHER))
        before = {path: path.read_bytes() for path in map(path_of, some.values())}
        for path, data in before.items():
            path.chmod(0o640)
            where = chance.randrange(len(data))
            path.write_bytes(data[:where] + bytes([data[where] ^ chance.randint(1, 255)]) + data[where + 1 :])
        faults = faults_of(hands)
        for path, data in before.items():
            path.write_bytes(data)
        wanted = {
            f"{tampering.called(subject, state)}: the original file was changed; its digest does not match."
            for subject, state in some.items()
        }
        assert set(faults) == wanted, f"round {number}, seed {SEED}"
    assert faults_of(hands) == []


def path_of(state: dict) -> Path:
    return whole.KEPT[whole.DOCUMENTS if "media_type" in state else whole.PHOTOS](state)


@pytest.mark.slow
def test_the_command_itself_names_them_and_ends_with_one(hands: Bench) -> None:
    chance = Random(SEED + 1)
    source = chosen(hands, chance)
    for _ in range(5):
        done, out = tampered(hands, chance, source, TOGETHER), StringIO()
        with pytest.raises(SystemExit) as end:
            call_command("verify", stdout=out)
        assert end.value.code == 1
        lines = out.getvalue().splitlines()
        lines += [line.partition(": ")[2] for line in lines]  # without the project before it
        for cell in done:
            assert tampering.named(cell, loaded(hands.states[cell.subject]), lines), f"{cell}\n{out.getvalue()}"


def test_what_is_written_while_a_check_reads_is_no_fault(hands: Bench) -> None:
    """Another connection writes between the journal and the rows: this check sees the moment at which it began."""
    hands.fresh()
    writer = sqlite3.connect(hands.work, isolation_level=None)

    def meanwhile(chapter: str, done: int, _: int) -> None:
        if (chapter, done) == ("rows", 0):
            writer.execute("UPDATE parts_assembly SET name = name || ' x'")

    assert queries.check(hands.project, meanwhile).faults == []
    writer.close()
    assert len(queries.check(hands.project).faults) > 5


@pytest.mark.skipif("connection.vendor != 'postgresql'")
@pytest.mark.django_db
def test_on_postgresql_each_change_of_a_row_or_entry_is_found_and_named() -> None:
    chance, left = Random(SEED), 60
    history = History(chance).live(150)
    project = history.project.pk
    states, all_cells = last_states(project), tampering.cells(project)
    assert queries.faults(history.project) == []
    while left:
        cell = chance.choice(all_cells)
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                hand = PostgresHand(cursor, chance)
                changed = hand.change(cell)
                hand.put_back()
                if changed:
                    faults = [fault.words for key in queries.projects_by_key() for fault in queries.check(key).faults]
                    faults += [fault.words for fault in queries.stray_faults()]
                    assert tampering.named(cell, loaded(states[cell.subject]), faults), f"{cell}\n" + "\n".join(faults)
                    left -= 1
                transaction.set_rollback(True)
        except DatabaseError:  # the new value cannot stand
            continue
