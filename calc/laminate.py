"""Laminates: thickness, fiber volume, mass and volume fractions, weight, and what a burnt coupon says.

Densities in g/cm3, areal weights in g/m2 (FAW: of the dry cloth of one ply), thickness in mm, area in m2, weight in g.
"""

from dataclasses import dataclass
from fractions import Fraction

from calc.figures import Figure, exact, not_negative, positive, whole
from calc.trouble import Impossible
from calc.units import INCH, POUND
from calc.verdict import MEMORY, PRACTICE, Rule, Verdict

IMPLAUSIBLE = "implausible"

# Round fibers packed in squares fill pi/4 = 0.785 of the space; more than 0.75 is a slip of counting or measuring.
MOST_FIBER = Fraction(3, 4)
# A void content below this is not a small error any more (percent).
LEAST_VOID = Fraction(-1, 2)
# Nothing is denser than osmium: a density above this is in another unit.
DENSEST = Fraction(23)
PER_MM = 1000  # g/m2 of a layer one millimeter thick with a density of 1 g/cm3
POUND_G = POUND * 1000
INCH_MM = INCH * 1000

DENSITIES = (
    "Typical: carbon 1.76 to 1.80, E-glass 2.54 to 2.60, aramid 1.44, cured epoxy 1.15 to 1.25 g/cm3 (from memory)."
)

THICKNESS = Rule(
    "thickness = plies x FAW / (fiber density x fiber volume)",
    "university lecture on laminate thickness; online composites guides",
    valid=f"Void-free laminate; fiber volume up to 0.75. {DENSITIES}",
)
FIBER_VOLUME = Rule(
    "fiber volume = plies x FAW / (fiber density x thickness)",
    "university lecture on laminate thickness; online composites guides; alarm above 0.75 is our choice",
    valid=f"A trimmed edge, peel ply off, no core. {DENSITIES}",
    caution="More than 0.75 means a ply miscounted or a bad reading. " + "The plan and the maker's data sheet win.",
)
PREPREG = Rule(
    "thickness = fiber mass / fiber density + resin mass / resin density",
    "worked example on an online composites calculator page",
    valid="Void-free prepreg without bleed.",
)
FRACTIONS = Rule(
    "mass and volume fractions by the two densities",
    "university lecture; online composites calculator page; AC 43.13-1B para 3-3 (about 50:50 by weight)",
    valid=f"Void-free laminate. {DENSITIES}",
)
WEIGHT = Rule(
    "laminate = area x plies x FAW / fiber mass fraction",
    "mass balance",
    MEMORY,
    valid="No trim, no bleed, no core.",
)
VARIANCE = Rule(
    "weighed against predicted, in percent of the prediction",
    "the alarm level is the builder's own",
    PRACTICE,
    caution="A part far from its prediction has a ply, a splice or a cup of resin too many or too few.",
)
BURN_OFF = Rule(
    "fiber % = fiber mass / coupon mass x laminate density / fiber density; voids are what remains",
    "form of the calculation in ASTM D3171, procedure I; alarm below -0.5 % voids is our choice",
    MEMORY,
    valid="Matrix removed, fibers and their densities known.",
    caution="Clearly negative voids mean a wrong density or a weighing slip.",
)
IMMERSION = Rule(
    "density = dry x water density / (dry - immersed)",
    "form of ASTM D792, method A",
    MEMORY,
    valid="A coupon that sinks; water at 23 degC has 0.9975 g/cm3.",
)
WATER_23C = Fraction(9975, 10_000)


def density(value: Figure, field: str) -> Fraction:
    """A density in g/cm3; one that could only be in another unit is refused."""
    return exact(value, field, above=0, high=DENSEST, why="Densities are in g/cm3.")


def fraction(value: Figure, field: str) -> Fraction:
    """A mass fraction: more than nothing, at most everything."""
    return exact(value, field, above=0, high=1, why="It is a fraction, not a percentage.")


def fiber_fraction(value: Figure, field: str = "fibre_volume_fraction") -> Fraction:
    """A fiber volume fraction that a laminate can have."""
    return exact(value, field, above=0, high=MOST_FIBER, why="No laminate holds more fiber than about three quarters.")


@dataclass(frozen=True)
class Thickness:
    """Thickness of a laminate and of one ply of it, in mm."""

    ply: float
    total: float

    @property
    def inches(self) -> float:
        return self.total / float(INCH_MM)


def thickness(plies: Figure, faw: Figure, fiber_density: Figure, fiber_volume: Figure) -> Thickness:
    """How thick so many plies of a cloth become at a fiber volume fraction."""
    count = whole(plies, "plies", low=1)
    ply = positive(faw, "faw_gsm") / (density(fiber_density, "fibre_density") * fiber_fraction(fiber_volume) * PER_MM)
    return Thickness(float(ply), float(ply * count))


@dataclass(frozen=True, kw_only=True)
class FiberVerdict(Verdict):
    """A fiber volume fraction, and whether it can be."""

    fiber_volume: float


def fiber_volume(plies: Figure, faw: Figure, fiber_density: Figure, thickness: Figure) -> FiberVerdict:
    """The fiber volume fraction that a measured thickness means; flagged above 0.75 (rule R42)."""
    count = whole(plies, "plies", low=1)
    dry = count * positive(faw, "faw_gsm")
    found = dry / (density(fiber_density, "fibre_density") * positive(thickness, "thickness_mm") * PER_MM)
    return _fiber_verdict(
        found,
        FIBER_VOLUME,
        {"plies": plies, "faw": faw, "fiber_density": fiber_density, "thickness": thickness},
    )


def prepreg_ply(total_areal: Figure, fiber_mass: Figure, fiber_density: Figure, resin_density: Figure) -> float:
    """Cured thickness of one ply of prepreg in mm, from its weight with resin and its fiber mass fraction."""
    weight, share = positive(total_areal, "total_areal_gsm"), fraction(fiber_mass, "fibre_mass_fraction")
    fiber = weight * share / density(fiber_density, "fibre_density")
    resin = weight * (1 - share) / density(resin_density, "resin_density")
    return float((fiber + resin) / PER_MM)


def mass_fraction(fiber_volume: Figure, fiber_density: Figure, resin_density: Figure) -> float:
    """Fiber mass fraction of a void-free laminate with a fiber volume fraction."""
    share = fiber_fraction(fiber_volume)
    fiber = share * density(fiber_density, "fibre_density")
    return float(fiber / (fiber + (1 - share) * density(resin_density, "resin_density")))


@dataclass(frozen=True, kw_only=True)
class VolumeVerdict(FiberVerdict):
    """A fiber volume fraction from a mass fraction, with the density of that laminate in g/cm3."""

    laminate_density: float


def volume_fraction(fiber_mass: Figure, fiber_density: Figure, resin_density: Figure) -> VolumeVerdict:
    """Fiber volume fraction and density of a void-free laminate with a fiber mass fraction; flagged above 0.75."""
    share = fraction(fiber_mass, "fibre_mass_fraction")
    fiber = share / density(fiber_density, "fibre_density")
    whole_volume = fiber + (1 - share) / density(resin_density, "resin_density")
    judged = _fiber_verdict(
        fiber / whole_volume,
        FRACTIONS,
        {"fiber_mass": fiber_mass, "fiber_density": fiber_density, "resin_density": resin_density},
    )
    return VolumeVerdict(
        verdict=judged.verdict,
        good=judged.good,
        rule=judged.rule,
        reasons=judged.reasons,
        given=judged.given,
        fiber_volume=judged.fiber_volume,
        laminate_density=float(1 / whole_volume),
    )


def _fiber_verdict(found: Fraction, rule: Rule, given: dict[str, object]) -> FiberVerdict:
    good = found <= MOST_FIBER
    return FiberVerdict(
        verdict="plausible" if good else IMPLAUSIBLE,
        good=good,
        rule=rule,
        reasons=() if good else ("more fiber than a laminate can hold",),
        given=given,
        fiber_volume=float(found),
    )


@dataclass(frozen=True)
class Weight:
    """Predicted weights of a laminate, in g."""

    fabric: float
    resin: float

    @property
    def total(self) -> float:
        return self.fabric + self.resin

    @property
    def pounds(self) -> float:
        return self.total / float(POUND_G)


def weight(area: Figure, plies: Figure, faw: Figure, fiber_mass: Figure) -> Weight:
    """What a laminate should weigh."""
    fabric = positive(area, "area_m2") * whole(plies, "plies", low=1) * positive(faw, "faw_gsm")
    return Weight(float(fabric), float(fabric / fraction(fiber_mass, "fibre_mass_fraction") - fabric))


@dataclass(frozen=True, kw_only=True)
class VarianceVerdict(Verdict):
    """How far a part's weight is from its prediction, in percent of the prediction, with its sign."""

    percent: float


def weight_variance(predicted: Figure, weighed: Figure, alarm: Figure) -> VarianceVerdict:
    """Judge a weighed part against its prediction; `alarm` in percent, either way."""
    wanted, got = positive(predicted, "predicted_g"), positive(weighed, "weighed_g")
    percent = (got - wanted) / wanted * 100
    good = abs(percent) <= not_negative(alarm, "alarm_percent")
    return VarianceVerdict(
        verdict="as predicted" if good else "off",
        good=good,
        rule=VARIANCE,
        reasons=() if good else ("heavier than predicted" if percent > 0 else "lighter than predicted",),
        given={"predicted": predicted, "weighed": weighed, "alarm": alarm},
        percent=float(percent),
    )


@dataclass(frozen=True, kw_only=True)
class ContentVerdict(Verdict):
    """What a coupon is made of, in percent of its volume."""

    fiber: float
    matrix: float
    void: float


def constituents(
    specimen: Figure, fiber: Figure, laminate_density: Figure, fiber_density: Figure, resin_density: Figure
) -> ContentVerdict:
    """Fiber, matrix and voids of a coupon whose matrix was removed; what cannot be is flagged (rule R42)."""
    whole_mass, left = positive(specimen, "specimen_g"), not_negative(fiber, "fibre_g")
    if left > whole_mass:
        raise Impossible("More fiber is left than the coupon weighed.", "fibre_g")
    dense = density(laminate_density, "laminate_density")
    in_fiber = left / whole_mass * dense / density(fiber_density, "fibre_density") * 100
    in_matrix = (whole_mass - left) / whole_mass * dense / density(resin_density, "resin_density") * 100
    void = 100 - in_fiber - in_matrix
    reasons = []
    if void < LEAST_VOID:
        reasons.append("negative voids")
    if in_fiber > MOST_FIBER * 100:
        reasons.append("more fiber than a laminate can hold")
    return ContentVerdict(
        verdict=IMPLAUSIBLE if reasons else "plausible",
        good=not reasons,
        rule=BURN_OFF,
        reasons=tuple(reasons),
        given={
            "specimen": specimen,
            "fiber": fiber,
            "laminate_density": laminate_density,
            "fiber_density": fiber_density,
            "resin_density": resin_density,
        },
        fiber=float(in_fiber),
        matrix=float(in_matrix),
        void=float(void),
    )


def immersion_density(dry: Figure, immersed: Figure, water_density: Figure = WATER_23C) -> float:
    """Density in g/cm3 of a coupon weighed dry and hanging in water, both in g."""
    in_air, in_water = (
        positive(dry, "dry_g"),
        not_negative(immersed, "immersed_g", "A coupon that floats needs a sinker."),
    )
    if in_water >= in_air:
        raise Impossible("A coupon weighs less in water than in air.", "immersed_g")
    return float(in_air * density(water_density, "water_density") / (in_air - in_water))
