"""JSON lines in, JSON lines out: one answer for each line, whatever the line holds."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from math import isfinite
from typing import Any

from calc.trouble import Impossible
from config.computing import credit, cures, fasteners, gates, laminates, shop
from config.computing.inputs import read_all
from config.computing.registry import COMPUTATIONS, Computation

# Whoever fills the table; named here so that importing this module fills it.
ROOMS = (fasteners, laminates, cures, shop, gates, credit)


@dataclass(frozen=True)
class Answer:
    """One line out."""

    said: dict[str, Any]

    @property
    def failed(self) -> bool:
        return "error" in self.said

    def line(self) -> str:
        return json.dumps(self.said, allow_nan=False)


def answers(lines: Iterable[bytes], *, explain: bool = False) -> Iterator[Answer]:
    """An answer for each line that is not blank, in order, as the lines come."""
    for line in lines:
        if line.strip():
            yield answer(line, explain=explain)


def answer(line: bytes, *, explain: bool = False) -> Answer:
    """The answer to one line: results, or an error that says what to put right."""
    key = None
    try:
        asked = read(line)
        key = key_of(asked.pop("id", None))
        found = named(asked.pop("calc", None))
        results = results_of(found, asked)
    except Impossible as trouble:
        return Answer({"id": key, "error": error(trouble.code, trouble.sentence, trouble.field)})
    except Exception as fault:
        # One line that this program cannot deal with must not take the answers to all later lines with it.
        sentence = f"There is a fault in this program, not in the line ({type(fault).__name__}); please report it."
        return Answer({"id": key, "error": error("fault", sentence, None)})
    return Answer({"id": key, **results} | ({"about": about(found)} if explain else {}))


def error(code: str, sentence: str, field: str | None) -> dict[str, str | None]:
    return {"code": code, "sentence": sentence, "field": field}


def about(found: Computation) -> dict[str, str]:
    """What an answer says of itself (rule R40)."""
    rule = found.rule
    return {
        "rule": rule.words,
        "source": rule.source,
        "provenance": rule.provenance,
        "valid": rule.valid,
        "caution": rule.caution,
    }


def read(line: bytes) -> dict[str, Any]:
    """The object of a line, its decimals exactly as written."""
    try:
        text = line.decode("utf-8-sig")
    except UnicodeDecodeError as broken:
        raise Impossible("The line is not UTF-8 text.", None, "json") from broken
    try:
        asked = json.loads(text, parse_float=Decimal, parse_constant=no_constant, object_pairs_hook=no_doubles)
    except Impossible:
        raise
    except (ValueError, ArithmeticError, RecursionError) as broken:
        raise Impossible(
            f"The line is not JSON: {str(broken)[:120] or 'too large or too deep'}.", None, "json"
        ) from broken
    if not isinstance(asked, dict):
        raise Impossible('The line must be an object such as {"id": 1, "calc": "convert", ...}.', None, "json")
    return asked


def no_constant(text: str) -> None:
    raise Impossible(f"{text} is not a number.", None, "json")


def no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise Impossible(f"“{name[:60]}” is there twice.", name, "json")
        found[name] = value
    return found


def key_of(value: Any) -> str | int | None:
    """The id of a line, which comes back with its answer."""
    if value is None or (isinstance(value, str | int) and not isinstance(value, bool)):
        return value
    raise Impossible("An id is a text or a whole number.", "id", "type")


def named(name: Any) -> Computation:
    """The computation of that name."""
    if name is None:
        raise Impossible("Say what to compute: calc is missing. compute --list names everything.", "calc", "missing")
    if not isinstance(name, str):
        raise Impossible("Calc must be a text. compute --list names everything.", "calc", "type")
    if name not in COMPUTATIONS:
        near = get_close_matches(name[:60], COMPUTATIONS, 1)
        hint = f" Did you mean {near[0]}?" if near else " compute --list names everything."
        raise Impossible(f"There is no computation “{name[:60]}”.{hint}", "calc", "unknown")
    return COMPUTATIONS[name]


def results_of(found: Computation, asked: dict[str, Any]) -> dict[str, Any]:
    """Compute, and let nothing out that is not an ordinary value."""
    try:
        results = found.compute(read_all(found.takes, asked))
    except ArithmeticError as trouble:
        raise Impossible("From these values nothing can be computed.", None) from trouble
    if not ordinary(results):
        raise Impossible("From these values no ordinary number comes out.", None)
    return results


def ordinary(value: Any) -> bool:
    if isinstance(value, dict):
        return all(ordinary(one) for one in value.values())
    if isinstance(value, list):
        return all(ordinary(one) for one in value)
    return not isinstance(value, float) or isfinite(value)
