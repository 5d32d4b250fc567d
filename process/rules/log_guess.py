"""How a data logger's file seems to be written. The builder sees the guess and confirms it before it counts."""

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import pairwise
from statistics import median

from foundation.refusal import Refusal
from process.rules.log_cells import LONGEST_LINE, Row, cut, day_of, is_stamp, lines_of, number, rows_of, time_of
from process.rules.logs import CLOCK, DECIMALS, DELIMITERS, ORDERS, SINCE, SPLIT, WALL, Reading, Sensor, clock_for

LOOKED_AT = 400
SHOWN_LINES = 12
MOST_SENSORS = 24
CELSIUS = re.compile(r"°\s*c|\bdeg\.?\s*c|celsius|[(\[_ ]c[)\]]?$|℃", re.IGNORECASE)
FAHRENHEIT = re.compile(r"°\s*f|\bdeg\.?\s*f|fahrenheit|[(\[_ ]f[)\]]?$|℉", re.IGNORECASE)
UNIT_AT_END = re.compile(r"[\s_]*(?:[\[(]\s*)?(?:(?:°|deg\.?)\s*[cf]|℃|℉|(?<=[\[(])[cf])\s*[\])]?\s*$", re.IGNORECASE)
COUNTS = re.compile(
    r"^(no|nr|num|number|#|index|id|record|row|sample|count|event|reading|line|lfd.*)\.?$", re.IGNORECASE
)
NO_TEMPERATURE = re.compile(
    r"%|\brh\b|humid|batter|volt|\bpress|vacuum|inhg|mbar|serial|alarm|set ?-?point|\bsp\b|\bpv ?out|output|duty|power",
    re.IGNORECASE,
)
SINCE_WORDS = re.compile(r"elapsed|seconds?|\bsec\b|minutes?|\bmin\b|hours?|\btime\b|runtime|zeit|\bt\b", re.IGNORECASE)


@dataclass(frozen=True)
class Column:
    """A column as the builder sees it before he confirms."""

    number: int
    name: str
    example: str
    kind: str
    """"stamp", "date", "time", "number", "count" or "words"."""


@dataclass(frozen=True)
class Guess:
    """How a file seems to be written, with what could not be told from it."""

    reading: Reading
    columns: tuple[Column, ...]
    lines: tuple[str, ...]
    """The first lines, as they are."""
    rows: tuple[tuple[str, ...], ...]
    """The first rows of figures, cut into cells."""
    questions: tuple[str, ...]


def guess(text: str, near: date | None = None) -> Guess:
    """How the file seems to be written. `near` is the day of the cure, which decides what the file leaves open."""
    lines = lines_of(text)
    sample = lines[:LOOKED_AT]
    best = max(
        (_try(sample, delimiter, decimal) for delimiter in DELIMITERS for decimal in DECIMALS),
        key=lambda tried: tried.score,
    )
    if best.score <= 0:
        raise Refusal(
            "no_figures",
            "No rows with a time and temperatures were found in the file. It needs one line for each reading, "
            "with the time and the temperatures, such as “2026-03-13 18:40, 21.5”.",
            "log",
        )
    return _explained(best, lines, near)


@dataclass
class _Tried:
    """One way to cut a file, and how well it fits."""

    delimiter: str
    decimal: str
    score: float
    rows: list[Row] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    first: int = 0


def _kind(cell: str, decimal: str) -> str:
    plain = cell.strip().strip('"').strip()
    value = number(plain, decimal)
    if value is not None:
        return "" if math.isnan(value) else "number"
    if any(is_stamp(plain, order) for order in ORDERS):
        return "stamp"
    if any(day_of(plain, order) for order in ORDERS):
        return "date"
    if time_of(plain, elapsed=True) is not None:
        return "time"
    return "words"


def _try(sample: list[str], delimiter: str, decimal: str) -> _Tried:
    rows = list(rows_of((line[:LONGEST_LINE] for line in sample), delimiter))
    kinds = [[_kind(cell, decimal) for cell in row[:60]] for row in rows]

    def is_data(row: list[str]) -> bool:
        known = [kind for kind in row if kind]
        stamps = sum(kind in ("stamp", "date", "time") for kind in known)
        numbers = known.count("number")
        return (stamps >= 1 and numbers >= 1) or (stamps == 0 and numbers >= 2 and "words" not in known)

    data = [at for at, row in enumerate(kinds) if is_data(row)]
    if not data:
        return _Tried(delimiter, decimal, 0)
    shape = Counter(tuple(kind in ("stamp", "date", "time") for kind in kinds[at]) for at in data).most_common(1)[0][0]
    alike = [at for at in data if tuple(kind in ("stamp", "date", "time") for kind in kinds[at]) == shape] or data
    width = max(len(kinds[at]) for at in alike)
    columns = []
    junk = 0
    for column in range(width):
        seen = Counter(kinds[at][column] for at in alike if column < len(kinds[at]) and kinds[at][column])
        columns.append(seen.most_common(1)[0][0] if seen else "number")
        junk += sum(seen.values()) - (seen.most_common(1)[0][1] if seen else 0) + seen["words"]
    stamped = any(kind in ("stamp", "date", "time") for kind in columns)
    # A way that explains every cell of every row, with a real time, wins; spaces only where nothing else cuts.
    filled = sum(1 for line in sample if line.strip())
    score = len(alike) / max(1, filled) * 10 + (3 if stamped else 0) - junk / len(alike) * 4
    score += min(columns.count("number"), 8) * 0.05 - (0.3 if delimiter == " " else 0)
    # A comma that is a delimiter and a decimal comma at once is possible only inside quotes.
    if delimiter == decimal and not any('"' in sample[at] for at in alike):
        score -= 5
    if decimal == "," and not any("," in cell for at in alike for cell in rows[at]):
        score -= 0.2
    return _Tried(delimiter, decimal, max(score, 0.01), rows, columns, alike[0])


def _explained(tried: _Tried, lines: list[str], near: date | None) -> Guess:
    first, kinds, rows = tried.first, tried.kinds, tried.rows
    data = rows[first:]
    questions: list[str] = []
    header_at = next(
        (at for at in range(first - 1, -1, -1) if sum(bool(cell.strip()) for cell in rows[at]) >= 2),
        None,
    )
    names = [cell.strip().strip('"').strip() for cell in rows[header_at]] if header_at is not None else []
    if tried.delimiter == " " and len(names) != len(kinds):
        names = []
    names += [""] * (len(kinds) - len(names))
    kinds = [
        "count" if kind == "number" and _counts(names[at], data, at, tried.decimal) else kind
        for at, kind in enumerate(kinds)
    ]
    time, time_column, date_column, elapsed = _times(kinds, names, data, tried.decimal, questions)
    order = "ymd"
    if time in (CLOCK, SPLIT):
        column = time_column if time == CLOCK else date_column
        order = _order([_day_text(row, column, time) for row in data], near, questions)
    used = {time_column, *([date_column] if time == SPLIT else [])}
    sensors = [at for at, kind in enumerate(kinds) if kind == "number" and at not in used]
    if time == SINCE:
        # A counter may have been taken for the time already.
        sensors = [at for at in sensors if at != time_column]
    chosen = [at for at in sensors if not NO_TEMPERATURE.search(names[at])] or sensors
    if not chosen:
        raise Refusal("no_sensor", "The file has a time but no column of temperatures.", "log")
    if len(chosen) > MOST_SENSORS:
        questions.append(f"The file has {len(chosen)} columns of figures; the first {MOST_SENSORS} are taken.")
        chosen = chosen[:MOST_SENSORS]
    unit = _unit(names, chosen, data, lines[:first], questions)
    reading = Reading(
        delimiter=tried.delimiter,
        decimal=tried.decimal,
        first=first,
        header=lines[header_at].strip()[:500] if header_at is not None else "",
        time=time,
        time_column=time_column,
        date_column=date_column,
        order=order,
        elapsed=elapsed,
        unit=unit,
        sensors=_named(chosen, names),
    )
    columns = tuple(
        Column(at, names[at], data[0][at].strip() if at < len(data[0]) else "", kind) for at, kind in enumerate(kinds)
    )
    return Guess(
        replace(reading, ramp_over=_ramp_over(reading, data)),
        columns,
        tuple(line[:200] for line in lines[:SHOWN_LINES]),
        tuple(tuple(cell.strip() for cell in row) for row in data[:5]),
        tuple(questions),
    )


def _named(chosen: Sequence[int], names: Sequence[str]) -> tuple[Sensor, ...]:
    """Sensors by their columns' names, each name once."""
    sensors: list[Sensor] = []
    taken: set[str] = set()
    for count, at in enumerate(chosen, start=1):
        name = UNIT_AT_END.sub("", names[at])[:40].strip(" _") or f"Sensor {count}"
        if name in taken:
            name = f"{name[:34]} ({at + 1})"
        taken.add(name)
        sensors.append(Sensor(at, name))
    return tuple(sensors)


def _counts(name: str, data: Sequence[Row], column: int, decimal: str) -> bool:
    """Whether a column only numbers the rows."""
    if COUNTS.match(name):
        return True
    if name:
        return False
    values = [number(row[column], decimal) for row in data[:50] if column < len(row)]
    real = [value for value in values if value is not None]
    return len(real) > 5 and len(real) == len(values) and all(b - a == 1 for a, b in pairwise(real))


def _times(
    kinds: Sequence[str], names: Sequence[str], data: Sequence[Row], decimal: str, questions: list[str]
) -> tuple[str, int, int, str]:
    """Where the time stands and what kind of time it is."""
    if "stamp" in kinds:
        return CLOCK, kinds.index("stamp"), 0, "s"
    if "date" in kinds and "time" in kinds:
        return SPLIT, kinds.index("time"), kinds.index("date"), "s"
    if "time" in kinds:
        at = kinds.index("time")
        begins = next((time_of(row[at], elapsed=True) for row in data if at < len(row)), None)
        if begins is not None and begins < 300:
            return SINCE, at, 0, "hms"
        questions.append("The file has times of day but no date: the first is taken to be of the day the run started.")
        return WALL, at, 0, "s"
    numbers = [at for at, kind in enumerate(kinds) if kind in ("number", "count")]
    rising = [at for at in numbers if _rises(data, at, decimal)]
    at = next(
        (column for column in rising if SINCE_WORDS.search(names[column].replace("_", " "))),
        next((column for column in rising if kinds[column] == "number"), rising[0] if rising else -1),
    )
    if at < 0:
        raise Refusal("no_time", "No column with the time was found: one that never goes back.", "log")
    name = names[at].lower().replace("_", " ")
    if re.search(r"\bmin|\(m\)|\[m\]", name):
        unit = "min"
    elif re.search(r"hour|\bh\b|\bhrs?\b", name):
        unit = "h"
    else:
        unit = "s"
        if not re.search(r"sec|\bs\b", name):
            questions.append("The time counts from the start, but the file does not say in what: seconds are assumed.")
    return SINCE, at, 0, unit


def _rises(data: Sequence[Row], column: int, decimal: str) -> bool:
    values = [number(row[column], decimal) for row in data if column < len(row)]
    real = [value for value in values if value is not None and not math.isnan(value)]
    return len(real) >= 2 and real[0] < real[-1] and all(a <= b for a, b in pairwise(real))


def _day_text(row: Row, column: int, time: str) -> str:
    if column >= len(row):
        return ""
    return cut(row[column])[0] if time == CLOCK else row[column].strip()


def _order(days: Sequence[str], near: date | None, questions: list[str]) -> str:
    """The order of the date: by what is possible, then by what lies closest to the cure and to itself."""
    distinct = list(dict.fromkeys(day for day in days if day))[:200]
    left = {}
    for order in ("ymd", "dmy", "mdy"):
        read = [day_of(day, order) for day in distinct]
        real = [day for day in read if day is not None]
        # Words below the figures are no dates in any order.
        if real:
            left[order] = real
    most = max(len(real) for real in left.values())
    left = {order: real for order, real in left.items() if len(real) == most}
    if len({tuple(real) for real in left.values()}) == 1:
        return next(iter(left))

    def far(order: str) -> tuple[int, int]:
        real = left[order]
        return (max(real) - min(real)).days, abs((real[0] - near).days) if near else 0

    # Two digits first are hardly a year unless nothing else fits.
    order = min(left, key=lambda one: (far(one)[0], far(one)[1], ("dmy", "mdy", "ymd").index(one)))
    if near is None or far(order)[1] > 2:
        questions.append(f"“{distinct[0]}” can be read in more than one way: check the order of the date.")
    return order


def _unit(
    names: Sequence[str], chosen: Sequence[int], data: Sequence[Row], above: Sequence[str], questions: list[str]
) -> str:
    """Celsius or Fahrenheit: by the columns' names, the cells, then the lines above."""
    cells = [row[at] for row in data[:20] for at in chosen if at < len(row)]
    for texts in ([names[at] for at in chosen], cells, above):
        celsius = sum(bool(CELSIUS.search(text)) or text.strip().endswith(("°C", "C")) for text in texts)
        fahrenheit = sum(bool(FAHRENHEIT.search(text)) or text.strip().endswith(("°F", "F")) for text in texts)
        if celsius != fahrenheit:
            return "C" if celsius > fahrenheit else "F"
    questions.append("The file does not say °C or °F: check it.")
    return "C"


def _ramp_over(reading: Reading, data: Sequence[Row]) -> float:
    """Fast loggers show single steps of their resolution as steep ramps; those are measured over five minutes."""
    clock = clock_for(reading)
    stamps = []
    for row in data[:200]:
        try:
            stamps.append(clock(row))
        except (ValueError, IndexError):
            continue
    steps = [abs(b - a) for a, b in pairwise(stamps)]
    return 5.0 if steps and median(steps) < 60 else 0.0
