"""Pure decisions about the test phase: hours flown against hours asked, points, quantities as they were typed."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from calc import quantities
from calc.trouble import Impossible
from foundation.refusal import Refusal

HOUR = 60
DAY = 24 * HOUR
GOOD, AGAIN, BAD = "good", "again", "bad"

# Hints only, with their source below; what counts is typed with its own source.
HOURS_HINTS = (
    (Decimal(25), "Type-certificated engine and propeller combination"),
    (Decimal(40), "Any other combination; a changed ignition or fuel system usually means this"),
)
HOURS_SOURCE = (
    "A designee's magazine column on operating limitations and a copy of the Order 8130.2F limitations (seen). The "
    "inspector may ask for more; a phase by tasks instead of hours needs a modified limitation."
)
# What is meant where no unit was typed, by the project's units.
MEANT = {
    "si": {"mass": "kg", "length": "mm", "speed": "kt"},
    "us": {"mass": "lb", "length": "in", "speed": "kt"},
}
CLOCK = re.compile(r"\s*(\d{1,2}):([0-5]\d)\s*\Z")


@dataclass(frozen=True)
class Progress:
    """Time flown against time asked, and points by what came of them."""

    flown: int
    flights: int
    landings: int
    asked: Decimal | None
    points: int
    good: int
    again: int
    bad: int

    @property
    def hours(self) -> Decimal:
        """Hours flown in tenths, rounded down: no rounding fills up what was asked."""
        return tenths(self.flown)

    @property
    def enough(self) -> bool:
        """Whether the hours asked were flown, judged by the minute."""
        return self.asked is not None and Fraction(self.flown, HOUR) >= Fraction(self.asked)

    @property
    def left(self) -> int:
        """Minutes still to fly; none where no hours are asked or all were flown."""
        return 0 if self.asked is None else max(0, int(self.asked * HOUR) - self.flown)

    @property
    def left_words(self) -> str:
        return clock(self.left)

    @property
    def flown_words(self) -> str:
        return clock(self.flown)

    @property
    def not_flown(self) -> int:
        return self.points - self.good - self.again - self.bad


def tenths(minutes: int) -> Decimal:
    """Minutes in tenths of an hour, rounded down."""
    return Decimal(minutes * 10 // HOUR) / 10


def clock(minutes: int) -> str:
    """Minutes as hours and minutes: 1:05."""
    return f"{minutes // HOUR}:{minutes % HOUR:02d}"


def running(minutes: Iterable[int]) -> list[int]:
    """The total after each flight."""
    total, totals = 0, []
    for one in minutes:
        total += one
        totals.append(total)
    return totals


def minutes_of(text: str) -> int:
    """Whole minutes of a typed time: 1:12, 72 min, 1 h 12 min or 1.2 h."""
    if match := CLOCK.match(text):
        return int(match[1]) * HOUR + int(match[2])
    try:
        found = quantities.parse(text, "time", "", "minutes").within("min")
    except Impossible as no:
        raise Refusal("time", f"{no.sentence} Write 1:12, 72 min or 1.2 h.", "minutes") from None
    return int(found + Fraction(1, 2))


def quantity(text: str, kind: str, units: str, field: str) -> str:
    """A typed mass, length or speed with its unit, as it is kept; empty stays empty."""
    if not text.strip():
        return ""
    default = MEANT[units][kind]
    try:
        found = quantities.parse(text, kind, default, field)
    except Impossible as no:
        raise Refusal(no.code, no.sentence, field) from None
    if kind in {"mass", "speed"} and found.value <= 0:
        raise Refusal("none", "That is nothing. Write what it was, with its unit.", field)
    has_unit = any(sign.isalpha() or sign in "\"'”“″′’‘" for sign in found.entered)
    return found.entered if has_unit else f"{found.entered} {default}"


def check_flight(flown_on: date, today: date, pilot: str, minutes: int) -> None:
    """Refuse a flight that cannot have been."""
    if flown_on > today:
        raise Refusal("ahead", "That day has not come yet. Log the flight when it was flown.", "flown_on")
    if not pilot.strip():
        raise Refusal("nobody", "Say who flew.", "pilot")
    if not 0 < minutes <= DAY:
        raise Refusal("time", "A flight takes at least a minute and at most a day.", "minutes")


def check_hours(asked: Decimal, source: str) -> None:
    """Refuse hours that nobody asked for."""
    if asked <= 0:
        raise Refusal("none", "Write how many hours are asked.", "hours_asked")
    if not source.strip():
        raise Refusal(
            "no_source", "Say where that stands: the operating limitations with date and paragraph.", "source"
        )


def check_told(outcome: str, found: str) -> None:
    """Refuse an outcome without words where words are what counts."""
    if outcome in {AGAIN, BAD} and not found.strip():
        raise Refusal("no_words", "Say what was found.", "found")


def read_points(text: str) -> list[tuple[str, str]]:
    """Test points as they are typed, one a line: what is to be found and, after a bar, its limits."""
    rows = [[part.strip() for part in line.split("|", 1)] for line in text.splitlines() if line.strip(" |\t")]
    points = [(row[0], row[1] if len(row) > 1 else "") for row in rows]
    if not points:
        raise Refusal("none", "Write one point a line, such as: Stall, clean, 6,000 ft | no wing drop", "points")
    for number, (words, limits) in enumerate(points, start=1):
        if not words or len(words) > 200 or len(limits) > 160:
            raise Refusal("too_long", f"Line {number}: 1 to 200 signs for the point, at most 160 for limits.", "points")
    return points
