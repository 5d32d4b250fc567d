"""A remark for oneself: seen by whoever may change the session, told nowhere else (R61)."""

import pytest

from archive.queries import whole
from buildlog import queries as work
from journal.models import Entry
from tests.factories import client_for, make_assembly, make_person, make_project, make_session

pytestmark = pytest.mark.django_db

PRIVATE = "Ask the neighbor about the drill press"


@pytest.fixture
def shop():
    project, edda = make_project()
    return project, edda, make_session(edda, make_assembly(edda), note="Faired", private_note=PRIVATE)


def test_only_who_may_change_the_session_reads_it(shop) -> None:
    project, edda, session = shop
    page = f"/{project.slug}/sessions/{session.pk}/"
    assert PRIVATE in client_for(edda).get(page).content.decode()
    for role in ("helper", "inspector", "reader"):
        told = client_for(make_person(project, role, name=f"A {role}")).get(page).content.decode()
        assert "Faired" in told and PRIVATE not in told


def test_no_history_list_or_table_tells_it(shop) -> None:
    project, edda, session = shop
    entry = Entry.objects.get(subject=session.subject)
    assert PRIVATE in entry.state
    client, slug = client_for(edda), project.slug
    for page in (
        f"/{slug}/journal/{session.subject}/",
        f"/{slug}/sessions/",
        f"/{slug}/hours/hours.csv?table=sessions",
    ):
        answer = client.get(page)
        assert answer.status_code == 200, page
        told = b"".join(answer) if answer.streaming else answer.content
        assert PRIVATE not in told.decode()


def test_the_form_keeps_it_and_the_record_stays_whole(shop) -> None:
    project, edda, session = shop
    page = f"/{project.slug}/sessions/{session.pk}/edit/"
    assert PRIVATE in client_for(edda).get(page).content.decode()
    assert whole.faults(project) == []
    assert work.sessions(project).get(pk=session.pk).private_note == PRIVATE


def test_a_session_without_one_reads_as_before_there_were_any(shop) -> None:
    _, edda, _ = shop
    assert "private_note" not in make_session(edda, make_assembly(edda)).state()
