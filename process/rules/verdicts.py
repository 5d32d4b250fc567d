"""What the program makes of a record: a verdict with its rule, its source and its caution (rule R40)."""

from collections.abc import Callable
from dataclasses import dataclass

from calc import verdict as calc
from calc.trouble import Impossible

GOOD, BAD, OPEN = "good", "bad", "open"

# The drawn state that stands beside the words, by verdict: never by color alone.
MARKS = {GOOD: "in-place", BAD: "missing", OPEN: "curing"}


@dataclass(frozen=True)
class Verdict:
    """Good, bad or still open, in words, with what led to it.

    `lines` are what was put in and what came out, one short line each. `about` names what is judged.
    """

    state: str
    words: str
    rule: str = ""
    source: str = ""
    caution: str = calc.PLAN_WINS
    lines: tuple[str, ...] = ()
    about: str = ""

    @property
    def good(self) -> bool:
        return self.state == GOOD

    @property
    def bad(self) -> bool:
        return self.state == BAD

    @property
    def mark(self) -> str:
        """The drawn state that stands beside the words."""
        return MARKS[self.state]


def judged(rule: calc.Rule, good: bool, words: str, lines: tuple[str, ...] = (), about: str = "") -> Verdict:
    """A verdict by a rule of `calc`."""
    return Verdict(GOOD if good else BAD, words, rule.words, source_of(rule), caution_of(rule), lines, about)


def told(found: calc.Verdict, good: str, bad: str = "", lines: tuple[str, ...] = (), about: str = "") -> Verdict:
    """A verdict of `calc` in words of a record; without words for bad, its reasons."""
    words = good if found.good else bad or sentence(", ".join(found.reasons) or found.verdict)
    return judged(found.rule, found.good, words, lines + found.notes, about)


def waiting(words: str, rule: calc.Rule | None = None, about: str = "") -> Verdict:
    """A verdict that waits for something; `words` say for what."""
    if rule is None:
        return Verdict(OPEN, words, about=about)
    return Verdict(OPEN, words, rule.words, source_of(rule), caution_of(rule), about=about)


def tried(make: Callable[[], Verdict], about: str = "", rule: calc.Rule | None = None) -> Verdict:
    """What `make` gives; a figure that cannot be is a bad verdict with its sentence, never silence (rule R42)."""
    try:
        return make()
    except Impossible as no:
        if rule is None:
            return Verdict(BAD, no.sentence, about=about)
        return Verdict(BAD, no.sentence, rule.words, source_of(rule), caution_of(rule), about=about)


def source_of(rule: calc.Rule) -> str:
    """Where a rule is from; memory and common practice are said."""
    return rule.source if rule.provenance == calc.SEEN else f"{rule.source} ({rule.provenance})"


def caution_of(rule: calc.Rule) -> str:
    """The caution of a rule; that plan and maker's sheet win is never left out."""
    return rule.caution if "win" in rule.caution else f"{rule.caution} {calc.PLAN_WINS}"


def overall(verdicts: list[Verdict]) -> str:
    """The state of several verdicts together: bad if one is bad, open if one waits, else good; open without any."""
    states = {verdict.state for verdict in verdicts}
    return BAD if BAD in states else OPEN if OPEN in states or not states else GOOD


def sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
