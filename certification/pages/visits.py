"""The sheets of visits: who came by which link, what he looked at and could not reach, what he found and signed."""

from typing import Any

from certification.pages.sheets import Sheets
from certification.pages.struck import STRUCK
from certification.pages.words import TITLES, counted, given, several
from foundation import lettering as let
from foundation.lettering import BODY, LABEL, SMALL, SMALL_BOLD

MEANING = (
    "A visit is made by a link that opens for one person only the areas and points listed here. "
    "Each opening in another browser is recorded."
)


def draw(sheets: Sheets) -> None:
    """Draw the section of visits."""
    if "visits" not in sheets.facts:
        return
    sheets.start(TITLES["visits"], "visits")
    sheets.title(TITLES["visits"])
    sheets.flow(MEANING, SMALL)
    if not sheets.facts["visits"]:
        sheets.y -= 6
        sheets.flow("No visits by link yet.", BODY)
    for visit in sheets.facts["visits"]:
        sheets.going_on = ""
        sheets.y -= 22
        sheets.need(130)
        draw_visit(sheets, visit)
    sheets.going_on = ""


def draw_visit(sheets: Sheets, visit: dict[str, Any]) -> None:
    """One visit."""
    name = f"{visit['label']} {visit['purpose']}"
    sheets.anchor(f"visit-{visit['label']}", f"{name}  {visit['person']}", 1)
    sheets.going_on = f"Visit {visit['label']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow("Visit", LABEL)
    sheets.flow(name, let.HEAD.but(size=13, leading=17))
    sheets.y -= 3
    sheets.strip(
        [
            ("By", visit["person"], 1.2),
            ("Link made", f"{visit['made']}, {visit['made_by']}", 1.3),
            ("Link", visit["link"], 1.3),
        ]
    )
    sheets.y -= 4
    if visit["revoked_reason"]:
        sheets.flow(f"Taken back, because: {visit['revoked_reason']}", SMALL)
    sheets.flow(f"To be looked at: {'; '.join(visit['things']) or 'nothing'}", SMALL)
    if not any(visit[part] for part in ("openings", "looks", "remarks", "signed")):
        sheets.flow("Not opened: nothing was looked at, remarked on or signed.", SMALL)
        return
    opened(sheets, visit["openings"])
    looks(sheets, visit["looks"])
    found = [f"{label} (sheet {sheets.sheet_of('discrepancy-' + label)})" for label in visit["remarks"]]
    part(sheets, "Remarks", [f"Became {several(found)}."] if found else ["None."])
    signed = [
        f"{one['outcome']}: {one['title']}, {one['at']}, {one['name']}, sheet {sheets.sheet_of(place_of(sheets, one))}"
        for one in visit["signed"]
    ]
    part(sheets, "Signed on this visit", signed or ["Nothing."])


def place_of(sheets: Sheets, signed: dict[str, Any]) -> str:
    """The key of the place where what was signed on a visit is drawn: that of the signature, or of its thing."""
    said = [signed[name] for name in ("kind", "number", "name", "at")]
    keys = [
        one.key
        for one in given(sheets.facts)
        if [one.kind, one.number, one.signature["name"], one.signature["at"]] == said
    ]
    return keys[0] if keys else f"{signed['kind']}-{signed['number']}"


def part(sheets: Sheets, title: str, lines: list[str]) -> None:
    """A title with its lines."""
    sheets.y -= 4
    sheets.need(28)
    sheets.flow(title, SMALL_BOLD)
    for line in lines:
        sheets.flow(line, SMALL, x=14)


def opened(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """When the link was opened, and on what."""
    told = [f"{row['at']} ({row['device']})" if row["device"] else row["at"] for row in rows]
    title = f"Opened {counted(len(rows), 'time')}" if rows else "Not opened"
    part(sheets, title, ["; ".join(told)] if told else [])


def looks(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """What was looked at and what could not be reached; what he said before of the same, struck."""
    part(sheets, "Looked at", [] if rows else ["Nothing was ticked."])
    for row in rows:
        words = f"{row['outcome']}: {row['label']}" + (f". {row['words']}" if row["words"] else "")
        sheets.flow(f"{words} ({row['at']})", SMALL if row["counts"] else STRUCK, x=14)
