"""Loading cases: extremes against a search through all loadings in steps, and what holds of any aircraft."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import loading
from calc.loading import Aircraft, Envelope, Loading
from calc.trouble import Impossible

STEPS = 6
arms = st.integers(-40, 160).map(Fraction)


@st.composite
def aircraft(draw: st.DrawFn) -> Aircraft:
    """An aircraft with up to four items; its limit of weight lies anywhere above its least load."""
    items = []
    for number in range(draw(st.integers(0, 4))):
        low = draw(st.integers(0, 60))
        items.append(loading.item(f"I{number}", draw(arms), low + draw(st.integers(0, 120)), low))
    lightest = 600 + sum((one.least for one in items), Fraction(0))
    return loading.aircraft(600, draw(arms), items, lightest + draw(st.integers(0, 300)))


def every_loading(craft: Aircraft) -> list[Loading]:
    """Loadings in even steps of every item that keep to the most weight."""
    steps = [[one.least + (one.most - one.least) * n / STEPS for n in range(STEPS + 1)] for one in craft.items]
    found = []
    for weights in product(*steps):
        aboard = dict(zip((one.name for one in craft.items), weights, strict=True))
        one = loading.case(craft, aboard)
        if one.weight <= craft.most:
            found.append(one)
    return found


@settings(max_examples=60, deadline=None)
@given(aircraft())
def test_no_loading_is_further_forward_or_aft_than_the_extremes(craft: Aircraft) -> None:
    forward, aft = loading.most_forward(craft), loading.most_aft(craft)
    arms_ = [one.arm for one in every_loading(craft)]
    assert forward.arm <= min(arms_) and max(arms_) <= aft.arm


@settings(max_examples=60, deadline=None)
@given(aircraft())
def test_the_extremes_can_really_be_loaded(craft: Aircraft) -> None:
    for extreme in (loading.most_forward(craft), loading.most_aft(craft)):
        assert extreme == loading.case(craft, dict(extreme.weights))
        assert extreme.weight <= craft.most
        aboard = dict(extreme.weights)
        assert all(one.least <= aboard[one.name] <= one.most for one in craft.items)


@settings(max_examples=40, deadline=None)
@given(aircraft())
def test_where_the_most_weight_does_not_bind_the_extremes_are_those_of_full_and_least(
    craft: Aircraft,
) -> None:
    """Without the limit an extreme holds each item at its least or its most, so that search is whole."""
    free = loading.aircraft(craft.weight, craft.arm, craft.items, 10_000)
    ends = [
        loading.case(free, dict(zip((one.name for one in free.items), weights, strict=True)))
        for weights in product(*[(one.least, one.most) for one in free.items])
    ]
    assert loading.most_forward(free).arm == min(one.arm for one in ends)
    assert loading.most_aft(free).arm == max(one.arm for one in ends)


SLOPING = loading.envelope([(500, -60), (900, -60), (1500, 30)], [(500, 180), (1500, 90)])


@settings(max_examples=60, deadline=None)
@given(aircraft())
def test_no_loading_is_nearer_to_a_sloping_limit_than_the_worst_ones(craft: Aircraft) -> None:
    forward, aft = loading.worst(SLOPING, craft)
    places = [loading.place(SLOPING, craft.most, one) for one in every_loading(craft)]
    # The root that the worst one stands at is good to twelve digits.
    little = Fraction(1, 10**9)
    if all(one.room_forward is not None for one in places):
        assert forward.room_forward is not None
        assert forward.room_forward <= min(one.room_forward for one in places if one.room_forward is not None) + little
    if all(one.room_aft is not None for one in places) and aft.room_aft is not None:
        assert aft.room_aft <= min(one.room_aft for one in places if one.room_aft is not None) + little


def test_the_worst_against_a_sloping_limit_need_not_be_the_most_forward_case() -> None:
    """Full tanks move the center aft here, and the forward limit runs aft faster still."""
    craft = loading.aircraft(600, 80, [loading.item("Fuel", 95, 200)], 900)
    limits = loading.envelope([(500, 70), (650, 70), (900, 95)], [(500, 120), (900, 120)])
    assert loading.most_forward(craft).weight == 600
    forward, _ = loading.worst(limits, craft)
    assert forward.loading.weight == 800 and not forward.inside


def test_every_case_between_two_good_corners_is_looked_at_too() -> None:
    """Both corners of a fill may be inside while the way between them leaves a limit that turns there."""
    craft = loading.aircraft(600, 80, [loading.item("Bag", 140, 300)], 900)
    limits: Envelope = loading.envelope([(600, 70), (900, 70)], [(600, 110), (700, 85), (900, 110)])
    corners = [loading.place(limits, craft.most, one) for one in loading.frontier(craft, aft=True)]
    assert all(one.inside for one in corners)
    _, aft = loading.worst(limits, craft)
    assert aft.loading.weight == 700 and not aft.inside


@pytest.mark.parametrize(
    "make",
    [
        lambda: loading.item("Fuel", 90, 10, 20),
        lambda: loading.item("Fuel", 90, -1),
        lambda: loading.aircraft(600, 80, [loading.item("Pilot", 90, 100, 100)], 650),
        lambda: loading.aircraft(0, 80, [], 650),
        lambda: loading.line([(500, 70)]),
        lambda: loading.line([(500, 70), (500, 80)]),
        lambda: loading.envelope([(500, 70), (900, 70)], [(500, 70), (900, 90)]),
        lambda: loading.envelope([(500, 70), (900, 70)], [(500, 90), (800, 90)]),
    ],
)
def test_what_cannot_be_is_refused(make) -> None:
    with pytest.raises(Impossible):
        make()
