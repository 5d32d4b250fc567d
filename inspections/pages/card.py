"""A part card: a slip that is laid in the frame, so that the picture explains itself."""

from typing import Any

from reportlab.lib.units import inch, mm

from calc.labels import Box
from foundation import lettering as let
from foundation.drawing import Remarks
from foundation.lettering import Style
from inspections.pages.codes import code_of
from inspections.pages.letters import Words, composed
from inspections.pages.wording import Label

# Lengths in mm. The scales run along the left and the lower edge; everything else keeps off them.
SCALE_WIDE, GAP = 11.0, 4.0
CODE = 34.0
BOX_TALL = 15.0
PATCH = 11.0
TICK, HALF, WHOLE = 3.0, 4.5, 6.5
LABEL = Style(let.LETTER, 9, 0, let.INK_3)
SMALL = Style(let.TEXT, 7, 0, let.INK_2)
FIGURE = Style(let.LETTER, 8, 0)
# Mid gray as cameras are set to it: it reflects 18 % of the light, which is this share of white on a screen.
GRAY = 0.466
CHECK = "Check the scales with a ruler after printing: print at 100 %, not fitted."


def draw_card(canvas: Any, box: Box, tall: float, label: Label) -> None:
    """One card in the printable part of its place: number and name large, boxes to write in, scales, code, patches."""
    millimeters(canvas, box, tall)
    inches(canvas, box, tall)
    inner = box.within(SCALE_WIDE + GAP, 0, 0, SCALE_WIDE + GAP)
    foot = draw_foot(canvas, inner, tall, label)
    boxes = draw_boxes(canvas, Box(inner.x, inner.y, inner.width, foot - GAP - inner.y), tall)
    draw_words(canvas, Box(inner.x, inner.y, inner.width, boxes - GAP - inner.y), tall, label)


def draw_words(canvas: Any, room: Box, tall: float, label: Label) -> None:
    """Kind, number, name, side and count, assembly."""
    remarks = Remarks()
    top = " · ".join(filter(None, (label.kind, label.registration)))
    place = f"In {label.place}" if label.place else ""
    facts = tuple(let.clean(line, let.STRONG, remarks) for line in (*label.facts, place) if line)
    words = Words(
        let.clean(top, let.LETTER, remarks),
        let.clean(label.number, let.LETTER, remarks),
        let.clean(label.name, let.TEXT, remarks),
        facts,
    )
    y = (tall - room.y) * mm
    for line in composed(words, room.width * mm, room.height * mm):
        y -= line.drop
        let.draw(canvas, room.x * mm, y, line.text, line.style)


def draw_boxes(canvas: Any, above: Box, tall: float) -> float:
    """Empty boxes for date, ply and who at the lower end of a room; where they begin."""
    top = above.y + above.height - 2 * BOX_TALL - GAP / 2
    half = (above.width - GAP / 2) / 2
    rows = [
        (Box(above.x, top, half, BOX_TALL), "Date"),
        (Box(above.x + half + GAP / 2, top, half, BOX_TALL), "Ply"),
        (Box(above.x, top + BOX_TALL + GAP / 2, above.width, BOX_TALL), "Who"),
    ]
    canvas.setStrokeColor(let.INK)
    canvas.setLineWidth(0.8)
    for one, words in rows:
        canvas.rect(one.x * mm, (tall - one.y - one.height) * mm, one.width * mm, one.height * mm)
        let.draw(canvas, (one.x + 1.5) * mm, (tall - one.y - 4) * mm, words, LABEL)
    ply = rows[1][0]
    middle = ply.x + ply.width / 2
    let.draw(canvas, (middle - 1) * mm, (tall - ply.y - ply.height + 3) * mm, "of", LABEL.but(size=11))
    return top


def draw_foot(canvas: Any, inner: Box, tall: float, label: Label) -> float:
    """The code at the lower left, patches and what to check to the right of it; where they begin."""
    code = code_of(label.address)
    quiet = CODE / code.modules * 4
    top = inner.y + inner.height - CODE
    # The quiet zone may lie over the empty gap: the dark modules stand flush with the boxes above.
    code.draw(canvas, Box(inner.x - quiet, top, CODE, CODE), tall)
    x = inner.x + CODE + 1 - quiet
    for number, (shade, words) in enumerate(((1.0, "White"), (GRAY, "Gray"), (0.0, "Black"))):
        left = x + number * (PATCH + 1)
        canvas.setFillGray(shade)
        canvas.setStrokeColor(let.INK)
        canvas.setLineWidth(0.4)
        canvas.rect(left * mm, (tall - top - quiet - PATCH) * mm, PATCH * mm, PATCH * mm, fill=1)
        let.draw(canvas, left * mm, (tall - top - quiet - PATCH - 3.2) * mm, words, SMALL)
    room = inner.x + inner.width - x
    y = tall - top - quiet - PATCH - 8
    for line in let.wrapped(CHECK, SMALL, room * mm):
        let.draw(canvas, x * mm, y * mm, line, SMALL)
        y -= 3
    return top


def millimeters(canvas: Any, box: Box, tall: float) -> None:
    """A scale in mm along the left edge, zero at the lower end, every ten with its figure."""
    x, foot = box.x, tall - box.y - box.height + SCALE_WIDE + GAP
    length = int((box.height - SCALE_WIDE - GAP) // 10) * 10
    rule(canvas)
    canvas.line(x * mm, foot * mm, x * mm, (foot + length) * mm)
    for at in range(length + 1):
        long = WHOLE if at % 10 == 0 else HALF if at % 5 == 0 else TICK
        canvas.line(x * mm, (foot + at) * mm, (x + long) * mm, (foot + at) * mm)
        if at % 10 == 0:
            words = "0 mm" if at == 0 else str(at)
            drop = 0.0 if at == 0 else 1.0
            let.draw(canvas, (x + WHOLE + 0.5) * mm, (foot + at - drop) * mm, words, FIGURE)


def inches(canvas: Any, box: Box, tall: float) -> None:
    """A scale in inches and sixteenths along the lower edge, zero at the left."""
    x, foot = box.x + SCALE_WIDE + GAP, tall - box.y - box.height
    length = int((box.width - SCALE_WIDE - GAP) * mm / inch * 2) * 8
    rule(canvas)
    canvas.line(x * mm, foot * mm, x * mm + length / 16 * inch, foot * mm)
    for at in range(length + 1):
        long = WHOLE if at % 16 == 0 else HALF if at % 4 == 0 else TICK
        left = x * mm + at / 16 * inch
        canvas.line(left, foot * mm, left, (foot + long) * mm)
        if at % 16 == 0:
            words = "0 in" if at == 0 else str(at // 16)
            let.draw(canvas, left - (0 if at == 0 else 2), (foot + WHOLE + 0.7) * mm, words, FIGURE)


def rule(canvas: Any) -> None:
    """The pen of the scales."""
    canvas.setStrokeColor(let.INK)
    canvas.setLineWidth(0.35)
