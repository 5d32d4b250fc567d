"""The report about weight and balance as a PDF: identity, readings, computation, limits, cases, plot, who and when."""

from io import BytesIO
from typing import Any

from certification.pages import paper
from certification.pages.balance_plot import WIDE, Plot, Spots, plot
from certification.pages.sheets import RIGHT, Cell, Plan, Sheets
from foundation import lettering as let
from foundation.drawing import Blank
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD

TINY = SMALL.but(size=8, leading=10)
SECTION = "Weight and balance"
KINDS = {"scale": "", "off": "taken off", "on": "added"}


def report(facts: dict[str, Any]) -> bytes:
    """Draw the facts of `certification.queries.balance_report`; the same facts give the same bytes."""
    let.load()
    plan = draw(Sheets(Blank(), facts, Plan()))
    project = facts["project"]
    whose = ", ".join(part for part in (project["name"], project["registration"]) if part)
    canvas = paper.new_canvas(facts, f"Weight and balance of {whose}", facts["printed_by"])
    draw(Sheets(canvas, facts, plan))
    out = BytesIO()
    paper.write(canvas, facts, out)
    return out.getvalue()


def draw(sheets: Sheets) -> Plan:
    """One pass over the report."""
    found = sheets.facts["balance"]
    sheets.start(SECTION, "balance")
    sheets.title("Weight and balance report")
    identity(sheets)
    draw_balance(sheets, found)
    sign_here(sheets)
    return sheets.end()


def draw_balance(sheets: Sheets, found: dict[str, Any]) -> None:
    """Readings, computation, limits, cases and plot under the pen."""
    if found["empty"]:
        weighing(sheets, found["empty"])
    else:
        sheets.subtitle("Empty aircraft")
        sheets.flow("No weighing is finished yet. What follows cannot be worked out.", BOLD)
    limits(sheets, found)
    cases(sheets, found)
    drawn = plot(found["figure"], WIDE)
    if drawn is not None and (drawn.limits or drawn.reach):
        picture(sheets, drawn)
    rules(sheets, found)


def identity(sheets: Sheets) -> None:
    """The aircraft exactly as registered (rule R52)."""
    project = sheets.facts["project"]
    sheets.strip(
        [
            ("Aircraft", project["name"], 1.3),
            ("Model", project["model_designation"] or "not given", 1.1),
            ("Serial number", project["serial_number"] or "not given", 0.9),
            ("Marks", project["registration"] or "not given", 0.9),
            ("Builder", project["builder_name"] or "not given", 1.3),
        ]
    )
    sheets.y -= 4


def weighing(sheets: Sheets, one: dict[str, Any]) -> None:
    """What was read, and every step to the empty aircraft."""
    sheets.subtitle(f"Weighing {one['label']}, {one['date']}")
    sheets.facts_table(
        [
            ("Weighed by", one["by"] + (f", witness {one['witness']}" if one["witness"] else "")),
            ("Place", one["place"]),
            ("Datum", one["datum"]),
            ("Level", one["level"]),
            ("Condition", one["condition"]),
        ]
        + ([("Note", one["note"])] if one["note"] else [])
    )
    wide = sheets.room
    at = [0, wide * 0.24, wide * 0.40, wide * 0.53, wide * 0.68, wide * 0.83, wide]

    def line(texts: list[str], style: Any) -> list[Cell]:
        return [Cell(at[n], at[n + 1] - at[n] - 8, text, style, RIGHT if n else "") for n, text in enumerate(texts)]

    sheets.y -= 6
    sheets.header(line(["Under", "Reading", "Tare", "Net", "Arm", "Moment"], BODY))
    for step in one["steps"]:
        name = f"{step['name']}{', ' + KINDS[step['kind']] if KINDS[step['kind']] else ''}"
        sheets.row(line([name, step["typed"], step["tare"], step["net"], step["arm"], step["moment"]], BODY))
    sheets.row(
        line(["Empty aircraft", "", "", one["weight"], one["arm"], one["moment"]], BOLD), rule=let.INK, weight=1.0
    )
    sheets.rule(let.INK, 1.0)
    sheets.y -= 4
    sheets.flow(f"Empty weight {one['weight']}, center of gravity {one['center']} (moment / weight).", BOLD)
    under: dict[str, list[str]] = {}
    for scale in one["scales"]:
        mark = "DOUBTFUL. " if scale["doubtful"] else ""
        said = f"{mark}{scale['tool']}. {scale['tool_words']}" if scale["tool"] else scale["tool_words"]
        under.setdefault(said, []).append(scale["name"])
    for said, names in under.items():
        sheets.flow(f"Scale under {', '.join(names)}: {said}", SMALL)


def limits(sheets: Sheets, found: dict[str, Any]) -> None:
    """Limits and what is loaded, with where they are from."""
    sheets.subtitle("Limits and what is loaded")
    if not found["limits"]:
        sheets.flow("No limits are entered: no case is judged.", BOLD)
    else:
        one = found["limits"]
        lines = [
            (f"{words} limit", ";  ".join(f"{corner['arm']} at {corner['weight']}" for corner in one[side]))
            for side, words in (("forward", "Forward"), ("aft", "Aft"))
        ]
        sheets.facts_table([("Most weight", one["most"]), *lines, ("From", one["source"])])
    if found["items"]:
        wide = sheets.room
        at = [0, wide * 0.28, wide * 0.43, wide * 0.56, wide * 0.69, wide]
        sheets.y -= 4
        heads = ["Item", "Arm", "Least", "Most", "From"]
        sheets.header([Cell(at[n], at[n + 1] - at[n] - 8, text) for n, text in enumerate(heads)])
        for item in found["items"]:
            texts = [item["name"], item["arm"], item["least"], item["most"], item["source"] or "not said"]
            sheets.row([Cell(at[n], at[n + 1] - at[n] - 8, text) for n, text in enumerate(texts)])


def cases(sheets: Sheets, found: dict[str, Any]) -> None:
    """Each case with what is aboard, weight, center, room, inside or outside."""
    if not found["cases"]:
        return
    sheets.subtitle("Loading cases", keep=50)
    wide = sheets.room
    at = [0, 22, wide * 0.47, wide * 0.58, wide * 0.70, wide * 0.80, wide * 0.90, wide]
    sides = ["", "", *[RIGHT] * 5]

    def line(texts: list[str], style: Any) -> list[Cell]:
        return [Cell(at[n], at[n + 1] - at[n] - 8, text, style, sides[n]) for n, text in enumerate(texts)]

    sheets.going_on = "Loading cases"
    heads = ["No.", "Case, and what is aboard", "Weight", "Center", "To forward", "To aft", "To most"]
    sheets.header(line(heads, BODY))
    for one in found["cases"]:
        aboard = ", ".join(f"{load['name']} {load['weight']}" for load in one["aboard"]) or "nothing"
        name = f"{one['name']}{' (computed)' if one['computed'] else ''}: {aboard}"
        rooms = [one["room_forward"], one["room_aft"], one["room_weight"]]
        sheets.row(line([str(one["number"]), name, one["weight"], one["arm"], *rooms], SMALL))
        style = SMALL_BOLD.but(color=let.RED) if one["inside"] is False else SMALL_BOLD
        words = one["words"] if one["inside"] is not False else one["words"].replace("Outside", "OUTSIDE", 1)
        sheets.flow(words, style, x=22)
        sheets.y -= 2
    sheets.going_on = ""
    if found["full"]:
        sheets.flow(found["full"], SMALL)
    for trouble in found["troubles"]:
        sheets.flow(trouble, BOLD)


def rules(sheets: Sheets, found: dict[str, Any]) -> None:
    """Rules with their sources, and the caution."""
    sheets.y -= 6
    for rule in found["rules"]:
        sheets.flow(f"{rule['words'][:1].upper()}{rule['words'][1:]}. From: {rule['source']}.", TINY)
    sheets.y -= 4
    sheets.flow(found["caution"], BOLD)


def sign_here(sheets: Sheets) -> None:
    """A line to sign by hand, in a frame."""
    sheets.y -= 6
    tall = 46.0
    sheets.need(tall)
    c = sheets.canvas
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.75)
    base = sheets.y - tall + 14
    at = sheets.left
    for words, share in (("Date", 0.2), ("Name", 0.36), ("Signature", 0.44)):
        wide = sheets.room * share
        c.line(at, base, at + wide - 12, base)
        sheets.at(at, base - 11, words, LABEL, wide - 12)
        at += wide
    sheets.y -= tall


# ---- the plot ----


def picture(sheets: Sheets, drawn: Plot) -> None:
    """The plot as on the page: limits, all that can be loaded, the numbered cases."""
    size = drawn.size
    scale = min(0.55, sheets.room / size.width)
    tall = size.height * scale
    sheets.subtitle("Weight over center of gravity", keep=tall + 30)
    c = sheets.canvas
    c.saveState()
    # The plot's y goes down from its upper edge.
    c.translate(sheets.left, sheets.y)
    c.scale(scale, scale)
    for row in drawn.rows:
        stroke(c, let.HAIR, 0.6, [(size.left, row.at), (drawn.end, row.at)])
        words(sheets, drawn.tick_end, row.at + 4, row.words, "end")
    for column in drawn.columns:
        stroke(c, let.HAIR, 0.6, [(column.at, size.top), (column.at, drawn.base)])
        words(sheets, column.at, drawn.foot_y - 4, column.words, "middle")
    stroke(c, let.INK, 1.0, [(size.left, size.top), (size.left, drawn.base), (drawn.end, drawn.base)])
    area(c, drawn.reach)
    stroke(c, let.INK, 1.0, closed(drawn.reach), [3, 3])
    stroke(c, let.INK, 2.4, closed(drawn.limits))
    if drawn.most_y is not None:
        stroke(c, let.RED, 1.2, [(size.left, drawn.most_y), (drawn.end, drawn.most_y)], [8, 4])
        words(sheets, size.left + 6, drawn.most_y - 5, "most weight")
    words(sheets, drawn.middle, drawn.unit_y - 4, f"center of gravity aft of the datum, {drawn.length}", "middle")
    words(sheets, size.left - 44, size.top - 12, f"weight, {drawn.mass}")
    cross(c, *drawn.empty)
    words(sheets, drawn.empty_x, drawn.empty_words_y, "empty", "middle")
    for mark in drawn.marks:
        ring(sheets, mark)
    c.restoreState()
    sheets.y -= tall
    sheets.flow(
        "Heavy line: the limits. Shaded: all that can be loaded. A circle is a case inside, a red square one outside.",
        SMALL,
    )


def closed(spots: Spots) -> Spots:
    return [*spots, *spots[:1]]


def stroke(c: Any, color: Any, width: float, spots: Spots, dash: list[float] | None = None) -> None:
    """One open line in the plot's own units."""
    if len(spots) < 2:
        return
    c.setStrokeColor(color)
    c.setLineWidth(width)
    c.setDash(dash or [])
    c.drawPath(outline(c, spots), stroke=1, fill=0)
    c.setDash([])


def outline(c: Any, spots: Spots) -> Any:
    line = c.beginPath()
    line.moveTo(spots[0][0], -spots[0][1])
    for x, y in spots[1:]:
        line.lineTo(x, -y)
    return line


def area(c: Any, spots: Spots) -> None:
    """All that can be loaded, shaded."""
    if len(spots) < 3:
        return
    c.setFillColorRGB(0.9, 0.9, 0.9)
    c.drawPath(outline(c, closed(spots)), stroke=0, fill=1)


def cross(c: Any, x: float, y: float) -> None:
    stroke(c, let.INK, 1.6, [(x - 6, y - 6), (x + 6, y + 6)])
    stroke(c, let.INK, 1.6, [(x - 6, y + 6), (x + 6, y - 6)])


def ring(sheets: Sheets, mark: Any) -> None:
    """The number of a case: in a circle inside the limits, in a square outside."""
    c = sheets.canvas
    color = let.INK if mark.inside else let.RED
    stroke(c, color, 0.9, [(mark.point_x, mark.point_y), (mark.x, mark.y)])
    c.setStrokeColor(color)
    c.setLineWidth(1.4)
    c.setFillColor(color)
    c.circle(mark.point_x, -mark.point_y, 3.2, stroke=0, fill=1)
    c.setFillColor(let.PAPER)
    if mark.inside:
        c.circle(mark.x, -mark.y, 11, stroke=1, fill=1)
    else:
        c.rect(mark.x - 11, -mark.y - 11, 22, 22, stroke=1, fill=1)
    words(sheets, mark.x, mark.y + 4, str(mark.number), "middle")


def words(sheets: Sheets, x: float, y: float, text: str, anchor: str = "") -> None:
    """Small words in the plot."""
    style = TINY.but(size=12, leading=14)
    told = sheets.clean(text, style.font)
    wide = let.width(told, style)
    left = x - wide if anchor == "end" else x - wide / 2 if anchor == "middle" else x
    let.draw(sheets.canvas, left, -y, told, style)
