"""Small phrasings that several sheets share."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
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
    ("placards", "Plates, marks and placards"),
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
FILE = {"credit", "people", "papers", "equipment", "placards", "balance", "inspections", "flights"}


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


def named(name: str, role: str) -> str:
    """A name with its role, which a stand-in for a name that is left out says already."""
    return name if name.startswith(role) else f"{name}, {role}"


def nothing(facts: dict[str, Any], word: str = "not given") -> str:
    """What stands for an empty value, which may also be left out for this reader."""
    return f"{word} or left out" if facts.get("left_out") else word


def because(reason: str) -> str:
    """The reason at the end of a line, if there is one."""
    return f", because: {reason}" if reason else ""


def brief(text: str, most: int = 90) -> str:
    """The beginning of a text on one line."""
    text = " ".join(text.split())
    if len(text) <= most:
        return text
    begun, _, word = text[:most].rpartition(" ")
    # A word as long as half of all is cut: there is nothing else to show.
    return (begun if len(word) < most / 2 else text[: most - 1]).rstrip(" ,;:.") + "…"


# What signatures stand under: the key in the facts, of an anchor, and of the number of a thing.
SIGNED = (("areas", "area", "number"), ("points", "point", "number"), ("discrepancies", "discrepancy", "label"))


@dataclass(frozen=True)
class Given:
    """A signature with the thing under which it stands, and the key of the place where it is drawn."""

    kind: str
    number: str
    thing: dict[str, Any]
    signature: dict[str, Any]
    key: str


def given(facts: dict[str, Any]) -> list[Given]:
    """Every signature: under areas, points and discrepancies."""
    return [
        Given(kind, one[name], one, signature, signature_key(f"{kind}-{one[name]}", place))
        for part, kind, name in SIGNED
        for one in facts.get(part, [])
        for place, signature in enumerate(one["signatures"])
    ]


def signature_key(under: str, place: int) -> str:
    """The anchor of a signature, the so-manieth under a thing with this anchor, from 0."""
    return f"{under}-signature-{place}"


def signatures(facts: dict[str, Any]) -> list[dict[str, Any]]:
    """Every signature, without what it stands under."""
    return [one.signature for one in given(facts)]


ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")


def days_in_words(text: str) -> str:
    """The same text with ISO dates, such as those of editions, told as all other days are."""

    def told(found: re.Match[str]) -> str:
        try:
            return on_day(found[0])
        except ValueError:  # only looks like a date
            return found[0]

    return ISO_DAY.sub(told, text)
