"""The demo project: what it promises to show, and that the program itself finds nothing wrong with it."""

from collections import Counter
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from pypdf import PdfReader

from accounts.models import Project
from archive.queries import faults
from buildlog import queries as work
from buildlog.models import SessionPerson, WorkSession
from calc.hours import decimal_hours
from certification.queries.process import process_judged
from evidence.commands import draw_again
from evidence.models import Document, Photo
from evidence.queries import rendition_path, waiting
from inspections import queries as inspections
from inspections.models import ClosureList, Explained, Requirement, Visit
from inspections.queries import discrepancies, points
from journal.models import Signature
from parts.models import Assembly, Lot, Part
from process.models import KINDS, Tool
from process.queries.trace import where_used

pytestmark = [pytest.mark.slow, pytest.mark.django_db]
SHELVES = {"ORIGINALS_DIR": "originals", "DOCUMENTS_DIR": "documents", "RENDITIONS_DIR": "renditions"}


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker, folders: Path):  # noqa: ANN001, ANN201
    """The demo project, loaded once for these tests and taken back afterwards."""
    from django.conf import settings
    from django.db import transaction

    before = {name: getattr(settings, name) for name in SHELVES}
    with django_db_blocker.unblock():
        hold = transaction.atomic()
        hold.__enter__()
        for name, folder in SHELVES.items():
            setattr(settings, name, folders / folder)
        call_command("demo", stdout=StringIO())
        project = Project.objects.get(slug="tarnwader-2")
        draw_again(waiting(project))  # the worker's share: it waits for the commit that never comes here
        yield project
        transaction.set_rollback(True)
        hold.__exit__(None, None, None)
    for name, path in before.items():
        setattr(settings, name, path)


@pytest.fixture(autouse=True)
def same_folders(own_folders, settings, folders: Path) -> None:  # noqa: ANN001
    for name, folder in SHELVES.items():
        setattr(settings, name, folders / folder)


def test_it_is_large_enough_to_judge_the_program_by(demo: Project) -> None:
    assert Assembly.objects.filter(project=demo).count() >= 8
    assert Part.objects.filter(project=demo).count() >= 40
    sessions = WorkSession.objects.counted().filter(project=demo)
    assert sessions.count() >= 60
    days = sessions.order_by("started_at")
    assert (days.last().started_at - days.first().started_at).days >= 13 * 30
    assert SessionPerson.objects.filter(session__project=demo).values("person").distinct().count() == 3
    assert Photo.objects.filter(project=demo).count() >= 80


def test_its_areas_are_in_every_state(demo: Project) -> None:
    judged = inspections.judged(demo)
    states = Counter(one.gate.state for one in judged)
    assert len(judged) >= 6
    assert set(states) == {"not_started", "hold", "ready", "closed", "advised"}
    assert any(one.changed for one in judged)
    assert any(closing.reopened_at for one in judged for closing in one.closings)


def test_its_points_discrepancies_and_visits_show_what_can_become_of_them(demo: Project) -> None:
    assert {one.state for one in points.judged(demo)} == {"released", "invited", "not_accepted", "went_on"}
    found = discrepancies.judged(demo)
    assert {one.standing.state for one in found} >= {"found", "to_inspect", "done"}
    assert any(one.discrepancy.visit_id for one in found)
    visits = Visit.objects.filter(project=demo)
    assert {(bool(v.ended_at), bool(v.revoked_at)) for v in visits} == {(True, False), (False, True), (False, False)}
    assert Signature.objects.filter(project=demo.pk, shown_by="link").exclude(strokes=[]).exists()
    assert ClosureList.objects.filter(project=demo).exists() and Explained.objects.exists()
    kinds = set(Requirement.objects.filter(area__project=demo).values_list("kind", flat=True))
    assert kinds >= {"photo", "check", "measure", "count", "inner", "signoff"}


def test_its_process_records_show_good_bad_and_open_ones(demo: Project) -> None:
    made = process_judged(demo)
    assert {one.record.KIND for one in made} == set(KINDS)
    assert {one.state for one in made} == {"good", "bad", "open"}
    bad = {one.record.KIND for one in made if one.state == "bad"}
    assert bad == {"layup", "mix", "cure", "torque"}
    assert Document.objects.filter(project=demo).count() >= 4 and Tool.objects.filter(project=demo).count() >= 5
    wet = [one.record for one in made if one.record.KIND == "layup" and not one.record.finished_at]
    assert [(ply.laid_at is not None) for layup in wet for ply in layup.plies.all()] == [True] * 3 + [False] * 2
    sheet = Part.objects.get(project=demo, number="TW2-2502-00")
    lot = Lot.objects.get(project=demo, number="L-0312")
    assert sheet.offspring.count() == 2
    found = set(where_used(demo, "lot", lot.pk).walked.found)
    assert found >= {("part", one.part_id) for one in sheet.offspring.all()}


def test_one_gate_has_the_process_records_it_asks_for_and_one_waits_because_a_cure_went_wrong(demo: Project) -> None:
    judged = {one.area.number: one for one in inspections.judged(demo)}
    asks = {
        number: [item.in_place for item in one.gate.items if item.asked.kind == "process"]
        for number, one in judged.items()
    }
    assert judged["32-C1"].gate.state == "closed" and asks["32-C1"] == [True, True]
    assert judged["24.1-C2"].gate.state == "hold" and asks["24.1-C2"] == [False]
    made = {one.record.KIND: one.state for one in process_judged(demo) if one.record.label in {"C-2", "HD-1"}}
    assert made == {"cure": "bad", "hardness": "good"}


def test_its_photos_carry_what_cameras_write(demo: Project) -> None:
    photos = list(Photo.objects.filter(project=demo))
    assert {photo.kind for photo in photos} >= {"jpg", "heic", "png"}
    assert {photo.taken_known for photo in photos} >= {"camera", "camera_local"}
    assert any(photo.located for photo in photos)
    assert any(photo.builder_in_frame for photo in photos)


def test_the_program_finds_nothing_wrong_with_it(demo: Project) -> None:
    assert list(faults(demo)) == []


def test_loading_it_twice_does_no_harm(demo: Project) -> None:
    before = Photo.objects.count(), WorkSession.objects.count()
    call_command("demo", stdout=StringIO())
    assert (Photo.objects.count(), WorkSession.objects.count()) == before


def test_its_printed_record_agrees_with_an_independent_sum_and_passes_the_photos_through(
    demo: Project, tmp_path: Path
) -> None:
    out = tmp_path / "record.pdf"
    call_command("record_pdf", demo.slug, str(out), stdout=StringIO())
    reader = PdfReader(out)
    pages = [page.extract_text() for page in reader.pages]
    text = "\n".join(pages)
    assert all(f"{number} of {len(pages)}" in page for number, page in enumerate(pages, start=1))

    sessions = WorkSession.objects.counted().filter(project=demo).prefetch_related("people")
    squeezed = " ".join(text.split())
    for session in sessions:
        assert f"Session {session.number}" in text
        assert " ".join(session.note.split())[:60] in squeezed

    # The sum, from the clock times alone, on epoch seconds.
    seconds = sum(
        int(row.ended_at.timestamp()) - int(row.started_at.timestamp()) - row.break_seconds - row.unattended_seconds
        for session in sessions
        for row in session.people.all()
    )
    assert work.total_seconds(demo) == seconds
    assert f"{decimal_hours(seconds):,}" in text

    stored = {rendition_path(photo.digest, 1280).read_bytes() for photo in Photo.objects.filter(project=demo)}
    pictures = [
        held.get_object() for page in reader.pages for held in (page["/Resources"].get("/XObject") or {}).values()
    ]
    streams = [bytes(picture._data) for picture in pictures if "DCTDecode" in str(picture.get("/Filter"))]
    assert len(streams) >= 75
    assert all(stream in stored for stream in streams)
