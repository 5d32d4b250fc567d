"""Times and days: what passed between two clocks, months that clamp at their end, wall clocks of a zone."""

from calendar import monthrange
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from calc import hours
from calc.trouble import Impossible

MINUTE = timedelta(minutes=1)


def passed(start: datetime, end: datetime, field: str, sentence: str) -> Fraction:
    """Minutes from start to end, exactly; refused with `sentence` when they run backward.

    Either both are aware, or both are read off one wall clock that did not change in between.
    """
    if (start.tzinfo is None) != (end.tzinfo is None):
        raise Impossible("One of the two times has a zone and the other has none.", field, "type")
    if start.tzinfo is not None:
        # In UTC: times of one zone subtract by the wall clock, which goes wrong in the night the clocks change.
        start, end = start.astimezone(UTC), end.astimezone(UTC)
    if end < start:
        raise Impossible(sentence, field, "backward")
    return Fraction((end - start) // timedelta(microseconds=1), MINUTE // timedelta(microseconds=1))


def in_months(day: date, months: int, field: str = "months") -> date:
    """The same day so many months later; the last day of the month where that month is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not 1 <= year <= 9999:
        raise Impossible("That is further away than the calendar goes.", field)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def instant(clock: datetime, zone: ZoneInfo, field: str, *, second: bool | None = None) -> datetime:
    """The instant that a wall clock showed; refused where the clocks skipped it.

    Where the clocks showed it twice and `second` does not say which, the first is meant (PEP 495).
    """
    if clock.tzinfo is not None:
        raise Impossible("The time has a zone of its own already.", field, "type")
    try:
        return hours.on_the_clock(clock.date(), clock.time(), zone, second=bool(second))
    except hours.NoSuchTime as gap:
        raise Impossible("The clocks went forward over this time: no clock showed it.", field) from gap
    except OverflowError as far:
        raise Impossible("That is further away than the calendar goes.", field) from far
