"""Photos with their words: two stand side by side with the words below, one alone has its words beside it.

They are as large as lets two sessions with two photos each stand on a sheet.
"""

from itertools import zip_longest

from certification.pages.pictures import (
    GAP,
    SMALL_GAP,
    SMALL_HEIGHT,
    SMALL_LEFT,
    SMALL_WIDTH,
    caption,
    corrected_words,
    frame,
    framed,
    original,
)
from certification.pages.sheets import RIGHT, Cell, Sheets
from foundation import lettering as let
from foundation.lettering import SMALL, SMALL_BOLD, SMALL_CODE, Style

# The width of a photo in points; none is higher than three quarters of it.
PHOTO = 208.0
# Words of a photo beyond so many lines may go over to the next sheet.
MOST_LINES = 18

type Words = list[tuple[str, Style]]


def photos(sheets: Sheets, labels: list[str]) -> None:
    """Photos two by two; the last of an odd number has its words beside it."""
    for start in range(0, len(labels), 2):
        row = labels[start : start + 2]
        sheets.y -= 8
        sheets.need(row_height(sheets, row) - 8)
        if len(row) > 1:
            pair(sheets, row)
        else:
            alone(sheets, row[0])


def titled(sheets: Sheets, title: str, labels: list[str]) -> None:
    """Photos under a title, which stays with the first of them."""
    if not labels:
        return
    sheets.y -= 6
    sheets.need(SMALL_BOLD.leading + row_height(sheets, labels[:2]))
    sheets.flow(title, SMALL_BOLD)
    photos(sheets, labels)


def row_height(sheets: Sheets, labels: list[str]) -> float:
    """The room that one photo or two side by side take with what is said of them; nothing without any."""
    if not labels:
        return 0
    tall = max(framed(sheets, label, PHOTO)[1] for label in labels)
    wide = half(sheets) if len(labels) > 1 else sheets.room - PHOTO - GAP
    words = SMALL.leading * (1 + max(line_count(sheets, label, wide) for label in labels))
    return 12 + (tall + words if len(labels) > 1 else max(tall, words))


def half(sheets: Sheets) -> float:
    """The width of the words below one of two photos."""
    return (sheets.room - GAP) / 2


def said(sheets: Sheets, label: str) -> Words:
    """All that is said of a photo: its caption, when it was taken, and what was corrected of that."""
    return [(caption(sheets, label), SMALL), *corrected_words(sheets, label)]


def line_count(sheets: Sheets, label: str, wide: float) -> int:
    """How many lines the words of a photo make, of many only the first."""
    return min(sum(len(sheets.lines(text, style, wide)) for text, style in said(sheets, label)), MOST_LINES)


def head(sheets: Sheets, label: str, x: float, wide: float) -> list[Cell]:
    """The number of a photo, and to the right the beginning of the digest of its untouched file."""
    quiet = SMALL_CODE.but(color=let.QUIET)
    return [
        Cell(x, wide * 0.5, label, SMALL_CODE),
        Cell(x + wide * 0.5, wide * 0.5, original(sheets, label), quiet, RIGHT),
    ]


def pair(sheets: Sheets, labels: list[str]) -> None:
    """Two photos side by side, with what is known of each below."""
    tall, wide = max(framed(sheets, label, PHOTO)[1] for label in labels), half(sheets)
    columns = [(number * (wide + GAP), label) for number, label in enumerate(labels)]
    for x, label in columns:
        frame(sheets, label, sheets.left + x, sheets.y - tall, PHOTO, tall)
    sheets.y -= tall + 4
    sheets.row([cell for x, label in columns for cell in head(sheets, label, x, PHOTO)], pad=0, rule=None)
    told = [[Cell(x, wide, text, style) for text, style in said(sheets, label)] for x, label in columns]
    for cells in zip_longest(*told):
        sheets.row([cell for cell in cells if cell], pad=0, rule=None)


def alone(sheets: Sheets, label: str) -> None:
    """One photo to the left, its number, digest and words to the right."""
    tall, x = framed(sheets, label, PHOTO)[1], PHOTO + GAP
    frame(sheets, label, sheets.left, sheets.y - tall, PHOTO, tall)
    top, sheet = sheets.y, sheets.number
    sheets.row(head(sheets, label, x, PHOTO), pad=0, rule=None)
    for text, style in said(sheets, label):
        sheets.flow(text, style, x)
    under(sheets, sheet, top - tall - 4)


def under(sheets: Sheets, sheet: int, foot: float) -> None:
    """Go on below a picture where its words were shorter, if they ended on its own sheet."""
    if sheets.number == sheet:
        sheets.y = min(sheets.y, foot)


# ---- small pictures ----


def small(sheets: Sheets, labels: list[str]) -> None:
    """The photos of an item, small, one or two side by side, each with its words to the right of it."""
    for start in range(0, len(labels), 2):
        small_row(sheets, labels[start : start + 2])


def small_row(sheets: Sheets, labels: list[str]) -> None:
    """One or two small pictures, each with number, caption, when it was taken and how that is known."""
    sheets.y -= 4
    sheets.need(small_height(sheets, labels) - 4)
    top, sheet, wide = sheets.y, sheets.number, small_room(sheets, labels)
    step = SMALL_WIDTH + 2 * SMALL_GAP + wide
    columns = [(SMALL_LEFT + number * step, label) for number, label in enumerate(labels)]
    for x, label in columns:
        frame(sheets, label, sheets.left + x, top - SMALL_HEIGHT, SMALL_WIDTH, SMALL_HEIGHT)
    told = [
        [
            Cell(x + SMALL_WIDTH + SMALL_GAP, wide, line, style)
            for text, style in [(label, SMALL_CODE), *said(sheets, label)]
            for line in sheets.lines(text, style, wide)
        ]
        for x, label in columns
    ]
    for cells in zip_longest(*told):
        sheets.row([cell for cell in cells if cell], pad=0, rule=None)
    under(sheets, sheet, top - SMALL_HEIGHT - 3)


def small_room(sheets: Sheets, labels: list[str]) -> float:
    """The width of the words beside each of these small pictures."""
    room = (sheets.room - SMALL_LEFT + SMALL_GAP) / len(labels) - SMALL_GAP
    return room - SMALL_WIDTH - SMALL_GAP


def small_height(sheets: Sheets, labels: list[str]) -> float:
    """The room that the first row of small pictures takes; nothing without any."""
    row = labels[:2]
    if not row:
        return 0
    words = max(line_count(sheets, label, small_room(sheets, row)) for label in row)
    return 7 + max(SMALL_HEIGHT, SMALL.leading * (words + 1))
