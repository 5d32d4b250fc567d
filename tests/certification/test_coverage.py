"""The evidence of tasks: what counts for which, both lists, paid help, and the number of queries."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Person
from buildlog import commands as work
from certification.commands import credit as commands
from certification.queries import credit as credit_queries
from certification.queries.coverage import Coverage, coverage, coverage_facts
from certification.rules import credit as rules
from evidence import commands as evidence
from inspections import commands as inspections
from tests.factories import (
    NOW,
    client_for,
    make_area,
    make_assembly,
    make_part,
    make_person,
    make_photo,
    make_project,
    make_session,
    worked,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def edda() -> Person:
    by = make_project()[1]
    one = credit_queries.starter()
    commands.take_up_list(
        by=by, at=NOW, project=by.project, title=one.title, edition="1", source="memory", sections=one.sections
    )
    return by


def give(by: Person, code: str, *places: Any, tenths: dict[str, int] | None = None) -> None:
    commands.give_credit(
        by=by, at=NOW, project=by.project, code=code, tenths=tenths or {"builder_fabrication": 10}, places=places
    )


def found(by: Person) -> Coverage:
    return coverage(by.project)


def test_sessions_photos_and_looks_become_evidence_by_themselves(edda: Person) -> None:
    hull = make_assembly(edda, "10", "Hull")
    below = make_assembly(edda, "11", "Bottom", parent=hull)
    elsewhere = make_assembly(edda, "20", "Wing")
    give(edda, "F1", hull)
    assert found(edda).by_code["F1"].grade.state == "none"

    jory = make_person(edda.project, name="Jory")
    at_work = make_photo(edda, builder_in_frame=True)
    make_session(
        edda,
        below,
        worked(edda),
        worked(jory),
        shares=((below, 1), (elsewhere, 3)),
        photos=[at_work],
        request_id="a-session",
    )
    held = found(edda).by_code["F1"]
    # Four hours of two people, a quarter of them here.
    assert [(one.name, one.role, one.seconds) for one in held.evidence.people] == [
        ("Edda Norrell", "builder", 1800),
        ("Jory", "helper", 1800),
    ]
    assert (held.evidence.sessions, held.evidence.photos, held.evidence.in_frame) == (1, 1, 1)
    assert held.grade.lacks == ("only one photo",)

    make_photo(edda, places=[below])
    assert found(edda).by_code["F1"].grade.state == "strong"

    roles = ("builder", "inspector")
    deck = make_assembly(edda, "13", "Deck", parent=hull)  # she did no work here, and is the builder all the same
    area = make_area(edda, deck, *({"kind": "signoff", "words": "Look", "role": role} for role in roles))
    assert found(edda).by_code["F1"].grade.lacks == ("no dated look by somebody else",)
    hal = make_person(edda.project, "inspector", name="Hal Venning")
    inspections.sign_area(by=edda, at=NOW + timedelta(minutes=1), area=area)
    assert found(edda).by_code["F1"].evidence.looks == 0  # her own look is nobody else's
    inspections.sign_area(by=hal, at=NOW + timedelta(hours=1), area=area)
    assert found(edda).by_code["F1"].grade.state == "strong"


def test_a_photo_counts_once_and_withdrawn_things_do_not(edda: Person) -> None:
    hull = make_assembly(edda, "10", "Hull")
    part = make_part(edda, hull)
    give(edda, "F1", hull, part)
    photo = make_photo(edda, places=[hull, part])
    session = make_session(edda, hull, photos=[photo])
    held = found(edda).by_code["F1"].evidence
    assert (held.photos, held.sessions, held.seconds) == (1, 1, 7200)
    work.withdraw_session(by=edda, at=NOW, session=session, reason="twice")
    evidence.withdraw_photo(by=edda, at=NOW, photo=photo, reason="blurred")
    assert not found(edda).by_code["F1"].evidence.any


def test_a_part_brings_its_photos_and_the_sessions_they_were_taken_in(edda: Person) -> None:
    wing = make_assembly(edda, "20", "Wing")
    spar, rib = make_part(edda, wing, "S-1"), make_part(edda, wing, "R-1")
    make_session(edda, wing, photos=[make_photo(edda, places=[spar])])
    make_session(edda, wing, worked(edda, NOW - timedelta(days=2)))
    give(edda, "W1", spar)
    give(edda, "W2", rib)
    give(edda, "W3", spar, rib, wing)
    by_code = found(edda).by_code
    assert (by_code["W1"].evidence.sessions, by_code["W1"].evidence.photos) == (1, 1)
    assert not by_code["W2"].evidence.any
    assert (by_code["W3"].evidence.sessions, by_code["W3"].evidence.seconds) == (2, 14400)


def test_both_lists_name_what_does_not_meet(edda: Person) -> None:
    hull, wing = make_assembly(edda, "10", "Hull"), make_assembly(edda, "20", "Wing")
    give(edda, "F1", hull)
    give(edda, "F2", tenths={"mfr": 10})
    make_session(edda, wing)
    both = found(edda)
    assert [one.line.code for one in both.without_evidence] == ["F1"]
    assert [str(one.assembly) for one in both.unclaimed] == ["20 Wing"]
    page = client_for(edda).get("/tarnwader-2/credit/evidence/").content.decode()
    assert f"/tarnwader-2/capture/{hull.pk}/" in page
    assert "/tarnwader-2/tray/" in page
    give(edda, "W1", wing)
    assert not found(edda).unclaimed


def test_paid_help_in_the_record_is_said_on_the_task_and_in_the_lists(edda: Person) -> None:
    """Rule R53: paid help cannot be hidden, neither by an empty column nor by tying nothing to its work."""
    gear = make_assembly(edda, "40", "Landing gear")
    rue = make_person(edda.project, "paid", name="Rue Tell")
    make_session(edda, gear, worked(rue))
    client = client_for(edda)
    assert [one.evidence.paid_seconds for one in found(edda).unclaimed] == [7200]
    assert "Paid help: 2.0 h" in client.get("/tarnwader-2/credit/evidence/").content.decode()
    give(edda, "L1", gear)
    held = found(edda).by_code["L1"]
    assert held.evidence.sessions == 0 and held.grade.state == "none"
    for path in ("", "evidence/", "task/L1/"):
        page = client.get(f"/tarnwader-2/credit/{path}").content.decode()
        assert "sessions of Rue Tell, paid help" in page, path
    assert coverage_facts(edda.project)["paid_help"][0]["code"] == "L1"
    commands.give_credit(
        by=edda,
        at=NOW,
        project=edda.project,
        code="L1",
        tenths={"commercial": 3, "builder_fabrication": 7},
        why="Rue welded the brackets",
    )
    assert not found(edda).with_hidden_help


def test_the_number_of_queries_does_not_grow_with_tasks_and_sessions(edda: Person) -> None:
    places = [make_assembly(edda, str(n), f"Assembly {n}") for n in range(10, 16)]

    def asked() -> int:
        with CaptureQueriesContext(connection) as spent:
            coverage_facts(edda.project)
        return len(spent)

    give(edda, "F1", places[0])
    make_session(edda, places[0], photos=[make_photo(edda, places=[places[0]])])
    make_area(edda, places[0])
    before = asked()
    for n, code in enumerate(list(rules.tasks(credit_queries.starter().sections))[1:60]):
        give(edda, code, places[n % 6], make_part(edda, places[n % 6]))
    for n, place in enumerate(places):
        make_session(edda, place, worked(edda, NOW - timedelta(days=n + 2)), photos=[make_photo(edda)])
        make_area(edda, place)
    assert asked() == before
    assert before <= 17
    facts = coverage_facts(edda.project)
    assert facts["claims"] == 60
    assert sum(facts["counts"].values()) == 60
