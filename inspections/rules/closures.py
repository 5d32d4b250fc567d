"""Pure decisions about closure lists: what a gate for a common closure asks."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from foundation.refusal import Refusal
from inspections.rules.gates import CHECK, INNER, MEASURE, PROCESS, check_limits

# What a line of a list says; an inner area belongs to one aircraft and stands in no list.
FIELDS = ("kind", "words", "detail", "count", "role", "low", "high", "unit", "process")
EMPTY: dict[str, Any] = {"detail": "", "count": 1, "role": "", "low": None, "high": None, "unit": "", "process": ""}


def check_items(items: Sequence[dict[str, Any]]) -> None:
    """Refuse a list that asks for nothing, or with limits the wrong way round. Limits may be left to the plan."""
    if not items:
        raise Refusal("empty_list", "Keep at least one line: a list that asks for nothing is no list.")
    for item in items:
        if item.get("low") is not None or item.get("high") is not None:
            check_limits(item["kind"], item.get("low"), item.get("high"))


def listed(item: dict[str, Any]) -> dict[str, Any]:
    """An item with just what a list says of it."""
    return {name: item.get(name, EMPTY.get(name)) for name in FIELDS}


def listable(items: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The items of a gate that can stand in a list."""
    return [listed(item) for item in items if item["kind"] != INNER]


def offered(item: dict[str, Any], known: Sequence[str]) -> dict[str, Any]:
    """A line of a list as a gate can ask it now: a process record of a kind that is not known is asked as a check."""
    if item["kind"] == PROCESS and item["process"] not in known:
        return item | {"kind": CHECK, "process": ""}
    return item


def from_data(row: dict[str, Any]) -> dict[str, Any]:
    """A line as the data file has it, where figures are text so that none is rounded."""
    figures = {name: Decimal(row[name]) for name in ("low", "high") if row.get(name)}
    return listed(row | figures)


def waits_for_plan(item: dict[str, Any]) -> bool:
    """Whether the limits of a measured value have still to be taken from the plan."""
    return item["kind"] == MEASURE and item["low"] is None and item["high"] is None
