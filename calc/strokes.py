"""A signature drawn with a finger: read strictly, thinned, and told as lines for screen and paper.

A stroke is a flat list of whole numbers, x and y by turns, in thousandths of the pad's width from its upper left
corner. Nothing about speed or pressure is kept: it is a drawing, no biometric.
"""

import json
import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

WIDTH = 1000
MOST_STROKES, MOST_POINTS = 60, 4_000
LONGEST_TEXT = 80_000
# Shorter than a fifth of the pad is a slip of the finger, and nobody's name.
LEAST_LENGTH = 200
NEAR = 3
FLAT = 1.0

type Stroke = list[int]
type Box = tuple[int, int, int, int]


class BadStrokes(ValueError):
    """What was sent is no drawing that this program makes."""


def parse(text: str) -> list[Stroke]:
    """The strokes in a JSON text, thinned; empty for no text. Raises BadStrokes for anything but lists of points."""
    if not text.strip():
        return []
    if len(text) > LONGEST_TEXT:
        raise BadStrokes("too long")
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        raise BadStrokes("not a list of strokes") from None
    check(value)
    return [thinned(stroke) for stroke in value if stroke]


def check(value: object) -> None:
    """Raise BadStrokes unless this is a list of few enough strokes of few enough points on the pad."""
    if not isinstance(value, list) or len(value) > MOST_STROKES:
        raise BadStrokes("not a list of strokes, or too many")
    for stroke in value:
        if not isinstance(stroke, list) or len(stroke) % 2:
            raise BadStrokes("a stroke is a list of x and y by turns")
        if any(type(number) is not int or not 0 <= number <= WIDTH for number in stroke):
            raise BadStrokes("a point is not on the pad")
    if sum(len(stroke) for stroke in value) > 2 * MOST_POINTS:
        raise BadStrokes("too many points")


def points(stroke: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The points of a stroke, in order."""
    return zip(stroke[::2], stroke[1::2], strict=True)


def length(strokes: Sequence[Sequence[int]]) -> float:
    """How far the finger went over the pad."""
    return sum(math.dist(one, other) for stroke in strokes for one, other in pairwise(points(stroke)))


def enough(strokes: Sequence[Sequence[int]]) -> bool:
    """Whether this is more than a slip of the finger."""
    return length(strokes) >= LEAST_LENGTH


def thinned(stroke: Sequence[int]) -> Stroke:
    """The stroke without points that cannot be told from their neighbors; its ends stay."""
    found = list(points(stroke))
    kept = found[:1]
    for point in found[1:-1]:
        if math.dist(kept[-1], point) >= NEAR:
            kept.append(point)
    kept += found[1:][-1:]
    straight = kept[:1]
    for place in range(1, len(kept) - 1):
        if off_line(straight[-1], kept[place], kept[place + 1]) >= FLAT:
            straight.append(kept[place])
    straight += kept[1:][-1:]
    return [number for point in straight for number in point]


def off_line(start: tuple[int, int], point: tuple[int, int], end: tuple[int, int]) -> float:
    """How far a point lies from the line between two others."""
    (x1, y1), (x2, y2) = start, end
    along = math.dist(start, end)
    if not along:
        return math.dist(start, point)
    return abs((x2 - x1) * (point[1] - y1) - (y2 - y1) * (point[0] - x1)) / along


def box(strokes: Sequence[Sequence[int]], margin: int = 20) -> Box:
    """Left, top, width and height of the drawing with a margin around it; of an empty one the upper left corner."""
    xs = [x for stroke in strokes for x, _ in points(stroke)] or [0]
    ys = [y for stroke in strokes for _, y in points(stroke)] or [0]
    left, top = min(xs) - margin, min(ys) - margin
    return left, top, max(xs) + margin - left, max(ys) + margin - top


def path(strokes: Sequence[Sequence[int]]) -> str:
    """The drawing as the data of an SVG path; a dot is a line of no length, which a round pen draws."""
    return "".join(line(list(points(stroke))) for stroke in strokes if stroke)


def line(found: Sequence[tuple[int, int]]) -> str:
    """One stroke as SVG path data."""
    (x, y), rest = found[0], found[1:] or found[:1]
    return f"M{x} {y}L" + " ".join(f"{x} {y}" for x, y in rest)
