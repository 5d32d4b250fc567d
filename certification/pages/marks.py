"""Marks of the drawing: line types of states, hatches, balloons, the seam of a gate and the stamp of a signature."""

import math
from collections.abc import Callable
from typing import Any

from reportlab.lib.colors import Color

from foundation import lettering as let
from foundation.lettering import INK, QUIET, RED, VIOLET, Style

# Line types of a drawing: phantom for what is not there yet, hidden for what can no longer be seen.
PHANTOM, HIDDEN = [14, 3, 3, 3, 3, 3], [6, 4]
STATES = [
    ("not-started", "Not started"),
    ("work", "In work"),
    ("hold", "Hold"),
    ("signed", "Signed"),
    ("closed", "Closed up, no longer seen"),
]


def state_line(canvas: Any, state: str, x: float, y: float, length: float = 34.0) -> None:
    """The line in which a drawing shows a state, from (x, y) to the right."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    if state == "hold":
        hatch(canvas, "slant", x, y - 2.6, length, 5.2, RED, step=4)
    elif state == "signed":
        canvas.setLineWidth(1.1)
        canvas.line(x, y + 1.8, x + length, y + 1.8)
        canvas.line(x, y - 1.8, x + length, y - 1.8)
    elif state == "work":
        canvas.setLineWidth(2.2)
        canvas.line(x, y, x + length, y)
    else:
        hidden = state == "closed"
        canvas.setDash(HIDDEN if hidden else PHANTOM)
        canvas.setLineWidth(1.8 if hidden else 1.1)
        canvas.line(x, y, x + length, y)
    canvas.restoreState()


def slant(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Lines rising to the right."""
    for i in range(int((w + h) / step) + 1):
        canvas.line(x - h + i * step, y, x + i * step, y + h)


def backslant(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Lines falling to the right."""
    for i in range(int((w + h) / step) + 1):
        canvas.line(x - h + i * step, y + h, x + i * step, y)


def cross(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Lines both ways, as a woven cloth."""
    slant(canvas, x, y, w, h, step)
    backslant(canvas, x, y, w, h, step)


def upright(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Upright lines."""
    for i in range(1, int(w / step) + 1):
        canvas.line(x + i * step, y, x + i * step, y + h)


def level(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Level lines."""
    for i in range(1, int(h / step) + 1):
        canvas.line(x, y + i * step, x + w, y + i * step)


def grid(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Upright and level lines."""
    upright(canvas, x, y, w, h, step)
    level(canvas, x, y, w, h, step)


def dots(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Dots in rows."""
    for i in range(int(w / step) + 1):
        for j in range(int(h / step) + 1):
            canvas.circle(x + (i + 0.5) * step, y + (j + 0.5) * step, 0.55, stroke=0, fill=1)


def waves(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """Waves, as grain."""
    for j in range(int(h / step) + 1):
        for i in range(int(w / (4 * step)) + 1):
            left, base = x + i * 4 * step, y + (j + 0.5) * step
            canvas.bezier(
                left, base, left + step, base + step / 2, left + 3 * step, base - step / 2, left + 4 * step, base
            )


def crosses(canvas: Any, x: float, y: float, w: float, h: float, step: float) -> None:
    """A row of small crosses."""
    for i in range(int(w / (2 * step)) + 1):
        left, base = x + (2 * i + 0.6) * step, y + h / 2
        canvas.line(left - 1.5, base - 1.5, left + 1.5, base + 1.5)
        canvas.line(left - 1.5, base + 1.5, left + 1.5, base - 1.5)


PATTERNS: dict[str, Callable[..., None]] = {
    "slant": slant, "backslant": backslant, "cross": cross, "upright": upright, "level": level,
    "grid": grid, "dots": dots, "waves": waves, "crosses": crosses,
}  # fmt: skip

# One hatch for each kind of work, the same on screen and on paper; other words get an empty bar.
WORK_HATCHES = {
    "Layup": "cross",
    "Woodwork": "waves",
    "Bonding": "slant",
    "Fairing": "dots",
    "Fit and rig": "upright",
    "Systems": "level",
    "Metalwork": "grid",
    "Rework": "crosses",
}


def hatch(
    canvas: Any, pattern: str, x: float, y: float, w: float, h: float, color: Color = INK, step: float = 3.4
) -> None:
    """A hatched and framed field; an unknown pattern leaves it empty."""
    if w <= 0:
        return
    canvas.saveState()
    canvas.setStrokeColor(color)
    canvas.setFillColor(color)
    canvas.setLineWidth(0.8)
    if pattern in PATTERNS:
        canvas.saveState()
        path = canvas.beginPath()
        path.rect(x, y, w, h)
        canvas.clipPath(path, stroke=0, fill=0)
        PATTERNS[pattern](canvas, x, y, w, h, step)
        canvas.restoreState()
    canvas.rect(x, y, w, h)
    canvas.restoreState()


def solid(canvas: Any, x: float, y: float, w: float, h: float) -> None:
    """A filled field."""
    if w > 0:
        canvas.setFillColor(INK)
        canvas.rect(x, y, w, h, stroke=0, fill=1)


def balloon(canvas: Any, x: float, y: float, text: str, color: Color = INK, radius: float = 8.0) -> None:
    """An item number in a circle about (x, y)."""
    canvas.setStrokeColor(color)
    canvas.setFillColor(let.PAPER)
    canvas.setLineWidth(1)
    canvas.circle(x, y, radius, stroke=1, fill=1)
    centered(canvas, x, y - 3, text, Style(let.LETTER, 8.5, 10, color), 2 * radius - 4)


def centered(canvas: Any, x: float, base: float, text: str, style: Style, room: float) -> None:
    """Text about x, made smaller where it does not fit."""
    wide = let.width(text, style)
    if wide > room:
        style = style.but(size=style.size * room / wide)
    let.draw(canvas, x - let.width(text, style) / 2, base, text, style)


def tick(canvas: Any, x: float, y: float, side: float = 8.0) -> None:
    """In place: a filled box with a tick, its lower left corner at (x, y)."""
    solid(canvas, x, y, side, side)
    canvas.saveState()
    canvas.setStrokeColor(let.PAPER)
    canvas.setLineWidth(1.2)
    canvas.lines([(x + 0.2 * side, y + 0.48 * side, x + 0.42 * side, y + 0.25 * side)])
    canvas.lines([(x + 0.42 * side, y + 0.25 * side, x + 0.8 * side, y + 0.76 * side)])
    canvas.restoreState()


def corners(canvas: Any, x: float, y: float, w: float, h: float, color: Color = RED, arm: float = 0.3) -> None:
    """Corner ticks: a place kept for something that is not there."""
    a = arm * min(w, h)
    canvas.saveState()
    canvas.setStrokeColor(color)
    canvas.setLineWidth(1.2)
    for cx, sx in ((x, 1), (x + w, -1)):
        for cy, sy in ((y, 1), (y + h, -1)):
            canvas.line(cx, cy, cx + sx * a, cy)
            canvas.line(cx, cy, cx, cy + sy * a)
    canvas.restoreState()


def delta(canvas: Any, x: float, y: float, count: int, side: float = 14.0) -> None:
    """The numbered triangle of a revision, its lower left corner at (x, y)."""
    path = canvas.beginPath()
    path.moveTo(x, y)
    path.lineTo(x + side, y)
    path.lineTo(x + side / 2, y + side * 0.87)
    path.close()
    canvas.setFillColor(INK)
    canvas.drawPath(path, stroke=0, fill=1)
    centered(canvas, x + side / 2, y + 1.8, str(count), Style(let.LETTER, 7.5, 9, let.PAPER), side - 6)


def seam(canvas: Any, x: float, y: float, width: float, bays: list[tuple[str, bool]], height: float = 22.0) -> None:
    """A bonded seam in section: two skins and a bay for each item, hatched when in place, empty when missing."""
    bay = width / max(len(bays), 1)
    for place, (number, in_place) in enumerate(bays):
        left = x + place * bay
        if in_place:
            hatch(canvas, "slant", left, y, bay, height, step=5)
        else:
            canvas.saveState()
            canvas.setStrokeColor(RED)
            canvas.setDash([4, 2.5])
            canvas.setLineWidth(1)
            canvas.rect(left + 2, y + 3, bay - 4, height - 6)
            canvas.restoreState()
        balloon(canvas, left + bay / 2, y + height / 2, number, INK if in_place else RED, min(8, bay / 2 - 1))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(2.4)
    canvas.line(x, y, x + width, y)
    canvas.line(x, y + height, x + width, y + height)


def stamp(canvas: Any, x: float, y: float, words: tuple[str, str, str, str], radius: float = 38.0) -> None:
    """A signature's stamp about (x, y): words above, initials, day, reference below. Violet, and for nothing else."""
    above, initials, day, below = words
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(8)
    canvas.setStrokeColor(VIOLET)
    canvas.setLineWidth(2)
    canvas.circle(0, 0, radius)
    canvas.setLineWidth(1.3)
    canvas.circle(0, 0, radius * 0.66)
    along_arc(canvas, above, radius * 0.755, True)
    along_arc(canvas, below, radius * 0.755, False)
    centered(canvas, 0, -2, initials, Style(let.STRONG, radius * 0.52, 10, VIOLET), radius * 1.1)
    centered(canvas, 0, -radius * 0.34, day, Style(let.STRONG, radius * 0.19, 10, VIOLET), radius * 1.06)
    canvas.restoreState()


def along_arc(canvas: Any, text: str, radius: float, above: bool) -> None:
    """Letters round the ring, read from outside above and from inside below."""
    style = Style(let.STRONG, 7.4, 9, VIOLET)
    gap, longest = 0.7, math.pi * radius * 0.86
    wide = sum(let.width(sign, style) + gap for sign in text)
    if wide > longest:
        style, gap = style.but(size=style.size * longest / wide), gap * longest / wide
        wide = longest
    angle = wide / radius / 2
    for sign in text:
        half = (let.width(sign, style) + gap) / radius / 2
        angle -= half
        canvas.saveState()
        canvas.rotate(math.degrees(angle if above else -angle))
        let.draw(
            canvas, -let.width(sign, style) / 2, radius if above else -radius - style.size * 0.72, sign, style, end=""
        )
        canvas.restoreState()
        angle -= half


def key(canvas: Any, x: float, y: float, room: float) -> None:
    """What the line types mean, in one line at y."""
    style, line = Style(let.TEXT, 8.5, 11, QUIET), 34.0
    used = sum(line + 5 + let.width(words, style) for _, words in STATES)
    gap = (room - used) / (len(STATES) - 1)
    for state, words in STATES:
        state_line(canvas, state, x, y + 3, line)
        let.draw(canvas, x + line + 5, y, words, style)
        x += line + 5 + let.width(words, style) + gap
