"""Computations about laminates, resin and hardener."""

from calc import laminate, mix
from config.computing.inputs import Input, a_pair, moment, number, text
from config.computing.registry import Given, Results, computation
from config.computing.shop import on_one_clock, zone

PLIES = number("plies", "count")
FAW = number("faw_gsm", "g/m2")
FIBER_DENSITY = number("fibre_density", "g/cm3")
RESIN_DENSITY = number("resin_density", "g/cm3")
FIBER_MASS = number("fibre_mass_fraction", "0 to 1")
FIBER_VOLUME = number("fibre_volume_fraction", "0 to 0.75")


def flagged(good: bool) -> Results:
    """The flag of a value that cannot be (rule R42)."""
    return {} if good else {"flag": laminate.IMPLAUSIBLE}


@computation(
    "laminate_thickness",
    laminate.THICKNESS,
    "cured_ply_mm, thickness_mm, thickness_in",
    PLIES,
    FAW,
    FIBER_DENSITY,
    FIBER_VOLUME,
)
def thickness(given: Given) -> Results:
    found = laminate.thickness(given["plies"], given["faw_gsm"], given["fibre_density"], given["fibre_volume_fraction"])
    return {"cured_ply_mm": found.ply, "thickness_mm": found.total, "thickness_in": found.inches}


@computation(
    "fibre_volume_from_thickness",
    laminate.FIBER_VOLUME,
    "fibre_volume_fraction; flag where it cannot be",
    PLIES,
    FAW,
    FIBER_DENSITY,
    number("thickness_mm", "mm"),
)
def fiber_volume(given: Given) -> Results:
    found = laminate.fiber_volume(given["plies"], given["faw_gsm"], given["fibre_density"], given["thickness_mm"])
    return {"fibre_volume_fraction": found.fiber_volume} | flagged(found.good)


@computation(
    "ply_thickness_from_prepreg",
    laminate.PREPREG,
    "thickness_mm",
    number("total_areal_gsm", "g/m2 with resin"),
    FIBER_MASS,
    FIBER_DENSITY,
    RESIN_DENSITY,
)
def prepreg(given: Given) -> Results:
    found = laminate.prepreg_ply(
        given["total_areal_gsm"], given["fibre_mass_fraction"], given["fibre_density"], given["resin_density"]
    )
    return {"thickness_mm": found}


@computation(
    "mass_fraction_from_volume",
    laminate.FRACTIONS,
    "fibre_mass_fraction",
    FIBER_VOLUME,
    FIBER_DENSITY,
    RESIN_DENSITY,
)
def mass_fraction(given: Given) -> Results:
    found = laminate.mass_fraction(given["fibre_volume_fraction"], given["fibre_density"], given["resin_density"])
    return {"fibre_mass_fraction": found}


@computation(
    "volume_fraction_from_mass",
    laminate.FRACTIONS,
    "fibre_volume_fraction, laminate_density [g/cm3]; flag where it cannot be",
    FIBER_MASS,
    FIBER_DENSITY,
    RESIN_DENSITY,
)
def volume_fraction(given: Given) -> Results:
    found = laminate.volume_fraction(given["fibre_mass_fraction"], given["fibre_density"], given["resin_density"])
    return {
        "fibre_volume_fraction": found.fiber_volume,
        "laminate_density": found.laminate_density,
    } | flagged(found.good)


@computation(
    "laminate_weight",
    laminate.WEIGHT,
    "fabric_g, resin_g, laminate_g, laminate_lb",
    number("area_m2", "m2"),
    PLIES,
    FAW,
    FIBER_MASS,
)
def weight(given: Given) -> Results:
    found = laminate.weight(given["area_m2"], given["plies"], given["faw_gsm"], given["fibre_mass_fraction"])
    return {
        "fabric_g": found.fabric,
        "resin_g": found.resin,
        "laminate_g": found.total,
        "laminate_lb": found.pounds,
    }


@computation(
    "weight_variance",
    laminate.VARIANCE,
    "percent, flag",
    number("predicted_g", "g"),
    number("weighed_g", "g"),
    number("alarm_percent", "%", needed=False, default=10),
)
def variance(given: Given) -> Results:
    found = laminate.weight_variance(given["predicted_g"], given["weighed_g"], given["alarm_percent"])
    return {"percent": found.percent, "flag": not found.good}


@computation(
    "constituent_content",
    laminate.BURN_OFF,
    "fibre_vol_pct, matrix_vol_pct, void_vol_pct; flag where they cannot be",
    number("specimen_g", "g"),
    number("fibre_g", "g"),
    number("laminate_density", "g/cm3"),
    FIBER_DENSITY,
    RESIN_DENSITY,
)
def constituents(given: Given) -> Results:
    found = laminate.constituents(
        given["specimen_g"],
        given["fibre_g"],
        given["laminate_density"],
        given["fibre_density"],
        given["resin_density"],
    )
    return {
        "fibre_vol_pct": found.fiber,
        "matrix_vol_pct": found.matrix,
        "void_vol_pct": found.void,
    } | flagged(found.good)


@computation(
    "immersion_density",
    laminate.IMMERSION,
    "density [g/cm3]",
    number("dry_g", "g"),
    number("immersed_g", "g"),
    number("water_density", "g/cm3", needed=False, default=laminate.WATER_23C),
)
def immersion(given: Given) -> Results:
    return {"density": laminate.immersion_density(given["dry_g"], given["immersed_g"], given["water_density"])}


@computation(
    "hardener_for_resin",
    mix.BY_WEIGHT,
    "hardener_g, batch_g",
    number("resin_g", "g"),
    number("resin_parts", "by weight"),
    number("hardener_parts", "by weight"),
)
def hardener(given: Given) -> Results:
    found = mix.hardener_for(given["resin_g"], given["resin_parts"], given["hardener_parts"])
    return {"hardener_g": found.hardener, "batch_g": found.mixed}


@computation(
    "batch_from_cloth",
    mix.FROM_CLOTH,
    "mixed_g, resin_g, hardener_g",
    number("cloth_g", "g"),
    number("resin_mix_per_100_cloth", "by weight"),
    number("hardener_parts_per_100", "by weight, of resin"),
    number("loss_percent", "%", needed=False, default=0),
)
def batch(given: Given) -> Results:
    found = mix.batch_for_cloth(
        given["cloth_g"], given["resin_mix_per_100_cloth"], given["hardener_parts_per_100"], given["loss_percent"]
    )
    return {"mixed_g": found.mixed, "resin_g": found.resin, "hardener_g": found.hardener}


HARDENER_DENSITY = number("hardener_density", "g/cm3")


@computation(
    "mix_weight_to_volume",
    mix.WEIGHT_AND_VOLUME,
    "hardener_parts_v_per_100",
    number("resin_parts_w", "by weight"),
    number("hardener_parts_w", "by weight"),
    RESIN_DENSITY,
    HARDENER_DENSITY,
)
def to_volume(given: Given) -> Results:
    found = mix.volume_parts(
        given["resin_parts_w"], given["hardener_parts_w"], given["resin_density"], given["hardener_density"]
    )
    return {"hardener_parts_v_per_100": found}


@computation(
    "mix_volume_to_weight",
    mix.WEIGHT_AND_VOLUME,
    "hardener_parts_w_per_100",
    number("resin_parts_v", "by volume"),
    number("hardener_parts_v", "by volume"),
    RESIN_DENSITY,
    HARDENER_DENSITY,
)
def to_weight(given: Given) -> Results:
    found = mix.weight_parts(
        given["resin_parts_v"], given["hardener_parts_v"], given["resin_density"], given["hardener_density"]
    )
    return {"hardener_parts_w_per_100": found}


@computation(
    "density_ratio_from_mix",
    mix.WEIGHT_AND_VOLUME,
    "resin_density_over_hardener_density",
    number("volume_resin_parts"),
    number("volume_hardener_parts"),
    number("weight_resin_parts"),
    number("weight_hardener_parts"),
)
def density_ratio(given: Given) -> Results:
    found = mix.density_ratio(
        given["volume_resin_parts"],
        given["volume_hardener_parts"],
        given["weight_resin_parts"],
        given["weight_hardener_parts"],
    )
    return {"resin_density_over_hardener_density": found}


@computation(
    "mix_error",
    mix.WEIGHT_AND_VOLUME,
    "hardener_excess_percent",
    number("right_resin_per_hardener", "by weight"),
    number("used_resin_per_hardener", "by weight"),
)
def mix_error(given: Given) -> Results:
    found = mix.hardener_excess(given["right_resin_per_hardener"], given["used_resin_per_hardener"])
    return {"hardener_excess_percent": found}


@computation(
    "mix_verdict",
    mix.WINDOW,
    "ratio, deviation_percent, verdict (accept / reject)",
    number("resin_g", "g"),
    number("hardener_g", "g"),
    number("target_resin_per_hardener", "by weight"),
    Input("window", a_pair, "resin per hardener, low and high"),
)
def mix_verdict(given: Given) -> Results:
    found = mix.judge(given["resin_g"], given["hardener_g"], given["target_resin_per_hardener"], given["window"])
    return {"ratio": found.ratio, "deviation_percent": found.deviation, "verdict": found.verdict}


@computation(
    "mix_scale_worst_case",
    mix.SCALE,
    "low, high (resin per hardener)",
    number("resin_shown_g", "g"),
    number("hardener_shown_g", "g"),
    number("resin_error_g", "g"),
    number("hardener_error_g", "g"),
)
def worst_case(given: Given) -> Results:
    found = mix.worst_case(
        given["resin_shown_g"], given["hardener_shown_g"], given["resin_error_g"], given["hardener_error_g"]
    )
    return {"low": found.low, "high": found.high}


@computation(
    "beam_mark",
    mix.BEAM,
    "resin_mark_mm",
    number("total_parts", "by weight"),
    number("resin_parts", "by weight"),
    number("full_mark_mm", "mm"),
)
def beam_mark(given: Given) -> Results:
    return {"resin_mark_mm": mix.beam_mark(given["total_parts"], given["resin_parts"], given["full_mark_mm"])}


@computation(
    "pot_life_scaled",
    mix.POT_LIFE,
    "pot_life_min",
    number("pot_life_min", "min"),
    number("reference_temp", "unit"),
    number("temp", "unit"),
    text("unit", "degC/degF/K"),
)
def pot_life(given: Given) -> Results:
    found = mix.pot_life_at(given["pot_life_min"], given["reference_temp"], given["temp"], given["unit"])
    return {"pot_life_min": found}


@computation(
    "pot_life_check",
    mix.POT_CLOCK,
    "elapsed_min, verdict (inside / outside)",
    moment("mixed_at"),
    moment("last_wetout_at"),
    number("pot_life_min", "min"),
    zone(),
)
def pot_clock(given: Given) -> Results:
    mixed, wet = on_one_clock(given, "mixed_at", "last_wetout_at")
    found = mix.pot_clock(mixed, wet, given["pot_life_min"])
    return {"elapsed_min": found.elapsed, "verdict": found.verdict}
