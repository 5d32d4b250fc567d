"""Looking a figure up by key."""

from collections.abc import Mapping

from django import template

register = template.Library()


@register.filter
def at(figures: Mapping[str, int], key: str) -> int:
    """The figure kept under this key, or zero."""
    return figures.get(key, 0)
