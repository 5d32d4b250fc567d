"""Making the builder's record: freeze, draw, wait, take the file."""

import json
from datetime import timedelta

import pytest
from django.urls import reverse

from buildlog import commands as buildlog
from buildlog import queries as work
from certification import commands, pages, queries, tasks
from certification.models import Pack
from foundation.digest import digest_bytes
from journal.queries import head
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda, "10", "Hull")
    photo = factories.make_photo(edda, assembly=hull)
    factories.make_session(edda, hull, photos=(photo,))
    factories.make_area(edda, hull, number="10-H1")
    return project, edda


def address(name, project, *more):
    return reverse(f"certification:{name}", args=[project.slug, *more])


def make(client, project, capture) -> Pack:
    with capture(execute=True):
        response = client.post(address("record_new", project))
    pack = Pack.objects.get()
    assert response.status_code == 302
    assert response["Location"] == address("pack", project, pack.pk)
    return pack


def test_freezing_draws_a_file_that_can_be_taken(shop, django_capture_on_commit_callbacks):
    project, edda = shop
    client = factories.client_for(edda)
    pack = make(client, project, django_capture_on_commit_callbacks)
    assert pack.ready
    assert "Download" in client.get(address("pack", project, pack.pk)).content.decode()
    response = client.get(address("pack_file", project, pack.pk))
    data = b"".join(response.streaming_content)
    assert data.startswith(b"%PDF-")
    assert digest_bytes(data) == pack.file_digest
    assert len(data) == pack.size
    assert response["Content-Disposition"] == 'attachment; filename="builders-record-tarnwader-2-1.pdf"'
    assert response["Content-Type"] == "application/pdf"
    again = client.get(address("pack_file", project, pack.pk), headers={"If-None-Match": response["ETag"]})
    assert again.status_code == 304


def test_the_journal_knows_of_it_and_the_facts_name_the_entry_before(shop, django_capture_on_commit_callbacks):
    project, edda = shop
    before = head(project.pk)
    pack = make(factories.client_for(edda), project, django_capture_on_commit_callbacks)
    newest = head(project.pk)
    assert (newest.verb, newest.subject, newest.by_name) == ("record.frozen", pack.subject, "Edda Norrell")
    assert json.loads(pack.facts)["head"]["digest"] == before.digest
    assert json.loads(newest.state)["facts_digest"] == digest_bytes(pack.facts.encode())


def test_the_same_facts_give_the_same_bytes(shop, django_capture_on_commit_callbacks):
    project, edda = shop
    pack = make(factories.client_for(edda), project, django_capture_on_commit_callbacks)
    queries.pack_path(pack).unlink()
    tasks.draw_pack.func(pack.pk)
    assert digest_bytes(queries.pack_path(pack).read_bytes()) == pack.file_digest


def test_later_changes_do_not_touch_a_frozen_record(shop, django_capture_on_commit_callbacks):
    project, edda = shop
    pack = make(factories.client_for(edda), project, django_capture_on_commit_callbacks)
    factories.make_session(edda, factories.make_assembly(edda))
    assert Pack.objects.get().facts == pack.facts
    assert json.loads(pack.facts)["counts"]["sessions"] == 1


def test_a_file_that_is_gone_is_drawn_again(shop, django_capture_on_commit_callbacks):
    project, edda = shop
    client = factories.client_for(edda)
    pack = make(client, project, django_capture_on_commit_callbacks)
    queries.pack_path(pack).unlink()
    with django_capture_on_commit_callbacks(execute=True):
        response = client.get(address("pack_file", project, pack.pk))
    assert response["Location"] == address("pack", project, pack.pk)
    assert client.get(address("pack_file", project, pack.pk)).status_code == 200


def test_while_it_waits_the_page_looks_again_by_itself(shop):
    project, edda = shop
    client = factories.client_for(edda)
    pack = commands.freeze_record(by=edda, at=NOW, project=project)
    html = client.get(address("pack", project, pack.pk)).content.decode()
    assert 'hx-trigger="load delay:1s"' in html
    piece = client.get(address("pack", project, pack.pk), headers={"HX-Request": "true"}).content.decode()
    assert piece.lstrip().startswith('<section id="pack-state"')
    assert "Being drawn" in client.get(address("record", project)).content.decode()
    assert client.get(address("pack_file", project, pack.pk)).status_code == 302


@pytest.mark.parametrize(
    ("trouble", "words"),
    [
        (pages.CannotDraw("There is no room on the disk."), "There is no room on the disk."),
        (KeyError("x"), "The program failed while drawing"),
    ],
)
def test_a_failure_says_why_and_can_be_tried_again(
    shop, monkeypatch, django_capture_on_commit_callbacks, trouble, words
):
    project, edda = shop
    client = factories.client_for(edda)

    def broken(facts, path):
        raise trouble

    with monkeypatch.context() as broken_drawing:
        broken_drawing.setattr(pages, "write_record", broken)
        pack = make(client, project, django_capture_on_commit_callbacks)
    assert pack.failed
    html = client.get(address("pack", project, pack.pk)).content.decode()
    assert words in html
    with django_capture_on_commit_callbacks(execute=True):
        client.post(address("pack_again", project, pack.pk))
    assert Pack.objects.get().ready


def test_the_page_says_what_the_record_has_and_lacks(shop):
    project, edda = shop
    html = factories.client_for(edda).get(address("record", project)).content.decode()
    for words in ("1 photo without a caption", "1 area not closed yet", "1 session without a note", "Make the builder"):
        assert words in html
    assert "airworthy" not in html.lower()


def test_overlaps_are_told_before_printing(shop):
    project, edda = shop
    factories.make_session(edda, factories.make_assembly(edda))
    assert "1 overlap in one person" in factories.client_for(edda).get(address("record", project)).content.decode()


def test_an_inspector_may_make_one_and_a_stranger_learns_nothing(shop, django_capture_on_commit_callbacks):
    project, _ = shop
    hal = factories.make_person(project, "inspector", name="Hal Venning")
    pack = make(factories.client_for(hal), project, django_capture_on_commit_callbacks)
    assert pack.made_by == hal
    _, other = factories.make_project("Second hull")
    stranger = factories.client_for(other)
    for name, more in (("record", ()), ("pack", (pack.pk,)), ("pack_file", (pack.pk,))):
        assert stranger.get(address(name, project, *more)).status_code == 404
    assert stranger.post(address("record_new", project)).status_code == 404
    assert stranger.get(address("pack", other.project, pack.pk)).status_code == 404


def test_a_person_who_left_is_still_named_with_his_hours(shop):
    project, edda = shop
    jory = factories.make_person(project, name="Jory Pask", account=False)
    factories.make_session(edda, factories.make_assembly(edda), factories.worked(jory))
    factories.accounts.withdraw_person(by=edda, at=NOW, person=jory, reason="Moved away")
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    assert sum(person["logged"] for person in facts["people"]) == facts["hours"]["total"]
    assert "Jory Pask" in [person["name"] for person in facts["people"]]


def test_hours_on_a_withdrawn_assembly_still_print(shop):
    project, edda = shop
    mock = factories.make_assembly(edda, "90", "Mock-up frame")
    factories.make_session(edda, mock)
    factories.parts.withdraw_assembly(by=edda, at=NOW, assembly=mock, reason="Burnt")
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    assert sum(line["own"] for line in facts["hours"]["assemblies"]) == facts["hours"]["total"]


def test_a_correction_prints_with_the_times_of_each_and_costs_the_same_for_many(shop, django_assert_num_queries):
    project, edda = shop
    jory = factories.make_person(project, name="Jory Pask")
    session = work.sessions(project).get()
    hull = session.shares.get().assembly
    for reason in ("Jory was there", "And left early"):
        buildlog.correct_session(
            by=edda,
            at=NOW,
            session=session,
            worked=(factories.worked(edda), factories.worked(jory, minutes=90)),
            shares=[(hull, 1)],
            photos=session.photos,
            reason=reason,
        )
    factories.make_session(edda, hull)
    sessions = list(work.sessions(project).order_by("number"))
    with django_assert_num_queries(2):
        found = dict(queries.with_corrections(project, sessions))
    first, second = found[sessions[0]]
    assert (first["reason"], second["changes"], found[sessions[1]]) == ("Jory was there", [], [])
    assert {(one["field"], one["before"], one["after"]) for one in first["changes"]} == {
        ("Jory Pask", "nothing", "14 May 2026, 08:00 to 09:30"),
        ("Labor", "2:00 h", "3:30 h"),
        ("10 Hull", "share 1, 2:00 h", "share 1, 3:30 h"),
    }


def test_a_break_somebody_joining_and_the_first_words_are_no_corrections(shop):
    project, edda = shop
    jory = factories.make_person(project, name="Jory Pask")
    hull = work.sessions(project).get().shares.get().assembly
    session = buildlog.start_timer(by=edda, at=NOW, project=project, assembly=hull)
    buildlog.take_break(by=edda, at=NOW + timedelta(minutes=20), session=session)
    buildlog.end_break(by=edda, at=NOW + timedelta(minutes=30), session=session)
    buildlog.join_timer(by=edda, at=NOW + timedelta(minutes=40), session=session, person=jory)
    buildlog.leave_timer(by=edda, at=NOW + timedelta(minutes=50), session=session, person=jory)
    buildlog.stop_timer(by=edda, at=NOW + timedelta(minutes=60), session=session)
    sessions = list(work.sessions(project))
    assert all(corrections == [] for _, corrections in queries.with_corrections(project, sessions))
