"""Cures: ramp, soak, peak and cooling of a logged cure against its specification, and what the stack and the bag allow.

Temperatures of one log are in one unit, times in minutes. Between two logged points the temperature is taken to change
along a straight line. Logs can be long, so this module computes in floating point; a limit counts as passed only when
it is passed by more than rounding can explain.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, inf

from calc.figures import MOST, Figure, exact, not_negative, positive
from calc.trouble import Impossible
from calc.units import degrees, kelvin
from calc.verdict import MEMORY, Rule, Verdict

SHEET_WINS = "The resin maker's cure, and the limits of every material in the stack, win."

CURE = Rule(
    "straight lines between points; ramp = steepest heating that starts below the band; "
    "soak = longest unbroken time in the band unless the specification lets times add up",
    "light helicopter composite repair manual, chapter 51-20 p. 3 (30 Nov 2000), for adding up; "
    "post-cure of an epoxy prepreg in a material characterisation report (15 Nov 2009) for the form of the limits",
    valid="Two points or more, in order of time; the band's ends belong to it.",
    caution=SHEET_WINS,
)
SEVERAL = Rule(
    "the soak counts while the coldest sensor is in the band; the hottest sets the peak",
    "lagging starts, leading limits: convention of aerospace cure specifications",
    MEMORY,
    valid="The time that all sensors cover.",
    caution=SHEET_WINS,
)
SENSORS = Rule(
    "one sensor for each 1 to 2 ft2, never fewer than two",
    "light helicopter composite repair manual, chapter 51-20 p. 3 (30 Nov 2000)",
)
FILM = Rule(
    "film in the bag stack no hotter than its limit",
    "FAA AC 43.13-1B para 3-4 a(1)",
    valid="PVA 250, PVC 180, nylon (most bagging films) 400, polyvinyl fluoride 450 degF.",
)
STACK = Rule(
    "no hotter than the weakest material in the stack",
    "builders' mailing list, Nov 2015: foam stiffeners ruined a cowl that the resin would have survived",
    valid="The limits come from the materials' own data sheets.",
)
VACUUM = Rule(
    "at least 22 inches of mercury",
    "FAA AC 43.13-1B para 3-4 (l)",
    valid="Inches of mercury below ambient; in a high shop ambient itself may be little more.",
)
VACUUM_SHARE = Rule(
    "reading / ambient pressure",
    "definition",
    MEMORY,
    valid="Both in inches of mercury; a gauge can never show more than ambient.",
)
DROP = Rule(
    "pump off: loss of no more than so many percent of the starting vacuum in so many minutes",
    "epoxy prepreg processing guide 1-1015, key points (10 percent in 5 minutes)",
    valid="A test of another length is judged by its rate.",
)
SERVICE = Rule(
    "service temperature at least the margin below the wet glass transition",
    "material operational limit convention in CMH-17 (28 degC, 50 degF)",
    MEMORY,
    valid="Wet Tg of the resin as it was cured.",
)

SOAK_SHORT, SOAK_LONG, TOO_HOT = "soak short", "soak long", "over temperature"
RAMP_FAST, COOL_FAST = "ramp fast", "cool fast"

# FAA AC 43.13-1B para 3-4 a(1), degF.
FILMS: Mapping[str, int] = {"PVA": 250, "PVC": 180, "nylon": 400, "PVF": 450}
FILM_NAMES = {
    **{name.casefold(): name for name in FILMS},
    "polyvinyl alcohol": "PVA",
    "polyvinyl chloride": "PVC",
    "polyvinyl fluoride": "PVF",
    "polyvinylfluoride": "PVF",
}
LEAST_VACUUM = 22
# No weather presses with more: the highest pressure ever recorded at sea level is about 32 inHg.
MOST_VACUUM = 32

# What rounding of sums and slopes can amount to, as a fraction of the limit.
SLACK = 1e-9

type Point = tuple[float, float]
type Stretch = tuple[float, float]


@dataclass(frozen=True)
class Spec:
    """What a cure has to keep to: temperatures in the unit of the log, times in minutes, rates per minute."""

    low: float
    high: float | None = None
    dwell_min: float | None = None
    dwell_max: float | None = None
    ramp_max: float | None = None
    cool_max: float | None = None
    cool_to: float | None = None
    """Cooling is judged down to this temperature."""
    cumulative: bool = False
    """Times in the band add up; otherwise the longest unbroken one counts."""


@dataclass(frozen=True, kw_only=True)
class CureVerdict(Verdict):
    """A cure judged."""

    soak: float
    """Minutes in the band that count."""
    soaks: tuple[Stretch, ...]
    """Every stretch of time in the band."""
    peak: float
    max_ramp: float
    """Steepest heating that began below the band, per minute."""
    max_cool: float
    """Steepest cooling that began above `cool_to`, per minute."""


@dataclass(frozen=True)
class Survey:
    """What one sensor's log says, found in one pass."""

    begins: float
    ends: float
    first: float
    last: float
    peak: float
    ramp: float
    """Fastest rise among segments that start below the band, per minute; zero without one."""
    cool: float
    """Fastest fall among segments that start above `cool_to`, per minute; zero without one."""
    warm: list[Stretch]
    """When it was not below the band."""
    mild: list[Stretch]
    """When it was not above the band."""


def judge(sensors: Mapping[str, Sequence[Point]], spec: Spec, unit: str) -> CureVerdict:
    """Judge a cure logged by one or more sensors, each a row of (minutes, temperature) in order of time.

    The soak counts while the coldest sensor is in the band, the peak is the hottest sensor's, ramp and cooling are the
    steepest of any sensor.
    """
    check_spec(spec, unit)
    if not sensors:
        raise Impossible("A cure needs the log of at least one sensor.", "points", "missing")
    logs = [survey(points, spec, unit, name) for name, points in sensors.items()]
    shared = max(log.begins for log in logs), min(log.ends for log in logs)
    if shared[0] >= shared[1]:
        raise Impossible("The sensors' logs do not overlap in time.", "points")
    soaks = overlap([[shared], *(log.warm for log in logs), union([log.mild for log in logs])])
    lengths = [end - start for start, end in soaks]
    soak = sum(lengths) if spec.cumulative else max(lengths, default=0.0)
    peak, ramp, cool = (max(getattr(log, name) for log in logs) for name in ("peak", "ramp", "cool"))
    reasons = []
    if spec.dwell_min is not None and less(soak, spec.dwell_min):
        reasons.append(SOAK_SHORT)
    if spec.dwell_max is not None and less(spec.dwell_max, soak):
        reasons.append(SOAK_LONG)
    if spec.high is not None and less(spec.high, peak):
        reasons.append(TOO_HOT)
    if spec.ramp_max is not None and less(spec.ramp_max, ramp):
        reasons.append(RAMP_FAST)
    if spec.cool_max is not None and less(spec.cool_max, cool):
        reasons.append(COOL_FAST)
    return CureVerdict(
        verdict="fail" if reasons else "pass",
        good=not reasons,
        rule=CURE if len(logs) == 1 else SEVERAL,
        reasons=tuple(reasons),
        notes=tuple(_not_seen(logs, spec)),
        given={"sensors": tuple(sensors), "spec": spec, "unit": unit},
        soak=soak,
        soaks=tuple(soaks),
        peak=peak,
        max_ramp=ramp,
        max_cool=cool,
    )


def _not_seen(logs: Sequence[Survey], spec: Spec) -> list[str]:
    """What the specification asks for and the log cannot show."""
    notes = []
    if spec.ramp_max is not None and any(log.first >= spec.low for log in logs):
        notes.append("The log begins inside the band or above it: the rise is not in it.")
    end = spec.low if spec.cool_to is None else spec.cool_to
    if spec.cool_max is not None and any(log.last > end for log in logs):
        notes.append("The log ends before the part has cooled down.")
    return notes


def less(one: float, other: float) -> bool:
    """Whether one number is less than another by more than rounding can explain."""
    return one < other and other - one > SLACK * max(abs(one), abs(other), SLACK)


def check_spec(spec: Spec, unit: str) -> None:
    """Refuse a specification that no cure could meet or that says nothing sensible."""
    for name in ("low", "high", "cool_to"):
        if (value := getattr(spec, name)) is not None:
            kelvin(value, unit, name)
    for name in ("dwell_min", "dwell_max", "ramp_max", "cool_max"):
        if (value := getattr(spec, name)) is not None:
            (not_negative if name.startswith("dwell") else positive)(value, name)
    if spec.high is not None and spec.high < spec.low:
        raise Impossible("The band's upper end lies below its lower end.", "high")
    if spec.dwell_min is not None and spec.dwell_max is not None and spec.dwell_max < spec.dwell_min:
        raise Impossible("The longest soak is shorter than the shortest.", "dwell_max")


def survey(points: Sequence[Point], spec: Spec, unit: str, name: str = "points") -> Survey:
    """Read one sensor's log; refused when it cannot be one. The same point twice counts once."""
    if len(points) < 2:
        raise Impossible("A log needs at least two points.", name, "missing")
    scale = degrees(unit)
    coldest = float(-scale.zero / scale.size)
    low, high = spec.low, inf if spec.high is None else spec.high
    floor = -inf if spec.cool_to is None else spec.cool_to
    begins, first = at, degree = points[0]
    peak, ramp, cool = degree, 0.0, 0.0
    warm: list[Stretch] = []
    mild: list[Stretch] = []
    warm_since = at if degree >= low else None
    mild_since = at if degree <= high else None
    before, was = at, degree
    for at, degree in points:
        # Not a number fails every comparison, so it fails these.
        if not (-MOST < at < MOST and coldest <= degree < MOST):
            _refuse(degree, coldest, name)
        lasted, change = at - before, degree - was
        if lasted <= 0:
            # The first point meets itself here.
            if lasted == 0 == change:
                continue
            if lasted < 0:
                raise Impossible(f"Time runs backward at {at:g} min.", name, "backward")
            raise Impossible(f"There are two temperatures at {at:g} min.", name)
        if change > 0:
            peak = max(peak, degree)
            if was < low:
                ramp = max(ramp, change / lasted)
        elif change < 0 and was > floor:
            cool = max(cool, -change / lasted)
        if (degree >= low) != (warm_since is not None):
            crossing = before + lasted * ((low - was) / change)
            if warm_since is None:
                warm_since = crossing
            else:
                warm.append((warm_since, crossing))
                warm_since = None
        if (degree <= high) != (mild_since is not None):
            crossing = before + lasted * ((high - was) / change)
            if mild_since is None:
                mild_since = crossing
            else:
                mild.append((mild_since, crossing))
                mild_since = None
        before, was = at, degree
    if at == begins:
        raise Impossible("A log needs at least two points.", name, "missing")
    if warm_since is not None:
        warm.append((warm_since, at))
    if mild_since is not None:
        mild.append((mild_since, at))
    return Survey(begins, at, first, degree, peak, ramp, cool, warm, mild)


def _refuse(degree: float, coldest: float, name: str) -> None:
    if degree < coldest:
        raise Impossible("No temperature lies below absolute zero.", name)
    raise Impossible("A point's time and temperature must be ordinary numbers.", name)


def overlap(rows: Sequence[Sequence[Stretch]]) -> list[Stretch]:
    """The stretches that lie in every row; each row is in order and without overlaps."""
    common = list(rows[0])
    for row in rows[1:]:
        both, i, j = [], 0, 0
        while i < len(common) and j < len(row):
            start, end = max(common[i][0], row[j][0]), min(common[i][1], row[j][1])
            if start <= end:
                both.append((start, end))
            if common[i][1] < row[j][1]:
                i += 1
            else:
                j += 1
        common = both
    return common


def union(rows: Sequence[Sequence[Stretch]]) -> list[Stretch]:
    """The stretches that lie in any row, joined where they touch."""
    joined: list[Stretch] = []
    for start, end in sorted(stretch for row in rows for stretch in row):
        if joined and start <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], end)
        else:
            joined.append((start, end))
    return joined


@dataclass(frozen=True)
class Sensors:
    """How many temperature sensors an area needs."""

    minimum: int
    at_one_per_ft2: int


def sensors_needed(area: Figure) -> Sensors:
    """The number of sensors for an area in ft2: one for each 2 ft2 at least, one for each ft2 better, two always."""
    size = positive(area, "area_ft2")
    return Sensors(max(2, ceil(size / 2)), max(2, ceil(size)))


@dataclass(frozen=True, kw_only=True)
class LimitVerdict(Verdict):
    """A temperature against a limit, both in one unit."""

    limit: float
    weakest: str


def film_limit(film: str, cure_f: Figure) -> LimitVerdict:
    """Judge a film in the bag stack against a cure in degF; at its limit it still holds."""
    name = FILM_NAMES.get(" ".join(film.split()).casefold())
    if name is None:
        raise Impossible(
            f"No limit is known here for “{film[:40]}”; take it from its maker's data sheet.", "film", "unknown"
        )
    kelvin(cure_f, "degF", "cure_degF")
    return _limit(exact(cure_f, "cure_degF"), Fraction(FILMS[name]), name, FILM, {"film": name, "cure": cure_f})


def stack_limit(peak: Figure, materials: Sequence[tuple[str, Figure]], unit: str) -> LimitVerdict:
    """Judge a peak temperature against every material's limit, all in one unit. Of equal limits the first is named."""
    if not materials:
        raise Impossible("Name at least one material of the stack.", "materials", "missing")
    kelvin(peak, unit, "peak")
    limits = []
    for name, limit in materials:
        kelvin(limit, unit, "materials")
        limits.append((exact(limit, "materials"), name))
    weakest = min(limits, key=lambda pair: pair[0])
    return _limit(
        exact(peak, "peak"), weakest[0], weakest[1], STACK, {"peak": peak, "materials": materials, "unit": unit}
    )


def _limit(value: Fraction, limit: Fraction, name: str, rule: Rule, given: Mapping[str, object]) -> LimitVerdict:
    good = value <= limit
    return LimitVerdict(
        verdict="ok" if good else "too hot",
        good=good,
        rule=rule,
        reasons=() if good else (f"too hot for {name}",),
        given=given,
        limit=float(limit),
        weakest=name,
    )


def vacuum(reading: Figure, minimum: Figure = LEAST_VACUUM) -> Verdict:
    """Judge a bag's vacuum in inches of mercury below ambient."""
    shown = exact(reading, "reading_inhg", low=0, high=MOST_VACUUM, why="Enter inches of mercury below ambient.")
    good = shown >= positive(minimum, "minimum_inhg")
    return Verdict(
        verdict="ok" if good else "low",
        good=good,
        rule=VACUUM,
        reasons=() if good else ("vacuum low",),
        given={"reading": reading, "minimum": minimum},
    )


def vacuum_fraction(reading: Figure, ambient: Figure) -> float:
    """A gauge's reading as a fraction of what the air presses with, both in inches of mercury."""
    air = exact(ambient, "ambient_inhg", above=0, high=MOST_VACUUM)
    shown = not_negative(reading, "reading_inhg")
    if shown > air:
        raise Impossible("A gauge can never show more than the air presses with.", "reading_inhg")
    return float(shown / air)


@dataclass(frozen=True, kw_only=True)
class DropVerdict(Verdict):
    """A drop test judged: percent of the starting vacuum that was lost."""

    drop: float


def bag_drop(start: Figure, end: Figure, minutes: Figure, limit: Figure = 10, limit_minutes: Figure = 5) -> DropVerdict:
    """Judge a bag's drop test, in inches of mercury; a test longer or shorter than the rule's is judged by its rate."""
    first = exact(start, "start_inhg", above=0, high=MOST_VACUUM)
    last, lasted = not_negative(end, "end_inhg"), positive(minutes, "minutes")
    if last > first:
        raise Impossible("With the pump off a bag does not gain vacuum.", "end_inhg")
    percent = (first - last) / first * 100
    allowed = exact(limit, "limit_percent", low=0, high=100) / positive(limit_minutes, "limit_minutes")
    good = percent / lasted <= allowed
    short = lasted < exact(limit_minutes, "limit_minutes")
    return DropVerdict(
        verdict="ok" if good else "leaks",
        good=good,
        rule=DROP,
        reasons=() if good else ("bag leaks",),
        notes=("The test was shorter than the rule asks.",) if short else (),
        given={"start": start, "end": end, "minutes": minutes, "limit": limit, "limit_minutes": limit_minutes},
        drop=float(percent),
    )


@dataclass(frozen=True, kw_only=True)
class ServiceVerdict(Verdict):
    """A service temperature judged against glass transition, in degC."""

    max_service: float


def service_margin(tg_wet: Figure, service: Figure, margin: Figure = 28) -> ServiceVerdict:
    """Judge a service temperature in degC against the wet glass transition less a margin in degC."""
    for value, field in ((tg_wet, "tg_wet_degC"), (service, "service_degC")):
        kelvin(value, "degC", field)
    most = exact(tg_wet, "tg_wet_degC") - not_negative(margin, "margin_degC")
    good = exact(service, "service_degC") <= most
    return ServiceVerdict(
        verdict="ok" if good else "too hot",
        good=good,
        rule=SERVICE,
        reasons=() if good else ("too near the glass transition",),
        given={"tg_wet": tg_wet, "service": service, "margin": margin},
        max_service=float(most),
    )
