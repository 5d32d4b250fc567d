"""The signature block: what was signed, by whom, with what certificate, when, how shown, and what was changed since."""

from dataclasses import dataclass
from typing import Any

from certification.pages import marks
from certification.pages.sheets import Sheets
from certification.pages.words import INSPECTOR_WORDS, counted, joined
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, MONO, SMALL, SMALL_BOLD, VIOLET, Style

PAD, GAP = 9.0, 3.0
HEAD_HEIGHT = 92.0
# A long list of what is covered is cut into pieces of so many lines, so that the block can go over to the next sheet.
PIECE = 24


@dataclass(frozen=True)
class Piece:
    """A full-width part of the block: a label and lines."""

    label: str
    lines: tuple[str, ...]
    style: Style = BODY

    @property
    def height(self) -> float:
        return (LABEL.leading if self.label else 0) + self.style.leading * len(self.lines) + 9


def draw_signature(sheets: Sheets, area: dict[str, Any], signature: dict[str, Any]) -> None:
    """Draw one signature under a double violet line."""
    left = pieces(sheets, signature)
    pairs = [
        (("Signed by", signature["name"]), ("Certificate", signature["certificate"] or "none given")),
        (("When", signature["at"]), ("Identity shown by", signature["shown_by"])),
    ]
    tall = (
        HEAD_HEIGHT
        + sum(pair_height(sheets, *two) for two in pairs)
        + sum(piece.height for piece in left)
        + since_height(sheets, signature)
    )
    sheets.y -= 12
    sheets.need(tall if tall < sheets.body - 30 else HEAD_HEIGHT + 80)
    head(sheets, area, signature)
    for two in pairs:
        pair(sheets, *two)
    for piece in left:
        draw_piece(sheets, piece)
    since(sheets, signature)
    edge(sheets, sheets.y)
    sheets.y -= 6


def pieces(sheets: Sheets, signature: dict[str, Any]) -> list[Piece]:
    """What stands across the whole block."""
    room = sheets.room - 2 * PAD
    covers = sheets.lines(", ".join(signature["covers"]) or "nothing listed", SMALL, room)
    found = [Piece("Statement", sheets.lines(signature["statement"] or "none", BODY, room))]
    for start in range(0, len(covers), PIECE):
        found.append(
            Piece(
                "" if start else f"Covers {counted(len(signature['covers']), 'item')}",
                covers[start : start + PIECE],
                SMALL,
            )
        )
    found.append(Piece("Record as signed", sheets.lines(signature["digest"], MONO, room), MONO))
    return found


def sides(sheets: Sheets, top: float, bottom: float) -> None:
    """The double lines at both sides of a part of the block."""
    c = sheets.canvas
    c.setStrokeColor(VIOLET)
    c.setLineWidth(1)
    for out in (0.0, GAP):
        c.line(sheets.left - out, top, sheets.left - out, bottom)
        c.line(sheets.right + out, top, sheets.right + out, bottom)


def edge(sheets: Sheets, y: float, upwards: int = -1) -> None:
    """The double line at the head or foot of the block; it closes the sides."""
    c = sheets.canvas
    c.setStrokeColor(VIOLET)
    c.setLineWidth(1)
    c.line(sheets.left, y, sheets.right, y)
    c.line(sheets.left - GAP, y + upwards * GAP, sheets.right + GAP, y + upwards * GAP)
    for x in (sheets.left - GAP, sheets.right + GAP):
        c.line(x, y, x, y + upwards * GAP)


def inner_rule(sheets: Sheets, y: float) -> None:
    c = sheets.canvas
    c.setStrokeColor(VIOLET)
    c.setLineWidth(0.6)
    c.line(sheets.left, y, sheets.right, y)


def head(sheets: Sheets, area: dict[str, Any], signature: dict[str, Any]) -> None:
    """What was signed, the marks that matter, and the stamp."""
    c, top = sheets.canvas, sheets.y
    edge(sheets, top, 1)
    sides(sheets, top, top - HEAD_HEIGHT)
    c.setStrokeColor(VIOLET)
    c.setLineWidth(1)
    c.circle(sheets.left + PAD + 6, top - 16, 6.2)
    c.circle(sheets.left + PAD + 6, top - 16, 4.2)
    signed = "Signed, then changed" if signature["changes"] else "Signed"
    sheets.at(sheets.left + PAD + 18, top - 19, signed, BOLD.but(color=VIOLET), 200)
    room = sheets.room - 2 * PAD - 96
    y = top - 28
    for line in sheets.lines(f"{area['number']} {area['name']}", let.SUBHEAD, room)[:2]:
        sheets.at(sheets.left + PAD, y - 12, line, let.SUBHEAD, room)
        y -= 16
    sheets.at(sheets.left + PAD, y - 11, f"{signature['role']}, for {area['assembly']}", SMALL, room)
    if signature["self_inspected"]:
        self_inspected(sheets, sheets.left + PAD, y - 30)
    kind = (
        "SELF-INSPECTED"
        if signature["self_inspected"]
        else "INSPECTED"
        if signature["role"] == INSPECTOR_WORDS
        else "SIGNED"
    )
    words = (kind, signature["initials"], signature["day"].upper(), area["number"])
    cleaned = tuple(sheets.clean(word, let.STRONG).replace("\n", " ") for word in words)
    marks.stamp(c, sheets.right - PAD - 38, top - 46, (cleaned[0], cleaned[1], cleaned[2], cleaned[3]))
    sheets.y = top - HEAD_HEIGHT


def self_inspected(sheets: Sheets, x: float, y: float) -> None:
    """The mark that who did the work and who signed are one person (rule R24)."""
    words = "Self-inspected: signed by somebody who did the work"
    c = sheets.canvas
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.9)
    c.rect(x, y - 3, let.width(words, SMALL_BOLD) + 10, 14)
    sheets.at(x + 5, y + 1, words, SMALL_BOLD, 320)


def pair_height(sheets: Sheets, first: tuple[str, str], second: tuple[str, str]) -> float:
    half = sheets.room / 2
    lines = max(len(sheets.lines(value, BODY, half - 2 * PAD)) for _, value in (first, second))
    return LABEL.leading + BODY.leading * lines + 8


def pair(sheets: Sheets, first: tuple[str, str], second: tuple[str, str]) -> None:
    """Two labelled cells side by side."""
    half, tall = sheets.room / 2, pair_height(sheets, first, second)
    broken = [sheets.lines(value, BODY, half - 2 * PAD) for _, value in (first, second)]
    sheets.need(tall)
    inner_rule(sheets, sheets.y)
    sides(sheets, sheets.y, sheets.y - tall)
    sheets.canvas.setLineWidth(0.6)
    sheets.canvas.line(sheets.left + half, sheets.y, sheets.left + half, sheets.y - tall)
    for number, ((label, _), lines) in enumerate(zip((first, second), broken, strict=True)):
        x = sheets.left + number * half + PAD
        sheets.at(x, sheets.y - 12, label, LABEL, half - 2 * PAD)
        for line_number, line in enumerate(lines):
            sheets.at(x, sheets.y - 25 - line_number * BODY.leading, line, BODY, half - 2 * PAD)
    sheets.y -= tall


def draw_piece(sheets: Sheets, piece: Piece) -> None:
    """A full-width part."""
    sheets.need(piece.height)
    if piece.label:
        inner_rule(sheets, sheets.y)
    sides(sheets, sheets.y, sheets.y - piece.height)
    bottom = sheets.y - piece.height
    sheets.y -= 3
    if piece.label:
        sheets.line(sheets.left + PAD, piece.label, LABEL, sheets.room - 2 * PAD)
        sheets.y -= LABEL.leading
    for line in piece.lines:
        sheets.line(sheets.left + PAD, line, piece.style, sheets.room - 2 * PAD)
        sheets.y -= piece.style.leading
    sheets.y = bottom


def since_lines(sheets: Sheets, signature: dict[str, Any]) -> tuple[str, ...]:
    """What was changed under the signature, each as a line (rule R31)."""
    if not signature["changes"]:
        words = f"Compared when this was printed, {sheets.facts['printed']}."
        return sheets.lines(words, SMALL, sheets.room - 2 * PAD - 24)
    room = sheets.room - 2 * PAD - 24
    return tuple(line for change in signature["changes"] for line in sheets.lines(change, SMALL, room))


def since_height(sheets: Sheets, signature: dict[str, Any]) -> float:
    return 26 + 12 * min(len(since_lines(sheets, signature)), PIECE)


def since(sheets: Sheets, signature: dict[str, Any]) -> None:
    """Whether the record has changed since it was signed."""
    lines, changes = since_lines(sheets, signature), signature["changes"]
    title = f"Changed since signing: {counted(len(changes), 'thing')}" if changes else "Not changed since signing"
    for start in range(0, len(lines), PIECE):
        part = lines[start : start + PIECE]
        tall = 26 + 12 * len(part)
        sheets.need(tall)
        if not start:
            inner_rule(sheets, sheets.y)
        sides(sheets, sheets.y, sheets.y - tall)
        top = sheets.y
        if changes:
            marks.delta(sheets.canvas, sheets.left + PAD, top - 20, len(changes))
        else:
            marks.tick(sheets.canvas, sheets.left + PAD + 3, top - 17, 9)
        sheets.at(
            sheets.left + PAD + 24, top - 16, joined([title, "continued" if start else ""]), BOLD, sheets.room - 60
        )
        for number, line in enumerate(part):
            sheets.at(sheets.left + PAD + 24, top - 29 - 12 * number, line, SMALL, sheets.room - 2 * PAD - 20)
        sheets.y = top - tall
