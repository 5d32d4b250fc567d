"""Where the marks over a photo are drawn: the same lines on screen, on paper and in a picture.

A mark's corners are in ten-thousandths of the upright picture's width and height. Everything else is measured in
thousandths of the picture's longest side, so that marks look alike whatever the size they are drawn at. Coordinates
count from the upper left corner, y downwards.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

WHOLE = 10_000
# In thousandths of the longest side.
STROKE, HALO, RIM = 6.0, 13.0, 4.0
BALLOON = 30.0
HEAD, HEAD_HALF = 36.0, 16.0
LETTERS, LEADING, PAD = 33.0, 42.0, 11.0
NUMBER = 36.0
WIDEST_NOTE = 560.0
# From the middle of a line of letters down to its base line, as a share of their size.
DROP = 0.35

NARROW, WIDE = frozenset("ijltfrI.,:;'|!()[] -"), frozenset("mwMW@%")
FIRST_FULL_WIDTH = 0x2E80

type Point = tuple[float, float]


@dataclass(frozen=True)
class Mark:
    """One mark: kind arrow, ring or note, its corners in ten-thousandths, and its words."""

    number: int
    kind: str
    x1: int
    y1: int
    x2: int
    y2: int
    words: str = ""


@dataclass(frozen=True)
class Frame:
    """Width and height of the picture in the units in which it is drawn."""

    width: float
    height: float

    @property
    def unit(self) -> float:
        """One thousandth of the longest side."""
        return max(self.width, self.height) / 1000

    def point(self, x: int, y: int) -> Point:
        """A corner of a mark in this frame."""
        return x * self.width / WHOLE, y * self.height / WHOLE

    def inside(self, at: Point, x_room: float, y_room: float) -> Point:
        """The nearest point that keeps this much room to the edges; the middle where there is too little."""
        return within(at[0], x_room, self.width), within(at[1], y_room, self.height)


@dataclass(frozen=True)
class Drawn:
    """What to draw for one mark, in the frame's units; what a kind does not have is None or empty.

    `shaft` is a line, `head` the three corners of its point, `ring` middle and half axes, `box` corner and size,
    `lines` texts with the left end of their base lines, `balloon` the middle of the numbered circle.
    """

    number: int
    balloon: Point
    shaft: tuple[Point, Point] | None = None
    head: tuple[Point, Point, Point] | None = None
    ring: tuple[float, float, float, float] | None = None
    box: tuple[float, float, float, float] | None = None
    lines: tuple[tuple[float, float, str], ...] = ()


def within(value: float, room: float, whole: float) -> float:
    """A value kept `room` from both ends of nought to `whole`, in the middle where there is less."""
    return whole / 2 if whole < 2 * room else min(max(value, room), whole - room)


def drawn(marks: Iterable[Mark], frame: Frame) -> list[Drawn]:
    """All marks of a picture in one frame, in their order."""
    ways = {"arrow": arrow, "ring": ring, "note": note}
    return [ways[mark.kind](mark, frame) for mark in marks]


def arrow(mark: Mark, frame: Frame) -> Drawn:
    """An arrow from the first corner to the second, its number just behind its start."""
    unit, start, end = frame.unit, frame.point(mark.x1, mark.y1), frame.point(mark.x2, mark.y2)
    length = math.hypot(end[0] - start[0], end[1] - start[1]) or 1.0
    ahead = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    tip = min(HEAD * unit, length * 0.6)
    half = tip * HEAD_HALF / HEAD
    neck = (end[0] - ahead[0] * tip, end[1] - ahead[1] * tip)
    head = (
        end,
        (neck[0] - ahead[1] * half, neck[1] + ahead[0] * half),
        (neck[0] + ahead[1] * half, neck[1] - ahead[0] * half),
    )
    behind = (start[0] - ahead[0] * BALLOON * unit, start[1] - ahead[1] * BALLOON * unit)
    return Drawn(mark.number, balloon(behind, frame), shaft=(start, neck), head=head)


def ring(mark: Mark, frame: Frame) -> Drawn:
    """A ring that fills the box between its corners, its number outside at the upper right."""
    (x1, y1), (x2, y2) = frame.point(mark.x1, mark.y1), frame.point(mark.x2, mark.y2)
    middle_x, middle_y, half_x, half_y = (x1 + x2) / 2, (y1 + y2) / 2, abs(x2 - x1) / 2, abs(y2 - y1) / 2
    slant, off = math.sqrt(0.5), BALLOON * frame.unit
    beside = (middle_x + (half_x + off) * slant, middle_y - (half_y + off) * slant)
    return Drawn(mark.number, balloon(beside, frame), ring=(middle_x, middle_y, half_x, half_y))


def note(mark: Mark, frame: Frame) -> Drawn:
    """Words in a box that begins at the first corner, behind their number; moved where they would leave the picture."""
    unit, (x, y) = frame.unit, frame.point(mark.x1, mark.y1)
    room = min(WIDEST_NOTE * unit, frame.width - (2 * BALLOON + 2 * PAD) * unit) / (LETTERS * unit)
    texts = broken(mark.words, room)
    text_width = max(map(ems, texts)) * LETTERS * unit
    box_width, box_height = text_width + (BALLOON + 2 * PAD) * unit, (len(texts) * LEADING + 2 * PAD) * unit
    radius = BALLOON * unit
    x = max(radius + 2 * unit, min(x, frame.width - box_width - 2 * unit))
    y = within(y, max(radius, box_height / 2) + 2 * unit, frame.height)
    left, top = x + radius + PAD * unit, y - box_height / 2 + PAD * unit
    lines = tuple(
        (left, top + (place + 0.5) * LEADING * unit + DROP * LETTERS * unit, text) for place, text in enumerate(texts)
    )
    return Drawn(mark.number, (x, y), box=(x, y - box_height / 2, box_width, box_height), lines=lines)


def balloon(at: Point, frame: Frame) -> Point:
    """The middle of a numbered circle, kept inside the picture."""
    room = (BALLOON + RIM / 2) * frame.unit
    return frame.inside(at, room, room)


def ems(text: str) -> float:
    """The width of a text in sizes of its letters, told generously: no font is at hand where it is asked."""
    return sum(em(sign) for sign in text)


def em(sign: str) -> float:
    """The width of one sign."""
    if ord(sign) >= FIRST_FULL_WIDTH:
        return 1.05
    if not sign.isascii():
        return 0.72
    if sign in NARROW:
        return 0.34
    if sign in WIDE:
        return 0.92
    return 0.67 if sign.isupper() or sign.isdigit() else 0.56


def broken(text: str, room: float) -> list[str]:
    """A text in lines of at most `room` sizes of its letters; one line at least, a word too long for it is cut up."""
    lines, line = [], ""
    for word in text.split():
        for piece in pieces(word, room):
            longer = f"{line} {piece}" if line else piece
            if line and ems(longer) > room:
                lines.append(line)
                line = piece
            else:
                line = longer
    return [*lines, line]


def pieces(word: str, room: float) -> list[str]:
    """A word in pieces that fit, each of one sign at least."""
    found, piece = [], ""
    for sign in word:
        if piece and ems(piece + sign) > room:
            found.append(piece)
            piece = ""
        piece += sign
    return [*found, piece]
