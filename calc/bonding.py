"""Bonds and repairs: the time window, scarf length, repair plies, and whether a tap test says anything."""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from calc.figures import Figure, exact, positive, whole
from calc.times import passed
from calc.verdict import Rule, Verdict

BOND = Rule(
    "at least 15 min dry after the last wipe, adhesive on within 24 h, peel ply recorded off",
    "light helicopter composite repair manual, chapter 51-20 p. 5 (30 Nov 2000); "
    "peel ply: builders' accounts of bonds that failed",
    valid="The times belong to that manual; both ends are inside.",
    caution="The adhesive's own data sheet and the plan win over these times.",
)
SCARF = Rule(
    "length = thickness x taper",
    "FAA AC 43.13-1B para 3-3 a(1): about 50 times the face-ply thickness",
    valid="Thickness of what is scarfed, not of the whole sandwich.",
)
REPAIR_PLIES = Rule(
    "each ply larger than the one below by twice the overlap",
    "light helicopter composite repair manual, chapter 51-20 p. 5: overlap 0.5 to 1.0 in; per side is our reading",
    valid="A round hole.",
)
TAP = Rule(
    "skins thinner than 0.080 in; a sandwich from both sides",
    "FAA AC 43.13-1B para 5-105",
    valid="Shallow flaws near the tapped face.",
    caution="The method leaves no record of itself: mark the sound on a picture of the part.",
)

DRY_MINUTES, WINDOW_MINUTES = 15, 24 * 60
NOT_DRY, EXPIRED, PEEL_PLY = "not dry", "window expired", "peel ply not recorded off"
TOO_THICK, FAR_SIDE = "skin too thick for tap test", "far side not covered"
TAP_SKIN = Fraction(80, 1000)


@dataclass(frozen=True, kw_only=True)
class BondVerdict(Verdict):
    """Whether a bond may go together."""

    elapsed: float
    """Minutes from the last wipe to the adhesive."""


def window(
    final_wipe_at: datetime,
    adhesive_on_at: datetime,
    *,
    peel_ply_off: bool,
    dry_minutes: Figure = DRY_MINUTES,
    window_minutes: Figure = WINDOW_MINUTES,
) -> BondVerdict:
    """Judge the time between the last solvent wipe and the adhesive, and whether the peel ply is recorded off."""
    elapsed = passed(final_wipe_at, adhesive_on_at, "adhesive_on_at", "The adhesive cannot be on before the last wipe.")
    reasons = []
    if elapsed < exact(dry_minutes, "dry_min", low=0):
        reasons.append(NOT_DRY)
    if elapsed > positive(window_minutes, "window_min"):
        reasons.append(EXPIRED)
    if not peel_ply_off:
        reasons.append(PEEL_PLY)
    return BondVerdict(
        verdict="stop" if reasons else "go",
        good=not reasons,
        rule=BOND,
        reasons=tuple(reasons),
        given={"final_wipe_at": final_wipe_at, "adhesive_on_at": adhesive_on_at, "peel_ply_off": peel_ply_off},
        elapsed=float(elapsed),
    )


def scarf_length(thickness: Figure, ratio: Figure = 50) -> float:
    """Length of a scarf in the unit of the thickness; `ratio` 50 means 50 to 1."""
    return float(positive(thickness, "thickness_in") * exact(ratio, "ratio", low=1, high=1000))


def repair_diameters(damage: Figure, plies: Figure, overlap: Figure) -> list[float]:
    """Diameters of repair plies over a round hole, the first ply first, all in one unit of length."""
    hole, side = positive(damage, "damage_dia_in"), positive(overlap, "overlap_per_side_in")
    return [float(hole + 2 * side * ply) for ply in range(1, whole(plies, "plies", low=1, high=1000) + 1)]


def tap_valid(skin_thickness: Figure, *, sandwich: bool, sides: int) -> Verdict:
    """Whether a tap test can say anything about this area; thickness in inches, sides tapped one or two."""
    skin = positive(skin_thickness, "skin_thickness_in")
    tapped = whole(sides, "sides_tapped", low=1, high=2)
    reasons = []
    if skin >= TAP_SKIN:
        reasons.append(TOO_THICK)
    if sandwich and tapped < 2:
        reasons.append(FAR_SIDE)
    return Verdict(
        verdict="not valid" if reasons else "valid",
        good=not reasons,
        rule=TAP,
        reasons=tuple(reasons),
        given={"skin_thickness": skin_thickness, "sandwich": sandwich, "sides": sides},
    )
