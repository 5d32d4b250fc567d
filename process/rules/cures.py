"""A cure run judged: what its sensors said against its specification, and every fault with its time and its place.

The verdict itself is `calc.cure`'s, over all points. This module turns a run into its inputs and gathers what is found:
`cure_facts` holds what a run is, `cure_curves` reads its curves, `cure_faults` says when each fault was.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from calc import cure
from calc.trouble import Impossible
from calc.units import kelvin
from calc.verdict import Rule
from process.rules.cure_curves import (
    SENSOR_DIGITS,
    downsampled,
    drawing,
    fewer,
    limit_in,
    rises,
    sensed,
    steepest,
    turned_over,
    value_at,
)
from process.rules.cure_facts import (
    CELSIUS,
    COOL,
    FAHRENHEIT,
    RAMP,
    SIGNS,
    SOAK,
    STACK,
    UNITS,
    Clock,
    Fault,
    Judged,
    Material,
    Points,
    Sensed,
    Spec,
    and_words,
    band,
    basis,
    lasted,
    rate,
    real,
    temp,
)
from process.rules.cure_faults import (
    MOST_FAULTS,
    fault_of_long_soak,
    faults_of_peak,
    faults_of_rate,
    faults_of_short_soak,
)
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict, judged, tried, waiting

# What other rooms take from here.
__all__ = [
    "CELSIUS",
    "FAHRENHEIT",
    "FILMS",
    "MOST_FAULTS",
    "SENSOR_DIGITS",
    "SIGNS",
    "SOAK",
    "UNITS",
    "Judged",
    "Material",
    "Points",
    "Sensed",
    "Spec",
    "band",
    "basis",
    "built_in",
    "check_spec",
    "downsampled",
    "figures",
    "judge",
    "lasted",
    "limit_in",
    "rate",
    "result_of",
    "rises",
    "sensed",
    "steepest",
    "temp",
    "unread",
    "value_at",
]

# Films whose limits are built in; the maker's own sheet replaces them.
FILMS = ("PVA film", "PVC film", "Nylon bagging film", "Polyvinyl fluoride film")
FILM_WORDS = {"film", "bagging", "bag", "release"}


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


def _cure(sensors: Sequence[Sensed], spec: Spec, clock: Clock, found: Judged) -> list[Verdict]:
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
        floor = real(spec.cool_to)
        cool = max(
            steepest(turned_over(one.points), spec.ramp_over, below=None if floor is None else -floor)
            for one in sensors
        )
    faults: list[Fault] = []
    if spec.ramp_max is not None and cure.less(float(spec.ramp_max), ramp):
        faults += faults_of_rate(sensors, spec, float(spec.ramp_max), clock, RAMP)
    if spec.cool_max is not None and cure.less(float(spec.cool_max), cool):
        faults += faults_of_rate(sensors, spec, float(spec.cool_max), clock, COOL)
    most = spec.peak_max if spec.peak_max is not None else spec.high
    if most is not None:
        faults += faults_of_peak(sensors, spec, float(most), clock)
    short = cure.SOAK_SHORT in result.reasons
    running = short and not spec.over
    if short and spec.over:
        faults += faults_of_short_soak(sensors, spec, result, clock)
    if cure.SOAK_LONG in result.reasons:
        faults.append(fault_of_long_soak(spec, result, sensors, clock))
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
        high=real(spec.high),
        dwell_min=real(spec.soak_min),
        dwell_max=real(spec.soak_max),
        ramp_max=None if spec.ramp_over else real(spec.ramp_max),
        cool_max=None if spec.ramp_over else real(spec.cool_max),
        cool_to=real(spec.cool_to),
        cumulative=spec.added_up,
    )
    return cure.judge(fewer(sensors, spec), asked, UNITS[spec.unit])


def _peak_only(spec: Spec, found: Judged, sensors: Sequence[Sensed], clock: Clock) -> list[Verdict]:
    open_ = waiting("No soak is specified: enter the cure of the resin's own sheet.", cure.CURE)
    if spec.peak_max is None:
        return [open_]
    found.faults = faults_of_peak(sensors, spec, float(spec.peak_max), clock)
    if found.faults:
        return [judged(cure.SEVERAL, False, found.faults[0].sentence)]
    return [open_]


def _stack(spec: Spec, found: Judged, clock: Clock) -> list[Verdict]:
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
            f"{hottest['name']} reached {temp(degree, spec)} at {clock(at)}: more than {and_words(too_hot)} "
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


def check_spec(spec: Spec) -> None:
    """Refuse a specification that no cure could meet. Raises Impossible."""
    if spec.low is not None:
        cure.check_spec(
            cure.Spec(
                float(spec.low),
                real(spec.high),
                real(spec.soak_min),
                real(spec.soak_max),
                real(spec.ramp_max),
                real(spec.cool_max),
                real(spec.cool_to),
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


# ---- The plot as a table


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
