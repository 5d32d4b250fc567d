"""Small papers of the demo: a page of plain PDF, a table, a logger's file. All invented."""

from collections.abc import Sequence
from datetime import datetime, timedelta


def pdf(*lines: str) -> bytes:
    """One page with these lines (plain letters only)."""
    said = "".join(f"({line.replace('(', '[').replace(')', ']')}) Tj T* " for line in lines)
    page = f"BT /F1 12 Tf 18 TL 60 760 Td {said}ET".encode("ascii", "replace")
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 4 0 R "
        b"/Resources << /Font << /F1 << /Type /Font /Subtype /Type1 /BaseFont /Helvetica >> >> >> >>",
        b"<< /Length %d >>\nstream\n%s\nendstream" % (len(page), page),
    ]
    out, places = bytearray(b"%PDF-1.4\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    begin = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, begin)
    return bytes(out)


def table(rows: Sequence[Sequence[str]]) -> bytes:
    return "".join(",".join(row) + "\r\n" for row in rows).encode()


def cure_log(began: datetime, minutes: int, ramp: int, soak: float, room: float = 21.0) -> bytes:
    """Two thermocouples every five minutes: up in `ramp` minutes, held, and cooling over the last hour."""
    rows = [("Time", "TC1", "TC2")]
    for minute in range(0, minutes + 1, 5):
        first = temperature(minute, minutes, ramp, soak, room)
        second = temperature(minute, minutes, ramp + 10, soak - 1.1, room)
        stamp = began + timedelta(minutes=minute)
        rows.append((f"{stamp:%Y-%m-%d %H:%M:%S}", f"{first:.1f}", f"{second:.1f}"))
    return table(rows)


def temperature(minute: int, minutes: int, ramp: int, soak: float, room: float) -> float:
    """A blanket that swings a little about its setting."""
    if minute < ramp:
        return room + (soak - room) * minute / ramp
    if minute > minutes - 60:
        return soak - (soak - room - 4) * (minute - minutes + 60) / 60
    return soak + 0.3 * ((minute // 5) % 3 - 1)
