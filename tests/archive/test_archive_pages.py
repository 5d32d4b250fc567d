"""The journal, the history of one record, and the health page."""

from datetime import timedelta
from io import BytesIO
from random import Random

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from archive import commands, rules
from archive.models import Verification
from archive.queries import story
from archive.queries.health import health
from buildlog import commands as buildlog
from evidence.commands import keep_document
from inspections import commands as inspections
from inspections.commands import visits
from journal.models import Entry
from journal.queries import head
from process.commands import common
from process.models import CureRun, Layup, Mix
from tests import factories
from tests.archive import honest
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    project, edda = factories.make_project()
    assembly = factories.make_assembly(edda, "24.1", "Tip float, left")
    session = factories.make_session(edda, assembly, note="Bonded strut block")
    return project, edda, assembly, session


def get(person, name, *more, **query):
    response = factories.client_for(person).get(reverse(f"archive:{name}", args=[person.project.slug, *more]), query)
    assert response.status_code == 200
    return response.content.decode()


def corrected(edda, session, **words):
    return buildlog.correct_session(
        by=edda,
        at=NOW,
        session=session,
        worked=(factories.worked(edda, minutes=90),),
        shares=[(share.assembly, share.weight) for share in session.shares.all()],
        reason="Read the clock wrong",
        **words,
    )


def test_the_journal_tells_each_entry_in_words(shop):
    project, edda, _, session = shop
    html = get(edda, "journal")
    for words in (
        "Session logged",
        "Session 1",
        "Assembly 24.1 Tip float, left",
        "Project founded",
        head(project.pk).short_digest,
    ):
        assert words in html
    assert "buildlog.worksession:" in html  # in the link to the history, nowhere else
    assert f">{session.subject}<" not in html


def test_the_journal_can_show_one_kind(shop):
    _, edda, _, _ = shop
    html = get(edda, "journal", kind="parts.assembly")
    assert "Assembly added" in html
    assert "Session logged" not in html
    assert "Session logged" in get(edda, "journal", kind="nonsense")


def test_a_long_journal_has_pages(shop):
    _, edda, assembly, _ = shop
    for number in range(60):
        factories.make_part(edda, assembly, f"N-{number}")
    assert "Page 1 of 2" in get(edda, "journal")
    assert "Project founded" in get(edda, "journal", page=2)


def test_a_history_strikes_old_values_and_says_why(shop):
    _, edda, _, session = shop
    corrected(edda, session, note="Bonded strut block and boss")
    html = get(edda, "history", session.subject)
    assert '<span class="only-heard">was </span><del>Bonded strut block</del>' in html
    assert "Bonded strut block and boss</ins>" in html
    assert "Reason: Read the clock wrong" in html
    assert "2:00 h</del>" in html


def test_a_history_names_records_and_choices_and_local_times(shop):
    project, _, _, session = shop
    with timezone.override(project.zone):
        told = story.history(project, session.subject)
    values = {change.label: change.after for change in told.steps[0].changes}
    assert (values["Kind"], values["Entered by"]) == ("Labor", "Edda Norrell")
    assert values["Edda Norrell"] == "14 May 2026, 08:00 to 10:00"
    assert values["24.1 Tip float, left"] == "share 1, 2:00 h"


def test_a_history_tells_changes_inside_parts(shop):
    project, edda, _, _ = shop
    area = factories.make_area(edda, factories.make_assembly(edda))
    check = area.requirements.get(kind="check")
    inspections.answer_check(by=edda, at=NOW, requirement=check, answer="yes")
    step = story.history(project, area.subject).steps[0]
    assert [(change.label, change.before, change.after) for change in step.changes] == [
        (f"Item {check.position} {check.words}, answer", "", "Yes")
    ]


def test_a_withdrawn_record_says_so(shop):
    _, edda, _, session = shop
    buildlog.withdraw_session(by=edda, at=NOW, session=session, reason="Entered twice")
    html = get(edda, "history", session.subject)
    assert "This record is kept" in html
    assert "Entered twice" in html
    assert "Open the record" not in html


def test_a_history_survives_a_kind_of_record_that_the_program_no_longer_has(shop):
    project, edda, _, _ = shop
    for subject, state in (("gone.thing:1", '{"a":[1],"b":null}'), ("parts.part:1", "not json")):
        Entry(
            project=project.pk,
            seq=head(project.pk).seq + 1,
            at=NOW,
            by=edda.pk,
            by_name="x",
            verb="thing.made",
            subject=subject,
            state=state,
            previous="",
            digest="",
        ).save()
        assert subject in get(edda, "history", subject)


@pytest.mark.parametrize("subject", ["buildlog.worksession:nothing", "nonsense"])
def test_an_unknown_record_is_not_found(shop, subject):
    project, edda, _, _ = shop
    assert factories.client_for(edda).get(reverse("archive:history", args=[project.slug, subject])).status_code == 404


def test_nobody_reads_the_journal_of_another_project(shop):
    project, _, _, session = shop
    _, other = factories.make_project("Second hull")
    client = factories.client_for(other)
    assert client.get(reverse("archive:journal", args=[project.slug])).status_code == 404
    assert client.get(reverse("archive:history", args=[project.slug, session.subject])).status_code == 404
    assert client.get(reverse("archive:history", args=[other.project.slug, session.subject])).status_code == 404


def test_every_record_has_a_title_and_every_kind_a_filter():
    from archive.queries import whole

    models = whole.root_models()
    assert all(model.TELLING.name for model in models)
    assert {model._meta.label_lower for model in models} <= set(rules.KINDS)


# ---- health ----


def test_the_health_page_tells_how_the_installation_is(shop, client):
    project, edda, _, _ = shop
    factories.make_photo(edda)
    html = factories.client_for(edda).get(reverse("archive:health")).content.decode()
    for words in ("Worker", "Free on the disk", "1 photo,", head(project.pk).short_digest, "manage.py verify"):
        assert words in html
    assert client.get(reverse("archive:health")).status_code == 302


def test_the_health_page_counts_photos_and_documents_with_their_bytes(shop):
    project, edda, *_ = shop
    other = factories.make_project("Other")[1]
    for person, size in ((edda, 40_000), (edda, 2_000), (other, 900_000)):
        paper = {"file": BytesIO(b"x" * size), "name": "a.txt", "kind": "other", "title": "Paper"}
        keep_document(by=person, at=NOW, project=person.project, **paper)
    photo = factories.make_photo(edda)
    found = health(edda.user, NOW)
    assert (found.photos, found.documents) == (1, 2)
    assert found.originals_size == photo.size + 42_000
    html = factories.client_for(edda).get(reverse("archive:health")).content.decode()
    assert f"1 photo, 2 documents, {found.originals_words}" in html


def test_the_health_page_names_no_project_of_others(shop):
    _, other = factories.make_project("Second hull")
    html = factories.client_for(other).get(reverse("archive:health")).content.decode()
    assert "Second hull" in html
    assert "Tarnwader 2" not in html
    assert "0 photos" in html


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (0, "0 bytes"),
        (999, "999 bytes"),
        (1000, "1.0 kB"),
        (2_500_000, "2.5 MB"),
        (7_100_000_000, "7.1 GB"),
        (3 * 10**12, "3.0 TB"),
    ],
)
def test_sizes_in_words(size, words):
    assert rules.size_words(size) == words


# ---- checks ----


def check_page(person, run, name="check"):
    return factories.client_for(person).get(reverse(f"archive:{name}", args=[person.project.slug, run.pk]))


def test_the_health_page_says_that_a_record_was_never_checked(shop):
    _, edda, _, _ = shop
    html = factories.client_for(edda).get(reverse("archive:health")).content.decode()
    assert "Never checked" in html
    assert "Check the record now" in html


def test_a_check_from_the_health_page_is_carried_out_and_shown(shop, django_capture_on_commit_callbacks):
    project, edda, _, _ = shop
    with django_capture_on_commit_callbacks(execute=True):
        response = factories.client_for(edda).post(reverse("archive:check_new", args=[project.slug]))
    run = Verification.objects.get()
    assert response.url == reverse("archive:check", args=[project.slug, run.pk])
    html = check_page(edda, run).content.decode()
    assert "The record is whole" in html
    assert head(project.pk).short_digest in html
    assert "hx-get" not in html
    text = check_page(edda, run, "check_report")
    assert text["Content-Type"] == "text/plain; charset=utf-8"
    assert "Found  nothing: the record is whole" in text.content.decode()
    html = factories.client_for(edda).get(reverse("archive:health")).content.decode()
    assert "Whole" in html
    assert "Never checked" not in html


def test_the_faults_of_a_check_are_named_with_what_to_do(shop, django_capture_on_commit_callbacks):
    project, edda, assembly, _ = shop
    type(assembly).objects.update(name="Tip <float>, right")
    with django_capture_on_commit_callbacks(execute=True):
        factories.client_for(edda).post(reverse("archive:check_new", args=[project.slug]))
    html = check_page(edda, Verification.objects.get()).content.decode()
    assert "Assembly 24.1 Tip float, left: name changed outside the program." in html
    assert "What to do" in html
    assert "1 fault</span>" in factories.client_for(edda).get(reverse("archive:health")).content.decode()


def test_a_check_under_way_is_shown_and_no_second_one_begins(shop):
    project, edda, _, _ = shop
    client = factories.client_for(edda)
    client.post(reverse("archive:check_new", args=[project.slug]))
    client.post(reverse("archive:check_new", args=[project.slug]))
    run = Verification.objects.get()
    html = check_page(edda, run).content.decode()
    assert "Waits for the worker" in html
    assert "hx-get" in html
    Verification.objects.update(heard_at=timezone.now(), chapter="originals", done=3, total=9)
    assert "Originals: 3 of 9 read." in check_page(edda, run).content.decode()
    assert "A check is under way" in client.get(reverse("archive:health")).content.decode()
    assert check_page(edda, run, "check_report").status_code == 404


def test_a_check_that_was_broken_off_says_nothing_about_the_record(shop):
    project, edda, _, _ = shop
    run = commands.begin_check(project=project.pk, at=timezone.now() - timedelta(hours=2))
    assert "Broken off" in check_page(edda, run).content.decode()  # it never told anything
    Verification.objects.update(heard_at=timezone.now(), broken_off_at=timezone.now())
    assert "Broken off" in check_page(edda, run).content.decode()
    html = factories.client_for(edda).get(reverse("archive:health")).content.decode()
    assert "Never checked" in html
    assert "broken off" in html


def test_an_old_check_is_told_to_be_old(shop):
    project, edda, _, _ = shop
    run = commands.begin_check(project=project.pk, at=timezone.now() - timedelta(days=40))
    Verification.objects.update(heard_at=run.started_at, ended_at=run.started_at)
    assert "More than a month ago" in factories.client_for(edda).get(reverse("archive:health")).content.decode()


def test_only_who_manages_asks_for_a_check_and_members_read_it(shop):
    project, edda, _, _ = shop
    helper = factories.make_person(project)
    _, stranger = factories.make_project("Second hull")
    address = reverse("archive:check_new", args=[project.slug])
    assert factories.client_for(helper).post(address).status_code == 403
    assert factories.client_for(stranger).post(address).status_code == 404
    assert factories.client_for(edda).get(address).status_code == 405
    run = commands.begin_check(project=project.pk, at=timezone.now())
    assert check_page(helper, run).status_code == 200
    elsewhere = factories.client_for(stranger)
    assert elsewhere.get(reverse("archive:check", args=[project.slug, run.pk])).status_code == 404
    assert elsewhere.get(reverse("archive:check", args=[stranger.project.slug, run.pk])).status_code == 404


def test_the_newest_runs_are_kept(shop):
    project, _, _, _ = shop
    for number in range(commands.KEPT + 3):
        commands.begin_check(project=project.pk, at=timezone.now() + timedelta(minutes=number))
    assert Verification.objects.count() == commands.KEPT


# ---- histories of points, discrepancies, visits, closure lists, process records ----


def correct_one(model):
    return lambda h: common.correct_fields(h.any(h.rows(model)), **h.by, reason=h.words, note="Weighed on S2")


def withdraw_one(model):
    return lambda h: common.withdraw(h.any(h.rows(model)), **h.by, reason=h.words)


@pytest.mark.parametrize(
    ("add", "correct", "withdraw", "told"),
    [
        (honest.add_point, honest.correct_point, honest.withdraw_point, "Point withdrawn"),
        (honest.find, honest.correct_discrepancy, honest.withdraw_discrepancy, "Discrepancy withdrawn"),
        (honest.add_list, honest.correct_list, honest.withdraw_list, "Closure list withdrawn"),
        (honest.start_layup, correct_one(Layup), withdraw_one(Layup), "Layup withdrawn"),
        (honest.record_mix, correct_one(Mix), withdraw_one(Mix), "Mix withdrawn"),
        (honest.start_cure, correct_one(CureRun), withdraw_one(CureRun), "Cure withdrawn"),
    ],
)
def test_each_kind_of_record_shows_its_corrections_struck_and_that_it_was_withdrawn(shop, add, correct, withdraw, told):
    project, edda, _, _ = shop
    history = honest.History(Random(2), project)
    record = add(history)
    correct(history)
    corrected = head(project.pk)
    html = get(edda, "history", record.subject)
    assert "<del>" in html or "Weighed on S2" in html
    assert escape(f"Reason: {corrected.reason}") in html
    assert f"{corrected.at.astimezone(project.zone):%-d %b %Y, %H:%M}, Edda Norrell" in html
    withdraw(history)
    html = get(edda, "history", record.subject)
    assert told in html
    assert "This record is kept" in html
    assert "Open the record" not in html


def test_the_history_of_a_visit_tells_its_openings_and_its_end(shop):
    project, edda, _, _ = shop
    history = honest.History(Random(3), project)
    honest.add_area(history)
    visit = honest.make_visit(history)
    visits.opened(visit=visit, at=history.clock, device="Phone, Firefox")
    visits.revoke(by=edda, at=history.clock, visit=visit, reason="Sent to the wrong man")
    html = get(edda, "history", visit.subject)
    acts = ("Visit link made", "Visit link opened", "Visit link taken back")
    for words in (*acts, "Phone, Firefox", "Sent to the wrong man"):
        assert words in html
    assert visit.digest not in html
