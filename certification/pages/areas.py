"""The sheets of enclosed areas: what is asked, what is in place, signatures, closings and reopenings."""

from typing import Any

from certification.pages import marks
from certification.pages.beside import small, small_height
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.signature import Under, draw_signatures
from certification.pages.struck import STRUCK, corrections, withdrawn
from certification.pages.words import TITLES, because, brief, counted, days_in_words, given, joined, named
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD

MOST_BAYS = 26
LOOKED = "Who looked, and what was signed"
WAITS = {"discrepancy": ("Open discrepancy", "discrepancy"), "point": ("Hold point not released", "point")}


def draw(sheets: Sheets) -> None:
    """Draw the section of areas."""
    sheets.start(TITLES["areas"], "areas")
    sheets.title("Areas and signatures")
    if sheets.facts["areas"]:
        index(sheets, sheets.facts["areas"])
    else:
        sheets.flow("No enclosed areas yet.", BODY)
    who_looked(sheets)
    for area in sheets.facts["areas"]:
        sheets.going_on = ""
        sheets.y -= 26
        sheets.need(110 + sum(item_height(sheets, item) for item in area["items"][:1]))
        draw_area(sheets, area)
    withdrawn(sheets, "Withdrawn areas", "withdrawn-areas", sheets.facts.get("withdrawn_areas", []))
    sheets.going_on = ""


def key_of(area: dict[str, Any]) -> str:
    return f"area-{area['number']}"


def index(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Every area in one line, with its sheet."""
    room = sheets.room
    columns = [(0, room - 336), (room - 328, 132), (room - 188, 152), (room - 30, 30)]
    sides = ["", "", "", RIGHT]
    heads = ["Enclosed area", "Assembly", "State", "Sheet"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for area in rows:
        texts = [
            f"{area['number']} {area['name']}",
            area["assembly"],
            state_words(area),
            sheets.sheet_of(key_of(area)),
        ]
        cells = [Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)]
        sheets.row([Cell(*columns[0], texts[0], SMALL_BOLD), *cells[1:]], pad=1.6)
    sheets.rule()


def who_looked(sheets: Sheets) -> None:
    """Every signature under an area, a point or a discrepancy in one line, with its sheet."""
    rows, room = given(sheets.facts), sheets.room
    sheets.subtitle(LOOKED)
    sheets.anchor("signatures", LOOKED, 1)
    if not rows:
        sheets.flow("Nobody has signed yet.", SMALL)
        return
    columns = [(0, room - 388), (room - 380, 106), (room - 266, 122), (room - 136, 100), (room - 30, 30)]
    sides = ["", "", "", "", RIGHT]
    heads = ["Under", "By", "When", "Outcome", "Sheet"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for one in rows:
        signature = one.signature
        refused = not signature.get("accepted", True)
        outcome = [
            "Not accepted" if refused else "Accepted",
            "self-inspected" if signature["self_inspected"] else "",
            "then changed" if signature["changes"] else "",
            "opened again since" if signature.get("void") else "",
        ]
        texts = [
            brief(f"{one.number} {one.thing.get('name') or one.thing['words']}"),
            named(signature["name"], signature["role"]),
            signature["at"],
            joined(outcome),
            sheets.sheet_of(one.key),
        ]
        cells = [Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)]
        if refused:
            cells[3] = Cell(*columns[3], texts[3], SMALL_BOLD.but(color=let.RED))
        sheets.row(cells, pad=1.6)
    sheets.rule()


def draw_area(sheets: Sheets, area: dict[str, Any]) -> None:
    """One area."""
    name = f"{area['number']} {area['name']}"
    sheets.anchor(key_of(area), f"{name}  {area['state_words']}", 1)
    sheets.going_on = f"Area {area['number']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow("Enclosed area", LABEL)
    sheets.flow(name, let.HEAD.but(size=15, leading=19))
    sheets.y -= 3
    sheets.strip([("Assembly", area["assembly"], 1.5), ("Kind", area["kind"], 1), ("State", state_words(area), 1.3)])
    if 0 < len(area["items"]) <= MOST_BAYS:
        sheets.y -= 30
        marks.seam(
            sheets.canvas,
            sheets.left,
            sheets.y,
            sheets.room,
            [(str(i["position"]), i["in_place"]) for i in area["items"]],
        )
    sheets.y -= 8
    if area.get("list"):
        sheets.flow(f"Set up from the list {days_in_words(area['list'])}.", SMALL)
    lost(sheets, area.get("lost", []))
    if not area["items"]:
        sheets.flow("Nothing is asked for by this gate.", SMALL)
    for item in area["items"]:
        draw_item(sheets, item)
    for wait in area.get("waits", []):
        draw_wait(sheets, wait)
    for item in area.get("dropped", []):
        draw_dropped(sheets, item)
    draw_signatures(sheets, Under(key_of(area), area["number"], name, area["assembly"]), area["signatures"])
    for closing in area["closings"]:
        draw_closing(sheets, closing)
    explained(sheets, area.get("explained", []))
    corrections(sheets, area.get("corrections", []))


def state_words(area: dict[str, Any]) -> str:
    """The state, with how many items are missing and how much else is waited for."""
    missing = sum(not item["in_place"] for item in area["items"])
    waits = len(area.get("waits", []))
    more = joined([f"{missing} missing" if missing else "", f"waits for {waits} more" if waits else ""])
    return area["state_words"] + (f": {more}" if more else "")


def lost(sheets: Sheets, lacks: list[str]) -> None:
    """What a closed area asked for and is not in place now: it stays closed, and this is told."""
    if not lacks:
        return
    sheets.need(40)
    marks.corners(sheets.canvas, sheets.left + 4, sheets.y - 11, 8, 8)
    words = "Closed, and not everything it asked for is in place now"
    sheets.flow(words, SMALL_BOLD.but(color=let.RED), x=26)
    sheets.flow("; ".join(lacks), SMALL, x=26)
    sheets.y -= 4


def item_height(sheets: Sheets, item: dict[str, Any]) -> float:
    """The room for the beginning of an item with its first pictures."""
    return 56 + small_height(sheets, item["photos"])


def draw_item(sheets: Sheets, item: dict[str, Any]) -> None:
    """One item: in place or missing in words, what it asks for, what was supplied, struck what no longer counts."""
    sheets.need(item_height(sheets, item))
    sheets.rule()
    sheets.y -= 3
    color = let.INK if item["in_place"] else let.RED
    c, top, sheet = sheets.canvas, sheets.y, sheets.number
    marks.balloon(c, sheets.left + 9, top - 12, str(item["position"]), color)
    if item["in_place"]:
        marks.tick(c, sheets.left + 26, top - 10)
    else:
        marks.corners(c, sheets.left + 26, top - 10, 8, 8)
    sheets.flow(f"{'In place' if item['in_place'] else 'Missing'} · {item['kind']}", SMALL_BOLD.but(color=color), x=40)
    sheets.flow(item["words"], BOLD, x=26)
    for words in told(item):
        sheets.flow(words, SMALL, x=26)
    for words in item.get("earlier", []):
        sheets.flow(f"Answer: {words}", STRUCK, x=26)
    if item["answer"]:
        sheets.flow(f"Answer: {item['answer']}", SMALL, x=26)
    if item["late"]:
        sheets.flow(f"Sent in after closing: {', '.join(item['late'])}", SMALL_BOLD, x=26)
    small(sheets, item["photos"])
    if sheets.number == sheet:
        sheets.y = min(sheets.y, top - 24)
    sheets.y -= 4


def told(item: dict[str, Any]) -> list[str]:
    """What an item asks for and why it is not in place; what the reason says as well is not said twice."""
    asks = item.get("asks", "")
    words = [item["detail"], "" if asks and asks in item["why"] else asks, item["why"], *item.get("records", [])]
    return list(filter(None, [*words, item.get("inner", "")]))


def draw_wait(sheets: Sheets, wait: dict[str, Any]) -> None:
    """Something that has to be settled before the area may be closed, with the sheet on which it stands."""
    words, key = WAITS[wait["kind"]]
    sheets.need(40)
    sheets.rule()
    sheets.y -= 3
    marks.corners(sheets.canvas, sheets.left + 5, sheets.y - 10, 8, 8)
    sheets.flow(f"Waits · {words}", SMALL_BOLD.but(color=let.RED), x=26)
    sheets.flow(f"{wait['label']} {wait['words']}", BODY, x=26)
    sheets.flow(f"See sheet {sheets.sheet_of(key + '-' + wait['label'])}.", SMALL, x=26)
    sheets.y -= 4


def draw_dropped(sheets: Sheets, item: dict[str, Any]) -> None:
    """An item that is no longer asked for, struck, with the reason and what was given for it."""
    sheets.need(40)
    sheets.rule()
    sheets.y -= 3
    sheets.flow(f"No longer asked for · {item['kind']}", SMALL_BOLD, x=26)
    sheets.flow(f"{item['position']} {item['words']}", BODY.but(struck=True, color=let.QUIET), x=26)
    for words in item["given"]:
        sheets.flow(words, STRUCK, x=26)
    by = f" by {item['by']}" if item["by"] else ""
    sheets.flow(f"Dropped {item['at']}{by}{because(item['reason'])}", SMALL, x=26)
    sheets.y -= 4


def draw_closing(sheets: Sheets, closing: dict[str, Any]) -> None:
    """A closing; what was missing and why it was closed all the same stays for ever (rule R22); then a reopening."""
    sheets.y -= 8
    sheets.need(40)
    c, top = sheets.canvas, sheets.y
    c.saveState()
    c.setStrokeColor(let.INK)
    c.setLineWidth(1)
    c.setDash([3.5, 2.3])
    c.rect(sheets.left + 3, top - 15, 12, 12)
    c.restoreState()
    c.setLineWidth(1.6)
    c.setStrokeColor(let.INK)
    c.line(sheets.left + 3, top - 9, sheets.left + 15, top - 9)
    how = "Closed with something missing" if closing["missing"] else "Closed, nothing missing"
    sheets.flow(f"{how}, {closing['closed']}, {closing['by']}", BOLD, x=26)
    if closing["missing"]:
        sheets.flow(f"Missing: {'; '.join(closing['missing'])}", SMALL_BOLD.but(color=let.RED), x=26)
        sheets.flow(f"Reason: {closing['reason'] or 'none given'}", SMALL, x=26)
    if closing["reopened"]:
        sheets.flow(f"Reopened {closing['reopened']}, {closing['reopened_by']}", BOLD, x=26)
        sheets.flow(f"Reason: {closing['reopen_reason'] or 'none given'}", SMALL, x=26)


def explained(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Sessions worked on the assembly after closing that did not touch the inside, each as it was told (rule R23)."""
    if not rows:
        return
    sheets.y -= 8
    sheets.need(44)
    sheets.flow(f"Work on the assembly after closing: {counted(len(rows), 'session')}, not on the inside", BOLD, x=26)
    for row in rows:
        at = f"Session {row['session']}, {row['day']}, sheet {sheets.sheet_of('session-' + str(row['session']))}"
        sheets.flow(f"{at}: {row['words']}", SMALL, x=26)
        sheets.flow(f"Told by {row['by']}, {row['at']}", SMALL.but(color=let.QUIET), x=26)
