"""The signature block: what was signed, by whom, with what certificate, when, how shown, and what was changed since."""

from dataclasses import dataclass
from typing import Any

from calc import strokes
from certification.pages import marks
from certification.pages.beside import titled
from certification.pages.sheets import Sheets
from certification.pages.words import INSPECTOR_WORDS, counted, joined, nothing, signature_key
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, MONO, SMALL, SMALL_BOLD, VIOLET, Style

PAD, GAP = 9.0, 3.0
# The head is as tall as its stamp, or as its lines.
STAMP_HEIGHT = 92.0
FLAG_HEIGHT = 18.0
# What is long is cut into pieces of so many lines, so that the block can go over to the next sheet.
PIECE = 24
# The drawn signature is fitted into this, in points.
DRAWN_WIDTH, DRAWN_HEIGHT = 190.0, 46.0

type Pair = tuple[tuple[str, str], tuple[str, str]]


@dataclass(frozen=True)
class Under:
    """What signatures stand under: the key of its anchor, its number, its title, and where it is on the aircraft."""

    key: str
    number: str
    title: str
    place: str


@dataclass(frozen=True)
class Piece:
    """A full-width part of the block: a label and lines, or the strokes of a drawn signature."""

    label: str
    lines: tuple[str, ...] = ()
    style: Style = BODY
    strokes: tuple[tuple[int, ...], ...] = ()

    @property
    def height(self) -> float:
        drawn = DRAWN_HEIGHT if self.strokes else 0
        return (LABEL.leading if self.label else 0) + self.style.leading * len(self.lines) + drawn + 9


def draw_signatures(sheets: Sheets, under: Under, rows: list[dict[str, Any]]) -> None:
    """Draw all signatures under a thing, each at the place by which it is found."""
    for place, signature in enumerate(rows):
        draw_signature(sheets, under, signature, signature_key(under.key, place))


def draw_signature(sheets: Sheets, under: Under, signature: dict[str, Any], key: str) -> None:
    """Draw one signature under a double violet line; below it the page, where it was signed in ink."""
    left, two_by_two = pieces(sheets, signature), pairs(sheets.facts, signature)
    above = head_height(sheets, under, signature)
    tall = (
        above
        + sum(pair_height(sheets, *two) for two in two_by_two)
        + sum(piece.height for piece in left)
        + since_height(sheets, signature)
    )
    sheets.y -= 12
    sheets.need(tall if tall < sheets.body - 30 else above + 80)
    sheets.anchor(key, under.title, 2, listed=False)
    head(sheets, under, signature)
    for two in two_by_two:
        pair(sheets, *two)
    for piece in left:
        draw_piece(sheets, piece)
    since(sheets, signature)
    edge(sheets, sheets.y)
    sheets.y -= 6
    if signature.get("ink_page"):
        titled(sheets, "The page signed in ink", [signature["ink_page"]])


def pairs(facts: dict[str, Any], signature: dict[str, Any]) -> list[Pair]:
    """The cells side by side; records frozen before do not have all of them."""
    place, capacity = signature.get("place", ""), signature.get("capacity", "")
    extent, hours = signature.get("extent", ""), signature.get("time_in_service", "")
    found: list[Pair] = [
        (("Signed by", signature["name"]), ("Certificate", signature["certificate"] or nothing(facts, "none given"))),
        (("When", signature["at"]), ("Identity shown by", shown_words(signature))),
    ]
    if capacity or place:
        found.append((("Capacity", capacity or "not given"), ("Where", place or nothing(facts))))
    if extent or hours:
        found.append((("Type and extent", extent or "not given"), ("Total time in service", hours or "not given")))
    return found


def shown_words(signature: dict[str, Any]) -> str:
    """How the signer's identity was shown, by which visit or on which page, and who entered it."""
    visit, ink, entered = (signature.get(name, "") for name in ("visit", "ink", "entered_by"))
    return "\n".join(
        filter(
            None,
            [
                joined([signature["shown_by"], f"visit {visit}" if visit else "", f"page {ink}" if ink else ""]),
                f"Entered by {entered}" if entered else "",
            ],
        )
    )


def pieces(sheets: Sheets, signature: dict[str, Any]) -> list[Piece]:
    """What stands across the whole block."""
    room = sheets.room - 2 * PAD
    found = cut_up("Statement", sheets.lines(signature["statement"] or "none", BODY, room), BODY)
    if reason := signature.get("reason", ""):
        found += cut_up("What is not accepted, and why", sheets.lines(reason, BODY, room), BODY)
    label = f"Covers {counted(len(signature['covers']), 'item')}"
    found += cut_up(label, sheets.lines(covers_words(signature), SMALL, room), SMALL)
    if lines := signature.get("strokes"):
        found.append(Piece("Drawn signature", strokes=tuple(map(tuple, lines))))
    # Its beginning, by which the pages name it, and the whole of it, which records frozen before do not have.
    digest = signature.get("whole_digest") or signature["digest"]
    found.append(Piece(f"Record as signed, {signature['digest']}", sheets.lines(digest, MONO, room), MONO))
    return found


def cut_up(label: str, lines: tuple[str, ...], style: Style) -> list[Piece]:
    """Lines under a label, in pieces of which each stays on one sheet."""
    return [Piece("" if start else label, lines[start : start + PIECE], style) for start in range(0, len(lines), PIECE)]


def covers_words(signature: dict[str, Any]) -> str:
    """Everything that was signed, each with the beginning of its digest, which records frozen before do not have."""
    covers, digests = signature["covers"], signature.get("digests", [])
    if len(digests) != len(covers):
        return ", ".join(covers) or "nothing listed"
    return "; ".join(f"{label} ({digest})" for label, digest in zip(covers, digests, strict=True)) or "nothing listed"


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


def flags(signature: dict[str, Any]) -> list[str]:
    """What has to be known of a signature before anything else is read: rules R23 and R24."""
    found = []
    if not signature.get("accepted", True):
        found.append("Not accepted: see the reason below")
    if signature["self_inspected"]:
        found.append("Self-inspected: signed by somebody who did the work")
    if signature.get("void"):
        found.append("Given for a closing that was opened again")
    return found


def title_lines(sheets: Sheets, under: Under) -> tuple[str, ...]:
    return sheets.lines(under.title, let.SUBHEAD, sheets.room - 2 * PAD - 96)[:2]


def head_height(sheets: Sheets, under: Under, signature: dict[str, Any]) -> float:
    lines = 28 + 16 * len(title_lines(sheets, under)) + 17 + FLAG_HEIGHT * len(flags(signature)) + 5
    return max(STAMP_HEIGHT, lines)


def head(sheets: Sheets, under: Under, signature: dict[str, Any]) -> None:
    """What was signed, the marks that matter, and the stamp."""
    c, top, tall = sheets.canvas, sheets.y, head_height(sheets, under, signature)
    edge(sheets, top, 1)
    sides(sheets, top, top - tall)
    c.setStrokeColor(VIOLET)
    c.setLineWidth(1)
    c.circle(sheets.left + PAD + 6, top - 16, 6.2)
    c.circle(sheets.left + PAD + 6, top - 16, 4.2)
    sheets.at(sheets.left + PAD + 18, top - 19, signed_words(signature), BOLD.but(color=VIOLET), 240)
    room = sheets.room - 2 * PAD - 96
    y = top - 28
    for line in title_lines(sheets, under):
        sheets.at(sheets.left + PAD, y - 12, line, let.SUBHEAD, room)
        y -= 16
    sheets.at(sheets.left + PAD, y - 11, f"{signature['role']}, for {under.place}", SMALL, room)
    for number, mark in enumerate(flags(signature)):
        flag(sheets, sheets.left + PAD, y - 30 - FLAG_HEIGHT * number, mark)
    words = (stamp_words(signature), signature["initials"], signature["day"].upper(), under.number)
    cleaned = tuple(sheets.clean(word, let.STRONG).replace("\n", " ") for word in words)
    marks.stamp(c, sheets.right - PAD - 38, top - 46, (cleaned[0], cleaned[1], cleaned[2], cleaned[3]))
    sheets.y = top - tall


def signed_words(signature: dict[str, Any]) -> str:
    """Signed, or signed that it is not accepted; and whether something was changed since."""
    signed = "Signed" if signature.get("accepted", True) else "Signed: not accepted"
    return joined([signed, "then changed" if signature["changes"] else ""])


def stamp_words(signature: dict[str, Any]) -> str:
    """What stands round the stamp."""
    if not signature.get("accepted", True):
        return "NOT ACCEPTED"
    if signature["self_inspected"]:
        return "SELF-INSPECTED"
    return "INSPECTED" if signature["role"] == INSPECTOR_WORDS else "SIGNED"


def flag(sheets: Sheets, x: float, y: float, words: str) -> None:
    """Words in a frame."""
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
    if piece.strokes:
        drawn(sheets, piece.strokes)
    sheets.y = bottom


def drawn(sheets: Sheets, lines: tuple[tuple[int, ...], ...]) -> None:
    """A signature as it was drawn with a finger, fitted into its field."""
    left, top, wide, tall = strokes.box(lines)
    scale = min(DRAWN_WIDTH / max(wide, 1), DRAWN_HEIGHT / max(tall, 1))
    c = sheets.canvas
    c.saveState()
    c.setStrokeColor(VIOLET)
    c.setLineWidth(1.2)
    c.setLineCap(1)
    c.setLineJoin(1)
    path = c.beginPath()
    for line in lines:
        placed = [
            (sheets.left + PAD + (x - left) * scale, sheets.y - (y - top) * scale) for x, y in strokes.points(line)
        ]
        for number, at in enumerate(placed + placed[-1:] * (len(placed) == 1)):
            (path.lineTo if number else path.moveTo)(*at)
    c.drawPath(path, stroke=1, fill=0)
    c.restoreState()


def since_lines(sheets: Sheets, signature: dict[str, Any]) -> tuple[str, ...]:
    """What was changed under the signature, each as a line (rule R31)."""
    room = sheets.room - 2 * PAD - 24
    return tuple(line for change in signature["changes"] for line in sheets.lines(change, SMALL, room))


def since_height(sheets: Sheets, signature: dict[str, Any]) -> float:
    return 26 + 12 * min(len(since_lines(sheets, signature)), PIECE)


def unchanged(sheets: Sheets) -> None:
    """That nothing was changed since, and when that was looked at, in one line."""
    tall = 26
    sheets.need(tall)
    inner_rule(sheets, sheets.y)
    sides(sheets, sheets.y, sheets.y - tall)
    left, base = sheets.left + PAD, sheets.y - 16
    marks.tick(sheets.canvas, left + 3, base - 1, 9)
    words = "Not changed since signing"
    sheets.at(left + 24, base, words, BOLD, 200)
    compared = f"Compared when this was printed, {sheets.facts['printed']}."
    wide = let.width(words, BOLD)
    sheets.at(left + 34 + wide, base, compared, SMALL, sheets.room - 2 * PAD - 34 - wide)
    sheets.y -= tall


def since(sheets: Sheets, signature: dict[str, Any]) -> None:
    """Whether the record has changed since it was signed."""
    lines, changes = since_lines(sheets, signature), signature["changes"]
    if not changes:
        unchanged(sheets)
        return
    title = f"Changed since signing: {counted(len(changes), 'thing')}"
    for start in range(0, len(lines), PIECE):
        part = lines[start : start + PIECE]
        tall = 26 + 12 * len(part)
        sheets.need(tall)
        if not start:
            inner_rule(sheets, sheets.y)
        sides(sheets, sheets.y, sheets.y - tall)
        top = sheets.y
        marks.delta(sheets.canvas, sheets.left + PAD, top - 20, len(changes))
        sheets.at(
            sheets.left + PAD + 24, top - 16, joined([title, "continued" if start else ""]), BOLD, sheets.room - 60
        )
        for number, line in enumerate(part):
            sheets.at(sheets.left + PAD + 24, top - 29 - 12 * number, line, SMALL, sheets.room - 2 * PAD - 20)
        sheets.y = top - tall
