"""Lettering: what is written for a line of text, and where texts are broken."""

from io import BytesIO

import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from foundation import lettering as let
from foundation.drawing import Blank
from foundation.lettering import BODY, LABEL, SMALL_CODE, VIOLET, Style

# More characters than a family's first part in a file holds, so that some stand in a second one.
MANY = "".join(sign for sign in sorted(let.own(let.WIDE)) if 0x100 <= ord(sign) < 0x280 and sign.isalpha())
TEXTS = [
    "Fillet 12, both faces",
    "(a\\b) 50 % ~ ^",
    "Łukasz Żółć – “Đorđe” Ægisson",
    "Hull Βασίλης and Иван 10-H1",
    MANY,
    MANY[-20:] + "back to the first part",
    "",
]


def canvas() -> Canvas:
    let.load()
    return Canvas(BytesIO(), initialFontName=let.TEXT, invariant=1)


def by_text_object(on: Canvas, x: float, y: float, text: str, style: Style, end: str) -> None:
    """The same line through the text object of the library."""
    pen = on.beginText(x, y)
    pen.setFillColor(style.color)
    for family, piece in let.runs(text + end, style.font):
        pen.setFont(family, style.size, style.leading)
        pen.textOut(piece)
    on.drawText(pen)


def test_a_line_is_written_as_the_text_object_of_the_library_writes_it():
    ours, reference = canvas(), canvas()
    for style in (BODY, LABEL, SMALL_CODE, BODY.but(size=7.25, color=VIOLET)):
        for number, text in enumerate(TEXTS):
            for end in (" ", ""):
                let.draw(ours, 43.0 + number / 3, 700.123456 - number, text, style, end)
                by_text_object(reference, 43.0 + number / 3, 700.123456 - number, text, style, end)
    assert ours._code == reference._code
    assert any("+1 " in line for line in ours._code), "no text reached a second part of a font"


def test_text_of_every_part_of_a_font_is_copied_out_of_the_file():
    file = BytesIO()
    sheet = Canvas(file, initialFontName=let.TEXT, invariant=1)
    for number, text in enumerate(TEXTS):
        let.draw(sheet, 20, 700 - 20 * number, text, BODY)
    sheet.save()
    told = PdfReader(file).pages[0].extract_text().replace("\n", " ")
    for text in TEXTS:
        assert text in told


def test_two_files_drawn_in_turn_do_not_share_their_characters():
    one, other, alone = canvas(), canvas(), canvas()
    let.draw(one, 0, 0, MANY, BODY)
    let.draw(other, 0, 0, "Żółć", BODY)
    let.draw(alone, 0, 0, "Żółć", BODY)
    assert other._code == alone._code


def test_nothing_is_drawn_on_a_blank_canvas():
    let.draw(Blank(), 0, 0, "Hull", BODY.but(struck=True))


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("one two", ("one two",)),
        ("one two three", ("one two", "three")),
        ("one\ntwo", ("one", "two")),
        ("one  two", ("one  two",)),
        (" one", ("one",)),
        ("one two ", ("one two ",)),
        ("", ("",)),
        ("\n", ("", "")),
        ("onetwothree", ("onetwoth", "ree")),
    ],
)
def test_where_a_text_is_broken(text: str, lines: tuple[str, ...]) -> None:
    style = Style(let.CODE, 10, 12)
    assert let.wrapped(text, style, let.width("8 signs!", style)) == lines
