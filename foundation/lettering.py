"""Lettering: the embedded families, strings cut into runs that a family can draw, and line breaks."""

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from reportlab.lib.colors import Color, HexColor
from reportlab.pdfbase import pdfmetrics, ttfonts

from foundation.drawing import CannotDraw, Remarks

FONTS = Path(__file__).resolve().parent / "fonts"
LETTER, TEXT, STRONG, CODE = (
    "NationalPark-SemiBold",
    "AtkinsonNext-Regular",
    "AtkinsonNext-Bold",
    "AtkinsonMono-Regular",
)
WIDE, WIDE_STRONG = "DejaVuSans", "DejaVuSans-Bold"
# The family that steps in for the characters that the first one does not have.
BACKUP = {LETTER: WIDE_STRONG, TEXT: WIDE, STRONG: WIDE_STRONG, CODE: WIDE}

BREAKS = re.compile("\r\n|[\r\x0b\x0c\x85\u2028\u2029]")
# The PDF writer gives the codes of characters in four hex digits: what lies above could not be copied out again.
HIGHEST = 0xFFFD

INK, INK_2, INK_3, QUIET, HAIR, PAPER = (
    HexColor(f"#{shade}") for shade in ("000000", "222222", "3c3c3c", "555555", "a9a9a9", "ffffff")
)
# Violet is kept for signatures, red for what is held or missing.
VIOLET, RED = HexColor("#472680"), HexColor("#7d120e")


@dataclass(frozen=True)
class Style:
    """How a string is lettered: family, size and line distance in points, color, struck through or not."""

    font: str
    size: float
    leading: float
    color: Color = INK
    struck: bool = False

    def but(self, **changes: Any) -> "Style":
        return replace(self, **changes)


NAME = Style(LETTER, 30, 34)
HEAD = Style(LETTER, 17, 21)
SUBHEAD = Style(LETTER, 12, 16)
LABEL = Style(LETTER, 8.5, 11, INK_3)
BODY = Style(TEXT, 10, 13.5)
BOLD = Style(STRONG, 10, 13.5)
SMALL = Style(TEXT, 9, 12, INK_2)
SMALL_BOLD = Style(STRONG, 9, 12)
SMALL_CODE = Style(CODE, 9, 12)
MONO = Style(CODE, 9.5, 13.5)


@cache
def load() -> None:
    """Read the families once for the life of the process."""
    for name in (LETTER, TEXT, STRONG, CODE, WIDE, WIDE_STRONG):
        path = FONTS / f"{name}.ttf"
        try:
            pdfmetrics.registerFont(ttfonts.TTFont(name, str(path)))
        except (OSError, ttfonts.TTFError) as trouble:
            raise CannotDraw(f"The font {path.name} cannot be read: {trouble}") from trouble


@cache
def widths(font: str) -> dict[int, float]:
    """The advance of every character that a family draws, in thousandths of the size."""
    load()
    return {code: w for code, w in pdfmetrics.getFont(font).face.charWidths.items() if 32 <= code <= HIGHEST}


@lru_cache(maxsize=4_000)
def runs(text: str, font: str) -> tuple[tuple[str, str], ...]:
    """Clean text as (family, piece) in order; a blank stays with the piece before it."""
    pieces: list[tuple[str, str]] = []
    for sign in text:
        family = font if ord(sign) in widths(font) else BACKUP[font]
        if pieces and (sign == " " or pieces[-1][0] == family):
            pieces[-1] = (pieces[-1][0], pieces[-1][1] + sign)
        else:
            pieces.append((family, sign))
    return tuple(pieces)


def width(text: str, style: Style) -> float:
    """The width of clean text on one line, in points."""
    return advance(text, style.font) * style.size / 1000


@lru_cache(maxsize=20_000)
def advance(text: str, font: str) -> float:
    """The width of clean text in thousandths of its size."""
    own, other = widths(font), widths(BACKUP[font])
    return sum(own[ord(sign)] if ord(sign) in own else other[ord(sign)] for sign in text)


@cache
def plain(font: str) -> frozenset[str]:
    """The characters that a family and its backup draw and that need no remark, and the end of a line."""
    signs = (chr(code) for code in widths(font) | widths(BACKUP[font]))
    return frozenset(sign for sign in signs if spelled(sign, font) == sign and not backwards(sign)) | {"\n"}


def backwards(sign: str) -> bool:
    """Whether a character belongs to a script that runs from right to left."""
    return unicodedata.bidirectional(sign) in {"R", "AL"}


def clean(text: str, font: str, remarks: Remarks) -> str:
    """Text as it can be drawn: composed; what no family has stands as its code, with a remark that names the text."""
    if plain(font).issuperset(text) and unicodedata.is_normalized("NFC", text):
        return text
    text = BREAKS.sub("\n", unicodedata.normalize("NFC", text)).replace("\t", "    ")
    drawn = "".join(sign if sign == "\n" else spelled(sign, font) for sign in text)
    told = drawn if len(drawn) <= 80 else drawn[:79] + "…"
    told = told.replace("\n", " ")
    missing = dict.fromkeys(f"U+{ord(s):04X}" for s in text if s != "\n" and spelled(s, font).startswith("[U+"))
    if missing:
        remarks.add(f"No embedded font has {listed(list(missing))}, printed as code in brackets in “{told}”")
    if any(backwards(sign) for sign in drawn):
        remarks.add(
            f"Writing from right to left is printed in the order it was typed, left to right, unjoined, in “{told}”"
        )
    return drawn


@lru_cache(maxsize=10_000)
def spelled(sign: str, font: str) -> str:
    """A character as it is drawn: itself, nothing if it has no ink of its own, or its code."""
    kind = unicodedata.category(sign)
    if kind == "Cf" or 0xFE00 <= ord(sign) <= 0xFE0F:
        return ""
    if kind[0] != "C" and (ord(sign) in widths(font) or ord(sign) in widths(BACKUP[font])):
        return sign
    return f"[U+{ord(sign):04X}]"


def listed(names: list[str], most: int = 6) -> str:
    """The first few names and how many more there are."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


@lru_cache(maxsize=4_000)  # both passes over a record break the same texts
def wrapped(text: str, style: Style, room: float) -> tuple[str, ...]:
    """Clean text in lines no wider than `room` points; line ends in it stay, words that are too long are broken."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line, used = "", 0.0
        for word in paragraph.split(" "):
            blank = " " if line else ""
            wide = width(word, style)
            if line and used + width(blank, style) + wide > room:
                lines.append(line)
                line, used, blank = "", 0.0, ""
            while wide > room and len(word) > 1:
                part = fitting(word, style, room)
                lines.append(part)
                word = word[len(part) :]
                wide = width(word, style)
            line, used = line + blank + word, used + width(blank, style) + wide
        lines.append(line)
    return tuple(lines)


def fitting(word: str, style: Style, room: float) -> str:
    """As many first characters as fit, at least one."""
    used = 0.0
    for place, sign in enumerate(word):
        used += width(sign, style)
        if used > room:
            return word[: max(place, 1)]
    return word


def cut(text: str, style: Style, room: float) -> str:
    """Clean text on one line, ended with dots where it does not fit."""
    text = text.replace("\n", " ")
    if width(text, style) <= room:
        return text
    return fitting(text, style, max(room - width("…", style), 1)).rstrip() + "…"


def draw(canvas: Any, x: float, y: float, text: str, style: Style, end: str = " ") -> None:
    """Letter clean text with its base line at (x, y), as one piece so that it is copied out as one.

    The blank after it keeps it apart from what comes next when the text of a sheet is copied out.
    """
    pen = canvas.beginText(x, y)
    pen.setFillColor(style.color)
    for family, piece in runs(text + end, style.font):
        pen.setFont(family, style.size, style.leading)
        pen.textOut(piece)
    canvas.drawText(pen)
    if style.struck and text.strip():
        canvas.setStrokeColor(style.color)
        canvas.setLineWidth(0.8)
        canvas.line(x, y + style.size * 0.3, x + width(text, style), y + style.size * 0.3)
