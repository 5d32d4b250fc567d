"""Looking into video and audio files: their kind, size, length and time as the file itself tells them.

Nothing is decoded, ever. Only the small boxes that hold these facts are read, wherever they lie, and how many is
limited, so that no file, however it was made, costs more than a moment and a few kilobytes.
"""

import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import IO

from foundation.refusal import Refusal

# What a file may make us look at.
MOST_BOXES = 20_000
MOST_DEEP = 6
MOST_READ = 64 * 1024  # bytes of one box

# ISO/IEC 14496-12: seconds are counted from here, in UTC.
EPOCH = datetime(1904, 1, 1, tzinfo=UTC)
# Brands of the same kind of file that are pictures; others look into those.
PICTURE_BRANDS = {b"mif1", b"mif2", b"msf1", b"miaf", b"heif", b"avif", b"avis", b"avio", b"crx "}
PICTURE_BRANDS |= {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs"}
CONTAINERS = {b"moov", b"trak", b"mdia", b"mvex", b"udta"}

CUT_OFF = "The recording is cut off or damaged: its end is missing. Choose it again."
UNREADABLE = "This recording cannot be read. MP4, MOV, 3GP, WebM, M4A, MP3, AAC, Ogg and WAV are taken."
NOTHING_IN_IT = "There is neither picture nor sound in this recording. Choose it again."


@dataclass(frozen=True)
class Clip:
    """What a clip says about itself. Width and height are those of the upright picture, 0 where there is none.

    Clock and offset are in the notation of cameras, as in `renditions.Picture`; `seconds` is the length.
    """

    kind: str
    width: int = 0
    height: int = 0
    seconds: int | None = None
    clock: str = ""
    offset: str = ""
    device: str = ""
    located: bool = False


def look(file: IO[bytes]) -> Clip | None:
    """Read the facts of a clip; None for a file that is no clip by its first bytes, whatever it is called.

    Raises Refusal for a clip that is cut off or has nothing in it.
    """
    end = file.seek(0, os.SEEK_END)
    head = part(file, 0, 64)
    if head[4:8] == b"ftyp":
        return None if head[8:12] in PICTURE_BRANDS else movie(file, head[8:12], end)
    if head[:4] == b"\x1aE\xdf\xa3":
        return webm(file, end)
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return wave(file, end)
    if head[:4] == b"OggS":
        return ogg(file, end)
    return frames(file, head)


def part(file: IO[bytes], place: int, length: int) -> bytes:
    """Some bytes of a file; fewer where it ends before."""
    file.seek(place)
    return file.read(min(length, MOST_READ))


def refused(words: str) -> Refusal:
    """Why a clip is not taken."""
    return Refusal("cut_off" if words == CUT_OFF else "not_a_clip", words, "photo")


def length(seconds: float) -> int | None:
    """A length in whole seconds, at least 1; None for what no clip can have."""
    return max(1, round(seconds)) if 0 < seconds < 7 * 24 * 3600 else None


def pixels(width: int, height: int) -> tuple[int, int]:
    """The size of a picture; zeros for what no camera has."""
    return (width, height) if 0 < width < 2**16 and 0 < height < 2**16 else (0, 0)


# MP4, MOV, 3GP, M4A: boxes (ISO/IEC 14496-12)


@dataclass(frozen=True)
class Box:
    """One box: what it is, where its content begins, and where it ends."""

    kind: bytes
    start: int
    end: int


class Boxes:
    """The boxes of a file, read one head at a time. Raises Refusal when there are too many of them."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file, self.left = file, MOST_BOXES

    def inside(self, start: int, end: int) -> Iterator[Box]:
        """The boxes between two places up to the first that makes no sense; one may say that it goes beyond the end."""
        while start + 8 <= end:
            self.left -= 1
            if self.left < 0:
                raise refused(UNREADABLE)
            head = part(self.file, start, 16)
            size, kind, body = int.from_bytes(head[:4]), head[4:8], start + 8
            if size == 1:
                size, body = int.from_bytes(head[8:16].ljust(8, b"\xff")), start + 16
            stop = start + size if size else end
            if stop < body:
                return
            yield Box(kind, body, stop)
            start = stop


@dataclass
class Track:
    """One track: what it carries, and the size of its picture as it is shown."""

    carries: bytes = b""
    size: tuple[int, int] = (0, 0)


@dataclass
class Movie:
    """What is found in the boxes of a movie."""

    created: int = 0
    scale: int = 0
    seconds: float = 0.0
    located: bool = False
    tracks: list[Track] = field(default_factory=list)
    told: dict[str, str] = field(default_factory=dict)


def movie(file: IO[bytes], brand: bytes, end: int) -> Clip:
    """The facts of a movie or a voice note in boxes."""
    boxes, found, kinds = Boxes(file), Movie(), set()
    for box in boxes.inside(0, end):
        if box.end > end:
            raise refused(CUT_OFF)
        if box.kind == b"moov" and b"moov" not in kinds:
            read_boxes(boxes, box, found, 0)
        kinds.add(box.kind)
    if not {b"moov", b"mdat"} <= kinds:
        raise refused(CUT_OFF)
    carries = {track.carries for track in found.tracks}
    if not carries & {b"vide", b"soun"}:
        raise refused(NOTHING_IN_IT)
    return clip_of(found, kind_of(brand, b"vide" in carries))


def kind_of(brand: bytes, seen: bool) -> str:
    """The kind of file by its brand; one without a picture is a voice note."""
    if brand == b"qt  ":
        return "mov"
    if brand.startswith((b"3gp", b"3g2")):
        return "3gp"
    return "mp4" if seen else "m4a"


def clip_of(found: Movie, kind: str) -> Clip:
    """The facts of a movie in one notation. A time with its zone, as phones add it, goes before the plain one."""
    told = found.told
    clock, offset = zoned(told.get("creationdate", ""))
    if not clock and found.created:
        made = EPOCH + timedelta(seconds=found.created)
        clock, offset = f"{made:%Y:%m:%d %H:%M:%S}", "+00:00"
    sizes = [track.size for track in found.tracks if track.carries == b"vide"]
    width, height = max(sizes, key=lambda size: size[0] * size[1], default=(0, 0))
    make, model = told.get("make", ""), told.get("model", "")
    device = model if model.casefold().startswith(make.casefold()) else f"{make} {model}"
    located = found.located or any(name.startswith("location") for name in told)
    return Clip(kind, width, height, length(found.seconds), clock, offset, device.strip()[:120], located)


def zoned(text: str) -> tuple[str, str]:
    """A time such as 2026-05-14T09:30:00-0600 as clock and offset of a camera; empty for what is none."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return "", ""
    if at.tzinfo is None:
        return "", ""
    said = f"{at:%z}"
    return f"{at:%Y:%m:%d %H:%M:%S}", f"{said[:3]}:{said[3:5]}"


def read_boxes(boxes: Boxes, outer: Box, found: Movie, deep: int) -> None:
    """Read what the boxes inside a box tell, and those inside them, up to the first that does not fit into it."""
    for box in boxes.inside(outer.start, outer.end):
        if box.end > outer.end:
            return
        if box.kind == b"trak":
            found.tracks.append(Track())
        if box.kind == b"meta":
            read_meta(boxes, box, found)
        elif box.kind in CONTAINERS and deep < MOST_DEEP:
            read_boxes(boxes, box, found, deep + 1)
        else:
            read_box(part(boxes.file, box.start, min(box.end - box.start, 128)), box.kind, found)


def read_box(data: bytes, kind: bytes, found: Movie) -> None:
    """Read what one small box tells; what is too short tells nothing."""
    if kind == b"mvhd":
        found.created, found.scale, lasts = header(data)
        found.seconds = lasts / found.scale if found.scale else 0.0
    elif kind == b"mehd" and found.scale and not found.seconds:  # a recording in fragments
        found.seconds = int.from_bytes(data[4 : 12 if data[:1] == b"\x01" else 8]) / found.scale
    elif kind == b"\xa9xyz":
        found.located = True
    elif kind == b"tkhd" and found.tracks:
        found.tracks[-1].size = shown_size(data)
    elif kind == b"hdlr" and found.tracks and not found.tracks[-1].carries:
        found.tracks[-1].carries = data[8:12]


def header(data: bytes) -> tuple[int, int, int]:
    """Creation time, time units per second and length of a movie header; zeros where it says nothing."""
    long = data[:1] == b"\x01"
    form = ">4xQQIQ" if long else ">4xIIII"
    if len(data) < struct.calcsize(form):
        return 0, 0, 0
    created, _, scale, lasts = struct.unpack_from(form, data)
    unknown = 2**64 - 1 if long else 2**32 - 1
    return (created if created < 2**37 else 0), scale, (0 if lasts == unknown else lasts)


def shown_size(data: bytes) -> tuple[int, int]:
    """Width and height of a track as it is shown, in whole pixels: a quarter turn swaps them."""
    at = 52 if data[:1] == b"\x01" else 40
    if len(data) < at + 44:
        return 0, 0
    matrix = struct.unpack_from(">9i", data, at)
    width, height = (value >> 16 for value in struct.unpack_from(">II", data, at + 36))
    turned = matrix[0] == 0 and matrix[4] == 0 and matrix[1] != 0
    return pixels(height, width) if turned else pixels(width, height)


def read_meta(boxes: Boxes, outer: Box, found: Movie) -> None:
    """Read the named facts that phones add: a list of names, and values that refer to them by their number."""
    start = outer.start + (4 if part(boxes.file, outer.start + 4, 4) != b"hdlr" else 0)
    names: list[str] = []
    for box in boxes.inside(start, outer.end):
        if box.kind == b"keys":
            names = key_names(part(boxes.file, box.start, box.end - box.start))
        if box.kind == b"ilst" and names:
            for item in boxes.inside(box.start, min(box.end, outer.end)):
                number = int.from_bytes(item.kind)
                if 0 < number <= len(names):
                    value = part(boxes.file, item.start + 16, min(max(item.end - item.start - 16, 0), 120))
                    found.told[names[number - 1]] = clean(value)


def key_names(data: bytes) -> list[str]:
    """The names in a list of keys, without the maker's prefix."""
    names, place = [], 8
    while place + 8 <= len(data):
        size = int.from_bytes(data[place : place + 4])
        if size < 8:
            break
        names.append(clean(data[place + 8 : place + size]).rpartition("quicktime.")[2])
        place += size
    return names


def clean(data: bytes) -> str:
    """Bytes as plain text."""
    return "".join(sign for sign in data.decode("utf-8", "replace") if sign.isprintable()).strip()


# WebM: elements of EBML (RFC 8794, RFC 9559)

EBML_DOC_TYPE, SEGMENT, CLUSTER = 0x4282, 0x18538067, 0x1F43B675
INFO, TRACKS, ENTRY, VIDEO = 0x1549A966, 0x1654AE6B, 0xAE, 0xE0
SCALE, DURATION, MADE, CARRIES, WIDTH, HEIGHT = 0x2AD7B1, 0x4489, 0x4461, 0x83, 0xB0, 0xBA
OPENED = {SEGMENT, INFO, TRACKS, ENTRY, VIDEO}
WEBM_EPOCH = datetime(2001, 1, 1, tzinfo=UTC)


def webm(file: IO[bytes], end: int) -> Clip | None:
    """The facts in front of the first pictures of a WebM file; None for a file of another type in the same form."""
    data = part(file, 0, MOST_READ)
    place, said = 0, {EBML_DOC_TYPE: b""}
    body = element(data, 0)
    if body is None:
        return None
    place, stop = body[1], body[2]
    while place < min(stop, len(data)) and (inner := element(data, place)):
        said[inner[0]] = data[inner[1] : inner[2]]
        place = inner[2]
    if said[EBML_DOC_TYPE].rstrip(b"\0") != b"webm":
        raise refused(UNREADABLE)
    clip, place = Clip("weba"), stop
    scale, lasts, size, seen = 1_000_000, 0.0, {WIDTH: 0, HEIGHT: 0}, 0
    while place < len(data) and seen < MOST_BOXES and (inner := element(data, place)):
        seen += 1
        name, start, stop = inner
        if name == CLUSTER:
            break
        if name == SEGMENT and stop > end and stop - start < 2**56 - 1:
            raise refused(CUT_OFF)
        value = data[start : min(stop, start + 16)]
        if name == SCALE:
            scale = int.from_bytes(value)
        elif name == DURATION:
            lasts = floating(value)
        elif name == MADE and len(value) == 8:
            made = WEBM_EPOCH + timedelta(microseconds=int.from_bytes(value, signed=True) // 1000)
            clip = replace(clip, clock=f"{made:%Y:%m:%d %H:%M:%S}", offset="+00:00")
        elif name == CARRIES and value == b"\x01":
            clip = replace(clip, kind="webm")
        elif name in {WIDTH, HEIGHT}:
            size[name] = int.from_bytes(value)
        place = start if name in OPENED else stop
    width, height = pixels(size[WIDTH], size[HEIGHT])
    return replace(clip, width=width, height=height, seconds=length(lasts * scale / 1e9))


def element(data: bytes, place: int) -> tuple[int, int, int] | None:
    """Name, start and end of the content of the element at a place; None where there is none.

    The length of one whose end is not told, as a running recording has it, is the largest number there is.
    """
    first = data[place] if place < len(data) else 0
    wide = 9 - first.bit_length()
    if wide > 4:
        return None
    name = int.from_bytes(data[place : place + wide])
    place += wide
    first = data[place] if place < len(data) else 0
    wide = 9 - first.bit_length()
    if wide > 8 or place + wide > len(data):
        return None
    size = int.from_bytes(data[place : place + wide]) & ((1 << 7 * wide) - 1)
    if size == (1 << 7 * wide) - 1:
        size = 2**56 - 1
    return name, place + wide, place + wide + size


def floating(value: bytes) -> float:
    """A number of four or eight bytes."""
    if len(value) not in {4, 8}:
        return 0.0
    number = struct.unpack(">f" if len(value) == 4 else ">d", value)[0]
    return float(number) if number == number else 0.0


# Sound


def wave(file: IO[bytes], end: int) -> Clip:
    """A WAV file: length of its data by its bytes per second."""
    place, rate, sound = 12, 0, 0
    for _ in range(64):
        head = part(file, place, 20)
        if len(head) < 8:
            break
        kind, size = head[:4], int.from_bytes(head[4:8], "little")
        if kind == b"fmt ":
            rate = int.from_bytes(head[16:20], "little")
        if kind == b"data":
            if size not in {0, 2**32 - 1} and place + 8 + size > end:
                raise refused(CUT_OFF)
            sound = size if 0 < size < 2**32 - 1 else end - place - 8
            break
        place += 8 + size + size % 2
    if not rate or not sound:
        raise refused(CUT_OFF)
    return Clip("wav", seconds=length(sound / rate))


OGG_SOUND = (b"OpusHead", b"\x01vorbis", b"Speex   ", b"\x7fFLAC")


def ogg(file: IO[bytes], end: int) -> Clip:
    """An Ogg file with sound: its first page says of what kind, its last how long it is."""
    first = part(file, 0, 64)
    if not first[28:].startswith(OGG_SOUND):
        raise refused(UNREADABLE)
    tail = part(file, max(0, end - MOST_READ), MOST_READ)
    last = tail.rfind(b"OggS")
    played = int.from_bytes(tail[last + 6 : last + 14], "little", signed=True) if last >= 0 else 0
    if first[28:].startswith(b"OpusHead"):
        rate = 48_000
    elif first[28:].startswith(b"\x01vorbis"):
        rate = int.from_bytes(first[40:44], "little")
    else:
        rate = 0
    return Clip("ogg", seconds=length(played / rate) if rate else None)


def frames(file: IO[bytes], head: bytes) -> Clip | None:
    """A file that is nothing but frames of sound, MP3 or AAC, perhaps behind a tag; two frames in a row tell it."""
    start = 0
    if head[:3] == b"ID3" and len(head) >= 10:
        start = 10 + sum((value & 0x7F) << shift for value, shift in zip(head[6:10], (21, 14, 7, 0), strict=True))
    data = part(file, start, 24 * 1024)
    room = 4096 if start else 1  # behind a tag there may be padding
    for place in range(min(room, len(data))):
        for kind, size_of in (("mp3", mp3_frame), ("aac", aac_frame)):
            size = size_of(data[place : place + 7])
            if size and size_of(data[place + size : place + size + 7]):
                return Clip(kind)
    return None


MP3_RATES = {
    True: (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),
    False: (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
}
MP3_SAMPLES = (44_100, 48_000, 32_000)


def mp3_frame(head: bytes) -> int:
    """The length in bytes of an MP3 frame (ISO/IEC 11172-3, layer III) by its head; 0 for what is none."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE6 != 0xE2:
        return 0
    version, rate, samples = head[1] >> 3 & 3, head[2] >> 4, head[2] >> 2 & 3
    if version == 1 or rate in {0, 15} or samples == 3:
        return 0
    per_second = MP3_SAMPLES[samples] >> {3: 0, 2: 1, 0: 2}[version]
    return (144 if version == 3 else 72) * MP3_RATES[version == 3][rate] * 1000 // per_second + (head[2] >> 1 & 1)


def aac_frame(head: bytes) -> int:
    """The length in bytes of an AAC frame (ISO/IEC 13818-7, ADTS) by its head; 0 for what is none."""
    if len(head) < 7 or head[0] != 0xFF or head[1] & 0xF6 != 0xF0 or head[2] >> 2 & 15 > 12:
        return 0
    size = (head[3] & 3) << 11 | head[4] << 3 | head[5] >> 5
    return size if size > 7 else 0
