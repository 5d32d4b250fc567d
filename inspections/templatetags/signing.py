"""How signatures show: the drawn name as lines, the record number beside a stamp, the visit it came from."""

from typing import Any

from django import template

from calc import strokes
from foundation.digest import short
from inspections.models import Visit
from journal.models import Signature

register = template.Library()
register.filter("record_number", short)


@register.inclusion_tag("inspections/_drawn.html")
def drawn_signature(signature: Signature) -> dict[str, Any]:
    """A drawn signature as one path in its own frame; nothing where the name was typed."""
    left, top, width, height = strokes.box(signature.strokes)
    return {"path": strokes.path(signature.strokes), "box": f"{left} {top} {width} {height}", "name": signature.name}


@register.simple_tag
def visit_label(signature: Signature) -> str:
    """The number of the visit on which it was given; empty for a signature that came by no link."""
    if not signature.visit:
        return ""
    key = signature.visit.partition(":")[2]
    visit = Visit.objects.filter(pk=key, project=signature.project).first()
    return visit.label if visit else ""
