"""The last sheets: the sessions of each assembly, and what is to be said about the print itself."""

from typing import Any

from certification.pages import marks
from certification.pages.sessions import key_of
from certification.pages.sheets import Sheets
from certification.pages.words import TITLES, counted
from foundation import lettering as let
from foundation.lettering import BODY, SMALL, SMALL_BOLD

COLUMNS = 3


def draw_index(sheets: Sheets) -> None:
    """For each assembly the sessions that went to it, in order of date, with the sheets they are on."""
    facts = sheets.facts
    sheets.start(TITLES["index"], "index")
    sheets.title("Sessions by assembly")
    sheets.flow("Each session by number and day, under every assembly that it gave hours to.", SMALL)
    by_number: dict[str, list[dict[str, Any]]] = {}
    for session in facts["sessions"]:
        for number in dict.fromkeys(share["number"] for share in session["shares"]):
            by_number.setdefault(number, []).append(session)
    for line in facts["hours"]["assemblies"]:
        if rows := by_number.get(line["number"], []):
            name = f"{line['number']} {line['name']}"
            sheets.going_on = ""
            sheets.subtitle(f"{name}, {counted(len(rows), 'session')}", keep=14)
            sheets.going_on = name
            entries(sheets, rows)
    sheets.going_on = ""


def entries(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Sessions in columns, read along the lines."""
    gap = 24.0
    wide = (sheets.room - gap * (COLUMNS - 1)) / COLUMNS
    for start in range(0, len(rows), COLUMNS):
        sheets.need(12)
        for place, session in enumerate(rows[start : start + COLUMNS]):
            x = sheets.left + place * (wide + gap)
            sheets.line(x, f"{session['number']}", SMALL_BOLD, 24)
            sheets.line(x + 26, session["date"], SMALL, wide - 74)
            sheets.line(x + wide - 48, f"sheet {sheets.sheet_of(key_of(session))}", SMALL, 48, "right")
            sheets.canvas.linkRect("", key_of(session), (x, sheets.y - 12, x + wide, sheets.y), relative=0, thickness=0)
        sheets.y -= 12


def draw_notes(sheets: Sheets) -> None:
    """How to read the print, what it was made from, and what could not be printed as it is."""
    facts, head = sheets.facts, sheets.facts["head"]
    sheets.start(TITLES["notes"], "notes")
    sheets.title("Notes on this print")
    sheets.flow(f"Printed {facts['printed']} by {facts['printed_by']}, from the record as it stood then.", BODY)
    sheets.y -= 4
    if head:
        sheets.flow(f"Head of the record: entry {head['seq']:,}", SMALL)
        sheets.flow(head["digest"], let.SMALL_CODE)
    else:
        sheets.flow("The record has no entries yet.", SMALL)
    sheets.subtitle("How to read it", keep=80)
    for words in [*READING, *([SOURCES] if facts.get("file") else [])]:
        sheets.flow(words, SMALL)
        sheets.y -= 3
    sheets.y -= 14
    marks.key(sheets.canvas, sheets.left, sheets.y, sheets.room)
    sheets.subtitle("What could not be printed as it is", keep=20)
    sheets.remarks.close()
    for line in sheets.remarks.lines or ["Nothing: every text and every picture is printed."]:
        sheets.flow(line, SMALL)
        sheets.y -= 3


SOURCES = (
    "Behind a source of a list, “seen” says that its text was read, “memory” that it is told from memory and has to be "
    "looked up, “inferred” that it was concluded from others."
)
READING = [
    "The head digest in the title block names the newest entry of the record that this print was made from. "
    "Two prints with the same head tell the same.",
    "A triangle with a number is a correction, or a change after signing. "
    "What a correction replaced stays, struck through.",
    "A field hatched at its edge marks an entry made late, with the day of the work and the day of the entry.",
    "A double violet line is a signature by a person, and nothing else here is violet. "
    "Stamp and block stay when something is changed later; the change is named.",
    "Words struck through no longer count: an earlier answer, an item no longer asked for, what was corrected or "
    "withdrawn. Who changed it, when and why stands beside them.",
    "The letters and figures in brackets behind each thing that a signature covers are the beginning of its digest "
    "(SHA-256) as it was when it was signed.",
    "Photos are printed smaller than they are kept. The letters and figures beside the number of each are the "
    "beginning of the digest (SHA-256) of the untouched file.",
    "A row of bays is the gate of an enclosed area, one bay for each item: hatched when it is in place, "
    "empty when it is missing.",
]
