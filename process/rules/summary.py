"""The verdicts of a record in one line: in lists, in a title block, and at the top of its own page."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from process.rules.verdicts import BAD, GOOD, MARKS, OPEN, Verdict

# A finished record that no rule judges is neither good nor bad.
RECORDED = "Recorded"


@dataclass(frozen=True)
class InAWord:
    """What a list says of a record: a drawn state, and words that stand beside it."""

    mark: str
    words: str


def in_a_word(verdicts: Sequence[Verdict], now: str = "") -> InAWord:
    """What is outside its limits first; then, of a record that goes on, where it is (`now`); else how it was judged."""
    bad = [one for one in verdicts if one.bad]
    waits = [one for one in verdicts if not one.bad and not one.good]
    if bad:
        said = f"{len(bad)} outside {'its' if len(bad) == 1 else 'their'} limits"
        return InAWord(MARKS[BAD], f"{now}, {said}" if now else said)
    if now:
        return InAWord("work", now)
    if waits:
        return InAWord(MARKS[OPEN], f"{len(waits)} still open")
    return InAWord(MARKS[GOOD], "Good") if verdicts else InAWord(MARKS[OPEN], "No verdict")


@dataclass(frozen=True)
class Placed:
    """A verdict on a page: of which other record it is, if of one, and whether its caution stands below for many."""

    verdict: Verdict
    of: str
    anchor: str
    caution_below: bool

    @property
    def name(self) -> str:
        """What is judged, such as "M-10 mix ratio"."""
        about = self.verdict.about
        return f"{self.of} {about[:1].lower()}{about[1:]}" if self.of else about


def placed(found: Iterable[tuple[str, Verdict]]) -> list[Placed]:
    """Verdicts of a page in their order. A caution that several good ones share stands once below them all.

    What is bad or open keeps its own caution beside it.
    """
    rows = list(found)
    said = Counter(verdict.caution for _, verdict in rows if verdict.good)
    return [
        Placed(verdict, of, f"verdict-{at}", verdict.good and said[verdict.caution] > 1)
        for at, (of, verdict) in enumerate(rows, start=1)
    ]


def cautions(rows: Sequence[Placed]) -> list[tuple[str, list[str]]]:
    """The cautions that stand below, each with the names of the verdicts it goes with."""
    below: dict[str, list[str]] = {}
    for one in rows:
        if one.caution_below:
            below.setdefault(one.verdict.caution, []).append(one.name)
    return list(below.items())


def at_a_glance(rows: Sequence[Placed]) -> str:
    """How many of the verdicts are outside their limits and how many are open, as a heading."""
    bad, waits = (sum(one.verdict.state == state for one in rows) for state in (BAD, OPEN))
    if not rows:
        return "No verdict"
    if len(rows) == 1:
        return f"The only verdict is {'outside its limits' if bad else 'still open' if waits else 'good'}"
    if not bad and not waits:
        return f"All {len(rows)} verdicts are good"
    of = f"of {len(rows)} verdicts"
    if not bad:
        return f"{waits} {of} {'is' if waits == 1 else 'are'} still open"
    said = f"{bad} {of} {'is outside its' if bad == 1 else 'are outside their'} limits"
    return f"{said}, {waits} still open" if waits else said


def worth_a_look(rows: Sequence[Placed], open_too: bool = True) -> list[Placed]:
    """What is outside its limits, then what is open."""
    wanted = [one for one in rows if one.verdict.bad or (open_too and not one.verdict.good)]
    return sorted(wanted, key=lambda one: not one.verdict.bad)
