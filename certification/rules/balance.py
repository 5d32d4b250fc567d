"""Weight and balance decided from what was typed: the empty aircraft from its scales, cases against the limits, a
forecast from parts and equipment.

Everything is worked out in exact grams and millimeters from the typed text, and rounded for display only, so that no
conversion moves a case over a limit (rule R41).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from calc import loading, units, weighing
from calc.figures import rounded
from calc.trouble import Impossible
from calc.verdict import MEMORY, PRACTICE, Rule
from process.rules import quantities, tools
from process.rules.words import RECHECKED, REDONE

NET = Rule(
    "net = reading - tare; fluids that do not belong to the empty aircraft are taken off, those that are missing added",
    "FAA AC 43.13-1B, chapter 10, par. 10-2 r (tare) and 10-15 (fluids)",
    caution="Level, closed doors, no wind, calibrated scales. The inspector decides what belongs to empty.",
)
FORECAST = Rule(
    "weight of parts and equipment; a scale reading wins over an estimate; the center from what has an arm",
    "no single source",
    PRACTICE,
    caution="A forecast: the aircraft is weighed in the end.",
)
CAUTION = (
    "Limits, arms and most weights come from the designer's own papers; where they differ from this, the papers win. "
    "Check the case you fly. The inspector decides."
)
SCALES = 3
ZERO = Fraction(0)
TAKEN, ADDED, ON_SCALE = "off", "on", "scale"
# A bare number under a wheel of the whole aircraft is never in grams.
AIRCRAFT_IN = {"us": "lb", "si": "kg"}
# Pieces in which the curve between two corners is drawn.
PIECES = 12


# ---- in words ----


@dataclass(frozen=True)
class Shown:
    """The units in which a project shows the whole aircraft, and to how many places."""

    mass: str
    length: str
    moment: str
    mass_places: int
    length_places: int
    moment_places: int

    def in_mass(self, grams: Fraction) -> Fraction:
        return units.convert(grams, "g", self.mass)

    def in_length(self, millimeters: Fraction) -> Fraction:
        return units.convert(millimeters, "mm", self.length)

    def weight(self, grams: Fraction) -> str:
        return f"{rounded(self.in_mass(grams), self.mass_places)} {self.mass}"

    def arm(self, millimeters: Fraction) -> str:
        """An arm; what lies forward of the datum is negative."""
        return f"{rounded(self.in_length(millimeters), self.length_places)} {self.length}"

    def turning(self, moment: Fraction) -> str:
        """A moment, given in grams times millimeters."""
        name = {"kg·m": "kg*m", "lb·in": "lb*in"}[self.moment]
        return f"{rounded(units.convert(moment, 'g*mm', name), self.moment_places)} {self.moment}"

    def some(self, value: Fraction, *, long: bool) -> str:
        """A difference without its sign; one too small to show is not shown as nothing."""
        value = abs(value)
        places, unit = (self.length_places, self.length) if long else (self.mass_places, self.mass)
        figure = rounded(self.in_length(value) if long else self.in_mass(value), places)
        if value and not figure:
            return f"less than {Decimal(1).scaleb(-places)} {unit}"
        return f"{figure} {unit}"


SHOWN = {"si": Shown("kg", "mm", "kg·m", 1, 1, 2), "us": Shown("lb", "in", "lb·in", 1, 2, 0)}


def grams(text: str) -> Fraction:
    """The exact weight of a kept text."""
    return quantities.size(text, "g")


def millimeters(text: str) -> Fraction:
    """The exact arm of a kept text."""
    return quantities.size(text, "mm")


def center_words(arm: Fraction, shown: Shown) -> str:
    """Where a center of gravity lies, in words."""
    if not arm:
        return "at the datum"
    return f"{shown.arm(abs(arm))} {'aft' if arm > 0 else 'forward'} of the datum"


# ---- the aircraft on its scales ----


@dataclass(frozen=True)
class Reading:
    """One scale as typed."""

    name: str
    reading: str = ""
    tare: str = ""
    arm: str = ""


@dataclass(frozen=True)
class Poured:
    """A fluid as typed: to be taken off the weighed aircraft, or to be added."""

    name: str
    weight: str = ""
    arm: str = ""
    adds: bool = False


@dataclass(frozen=True)
class Step:
    """One line of the computation, signed: net weight in grams, arm in millimeters, moment in both."""

    name: str
    kind: str
    typed: str
    tare: str
    net: Fraction
    arm: Fraction | None

    @property
    def moment(self) -> Fraction | None:
        return None if self.arm is None else self.net * self.arm


@dataclass(frozen=True)
class Weighed:
    """The empty aircraft with every step to it; no moment and no arm while an arm is missing."""

    steps: tuple[Step, ...]
    on_scales: Fraction
    weight: Fraction
    moment: Fraction | None

    @property
    def arm(self) -> Fraction | None:
        return None if self.moment is None else self.moment / self.weight


def weighed(readings: Iterable[Reading], fluids: Iterable[Poured] = ()) -> Weighed | None:
    """The empty aircraft from what was read so far; None before the first reading. Raises Impossible."""
    steps = [step(one) for one in readings if one.reading]
    if not steps:
        return None
    steps += [fluid_step(one) for one in fluids if one.weight]
    on_scales = weighing.total((one.name, one.net) for one in steps if one.kind == ON_SCALE)
    weight = sum((one.net for one in steps), ZERO)
    if weight <= 0:
        raise Impossible("Nothing is left of the weight: check readings, tares and fluids.", None)
    moments = [one.moment for one in steps]
    whole = None if None in moments else sum((one for one in moments if one is not None), ZERO)
    return Weighed(tuple(steps), on_scales, weight, whole)


def step(one: Reading) -> Step:
    """A scale: net = reading - tare."""
    net = grams(one.reading) - (grams(one.tare) if one.tare else 0)
    if net < 0:
        raise Impossible(f"{one.name}: the tare is more than what the scale showed. Check the two.", None)
    return Step(one.name, ON_SCALE, one.reading, one.tare, net, millimeters(one.arm) if one.arm else None)


def fluid_step(one: Poured) -> Step:
    """A fluid, negative where it is taken off."""
    net = grams(one.weight)
    arm = millimeters(one.arm) if one.arm else None
    return Step(one.name, ADDED if one.adds else TAKEN, one.weight, "", net if one.adds else -net, arm)


def missing(
    readings: Sequence[Reading], fluids: Sequence[Poured], *, datum: str, level: str, condition: str
) -> list[str]:
    """What a weighing does not say yet, in words."""
    read = [one for one in readings if one.reading]
    asked = [
        (len(read) < SCALES, f"readings of at least {SCALES} scales, {len(read)} so far"),
        (any(not one.reading for one in readings), f"what is read under {named(readings, 'reading')}"),
        (any(not one.arm for one in readings), f"the arm of {named(readings, 'arm')}"),
        (any(not one.weight for one in fluids), f"how much {named(fluids, 'weight')} weighs"),
        (any(not one.arm for one in fluids), f"the arm of {named(fluids, 'arm')}"),
        (len({one.name.casefold() for one in readings}) < len(readings), "a name of its own for each scale"),
        (not datum.strip(), "where the datum is"),
        (not level.strip(), "how it was leveled"),
        (not condition.strip(), "in which condition it was weighed"),
    ]
    return [words for wanted, words in asked if wanted]


def named(rows: Iterable[Any], lacking: str) -> str:
    """The names of the rows that lack something."""
    return ", ".join(one.name for one in rows if not getattr(one, lacking))


@dataclass(frozen=True)
class ScaleState:
    """How a scale stood on the day it was used."""

    words: str
    doubtful: bool


@dataclass(frozen=True)
class Again:
    """A weighing that was looked at again because its scale was found bad: what came of it, when, and in words."""

    outcome: str
    looked_on: date
    words: str


def scale_state(
    interval: int | None, events: Sequence[tools.Event], day: date, again: Mapping[str, Again] = MappingProxyType({})
) -> ScaleState:
    """How a scale stood that day by what is known now: past due, upset, or found bad later with that day in doubt.

    `again` tells by the event that says so how the weighing was looked at again. What was done again stays in doubt.
    """
    known = [event for event in events if event.day <= day]
    stood = tools.standing(interval, known, day)
    settled, used_bad = "", False
    for doubt in tools.doubts(events):
        after = bool(tools.used_though_bad(doubt, [(0, day)]))
        if not after and not tools.suspects(doubt, [(0, day)]):
            continue
        looked = next((again[event] for event in doubt.events if event in again), None)
        found_bad = f"It was found bad on {tools.day_words(doubt.found_bad)}"
        if looked is None:
            since = f", last good on {tools.day_words(doubt.last_good)}" if doubt.last_good else ""
            return ScaleState(f"{found_bad}{since}: weigh again.", True)
        came = f"looked at again on {tools.day_words(looked.looked_on)}: {RECHECKED[looked.outcome].lower()}"
        said = f"{found_bad}; {came}. {looked.words.rstrip('.')}."
        if looked.outcome == REDONE:
            return ScaleState(said, True)
        settled, used_bad = f"{settled} {said}".strip(), used_bad or after
    if settled and (used_bad or not stood.verdict.bad):
        return ScaleState(settled, False)
    return ScaleState(f"{settled} {stood.verdict.words}".strip(), stood.verdict.bad)


# ---- what is loaded, limits, cases ----


@dataclass(frozen=True)
class Load:
    """A seat, a tank, a locker as typed."""

    key: str
    name: str
    arm: str
    least: str
    most: str

    @property
    def item(self) -> loading.Item:
        """The same for computing, known by its key."""
        try:
            return loading.item(
                self.key, millimeters(self.arm), grams(self.most), grams(self.least) if self.least else 0
            )
        except Impossible as no:
            raise Impossible(no.sentence.replace(self.key, self.name), no.field, no.code) from None


@dataclass(frozen=True)
class Bounds:
    """The limits: forward and aft line, and the most weight in grams."""

    envelope: loading.Envelope
    most: Fraction


def bounds(most: str, forward: Sequence[tuple[str, str]], aft: Sequence[tuple[str, str]]) -> Bounds:
    """Limits from typed (weight, arm) points in any order. Raises Impossible."""
    sides = [sorted((grams(weight), millimeters(arm)) for weight, arm in side) for side in (forward, aft)]
    for name, side in zip(("forward", "aft"), sides, strict=True):
        if any(low == high for (low, _), (high, _) in pairwise(side)):
            raise Impossible(f"The {name} limit has two points at the same weight.", name)
        if len(side) < 2:
            raise Impossible(f"The {name} limit needs two points at least: the least and the most weight.", name)
    found = loading.envelope(sides[0], sides[1])
    limit = grams(most)
    if not found.forward.points[0][0] < limit <= found.forward.points[-1][0]:
        raise Impossible("The lines must reach from below the most weight up to it, or beyond.", "most")
    return Bounds(found, limit)


@dataclass(frozen=True)
class Judged:
    """One case against the limits. `faults` say in words how it is outside; None of the rooms without limits."""

    key: str
    name: str
    why: str
    aboard: tuple[tuple[str, Fraction], ...]
    weight: Fraction
    moment: Fraction
    room_forward: Fraction | None = None
    room_aft: Fraction | None = None
    room_weight: Fraction | None = None
    faults: tuple[str, ...] = ()
    limited: bool = False

    @property
    def arm(self) -> Fraction:
        return self.moment / self.weight

    @property
    def inside(self) -> bool | None:
        """Whether it is inside; None where there are no limits to hold it against."""
        return not self.faults if self.limited else None


def judge(
    name: str,
    what: loading.Loading,
    loads: Mapping[str, Load],
    limits: Bounds | None,
    shown: Shown,
    *,
    key: str = "",
    why: str = "",
) -> Judged:
    """Hold a loading against the limits, and each item against its own least and most."""
    aboard = tuple((loads[one].name, weight) for one, weight in what.weights)
    faults = [words for one, weight in what.weights for words in item_faults(loads[one], weight, shown)]
    if limits is None:
        return Judged(key, name, why, aboard, what.weight, what.moment, faults=tuple(faults))
    place = loading.place(limits.envelope, limits.most, what)
    faults = limit_faults(place, limits, shown) + faults
    rooms = (place.room_forward, place.room_aft, place.room_weight)
    return Judged(key, name, why, aboard, what.weight, what.moment, *rooms, faults=tuple(faults), limited=True)


def limit_faults(place: loading.Place, limits: Bounds, shown: Shown) -> list[str]:
    """How a loading lies outside the limits, in words."""
    found = []
    if place.room_weight < 0:
        found.append(f"{shown.some(place.room_weight, long=False)} over the most weight")
    if place.room_forward is None or place.room_aft is None:
        lowest = limits.envelope.forward.points[0][0]
        if place.loading.weight < lowest:
            below = shown.some(lowest - place.loading.weight, long=False)
            found.append(f"{below} lighter than the limits reach")
        elif place.room_weight >= 0:
            found.append("heavier than the limits reach")
    if place.room_forward is not None and place.room_forward < 0:
        found.append(f"{shown.some(place.room_forward, long=True)} forward of the forward limit")
    if place.room_aft is not None and place.room_aft < 0:
        found.append(f"{shown.some(place.room_aft, long=True)} aft of the aft limit")
    return found


def item_faults(load: Load, weight: Fraction, shown: Shown) -> list[str]:
    """What of one item is more than its most or less than its least."""
    item = load.item
    if weight > item.most:
        return [f"{load.name}: {shown.some(weight - item.most, long=False)} more than its most"]
    if weight < item.least:
        return [f"{load.name}: {shown.some(item.least - weight, long=False)} less than its least"]
    return []


def craft_of(empty: Weighed, loads: Sequence[Load], limits: Bounds | None) -> loading.Aircraft:
    """The aircraft as it can be loaded; without limits up to the most of everything. Raises Impossible."""
    if empty.arm is None:
        raise Impossible("The empty center of gravity is not known yet.", None)
    items = [one.item for one in loads]
    most = limits.most if limits else empty.weight + sum((one.most for one in items), ZERO)
    return loading.aircraft(empty.weight, empty.arm, items, most)


def case_loading(empty: Weighed, loads: Sequence[Load], aboard: Mapping[str, str]) -> loading.Loading:
    """The aircraft with these typed weights aboard, be it within its limits or not; what is not named is not aboard."""
    if empty.moment is None:
        raise Impossible("The empty center of gravity is not known yet.", None)
    weights = {one.key: grams(aboard[one.key]) if aboard.get(one.key) else ZERO for one in loads}
    free = loading.Aircraft(empty.weight, empty.moment / empty.weight, tuple(one.item for one in loads), ZERO)
    return loading.case(free, weights)


FORWARD_WHY = "Found by computation: of all that can be loaded, the center of gravity farthest forward."
AFT_WHY = "Found by computation: of all that can be loaded, the center of gravity farthest aft."
NEAR = "Found by computation: of all that can be loaded, it has the least room to the {} limit, or is farthest past it."


def extremes(craft: loading.Aircraft, loads: Mapping[str, Load], limits: Bounds | None, shown: Shown) -> list[Judged]:
    """The most forward and the most aft case, and those nearest to a limit; where one is both, it says so."""
    ends = [("Most forward", loading.most_forward(craft), FORWARD_WHY), ("Most aft", loading.most_aft(craft), AFT_WHY)]
    if limits is not None:
        for side, place in zip(("forward", "aft"), loading.worst(limits.envelope, craft), strict=True):
            at = next((at for at, (_, one, _) in enumerate(ends) if one == place.loading), None)
            if at is None:
                ends.append((f"Nearest to the {side} limit", place.loading, NEAR.format(side)))
            else:
                name, one, why = ends[at]
                ends[at] = (name, one, f"{why} No other comes so near to the {side} limit, or so far past it.")
    return [judge(name, what, loads, limits, shown, why=why) for name, what, why in ends]


def reach(craft: loading.Aircraft, *, aft: bool) -> list[loading.Loading]:
    """The edge of all that can be loaded, close enough for drawing: between corners it is a curve."""
    corners = loading.frontier(craft, aft=aft)
    found = corners[:1]
    for low, high in pairwise(corners):
        gap = high.weight - low.weight
        found += [loading.between(low, high, low.weight + gap * at / PIECES) for at in range(1, PIECES)]
        found.append(high)
    return found


def all_at_once(craft: loading.Aircraft, limits: Bounds | None, shown: Shown) -> str:
    """What the most of everything would weigh, where that is too much."""
    full = craft.weight + sum((one.most for one in craft.items), ZERO)
    if limits is None or full <= limits.most:
        return ""
    over = shown.some(full - limits.most, long=False)
    return f"The most of everything at once would weigh {shown.weight(full)}: {over} over the most weight."


# ---- a forecast before the weighing ----


@dataclass(frozen=True)
class Piece:
    """A part or a piece of equipment: reading and estimate in grams, arm in millimeters, as far as they are known."""

    name: str
    estimate: Fraction | None = None
    reading: Fraction | None = None
    arm: Fraction | None = None
    equipment: bool = False

    @property
    def weight(self) -> Fraction | None:
        return self.reading if self.reading is not None else self.estimate


@dataclass(frozen=True)
class Forecast:
    """What parts and equipment come to, and how much of that is known how well."""

    count: int
    weight: Fraction
    on_scale: Fraction
    with_arm: Fraction
    moment: Fraction
    no_weight: tuple[str, ...] = field(default=())
    no_arm: tuple[str, ...] = field(default=())

    @property
    def share_weighed(self) -> Fraction | None:
        return self.on_scale / self.weight if self.weight else None

    @property
    def share_with_arm(self) -> Fraction | None:
        return self.with_arm / self.weight if self.weight else None

    @property
    def arm(self) -> Fraction | None:
        """The center of gravity of what has an arm."""
        return self.moment / self.with_arm if self.with_arm else None


def forecast(pieces: Sequence[Piece]) -> Forecast:
    """Roll parts and equipment up (`calc.weighing.roll_up`); equipment is as said, not as read from a scale."""
    placed = [one for one in pieces if one.arm is not None and one.weight is not None]
    rolled = weighing.roll_up((at, one.estimate, one.reading) for at, one in enumerate(pieces))
    return Forecast(
        count=len(pieces),
        weight=sum((one.weight for one in pieces if one.weight is not None), ZERO),
        on_scale=sum((one.reading for one in pieces if one.reading is not None), ZERO),
        with_arm=sum((one.weight for one in placed if one.weight is not None), ZERO),
        moment=sum((one.weight * one.arm for one in placed if one.weight is not None and one.arm is not None), ZERO),
        no_weight=tuple(pieces[at].name for at in rolled.unknown),
        no_arm=tuple(one.name for one in pieces if one.arm is None),
    )


def percent(share: Fraction | None) -> str:
    """A share in whole percent; one that is not all is never rounded up to all."""
    if share is None:
        return "none"
    figure = int(share * 100) if share < 1 else 100
    return f"{figure} %" if figure or not share else "less than 1 %"


def said(rule: Rule) -> dict[str, str]:
    """A rule with its source, for a page; where it is not from a paper that was read, it says so."""
    source = rule.source if rule.provenance not in {MEMORY, PRACTICE} else f"{rule.source} ({rule.provenance})"
    return {"words": rule.words, "source": source, "caution": rule.caution}
