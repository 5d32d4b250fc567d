"""The journal is only added to, its chain shows what is missing or altered, and its guards come back."""

import json
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.core.checks import run_checks
from django.db import DatabaseError, connection, transaction

from foundation.digest import canonical
from foundation.refusal import Refusal
from journal import guards, rules
from journal.commands import record_change, sign, withdraw_record
from journal.models import Entry, Signature
from journal.queries import chain_faults, head, last_states
from journal.queries.story import told
from parts import commands as parts
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    """A project with a few entries in its journal."""
    project, edda = factories.make_project()
    assembly = factories.make_assembly(edda, "24.1", "Tip float, left")
    factories.make_session(edda, assembly)
    parts.correct_assembly(
        by=edda, at=NOW, assembly=assembly, number="24.1", name="Tip float, port", reason="Shop words"
    )
    return project, edda, assembly


def signed(edda, assembly) -> Signature:
    return sign(
        project=edda.project_id,
        by=edda,
        at=NOW,
        zone="America/Denver",
        under=assembly.subject,
        role="builder",
        certificate=("", ""),
        shown_by="password",
        statement="Looked at it.",
        self_inspected=True,
        covers=[{"subject": assembly.subject, "label": "24.1", "digest": "sha256:00"}],
    )


@contextmanager
def without_guards():
    """Do something behind the program's back, as somebody with a database shell would."""
    with connection.cursor() as cursor:
        for name, _, table in guards.names():
            cursor.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))
        yield cursor


def chain(project) -> list[Entry]:
    return list(Entry.objects.filter(project=project.pk).order_by("seq"))


# ---- only added to ----


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal_entry SET reason = 'x'",
        "UPDATE journal_entry SET seq = seq + 100",
        "DELETE FROM journal_entry",
        "UPDATE journal_signature SET name = 'x'",
        "DELETE FROM journal_signature",
    ],
)
def test_the_database_refuses_to_change_or_delete(shop, statement):
    _, edda, assembly = shop
    signed(edda, assembly)
    before = (list(Entry.objects.order_by("id").values()), list(Signature.objects.order_by("id").values()))
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert (list(Entry.objects.order_by("id").values()), list(Signature.objects.order_by("id").values())) == before


@pytest.mark.skipif("connection.vendor != 'postgresql'")
@pytest.mark.parametrize("table", guards.GUARDED)
def test_the_database_refuses_to_truncate(shop, table):
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {table}")


def test_the_orm_is_refused_too(shop):
    project, _, _ = shop
    entry = head(project.pk)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Entry.objects.filter(pk=entry.pk).update(reason="x")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        entry.delete()
    entry.reason = "x"
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        entry.save()
    assert Entry.objects.get(pk=entry.pk).reason == "Shop words"


def test_adding_goes_on(shop):
    project, edda, assembly = shop
    last = head(project.pk).seq
    record_change(project=project.pk, by=edda, at=NOW, verb="assembly.looked_at", subject=assembly)
    assert head(project.pk).seq == last + 1


# ---- the chain ----


def test_each_entry_follows_the_one_before_and_seals_all_it_says(shop):
    project, edda, _ = shop
    before = rules.START
    for number, entry in enumerate(chain(project), start=1):
        assert (entry.seq, entry.previous) == (number, before)
        facts = {
            "project": project.pk,
            "seq": number,
            "at": "2026-05-14T17:00:00Z",
            "by": edda.pk,
            "by_name": "Edda Norrell",
            "verb": entry.verb,
            "subject": entry.subject,
            "state": entry.state,
            "reason": entry.reason,
            "previous": before,
        }
        assert entry.digest == rules.entry_digest(facts)
        assert canonical(json.loads(entry.state)) == entry.state
        before = entry.digest
    assert list(chain_faults(project.pk)) == []


def test_two_projects_have_chains_of_their_own(shop):
    project, _, _ = shop
    other, _ = factories.make_project("Second hull")
    assert [entry.seq for entry in chain(other)] == [1, 2]
    assert list(chain_faults(other.pk)) == list(chain_faults(project.pk)) == []


@pytest.mark.parametrize("field", ["by", "by_name", "verb", "subject", "reason", "state"])
def test_an_altered_entry_is_found(shop, field):
    project, _, _ = shop
    with without_guards() as cursor:
        cursor.execute(
            f"UPDATE journal_entry SET {connection.ops.quote_name(field)} = 'x' WHERE project = %s AND seq = 3",
            [project.pk],
        )
    assert any(fault.startswith("journal entry 3 ") and "altered" in fault for fault in chain_faults(project.pk))


def test_an_altered_time_is_found(shop):
    project, _, _ = shop
    with without_guards():
        Entry.objects.filter(project=project.pk, seq=3).update(at=NOW + timedelta(microseconds=1))
    assert any("journal entry 3 " in fault and "altered" in fault for fault in chain_faults(project.pk))


def test_an_entry_altered_with_its_digest_breaks_the_next_one(shop):
    project, _, _ = shop
    with without_guards():
        entry = chain(project)[2]
        facts = {
            name: getattr(entry, name)
            for name in ("project", "seq", "by", "by_name", "verb", "subject", "state", "previous")
        }
        facts |= {"at": "2026-05-14T17:00:00Z", "reason": "forged"}
        Entry.objects.filter(pk=entry.pk).update(reason="forged", digest=rules.entry_digest(facts))
    faults = list(chain_faults(project.pk))
    assert len(faults) == 1
    assert faults[0].startswith("journal entry 4 ")
    assert "does not follow" in faults[0]


def test_a_gap_is_found_and_named(shop):
    project, _, _ = shop
    with without_guards():
        Entry.objects.filter(project=project.pk, seq__in=[2, 3]).delete()
    faults = list(chain_faults(project.pk))
    assert faults[0] == "journal entries 2 to 3 are missing"
    assert "journal entry 4 " in faults[1]


def test_a_missing_start_is_found(shop):
    project, _, _ = shop
    with without_guards():
        Entry.objects.filter(project=project.pk, seq=1).delete()
    assert "journal entry 1 is missing" in list(chain_faults(project.pk))


def test_a_huge_number_is_one_sentence_and_not_a_million(shop):
    project, _, _ = shop
    with without_guards():
        Entry.objects.filter(project=project.pk, seq=5).update(seq=2_000_000_000)
    assert len(list(chain_faults(project.pk))) < 5


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_an_entry_that_cannot_be_read_is_named_and_the_rest_is_still_looked_at(shop):
    project, _, _ = shop
    with without_guards() as cursor:
        cursor.execute(
            "UPDATE journal_entry SET at = '2026-99-14 17:00:00' WHERE project = %s AND seq = 2", [project.pk]
        )
        cursor.execute("UPDATE journal_entry SET reason = 'x' WHERE project = %s AND seq = 4", [project.pk])
    faults = list(chain_faults(project.pk))
    assert "journal entry 2 was altered: it cannot be read" in faults
    assert any("journal entry 4 " in fault and "altered" in fault for fault in faults)


# ---- the guards ----


def drop(name: str, table: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))


def test_a_lost_guard_is_an_error_of_the_system_check_and_comes_back_after_migrate(shop):
    name, _, table = guards.names()[0]
    assert guards.missing() == []
    drop(name, table)
    assert guards.missing() == [name]
    errors = [error for error in run_checks(databases=["default"]) if error.id == "journal.E001"]
    assert len(errors) == 1
    assert name in errors[0].msg
    guards.after_migrate(using="default")
    assert guards.missing() == []
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Entry.objects.update(reason="x")


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_a_table_that_was_rebuilt_is_guarded_again(shop):
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE copy AS SELECT * FROM journal_entry")
        cursor.execute("DROP TABLE journal_entry")
        cursor.execute("ALTER TABLE copy RENAME TO journal_entry")
    assert len(guards.missing()) == 2
    guards.after_migrate(using="default")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM journal_entry")


@pytest.mark.skipif("connection.vendor != 'postgresql'")
def test_a_guard_that_was_switched_off_counts_as_missing(shop):
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE journal_entry DISABLE TRIGGER USER")
    assert set(guards.missing()) >= {"journal_entry_no_update", "journal_entry_no_delete"}


# ---- commands and queries ----


def test_the_entry_tells_what_the_database_has_and_not_what_the_object_remembers(shop):
    project, edda, assembly = shop
    stale = type(assembly).objects.get(pk=assembly.pk)
    parts.correct_assembly(
        by=edda, at=NOW, assembly=assembly, number="24.1", name="Tip float, left", note="Second note"
    )
    record_change(project=project.pk, by=edda, at=NOW, verb="assembly.looked_at", subject=stale)
    assert json.loads(head(project.pk).state)["note"] == "Second note"


def test_parts_that_were_fetched_before_do_not_get_into_the_journal(shop):
    project, edda, assembly = shop
    session = factories.make_session(edda, assembly)
    fetched = type(session).objects.prefetch_related("shares").get(pk=session.pk)
    fetched.shares.all()
    session.shares.update(weight=3)
    record_change(project=project.pk, by=edda, at=NOW, verb="session.looked_at", subject=fetched)
    assert [share["weight"] for share in json.loads(head(project.pk).state)["shares"]] == [3]


def test_withdrawing_needs_a_reason_and_happens_once(shop):
    project, edda, assembly = shop
    with pytest.raises(Refusal, match="Say why"):
        withdraw_record(project=project.pk, by=edda, at=NOW, record=assembly, verb="assembly.withdrawn", reason=" ")
    with transaction.atomic():
        withdraw_record(project=project.pk, by=edda, at=NOW, record=assembly, verb="assembly.withdrawn", reason="Twice")
    with pytest.raises(Refusal, match="before"), transaction.atomic():
        withdraw_record(project=project.pk, by=edda, at=NOW, record=assembly, verb="assembly.withdrawn", reason="Twice")
    assert head(project.pk).reason == "Twice"


def test_history_names_what_changed(shop):
    project, _, assembly = shop
    second, first = told(project.pk, assembly.subject)
    assert first.changes == []
    assert [(c.label, c.before, c.after) for c in second.changes] == [("Name", "Tip float, left", "Tip float, port")]


def test_the_last_state_of_a_record_is_the_newest(shop):
    project, edda, assembly = shop
    later = NOW + timedelta(days=1)
    parts.correct_assembly(by=edda, at=later, assembly=assembly, number="24.1", name="Float")
    assert json.loads(last_states(project.pk)[assembly.subject])["name"] == "Float"


def test_a_signature_has_an_entry_and_covers_what_it_lists(shop):
    project, edda, assembly = shop
    signature = signed(edda, assembly)
    assert head(project.pk).subject == signature.subject
    assert json.loads(head(project.pk).state)["covers"] == signature.covers
