"""Pure decisions about photos: what is accepted, and when a photo was taken and how that is known."""

import re
from collections.abc import Mapping
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
}

# What a kind of file is: a picture, or a clip that is kept as it came and never decoded here.
VIDEO = {"mp4", "mov", "webm", "3gp"}
AUDIO = {"m4a", "mp3", "aac", "ogg", "wav"}

MARKS = {"arrow": "Arrow", "ring": "Ring", "note": "Note"}
# Marks are placed in ten-thousandths of the upright picture's width and height.
WHOLE = 10_000

# A JPEG can be decoded small; anything else has to be decoded whole, so its cap is lower.
MOST_PIXELS_JPEG = 210_000_000
MOST_PIXELS = 60_000_000

# A form without scripts sends all files in one request; this many of the largest size at most.
MOST_AT_ONCE = 20
MB = 1024 * 1024
# Names, keys and boundaries around the files of a request, in bytes.
AROUND_FILES = 64 * 1024

# A phone's clock that is less wrong than this is taken as right.
CLOCK_RIGHT = timedelta(minutes=2)

# A camera whose battery ran flat starts again at a date before there were such cameras.
FIRST_YEAR = 1995
CLOCK_SLACK = timedelta(days=1)
# A typed time may belong to the scan of an old print, but not to a slip of the fingers in the year.
EARLIEST_TYPED_YEAR = 1900
# A photo that came in so long after it was taken is marked late wherever it is shown.
LATE_AFTER = timedelta(hours=24)


def check_size(size: int, most: int) -> None:
    """Refuse an empty file and one larger than the limit (bytes)."""
    if size == 0:
        raise Refusal("empty", "The file is empty (0 bytes). Take or choose the photo again.", "photo")
    if size > most:
        raise Refusal("too_large", f"The file has {size / MB:.1f} MB; at most {most / MB:.0f} MB are taken.", "photo")


def check_digest(digest: str, claimed: str) -> None:
    """Refuse a file whose bytes are not those that the phone read, where it said which those are."""
    if claimed and claimed != digest:
        raise Refusal("digest_differs", "The file was cut or changed on the way. It is sent again.", "photo")


def check_request(length: int, most: int, files: int = 1) -> None:
    """Refuse a request, before it is read, whose length in bytes shows that its files are too large."""
    if length > files * most + AROUND_FILES:
        words = "The photo is too large" if files == 1 else "These are too many photos at once; send fewer"
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
    """A mark of a photo, from its state."""
    return f"{MARKS[said['kind']].lower()} {said['words']}".strip()


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
