"""The sheets of the certification file: its papers with their documents, the equipment list, plates and placards."""

from typing import Any

from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import TITLES, days_in_words, joined, of_file, on_day, several
from certification.queries.papers import ADDED
from certification.rules.papers import FILED, NOT_STARTED
from foundation import lettering as let
from foundation.digest import short
from foundation.lettering import SMALL, SMALL_BOLD

PAPERS_MEANING = (
    "What the builder says of each paper. The papers themselves are kept as documents and are not printed here. Ask "
    "the authority which of them it wants."
)
PLACARDS_MEANING = (
    "As the builder's list has them. Height is that of the letters; the source is that of the rule for it, or the "
    "builder's own where no rule is known."
)


def draw_papers(sheets: Sheets) -> None:
    """Draw the section of papers; what does not say the same comes first."""
    found = of_file(sheets.facts, "papers")
    if not found:
        return
    sheets.start(TITLES["papers"], "papers")
    sheets.title(TITLES["papers"])
    mismatches(sheets, found["mismatches"])
    profile = found["profile"]
    sheets.flow(PAPERS_MEANING, SMALL)
    taken = (
        f"taken up {on_day(profile['taken_at'])} by {profile['taken_by']}" if profile["taken_up"] else "not taken up"
    )
    sheets.flow(
        f"List: {joined([profile['authority'], f'edition {days_in_words(profile["edition"])}', taken])}. "
        f"From: {profile['source']}",
        SMALL,
    )
    sheets.flow(profile["note"], SMALL)
    sheets.y -= 8
    papers(sheets, found["papers"])
    dates(sheets, found["dates"])


def mismatches(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Papers, plates and marks that say otherwise than the project (rule R52)."""
    if not rows:
        return
    sheets.flow("Not the same as the aircraft's identity in this record:", SMALL_BOLD.but(color=let.RED))
    for one in rows:
        words = f"{one['where']}, {one['field'].lower()}: “{one['said']}”, here “{one['own']}”; {one['words']}"
        sheets.flow(words, SMALL.but(color=let.RED), x=14)
    sheets.y -= 6


def papers(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """The papers as a table, group by group."""
    room = sheets.room
    columns = [(0, room - 288), (room - 280, 66), (room - 208, 60), (room - 142, 60), (room - 76, 76)]
    heads = ["Paper", "State", "Due", "Filed", "Reference"]
    sheets.header([Cell(x, w, t, SMALL) for (x, w), t in zip(columns, heads, strict=True)])
    group = None
    for one in rows:
        if one["group"] != group:
            group = one["group"]
            sheets.need(40)
            words = "Added by the builder" if group == ADDED else group
            sheets.row([Cell(0, room, words, SMALL_BOLD)], pad=1.6, rule=let.INK)
        due = on_day(one["due_on"]) if one["state"] != FILED else ""
        texts = [one["title"], one["state_words"], due, on_day(one["filed_on"]), one["reference"]]
        cells = [Cell(x, w, t, SMALL) for (x, w), t in zip(columns, texts, strict=True)]
        if one["state"] != NOT_STARTED:
            cells[1] = Cell(*columns[1], texts[1], SMALL_BOLD)
        sheets.need(30)
        sheets.row(cells, pad=1.6)
        kept = [f"{row['label']} {row['title']} [{short(row['digest'])}]" for row in one["documents"]]
        said = [f"{label.lower()} “{text}”" for label, text in one["said"].items() if text]
        more = [
            f"Documents: {'; '.join(kept)}." if kept else "",
            f"It says: {joined(said)}." if said else "",
            one["note"],
        ]
        if text := joined(more, " "):
            sheets.row([Cell(14, room - 14, text, SMALL.but(color=let.QUIET))], pad=0, rule=None)
            sheets.y -= 1.2
    sheets.rule()


def dates(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """The days that come again."""
    if not rows:
        return
    sheets.subtitle("Days that come again")
    for one in rows:
        due = f"next {on_day(one['due'])}, counted from {one['since']}" if one["due"] else "not counted yet"
        sheets.flow(f"{one['title']}: {due}; {one['words']}. From: {one['source']} ({one['mark']}).", SMALL)


def draw_equipment(sheets: Sheets) -> None:
    """Draw the equipment list."""
    rows = of_file(sheets.facts, "equipment")
    if not rows:
        return
    room = sheets.room
    sheets.start(TITLES["equipment"], "equipment")
    sheets.title(TITLES["equipment"])
    columns = [
        (0, 132),
        (140, room - 428),
        (room - 280, 76),
        (room - 198, 56),
        (room - 136, 56),
        (room - 66, 66),
    ]
    sides = ["", "", "", RIGHT, RIGHT, ""]
    heads = ["Equipment", "Maker and model", "Serial", "Weight", "Arm", "Installed"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for one in rows:
        texts = [
            one["name"],
            joined([one["maker"], one["model"]]),
            one["serial"],
            one["weight"] or "not said",
            one["arm"] or "not said",
            on_day(one["installed_on"]),
        ]
        sheets.row([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)], pad=1.6)
        if one["note"]:
            sheets.flow(one["note"], SMALL.but(color=let.QUIET), x=14)
            sheets.y -= 1.6
    sheets.rule()


def draw_placards(sheets: Sheets) -> None:
    """Draw the list of plates, marks and placards: what they say, how high, where, and by what source."""
    rows = of_file(sheets.facts, "placards")
    if not rows:
        return
    room = sheets.room
    sheets.start(TITLES["placards"], "placards")
    sheets.title(TITLES["placards"])
    sheets.flow(PLACARDS_MEANING, SMALL)
    columns = [(0, 74), (82, room - 346), (room - 256, 60), (room - 188, 112), (room - 66, 66)]
    heads = ["Kind", "What it says", "Letters", "Where", "Fitted"]
    sheets.header([Cell(x, w, t, SMALL) for (x, w), t in zip(columns, heads, strict=True)])
    for one in rows:
        texts = [
            one["kind"] if one["count"] == 1 else f"{one['kind']}, {one['count']} of them",
            joined(one["words"].splitlines(), " / "),
            f"{one['letter_mm']} mm",
            one["where"] or "not said",
            on_day(one["fitted_on"]),
        ]
        sheets.row([Cell(x, w, t, SMALL) for (x, w), t in zip(columns, texts, strict=True)], pad=1.6)
        source = f"From: {one['source']}." if one["source"] else "No source is given."
        sheets.flow(joined([one["height"], source], " "), SMALL.but(color=let.QUIET), x=14)
        if one["lacks"]:
            lacking = several([name.lower() for name in one["lacks"]])
            sheets.flow(f"It does not show as in this record: {lacking}.", SMALL.but(color=let.RED), x=14)
        sheets.y -= 1.6
    sheets.rule()
