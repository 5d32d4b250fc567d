"""Plates, marks and placards on paper, to scale: letters as high as asked, and a bar to check the printer with.

What is wider or higher than a sheet is drawn in pieces that overlap and are glued together.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from reportlab import rl_config
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from certification.models import Placard
from foundation import lettering as let
from foundation.drawing import CannotDraw, Remarks

__all__ = ["PAPERS", "CannotDraw", "draw_placards"]

rl_config.useA85 = 0

PAPERS = {"a4": "A4", "letter": "Letter"}
SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# All in millimeters. A household printer leaves a rim of up to 8 mm blank.
RIM, FOOT, GAP, OVERLAP, BAR = 10.0, 17.0, 7.0, 12.0, 100.0
CAPTION = let.SMALL.but(size=7.5, leading=9)
MOST_SHEETS = 120


@dataclass(frozen=True)
class Layout:
    """One placard as it is drawn: its lines, the size of the type in points, and the size of its outline in mm."""

    placard: Placard
    lines: tuple[str, ...]
    style: let.Style
    height: float
    pad: float
    box: tuple[float, float]
    caption: str

    @property
    def pitch(self) -> float:
        """From base line to base line."""
        return self.height * 1.45


@dataclass(frozen=True)
class Spot:
    """A placard on a sheet: the lower left corner of its outline, from the lower left corner of the sheet.

    `window` is what of the sheet it may use: a piece of something larger ends there.
    """

    layout: Layout
    x: float
    y: float
    window: tuple[float, float, float, float]
    piece: str = ""


@dataclass
class Page:
    """One sheet: its size and what is on it."""

    wide: float
    tall: float
    spots: list[Spot]


def draw_placards(rows: Sequence[Placard], paper: str, title: str) -> bytes:
    """A PDF file of these placards, each as often as it is wanted. Raises CannotDraw where nothing can be drawn."""
    let.load()
    if not rows:
        raise CannotDraw("Nothing is on the list yet. Enter a plate, marks or a placard first.")
    pages = placed([laid_out(row) for row in rows], *SIZES[paper])
    if len(pages) > MOST_SHEETS:
        raise CannotDraw(f"That would be {len(pages)} sheets. Draw fewer at a time, or letters that are less high.")
    canvas = new_canvas(title)
    for number, page in enumerate(pages, 1):
        canvas.setPageSize((page.wide * mm, page.tall * mm))
        for spot in page.spots:
            draw_spot(canvas, spot)
        draw_foot(canvas, f"{title} · sheet {number} of {len(pages)}")
        canvas.showPage()
    return bytes(canvas.getpdfdata())


def new_canvas(title: str) -> Canvas:
    """An empty file that embeds every font it uses, and asks the printer not to scale."""
    canvas = Canvas("", pageCompression=1, invariant=1, initialFontName=let.TEXT, lang="en-US")
    canvas.setTitle(title)
    canvas.setCreator("Builder's record")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def laid_out(row: Placard) -> Layout:
    """A placard with the type that makes its capital letters as high as asked."""
    height = float(row.letter_mm)
    cap = pdfmetrics.getFont(let.STRONG).face.capHeight / 1000
    size = height * mm / cap
    style = let.Style(let.STRONG, size, size, let.INK)
    lines = tuple(let.clean(line, let.STRONG, Remarks()) for line in row.words.splitlines())
    pad = max(2.0, height * 0.55)
    wide = max(let.width(line, style) for line in lines) / mm + 2 * pad
    tall = height + (len(lines) - 1) * height * 1.45 + 2 * pad
    where = f" · {row.place}" if row.place else ""
    caption = let.clean(
        f"{row.get_kind_display()}, letters {row.letter_mm.normalize():f} mm{where}", let.TEXT, Remarks()
    )
    return Layout(row, lines, style, height, pad, (wide, tall), caption)


def placed(layouts: Sequence[Layout], wide: float, tall: float) -> list[Page]:
    """All sheets: what fits stands one below the other, what does not has sheets of its own."""
    pages: list[Page] = []
    top = 0.0
    for one in layouts:
        if not fits(one, wide, tall):
            continue
        for _ in range(one.placard.count):
            need = one.box[1] + GAP + 4
            if not pages or top - need < FOOT:
                pages.append(Page(wide, tall, []))
                top = tall - RIM
            spot = Spot(one, RIM, top - one.box[1], (RIM, FOOT, wide - 2 * RIM, tall - RIM - FOOT))
            pages[-1].spots.append(spot)
            top -= need
    for one in layouts:
        if not fits(one, wide, tall):
            pages += pieces(one, wide, tall)
    return pages


def fits(one: Layout, wide: float, tall: float) -> bool:
    """Whether a placard fits an upright sheet whole."""
    return one.box[0] <= wide - 2 * RIM and one.box[1] + GAP + 4 <= tall - RIM - FOOT


def pieces(one: Layout, wide: float, tall: float) -> list[Page]:
    """A large placard on as few sheets as it takes, upright or across; whole sheets once, however many are wanted."""
    if fits(one, tall, wide):
        whole = Spot(one, RIM, wide - RIM - one.box[1], (RIM, FOOT, tall - 2 * RIM, wide - RIM - FOOT))
        return [Page(tall, wide, [whole]) for _ in range(one.placard.count)]
    sheets = min(((wide, tall), (tall, wide)), key=lambda size: counted(one, *size)[0] * counted(one, *size)[1])
    across, down = counted(one, *sheets)
    room = (sheets[0] - 2 * RIM, sheets[1] - RIM - FOOT - 5)
    window = (RIM, FOOT, *room)
    found = []
    for row in range(down):
        for column in range(across):
            x = RIM - column * (room[0] - OVERLAP)
            y = FOOT + room[1] - one.box[1] + row * (room[1] - OVERLAP)
            words = f"piece {row * across + column + 1} of {across * down}"
            words += (
                f", row {row + 1}, from the left {column + 1}; pieces overlap by {OVERLAP:.0f} mm to the broken line"
            )
            found.append(Page(*sheets, [Spot(one, x, y, window, words)]))
    return found


def counted(one: Layout, wide: float, tall: float) -> tuple[int, int]:
    """How many pieces across and down."""
    room = (wide - 2 * RIM, tall - RIM - FOOT - 5)
    across, down = (
        1 if size <= space else 1 + ceil((size - space) / (space - OVERLAP))
        for size, space in zip(one.box, room, strict=True)
    )
    return across, down


def draw_spot(canvas: Canvas, spot: Spot) -> None:
    """One placard or a piece of one: outline to cut along, letters, and a line of small type below or above it."""
    one, (left, low, wide, tall) = spot.layout, spot.window
    canvas.saveState()
    if spot.piece:
        clip = canvas.beginPath()
        clip.rect(left * mm, low * mm, wide * mm, tall * mm)
        canvas.clipPath(clip, stroke=0, fill=0)
    canvas.setStrokeColor(let.HAIR)
    canvas.setLineWidth(0.4)
    canvas.rect(spot.x * mm, spot.y * mm, one.box[0] * mm, one.box[1] * mm)
    base = spot.y + one.box[1] - one.pad - one.height
    for number, line in enumerate(one.lines):
        let.draw(canvas, (spot.x + one.pad) * mm, (base - number * one.pitch) * mm, line, one.style, end="")
    if spot.piece:
        draw_joints(canvas, spot)
    canvas.restoreState()
    if spot.piece:
        let.draw(canvas, left * mm, (low + tall + 1.5) * mm, f"{one.caption} · {spot.piece}", CAPTION)
    else:
        room = wide * mm
        let.draw(canvas, spot.x * mm, (spot.y - 3.4) * mm, let.cut(one.caption, CAPTION, room), CAPTION)


def draw_joints(canvas: Canvas, spot: Spot) -> None:
    """Broken lines to which the piece on the left of this one, and the one above it, lie over."""
    left, low, wide, tall = spot.window
    canvas.setDash(3, 3)
    if spot.x < left:
        canvas.line((left + OVERLAP) * mm, low * mm, (left + OVERLAP) * mm, (low + tall) * mm)
    if spot.y + spot.layout.box[1] > low + tall + 0.01:
        canvas.line(left * mm, (low + tall - OVERLAP) * mm, (left + wide) * mm, (low + tall - OVERLAP) * mm)


def draw_foot(canvas: Any, words: str) -> None:
    """The bar to check the printer with, and which sheet this is."""
    canvas.setStrokeColor(let.INK)
    canvas.setLineWidth(0.7)
    y = 9.0
    canvas.line(RIM * mm, y * mm, (RIM + BAR) * mm, y * mm)
    for tick in range(0, 101, 10):
        long = 3.0 if tick % 50 == 0 else 1.6
        canvas.line((RIM + tick) * mm, y * mm, (RIM + tick) * mm, (y + long) * mm)
    let.draw(canvas, (RIM + BAR + 3) * mm, (y + 1.8) * mm, "100 mm: measure this bar. If it is not,", CAPTION)
    let.draw(canvas, (RIM + BAR + 3) * mm, (y - 1.4) * mm, "print at 100 %, not fitted to the page.", CAPTION)
    let.draw(canvas, RIM * mm, 4.2 * mm, let.clean(words, let.TEXT, Remarks()), CAPTION)
