"""Where the columns of a chart stand, in the units of its drawing. The drawing itself is a template."""

from collections.abc import Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 460, 262
LEFT, RIGHT, TOP, BASE = 30, 404, 22, 220
MOST_LINES = 5
FILL = 0.7  # share of its place that a column takes


@dataclass(frozen=True)
class Column:
    """One column: its rectangle and the middle of its foot."""

    x: float
    y: float
    width: float
    height: float
    middle: float


@dataclass(frozen=True)
class Line:
    """A line across the chart at a value, with the height for its figure."""

    y: float
    text_y: float
    value: float


@dataclass(frozen=True)
class Columns:
    """A chart of columns over a base line."""

    columns: list[Column]
    lines: list[Line]
    mean: Line


def step(top: float) -> float:
    """The distance between lines: 1, 2 or 5 times a power of ten, so that at most five lines reach `top`."""
    size = 1.0
    while size * MOST_LINES < top:
        size *= 2 if not str(int(size)).startswith("2") else 2.5
    return size


def columns(values: Sequence[float], mean: float) -> Columns:
    """Place a column for each value (zero or more), lines at round values, and a line at the mean."""
    top = max([*values, mean, 1.0])
    distance = step(top)
    count = max(1, -int(-top // distance))
    scale = (BASE - TOP) / (count * distance)
    place = (RIGHT - LEFT) / max(1, len(values))

    def line(value: float) -> Line:
        y = round(BASE - value * scale, 1)
        return Line(y, round(y + 4, 1), value)

    def column(index: int, value: float) -> Column:
        x = LEFT + place * (index + (1 - FILL) / 2)
        height = value * scale
        return Column(
            round(x, 1),
            round(BASE - height, 1),
            round(place * FILL, 1),
            round(height, 1),
            round(x + place * FILL / 2, 1),
        )

    return Columns(
        [column(index, value) for index, value in enumerate(values)],
        [line(distance * number) for number in range(1, count + 1)],
        line(mean),
    )
