"""Whether a task that the builders claim can be shown: strong, thin or nothing, by a rule of our own."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

STRONG, THIN, NONE = "strong", "thin", "none"
WORDS = {STRONG: "Strong", THIN: "Thin", NONE: "No evidence"}
MARKS = {STRONG: "in-place", THIN: "thin", NONE: "missing"}
PHOTOS = 2

RULE = (
    "Strong: at least one session of a builder or unpaid helper, at least two photos, the builder in one of them, and, "
    "where an enclosed area stands there, a dated look by somebody else. Thin: something of these is missing, and is "
    "named. No evidence: none of these is there."
)
RULE_SOURCE = (
    "Our own rule, common practice. AC 20-27G asks that the record shows who did a task, when, where and how; photos "
    "with the builder at work are asked for before covering (Order 8130.2F, by a designee's column). No number of them "
    "is prescribed."
)


@dataclass(frozen=True)
class Hours:
    """One person's time on the places of a task, in seconds."""

    name: str
    role: str
    seconds: int


@dataclass(frozen=True)
class Evidence:
    """What the record holds at the places of a task.

    `sessions` are those in which a builder or an unpaid helper worked; `paid_parts` were made for pay. `looks` are
    dated signatures of people who are not the builder, under the areas and points there.
    """

    sessions: int = 0
    first: date | None = None
    last: date | None = None
    people: tuple[Hours, ...] = ()
    photos: int = 0
    in_frame: int = 0
    areas: int = 0
    looks: int = 0
    paid_parts: tuple[str, ...] = ()

    @property
    def seconds(self) -> int:
        """The hours of all, in seconds."""
        return sum(one.seconds for one in self.people)

    @property
    def paid(self) -> tuple[Hours, ...]:
        return tuple(one for one in self.people if one.role == "paid")

    @property
    def amateur_seconds(self) -> int:
        """The hours of builders and unpaid helpers, in seconds."""
        return sum(one.seconds for one in self.people if one.role != "paid")

    @property
    def paid_seconds(self) -> int:
        """The hours of paid help, in seconds."""
        return sum(one.seconds for one in self.paid)

    @property
    def any(self) -> bool:
        return bool(self.sessions or self.photos or self.looks)


@dataclass(frozen=True)
class Grade:
    """How well a claim can be shown, and what is missing."""

    state: str
    lacks: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        return WORDS[self.state]

    @property
    def mark(self) -> str:
        return MARKS[self.state]


def grade(evidence: Evidence) -> Grade:
    """Judge the evidence of a claim by RULE."""
    if not evidence.any:
        return Grade(NONE, tuple(lacking(evidence)))
    missing = tuple(lacking(evidence))
    return Grade(THIN if missing else STRONG, missing)


def lacking(evidence: Evidence) -> Iterable[str]:
    """What the rule asks for and the record does not have."""
    if not evidence.sessions:
        yield "no session of a builder or unpaid helper"
    if not evidence.photos:
        yield "no photo"
    elif evidence.photos < PHOTOS:
        yield "only one photo"
    if evidence.photos and not evidence.in_frame:
        yield "no photo with the builder in it"
    if evidence.areas and not evidence.looks:
        yield "no dated look by somebody else"


def hidden_help(evidence: Evidence, tenths: Mapping[str, int] | None) -> str:
    """What is said where paid help stands in the record and its column says nothing (rule R53); else empty.

    A task without `tenths` does not apply: paid help there is said all the same.
    """
    if tenths and tenths.get("commercial", 0):
        return ""
    said = []
    if evidence.paid:
        said.append(f"sessions of {', '.join(one.name for one in evidence.paid)}, paid help")
    if evidence.paid_parts:
        said.append(
            f"made for pay: {', '.join(evidence.paid_parts[:4])}{', …' if len(evidence.paid_parts) > 4 else ''}"
        )
    return f"Paid help in the record, none in its column: {'; '.join(said)}." if said else ""
