"""The table of shop facts, and how a computed answer is compared with what a fact expects."""

import json
from pathlib import Path
from typing import Any

TABLE = json.loads((Path(__file__).parent.parent / "data" / "shop_facts.json").read_text(encoding="utf-8"))
FACTS: list[dict[str, Any]] = TABLE["facts"]


def line(fact: dict[str, Any]) -> dict[str, Any]:
    """The line that asks `compute` for a fact."""
    return {"id": fact["id"], **fact["inputs"]}


def room(tolerance: Any, name: str, expected: float) -> float:
    """How far a number may lie from the expected one: minutes and rates of cure logs have tolerances of their own."""
    if tolerance == "exact":
        return 0
    kinds = {"abs": 1.0, "rel": abs(expected)}
    if "abs_min" in tolerance:
        rate = name.endswith("_per_min")
        return tolerance["abs_rate" if rate else "abs_min"]
    return sum(size * kinds[kind] for kind, size in tolerance.items())


def differences(found: Any, expected: Any, tolerance: Any, name: str = "") -> list[str]:
    """What differs, in words; nothing when all is within tolerance."""
    if isinstance(expected, dict):
        if not isinstance(found, dict) or found.keys() != expected.keys():
            return [f"{name or 'answer'}: {found!r} has not the keys of {expected!r}"]
        return [words for key in expected for words in differences(found[key], expected[key], tolerance, key)]
    if isinstance(expected, list):
        if not isinstance(found, list) or len(found) != len(expected):
            return [f"{name}: {found!r}, not {expected!r}"]
        pairs = zip(found, expected, strict=True)
        return [words for one, other in pairs for words in differences(one, other, tolerance, name)]
    if isinstance(expected, bool) or expected is None or isinstance(expected, str):
        return [] if found == expected and type(found) is type(expected) else [f"{name}: {found!r}, not {expected!r}"]
    if isinstance(found, bool) or not isinstance(found, int | float):
        return [f"{name}: {found!r}, not {expected!r}"]
    return [] if abs(found - expected) <= room(tolerance, name, expected) else [f"{name}: {found!r}, not {expected!r}"]
