"""A data logger's file read as its builder confirmed it, line by line.

Loggers agree on nothing: delimiter, decimal comma, order of the date, unit, words above and below the figures. Refusals
name the line and what to do. Nothing that was done to the times goes unsaid.
"""

import math
from array import array
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

from foundation.refusal import Refusal
from process.rules.log_cells import LONGEST_LINE, Row, cut, day_of, lines_of, number, rows_of, time_of

LONGEST_DAYS = 400
LOOKED_AT = 400
# The last day of the calendar, as clocks are counted here.
LAST_SECOND = 3_652_059 * 86_400

DELIMITERS = {",": "Comma", ";": "Semicolon", "\t": "Tab", "|": "Upright bar", " ": "Spaces"}
DECIMALS = {".": "Point: 21.5", ",": "Comma: 21,5"}
ORDERS = {"ymd": "Year, month, day", "dmy": "Day, month, year", "mdy": "Month, day, year"}
ELAPSED = {"s": "Seconds", "min": "Minutes", "h": "Hours", "hms": "Hours:minutes:seconds"}
CLOCK, SPLIT, WALL, SINCE = "clock", "split", "wall", "since"
TIMES = {
    CLOCK: "Date and time in one column",
    SPLIT: "Date and time in two columns",
    WALL: "Time of day without a date",
    SINCE: "Time since the start",
}
SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}

# Beyond these a shop's sensor is broken or not plugged in: loggers write their end of scale then.
NO_SENSOR = {"C": (-190.0, 1000.0), "F": (-310.0, 1832.0)}


type Clock = Callable[[Row], float]


@dataclass(frozen=True)
class Sensor:
    """One column of temperatures: what it is called and where it sat."""

    column: int
    name: str
    place: str = ""


@dataclass(frozen=True)
class Reading:
    """How a file is written. Columns and lines count from zero."""

    delimiter: str = ","
    decimal: str = "."
    first: int = 0
    """The line where the figures begin."""
    header: str = ""
    """The line with the columns' names, by which the same logger is known again."""
    time: str = CLOCK
    time_column: int = 0
    date_column: int = 0
    """Only when date and time stand in two columns."""
    order: str = "ymd"
    elapsed: str = "s"
    unit: str = "C"
    sensors: tuple[Sensor, ...] = ()
    ramp_over: float = 0.0
    """Ramps are measured over so many minutes; zero: from point to point."""

    def as_json(self) -> dict[str, Any]:
        return asdict(self) | {"sensors": [asdict(one) for one in self.sensors]}

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Reading":
        known = {key: said[key] for key in cls.__dataclass_fields__ if key in said and key != "sensors"}
        sensors = tuple(Sensor(int(one["column"]), one["name"], one.get("place", "")) for one in said["sensors"])
        return cls(**known, sensors=sensors)


@dataclass(frozen=True)
class Track:
    """What one sensor said: minutes since the log's start, and temperatures in the log's unit."""

    name: str
    place: str
    minutes: "array[float]"
    degrees: "array[float]"

    def __len__(self) -> int:
        return len(self.minutes)

    @property
    def points(self) -> Iterator[tuple[float, float]]:
        return zip(self.minutes, self.degrees, strict=True)


@dataclass(frozen=True)
class Log:
    """A file read: when it begins, in which unit, every sensor's track, and what was done on the way."""

    starts: datetime
    unit: str
    tracks: tuple[Track, ...]
    notes: tuple[str, ...] = ()
    interval: float = 0.0
    """Seconds between two readings, as a rule."""


@dataclass
class _Sheet:
    """The figures of a file, column by column, while they are read."""

    seconds: "array[float]" = field(default_factory=lambda: array("d"))
    columns: "list[array[float]]" = field(default_factory=list)
    lines: "array[int]" = field(default_factory=lambda: array("q"))
    words: list[int] = field(default_factory=list)
    footers: list[int] = field(default_factory=list)
    broken: Counter[int] = field(default_factory=Counter)
    fine: bool = False
    """Whether any time has seconds."""


# ---- Reading


def clock_for(reading: Reading) -> Clock:
    """A function from a row to its seconds: of a wall clock since the year 1, since midnight, or since the start."""
    at, decimal, order = reading.time_column, reading.decimal, reading.order
    if reading.time == SINCE and reading.elapsed != "hms":
        size = SECONDS[reading.elapsed]

        def since(row: Row) -> float:
            value = number(row[at], decimal)
            if value is None or math.isnan(value):
                raise ValueError
            return value * size

        return since
    if reading.time in (SINCE, WALL):
        elapsed = reading.time == SINCE

        def passed(row: Row) -> float:
            value = time_of(row[at], elapsed=elapsed)
            if value is None:
                raise ValueError
            return value

        return passed
    known: dict[str, float] = {}

    def midnight(text: str) -> float:
        if text not in known:
            day = day_of(text, order)
            if day is None:
                raise ValueError
            known[text] = day.toordinal() * 86400.0
        return known[text]

    if reading.time == SPLIT:
        on = reading.date_column

        def split(row: Row) -> float:
            value = time_of(row[at])
            if value is None:
                raise ValueError
            return midnight(row[on].strip().strip('"').strip()) + value

        return split

    def stamp(row: Row) -> float:
        cell = row[at]
        # The plain form of nearly every logger, without the cost of the general one.
        if len(cell) == 19 and cell[13] == ":" == cell[16] and cell[:10] in known and cell[11:13].isdigit():
            minute, second = int(cell[14:16]), int(cell[17:19])
            hour = int(cell[11:13])
            if hour < 24 and minute < 60 and second < 60:
                return known[cell[:10]] + hour * 3600 + minute * 60 + second
        day, clock, offset = cut(cell)
        value = time_of(clock)
        if value is None:
            raise ValueError
        return midnight(day) + value - (_offset(offset) if offset else 0.0)

    return stamp


def _offset(text: str) -> float:
    if text == "Z":
        return 0.0
    sign = -1 if text[0] == "-" else 1
    return sign * (int(text[1:3]) * 3600.0 + int(text[-2:]) * 60.0)


def states_offset(reading: Reading, rows: Iterable[Row]) -> bool:
    """Whether the times say how far they are from UTC."""
    if reading.time != CLOCK:
        return False
    return any(cut(row[reading.time_column])[2] for row in rows if len(row) > reading.time_column)


def read(text: str, reading: Reading, zone: ZoneInfo, started: datetime) -> Log:
    """Read every line of a file. `started` is when the run began: it places times that have no date.

    Refusals name the line. Words between the figures, doubled and turned readings, and what the clocks did, are told
    in the log's notes.
    """
    if not reading.sensors:
        raise Refusal("no_sensor", "Choose at least one column of temperatures.", "log")
    lines = lines_of(text)
    if reading.decimal == "," and reading.delimiter != ",":
        # All at once: a long log has millions of cells.
        lines = [*lines[: reading.first], *text_of(lines[reading.first :]).replace(",", ".").split("\n")]
        reading = replace(reading, decimal=".")
    sheet = _figures(lines, reading)
    if len(sheet.seconds) < 2:
        raise Refusal("too_short", "The log needs at least two readings. Check how its columns are read.", "log")
    notes = _told(sheet, reading)
    aware = states_offset(reading, rows_of(lines[reading.first : reading.first + 5], reading.delimiter))
    _ordered(sheet, reading, notes, zone if reading.time in (CLOCK, SPLIT) and not aware else None)
    _check_span(sheet.seconds)
    start, offset_known = _start(sheet, reading, zone, started, aware)
    if not offset_known:
        start = _zoned(sheet, zone, notes)
    _spread(sheet, notes)
    first = sheet.seconds[0]
    minutes = array("d", [(second - first) / 60 for second in sheet.seconds])
    tracks = tuple(
        _track(sensor, minutes, column, notes, start, zone)
        for sensor, column in zip(reading.sensors, sheet.columns, strict=True)
    )
    kept = tuple(track for track in tracks if len(track) >= 2)
    if not kept:
        raise Refusal("too_short", "No sensor has two readings. Check how the columns are read.", "log")
    notes += [f"{track.name} has no readings and is left out." for track in tracks if len(track) < 2]
    return Log(start, reading.unit, kept, tuple(notes), _interval(sheet.seconds))


def first_readings(text: str, reading: Reading, zone: ZoneInfo, started: datetime, count: int = 3) -> list[str]:
    """The first readings as they would be read, in words, so that a wrong date or unit is seen before it counts."""
    part = lines_of(text[: LONGEST_LINE * 20])[: reading.first + LOOKED_AT]
    log = read(text_of(part), reading, zone, started)
    found = []
    for at in range(min(count, *(len(track) for track in log.tracks))):
        minute = log.tracks[0].minutes[at]
        when = (log.starts + timedelta(minutes=minute)).astimezone(zone)
        temps = ", ".join(f"{track.name} {track.degrees[at]:g} °{log.unit}" for track in log.tracks[:4])
        found.append(f"{when:%a} {when.day} {when:%b %Y, %H:%M:%S}: {temps}")
    return found


def _check_span(seconds: "array[float]") -> None:
    """Refuse a log that spans more than a cure can last, or lies beyond the calendar."""
    days = (seconds[-1] - seconds[0]) / 86_400
    if days > LONGEST_DAYS:
        raise Refusal(
            "too_long",
            f"The log spans {days:,.0f} days. Check how its times are read, or save only the cure.",
            "log",
        )


def text_of(lines: Sequence[str]) -> str:
    return "\n".join(lines)


def _interval(seconds: "array[float]") -> float:
    steps = [b - a for a, b in pairwise(seconds[:2001])]
    return median(steps) if steps else 0.0


def _figures(lines: Sequence[str], reading: Reading) -> _Sheet:
    """Go through the lines once."""
    sheet = _Sheet(columns=[array("d") for _ in reading.sensors])
    clock, decimal = clock_for(reading), reading.decimal
    seconds, numbers = sheet.seconds, sheet.lines
    columns = [(sensor.column, into) for sensor, into in zip(reading.sensors, sheet.columns, strict=True)]
    low, high = NO_SENSOR[reading.unit]
    nothing = math.nan
    pending: list[tuple[int, Refusal]] = []
    for at, row in enumerate(rows_of(lines[reading.first :], reading.delimiter), start=reading.first):
        if not row or (len(row) == 1 and not row[0].strip()):
            continue
        try:
            second = clock(row)
        except (ValueError, IndexError):
            _hold(sheet, pending, at, row, reading)
            continue
        values = []
        bad = None
        for number_at, (column, _) in enumerate(columns):
            try:
                value = float(row[column])
            except IndexError:
                value = nothing
            except ValueError:
                found = number(row[column], decimal)
                if found is None:
                    bad = Refusal(
                        "bad_cell",
                        f"Line {at + 1}: “{row[column].strip()[:30]}” in column {column + 1} is no temperature. "
                        "Correct the line, or do not take that column.",
                        "log",
                    )
                    break
                value = found
            if not low < value < high:
                if value == value:
                    sheet.broken[number_at] += 1
                value = nothing
            values.append(value)
        if bad is not None:
            pending.append((at, bad))
            continue
        if pending:
            raise pending[0][1]
        seconds.append(second)
        numbers.append(at)
        for (_, into), value in zip(columns, values, strict=True):
            into.append(value)
    sheet.footers = [at for at, _ in pending]
    sheet.fine = any(second % 60 for second in seconds)
    return sheet


def _hold(sheet: _Sheet, pending: list[tuple[int, Refusal]], at: int, row: Row, reading: Reading) -> None:
    """A line without a time: words, or something that only the end of the file excuses."""
    figures = [number(row[one.column], reading.decimal) for one in reading.sensors if one.column < len(row)]
    if any(value is not None and not math.isnan(value) for value in figures):
        cell = row[reading.time_column].strip()[:30] if reading.time_column < len(row) else ""
        said = f"“{cell}” is no time" if cell else "the time is missing"
        pending.append(
            (at, Refusal("bad_time", f"Line {at + 1}: {said}. Correct the line, or the way times are read.", "log"))
        )
    else:
        sheet.words.append(at)


def _told(sheet: _Sheet, reading: Reading) -> list[str]:
    notes = []
    last = sheet.lines[-1]
    between = [at for at in sheet.words if at < last]
    if between:
        notes.append(f"{_lines(between)} between the readings {'has' if len(between) == 1 else 'have'} words only.")
    if sheet.footers:
        notes.append(
            f"{_lines(sheet.footers)} below the readings {'is' if len(sheet.footers) == 1 else 'are'} left out."
        )
    for column, count in sorted(sheet.broken.items()):
        sensor = reading.sensors[column]
        notes.append(
            f"{sensor.name}: {count} {'reading' if count == 1 else 'readings'} that no shop reaches, as loggers write "
            "for a sensor that is open, left out."
        )
    return notes


def _lines(numbers: Sequence[int]) -> str:
    if len(numbers) == 1:
        return f"Line {numbers[0] + 1}"
    return f"{len(numbers)} lines (the first is {numbers[0] + 1})"


def _ordered(sheet: _Sheet, reading: Reading, notes: list[str], zone: ZoneInfo | None) -> None:
    """Bring the readings into the order of time, or refuse."""
    seconds = sheet.seconds
    back = [at for at in range(1, len(seconds)) if seconds[at] < seconds[at - 1]]
    if not back:
        return
    if reading.time == WALL and all(seconds[at - 1] - seconds[at] > 43_200 for at in back):
        # Past midnight the time of day starts again.
        days, at_back = 0, set(back)
        for at in range(len(seconds)):
            days += at in at_back
            seconds[at] += days * 86_400
        notes.append(f"The times go past midnight {'once' if len(back) == 1 else f'{len(back)} times'}.")
        return
    if all(seconds[at] <= seconds[at - 1] for at in range(1, len(seconds))):
        seconds.reverse()
        sheet.lines.reverse()
        for column in sheet.columns:
            column.reverse()
        notes.append("The newest reading stood first: the log is turned round.")
        return
    if zone is not None and len(back) == 1 and _goes_back(seconds[back[0] - 1], seconds[back[0]], zone):
        return
    typical = _interval(array("d", sorted(seconds)))
    worst = max(back, key=lambda at: seconds[at - 1] - seconds[at])
    if seconds[worst - 1] - seconds[worst] > max(2 * typical, 1.0) * 1.5:
        raise Refusal(
            "backward",
            f"Line {sheet.lines[worst] + 1}: the time goes back from {_shown(seconds[worst - 1])} to "
            f"{_shown(seconds[worst])}. If the logger's clock was set during the cure, save the part that counts as a "
            "file of its own; if the date is read in the wrong order, change the order.",
            "log",
        )
    order = sorted(range(len(seconds)), key=seconds.__getitem__)
    sheet.seconds = array("d", [seconds[at] for at in order])
    sheet.lines = array("q", [sheet.lines[at] for at in order])
    sheet.columns = [array("d", [column[at] for at in order]) for column in sheet.columns]
    notes.append(f"{len(back)} {'reading' if len(back) == 1 else 'readings'} out of order put in order of time.")


def _shown(second: float) -> str:
    rest = second % 86_400
    return f"{int(rest // 3600):02}:{int(rest % 3600 // 60):02}:{int(rest % 60):02}"


def _wall(second: float) -> datetime:
    return datetime(1, 1, 1) + timedelta(seconds=second - 86_400)  # noqa: DTZ001 - a wall clock's reading


def _shift(wall: datetime, zone: ZoneInfo, fold: int = 0) -> float:
    """Seconds that a wall clock in the zone is ahead of UTC."""
    ahead = wall.replace(tzinfo=zone, fold=fold).utcoffset()
    return ahead.total_seconds() if ahead is not None else 0.0


def _goes_back(before: float, after: float, zone: ZoneInfo) -> bool:
    """Whether the clocks of the zone went back between two readings."""
    if before >= LAST_SECOND or before <= 86_400 * 400:
        return False
    wall = _wall(after)
    first, later = _shift(wall, zone, 0), _shift(wall, zone, 1)
    return first > later and after + (first - later) > before - 1


def _start(sheet: _Sheet, reading: Reading, zone: ZoneInfo, started: datetime, aware: bool) -> tuple[datetime, bool]:
    """When the log begins, and whether that settles its clock."""
    first = sheet.seconds[0]
    try:
        if reading.time == SINCE:
            return started + timedelta(seconds=first), True
        if reading.time == WALL:
            local = started.astimezone(zone)
            base = local.toordinal() * 86_400.0
            # A log that begins before midnight can belong to a run that starts after it, and the other way round.
            nearest = min((-1, 0, 1), key=lambda day: abs(_clock(base + day * 86_400 + first, zone) - started))
            for at in range(len(sheet.seconds)):
                sheet.seconds[at] += base + nearest * 86_400
            return started, False
        if aware:
            start = _wall(first).replace(tzinfo=UTC)
            if not 1900 < start.year < 2200:
                raise _far()
            return start, True
    except OverflowError as far:
        raise _far() from far
    return started, False


def _far() -> Refusal:
    return Refusal("far", "The dates of the log lie beyond the calendar. Check the order of the date.", "log")


def _clock(second: float, zone: ZoneInfo) -> datetime:
    wall = _wall(second)
    return (wall - timedelta(seconds=_shift(wall, zone))).replace(tzinfo=UTC)


def _zoned(sheet: _Sheet, zone: ZoneInfo, notes: list[str]) -> datetime:
    """Turn a wall clock's readings into instants, with what the clocks of the zone did on the way."""
    seconds = sheet.seconds
    try:
        first, last = _wall(seconds[0]), _wall(seconds[-1])
        if not 1900 < first.year < 2200 or not 1900 < last.year < 2200:
            raise _far()
        ahead, later = _shift(first, zone, 0), _shift(last, zone, 1)
    except OverflowError as far:
        raise _far() from far
    back = next((at for at in range(1, len(seconds)) if seconds[at] < seconds[at - 1]), None)
    follows = ahead != later
    when = ""
    if later < ahead:
        follows = back is not None
        when = "went back"
        if not follows:
            follows = not _runs_through(seconds, first, ahead, zone)
    elif later > ahead:
        when = "went forward"
        follows = not any(
            _shift(_wall(second), zone, 0) != _shift(_wall(second), zone, 1) for second in _around(seconds, ahead, zone)
        )
    elif back is not None:
        # The log ends within the hour that the clocks showed twice.
        when, follows = "went back", True
        later = _shift(_wall(seconds[back]), zone, 1)
    if ahead != later and follows:
        changed = back
        if changed is None:
            changed = next((at for at, second in enumerate(seconds) if _shift(_wall(second), zone, 1) == later), None)
        for at in range(changed or 0, len(seconds)):
            seconds[at] += ahead - later
        notes.append(f"The clocks {when} during the log by {_hour(ahead, later)}; the times are read so.")
    elif ahead != later:
        notes.append(
            f"The clocks {when} during the log, but the logger's clock did not follow: all its times are read as "
            "before the change."
        )
    return (first - timedelta(seconds=ahead)).replace(tzinfo=UTC)


def _hour(ahead: float, later: float) -> str:
    minutes = abs(later - ahead) / 60
    return "one hour" if minutes == 60 else f"{minutes:g} minutes"


def _change(low: float, high: float, zone: ZoneInfo, fold: int) -> float:
    """The first wall-clock second of another offset, between two readings."""
    ahead = _shift(_wall(low), zone, fold)
    while high - low > 1:
        middle = (low + high) // 2
        if _shift(_wall(middle), zone, fold) == ahead:
            low = middle
        else:
            high = middle
    return high


def _runs_through(seconds: "array[float]", first: datetime, ahead: float, zone: ZoneInfo) -> bool:
    """Whether the log shows the hour after the change once and without a gap, as a clock that nobody set does."""
    change = _change(seconds[0], seconds[-1], zone, 0)
    at = bisect_left(seconds, change)
    if not 0 < at < len(seconds):
        return False
    # A clock that was set leaves the hour out in between; one that was not has its usual step there.
    return seconds[at] - seconds[at - 1] <= 3 * max(_interval(seconds), 1.0)


def _around(seconds: "array[float]", ahead: float, zone: ZoneInfo) -> Iterator[float]:
    """Readings that lie in the hour the clocks skipped."""
    change = _change(seconds[0], seconds[-1], zone, 1)
    low = bisect_right(seconds, change - 7200)
    for second in seconds[low:]:
        if second > change + 7200:
            return
        wall = _wall(second)
        if _shift(wall, zone, 0) < _shift(wall, zone, 1) or _shift(wall, zone, 0) > _shift(wall, zone, 1):
            yield second


def _spread(sheet: _Sheet, notes: list[str]) -> None:
    """Readings with one and the same time: doubles go, others are spread over the minute or second they share."""
    seconds = sheet.seconds
    if all(map(float.__lt__, seconds, seconds[1:])):
        return
    keep: list[int] = []
    doubled = 0
    for at in range(len(seconds)):
        if keep and seconds[at] == seconds[keep[-1]] and _same(sheet, at, keep[-1]):
            doubled += 1
        else:
            keep.append(at)
    size = 1.0 if sheet.fine else 60.0
    spread = 0
    times = array("d", [seconds[at] for at in keep])
    begin = 0
    while begin < len(times):
        end = begin + 1
        while end < len(times) and times[end] == times[begin]:
            end += 1
        count = end - begin
        if count > 1:
            spread += count - 1
            room = min(size, times[end] - times[begin]) if end < len(times) else size
            for at in range(begin, end):
                times[at] += room * (at - begin) / count
        begin = end
    sheet.seconds = times
    sheet.columns = [array("d", [column[at] for at in keep]) for column in sheet.columns]
    sheet.lines = array("q", [sheet.lines[at] for at in keep])
    if doubled:
        notes.append(f"{doubled} {'reading stands' if doubled == 1 else 'readings stand'} twice and counted once.")
    if spread:
        notes.append(
            f"{spread} {'reading has' if spread == 1 else 'readings have'} the time of the one before: they are spread "
            f"evenly over that {'second' if sheet.fine else 'minute'}."
        )


def _same(sheet: _Sheet, one: int, other: int) -> bool:
    return all(
        column[one] == column[other] or (math.isnan(column[one]) and math.isnan(column[other]))
        for column in sheet.columns
    )


def _track(
    sensor: Sensor,
    minutes: "array[float]",
    column: "array[float]",
    notes: list[str],
    start: datetime,
    zone: ZoneInfo,
) -> Track:
    """One sensor's readings, without those that are missing; a long gap is told."""
    if not any(map(math.isnan, column)):
        return Track(sensor.name, sensor.place, minutes, column)
    kept = [at for at in range(len(column)) if not math.isnan(column[at])]
    track = Track(
        sensor.name,
        sensor.place,
        array("d", [minutes[at] for at in kept]),
        array("d", [column[at] for at in kept]),
    )
    if len(kept) < 2:
        return track
    missing = len(column) - len(kept)
    widest = max(range(1, len(kept)), key=lambda at: track.minutes[at] - track.minutes[at - 1])
    gap = track.minutes[widest] - track.minutes[widest - 1]
    since = (start + timedelta(minutes=track.minutes[widest - 1])).astimezone(zone)
    until = (start + timedelta(minutes=track.minutes[widest])).astimezone(zone)
    notes.append(
        f"{sensor.name}: {missing} {'reading' if missing == 1 else 'readings'} missing; the longest gap, {gap:.3g} "
        f"min, is from {since:%H:%M} to {until:%H:%M}. A straight line is taken over it."
    )
    return track
