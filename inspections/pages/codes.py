"""QR codes as vectors: sharp on any printer."""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Any

import segno
from reportlab.lib.units import mm

from calc.labels import QUIET, Box


@dataclass(frozen=True)
class Code:
    """A QR code. `modules` counts one side with the quiet zone; each run is row, first module and length, all in dark.

    Rows and modules count from the upper left corner of the quiet zone.
    """

    modules: int
    runs: tuple[tuple[int, int, int], ...]

    def draw(self, canvas: Any, box: Box, paper_height: float) -> None:
        """Fill the dark modules into a square on the paper: one path, so that no hair line shows between runs."""
        unit = box.width / self.modules
        path = canvas.beginPath()
        for row, first, length in self.runs:
            top = paper_height - box.y - row * unit
            path.rect((box.x + first * unit) * mm, (top - unit) * mm, length * unit * mm, unit * mm)
        canvas.setFillGray(0)
        canvas.drawPath(path, stroke=0, fill=1)


@lru_cache(maxsize=64)
def code_of(address: str) -> Code:
    """The code that says this address, so that it still reads with a seventh of it spoiled (level M)."""
    rows = segno.make(address, error="m", micro=False, boost_error=False).matrix
    runs = []
    for number, row in enumerate(rows):
        place = 0
        for dark, same in groupby(row):
            length = len(list(same))
            if dark:
                runs.append((number + QUIET, place + QUIET, length))
            place += length
    return Code(len(rows) + 2 * QUIET, tuple(runs))
