"""Laws that the shop's figures keep for every input: inverse pairs, monotony, symmetry, ends of windows, flags."""

from dataclasses import FrozenInstanceError, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calc import (
    bonding,
    cure,
    figures,
    genealogy,
    hardness,
    laminate,
    mix,
    practice,
    rivets,
    room,
    times,
    torque,
    weighing,
)
from calc.cure import Spec
from calc.trouble import Impossible
from calc.verdict import Verdict

# Without a limit of time: a busy machine breaks no law.
LAW = settings(deadline=None, max_examples=60)

amounts = st.decimals(Decimal("0.1"), 10_000, places=2)
densities = st.decimals(Decimal("0.5"), 20, places=3)
fractions = st.decimals(Decimal("0.05"), Decimal("0.75"), places=3)
threads = st.sampled_from(torque.ROWS)
nuts = st.sampled_from([torque.TENSION, torque.SHEAR])
T = datetime(2025, 6, 14, 19, 2, tzinfo=UTC)


# ---- numbers as they were typed ----


@LAW
@given(st.decimals(-(10**9), 10**9, places=6))
def test_a_float_is_the_decimal_it_prints_as(value) -> None:
    assert figures.exact(float(value), "x") == Fraction(Decimal(repr(float(value))))
    assert figures.exact(value, "x") == Fraction(value)


def test_one_tenth_and_two_tenths_are_three_tenths() -> None:
    assert figures.exact(0.1, "x") + figures.exact(0.2, "x") == figures.exact(0.3, "x")


@pytest.mark.parametrize(
    "value",
    [float("nan"), float("inf"), float("-inf"), Decimal("nan"), Decimal("inf"), 10**400, 1e300, "1", True, None],
)
def test_what_is_no_number_is_refused(value) -> None:
    with pytest.raises(Impossible):
        figures.exact(value, "grip_in")


@LAW
@given(st.fractions(-1000, 1000, max_denominator=1000))
def test_the_nearest_whole_number_is_within_a_half_and_halves_go_up(value) -> None:
    assert Fraction(-1, 2) <= value - figures.nearest(value) < Fraction(1, 2)


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("grip_in", "Grip (in)"),
        ("fibre_density", "Fiber density"),
        ("plies", "Plies"),
        ("labour_min", "Labor (min)"),
    ],
)
def test_a_refusal_names_the_input_in_words(field, said) -> None:
    assert figures.named(field) == said


# ---- torque ----


@LAW
@given(amounts, st.decimals(2, 40, places=1), st.decimals(-1, 12, places=1), st.integers(-90, 90))
def test_the_setting_and_the_torque_applied_are_inverse(wanted, lever, adapter, angle) -> None:
    setting = torque.wrench_setting(wanted, lever, adapter, angle)
    assert torque.torque_applied(setting, lever, adapter, angle) == pytest.approx(float(wanted))


@LAW
@given(amounts, st.decimals(2, 40, places=1), st.decimals(Decimal("0.1"), 12, places=1), st.integers(0, 89))
def test_an_adapter_that_lengthens_lowers_the_setting_and_is_symmetric_in_its_angle(
    wanted, lever, adapter, angle
) -> None:
    setting = torque.wrench_setting(wanted, lever, adapter, angle)
    assert setting < float(wanted)
    assert setting == torque.wrench_setting(wanted, lever, adapter, -angle)
    assert torque.wrench_setting(wanted, lever, adapter, 90) == float(wanted)


@LAW
@given(threads, nuts, st.decimals(0, 50, places=1))
def test_both_ends_of_the_window_are_in_range_and_the_next_tenth_is_not(row, nut, drag) -> None:
    low, high = (bound + drag for bound in row.range(nut))
    tenth = Decimal("0.1")
    said = [torque.judge(row.thread, nut, drag, at).verdict for at in (low - tenth, low, high, high + tenth)]
    assert said[:3] == ["low", "in range", "in range"]
    assert said[3] in {"over range", "over maximum"}
    window = torque.window(row.thread, nut, drag)
    assert (window.low, window.high) == (float(low), float(high))


@LAW
@given(threads, nuts, amounts, amounts)
def test_more_torque_is_never_a_lower_verdict(row, nut, one, other) -> None:
    order = ["low", "in range", "over range", "over maximum"]
    verdicts = [order.index(torque.judge(row.thread, nut, 0, at).verdict) for at in sorted([one, other])]
    assert verdicts == sorted(verdicts)


@pytest.mark.parametrize("row", torque.ROWS, ids=lambda row: row.thread)
def test_a_row_of_the_table_keeps_its_order(row) -> None:
    assert row.shear[0] < row.shear[1] <= row.tension[1] < row.tension_limit
    assert row.shear[1] < row.shear_limit < row.tension_limit
    assert row.tension[0] < row.tension[1] and torque.thread_name(row.thread) == row.thread


# ---- laminates ----


@LAW
@given(st.integers(1, 60), amounts, densities, fractions)
def test_thickness_and_fiber_volume_are_inverse(plies, faw, density, volume) -> None:
    found = laminate.thickness(plies, faw, density, volume)
    assume(found.total < 1e6)
    assert laminate.fiber_volume(plies, faw, density, found.total).fiber_volume == pytest.approx(float(volume))
    assert found.total == pytest.approx(found.ply * plies)


@LAW
@given(fractions, densities, densities)
def test_mass_and_volume_fractions_are_inverse(volume, fiber, resin) -> None:
    mass = laminate.mass_fraction(volume, fiber, resin)
    back = laminate.volume_fraction(mass, fiber, resin)
    assert back.fiber_volume == pytest.approx(float(volume))
    assert (
        min(fiber, resin) - Decimal("0.001") <= Decimal(back.laminate_density) <= max(fiber, resin) + Decimal("0.001")
    )


@LAW
@given(densities, fractions, densities)
def test_of_equal_densities_both_fractions_are_the_same(density, volume, _) -> None:
    assert laminate.mass_fraction(volume, density, density) == pytest.approx(float(volume))


@LAW
@given(fractions, st.decimals(Decimal("0.01"), Decimal("0.2"), places=3), densities, densities)
def test_more_fiber_by_volume_is_more_fiber_by_mass_and_a_thinner_laminate(volume, more, fiber, resin) -> None:
    assume(volume + more <= Decimal("0.75"))
    assert laminate.mass_fraction(volume + more, fiber, resin) > laminate.mass_fraction(volume, fiber, resin)
    assert laminate.thickness(1, 200, fiber, volume + more).total < laminate.thickness(1, 200, fiber, volume).total


@LAW
@given(amounts, amounts, densities, densities, densities)
def test_what_a_coupon_is_made_of_adds_up_to_all_of_it_and_what_cannot_be_is_flagged(
    one, two, dense, fiber, resin
) -> None:
    found = laminate.constituents(max(one, two), min(one, two), dense, fiber, resin)
    assert found.fiber + found.matrix + found.void == pytest.approx(100)
    assert found.good == (found.void >= -0.5 and found.fiber <= 75)
    assert (found.verdict == "implausible") == (not found.good)


@LAW
@given(st.integers(1, 40), amounts, densities, st.decimals(Decimal("0.05"), 20, places=2))
def test_fiber_above_three_quarters_is_flagged_and_never_hidden(plies, faw, density, thickness) -> None:
    found = laminate.fiber_volume(plies, faw, density, thickness)
    assert found.good == (found.fiber_volume <= 0.75)


@LAW
@given(amounts, st.integers(1, 40), amounts, fractions)
def test_fabric_and_resin_add_up_to_the_laminate(area, plies, faw, mass) -> None:
    found = laminate.weight(area, plies, faw, mass)
    assert found.fabric + found.resin == pytest.approx(found.total)
    assert found.fabric / found.total == pytest.approx(float(mass))


@LAW
@given(amounts, amounts, st.decimals(0, 50, places=1))
def test_weights_as_far_off_either_way_are_judged_alike(predicted, off, alarm) -> None:
    assume(off < predicted)
    heavy = laminate.weight_variance(predicted, predicted + off, alarm)
    light = laminate.weight_variance(predicted, predicted - off, alarm)
    assert heavy.percent == -light.percent and heavy.good == light.good


# ---- mixes ----


@LAW
@given(amounts, amounts, densities, densities)
def test_ratios_by_weight_and_by_volume_are_inverse(resin, hardener, one, other) -> None:
    by_volume = mix.volume_parts(resin, hardener, one, other)
    assert mix.weight_parts(100, by_volume, one, other) == pytest.approx(float(hardener / resin * 100))
    ratio = mix.density_ratio(100, by_volume, resin, hardener)
    assert ratio == pytest.approx(float(one / other))


@LAW
@given(amounts, amounts, amounts)
def test_a_batch_weighed_out_as_told_is_accepted_by_the_narrowest_window(resin, resin_parts, hardener_parts) -> None:
    batch = mix.hardener_for(resin, resin_parts, hardener_parts)
    target = Fraction(resin_parts) / Fraction(hardener_parts)
    narrow = (target * Fraction(999_999, 10**6), target * Fraction(1_000_001, 10**6))
    found = mix.judge(batch.resin, batch.hardener, target, narrow)
    assert found.good and found.deviation == pytest.approx(0, abs=1e-4)


@LAW
@given(st.decimals(1, 500, places=1), st.decimals(1, 500, places=1), st.decimals(0, Decimal("0.9"), places=2))
def test_the_true_ratio_lies_between_the_scales_worst_cases(resin, hardener, error) -> None:
    found = mix.worst_case(resin, hardener, error, error)
    assert found.low <= float(resin / hardener) <= found.high
    assert (error == 0) == (found.low == found.high)


@LAW
@given(amounts, amounts, amounts, st.decimals(0, 100, places=1))
def test_a_batch_for_cloth_keeps_both_ratios(cloth, mixed, hardener, loss) -> None:
    batch = mix.batch_for_cloth(cloth, mixed, hardener, loss)
    assert batch.hardener / batch.resin == pytest.approx(float(hardener) / 100)
    assert batch.mixed == pytest.approx(float(cloth * mixed / 100 * (1 + loss / 100)))


@LAW
@given(amounts, st.integers(-10, 70), st.integers(-10, 70))
def test_pot_life_doubles_for_ten_degrees_and_leads_back(minutes, reference, warm) -> None:
    there = mix.pot_life_at(minutes, reference, warm, "degC")
    assert mix.pot_life_at(there, warm, reference, "degC") == pytest.approx(float(minutes))
    assert mix.pot_life_at(minutes, reference, reference + 10, "degC") == pytest.approx(float(minutes) / 2)
    in_f = mix.pot_life_at(minutes, Decimal(reference) * 9 / 5 + 32, Decimal(warm) * 9 / 5 + 32, "degF")
    assert in_f == pytest.approx(there)


@LAW
@given(st.integers(0, 10**5), amounts)
def test_the_last_minute_of_the_pot_life_is_inside_it(seconds, life) -> None:
    found = mix.pot_clock(T, T + timedelta(seconds=seconds), life)
    assert found.good == (Fraction(seconds, 60) <= Fraction(life))


def test_the_night_the_clocks_change_is_counted_as_it_passed() -> None:
    denver = ZoneInfo("America/Denver")
    start, end = (times.instant(datetime(2025, 3, 9, hour), denver, "at") for hour in (1, 4))
    assert times.passed(start, end, "at", "backward") == 120


# ---- cures ----

SPEC = Spec(low=180, high=185, dwell_min=120, dwell_max=150, ramp_max=0.3, cool_max=2.0, cool_to=70)
CURE_01 = [(0, 24), (530, 181), (660, 182), (720, 70)]


def judged(points=CURE_01, **changes) -> cure.CureVerdict:
    return cure.judge({"a": points}, replace(SPEC, **changes), "degC")


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"dwell_min": 140, "dwell_max": None}, "soak short"),
        ({"dwell_min": 60, "dwell_max": 120}, "soak long"),
        ({"high": 181.5, "dwell_min": 0, "dwell_max": None}, "over temperature"),
        ({"ramp_max": 0.29}, "ramp fast"),
        ({"cool_max": 1.8}, "cool fast"),
    ],
)
def test_each_limit_is_judged_and_named(changes, reason) -> None:
    assert judged(**changes).reasons == (reason,) and judged(**changes).verdict == "fail"


def test_reasons_come_in_one_order() -> None:
    found = judged(dwell_min=200, dwell_max=None, high=181.5, ramp_max=0.1, cool_max=1)
    assert found.reasons == ("soak short", "over temperature", "ramp fast", "cool fast")


def test_without_limits_everything_passes() -> None:
    found = cure.judge({"a": CURE_01}, Spec(low=180), "degC")
    assert found.good and found.soak == pytest.approx(134.45, abs=0.1)


def test_times_add_up_only_when_the_specification_lets_them() -> None:
    dip = [(0, 100), (10, 180), (70, 182), (80, 170), (90, 181), (200, 181), (210, 100)]
    apart, together = judged(dip, high=None, dwell_max=None), judged(dip, high=None, dwell_max=None, cumulative=True)
    assert len(apart.soaks) == 2 and apart.soak == max(end - start for start, end in apart.soaks)
    assert together.soak == pytest.approx(sum(end - start for start, end in apart.soaks))


def test_touching_the_end_of_the_band_does_not_break_the_soak() -> None:
    touch = [(0, 181), (60, 180), (120, 185), (180, 180)]
    assert judged(touch).soak == 180 and len(judged(touch).soaks) == 1


def test_a_swing_through_the_whole_band_counts_for_the_time_in_it() -> None:
    swing = [(0, 170), (10, 195), (20, 170)]
    assert judged(swing).soaks == ((4.0, 6.0), (14.0, 16.0))


def test_rounding_never_breaks_a_limit_that_is_just_kept() -> None:
    # Three tenths of a degree in a minute; in floating point 50.6 - 50.3 is a little more.
    log = [(0, 50.3), (1, 50.6), (2, 50.8), (100, 50.8)]
    assert 50.6 - 50.3 > 0.3
    assert judged(log, low=51, high=None, dwell_min=None, dwell_max=None).good
    assert judged(log, low=51, high=None, dwell_min=None, dwell_max=None, ramp_max=0.2999).reasons == ("ramp fast",)
    log = [(0.1, 50), (0.1 + 300, 50)]
    assert cure.judge({"a": log}, Spec(low=50, dwell_min=300), "degC").good


def test_what_the_log_cannot_show_is_said() -> None:
    found = judged([(0, 181), (130, 181)], high=None)
    assert found.good and len(found.notes) == 2 and "rise" in found.notes[0] and "cooled" in found.notes[1]


def test_the_coldest_starts_the_soak_and_the_hottest_sets_the_peak() -> None:
    warm, cold = [(0, 20), (60, 52), (400, 54)], [(0, 20), (90, 50), (400, 51)]
    found = cure.judge({"warm": warm, "cold": cold}, Spec(low=50, high=55, dwell_min=300), "degC")
    assert found.soak == 310 and found.peak == 54 and found.good
    assert found.max_ramp == pytest.approx(32 / 60)
    hot = [(0, 20), (60, 56), (400, 54)]
    assert cure.judge({"hot": hot, "cold": cold}, Spec(low=50, high=55), "degC").reasons == ("over temperature",)


def test_sensors_that_share_no_time_are_refused() -> None:
    with pytest.raises(Impossible, match="overlap"):
        cure.judge({"a": [(0, 1), (1, 2)], "b": [(5, 1), (6, 2)]}, SPEC, "degC")


@st.composite
def points(draw) -> list[tuple[int, int]]:
    steps = draw(st.lists(st.tuples(st.integers(1, 60), st.integers(0, 100)), min_size=2, max_size=10))
    at, log = 0, []
    for minutes, degrees in steps:
        log.append((at, degrees))
        at += minutes
    return log


@LAW
@given(points(), st.integers(0, 100), st.integers(1, 50))
def test_a_wider_band_never_shortens_the_soak_and_adding_up_never_does_either(log, low, width) -> None:
    narrow = cure.judge({"a": log}, Spec(low=low, high=low + width), "degC")
    wide = cure.judge({"a": log}, Spec(low=low - 1, high=low + width + 1), "degC")
    total = cure.judge({"a": log}, Spec(low=low, high=low + width, cumulative=True), "degC")
    assert narrow.soak <= wide.soak + 1e-9 and narrow.soak <= total.soak + 1e-9
    assert total.soak <= log[-1][0] - log[0][0] + 1e-9


@LAW
@given(points(), st.integers(0, 100), st.integers(1, 50), st.integers(1, 9))
def test_points_added_on_the_straight_lines_change_nothing(log, low, width, cut) -> None:
    spec = Spec(low=low, high=low + width)
    finer = []
    for (at, degrees), (until, then) in zip(log, log[1:], strict=False):
        share = Fraction(cut, 10)
        finer += [(at, degrees), (float(at + (until - at) * share), float(degrees + (then - degrees) * share))]
    one, other = cure.judge({"a": log}, spec, "degC"), cure.judge({"a": [*finer, log[-1]]}, spec, "degC")
    assert one.soak == pytest.approx(other.soak, abs=1e-6) and one.peak == other.peak
    # A segment that starts below the band and is cut above it still had the same slope below.
    assert one.max_ramp == pytest.approx(other.max_ramp)


@LAW
@given(points(), st.integers(0, 100), st.integers(1, 50))
def test_fahrenheit_and_celsius_judge_alike(log, low, width) -> None:
    spec = Spec(low=low, high=low + width, dwell_min=30, ramp_max=2, cool_max=2)
    warm = Spec(low=low * 9 / 5 + 32, high=(low + width) * 9 / 5 + 32, dwell_min=30, ramp_max=3.6, cool_max=3.6)
    celsius = cure.judge({"a": log}, spec, "degC")
    fahrenheit = cure.judge({"a": [(at, degrees * 9 / 5 + 32) for at, degrees in log]}, warm, "degF")
    assert celsius.reasons == fahrenheit.reasons
    assert celsius.soak == pytest.approx(fahrenheit.soak, abs=1e-6)


@LAW
@given(points())
def test_one_sensor_twice_says_what_it_says_once(log) -> None:
    spec = Spec(low=40, high=70)
    once, twice = cure.judge({"a": log}, spec, "degC"), cure.judge({"a": log, "b": log}, spec, "degC")
    assert (once.soak, once.peak, once.max_ramp, once.max_cool) == (
        twice.soak,
        twice.peak,
        twice.max_ramp,
        twice.max_cool,
    )


@LAW
@given(st.lists(st.tuples(st.text(min_size=1), st.integers(50, 500)), min_size=1, max_size=6), st.integers(50, 500))
def test_the_weakest_material_decides_and_a_stronger_one_changes_nothing(materials, peak) -> None:
    found = cure.stack_limit(peak, materials, "degF")
    assert found.good == all(peak <= limit for _, limit in materials)
    assert cure.stack_limit(peak, [*materials, ("more", 600)], "degF") == replace(
        found, given=found.given | {"materials": [*materials, ("more", 600)]}
    )


@LAW
@given(st.decimals(Decimal("0.1"), 200, places=2))
def test_sensors_are_never_fewer_than_two_nor_than_the_area_asks(area) -> None:
    found = cure.sensors_needed(area)
    assert 2 <= found.minimum <= found.at_one_per_ft2
    assert found.minimum * 2 >= area and found.at_one_per_ft2 >= area


# ---- the rest of the shop ----


@LAW
@given(st.lists(st.decimals(0, 100, places=1), min_size=10, max_size=12), st.randoms())
def test_hardness_does_not_depend_on_the_order_and_lies_between_its_readings(readings, chance) -> None:
    found = hardness.barcol(readings, 30)
    mixed = list(readings)
    chance.shuffle(mixed)
    assert hardness.barcol(mixed, 30).average == found.average
    assert float(min(readings)) <= found.average <= float(max(readings)) and found.used == len(readings) - 2


@LAW
@given(amounts, st.integers(1, 8), amounts)
def test_repair_plies_grow_evenly(damage, plies, overlap) -> None:
    found = bonding.repair_diameters(damage, plies, overlap)
    assert len(found) == plies
    steps = [after - before for before, after in zip([float(damage), *found], found, strict=False)]
    assert steps == pytest.approx([2 * float(overlap)] * plies)


@pytest.mark.parametrize("sixteenths", range(1, 9))
def test_a_rivets_length_is_whole_sixteenths_when_its_grip_is(sixteenths) -> None:
    found = rivets.solid(Fraction(1, 8), Fraction(sixteenths, 16))
    assert found.dash_length == sixteenths + 3


@LAW
@given(st.lists(st.tuples(amounts, st.integers(-100, 300)), min_size=1, max_size=6), st.integers(-50, 50))
def test_the_center_of_gravity_moves_with_the_datum(pairs, shift) -> None:
    here, there = weighing.balance(pairs), weighing.balance([(weight, arm + shift) for weight, arm in pairs])
    assert there.arm == pytest.approx(here.arm + shift, abs=1e-6)
    arms = [arm for _, arm in pairs]
    assert min(arms) - 1e-9 <= here.arm <= max(arms) + 1e-9


@LAW
@given(st.lists(st.tuples(st.none() | amounts, st.none() | amounts), max_size=8))
def test_a_roll_up_counts_every_part_once(rows) -> None:
    found = weighing.roll_up([(number, *row) for number, row in enumerate(rows)])
    best = [row[1] if row[1] is not None else row[0] for row in rows]
    assert found.total == pytest.approx(float(sum(value for value in best if value is not None)))
    assert len(found.unknown) == best.count(None)


@LAW
@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), max_size=40), st.integers(0, 20))
def test_what_a_thing_leads_to_leads_back_to_it(links, start) -> None:
    for there in genealogy.reached(links, [start]):
        assert start in genealogy.reached(genealogy.turned(links), [there])


@LAW
@given(st.decimals(Decimal("0.5"), 20, places=1), st.decimals(Decimal("0.5"), Decimal("0.99"), places=2))
def test_slots_and_bridges_make_up_the_line(slot, cut) -> None:
    bridge = practice.bridge(slot, cut)
    assert float(slot) / (float(slot) + bridge) == pytest.approx(float(cut))


def test_a_tool_found_bad_lists_both_ends_of_the_time_in_question() -> None:
    days = [T.date() + timedelta(days=number) for number in range(5)]
    assert room.suspects(days[1], days[3], list(enumerate(days))) == [1, 2, 3]


def test_on_the_day_of_a_drop_nobody_can_say_whether_the_tool_was_good() -> None:
    day = T.date()
    found = room.calibration_due(day - timedelta(days=9), 12, [room.Event(day, "dropped")])
    assert found.usable_on(day) is None and found.usable_on(day - timedelta(days=1)) is True


# ---- what every verdict says of itself (rule R40) ----

VERDICTS: list[Verdict] = [
    torque.judge("10-32", "shear", 2, 40),
    torque.tool_fit(150, 5, 20),
    rivets.head_height(0.125, 0.02),
    laminate.fiber_volume(10, 193, 1.78, 1),
    laminate.volume_fraction(0.95, 1.78, 1.2),
    laminate.weight_variance(100, 150, 10),
    laminate.constituents(1.8642, 1.1021, 1.82, 2.56, 1.15),
    mix.judge(100, 30, 4, (3.9, 4.1)),
    mix.pot_clock(T, T + timedelta(hours=2), 40),
    judged(dwell_min=140, dwell_max=None),
    cure.film_limit("PVC", 195),
    cure.stack_limit(300, [("foam", 250)], "degF"),
    cure.vacuum(20),
    cure.bag_drop(27, 20, 5),
    cure.service_margin(80, 60),
    bonding.window(T, T, peel_ply_off=False),
    bonding.tap_valid(0.1, sandwich=False, sides=1),
    hardness.barcol([20] * 10, 30),
    hardness.barcol_valid(1, 1),
    room.room(10, 80, (15, 25), 70),
    room.shelf_life(T.date(), 1, T.date() + timedelta(days=99)),
]


@pytest.mark.parametrize("found", VERDICTS, ids=lambda found: found.rule.words[:30])
def test_a_verdict_names_its_rule_source_inputs_reasons_and_what_wins_over_it(found) -> None:
    assert not found.good and found.reasons and found.given
    assert found.rule.words and found.source and found.caution
    with pytest.raises(FrozenInstanceError):
        found.verdict = "good"
    said = " ".join([found.verdict, found.caution, found.rule.valid, *found.reasons, *found.notes]).casefold()
    assert not any(word in said for word in ("airworthy", "approved", "compliant", "legal"))
