"""The sheets of what the record rests on: lots of material, tools with their certificates, documents."""

from typing import Any

from certification.pages.sheets import Cell, Sheets
from certification.pages.words import TITLES, joined, several
from foundation import lettering as let
from foundation.lettering import SMALL, SMALL_BOLD

LOTS_MEANING = (
    "Good until follows from the label, or from the months that the maker's sheet gives from making and from opening. "
    "The label on the container wins."
)
TOOLS_MEANING = "How a tool stands follows from what happened to it last, on the day of this print."
DOCUMENTS_MEANING = "Files are kept as they came, each with its digest; they are not printed here."


def draw(sheets: Sheets) -> None:
    """Draw the section of lots, tools and documents."""
    if "stores" not in sheets.facts:
        return
    facts = sheets.facts["stores"]
    sheets.start(TITLES["stores"], "stores")
    sheets.title(TITLES["stores"])
    lots(sheets, facts["lots"])
    tools(sheets, facts["tools"])
    documents(sheets, facts["documents"])


def lots(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Lots of material as a table."""
    sheets.anchor("lots", "Lots of material", 1)
    sheets.subtitle("Lots of material")
    if not rows:
        sheets.flow("None.", SMALL)
        return
    sheets.flow(LOTS_MEANING, SMALL)
    room = sheets.room
    columns = [(0, 52), (56, room - 350), (room - 288, 92), (room - 192, 76), (room - 112, 112)]
    heads = ["Lot", "Material", "Maker's lot", "Good until", "State, papers"]
    sheets.header([Cell(x, wide, text, SMALL) for (x, wide), text in zip(columns, heads, strict=True)])
    for lot in rows:
        dates = joined(
            [f"made {lot['made']}" if lot["made"] else "", f"opened {lot['opened']}" if lot["opened"] else ""]
        )
        texts = [
            lot["number"],
            joined([lot["name"], lot["supplier"], dates]),
            lot["maker_lot"],
            lot["good_until"] + (", past" if lot["past"] else ""),
            joined([lot["status"], *lot["papers"]]),
        ]
        cells = [Cell(x, wide, text, SMALL) for (x, wide), text in zip(columns, texts, strict=True)]
        cells[0] = Cell(*columns[0], texts[0], SMALL_BOLD)
        if lot["past"]:
            cells[3] = Cell(*columns[3], texts[3], SMALL_BOLD.but(color=let.RED))
        sheets.row(cells, pad=1.6)
    sheets.rule()


def tools(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Each tool with what happened to it, and what was looked at again since it was found bad."""
    sheets.anchor("tools", "Tools", 1)
    sheets.subtitle("Tools")
    if not rows:
        sheets.flow("None.", SMALL)
        return
    sheets.flow(TOOLS_MEANING, SMALL)
    for tool in rows:
        sheets.y -= 5
        sheets.need(16 + 11 * (1 + len(tool["events"])))
        sheets.flow(joined([f"{tool['number']} {tool['name']}", tool["kind"], *tool["papers"]]), SMALL_BOLD)
        sheets.flow(tool["standing"], SMALL if tool["usable"] else SMALL.but(color=let.RED), x=14)
        for event in tool["events"]:
            certificate = f"certificate {event['certificate_no']}" if event["certificate_no"] else ""
            sheets.flow(
                joined([event["on"], event["kind"], event["words"], certificate, *event["papers"]]), SMALL, x=14
            )
        for again in tool["rechecks"]:
            sheets.flow(
                f"{again['cited']} looked at again {again['on']}: {again['outcome']}. {again['words']}", SMALL, x=14
            )


def documents(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Documents as a list."""
    sheets.anchor("documents", "Documents", 1)
    sheets.subtitle("Documents")
    if not rows:
        sheets.flow("None.", SMALL)
        return
    sheets.flow(DOCUMENTS_MEANING, SMALL)
    for one in rows:
        sheets.y -= 4
        sheets.need(26)
        revision = f"revision {one['revision']}" if one["revision"] else ""
        sheets.flow(joined([f"{one['label']} {one['title']}", one["kind"], revision, one["dated"]]), SMALL_BOLD)
        about = f"about {several(one['about'])}" if one["about"] else ""
        sheets.flow(joined([one["file"], one["size"], one["short"], about]), SMALL, x=14)
