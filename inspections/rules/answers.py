"""What an answer to a gate's item says, in words."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from inspections.rules.gates import ANSWERS


def in_words(said: Mapping[str, Any]) -> str:
    """An answer in one line: "Yes", "Does not apply: no drain here", "4.2 mm", "12 in, 12 out"."""
    words = ANSWERS.get(said["answer"], said["answer"])
    if said.get("value") not in (None, ""):
        words = f"{figure(said['value'])} {said.get('unit') or ''}".strip()
    elif said.get("number_in") is not None:
        words = f"{said['number_in']} in, {said['number_out']} out"
    return ": ".join(filter(None, (words, said["reason"])))


def figure(value: Any) -> str:
    """A decimal as it is read: without needless zeros and never in powers of ten."""
    return format(Decimal(str(value)).normalize(), "f")
