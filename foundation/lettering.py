"""Lettering: the embedded families, strings cut into runs that a family can draw, and line breaks."""

import re
import unicodedata
from collections import defaultdict
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.rl_accel import escapePDF, fp_str
from reportlab.pdfbase import pdfmetrics, ttfonts
from reportlab.pdfbase.pdfdoc import PDFDocument

from foundation.drawing import Blank, CannotDraw, Remarks

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

    @cached_property
    def tone(self) -> str:
        """The color as the operator that letters in it."""
        return f"{fp_str(self.color.rgb())} rg"

    @cached_property
    def measure(self) -> str:
        """Size and line distance as operators, to come after the name of a font."""
        return f"{fp_str(self.size)} Tf {fp_str(self.leading)} TL"


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


@cache
def advances(font: str) -> dict[str, float]:
    """The same of every character that a family or its backup draws, by character."""
    return {chr(code): wide for code, wide in (widths(BACKUP[font]) | widths(font)).items()}


@cache
def own(font: str) -> frozenset[str]:
    """The characters that a family draws without its backup."""
    return frozenset(map(chr, widths(font)))


def runs(text: str, font: str) -> list[tuple[str, str]]:
    """Clean text as (family, piece) in order; a blank stays with the piece before it."""
    if text and own(font).issuperset(text):
        return [(font, text)]
    pieces: list[tuple[str, str]] = []
    for sign in text:
        family = font if ord(sign) in widths(font) else BACKUP[font]
        if pieces and (sign == " " or pieces[-1][0] == family):
            pieces[-1] = (pieces[-1][0], pieces[-1][1] + sign)
        else:
            pieces.append((family, sign))
    return pieces


def width(text: str, style: Style) -> float:
    """The width of clean text on one line, in points."""
    return advance(text, style.font) * style.size / 1000


@lru_cache(maxsize=20_000)
def advance(text: str, font: str) -> float:
    """The width of clean text in thousandths of its size."""
    return sum(map(advances(font).__getitem__, text))


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


def wrapped(text: str, style: Style, room: float) -> tuple[str, ...]:
    """Clean text in lines no wider than `room` points; line ends in it stay, words that are too long are broken."""
    if "\n" not in text and not text.startswith(" ") and width(text, style) <= room:
        return (text,)
    return broken(text, style, room)


@lru_cache(maxsize=20_000)  # both passes over a record break the same texts
def broken(text: str, style: Style, room: float) -> tuple[str, ...]:
    """The lines of a text that takes several, or one that does not begin as it was typed."""
    lines: list[str] = []
    gap = width(" ", style)
    for paragraph in text.split("\n"):
        line, used = "", 0.0
        for word in paragraph.split(" "):
            wide = width(word, style)
            if line and used + gap + wide > room:
                lines.append(line)
                line, used = "", 0.0
            while wide > room and len(word) > 1:
                part = fitting(word, style, room)
                lines.append(part)
                word = word[len(part) :]
                wide = width(word, style)
            line, used = (f"{line} {word}", used + gap + wide) if line else (word, wide)
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


# A number as it stands in the file; the same columns and base lines come again on every sheet.
number = lru_cache(maxsize=4_096)(fp_str)


def draw(canvas: Any, x: float, y: float, text: str, style: Style, end: str = " ") -> None:
    """Letter clean text with its base line at (x, y), as one piece so that it is copied out as one.

    The blank after it keeps it apart from what comes next when the text of a sheet is copied out. The operators are
    those that ReportLab's text object gives, in an eighth of its time.
    """
    if isinstance(canvas, Blank):
        return
    shown = [show(canvas._doc, family, piece, style.measure) for family, piece in runs(text + end, style.font)]
    canvas._code.append(" ".join(["BT 1 0 0 1", number(x), number(y), "Tm", style.tone, *shown, "ET"]))
    if style.struck and text.strip():
        canvas.setStrokeColor(style.color)
        canvas.setLineWidth(0.8)
        canvas.line(x, y + style.size * 0.3, x + width(text, style), y + style.size * 0.3)


@dataclass
class Alphabet:
    """The characters of a family that a file has so far, each as it is written in a string of the family's first part.

    A part holds 256 codes at most; the characters of other parts are `ELSEWHERE`.
    """

    name: str = ""
    known: set[str] = field(default_factory=set)
    codes: dict[int, str] = field(default_factory=dict)


# Clean text on one line has no line end, and codes stand escaped in the file: this is never one of them.
ELSEWHERE = "\n"
# By file, and gone with it.
alphabets: WeakKeyDictionary[PDFDocument, defaultdict[str, Alphabet]] = WeakKeyDictionary()


def show(document: PDFDocument, family: str, piece: str, measure: str) -> str:
    """The operators that choose a font and show a piece in it."""
    families = alphabets.get(document)
    if families is None:
        families = alphabets[document] = defaultdict(Alphabet)
    alphabet = families[family]
    if not alphabet.known.issuperset(piece):
        learn(alphabet, document, family, piece)
    told = piece.translate(alphabet.codes)
    if ELSEWHERE not in told:
        return f"{alphabet.name} {measure} ({told}) Tj"
    font = pdfmetrics.getFont(family)
    parts = font.splitString(piece, document)
    return " ".join(
        f"{font.getSubsetInternalName(part, document)} {measure} ({escapePDF(codes)}) Tj" for part, codes in parts
    )


def learn(alphabet: Alphabet, document: PDFDocument, family: str, piece: str) -> None:
    """Let the file have the characters of a piece, in the order in which they come."""
    font = pdfmetrics.getFont(family)
    places = [(part, code) for part, codes in font.splitString(piece, document) for code in codes]
    for sign, (part, code) in zip(piece, places, strict=True):
        alphabet.codes[ord(sign)] = ELSEWHERE if part else escapePDF(bytes([code]))
    alphabet.name = font.getSubsetInternalName(0, document)
    alphabet.known.update(piece)
