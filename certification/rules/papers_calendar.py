"""A calendar file of days, as RFC 5545 asks: lines end in CR LF, none is longer than 75 octets."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

LONGEST = 75


@dataclass(frozen=True)
class Day:
    """One whole day to be reminded of. `uid` stays the same whatever is changed, so that a calendar replaces it."""

    uid: str
    on: date
    title: str
    words: str = ""


def calendar(days: Iterable[Day], name: str, stamp: datetime) -> bytes:
    """The file. `stamp` is when it is made (DTSTAMP, section 3.8.7.2)."""
    made = f"{stamp.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Builder's record//Certification file//EN"]
    lines += ["CALSCALE:GREGORIAN", "METHOD:PUBLISH", f"X-WR-CALNAME:{escaped(name)}"]
    for day in days:
        # A whole day: DTEND is the day after, and does not count (section 3.6.1).
        lines += ["BEGIN:VEVENT", f"UID:{escaped(day.uid)}", f"DTSTAMP:{made}"]
        lines += [f"DTSTART;VALUE=DATE:{day.on:%Y%m%d}", f"DTEND;VALUE=DATE:{day.on + timedelta(days=1):%Y%m%d}"]
        lines.append(f"SUMMARY:{escaped(day.title)}")
        if day.words:
            lines.append(f"DESCRIPTION:{escaped(day.words)}")
        lines += ["TRANSP:TRANSPARENT", "END:VEVENT"]
    lines.append("END:VCALENDAR")
    return b"".join(folded(line) for line in lines)


def escaped(text: str) -> str:
    """Text as a value may have it (section 3.3.11): control characters are not allowed at all."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = "".join(sign for sign in text if sign in "\n\t" or (ord(sign) >= 32 and ord(sign) != 127))
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def folded(line: str) -> bytes:
    """A content line cut into pieces of at most 75 octets, never inside a character (section 3.1)."""
    pieces: list[bytes] = []
    piece = b""
    for sign in line:
        octets = sign.encode()
        room = LONGEST if not pieces else LONGEST - 1
        if len(piece) + len(octets) > room:
            pieces.append(piece)
            piece = b""
        piece += octets
    return b"\r\n ".join([*pieces, piece]) + b"\r\n"
