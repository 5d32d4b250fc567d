"""The builder's record on paper: sheets drawn from frozen facts. The same facts give the same bytes."""

import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from certification.pages import (
    areas,
    closing_sheets,
    cover,
    credit,
    discrepancies,
    file,
    flying,
    hours,
    paper,
    people,
    points,
    process,
    sessions,
    stores,
    visits,
)
from certification.pages.sheets import Plan, Progress, Sheets, silent
from certification.pages.words import BUILDER_WORDS, joined
from certification.queries import EDITIONS
from foundation import lettering
from foundation.drawing import Blank, CannotDraw

__all__ = ["CannotDraw", "Print", "print_record", "write_record"]


@dataclass(frozen=True)
class Print:
    """What came of a print: how many sheets, and remarks on what could not be printed as it is."""

    sheets: int
    remarks: list[str]


def write_record(facts: dict[str, Any], path: Path, tell: Progress = silent) -> list[str]:
    """Draw the record and return the remarks on it (see `print_record`)."""
    return print_record(facts, path, tell).remarks


def print_record(facts: dict[str, Any], path: Path, tell: Progress = silent) -> Print:
    """Draw the facts of `certification.queries.builder_record` into a PDF file, whole or not at all.

    The remarks stand on the last sheet too; `tell` hears of every sheet. Raises CannotDraw when no file can be made.
    """
    if facts["edition"] not in EDITIONS:
        known = " and ".join(map(str, sorted(EDITIONS)))
        raise CannotDraw(f"These facts are of edition {facts['edition']}; this program draws editions {known}.")
    if not path.parent.is_dir():
        raise CannotDraw(f"There is no folder {path.parent}. Make it first.")
    lettering.load()
    # The first pass finds the sheets, the second draws them with their numbers.
    blank = Sheets(Blank(), facts, Plan())
    plan = drawn(blank)
    canvas = paper.new_canvas(facts, *titles(facts))
    sheets = Sheets(canvas, facts, plan, blank.pictures, tell)
    drawn(sheets)
    save(canvas, facts, path)
    return Print(plan.total, sheets.remarks.lines)


def drawn(sheets: Sheets) -> Plan:
    """One pass over all sections."""
    cover.draw(sheets)
    hours.draw(sheets)
    sessions.draw(sheets)
    areas.draw(sheets)
    points.draw(sheets)
    discrepancies.draw(sheets)
    process.draw(sheets)
    visits.draw(sheets)
    credit.draw(sheets)
    people.draw(sheets)
    file.draw_papers(sheets)
    file.draw_equipment(sheets)
    file.draw_placards(sheets)
    flying.draw_weight(sheets)
    flying.draw_inspections(sheets)
    flying.draw_flights(sheets)
    stores.draw(sheets)
    closing_sheets.draw_index(sheets)
    closing_sheets.draw_notes(sheets)
    return sheets.end()


def titles(facts: dict[str, Any]) -> tuple[str, str]:
    """Title and author of the file."""
    project = facts["project"]
    builders = [person["name"] for person in facts["people"] if person["role"] == BUILDER_WORDS]
    whose = joined([project["name"], project["registration"]])
    return f"Builder's record of {whose}", joined(builders) or project["builder_name"] or "not given"


def save(canvas: Any, facts: dict[str, Any], path: Path) -> None:
    """Write beside the place and move over, so that a reader finds the old file or the new one and no half."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            paper.write(canvas, facts, file)
        part.replace(path)
    except OSError as trouble:
        raise CannotDraw(f"The file cannot be written: {trouble}") from trouble
    finally:
        part.unlink(missing_ok=True)
