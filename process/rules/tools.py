"""How a tool stands: when its calibration is due, and what it touched when it turned out bad (rules R44, TQ-CAL)."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from calc import room
from calc.trouble import Impossible
from process.rules import quantities, words
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict

# A calibration that falls due within so many days is looked at first: laboratories take weeks. Common practice.
SOON = timedelta(days=30)
CLEARS = {words.CALIBRATED, words.GOOD}
UPSETS = {words.DROPPED, words.REPAIRED, words.BAD}
AFTER = {
    words.DROPPED: "It was dropped or struck",
    words.REPAIRED: "It was repaired",
    words.BAD: "It was found bad",
}


# What range and resolution of a kind of tool are kept in; others are kept as words only.
KEPT_IN = {"torque": "inlb", "scale": "g", "temperature": "degc", "vacuum": "inhg", "length": "mm"}


def reading(kind: str, text: str, units: str, field: str, *, step: bool = False) -> tuple[str, Decimal | None]:
    """A range or a resolution of a tool as it is kept: the text with its unit, and the figure. Raises Impossible.

    A `step` of temperature is a difference: 1 °F is five ninths of a degree Celsius, without the 32.
    """
    suffix = KEPT_IN.get(kind)
    if suffix is None or not text.strip():
        return text.strip(), None
    said, exact = quantities.read(text, suffix, quantities.meant(suffix, units), field)
    if step and suffix == "degc":
        exact -= quantities.read("0 " + said.lstrip("0123456789.,/ "), suffix, "degC", field)[1]
    if exact <= 0 and (step or suffix != "degc"):
        raise Impossible("It must be more than zero.", field)
    return said, quantities.kept(exact)


@dataclass(frozen=True)
class Event:
    """Something that happened to a tool, in the order of days and, within a day, of entering; `key` names it."""

    kind: str
    day: date
    key: str = ""


@dataclass(frozen=True)
class Standing:
    """Whether a tool may be used today, and until when."""

    verdict: Verdict
    due: date | None
    soon: bool = False

    @property
    def usable(self) -> bool:
        return not self.verdict.bad


def standing(interval: int | None, events: Sequence[Event], today: date) -> Standing:
    """How a tool stands today, by `calc.room.calibration_due`.

    What was dropped, repaired or found bad is not used until it is checked or calibrated again. A tool without an
    interval has no due date; one that was never calibrated is open, not bad.
    """
    upset = unsettled(events)
    calibrated = [event.day for event in events if event.kind == words.CALIBRATED]
    lines = tuple(f"{words.TOOL_EVENTS[event.kind]} on {day_words(event.day)}" for event in events[-3:])
    if upset is not None:
        said = f"{AFTER[upset.kind]} on {day_words(upset.day)}: not to be used until it is checked or calibrated."
        return Standing(verdict(BAD, said, lines), upset.day)
    if interval is None:
        return Standing(verdict(GOOD if events else OPEN, "No calibration interval is set for it.", lines), None)
    if not calibrated:
        return Standing(verdict(OPEN, "No calibration is recorded yet.", lines), None)
    due = room.calibration_due(calibrated[-1], interval).due
    if today > due:
        return Standing(verdict(BAD, f"Its calibration was due on {day_words(due)}.", lines), due)
    return Standing(verdict(GOOD, f"Calibration is good up to {day_words(due)}.", lines), due, today + SOON >= due)


def unsettled(events: Sequence[Event]) -> Event | None:
    """The first thing that upset a tool since it was last calibrated or found good; None if nothing did."""
    return next((event for event in after_last(events, CLEARS) if event.kind in UPSETS), None)


def after_last(events: Sequence[Event], kinds: Iterable[str]) -> Sequence[Event]:
    """The events after the last one of these kinds."""
    places = [place for place, event in enumerate(events) if event.kind in kinds]
    return events[places[-1] + 1 :] if places else events


def verdict(state: str, said: str, lines: tuple[str, ...]) -> Verdict:
    rule = room.CALIBRATION
    return Verdict(state, said, rule.words, rule.source, rule.caution, lines)


@dataclass(frozen=True)
class Doubt:
    """One time a tool was found bad: since when it cannot be trusted, and until when it was not set right.

    `events` are the keys of the events that say so, the first finding first.
    """

    last_good: date | None
    found_bad: date
    set_right: date | None
    events: tuple[str, ...] = ()


def doubts(events: Sequence[Event]) -> list[Doubt]:
    """Each time a tool was found bad, the newest first; found bad again before it was set right is the same doubt.

    It was last good on an earlier day: what calibrated it on the same day may have found it bad.
    """
    found: list[Doubt] = []
    bad: list[Event] = []
    for place, event in enumerate(events):
        if event.kind == words.BAD:
            bad.append(event)
        elif event.kind in CLEARS and bad:
            found.append(doubt(events[:place], bad, event.day))
            bad = []
    if bad:
        found.append(doubt(events, bad, None))
    return found[::-1]


def doubt(known: Sequence[Event], bad: Sequence[Event], set_right: date | None) -> Doubt:
    """The doubt that these findings of a tool as bad cast on it, by what was known of it before it was set right."""
    day = bad[0].day
    return Doubt(last_good(known, day), day, set_right, tuple(event.key for event in bad))


def last_good(events: Sequence[Event], before: date) -> date | None:
    """The last day before this one on which a tool was calibrated or found good."""
    return max((event.day for event in events if event.kind in CLEARS and event.day < before), default=None)


def suspects[Key](doubt: Doubt, records: Sequence[tuple[Key, date]]) -> list[Key]:
    """The records made with a tool since it was last good, to the day it was found bad (`calc.room.suspects`)."""
    return room.suspects(doubt.last_good, doubt.found_bad, records)


def used_though_bad[Key](doubt: Doubt, records: Sequence[tuple[Key, date]]) -> list[Key]:
    """The records made with it after it was found bad and before it was set right."""
    return [key for key, day in records if day > doubt.found_bad and (doubt.set_right is None or day < doubt.set_right)]


def day_words(day: date) -> str:
    return f"{day:%-d %b %Y}"


def check_event(kind: str, day: date, said: str, today: date) -> tuple[str, str, str] | None:
    """What is wrong with an event that is to be entered, as code, sentence and field; None if nothing is."""
    if day > today:
        return "in_future", "This day has not come yet.", "happened_on"
    if kind not in words.TOOL_EVENTS:
        return "no_such_event", "Choose what happened.", "kind"
    if kind in UPSETS and not said.strip():
        return "no_words", "Say in a few words what happened or what was found.", "words"
    return None


def check_recheck(outcome: str, day: date, said: str, found_bad: date, today: date) -> tuple[str, str, str] | None:
    """What is wrong with looking at a record again, as code, sentence and field; None if nothing is."""
    if outcome not in words.RECHECKED:
        return "no_outcome", "Choose what came of it.", "outcome"
    if day > today:
        return "in_future", "This day has not come yet.", "looked_on"
    if day < found_bad:
        sentence = f"The tool was found bad on {day_words(found_bad)}: looking again comes after that."
        return "too_early", sentence, "looked_on"
    if not said.strip():
        return "no_words", "Say in a few words how it was looked at, or why it is accepted.", "words"
    return None
