"""The curves of a cure: fewer points that say the same, how steep they are, when they pass a temperature."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import islice, pairwise
from math import ceil
from operator import truediv
from typing import Any

from calc import cure
from calc.units import convert
from process.rules.cure_facts import FAHRENHEIT, UNITS, Points, Sensed, Spec, real

DRAWN = 480
SENSOR_DIGITS = 9
# Below so many points there is nothing to gain by looking for the telling ones.
FEW = 50


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
    low, floor = float(spec.low or 0), real(spec.cool_to)
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


# ---- Ramps


def turned_over(points: Points) -> Points:
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
        change = between(minutes, temps, ahead, end) - temps[at]
        if change > 0 and (below is None or temps[at] < below):
            yield minutes[at], end, change / width
    behind = 0
    for at in range(len(minutes)):
        start = minutes[at] - width
        if start < minutes[0]:
            continue
        while minutes[behind + 1] < start and behind + 2 < len(minutes):
            behind += 1
        was = between(minutes, temps, behind, start)
        change = temps[at] - was
        if change > 0 and (below is None or was < below):
            yield start, minutes[at], change / width


def between(minutes: Sequence[float], temps: Sequence[float], at: int, minute: float) -> float:
    """The temperature on the straight line after a point."""
    lasted_ = minutes[at + 1] - minutes[at]
    return temps[at] + (temps[at + 1] - temps[at]) * ((minute - minutes[at]) / lasted_)


# ---- Temperatures passed


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
    return between(minutes, points.degrees, low, minute)


def stretches_above(points: Points, most: float) -> list[tuple[float, float]]:
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


def enters(points: Points, low: float) -> float:
    """When a sensor first reached the band; past its end if it never did."""
    for at in range(len(points)):
        if points.degrees[at] >= low:
            if at == 0:
                return points.minutes[0]
            was, now = points.degrees[at - 1], points.degrees[at]
            return points.minutes[at - 1] + (points.minutes[at] - points.minutes[at - 1]) * (low - was) / (now - was)
    return points.minutes[-1] + 1


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
        "peak": [minutes[temps.index(peak)], peak],
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
