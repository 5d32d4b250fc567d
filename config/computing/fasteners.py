"""Computations about bolts, nuts, wrenches and rivets."""

from calc import rivets, torque, units
from calc.figures import exact, nearest
from calc.trouble import Impossible
from config.computing.inputs import number, text
from config.computing.registry import Given, Results, computation

THREAD = text("thread", "such as 10-32")
SERIES = text("series", "fine/coarse", needed=False)
NUT = text("nut_type", "tension/shear")
UNIT = text("torque_unit")
LEVER = number("lever_length_in", "in")
ADAPTER = number("adapter_length_in", "in")
ANGLE = number("angle_deg", "deg", needed=False, default=0)


@computation(
    "torque_table_row",
    torque.TABLE_7_1,
    "tension_min_inlb, tension_max_inlb, shear_min_inlb, shear_max_inlb, tension_limit_inlb, shear_limit_inlb; "
    "shear_values_estimated_in_source where the table says so",
    THREAD,
    SERIES,
)
def table_row(given: Given) -> Results:
    row = torque.row(given["thread"], given["series"])
    found: Results = {
        "tension_min_inlb": row.tension[0],
        "tension_max_inlb": row.tension[1],
        "shear_min_inlb": row.shear[0],
        "shear_max_inlb": row.shear[1],
        "tension_limit_inlb": row.tension_limit,
        "shear_limit_inlb": row.shear_limit,
    }
    return found | ({"shear_values_estimated_in_source": True} if row.shear_estimated else {})


@computation("torque_table_count", torque.TABLE_7_1, "fine, coarse, total (rows)")
def table_count(given: Given) -> Results:
    fine = sum(row.series == torque.FINE for row in torque.ROWS)
    return {"fine": fine, "coarse": len(torque.ROWS) - fine, "total": len(torque.ROWS)}


def setting(given: Given) -> float:
    units.unit(given["torque_unit"], "torque_unit", "torque")
    return torque.wrench_setting(
        given["wanted_torque"], given["lever_length_in"], given["adapter_length_in"], given["angle_deg"]
    )


@computation(
    "torque_wrench_setting",
    torque.ADAPTER,
    "wrench_setting [torque_unit], setting_to_nearest_whole",
    number("wanted_torque", "torque_unit"),
    UNIT,
    LEVER,
    ADAPTER,
    ANGLE,
)
def wrench_setting(given: Given) -> Results:
    found = setting(given)
    return {"wrench_setting": found, "setting_to_nearest_whole": nearest(exact(found, "wrench_setting"))}


@computation(
    "torque_wrench_setting_angle",
    torque.ADAPTER,
    "wrench_setting [torque_unit]",
    number("wanted_torque", "torque_unit"),
    UNIT,
    LEVER,
    ADAPTER,
    number("angle_deg", "deg"),
)
def wrench_setting_angle(given: Given) -> Results:
    return {"wrench_setting": setting(given)}


@computation(
    "torque_applied",
    torque.ADAPTER,
    "applied_torque [torque_unit]",
    number("wrench_setting", "torque_unit"),
    UNIT,
    LEVER,
    ADAPTER,
    ANGLE,
)
def applied(given: Given) -> Results:
    units.unit(given["torque_unit"], "torque_unit", "torque")
    found = torque.torque_applied(
        given["wrench_setting"], given["lever_length_in"], given["adapter_length_in"], given["angle_deg"]
    )
    return {"applied_torque": found}


@computation(
    "final_torque_window",
    torque.WINDOW,
    "window_min_inlb, window_max_inlb, mid_inlb",
    THREAD,
    NUT,
    number("drag_torque_inlb", "in-lbf"),
    SERIES,
)
def window(given: Given) -> Results:
    found = torque.window(given["thread"], given["nut_type"], given["drag_torque_inlb"], given["series"])
    return {"window_min_inlb": found.low, "window_max_inlb": found.high, "mid_inlb": found.middle}


@computation(
    "torque_verdict",
    torque.NET,
    "applied_inlb, net_inlb, verdict (in range / low / over range / over maximum)",
    THREAD,
    NUT,
    number("drag_torque_inlb", "in-lbf"),
    number("wrench_shown_inlb", "in-lbf"),
    number("lever_length_in", "in", needed=False),
    number("adapter_length_in", "in", needed=False),
    ANGLE,
    SERIES,
)
def torque_verdict(given: Given) -> Results:
    found = torque.judge(
        given["thread"],
        given["nut_type"],
        given["drag_torque_inlb"],
        given["wrench_shown_inlb"],
        lever=given["lever_length_in"],
        adapter=given["adapter_length_in"],
        angle=given["angle_deg"],
        series=given["series"],
    )
    return {"applied_inlb": found.applied, "net_inlb": found.net, "verdict": found.verdict}


@computation(
    "locknut_reuse_min",
    torque.TABLE_7_2,
    "min_prevailing_inlb; null and verdict “not in table” where the table has none",
    THREAD,
    SERIES,
)
def locknut(given: Given) -> Results:
    found = torque.prevailing_minimum(given["thread"], given["series"])
    return {"min_prevailing_inlb": found} | ({} if found is not None else {"verdict": torque.NOT_IN_TABLE})


@computation(
    "locknut_breakaway_min_army",
    torque.BREAKAWAY,
    "in-lbf by thread",
    text("thread", "such as 10-32", needed=False),
)
def locknut_army(given: Given) -> Results:
    if given["thread"] is None:
        return dict(torque.ARMY_BREAKAWAY)
    name = torque.thread_name(given["thread"])
    if name not in torque.ARMY_BREAKAWAY:
        raise Impossible(f"{name} is not in this table.", "thread", "unknown")
    return {name: torque.ARMY_BREAKAWAY[name]}


@computation(
    "torque_tool_fit",
    torque.TOOL_FIT,
    "fraction_of_full_scale, in_accuracy_range, graduation_ok, fit, in_best_band",
    number("full_scale_inlb", "in-lbf"),
    number("graduation_inlb", "in-lbf"),
    number("wanted_torque_inlb", "in-lbf"),
)
def tool_fit(given: Given) -> Results:
    found = torque.tool_fit(given["full_scale_inlb"], given["graduation_inlb"], given["wanted_torque_inlb"])
    return {
        "fraction_of_full_scale": found.fraction,
        "in_accuracy_range": found.in_accuracy_range,
        "graduation_ok": found.graduation_ok,
        "fit": found.good,
        "in_best_band": found.in_best_band,
    }


DIAMETER = number("diameter_in", "in")


@computation(
    "solid_rivet",
    rivets.SOLID,
    "length_in, nearest_dash_length_sixteenths, shop_head_width_in, shop_head_height_in, edge_min_in, pitch_min_in",
    DIAMETER,
    number("grip_in", "in"),
)
def solid(given: Given) -> Results:
    found = rivets.solid(given["diameter_in"], given["grip_in"])
    return {
        "length_in": found.length,
        "nearest_dash_length_sixteenths": found.dash_length,
        "shop_head_width_in": found.head_width,
        "shop_head_height_in": found.head_height,
        "edge_min_in": found.edge_minimum,
        "pitch_min_in": found.pitch_minimum,
    }


@computation(
    "shop_head_height",
    rivets.HEAD_HEIGHT,
    "rule_half_d, mil_limits (null where no limits are known)",
    DIAMETER,
    number("measured_in", "in"),
)
def head_height(given: Given) -> Results:
    found = rivets.head_height(given["diameter_in"], given["measured_in"])
    return {"rule_half_d": found.half_diameter, "mil_limits": found.military}


ALLOY = "such as 2117"


@computation(
    "rivet_substitute",
    rivets.SUBSTITUTE,
    "substitute_diameter_in (null where not allowed), allowed",
    text("original_alloy", ALLOY),
    number("original_diameter_in", "in"),
    text("substitute_alloy", ALLOY),
)
def substitute(given: Given) -> Results:
    found = rivets.substitute(given["original_alloy"], given["original_diameter_in"], given["substitute_alloy"])
    return {"substitute_diameter_in": found.diameter, "allowed": found.allowed}
