"""Cure runs judged: what calc says, when each fault was, and the same as a numerical library finds."""

import json
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import cure
from process.rules import cures

ZONE = ZoneInfo("America/Chicago")
STARTS = datetime(2026, 3, 13, 18, 30, tzinfo=ZONE)
RISE = [(0, 20), (100, 40), (200, 60), (500, 61), (600, 30)]


def one(points: list[tuple[float, float]], name: str = "TC 1", unit: str = "C", wanted: str = "C") -> cures.Sensed:
    minutes, temps = [float(at) for at, _ in points], [float(value) for _, value in points]
    return cures.sensed(name, "", minutes, temps, unit, wanted)


def spec(**more) -> cures.Spec:  # noqa: ANN003
    numbers = {
        key: Decimal(str(value)) if isinstance(value, int | float) and key not in EXACT else value
        for key, value in more.items()
    }
    return cures.Spec(**numbers)


EXACT = {"added_up", "over", "ramp_over", "area_ft2"}


def judge(points: list, **more) -> cures.Judged:  # noqa: ANN003
    sensors = points if isinstance(points[0], cures.Sensed) else [one(points)]
    return cures.judge(sensors, spec(**more), STARTS, ZONE)


# ---- Why it fails


def test_a_good_run_is_good_and_names_its_rule() -> None:
    found = judge(RISE, low=58, high=65, soak_min=240, ramp_max=0.2, cool_max=0.4)
    assert found.state == "good"
    verdict = found.verdicts[0]
    assert "straight lines" in verdict.rule
    assert "repair manual" in verdict.source
    assert "maker" in verdict.caution
    assert found.faults == []


def test_a_slow_ramp_that_leaves_too_short_a_soak_says_so() -> None:
    found = judge([(0, 20), (480, 60), (600, 60), (640, 40)], low=58, high=65, soak_min=240)
    assert found.state == "bad"
    [fault] = found.faults
    assert fault.kind == "soak"
    assert "less than the 4 h asked for" in fault.sentence
    assert "TC 1 was the last to reach 58 °C, at 14 Mar 02:06" in fault.sentence
    assert "rising by 0.08 °C/min (5.0 °C/h) on average" in fault.sentence


def test_a_ramp_over_the_most_says_when_and_how_much() -> None:
    found = judge([(0, 20), (10, 22), (35, 32), (200, 60), (500, 60)], low=58, soak_min=240, ramp_max=0.3)
    [fault] = found.faults
    assert fault.sentence == (
        "TC 1: ramp 0.40 °C/min (24.0 °C/h), over the most, 0.30 °C/min (18.0 °C/h), from 18:40 to 19:05."
    )
    assert (fault.start, fault.end) == (10, 35)


def test_a_soak_that_was_broken_says_by_what() -> None:
    found = judge([(0, 20), (60, 60), (200, 60), (210, 55), (220, 60), (330, 60)], low=58, soak_min=240, peak_max=70)
    sentences = " ".join(fault.sentence for fault in found.faults)
    assert "The soak was broken for 12 min from 21:54 to 22:06: TC 1 fell to 55 °C at 22:00." in sentences


def test_added_up_times_count_together() -> None:
    points = [(0, 20), (60, 60), (200, 60), (210, 55), (220, 60), (330, 60)]
    assert judge(points, low=58, soak_min=240, added_up=True).state == "good"
    assert judge(points, low=58, soak_min=240).state == "bad"


def test_the_coldest_starts_the_soak_and_the_hottest_sets_the_peak() -> None:
    cold = one([(0, 20), (120, 60), (400, 60)], "Spar")
    hot = one([(0, 20), (60, 60), (200, 71), (400, 62)], "Skin")
    found = judge([cold, hot], low=58, high=75, soak_min=280, peak_max=70)
    kinds = {fault.kind: fault for fault in found.faults}
    assert kinds["peak"].sensor == "Skin"
    assert "Skin reached 71 °C" in kinds["peak"].sentence
    assert "1 °C over the most, 70 °C" in kinds["peak"].sentence
    assert found.verdicts[0].rule == cure.SEVERAL.words
    assert found.soaks[0][0] == pytest.approx(114)


STACK = (cures.Material("Foam core", Decimal(55), "core sheet"), cures.Material("Film", Decimal(120)))


def test_a_material_that_bears_less_is_named() -> None:
    found = judge(
        RISE,
        low=58,
        soak_min=240,
        stack=STACK,
    )
    assert found.state == "bad"
    assert "more than Foam core bears (Foam core 55 °C)" in found.faults[0].sentence
    assert any("core sheet" in line for verdict in found.verdicts for line in verdict.lines)


def test_at_its_limit_a_material_still_holds() -> None:
    assert judge(RISE, low=58, soak_min=240, stack=(cures.Material("Foam", Decimal(61)),)).state == "good"


def test_without_temperatures_it_stays_open() -> None:
    found = cures.judge([], spec(low=58, soak_min=240), STARTS, ZONE)
    assert found.state == "open"
    assert "No temperatures" in found.verdicts[0].words


def test_without_a_specification_it_stays_open() -> None:
    assert judge(RISE).state == "open"


def test_a_run_that_goes_on_is_not_yet_short() -> None:
    found = judge(RISE[:4], low=58, soak_min=600, over=False)
    assert found.state == "open"
    assert "Soak so far" in found.verdicts[0].words


def test_one_sensor_is_said_to_be_few() -> None:
    assert any("two" in note or "2 or more" in note for note in judge(RISE, low=58, soak_min=240).notes)
    assert any(
        "3 or more" in note for note in judge([one(RISE), one(RISE, "B")], low=58, soak_min=240, area_ft2=5.0).notes
    )


def test_a_low_vacuum_is_a_verdict_of_its_own() -> None:
    found = judge(RISE, low=58, soak_min=240, vacuum_inhg=20)
    assert found.state == "bad"
    assert found.verdicts[-1].about == "Bag vacuum"


def test_a_noisy_fast_log_is_measured_over_minutes() -> None:
    points = [(second / 60, 20 + second // 60 * 0.1 + (second % 2) * 0.1) for second in range(3600)]
    assert judge(points, low=58, peak_max=90, ramp_max=0.3).faults[0].kind == "ramp"
    calm = judge(points, low=58, peak_max=90, ramp_max=0.3, ramp_over=5.0)
    assert "ramp" not in {fault.kind for fault in calm.faults}
    assert any("over 5 min" in line for line in calm.verdicts[0].lines)


def test_fahrenheit_log_against_a_celsius_sheet_is_not_failed_by_rounding() -> None:
    sensors = [one([(0, 68), (100, 140), (400, 140)], unit="F")]
    assert judge(sensors, low=60, soak_min=300, peak_max=60).state == "good"
    sensors = [one([(0, 20), (100, 36.6), (400, 36.6)], unit="C", wanted="F")]
    assert judge(sensors, unit="F", low=97.88, soak_min=300).state == "good"


def test_a_verdict_survives_being_kept() -> None:
    found = judge(RISE, low=58, high=60, soak_min=400, ramp_max=0.1)
    kept = json.loads(json.dumps(found.as_json("x")))
    again = cures.Judged.from_json(kept)
    assert again.faults == found.faults
    assert again.verdicts == found.verdicts


def test_many_faults_are_counted_not_listed() -> None:
    points = [(0.0, 20.0)]
    for step in range(20):
        points += [(step * 10 + 5.0, 20 + step + 3.0), (step * 10 + 10.0, 20 + step + 1.0)]
    found = judge(points, low=58, peak_max=90, ramp_max=0.3)
    assert len([fault for fault in found.faults if fault.kind == "ramp"]) == cures.MOST_FAULTS
    assert any("And 15 shorter stretches" in fault.sentence for fault in found.faults)


# ---- The same as a numerical library finds


def curve(steps: list[tuple[int, int]]) -> list[tuple[int, float]]:
    minutes = np.cumsum([step for step, _ in steps]).tolist()
    return [(minute, tenths / 10) for minute, (_, tenths) in zip(minutes, steps, strict=True)]


CURVES = st.lists(st.tuples(st.integers(1, 60), st.integers(100, 900)), min_size=3, max_size=40).map(curve)


@settings(max_examples=60, deadline=None)
@given(CURVES, st.integers(300, 700), st.integers(0, 200))
def test_soak_agrees_with_interpolation(points: list, low: int, width: int) -> None:
    low_degree, high = low / 10, (low + width) / 10
    found = judge(points, low=low_degree, high=high, soak_min=1, added_up=True, peak_max=200)
    minutes, temps = np.array(points).T
    # Fine enough that the grid errs by less than is allowed below.
    grid = np.linspace(minutes[0], minutes[-1], 400_001)
    inside = np.interp(grid, minutes, temps)
    counted = float(np.count_nonzero((inside >= low_degree) & (inside <= high)) * (grid[1] - grid[0]))
    soak = sum(end - start for start, end in found.soaks)
    assert soak == pytest.approx(counted, abs=0.02 * (len(points) + 1))


@settings(max_examples=60, deadline=None)
@given(CURVES, st.sampled_from([0.0, 5.0, 17.0]))
def test_ramp_agrees_with_interpolation(points: list, over: float) -> None:
    sensor = one(points)
    minutes, temps = np.array(points).T
    if over:
        width = min(over, minutes[-1] - minutes[0])
        starts = np.unique(np.concatenate([minutes, minutes - width]))
        starts = starts[(starts >= minutes[0]) & (starts + width <= minutes[-1] + 1e-9)]
        rises = (np.interp(starts + width, minutes, temps) - np.interp(starts, minutes, temps)) / width
        cold = np.interp(starts, minutes, temps) < 50
    else:
        rises, cold = np.diff(temps) / np.diff(minutes), temps[:-1] < 50
    expected = max(float(np.max(np.where(cold, rises, 0))), 0.0)
    assert cures.steepest(sensor.points, over, 50) == pytest.approx(expected, abs=1e-6)


@settings(max_examples=80, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(60, 200),
    st.sampled_from([40, 50]),
    st.sampled_from([None, 55, 60]),
    st.sampled_from([None, 30, 45]),
)
def test_the_telling_points_give_the_verdict_of_all(seed: int, count: int, low: int, high: int, floor: int) -> None:
    chance = np.random.default_rng(seed)
    temps = np.round(np.clip(50 + np.cumsum(chance.choice([-3, -1, -0.5, 0, 0, 0.5, 1, 3], count)), 20, 80), 1).tolist()
    minutes = np.cumsum(chance.choice([0.5, 1, 2], count)).tolist()
    asked = spec(low=low, high=high, soak_min=10, ramp_max=1.0, cool_max=1.0, cool_to=floor)
    plain = cure.Spec(low=low, high=high, dwell_min=10, ramp_max=1.0, cool_max=1.0, cool_to=floor)
    whole = cure.judge({"a": list(zip(minutes, temps, strict=True))}, plain, "degC")
    few = cures.result_of([cures.Sensed("a", "", cures.Points(minutes, temps))], asked)
    assert (whole.verdict, whole.reasons, whole.peak) == (few.verdict, few.reasons, few.peak)
    assert whole.soaks == few.soaks
    assert (whole.max_ramp, whole.max_cool) == (few.max_ramp, few.max_cool)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(100, 900), min_size=12, max_size=40), st.sampled_from([1.0, 5.0, 7.0]))
def test_even_steps_give_the_same_ramp(tenths: list[int], over: float) -> None:
    points = [(float(at), tenth / 10) for at, tenth in enumerate(tenths)]
    found = cures.steepest(one(points).points, over, 50)
    slowly = max((rise for _, _, rise in cures.rises(one(points).points, over, 50)), default=0.0)
    assert found == pytest.approx(slowly)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1200, 1500))
def test_a_plot_keeps_every_extreme(seed: int, count: int) -> None:
    temps = np.random.default_rng(seed).uniform(10, 90, count).tolist()
    minutes = [float(at) for at in range(len(temps))]
    drawn = cures.downsampled(minutes, temps, 100)
    values = [value for _, value in drawn]
    assert len(drawn) <= 202
    assert max(values) == round(max(temps), 3)
    assert min(values) == round(min(temps), 3)
    assert [at for at, _ in drawn] == sorted(at for at, _ in drawn)
