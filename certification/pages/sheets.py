"""Sheets: border, title block along the foot, and a pen that goes down the sheet and over to the next one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from reportlab.lib.colors import Color

from certification.pages.paper import page_size
from certification.pages.photos import Pictures
from foundation import lettering as let
from foundation.drawing import Remarks
from foundation.lettering import BODY, LABEL, SMALL, Style

EDGE, INSET = 26.0, 17.0
FOOT = 33.0
# Room in the title block for the time, the short digest and the number of the sheet, which are never cut.
FOOT_ROOM = (130.0, 92.0, 78.0)
BORDER, THIN, FINE = 1.5, 0.75, 0.5
RIGHT = "right"


@dataclass(frozen=True)
class Cell:
    """A piece of a row: its left edge from the left margin and its width in points, text, style, side."""

    x: float
    width: float
    text: str
    style: Style = BODY
    side: str = ""


# Hears how many sheets are drawn, and of how many.
type Progress = Callable[[int, int], object]


def silent(done: int, total: int) -> None:
    """For whoever does not ask how far it is."""


@dataclass
class Plan:
    """Where everything is, as found by the pass before: the sheet of each key, and how many sheets there are."""

    sheets: dict[str, int] = field(default_factory=dict)
    total: int = 0


class Sheets:
    """The pen. `y` is the upper edge of what comes next, in points from the foot of the sheet."""

    def __init__(
        self,
        canvas: Any,
        facts: dict[str, Any],
        before: Plan,
        pictures: Pictures | None = None,
        tell: Progress = silent,
    ) -> None:
        self.canvas, self.facts, self.before, self.tell = canvas, facts, before, tell
        self.plan, self.remarks, self.pictures = Plan(), Remarks(), pictures or Pictures()
        self.width, self.height = page_size(facts)
        self.left, self.right = EDGE + INSET, self.width - EDGE - INSET
        self.head, self.foot = self.height - EDGE - INSET, EDGE + FOOT + 12
        self.room, self.body = self.right - self.left, self.head - self.foot
        self.number, self.y = 0, 0.0
        self.section, self.going_on = "", ""
        self.on_sheet: list[str] = []

    # ---- sheets ----

    def start(self, section: str, key: str) -> None:
        """Begin a section on a new sheet."""
        if self.number:
            self._finish()
        self.section, self.going_on = section, ""
        self._next()
        self.anchor(key, section, 0)

    def turn(self) -> None:
        """Go over to a new sheet of the same section; what goes on is said at its head."""
        self._finish()
        self._next()
        if self.going_on:
            self.line(self.left, f"{self.going_on}, continued", LABEL, self.room)
            self.y -= LABEL.leading + 4
            self.on_sheet.append(self.going_on)

    def end(self) -> Plan:
        """Finish the last sheet."""
        self._finish()
        self.plan.total = self.number
        return self.plan

    def need(self, height: float) -> None:
        """Make sure that this much fits, or a whole sheet where it is more."""
        if self.y - min(height, self.body - 30) < self.foot:
            self.turn()

    def anchor(self, key: str, title: str, level: int, closed: bool = False, listed: bool = True) -> None:
        """Make this place known to the contents and, where it is `listed` here, to the reader's outline."""
        self.plan.sheets[key] = self.number
        self.place(key)
        if listed:
            self.outline(key, title, level, closed)

    def place(self, key: str) -> None:
        """Let links and the outline find this place by a key."""
        self.canvas.bookmarkPage(key, fit="XYZ", left=0, top=min(self.y + 12, self.height))

    def outline(self, key: str, title: str, level: int, closed: bool = False) -> None:
        """Name a place in the reader's outline, wherever it is; a key has one line there."""
        self.canvas.addOutlineEntry(" ".join(title.split()), key, level, closed)

    def sheet_of(self, key: str) -> str:
        """The sheet that a key is on, in words; known in the last pass."""
        return str(self.before.sheets.get(key, 0))

    def _next(self) -> None:
        self.number += 1
        self.y = self.head
        self.on_sheet = []

    def _finish(self) -> None:
        c = self.canvas
        c.setStrokeColor(let.INK)
        c.setLineWidth(BORDER)
        c.rect(EDGE, EDGE, self.width - 2 * EDGE, self.height - 2 * EDGE)
        c.line(EDGE, EDGE + FOOT, self.width - EDGE, EDGE + FOOT)
        self._title_block()
        c.showPage()
        self.tell(self.number, self.before.total)

    def _title_block(self) -> None:
        """Whose record, which sheet, printed when, record head, sheet n of m."""
        project, head = self.facts["project"], self.facts["head"]
        whose = ", ".join(part for part in (project["name"], project["registration"]) if part)
        inner = self.width - 2 * EDGE
        wide = (inner - sum(FOOT_ROOM)) / 2
        cells = [
            ("Builder's record of", whose, wide, let.BOLD),
            ("Sheet", self._sheet_title(), wide, let.BOLD),
            ("Printed", self.facts["printed"], FOOT_ROOM[0], let.SMALL_BOLD),
            ("Record", head["short"] if head else "no entries", FOOT_ROOM[1], let.SMALL_CODE),
            ("No.", f"{self.number} of {self.before.total}", FOOT_ROOM[2], let.BOLD),
        ]
        x = EDGE
        for place, (label, value, room, style) in enumerate(cells):
            if place:
                self.canvas.setLineWidth(THIN)
                self.canvas.line(x, EDGE, x, EDGE + FOOT)
            self.at(x + 7, EDGE + FOOT - 12, label, LABEL, room - 10)
            fits = let.width(self.clean(value, style.font), style) <= room - 10
            self.at(x + 7, EDGE + 8, value, style if fits else style.but(size=8.5), room - 10)
            x += room

    def _sheet_title(self) -> str:
        if not self.on_sheet:
            return self.section
        first, last = self.on_sheet[0], self.on_sheet[-1]
        kind, _, begin = first.partition(" ")
        kinds = f"{kind[:-1]}ies" if kind.endswith("y") else f"{kind}s"
        if first == last:
            return first
        names = [name.partition(" ")[2] for name in self.on_sheet]
        # Sessions stand by their days; one that was logged late has a number out of turn.
        if all(map(str.isdecimal, names)) and sorted(names, key=int) != names:
            return f"{kinds} {', '.join(dict.fromkeys(names))}"
        return f"{kinds} {begin} to {names[-1]}"

    # ---- letters ----

    def clean(self, text: str, font: str) -> str:
        """Text as it can be drawn, with a remark where it cannot."""
        return let.clean(text, font, self.remarks)

    def at(self, x: float, base: float, text: str, style: Style, room: float, side: str = "") -> None:
        """One line on a base line, cut with dots where it does not fit."""
        text = let.cut(self.clean(text, style.font), style, room)
        if side == RIGHT:
            x += room - let.width(text, style)
        let.draw(self.canvas, x, base, text, style)

    def line(self, x: float, text: str, style: Style, room: float, side: str = "") -> None:
        """One line under the pen, which stays where it is."""
        self.at(x, self.y - style.leading / 2 - style.size * 0.34, text, style, room, side)

    def lines(self, text: str, style: Style, room: float) -> tuple[str, ...]:
        """Text broken into lines."""
        return let.wrapped(self.clean(text, style.font), style, room)

    def flow(self, text: str, style: Style = BODY, x: float = 0.0, room: float = 0.0) -> None:
        """A text of any length, over as many sheets as it takes; `x` from the left margin."""
        self.put(self.lines(text, style, room or self.room - x), style, x)

    def put(self, lines: Sequence[str], style: Style, x: float = 0.0) -> None:
        """Lines that are broken already, as `flow` sets them."""
        # Two lines at least stay together, so that none is left alone at the foot or head of a sheet.
        for place, line in enumerate(lines):
            self.need(style.leading * (2 if place in {0, len(lines) - 2} and len(lines) > 1 else 1))
            let.draw(self.canvas, self.left + x, self.y - style.leading / 2 - style.size * 0.34, line, style)
            self.y -= style.leading

    def title(self, text: str, label: str = "") -> None:
        """The title at the head of a section."""
        if label:
            self.flow(label, LABEL)
        self.flow(text, let.HEAD)
        self.y -= 8

    def subtitle(self, text: str, keep: float = 40.0) -> None:
        """A title within a section, together with at least `keep` points of what follows."""
        if self.y < self.head:
            self.y -= 14
        self.need(let.SUBHEAD.leading + keep)
        self.flow(text, let.SUBHEAD)
        self.y -= 3

    def rule(self, color: Color = let.HAIR, weight: float = FINE) -> None:
        """A line across the sheet at the pen."""
        self.canvas.setStrokeColor(color)
        self.canvas.setLineWidth(weight)
        self.canvas.line(self.left, self.y, self.right, self.y)

    # ---- rows ----

    def row(
        self,
        cells: list[Cell],
        pad: float = 2.6,
        rule: Color | None = let.HAIR,
        weight: float = FINE,
        mark: Callable[[float, float], None] | None = None,
    ) -> None:
        """A row of cells with a line above; `mark` draws into it, told the upper edge and height of the first line."""
        broken = [self.lines(cell.text, cell.style, cell.width) for cell in cells]
        tall = max((cell.style.leading for cell in cells), default=BODY.leading)
        count = max((len(lines) for lines in broken), default=1)
        self.need(2 * pad + tall * count)
        if rule:
            self.rule(rule, weight)
        self.y -= pad
        if mark:
            mark(self.y, tall)
        for number in range(count):
            self.need(tall)
            for cell, lines in zip(cells, broken, strict=True):
                if number < len(lines):
                    self._in_cell(cell, lines[number], tall)
            self.y -= tall
        self.y -= pad

    def _in_cell(self, cell: Cell, line: str, tall: float) -> None:
        x = self.left + cell.x
        if cell.side == RIGHT:
            x += cell.width - let.width(line, cell.style)
        let.draw(self.canvas, x, self.y - tall / 2 - cell.style.size * 0.34, line, cell.style)

    def header(self, cells: list[Cell]) -> None:
        """The head of a table, which stays with its first row."""
        self.need(44)
        self.row([Cell(c.x, c.width, c.text, LABEL, c.side) for c in cells], pad=1.5, rule=None)

    def facts_table(self, pairs: list[tuple[str, str]], label_width: float = 92.0) -> None:
        """Label and value, one below the other; where something is left out, an empty value may be that."""
        nothing = "not given or left out" if self.facts.get("left_out") else "not given"
        for label, value in pairs:
            self.row(
                [
                    Cell(0, label_width - 8, label, SMALL),
                    Cell(label_width, self.room - label_width, value or nothing, BODY),
                ],
                pad=2,
            )
        self.rule()

    def strip(self, cells: list[tuple[str, str, float]], style: Style = let.BOLD) -> None:
        """A title block across the sheet: labelled cells in a frame, kept on one sheet."""
        unit = self.room / sum(weight for _, _, weight in cells)
        broken = [self.lines(value, style, unit * weight - 14) for _, value, weight in cells]
        tall = LABEL.leading + style.leading * min(max(len(lines) for lines in broken), 20) + 9
        self.need(tall)
        c, x = self.canvas, self.left
        c.setStrokeColor(let.INK)
        c.setLineWidth(1.1)
        c.rect(self.left, self.y - tall, self.room, tall)
        for place, ((label, _, weight), lines) in enumerate(zip(cells, broken, strict=True)):
            if place:
                c.setStrokeColor(let.INK)
                c.setLineWidth(THIN)
                c.line(x, self.y, x, self.y - tall)
            self.at(x + 7, self.y - 12, label, LABEL, unit * weight - 12)
            for number, text in enumerate(lines[:20]):
                let.draw(c, x + 7, self.y - 4 - LABEL.leading - style.leading * (number + 0.74), text, style)
            x += unit * weight
        self.y -= tall
