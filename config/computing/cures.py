"""Computations about cures, bags, bonds, repairs and hardness."""

from typing import Any

from calc import bonding, cure, hardness
from calc.figures import exact
from config.computing.inputs import (
    Input,
    a_list,
    a_map,
    a_number,
    a_pair,
    a_record,
    flag,
    moment,
    number,
    text,
)
from config.computing.registry import Given, Results, computation
from config.computing.shop import on_one_clock, zone

UNIT = text("unit", "degC/degF/K")
POINTS = a_list(a_pair)
SPEC = (
    number("low"),
    number("high", needed=False),
    number("dwell_min", needed=False),
    number("dwell_max", needed=False),
    number("ramp_max", needed=False),
    number("cool_max", needed=False),
    number("cool_to", needed=False),
    flag("cumulative", needed=False, default=False),
)


def spec_of(given: Given) -> cure.Spec:
    """A specification in plain numbers, after each was seen to be one."""

    def value(name: str) -> float | None:
        found = given[name]
        return None if found is None else float(exact(found, name))

    return cure.Spec(
        low=float(exact(given["low"], "low")),
        high=value("high"),
        dwell_min=value("dwell_min"),
        dwell_max=value("dwell_max"),
        ramp_max=value("ramp_max"),
        cool_max=value("cool_max"),
        cool_to=value("cool_to"),
        cumulative=given["cumulative"],
    )


def plain(points: list[tuple[Any, Any]], field: str) -> list[cure.Point]:
    """Points in plain numbers, after each was seen to be one."""
    return [(float(exact(at, field)), float(exact(degree, field))) for at, degree in points]


@computation(
    "cure_verdict",
    cure.CURE,
    "soak_min, peak, max_ramp_per_min, max_cool_per_min where the spec limits cooling, verdict (pass / fail), reasons",
    UNIT,
    Input("points_min_temp", POINTS, "[minutes, temperature], ..."),
    Input("spec", a_record(SPEC), ", ".join(one.told for one in SPEC) + "; minutes, unit, unit per minute"),
    text("rule", "words, not read", needed=False),
)
def cure_verdict(given: Given) -> Results:
    spec = spec_of(given["spec"])
    points = plain(given["points_min_temp"], "points_min_temp")
    found = cure.judge({"points_min_temp": points}, spec, given["unit"])
    cool = {"max_cool_per_min": found.max_cool} if spec.cool_max is not None else {}
    return {
        "soak_min": found.soak,
        "peak": found.peak,
        "max_ramp_per_min": found.max_ramp,
        **cool,
        "verdict": found.verdict,
        "reasons": list(found.reasons),
    }


@computation(
    "cure_two_thermocouples",
    cure.SEVERAL,
    "soak_all_min, peak_any, verdict (pass / fail)",
    UNIT,
    Input("tc", a_map(POINTS), "sensor: [minutes, temperature], ..."),
    *SPEC,
)
def several(given: Given) -> Results:
    logs = {name: plain(points, f"tc.{name}") for name, points in given["tc"].items()}
    found = cure.judge({f"tc.{name}": points for name, points in logs.items()}, spec_of(given), given["unit"])
    return {"soak_all_min": found.soak, "peak_any": found.peak, "verdict": found.verdict}


@computation("sensor_count", cure.SENSORS, "minimum, at_one_per_ft2", number("area_ft2", "ft2"))
def sensor_count(given: Given) -> Results:
    found = cure.sensors_needed(given["area_ft2"])
    return {"minimum": found.minimum, "at_one_per_ft2": found.at_one_per_ft2}


@computation("film_limit", cure.FILM, "limit_degF, ok", text("film", "PVA/PVC/nylon/PVF"), number("cure_degF", "degF"))
def film_limit(given: Given) -> Results:
    found = cure.film_limit(given["film"], given["cure_degF"])
    return {"limit_degF": found.limit, "ok": found.good}


@computation(
    "stack_limit",
    cure.STACK,
    "limit, weakest, ok",
    UNIT,
    number("peak", "unit"),
    Input("materials", a_list(a_record((text("name"), number("limit")))), "name, limit [unit]"),
)
def stack_limit(given: Given) -> Results:
    materials = [(one["name"], one["limit"]) for one in given["materials"]]
    found = cure.stack_limit(given["peak"], materials, given["unit"])
    return {"limit": found.limit, "weakest": found.weakest, "ok": found.good}


INHG = "inHg below ambient"


@computation(
    "vacuum_verdict",
    cure.VACUUM,
    "ok",
    number("reading_inhg", INHG),
    number("minimum_inhg", INHG, needed=False, default=cure.LEAST_VACUUM),
)
def vacuum(given: Given) -> Results:
    return {"ok": cure.vacuum(given["reading_inhg"], given["minimum_inhg"]).good}


@computation(
    "vacuum_fraction", cure.VACUUM_SHARE, "fraction", number("reading_inhg", INHG), number("ambient_inhg", "inHg")
)
def vacuum_fraction(given: Given) -> Results:
    return {"fraction": cure.vacuum_fraction(given["reading_inhg"], given["ambient_inhg"])}


@computation(
    "bag_drop",
    cure.DROP,
    "drop_percent, ok",
    number("start_inhg", INHG),
    number("end_inhg", INHG),
    number("minutes", "min"),
    number("limit_percent", "%", needed=False, default=10),
    number("limit_minutes", "min", needed=False, default=5),
)
def bag_drop(given: Given) -> Results:
    found = cure.bag_drop(
        given["start_inhg"], given["end_inhg"], given["minutes"], given["limit_percent"], given["limit_minutes"]
    )
    return {"drop_percent": found.drop, "ok": found.good}


@computation(
    "service_margin",
    cure.SERVICE,
    "max_service_degC, ok",
    number("tg_wet_degC", "degC"),
    number("margin_degC", "degC, a difference", needed=False, default=28),
    number("service_degC", "degC"),
)
def service_margin(given: Given) -> Results:
    found = cure.service_margin(given["tg_wet_degC"], given["service_degC"], given["margin_degC"])
    return {"max_service_degC": found.max_service, "ok": found.good}


@computation(
    "barcol",
    hardness.BARCOL,
    "average, n_used, ok",
    Input("readings", a_list(a_number), "Barcol, 10 to 12 of them"),
    number("acceptance_min", "Barcol"),
)
def barcol(given: Given) -> Results:
    found = hardness.barcol(given["readings"], given["acceptance_min"])
    return {"average": found.average, "n_used": found.used, "ok": found.good}


@computation("barcol_valid", hardness.VALID, "ok", number("thickness_mm", "mm"), number("edge_mm", "mm"))
def barcol_valid(given: Given) -> Results:
    return {"ok": hardness.barcol_valid(given["thickness_mm"], given["edge_mm"]).good}


@computation(
    "bond_window",
    bonding.BOND,
    "elapsed_min, verdict (go / stop), reasons",
    moment("final_wipe_at"),
    moment("adhesive_on_at"),
    flag("peel_ply_removed_recorded"),
    number("dry_min", "min", needed=False, default=bonding.DRY_MINUTES),
    number("window_min", "min", needed=False, default=bonding.WINDOW_MINUTES),
    zone(),
)
def bond_window(given: Given) -> Results:
    wiped, on = on_one_clock(given, "final_wipe_at", "adhesive_on_at")
    found = bonding.window(
        wiped,
        on,
        peel_ply_off=given["peel_ply_removed_recorded"],
        dry_minutes=given["dry_min"],
        window_minutes=given["window_min"],
    )
    return {"elapsed_min": found.elapsed, "verdict": found.verdict, "reasons": list(found.reasons)}


@computation(
    "scarf_length",
    bonding.SCARF,
    "length_in",
    number("thickness_in", "in"),
    number("ratio", "to 1", needed=False, default=50),
)
def scarf_length(given: Given) -> Results:
    return {"length_in": bonding.scarf_length(given["thickness_in"], given["ratio"])}


@computation(
    "repair_ply_diameters",
    bonding.REPAIR_PLIES,
    "diameters_in, the first ply first",
    number("damage_dia_in", "in"),
    number("plies", "count"),
    number("overlap_per_side_in", "in"),
)
def repair_plies(given: Given) -> Results:
    found = bonding.repair_diameters(given["damage_dia_in"], given["plies"], given["overlap_per_side_in"])
    return {"diameters_in": found}


@computation(
    "tap_valid",
    bonding.TAP,
    "valid, reasons",
    number("skin_thickness_in", "in"),
    flag("sandwich"),
    number("sides_tapped", "1 or 2"),
)
def tap_valid(given: Given) -> Results:
    found = bonding.tap_valid(given["skin_thickness_in"], sandwich=given["sandwich"], sides=given["sides_tapped"])
    return {"valid": found.good, "reasons": list(found.reasons)}
