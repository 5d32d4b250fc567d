"""A data logger's file cut into lines and cells, and cells read as numbers, dates and times."""

import csv
import math
import re
from collections.abc import Iterable, Iterator
from datetime import date

from foundation.refusal import Refusal

MOST_BYTES = 120_000_000
LONGEST_LINE = 20_000
MONTHS = {
    name: at
    for at, name in enumerate(
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"], start=1
    )
}
DATE = re.compile(r"(\d{1,4})([-/. ])(\d{1,2}|[A-Za-z]{3,9})\2,?[ ]?(\d{1,4})")
TIME = re.compile(r"(\d{1,3}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6}))?)?\s*([AaPp]\.?[Mm]\.?)?")
OFFSET = re.compile(r"\s*(Z|[+-]\d{2}:?\d{2})$")
NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(°|deg)?\s*([CcFf])?\.?")

# What loggers write where a sensor gave nothing.
NOTHING = {"", "-", "--", "---", "----", "-----", "*", "***", "?", "nan", "n/a", "na", "#n/a", "null", "none", "err"}
NOTHING |= {"error", "open", "ol", "oc", "fault", "over", "under", "burnout", "inf", "-inf", "+inf", "lo", "hi", "nc"}

type Row = list[str]


# ---- From bytes to lines


def decode(data: bytes) -> str:
    """The text of a file, by its mark or by what fits."""
    if not data.strip():
        raise Refusal("empty", "The file is empty. Save the log from the logger again.", "log")
    if len(data) > MOST_BYTES:
        raise Refusal("too_large", "The file is over 120 MB. Save a part of the log, or with fewer readings.", "log")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _text(data, "utf-16")
    if data.startswith(b"\xef\xbb\xbf"):
        return _text(data, "utf-8-sig")
    head = data[:4000]
    if b"\x00" in head:
        # Plain text in UTF-16 has a zero in every other place.
        odd, even = head[1::2].count(0), head[::2].count(0)
        if max(odd, even) * 3 > len(head):
            return _text(data, "utf-16-le" if odd > even else "utf-16-be")
        raise _no_text()
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _text(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as broken:
        raise _no_text() from broken


def _no_text() -> Refusal:
    return Refusal("not_text", "This is not a text file. Save the log as CSV or text from the logger's program.", "log")


def lines_of(text: str) -> list[str]:
    """The lines; only the ends of lines end them, not every mark that could."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.split("\n")


def rows_of(lines: Iterable[str], delimiter: str) -> Iterator[Row]:
    """Cut lines into cells. Every line is one row, also where a quote is left open."""
    if delimiter == " ":
        for line in lines:
            yield line.split()
        return
    for line in lines:
        if '"' in line and len(line) < LONGEST_LINE:
            yield [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        else:
            yield line.split(delimiter)


# ---- From cells to figures


def number(cell: str, decimal: str) -> float | None:
    """A temperature, NaN where the sensor gave none, None where the cell is something else."""
    plain = cell.strip().strip('"').strip().replace("\u2212", "-")
    if plain.casefold() in NOTHING:
        return math.nan
    found = NUMBER.fullmatch(plain)
    if not found:
        return None
    digits = found[1]
    other = "," if decimal == "." else "."
    if other in digits:
        return None
    value = float(digits.replace(",", "."))
    return value if math.isfinite(value) else None


def day_of(cell: str, order: str) -> date | None:
    """The date of a cell; years of two digits are of this century."""
    found = DATE.fullmatch(cell.strip().strip(","))
    if not found:
        return None
    one, two, three = found[1], found[3], found[4]
    if two.isalpha():
        month = MONTHS.get(two[:3].lower())
        if month is None:
            return None
        year, day = (one, three) if len(one) == 4 else (three, one)
        return _date(year, month, day)
    if len(one) == 4 or order == "ymd":
        return _date(one, int(two), three) if len(three) < 4 else None
    day, month_text = (one, two) if order != "mdy" else (two, one)
    return _date(three, int(month_text), day)


def _date(year: str, month: int, day: str) -> date | None:
    if len(year) not in (2, 4):
        return None
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), month, int(day))
    except ValueError:
        return None


def time_of(cell: str, *, elapsed: bool = False) -> float | None:
    """Seconds since midnight, or since the start."""
    found = TIME.fullmatch(cell.strip())
    if not found:
        return None
    hour, minute, second, part, half = int(found[1]), int(found[2]), found[3], found[4], found[5]
    if minute > 59 or (second and int(second) > 59):
        return None
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half.lower().startswith("p") else 0)
    if hour > 23 and not elapsed:
        return None
    return hour * 3600 + minute * 60 + int(second or 0) + (float(f"0.{part}") if part else 0.0)


def cut(cell: str) -> tuple[str, str, str]:
    """A cell with date and time in its two halves, and the offset from UTC if it states one."""
    plain = cell.strip().strip('"').strip()
    offset = ""
    at = plain.find(":")
    if at > 0 and (found := OFFSET.search(plain, at)):
        offset, plain = found[1], plain[: found.start()]
    if "T" in plain and plain[:4].isdigit():
        day, _, clock = plain.partition("T")
        return day, clock, offset
    at = plain.find(":")
    if at < 0:
        return plain, "", offset
    # The date may hold spaces itself, so the cut is at the last one before the hour.
    space = plain.rfind(" ", 0, at)
    return plain[:space].strip().rstrip(",") if space > 0 else "", plain[space + 1 :].strip(), offset


def is_stamp(cell: str, order: str) -> bool:
    """Whether a cell holds a date and a time."""
    day, clock, _ = cut(cell)
    return bool(clock) and day_of(day, order) is not None and time_of(clock) is not None
