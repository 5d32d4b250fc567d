"""Solid rivets: length, formed head, spacing, and which rivet may stand for another. Lengths in inches."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from re import fullmatch

from calc.figures import Figure, exact, nearest, positive
from calc.trouble import Impossible
from calc.verdict import Rule, Verdict

SIXTEENTH, THIRTY_SECOND = Fraction(1, 16), Fraction(1, 32)

SOLID = Rule(
    "length = grip + 1.5 D; formed head 1.5 D wide and 0.5 D high; edge 2 D; pitch at least 3 D",
    "US Navy training manual 14018, figure 13-43 (length, pitch); "
    "FAA AC 43.13-1B as cited on a builders' forum (head, edge)",
    valid="Protruding-head solid rivets.",
)
HEAD_HEIGHT = Rule(
    "formed head at least 0.5 D high, or within the limits of the military process specification",
    "FAA AC 43.13-1B (0.5 D); MIL-R-47196A as quoted on builders' forums (limits)",
    valid="Military limits for 3/32 in and 1/8 in only.",
    caution="Write down which of the two rules was used.",
)
SUBSTITUTE = Rule(
    "2117 for 2017 up to 3/16 in, or for 2024 up to 5/32 in, one size (1/32 in) larger",
    "FAA AC 43.13-1B para 4-57 b",
    valid="General repairs; edge distance and spacing must still be kept with the larger rivet.",
)

# Least and largest height of the formed head, by diameter.
MILITARY: Mapping[Fraction, tuple[Fraction, Fraction]] = {
    3 * THIRTY_SECOND: (Fraction(38, 1000), Fraction(50, 1000)),
    4 * THIRTY_SECOND: (Fraction(50, 1000), Fraction(70, 1000)),
}
ALLOYS = ("1100", "2017", "2024", "2117", "5056", "7050")
LETTERS = {"a": "1100", "ad": "2117", "b": "5056", "d": "2017", "dd": "2024", "e": "7050"}
# The largest diameter at which a softer 2117 rivet, one size larger, may replace the harder one.
REPLACED_BY_2117 = {"2017": 6 * THIRTY_SECOND, "2024": 5 * THIRTY_SECOND}
# How near a written diameter, such as 0.094, has to be to the one it means.
NEAR = Fraction(1, 1000)


@dataclass(frozen=True)
class Solid:
    """What a solid rivet has to be, in inches."""

    length: float
    dash_length: int
    """The nearest length that is made, in sixteenths."""
    head_width: float
    head_height: float
    edge_minimum: float
    pitch_minimum: float


def solid(diameter: Figure, grip: Figure) -> Solid:
    """Length, formed head and spacing for a diameter and a grip."""
    size, clamped = _diameter(diameter, "diameter_in"), positive(grip, "grip_in")
    length = clamped + size * 3 / 2
    return Solid(
        float(length),
        nearest(length / SIXTEENTH),
        float(size * 3 / 2),
        float(size / 2),
        float(size * 2),
        float(size * 3),
    )


@dataclass(frozen=True, kw_only=True)
class HeadVerdict(Verdict):
    """A formed head judged by two rules."""

    half_diameter: bool
    military: bool | None
    """None: no limits are known for this diameter."""


def head_height(diameter: Figure, height: Figure) -> HeadVerdict:
    """Judge the height of a formed head."""
    size, high = _diameter(diameter, "diameter_in"), positive(height, "measured_in")
    half = high >= size / 2
    limits = next((found for nominal, found in MILITARY.items() if abs(nominal - size) <= NEAR), None)
    military = limits[0] <= high <= limits[1] if limits else None
    good = half or bool(military)
    return HeadVerdict(
        verdict="accept" if good else "reject",
        good=good,
        rule=HEAD_HEIGHT,
        reasons=() if good else ("formed head too low",),
        notes=() if limits else ("No military limits are known for this diameter.",),
        given={"diameter": diameter, "height": height},
        half_diameter=half,
        military=military,
    )


@dataclass(frozen=True)
class Substitute:
    """Whether a rivet may stand for another, and in which diameter (inches)."""

    allowed: bool
    diameter: float | None


def substitute(original_alloy: str, original_diameter: Figure, alloy: str) -> Substitute:
    """The diameter a rivet of another alloy needs to replace this one; not allowed where the rule has no such case."""
    old, new = alloy_name(original_alloy, "original_alloy"), alloy_name(alloy, "substitute_alloy")
    size = _diameter(original_diameter, "original_diameter_in")
    if old == new:
        return Substitute(True, float(size))
    largest = REPLACED_BY_2117.get(old)
    if new != "2117" or largest is None or size - largest > NEAR:
        return Substitute(False, None)
    return Substitute(True, float(size + THIRTY_SECOND))


def alloy_name(text: str, field: str) -> str:
    """An alloy without its temper: "2117-T4", "AD" and "2117" are one."""
    plain = text.strip().casefold()
    written = fullmatch(r"(\d{4})(?:[- ]?t\d+)?", plain)
    found = written.group(1) if written else LETTERS.get(plain)
    if found not in ALLOYS:
        raise Impossible(
            f"“{text[:40]}” is not a rivet alloy that is known here ({', '.join(ALLOYS)}).", field, "unknown"
        )
    return found


def _diameter(value: Figure, field: str) -> Fraction:
    return exact(value, field, above=0, high=2, why="Rivet diameters are in inches.")
