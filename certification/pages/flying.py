"""The sheets before and of the first flights: weight and balance, inspection lists, the test phase."""

from typing import Any

from certification.models.flying import ANSWERS
from certification.pages.balance import draw_balance
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import TITLES, because, days_in_words, joined, nothing, of_file, on_day
from certification.rules.inspection_lists import NO, NOT_APPLICABLE, YES
from foundation import lettering as let
from foundation.lettering import LABEL, SMALL, SMALL_BOLD

RED = SMALL_BOLD.but(color=let.RED)
TITLE = let.HEAD.but(size=13, leading=17)
INSPECTIONS_MEANING = (
    "Each line with what was said at it. Counts are no share: one line that is not in order can be the one that "
    "matters. What becomes of it stands in the discrepancy that is named."
)
FLIGHTS_MEANING = (
    "What the operating limitations of this aircraft ask is typed from them; they decide, not these sheets."
)


def draw_weight(sheets: Sheets) -> None:
    """Draw the section of weight and balance."""
    found = of_file(sheets.facts, "balance")
    if not found:
        return
    sheets.start(TITLES["balance"], "balance")
    sheets.title(TITLES["balance"])
    draw_balance(sheets, found)


# ---- inspection lists ----


def draw_inspections(sheets: Sheets) -> None:
    """Draw the section of inspection lists."""
    rows = of_file(sheets.facts, "inspections")
    if not rows:
        return
    sheets.start(TITLES["inspections"], "inspections")
    sheets.title(TITLES["inspections"])
    sheets.flow(INSPECTIONS_MEANING, SMALL)
    for one in rows:
        sheets.going_on = ""
        sheets.y -= 14
        sheets.need(140)
        inspection(sheets, one)
    sheets.going_on = ""


def inspection(sheets: Sheets, one: dict[str, Any]) -> None:
    """One run through a list: counts, who and when, what is not in order, then every line by group."""
    sheets.anchor(f"inspection-{one['label']}", f"{one['label']} {one['title']}", 1)
    sheets.flow(joined(list(dict.fromkeys([one["kind"], one["title"]]))), LABEL)
    sheets.flow(one["label"], TITLE)
    sheets.going_on = one["label"]
    sheets.y -= 3
    done = joined([on_day(one["done_on"]), one["done_by"], one["certificate"]]) if one["finished"] else "not finished"
    sheets.strip(
        [
            ("Lines", one["counts"], 1.7),
            ("Begun", joined([on_day(one["begun_at"]), one["begun_by"]]), 1.1),
            ("Done", done, 1.3),
            ("Total hours", one["total_hours"] or "not given", 0.7),
        ],
        SMALL_BOLD,
    )
    sheets.y -= 4
    sheets.flow(f"List of edition {days_in_words(one['edition'])}. From: {one['source']}", SMALL)
    if one["gap_reason"]:
        sheets.flow(f"Finished over gaps{because(one['gap_reason'])}", SMALL_BOLD)
    if one["statement"]:
        sheets.flow(f"Statement: {one['statement']}", SMALL)
        sheets.flow(f"Its words are from: {one['wording'].lower()}", SMALL.but(color=let.QUIET))
    lines = [line for group in one["groups"] for line in group["lines"]]
    bad = [line for line in lines if line["answer"] == ANSWERS[NO]]
    sheets.y -= 4
    sheets.flow(
        f"Not in order: {len(bad)}" if bad else "Not in order: none by these answers.", RED if bad else SMALL_BOLD
    )
    for line in bad:
        fate = f"discrepancy {line['discrepancy']}, {sheet(sheets, line['discrepancy'])}"
        words = joined([f"{line['code']} {line['words']}", line["note"]], ". ")
        sheets.flow(
            f"{words} ({fate if line['discrepancy'] else 'no discrepancy tells what becomes of it'})", SMALL, x=14
        )
    for group in one["groups"]:
        told(sheets, group)


def sheet(sheets: Sheets, label: str) -> str:
    return f"sheet {sheets.sheet_of('discrepancy-' + label)}"


def told(sheets: Sheets, group: dict[str, Any]) -> None:
    """The lines of a group, those answered alike together."""
    sheets.y -= 4
    sheets.need(30)
    sheets.flow(f"{group['title']}: {group['counts']}", SMALL_BOLD)
    for answer in (YES, NO, NOT_APPLICABLE, ""):
        rows = [line for line in group["lines"] if line["answer"] == ANSWERS.get(answer, "")]
        if rows:
            words = [
                f"{line['words']}" + (f" ({line['note']})" if line["note"] and answer != NO else "") for line in rows
            ]
            sheets.flow(
                f"{ANSWERS.get(answer, 'Not answered')}: {'; '.join(words)}", RED if answer == NO else SMALL, x=14
            )


# ---- test flights ----


def draw_flights(sheets: Sheets) -> None:
    """Draw the section of the test phase."""
    found = of_file(sheets.facts, "flights")
    if not found:
        return
    sheets.start(TITLES["flights"], "flights")
    sheets.title(TITLES["flights"])
    sheets.strip(
        [
            ("Hours asked", f"{found['asked']} h" if found["asked"] else "not entered", 1),
            ("Flown", found["flown"], 1.4),
            ("Landings", f"{found['landings']:,}", 0.7),
            ("Area", found["area"] or nothing(sheets.facts), 1.6),
        ]
    )
    sheets.y -= 4
    sheets.flow(FLIGHTS_MEANING, SMALL)
    if found["asked_source"]:
        sheets.flow(f"From: {found['asked_source']}", SMALL)
    if found["wording"]:
        sheets.flow(f"In its words: {found['wording']}", SMALL)
    flights(sheets, found["flights"])
    points(sheets, found["points"])
    statements(sheets, found["statements"])
    if found["dates"]:
        sheets.subtitle("Days to come")
        for one in found["dates"]:
            sheets.flow(f"{on_day(one['on'])}: {one['words']}", SMALL)


def flights(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """The flights as a table, with what was written of each."""
    sheets.subtitle("Flights")
    if not rows:
        sheets.flow("None yet.", SMALL)
        return
    room = sheets.room
    columns = [
        (0, 34),
        (38, 64),
        (106, room - 374),
        (room - 262, 44),
        (room - 212, 46),
        (room - 160, 46),
        (room - 106, 52),
        (room - 48, 48),
    ]
    sides = ["", "", "", RIGHT, RIGHT, RIGHT, RIGHT, RIGHT]
    heads = ["No.", "Day", "Pilot", "Time", "Total", "Landings", "Weight", "Arm"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for one in rows:
        texts = [one["label"], on_day(one["flown_on"]), one["pilot"], one["time"], one["total"], f"{one['landings']:,}"]
        texts += [one["weight"], one["arm"]]
        cells = [Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)]
        sheets.row([Cell(*columns[0], one["label"], SMALL_BOLD), *cells[1:]], pad=1.6)
        flown = f"Points: {joined(one['points'])}." if one["points"] else ""
        if text := joined([flown, one["note"]], " "):
            sheets.row([Cell(38, room - 38, text, SMALL.but(color=let.QUIET))], pad=0, rule=None)
            sheets.y -= 1.6
    sheets.rule()


def points(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """The test points with what was found."""
    if not rows:
        return
    room = sheets.room
    columns = [(0, 34), (38, (room - 38) * 0.42), (38 + (room - 38) * 0.44, (room - 38) * 0.16)]
    columns.append((38 + (room - 38) * 0.62, (room - 38) * 0.38))
    sheets.subtitle("Test points")
    heads = ["No.", "Point", "Outcome", "Found"]
    sheets.header([Cell(x, w, t, SMALL) for (x, w), t in zip(columns, heads, strict=True)])
    for one in rows:
        words = joined([one["words"], one["limits"] and f"limits: {one['limits']}"], "; ")
        fate = one["discrepancy"] and f"discrepancy {one['discrepancy']}, {sheet(sheets, one['discrepancy'])}"
        texts = [one["label"], words, joined([one["outcome"], one["flight"]]), joined([one["found"], fate], "; ")]
        cells = [Cell(x, w, t, SMALL) for (x, w), t in zip(columns, texts, strict=True)]
        sheets.row([Cell(*columns[0], one["label"], SMALL_BOLD), *cells[1:]], pad=1.6)
    sheets.rule()


def statements(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Statements as they were made, with where their words are from."""
    if not rows:
        return
    sheets.subtitle("Statements")
    labels = {"vso": "Vso", "vx": "Vx", "vy": "Vy", "weight": "weight", "arm": "center of gravity"}
    for one in rows:
        sheets.y -= 4
        sheets.need(54)
        hours = f"{one['hours']} h" if one["hours"] else ""
        sheets.flow(joined([one["kind"], on_day(one["made_on"]), hours]), SMALL_BOLD)
        sheets.flow(f"“{one['text']}”", SMALL, x=14)
        figures = joined([f"{labels[name]} {figure}" for name, figure in one["figures"].items() if figure])
        lines = [
            f"Its words are from: {one['wording'].lower()}" + (f", {one['document']}" if one["document"] else ""),
            f"Figures: {figures}" if figures else "",
            f"Confirmed: {'; '.join(one['elements'])}" if one["elements"] else "",
            f"Entered by {one['entered_by']}",
        ]
        for line in filter(None, lines):
            sheets.flow(line, SMALL.but(color=let.QUIET), x=14)
