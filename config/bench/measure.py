"""Timing two ways in turn and telling the medians as one JSON line."""

import gc
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True)
class Ratio:
    """What a measurement found: medians in `unit`, over `n` runs of each way."""

    name: str
    ours: float
    reference: float
    n: int
    unit: str = "ms"

    @property
    def ratio(self) -> float:
        return self.ours / self.reference

    def line(self) -> str:
        return json.dumps(
            {
                "name": self.name,
                "ratio": round(self.ratio, 3),
                "ours": round(self.ours, 3),
                "reference": round(self.reference, 3),
                "n": self.n,
                "unit": self.unit,
            }
        )


def in_turn(
    name: str, ours: Callable[[int], object], reference: Callable[[int], object], n: int, warm: int = 2
) -> Ratio:
    """Run both ways n times in turn, each time in the other order; the first `warm` rounds do not count."""
    times: dict[str, list[float]] = {"ours": [], "reference": []}
    ways = {"ours": ours, "reference": reference}
    gc.collect()
    for number in range(n + warm):
        order = ("ours", "reference") if number % 2 else ("reference", "ours")
        for way in order:
            start = time.perf_counter()
            ways[way](number)
            if number >= warm:
                times[way].append((time.perf_counter() - start) * 1000)
    return Ratio(name, median(times["ours"]), median(times["reference"]), n)
