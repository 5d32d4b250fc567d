"""The sheets of enclosed areas: what is asked, what is in place, signatures, closings and reopenings."""

from typing import Any

from certification.pages import marks
from certification.pages.sessions import caption, frame
from certification.pages.sheets import Cell, Sheets
from certification.pages.signature import draw_signature
from certification.pages.words import TITLES
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD, SMALL_CODE

PICTURE_WIDTH, PICTURE_HEIGHT, PICTURE_GAP = 112.0, 84.0, 9.0
MOST_BAYS = 26


def draw(sheets: Sheets) -> None:
    """Draw the section of areas."""
    sheets.start(TITLES["areas"], "areas")
    sheets.title("Areas and signatures")
    if not sheets.facts["areas"]:
        sheets.flow("No enclosed areas yet.", BODY)
    for place, area in enumerate(sheets.facts["areas"]):
        sheets.going_on = ""
        if place:
            sheets.y -= 26
            sheets.need(190)
        draw_area(sheets, area)
    sheets.going_on = ""


def draw_area(sheets: Sheets, area: dict[str, Any]) -> None:
    """One area."""
    name = f"{area['number']} {area['name']}"
    sheets.anchor(f"area-{area['number']}", f"{name}  {area['state_words']}", 1)
    sheets.going_on = f"Area {area['number']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow("Enclosed area", LABEL)
    sheets.flow(name, let.HEAD.but(size=15, leading=19))
    sheets.y -= 3
    missing = sum(not item["in_place"] for item in area["items"])
    state = area["state_words"] + (f": {missing} missing" if missing else "")
    sheets.strip([("Assembly", area["assembly"], 1.5), ("Kind", area["kind"], 1), ("State", state, 1.3)])
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
    if not area["items"]:
        sheets.flow("Nothing is asked for by this gate.", SMALL)
    for item in area["items"]:
        draw_item(sheets, item)
    for signature in area["signatures"]:
        draw_signature(sheets, area, signature)
    for closing in area["closings"]:
        draw_closing(sheets, closing)


def draw_item(sheets: Sheets, item: dict[str, Any]) -> None:
    """One item: in place or missing in words, what it asks for, what was supplied."""
    sheets.need(44 + (PICTURE_HEIGHT + 30 if item["photos"] else 0))
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
    for words in (item["detail"], item["why"], item["answer"] and f"Answer: {item['answer']}"):
        if words:
            sheets.flow(words, SMALL, x=26)
    if item["late"]:
        sheets.flow(f"Sent in after closing: {', '.join(item['late'])}", SMALL_BOLD, x=26)
    small_pictures(sheets, item["photos"])
    if sheets.number == sheet:
        sheets.y = min(sheets.y, top - 24)
    sheets.y -= 4


def small_pictures(sheets: Sheets, labels: list[str]) -> None:
    """The photos of an item in rows of small pictures, each with label, caption, when taken and how that is known."""
    left = 26.0
    each = int((sheets.room - left + PICTURE_GAP) / (PICTURE_WIDTH + PICTURE_GAP))
    for start in range(0, len(labels), each):
        columns = [
            (left + n * (PICTURE_WIDTH + PICTURE_GAP), label) for n, label in enumerate(labels[start : start + each])
        ]
        texts = [caption(sheets, label).replace("\n", " ") for _, label in columns]
        lines = max(len(sheets.lines(text, SMALL, PICTURE_WIDTH)) for text in texts)
        sheets.y -= 4
        sheets.need(PICTURE_HEIGHT + 12 * min(lines + 1, 16) + 3)
        for x, label in columns:
            frame(sheets, label, sheets.left + x, sheets.y - PICTURE_HEIGHT, PICTURE_WIDTH, PICTURE_HEIGHT)
        sheets.y -= PICTURE_HEIGHT + 3
        sheets.row([Cell(x, PICTURE_WIDTH, label, SMALL_CODE) for x, label in columns], pad=0, rule=None)
        sheets.row(
            [Cell(x, PICTURE_WIDTH, t, SMALL) for (x, _), t in zip(columns, texts, strict=True)], pad=0, rule=None
        )


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
