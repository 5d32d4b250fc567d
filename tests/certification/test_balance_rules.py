"""Pure decisions about weight and balance, in exact figures: no unit and no rounding moves a case past a limit."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import loading, units
from calc.trouble import Impossible
from certification.pages.balance_plot import NARROW, WIDE, plot
from certification.rules import balance as rules

SI, US = rules.SHOWN["si"], rules.SHOWN["us"]
# Exact by definition: 1 lb = 453.59237 g, 1 in = 25.4 mm.
POUND, INCH = Decimal("453.59237"), Decimal("25.4")


def readings(*rows: tuple[str, str, str, str]) -> list[rules.Reading]:
    return [rules.Reading(*row) for row in rows]


def empty(weight: str, arm: str) -> rules.Weighed:
    found = rules.weighed([rules.Reading("all", weight, "", arm)])
    assert found is not None
    return found


def test_the_steps_add_up_and_a_missing_arm_leaves_the_center_open() -> None:
    found = rules.weighed(readings(("L", "201 kg", "1 kg", "2 m"), ("R", "200 kg", "", ""), ("N", "", "", "1 m")))
    assert found is not None and len(found.steps) == 2
    assert (found.weight, found.moment, found.arm) == (400_000, None, None)
    assert rules.weighed([]) is None


def test_more_fluid_than_aircraft_is_impossible() -> None:
    with pytest.raises(Impossible, match="Nothing is left"):
        rules.weighed(readings(("L", "10 kg", "", "1 m")), [rules.Poured("Fuel", "10 kg", "1 m")])


@pytest.mark.parametrize(
    ("value", "long", "words"),
    [
        (Fraction(12_500), False, "12.5 kg"),
        (Fraction(1, 1000), False, "less than 0.1 kg"),
        (Fraction(-1, 1000), True, "less than 0.1 mm"),
        (Fraction(0), True, "0.0 mm"),
    ],
)
def test_a_difference_too_small_to_show_is_not_shown_as_nothing(value, long, words) -> None:
    assert SI.some(value, long=long) == words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (None, "none"),
        (Fraction(0), "0 %"),
        (Fraction(1, 1000), "less than 1 %"),
        (Fraction(999, 1000), "99 %"),
        (Fraction(1), "100 %"),
    ],
)
def test_a_share_is_never_rounded_up_to_all(share, words) -> None:
    assert rules.percent(share) == words


def test_center_in_words() -> None:
    assert rules.center_words(Fraction(-254, 10), US) == "1.00 in forward of the datum"
    assert rules.center_words(Fraction(0), US) == "at the datum"


# ---- no unit and no rounding decides ----

pounds = st.decimals(600, 1700, places=2)
inches = st.decimals(60, 110, places=3)


def judged(weight: str, arm: str, aboard: str, seat: str, most: str, corner: tuple[str, str, str, str]) -> rules.Judged:
    """A case in front of limits: their least weight, the forward and the aft arm, the weight where the lines end."""
    load = rules.Load("seat", "Seat", seat, "", "9000 kg")
    low, ahead, behind, high = corner
    limits = rules.bounds(most, [(low, ahead), (high, ahead)], [(low, behind), (high, behind)])
    what = rules.case_loading(empty(weight, arm), [load], {"seat": aboard})
    return rules.judge("case", what, {"seat": load}, limits, US)


def kilos(value: Decimal) -> str:
    return f"{(value * POUND / 1000):f} kg"


def millis(value: Decimal) -> str:
    return f"{(value * INCH):f} mm"


@settings(max_examples=150, deadline=None)
@given(pounds, inches, st.decimals(100, 400, places=2), inches, st.decimals(800, 2000, places=2), inches, inches)
def test_the_same_case_in_other_units_is_judged_the_same(weight, arm, aboard, seat, most, ahead, behind) -> None:
    if not ahead < behind:
        return
    low, high = Decimal(500), Decimal(2200)
    first = judged(f"{weight} lb", f"{arm} in", f"{aboard} lb", f"{seat} in", f"{most} lb",
                   (f"{low} lb", f"{ahead} in", f"{behind} in", f"{high} lb"))  # fmt: skip
    other = judged(kilos(weight), millis(arm), kilos(aboard), millis(seat), kilos(most),
                   (kilos(low), millis(ahead), millis(behind), kilos(high)))  # fmt: skip
    assert first.inside == other.inside
    assert (first.weight, first.arm, first.room_forward, first.room_aft, first.room_weight) == (
        *(other.weight, other.arm, other.room_forward, other.room_aft, other.room_weight),
    )


@settings(max_examples=100, deadline=None)
@given(pounds, inches, st.decimals(100, 400, places=2), st.sampled_from(["forward", "aft", "weight"]))
def test_exactly_on_a_limit_is_inside_in_any_units_and_a_hair_past_it_is_not(weight, arm, aboard, edge) -> None:
    """The limit is typed in pounds and inches, the case in kilograms and millimeters."""
    total = weight + aboard
    corner = (
        "500 lb",
        f"{arm if edge == 'forward' else arm - 5} in",
        f"{arm if edge == 'aft' else arm + 5} in",
        "2200 lb",
    )
    most = f"{total if edge == 'weight' else 2200} lb"
    on = judged(kilos(weight), millis(arm), kilos(aboard), millis(arm), most, corner)
    assert on.inside
    hair = Decimal("0.0000001")
    shift = {"forward": -hair, "aft": hair, "weight": Decimal(0)}[edge]
    more = hair if edge == "weight" else Decimal(0)
    past = judged(kilos(weight), millis(arm + shift), kilos(aboard + more), millis(arm + shift), most, corner)
    assert past.inside is False and "less than" in past.faults[0]


def test_what_lies_off_the_weights_of_the_limits_is_outside_and_said() -> None:
    corner = ("900 lb", "70 in", "90 in", "2200 lb")
    light = judged("700 lb", "80 in", "100 lb", "80 in", "2000 lb", corner)
    assert light.faults == ("100.0 lb lighter than the limits reach",)
    heavy = judged("1900 lb", "80 in", "500 lb", "80 in", "2000 lb", corner)
    assert heavy.faults == ("400.0 lb over the most weight",)


def test_the_case_nearest_to_a_slope_is_named() -> None:
    """As in tests/calc/test_loading.py: full tanks move the center aft, and the forward limit runs aft faster still."""
    loads = [rules.Load("fuel", "Fuel", "95 in", "", "200 lb")]
    limits = rules.bounds(
        "900 lb",
        [("500 lb", "70 in"), ("650 lb", "70 in"), ("900 lb", "95 in")],
        [("500 lb", "120 in"), ("900 lb", "120 in")],
    )
    craft = rules.craft_of(empty("600 lb", "80 in"), loads, limits)
    found = {one.name: one for one in rules.extremes(craft, {"fuel": loads[0]}, limits, US)}
    assert found["Most forward"].inside
    # With the tank full: the most aft case is the one past the forward limit.
    near = found["Most aft"]
    assert near.inside is False and units.convert(near.weight, "g", "lb") == 800
    assert near.faults[0].endswith("forward of the forward limit")
    assert "forward limit" in near.why and "forward limit" not in found["Most forward"].why
    between = rules.bounds(
        "900 lb",
        [("500 lb", "70 in"), ("700 lb", "70 in"), ("701 lb", "83 in"), ("702 lb", "70 in"), ("900 lb", "70 in")],
        [("500 lb", "120 in"), ("900 lb", "120 in")],
    )
    names = {one.name: one for one in rules.extremes(craft, {"fuel": loads[0]}, between, US)}
    assert units.convert(names["Nearest to the forward limit"].weight, "g", "lb") == 701


def test_the_edge_of_what_can_be_loaded_is_drawn_from_corner_to_corner() -> None:
    loads = [rules.Load("a", "A", "1 m", "", "50 kg"), rules.Load("b", "B", "3 m", "10 kg", "50 kg")]
    craft = rules.craft_of(empty("300 kg", "2 m"), loads, None)
    forward, aft = rules.reach(craft, aft=False), rules.reach(craft, aft=True)
    assert forward[0] == aft[0] and forward[-1].weight == aft[-1].weight == 400_000
    assert all(one in forward for one in loading.frontier(craft, aft=False))
    assert all(low.weight < high.weight for low, high in zip(forward, forward[1:], strict=False))


# ---- the plot ----


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-5000, 9000), st.floats(10, 900)), min_size=1, max_size=14),
    st.tuples(st.floats(-5000, 9000), st.floats(10, 900)),
)
def test_every_mark_lies_on_the_drawing(spots, at) -> None:
    figure = {
        "mass": "kg",
        "length": "mm",
        "empty": list(at),
        "forward": [],
        "aft": [],
        "most": None,
        "reach_forward": [],
        "reach_aft": [],
        "cases": [{"number": n, "spot": list(spot), "inside": n % 2 == 0} for n, spot in enumerate(spots, start=1)],
    }
    for size in (WIDE, NARROW):
        drawn = plot(figure, size)
        assert drawn is not None
        for mark in drawn.marks:
            assert size.left <= mark.point_x <= drawn.end and size.top <= mark.point_y <= drawn.base
        assert 2 <= len(drawn.columns) <= 3 * size.columns and 2 <= len(drawn.rows) <= 3 * size.rows
