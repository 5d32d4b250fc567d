"""A cure run judged: what its sensors said against its specification, and every fault with its time and its place.

The verdict itself is `calc.cure`'s, over all points. This module turns a run into its inputs, finds when each fault
was, and says it in a sentence.
"""

import json
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from hashlib import sha256
from itertools import islice, pairwise
from math import ceil
from operator import truediv
from typing import Any, overload
from zoneinfo import ZoneInfo

from calc import cure
from calc.trouble import Impossible
from calc.units import convert, kelvin
from calc.verdict import Rule
from process.rules.verdicts import BAD, GOOD, MARKS, OPEN, Verdict, judged, tried, waiting

# Raised whenever the same inputs give another verdict or another drawing.
VERSION = 1
MOST_FAULTS = 5
DRAWN = 480
CELSIUS, FAHRENHEIT = "C", "F"
UNITS = {CELSIUS: "degC", FAHRENHEIT: "degF"}
SIGNS = {CELSIUS: "°C", FAHRENHEIT: "°F"}
SENSOR_DIGITS = 9
# Below so many points there is nothing to gain by looking for the telling ones.
FEW = 50
# Minutes within which two lengths of time are the same.
EVEN = 1e-6

RAMP, COOL, PEAK, SOAK, STACK = "ramp", "cool", "peak", "soak", "stack"

# Films whose limits are built in; the maker's own sheet replaces them.
FILMS = ("PVA film", "PVC film", "Nylon bagging film", "Polyvinyl fluoride film")
FILM_WORDS = {"film", "bagging", "bag", "release"}


@dataclass(frozen=True)
class Material:
    """A material in the heated stack and the most it bears, in the unit of the run."""

    name: str
    limit: Decimal
    source: str = ""


@dataclass(frozen=True)
class Spec:
    """What a run has to keep to, in the unit of its sheet; rates per minute, times in minutes."""

    unit: str = CELSIUS
    low: Decimal | None = None
    high: Decimal | None = None
    soak_min: Decimal | None = None
    soak_max: Decimal | None = None
    added_up: bool = False
    peak_max: Decimal | None = None
    ramp_max: Decimal | None = None
    cool_max: Decimal | None = None
    cool_to: Decimal | None = None
    source: str = ""
    stack: tuple[Material, ...] = ()
    over: bool = True
    """Whether the run has ended: until then a short soak is no fault."""
    ramp_over: float = 0.0
    area_ft2: float = 0.0
    vacuum_inhg: Fraction | Decimal | None = None
    vacuum_least: Decimal = Decimal(cure.LEAST_VACUUM)
    vacuum_source: str = cure.VACUUM.source

    @property
    def sign(self) -> str:
        return SIGNS[self.unit]

    @property
    def asks(self) -> bool:
        """Whether there is anything to judge by."""
        return self.low is not None or self.peak_max is not None or bool(self.stack)


class Points(Sequence[tuple[float, float]]):
    """Times and temperatures as points, made only while they are read: a long log has millions."""

    def __init__(self, minutes: Sequence[float], degrees_: Sequence[float]) -> None:
        self.minutes, self.degrees = minutes, degrees_

    @cached_property
    def step(self) -> float:
        """Minutes between two readings where all lie as far apart; zero where they do not."""
        lasts = [after - before for before, after in zip(self.minutes, islice(self.minutes, 1, None), strict=False)]
        if not lasts:
            return 0.0
        shortest, longest = min(lasts), max(lasts)
        return lasts[0] if shortest > 0 and longest - shortest < EVEN * shortest else 0.0

    def steps_in(self, over: float) -> int:
        """How many even steps make up so many minutes; zero where they do not."""
        count = round(over / self.step) if self.step else 0
        return count if 0 < count < len(self.minutes) and abs(count * self.step - over) < EVEN else 0

    def __len__(self) -> int:
        return len(self.minutes)

    @overload
    def __getitem__(self, at: int) -> tuple[float, float]: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[tuple[float, float]]: ...
    def __getitem__(self, at: int | slice) -> tuple[float, float] | Sequence[tuple[float, float]]:
        if isinstance(at, slice):
            return Points(self.minutes[at], self.degrees[at])
        return self.minutes[at], self.degrees[at]

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return zip(self.minutes, self.degrees, strict=True)


@dataclass(frozen=True)
class Sensed:
    """What one sensor said, in minutes since the run's first reading and the unit of the run."""

    name: str
    place: str
    points: Points


@dataclass(frozen=True)
class Fault:
    """Something that the specification does not allow, with when it was."""

    kind: str
    start: float
    end: float
    at: float
    degree: float
    short: str
    sentence: str
    sensor: str = ""


@dataclass
class Judged:
    """A run judged, as it is kept beside the record and drawn."""

    state: str
    words: str
    verdicts: list[Verdict] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    facts: list[tuple[str, str]] = field(default_factory=list)
    soaks: list[tuple[float, float]] = field(default_factory=list)
    peak: float | None = None
    starts: str = ""
    minutes: float = 0.0
    interval: float = 0.0
    drawn: list[dict[str, Any]] = field(default_factory=list)

    @property
    def mark(self) -> str:
        """The drawn state that stands beside the words."""
        return MARKS[self.state]

    def as_json(self, basis: str) -> dict[str, Any]:
        return asdict(self) | {"basis": basis}

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Judged":
        known = {key: said[key] for key in cls.__dataclass_fields__ if key in said}
        known["verdicts"] = [Verdict(**one | {"lines": tuple(one["lines"])}) for one in said.get("verdicts", ())]
        known["faults"] = [Fault(**one) for one in said.get("faults", ())]
        known["facts"] = [(one, other) for one, other in said.get("facts", ())]
        known["soaks"] = [(one, other) for one, other in said.get("soaks", ())]
        return cls(**known)


def basis(inputs: Any) -> str:
    """By what a verdict is known to be of these inputs."""
    return sha256(json.dumps([VERSION, inputs], sort_keys=True, default=str).encode()).hexdigest()


# ---- Sensors


def telling_points(points: Points, spec: Spec, lasts: Sequence[float]) -> Points:
    """The few points that a verdict turns on: ends, extremes, crossings of the levels, the steepest pieces.

    Between two of them the line stays on one side of every level and is nowhere steeper, so the verdict over them is
    the verdict over all. Found in whole passes, because a long log has millions of points. `lasts` is how long each
    piece lasts; nothing for pieces that all last as long.
    """
    minutes, temps = points.minutes, list(points.degrees)
    last = len(temps) - 1
    changes = [after - before for before, after in zip(temps, islice(temps, 1, None), strict=False)]
    slopes = list(map(truediv, changes, lasts)) if lasts else changes
    low, floor = float(spec.low or 0), _float(spec.cool_to)
    kept = {0, last, temps.index(max(temps)), temps.index(min(temps))}
    warm = bytes([value >= low for value in temps])
    sides = [warm]
    if spec.high is not None:
        high = float(spec.high)
        sides.append(bytes([value <= high for value in temps]))
    if floor is not None:
        sides.append(bytes([value > floor for value in temps]))
    for side in sides:
        for at in crossings(side):
            kept |= {at, at + 1}
    for side, wanted, best in ((warm, 0, max), (sides[-1] if floor is not None else b"", 1, min)):
        # Pieces that begin on this side; without a floor every piece cools.
        ends = [-1, *(crossings(side) if side else ()), last - 1]
        for start, end in pairwise(ends):
            begin = start + 1
            if begin <= end and (not side or side[begin] == wanted):
                at = slopes.index(best(slopes[begin : end + 1]), begin)
                kept |= {at, at + 1}
    order = sorted(kept)
    return Points([minutes[at] for at in order], [temps[at] for at in order])


def fewer(sensors: Sequence[Sensed], spec: Spec) -> dict[str, Points]:
    """Every sensor's telling points; short logs and those that cannot be right stay as they are."""
    lengths: dict[int, list[float] | None] = {}
    found = {}
    for one in sensors:
        minutes = one.points.minutes
        if len(minutes) < FEW:
            found[one.name] = one.points
            continue
        if id(minutes) not in lengths:
            lasts = [after - before for before, after in zip(minutes, islice(minutes, 1, None), strict=False)]
            lengths[id(minutes)] = None if min(lasts) <= 0 else [] if one.points.step else lasts
        known = lengths[id(minutes)]
        found[one.name] = one.points if known is None else telling_points(one.points, spec, known)
    return found


def crossings(side: bytes) -> list[int]:
    """Where the next point lies on the other side."""
    found = []
    at = side.find(1 - side[0]) if side else -1
    while at > 0:
        found.append(at - 1)
        at = side.find(1 - side[at], at)
    return found


def in_unit(temps: Sequence[float], unit: str, wanted: str) -> Sequence[float]:
    """Temperatures in another unit. Rounded far below any sensor, so that the same temperature is the same number."""
    if unit == wanted:
        return temps
    if wanted == FAHRENHEIT:
        return [round(value * 1.8 + 32, SENSOR_DIGITS) for value in temps]
    return [round((value - 32) / 1.8, SENSOR_DIGITS) for value in temps]


def limit_in(value: Fraction, unit: str, wanted: str) -> Decimal:
    """A limit in the unit of the run; rounded up, so that what is at its limit is never failed by rounding (R41)."""
    exact = convert(value, UNITS[unit], UNITS[wanted])
    return Decimal(ceil(exact * 1000)).scaleb(-3)


def sensed(name: str, place: str, minutes: Sequence[float], temps: Sequence[float], unit: str, wanted: str) -> Sensed:
    """A sensor ready to be judged."""
    return Sensed(name, place, Points(minutes, in_unit(temps, unit, wanted)))


def built_in(name: str, unit: str) -> tuple[Decimal, str] | None:
    """The limit of a film known here in the unit of the run, with its source; None for other materials."""
    plain = " ".join(word for word in name.casefold().split() if word not in FILM_WORDS)
    try:
        limit = cure.film_limit(plain, 0)
    except Impossible:
        return None
    return limit_in(Fraction(int(limit.limit)), FAHRENHEIT, unit), cure.FILM.source


def unread(why: str) -> Judged:
    """The verdict of a run whose log cannot be read."""
    return Judged(OPEN, "The log cannot be read", [waiting(why, cure.CURE)])


# ---- Judging


def judge(sensors: Sequence[Sensed], spec: Spec, starts: datetime, zone: ZoneInfo) -> Judged:
    """Judge a run by all its sensors. What cannot be judged is said, never passed over."""
    clock = Clock(starts, zone)
    extra = [_vacuum(spec)] if spec.vacuum_inhg is not None else []
    if not sensors:
        return Judged(
            OPEN, "No temperatures", [waiting("No temperatures: only start and stop are known.", cure.CURE), *extra]
        )
    base: dict[str, Any] = {
        "starts": starts.isoformat(),
        "minutes": max(one.points.minutes[-1] for one in sensors),
        "drawn": [drawing(one) for one in sensors],
        "peak": max(max(one.points.degrees) for one in sensors),
    }
    if spec.low is None and not spec.asks:
        words = "No specification: enter the cure of the resin's own sheet."
        return Judged(OPEN, "Nothing to judge by", [waiting(words, cure.CURE), *extra], **base)
    found = Judged(OPEN, "", **base)
    found.verdicts = [*_cure(sensors, spec, clock, found), *_stack(spec, found, clock), *extra]
    found.notes += _sensors(sensors, spec)
    states = {one.state for one in found.verdicts}
    found.state = BAD if BAD in states else OPEN if OPEN in states else GOOD
    count = len(found.faults)
    found.words = {
        GOOD: "Kept to its specification",
        OPEN: "Not complete yet",
        BAD: f"{count} {'fault' if count == 1 else 'faults'}" if count else "Not as specified",
    }[found.state]
    return found


def _cure(sensors: Sequence[Sensed], spec: Spec, clock: "Clock", found: Judged) -> list[Verdict]:
    """The verdict over ramp, soak, peak and cooling."""
    if spec.low is None:
        return _peak_only(spec, found, sensors, clock)
    try:
        result = result_of(sensors, spec)
    except Impossible as no:
        return [impossible(no, cure.CURE)]
    found.soaks = list(result.soaks)
    found.notes += result.notes
    ramp, cool = result.max_ramp, result.max_cool
    if spec.ramp_over:
        ramp = max(steepest(one.points, spec.ramp_over, below=float(spec.low)) for one in sensors)
        floor = _float(spec.cool_to)
        cool = max(
            steepest(_turned(one.points), spec.ramp_over, below=None if floor is None else -floor) for one in sensors
        )
    faults: list[Fault] = []
    if spec.ramp_max is not None and cure.less(float(spec.ramp_max), ramp):
        faults += _fast(sensors, spec, float(spec.ramp_max), clock, RAMP)
    if spec.cool_max is not None and cure.less(float(spec.cool_max), cool):
        faults += _fast(sensors, spec, float(spec.cool_max), clock, COOL)
    most = spec.peak_max if spec.peak_max is not None else spec.high
    if most is not None:
        faults += _hot(sensors, spec, float(most), clock)
    short = cure.SOAK_SHORT in result.reasons
    running = short and not spec.over
    if short and spec.over:
        faults += _short(sensors, spec, result, clock)
    if cure.SOAK_LONG in result.reasons:
        faults.append(_long(spec, result, sensors, clock))
    found.faults = faults
    lines = [
        f"Soak that counts: {lasted(result.soak)}"
        + (f", asked for at least {lasted(float(spec.soak_min))}" if spec.soak_min is not None else "")
        + (", added up" if spec.added_up else ", unbroken"),
        f"Band: {band(spec)}",
        f"Peak of the hottest sensor: {temp(found.peak or 0, spec)}"
        + (f", at most {temp(float(most), spec)}" if most else ""),
        f"Steepest ramp below the band: {rate(ramp, spec)}"
        + (f", at most {rate(float(spec.ramp_max), spec)}" if spec.ramp_max is not None else ", no limit given"),
        f"Steepest cooling: {rate(cool, spec)}"
        + (f", at most {rate(float(spec.cool_max), spec)}" if spec.cool_max is not None else ", no limit given"),
    ]
    if spec.ramp_over:
        lines.append(f"Ramps are measured over {spec.ramp_over:g} min, because the log has readings closer than that.")
    found.facts = [
        ("Soak", lasted(result.soak)),
        ("Peak", temp(found.peak or 0, spec)),
        ("Ramp", rate(ramp, spec)),
        ("Cooling", rate(cool, spec)),
    ]
    if spec.source:
        lines.append(f"Specification: {spec.source}")
    if running and not faults:
        words = f"Soak so far {lasted(result.soak)} of {lasted(float(spec.soak_min or 0))}."
        return [Verdict(OPEN, words, result.rule.words, _source(result.rule), result.caution, tuple(lines))]
    if spec.soak_min is None and not faults:
        words = "How long the soak has to last is not said: enter it from the resin's own sheet."
        return [Verdict(OPEN, words, result.rule.words, _source(result.rule), result.caution, tuple(lines))]
    words = (
        faults[0].sentence
        if len(faults) == 1
        else f"{len(faults)} faults, numbered in the plot."
        if faults
        else "Soak, peak, ramp and cooling are as specified."
    )
    return [judged(result.rule, not faults, words, tuple(lines))]


def result_of(sensors: Sequence[Sensed], spec: Spec) -> cure.CureVerdict:
    """What `calc.cure` makes of a run; ramps that are measured over minutes are judged here instead."""
    asked = cure.Spec(
        low=float(spec.low or 0),
        high=_float(spec.high),
        dwell_min=_float(spec.soak_min),
        dwell_max=_float(spec.soak_max),
        ramp_max=None if spec.ramp_over else _float(spec.ramp_max),
        cool_max=None if spec.ramp_over else _float(spec.cool_max),
        cool_to=_float(spec.cool_to),
        cumulative=spec.added_up,
    )
    return cure.judge(fewer(sensors, spec), asked, UNITS[spec.unit])


def _peak_only(spec: Spec, found: Judged, sensors: Sequence[Sensed], clock: "Clock") -> list[Verdict]:
    open_ = waiting("No soak is specified: enter the cure of the resin's own sheet.", cure.CURE)
    if spec.peak_max is None:
        return [open_]
    found.faults = _hot(sensors, spec, float(spec.peak_max), clock)
    if found.faults:
        return [judged(cure.SEVERAL, False, found.faults[0].sentence)]
    return [open_]


def _stack(spec: Spec, found: Judged, clock: "Clock") -> list[Verdict]:
    """The peak against the weakest material."""
    if not spec.stack or found.peak is None:
        return []
    named = [(one.name, one.limit) for one in spec.stack]
    try:
        result = cure.stack_limit(found.peak, named, UNITS[spec.unit])
    except Impossible as no:
        return [impossible(no, cure.STACK, "Weakest material")]
    lines = tuple(
        f"{one.name}: at most {temp(float(one.limit), spec)}" + (f" ({one.source})" if one.source else "")
        for one in sorted(spec.stack, key=lambda one: one.limit)
    )
    words = f"{result.weakest} bears {temp(result.limit, spec)}; the hottest sensor reached {temp(found.peak, spec)}."
    if not result.good:
        hottest = max(found.drawn, key=lambda one: one["peak"][1])
        at, degree = hottest["peak"]
        too_hot = [one.name for one in spec.stack if one.limit < Decimal(repr(found.peak))]
        sentence = (
            f"{hottest['name']} reached {temp(degree, spec)} at {clock(at)}: more than {_and(too_hot)} "
            f"{'bears' if len(too_hot) == 1 else 'bear'} ({result.weakest} {temp(result.limit, spec)})."
        )
        found.faults.append(Fault(STACK, at, at, at, degree, f"over {result.weakest}", sentence, hottest["name"]))
        words = sentence
    return [judged(cure.STACK, result.good, words, lines, "Weakest material")]


def _vacuum(spec: Spec) -> Verdict:
    return tried(lambda: _vacuum_judged(spec), "Bag vacuum", cure.VACUUM)


def _vacuum_judged(spec: Spec) -> Verdict:
    reading = spec.vacuum_inhg or 0
    result = cure.vacuum(reading, spec.vacuum_least)
    least = f"{spec.vacuum_least.normalize():f} inHg"
    words = f"{float(reading):g} inHg below ambient" + ("." if result.good else f", less than {least}.")
    state = GOOD if result.good else BAD
    return Verdict(state, words, f"at least {least}", spec.vacuum_source, result.caution, (), "Bag vacuum")


def _sensors(sensors: Sequence[Sensed], spec: Spec) -> list[str]:
    """What is said of the number of sensors; a caution, for one manual asks for it."""
    least = 2
    if spec.area_ft2 > 0:
        least = cure.sensors_needed(spec.area_ft2).minimum
    if len(sensors) >= least:
        return []
    had = "One sensor" if len(sensors) == 1 else f"{len(sensors)} sensors"
    return [
        f"{had} where {least} or more are asked for: {cure.SENSORS.words} ({cure.SENSORS.source}). "
        "A cold corner can go unseen."
    ]


def impossible(no: Impossible, rule: Rule, about: str = "") -> Verdict:
    """A verdict where a figure cannot be: bad, with its sentence (rule R42)."""
    return Verdict(BAD, no.sentence, rule.words, rule.source, rule.caution, about=about)


def _source(rule: Rule) -> str:
    return judged(rule, True, "").source


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


# ---- Ramps


def _turned(points: Points) -> Points:
    turned = Points(points.minutes, [-value for value in points.degrees])
    turned.__dict__["step"] = points.step
    return turned


def steepest(points: Points, over: float, below: float | None) -> float:
    """The steepest rise over so many minutes that begins below a temperature (None: anywhere), per minute.

    Between straight lines the steepest begins or ends at a point, so only those are looked at.
    """
    temps, count = points.degrees, points.steps_in(over)
    if not count:
        return max((rise for _, _, rise in rises(points, over, below)), default=0.0)
    # Both ends fall on points: all rises at once.
    later = islice(temps, count, None)
    if below is None:
        changes = (after - before for before, after in zip(temps, later, strict=False))
    else:
        changes = (after - before for before, after in zip(temps, later, strict=False) if before < below)
    return max(max(changes, default=0.0) / over, 0.0)


def too_steep(points: Points, over: float, below: float | None, limit: float) -> list[tuple[float, float, float]]:
    """Every piece that rises faster than allowed: start, end and rise per minute."""
    temps, minutes, count = points.degrees, points.minutes, points.steps_in(over)
    if not count:
        return sorted(piece for piece in rises(points, over, below) if cure.less(limit, piece[2]))
    most = limit * over
    pairs = enumerate(zip(temps, islice(temps, count, None), strict=False))
    found = [at for at, (before, after) in pairs if after - before > most and (below is None or before < below)]
    pieces = [(minutes[at], minutes[at + count], (temps[at + count] - temps[at]) / over) for at in found]
    return [piece for piece in pieces if cure.less(limit, piece[2])]


def rises(points: Points, over: float, below: float | None) -> Iterator[tuple[float, float, float]]:
    """Start, end and rise per minute: from point to point, or over so many minutes from and to every point."""
    minutes, temps = points.minutes, points.degrees
    if not over:
        for at in range(1, len(minutes)):
            lasted_ = minutes[at] - minutes[at - 1]
            change = temps[at] - temps[at - 1]
            if change > 0 and lasted_ > 0 and (below is None or temps[at - 1] < below):
                yield minutes[at - 1], minutes[at], change / lasted_
        return
    last = minutes[-1]
    width = min(over, last - minutes[0])
    if width <= 0:
        return
    ahead = 0
    for at in range(len(minutes)):
        end = minutes[at] + width
        if end > last:
            break
        while minutes[ahead + 1] < end and ahead + 2 < len(minutes):
            ahead += 1
        change = _between(minutes, temps, ahead, end) - temps[at]
        if change > 0 and (below is None or temps[at] < below):
            yield minutes[at], end, change / width
    behind = 0
    for at in range(len(minutes)):
        start = minutes[at] - width
        if start < minutes[0]:
            continue
        while minutes[behind + 1] < start and behind + 2 < len(minutes):
            behind += 1
        was = _between(minutes, temps, behind, start)
        change = temps[at] - was
        if change > 0 and (below is None or was < below):
            yield start, minutes[at], change / width


def _between(minutes: Sequence[float], temps: Sequence[float], at: int, minute: float) -> float:
    """The temperature on the straight line after a point."""
    lasted_ = minutes[at + 1] - minutes[at]
    return temps[at] + (temps[at + 1] - temps[at]) * ((minute - minutes[at]) / lasted_)


def _fast(sensors: Sequence[Sensed], spec: Spec, limit: float, clock: "Clock", kind: str) -> list[Fault]:
    """Stretches that were heated or cooled too fast, the worst of each sensor."""
    name, floor = ("Ramp", float(spec.low or 0)) if kind == RAMP else ("Cooling", _float(spec.cool_to))
    faults = []
    for one in sensors:
        points = one.points if kind == RAMP else _turned(one.points)
        below = floor if kind == RAMP or floor is None else -floor
        for start, end, worst in _stretches(points, spec.ramp_over, below, limit):
            sentence = (
                f"{one.name}: {name.lower()} {rate(worst, spec)}, over the most, {rate(limit, spec)}, "
                f"from {clock(start)} to {clock(end)}."
            )
            middle = (start + end) / 2
            faults.append(
                Fault(kind, start, end, middle, value_at(one.points, middle), rate(worst, spec), sentence, one.name)
            )
    return _worst(faults, lambda fault: fault.end - fault.start)


def _stretches(points: Points, over: float, below: float | None, limit: float) -> list[tuple[float, float, float]]:
    """When it rose faster than allowed: pieces that touch are one."""
    joined: list[tuple[float, float, float]] = []
    for start, end, rise in too_steep(points, over, below, limit):
        if joined and start <= joined[-1][1] + 1e-9:
            joined[-1] = joined[-1][0], max(joined[-1][1], end), max(joined[-1][2], rise)
        else:
            joined.append((start, end, rise))
    return joined


def _worst(faults: list[Fault], by: Callable[[Fault], float]) -> list[Fault]:
    """The longest faults in order of time; how many more there are is said in the last."""
    if len(faults) <= MOST_FAULTS:
        return sorted(faults, key=lambda fault: fault.start)
    kept = sorted(sorted(faults, key=by, reverse=True)[:MOST_FAULTS], key=lambda fault: fault.start)
    last = kept[-1]
    more = len(faults) - MOST_FAULTS
    said = f"{last.sentence} And {more} shorter {'stretch' if more == 1 else 'stretches'} like this."
    kept[-1] = Fault(**asdict(last) | {"sentence": said})
    return kept


# ---- Peak and soak


def _hot(sensors: Sequence[Sensed], spec: Spec, most: float, clock: "Clock") -> list[Fault]:
    faults = []
    for one in sensors:
        degree = max(one.points.degrees)
        if not cure.less(most, degree):
            continue
        at = one.points.minutes[_index(one.points.degrees, degree)]
        above = [stretch for stretch in _above(one.points, most) if stretch[0] <= at <= stretch[1]]
        start, end = above[0] if above else (at, at)
        sentence = (
            f"{one.name} reached {temp(degree, spec)} at {clock(at)}, {difference(degree - most, spec)} over the most, "
            f"{temp(most, spec)}; above it from {clock(start)} to {clock(end)}."
        )
        faults.append(Fault(PEAK, start, end, at, degree, temp(degree, spec), sentence, one.name))
    return _worst(faults, lambda fault: fault.degree)


def _index(values: Sequence[float], wanted: float) -> int:
    return values.index(wanted)


def _above(points: Points, most: float) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    since: float | None = points.minutes[0] if points.degrees[0] > most else None
    for at in range(1, len(points)):
        was, now = points.degrees[at - 1], points.degrees[at]
        if (now > most) == (since is not None):
            continue
        crossing = points.minutes[at - 1] + (points.minutes[at] - points.minutes[at - 1]) * (most - was) / (now - was)
        if since is None:
            since = crossing
        else:
            found.append((since, crossing))
            since = None
    if since is not None:
        found.append((since, points.minutes[-1]))
    return found


def value_at(points: Points, minute: float) -> float:
    """The temperature at a minute; at the ends the first or last."""
    minutes = points.minutes
    if minute <= minutes[0]:
        return points.degrees[0]
    if minute >= minutes[-1]:
        return points.degrees[-1]
    low, high = 0, len(minutes) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if minutes[middle] <= minute:
            low = middle
        else:
            high = middle
    return _between(minutes, points.degrees, low, minute)


def _short(sensors: Sequence[Sensed], spec: Spec, result: cure.CureVerdict, clock: "Clock") -> list[Fault]:
    """Why the soak was too short: what kept it out of the band."""
    low, asked = float(spec.low or 0), float(spec.soak_min or 0)
    coldest = min(sensors, key=lambda one: max(one.points.degrees))
    if not result.soaks:
        degree = max(coldest.points.degrees)
        at = coldest.points.minutes[_index(coldest.points.degrees, degree)]
        if degree < low:
            why = f"{coldest.name} got no hotter than {temp(degree, spec)}, and the band begins at {temp(low, spec)}."
        else:
            why = "the sensors were never in the band at the same time."
        return [
            Fault(SOAK, at, at, at, degree, "no soak", f"No soak of the {lasted(asked)} asked for: {why}", coldest.name)
        ]
    longest = max(result.soaks, key=lambda stretch: stretch[1] - stretch[0])
    start, end = longest
    late = max(sensors, key=lambda one: _enters(one.points, low))
    sentence = (
        f"Soak {lasted(result.soak)}, {lasted(asked - result.soak)} less than the {lasted(asked)} asked for"
        f"{', all stretches added up' if spec.added_up else ''}: in the band from {clock(start)} to {clock(end)}."
    )
    entered = _enters(late.points, low)
    first = late.points.minutes[0]
    if entered > first:
        slope = (low - late.points.degrees[0]) / (entered - first)
        sentence += (
            f" {late.name} was the last to reach {temp(low, spec)}, at {clock(entered)}, {lasted(entered - first)} "
            f"after the log began, rising by {rate(slope, spec)} on average."
        )
    faults = [
        Fault(
            SOAK, start, end, (start + end) / 2, low, f"{lasted(result.soak)} of {lasted(asked)}", sentence, late.name
        )
    ]
    if not spec.added_up:
        faults += [
            _break(sensors, spec, one[1], other[0], clock)
            for one, other in zip(result.soaks, result.soaks[1:], strict=False)
        ]
    return _worst(faults, lambda fault: fault.end - fault.start + (1e9 if fault.sensor == late.name else 0))


def _enters(points: Points, low: float) -> float:
    """When a sensor first reached the band; past its end if it never did."""
    for at in range(len(points)):
        if points.degrees[at] >= low:
            if at == 0:
                return points.minutes[0]
            was, now = points.degrees[at - 1], points.degrees[at]
            return points.minutes[at - 1] + (points.minutes[at] - points.minutes[at - 1]) * (low - was) / (now - was)
    return points.minutes[-1] + 1


def _break(sensors: Sequence[Sensed], spec: Spec, start: float, end: float, clock: "Clock") -> Fault:
    """A time out of the band that broke the soak."""
    at, degree, name = start, float("inf"), ""
    for one in sensors:
        for minute, value in zip(one.points.minutes, one.points.degrees, strict=True):
            if start <= minute <= end and value < degree:
                at, degree, name = minute, value, one.name
    low = float(spec.low or 0)
    if degree < low:
        said = f"{name} fell to {temp(degree, spec)} at {clock(at)}"
    else:
        at, degree, name = (start + end) / 2, float(spec.high or low), sensors[0].name
        said = f"all sensors were over {temp(degree, spec)}"
    sentence = f"The soak was broken for {lasted(end - start)} from {clock(start)} to {clock(end)}: {said}."
    return Fault(SOAK, start, end, at, degree, f"{lasted(end - start)} out", sentence, name)


def _long(spec: Spec, result: cure.CureVerdict, sensors: Sequence[Sensed], clock: "Clock") -> Fault:
    start, end = max(result.soaks, key=lambda stretch: stretch[1] - stretch[0])
    most = float(spec.soak_max or 0)
    more = lasted(result.soak - most)
    sentence = f"Soak {lasted(result.soak)}, {more} more than the {lasted(most)} allowed, to {clock(end)}."
    return Fault(
        SOAK, start, end, end, value_at(sensors[0].points, end), lasted(result.soak), sentence, sensors[0].name
    )


# ---- Words


@dataclass(frozen=True)
class Clock:
    """Minutes of the log as times of the project's clock, with the day where it is not the log's first."""

    starts: datetime
    zone: ZoneInfo

    def __call__(self, minute: float) -> str:
        when = (self.starts + timedelta(minutes=minute)).astimezone(self.zone)
        same = when.date() == self.starts.astimezone(self.zone).date()
        return f"{when:%H:%M}" if same else f"{when.day} {when:%b %H:%M}"


def temp(value: float, spec: Spec) -> str:
    """A temperature for a sentence; never rounded onto a limit that it passes."""
    return f"{figure(value)} {spec.sign}"


def difference(value: float, spec: Spec) -> str:
    return f"{figure(value)} {spec.sign}"


def figure(value: float) -> str:
    for places in (1, 2, 3):
        text = f"{value:.{places}f}"
        if abs(float(text) - value) < 1e-9 or places == 3:
            return text.removesuffix(".0") if places == 1 else text
    return f"{value:g}"


def rate(value: float, spec: Spec) -> str:
    """A rate per minute, and per hour where the minute's is small, as home post-cures are written."""
    text = f"{value:.2f} {spec.sign}/min"
    return f"{text} ({value * 60:.1f} {spec.sign}/h)" if 0 < value < 1 else text


def lasted(minutes: float) -> str:
    """A length of time: "3 h 10 min"."""
    if minutes < 10 and abs(minutes - round(minutes)) > 0.05:
        return f"{minutes:.1f} min"
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    return " ".join([*([f"{hours} h"] if hours else []), *([f"{rest} min"] if rest or not hours else [])])


def band(spec: Spec) -> str:
    if spec.low is None:
        return "none given"
    if spec.high is None:
        return f"{temp(float(spec.low), spec)} and more"
    return f"{figure(float(spec.low))} to {temp(float(spec.high), spec)}"


def _and(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


# ---- Drawing


def drawing(one: Sensed, most: int = DRAWN) -> dict[str, Any]:
    """One sensor's line with no more points than a plot can show: of every strip its lowest and its highest."""
    minutes, temps = one.points.minutes, one.points.degrees
    peak = max(temps)
    said = {
        "name": one.name,
        "place": one.place,
        "first": [minutes[0], temps[0]],
        "last": [minutes[-1], temps[-1]],
        "peak": [minutes[_index(temps, peak)], peak],
    }
    return said | {"points": downsampled(minutes, temps, most)}


def downsampled(minutes: Sequence[float], temps: Sequence[float], most: int = DRAWN) -> list[list[float]]:
    """First, lowest, highest and last point of each of so many strips of time."""
    if len(minutes) <= 2 * most:
        return [[round(minute, 3), round(value, 3)] for minute, value in zip(minutes, temps, strict=True)]
    width = (minutes[-1] - minutes[0]) / most
    kept: set[int] = {0, len(minutes) - 1}
    start = 0
    for strip in range(1, most + 1):
        end = bisect_left(minutes, minutes[0] + strip * width, start) if strip < most else len(minutes)
        if end > start:
            piece = temps[start:end]
            kept |= {start + piece.index(min(piece)), start + piece.index(max(piece))}
        start = end
    return [[round(minutes[at], 3), round(temps[at], 3)] for at in sorted(kept)]


def check_spec(spec: Spec) -> None:
    """Refuse a specification that no cure could meet. Raises Impossible."""
    if spec.low is not None:
        cure.check_spec(
            cure.Spec(
                float(spec.low),
                _float(spec.high),
                _float(spec.soak_min),
                _float(spec.soak_max),
                _float(spec.ramp_max),
                _float(spec.cool_max),
                _float(spec.cool_to),
            ),
            UNITS[spec.unit],
        )
    elif any(value is not None for value in (spec.high, spec.soak_min, spec.soak_max, spec.ramp_max)):
        raise Impossible("Enter the temperature at which the soak begins.", "low", "missing")
    for name, value in (("peak_max", spec.peak_max), *(("stack", one.limit) for one in spec.stack)):
        if value is not None:
            kelvin(value, UNITS[spec.unit], name)
    if spec.peak_max is not None and spec.low is not None and spec.peak_max < spec.low:
        raise Impossible("The most it may reach lies below the temperature at which the soak begins.", "peak_max")


@dataclass(frozen=True)
class FiguresTable:
    """The plot as a table: round times, and every sensor's temperature then."""

    sensors: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def figures(found: Judged, spec: Spec, zone: ZoneInfo, most: int) -> FiguresTable:
    """Temperatures at no more than so many times, evenly over the run; empty where a sensor has none."""
    if not found.drawn or not found.starts:
        return FiguresTable((), ())
    clock = Clock(datetime.fromisoformat(found.starts), zone)
    lines = [Points(*map(list, zip(*one["points"], strict=True))) for one in found.drawn]
    begin, rows = min(one.minutes[0] for one in lines), []
    for step in range(most):
        minute = begin + (found.minutes - begin) * step / (most - 1)
        cells = tuple(
            temp(round(value_at(one, minute), 1), spec) if one.minutes[0] <= minute <= one.minutes[-1] else ""
            for one in lines
        )
        rows.append((clock(minute), cells))
    return FiguresTable(tuple(one["name"] for one in found.drawn), tuple(rows))
