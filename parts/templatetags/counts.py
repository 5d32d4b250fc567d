"""Looking something up by key."""

from collections.abc import Mapping
from typing import Any

from django import template

register = template.Library()


@register.filter
def at(table: Mapping[str, Any], key: str) -> Any:
    """What is kept under this key, or None."""
    return table.get(key)
