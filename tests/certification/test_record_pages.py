"""Making the builder's record: freeze, draw, wait, take the file."""

import json
from datetime import timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader

from buildlog import commands as buildlog
from buildlog import queries as work
from certification import commands, pages, queries, tasks
from certification.models import Pack
from evidence import commands as evidence
from foundation.digest import digest_bytes
from inspections import commands as inspections
from inspections.models import Area
from journal.queries import head
from tests import factories
from tests.factories import NOW
from tests.inspections.shop import Shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda, "10", "Hull")
    photo = factories.make_photo(edda, places=[hull])
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

    def broken(facts, path, tell):
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


def test_photos_added_are_no_correction_but_one_taken_off_is(shop):
    project, edda = shop
    session, more = work.sessions(project).get(), factories.make_photo(edda)
    gone = session.photos[0]
    buildlog.attach_photos(by=edda, at=NOW, session=session, photos=[more])
    assert queries.builder_record(project, NOW, "Edda Norrell")["sessions"][0]["corrections"] == []
    buildlog.attach_photos(by=edda, at=NOW, session=session, photos=[], without={gone.pk})
    (printed,) = queries.builder_record(project, NOW, "Edda Norrell")["sessions"][0]["corrections"]
    assert printed["changes"] == [{"field": gone.label, "before": "attached", "after": "nothing"}]


def test_a_correction_of_times_and_shares_prints_old_and_new_by_name(shop, tmp_path):
    project, edda = shop
    session = work.sessions(project).get()
    hull, wing = session.shares.get().assembly, factories.make_assembly(edda, "20", "Wing")
    buildlog.correct_session(
        by=edda,
        at=NOW,
        session=session,
        worked=(factories.worked(edda, minutes=150),),
        shares=[(hull, 1), (wing, 2)],
        reason="Wrong clock",
    )
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    (printed,) = facts["sessions"][0]["corrections"]
    changes = {one["field"]: (one["before"], one["after"]) for one in printed["changes"]}
    assert changes["Edda Norrell"] == ("14 May 2026, 08:00 to 10:00", "14 May 2026, 08:00 to 10:30")
    assert changes["10 Hull"] == ("share 1, 2:00 h", "share 1, 0:50 h")
    assert changes["20 Wing"] == ("nothing", "share 2, 1:40 h")
    path = tmp_path / "record.pdf"
    pages.write_record(facts, path)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    for words in (
        "because: Wrong clock",
        "Edda Norrell, before 14 May 2026, 08:00 to 10:00",
        "Edda Norrell, after 14 May 2026, 08:00 to 10:30",
        "10 Hull, after share 1, 0:50 h",
    ):
        assert words in text
    assert "seconds" not in text


def test_photos_that_stand_nowhere_are_told_before_printing(shop):
    project, edda = shop
    client = factories.client_for(edda)
    page = client.get(address("record", project)).content.decode()
    assert "on no session, gate, point, discrepancy, process record, assembly, part, bin or lot" not in page
    factories.make_photo(edda)
    shown, attached = factories.make_photo(edda), factories.make_photo(edda)
    item = Area.objects.get().requirements.get(kind="photo")
    inspections.show_photo(by=edda, at=NOW, requirement=item, photo=shown)
    buildlog.attach_photos(by=edda, at=NOW, session=work.sessions(project).get(), photos=[attached])
    page = client.get(address("record", project)).content.decode()
    assert "1 photo on no session, gate, point, discrepancy, process record, assembly, part, bin or lot" in page


def test_the_page_of_a_photo_asks_where_it_stands_and_is_told():
    shop = Shop()
    photo = shop.show()
    session = factories.make_session(shop.edda, shop.assembly, photos=(photo,))
    client = factories.client_for(shop.edda)
    uses = address("photo_uses", shop.project, photo.pk)
    for name in ("photo", "photo_edit"):
        html = client.get(reverse(f"evidence:{name}", args=[shop.project.slug, photo.pk])).content.decode()
        assert f'hx-get="{uses}" hx-trigger="load"' in html
        assert f'href="{uses}"' in html
    piece = client.get(uses, headers={"HX-Request": "true"}).content.decode()
    assert piece.lstrip().startswith('<section class="sheet"')
    assert reverse("buildlog:session", args=[shop.project.slug, session.pk]) in piece
    assert reverse("inspections:area", args=[shop.project.slug, shop.area.pk]) in piece
    assert "item 1 Drain boss, sealed" in piece
    assert "Not covered by a signature" in piece
    assert "changed since signing" not in piece
    shop.answer()
    shop.sign()
    whole = client.get(uses).content.decode()
    assert "Covered by the signature of Hal Venning" in whole
    assert "Changing the caption will show as changed since signing." in whole


def test_a_photo_that_stands_nowhere_says_so_and_a_stranger_learns_nothing(shop):
    project, edda = shop
    photo = factories.make_photo(edda)
    uses = address("photo_uses", project, photo.pk)
    assert (
        "In no session, for no gate item, at no point and in no discrepancy."
        in factories.client_for(edda).get(uses).content.decode()
    )
    _, other = factories.make_project("Second hull")
    assert factories.client_for(other).get(uses).status_code == 404
    assert factories.client_for(other).get(address("photo_uses", other.project, photo.pk)).status_code == 404


def test_a_photo_says_on_which_things_it_is_placed(shop, tmp_path):
    project, edda = shop
    photo = work.photos_of(work.sessions(project).get())[0]
    lot, store = factories.make_lot(edda, "L-0310", name="Epoxy glue"), factories.make_bin(edda, "B2", name="Cloth")
    evidence.place_photo(by=edda, at=NOW, photo=photo, places=[lot, store])
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    assert set(facts["photos"][photo.label]["placed"]) == {
        "assembly 10 Hull",
        "lot L-0310 Epoxy glue",
        "bin B2 Cloth",
    }
    path = tmp_path / "record.pdf"
    pages.write_record(facts, path)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    assert "Placed on " in text and "lot L-0310 Epoxy glue" in text and "bin B2 Cloth" in text
