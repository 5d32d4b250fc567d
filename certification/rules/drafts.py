"""Drafts of statements: a beginning from the elements, places still to fill in, and a word of caution."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

HOLE = re.compile(r"\[[^\[\]]*\]")
SAFE = "in a condition for safe operation"
CAUTION = (
    f"A designee notes that the phrase for an experimental aircraft is “{SAFE}”. Your text uses the word of a standard "
    "certificate. Your inspector decides on the wording."
)


@dataclass(frozen=True)
class Filled:
    """An element and what the record knows of it."""

    words: str
    text: str


def skeleton(title: str, elements: Iterable[Filled]) -> str:
    """A text to begin with; what the record does not know is left in brackets."""
    lines = [title, ""]
    for one in elements:
        lines.append(f"{one.words}: {one.text}" if one.text else f"[{one.words}]")
    return "\n".join(lines) + "\n"


def holes(text: str) -> list[str]:
    """Places in brackets that are still to be filled in."""
    return [found[1:-1] for found in HOLE.findall(text)]


def caution(text: str) -> str:
    """What to think about before the text is used; empty where there is nothing."""
    return CAUTION if "airworth" in text.casefold() else ""
