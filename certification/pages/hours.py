"""The sheets of hours: the tree with own and below, people, kinds, months, overlaps."""

from collections.abc import Sequence
from typing import Any

from certification.pages import marks
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import PAID_WORDS, TITLES, hours, signatures
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, SMALL

BAR = 8.0
PERSONS = "By person"
MEANING = (
    "Own hours were logged on the assembly itself, hours below on what belongs to it. Every hour counts once. "
    "Hours are hours of people: two people for one hour are two hours. "
    "Breaks and process time that nobody attended are taken off. "
    "Figures are rounded for print only, so that a column may differ from its sum by a tenth."
)
PART_MEANING = (
    "This is a part of the record: assemblies are printed with the hours of that part, people with the hours of all "
    "sessions in it, whole."
)
OVERLAP_MEANING = (
    "Total and roles add up what the sessions say; where one person's sessions overlap (below), the time counts once "
    "in that person's counted hours."
)


def draw(sheets: Sheets) -> None:
    """Draw the section of hours."""
    facts = sheets.facts["hours"]
    sheets.start(TITLES["hours"], "hours")
    sheets.title("Hours")
    sheets.flow(MEANING, SMALL)
    if facts["conflicts"]:
        sheets.flow(OVERLAP_MEANING, SMALL)
    if sheets.facts.get("scope"):
        sheets.flow(PART_MEANING, SMALL)
    tree(sheets, facts["assemblies"], facts["total"])
    people(sheets, sheets.facts["people"])
    bars(sheets, "By role", facts["roles"], {PAID_WORDS: "slant"})
    bars(sheets, "By kind", facts["kinds"], {})
    bars(sheets, "By kind of work", facts["works"], marks.WORK_HATCHES)
    bars(sheets, "By month", facts["months"], {})
    if facts["conflicts"] is not None:
        overlaps(sheets, facts["conflicts"])


def tree(sheets: Sheets, lines: Sequence[dict[str, Any]], total: int) -> None:
    """Every assembly in reading order: state, own solid and below hatched, figures."""
    sheets.subtitle("By assembly")
    room = sheets.room
    bar_left, bar_room = room * 0.52, room * 0.48 - 138
    figures = [(room - 130, 40), (room - 86, 40), (room - 44, 44)]
    sheets.header(
        [
            Cell(0, room * 0.32, "Assembly"),
            Cell(room * 0.345, room * 0.17, "State"),
            Cell(bar_left, bar_room, "Own solid, below hatched"),
            *(Cell(x, w, t, BODY, RIGHT) for (x, w), t in zip(figures, ("Own", "Below", "All"), strict=True)),
        ]
    )
    longest = max([line["total"] for line in lines], default=0) or 1
    for line in lines:
        indent = 9.0 * min(line["depth"], 8)

        def mark(y: float, tall: float, line: dict[str, Any] = line) -> None:
            middle = y - tall / 2
            marks.state_line(sheets.canvas, line["state"], sheets.left + room * 0.345, middle, 28)
            left, own = sheets.left + bar_left, bar_room * line["own"] / longest
            marks.hatch(sheets.canvas, "slant", left + own, middle - BAR / 2, bar_room * line["below"] / longest, BAR)
            marks.solid(sheets.canvas, left, middle - BAR / 2, own, BAR)

        sheets.row(
            [
                Cell(
                    indent, room * 0.335 - indent, f"{line['number']} {line['name']}", BODY if line["depth"] else BOLD
                ),
                Cell(room * 0.345 + 34, room * 0.17 - 38, line["state_words"], SMALL),
                Cell(*figures[0], hours(line["own"]), BODY, RIGHT),
                Cell(*figures[1], hours(line["below"]), BODY, RIGHT),
                Cell(*figures[2], hours(line["total"]), BOLD, RIGHT),
            ],
            pad=1.8,
            mark=mark,
        )
    sheets.row([Cell(0, 200, "All", BOLD), Cell(*figures[2], hours(total), BOLD, RIGHT)], rule=let.INK, weight=1.2)


def people(sheets: Sheets, rows: Sequence[dict[str, Any]]) -> None:
    """Who worked, as what; logged beside counted, which differ where one person's sessions overlap."""
    room, stamped = sheets.room, {signature["name"] for signature in signatures(sheets.facts)}
    columns = [(0, 130), (138, room - 316), (room - 170, 50), (room - 112, 52), (room - 52, 52)]
    sheets.subtitle(PERSONS)
    sheets.anchor("hours-people", PERSONS, 1, listed=False)
    sides = ["", "", RIGHT, RIGHT, RIGHT]
    heads = ["Person", "Role", "Sessions", "Logged", "Counted"]
    sheets.header([Cell(x, w, t, BODY, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for person in rows:
        if not person["sessions"] and person["name"] not in stamped:
            continue
        differs = person["logged"] != person["counted"]
        part = f"{person['role']}, {person['certificate']}" if person["certificate"] else person["role"]
        texts = [person["name"], part, f"{person['sessions']:,}", hours(person["logged"]), hours(person["counted"])]
        style = BOLD if person["role"] == PAID_WORDS else BODY
        cells = [Cell(x, w, t, style, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)]
        if differs:
            cells[4] = Cell(*columns[4], texts[4], BOLD, RIGHT)
        sheets.row(cells, pad=1.8)
    sheets.rule()
    if any(person["logged"] != person["counted"] for person in rows):
        sheets.y -= 3
        sheets.flow(
            "Where counted is less than logged, sessions of this person overlap (see Overlapping sessions).",
            SMALL,
        )


def bars(sheets: Sheets, title: str, rows: Sequence[dict[str, Any]], hatches: dict[str, str]) -> None:
    """A table of sums with a bar each; other words than those with a hatch get an empty bar."""
    if not rows:
        return
    room = sheets.room
    bar_left, bar_room = 150.0, room - 150 - 70
    longest = max(row["seconds"] for row in rows) or 1
    sheets.subtitle(title)
    for row in rows:

        def mark(y: float, tall: float, row: dict[str, Any] = row) -> None:
            pattern = hatches.get(row["words"], "")
            marks.hatch(
                sheets.canvas,
                pattern,
                sheets.left + bar_left,
                y - tall / 2 - BAR / 2,
                bar_room * row["seconds"] / longest,
                BAR,
            )

        sheets.row(
            [Cell(0, 142, row["words"], BODY), Cell(room - 60, 60, hours(row["seconds"]), BODY, RIGHT)],
            pad=1.4,
            mark=mark,
        )
    sheets.rule()


def overlaps(sheets: Sheets, lines: Sequence[str]) -> None:
    """Sessions of one person that overlap, each said in words (rule R3)."""
    sheets.subtitle("Overlapping sessions", keep=16)
    for line in lines or ["None: no one is recorded in two sessions at the same time."]:
        sheets.flow(line, SMALL)
        sheets.y -= 2
