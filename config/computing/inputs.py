"""What a computation takes: names, kinds and units of its inputs, read strictly from a JSON object."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from calc.figures import named
from calc.trouble import Impossible

# Longest list that is read: a week at one reading a second has 604,800 points.
LONGEST = 1_000_000

DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})?")
ZONE = re.compile(r"[A-Za-z][A-Za-z0-9_+-]*(/[A-Za-z0-9_+-]+)*")


@dataclass(frozen=True)
class Input:
    """One input: its key, how it is read, its unit or what it holds, and whether it may be left out or be null."""

    name: str
    read: Callable[[Any, str], Any]
    unit: str = ""
    needed: bool = True
    default: Any = None

    @property
    def told(self) -> str:
        """For a list: key, unit, and what happens without it."""
        unit = f" [{self.unit}]" if self.unit else ""
        return f"{self.name}{unit}" if self.needed else f"({self.name}{unit})"


def read_all(takes: Sequence[Input], given: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """Read an object strictly: nothing missing, nothing that is not known."""
    known = {one.name: one for one in takes}
    for name in given:
        if name not in known:
            raise Impossible(
                f"“{name[:60]}” is not an input here; known are: {', '.join(known) or 'none'}.", above + name, "extra"
            )
    found = {}
    for name, one in known.items():
        value = given.get(name)
        if value is not None:
            found[name] = one.read(value, above + name)
        elif one.needed:
            raise Impossible(f"{named(name)} is missing.", above + name, "missing")
        else:
            found[name] = one.default
    return found


def wrong(field: str, wanted: str) -> Impossible:
    """The trouble with a value of the wrong kind."""
    return Impossible(f"{named(field.rpartition('.')[2])} must be {wanted}.", field, "type")


def a_number(value: Any, field: str) -> int | Decimal:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise wrong(field, "a number")
    return value


def a_text(value: Any, field: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise wrong(field, "a text")
    return value


def a_key(value: Any, field: str) -> str | int:
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise wrong(field, "a text or a whole number")
    return value


def a_flag(value: Any, field: str) -> bool:
    if not isinstance(value, bool):
        raise wrong(field, "true or false")
    return value


def a_day(value: Any, field: str) -> date:
    if not isinstance(value, str) or not DAY.fullmatch(value):
        raise wrong(field, "a day such as 2025-03-15")
    try:
        return date.fromisoformat(value)
    except ValueError as error:
        raise Impossible(f"There is no day {value}.", field) from error


def a_moment(value: Any, field: str) -> datetime:
    if not isinstance(value, str) or not MOMENT.fullmatch(value):
        raise wrong(field, "a time such as 2025-03-15T18:40")
    try:
        return datetime.fromisoformat(value)
    except ValueError as error:
        raise Impossible(f"There is no time {value}.", field) from error


def a_zone(value: Any, field: str) -> ZoneInfo:
    if not isinstance(value, str) or len(value) > 60 or not ZONE.fullmatch(value):
        raise wrong(field, "a time zone such as America/Denver")
    try:
        return ZoneInfo(value)
    except (KeyError, ValueError, OSError) as error:
        raise Impossible(f"There is no time zone “{value}”.", field, "unknown") from error


def a_list(read: Callable[[Any, str], Any]) -> Callable[[Any, str], list[Any]]:
    def of_them(value: Any, field: str) -> list[Any]:
        if not isinstance(value, list):
            raise wrong(field, "a list")
        if len(value) > LONGEST:
            raise Impossible(f"{named(field)} is too long a list.", field)
        return [read(one, field) for one in value]

    return of_them


def a_pair(value: Any, field: str) -> tuple[int | Decimal, int | Decimal]:
    if not isinstance(value, list) or len(value) != 2:
        raise wrong(field, "a pair of numbers such as [15, 25]")
    return a_number(value[0], field), a_number(value[1], field)


def an_object(value: Any, field: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise wrong(field, "an object")
    return value


def a_record(takes: Sequence[Input]) -> Callable[[Any, str], dict[str, Any]]:
    return lambda value, field: read_all(takes, an_object(value, field), f"{field}.")


def a_map(read: Callable[[Any, str], Any]) -> Callable[[Any, str], dict[str, Any]]:
    return lambda value, field: {name: read(one, f"{field}.{name}") for name, one in an_object(value, field).items()}


def texts(value: Any, field: str) -> list[str]:
    """One text or a list of them."""
    return [a_text(value, field)] if isinstance(value, str) else a_list(a_text)(value, field)


def number(name: str, unit: str = "", **more: Any) -> Input:
    return Input(name, a_number, unit, **more)


def text(name: str, unit: str = "", **more: Any) -> Input:
    return Input(name, a_text, unit, **more)


def flag(name: str, unit: str = "true/false", **more: Any) -> Input:
    return Input(name, a_flag, unit, **more)


def day(name: str, **more: Any) -> Input:
    return Input(name, a_day, "day", **more)


def moment(name: str, **more: Any) -> Input:
    return Input(name, a_moment, "time", **more)
