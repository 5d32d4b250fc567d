"""A file of labels or cards: pages with the chosen things on them, one after the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from reportlab import rl_config
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from calc import labels as places
from calc.labels import Box, Sheet
from foundation import lettering as let
from foundation.drawing import Remarks
from inspections.pages.card import draw_card
from inspections.pages.codes import code_of
from inspections.pages.letters import Words, composed, depth
from inspections.pages.wording import Label

# Streams as bytes, not spelled out in letters: a quarter smaller.
rl_config.useA85 = 0

PAD = 1.2
HAIR = 0.25


class NoRoom(Exception):
    """A code does not fit its label: it would be too small for a phone to read. It `needs` and `has` so many mm."""

    def __init__(self, label: Label, sheet: Sheet, needs: float, has: float) -> None:
        super().__init__(f"The code of {label.number} needs {needs:.1f} mm, and the label has {has:.1f} mm.")
        self.sheet, self.needs, self.has = sheet, needs, has


@dataclass(frozen=True)
class Job:
    """How to print: on which sheet, from which label on, moved by how many mm, with outlines or not."""

    sheet: Sheet
    start: int = 1
    nudge_x: float = 0.0
    nudge_y: float = 0.0
    outline: bool = False


def print_sheets(labels: Sequence[Label], job: Job, title: str) -> bytes:
    """A PDF file with these labels, or cards where the sheet is for cards. Raises NoRoom before anything is drawn."""
    for label in labels:
        check_room(label, job.sheet)
    let.load()
    canvas = new_canvas(job.sheet, title)
    spots = zip(job.sheet.filled(len(labels), job.start), labels, strict=True)
    for _, page in groupby(spots, key=lambda spot: spot[0][0]):
        for (_, number), label in page:
            draw_one(canvas, job, number, label)
        canvas.showPage()
    return bytes(canvas.getpdfdata())


def check_room(label: Label, sheet: Sheet) -> None:
    """Refuse a label on which the code would be too small."""
    modules, box = code_of(label.address).modules, sheet.printable(1)
    if sheet.use == "labels" and places.code_box(box, modules) is None:
        raise NoRoom(label, sheet, modules * places.LEAST_MODULE, min(box.width, box.height))


def new_canvas(sheet: Sheet, title: str) -> Canvas:
    """An empty file for this paper that embeds every font it uses."""
    wide, tall = sheet.paper_size
    canvas = Canvas("", (wide * mm, tall * mm), pageCompression=1, invariant=1, initialFontName=let.TEXT, lang="en-US")
    canvas.setTitle(title)
    canvas.setCreator("Builder's record")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def draw_one(canvas: Canvas, job: Job, number: int, label: Label) -> None:
    """One label or card at its place, moved by the nudge."""
    sheet = job.sheet
    outline = sheet.label(number).moved(job.nudge_x, job.nudge_y)
    box = sheet.printable(number).moved(job.nudge_x, job.nudge_y)
    tall = sheet.paper_size[1]
    if job.outline:
        canvas.setStrokeColor(let.HAIR)
        canvas.setLineWidth(HAIR)
        canvas.rect(outline.x * mm, (tall - outline.y - outline.height) * mm, outline.width * mm, outline.height * mm)
    if sheet.use == "cards":
        draw_card(canvas, box, tall, label)
    else:
        draw_label(canvas, box, tall, label)


def draw_label(canvas: Canvas, box: Box, tall: float, label: Label) -> None:
    """The code and beside it, or below it, the words."""
    code = code_of(label.address)
    square = places.code_box(box, code.modules)
    assert square is not None  # check_room
    code.draw(canvas, square, tall)
    room = places.beside_code(box, square, PAD)
    lines = composed(words_of(label), room.width * mm, room.height * mm)
    # Beside the code the words stand at half its height, below it at the top.
    spare = 0.0 if box.height > box.width else (room.height * mm - depth(lines)) / 2
    y = (tall - room.y) * mm - spare
    for line in lines:
        y -= line.drop
        let.draw(canvas, room.x * mm, y, line.text, line.style)


def words_of(label: Label) -> Words:
    """What a label says, as it can be drawn."""
    remarks = Remarks()

    def clean(text: str, font: Any = let.TEXT) -> str:
        return let.clean(text, font, remarks).replace("\n", " ")

    top = " · ".join(filter(None, (label.kind, label.registration)))
    facts = tuple(clean(line, let.STRONG) for line in label.facts)
    return Words(clean(top, let.LETTER), clean(label.number, let.LETTER), clean(label.name), facts)
