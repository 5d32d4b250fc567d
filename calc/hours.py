"""Hours: elapsed time across clock changes, labor, shares that add back, roll-up over a tree.

All durations are whole seconds. Rounding happens once, at display (rule R2, fact HRS-08).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

from calc.verdict import MEMORY, PRACTICE, SEEN, Rule

HOUR = 3600

SESSION = Rule(
    "labor = end - start - breaks - unattended cure, counted once and split by shares that add back",
    "no single source",
    PRACTICE,
    valid="Sessions of any length; without a zone the clocks are taken not to have changed in between.",
    caution="Oven and bag time without hands on is process time, not labor.",
)
ON_THE_WALL = Rule(
    "time that passed between two readings of a wall clock, whatever the clocks did in between",
    "IANA time zone database",
    MEMORY,
    valid="Readings that a clock showed; one that it showed twice is the first, unless told or only the second fits.",
    caution="Zones change by law; the database is as new as this installation.",
)
ROUND_LAST = Rule("sum first, round last, halves up", "no single source", PRACTICE, valid="Minutes of zero or more.")
PACE = Rule(
    "months = hours / hours a month",
    "builders' published totals and forum arithmetic",
    SEEN,
    valid="Steady work; idle months make it longer.",
    caution="An average, not a promise.",
)


class NoSuchTime(ValueError):
    """A wall-clock time that the clocks skipped."""


class TimeTwice(ValueError):
    """A wall-clock time that the clocks showed twice; the caller must say which one is meant."""


def on_the_clock(day: date, clock: time, zone: ZoneInfo, *, second: bool | None = None) -> datetime:
    """The instant a wall clock in `zone` showed `clock` on `day`.

    `second` chooses between the two instants when the clocks went back; None raises TimeTwice there.
    Raises NoSuchTime where the clocks went forward over it.
    """
    first, later = (datetime.combine(day, clock, zone).replace(fold=fold) for fold in (0, 1))
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != first.replace(tzinfo=None):
        raise NoSuchTime(f"{day} {clock:%H:%M}")
    if first.utcoffset() != later.utcoffset() and second is None:
        raise TimeTwice(f"{day} {clock:%H:%M}")
    return later if second else first


def elapsed(start: datetime, end: datetime) -> int:
    """Seconds that passed between two aware times, whatever the clocks did in between."""
    return round((end.astimezone(UTC) - start.astimezone(UTC)).total_seconds())


def labor(start: datetime, end: datetime, breaks: int = 0, unattended: int = 0) -> int:
    """Seconds of work: end - start - breaks - unattended process time (rule R1).

    Raises ValueError when any part is negative or more is taken off than passed.
    """
    worked = elapsed(start, end) - breaks - unattended
    if breaks < 0 or unattended < 0 or worked < 0:
        raise ValueError("more time taken off than passed")
    return worked


def split(total: int, weights: Sequence[int]) -> list[int]:
    """Divide whole seconds by whole-number weights so that the shares add back exactly (rule R2).

    The seconds lost in rounding down go to the largest remainders, the earlier share first.
    """
    if total < 0 or not weights or any(weight < 0 for weight in weights) or not sum(weights):
        raise ValueError("shares need a total of zero or more and at least one weight above zero")
    whole = sum(weights)
    shares = [total * weight // whole for weight in weights]
    remainders = [total * weight % whole for weight in weights]
    for place in sorted(range(len(weights)), key=lambda i: (-remainders[i], i))[: total - sum(shares)]:
        shares[place] += 1
    return shares


@dataclass(frozen=True)
class Stretch:
    """One person's time in one session: when, and how much of it was labor (seconds)."""

    start: datetime
    end: datetime
    labor: int


def clusters(stretches: Iterable[Stretch]) -> list[list[Stretch]]:
    """Group stretches that overlap one another, each group in order of start."""
    groups: list[list[Stretch]] = []
    reach: datetime | None = None
    # In UTC: times of one zone compare by the wall clock, which goes wrong in the night the clocks change.
    for start, end, stretch in sorted(
        ((s.start.astimezone(UTC), s.end.astimezone(UTC), s) for s in stretches), key=lambda row: row[:2]
    ):
        if reach is not None and start < reach:
            groups[-1].append(stretch)
            reach = max(reach, end)
        else:
            groups.append([stretch])
            reach = end
    return groups


def counted_once(stretches: Iterable[Stretch]) -> int:
    """One person's labor with overlapping sessions counted once (rule R3), in seconds.

    Where stretches overlap, the time they share is taken off once for each repeat; since it is not known where
    in a stretch its breaks lay, the result is never less than the longest labor in the group.
    """
    total = 0
    for group in clusters(stretches):
        union = elapsed(group[0].start, max(s.end.astimezone(UTC) for s in group))
        repeated = sum(elapsed(s.start, s.end) for s in group) - union
        total += max(sum(s.labor for s in group) - repeated, max(s.labor for s in group))
    return total


@dataclass(frozen=True)
class Rolled:
    """Hours of one node of the tree, in seconds."""

    own: int
    below: int

    @property
    def total(self) -> int:
        return self.own + self.below


def roll_up[Key](parents: Mapping[Key, Key | None], own: Mapping[Key, int]) -> dict[Key, Rolled]:
    """Own, below and total for every node of a forest, in one pass over it (rule R4).

    `parents` gives each node its parent (None at the top), in any order. Raises ValueError on a cycle or an unknown
    parent.
    """
    children = dict.fromkeys(parents, 0)
    for node, parent in parents.items():
        if parent is not None:
            if parent not in children:
                raise ValueError(f"{node!r} hangs below {parent!r}, which is not in the tree")
            children[parent] += 1
    below = dict.fromkeys(parents, 0)
    ready = [node for node, count in children.items() if not count]
    for node in ready:
        parent = parents[node]
        if parent is not None:
            below[parent] += below[node] + own.get(node, 0)
            children[parent] -= 1
            if not children[parent]:
                ready.append(parent)
    if len(ready) != len(parents):
        raise ValueError("the tree has a cycle")
    return {node: Rolled(own.get(node, 0), below[node]) for node in parents}


def decimal_hours(seconds: int, places: int = 1) -> Decimal:
    """Seconds as decimal hours for display, halves rounded up."""
    return (Decimal(seconds) / HOUR).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def clock_hours(seconds: int) -> str:
    """Seconds as h:min for display, seconds cut off."""
    minutes = seconds // 60
    return f"{minutes // 60}:{minutes % 60:02d}"


def clock_error(seconds: int) -> str:
    """How wrong a clock is, in words: positive seconds are ahead."""
    minutes = max(1, round(abs(seconds) / 60))
    length = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
    return f"{length} {'ahead' if seconds > 0 else 'behind'}"


def pace(hours: float, months: float) -> float:
    """Average hours a month."""
    return hours / months


def months_at_pace(hours: float, hours_per_month: float) -> float:
    """Months that this many hours take at an average pace."""
    return hours / hours_per_month


def week_start(day: date) -> date:
    """The Monday of the week that a day lies in (ISO 8601)."""
    return day - timedelta(days=day.weekday())
