"""What a cure run did that its specification does not allow: when it was, and said in a sentence."""

from collections.abc import Callable, Sequence
from dataclasses import asdict

from calc import cure
from process.rules.cure_curves import enters, stretches_above, too_steep, turned_over, value_at
from process.rules.cure_facts import (
    PEAK,
    RAMP,
    SOAK,
    Clock,
    Fault,
    Points,
    Sensed,
    Spec,
    difference,
    lasted,
    rate,
    real,
    temp,
)

MOST_FAULTS = 5


def faults_of_rate(sensors: Sequence[Sensed], spec: Spec, limit: float, clock: Clock, kind: str) -> list[Fault]:
    """Stretches that were heated or cooled too fast, the worst of each sensor."""
    name, floor = ("Ramp", float(spec.low or 0)) if kind == RAMP else ("Cooling", real(spec.cool_to))
    faults = []
    for one in sensors:
        points = one.points if kind == RAMP else turned_over(one.points)
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


def faults_of_peak(sensors: Sequence[Sensed], spec: Spec, most: float, clock: Clock) -> list[Fault]:
    faults = []
    for one in sensors:
        degree = max(one.points.degrees)
        if not cure.less(most, degree):
            continue
        at = one.points.minutes[one.points.degrees.index(degree)]
        above = [stretch for stretch in stretches_above(one.points, most) if stretch[0] <= at <= stretch[1]]
        start, end = above[0] if above else (at, at)
        sentence = (
            f"{one.name} reached {temp(degree, spec)} at {clock(at)}, {difference(degree - most, spec)} over the most, "
            f"{temp(most, spec)}; above it from {clock(start)} to {clock(end)}."
        )
        faults.append(Fault(PEAK, start, end, at, degree, temp(degree, spec), sentence, one.name))
    return _worst(faults, lambda fault: fault.degree)


def faults_of_short_soak(sensors: Sequence[Sensed], spec: Spec, result: cure.CureVerdict, clock: Clock) -> list[Fault]:
    """Why the soak was too short: what kept it out of the band."""
    low, asked = float(spec.low or 0), float(spec.soak_min or 0)
    coldest = min(sensors, key=lambda one: max(one.points.degrees))
    if not result.soaks:
        degree = max(coldest.points.degrees)
        at = coldest.points.minutes[coldest.points.degrees.index(degree)]
        if degree < low:
            why = f"{coldest.name} got no hotter than {temp(degree, spec)}, and the band begins at {temp(low, spec)}."
        else:
            why = "the sensors were never in the band at the same time."
        return [
            Fault(SOAK, at, at, at, degree, "no soak", f"No soak of the {lasted(asked)} asked for: {why}", coldest.name)
        ]
    longest = max(result.soaks, key=lambda stretch: stretch[1] - stretch[0])
    start, end = longest
    late = max(sensors, key=lambda one: enters(one.points, low))
    sentence = (
        f"Soak {lasted(result.soak)}, {lasted(asked - result.soak)} less than the {lasted(asked)} asked for"
        f"{', all stretches added up' if spec.added_up else ''}: in the band from {clock(start)} to {clock(end)}."
    )
    entered = enters(late.points, low)
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


def _break(sensors: Sequence[Sensed], spec: Spec, start: float, end: float, clock: Clock) -> Fault:
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


def fault_of_long_soak(spec: Spec, result: cure.CureVerdict, sensors: Sequence[Sensed], clock: Clock) -> Fault:
    start, end = max(result.soaks, key=lambda stretch: stretch[1] - stretch[0])
    most = float(spec.soak_max or 0)
    more = lasted(result.soak - most)
    sentence = f"Soak {lasted(result.soak)}, {more} more than the {lasted(most)} allowed, to {clock(end)}."
    return Fault(
        SOAK, start, end, end, value_at(sensors[0].points, end), lasted(result.soak), sentence, sensors[0].name
    )
