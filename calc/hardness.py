"""Hardness by Barcol indenter: the average that counts, and where the method says anything at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calc.figures import Figure, exact, mean, not_negative, positive
from calc.trouble import Impossible
from calc.verdict import Rule, Verdict

BARCOL = Rule(
    "10 to 12 readings, without the highest and the lowest, averaged",
    "FRP resin maker's fabricating tips, chapter 9 (934-1 tester)",
    valid="10 readings or more, each from 0 to 100.",
    caution="The acceptance value comes from the resin's own data.",
)
VALID = Rule(
    "laminate at least 1.5 mm thick and 3 mm clear of any edge",
    "ASTM D2583-95, section 7.2 (seen in an excerpt)",
    caution="Where the method does not apply, the cure log and a coupon carry the proof.",
)
FEWEST, USUAL = 10, 12
LEAST_THICKNESS, LEAST_EDGE = Fraction(3, 2), Fraction(3)


@dataclass(frozen=True, kw_only=True)
class BarcolVerdict(Verdict):
    """A hardness judged."""

    average: float
    used: int
    """How many readings were averaged."""


def barcol(readings: Sequence[Figure], acceptance: Figure) -> BarcolVerdict:
    """Judge a set of readings against the least acceptable average."""
    values = sorted(exact(reading, "readings", low=0, high=100) for reading in readings)
    if len(values) < FEWEST:
        raise Impossible(
            f"The method takes {FEWEST} to {USUAL} readings; there are {len(values)}.", "readings", "missing"
        )
    average = mean(values[1:-1])
    good = average >= exact(acceptance, "acceptance_min", low=0, high=100)
    return BarcolVerdict(
        verdict="ok" if good else "soft",
        good=good,
        rule=BARCOL,
        reasons=() if good else ("softer than the resin's data ask",),
        notes=(f"The method takes {FEWEST} to {USUAL} readings.",) if len(values) > USUAL else (),
        given={"readings": tuple(readings), "acceptance": acceptance},
        average=float(average),
        used=len(values) - 2,
    )


def barcol_valid(thickness: Figure, edge: Figure) -> Verdict:
    """Whether the tester may be used here, by thickness and distance from the nearest edge in mm."""
    reasons = []
    if positive(thickness, "thickness_mm") < LEAST_THICKNESS:
        reasons.append("laminate too thin")
    if not_negative(edge, "edge_mm") < LEAST_EDGE:
        reasons.append("too near an edge")
    return Verdict(
        verdict="not valid" if reasons else "valid",
        good=not reasons,
        rule=VALID,
        reasons=tuple(reasons),
        given={"thickness": thickness, "edge": edge},
    )
