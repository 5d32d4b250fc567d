"""Sheets of plates and placards, opened with independent readers: fonts embedded, letters as high as asked, the bar."""

from decimal import Decimal
from io import BytesIO

import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from certification.models import Placard
from certification.pages import placards as sheets
from foundation.drawing import CannotDraw

MM = 72 / 25.4


def row(words, mm, kind="placard", count=1, place=""):
    return Placard(kind=kind, words=words, letter_mm=Decimal(mm), count=count, place=place)


def boxes(data, page=0):
    """Every character of a sheet with the box of its ink, in mm from the lower left corner (pdfium)."""
    text = pdfium.PdfDocument(data)[page].get_textpage()
    found = []
    for number in range(text.count_chars()):
        left, bottom, right, top = (edge / MM for edge in text.get_charbox(number))
        found.append((text.get_text_range(number, 1), left, bottom, right, top))
    return found


def letters(data, least, page=0):
    """The characters that are higher than the small type."""
    return [one for one in boxes(data, page) if one[4] - one[2] > least]


@pytest.mark.parametrize("mm", ["4", "12.7", "50.8"])
def test_capital_letters_and_figures_are_as_high_as_asked(mm):
    for words in ("EHIKX", "0OQ15", "N0DE"):
        data = sheets.draw_placards([row(words, mm)], "a4", "Test")
        found = [one for page in range(len(PdfReader(BytesIO(data)).pages)) for one in letters(data, 2.9, page)]
        assert found
        for sign, _, bottom, _, top in found:
            high = top - bottom
            if sign in "EHIKXND1":
                assert high == pytest.approx(float(mm), rel=0.004, abs=0.02), sign
            # Round letters and Q reach a little over; none falls short.
            assert high > float(mm) * 0.995, sign


def test_no_capital_letter_or_figure_falls_short():
    for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789":
        data = sheets.draw_placards([row(sign, "50.8")], "letter", "Test")
        high = max(one[4] - one[2] for one in boxes(data))
        assert high > 50.8 * 0.995, sign


def test_every_font_is_embedded_and_the_printer_is_asked_not_to_scale():
    reader = PdfReader(BytesIO(sheets.draw_placards([row("EXPERIMENTAL", "50.8"), row("N0-DEMO", "5")], "letter", "T")))
    fonts = {}
    for page in reader.pages:
        fonts |= {name: font.get_object() for name, font in page["/Resources"]["/Font"].items()}
    assert fonts
    for font in fonts.values():
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert "/FontFile2" in inner["/FontDescriptor"], font["/BaseFont"]
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_the_bar_is_a_hundred_millimeters_on_every_sheet():
    data = sheets.draw_placards([row("EXPERIMENTAL", "50.8", count=2), row("PLATE", "4")], "a4", "Test")
    reader = PdfReader(BytesIO(data))
    for page in reader.pages:
        content = page.get_contents().get_data().decode("latin-1")
        lines = [line.split() for line in content.splitlines()]
        drawn = [
            (float(x1[1]), float(x1[2]), float(x1[4]), float(x1[5]))
            for x1 in lines
            if len(x1) >= 7 and x1[0] == "n" and x1[3] == "m" and x1[6] == "l"
        ]
        assert any(abs(b[2] - b[0] - 100 * MM) < 0.01 and b[1] == b[3] for b in drawn)
        assert "measure this bar" in page.extract_text()


def test_what_is_wider_than_a_sheet_comes_in_pieces_that_overlap():
    data = sheets.draw_placards([row("EXPERIMENTAL", "50.8")], "a4", "Test")
    reader = PdfReader(BytesIO(data))
    assert len(reader.pages) > 1
    assert f"piece 1 of {len(reader.pages)}" in reader.pages[0].extract_text()
    # Every letter is whole at its height, and lies inside the window of some sheet from its left to its right edge.
    wide = float(reader.pages[0].mediabox.width) / MM
    seen: dict[int, list[tuple[float, float]]] = {}
    for page in range(len(reader.pages)):
        for number, (sign, left, _, right, _) in enumerate(letters(data, 40, page)):
            assert sign == "EXPERIMENTAL"[number]
            seen.setdefault(number, []).append((left, right))
    for number, places in seen.items():
        inside = [(left, right) for left, right in places if right > sheets.RIM and left < wide - sheets.RIM]
        assert inside, number
        covered = sum(min(r, wide - sheets.RIM) - max(x, sheets.RIM) for x, r in inside)
        assert covered >= inside[0][1] - inside[0][0] - 0.01, number


@settings(max_examples=10, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).filter(str.strip),
            st.decimals("1", "60", places=1),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_whatever_is_typed_can_be_drawn(rows):
    placards = [row(words, mm) for words, mm in rows if words.splitlines()]
    if placards:
        assert len(PdfReader(BytesIO(sheets.draw_placards(placards, "a4", "T"))).pages) >= 1


def test_nothing_and_too_much_are_refused():
    with pytest.raises(CannotDraw, match="Nothing is on the list"):
        sheets.draw_placards([], "a4", "T")
    with pytest.raises(CannotDraw, match="sheets"):
        sheets.draw_placards([row("EXPERIMENTAL " * 8, "900")], "a4", "T")


def test_small_ones_stand_one_below_the_other_and_do_not_touch():
    sheets.let.load()
    rows = [row(f"LINE {n}\nTWO", "6", count=2) for n in range(6)]
    pages = sheets.placed([sheets.laid_out(one) for one in rows], 210, 297)
    assert sum(len(page.spots) for page in pages) == 12
    for page in pages:
        for upper, lower in zip(page.spots, page.spots[1:], strict=False):
            assert lower.y + lower.layout.box[1] < upper.y - 4
        assert all(spot.y >= sheets.FOOT for spot in page.spots)
