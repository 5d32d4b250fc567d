"""The plot of weight over center of gravity: where limits, all that can be loaded, and the numbered cases stand.

Placed once, from the figures of `certification.queries.balance`; a template draws it on the page, the pen on paper.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10
from typing import Any

RING = 12.0
# Where the number of a case may stand beside its point, nearest first.
AROUND = [
    (dx * far, dy * far)
    for far in (1.0, 1.6, 2.4, 3.4)
    for dx, dy in ((18, -18), (18, 18), (-18, -18), (-18, 18), (26, 0), (-26, 0), (0, -26), (0, 26))
]

type Spots = list[tuple[float, float]]


@dataclass(frozen=True)
class Size:
    """How large a plot is drawn, and about how many figures fit along its sides."""

    name: str
    width: int
    height: int
    columns: int
    rows: int = 6
    left: int = 52
    right: int = 18
    top: int = 30
    foot: int = 44


WIDE = Size("wide", 760, 440, 8)
NARROW = Size("narrow", 380, 400, 4)


@dataclass(frozen=True)
class Tick:
    """A figure at an axis."""

    at: float
    words: str

    @property
    def text_y(self) -> float:
        return round(self.at + 4, 1)


@dataclass(frozen=True)
class Mark:
    """A case: its point, and its number beside it."""

    number: int
    x: float
    y: float
    point_x: float
    point_y: float
    inside: bool

    @property
    def text_y(self) -> float:
        return round(self.y + 4.5, 1)

    @property
    def box_x(self) -> float:
        return round(self.x - RING + 1, 1)

    @property
    def box_y(self) -> float:
        return round(self.y - RING + 1, 1)


@dataclass
class Plot:
    """Everything that is drawn, in the units of the drawing, y downwards."""

    size: Size
    mass: str
    length: str
    base: float
    end: float
    columns: list[Tick] = field(default_factory=list)
    rows: list[Tick] = field(default_factory=list)
    limits: Spots = field(default_factory=list)
    reach: Spots = field(default_factory=list)
    most_y: float | None = None
    empty: tuple[float, float] = (0.0, 0.0)
    marks: list[Mark] = field(default_factory=list)

    @property
    def limits_path(self) -> str:
        return path(self.limits)

    @property
    def reach_path(self) -> str:
        return path(self.reach)

    @property
    def most_text_y(self) -> float:
        return round((self.most_y or 0) - 6, 1)

    @property
    def tick_end(self) -> float:
        return self.size.left - 8

    @property
    def foot_y(self) -> float:
        return self.base + 20

    @property
    def unit_y(self) -> float:
        return self.base + 38

    @property
    def middle(self) -> float:
        return (self.size.left + self.end) / 2

    @property
    def empty_x(self) -> float:
        return self.empty[0]

    @property
    def empty_y(self) -> float:
        return self.empty[1]

    @property
    def empty_words_y(self) -> float:
        return round(self.empty[1] + 20, 1)


def path(spots: Spots) -> str:
    """A closed line for a template; none without spots."""
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in spots) + "Z" if spots else ""


def plot(figure: dict[str, Any] | None, size: Size) -> Plot | None:
    """Place the figures; None where there are none."""
    if figure is None:
        return None
    forward, aft = figure["forward"], figure["aft"]
    spots = [figure["empty"], *forward, *aft, *figure["reach_forward"], *figure["reach_aft"]]
    spots += [one["spot"] for one in figure["cases"]]
    masses = [weight for _, weight in spots] + ([figure["most"]] if figure["most"] else [])
    low_x, high_x, step_x = rounded_range([arm for arm, _ in spots], size.columns)
    low_y, high_y, step_y = rounded_range(masses, size.rows)
    base, end = float(size.height - size.foot), float(size.width - size.right)
    width, height = end - size.left, base - size.top

    def x(arm: float) -> float:
        return round(size.left + (arm - low_x) / (high_x - low_x) * width, 1)

    def y(weight: float) -> float:
        return round(base - (weight - low_y) / (high_y - low_y) * height, 1)

    def placed(rows: Sequence[Sequence[float]]) -> Spots:
        return [(x(arm), y(weight)) for arm, weight in rows]

    drawn = Plot(size, figure["mass"], figure["length"], base, end)
    drawn.columns = ticks(low_x, high_x, step_x, x)
    drawn.rows = ticks(low_y, high_y, step_y, y)
    drawn.limits = placed([*forward, *reversed(aft)])
    drawn.reach = placed([*figure["reach_forward"], *reversed(figure["reach_aft"])])
    drawn.most_y = y(figure["most"]) if figure["most"] else None
    drawn.empty = (x(figure["empty"][0]), y(figure["empty"][1]))
    drawn.marks = marks(figure["cases"], drawn, x, y)
    return drawn


def rounded_range(values: Sequence[float], most: int) -> tuple[float, float, float]:
    """A range in round steps that holds all values with some room, and the step."""
    low, high = min(values), max(values)
    room = (high - low or abs(high) or 1.0) * 0.06
    low, high = low - room, high + room
    rough = (high - low) / most
    scale = 10.0 ** floor(log10(rough))
    step = next(scale * one for one in (1, 2, 5, 10) if scale * one >= rough)
    return floor(low / step) * step, ceil(high / step) * step, step


def ticks(low: float, high: float, step: float, place: Callable[[float], float]) -> list[Tick]:
    count = round((high - low) / step)
    values = [round(low + step * at, 9) for at in range(count + 1)]
    return [Tick(place(value), f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}") for value in values]


def marks(
    cases: Sequence[dict[str, Any]], drawn: Plot, x: Callable[[float], float], y: Callable[[float], float]
) -> list[Mark]:
    """A number beside the point of each case, clear of the other numbers and of the points where there is room."""
    points = [(x(one["spot"][0]), y(one["spot"][1])) for one in cases]
    taken: Spots = []
    found = []
    for one, (point_x, point_y) in zip(cases, points, strict=True):
        places = [(point_x + dx, point_y + dy) for dx, dy in AROUND]
        inside = [
            (at_x, at_y)
            for at_x, at_y in places
            if drawn.size.left + RING <= at_x <= drawn.end - RING and RING <= at_y <= drawn.base - RING
        ]

        def hindered(place: tuple[float, float]) -> int:
            rings = sum(near(place, other, 2 * RING + 2) for other in taken)
            return rings * 10 + sum(near(place, other, RING + 6) for other in points)

        at_x, at_y = min(inside or places, key=hindered)
        taken.append((at_x, at_y))
        found.append(Mark(one["number"], round(at_x, 1), round(at_y, 1), point_x, point_y, one["inside"]))
    return found


def near(one: tuple[float, float], other: tuple[float, float], least: float) -> bool:
    return (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2 < least**2
