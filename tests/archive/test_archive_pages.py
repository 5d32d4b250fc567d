"""The journal, the history of one record, and the health page."""

import pytest
from django.urls import reverse
from django.utils import timezone

from archive import rules
from archive.queries import story
from buildlog import commands as buildlog
from inspections import commands as inspections
from journal.models import Entry
from journal.queries import head
from tests import factories
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
