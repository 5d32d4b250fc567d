"""What every computed answer says of itself: its rule, source, range of validity, and what wins over it (R40, P6)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

PLAN_WINS = "Where the plan or the maker's data sheet gives a value, that value wins."

SEEN, MEMORY, PRACTICE = "seen", "memory", "common practice"


@dataclass(frozen=True)
class Rule:
    """A rule of the trade in short words, with its source."""

    words: str
    source: str
    provenance: str = SEEN
    """How the source is known: seen, from memory, or common practice without a published source."""
    valid: str = "Any positive values."
    caution: str = PLAN_WINS


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A judgment, with everything that led to it. What was computed stands in the subclasses."""

    verdict: str
    good: bool
    rule: Rule
    reasons: tuple[str, ...] = ()
    """Why it is not good, in short words."""
    notes: tuple[str, ...] = ()
    """What the reader should know although it does not change the verdict."""
    given: Mapping[str, Any] = field(default_factory=dict)
    """What was judged, as it was given."""

    @property
    def source(self) -> str:
        return self.rule.source

    @property
    def caution(self) -> str:
        return self.rule.caution
