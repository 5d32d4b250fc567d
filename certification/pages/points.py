"""The sheets of hold and witness points: what stops, what is invited to, who was called, who released it (rule R25)."""

from typing import Any

from certification.pages.beside import photos
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.signature import Under, draw_signatures
from certification.pages.struck import corrections, withdrawn
from certification.pages.words import TITLES, brief, joined
from foundation import lettering as let
from foundation.lettering import BODY, LABEL, SMALL, SMALL_BOLD

MEANING = (
    "A hold point stops what comes after it until the person named there has released it by signing. "
    "A witness point invites somebody to look, and lets work go on."
)


def draw(sheets: Sheets) -> None:
    """Draw the section of points: all of them in a table, then each by itself."""
    facts = sheets.facts
    if "points" not in facts:
        return
    sheets.start(TITLES["points"], "points")
    sheets.title(TITLES["points"])
    sheets.flow(MEANING, SMALL)
    if facts["points"]:
        table(sheets, facts["points"])
    else:
        sheets.y -= 6
        sheets.flow("No hold or witness points yet.", BODY)
    for point in facts["points"]:
        sheets.going_on = ""
        sheets.y -= 24
        sheets.need(150)
        draw_point(sheets, point)
    withdrawn(sheets, "Withdrawn points", "withdrawn-points", facts["withdrawn_points"])
    sheets.going_on = ""


def table(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Every point in one line, with its sheet."""
    room = sheets.room
    columns = [(0, 52), (58, room - 58 - 296), (room - 290, 122), (room - 162, 128), (room - 30, 30)]
    sides = ["", "", "", "", RIGHT]
    sheets.y -= 6
    heads = ["Number", "What is to be seen", "Where", "State", "Sheet"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for point in rows:
        style = SMALL_BOLD.but(color=let.RED) if point["stops"] else SMALL
        texts = [
            (point["number"], SMALL_BOLD),
            (brief(point["words"]), SMALL),
            (brief(point["part"] or point["assembly"], 60), SMALL),
            (f"{point['kind']}: {point['state_words']}", style),
            (sheets.sheet_of(key_of(point)), SMALL),
        ]
        cells = [Cell(x, w, t, st, s) for (x, w), (t, st), s in zip(columns, texts, sides, strict=True)]
        sheets.row(cells, pad=1.6)
    sheets.rule()


def key_of(point: dict[str, Any]) -> str:
    return f"point-{point['number']}"


def draw_point(sheets: Sheets, point: dict[str, Any]) -> None:
    """One point."""
    name = f"{point['number']} {point['words']}"
    sheets.anchor(key_of(point), f"{name}  {point['state_words']}", 1)
    sheets.going_on = f"Point {point['number']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow(point["kind"], LABEL)
    sheets.flow(name, let.HEAD.but(size=13, leading=17))
    sheets.y -= 3
    cells = [("Where", joined([point["part"], point["assembly"]]), 1.6)]
    cells += [("At which step", point["step"], 1.2)] if point["step"] else []
    sheets.strip([*cells, ("May release it", point["releaser"], 0.9), ("State", point["state_words"], 1)])
    sheets.y -= 4
    if point["detail"]:
        sheets.flow(f"What it must show: {point['detail']}", SMALL)
    for call in point["calls"]:
        sheets.flow(call["what"], SMALL_BOLD)
        words = f"{call['words']} " if call["words"] else ""
        sheets.flow(f"{words}({call['by']}, {call['at']})", SMALL, x=14)
    photos(sheets, point["photos"])
    draw_signatures(sheets, Under(key_of(point), point["number"], name, point["assembly"]), point["signatures"])
    corrections(sheets, point["corrections"])
