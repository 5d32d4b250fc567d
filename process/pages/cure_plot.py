"""The plot of a cure run: where its lines, its band, its limits and its faults stand. The drawing is a template."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, floor
from zoneinfo import ZoneInfo

from process.rules import cures

LINE_KINDS = 6
STEPS = (1, 2, 5, 10, 20, 25, 50, 100, 200, 500)
# Between ticks, in minutes.
SPANS = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 7200)
BALLOON = 12

# How wide a letter of a label is, about.
LETTER = 7.0

type Place = Callable[[float], float]
type Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Size:
    """How large a plot is drawn, and how many figures fit along its foot."""

    name: str
    width: int
    height: int
    left: int
    right: int
    ticks: int
    top: int = 62
    foot: int = 34


WIDE = Size("wide", 1000, 380, 48, 96, 8)
NARROW = Size("narrow", 400, 380, 40, 14, 3)


@dataclass(frozen=True)
class Tick:
    """A figure at an axis."""

    at: float
    words: str

    @property
    def text_y(self) -> float:
        return round(self.at + 4, 1)


@dataclass(frozen=True)
class Line:
    """One sensor's line, its kind of dash, and where its name stands."""

    name: str
    kind: int
    path: str
    label_x: float
    label_y: float
    words: str
    mark_y: float


@dataclass(frozen=True)
class Level:
    """A limit across the plot; its words stand where the lines leave room."""

    y: float
    words: str
    kind: str
    text_x: float = 0.0
    text_y: float = 0.0
    anchor: str = "end"


@dataclass(frozen=True)
class Balloon:
    """A fault: the piece of the line that is wrong, and its number beside it."""

    number: int
    x: float
    y: float
    point_x: float
    point_y: float
    path: str
    words: str

    @property
    def text_y(self) -> float:
        return round(self.y + 4.5, 1)


@dataclass(frozen=True)
class Span:
    """A soak along the top of the band."""

    x1: float
    x2: float
    words: str
    middle: float


@dataclass
class Plot:
    """Everything that the template draws, in the units of the drawing."""

    size: Size
    sign: str
    base: float
    end: float
    rows: list[Tick] = field(default_factory=list)
    columns: list[Tick] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    levels: list[Level] = field(default_factory=list)
    balloons: list[Balloon] = field(default_factory=list)
    soaks: list[Span] = field(default_factory=list)
    band_y: float = 0.0
    band_height: float = 0.0
    ramp: str = ""
    ramp_x: float = 0.0
    ramp_y: float = 0.0
    ramp_words: str = ""

    @property
    def width(self) -> float:
        return self.end - self.size.left

    @property
    def tick_end(self) -> float:
        return self.size.left - 8

    @property
    def unit_y(self) -> float:
        return self.size.top - 22

    @property
    def foot_y(self) -> float:
        return self.base + 22


def plot(found: cures.Judged, spec: cures.Spec, zone: ZoneInfo, size: Size) -> Plot | None:
    """Place a run's lines; None where there is nothing to draw."""
    if not found.drawn or found.minutes <= 0:
        return None
    begin = min(one["first"][0] for one in found.drawn)
    bottom, top = _range(found, spec)
    width, height = size.width - size.left - size.right, size.height - size.top - size.foot
    base = size.height - size.foot

    def x(minute: float) -> float:
        return round(size.left + (minute - begin) / (found.minutes - begin) * width, 1)

    def y(degree: float) -> float:
        return round(base - (degree - bottom) / (top - bottom) * height, 1)

    drawn = Plot(size, spec.sign, base, size.width - size.right, ramp_x=size.left + 6, ramp_y=size.top - 44)
    step = _step(top - bottom, 6)
    drawn.rows = [Tick(y(value), f"{value:g}") for value in _multiples(bottom, top, step) if y(value) >= size.top - 1]
    drawn.columns = _columns(datetime.fromisoformat(found.starts), begin, found.minutes, zone, size.ticks, x)
    lines = [[(x(at), y(degree)) for at, degree in one["points"]] for one in found.drawn]
    if spec.low is not None:
        low, high = float(spec.low), float(spec.high) if spec.high is not None else top
        drawn.band_y, drawn.band_height = y(high), round(y(low) - y(high), 1)
        drawn.levels.append(Level(y(low), f"soak {cures.band(spec)}", "band"))
        if spec.high is not None:
            drawn.levels.append(Level(y(high), "", "band"))
        lines.append(_ramp(drawn, found, spec, x, y, begin))
        words = "soak counts" if not spec.added_up else "soak, added up"
        longest = max(found.soaks, key=lambda soak: soak[1] - soak[0], default=None)
        for soak in found.soaks:
            counts = spec.added_up or soak == longest
            said = f"{words} {cures.lasted(soak[1] - soak[0])}" if soak == longest else ""
            if counts:
                drawn.soaks.append(Span(x(soak[0]), x(soak[1]), said, round((x(soak[0]) + x(soak[1])) / 2, 1)))
    if spec.peak_max is not None and float(spec.peak_max) <= top:
        drawn.levels.append(
            Level(y(float(spec.peak_max)), f"at most {cures.temp(float(spec.peak_max), spec)}", "limit")
        )
    weakest = min(spec.stack, key=lambda one: one.limit, default=None)
    if weakest is not None and float(weakest.limit) <= top:
        drawn.levels.append(
            Level(y(float(weakest.limit)), f"{weakest.name[:24]} {cures.temp(float(weakest.limit), spec)}", "stack")
        )
    drawn.levels = _roomy(drawn, lines)
    _lines(drawn, found, x, y)
    _balloons(drawn, found, x, y)
    return drawn


def _roomy(drawn: Plot, lines: Sequence[Sequence[tuple[float, float]]]) -> list[Level]:
    """The limits with their words above or below, at an end or amid: the place that the fewest lines cross.

    What is drawn already counts too: words never stand on words, and best not on another limit.
    """
    begin, end = drawn.size.left + 6, drawn.end - 6
    crossing = [piece for line in lines for piece in pairwise(line)]
    found: list[Level] = []
    taken: list[Box] = []
    for level in drawn.levels:
        if not level.words:
            found.append(level)
            continue
        wide = len(level.words) * LETTER
        below, above = level.y + 16, level.y - 5
        across = [(begin, "start"), ((begin + end) / 2, "middle"), (end, "end")]
        if level.kind == "band":
            places = [(at, text_y, anchor) for text_y in (below, above) for at, anchor in across]
        else:
            places = [(at, text_y, anchor) for text_y in (above, below) for at, anchor in reversed(across)]

        def hindered(place: tuple[float, float, str], of: Level = level, wide: float = wide) -> tuple[int, int]:
            box = _box(*place, wide)
            words = sum(_overlap(box, other) for other in taken) + (box[3] > drawn.base)
            others = sum(box[1] < other.y < box[3] for other in drawn.levels if other.y != of.y)
            return words * 100 + sum(_crosses(piece, box) for piece in crossing), others

        text_x, text_y, anchor = min(places, key=hindered)
        taken.append(_box(text_x, text_y, anchor, wide))
        found.append(replace(level, text_x=text_x, text_y=round(text_y, 1), anchor=anchor))
    return found


def _box(x: float, y: float, anchor: str, wide: float) -> Box:
    """Where words stand: left, top, right, bottom."""
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    return left, y - 12, left + wide, y + 4


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _crosses(piece: tuple[tuple[float, float], tuple[float, float]], box: Box) -> bool:
    """Whether a straight piece of a line goes through a box."""
    (x1, y1), (x2, y2) = piece
    left, right = max(min(x1, x2), box[0]), min(max(x1, x2), box[2])
    if left > right:
        return False
    if x1 == x2:
        return min(y1, y2) < box[3] and max(y1, y2) > box[1]
    ends = [y1 + (at - x1) / (x2 - x1) * (y2 - y1) for at in (left, right)]
    return min(ends) < box[3] and max(ends) > box[1]


def _range(found: cures.Judged, spec: cures.Spec) -> tuple[float, float]:
    values = [point[1] for one in found.drawn for point in one["points"]]
    low, high = min(values), max(values)
    reach = max(high - low, 5.0)
    limits = [float(one) for one in (spec.low, spec.high, spec.peak_max) if one is not None]
    limits += [float(one.limit) for one in spec.stack if float(one.limit) <= high + reach / 3]
    low, high = min([low, *limits]), max([high, *limits])
    step = _step(high - low or 5.0, 6)
    return floor(low / step) * step, ceil((high + (high - low or 5.0) * 0.04) / step) * step


def _step(reach: float, most: int) -> float:
    return next((float(step) for step in STEPS if reach / step <= most), float(STEPS[-1]))


def _multiples(bottom: float, top: float, step: float) -> list[float]:
    count = round((top - bottom) / step)
    return [bottom + step * at for at in range(count + 1)]


def _columns(starts: datetime, begin: float, end: float, zone: ZoneInfo, most: int, x) -> list[Tick]:
    """Round times of the project's clock along the foot; the day stands where it changes."""
    span = next((span for span in SPANS if (end - begin) / span <= most), SPANS[-1])
    local = (starts + timedelta(minutes=begin)).astimezone(zone)
    midnight = local.replace(hour=0, minute=0, second=0, microsecond=0)
    first = (local - midnight).total_seconds() / 60
    minute = begin + (ceil(first / span - 1e-9) * span - first)
    ticks: list[Tick] = []
    day = None
    while minute <= end + 1e-9:
        when = (starts + timedelta(minutes=minute)).astimezone(zone)
        words = f"{when:%H:%M}" if span < 1440 else ""
        if day != when.date():
            words = f"{words} {when.day} {when:%b}".strip()
            day = when.date()
        ticks.append(Tick(x(minute), words))
        minute += span
    return ticks


def _path(points: Sequence[Sequence[float]], x, y) -> str:
    return "M" + "L".join(f"{x(minute):g} {y(degree):g}" for minute, degree in points)


def _lines(drawn: Plot, found: cures.Judged, x, y) -> None:
    """Each sensor's line; names that would stand on each other move apart."""
    taken: list[float] = []
    for kind, one in enumerate(found.drawn):
        label_y = y(one["last"][1]) + 4
        while any(abs(label_y - other) < 15 for other in taken):
            label_y -= 15
        taken.append(label_y)
        words = f"{one['name']}, {one['place']}" if one["place"] else one["name"]
        drawn.lines.append(
            Line(
                one["name"],
                kind % LINE_KINDS + 1,
                _path(one["points"], x, y),
                drawn.end + 6,
                label_y,
                words,
                y(one["last"][1]),
            )
        )


def _ramp(
    drawn: Plot, found: cures.Judged, spec: cures.Spec, x: Place, y: Place, begin: float
) -> list[tuple[float, float]]:
    """The steepest allowed way up from the first reading, and its two ends; none where there is no such limit."""
    if spec.ramp_max is None or spec.low is None:
        return []
    first = min(one["first"][1] for one in found.drawn)
    low, slope = float(spec.low), float(spec.ramp_max)
    if first >= low:
        return []
    end = begin + (low - first) / slope
    reach = min(end, found.minutes)
    degree = first + slope * (reach - begin)
    drawn.ramp = f"M{x(begin):g} {y(first):g}L{x(reach):g} {y(degree):g}"
    drawn.ramp_words = f"steepest allowed {cures.rate(slope, spec)}"
    return [(x(begin), y(first)), (x(reach), y(degree))]


def _balloons(drawn: Plot, found: cures.Judged, x, y) -> None:
    """A numbered ring for each fault, near its place and off the others."""
    lines = {one["name"]: one["points"] for one in found.drawn}
    taken: list[tuple[float, float]] = []
    for number, fault in enumerate(found.faults, start=1):
        points = lines.get(fault.sensor) or found.drawn[0]["points"]
        piece = [point for point in points if fault.start <= point[0] <= fault.end]
        if fault.end > fault.start and fault.kind != cures.SOAK:
            ends = cures.Points([point[0] for point in points], [point[1] for point in points])
            piece = [
                [fault.start, cures.value_at(ends, fault.start)],
                *piece,
                [fault.end, cures.value_at(ends, fault.end)],
            ]
        point_x, point_y = x(fault.at), y(fault.degree)
        ring_x = min(max(point_x + 26, drawn.size.left + BALLOON), drawn.end - BALLOON)
        ring_y = min(point_y + 34, drawn.base - BALLOON - 4)
        while any(abs(ring_x - a) < 2 * BALLOON + 2 and abs(ring_y - b) < 2 * BALLOON + 2 for a, b in taken):
            ring_y -= 2 * BALLOON + 2
            if ring_y < BALLOON:
                ring_x, ring_y = ring_x - 2 * BALLOON - 2, drawn.base - BALLOON - 4
        taken.append((ring_x, ring_y))
        path = _path(piece, x, y) if len(piece) > 1 and fault.kind != cures.SOAK else ""
        drawn.balloons.append(Balloon(number, round(ring_x, 1), round(ring_y, 1), point_x, point_y, path, fault.short))
