"""Taps on bonds and cure runs from phones: taken once, with the time of the tap; a refusal says what to do."""

from datetime import timedelta
from decimal import Decimal

import pytest

from buildlog.models import Receipt
from foundation.fields import new_key
from journal.models import Entry
from process.commands import bonds, common, cures
from process.models import Bond, CureRun
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project
from tests.process.shop import make_layup

pytestmark = pytest.mark.django_db


@pytest.fixture
def edda():  # noqa: ANN201
    return make_project()[1]


@pytest.fixture
def shell(edda):  # noqa: ANN001, ANN201
    return make_assembly(edda, "24.1", "Tip float, left")


@pytest.fixture
def bond(edda, shell) -> Bond:  # noqa: ANN001
    values = {"kind": "secondary", "had_peel_ply": "yes", "request_id": new_key()}
    return bonds.start_bond(by=edda, at=NOW, project=edda.project, assembly=shell, **values)


def run_of(edda, shell, **more) -> CureRun:  # noqa: ANN001, ANN003
    values = {"heat": "oven", "started_at": NOW, "unit": "C", "request_id": new_key()} | more
    return cures.start_run(by=edda, at=NOW, project=edda.project, assembly=shell, **values)


def minutes(count: int):  # noqa: ANN201
    return NOW + timedelta(minutes=count)


def tap(who, kind: str, at=NOW, request_id: str = "", **fields):  # noqa: ANN001, ANN003, ANN201
    """What the outbox posts; `ahead` 0 says that the phone's clock is right."""
    said = {"request_id": request_id or new_key(), "happened_at": str(round(at.timestamp() * 1000)), "ahead": "0"}
    slug = who.project.slug
    return client_for(who).post(f"/{slug}/captured/?kind={kind}", said | fields, headers={"accept": "application/json"})


def step(who, bond: Bond, name: str, at=NOW, request_id: str = ""):  # noqa: ANN001, ANN201
    return tap(who, "bond_step", at, request_id, bond=bond.pk, step=name)


# ---- Bonds


def test_steps_keep_the_time_of_their_tap_and_come_once(edda, bond) -> None:  # noqa: ANN001
    for at, name in enumerate(("peel_off_at", "abraded_at", "wiped_at", "on_at")):
        answers = [step(edda, bond, name, minutes(at * 20), f"tap-{name}") for _ in range(2)]
        assert [one.status_code for one in answers] == [201, 200]
    for _ in range(2):
        tap(edda, "bond_squeeze", minutes(70), "tap-squeeze", bond=bond.pk, squeeze_out="yes")
    bond.refresh_from_db()
    told = (bond.peel_off_at, bond.abraded_at, bond.wiped_at, bond.on_at)
    assert told == (NOW, minutes(20), minutes(40), minutes(60))
    assert bond.squeeze_out == "yes"
    entries = Entry.objects.filter(verb__startswith="bond.").exclude(verb="bond.begun")
    assert entries.count() == Receipt.objects.count() == 5


def test_a_wipe_that_comes_late_never_takes_the_place_of_a_later_one(edda, bond) -> None:  # noqa: ANN001
    step(edda, bond, "wiped_at", minutes(30))
    assert step(edda, bond, "wiped_at", minutes(10)).status_code == 201
    bond.refresh_from_db()
    assert bond.wiped_at == minutes(30)
    step(edda, bond, "wiped_at", minutes(40))
    bond.refresh_from_db()
    assert bond.wiped_at == minutes(40)


def test_a_wipe_from_before_the_adhesive_may_come_after_it(edda, bond) -> None:  # noqa: ANN001
    step(edda, bond, "on_at", minutes(60))
    assert step(edda, bond, "wiped_at", minutes(20)).status_code == 201
    after = step(edda, bond, "wiped_at", minutes(70))
    assert (after.status_code, "on already" in after.json()["error"]) == (422, True)


def test_a_step_told_twice_is_one_within_a_minute_and_a_question_after(edda, bond) -> None:  # noqa: ANN001
    step(edda, bond, "abraded_at", minutes(10))
    assert step(edda, bond, "abraded_at", minutes(10) + timedelta(seconds=40)).status_code == 201
    other = step(edda, bond, "abraded_at", minutes(25), "tap-other")
    assert other.status_code == 422
    assert "has abraded at" in other.json()["error"]
    assert "correct the bond" in other.json()["error"]
    bond.refresh_from_db()
    assert bond.abraded_at == minutes(10)
    assert not Receipt.objects.filter(pk="tap-other").exists()


def test_a_finished_bond_takes_the_tap_once_it_is_open_again(edda, bond) -> None:  # noqa: ANN001
    common.finish(bond, by=edda, at=minutes(50))
    for kind, fields in (("bond_step", {"step": "wiped_at"}), ("bond_squeeze", {"squeeze_out": "no"})):
        refused = tap(edda, kind, minutes(10), f"late-{kind}", bond=bond.pk, **fields)
        assert refused.status_code == 422
        assert "Open it again on its page" in refused.json()["error"]
    common.reopen(bond, by=edda, at=minutes(60), reason="Taps were still on a phone")
    assert step(edda, bond, "wiped_at", minutes(10), "late-bond_step").status_code == 201
    bond.refresh_from_db()
    assert bond.wiped_at == minutes(10)


def test_a_withdrawn_bond_says_what_to_type_elsewhere(edda, bond) -> None:  # noqa: ANN001
    common.withdraw(bond, by=edda, at=minutes(5), reason="Begun twice")
    refused = step(edda, bond, "wiped_at", minutes(3))
    assert refused.status_code == 422
    assert "B-1 was withdrawn" in refused.json()["error"]
    assert "type the time there: Last wipe, " in refused.json()["error"]
    assert not Receipt.objects.exists()


def test_a_bond_of_another_project_is_not_found(edda, bond) -> None:  # noqa: ANN001
    stranger = make_project("Another")[1]
    refused = step(stranger, bond, "wiped_at")
    assert (refused.status_code, "not in this project" in refused.json()["error"]) == (422, True)
    squeezed = tap(stranger, "bond_squeeze", bond=bond.pk, squeeze_out="yes")
    assert squeezed.status_code == 422
    again = step(edda, bond, "wiped_at", request_id="phone-tap-one")
    reused = tap(stranger, "bond_step", request_id="phone-tap-one", bond=bond.pk, step="wiped_at")
    assert (again.status_code, reused.status_code) == (201, 422)


def test_who_taps_must_be_allowed_to(edda, bond) -> None:  # noqa: ANN001
    jory = make_person(edda.project, "helper")
    refused = step(jory, bond, "wiped_at")
    assert (refused.status_code, "tell the builder" in refused.json()["error"]) == (422, True)
    assert step(make_person(edda.project, "inspector"), bond, "wiped_at").status_code == 403
    values = {"kind": "tape", "request_id": new_key()}
    own = bonds.start_bond(by=jory, at=NOW, project=edda.project, assembly=bond.assembly, **values)
    assert step(jory, own, "wiped_at").status_code == 201


@pytest.mark.parametrize("fields", [{}, {"step": "note"}, {"step": "wiped_at", "bond": "none"}])
def test_a_tap_that_says_nothing_is_refused(edda, bond, fields) -> None:  # noqa: ANN001
    assert tap(edda, "bond_step", **({"bond": bond.pk} | fields)).status_code == 422
    assert tap(edda, "bond_squeeze", bond=bond.pk, squeeze_out="perhaps").status_code == 422


# ---- Cure runs


def test_a_run_starts_and_stops_with_the_taps_and_once(edda, shell) -> None:  # noqa: ANN001
    layup = make_layup(edda, shell)
    form = {
        "assembly": shell.pk,
        "heat": "oven",
        "setpoint": "60",
        "cured": [f"layup:{layup.pk}"],
        "title": "Post-cure",
    }
    assert tap(edda, "cure_stop", minutes(90), "phone-stop-1", run="phone-run-1").status_code == 425
    first, again = (tap(edda, "cure_begun", NOW, "phone-run-1", **form) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    run = CureRun.objects.get()
    assert first.json()["run"] == run.pk
    assert first.json()["label"] == "C-1"
    assert first.json()["page"].endswith(f"/cures/{run.pk}/")
    assert (run.started_at, run.stopped_at, run.setpoint) == (NOW, None, "60 °C")
    assert [row.layup for row in run.cured.all()] == [layup]
    stops = [tap(edda, "cure_stop", minutes(90), "phone-stop-1", run="phone-run-1").status_code for _ in range(2)]
    assert stops == [201, 200]
    run.refresh_from_db()
    assert run.stopped_at == minutes(90)
    assert Entry.objects.filter(verb="cure.stopped").count() == 1


def test_a_time_that_was_typed_wins_over_the_tap(edda, shell) -> None:  # noqa: ANN001
    form = {"assembly": shell.pk, "heat": "lamp", "started_at": "2026-03-01T10:00:00"}
    assert tap(edda, "cure_begun", **form).status_code == 201
    run = CureRun.objects.get()
    assert f"{run.started_at.astimezone(edda.project.zone):%Y-%m-%d %H:%M}" == "2026-03-01 10:00"


def test_the_specification_is_that_of_the_run_the_form_named(edda, shell) -> None:  # noqa: ANN001
    named = run_of(edda, shell, low=Decimal(58), source="Resin sheet of 2025")
    run_of(edda, shell, low=Decimal(80), source="Another sheet")
    tap(edda, "cure_begun", assembly=shell.pk, heat="oven", like=named.pk, like_last="on")
    assert CureRun.objects.latest("number").low == 58
    tap(edda, "cure_begun", assembly=shell.pk, heat="oven")
    assert CureRun.objects.latest("number").low is None


def test_what_was_finished_or_withdrawn_meanwhile_lay_in_it_all_the_same(edda, shell) -> None:  # noqa: ANN001
    layup, part = make_layup(edda, shell), make_part(edda, shell)
    common.withdraw(layup, by=edda, at=NOW, reason="Begun twice")
    elsewhere = make_project("Another")[1]
    strange = make_part(elsewhere, make_assembly(elsewhere))
    form = {"assembly": shell.pk, "heat": "oven", "cured": [f"layup:{layup.pk}"], "cured_parts": [f"part:{part.pk}"]}
    assert tap(edda, "cure_begun", **form).status_code == 201
    rows = CureRun.objects.get().cured.all()
    assert {row.layup or row.part for row in rows} == {layup, part}
    for name in ("cured", "cured_parts"):
        assert tap(edda, "cure_begun", **(form | {name: [f"part:{strange.pk}"]})).status_code == 422
    assert tap(edda, "cure_begun", heat="oven", assembly=strange.assembly_id).status_code == 422
    assert CureRun.objects.count() == 1


def test_another_end_is_asked_about_and_the_same_one_is_not(edda, shell) -> None:  # noqa: ANN001
    run = run_of(edda, shell)
    tap(edda, "cure_stop", minutes(60), run=run.pk)
    assert tap(edda, "cure_stop", minutes(60) + timedelta(seconds=30), run=run.pk).status_code == 201
    other = tap(edda, "cure_stop", minutes(75), run=run.request_id)
    assert other.status_code == 422
    assert "has its heat off at" in other.json()["error"]
    run.refresh_from_db()
    assert run.stopped_at == minutes(60)


def test_a_stop_is_refused_with_what_to_do(edda, shell) -> None:  # noqa: ANN001
    run = run_of(edda, shell)
    early = tap(edda, "cure_stop", minutes(-5), run=run.pk)
    assert (early.status_code, "Correct the run, then send this again" in early.json()["error"]) == (422, True)
    cures.finish_run(run, by=edda, at=minutes(100))
    late = tap(edda, "cure_stop", minutes(60), run=run.pk)
    assert (late.status_code, "Open it again on its page" in late.json()["error"]) == (422, True)
    common.withdraw(run, by=edda, at=minutes(100), reason="Begun twice")
    gone = tap(edda, "cure_stop", minutes(60), run=run.pk)
    assert (gone.status_code, "type the time there: Heat off" in gone.json()["error"]) == (422, True)
    stranger = make_project("Another")[1]
    assert tap(stranger, "cure_stop", minutes(60), run=run.pk).status_code == 425
    assert tap(edda, "cure_stop", minutes(60)).status_code == 422
    run.refresh_from_db()
    assert run.stopped_at is None
