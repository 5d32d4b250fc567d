"""Moments gathered into groups wherever a long pause lies between neighbors."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


@dataclass(frozen=True)
class Group[Key]:
    """What happened without a long pause: first and last moment, and what, in the order of time."""

    first: datetime
    last: datetime
    members: tuple[Key, ...]


def grouped[Key](
    moments: Iterable[tuple[datetime, Key]],
    *,
    gap: timedelta,
    longest: timedelta,
    apart: Collection[Key] = (),
    together: Collection[Key] = (),
) -> list[Group[Key]]:
    """Group aware times, oldest first: a new group begins after a pause of more than `gap`.

    No group is longer than `longest` from its first moment to its last. A key in `apart` begins a group where none
    would begin by itself; one in `together` goes with the one before it however long the pause was, as far as
    `longest` lets it. A key in both begins a group. Equal times keep the order in which they came.
    """
    groups: list[list[tuple[datetime, Key]]] = []
    # In UTC: times of one zone compare by the wall clock, which goes wrong in the night the clocks change.
    for at, key in sorted(((at.astimezone(UTC), key) for at, key in moments), key=lambda row: row[0]):
        begins = not groups or at - groups[-1][0][0] > longest or key in apart
        if begins or (at - groups[-1][-1][0] > gap and key not in together):
            groups.append([])
        groups[-1].append((at, key))
    return [Group(rows[0][0], rows[-1][0], tuple(key for _, key in rows)) for rows in groups]
