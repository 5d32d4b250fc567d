"""Weight and balance on real rows: weighings, loaded items, limits, cases, forecast, report, who may."""

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from itertools import product
from re import findall
from typing import Any

import pytest
from django.urls import reverse
from pypdf import PdfReader

from accounts.models import Person
from archive.queries import faults
from calc import loading
from certification.commands import balance as commands
from certification.models import Equipment, Limits, LoadItem, WeighIn
from certification.queries import balance as queries
from certification.queries.balance_report import report_facts
from certification.queries.stores import stores_facts
from certification.rules import balance as rules
from foundation.digest import canonical
from foundation.refusal import Refusal
from journal.models import Entry
from parts import commands as parts
from process.commands import tools
from process.models import Recheck, Tool, ToolEvent
from process.queries import tools as tool_queries
from process.rules import quantities
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project

pytestmark = pytest.mark.django_db


@pytest.fixture
def edda() -> Person:
    return make_project()[1]


def q(name: str, suffix: str, text: str) -> dict[str, Any]:
    """A quantity as a command takes it."""
    if not text:
        return {name: "", f"{name}_{suffix}": None}
    kept, exact = quantities.read(text, suffix, "")
    return {name: kept, f"{name}_{suffix}": quantities.kept(exact)}


def scale(name: str, reading: str, arm: str, tare: str = "", tool: Tool | None = None) -> dict[str, Any]:
    return {"name": name, "tool": tool} | q("reading", "g", reading) | q("tare", "g", tare) | q("arm", "mm", arm)


def fluid(name: str, weight: str, arm: str, *, adds: bool = False) -> dict[str, Any]:
    return {"name": name, "adds": adds} | q("weight", "g", weight) | q("arm", "mm", arm)


TAIL_WHEEL = (
    scale("Left main", "524 lb", "62 in"),
    scale("Right main", "523 lb", "62 in"),
    scale("Tail", "67 lb", "244 in"),
)
SAID = {"datum": "face of the firewall", "level": "canopy rail", "condition": "empty, oil full, unusable fuel"}


def weigh(by: Person, *scales: dict[str, Any], finished: bool = True, **more: Any) -> WeighIn:
    values = SAID | {"scales": scales or TAIL_WHEEL} | more
    at = values.pop("at", NOW)
    row = commands.record_weighin(by=by, at=at, project=by.project, **values)
    return commands.finish_weighin(by=by, at=at, weighin=row) if finished else row


def item(by: Person, name: str, arm: str, most: str, least: str = "", kind: str = "other") -> LoadItem:
    values = q("arm", "mm", arm) | q("most", "g", most) | q("least", "g", least)
    return commands.add_item(by=by, at=NOW, project=by.project, kind=kind, name=name, source="sheet 4", **values)


def limit(
    by: Person, most: str, forward: Iterable[tuple[str, str]], aft: Iterable[tuple[str, str]], **more: Any
) -> Limits:
    corners = [
        {"side": side} | q("weight", "g", weight) | q("arm", "mm", arm)
        for side, points in (("forward", forward), ("aft", aft))
        for weight, arm in points
    ]
    known = {"source": "plan, sheet 4", **q("most", "g", most)} | more
    return commands.set_limits(by=by, at=NOW, project=by.project, corners=corners, **known)


def case(by: Person, name: str, **aboard: str):  # noqa: ANN201
    """A case with something of the items of these names aboard."""
    keys = {one.name: one.pk for one in queries.load_items(by.project)}
    loads = {}
    for what, text in aboard.items():
        kept, exact = quantities.read(text, "g", "")
        loads[keys[what]] = (kept, quantities.kept(exact))
    return commands.add_case(by=by, at=NOW, project=by.project, name=name, loads=loads)


def facts(by: Person) -> dict[str, Any]:
    return queries.balance_facts(by.project)


def by_name(by: Person) -> dict[str, dict[str, Any]]:
    return {one["name"]: one for one in facts(by)["cases"]}


# ---- worked examples ----


def test_weighed_on_three_scales_like_the_shop_facts(edda) -> None:
    """WT-01 and WT-02: 524 + 523 + 67 lb; 81 262 lb in; 72.95 in."""
    us, person = make_project("Other", units="us")
    found = queries.weigh_in_facts(weigh(person))
    assert (found["weight"], found["moment"], found["arm"]) == ("1114.0 lb", "81262 lb·in", "72.95 in")
    assert facts(person)["empty"]["on_scales"] == "1114.0 lb"
    assert us.units == "us"


# FAA-H-8083-1, chapter on weighing and the empty-weight center of gravity: from memory, edition and page not looked up.
# They agree with the law of the lever: D - F L / W with a nose wheel, D + R L / W with a tail wheel.
@pytest.mark.parametrize(
    ("scales", "weight", "arm"),
    [
        # Datum ahead of the airplane, nose wheel: 128 - 340 x 78 / 2006 = 114.8.
        ((("830 lb", 128), ("836 lb", 128), ("340 lb", 128 - 78)), "2006.0 lb", 114.8),
        # Datum behind the main wheels, nose wheel: -(75 + 340 x 78 / 2006) = -88.2.
        ((("830 lb", -75), ("836 lb", -75), ("340 lb", -75 - 78)), "2006.0 lb", -88.2),
        # Datum ahead of the main wheels, tail wheel: 7.5 + 67 x 222 / 1218 = 19.7.
        ((("554 lb", 7.5), ("597 lb", 7.5), ("67 lb", 7.5 + 222)), "1218.0 lb", 19.7),
    ],
)
def test_empty_center_from_scales_as_in_the_handbook(scales, weight, arm) -> None:
    person = make_project(units="us")[1]
    rows = [scale(name, reading, f"{at} in") for name, (reading, at) in zip("ABC", scales, strict=True)]
    found = queries.weigh_in_facts(weigh(person, *rows))
    assert found["weight"] == weight
    assert float(found["arm"].split()[0]) == pytest.approx(arm, abs=0.05)


def ac_43(person: Person) -> None:
    """The aircraft of FAA AC 43.13-1B, figures 10-10 and 10-11: 1169 lb at +10.6 in, oil of 17 lb at -49 in."""
    # The empty aircraft as three scales that carry it: its weight and its center are what the figure gives.
    weigh(person, scale("A", "500 lb", "10.6 in"), scale("B", "500 lb", "10.6 in"), scale("C", "169 lb", "10.6 in"))
    item(person, "Oil", "-49 in", "17 lb", "17 lb")
    item(person, "Pilot", "16 in", "170 lb", "170 lb", "crew")
    item(person, "Front", "16 in", "170 lb", "", "crew")
    item(person, "Rear", "48 in", "340 lb", "", "crew")
    item(person, "Fuel", "22 in", "240 lb", "83 lb", "fuel")
    item(person, "Baggage", "75.5 in", "100 lb", "", "baggage")
    limit(
        person,
        "2100 lb",
        [("1200 lb", "8.5 in"), ("2100 lb", "8.5 in")],
        [("1200 lb", "21.9 in"), ("2100 lb", "21.9 in")],
    )


def test_the_most_forward_and_most_aft_case_of_the_advisory_circular_are_found() -> None:
    """FAA AC 43.13-1B (8 Sep 1998), figure 10-10, page 10-13: 1439 lb at +11.2 in; figure 10-11: 2036 lb, 43 428 lb in.

    The circular names what has to be aboard; here the program finds it. (The print of figure 10-13 gives +18.6 for
    38466 / 2100, which is 18.3: it is no example to test against.)
    """
    person = make_project(units="us")[1]
    ac_43(person)
    found = by_name(person)
    forward, aft = found["Most forward"], found["Most aft"]
    assert (forward["weight"], forward["arm"], forward["words"]) == ("1439.0 lb", "11.19 in", "Inside the limits")
    assert (aft["weight"], aft["arm"], aft["words"]) == ("2036.0 lb", "21.33 in", "Inside the limits")
    # The circular rounds each moment to a whole pound inch.
    assert float(aft["moment"].split()[0]) == pytest.approx(43428, abs=1)
    assert {load["name"] for load in aft["aboard"]} == {"Oil", "Pilot", "Rear", "Fuel", "Baggage"}
    assert "Front" not in {load["name"] for load in forward["aboard"]}


def test_fluids_are_taken_off_and_added_and_tares_subtracted(edda) -> None:
    rows = (scale("Left", "210 kg", "2 m", "10 kg"), scale("Right", "200 kg", "2 m"), scale("Nose", "100 kg", "500 mm"))
    row = weigh(edda, *rows, fluids=[fluid("Fuel", "20 kg", "2.5 m"), fluid("Oil", "4 kg", "1 m", adds=True)])
    found = queries.weigh_in_facts(row)
    # 200 + 200 + 100 - 20 + 4; moments in kg m: 400 + 400 + 50 - 50 + 4.
    assert (found["on_scales"], found["weight"], found["moment"]) == ("500.0 kg", "484.0 kg", "804.00 kg·m")
    assert found["center"] == "1661.2 mm aft of the datum"
    assert [step["net"] for step in found["steps"]] == ["200.0 kg", "200.0 kg", "100.0 kg", "-20.0 kg", "4.0 kg"]


# ---- a weighing from draft to counting ----


def test_a_draft_does_not_count_and_is_finished_only_when_everything_is_said(edda) -> None:
    row = weigh(edda, scale("Left main", "200 kg", ""), finished=False, datum="", level="", condition="")
    assert facts(edda)["empty"] is None
    with pytest.raises(Refusal, match="at least 3 scales, 1 so far") as no:
        commands.finish_weighin(by=edda, at=NOW, weighin=row)
    for words in ("the arm of Left main", "where the datum is", "how it was leveled", "in which condition"):
        assert words in no.value.message
    commands.correct_weighin(by=edda, at=NOW, weighin=row, scales=TAIL_WHEEL, **SAID)
    commands.finish_weighin(by=edda, at=NOW, weighin=row)
    assert facts(edda)["empty"]["label"] == "WB-1"
    verbs = list(Entry.objects.filter(subject=row.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["weighin.recorded", "weighin.corrected", "weighin.finished"]
    assert not list(faults(edda.project))


def test_the_newest_finished_weighing_counts_and_earlier_ones_stay(edda) -> None:
    weigh(edda)
    later = weigh(edda, at=NOW + timedelta(days=9))
    weigh(edda, finished=False, at=NOW + timedelta(days=10))
    # Entered late, but done before.
    weigh(edda, at=NOW + timedelta(days=11), done_at=NOW - timedelta(days=3))
    found = facts(edda)
    assert found["empty"]["label"] == later.label == "WB-2"
    assert len(found["weighings"]) == 4
    commands.withdraw_weighin(by=edda, at=NOW, weighin=later, reason="Scales stood on a slope")
    assert facts(edda)["empty"]["label"] == "WB-1"


def test_a_finished_weighing_is_corrected_with_a_reason_and_stays_complete(edda) -> None:
    row = weigh(edda)
    with pytest.raises(Refusal, match="Say why"):
        commands.correct_weighin(by=edda, at=NOW, weighin=row, note="x")
    with pytest.raises(Refusal, match="at least 3 scales"):
        commands.correct_weighin(by=edda, at=NOW, weighin=row, reason="x", scales=TAIL_WHEEL[:2])
    commands.correct_weighin(
        by=edda, at=NOW, weighin=row, reason="Misread", scales=[*TAIL_WHEEL[:2], scale("Tail", "68 lb", "244 in")]
    )
    entry = Entry.objects.filter(subject=row.subject).last()
    assert (entry.verb, entry.reason) == ("weighin.corrected", "Misread")


def test_what_cannot_be_is_refused(edda) -> None:
    with pytest.raises(Refusal, match="tare is more than"):
        weigh(edda, scale("Left", "5 kg", "1 m", "6 kg"), finished=False)
    with pytest.raises(Refusal, match="future"):
        weigh(edda, done_at=NOW + timedelta(days=1))
    with pytest.raises(Refusal, match="least is above"):
        item(edda, "Seat", "1 m", "50 kg", "60 kg")
    with pytest.raises(Refusal, match="not ahead of the aft"):
        limit(edda, "600 kg", [("300 kg", "2 m"), ("600 kg", "2 m")], [("300 kg", "1 m"), ("600 kg", "3 m")])
    with pytest.raises(Refusal, match="begin and end at the same weights"):
        limit(edda, "600 kg", [("300 kg", "1 m"), ("600 kg", "1 m")], [("310 kg", "2 m"), ("600 kg", "2 m")])
    with pytest.raises(Refusal, match="needs two points"):
        limit(edda, "600 kg", [("300 kg", "1 m")], [("300 kg", "2 m"), ("600 kg", "2 m")])
    with pytest.raises(Refusal, match="reach"):
        limit(edda, "700 kg", [("300 kg", "1 m"), ("600 kg", "1 m")], [("300 kg", "2 m"), ("600 kg", "2 m")])
    with pytest.raises(Refusal, match="where the limits are from"):
        limit(
            edda, "600 kg", [("300 kg", "1 m"), ("600 kg", "1 m")], [("300 kg", "2 m"), ("600 kg", "2 m")], source=" "
        )
    assert not WeighIn.objects.exists() or facts(edda)["empty"] is None


def test_a_scale_past_due_or_found_bad_is_said(edda) -> None:
    def tool(number: str, *events: tuple[str, str]) -> Tool:
        made = tools.add_tool(
            by=edda, at=NOW, project=edda.project, number=number, name="Pad", kind="scale", interval_months=12
        )
        for kind, day in events:
            known = {"kind": kind, "happened_on": datetime.fromisoformat(day).date(), "words": "x"}
            tools.record_event(by=edda, at=NOW, tool=made, **known)
        return made

    good = tool("P1", ("calibrated", "2026-02-01"))
    due = tool("P2", ("calibrated", "2024-02-01"))
    # Found bad after the weighing, last good before it: the reading is in doubt.
    bad = tool("P3", ("calibrated", "2026-01-10"), ("bad", "2026-05-13"))
    day = datetime(2026, 5, 1, 18, 0, tzinfo=UTC)
    rows = [scale(name, "200 kg", "1 m", tool=one) for name, one in (("L", good), ("R", due), ("N", bad))]
    found = queries.weigh_in_facts(weigh(edda, *rows, done_at=day))
    assert [one["doubtful"] for one in found["scales"]] == [False, True, True]
    assert "was due" in found["scales"][1]["tool_words"]
    assert "found bad on 13 May 2026" in found["scales"][2]["tool_words"]
    page = client_for(edda).get(reverse("certification:balance", args=[edda.project.slug])).content.decode()
    assert "Scale in doubt" in page and "found bad on 13 May 2026" in page


# ---- cases and limits ----


def amphibian(by: Person) -> None:
    rows = (scale("Left", "165 kg", "2600 mm"), scale("Right", "165 kg", "2600 mm"), scale("Nose", "70 kg", "700 mm"))
    weigh(by, *rows)
    item(by, "Seats", "2000 mm", "200 kg", "60 kg", "crew")
    item(by, "Tank", "2450 mm", "60 kg", "", "fuel")
    item(by, "Locker", "3400 mm", "40 kg", "", "baggage")
    limit(
        by,
        "620 kg",
        [("400 kg", "2080 mm"), ("520 kg", "2080 mm"), ("620 kg", "2150 mm")],
        [("400 kg", "2320 mm"), ("620 kg", "2320 mm")],
    )


def test_cases_inside_and_outside_are_said_in_words(edda) -> None:
    amphibian(edda)
    case(edda, "Alone", Seats="80 kg", Tank="40 kg")
    case(edda, "Over", Seats="200 kg", Tank="60 kg", Locker="40 kg")
    case(edda, "Too much in the locker", Seats="80 kg", Locker="60 kg")
    found = by_name(edda)
    assert found["Alone"]["inside"] and found["Alone"]["words"] == "Inside the limits"
    assert found["Over"]["inside"] is False
    assert found["Over"]["words"].startswith("Outside the limits: 80.0 kg over the most weight")
    assert found["Over"]["room_weight"] == "over by 80.0 kg"
    assert "Locker: 20.0 kg more than its most" in found["Too much in the locker"]["faults"]
    everything = facts(edda)
    assert everything["outside"] >= 2
    assert "over the most weight" in everything["full"]
    page = client_for(edda).get(reverse("certification:balance", args=[edda.project.slug])).content.decode()
    assert "80.0 kg over the most weight" in page and "lie outside the limits" in page
    assert "airworthy" not in page.lower() and "style=" not in page


def test_the_extremes_on_the_page_are_those_of_every_loading(edda) -> None:
    """Against brute force over a grid of all that can be loaded, on the rows as they are kept."""
    amphibian(edda)
    found = by_name(edda)
    seen = queries.picture(edda.project)
    craft = seen.craft
    assert craft is not None and seen.bounds is not None
    grid = [[one.least + (one.most - one.least) * Fraction(at, 10) for at in range(11)] for one in craft.items]
    all_of_them = [
        loading.case(craft, dict(zip([one.name for one in craft.items], weights, strict=True)))
        for weights in product(*grid)
    ]
    loads = [one for one in all_of_them if one.weight <= craft.most]
    exact = {one.name: one for one in seen.found}
    assert exact["Most forward"].arm <= min(one.arm for one in loads)
    assert exact["Most aft"].arm >= max(one.arm for one in loads)
    # The forward limit slopes from 520 kg on: the case that comes nearest to it is named too.
    places = [loading.place(seen.bounds.envelope, craft.most, one) for one in loads]
    rooms = [one.room_forward for one in places if one.room_forward is not None]
    near = exact.get("Nearest to the forward limit", exact["Most forward"])
    assert near.room_forward is not None and near.room_forward <= min(rooms)
    assert near.name == "Nearest to the forward limit" and "Nearest to the forward limit" in found


def test_without_limits_nothing_is_called_inside(edda) -> None:
    weigh(edda)
    item(edda, "Seats", "2000 mm", "200 kg", "60 kg")
    case(edda, "Alone", Seats="80 kg")
    assert by_name(edda)["Alone"]["inside"] is None
    assert "the designer's limits" in facts(edda)["missing"]
    page = client_for(edda).get(reverse("certification:balance", args=[edda.project.slug])).content.decode()
    assert "Inside the limits" not in page and "Not judged" in page


def test_an_item_is_withdrawn_only_when_no_case_has_it_aboard(edda) -> None:
    seat = item(edda, "Seats", "2000 mm", "200 kg")
    alone = case(edda, "Alone", Seats="80 kg")
    with pytest.raises(Refusal, match="aboard in: Alone"):
        commands.withdraw_item(by=edda, at=NOW, item=seat, reason="x")
    commands.withdraw_case(by=edda, at=NOW, case=alone, reason="x")
    commands.withdraw_item(by=edda, at=NOW, item=seat, reason="x")
    assert not facts(edda)["items"] and not list(faults(edda.project))


def test_limits_are_corrected_with_a_reason_and_keep_their_history(edda) -> None:
    amphibian(edda)
    points = [("400 kg", "2050 mm"), ("640 kg", "2050 mm")], [("400 kg", "2350 mm"), ("640 kg", "2350 mm")]
    with pytest.raises(Refusal, match="Say why"):
        limit(edda, "640 kg", *points)
    limit(edda, "640 kg", *points, reason="Revision D")
    assert Limits.objects.count() == 1
    found = facts(edda)["limits"]
    assert found["most"] == "640 kg" and [one["arm"] for one in found["forward"]] == ["2050 mm", "2050 mm"]
    assert list(Entry.objects.filter(verb__startswith="limits").values_list("verb", "reason")) == [
        ("limits.set", ""),
        ("limits.corrected", "Revision D"),
    ]
    assert not list(faults(edda.project))


# ---- forecast ----


def test_the_forecast_says_how_much_stands_on_a_scale_and_has_an_arm(edda) -> None:
    """WT-03: estimates of 2144 and 811 g, readings of 2290 and 386 g: 3487 g, of which 2676 g on a scale."""
    wing = make_assembly(edda)
    g = {"weight_unit": "g", "estimate_unit": "g"}
    make_part(edda, wing, "A", estimate=Decimal(2144), weight=Decimal(2290), **g)
    make_part(edda, wing, "B", estimate=Decimal(811), arm="100 mm", **g)
    make_part(edda, wing, "C", weight=Decimal(386), arm="400 mm", **g)
    make_part(edda, wing, "D")
    make_part(edda, wing, "E", status="scrapped", weight=Decimal(9000), weight_unit="g")
    make_part(edda, wing, "F", kind="mold", weight=Decimal(9000), weight_unit="g")
    found = facts(edda)["forecast"]
    assert (found["weight"], found["on_scale"], found["share_weighed"]) == ("3.5 kg", "2.7 kg", "76 %")
    assert found["pieces"] == 4 and found["no_weight"] == ["D Rib"]
    # (811 x 100 + 386 x 400) / 1197, from 34 % of the weight.
    assert (found["arm"], found["share_with_arm"]) == ("196.7 mm", "34 %")
    assert len(found["no_arm"]) == 2


def test_equipment_counts_and_a_consumed_part_is_not_counted_twice(edda) -> None:
    wing = make_assembly(edda)
    sheet = make_part(edda, wing, "S", weight=Decimal(5000), weight_unit="g")
    rib = make_part(edda, wing, "R", weight=Decimal(400), weight_unit="g")
    parts.add_origin(by=edda, at=NOW, part=rib, kind="cut_from", source=sheet)
    Equipment(
        project=edda.project,
        name="Radio",
        entered_at=NOW,
        entered_by=edda,
        **q("weight", "g", "600 g"),
        **q("arm", "mm", "1 m"),
    ).save(force_insert=True)
    found = facts(edda)["forecast"]
    assert (found["weight"], found["consumed"], found["equipment"]) == ("1.0 kg", 1, 1)
    assert (found["share_weighed"], found["arm"]) == ("40 %", "1000.0 mm")


# ---- pages, roles, scoping ----


def url(by: Person, name: str, *more: str) -> str:
    return reverse(f"certification:{name}", args=[by.project.slug, *more])


def typed(**more: str) -> dict[str, str]:
    rows = {
        "name_1": "Left main",
        "name_2": "Right main",
        "name_3": "Nose",
        "fluid_1": "",
        "weight_1": "",
        "farm_1": "",
    }
    rows |= {f"{name}_{at}": "" for name in ("reading", "tare", "arm", "tool") for at in (1, 2, 3)}
    return rows | {"adds_1": "off", "done_at": "2026-05-14T10:00", "datum": "firewall", "level": "rail",
                   "condition": "empty"} | more  # fmt: skip


def test_a_weighing_is_typed_finished_and_shown(edda) -> None:
    client = client_for(edda)
    page = client.get(url(edda, "weighin_new"))
    assert page.status_code == 200 and b"Scale 3 stands under" in page.content
    sent = typed(done_by=edda.pk, reading_1="210", tare_1="1.5", arm_1="2600", reading_2="208 kg", arm_2="2600 mm",
                 reading_3="95", arm_3="-120 mm", fluid_1="Fuel", weight_1="12", farm_1="2450")  # fmt: skip
    answer = client.post(url(edda, "weighin_new"), sent)
    row = WeighIn.objects.get()
    assert answer.status_code == 302 and answer.url == url(edda, "weighin", row.pk)
    assert [(one.reading, one.tare, one.arm) for one in row.points.all()] == [
        ("210 kg", "1.5 kg", "2600 mm"),
        ("208 kg", "", "2600 mm"),
        ("95 kg", "", "-120 mm"),
    ]
    text = client.get(answer.url).content.decode()
    assert "Draft" in text and "499.5 kg" in text and "tare" in text
    client.post(url(edda, "weighin_finish", row.pk))
    assert "Finished: it counts" in client.get(answer.url).content.decode()
    edit = client.get(url(edda, "weighin_edit", row.pk)).content.decode()
    assert 'value="210 kg"' in edit and "Reason" in edit
    answer = client.post(url(edda, "weighin_edit", row.pk), sent | {"reading_1": "211"})
    assert answer.status_code == 422 and 'value="211"' in answer.content.decode()
    answer = client.post(url(edda, "weighin_edit", row.pk), sent | {"reading_1": "211", "reason": "Misread"})
    assert answer.status_code == 302 and row.points.get(position=1).reading == "211 kg"


def test_a_weighing_that_is_sent_twice_is_made_once(edda) -> None:
    client = client_for(edda)
    page = client.get(url(edda, "weighin_new")).content.decode()
    (asked,) = findall(r'name="request_id" value="([^"]+)"', page)
    assert asked not in client.get(url(edda, "weighin_new")).content.decode()
    sent = typed(done_by=edda.pk, reading_1="210", arm_1="2600", fluid_1="Fuel", weight_1="12", request_id=asked)
    first, second = (client.post(url(edda, "weighin_new"), sent) for _ in range(2))
    row = WeighIn.objects.get()
    assert first.url == second.url == url(edda, "weighin", row.pk)
    assert Entry.objects.filter(subject=row.subject).count() == 1
    # What was typed after going back is not lost and makes no second one either.
    answer = client.post(url(edda, "weighin_new"), sent | {"reading_1": "211", "note": "Read again"})
    text = answer.content.decode()
    assert answer.status_code == 422 and "WB-1 is kept already" in text and 'value="211"' in text
    assert f'action="{url(edda, "weighin_edit", row.pk)}"' in text and "request_id" not in text
    assert row.points.get(position=1).reading == "210 kg"
    client.post(url(edda, "weighin_edit", row.pk), sent | {"reading_1": "211", "note": "Read again"})
    assert WeighIn.objects.get().points.get(position=1).reading == "211 kg" and not faults(edda.project)
    # One more row keeps the id; the same id in another project is another weighing.
    more = client.post(url(edda, "weighin_new"), typed(done_by=edda.pk, request_id=asked, more="scale"))
    assert f'value="{asked}"' in more.content.decode()
    other = make_project("Another")[1]
    assert client_for(other).post(url(other, "weighin_new"), sent | {"done_by": other.pk}).status_code == 302
    assert WeighIn.objects.filter(request_id=asked).count() == 2


def test_a_weighing_from_before_requests_had_ids_reads_as_it_did(edda) -> None:
    row = weigh(edda)
    assert "request_id" not in row.state()
    assert "request_id" in weigh(edda, request_id="a-request").state()
    assert not faults(edda.project)


def test_a_scale_found_bad_lists_weighings_until_they_are_looked_at_again(edda) -> None:
    made = tools.add_tool(by=edda, at=NOW, project=edda.project, number="P1", name="Pads", kind="scale")

    def happened(kind: str, day: str) -> ToolEvent:
        on = date.fromisoformat(day)
        return tools.record_event(by=edda, at=NOW, tool=made, kind=kind, happened_on=on, words="Read")

    happened("calibrated", "2026-01-10")
    scales = [scale("Left", "400 lb", "62 in", tool=made), scale("Right", "400 lb", "62 in", tool=made)]
    row = weigh(edda, *scales, scale("Tail", "60 lb", "240 in"), place="Hangar 3")
    weigh(edda, *scales, scale("Tail", "61 lb", "240 in"), done_at=NOW - timedelta(days=400))
    gone = weigh(edda, *scales, finished=False)
    commands.withdraw_weighin(by=edda, at=NOW, weighin=gone, reason="Twice")
    event = happened("bad", "2026-05-13")
    client = client_for(edda)

    def page(name: str, *keys: str) -> str:
        return client.get(reverse(f"process:{name}", args=[edda.project.slug, *keys])).content.decode()

    assert [[one.record.label for one in found.made + found.after] for found in tool_queries.suspects(made)] == [
        ["WB-1"]
    ]
    listed = page("tool_suspects", made.pk)
    assert url(edda, "weighin", row.pk) in listed and "The whole aircraft" in listed and "1 of 1 still" in listed
    assert "1 record to look at again" in page("tools") and "WB-2" in page("tool", made.pk)
    own = client.get(url(edda, "weighin", row.pk)).content.decode()
    assert "not looked at again yet" in own and "weigh again" in own
    again = reverse("process:tool_look_again", args=[edda.project.slug, made.pk, event.pk, "weighin", row.pk])
    said = {"outcome": "good", "looked_on": "2026-05-13", "words": "Weighed on borrowed scales: the same"}
    assert "Weighing of the aircraft" in client.get(again).content.decode()
    assert client.post(again, said).status_code == 302
    assert "all looked at" in page("tool_suspects", made.pk)
    own = client.get(url(edda, "weighin", row.pk)).content.decode()
    assert "weigh again" not in own and "Weighed on borrowed scales: the same." in own
    assert [one["cited"] for one in stores_facts(edda.project, NOW)["tools"][0]["rechecks"]] == ["WB-1"]
    change = reverse("process:tool_recheck", args=[edda.project.slug, made.pk, Recheck.objects.get().pk])
    client.post(change, said | {"outcome": "redone", "reason": "WB-4"})
    assert queries.weigh_in_facts(queries.all_weigh_ins(edda.project).get(pk=row.pk))["scales"][0]["doubtful"]
    assert not faults(edda.project)
    other = make_project("Another")[1]
    assert client_for(other).get(again.replace(edda.project.slug, other.project.slug)).status_code == 404


def test_one_more_row_keeps_what_was_typed_and_writes_nothing(edda) -> None:
    client = client_for(edda)
    page = client.post(url(edda, "weighin_new"), typed(reading_1="21o kg", more="scale"))
    text = page.content.decode()
    assert page.status_code == 200 and "Scale 4 stands under" in text and 'value="21o kg"' in text
    assert not WeighIn.objects.exists()
    page = client.post(url(edda, "balance_limits"), {"most": "620 kg", "forward_weight_1": "400 kg", "more": "forward"})
    text = page.content.decode()
    assert "Forward point 3" in text and "Aft point 3" not in text and 'value="620 kg"' in text
    assert not Limits.objects.exists()


def test_what_cannot_be_read_stays_in_the_form(edda) -> None:
    answer = client_for(edda).post(url(edda, "weighin_new"), typed(done_by=edda.pk, reading_1="heavy", arm_2="1,200"))
    text = answer.content.decode()
    assert answer.status_code == 422 and 'value="heavy"' in text and "cannot be read" in text
    assert "can be read in two ways" in text
    assert not WeighIn.objects.exists()


def test_items_limits_and_cases_are_typed_and_corrected(edda) -> None:
    client = client_for(edda)
    weigh(edda)
    seat = {"kind": "crew", "name": "Seats", "arm": "2000", "least": "60", "most": "200", "source": "sheet 4"}
    assert client.post(url(edda, "balance_item_new"), seat).status_code == 302
    one = LoadItem.objects.get()
    assert (one.arm, one.least, one.most) == ("2000 mm", "60 kg", "200 kg")
    assert client.post(url(edda, "balance_item", one.pk), seat | {"most": "190"}).status_code == 422
    sent = seat | {"most": "190", "reason": "Seat rails"}
    assert client.post(url(edda, "balance_item", one.pk), sent).status_code == 302
    points = {
        f"{side}_{what}_{at}": value
        for side, arm in (("forward", "1500"), ("aft", "2400"))
        for at, weight in ((1, "400"), (2, "800"))
        for what, value in (("weight", weight), ("arm", arm))
    }
    answer = client.post(url(edda, "balance_limits"), points | {"most": "800", "source": "sheet 4"})
    assert answer.status_code == 302 and Limits.objects.get().most == "800 kg"
    new = {"name": "Alone", "note": "", f"load_{one.pk}": "85"}
    assert client.post(url(edda, "balance_case_new"), new).status_code == 302
    assert by_name(edda)["Alone"]["aboard"] == [{"name": "Seats", "weight": "85.0 kg"}]
    key = by_name(edda)["Alone"]["key"]
    assert client.post(url(edda, "balance_case", key), new | {f"load_{one.pk}": "95", "reason": "x"}).status_code == 302
    page = client.get(url(edda, "balance_case", key)).content.decode()
    assert "Case corrected" in page
    answer = client.post(url(edda, "balance_item_withdraw", one.pk), {"reason": "x"})
    assert answer.status_code == 422 and b"aboard in: Alone" in answer.content
    assert client.post(url(edda, "balance_case_withdraw", key), {"reason": "x"}).status_code == 302
    assert client.post(url(edda, "balance_limits_withdraw"), {"reason": "x"}).status_code == 302
    assert client.post(url(edda, "weighin_withdraw", WeighIn.objects.get().pk), {"reason": "x"}).status_code == 302


PAGES = ("balance", "balance_report", "weighin_new", "balance_item_new", "balance_limits", "balance_case_new")
READ = {"balance", "balance_report"}


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
def test_everybody_of_the_project_reads_and_the_builder_alone_writes(edda, role) -> None:
    row = weigh(edda)
    client = client_for(make_person(edda.project, role))
    for name in PAGES:
        assert client.get(url(edda, name)).status_code == (200 if name in READ else 403), name
    assert client.get(url(edda, "weighin", row.pk)).status_code == 200
    assert client.post(url(edda, "weighin_withdraw", row.pk), {"reason": "x"}).status_code == 403
    assert client.post(url(edda, "weighin_finish", row.pk)).status_code == 403
    row.refresh_from_db()
    assert not row.withdrawn


def test_nobody_sees_or_changes_what_is_of_another_project(edda) -> None:
    row, seat = weigh(edda), item(edda, "Seats", "2 m", "200 kg")
    alone = case(edda, "Alone", Seats="80 kg")
    stranger = make_project("Another")[1]
    client = client_for(stranger)
    for name in PAGES:
        assert client.get(url(edda, name)).status_code == 404
    # Through the stranger's own project neither.
    mine = stranger.project.slug
    for name, key in (("weighin", row.pk), ("weighin_edit", row.pk), ("weighin_withdraw", row.pk)):
        assert client.get(reverse(f"certification:{name}", args=[mine, key])).status_code == 404
    for name, key in (("balance_item", seat.pk), ("balance_case", alone.pk), ("balance_case_withdraw", alone.pk)):
        assert client.post(reverse(f"certification:{name}", args=[mine, key]), {"reason": "x"}).status_code == 404
    assert not facts(stranger)["weighings"] and not facts(stranger)["items"]
    with pytest.raises(Refusal, match="another project"):
        weigh(stranger, done_by=edda)
    with pytest.raises(Refusal, match="not among"):
        commands.add_case(
            by=stranger, at=NOW, project=stranger.project, name="x", loads={seat.pk: ("1 kg", Decimal(1000))}
        )


def test_a_fixed_number_of_queries(edda, django_assert_max_num_queries) -> None:
    amphibian(edda)
    for number in range(6):
        case(edda, f"Case {number}", Seats=f"{80 + number} kg")
        weigh(edda, at=NOW + timedelta(days=number))
    with django_assert_max_num_queries(16):
        facts(edda)


# ---- the report ----


def test_the_report_says_everything_and_is_read_by_another_reader(edda) -> None:
    amphibian(edda)
    case(edda, "Alone", Seats="80 kg", Tank="40 kg")
    case(edda, "Over", Seats="200 kg", Tank="60 kg", Locker="40 kg")
    answer = client_for(edda).get(url(edda, "balance_report"))
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf"
    reader = PdfReader(BytesIO(answer.content))
    text = "\n".join(page.extract_text() for page in reader.pages)
    assert 1 <= len(reader.pages) <= 3
    for words in ("Weight and balance report", "N0-DEMO", "WB-1", "face of the firewall", "400.0 kg", "2267.5 mm",
                  "OUTSIDE the limits: 80.0 kg over the most weight", "Most forward", "Signature", "sheet 4",
                  "The inspector decides"):  # fmt: skip
        assert " ".join(words.split()) in " ".join(text.split()), words
    assert "airworthy" not in text.lower() and "compliant" not in text.lower()
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts and all("/FontFile2" in font["/FontDescriptor"] for font in fonts)
    head = Entry.objects.filter(project=edda.project_id).order_by("seq").last()
    assert head.digest[7:11] in text.replace(" ", "") or head.short_digest.replace(" ", "") in text.replace(" ", "")


def test_the_same_facts_give_the_same_bytes_and_are_plain_json(edda) -> None:
    from certification.pages.balance import report

    amphibian(edda)
    found = report_facts(edda.project, NOW, "Edda Norrell")
    assert canonical(found)
    assert report(found) == report(found)


def test_an_empty_project_has_a_page_and_a_report(edda) -> None:
    client = client_for(edda)
    page = client.get(url(edda, "balance")).content.decode()
    assert "A finished weighing" in page and "No weighing is finished yet" in page
    text = PdfReader(BytesIO(client.get(url(edda, "balance_report")).content)).pages[0].extract_text()
    assert "No weighing is finished yet" in " ".join(text.split())
    assert rules.CAUTION.split(".")[0] in page.replace("&#x27;", "'")
