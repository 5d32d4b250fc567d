"""Marks over a photo as a drawing that lies on the picture."""

from typing import Any

from django import template

from calc import marks
from evidence.models import Photo
from evidence.rules import marks_counted

register = template.Library()
register.filter(marks_counted)

LONGEST = 1000


@register.inclusion_tag("evidence/_marks_layer.html")
def marks_layer(photo: Photo) -> dict[str, Any]:
    """The marks of a photo, drawn in a layer whose longest side is 1000 units; words stand in a list beside it."""
    frame = frame_of(photo)
    drawn = marks.drawn([mark.drawing for mark in photo.marks.all()], frame)
    return {"width": figure(frame.width), "height": figure(frame.height), "marks": [shapes(one) for one in drawn]}


def frame_of(photo: Photo) -> marks.Frame:
    """The frame of the layer: the upright picture with its longest side at 1000 units."""
    scale = LONGEST / max(photo.width, photo.height, 1)
    return marks.Frame(photo.width * scale, photo.height * scale)


def figure(value: float) -> str:
    """A coordinate in a tenth of a unit."""
    return f"{value:.1f}"


def points(*corners: marks.Point) -> str:
    """Corners as a drawing lists them."""
    return " ".join(f"{figure(x)},{figure(y)}" for x, y in corners)


def shapes(one: marks.Drawn) -> dict[str, Any]:
    """One mark with its coordinates as text."""
    return {
        "number": one.number,
        "shaft": points(*one.shaft) if one.shaft else "",
        "head": points(*one.head) if one.head else "",
        "ring": [figure(value) for value in one.ring] if one.ring else [],
        "box": [figure(value) for value in one.box] if one.box else [],
        "lines": [(figure(x), figure(y), text) for x, y, text in one.lines],
        "balloon": [figure(value) for value in one.balloon],
        "base": figure(one.balloon[1] + marks.DROP * marks.NUMBER),
        "radius": figure(marks.BALLOON),
    }
