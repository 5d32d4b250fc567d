"""What was corrected, dropped or withdrawn: the old words struck through, with who, when and why (rule R32)."""

from typing import Any

from certification.pages import marks
from certification.pages.sheets import Sheets
from certification.pages.words import because
from foundation import lettering as let
from foundation.lettering import BOLD, LABEL, SMALL, SMALL_BOLD

STRUCK = SMALL.but(struck=True, color=let.QUIET)


def corrections(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Every correction: when, who, why, the old value struck through beside the new one."""
    for number, correction in enumerate(rows, 1):
        sheets.y -= 6
        sheets.need(40)
        marks.delta(sheets.canvas, sheets.left, sheets.y - 13, number)
        words = f"Corrected {correction['at']} by {correction['by']}{because(correction['reason'])}"
        sheets.flow(words, SMALL_BOLD, x=20)
        for change in correction["changes"]:
            sheets.flow(f"{change['field']}, before", LABEL, x=20)
            sheets.flow(change["before"], STRUCK, x=28)
            sheets.flow(f"{change['field']}, after", LABEL, x=20)
            sheets.flow(change["after"], SMALL, x=28)


def withdrawn(sheets: Sheets, title: str, key: str, rows: list[dict[str, Any]]) -> None:
    """Records that were set up by mistake and withdrawn, each with the reason."""
    if not rows:
        return
    sheets.going_on = ""
    sheets.need(90)
    sheets.anchor(key, title, 1)
    sheets.subtitle(title, keep=60)
    for row in rows:
        sheets.y -= 6
        sheets.need(30)
        sheets.flow(row["title"], BOLD.but(struck=True))
        sheets.flow(withdrawn_words(row), SMALL)


def withdrawn_words(row: dict[str, Any]) -> str:
    """When, by whom and why something was withdrawn."""
    by = f" by {row['by']}" if row["by"] else ""
    return f"Withdrawn {row['at']}{by}. Reason: {row['reason'] or 'none given'}"
