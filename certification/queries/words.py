"""How days, times and sizes are told in the facts of a record."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from evidence.rules import MB


def day(at: datetime, zone: ZoneInfo) -> str:
    """A local date in words."""
    return f"{at.astimezone(zone):%-d %b %Y}"


def clock(at: datetime, zone: ZoneInfo) -> str:
    """A local time of day."""
    return f"{at.astimezone(zone):%H:%M}"


def moment(at: datetime, zone: ZoneInfo) -> str:
    """A local date and time with its zone."""
    return f"{at.astimezone(zone):%-d %b %Y, %H:%M %Z}"


def megabytes(size: int) -> str:
    """The size of a file in MB, at least 0.1."""
    return f"{max(size / MB, 0.1):.1f} MB"


def calendar_day(on: date) -> str:
    """A date in words."""
    return f"{on:%-d %b %Y}"
