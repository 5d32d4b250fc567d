"""Own values in place of built-in ones, each with its source."""

from decimal import Decimal

import pytest

from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import layups, mixes, own
from process.commands.common import finish
from process.models import HouseValue
from process.queries import layups as queries
from process.queries.own import own_values
from process.rules.usual import USUAL
from tests.factories import NOW, client_for, make_assembly, make_person, make_project
from tests.process.shop import make_layup, make_mix

pytestmark = pytest.mark.django_db


@pytest.fixture
def edda():
    return make_project()[1]


def put(by, key="vacuum_least_inhg", value="25", source="prepreg sheet 7", **more):
    return own.set_value(by=by, at=NOW, project=by.project, key=key, value=Decimal(value), source=source, **more)


def test_every_built_in_value_names_its_source() -> None:
    assert all(value.source and value.words and value.value > 0 for value in USUAL.values())


def test_an_own_value_turns_the_verdict_and_stands_beside_it(edda) -> None:
    layup = layups.tell_moment(make_layup(edda, make_assembly(edda)), by=edda, at=NOW, vacuum="24 inHg")
    (before,) = [one for one in queries.verdicts(layup) if one.about == "Bag vacuum"]
    put(edda)
    (after,) = [one for one in queries.verdicts(layup) if one.about == "Bag vacuum"]
    assert before.good and after.bad
    assert any("own value: prepreg sheet 7" in line for line in after.lines)


def test_an_own_value_changes_with_a_reason_and_goes_with_one(edda) -> None:
    row = put(edda)
    assert put(edda).pk == row.pk
    with pytest.raises(Refusal) as no:
        put(edda, value="24")
    assert no.value.field == "reason"
    put(edda, value="24", reason="sheet of 2027")
    own.take_away_value(by=edda, at=NOW, row=HouseValue.objects.get(), reason="another resin")
    assert own_values(edda.project) == {}
    assert Entry.objects.filter(subject=row.subject).count() == 3
    put(edda)


def test_finished_records_that_another_value_turns_are_shown_before_it_counts(edda) -> None:
    mix = make_mix(edda, make_assembly(edda), "100.0 g", "27.6 g", window_percent=None)
    mixes.spread_mix(mix, by=edda, at=NOW, spread_at=NOW)
    finish(mix, by=edda, at=NOW)
    client, page = client_for(edda), "/tarnwader-2/own-values/mix_window_percent/"
    said = {"value": "1", "source": "resin sheet, rev. D"}
    shown = client.post(page, said)
    assert shown.status_code == 200
    assert "1 finished record would be judged otherwise" in shown.content.decode()
    assert mix.label in shown.content.decode()
    assert own_values(edda.project) == {}
    assert client.post(page, said | {"sure": "1"}).status_code == 302
    away = f"{page}away/"
    assert "1 finished record" in client.post(away, {"reason": "another resin"}).content.decode()
    assert client.post(away, {"reason": "", "sure": "1"}).status_code == 422
    assert client.post(away, {"reason": "another resin", "sure": "1"}).status_code == 302
    assert own_values(edda.project) == {}


def test_a_value_that_turns_nothing_counts_at_once(edda) -> None:
    assert (
        client_for(edda)
        .post("/tarnwader-2/own-values/vacuum_least_inhg/", {"value": "25", "source": "prepreg sheet 7"})
        .status_code
        == 302
    )


@pytest.mark.parametrize(
    ("key", "value", "source"),
    [
        ("vacuum_least_inhg", "25", " "),
        ("vacuum_least_inhg", "0", "sheet"),
        ("nothing_of_the_kind", "1", "sheet"),
        ("fiber_mass_fraction", "50", "sheet"),
        ("drop_most_percent", "101", "sheet"),
    ],
)
def test_what_cannot_be_is_refused(edda, key: str, value: str, source: str) -> None:
    with pytest.raises(Refusal):
        put(edda, key, value, source)


def test_the_builder_replaces_values_and_others_read_them(edda) -> None:
    client, url = client_for(edda), "/tarnwader-2/own-values/"
    assert "FAA AC 43.13-1B para 3-4" in client.get(url).content.decode()
    page = f"{url}vacuum_least_inhg/"
    assert client.post(page, {"value": "25", "source": ""}).status_code == 422
    assert client.post(page, {"value": "25", "source": "prepreg sheet 7"}).status_code == 302
    assert "Own value: prepreg sheet 7" in client.get(url).content.decode()
    assert client.post(page, {"value": "24", "source": "prepreg sheet 8"}).status_code == 422
    assert client.post(f"{page}away/", {"reason": "another resin"}).status_code == 302
    assert client.get(f"{page}away/").status_code == 404
    assert client.get(f"{url}nothing/").status_code == 404
    helper = client_for(make_person(edda.project))
    assert helper.get(url).status_code == 200
    assert helper.get(page).status_code == 403
