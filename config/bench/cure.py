"""The verdict on a cure log of seven days, one reading a second, eight sensors, against numpy over the same arrays."""

import random
from array import array
from decimal import Decimal

from config.bench.measure import Ratio, in_turn
from process.rules import cures

DAYS, SENSORS = 7, 8
LOW, HIGH = 58.0, 65.0


def measure(quick: bool) -> Ratio:
    """Soak, peak, ramp and cooling of all sensors together; both ways have to agree."""
    import numpy as np

    seconds = (86_400 if quick else 86_400 * DAYS) + 1
    minutes = array("d", [second / 60 for second in range(seconds)])
    tracks = [track(sensor, seconds) for sensor in range(SENSORS)]
    spec = cures.Spec(
        low=Decimal(LOW),
        high=Decimal(HIGH),
        soak_min=Decimal(1),
        added_up=True,
        ramp_max=Decimal(60),
        peak_max=Decimal(90),
    )
    arrays = [np.frombuffer(one) for one in tracks]
    grid = np.frombuffer(minutes)

    def ours(_: int) -> tuple[float, float, float]:
        sensors = [cures.sensed(f"TC {at}", "", minutes, one, "C", "C") for at, one in enumerate(tracks)]
        result = cures.result_of(sensors, spec)
        return result.soak, result.peak, result.max_ramp

    def reference(_: int) -> tuple[float, float, float]:
        coldest = np.minimum.reduce(arrays)
        step = np.diff(grid)
        # Each stretch's share in the band, by its straight line.
        warm = share(coldest, LOW, np)
        over = share(coldest, HIGH, np)
        soak = float(np.sum(step * (warm - over)))
        peak = float(max(one.max() for one in arrays))
        ramp = 0.0
        for one in arrays:
            rise = np.diff(one) / step
            ramp = max(ramp, float(np.max(np.where(one[:-1] < LOW, rise, 0))))
        return soak, peak, ramp

    mine, theirs = ours(0), reference(0)
    # The coldest of several lines bends between readings, which the reference does not see.
    if abs(mine[0] - theirs[0]) > 0.002 * theirs[0] or mine[1] != theirs[1] or abs(mine[2] - theirs[2]) > 1e-6:
        raise SystemExit(f"bench cure: the two ways do not agree: {mine} and {theirs}")
    return in_turn("cure", ours, reference, n=3 if quick else 5, warm=1)


def share(temps, limit: float, np):
    """How much of each straight piece lies at or above a limit, from 0 to 1."""
    first, last = temps[:-1] - limit, temps[1:] - limit
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(first == last, (first >= 0).astype(float), np.maximum(first, last) / np.abs(last - first))
    return np.clip(part, 0, 1)


def track(sensor: int, seconds: int) -> "array[float]":
    """A sensor with a resolution of a tenth of a degree: a slow rise, a long soak that sways, noise, a fall."""
    chance = random.Random(sensor)
    temps = array("d")
    rise, fall = seconds // 4, seconds * 9 // 10
    sway = 0.0
    for second in range(seconds):
        if second % 30 == 0:
            sway = min(max(sway + chance.uniform(-0.3, 0.3), -3), 3)
        if second < rise:
            level = 20 + 41 * second / rise
        elif second < fall:
            level = 61
        else:
            level = 61 - 35 * (second - fall) / (seconds - fall)
        temps.append(round(level + sway + chance.choice((0, 0, 0, 0, 0.1)), 1))
    return temps
