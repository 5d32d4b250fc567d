"""Tables for spreadsheets: CSV that opens with its letters right and runs nothing."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import Any

# A cell that begins like this would be taken for a formula by a spreadsheet program.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: Any) -> Any:
    """A cell's value; text that a spreadsheet would compute gets an apostrophe in front."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_STARTS) else value


def csv_bytes(rows: Iterable[Sequence[Any]]) -> bytes:
    """Rows as CSV by RFC 4180 in UTF-8 with a byte order mark, by which spreadsheet programs know the encoding."""
    out = StringIO(newline="")
    csv.writer(out).writerows([safe_cell(cell) for cell in row] for row in rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode()
