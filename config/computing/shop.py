"""Computations about units, room, dates, hours, weights, air loads, common practice and where a lot went."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from math import lcm
from typing import Any
from zoneinfo import ZoneInfo

from calc import airloads, genealogy, hours, practice, room, times, units, weighing
from calc.figures import exact, nearest, not_negative, positive, rounded, whole
from calc.trouble import Impossible
from config.computing.inputs import (
    Input,
    a_day,
    a_key,
    a_list,
    a_map,
    a_number,
    a_pair,
    a_record,
    a_text,
    a_zone,
    an_object,
    day,
    flag,
    moment,
    number,
    text,
    texts,
)
from config.computing.registry import Given, Results, computation


def zone(needed: bool = False) -> Input:
    """The zone whose wall clock the times were read off."""
    return Input("zone", a_zone, "such as America/Denver", needed=needed)


def on_one_clock(given: Given, start: str, end: str) -> tuple[datetime, datetime]:
    """Two times as instants where a zone is told, else as they are.

    A time that the clocks showed twice is the first, unless only the second lies after the start.
    """
    here: ZoneInfo | None = given["zone"]
    first, last = given[start], given[end]
    if here is None:
        return first, last
    began = times.instant(first, here, start, second=given.get("start_second"))
    ended = times.instant(last, here, end, second=given.get("end_second"))
    if given.get("end_second") is None and ended.astimezone(UTC) < began.astimezone(UTC):
        ended = times.instant(last, here, end, second=True)
    return began, ended


FROM, TO = text("from", "unit"), text("to", "unit")


@computation("convert", units.CONVERT, "value [to]", number("value", "from"), FROM, TO)
def convert(given: Given) -> Results:
    return {"value": float(units.convert(given["value"], given["from"], given["to"]))}


@computation("convert_rate", units.CONVERT, "degC_per_min, degF_per_h", number("value", "from"), FROM)
def convert_rate(given: Given) -> Results:
    return {
        name: float(units.convert(given["value"], given["from"], there))
        for name, there in (("degC_per_min", "degC/min"), ("degF_per_h", "degF/h"))
    }


@computation("convert_delta", units.CONVERT, "low, high [to]", number("low", "from"), number("high", "from"), FROM, TO)
def convert_delta(given: Given) -> Results:
    return {
        end: float(units.convert_difference(given[end], given["from"], given["to"], end)) for end in ("low", "high")
    }


EVENT = (Input("date", a_day, "day"), text("kind"))


@computation(
    "calibration_due",
    room.CALIBRATION,
    "due; usable_on_<day> for the day it is due and the next, and for each day asked",
    day("last_calibrated"),
    number("interval_months", "months", needed=False, default=12),
    Input("events", a_list(a_record(EVENT)), "date, kind", needed=False, default=()),
    Input("asked_on", a_list(a_day), "days", needed=False, default=()),
)
def calibration_due(given: Given) -> Results:
    events = [room.Event(one["date"], one["kind"]) for one in given["events"]]
    found = room.calibration_due(given["last_calibrated"], given["interval_months"], events)
    try:
        days = [found.due, found.due + timedelta(days=1), *given["asked_on"]]
    except OverflowError as far:
        raise Impossible("That is further away than the calendar goes.", "interval_months") from far
    usable = {f"usable_on_{one}": found.usable_on(one) for one in days}
    return {"due": found.due.isoformat()} | {name: ok for name, ok in usable.items() if ok is not None}


@computation(
    "tool_suspect_records",
    room.SUSPECT,
    "suspect (ids)",
    day("last_good", needed=False),
    day("found_bad"),
    Input("records", a_list(a_record((Input("id", a_key), Input("date", a_day)))), "id, date"),
)
def suspects(given: Given) -> Results:
    records = [(one["id"], one["date"]) for one in given["records"]]
    return {"suspect": room.suspects(given["last_good"], given["found_bad"], records)}


@computation(
    "shelf_life",
    room.SHELF_LIFE,
    "expires, verdict (in life / expired)",
    day("made"),
    number("months", "months"),
    day("used"),
    day("opened", needed=False),
    number("months_open", "months", needed=False),
)
def shelf_life(given: Given) -> Results:
    found = room.shelf_life(
        given["made"], given["months"], given["used"], opened=given["opened"], months_open=given["months_open"]
    )
    return {"expires": found.expires.isoformat(), "verdict": found.verdict}


@computation(
    "room_verdict",
    room.ROOM,
    "ok",
    number("temp_degC", "degC"),
    number("rh_percent", "%"),
    Input("band_degC", a_pair, "degC, low and high"),
    number("rh_max", "%"),
)
def room_verdict(given: Given) -> Results:
    return {"ok": room.room(given["temp_degC"], given["rh_percent"], given["band_degC"], given["rh_max"]).good}


AIRSPEED = number("airspeed_kt", "kt")


@computation(
    "dynamic_pressure",
    airloads.PRESSURE,
    "speed_ms, q_pa, q_psf, q_inh2o, impact_pa, impact_psf",
    AIRSPEED,
)
def dynamic_pressure(given: Given) -> Results:
    found = airloads.dynamic_pressure(given["airspeed_kt"])
    return {
        "speed_ms": found.speed,
        "q_pa": found.q,
        "q_psf": found.q_psf,
        # As a water gauge is read: to a hundredth of an inch.
        "q_inh2o": float(rounded(exact(found.q_inh2o, "q_inh2o"), 2)),
        "impact_pa": found.impact,
        "impact_psf": found.impact_psf,
    }


@computation(
    "dynamic_pressure_tas",
    airloads.PRESSURE_TRUE,
    "density [kg/m3], q_pa, q_psf, eas_kt",
    number("tas_kt", "kt"),
    number("pressure_altitude_ft", "ft"),
)
def dynamic_pressure_tas(given: Given) -> Results:
    found = airloads.dynamic_pressure_true(given["tas_kt"], given["pressure_altitude_ft"])
    return {"density": found.density, "q_pa": found.q, "q_psf": found.q_psf, "eas_kt": found.equivalent}


@computation(
    "lid_load",
    airloads.LID,
    "pressure_psf, load_lbf, load_n",
    AIRSPEED,
    number("lid_area_ft2", "ft2"),
    number("pressure_recovery", "0 to 1", needed=False, default=1),
)
def lid_load(given: Given) -> Results:
    found = airloads.lid_load(given["airspeed_kt"], given["lid_area_ft2"], given["pressure_recovery"])
    return {"pressure_psf": found.psf, "load_lbf": found.pounds, "load_n": found.newtons}


@computation(
    "flush_inlet",
    airloads.INLET,
    "width_min_in, width_max_in, ramp_length_at_7deg_in, ramp_length_at_5deg_in",
    number("depth_in", "in"),
)
def flush_inlet(given: Given) -> Results:
    found = airloads.flush_inlet(given["depth_in"])
    return {
        "width_min_in": found.width_min,
        "width_max_in": found.width_max,
        "ramp_length_at_7deg_in": found.ramp_at_7_degrees,
        "ramp_length_at_5deg_in": found.ramp_at_5_degrees,
    }


# The weighing-day log that the rule is taken from compares with this; give your own reference.
LOGGED_REFERENCE_LB = 1111


@computation(
    "weigh_total",
    weighing.TOTAL,
    "total_lb, over_reference_lb, reference_lb",
    number("left_lb", "lb"),
    number("right_lb", "lb"),
    number("tail_lb", "lb", needed=False),
    number("nose_lb", "lb", needed=False),
    number("reference_lb", f"lb; without it that log's own {LOGGED_REFERENCE_LB}", needed=False),
)
def weigh_total(given: Given) -> Results:
    third = [(name, given[name]) for name in ("tail_lb", "nose_lb") if given[name] is not None]
    if len(third) != 1:
        raise Impossible("Give the third scale, tail or nose, and not both.", "tail_lb", "missing")
    total = weighing.total([("left_lb", given["left_lb"]), ("right_lb", given["right_lb"]), *third])
    asked = given["reference_lb"]
    reference = exact(LOGGED_REFERENCE_LB if asked is None else asked, "reference_lb", low=0)
    return {
        "total_lb": plain(total),
        "over_reference_lb": plain(total - reference),
        "reference_lb": plain(reference),
    }


def plain(value: Fraction) -> int | float:
    """A whole number as one."""
    return int(value) if value.denominator == 1 else float(value)


POINT = (text("name", needed=False), number("lb"), number("arm_in"))


@computation(
    "weigh_cg",
    weighing.CENTER,
    "weight_lb, moment_inlb, cg_in",
    Input("points", a_list(a_record(POINT)), "name, lb, arm_in"),
    text("datum", "words", needed=False),
)
def weigh_cg(given: Given) -> Results:
    found = weighing.balance([(one["lb"], one["arm_in"]) for one in given["points"]])
    return {"weight_lb": found.weight, "moment_inlb": found.moment, "cg_in": found.arm}


PART = (Input("id", a_key), number("estimate_g", needed=False), number("weighed_g", needed=False))


@computation(
    "weight_rollup",
    weighing.ROLL_UP,
    "total_g, weighed_g, estimated_g, weighed_fraction; without_weight (ids) where there are any",
    Input("parts", a_list(a_record(PART)), "id, estimate_g, weighed_g"),
)
def weight_rollup(given: Given) -> Results:
    keys = [one["id"] for one in given["parts"]]
    if len(set(keys)) != len(keys):
        raise Impossible("The same part is there twice.", "parts")
    found = weighing.roll_up([(one["id"], one["estimate_g"], one["weighed_g"]) for one in given["parts"]])
    results = {
        "total_g": found.total,
        "weighed_g": found.weighed,
        "estimated_g": found.estimated,
        "weighed_fraction": found.weighed_fraction,
    }
    return results | ({"without_weight": list(found.unknown)} if found.unknown else {})


@computation(
    "hours_per_year",
    hours.PACE,
    "hours",
    number("weekday_hours_each", "h"),
    number("weekend_hours_total", "h, both days together"),
    number("weeks", "count", needed=False, default=52),
)
def hours_per_year(given: Given) -> Results:
    weekday = exact(given["weekday_hours_each"], "weekday_hours_each", low=0, high=24)
    weekend = exact(given["weekend_hours_total"], "weekend_hours_total", low=0, high=48)
    return {"hours": plain((5 * weekday + weekend) * exact(given["weeks"], "weeks", low=0, high=53))}


@computation(
    "months_at_pace",
    hours.PACE,
    "months",
    number("hours", "h"),
    number("hours_per_month", "h"),
)
def months_at_pace(given: Given) -> Results:
    spent = not_negative(given["hours"], "hours")
    monthly = positive(given["hours_per_month"], "hours_per_month")
    return {"months": hours.months_at_pace(float(spent), float(monthly))}


@computation(
    "forecast",
    hours.PACE,
    "pace_h_per_month, months_to_go",
    number("logged_h", "h"),
    number("months", "count"),
    number("remaining_h", "h"),
)
def forecast(given: Given) -> Results:
    logged = positive(given["logged_h"], "logged_h", "Without work there is no pace.")
    pace = hours.pace(float(logged), float(positive(given["months"], "months")))
    to_go = hours.months_at_pace(float(not_negative(given["remaining_h"], "remaining_h")), pace)
    return {"pace_h_per_month": pace, "months_to_go": to_go}


@computation(
    "session_split",
    hours.SESSION,
    "labour_min, labour_h, by_assembly_min, sum_min",
    moment("start"),
    moment("end"),
    number("break_min", "min", needed=False, default=0),
    number("unattended_cure_min", "min", needed=False, default=0),
    Input("shares", a_map(a_number), "assembly: weight"),
    zone(),
)
def session_split(given: Given) -> Results:
    start, end = on_one_clock(given, "start", "end")
    passed = nearest(times.passed(start, end, "end", "The session ends before it starts.") * 60)
    off = {name: nearest(not_negative(given[name], name) * 60) for name in ("break_min", "unattended_cure_min")}
    labor = passed - sum(off.values())
    if labor < 0:
        raise Impossible("More time is taken off than passed.", "break_min")
    if not given["shares"]:
        raise Impossible("Say which assembly the session was for.", "shares", "missing")
    weights = [not_negative(weight, f"shares.{name}") for name, weight in given["shares"].items()]
    if not any(weights):
        raise Impossible("At least one share must be more than nothing.", "shares")
    scale = lcm(*(weight.denominator for weight in weights))
    split = hours.split(labor, [int(weight * scale) for weight in weights])
    return {
        "labour_min": labor / 60,
        "labour_h": labor / hours.HOUR,
        "by_assembly_min": {name: share / 60 for name, share in zip(given["shares"], split, strict=True)},
        "sum_min": sum(split) / 60,
    }


@computation(
    "elapsed_zoned",
    hours.ON_THE_WALL,
    "elapsed_min",
    moment("start_local"),
    moment("end_local"),
    zone(needed=True),
    flag("start_second", "true: the second time the clock showed it", needed=False),
    flag("end_second", "true: the second time the clock showed it", needed=False),
)
def elapsed_zoned(given: Given) -> Results:
    start, end = on_one_clock(given, "start_local", "end_local")
    return {"elapsed_min": plain(times.passed(start, end, "end_local", "The end lies before the start."))}


@computation(
    "sum_sessions_min",
    hours.ROUND_LAST,
    "hours",
    Input("minutes", a_list(a_number), "min"),
    number("display_decimals", "count", needed=False, default=1),
)
def sum_sessions(given: Given) -> Results:
    total = sum((not_negative(one, "minutes") for one in given["minutes"]), Fraction(0))
    return {"hours": float(rounded(total / 60, whole(given["display_decimals"], "display_decimals", high=6)))}


@computation("range", practice.RANGE, "what is usual, by key", text("what", "; ".join(practice.USUAL)))
def usual(given: Given) -> Results:
    return practice.usual(given["what"])


@computation("split_bridges", practice.BRIDGES, "bridge_in", number("slot_in", "in"), number("cut_fraction", "0 to 1"))
def split_bridges(given: Given) -> Results:
    return {"bridge_in": practice.bridge(given["slot_in"], given["cut_fraction"])}


@computation(
    "joint_step",
    practice.STEP,
    "step_in, step_mm",
    number("tape_mil", "0.001 in"),
    number("layers", "count", needed=False, default=1),
)
def joint_step(given: Given) -> Results:
    step = practice.joint_step(given["tape_mil"], given["layers"])
    return {"step_in": step, "step_mm": practice.in_mm(step)}


def a_mix(value: Any, field: str) -> genealogy.Mix:
    """A cup: its id, and every other key names a lot or lots in it."""
    found = dict(an_object(value, field))
    key = a_text(found.pop("id", None), f"{field}.id")
    return genealogy.Mix(key, lots_of(found, field))


def lots_of(found: dict[str, Any], field: str) -> tuple[str, ...]:
    return tuple(lot for name, lots in found.items() if lots is not None for lot in texts(lots, f"{field}.{name}"))


def a_layup(value: Any, field: str) -> genealogy.Layup:
    """A layup or bond: id, mixes, parts and makes; every other key names a lot or lots in it."""
    found = dict(an_object(value, field))
    key = a_text(found.pop("id", None), f"{field}.id")
    lists = {name: tuple(texts(found.pop(name, None) or [], f"{field}.{name}")) for name in ("mixes", "parts", "makes")}
    return genealogy.Layup(key, lots=lots_of(found, field), **lists)


def some(read: Any) -> Any:
    """A list of records, each with an id of its own."""
    return a_list(read)


@computation(
    "where_used",
    genealogy.WHERE_USED,
    "mixes, layups, parts; bonds where bonds are given; each in order of name",
    text("lot"),
    Input("mixes", some(a_mix), "id, and lots by kind"),
    Input("layups", some(a_layup), "id, mixes, makes, parts, and lots by kind"),
    Input("cut_from", a_map(texts), "part: what it was cut from", needed=False, default={}),
    Input("bonds", some(a_layup), "id, mixes, parts, makes, and lots by kind", needed=False),
)
def where_used(given: Given) -> Results:
    found = genealogy.where_used(given["lot"], given["mixes"], given["layups"], given["cut_from"], given["bonds"] or [])
    bonds = {"bonds": found.bonds} if given["bonds"] is not None else {}
    return {"mixes": found.mixes, "layups": found.layups, **bonds, "parts": found.parts}
