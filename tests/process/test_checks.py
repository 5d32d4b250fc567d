"""Checks: fastener rows, torque, weighing, coupons, hardness, tap maps and function tests."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from calc.trouble import Impossible
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.models import Entry
from parts.models import Part
from process.commands import checks, common, mixes, shots
from process.models import Coupon, Fasteners, FunctionTest, Hardness, TapMap, Tool, ToolEvent, Torque, Weighing
from process.queries import checks as queries
from process.rules import checks as rules
from process.rules.checks import (
    CouponFacts,
    FastenerFacts,
    FunctionFacts,
    HardnessFacts,
    Lot,
    Scale,
    TapFacts,
    TorqueFacts,
    WeighingFacts,
    Wrench,
)
from process.rules.verdicts import overall
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_lot,
    make_part,
    make_person,
    make_photo,
    make_project,
)
from tests.process.shop import make_mix

# ---- torque: FAA AC 43.13-1B, Table 7-1 and para 7-40; adapters: US Army TM 1-1500-204-23-9, chapter 8 ----

BOLT = {"thread": "1/4-28", "nut_type": "tension"}
ROW = {"place": "Step, left", "spec": "Bronze screw, 4 x 25", "count": 46}
WRENCH = Wrench("W1 Click wrench", "200 in-lb", "1 in-lb")


def torqued(**more) -> TorqueFacts:
    return TorqueFacts(**BOLT | {"wrench": WRENCH} | more)


def test_the_setting_is_the_table_with_drag_by_the_adapter() -> None:
    assert rules.setting_of(torqued()).main == "Set the wrench to 60 in-lb"
    dragged = rules.setting_of(torqued(drag="8 in-lb"))
    assert dragged.main == "Set the wrench to 68 in-lb" and (dragged.low, dragged.high) == (58, 78)
    # 10 in lever, 2.5 in adapter straight on: a fifth less on the dial.
    straight = rules.setting_of(torqued(drag="8 in-lb", lever="10 in", adapter="2.5 in"))
    assert straight.main == "Set the wrench to 54.4 in-lb"
    square = rules.setting_of(torqued(drag="8 in-lb", lever="10 in", adapter="2.5 in", adapter_degrees=Decimal(90)))
    assert square.main == "Set the wrench to 68 in-lb"
    back = rules.setting_of(torqued(drag="8 in-lb", lever="10 in", adapter="2.5 in", adapter_degrees=Decimal(180)))
    assert back.main == "Set the wrench to 90.7 in-lb"


def test_a_castle_nut_starts_at_the_lower_end_and_never_passes_the_upper() -> None:
    found = rules.setting_of(torqued(drag="8 in-lb", castle=True))
    assert found.main == "Set the wrench to 58 in-lb"
    assert any("next slot, never past 78 in-lb" in line for line in found.lines)


def test_ends_of_the_window_are_rounded_into_it() -> None:
    found = rules.setting_of(torqued(unit="N*m", castle=True))
    # 50 in-lb are 5.649 N·m and 70 are 7.909.
    assert found.main == "Set the wrench to 5.7 N·m" and any("never past 7.9 N·m" in line for line in found.lines)


@pytest.mark.parametrize(
    ("shown", "state", "words"),
    [("58 in-lb", "good", "50 in-lb on the nut, in the window"), ("78 in-lb", "good", "70 in-lb"),
     ("57.9 in-lb", "bad", "below the window"), ("79 in-lb", "bad", "above the window, not above the largest"),
     ("109 in-lb", "bad", "above the largest torque allowed, 100 in-lb")],
)  # fmt: skip
def test_what_the_wrench_showed_less_drag_is_judged_to_the_end(shown: str, state: str, words: str) -> None:
    verdict = rules.torque_verdicts(torqued(drag="8 in-lb", shown=shown))[0]
    assert verdict.state == state and words in verdict.words
    assert "43.13-1B" in verdict.source and "win" in verdict.caution


def test_units_are_never_guessed_and_newton_meters_are_judged_exactly() -> None:
    verdict = rules.torque_verdicts(torqued(shown="7.9 N·m", unit="N*m"))[0]
    assert verdict.good and verdict.words.startswith("7.9 N·m")
    assert rules.torque_verdicts(torqued(shown="8 N·m", unit="N*m"))[0].bad


def test_the_makers_window_wins_over_the_table() -> None:
    sheet = {"window_min": "18 in-lb", "window_max": "22 in-lb", "source": "engine manual, p. 12"}
    found = rules.setting_of(torqued(**sheet))
    assert found.main == "Set the wrench to 20 in-lb" and "engine manual" in found.rule.source
    verdict = rules.torque_verdicts(torqued(**sheet, shown="60 in-lb"))[0]
    assert verdict.bad and verdict.source == "engine manual, p. 12"
    with pytest.raises(Impossible, match="two ends"):
        rules.window_of(torqued(window_min="18 in-lb"))
    with pytest.raises(Impossible, match="more than the most"):
        rules.window_of(torqued(window_min="22 in-lb", window_max="18 in-lb"))


def test_an_adapter_without_a_lever_is_a_bad_verdict_not_silence() -> None:
    verdict = rules.torque_verdicts(torqued(adapter="2 in", shown="60 in-lb"))[0]
    assert verdict.bad and "lever is needed" in verdict.words


def test_a_wrench_has_to_fit_at_a_fifth_of_its_scale() -> None:
    def fit(scale: str, step: str):
        return rules.torque_verdicts(torqued(wrench=Wrench("W1", scale, step)))[1]

    assert fit("200 in-lb", "1 in-lb").good
    assert fit("300 in-lb", "1 in-lb").good and "best is" in fit("300 in-lb", "1 in-lb").words
    assert fit("301 in-lb", "1 in-lb").bad
    assert fit("100 in-lb", "6 in-lb").good and fit("100 in-lb", "6.1 in-lb").bad
    assert fit("50 in-lb", "1 in-lb").bad
    assert rules.torque_verdicts(torqued(wrench=None))[1].state == "open"
    assert rules.torque_verdicts(torqued(wrench=Wrench("W1")))[1].state == "open"


def test_a_castle_nut_is_open_until_it_is_safetied() -> None:
    told = {"castle": True, "shown": "60 in-lb"}
    assert [one.about for one in rules.torque_verdicts(torqued(**told)) if one.state == "open"] == ["Safetied"]
    assert all(one.good for one in rules.torque_verdicts(torqued(**told, safetied="cotter pin")))


def test_small_reused_locknuts_are_not_in_the_table_and_none_is_borrowed() -> None:
    assert any("not in Table 7-2" in line for line in rules.setting_of(torqued(drag="4 in-lb")).lines)
    large = rules.setting_of(TorqueFacts(thread="1/2-20", nut_type="tension", drag="12 in-lb"))
    assert any("less than 10 in-lb" in line for line in large.lines)


@given(st.integers(1, 40), st.integers(50, 400), st.integers(-30, 100))
def test_what_is_dialed_in_gives_the_nut_its_window(drag: int, lever: int, adapter: int) -> None:
    facts = torqued(drag=f"{drag} in-lb", lever=f"{lever} in", adapter=f"{adapter} in" if adapter > 0 else "")
    found = rules.setting_of(facts)
    for end in (found.low, found.high):
        assert 50 <= end * rules.gain_of(facts) - drag <= 70


# ---- solid rivets: US Navy training manual 14018, figure 13-43; heads, edges: AC 43.13-1B ----


def riveted(**more) -> FastenerFacts:
    return FastenerFacts(**{"solid_rivet": True, "diameter": "1/8 in"} | more)


def verdict_on(facts: FastenerFacts, about: str):
    return next(one for one in rules.fastener_verdicts(facts) if one.about == about)


def test_a_rivet_is_the_nearest_length_that_is_made() -> None:
    # 1/4 in grip + 1.5 x 1/8 in = 7/16 in.
    assert verdict_on(riveted(grip="0.25 in", length="7/16 in"), "Rivet length").good
    assert "too short" in verdict_on(riveted(grip="0.25 in", length="3/8 in"), "Rivet length").words
    assert "too long" in verdict_on(riveted(grip="0.25 in", length="1/2 in"), "Rivet length").words


def test_a_formed_head_is_judged_by_the_rule_that_is_written_down() -> None:
    # 0.0520 in is lower than half of 1/8 in, and inside the military limits of 0.050 to 0.070 in.
    low = {"head_height": "0.052 in", "head_width": "3/16 in"}
    assert verdict_on(riveted(**low), "Formed head").bad
    assert "choose that rule" in verdict_on(riveted(**low), "Formed head").words
    assert verdict_on(riveted(**low, rule=rules.MILITARY), "Formed head").good
    assert verdict_on(riveted(head_height="0.071 in", rule=rules.MILITARY), "Formed head").bad
    assert verdict_on(riveted(head_height="1/16 in", head_width="0.1874 in"), "Formed head").bad
    assert verdict_on(riveted(head_height="1/16 in"), "Formed head").good
    assert verdict_on(riveted(diameter="5/32 in", head_height="0.08 in", rule=rules.MILITARY), "Formed head").bad


@pytest.mark.parametrize(("text", "good"), [("1/4 in", True), ("6.35 mm", True), ("0.2499 in", False)])
def test_edge_distance_is_two_diameters_exactly(text: str, good: bool) -> None:
    assert verdict_on(riveted(edge=text), "Edge distance").good is good


def test_metric_rivets_meet_three_diameters_exactly() -> None:
    assert verdict_on(riveted(diameter="3.2 mm", pitch="9.6 mm"), "Pitch").good
    assert verdict_on(riveted(diameter="3.2 mm", pitch="9.59 mm"), "Pitch").bad


def test_bolts_are_as_typed_but_a_lot_on_hold_is_said() -> None:
    assert rules.fastener_verdicts(FastenerFacts(count=4)) == []
    (held,) = rules.fastener_verdicts(FastenerFacts(count=4, lot=Lot("L-7 AN3-5A", "hold")))
    assert held.bad and "on hold" in held.words


# ---- weighing ----


SCALES = [
    Scale("Left main", "412 lb", "5 lb", "96 in"),
    Scale("Right main", "409 lb", "5 lb", "96 in"),
    Scale("Nose", "303 lb", "", "20 in"),
]
SAID = {"datum": "nose tip", "level": "on the longerons", "fluids": "no fuel, oil full"}


def test_a_part_is_held_against_its_estimate() -> None:
    (good,) = rules.weighing_verdicts(WeighingFacts(weight="460 g", estimate="400 g"))
    assert good.good and "+15.0 %" in good.words
    (bad,) = rules.weighing_verdicts(WeighingFacts(weight="460.1 g", estimate="400 g"))
    assert bad.bad and "heavier than predicted" in bad.words
    assert rules.weighing_verdicts(WeighingFacts(weight="460 g")) == []


def test_three_scales_give_weight_and_center_of_gravity() -> None:
    (found,) = rules.weighing_verdicts(WeighingFacts(True, scales=SCALES, **SAID))
    # 407 + 404 + 303 lb; (811 x 96 + 303 x 20) / 1114 = 75.33 in.
    assert found.good and found.words == "1114.0 lb, center of gravity 75.33 in aft of the datum"
    assert "aircraft's own papers" in found.caution and any("83916 lb in" in line for line in found.lines)


def test_a_weighing_says_what_is_missing_and_refuses_what_cannot_be() -> None:
    (two,) = rules.weighing_verdicts(WeighingFacts(True, scales=SCALES[:2], **SAID))
    assert two.state == "open" and "1 of 3 scales" in two.words
    (bare,) = rules.weighing_verdicts(WeighingFacts(True, scales=SCALES))
    assert "where the datum is" in bare.words and "fluids" in bare.words
    (tared,) = rules.weighing_verdicts(WeighingFacts(True, scales=[Scale("Nose", "5 lb", "6 lb")], **SAID))
    assert tared.bad and "tare" in tared.words


def test_arms_ahead_of_the_datum_count_negative() -> None:
    scales = [Scale("Left", "100 kg", "", "-500 mm"), Scale("Right", "100 kg", "", "-500 mm"), Scale("Tail", "50 kg", "", "500 mm")]  # fmt: skip  # noqa: E501
    (found,) = rules.weighing_verdicts(WeighingFacts(True, scales=scales, **SAID))
    assert found.words == "250.0 kg, center of gravity 300.00 mm forward of the datum"


@pytest.mark.parametrize(
    ("text", "kept"),
    [("412.5 g", (Decimal("412.5"), "g")), ("2.25 lb", (Decimal("2.25"), "lb")),
     ("2 lb 8 oz", (Decimal("2.5"), "lb")), ("1/3 lb", (Decimal("151.1975"), "g"))],
)  # fmt: skip
def test_a_part_keeps_the_weight_as_it_was_typed_where_it_can(text: str, kept: tuple[Decimal, str]) -> None:
    assert rules.part_weight(text) == kept


# ---- hardness: FRP resin maker's fabricating tips; ASTM D2583-95 excerpt ----

TEN = ["38", "40", "41", "39", "42", "40", "41", "12", "40", "60"]


def test_highest_and_lowest_are_left_out() -> None:
    found = rules.hardness_verdicts(HardnessFacts(TEN, Decimal(40), "resin data", "2 mm", "25 mm"))
    assert [one.state for one in found] == ["good", "good"] and "40.1" in found[1].words
    assert rules.hardness_verdicts(HardnessFacts(TEN, Decimal(41), "", "2 mm", "25 mm"))[1].bad


def test_where_the_method_does_not_apply_hard_readings_prove_nothing() -> None:
    # Six carbon plies of 193 g/m² are about 1.4 mm.
    (thin,) = rules.hardness_verdicts(HardnessFacts(TEN, Decimal(10), "", "1.4 mm", "25 mm"))
    assert thin.bad and "does not apply" in thin.words and "coupon" in thin.caution
    assert any("Average" in line for line in thin.lines)
    (near,) = rules.hardness_verdicts(HardnessFacts(TEN, Decimal(10), "", "2 mm", "2.9 mm"))
    assert near.bad and "edge" in near.words
    assert rules.hardness_verdicts(HardnessFacts(TEN, Decimal(10)))[0].state == "open"
    assert rules.hardness_verdicts(HardnessFacts(TEN, Decimal(10), "", "1.5 mm", "3 mm"))[0].good


def test_too_few_readings_wait_and_slips_are_refused() -> None:
    assert (
        rules.hardness_verdicts(HardnessFacts(TEN[:9], Decimal(1), "", "2 mm", "9 mm"))[1].words == "9 of 10 readings."
    )
    assert rules.read_readings("38 40,5; 41\n39, 42") == ["38", "40.5", "41", "39", "42"]
    for typed in ("38 forty", "101", "-3"):
        with pytest.raises(Impossible, match="no reading"):
            rules.read_readings(typed)


# ---- tap maps: AC 43.13-1B para 5-105 ----


@pytest.mark.parametrize(
    ("skin", "sandwich", "sides", "applies"),
    [("0.079 in", False, 1, True), ("0.080 in", False, 1, False), ("2 mm", True, 2, True), ("2 mm", True, 1, False)],
)
def test_a_tap_test_applies_to_thin_skins_only(skin: str, sandwich: bool, sides: int, applies: bool) -> None:
    found = rules.tap_verdicts(TapFacts(skin, sandwich, sides, ["good"], photo=True, accepted="yes"))
    assert found[0].good is applies
    # What was heard is not judged where it says nothing.
    assert (overall(found) == "good") is applies


def test_what_was_heard_needs_a_picture_and_a_word() -> None:
    def heard(**more):
        return rules.tap_verdicts(TapFacts("1 mm", **more))[-1]

    assert "leaves no record" in heard(accepted="yes").words
    assert heard(photo=True).state == "open"
    assert heard(photo=True, accepted="no", sounds=["dull", "good"]).bad
    found = heard(photo=True, accepted="yes", sounds=["dull", "good", "good"])
    assert found.good and found.lines == ("Marked: 1 dull, 0 doubtful, 2 good",)


# ---- coupons ----


def test_a_result_is_compared_in_units_of_one_kind_only() -> None:
    (good,) = rules.coupon_verdicts(CouponFacts("62 MPa", "8900 psi", source="plan"))
    assert good.good and good.source == "plan"
    (below,) = rules.coupon_verdicts(CouponFacts("61 MPa", "8900 psi"))
    assert below.bad
    (other,) = rules.coupon_verdicts(CouponFacts("62 MPa", "40 N"))
    assert other.bad and "cannot be compared" in other.words
    assert rules.coupon_verdicts(CouponFacts("3 cracks", "2 cracks", least=False))[0].bad
    assert rules.coupon_verdicts(CouponFacts())[0].words == "Not tested yet."
    assert rules.coupon_verdicts(CouponFacts("62 MPa"))[0].state == "open"


def test_negative_voids_are_flagged() -> None:
    burnt = {"fiber_g": Decimal("6.9"), "specimen_g": Decimal(10), "fiber_density": Decimal("1.78"),
             "resin_density": Decimal("1.2")}  # fmt: skip
    (good,) = rules.coupon_verdicts(CouponFacts(**burnt, laminate_density=Decimal("1.5")))
    assert good.good and "58.1 % fiber" in good.words
    (bad,) = rules.coupon_verdicts(CouponFacts(**burnt, laminate_density=Decimal("1.7")))
    assert bad.bad and "negative voids" in bad.words
    (missing,) = rules.coupon_verdicts(CouponFacts(**burnt))
    assert missing.state == "open" and "density of the laminate" in missing.words


# ---- function tests ----


def test_value_or_tester_can_fail_a_function_test() -> None:
    limits = {
        "value": Decimal("3.4"),
        "unit": "A",
        "low": Decimal(2),
        "high": Decimal("3.4"),
        "source": "actuator sheet",
    }
    (good,) = rules.function_verdicts(FunctionFacts(**limits))
    assert good.good and good.words == "3.4 A, at least 2 and at most 3.4 A"
    assert rules.function_verdicts(FunctionFacts(**limits | {"value": Decimal("3.41")}))[0].bad
    assert rules.function_verdicts(FunctionFacts(**limits, passed="no"))[0].bad
    assert rules.function_verdicts(FunctionFacts(passed="yes"))[0].good
    assert rules.function_verdicts(FunctionFacts(value=Decimal(3), unit="A"))[0].state == "open"
    # A good word does not mend a figure outside its limits.
    assert rules.function_verdicts(FunctionFacts(**limits | {"value": Decimal(9)}, passed="yes"))[0].bad


def test_figures_keep_any_unit() -> None:
    assert rules.with_unit("3,4 A") == (Fraction(17, 5), "A")
    with pytest.raises(Impossible):
        rules.with_unit("about three")


# ---- commands ----


@pytest.fixture
def edda(db):
    return make_project()[1]


@pytest.fixture
def float_(edda):
    return make_assembly(edda, "24.1")


def make(kind: str, by, assembly, **more):
    values = {"request_id": new_key()} | more
    return checks.record_check(kind, by=by, at=NOW, project=by.project, assembly=assembly, **values)


def make_wrench(by, **more) -> Tool:
    values = {"number": "W1", "name": "Click wrench", "kind": "torque", "full_scale": "200 in-lb",
              "resolution": "1 in-lb", "interval_months": 12} | more  # fmt: skip
    tool = Tool(project=by.project, **values)
    tool.save(force_insert=True)
    return tool


def happened(tool: Tool, kind: str, day: date) -> None:
    by = tool.project.people.get(role="builder")
    ToolEvent(tool=tool, kind=kind, happened_on=day, at=NOW, by=by).save(force_insert=True)


def test_a_check_sent_twice_is_one_with_one_entry(edda, float_) -> None:
    first, again = (make("torque", edda, float_, request_id="one", place="Strut") for _ in range(2))
    assert first == again and first.label == "TQ-1"
    assert Entry.objects.filter(subject=first.subject).count() == 1


def test_scales_are_kept_with_a_weighing_and_corrected_in_place(edda, float_) -> None:
    rows = [{"place": "Nose", "shown": "300 lb", "shown_g": Decimal(136078), "arm": "20 in", "arm_mm": Decimal(508)}]
    weighing = make("weighing", edda, float_, what="All of it", whole_aircraft=True, scales=rows)
    (row,) = weighing.readings.all()
    checks.correct_check(weighing, by=edda, at=NOW, scales=rows)
    assert Entry.objects.filter(subject=weighing.subject).count() == 1
    more = [rows[0] | {"shown": "301 lb"}, {"place": "Left", "shown": "400 lb"}]
    checks.correct_check(weighing, by=edda, at=NOW, scales=more)
    assert {one.place: one.shown for one in weighing.readings.all()} == {"Left": "400 lb", "Nose": "301 lb"}
    assert weighing.readings.get(place="Nose").pk == row.pk
    assert "301 lb" in str(Entry.objects.filter(subject=weighing.subject).order_by("pk").last().state)
    checks.correct_check(weighing, by=edda, at=NOW, scales=[])
    assert not weighing.readings.exists()


def test_a_part_gets_its_weight_with_one_tap_and_the_reason(edda, float_) -> None:
    part = make_part(edda, float_, estimate=Decimal(400), estimate_unit="g")
    weighing = make("weighing", edda, float_, part=part, what="Lid", weight="14.5 oz", weight_g=Decimal("411.068"))
    assert queries.weight_to_give(weighing) == "14.5 oz"
    checks.give_weight_to_part(weighing, by=edda, at=NOW)
    part = Part.objects.get(pk=part.pk)
    assert (part.weight, part.weight_unit) == (Decimal("14.5"), "oz")
    assert "W-1" in Entry.objects.filter(subject=part.subject).order_by("pk").last().reason
    assert queries.weight_to_give(Weighing.objects.get()) == ""
    # The same weight in another unit is nothing to write.
    part = make_part(edda, float_, "P-9", weight=Decimal(2860), weight_unit="g")
    for weight, offered in (("2.86 kg", ""), ("2.861 kg", "2.861 kg")):
        again = make("weighing", edda, float_, part=part, what="Lid", weight=weight, weight_g=Decimal(2860))
        assert queries.weight_to_give(again) == offered
    bare = make("weighing", edda, float_, what="Box")
    with pytest.raises(Refusal):
        checks.give_weight_to_part(bare, by=edda, at=NOW)


def test_marks_need_a_photo_and_old_ones_stay_in_the_journal(edda, float_) -> None:
    tapmap, photo = make("tapmap", edda, float_, place="Left skin"), make_photo(edda)
    taps = [{"x": 2500, "y": 4000, "sound": "dull", "words": "near the rib"}]
    with pytest.raises(Refusal, match="photo"):
        checks.mark_taps(tapmap, by=edda, at=NOW, photo=None, taps=taps)
    checks.mark_taps(tapmap, by=edda, at=NOW, photo=photo, taps=taps)
    checks.mark_taps(tapmap, by=edda, at=NOW, photo=photo, taps=taps)
    assert Entry.objects.filter(subject=tapmap.subject).count() == 2
    checks.mark_taps(tapmap, by=edda, at=NOW, photo=photo, taps=[], accepted="yes")
    assert not tapmap.taps.exists()
    assert "near the rib" in str([entry.state for entry in Entry.objects.filter(subject=tapmap.subject)])
    checks.finish_check(TapMap.objects.get(), by=edda, at=NOW)
    with pytest.raises(Refusal, match="why"):
        checks.mark_taps(tapmap, by=edda, at=NOW, photo=photo, taps=taps)


def test_what_a_check_is_about_has_to_be_said_before_it_is_finished(edda, float_) -> None:
    for kind, said in (
        ("torque", {"place": "Strut"}),
        ("hardness", {}),
        ("tapmap", {"place": "Skin"}),
        ("weighing", {"what": "Lid"}),
        ("coupon", {}),
        ("function", {"what": "Leak test"}),
    ):
        with pytest.raises(Refusal):
            checks.finish_check(make(kind, edda, float_, **said), by=edda, at=NOW)
    row = make("fasteners", edda, float_, place="Rib 3", count=4, spec="AN3-5A")
    assert queries.state(checks.finish_check(row, by=edda, at=NOW)) == "good"


def test_a_wrench_that_is_due_or_was_found_bad_is_said(edda, float_) -> None:
    today, wrench = NOW.date(), make_wrench(edda)
    torque = make("torque", edda, float_, place="Strut", wrench=wrench, shown="60 in-lb", **BOLT)

    def told() -> list[str]:
        fresh = queries.all_checks(edda.project, "torque").get(pk=torque.pk)
        return [one.words for one in queries.verdicts(fresh) if one.about == "Tool"]

    happened(wrench, "calibrated", today - timedelta(days=700))
    assert "was due" in told()[0]
    happened(wrench, "calibrated", today - timedelta(days=30))
    assert told() == []
    happened(wrench, "bad", today + timedelta(days=20))
    assert "found bad on" in told()[0] and "since it was last good" in told()[0]


def test_lists_stay_at_few_queries(edda, float_, django_assert_max_num_queries) -> None:
    wrench = make_wrench(edda)
    for at in range(6):
        make("torque", edda, float_, place=f"Bolt {at}", wrench=wrench, **BOLT)
    with django_assert_max_num_queries(4):
        assert len(queries.judged(list(queries.checks(edda.project, "torque")), edda.project)) == 6


@pytest.mark.parametrize("kind", ["torque", "fasteners", "weighing"])
def test_pages_of_lists_ask_a_fixed_number_of_queries(edda, float_, kind: str) -> None:
    client, wrench = client_for(edda), make_wrench(edda)
    fields = {"torque": {"wrench": wrench, **BOLT}, "fasteners": ROW, "weighing": {"what": "Lid", "weight": "1 kg"}}
    address = f"{URL}{kind}/"

    def asked() -> int:
        client.get(address)
        with CaptureQueriesContext(connection) as caught:
            client.get(address)
        return len(caught)

    make(kind, edda, float_, **fields[kind])
    few = asked()
    for _ in range(4):
        make(kind, edda, float_, **fields[kind])
    assert asked() == few


def test_what_no_rule_judges_is_recorded_and_not_called_good(edda, float_) -> None:
    row = make("fasteners", edda, float_, **ROW)
    client, page = client_for(edda), f"{URL}fasteners/{row.pk}/"
    assert "No verdict yet" in client.get(f"{URL}fasteners/").content.decode()
    common.finish(row, by=edda, at=NOW)
    for address in (f"{URL}fasteners/", page, f"/tarnwader-2/assemblies/{float_.pk}/process/"):
        told = client.get(address).content.decode()
        assert "Recorded<" in told and "Good<" not in told, address


# ---- pages ----

URL = "/tarnwader-2/checks/"


def post(client, kind: str, assembly, path: str = "new/", **fields):
    return client.post(f"{URL}{kind}/{path}", {"request_id": f"by-form-{kind}", "assembly": assembly.pk} | fields)


def test_torque_from_setting_to_verdict(edda, float_) -> None:
    client, wrench = client_for(edda), make_wrench(edda)
    fields = {
        "place": "Strut, lower bolt",
        "wrench": wrench.pk,
        "drag": "8 in-lb",
        "lever": "10 in",
        "adapter": "2,5 in",
    } | BOLT
    looked = post(client, "torque", float_, "look/", **fields)
    assert "Set the wrench to 54.4 in-lb" in looked.content.decode() and not Torque.objects.exists()
    for _ in range(2):
        assert post(client, "torque", float_, **fields).status_code == 302
    torque = Torque.objects.get()
    assert (torque.drag, torque.drag_inlb, torque.adapter) == ("8 in-lb", 8, "2,5 in")
    page = f"{URL}torque/{torque.pk}/"
    assert "Set the wrench to 54.4 in-lb" in client.get(page).content.decode()
    bad = client.post(f"{page}tightened/", {"shown": "tight"})
    assert bad.status_code == 422 and 'value="tight"' in bad.content.decode()
    told = client.post(f"{page}tightened/", {"shown": "54.4 in-lb", "mark": "on"}, follow=True).content.decode()
    assert "60 in-lb on the nut, in the window" in told and "Witness mark painted" in told
    assert client.post(f"{page}finish/").status_code == 302
    assert client.post(f"{page}tightened/", {"shown": "70"}).status_code == 422


def test_bad_entries_are_kept_as_typed(edda, float_) -> None:
    client = client_for(edda)
    answer = post(
        client, "torque", float_, place="Strut", drag="8 bananas", window_min="30", window_max="20", source="x"
    )
    told = answer.content.decode()
    assert answer.status_code == 422 and 'value="8 bananas"' in told
    answer = post(client, "torque", float_, place="Strut", window_min="30", window_max="20", source="x")
    assert answer.status_code == 422 and "less than the least" in answer.content.decode()
    answer = post(client, "torque", float_, place="Strut", window_min="20", window_max="30")
    assert answer.status_code == 422 and "it wins over the table" in answer.content.decode()
    assert not Torque.objects.exists()


def test_a_rivet_row_by_form(edda, float_) -> None:
    client, lot = client_for(edda), make_lot(edda, material="hardware", name="MS20470AD4-6")
    fields = {"place": "Rib 3", "spec": "MS20470AD4-6", "count": "24", "rejected": "", "lot": lot.pk,
              "solid_rivet": "on", "diameter": "1/8 in", "grip": "1/4 in", "length": "7/16 in", "edge": "0.2 in",
              "head_height": "0.065 in", "head_width": "0.19 in"}  # fmt: skip
    assert post(client, "fasteners", float_, **fields).status_code == 302
    row = Fasteners.objects.get()
    assert (row.count, row.rejected, row.lot) == (24, 0, lot) and row.rule == rules.HALF
    told = client.get(f"{URL}fasteners/{row.pk}/").content.decode()
    assert "is too little" in told and "Formed head as asked for" in told
    assert "is too little" in client.get(f"{URL}fasteners/").content.decode()


def test_the_whole_aircraft_by_form(edda, float_) -> None:
    client = client_for(edda)
    fields = {"what": "Tarnwader 2", "whole_aircraft": "on", **SAID}
    for at, scale in enumerate(SCALES, start=1):
        fields |= {f"place_{at}": scale.place, f"shown_{at}": scale.shown, f"tare_{at}": scale.tare,
                   f"arm_{at}": scale.arm}  # fmt: skip
    assert post(client, "weighing", float_, **fields).status_code == 302
    weighing = Weighing.objects.get()
    page = f"{URL}weighing/{weighing.pk}/"
    assert "75.33 in aft of the datum" in client.get(page).content.decode()
    edit = client.get(f"{page}edit/").content.decode()
    assert 'value="412 lb"' in edit
    fixed = fields | {"shown_3": "304 lb", "done_by": edda.pk, "done_at": "2026-05-14T11:00"}
    assert post(client, "weighing", float_, f"{weighing.pk}/edit/", **fixed).status_code == 302
    assert weighing.readings.get(place="Nose").shown == "304 lb"
    twice = post(client, "weighing", float_, **fields | {"request_id": "another", "place_2": "Left main"})
    assert twice.status_code == 422


def test_hardness_coupon_and_function_by_form(edda, float_) -> None:
    client, mix = client_for(edda), make_mix(edda, float_)
    hard = {"readings": " ".join(TEN), "thickness": "1.4 mm", "edge": "25 mm", "least": "10"}
    assert post(client, "hardness", float_, **hard).status_code == 302
    row = Hardness.objects.get()
    assert row.readings == TEN and "does not apply" in client.get(f"{URL}hardness/{row.pk}/").content.decode()
    assert " ".join(TEN) in client.get(f"{URL}hardness/{row.pk}/edit/").content.decode()
    wrong = post(client, "hardness", float_, **hard | {"readings": "38 x"})
    assert wrong.status_code == 422 and "38 x" in wrong.content.decode()

    said = {"test": "Lap shear", "made_with": [mix.label], "value": "62 MPa", "limit": "8900 psi", "least": "1"}
    assert post(client, "coupon", float_, **said).status_code == 302
    coupon = Coupon.objects.get()
    assert coupon.value_si == 62_000_000 and coupon.made_with == mix.label
    told = client.get(f"{URL}coupon/{coupon.pk}/").content.decode()
    assert f"/mixes/{mix.pk}/" in told and "62 MPa, at least 8900 psi" in told
    said |= {"tested_at": "2026-03-14T22:44", "laminate_density": "1.90000", "specimen_g": "12.50000"}
    said |= {"assembly": float_.pk, "done_at": "2026-03-13T10:00", "done_by": edda.pk, "request_id": "-"}
    assert client.post(f"{URL}coupon/{coupon.pk}/edit/", said).status_code == 302
    told = client.get(f"{URL}coupon/{coupon.pk}/").content.decode()
    assert "<dd>14 Mar 2026, 22:44</dd>" in told and "<dd>1.9</dd>" in told and "<dd>12.5</dd>" in told

    tested = {"what": "Door actuator", "measured": "3.4 A", "high": "4 A", "passed": ""}
    assert post(client, "function", float_, **tested).status_code == 302
    test = FunctionTest.objects.get()
    assert (test.value, test.unit, test.high) == (Decimal("3.4"), "A", 4)
    page = client.get(f"{URL}function/{test.pk}/edit/").content.decode()
    assert 'value="3.4 A"' in page and 'value="4 A"' in page
    other = post(client, "function", float_, **tested | {"high": "4 V", "request_id": "another"})
    assert other.status_code == 422 and "Enter it in A" in other.content.decode()


def test_a_tap_map_by_its_rows_without_a_script(edda, float_) -> None:
    client, photo = client_for(edda), make_photo(edda)
    answer = post(client, "tapmap", float_, place="Left skin", skin="1 mm", sides_tapped="1")
    tapmap = TapMap.objects.get()
    marks = f"{URL}tapmap/{tapmap.pk}/marks/"
    assert answer.url == marks
    shots.show_shot(by=edda, at=NOW, record=tapmap, photo=photo)
    rows = {"photo": photo.pk, "accepted": "yes", "x": ["25", "60,5", ""], "y": ["40 %", "10", ""],
            "sound": ["dull", "good", ""], "words": ["near the rib", "", ""]}  # fmt: skip
    wrong = client.post(marks, rows | {"y": ["140", "10", ""]})
    assert wrong.status_code == 422 and 'value="140"' in wrong.content.decode()
    assert client.post(marks, rows).status_code == 302
    assert [(tap.x, tap.y, tap.sound) for tap in tapmap.taps.all()] == [(2500, 4000, "dull"), (6050, 1000, "good")]
    told = client.get(f"{URL}tapmap/{tapmap.pk}/").content.decode()
    assert 'x="25%" y="40%"' in told and 'value="40"' in client.get(marks).content.decode()
    assert "Dull, 25 % from the left and 40 % from the top: near the rib" in told
    assert "60.5 % from the left" in told and "Accepted by whoever tapped" in told


def test_correcting_a_finished_check_needs_a_reason_and_withdrawn_ones_stay_readable(edda, float_) -> None:
    client = client_for(edda)
    row = make("function", edda, float_, what="Leak test", passed="yes")
    page = f"function/{row.pk}/"
    client.post(f"{URL}{page}finish/")
    fields = {"what": "Leak test, both tanks", "passed": "yes", "done_by": edda.pk, "done_at": "2026-05-14T11:00"}
    assert post(client, "function", float_, f"{row.pk}/edit/", **fields).status_code == 422
    assert post(client, "function", float_, f"{row.pk}/edit/", **fields, reason="both").status_code == 302
    client.post(f"{URL}{page}reopen/", {"reason": "more to say"})
    client.post(f"{URL}{page}withdraw/", {"reason": "twice"})
    told = client.get(f"{URL}{page}")
    assert told.status_code == 200 and "twice" in told.content.decode()
    assert not queries.checks(edda.project, "function").exists()


def test_members_helpers_and_strangers(edda, float_) -> None:
    jory = make_person(edda.project, name="Jory")
    part = make_part(edda, float_)
    hers = make("weighing", edda, float_, part=part, what="Lid", weight="400 g", weight_g=Decimal(400))
    helper, page = client_for(jory), f"{URL}weighing/{hers.pk}/"
    assert helper.get(page).status_code == 200
    assert helper.get(f"{page}edit/").status_code == 403
    assert helper.post(f"{page}to-part/").status_code == 403
    assert client_for(make_project("Another")[1]).get(page).status_code == 404
    client = client_for(edda)
    assert client.post(f"{page}to-part/").status_code == 302
    assert Part.objects.get(pk=part.pk).weight == 400
    assert client.get(f"{URL}bond/").status_code == 404 and client.get(f"{URL}torque/{hers.pk}/").status_code == 404
    assert client.get(URL).status_code == 200
    for kind in queries.CHECKS:
        assert client.get(f"{URL}{kind}/").status_code == 200
        assert client.get(f"{URL}{kind}/new/").status_code == 200
        assert post(client, kind, float_, "look/").status_code == 200


def test_a_coupon_names_its_mix_though_that_is_withdrawn(edda, float_) -> None:
    mix = make_mix(edda, float_)
    coupon = make("coupon", edda, float_, made_with=f"{mix.label}, L-77")
    mixes.withdraw_mix(mix, by=edda, at=NOW, reason="spilled")
    assert [(said, made and made.pk) for said, made in queries.made_with(coupon)] == [
        (mix.label, mix.pk),
        ("L-77", None),
    ]
