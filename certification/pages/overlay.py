"""Marks over a photo on paper: lines over the placed picture, at the places where the screen shows them."""

from typing import Any

from calc import marks
from foundation import lettering as let
from foundation.drawing import Remarks
from foundation.lettering import Style


class Pen:
    """Draws marks over a picture whose upper left corner is at (x, y) points."""

    def __init__(self, canvas: Any, x: float, y: float, frame: marks.Frame, remarks: Remarks) -> None:
        self.canvas, self.x, self.y, self.frame, self.remarks = canvas, x, y, frame, remarks

    def at(self, point: marks.Point) -> marks.Point:
        """A point of the frame, whose y goes down, on the sheet, whose y goes up."""
        return self.x + point[0], self.y - point[1]

    def draw(self, one: marks.Drawn) -> None:
        """One mark: each dark line lies on a wider light one, so that it can be seen on any picture."""
        unit, c = self.frame.unit, self.canvas
        for color, width in ((let.PAPER, marks.HALO), (let.INK, marks.STROKE)):
            c.setStrokeColor(color)
            c.setFillColor(color)
            c.setLineWidth(width * unit)
            if one.shaft:
                (x1, y1), (x2, y2) = map(self.at, one.shaft)
                c.line(x1, y1, x2, y2)
            if one.head:
                c.setLineWidth((marks.HALO - marks.STROKE) * unit if color is let.PAPER else 0.1 * unit)
                self.polygon(*map(self.at, one.head))
            if one.ring:
                x, y, half_x, half_y = one.ring
                (left, top), (right, foot) = self.at((x - half_x, y - half_y)), self.at((x + half_x, y + half_y))
                c.ellipse(left, foot, right, top, stroke=1, fill=0)
        if one.box:
            self.box(one)
        self.balloon(one)

    def polygon(self, *points: marks.Point) -> None:
        """A filled shape with its edge."""
        path = self.canvas.beginPath()
        path.moveTo(*points[0])
        for point in points[1:]:
            path.lineTo(*point)
        path.close()
        self.canvas.drawPath(path, stroke=1, fill=1)

    def box(self, one: marks.Drawn) -> None:
        """The words of a note on a light field."""
        assert one.box is not None
        unit, (x, y, wide, tall) = self.frame.unit, one.box
        left, foot = self.at((x, y + tall))
        self.rim()
        self.canvas.rect(left, foot, wide, tall, stroke=1, fill=1)
        right = x + wide - marks.PAD * unit / 2
        for start, base, text in one.lines:
            self.letters((start, base), text, Style(let.TEXT, marks.LETTERS * unit, 0), right - start)

    def balloon(self, one: marks.Drawn) -> None:
        """The number of the mark in its circle."""
        unit, (x, y) = self.frame.unit, one.balloon
        self.rim()
        self.canvas.circle(*self.at((x, y)), marks.BALLOON * unit, stroke=1, fill=1)
        style, text = Style(let.STRONG, marks.NUMBER * unit, 0), str(one.number)
        self.letters(
            (x - let.width(text, style) / 2, y + marks.DROP * style.size), text, style, marks.BALLOON * unit * 2
        )

    def rim(self) -> None:
        """Dark edge, light ground."""
        self.canvas.setStrokeColor(let.INK)
        self.canvas.setFillColor(let.PAPER)
        self.canvas.setLineWidth(marks.RIM * self.frame.unit)

    def letters(self, at: marks.Point, text: str, style: Style, room: float) -> None:
        """Text on a base line, made smaller where it does not fit."""
        text = let.clean(text, style.font, self.remarks)
        if (wide := let.width(text, style)) > room:
            style = style.but(size=style.size * room / wide)
        let.draw(self.canvas, *self.at(at), text, style)


def draw_marks(
    canvas: Any, rows: list[dict[str, Any]], place: tuple[float, float, float, float], remarks: Remarks
) -> None:
    """Draw the marks of a photo (`photos[label]["marks"]`) over its picture, placed at (x, y, width, height) points."""
    x, y, width, height = place
    frame = marks.Frame(width, height)
    pen = Pen(canvas, x, y + height, frame, remarks)
    canvas.saveState()
    for one in marks.drawn([marks.Mark(**row) for row in rows], frame):
        pen.draw(one)
    canvas.restoreState()


def in_words(rows: list[dict[str, Any]]) -> str:
    """The words of marks under their numbers, for the caption."""
    told = (f"{row['number']} {row['kind']}" + (f": {row['words']}" if row["words"] else "") for row in rows)
    return f"Marks drawn over the photo: {'; '.join(told)}." if rows else ""
