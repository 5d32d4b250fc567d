"""`verify` finds each kind of tampering and names it (rule R33)."""

import json
import os
from contextlib import contextmanager
from io import BytesIO, StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, transaction

from archive import queries
from archive.models import Verification
from archive.queries import whole
from certification.models import Pack
from certification.queries import builder_record
from evidence.queries import document_path, original_path
from foundation.digest import canonical, digest_bytes
from inspections import commands as inspections
from journal import guards
from journal.commands import record_change
from journal.models import Entry, Signature
from journal.queries import head
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


class Shop:
    """A project with one of every kind of record."""

    def __init__(self) -> None:
        self.project, self.edda = factories.make_project()
        self.jory = factories.make_person(self.project, name="Jory Pask")
        self.float = factories.make_assembly(self.edda, "24.1", "Tip float, left")
        self.wing = factories.make_assembly(self.edda, "20", "Wing")
        self.part = factories.make_part(self.edda, self.float, "TW2-2413")
        self.photo = factories.make_photo(self.edda, places=[self.float], caption="Drain boss")
        self.session = factories.make_session(
            self.edda,
            self.float,
            factories.worked(self.edda),
            factories.worked(self.jory, minutes=60),
            shares=((self.float, 2), (self.wing, 1)),
            photos=(self.photo,),
            note="Bonded the strut block",
        )
        self.area = factories.make_area(self.edda, self.float, number="24.1-H1")
        asked = {row.kind: row for row in self.area.requirements.all()}
        inspections.show_photo(by=self.edda, at=NOW, requirement=asked["photo"], photo=self.photo)
        inspections.answer_check(by=self.edda, at=NOW, requirement=asked["check"], answer="yes")
        self.pack = self.frozen()

    def frozen(self) -> Pack:
        facts = canonical(builder_record(self.project, NOW, "Edda Norrell"))
        pack = Pack(
            project=self.project,
            number=1,
            made_at=NOW,
            made_by=self.edda,
            facts=facts,
            facts_digest=digest_bytes(facts.encode()),
        )
        pack.save(force_insert=True)
        record_change(project=self.project.pk, by=self.edda, at=NOW, verb="record.frozen", subject=pack)
        return pack

    def last_entry(self, record) -> int:
        """The number of the newest entry about a record."""
        return Entry.objects.filter(subject=record.subject).order_by("seq").last().seq

    def faults(self) -> list[str]:
        return list(queries.faults(self.project))


@pytest.fixture
def shop() -> Shop:
    return Shop()


def behind_its_back(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        assert cursor.rowcount >= 1


@contextmanager
def taken_back():
    """Whatever is written here is taken back, before anybody asks whether keys lead anywhere."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@contextmanager
def unguarded():
    """Take the triggers away for a while, as somebody with a database shell would."""
    with connection.cursor() as cursor:
        for name, _, table in guards.names():
            cursor.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))
    yield
    guards.make()


def verify(*words: str) -> tuple[int, list[str]]:
    """Run the command; its exit code and the lines it wrote."""
    out = StringIO()
    try:
        call_command("verify", *words, stdout=out)
    except SystemExit as end:
        return end.code, out.getvalue().splitlines()
    return 0, out.getvalue().splitlines()


# ---- whole ----


def test_an_untouched_record_is_whole(shop):
    assert shop.faults() == []
    code, lines = verify()
    newest = head(shop.project.pk)
    assert code == 0
    assert lines == [
        f"tarnwader-2: 10 records, {newest.seq} entries, 0 signatures, 1 original: whole. "
        f"Newest entry {newest.seq}, digest {newest.short_digest} ({newest.digest})."
    ]


def test_every_kind_of_record_of_the_program_is_looked_at(shop):
    labels = {model._meta.label for model in whole.root_models()}
    assert labels >= {
        "accounts.Project",
        "accounts.Person",
        "parts.Assembly",
        "parts.Part",
        "evidence.Photo",
        "buildlog.WorkSession",
        "inspections.Area",
        "certification.Pack",
        "journal.Signature",
    }


# ---- rows ----

ROWS = [
    ("buildlog_worksession", "note", "Bonded the strut blocks", "session", "Session 1: note changed outside"),
    ("buildlog_worksession", "labor_seconds", 1, "session", "Session 1: labor changed outside"),
    ("evidence_photo", "caption", "Drain boss, sealed", "photo", "Photo P-0001: caption changed outside"),
    ("evidence_photo", "builder_in_frame", True, "photo", "Photo P-0001: builder in the picture changed outside"),
    ("accounts_person", "name", "Jory Park", "jory", "Jory Pask: name changed outside"),
    ("accounts_project", "registration", "N1-DEMO", "project", "Project Tarnwader 2: registration marks changed"),
    ("parts_assembly", "name", "Tip float, right", "float", "Assembly 24.1 Tip float, left: name changed outside"),
    ("parts_part", "status", "spare", "part", "Part TW2-2413 Rib: status changed outside"),
    ("inspections_area", "kind", "access", "area", "Area 24.1-H1 Interior before deck bond: kind changed outside"),
    ("certification_pack", "facts", "{}", "pack", "Builder's record 1: facts changed outside"),
    ("certification_pack", "number", 7, "pack", "Builder's record 1: number changed outside"),
]


@pytest.mark.parametrize(
    ("table", "column", "value", "which", "words"), ROWS, ids=lambda x: x if isinstance(x, str) else None
)
def test_a_changed_row_is_found_and_named(shop, table, column, value, which, words):
    behind_its_back(f"UPDATE {table} SET {column} = %s WHERE id = %s", value, getattr(shop, which).pk)
    faults = shop.faults()
    assert len(faults) == 1
    assert faults[0].startswith(words)


PARTS = [
    ("buildlog_sessionshare", "weight", 5, "shares (weight)"),
    ("buildlog_sessionperson", "break_seconds", 60, "people (breaks)"),
    ("inspections_answer", "answer", "no", "requirements (answer)"),
    ("inspections_requirement", "words", "Something else", "requirements (what is asked for)"),
]


@pytest.mark.parametrize(("table", "column", "value", "words"), PARTS)
def test_a_changed_part_of_a_record_is_found(shop, table, column, value, words):
    behind_its_back(f"UPDATE {table} SET {column} = %s WHERE id = (SELECT id FROM {table} ORDER BY id LIMIT 1)", value)
    faults = shop.faults()
    assert len(faults) == 1
    assert words in faults[0]


@pytest.mark.parametrize("table", ["buildlog_sessionphoto", "inspections_exhibit", "evidence_placement"])
def test_a_deleted_part_of_a_record_is_found(shop, table):
    behind_its_back(f"DELETE FROM {table}")
    faults = shop.faults()
    assert len(faults) == 1
    assert "one gone" in faults[0]


def test_an_added_part_of_a_record_is_found(shop):
    tam = factories.make_person(shop.project, name="Tam Wray")
    shop.session.people.create(person=tam, started_at=NOW, ended_at=NOW)
    assert shop.faults() == [
        "Session 1: people (one added) changed outside the program. "
        f"Journal entry {shop.last_entry(shop.session)} tells how it was."
    ]


def test_a_deleted_row_is_found_and_named_from_the_journal(shop):
    lone = factories.make_session(shop.edda, shop.float)
    for part in ("sessionperson", "sessionshare"):
        behind_its_back(f"DELETE FROM buildlog_{part} WHERE session_id = %s", lone.pk)
    behind_its_back("DELETE FROM buildlog_worksession WHERE id = %s", lone.pk)
    assert shop.faults() == [
        f"Session 2: the journal tells of it, up to entry {shop.last_entry(lone)}, but the record is gone."
    ]


def test_a_row_slipped_in_is_found(shop):
    type(shop.wing)(project=shop.project, number="99", name="Never logged").save()
    assert shop.faults() == [
        "Assembly 99 Never logged: the journal knows nothing of it. It was written outside the program."
    ]


def test_a_row_moved_to_another_project_is_changed_in_the_one_and_strange_in_the_other(shop):
    other, _ = factories.make_project("Second hull")
    behind_its_back("UPDATE parts_assembly SET project_id = %s WHERE id = %s", other.pk, shop.wing.pk)
    assert any("Assembly 20 Wing: project changed outside" in fault for fault in shop.faults())
    assert any("Assembly 20 Wing: the journal knows nothing" in fault for fault in queries.faults(other))


@pytest.mark.skipif("connection.vendor != 'sqlite'")
def test_a_value_that_no_field_can_hold_is_a_fault_and_not_a_crash(shop):
    behind_its_back("UPDATE buildlog_worksession SET entered_at = '2026-99-01 00:00:00' WHERE id = %s", shop.session.pk)
    behind_its_back("UPDATE parts_part SET weight = 'heavy' WHERE id = %s", shop.part.pk)
    behind_its_back("UPDATE parts_assembly SET note = x'ff00' WHERE id = %s", shop.wing.pk)
    faults = shop.faults()
    assert len(faults) == 3
    assert all("changed outside" in fault for fault in faults)


def test_an_account_or_a_drawn_rendition_is_not_part_of_the_record(shop):
    behind_its_back("UPDATE evidence_photo SET drawn_at = NULL")
    behind_its_back("UPDATE accounts_user SET first_name = 'E.'")
    behind_its_back("UPDATE certification_pack SET state_word = 'ready', size = 5")
    assert shop.faults() == []


# ---- originals ----


def test_one_changed_byte_in_an_original_is_found(shop):
    path = original_path(shop.photo)
    path.chmod(0o640)
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)
    assert shop.faults() == ["Photo P-0001: the original file was changed; its digest does not match."]


def test_a_cut_original_is_found_with_both_sizes(shop):
    path = original_path(shop.photo)
    path.chmod(0o640)
    path.write_bytes(path.read_bytes()[:-3])
    assert shop.faults() == [
        f"Photo P-0001: the original file has {shop.photo.size - 3} bytes and not {shop.photo.size}; it was changed."
    ]


def test_a_missing_original_is_found(shop):
    original_path(shop.photo).unlink()
    assert shop.faults() == ["Photo P-0001: the original file is missing or cannot be read."]


def test_a_withdrawn_photo_keeps_its_original_and_it_is_looked_at(shop):
    lone = factories.make_photo(shop.edda)
    factories.evidence.withdraw_photo(by=shop.edda, at=NOW, photo=lone, reason="Wrong aircraft")
    assert shop.faults() == []
    original_path(lone).unlink()
    assert len(shop.faults()) == 1


def test_a_file_that_no_photo_knows_is_a_note_and_not_a_fault(shop):
    stray = original_path(shop.photo).with_name("f" * 64 + ".jpg")
    stray.write_bytes(b"x")
    assert verify()[1][-1].endswith(")."), "a photo that is just being taken in has its file before its row"
    os.utime(stray, (0, 0))
    code, lines = verify()
    assert code == 0
    assert lines[-1] == f"Note: No photo and no document knows the original file {stray.name}."


def test_documents_are_held_against_size_and_digest_like_photos(shop):
    data = {"file": BytesIO(b"lot,quantity\nA,1\n"), "name": "receipt.csv", "kind": "receipt", "title": "Receipt"}
    document, _ = factories.evidence.keep_document(by=shop.edda, at=NOW, project=shop.project, **data)
    assert shop.faults() == []
    path = document_path(document)
    path.chmod(0o640)
    path.write_bytes(b"lot,quantity\nA,2\n")
    told = "Document DOC-1 Receipt: the original file"
    assert shop.faults() == [f"{told} was changed; its digest does not match."]
    path.unlink()
    assert shop.faults() == [f"{told} is missing or cannot be read."]


# ---- journal ----


def test_an_altered_entry_is_found_after_its_guard_was_dropped(shop):
    with unguarded():
        behind_its_back("UPDATE journal_entry SET by_name = 'Nobody' WHERE project = %s AND seq = 4", shop.project.pk)
    faults = shop.faults()
    assert len(faults) == 1
    assert faults[0].startswith("Journal entry 4 ")
    assert "altered" in faults[0]


def test_a_row_and_its_entry_altered_together_are_found(shop):
    with unguarded():
        behind_its_back("UPDATE parts_assembly SET name = 'Wing, left' WHERE id = %s", shop.wing.pk)
        entry = Entry.objects.get(subject=shop.wing.subject)
        state = canonical(json.loads(entry.state) | {"name": "Wing, left"})
        behind_its_back("UPDATE journal_entry SET state = %s WHERE id = %s", state, entry.pk)
    faults = shop.faults()
    assert len(faults) == 1
    assert f"Journal entry {entry.seq} " in faults[0]


def test_the_newest_entries_cut_off_leave_their_rows_behind(shop):
    with unguarded():
        behind_its_back(
            "DELETE FROM journal_entry WHERE project = %s AND subject = %s", shop.project.pk, shop.pack.subject
        )
    stranger = "Builder's record 1: the journal knows nothing of it. It was written outside the program."
    cut = "The newest 1 entry was cut off the journal: "
    assert [fault.startswith(cut) for fault in shop.faults()] == ([True] * (connection.vendor == "sqlite") + [False])
    assert shop.faults()[-1] == stranger


def test_a_missing_guard_is_a_fault(shop):
    with connection.cursor() as cursor:
        name, _, table = guards.names()[1]
        cursor.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))
    assert [name in fault for fault in shop.faults()] == [True]


def test_entries_of_a_project_that_is_gone_are_found(shop):
    with unguarded():
        behind_its_back("UPDATE journal_entry SET project = 'nobody' WHERE project = %s AND seq = 2", shop.project.pk)
    code, lines = verify()
    assert code == 1
    assert any("Journal entry 2 is missing" in line for line in lines)
    assert any("'nobody' that is gone" in line for line in lines)


# ---- the command ----


def test_faults_are_counted_and_end_with_one(shop):
    behind_its_back("UPDATE buildlog_worksession SET note = 'x'")
    behind_its_back("UPDATE evidence_photo SET caption = 'x'")
    code, lines = verify("tarnwader-2")
    assert code == 1
    assert lines[-1] == "2 faults"
    assert all(line.startswith("tarnwader-2: ") for line in lines[:-1])


def test_one_project_can_be_asked_for(shop):
    factories.make_project("Second hull")
    behind_its_back("UPDATE buildlog_worksession SET note = 'x'")
    assert verify("second-hull")[0] == 0
    assert verify("tarnwader-2")[0] == 1
    assert verify()[0] == 1


def test_an_unknown_project_is_an_error(shop):
    with pytest.raises(CommandError, match="no project 'nothing'"):
        call_command("verify", "nothing")


def test_the_number_of_queries_does_not_grow_with_the_record(shop):
    with connection.execute_wrapper(counting := Counting()):
        shop.faults()
    before = counting.number
    for _ in range(12):
        factories.make_session(shop.edda, shop.float, factories.worked(shop.edda), factories.worked(shop.jory))
        factories.make_area(shop.edda, shop.wing)
        factories.make_person(shop.project, account=False)
    with connection.execute_wrapper(counting := Counting()):
        assert shop.faults() == []
    assert counting.number == before


class Counting:
    """Counts queries."""

    number = 0

    def __call__(self, execute, sql, params, many, context):
        self.number += 1
        return execute(sql, params, many, context)


# ---- signatures ----


def forged(shop: Shop, verb: str = "signed", **values) -> Signature:
    """A signature that was written with its journal entry, but not as the program signs."""
    covers = [{"subject": shop.area.subject, "label": "Drain boss", "facts": {"a": 1}, "digest": digest_of({"a": 1})}]
    signature = Signature(
        **{
            "project": shop.project.pk,
            "under": shop.area.subject,
            "at": NOW,
            "zone": "UTC",
            "person": shop.edda.pk,
            "name": "Edda Norrell",
            "role": "builder",
            "shown_by": "password",
            "statement": "Looked at",
            "covers": covers,
            "covers_digest": digest_of(values.get("covers", covers)),
        }
        | values
    )
    signature.save(force_insert=True)
    record_change(project=shop.project.pk, by=shop.edda, at=NOW, verb=verb, subject=signature)
    return signature


def digest_of(value) -> str:
    return digest_bytes(canonical(value).encode())


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"covers_digest": "sha256:" + "0" * 64}, "what it lists does not match its digest"),
        (
            {"covers": [{"subject": "x", "label": "Drain boss", "facts": {"a": 2}, "digest": digest_of({"a": 1})}]},
            "what it lists as Drain boss does not match its digest",
        ),
        ({"under": "inspections.area:nothing"}, "the journal knows nothing of what it stands under"),
        ({"verb": "taken"}, "no journal entry tells that it was given"),
    ],
)
def test_a_signature_that_does_not_fit_what_it_lists_is_found(shop, values, words):
    assert forged(shop) is not None
    assert shop.faults() == []
    signature = forged(shop, **values)
    (fault,) = shop.faults()
    assert fault.startswith("Signature of Edda Norrell under ")
    assert fault.endswith(f" (journal entry {shop.last_entry(signature)}): {words}.")


# ---- what belongs to nothing ----


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL refuses a key that leads nowhere")
def test_rows_of_no_project_and_of_no_record_are_found(shop):
    share = shop.session.shares.first().pk
    with taken_back():
        behind_its_back("UPDATE parts_part SET project_id = 'nobody' WHERE id = %s", shop.part.pk)
        behind_its_back("UPDATE buildlog_sessionshare SET session_id = 'nothing', id = 'stray' WHERE id = %s", share)
        code, lines = verify()
    assert code == 1
    assert "1 record is of a project 'nobody' that is gone: Part TW2-2413 Rib." in lines
    assert "Buildlog.sessionshare:stray belongs to 'nothing', which is gone." in lines


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="PostgreSQL refuses a key that leads nowhere")
def test_a_project_whose_row_is_gone_is_still_checked(shop):
    with taken_back():
        behind_its_back("UPDATE accounts_project SET id = 'another' WHERE id = %s", shop.project.pk)
        behind_its_back("UPDATE parts_part SET name = 'Rib, nose' WHERE id = %s", shop.part.pk)
        code, lines = verify()
    assert code == 1
    assert any("Project Tarnwader 2: the journal tells of it" in line for line in lines)
    assert any("Part TW2-2413 Rib: name changed" in line for line in lines)
    assert any("Project Tarnwader 2: the journal knows nothing of it" in line for line in lines)


@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="its rows are numbered")
def test_a_journal_entry_whose_row_was_numbered_anew_is_found(shop):
    newest = Entry.objects.order_by("pk").last()
    with unguarded():
        behind_its_back("UPDATE journal_entry SET id = id + 1000 WHERE seq = 4")
    assert any(fault.startswith("Journal entry 4 stands in row ") for fault in shop.faults())
    with unguarded():
        behind_its_back("UPDATE journal_entry SET id = id - 1000 WHERE seq = 4")
        behind_its_back("UPDATE journal_entry SET id = id + 1 WHERE id = %s", newest.pk)
    assert [fault.partition(" row ")[0] for fault in shop.faults()] == ["The newest journal entry stands in"]


def test_an_entry_and_its_row_say_which_of_them_was_altered(shop):
    with unguarded():
        behind_its_back("UPDATE journal_entry SET state = replace(state, 'Wing', 'King')")
    seq = shop.last_entry(shop.wing)
    assert f"Assembly 20 King: name not as journal entry {seq} tells, which was altered itself." in shop.faults()
    with unguarded():
        behind_its_back("UPDATE journal_entry SET state = 'no more' WHERE seq = %s", seq)
    assert any(f"cannot be compared: journal entry {seq}, which" in fault for fault in shop.faults())


# ---- runs and reports ----


def test_a_run_is_kept_with_what_it_found(shop):
    verify()
    run = Verification.objects.get()
    assert run.whole
    assert (run.records, run.originals, run.newest_digest) == (10, 1, head(shop.project.pk).digest)
    behind_its_back("UPDATE buildlog_worksession SET note = 'x'")
    verify()
    run = Verification.objects.first()
    assert (run.fault_count, run.whole) == (1, False)
    assert run.faults[0][:2] == ["rows", "row"]


def test_an_interrupt_leaves_a_run_that_was_broken_off(shop, monkeypatch):
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(queries, "original_faults", interrupted)
    code, lines = verify()
    assert code == 130
    assert lines == ["Broken off. What was not looked at may hold faults; run it again."]
    run = Verification.objects.get()
    assert run.broken_off_at is not None
    assert run.ended_at is None


def test_the_report_tells_what_was_checked_what_it_means_and_what_to_do(shop, tmp_path):
    behind_its_back("UPDATE buildlog_worksession SET note = 'x'")
    original_path(shop.photo).unlink()
    assert verify("--report", str(tmp_path / "report.txt"))[0] == 1
    text = " ".join((tmp_path / "report.txt").read_text().split())
    newest = head(shop.project.pk)
    for words in (
        "Check of the record: Tarnwader 2",
        "Found 2 faults",
        f"{newest.seq} entries: nothing wrong",
        "10 records: 1 fault",
        "1 original: 1 fault",
        "* Session 1: note changed outside the program.",
        "* Photo P-0001: the original file is missing",
        "What it means: The file is not the one that came from the camera",
        "What to do: Keep a copy of the data folder as it is",
        newest.digest,
        newest.short_digest,
    ):
        assert words in text
    assert max(map(len, (tmp_path / "report.txt").read_text().splitlines())) <= 100


def test_a_report_that_cannot_be_written_is_told(shop, tmp_path):
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("verify", "--report", str(tmp_path / "no" / "report.txt"), stdout=StringIO())


def test_how_far_it_is_is_told_on_a_terminal_only(shop):
    class Terminal(StringIO):
        def isatty(self) -> bool:
            return True

    told, silent = Terminal(), StringIO()
    call_command("verify", stdout=StringIO(), stderr=told)
    call_command("verify", stdout=StringIO(), stderr=silent)
    assert "tarnwader-2: 5 of 5, originals" in told.getvalue()
    assert silent.getvalue() == ""
