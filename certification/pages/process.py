"""The sheets of process records: each kind in a table with verdicts and figures, then what needs more room than a line.

A layup comes with its ply schedule, a cure with its plot, and a bad verdict with the figures behind it.
The rules that judge stand once, at the end of the section, under the numbers that the verdicts name. Photos stand in
the sessions or gates in which they are printed and are named here by number and sheet; those that are printed nowhere
else are drawn here, small.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from re import finditer
from typing import Any

from reportlab.lib.colors import HexColor

from calc.verdict import PLAN_WINS
from certification.pages.beside import small
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.struck import corrections, withdrawn
from certification.pages.words import TITLES, brief, counted, joined
from foundation import lettering as let
from foundation.lettering import BODY, LABEL, SMALL, SMALL_BOLD, Style
from process.rules.schedule import MIDDLE, RING, rosette

MEANING = (
    "What vanishes at cure is recorded before: plies, mixes, vacuum, temperatures, torque, weights. A verdict is a "
    "computation by the rule whose number it names; the rules stand with their sources and cautions at the end of this "
    "section. It is no approval: plan, maker's data and local rules decide. A record that is not finished has no "
    "verdict yet."
)
GOOD, BAD = "good", "bad"
RANKS = (BAD, "open", GOOD)
TITLE = let.HEAD.but(size=13, leading=17)
NAME = SMALL_BOLD.but(size=10, leading=12)
RED_BOLD = SMALL_BOLD.but(color=let.RED)
ROSE = 15.0
SHADE = HexColor("#e3e3e3")

type Rules = dict[tuple[str, str, str], int]
# Texts one below the other: words, style, and how far in.
type Lines = list[tuple[str, Style, float]]


@dataclass(frozen=True)
class Around:
    """What a record needs of the whole: numbers of rules, where photos are printed, what each mix came to."""

    rules: Rules
    homes: dict[str, tuple[str, str]]
    mixes: dict[str, dict[str, Any]]


def draw(sheets: Sheets) -> None:
    """Draw the section of process records."""
    facts = sheets.facts
    if "process" not in facts:
        return
    rows = facts["process"]
    around = Around(
        numbered_rules(rows), photo_homes(facts), {one["label"]: one for one in rows if one["kind"] == "mix"}
    )
    sheets.start(TITLES["process"], "process")
    sheets.title(TITLES["process"])
    sheets.flow(MEANING, SMALL)
    if not rows:
        sheets.y -= 6
        sheets.flow("No process records yet.", BODY)
    for noun in dict.fromkeys(one["noun"] for one in rows):
        table(sheets, noun, [one for one in rows if one["noun"] == noun], around)
    for one in rows:
        if wants_room(one, around):
            draw_record(sheets, one, around)
    sheets.going_on = ""
    draw_rules(sheets, around.rules)
    withdrawn(sheets, "Withdrawn process records", "withdrawn-process", facts["withdrawn_process"])
    sheets.going_on = ""


def numbered_rules(rows: list[dict[str, Any]]) -> Rules:
    """Every rule that judged something, with the number by which verdicts name it."""
    said = [rule_of(verdict) for one in rows for verdict in one["verdicts"] if verdict["rule"]]
    return {rule: number for number, rule in enumerate(dict.fromkeys(said), 1)}


def rule_of(verdict: dict[str, Any]) -> tuple[str, str, str]:
    return verdict["rule"], verdict["source"], verdict["caution"]


def photo_homes(facts: dict[str, Any]) -> dict[str, tuple[str, str]]:
    """Where each photo is printed beside its process record, in words, and the key of that place."""
    found: dict[str, tuple[str, str]] = {}

    def stand(labels: Iterable[str], words: str, key: str) -> None:
        for label in labels:
            found.setdefault(label, (words, key))

    for one in facts["sessions"]:
        stand(one["photos"], f"session {one['number']}", f"session-{one['number']}")
    for one in facts["areas"]:
        stand((label for item in one["items"] for label in item["photos"]), one["number"], f"area-{one['number']}")
    for one in facts.get("points", []):
        stand(one["photos"], one["number"], f"point-{one['number']}")
    for one in facts.get("discrepancies", []):
        stand((p for phase in one["photos"].values() for p in phase), one["label"], f"discrepancy-{one['label']}")
    return found


def wants_room(one: dict[str, Any], around: Around) -> bool:
    """Whether a record is drawn by itself, below the tables."""
    return bool(one.get("plies") or one.get("plot") or one["corrections"] or drawn_here(one, around))


def drawn_here(one: dict[str, Any], around: Around) -> list[str]:
    """The photos that are drawn with a record: those that are printed nowhere else."""
    return [label for label in photos_of(one) if label not in around.homes]


def photos_of(one: dict[str, Any]) -> list[str]:
    """The photos of a record, each once; that on which it is marked what was heard is one of them."""
    return list(dict.fromkeys([*one["photos"], *filter(None, [one.get("marked", "")])]))


def key_of(one: dict[str, Any]) -> str:
    return f"process-{one['label']}"


# ---- the tables ----


def table(sheets: Sheets, noun: str, rows: list[dict[str, Any]], around: Around) -> None:
    """The records of one kind: what, where and when, verdict; with all that was recorded, or the sheet that has it."""
    bad = sum(one["state"] == BAD for one in rows)
    short = [one for one in rows if not wants_room(one, around)]
    alike = said_by_all(short)
    sheets.going_on = ""
    title = f"{noun}: {counted(len(rows), 'record')}" + (f", {bad} with a bad verdict" if bad else "")
    sheets.subtitle(title, keep=150 if alike else 80)
    sheets.anchor(f"process-{noun}", title, 1, listed=False)
    if alike:
        sheets.flow(f"The same for every record below that names no sheet: {fields(alike)}", SMALL)
    for one in rows:
        row(sheets, one, around, alike if one in short else None, noun)
    sheets.rule()


def said_by_all(rows: list[dict[str, Any]]) -> list[list[str]]:
    """The fields that say the same in every one of several records: they are printed once."""
    return [pair for pair in said(rows[0]) if all(pair in one["facts"] for one in rows)] if len(rows) > 1 else []


def row(sheets: Sheets, one: dict[str, Any], around: Around, alike: list[list[str]] | None, noun: str) -> None:
    """A record in its table; without `alike` it is drawn by itself, too, and its sheet is named.

    Where it is the first of a sheet, the table's `noun` stands above it.
    """
    style = RED_BOLD if one["state"] == BAD else SMALL
    made = one.get("with", [])
    title = joined([brief(one["title"], 70), *map(brief, made[:2])])
    where = brief(one["part"] or one["assembly"], 60)
    told = state_line(one, around, whole=alike is not None)
    cells = [
        Cell(0, 36, one["label"], SMALL_BOLD),
        Cell(40, 206, joined([title, joined([where, one["done"], one["by"]])], "\n"), SMALL),
        Cell(
            256,
            sheets.room - 256,
            told if alike is not None else f"{told} Sheet {sheets.sheet_of(key_of(one))}.",
            style,
        ),
    ]
    own = []
    if alike is not None:
        apart = [pair for pair in said(one) if pair not in alike]
        own = [*behind(one, around), *beside(one, around, sheets, made[2:] and made), fields(apart)]
    more = Cell(40, sheets.room - 40, joined(own, " "), SMALL.but(color=let.QUIET))
    sheet = sheets.number
    sheets.need(4 + SMALL.leading * sum(most_lines(sheets, each) for each in (cells, [more] if more.text else [])))
    if sheets.number != sheet:
        sheets.flow(f"{noun}, continued", LABEL)
    sheets.row(cells, pad=1.6)
    if more.text:
        sheets.row([more], pad=0, rule=None)
        sheets.y -= 1.6


def most_lines(sheets: Sheets, cells: list[Cell]) -> int:
    return max((len(sheets.lines(cell.text, cell.style, cell.width)) for cell in cells), default=0)


def state_line(one: dict[str, Any], around: Around, whole: bool) -> str:
    """The state and the verdicts that lead to it, what is bad before what waits; `whole` cuts nothing short."""
    ranked = sorted(one["verdicts"], key=lambda each: RANKS.index(each["state"]))
    told = [each for each in ranked if each["state"] == BAD] or ranked
    if not whole:
        worst = [each for each in ranked if each["state"] == ranked[0]["state"]]
        told = worst[:1] if one["state"] == GOOD else worst[:3]
    most = 1000 if whole else 100
    words = "; ".join(f"{brief(verdict_words(each), most)}{number(each, around.rules)}" for each in told)
    state = one["state_words"].capitalize() if one["finished"] else "Not finished"
    return f"{state}. {words}." if words else f"{state}."


def behind(one: dict[str, Any], around: Around) -> list[str]:
    """Of a record with something bad: the figures that led to that, and what else was judged."""
    bad = [each for each in one["verdicts"] if each["state"] == BAD]
    others = [each for each in one["verdicts"] if each["state"] != BAD] if bad else []
    figures = [line for each in bad for line in each["lines"]]
    rest = [f"{each['state'].capitalize()}: {verdict_words(each)}{number(each, around.rules)}." for each in others]
    return [f"{'; '.join(figures)}." if figures else "", *rest]


def number(verdict: dict[str, Any], rules: Rules) -> str:
    """The number of its rule, in brackets."""
    found = rules.get(rule_of(verdict))
    return f" [{found}]" if found else ""


def verdict_words(verdict: dict[str, Any]) -> str:
    """What a verdict is about and what it says, each thing once."""
    words, about = verdict["words"].rstrip("."), verdict["about"]
    return words if not about or words.lower().startswith(about.lower()) else f"{about}: {words}"


# ---- one by one ----


def draw_record(sheets: Sheets, one: dict[str, Any], around: Around) -> None:
    """One record with what belongs to it; what is said of it stays on one sheet."""
    where = joined([one["part"], one["assembly"]])
    done = f"{one['done']} by {one['by']}"
    finished = f"Finished {one['finished']}" if one["finished"] else "Not finished"
    name = joined([one["label"], one["title"]], " ")
    texts: Lines = [
        (one["noun"], LABEL, 0),
        (name, TITLE, 0),
        (f"{where}. Done {done}. {finished}.", SMALL, 0),
        *verdict_lines(one, around),
        (joined([*beside(one, around, sheets, one.get("with", [])), fields(said(one))], " "), SMALL, 0),
    ]
    sheets.going_on = ""
    sheets.y -= 18
    broken = [(sheets.lines(text, style, sheets.room - x), style, x) for text, style, x in texts if text]
    tall = sum(len(lines) * style.leading for lines, style, _ in broken) + 3
    first = one.get("plies", [])[:4]
    after = LABEL.leading + 6 + ROSE * len(first) if first else plot_height(sheets, one.get("plot"))
    sheets.need(min(tall + after, sheets.body * 0.6))
    sheets.anchor(key_of(one), f"{one['noun']} {brief(name, 60)}  {one['state_words']}", 1, closed=True)
    sheets.going_on = f"Record {one['label']}"
    sheets.on_sheet.append(sheets.going_on)
    state = one["state_words"].capitalize() if one["finished"] else "Not finished"
    sheets.line(sheets.left, state, NAME.but(color=let.RED) if one["state"] == BAD else NAME, sheets.room, RIGHT)
    for lines, style, x in broken:
        sheets.put(lines, style, x)
    schedule(sheets, one.get("plies", []))
    if one.get("plot"):
        cure_plot(sheets, one["plot"])
    small(sheets, drawn_here(one, around))
    corrections(sheets, one["corrections"])


def verdict_lines(one: dict[str, Any], around: Around) -> Lines:
    """What is bad each by itself with the figures that led to it; what waits and what is good in a line each.

    What a mix came to stands with the mix: here its label and state, and in full what is bad.
    """
    of_mixes: dict[str, list[str]] = {}
    for label in one.get("mixes", []):
        for each in around.mixes[label]["verdicts"] if label in around.mixes else []:
            of_mixes.setdefault(repr(each), []).append(label)
    lines: Lines = []
    for verdict in one["verdicts"]:
        if verdict["state"] == BAD:
            names = of_mixes.get(repr(verdict))
            mixed = names.pop(0) if names else ""
            words = joined([mixed, verdict_words(verdict)])
            lines.append((f"Bad: {words}{number(verdict, around.rules)}.", RED_BOLD, 0))
            if verdict["lines"] and not mixed:
                lines.append((f"{'; '.join(verdict['lines'])}.", SMALL, 14))
    for state, title in (("open", "Open"), (GOOD, "Good")):
        own = [each for each in one["verdicts"] if each["state"] == state and repr(each) not in of_mixes]
        told = dict.fromkeys(f"{verdict_words(each)}{number(each, around.rules)}" for each in own)
        if told:
            lines.append((f"{title}: {'; '.join(told)}.", SMALL, 0))
    return lines


def beside(one: dict[str, Any], around: Around, sheets: Sheets, made: list[str]) -> list[str]:
    """Entered late or for another, what it was `made` with, and what its photos show, a sentence each."""
    named = {value for _, value in one["facts"]}  # what a field names already is not said twice
    mixes = [joined([label, around.mixes.get(label, {}).get("state_words", "")], " ") for label in one.get("mixes", [])]
    told = (
        ("", [one["entered"]] if one["entered"] else []),
        ("With: ", made),
        ("Mixes: ", mixes),
        ("Lots: ", [lot for lot in one["lots"] if lot not in named]),
        ("Tools: ", [tool for tool in one["tools"] if tool not in named]),
        ("Photos: ", photo_words(one, around, sheets)),
    )
    return [f"{words}{'; '.join(names)}." for words, names in told if names]


def photo_words(one: dict[str, Any], around: Around, sheets: Sheets) -> list[str]:
    """The photos by number with the moment they show, and where they are printed."""
    shows = {words.partition(" ")[0]: words for words in one["moments"]}
    found: dict[tuple[str, str], list[str]] = {}
    for label in photos_of(one):
        found.setdefault(around.homes.get(label, ("", "")), []).append(shows.get(label, label))
    return [
        joined([*names, f"{words} on sheet {sheets.sheet_of(key)}" if words else "below"])
        for (words, key), names in found.items()
    ]


def said(one: dict[str, Any]) -> list[list[str]]:
    """What was recorded, field by field, without what its title says already."""
    return [pair for pair in one["facts"] if pair[1] != one["title"]]


def fields(pairs: list[list[str]]) -> str:
    """Fields with their values, one after the other."""
    return "; ".join(f"{label}: {value.removesuffix('.')}" for label, value in pairs) + "." if pairs else ""


def schedule(sheets: Sheets, plies: list[dict[str, Any]]) -> None:
    """The ply schedule from the mold up, each ply with its fibers drawn in a rose."""
    if not plies:
        return
    room = sheets.room
    columns = [(0, 26), (30, 30), (66, 150), (222, 60), (288, 60), (354, room - 354)]
    sheets.y -= 4
    sheets.need(LABEL.leading + ROSE * min(len(plies), 4))
    sheets.flow("Ply schedule, from the mold up", LABEL)
    for ply in plies:
        what = joined(list(dict.fromkeys([ply["kind"], ply["cloth"]])))
        lines = (ply["position"], "", what, ply["orientation"], ply["lot"])
        texts = [*map(str, lines), joined([ply["laid"] and f"laid {ply['laid']}", ply["extent"]])]
        cells = [Cell(x, w, t, SMALL) for (x, w), t in zip(columns, texts, strict=True) if t]

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
    sheets.going_on = "Rules of the verdicts"
    if any(caution.endswith(PLAN_WINS) for *_, caution in rules):
        sheets.flow(f"For every rule: {PLAN_WINS[:1].lower()}{PLAN_WINS[1:]}", SMALL_BOLD)
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
    return f"{told}. Source: {source.rstrip('.') or 'not given'}. {caution.removesuffix(PLAN_WINS)}".strip()


# ---- the plot of a cure ----


def plot_height(sheets: Sheets, plot: dict[str, Any] | None) -> float:
    """The room that a plot takes; none without one."""
    return 10 + plot["size"]["height"] * min(1.0, sheets.room / plot["size"]["width"]) if plot else 0


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
        c.setFillColor(SHADE)
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
        level_words(sheets, left, level)
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


def level_words(sheets: Sheets, left: float, level: dict[str, Any]) -> None:
    """What a limit says, where the lines leave room; records frozen before do not say where, it stands at the left."""
    anchor, text = level.get("anchor", ""), level["words"]
    if anchor == "middle":
        words(sheets, level["text_x"] - 60, level["text_y"], text, "middle", 120)
    elif anchor:
        words(sheets, level["text_x"], level["text_y"], text, RIGHT if anchor == "end" else "")
    else:
        words(sheets, left + 4, level["y"] - 3, text)


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
