"""Weighing: total, moment and center of gravity of weighed points, and a roll-up of estimates and scale readings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from calc.figures import Figure, exact, not_negative
from calc.trouble import Impossible
from calc.verdict import MEMORY, PRACTICE, Rule

TOTAL = Rule(
    "sum of the scales",
    "a builder's weighing-day log, 29 Dec 2013 (three points, 1114 lb, 3 lb over his reference)",
    caution="Level, closed, without wind, tare and fluids written down.",
)
CENTER = Rule(
    "center of gravity = moment / weight",
    "standard weight-and-balance arithmetic",
    MEMORY,
    valid="Arms from one datum, forward of it negative.",
    caution="Limits and loading come from the aircraft's own papers.",
)
ROLL_UP = Rule(
    "a scale reading replaces the estimate",
    "no single source",
    PRACTICE,
    caution="A roll-up forecasts; the aircraft is weighed in the end.",
)


@dataclass(frozen=True)
class Balance:
    """Weight, moment and arm of the center of gravity, in the units of what was weighed."""

    weight: float
    moment: float
    arm: float


def balance(points: Sequence[tuple[Figure, Figure]]) -> Balance:
    """Center of gravity of (weight, arm) pairs in one unit each."""
    pairs = [(not_negative(weight, "points"), exact(arm, "points")) for weight, arm in points]
    weight = sum((weight for weight, _ in pairs), Fraction(0))
    if not weight:
        raise Impossible("Nothing was weighed: without weight there is no center of gravity.", "points", "missing")
    moment = sum((weight * arm for weight, arm in pairs), Fraction(0))
    return Balance(float(weight), float(moment), float(moment / weight))


def total(weights: Iterable[tuple[str, Figure]]) -> Fraction:
    """The sum of named weights."""
    return sum((not_negative(weight, name) for name, weight in weights), Fraction(0))


@dataclass(frozen=True)
class RollUp[Key]:
    """What parts weigh together, in their unit."""

    weighed: float
    estimated: float
    unknown: tuple[Key, ...] = ()
    """Parts of which neither a reading nor an estimate is known."""

    @property
    def total(self) -> float:
        return self.weighed + self.estimated

    @property
    def weighed_fraction(self) -> float | None:
        """How much of the total stands on a scale reading; None where there is no weight."""
        return self.weighed / self.total if self.total else None


def roll_up[Key](parts: Iterable[tuple[Key, Figure | None, Figure | None]]) -> RollUp[Key]:
    """Roll up (part, estimate, reading); a reading wins over the estimate."""
    weighed = estimated = Fraction(0)
    unknown = []
    for key, estimate, reading in parts:
        guess = None if estimate is None else not_negative(estimate, "estimate_g")
        if reading is not None:
            weighed += not_negative(reading, "weighed_g")
        elif guess is not None:
            estimated += guess
        else:
            unknown.append(key)
    return RollUp(float(weighed), float(estimated), tuple(unknown))
