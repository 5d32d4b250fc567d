"""The missing list: complete, in the order in which the builder can act, each line with the way to supply it."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from inspections import rules
from inspections.commands import discrepancies, points
from inspections.queries import missing
from inspections.rules import Asked, InnerFacts, PhotoFacts, RecordFacts, SignatureFacts, Wait
from inspections.rules.missing import ACT, BUTTON, ORDER, TOGETHER, Way, lacking, since_closing
from tests.factories import NOW, client_for, make_area, make_part, make_person
from tests.inspections.shop import LATER, Shop

HOUR = timedelta(hours=1)


def photo(number: int, hours: int, withdrawn: bool) -> PhotoFacts:
    return PhotoFacts(f"p{number}", f"P-{number}", NOW + hours * HOUR, "camera", NOW + hours * HOUR, withdrawn)


def fill(kind: str, position: int, good: bool, hours: int) -> Asked:
    """An item of this kind, supplied or not."""
    at = NOW + hours * HOUR
    supplied = {
        rules.PHOTO: {"photos": (photo(position, hours, withdrawn=not good),)},
        rules.CHECK: {"answer": "yes" if good else "no", "answered_at": at},
        rules.MEASURE: {"value": Decimal(2 if good else 9), "answered_at": at},
        rules.COUNT: {"number_in": 4, "number_out": 4 if good else 3, "answered_at": at},
        rules.PROCESS: {"records": (RecordFacts("r", "B-1", rules.GOOD if good else rules.BAD, at),)},
        rules.INNER: {"inner": InnerFacts("C2 Box", good)},
        rules.SIGN_OFF: {"signatures": (SignatureFacts("s", "inspector", at, () if good else ("caption",)),)},
    }[kind]
    limits = {"low": Decimal(1), "high": Decimal(3)} if kind == rules.MEASURE else {}
    role = "inspector" if kind == rules.SIGN_OFF else ""
    return Asked(f"k{position}", position, kind, f"Thing {position}", role=role, **limits, **supplied)


ITEMS = st.lists(st.tuples(st.sampled_from(list(rules.KINDS)), st.booleans(), st.integers(0, 4)), max_size=8)
WAITS = st.lists(st.sampled_from([rules.DISCREPANCY, rules.POINT]), max_size=3)


@st.composite
def gates(draw) -> rules.Gate:  # noqa: ANN001
    asked = [fill(kind, number, good, hours) for number, (kind, good, hours) in enumerate(draw(ITEMS), start=1)]
    waits = [Wait(kind, f"w{number}", f"W-{number}", "something") for number, kind in enumerate(draw(WAITS))]
    closed = draw(st.sampled_from([None, NOW + 2 * HOUR, NOW + 9 * HOUR]))
    since = draw(st.sampled_from([None, NOW + HOUR]))
    return rules.gate(asked, worked=draw(st.booleans()), since=since, closed_at=closed, waits=waits)


@given(gates())
def test_the_list_is_empty_just_when_the_gate_may_be_closed_or_is_closed_whole(gate: rules.Gate) -> None:
    closed_whole = gate.state in {rules.CLOSED, rules.ADVISED} and not gate.lost
    assert (not lacking(gate)) == (gate.may_close or closed_whole)


@given(gates())
def test_every_missing_thing_has_one_line_with_a_way_and_words(gate: rules.Gate) -> None:
    lines = lacking(gate)
    assert {line.key for line in lines if line.key} == {i.asked.key for i in gate.missing} | {w.key for w in gate.waits}
    assert len(lines) == len(gate.missing) + len(gate.waits) + (not gate.items and not gate.lost and not closed(gate))
    assert all(line.words and line.button and line.act for line in lines)


def closed(gate: rules.Gate) -> bool:
    return gate.state in {rules.CLOSED, rules.ADVISED}


@given(gates())
def test_what_stops_comes_first_then_what_vanishes_and_people_sign_last(gate: rules.Gate) -> None:
    places = [ORDER.index(TOGETHER.get(line.way, line.way)) for line in lacking(gate)]
    assert places == sorted(places)
    if not closed(gate):
        ways = [line.way for line in lacking(gate)]
        assert Way.REOPEN not in ways and Way.SEND not in ways
        if Way.SIGN in ways:
            assert set(ways[ways.index(Way.SIGN) :]) == {Way.SIGN}


@given(gates())
def test_at_a_closed_area_nothing_is_offered_that_would_be_refused(gate: rules.Gate) -> None:
    if closed(gate):
        assert {line.way for line in lacking(gate)} <= {Way.SEND, Way.REOPEN, Way.CORRECT, Way.RELEASE}


def test_every_way_has_an_act_a_button_and_a_place() -> None:
    assert set(ACT) == set(BUTTON) == set(Way)
    assert {TOGETHER.get(way, way) for way in Way} == set(ORDER)


def test_what_was_told_when_it_was_closed_is_no_news() -> None:
    assert since_closing(["1 Boss", "2 Vacuumed", "D-3 Crack"], ["2 Vacuumed"]) == ["1 Boss", "D-3 Crack"]


# ---- for a person ----

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return Shop()


def furnished(shop: Shop) -> None:
    """A gate that lacks one thing of each kind, and two things below that stop it."""
    inner = make_area(shop.edda, shop.assembly, number="24.1-C2", name="Box")
    shop.area = make_area(
        shop.edda,
        shop.assembly,
        {"kind": "signoff", "words": "Inspector", "role": "inspector"},
        {"kind": "inner", "words": "Box closed", "inner": inner},
        {"kind": "count", "words": "Tools out"},
        {"kind": "measure", "words": "Gap", "low": Decimal(1), "high": Decimal(3), "unit": "mm"},
        {"kind": "check", "words": "Vacuumed"},
        {"kind": "photo", "words": "Drain boss"},
        number="24.1-C3",
    )
    found = {"words": "Dry fibers", "severity": "major", "blocks": True}
    discrepancies.find(by=shop.edda, at=NOW, project=shop.project, assembly=shop.assembly, **found)
    hold = {"kind": "hold", "words": "Strut bond", "role": "inspector"}
    points.add_point(by=shop.edda, at=NOW, project=shop.project, assembly=shop.assembly, **hold)


def test_a_gate_lists_everything_in_the_order_in_which_it_can_be_supplied(shop: Shop) -> None:
    furnished(shop)
    lines = missing.lines(shop.now, shop.edda)
    words = ["Dry fibers", "Strut bond", "Drain boss", "Tools out", "Gap", "Vacuumed", "Box closed", "Inspector"]
    assert [line.lack.words for line in lines] == words


def test_each_line_leads_the_builder_to_a_page_that_supplies_it(shop: Shop) -> None:
    furnished(shop)
    client = client_for(shop.edda)
    for line in missing.lines(shop.now, shop.edda):
        if line.may:
            answer = client.post(line.url, {"answer": "yes"}) if line.is_yes else client.get(line.url)
            assert answer.status_code in {200, 302}, line.url
        else:
            assert line.lack.way is Way.SIGN and line.who == "To be signed by an inspector, when all else is in place"


@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_nobody_gets_a_button_for_what_he_may_not_do(shop: Shop, role: str) -> None:
    furnished(shop)
    member = shop.hal if role == "inspector" else make_person(shop.project, role)
    client = client_for(member)
    for line in missing.lines(shop.now, member):
        assert line.may or line.who
        if line.may and not line.is_yes:
            assert client.get(line.url).status_code == 200, line.url
        if role != "helper":
            assert line.may == line.stops or line.lack.way is Way.INNER


def test_a_yes_from_the_shop_goes_back_to_the_shop(shop: Shop) -> None:
    client = client_for(shop.edda)
    url = shop.url("item_answer", shop.area.pk, shop.item(2).pk)
    home = f"/{shop.project.slug}/"
    assert client.post(url, {"answer": "yes", "next": home}).headers["Location"] == home
    evil = client.post(url, {"answer": "no", "next": "https://elsewhere.example/"})
    assert evil.headers["Location"] == shop.url("area")


# ---- panels ----


def panel(client: Client, shop: Shop, name: str, key: str, *, htmx: bool = False):  # noqa: ANN202
    return client.get(shop.url(name, key), headers={"HX-Request": "true"} if htmx else {})


@pytest.mark.parametrize("htmx", [False, True])
def test_the_panels_tell_what_is_missing_on_an_assembly_and_for_a_part(shop: Shop, *, htmx: bool) -> None:
    part = make_part(shop.edda, shop.assembly)
    for name, key in (("lacking_panel", shop.assembly.pk), ("part_panel", part.pk)):
        page = panel(client_for(shop.edda), shop, name, key, htmx=htmx).content.decode()
        assert "Drain boss, sealed" in page and ("<html" in page) != htmx


def test_the_panels_of_another_project_are_not_found(shop: Shop) -> None:
    other = Shop()
    part = make_part(other.edda, other.assembly)
    for name, key in (("lacking_panel", other.assembly.pk), ("part_panel", part.pk)):
        assert panel(client_for(shop.edda), shop, name, key).status_code == 404
        assert panel(client_for(shop.edda), other, name, key).status_code == 404


def test_a_closed_area_whose_photo_was_withdrawn_says_so_beside_its_closing(shop: Shop) -> None:
    from evidence.commands import withdraw_photo

    shown = shop.supply()
    shop.sign()
    shop.close()
    withdraw_photo(by=shop.edda, at=LATER + 3 * HOUR, photo=shown, reason="Of another float")
    page = client_for(shop.edda).get(shop.url("area")).content.decode()
    assert "Closed. Not in place any more:" in page and "1 Drain boss, sealed" in page
    assert [line.lack.way for line in missing.lines(shop.now, shop.edda)] == [Way.SEND, Way.REOPEN]
