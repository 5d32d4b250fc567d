"""The sheets of process records: each kind in a table with verdicts, then what needs more room than a line.

A layup comes with its ply schedule, a cure with its plot, and whatever has a bad verdict with all that was recorded.
The rules that judge stand once, at the end of the section, under the numbers that the verdicts name.
"""

from re import finditer
from typing import Any

from certification.pages.pictures import small_pictures
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.struck import corrections, withdrawn
from certification.pages.words import TITLES, brief, counted, joined
from foundation import lettering as let
from foundation.lettering import BODY, LABEL, SMALL, SMALL_BOLD
from process.rules.schedule import MIDDLE, RING, rosette

MEANING = (
    "What vanishes at cure is recorded before: plies, mixes, vacuum, temperatures, torque, weights. A verdict is a "
    "computation by the rule whose number it names; the rules stand at the end of this section. It is no approval: "
    "plan, maker's data and local rules decide. A record that is not finished has no verdict yet."
)
GOOD, BAD = "good", "bad"
RANKS = (BAD, "open", GOOD)
ROSE = 22.0

type Rules = dict[tuple[str, str, str], int]


def draw(sheets: Sheets) -> None:
    """Draw the section of process records."""
    facts = sheets.facts
    if "process" not in facts:
        return
    sheets.start(TITLES["process"], "process")
    sheets.title(TITLES["process"])
    sheets.flow(MEANING, SMALL)
    if not facts["process"]:
        sheets.y -= 6
        sheets.flow("No process records yet.", BODY)
    rules = numbered_rules(facts["process"])
    for noun in dict.fromkeys(one["noun"] for one in facts["process"]):
        table(sheets, noun, [one for one in facts["process"] if one["noun"] == noun], rules)
    for one in facts["process"]:
        if wants_room(one):
            draw_record(sheets, one, rules)
    sheets.going_on = ""
    draw_rules(sheets, rules)
    withdrawn(sheets, "Withdrawn process records", "withdrawn-process", facts["withdrawn_process"])
    sheets.going_on = ""


def numbered_rules(rows: list[dict[str, Any]]) -> Rules:
    """Every rule that judged something, with the number by which verdicts name it."""
    said = [rule_of(verdict) for one in rows for verdict in one["verdicts"] if verdict["rule"]]
    return {rule: number for number, rule in enumerate(dict.fromkeys(said), 1)}


def rule_of(verdict: dict[str, Any]) -> tuple[str, str, str]:
    return verdict["rule"], verdict["source"], verdict["caution"]


def wants_room(one: dict[str, Any]) -> bool:
    """Whether a record is drawn by itself, too."""
    return bool(one["state"] == BAD or one.get("plies") or one.get("plot") or one["corrections"] or one.get("marked"))


def key_of(one: dict[str, Any]) -> str:
    return f"process-{one['label']}"


def table(sheets: Sheets, noun: str, rows: list[dict[str, Any]], rules: Rules) -> None:
    """The records of one kind, one row each."""
    bad = sum(one["state"] == BAD for one in rows)
    sheets.going_on = ""
    sheets.subtitle(f"{noun}: {counted(len(rows), 'record')}" + (f", {bad} with a bad verdict" if bad else ""), keep=60)
    room = sheets.room
    left, widths = 0.0, (36, 124, 82, 84, room - 376, 26)
    columns = []
    for wide in widths:
        columns.append((left, float(wide)))
        left += wide + 4.8
    sides = ["", "", "", "", "", RIGHT]
    heads = ["No.", "What", "Where", "Done", "Verdict", "Sheet"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for one in rows:
        style = SMALL_BOLD.but(color=let.RED) if one["state"] == BAD else SMALL
        texts = [
            (one["label"], SMALL_BOLD),
            (joined([brief(one["title"], 70), *map(brief, one.get("with", [])[:2]), *one["photos"]]), SMALL),
            (brief(one["part"] or one["assembly"], 60), SMALL),
            (f"{one['done']}, {one['by']}", SMALL),
            (verdict_line(one, rules), style),
            (sheets.sheet_of(key_of(one)) if wants_room(one) else "", SMALL),
        ]
        sheets.row([Cell(x, w, t, st, s) for (x, w), (t, st), s in zip(columns, texts, sides, strict=True)], pad=1.6)
    sheets.rule()


def verdict_line(one: dict[str, Any], rules: Rules) -> str:
    """The state, and the words that lead to it: what is bad, or else what waits, or else the first that is good."""
    ranked = sorted(one["verdicts"], key=lambda each: RANKS.index(each["state"]))
    worst = [each for each in ranked if each["state"] == ranked[0]["state"]]
    told = worst[:1] if one["state"] == GOOD else worst[:3]
    words = "; ".join(f"{brief(each['words'].rstrip('.'), 80)}{number(each, rules)}" for each in told)
    state = one["state_words"].capitalize() if one["finished"] else "Not finished"
    return f"{state}. {words}" if words else f"{state}."


def number(verdict: dict[str, Any], rules: Rules) -> str:
    """The number of its rule, in brackets."""
    found = rules.get(rule_of(verdict))
    return f" [{found}]" if found else ""


# ---- one by one ----


def draw_record(sheets: Sheets, one: dict[str, Any], rules: Rules) -> None:
    """One record with what belongs to it."""
    sheets.going_on = ""
    sheets.y -= 20
    sheets.need(110)
    name = f"{one['noun']} {one['label']}"
    sheets.anchor(key_of(one), f"{name} {brief(one['title'], 60)}  {one['state_words']}", 1, closed=True)
    sheets.going_on = f"Record {one['label']}"
    sheets.on_sheet.append(sheets.going_on)
    sheets.flow(one["noun"], LABEL)
    sheets.flow(joined([one["label"], one["title"]], " "), let.HEAD.but(size=13, leading=17))
    sheets.y -= 3
    sheets.strip(
        [
            ("Where", joined([one["part"], one["assembly"]]), 1.6),
            ("Done", joined([one["done"], one["by"]]), 1.3),
            ("Finished", one["finished"] or "Not yet", 1),
            ("Verdict", one["state_words"].capitalize() if one["finished"] else "Open", 0.6),
        ]
    )
    sheets.y -= 4
    for line in beside(one):
        sheets.flow(line, SMALL)
    draw_verdicts(sheets, one["verdicts"], rules)
    if one["facts"]:
        sheets.flow("; ".join(f"{label}: {value}" for label, value in one["facts"]) + ".", SMALL)
    schedule(sheets, one.get("plies", []))
    if one.get("plot"):
        cure_plot(sheets, one["plot"])
    small_pictures(sheets, list(dict.fromkeys([*one["photos"], *filter(None, [one.get("marked", "")])])))
    corrections(sheets, one["corrections"])


def beside(one: dict[str, Any]) -> list[str]:
    """Entered late or for another, what it was made with, and what its photos show, a line each."""
    told = (
        ("", [one["entered"]] if one["entered"] else []),
        ("With: ", one.get("with", [])),
        ("Mixes: ", one.get("mixes", [])),
        ("Lots: ", one["lots"]),
        ("Tools: ", one["tools"]),
        ("Log: ", [one["log"]] if one.get("log") else []),
        ("Photos: ", one["moments"]),
    )
    return [f"{words}{'; '.join(names)}." for words, names in told if names]


def draw_verdicts(sheets: Sheets, verdicts: list[dict[str, Any]], rules: Rules) -> None:
    """What is bad each by itself with the figures that led to it; what waits and what is good in a line each."""
    for verdict in verdicts:
        if verdict["state"] == BAD:
            sheets.flow(f"Bad: {verdict_words(verdict, rules)}", SMALL_BOLD.but(color=let.RED))
            if verdict["lines"]:
                sheets.flow("; ".join(verdict["lines"]), SMALL, x=14)
    for state, title in (("open", "Open"), (GOOD, "Good")):
        told = [verdict_words(verdict, rules) for verdict in verdicts if verdict["state"] == state]
        if told:
            sheets.flow(f"{title}: {'; '.join(told)}.", SMALL_BOLD)


def verdict_words(verdict: dict[str, Any], rules: Rules) -> str:
    about = f"{verdict['about']}, " if verdict["about"] else ""
    return f"{about}{verdict['words'].rstrip('.')}{number(verdict, rules)}"


def schedule(sheets: Sheets, plies: list[dict[str, Any]]) -> None:
    """The ply schedule from the mold up, each ply with its fibers drawn in a rose."""
    if not plies:
        return
    room = sheets.room
    columns = [(0, 26), (30, 30), (66, 150), (222, 60), (288, 60), (354, room - 354)]
    sheets.y -= 6
    sheets.need(LABEL.leading + 40)
    sheets.flow("Ply schedule, from the mold up", LABEL)
    for ply in plies:
        lines = (ply["position"], "", joined([ply["kind"], ply["cloth"]]), ply["orientation"], ply["lot"])
        texts = [*map(str, lines), joined([ply["laid"] and f"laid {ply['laid']}", ply["extent"]])]
        cells = [Cell(x, w, t, SMALL) for (x, w), t in zip(columns, texts, strict=True)]

        def rose(y: float, tall: float, orientation: str = ply["orientation"]) -> None:
            draw_rose(sheets, orientation, sheets.left + columns[1][0], y)

        sheets.row(cells, pad=ROSE / 2 - SMALL.leading / 2, mark=rose)
    sheets.rule()


def draw_rose(sheets: Sheets, orientation: str, x: float, y: float) -> None:
    """The directions of one ply; `y` is the upper edge of its line of words."""
    lines = rosette(orientation)
    if not lines:
        return
    c, scale = sheets.canvas, (ROSE - 3) / 2 / RING
    middle_x, middle_y = x + ROSE / 2, y - SMALL.leading / 2
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.5)
    c.circle(middle_x, middle_y, RING * scale, stroke=1, fill=0)
    for one in lines:
        ends = [(one.x1, one.y1), (one.x2, one.y2)]
        (x1, y1), (x2, y2) = [(middle_x + (a - MIDDLE) * scale, middle_y - (b - MIDDLE) * scale) for a, b in ends]
        c.line(x1, y1, x2, y2)


def draw_rules(sheets: Sheets, rules: Rules) -> None:
    """Every rule once, with its source and its caution."""
    if not rules:
        return
    sheets.y -= 10
    sheets.need(90)
    sheets.anchor("process-rules", "Rules of the verdicts", 1)
    sheets.subtitle("Rules of the verdicts", keep=40)
    for (words, source, caution), place in rules.items():
        sheets.row(
            [
                Cell(0, 24, f"[{place}]", SMALL_BOLD),
                Cell(28, sheets.room - 28, rule_words(words, source, caution), SMALL),
            ],
            pad=1.6,
        )
    sheets.rule()


def rule_words(words: str, source: str, caution: str) -> str:
    told = f"{words[:1].upper()}{words[1:]}".rstrip(".")
    return f"{told}. Source: {source.rstrip('.') or 'not given'}. {caution}".strip()


# ---- the plot of a cure ----


def cure_plot(sheets: Sheets, plot: dict[str, Any]) -> None:
    """The plot as on the run's page: band, limits, each sensor's line, soak and faults."""
    size = plot["size"]
    scale = min(1.0, sheets.room / size["width"])
    sheets.y -= 6
    sheets.need(size["height"] * scale + 4)
    c = sheets.canvas
    c.saveState()
    # The plot's y goes down from its upper edge.
    c.translate(sheets.left, sheets.y)
    c.scale(scale, scale)
    left, end, base = size["left"], plot["end"], plot["base"]
    c.setLineWidth(0.4)
    if plot["band_height"]:
        c.setFillColor(let.HAIR)
        c.rect(left, -plot["band_y"] - plot["band_height"], end - left, plot["band_height"], stroke=0, fill=1)
    c.setFillColor(let.INK)
    for row in plot["rows"]:
        stroke(c, let.HAIR, 0.4, [], [(left, row["at"]), (end, row["at"])])
        words(sheets, left - 5, row["at"] + 3, row["words"], RIGHT)
    words(sheets, left - 5, size["top"] - 14, plot["sign"], RIGHT)
    stroke(c, let.INK, 0.6, [], [(left, base), (end, base)])
    for column in plot["columns"]:
        stroke(c, let.INK, 0.6, [], [(column["at"], base), (column["at"], base + 4)])
        words(sheets, column["at"] - 30, base + 15, column["words"], "middle")
    for level in plot["levels"]:
        dash: list[float] = [5, 2] if level["kind"] == "limit" else [8, 2, 1, 2]
        stroke(c, let.RED if level["kind"] == "limit" else let.INK, 0.6, dash, [(left, level["y"]), (end, level["y"])])
        words(sheets, left + 4, level["y"] - 3, level["words"])
    for line in plot["lines"]:
        stroke(c, let.INK, 0.9, DASHES[line["kind"] % len(DASHES)], path(line["path"]))
        words(sheets, end + 4, line["label_y"], line["words"])
    stroke(c, let.INK, 0.5, [1, 2], path(plot["ramp"]))
    words(sheets, left + 4, size["top"] - 30, plot["ramp_words"])
    for soak in plot["soaks"]:
        over = size["top"] - 8
        stroke(c, let.INK, 0.8, [], [(soak["x1"], over), (soak["x2"], over)])
        words(sheets, soak["middle"] - 60, over - 4, soak["words"], "middle", 120)
    for ring in plot["balloons"]:
        stroke(c, let.RED, 1.8, [], path(ring["path"]))
        stroke(c, let.RED, 0.5, [], [(ring["x"], ring["y"]), (ring["point_x"], ring["point_y"])])
        c.setFillColor(let.PAPER)
        c.setStrokeColor(let.RED)
        c.circle(ring["x"], -ring["y"], 7, stroke=1, fill=1)
        words(sheets, ring["x"] - 8, ring["y"] + 3, str(ring["number"]), "middle", 16)
    c.restoreState()
    sheets.y -= size["height"] * scale + 4
    for ring in plot["balloons"]:
        sheets.flow(f"{ring['number']}  {ring['words']}", SMALL_BOLD)


# A sensor's line is known by its dashes.
DASHES: list[list[float]] = [[], [4, 2], [1, 2], [6, 2, 1, 2], [2, 2], [8, 3]]
TINY = SMALL.but(size=7.5, leading=9)


def path(text: str) -> list[tuple[float, float]]:
    """The corners of a drawn line, from "M1 2L3 4"."""
    return [(float(found[1]), float(found[2])) for found in finditer(r"[ML](-?[\d.e+-]+) (-?[\d.e+-]+)", text)]


def stroke(c: Any, color: Any, width: float, dash: list[float], points: list[tuple[float, float]]) -> None:
    """One open line in the plot's own units."""
    if len(points) < 2:
        return
    c.setStrokeColor(color)
    c.setLineWidth(width)
    c.setDash(dash)
    line = c.beginPath()
    line.moveTo(points[0][0], -points[0][1])
    for x, y in points[1:]:
        line.lineTo(x, -y)
    c.drawPath(line, stroke=1, fill=0)
    c.setDash([])


def words(sheets: Sheets, x: float, y: float, text: str, side: str = "", room: float = 60.0) -> None:
    """Small words in the plot; to the right they end at `x`, in the middle they stand in the room from `x` on."""
    if not text:
        return
    told = sheets.clean(text, TINY.font)
    wide = let.width(told, TINY)
    left = x - wide if side == RIGHT else x + (room - wide) / 2 if side == "middle" else x
    let.draw(sheets.canvas, left, -y, told, TINY)
