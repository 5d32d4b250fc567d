"""Resin and hardener: how much to weigh out, is a batch right, what can the scale hide, how long is it good.

Ratios by weight and by volume are different things and never turn into each other without both densities. Weights in g,
densities in g/cm3, times in minutes.
"""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from calc.figures import Figure, exact, not_negative, positive
from calc.laminate import density
from calc.times import passed
from calc.trouble import Impossible
from calc.units import convert, degrees
from calc.verdict import MEMORY, PRACTICE, Rule, Verdict

SHEET_WINS = "The resin maker's own ratio, window and pot life win."

BY_WEIGHT = Rule(
    "hardener = resin x hardener parts / resin parts",
    "light helicopter composite repair manual, chapter 51-20 p. 2 (30 Nov 2000), worked example",
    valid="Parts by weight only; parts by volume are refused without both densities.",
    caution=SHEET_WINS,
)
FROM_CLOTH = Rule(
    "mixed resin = cut cloth x parts per 100 of cloth, plus what stays in cup and brush",
    "type-certificated light composite aeroplane's maintenance manual, 51-00-00 p. 10 (14 Jan 2013): "
    "cloth to resin 100:85 carbon, 100:70 glass",
    valid="Hand layup of dry cloth; the allowance for loss is the builder's own.",
    caution=SHEET_WINS,
)
WEIGHT_AND_VOLUME = Rule(
    "ratio by volume = ratio by weight x resin density / hardener density",
    "both ratios printed on laminating-epoxy makers' pages",
    MEMORY,
    valid="Densities of the two liquids at the temperature at which they are measured out.",
    caution="Weighing out a ratio by volume can be wrong by a sixth. " + SHEET_WINS,
)
WINDOW = Rule(
    "resin per hardener inside the system's window",
    "about 3 % as relayed from a resin maker (builders' mailing list, 17 Nov 1999); "
    "half a percent in a type-certificated light composite aeroplane's maintenance manual",
    valid="The window belongs to the resin system; both ends are inside.",
    caution=SHEET_WINS,
)
SCALE = Rule(
    "the ratio at the two ends of what the scale can be wrong by",
    "builders' mailing list, 17 Nov 1999",
    valid="The error of each reading in grams: resolution and accuracy together.",
    caution="Check the scale with a known weight before mixing.",
)
BEAM = Rule(
    "mark for resin alone = full mark x resin parts / all parts",
    "amateur boat-building article on a balance-beam ratio scale",
    valid="Parts by weight.",
    caution=SHEET_WINS,
)
POT_LIFE = Rule(
    "doubles for each 10 degC (18 degF) cooler, halves for each warmer",
    "rule quoted on an epoxy question-and-answer page",
    valid="Near the temperature of the data sheet and for the same amount in the pot; here from -20 to 80 degC.",
    caution="For an alarm only: a full cup is much faster than a thin film. " + SHEET_WINS,
)
POT_CLOCK = Rule(
    "last wet-out within the pot life, counted from when hardener meets resin",
    "no single source",
    PRACTICE,
    caution=SHEET_WINS,
)

DOUBLING = 10  # kelvin
COLDEST, WARMEST = -20, 80  # degC


@dataclass(frozen=True)
class Batch:
    """A batch to be weighed out, in g."""

    resin: float
    hardener: float

    @property
    def mixed(self) -> float:
        return self.resin + self.hardener


def hardener_for(resin: Figure, resin_parts: Figure, hardener_parts: Figure) -> Batch:
    """The hardener that an amount of resin needs, by a ratio of weights."""
    poured = positive(resin, "resin_g")
    needed = poured * positive(hardener_parts, "hardener_parts") / positive(resin_parts, "resin_parts")
    return Batch(float(poured), float(needed))


def batch_for_cloth(cloth: Figure, mix_per_100: Figure, hardener_per_100: Figure, loss: Figure = 0) -> Batch:
    """The batch that cut cloth needs.

    `mix_per_100` g of mixed resin for 100 g of cloth, `hardener_per_100` g of hardener for 100 g of resin, `loss` in
    percent for what stays in cup and brush.
    """
    spare = exact(loss, "loss_percent", low=0, high=500)
    mixed = positive(cloth, "cloth_g") * positive(mix_per_100, "resin_mix_per_100_cloth") / 100 * (1 + spare / 100)
    resin = mixed * 100 / (100 + positive(hardener_per_100, "hardener_parts_per_100"))
    return Batch(float(resin), float(mixed - resin))


def volume_parts(resin_parts: Figure, hardener_parts: Figure, resin_density: Figure, hardener_density: Figure) -> float:
    """Parts of hardener by volume for 100 parts of resin by volume, from parts by weight."""
    ratio = positive(hardener_parts, "hardener_parts_w") / positive(resin_parts, "resin_parts_w")
    return float(ratio * density(resin_density, "resin_density") / density(hardener_density, "hardener_density") * 100)


def weight_parts(resin_parts: Figure, hardener_parts: Figure, resin_density: Figure, hardener_density: Figure) -> float:
    """Parts of hardener by weight for 100 parts of resin by weight, from parts by volume."""
    ratio = positive(hardener_parts, "hardener_parts_v") / positive(resin_parts, "resin_parts_v")
    return float(ratio * density(hardener_density, "hardener_density") / density(resin_density, "resin_density") * 100)


def density_ratio(
    volume_resin: Figure, volume_hardener: Figure, weight_resin: Figure, weight_hardener: Figure
) -> float:
    """Resin density over hardener density, as implied by a system's ratio by weight and its ratio by volume."""
    by_weight = positive(weight_resin, "weight_resin_parts") / positive(weight_hardener, "weight_hardener_parts")
    by_volume = positive(volume_resin, "volume_resin_parts") / positive(volume_hardener, "volume_hardener_parts")
    return float(by_weight / by_volume)


def hardener_excess(right_ratio: Figure, used_ratio: Figure) -> float:
    """Percent of hardener too much (negative: too little) when resin per hardener was not the right one."""
    right, used = positive(right_ratio, "right_resin_per_hardener"), positive(used_ratio, "used_resin_per_hardener")
    return float((right / used - 1) * 100)


@dataclass(frozen=True, kw_only=True)
class MixVerdict(Verdict):
    """A batch judged: resin per hardener by weight, and how far that is from the target in percent."""

    ratio: float
    deviation: float


def judge(resin: Figure, hardener: Figure, target: Figure, window: tuple[Figure, Figure]) -> MixVerdict:
    """Judge a batch as weighed; `target` and `window` in resin per hardener by weight, both ends inside."""
    poured = positive(resin, "resin_g")
    ratio = poured / positive(hardener, "hardener_g", "Without hardener nothing cures.")
    wanted = positive(target, "target_resin_per_hardener")
    low, high = positive(window[0], "window"), positive(window[1], "window")
    if low > high:
        raise Impossible("The window's lower end lies above its upper end.", "window")
    if not low <= wanted <= high:
        raise Impossible("The target lies outside the window.", "target_resin_per_hardener")
    good = low <= ratio <= high
    return MixVerdict(
        verdict="accept" if good else "reject",
        good=good,
        rule=WINDOW,
        reasons=() if good else ("too much hardener" if ratio < low else "too little hardener",),
        given={"resin": resin, "hardener": hardener, "target": target, "window": window},
        ratio=float(ratio),
        deviation=float((ratio - wanted) / wanted * 100),
    )


@dataclass(frozen=True)
class Span:
    """The least and the largest that something can be."""

    low: float
    high: float


def worst_case(resin: Figure, hardener: Figure, resin_error: Figure, hardener_error: Figure) -> Span:
    """Resin per hardener at the ends of what the scale can be wrong by, all in g."""
    poured, added = positive(resin, "resin_shown_g"), positive(hardener, "hardener_shown_g")
    resin_off, hardener_off = (
        not_negative(resin_error, "resin_error_g"),
        not_negative(hardener_error, "hardener_error_g"),
    )
    if hardener_off >= added:
        raise Impossible("The scale can be wrong by all of the hardener.", "hardener_error_g")
    if resin_off >= poured:
        raise Impossible("The scale can be wrong by all of the resin.", "resin_error_g")
    return Span(
        float((poured - resin_off) / (added + hardener_off)), float((poured + resin_off) / (added - hardener_off))
    )


def beam_mark(total_parts: Figure, resin_parts: Figure, full_mark: Figure) -> float:
    """Where on a balance beam the resin alone balances, in the unit of the mark for the whole mix."""
    total, resin = positive(total_parts, "total_parts"), positive(resin_parts, "resin_parts")
    if resin >= total:
        raise Impossible(
            "The resin is as much as the whole mix: all parts are resin and hardener together.", "total_parts"
        )
    return float(positive(full_mark, "full_mark_mm") * resin / total)


def pot_life_at(pot_life: Figure, reference: Figure, temperature: Figure, unit: str) -> float:
    """Pot life in minutes at another temperature, by the rule of thumb. For alarms only."""
    size = degrees(unit).size
    for value, field in ((reference, "reference_temp"), (temperature, "temp")):
        in_celsius = convert(value, unit, "degC") if exact(value, field) is not None else Fraction(0)
        if not COLDEST <= in_celsius <= WARMEST:
            raise Impossible("The rule of thumb says nothing below -20 or above 80 degC.", field)
    warmer = (exact(temperature, "temp") - exact(reference, "reference_temp")) * size
    return float(positive(pot_life, "pot_life_min")) * 2.0 ** -float(warmer / DOUBLING)


@dataclass(frozen=True, kw_only=True)
class PotVerdict(Verdict):
    """Whether the last ply was wet out in time."""

    elapsed: float
    """Minutes from mixing to the last wet-out."""


def pot_clock(mixed_at: datetime, last_wet_out_at: datetime, pot_life: Figure) -> PotVerdict:
    """Judge the last wet-out against the pot life in minutes; the very minute is still inside."""
    elapsed = passed(mixed_at, last_wet_out_at, "last_wetout_at", "The last wet-out cannot be before mixing.")
    limit = positive(pot_life, "pot_life_min")
    good = elapsed <= limit
    return PotVerdict(
        verdict="inside" if good else "outside",
        good=good,
        rule=POT_CLOCK,
        reasons=() if good else ("wet-out after the pot life",),
        given={"mixed_at": mixed_at, "last_wet_out_at": last_wet_out_at, "pot_life": pot_life},
        elapsed=float(elapsed),
    )
