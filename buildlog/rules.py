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

# What phones capture and send, by the name under which it comes.
CAPTURED = {
    "photo": "Photo",
    "timer_start": "Timer started",
    "timer_stop": "Timer stopped",
    "timer_break": "Break started",
    "timer_on": "Break ended",
    "session": "Session logged",
    "session_edit": "Session corrected",
    "describe": "Photo described",
    "undo": "Photo taken back",
}
# In what a phone's version of a session may differ from the one that is kept.
VERSIONS = {"end": "Another end", "break": "A break more", "form": "Other words or times"}

# Two phones that stop one timer within this time meant the same end.
SAME_MOMENT = timedelta(minutes=1)
# What came from a phone within this time is not called late.
PROMPT = timedelta(minutes=10)
# A phone's clock that is less wrong than this is taken as right.
CLOCK_RIGHT = timedelta(minutes=2)

LONGEST = timedelta(hours=24)
CLOCK_SLACK = timedelta(minutes=10)

# Photos of one stretch of work: a longer pause between two of them begins another, unless somebody says otherwise.
TRAY_GAP = timedelta(minutes=45)
TRAY_GAPS = (15, 30, 45, 60, 90, 120, 180, 240)
# Photos are taken while hands are laid on and just before and after: this near to a session they belong to it.
BESIDE_SESSION = timedelta(minutes=15)
# A session this near to photos tells what was probably worked on.
NEAR_SESSION = timedelta(days=1)
# Work this long in one go is more often a slip of the fingers: it is asked about once.
LONG_WORK = timedelta(hours=16)
# Photos that lie closer than this do not tell how long the work was.
LEAST_SPAN = timedelta(minutes=1)


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


def clock_ahead(phone: datetime, server: datetime) -> int | None:
    """How many seconds a phone's clock is ahead of the server's; None where it is right within two minutes."""
    ahead = phone - server
    return None if abs(ahead) <= CLOCK_RIGHT else round(ahead.total_seconds())


def really(at: datetime, ahead: int | None, now: datetime) -> datetime:
    """When something that a phone captured really happened: its clock put right, and never in the future."""
    return min(at - timedelta(seconds=ahead or 0), now)


def late_receipt(entered_at: datetime, received_at: datetime) -> datetime | None:
    """When an entry reached the server, if that was so much later than it was made that both are to be told."""
    return received_at if received_at - entered_at > PROMPT else None


def same_moment(one: datetime, other: datetime) -> bool:
    """Whether two ends of a session are one and the same to whoever stopped it twice."""
    return abs(one - other) <= SAME_MOMENT


@dataclass(frozen=True)
class Marks:
    """Where somebody parts and joins the groups of the tray: keys of photos that begin a group or go with the one
    before them. The later wish wins."""

    apart: frozenset[str] = frozenset()
    together: frozenset[str] = frozenset()

    def split(self, key: str) -> "Marks":
        """Begin a group at this photo."""
        return Marks(self.apart | {key}, self.together - {key})

    def join(self, key: str) -> "Marks":
        """Let this photo go with the one before it."""
        return Marks(self.apart - {key}, self.together | {key})

    def only(self, keys: Collection[str]) -> "Marks":
        """The marks at photos that are still there."""
        return Marks(self.apart & {*keys}, self.together & {*keys})


def proposed_times(first: datetime, last: datetime) -> tuple[datetime, datetime] | None:
    """The whole minutes around the photos of a group; None where they lie too close to say how long the work was."""
    if last - first < LEAST_SPAN:
        return None
    start = first.replace(second=0, microsecond=0)
    end = last.replace(second=0, microsecond=0)
    return start, end if end == last else end + timedelta(minutes=1)


def between(start: datetime, end: datetime, first: datetime, last: datetime) -> timedelta:
    """How far a session lies from a group of photos; nothing where they overlap or touch."""
    return max(start - last, first - end, timedelta())


def shared(start: datetime, end: datetime, first: datetime, last: datetime) -> timedelta:
    """How long a session and a group of photos overlap."""
    return max(min(end, last) - max(start, first), timedelta())


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
