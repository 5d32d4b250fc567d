"""Small phrasings that several sheets share."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from accounts.rules import HELPER, INSPECTOR, PAID, ROLES
from calc.hours import clock_hours, decimal_hours

BUILDER_WORDS, HELPER_WORDS, PAID_WORDS, INSPECTOR_WORDS = (
    ROLES["builder"],
    ROLES[HELPER],
    ROLES[PAID],
    ROLES[INSPECTOR],
)

SECTIONS = [
    ("hours", "Hours"),
    ("sessions", "Sessions by date"),
    ("areas", "Areas and signatures"),
    ("points", "Hold and witness points"),
    ("discrepancies", "Discrepancies"),
    ("process", "Process records"),
    ("visits", "Visits"),
    ("credit", "Credit for tasks and evidence"),
    ("people", "Who did it"),
    ("papers", "Papers of the file"),
    ("equipment", "Equipment"),
    ("balance", "Weight and balance"),
    ("inspections", "Inspection lists"),
    ("flights", "Test flights"),
    ("stores", "Lots, tools and documents"),
    ("index", "Sessions by assembly"),
    ("notes", "Notes on this print"),
]
TITLES = dict(SECTIONS)
# Records frozen before there were such things say nothing of them, not even that there were none.
NEWER = {"points", "discrepancies", "process", "visits", "stores"}
# These stand in the facts of the certification file, each only where the project has something of it.
FILE = {"credit", "people", "papers", "equipment", "balance", "inspections", "flights"}


def of_file(facts: dict[str, Any], part: str) -> Any:
    """A part of the certification file; None where these facts do not have it."""
    return facts.get("file", {}).get(part)


def sections(facts: dict[str, Any]) -> list[tuple[str, str]]:
    """The sections that these facts have, by key and title."""

    def there(key: str) -> bool:
        return bool(of_file(facts, key)) if key in FILE else key not in NEWER or key in facts

    return [(key, title) for key, title in SECTIONS if there(key)]


def on_day(iso_date: str) -> str:
    """A day in words from an ISO date or time; nothing where there is none."""
    return f"{date.fromisoformat(iso_date[:10]):%-d %b %Y}" if iso_date else ""


def stretch(first: str, last: str) -> str:
    """From one ISO day to another; one day once."""
    return joined(list(dict.fromkeys((on_day(first), on_day(last)))), " to ")


def hours(seconds: int, places: int = 1) -> str:
    """Decimal hours without a unit, as in a column of hours."""
    return f"{decimal_hours(seconds, places):,}"


def minutes(seconds: int) -> str:
    """Hours and minutes, as in a break."""
    return f"{clock_hours(seconds)} h"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun: 1 photo, 2 photos."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def month(iso_date: str) -> str:
    """The month of an ISO date in words."""
    return f"{date.fromisoformat(iso_date):%B %Y}"


def short_month(iso_date: str) -> str:
    """The month of an ISO date, shortened."""
    return f"{date.fromisoformat(iso_date):%b %Y}"


def joined(parts: Sequence[str], between: str = ", ") -> str:
    """Those parts that say something."""
    return between.join(part for part in parts if part)


def several(names: Sequence[str]) -> str:
    """Names in a sentence: a, b and c."""
    return joined([", ".join(names[:-1]), names[-1]], " and ") if names else ""


def because(reason: str) -> str:
    """The reason at the end of a line, if there is one."""
    return f", because: {reason}" if reason else ""


def brief(text: str, most: int = 90) -> str:
    """The beginning of a text on one line."""
    text = " ".join(text.split())
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def signatures(facts: dict[str, Any]) -> list[dict[str, Any]]:
    """Every signature: under areas, points and discrepancies."""
    things = [one for key in ("areas", "points", "discrepancies") for one in facts.get(key, [])]
    return [signature for one in things for signature in one["signatures"]]
