"""What the demo story tells of weight and balance: a provisional weighing, limits, cases. All invented."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from certification.commands import balance
from certification.models import LoadItem
from config.demo.making import Makes, q
from parts import commands as parts
from parts.models import Part

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
SHEET = "Plan, sheet 3, revision B (invented)"
CONDITION = "Provisional: cowling, upholstery and paint are not on yet. Oil full, unusable fuel aboard, wheels down."
ITEMS = [
    ("crew", "Seats, side by side", "2350 mm", "60 kg", "200 kg"),
    ("fuel", "Main tank", "3050 mm", "", "68 kg"),
    ("baggage", "Bow locker", "1100 mm", "", "15 kg"),
    ("baggage", "Aft locker", "3900 mm", "", "25 kg"),
]
# Arms of a few parts, for the forecast.
ARMS = {"TW2-2101-01": "2810 mm", "TW2-2101-02": "2815 mm", "TW2-1202-01": "2240 mm"}
LIMITS = {
    "forward": [("340 kg", "2600 mm"), ("480 kg", "2600 mm"), ("600 kg", "2640 mm")],
    "aft": [("340 kg", "2860 mm"), ("600 kg", "2860 mm")],
}
CASES = [
    ("Alone, half fuel", {"Seats, side by side": "75 kg", "Main tank": "34 kg"}),
    ("Two aboard, full tank", {"Seats, side by side": "160 kg", "Main tank": "60 kg"}),
    (
        "Alone with camping gear, tank nearly empty",
        {"Seats, side by side": "62 kg", "Main tank": "5 kg", "Aft locker": "25 kg"},
    ),
]


def weigh(now: Makes, today: datetime) -> None:
    """On three scales a few days ago, without cowling and upholstery; the limits and cases of the plan."""
    at = today - 3 * HOUR
    now.tool(
        "S3", "Floor scales, set of three", "scale", at, full_scale="500 kg", resolution="0.1 kg", interval_months=12
    )
    now.happened("S3", today - 40 * DAY, "calibrated", certificate="DEMO-S3")
    known: dict[str, Any] = {**now.by(at), "project": now.project}
    for number, arm in ARMS.items():
        part = Part.objects.get(pk=now.parts[number].pk)
        parts.correct_part(**now.by(at), part=part, arm=arm, reason="Arm measured while it was weighed")
    row = balance.record_weighin(
        **known,
        done_at=today - 3 * DAY,
        datum="Tip of the bow",
        level="Both seat rails, and across on the main bulkhead",
        condition=CONDITION,
        place="Garage, doors closed",
        witness="Jory Pask",
        scales=[
            scale(now, "Left main", "148.5 kg", "1.2 kg", "3240 mm"),
            scale(now, "Right main", "147.0 kg", "1.2 kg", "3240 mm"),
            scale(now, "Nose wheel", "52.5 kg", "1.2 kg", "950 mm"),
        ],
        fluids=[
            {"name": "Fuel, drained into a can and weighed", **q("weight", "g", "6.0 kg"), **q("arm", "mm", "3050 mm")}
        ],
    )
    balance.finish_weighin(**now.by(at), weighin=row)
    items = {name: load(known, kind, name, *sizes) for kind, name, *sizes in ITEMS}
    corners = [corner(side, *point) for side, points in LIMITS.items() for point in points]
    balance.set_limits(**known, source=SHEET, corners=corners, **q("most", "g", "600 kg"))
    for name, aboard in CASES:
        balance.add_case(**known, name=name, loads=loads(items, aboard.items()))


def scale(now: Makes, name: str, reading: str, tare: str, arm: str) -> dict[str, Any]:
    return {
        "name": name,
        "tool": now.tools["S3"],
        **q("reading", "g", reading),
        **q("tare", "g", tare),
        **q("arm", "mm", arm),
    }


def load(known: dict[str, Any], kind: str, name: str, arm: str, least: str, most: str) -> LoadItem:
    sizes = q("arm", "mm", arm) | q("most", "g", most) | (q("least", "g", least) if least else {})
    return balance.add_item(**known, kind=kind, name=name, source=SHEET, **sizes)


def corner(side: str, weight: str, arm: str) -> dict[str, Any]:
    return {"side": side, **q("weight", "g", weight), **q("arm", "mm", arm)}


def loads(items: dict[str, LoadItem], aboard: Iterable[tuple[str, str]]) -> dict[str, tuple[str, Any]]:
    """What is aboard by the key of its item, as typed and in grams."""
    return {items[name].pk: (weight, q("weight", "g", weight)["weight_g"]) for name, weight in aboard}
