"""Sheets of labels: where each label lies on the paper and how large a code on it can be. All lengths in millimeters.

Places count from the upper left corner of the paper, x to the right, y downwards.
"""

from collections.abc import Iterator
from dataclasses import dataclass

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4), "Letter, landscape": (279.4, 215.9), "A6": (105.0, 148.0)}
# No home printer prints closer to the edge of the paper than about 4.2 mm. Common practice.
EDGE = 5.0
# How far a sheet may be moved on its paper to make up for a printer that shifts.
MOST_NUDGE = 4.0
# The quiet zone of a QR code, in modules, as its standard asks for; and the smallest module that a phone reads off a
# home printer's paper. The latter is common practice.
QUIET = 4
LEAST_MODULE = 0.33
# A code much larger than this is no easier to read.
LARGEST_CODE = 72.0


@dataclass(frozen=True)
class Box:
    """A rectangle on the paper by its upper left corner, width and height."""

    x: float
    y: float
    width: float
    height: float

    def within(self, left: float, top: float, right: float | None = None, bottom: float | None = None) -> "Box":
        """The rectangle inside these margins; right and bottom are as left and top where not given."""
        right, bottom = left if right is None else right, top if bottom is None else bottom
        return Box(self.x + left, self.y + top, self.width - left - right, self.height - top - bottom)

    def moved(self, x: float, y: float) -> "Box":
        return Box(self.x + x, self.y + y, self.width, self.height)


@dataclass(frozen=True)
class Sheet:
    """One way in which label paper is cut: so many columns and rows, the first label `left` and `top` of the paper's
    edges, each further one a pitch on. `use` is "labels" or "cards"."""

    key: str
    use: str
    name: str
    size: str
    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float

    @property
    def labels(self) -> int:
        """How many labels one sheet has."""
        return self.columns * self.rows

    @property
    def paper_size(self) -> tuple[float, float]:
        """Width and height of the paper."""
        return PAPERS[self.paper]

    @property
    def right(self) -> float:
        """What is left of the paper to the right of the last column."""
        return self.paper_size[0] - self.left - (self.columns - 1) * self.pitch_x - self.width

    @property
    def bottom(self) -> float:
        """What is left of the paper below the last row."""
        return self.paper_size[1] - self.top - (self.rows - 1) * self.pitch_y - self.height

    @property
    def boxes(self) -> list[Box]:
        """All labels of one sheet, in order."""
        return [self.label(number) for number in range(1, self.labels + 1)]

    def label(self, number: int) -> Box:
        """The label with this number: 1 is the upper left one, then along the row."""
        row, column = divmod(number - 1, self.columns)
        return Box(self.left + column * self.pitch_x, self.top + row * self.pitch_y, self.width, self.height)

    def printable(self, number: int) -> Box:
        """The part of a label that every printer reaches: the same inset for all labels, so that they look alike."""
        return self.label(number).within(
            max(0.0, EDGE - self.left, EDGE - self.right), max(0.0, EDGE - self.top, EDGE - self.bottom)
        )

    def filled(self, count: int, start: int = 1) -> Iterator[tuple[int, int]]:
        """Page (from 0) and number of label for so many labels, the first of them at label `start` of page 0."""
        for place in range(start - 1, start - 1 + count):
            yield place // self.labels, place % self.labels + 1


def code_box(box: Box, modules: int) -> Box | None:
    """Where the code with its quiet zone stands in the printable part of a label; None where it would be too small.

    `modules` counts one side with the quiet zone. The code stands left on a wide label and on top of a tall one.
    """
    tall = box.height > box.width
    room = min(box.width, box.height)
    wanted = min(room, LARGEST_CODE, 0.66 * box.width if tall else 0.42 * box.width)
    side = max(wanted, modules * LEAST_MODULE)
    if side > room:
        return None
    if tall:
        return Box(box.x + (box.width - side) / 2, box.y, side, side)
    return Box(box.x, box.y + (box.height - side) / 2, side, side)


def beside_code(box: Box, code: Box, pad: float) -> Box:
    """The rest of a label for letters: right of the code on a wide label, below it on a tall one."""
    if box.height > box.width:
        below = code.y + code.height
        return Box(box.x, below, box.width, box.y + box.height - below).within(pad, 0, pad, pad)
    rest = box.x + box.width - code.x - code.width
    # The quiet zone keeps the letters off the code already.
    return Box(code.x + code.width, box.y, rest, box.height).within(0, pad, pad, pad)
