"""Tables for spreadsheets."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from foundation.table import csv_bytes, safe_cell

cells = st.text(st.characters(codec="utf-8", exclude_characters="\r\n\0"), max_size=12)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"])
def test_text_that_a_spreadsheet_would_compute_gets_an_apostrophe(text):
    assert safe_cell(text) == "'" + text


@pytest.mark.parametrize("value", ["Rib 4", "1,5", "", -3, 0])
def test_other_cells_stay_as_they_are(value):
    assert safe_cell(value) == value


def test_the_file_says_its_encoding_and_ends_lines_as_rfc_4180():
    assert csv_bytes([["Größe", 'a "b"']]) == b'\xef\xbb\xbfGr\xc3\xb6\xc3\x9fe,"a ""b"""\r\n'


@given(st.lists(st.lists(cells, min_size=2, max_size=4), max_size=5))
def test_a_reader_gets_back_what_was_written(rows):
    text = csv_bytes(rows).decode("utf-8-sig")
    assert list(csv.reader(StringIO(text, newline=""))) == [[safe_cell(cell) for cell in row] for row in rows]
