"""How kinds of work look: one hatch each, the same in forms, charts and print."""

from django import template

register = template.Library()

HATCHES = {
    "layup": "layup",
    "bonding": "bond",
    "woodwork": "wood",
    "metalwork": "solid",
    "fairing": "fair",
    "fitting": "fit",
    "systems": "sys",
    "rework": "rework",
}


@register.filter
def hatch(work: str) -> str:
    """The hatch of a kind of work; plain paper where none was said."""
    return HATCHES.get(work, "plain")
