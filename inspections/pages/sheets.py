"""The sheets that can be printed on, as data."""

import json
from pathlib import Path

from calc.labels import Sheet

DATA = Path(__file__).resolve().parent.parent / "data" / "label_sheets.json"
SHEETS = {row["key"]: Sheet(**row) for row in json.loads(DATA.read_text(encoding="utf-8"))["sheets"]}


def larger(than: Sheet) -> list[Sheet]:
    """The label sheets with higher labels than this one, the smallest first: those of the same paper before others."""
    rows = [sheet for sheet in SHEETS.values() if sheet.use == than.use and sheet.height > than.height]
    return sorted(rows, key=lambda sheet: (sheet.paper != than.paper, sheet.height))
