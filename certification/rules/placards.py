"""Plates, marks and placards: the least height of letters with its source, and what has to stand on them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from certification.rules.file_profiles import Plate
from certification.rules.identity import near

GOOD, PARTLY, BAD, UNKNOWN = "good", "partly", "bad", "unknown"
MARKS = {GOOD: "in-place", PARTLY: "thin", BAD: "missing", UNKNOWN: "waiting"}


@dataclass(frozen=True)
class Height:
    """How the letters stand against the least height: a state, a sentence, and where the rule is from."""

    state: str
    words: str
    source: str = ""

    @property
    def mark(self) -> str:
        return MARKS[self.state]


def height(kind: str, words: str, letter_mm: Decimal, plates: Iterable[Plate]) -> Height:
    """The letters of one placard against every rule of the list that asks for a least height."""
    rules = sorted((one for one in plates if applies(one, kind, words)), key=least)
    if not rules:
        return Height(UNKNOWN, "No least height is known for it. Ask your inspector.")
    met = [one for one in rules if letter_mm >= least(one)]
    source = "; ".join(dict.fromkeys(f"{one.source} ({one.mark})" for one in rules))
    if not met:
        return Height(BAD, f"Too low: at least {plain(least(rules[0]))} mm. {rules[0].note}".strip(), source)
    if len(met) < len(rules):
        return Height(PARTLY, f"High enough for this only: {met[-1].note}", source)
    return Height(GOOD, f"At least {plain(least(met[-1]))} mm is asked for. {met[-1].note}".strip(), source)


def applies(rule: Plate, kind: str, words: str) -> bool:
    """Whether a rule with a least height is about this kind and, where it names the words, about these."""
    if rule.least_mm is None or rule.kind != kind:
        return False
    return not rule.words or rule.words.casefold() == " ".join(words.split()).casefold()


def least(rule: Plate) -> Decimal:
    return Decimal(rule.least_mm or 0)


def plain(value: Decimal) -> str:
    return format(value.normalize(), "f")


def lacking(kind: str, words: str, identity: Mapping[str, str]) -> list[str]:
    """What of the identity a plate or marks do not show exactly as the project has it, by the names of its fields."""
    lines = [line.strip() for line in words.splitlines()]
    if kind == "marks":
        return ["marks"] if identity["marks"] and lines != [identity["marks"]] else []
    if kind != "plate":
        return []
    return [name for name in ("builder", "model", "serial") if identity[name] and not shown(identity[name], lines)]


def shown(own: str, lines: Iterable[str]) -> bool:
    """Whether one of the lines is this text, or ends with it after a label such as "S/N"."""
    return any(line == own or line.endswith((f" {own}", f":{own}")) for line in lines)


def nearest(words: str, own: str) -> tuple[str, tuple[str, ...]]:
    """The line that comes nearest to what should stand there, and in what it differs; nothing where none is near."""
    for line in words.splitlines():
        parts = line.split()
        for first in range(len(parts)):
            tail = " ".join(parts[first:])
            if folds := near(own, tail):
                return tail, folds
    return "", ()
