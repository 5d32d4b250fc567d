"""The sheets of discrepancies: an index of all of them (rule R60), then each with what became of it."""

from typing import Any

from certification.pages.beside import row_height, titled
from certification.pages.sessions import late
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.signature import Under, draw_signatures
from certification.pages.struck import STRUCK, corrections, withdrawn_words
from certification.pages.words import TITLES, brief, counted, joined
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD


def draw(sheets: Sheets) -> None:
    """Draw the section of discrepancies."""
    facts = sheets.facts
    if "discrepancies" not in facts:
        return
    rows = facts["discrepancies"]
    sheets.start(TITLES["discrepancies"], "discrepancies")
    sheets.title(TITLES["discrepancies"])
    if not rows:
        sheets.flow("No discrepancies recorded.", BODY)
        return
    counts = facts["counts"]
    number = counted(counts["discrepancies"], "discrepancy", "discrepancies")
    sheets.flow(f"{number}, {counts['discrepancies_open']:,} open{blocking(counts)}.", SMALL)
    index(sheets, rows)
    for row in rows:
        sheets.going_on = ""
        sheets.y -= 24
        first = row_height(sheets, row["photos"]["found"][:2])
        sheets.need(120 + (SMALL_BOLD.leading + first if first else 30))
        draw_discrepancy(sheets, row)
    sheets.going_on = ""


def blocking(counts: dict[str, int]) -> str:
    """How many of the open ones stop a closing, behind how many are open."""
    number = counts["discrepancies_blocking"]
    return f", of which {number:,} {'blocks' if number == 1 else 'block'} closing" if number else ""


def key_of(row: dict[str, Any]) -> str:
    return f"discrepancy-{row['label']}"


def where(row: dict[str, Any]) -> str:
    """Part, area and assembly, the nearest first."""
    return joined([row["part"], row["area"], row["assembly"]])


def index(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Every discrepancy in one line, with its sheet; withdrawn ones struck."""
    room = sheets.room
    left, widths = 0.0, (34, room - 416, 96, 92, 58, 78, 28)
    columns = []
    for wide in widths:
        columns.append((left, float(wide)))
        left += wide + 5
    sides = ["", "", "", "", "", "", RIGHT]
    sheets.y -= 6
    heads = ["No.", "What was found", "Where", "Found", "Severity", "State", "Sheet"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for row in rows:
        plain = STRUCK if row["withdrawn"] else SMALL
        bold = STRUCK if row["withdrawn"] else SMALL_BOLD
        state = SMALL_BOLD.but(color=let.RED) if row["open"] and row["blocks"] else SMALL
        blocks = "blocks closing" if row["open"] and row["blocks"] else ""
        texts = [
            (row["label"], bold),
            (brief(row["words"]), plain),
            (brief(where(row), 60), plain),
            (f"{row['found_at']}, {row['found_by']}", plain),
            (row["severity"], plain),
            (joined([row["state_words"], blocks]), state),
            (sheets.sheet_of(key_of(row)), SMALL),
        ]
        cells = [Cell(x, w, t, st, s) for (x, w), (t, st), s in zip(columns, texts, sides, strict=True)]
        sheets.row(cells, pad=1.6)
    sheets.rule()


def draw_discrepancy(sheets: Sheets, row: dict[str, Any]) -> None:
    """One discrepancy."""
    gone = row["withdrawn"]
    sheets.anchor(key_of(row), f"{row['label']} {brief(row['words'], 60)}  {row['state_words']}", 1)
    sheets.going_on = f"Discrepancy {row['label']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow("Discrepancy", LABEL)
    sheets.flow(row["label"], let.HEAD.but(size=13, leading=17, struck=bool(gone)))
    if gone:
        sheets.flow(withdrawn_words(gone), SMALL_BOLD)
    sheets.flow(row["words"], BODY.but(struck=True, color=let.QUIET) if gone else BODY)
    sheets.y -= 3
    sheets.strip(
        [
            ("Where", where(row), 1.6),
            ("Found", joined([row["found_at"], row["found_by"], row["visit"] and f"visit {row['visit']}"]), 1.4),
            ("Severity", row["severity"], 0.7),
            ("Closing", "Blocks" if row["blocks"] else "Does not block", 0.7),
            ("State", joined([row["state_words"], row["disposition"].lower()]), 1),
        ]
    )
    sheets.y -= 4
    entered(sheets, row)
    titled(sheets, "As found", row["photos"]["found"])
    for number, step in enumerate(row["steps"], 1):
        draw_step(sheets, number, step)
    titled(sheets, "Corrected", row["photos"]["corrected"])
    under = Under(key_of(row), row["label"], f"{row['label']} {brief(row['words'], 70)}", where(row))
    draw_signatures(sheets, under, row["signatures"])
    corrections(sheets, row["corrections"])


def entered(sheets: Sheets, row: dict[str, Any], x: float = 0.0) -> None:
    """Who entered it for another, or with both dates where it was entered late (rule R6)."""
    if not row["entered"]:
        return
    if row["late"]:
        late(sheets, f"Late: {row['entered'][0].lower()}{row['entered'][1:]}")
    else:
        sheets.flow(row["entered"], SMALL, x=x)


def draw_step(sheets: Sheets, number: int, step: dict[str, Any]) -> None:
    """A disposition, a correction, or an inspection after it: by whom, when, in which words."""
    sheets.y -= 4
    lines = min(3, len(sheets.lines(step["words"], BODY, sheets.room - 14)))
    sheets.need(32 + BODY.leading * lines + (40 if step["late"] else 0))
    sheets.rule()
    sheets.y -= 2
    what = f"{number} {step['kind']}" + (f": {step['what']}" if step["what"] else "")
    sheets.flow(f"{what}, {step['at']}, {step['by']}", BOLD)
    if step["self_inspected"]:
        sheets.flow("Self-inspected: by somebody who decided or corrected it", SMALL_BOLD, x=14)
    if step["words"]:
        sheets.flow(step["words"], BODY, x=14)
    entered(sheets, step, 14)
