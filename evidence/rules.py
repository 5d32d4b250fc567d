"""Pure decisions about photos: what is accepted, and when a photo was taken and how that is known."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

from foundation.refusal import Refusal

KNOWN = {
    "camera": "by the camera, with its time zone",
    "camera_local": "by the camera, time zone taken from the project",
    "file": "by the file's time on the phone",
    "typed": "typed in",
    "unknown": "not known",
}

# The same in one or two words, for the contact sheet.
KNOWN_SHORT = {
    "camera": "camera",
    "camera_local": "camera, no zone",
    "file": "file time",
    "typed": "typed",
    "unknown": "time not known",
}

SHOWS = {
    "": "Not said",
    "inside": "Inside before closing",
    "overall": "Overall view",
    "edge": "Edge or bond line",
    "gauge": "Gauge",
    "scale": "Scale display",
    "label": "Label or lot",
    "receipt": "Receipt",
    "damage": "Damage or fault",
}

# Formats as the decoder names them, with the ending of the stored file. MPO is a phone's JPEG with a second picture.
ENDINGS = {"JPEG": "jpg", "MPO": "jpg", "PNG": "png", "WEBP": "webp", "AVIF": "avif", "HEIF": "heic"}
TYPES = {
    "jpg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "avif": "image/avif",
    "heic": "image/heic",
    "mp4": "video/mp4",
    "mov": "video/quicktime",
    "webm": "video/webm",
    "3gp": "video/3gpp",
    "m4a": "audio/mp4",
    "mp3": "audio/mpeg",
    "aac": "audio/aac",
    "ogg": "audio/ogg",
    "wav": "audio/wav",
    "weba": "audio/webm",
}

# Browsers play QuickTime files as what they nearly are, and do not know them by their own name.
PLAYED = {"mov": "video/mp4"}

# What a kind of file is: a picture, or a clip that is kept as it came and never decoded here.
VIDEO = {"mp4", "mov", "webm", "3gp"}
AUDIO = {"m4a", "mp3", "aac", "ogg", "wav", "weba"}
CLIPS = VIDEO | AUDIO
MEDIA = {"picture": "Photo", "video": "Video", "audio": "Voice note"}

# Pictures that every browser shows as they came.
SHOWN_BY_BROWSERS = {"jpg", "png", "webp"}

MARKS = {"arrow": "Arrow", "ring": "Ring", "note": "Note"}
# Marks are placed in ten-thousandths of the upright picture's width and height.
WHOLE = 10_000
MOST_MARKS = 40
LONGEST_MARK_WORDS = 80
# Nearer together than this, two corners are one place.
LEAST_MARK = 50
# The thirds of a picture, row by row, as they are told and chosen.
PLACES = [
    "upper left", "top", "upper right",
    "left", "middle", "right",
    "lower left", "bottom", "lower right",
]  # fmt: skip

# A JPEG can be decoded small; anything else has to be decoded whole, so its cap is lower.
MOST_PIXELS_JPEG = 210_000_000
MOST_PIXELS = 60_000_000

# A form without scripts sends all files in one request; this many of the largest size at most.
MOST_AT_ONCE = 20
MB = 1024 * 1024
# Larger files come in pieces of this size (bytes), so that a broken connection costs one piece only.
PIECE = 4 * MB
PIECES_KEPT = timedelta(days=14)
# Names, keys and boundaries around the files of a request, in bytes.
AROUND_FILES = 64 * 1024

# A camera whose battery ran flat starts again at a date before there were such cameras.
FIRST_YEAR = 1995
CLOCK_SLACK = timedelta(days=1)
# A typed time may belong to the scan of an old print, but not to a slip of the fingers in the year.
EARLIEST_TYPED_YEAR = 1900
# A photo that came in so long after it was taken is marked late wherever it is shown.
LATE_AFTER = timedelta(hours=24)


def check_size(size: int, most: int, what: str = "photo") -> None:
    """Refuse an empty file and one larger than the limit (bytes) for what it is, a photo or a clip."""
    if size == 0:
        raise Refusal("empty", "The file is empty (0 bytes). Take or choose the photo again.", "photo")
    if size > most:
        words = "for a photo" if what == "photo" else "for a video or voice note"
        said = f"The file has {size / MB:.1f} MB; at most {most / MB:.0f} MB are taken {words}."
        raise Refusal("too_large", said, "photo")


def check_digest(digest: str, claimed: str) -> None:
    """Refuse a file whose bytes are not those that the phone read, where it said which those are."""
    if claimed and claimed != digest:
        raise Refusal("digest_differs", "The file was cut or changed on the way. It is sent again.", "photo")


def check_piece(offset: int, size: int, have: int, most: int) -> None:
    """Refuse a piece of a large file that cannot be put in its place; `have` bytes of the file are here (rule R11)."""
    if size > most:
        raise Refusal("too_large", f"The file has {size / MB:.1f} MB; at most {most / MB:.0f} MB are taken.", "photo")
    if not 0 <= offset < size or offset > have:
        raise Refusal("gap", "A piece before this one is missing.", "offset")


def check_request(length: int, most: int, files: int = 1) -> None:
    """Refuse a request, before it is read, whose length in bytes shows that its files are too large."""
    if length > files * most + AROUND_FILES:
        words = "The file is too large" if files == 1 else "These are too many files at once; send fewer"
        raise Refusal("too_large", f"{words}. At most {most / MB:.0f} MB are taken for each.", "photo")


def check_pixels(kind: str, width: int, height: int) -> None:
    """Refuse a picture that declares more pixels than can be decoded safely."""
    most = MOST_PIXELS_JPEG if kind in {"JPEG", "MPO"} else MOST_PIXELS
    if width * height > most:
        raise Refusal(
            "too_many_pixels",
            f"The picture says it is {width} by {height} pixels, more than the {most // 1_000_000} million "
            "that are taken. Send a smaller one.",
            "photo",
        )


@dataclass(frozen=True)
class Taken:
    """When a photo was taken (UTC, None if not known), the zone it was told in, and how this is known."""

    at: datetime | None
    offset_minutes: int | None
    known: str


def camera_clock(text: str | None) -> datetime | None:
    """The camera's own notation `YYYY:MM:DD HH:MM:SS` (Exif 2.32, DateTimeOriginal) as a naive time, or None."""
    match = re.match(r"\s*(\d{4})[:\-](\d{2})[:\-](\d{2})[ T](\d{2}):(\d{2}):(\d{2})", text or "")
    if not match:
        return None
    year, month, day, hour, minute, second = map(int, match.groups())
    try:
        return datetime(year, month, day, hour, minute, second)  # noqa: DTZ001 (the camera's own time, zone not yet known)
    except ValueError:
        return None


def camera_offset(text: str | None) -> timedelta | None:
    """The camera's zone notation `+HH:MM` (Exif 2.31, OffsetTimeOriginal), or None."""
    match = re.match(r"\s*([+-])(\d{2}):(\d{2})\s*$", (text or "").replace("\0", ""))
    if not match:
        return None
    sign, hours, minutes = match.groups()
    offset = timedelta(hours=int(hours), minutes=int(minutes))
    if offset > timedelta(hours=14):
        return None
    return -offset if sign == "-" else offset


def lasting(seconds: int | None) -> str:
    """The length of a clip as people read it, such as 0:14 or 1:02:05; empty where it is not known."""
    if seconds is None:
        return ""
    hours, rest = divmod(seconds, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


def believable(at: datetime, received_at: datetime) -> bool:
    """Whether a clock time can be true: not before digital cameras, not after it was received (one day's slack)."""
    return at.year >= FIRST_YEAR and at <= received_at + CLOCK_SLACK


def check_typed(typed: datetime, now: datetime) -> None:
    """Refuse a typed time at which the photo cannot have been taken."""
    if typed > now:
        raise Refusal("in_the_future", "This time is still to come. Type when the photo was taken.", "taken_at")
    if typed.year < EARLIEST_TYPED_YEAR:
        raise Refusal("no_such_year", f"Check the year: {typed.year} is too long ago.", "taken_at")


def late(taken_at: datetime | None, received_at: datetime) -> bool:
    """Whether a photo came in more than a day after it was taken; one whose time is not known is not called late."""
    return taken_at is not None and received_at - taken_at > LATE_AFTER


def medium(kind: str) -> str:
    """Whether a kind of file is a picture, a video or audio."""
    return "video" if kind in VIDEO else "audio" if kind in AUDIO else "picture"


def mark_in_words(said: Mapping[str, Any]) -> str:
    """A mark of a photo, from its state: what it is, where it points, and its words."""
    kind = str(said["kind"]).lower()
    where = region(*((said["x1"], said["y1"]) if kind == "note" else middle(kind, said)))
    return f"{kind} {where}" + (f": {said['words']}" if said["words"] else "")


def middle(kind: str, said: Mapping[str, Any]) -> tuple[int, int]:
    """What a mark is about: the point of an arrow, the middle of a ring."""
    if kind == "arrow":
        return said["x2"], said["y2"]
    return (said["x1"] + said["x2"]) // 2, (said["y1"] + said["y2"]) // 2


def region(x: int, y: int) -> str:
    """A place on the picture in words, by thirds."""
    across, down = (min(3 * value // WHOLE, 2) for value in (x, y))
    return f"{'in' if across == down == 1 else 'at'} the {PLACES[down * 3 + across]}"


def check_mark(kind: str, corners: Sequence[int], words: str, number: int) -> None:
    """Refuse a mark that cannot be drawn or read. `number` is how it is called in the sentence."""
    if kind not in MARKS:
        raise Refusal("no_such_mark", f"Mark {number}: choose arrow, ring or note.")
    if not all(0 <= value <= WHOLE for value in corners):
        raise Refusal("off_the_picture", f"Mark {number} lies outside the picture. Its places go from 0 to 100 %.")
    if len(words) > LONGEST_MARK_WORDS:
        raise Refusal("too_long", f"Mark {number}: at most {LONGEST_MARK_WORDS} characters. Put more into the caption.")
    x1, y1, x2, y2 = corners
    if kind == "note" and not words:
        raise Refusal("no_words", f"Note {number} has no words. Type them, or take the note away.")
    if kind == "arrow" and max(abs(x2 - x1), abs(y2 - y1)) < LEAST_MARK:
        raise Refusal("no_size", f"Arrow {number} starts and ends at one place. Move one end.")
    if kind == "ring" and min(abs(x2 - x1), abs(y2 - y1)) < LEAST_MARK:
        raise Refusal("no_size", f"Ring {number} is too flat to be seen. Move a corner.")


def in_order(kind: str, corners: Sequence[int]) -> tuple[int, int, int, int]:
    """Corners as they are kept: of a ring the upper left one first, of a note one place only."""
    x1, y1, x2, y2 = corners
    if kind == "ring":
        return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)
    return (x1, y1, x1, y1) if kind == "note" else (x1, y1, x2, y2)


def corners_at(kind: str, place: int) -> tuple[int, int, int, int]:
    """Corners of a mark about one of the nine PLACES: for those who draw without pointing."""
    across, down = place % 3, place // 3
    x, y = (2 * across + 1) * WHOLE // 6, (2 * down + 1) * WHOLE // 6
    if kind == "ring":
        return x - WHOLE // 8, y - WHOLE // 8, x + WHOLE // 8, y + WHOLE // 8
    if kind == "note":
        return x, y, x, y
    # An arrow comes from the middle of the picture, one in the middle from the lower left.
    back_x, back_y = (across - 1, down - 1) if (across, down) != (1, 1) else (1, -1)
    return x - back_x * WHOLE // 5, y - back_y * WHOLE // 5, x, y


def marks_counted(count: int) -> str:
    """How many marks a photo has, in words."""
    return f"{count} mark{'' if count == 1 else 's'}"


def clock_words(ahead: int) -> str:
    """How wrong a phone's clock was, in words; `ahead` in seconds, negative when it was behind."""
    minutes_off = max(1, round(abs(ahead) / 60))
    days, hours, rest = minutes_off // 1440, minutes_off // 60 % 24, minutes_off % 60
    told = [f"{days} day{'' if days == 1 else 's'}"] if days else []
    told += [f"{hours} h"] if hours else []
    told += [f"{rest} min"] if rest and not days else []
    return f"{' '.join(told)} {'ahead' if ahead > 0 else 'behind'}"


def zone_words(offset_minutes: int | None) -> str:
    """A zone offset as words, such as UTC−06:00; empty when there is none."""
    if offset_minutes is None:
        return ""
    hours, rest = divmod(abs(offset_minutes), 60)
    return f"UTC{'−' if offset_minutes < 0 else '+'}{hours:02d}:{rest:02d}"


def fitted(width: int, height: int, most: int) -> tuple[int, int]:
    """Width and height of a picture in pixels when its longest side is at most `most`; it is never enlarged."""
    longest = max(width, height, 1)
    if longest <= most:
        return width, height
    return max(1, round(width * most / longest)), max(1, round(height * most / longest))


def taken(
    *,
    clock: datetime | None,
    offset: timedelta | None,
    file_time: datetime | None,
    typed: datetime | None,
    zone: ZoneInfo,
    received_at: datetime,
) -> Taken:
    """When the photo was taken and how that is known (rule R12).

    First the camera's clock, with its own zone or else the project's; then the file's time as read on the phone before
    sending; then what was typed. A clock that cannot be right is passed over.
    """
    if clock is not None:
        tz = timezone(offset) if offset is not None else zone
        at = clock.replace(tzinfo=tz)
        if believable(at, received_at):
            return Taken(at.astimezone(UTC), minutes(at), "camera" if offset is not None else "camera_local")
    if file_time is not None and believable(file_time, received_at):
        return Taken(file_time.astimezone(UTC), minutes(file_time.astimezone(zone)), "file")
    if typed is not None:
        return Taken(typed.astimezone(UTC), minutes(typed.astimezone(zone)), "typed")
    return Taken(None, None, "unknown")


def minutes(at: datetime) -> int:
    """The zone offset of an aware time in minutes."""
    offset = at.utcoffset()
    assert offset is not None
    return round(offset.total_seconds() / 60)


def serves_as_inside(taken_at: datetime | None, known: str, received_at: datetime, closed_at: datetime | None) -> bool:
    """Whether a photo can show the inside of an area closed at `closed_at` (rule R14, fact CLS-03).

    One taken before and sent later can; one whose time is not known counts from when it was received.
    """
    if closed_at is None:
        return True
    return (taken_at if taken_at is not None and known != "unknown" else received_at) < closed_at


# ---- documents ----

DOCUMENTS = {
    "drawing": "Drawing or sketch",
    "receipt": "Receipt",
    "conformity": "Certificate of conformity",
    "sheet": "Data sheet",
    "calibration": "Calibration certificate",
    "log": "Logger file",
    "report": "Test report",
    "other": "Other paper",
}

# What is kept as which kind of file, with the ending of the stored one. It is told by the bytes: a name proves nothing.
PLAIN_FILE = "application/octet-stream"
DOCUMENT_ENDINGS = {
    "application/pdf": "pdf",
    "image/png": "png",
    "image/jpeg": "jpg",
    "text/csv": "csv",
    "text/plain": "txt",
    PLAIN_FILE: "bin",
}
SIGNS = {b"%PDF-": "application/pdf", b"\x89PNG\r\n\x1a\n": "image/png", b"\xff\xd8\xff": "image/jpeg"}
# So many bytes at the head of a file tell what it is.
HEAD = 4096


def media_type(name: str, head: bytes) -> str:
    """The kind of file, by its first bytes; text is told apart by its name only into table and plain text.

    Anything else, pages and drawings with scripts in them too, is bytes that a browser saves and never opens.
    """
    for sign, kind in SIGNS.items():
        if head.startswith(sign):
            return kind
    ending = name.rpartition(".")[2].lower()
    if ending in {"csv", "txt"} and b"\0" not in head:
        return "text/csv" if ending == "csv" else "text/plain"
    return PLAIN_FILE


def plain_name(name: str) -> str:
    """The last part of a file's name without signs that cannot be seen; 200 signs at most."""
    last = name.replace("\\", "/").rpartition("/")[2]
    return "".join(sign for sign in last if sign.isprintable()).strip()[:200]


def check_document(size: int, most: int) -> None:
    """Refuse an empty file and one larger than the limit (bytes)."""
    if size == 0:
        raise Refusal("empty", "The file is empty (0 bytes). Choose it again.", "file")
    if size > most:
        said = f"The file has {size / MB:.1f} MB; at most {most / MB:.0f} MB are taken for a document."
        raise Refusal("too_large", said, "file")
