"""Pure decisions about work sessions."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from calc import hours
from foundation.refusal import Refusal

KINDS = {
    "labor": "Labor",
    "process": "Tending a process",
    "study": "Study and planning",
    "admin": "Paper and visits",
}

# Kinds of work as the shop names them. Common practice; a session may leave it open.
WORK = {
    "": "Not said",
    "layup": "Layup",
    "bonding": "Bonding",
    "woodwork": "Woodwork",
    "metalwork": "Metalwork",
    "fairing": "Fairing",
    "fitting": "Fit and rig",
    "systems": "Systems",
    "rework": "Rework",
}

SOURCES = {
    "live": "Logged on the day",
    "next_day": "Logged the day after",
    "reconstructed": "Reconstructed later",
}

LONGEST = timedelta(hours=24)
CLOCK_SLACK = timedelta(minutes=10)


@dataclass(frozen=True)
class Worked:
    """One person's time in a session: aware start and end; breaks and unattended process time in seconds."""

    person: str
    name: str
    start: datetime
    end: datetime
    breaks: int = 0
    unattended: int = 0

    @property
    def labor(self) -> int:
        return hours.labor(self.start, self.end, self.breaks, self.unattended)


def check_worked(worked: Sequence[Worked], now: datetime) -> None:
    """Refuse times that cannot have been worked."""
    if not worked:
        raise Refusal("nobody", "Say who worked.", "people")
    if len({stretch.person for stretch in worked}) != len(worked):
        raise Refusal(
            "person_twice", "Each person stands once in a session. Log a second session for a second stretch.", "people"
        )
    for stretch in worked:
        check_stretch(stretch, now)


def check_stretch(stretch: Worked, now: datetime) -> None:
    """Refuse one person's times when they cannot be."""
    passed = hours.elapsed(stretch.start, stretch.end)
    if passed <= 0:
        raise Refusal("ends_before_start", f"{stretch.name}: the end must come after the start.", "ended")
    if passed > LONGEST.total_seconds():
        raise Refusal("too_long", f"{stretch.name}: a session lasts 24 hours at most. Log each day by itself.", "ended")
    if stretch.end > now + CLOCK_SLACK:
        raise Refusal("in_future", f"{stretch.name}: the end lies in the future. Check date and time.", "ended")
    check_off(stretch)


def check_off(stretch: Worked) -> None:
    """Refuse more time taken off than one person's stretch has."""
    passed = hours.elapsed(stretch.start, stretch.end)
    if stretch.breaks < 0 or stretch.unattended < 0 or stretch.breaks + stretch.unattended > passed:
        raise Refusal(
            "too_much_off", f"{stretch.name}: breaks and unattended time are longer than the session.", "breaks"
        )


def day_of_own_start(clock: time, start: datetime, end: datetime) -> date:
    """The day on which a person came at `clock` to work that went from `start` to `end` (local times).

    It is the day of the start; where the work went past midnight, the nearer one of the two days.
    """
    first, last = start.replace(tzinfo=None), end.replace(tzinfo=None)

    def away(day: date) -> timedelta:
        came = datetime.combine(day, clock)
        return max(first - came, came - last, timedelta())

    return min(first.date(), last.date(), key=away)


def check_shares(weights: Sequence[tuple[str, int]]) -> None:
    """Refuse shares that cannot be split: none, the same assembly twice, or no weight."""
    if not weights:
        raise Refusal("no_assembly", "Choose the assembly that was worked on.", "assembly")
    if len({key for key, _ in weights}) != len(weights):
        raise Refusal("assembly_twice", "The same assembly stands twice. Put its share on one line.", "assembly")
    if any(weight < 1 for _, weight in weights):
        raise Refusal("no_weight", "Each share is a whole number of 1 or more.", "shares")


def may_change(person: str, *, edits: bool, entered_by: str, workers: Collection[str]) -> bool:
    """Whether somebody who may log may also correct or withdraw a session.

    Who `edits` the project changes any session; others change those that they entered or stand in.
    """
    return edits or person == entered_by or person in workers


def source(worked_on: date, entered_on: date) -> str:
    """How fresh an entry is, from the shop's local dates (rule R6)."""
    days = (entered_on - worked_on).days
    return "live" if days <= 0 else "next_day" if days == 1 else "reconstructed"


def times_in_words(said: Mapping[str, Any]) -> str:
    """One person's times in a session, from its state with local times; breaks and unattended time where there are."""
    start, end = said["started_at"], said["ended_at"]
    words = f"{start:%-d %b %Y, %H:%M} to {end:%H:%M}" if end else f"from {start:%-d %b %Y, %H:%M}"
    for name, seconds in (("breaks", said["break_seconds"]), ("hands off", said["unattended_seconds"])):
        words += f", {name} {hours.clock_hours(seconds)}" if seconds else ""
    return words


def share_in_words(said: Mapping[str, Any]) -> str:
    """An assembly's share of a session, with the hours that come of it."""
    return f"share {said['weight']}, {hours.clock_hours(said['seconds'])} h"
