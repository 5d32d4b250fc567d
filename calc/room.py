"""The shop around the part: room climate, shelf life, calibration dates, and what a bad tool touched."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from calc.figures import Figure, exact, whole
from calc.times import in_months
from calc.trouble import Impossible
from calc.units import kelvin
from calc.verdict import PRACTICE, Rule, Verdict

ROOM = Rule(
    "temperature inside the resin's band, humidity no more than its limit",
    "epoxy prepreg processing guide 1-1015, workshop line (15 to 25 degC, under 70 percent)",
    valid="Limits come from the resin in use; both ends are inside.",
    caution="The resin maker's limits win.",
)
SHELF_LIFE = Rule(
    "good up to and on the day so many months after it was made, or after it was opened if that comes first",
    "laminating-epoxy data sheet, revised 26 Jan 2017 (24 months in sealed containers); the day itself is ours",
    valid="Kept as its maker asks. The last day of a month where that month is shorter.",
    caution="The label on the container wins; old stock may be retested, and the retest recorded.",
)
CALIBRATION = Rule(
    "due so many months after the last certificate, and at once after a drop, abuse or repair",
    "FAA AC 43.13-1B para 7-40 a (yearly, or immediately after abuse or a drop); usable on the day itself is ours",
    valid="Intervals of a month or more, and the events that are known here.",
    caution="The tool maker's or the calibration laboratory's own interval wins.",
)
SUSPECT = Rule(
    "every record made with the tool from when it was last good to when it was found bad",
    "ordinary calibration practice; no single source",
    PRACTICE,
    valid="Both days belong to the time in question.",
    caution="A suspect record is to be looked at again; it is not yet wrong.",
)

# What may happen to a tool: whether it is due for calibration at once.
EVENTS = {
    **dict.fromkeys(("dropped", "drop", "abused", "abuse", "overloaded", "overload", "damaged"), True),
    **dict.fromkeys(("repaired", "repair", "found bad", "opened", "adjusted"), True),
    **dict.fromkeys(("used", "cleaned", "lent", "returned", "stored", "moved", "note"), False),
}
CALIBRATED = {"calibrated", "calibration", "certificate"}


def room(temperature: Figure, humidity: Figure, band: tuple[Figure, Figure], most_humidity: Figure) -> Verdict:
    """Judge a room: temperature and band in degC, relative humidity in percent."""
    kelvin(temperature, "degC", "temp_degC")
    low, high = exact(band[0], "band_degC"), exact(band[1], "band_degC")
    if low > high:
        raise Impossible("The band's lower end lies above its upper end.", "band_degC")
    warm, damp = exact(temperature, "temp_degC"), exact(humidity, "rh_percent", low=0, high=100)
    reasons = []
    if warm < low:
        reasons.append("too cold")
    if warm > high:
        reasons.append("too warm")
    if damp > exact(most_humidity, "rh_max", low=0, high=100):
        reasons.append("too damp")
    return Verdict(
        verdict="not ok" if reasons else "ok",
        good=not reasons,
        rule=ROOM,
        reasons=tuple(reasons),
        given={"temperature": temperature, "humidity": humidity, "band": band, "most_humidity": most_humidity},
    )


@dataclass(frozen=True, kw_only=True)
class ShelfVerdict(Verdict):
    """Whether a lot was in life when it was used."""

    expires: date
    """The last good day."""


def shelf_life(
    made: date, months: Figure, used: date, *, opened: date | None = None, months_open: Figure | None = None
) -> ShelfVerdict:
    """Judge a lot on the day it is used, by the months it keeps sealed and, once opened, by those it keeps open."""
    expires = in_months(made, whole(months, "months", low=0, high=1200))
    if used < made:
        raise Impossible("It was used before it was made.", "used", "backward")
    if opened is not None:
        if opened < made:
            raise Impossible("It was opened before it was made.", "opened", "backward")
        if months_open is not None:
            expires = min(expires, in_months(opened, whole(months_open, "months_open", high=1200), "months_open"))
    good = used <= expires
    return ShelfVerdict(
        verdict="in life" if good else "expired",
        good=good,
        rule=SHELF_LIFE,
        reasons=() if good else (f"expired {expires}",),
        given={"made": made, "months": months, "used": used, "opened": opened, "months_open": months_open},
        expires=expires,
    )


@dataclass(frozen=True)
class Event:
    """Something that happened to a tool."""

    day: date
    kind: str


@dataclass(frozen=True)
class Due:
    """When a tool's calibration falls due, and why."""

    due: date
    event: Event | None = None
    """What made it due at once; None: the interval."""

    def usable_on(self, day: date) -> bool | None:
        """Whether the tool may be used on a day. None on the day of the event itself: before it yes, after it no."""
        if self.event is not None and day == self.due:
            return None
        return day <= self.due


def calibration_due(last: date, months: Figure, events: Iterable[Event] = ()) -> Due:
    """When a tool is due: by its interval, or at once after what throws it out.

    An event on the day of the certificate counts, since nobody knows which came first. A calibration among the events
    begins the interval anew.
    """
    interval = whole(months, "interval_months", low=1, high=1200)
    happened = sorted(((event, kind_name(event.kind)) for event in events), key=lambda pair: pair[0].day)
    renewed = [event.day for event, kind in happened if kind in CALIBRATED and event.day >= last]
    start = max([last, *renewed])
    due = in_months(start, interval, "interval_months")
    bad = next((event for event, kind in happened if event.day >= start and EVENTS.get(kind)), None)
    return Due(bad.day, bad) if bad is not None and bad.day <= due else Due(due)


def kind_name(text: str) -> str:
    """What happened, in the words known here; refused where it is not known whether the tool may have suffered."""
    plain = " ".join(text.replace("_", " ").replace("-", " ").casefold().split())
    if plain not in EVENTS and plain not in CALIBRATED:
        known = ", ".join(sorted([*EVENTS, *CALIBRATED]))
        raise Impossible(f"“{text[:40]}” is not an event that is known here: {known}.", "events", "unknown")
    return plain


def suspects[Key](last_good: date | None, found_bad: date, records: Sequence[tuple[Key, date]]) -> list[Key]:
    """The records made with a tool from when it was last good (None: never known) to the day it was found bad."""
    if last_good is not None and found_bad < last_good:
        raise Impossible("It was found bad before it was last good.", "found_bad", "backward")
    return [key for key, day in records if (last_good is None or last_good <= day) and day <= found_bad]
