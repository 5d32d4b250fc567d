"""Pure sums about who built what: the evidence of a primary builder (14 CFR 65.104). The authority decides."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from calc import hours

SOURCE = (
    "14 CFR 65.104 (current to 20 Jun 2026) and Order 8900.1 vol 5 ch 5 sec 5: one person, the primary builder of that "
    "aircraft (seen). That the build log is the usual proof is from memory."
)
CAUTIONS = (
    "No rule asks for hours; they are useful evidence all the same (designee's magazine column, seen).",
    "The authority decides who is the primary builder and whether that person can judge the condition of the aircraft.",
)


class Stretch(NamedTuple):
    """One person's part in one session: labor in seconds, and the weights of the assemblies it was on."""

    session: str
    day: date
    kind: str
    work: str
    labor: int
    shares: tuple[tuple[str, int], ...]


@dataclass
class Sums:
    """What one person's sessions come to, in seconds."""

    sessions: int = 0
    days: int = 0
    first: date | None = None
    last: date | None = None
    logged: int = 0
    by_kind: dict[str, int] = field(default_factory=dict)
    by_work: dict[str, int] = field(default_factory=dict)
    by_assembly: dict[str, int] = field(default_factory=dict)


def sums(stretches: Iterable[Stretch]) -> Sums:
    """Add up one person's stretches; shares of assemblies add back to the labor exactly (rule R2)."""
    rows = list(stretches)
    kinds: dict[str, int] = defaultdict(int)
    works: dict[str, int] = defaultdict(int)
    places: dict[str, int] = defaultdict(int)
    for row in rows:
        kinds[row.kind] += row.labor
        works[row.work] += row.labor
        if row.shares:
            parts = hours.split(row.labor, [weight for _, weight in row.shares])
            for (place, _), seconds in zip(row.shares, parts, strict=True):
                places[place] += seconds
    days = {row.day for row in rows}
    return Sums(
        sessions=len({row.session for row in rows}),
        days=len(days),
        first=min(days, default=None),
        last=max(days, default=None),
        logged=sum(row.labor for row in rows),
        by_kind=most_first(kinds),
        by_work=most_first(works),
        by_assembly=most_first(places),
    )


def most_first(found: Mapping[str, int]) -> dict[str, int]:
    """The largest first; what came to nothing left out."""
    return {key: value for key, value in sorted(found.items(), key=lambda row: (-row[1], row[0])) if value}
