"""Torque of bolts and nuts: the table, the window with drag, adapters, the wrench, and a logged torque judged.

Torques are in inch-pounds-force unless a function says that any unit will do.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import cos, radians
from re import fullmatch, sub

from calc.figures import Figure, exact, not_negative, positive, shown
from calc.trouble import Impossible
from calc.verdict import Rule, Verdict

FINE, COARSE = "fine", "coarse"
TENSION, SHEAR = "tension", "shear"

DRY_CADMIUM = "Clean, dry (oil-free), cadmium-plated steel threads; a torque given by the plan or the maker wins."

TABLE_7_1 = Rule(
    "recommended and largest torque by thread and type of nut",
    "FAA AC 43.13-1B (8 Sep 1998), Table 7-1",
    valid="The 25 threads of the table, nuts of tension type (MS20365, AN310) and shear type (MS20364, AN320).",
    caution=DRY_CADMIUM,
)
WINDOW = Rule(
    "table range plus measured drag",
    "FAA AC 43.13-1B, Table 7-1 and para 7-40 c, d, f, g",
    valid="The 25 threads of the table. A castle nut starts at the lower limit and may not pass the upper one.",
    caution=DRY_CADMIUM,
)
NET = Rule(
    "torque at the nut less drag, against the table",
    "FAA AC 43.13-1B, Table 7-1 and para 7-40 c, d, f, g, h",
    valid="The 25 threads of the table.",
    caution=DRY_CADMIUM,
)
ADAPTER = Rule(
    "setting = wanted x lever / (lever + adapter x cos angle)",
    "US Army TM 1-1500-204-23-9, chapter 8, and TM 9-254, figures 45 and 46; FAA AC 43.13-1B para 7-40 h",
    valid="Lever from the middle of the grip to the drive; an adapter that points back to the grip counts as negative.",
    caution="Hold the wrench in the middle of its grip, or the lever is not the one that was measured.",
)
TOOL_FIT = Rule(
    "at least 20 % of full scale, graduation no coarser than 10 % of the torque; best from 30 to 80 %",
    "US Army TM 1-1500-204-23-9, para 8-3 and Table 8-1",
    caution="A fit wrench is still one whose calibration is not due.",
)
TABLE_7_2 = Rule(
    "a re-used self-locking nut that turns more easily than this is rejected",
    "FAA AC 43.13-1B, Table 7-2",
    valid="The threads of the table, from 7/16 in; smaller ones are not in it, and no other list is borrowed for them.",
)
BREAKAWAY = Rule(
    "smallest breakaway torque of a re-used self-locking nut",
    "US Army TM 5-4310-384-13, Table G-1 (also TM 10-5430-232-12&P, Table I-2)",
    valid="The six fine threads of that table. Not the same limits as AC 43.13-1B, Table 7-2.",
)


@dataclass(frozen=True)
class Row:
    """One row of Table 7-1, in inch-pounds-force."""

    thread: str
    series: str
    tension: tuple[int, int]
    shear: tuple[int, int]
    tension_limit: int
    shear_limit: int
    shear_estimated: bool = False
    """The shear range is starred "estimated corresponding values" in the table."""

    def range(self, nut: str) -> tuple[int, int]:
        """The recommended torque for a type of nut."""
        return self.tension if nut == TENSION else self.shear

    def limit(self, nut: str) -> int:
        """The largest torque allowed for a type of nut."""
        return self.tension_limit if nut == TENSION else self.shear_limit


# FAA AC 43.13-1B (8 Sep 1998), page 7-9. A later reprint misprints 10-24 and 3/8-16; these are the circular's.
ROWS = (
    Row("8-36", FINE, (12, 15), (7, 9), 20, 12),
    Row("10-32", FINE, (20, 25), (12, 15), 40, 25),
    Row("1/4-28", FINE, (50, 70), (30, 40), 100, 60),
    Row("5/16-24", FINE, (100, 140), (60, 85), 225, 140),
    Row("3/8-24", FINE, (160, 190), (95, 110), 390, 240),
    Row("7/16-20", FINE, (450, 500), (270, 300), 840, 500),
    Row("1/2-20", FINE, (480, 690), (290, 410), 1100, 660),
    Row("9/16-18", FINE, (800, 1000), (480, 600), 1600, 960),
    Row("5/8-18", FINE, (1100, 1300), (600, 780), 2400, 1400),
    Row("3/4-16", FINE, (2300, 2500), (1300, 1500), 5000, 3000),
    Row("7/8-14", FINE, (2500, 3000), (1500, 1800), 7000, 4200),
    Row("1-14", FINE, (3700, 5500), (2200, 3300), 10_000, 6000, shear_estimated=True),
    Row("1-1/8-12", FINE, (5000, 7000), (3000, 4200), 15_000, 9000, shear_estimated=True),
    Row("1-1/4-12", FINE, (9000, 11_000), (5400, 6600), 25_000, 15_000, shear_estimated=True),
    Row("8-32", COARSE, (12, 15), (7, 9), 20, 12),
    Row("10-24", COARSE, (20, 25), (12, 15), 35, 21),
    Row("1/4-20", COARSE, (40, 50), (25, 30), 75, 45),
    Row("5/16-18", COARSE, (80, 90), (48, 55), 160, 100),
    Row("3/8-16", COARSE, (160, 185), (95, 100), 275, 170),
    Row("7/16-14", COARSE, (235, 255), (140, 155), 475, 280),
    Row("1/2-13", COARSE, (400, 480), (240, 290), 880, 520),
    Row("9/16-12", COARSE, (500, 700), (300, 420), 1100, 650),
    Row("5/8-11", COARSE, (700, 900), (420, 540), 1500, 900),
    Row("3/4-10", COARSE, (1150, 1600), (700, 950), 2500, 1500),
    Row("7/8-9", COARSE, (2200, 3000), (1300, 1800), 4600, 2700),
)
BY_THREAD: Mapping[str, Row] = {row.thread: row for row in ROWS}

# FAA AC 43.13-1B, page 7-12: smallest prevailing torque, in inch-pounds-force.
PREVAILING: Mapping[tuple[str, str], int] = {
    ("7/16-20", FINE): 8,
    ("1/2-20", FINE): 10,
    ("9/16-18", FINE): 13,
    ("5/8-18", FINE): 18,
    ("3/4-16", FINE): 27,
    ("7/8-14", FINE): 40,
    ("1-14", FINE): 55,
    ("1-1/8-12", FINE): 73,
    ("1-1/4-12", FINE): 94,
    ("7/16-14", COARSE): 8,
    ("1/2-13", COARSE): 10,
    ("9/16-12", COARSE): 14,
    ("5/8-11", COARSE): 20,
    ("3/4-10", COARSE): 27,
    ("7/8-9", COARSE): 40,
    ("1-8", COARSE): 51,
    ("1-1/8-8", COARSE): 68,
    ("1-1/4-8", COARSE): 88,
}
ARMY_BREAKAWAY: Mapping[str, float] = {
    "10-32": 2.0,
    "1/4-28": 3.5,
    "5/16-24": 6.5,
    "3/8-24": 9.5,
    "7/16-20": 14.0,
    "1/2-20": 18.0,
}

# How the nuts of the table's two columns are called.
NUTS = {
    TENSION: TENSION,
    SHEAR: SHEAR,
    **dict.fromkeys(("an310", "an365", "ms20365"), TENSION),
    **dict.fromkeys(("an320", "an364", "ms20364"), SHEAR),
}
SERIES = {FINE: FINE, COARSE: COARSE, "unf": FINE, "unc": COARSE, "unjf": FINE, "unjc": COARSE}

IN_RANGE, LOW, OVER_RANGE, OVER_MAXIMUM = "in range", "low", "over range", "over maximum"
NOT_IN_TABLE = "not in table"


def thread_name(text: str) -> str:
    """A thread as the tables write it: "#10-32 UNF", "10 - 32" and "1 1/8-12" become "10-32" and "1-1/8-12"."""
    plain = sub(r"\s*-\s*", "-", " ".join(text.split()))
    plain = sub(r"(?i)^(?:no\.?|#)\s*|\s*-?un[jr]?[cf]?(?:-?[1-3][ab])?$", "", plain)
    plain = sub(r"^(\d+) (\d+/\d+)", r"\1-\2", plain.replace('"', ""))
    if not fullmatch(r"(?:\d+-)?\d+(?:/\d+)?-\d+", plain):
        raise Impossible(f"“{text[:40]}” is not a thread such as 10-32 or 1/4-28.", "thread", "unknown")
    return plain


def series_name(text: str) -> str:
    """Fine or coarse."""
    found = SERIES.get(text.strip().casefold())
    if found is None:
        raise Impossible("The series of a thread is fine or coarse.", "series", "unknown")
    return found


def nut_name(text: str) -> str:
    """The column of the table that a nut belongs to."""
    found = NUTS.get(text.strip().casefold())
    if found is None:
        raise Impossible(
            "The type of nut is tension (AN310, MS20365) or shear (AN320, MS20364).", "nut_type", "unknown"
        )
    return found


def row(thread: str, series: str | None = None) -> Row:
    """The row of Table 7-1 for a thread; refused when it is not in the table rather than taken from a neighbor."""
    name = thread_name(thread)
    found = BY_THREAD.get(name)
    if found is None:
        raise Impossible(
            f"{name} is not in Table 7-1; take its torque from the plan or the maker.", "thread", "unknown"
        )
    if series is not None and series_name(series) != found.series:
        raise Impossible(f"{name} is a {found.series} thread.", "series")
    return found


def lever_gain(lever: Figure, adapter: Figure, angle: Figure = 0) -> Fraction:
    """By how much an adapter multiplies the torque that a wrench shows: (lever + adapter x cos angle) / lever.

    Lever and adapter in one unit of length, the angle between wrench and adapter in degrees. An adapter that points
    back to the grip is negative, or has an angle of more than 90 degrees.
    """
    length, extra = positive(lever, "lever_length_in"), exact(adapter, "adapter_length_in")
    turned = exact(angle, "angle_deg", low=-360, high=360)
    # Twelve places make the cosine of 60 degrees one half and that of 90 nothing, which floating point does not.
    gain = (length + extra * Fraction(round(cos(radians(turned)), 12))) / length
    if gain <= 0:
        raise Impossible(
            "The adapter points back as far as the whole lever: no torque reaches the bolt.", "adapter_length_in"
        )
    return gain


def wrench_setting(wanted: Figure, lever: Figure, adapter: Figure, angle: Figure = 0) -> float:
    """What to set or read on the wrench so that the bolt gets the wanted torque, in the unit of that torque."""
    return float(positive(wanted, "wanted_torque") / lever_gain(lever, adapter, angle))


def torque_applied(shown_torque: Figure, lever: Figure, adapter: Figure, angle: Figure = 0) -> float:
    """The torque that the bolt gets while the wrench shows a value, in the unit of that value."""
    return float(not_negative(shown_torque, "wrench_setting") * lever_gain(lever, adapter, angle))


@dataclass(frozen=True)
class Window:
    """What the wrench has to show, in inch-pounds-force."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        return float((Fraction(self.low) + Fraction(self.high)) / 2)


def window(thread: str, nut: str, drag: Figure, series: str | None = None) -> Window:
    """The range on the wrench: table range plus the drag measured while the nut was run down."""
    low, high = row(thread, series).range(nut_name(nut))
    extra = not_negative(drag, "drag_torque_inlb")
    return Window(float(low + extra), float(high + extra))


@dataclass(frozen=True, kw_only=True)
class TorqueVerdict(Verdict):
    """A logged torque judged; torques in inch-pounds-force."""

    applied: float
    net: float
    row: Row


def judge(
    thread: str,
    nut: str,
    drag: Figure,
    wrench_shown: Figure,
    *,
    lever: Figure | None = None,
    adapter: Figure | None = None,
    angle: Figure = 0,
    series: str | None = None,
) -> TorqueVerdict:
    """Judge a torque as it was logged: what the nut got, less drag, against the table.

    Low: below the recommended range. Over range: above it, but not above the largest torque allowed. Both ends belong
    to the range.
    """
    found, kind = row(thread, series), nut_name(nut)
    took, read = not_negative(drag, "drag_torque_inlb"), not_negative(wrench_shown, "wrench_shown_inlb")
    gain = Fraction(1)
    if adapter is not None and exact(adapter, "adapter_length_in"):
        if lever is None:
            raise Impossible("With an adapter the length of the lever is needed.", "lever_length_in", "missing")
        gain = lever_gain(lever, adapter, angle)
    elif lever is not None:
        positive(lever, "lever_length_in")
    applied = read * gain
    net = applied - took
    low, high = found.range(kind)
    limit = found.limit(kind)
    notes = []
    if net <= 0:
        notes.append("The wrench showed no more than the drag: the nut was turned, not tightened.")
    if found.shear_estimated and kind == SHEAR:
        notes.append("The table calls its shear values of this thread estimated.")
    if net < low:
        verdict, reason = LOW, f"net {shown(net)} is below {low} in-lbf"
    elif net <= high:
        verdict, reason = IN_RANGE, ""
    elif net <= limit:
        verdict, reason = OVER_RANGE, f"net {shown(net)} is above {high} in-lbf"
    else:
        verdict, reason = OVER_MAXIMUM, f"net {shown(net)} is above the largest torque allowed, {limit} in-lbf"
    return TorqueVerdict(
        verdict=verdict,
        good=verdict == IN_RANGE,
        rule=NET,
        reasons=(reason,) if reason else (),
        notes=tuple(notes),
        given={
            "thread": found.thread,
            "nut": kind,
            "drag": drag,
            "wrench_shown": wrench_shown,
            "lever": lever,
            "adapter": adapter,
            "angle": angle,
        },
        applied=float(applied),
        net=float(net),
        row=found,
    )


@dataclass(frozen=True, kw_only=True)
class ToolVerdict(Verdict):
    """Whether a torque wrench is the right one for a torque."""

    fraction: float
    """The wanted torque as a fraction of full scale."""
    in_accuracy_range: bool
    graduation_ok: bool
    in_best_band: bool


def tool_fit(full_scale: Figure, graduation: Figure, wanted: Figure) -> ToolVerdict:
    """Judge whether a wrench fits a torque, all three in one unit."""
    top, step = positive(full_scale, "full_scale_inlb"), positive(graduation, "graduation_inlb")
    torque = positive(wanted, "wanted_torque_inlb")
    if step > top:
        raise Impossible("One graduation is more than the whole scale.", "graduation_inlb")
    fraction = torque / top
    accurate, fine = Fraction(1, 5) <= fraction <= 1, step <= torque / 10
    reasons = []
    if fraction > 1:
        reasons.append("more than the wrench's full scale")
    elif not accurate:
        reasons.append("below 20 % of full scale, where no accuracy is claimed")
    if not fine:
        reasons.append("graduation coarser than 10 % of the torque")
    return ToolVerdict(
        verdict="fit" if not reasons else "not fit",
        good=not reasons,
        rule=TOOL_FIT,
        reasons=tuple(reasons),
        given={"full_scale": full_scale, "graduation": graduation, "wanted": wanted},
        fraction=float(fraction),
        in_accuracy_range=accurate,
        graduation_ok=fine,
        in_best_band=Fraction(3, 10) <= fraction <= Fraction(4, 5),
    )


def prevailing_minimum(thread: str, series: str | None = None) -> int | None:
    """The smallest prevailing torque of a re-used self-locking nut in inch-pounds-force; None: not in the table."""
    name = thread_name(thread)
    wanted = [series_name(series)] if series is not None else [FINE, COARSE]
    return next((PREVAILING[name, kind] for kind in wanted if (name, kind) in PREVAILING), None)
