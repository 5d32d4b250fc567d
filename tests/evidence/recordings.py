"""Clips as phones make them, put together byte by byte; nothing in them can be played."""

import struct
import wave
from datetime import UTC, datetime
from io import BytesIO

EPOCH = datetime(1904, 1, 1, tzinfo=UTC)
TAKEN = datetime(2026, 5, 14, 15, 30, tzinfo=UTC)
UPRIGHT = (0x10000, 0, 0, 0, 0x10000, 0, 0, 0, 0x40000000)
TURNED = (0, 0x10000, 0, -0x10000, 0, 0, 0, 0, 0x40000000)


def box(kind: bytes, *inside: bytes) -> bytes:
    body = b"".join(inside)
    return struct.pack(">I", len(body) + 8) + kind + body


def seconds_of(at: datetime | None) -> int:
    return int((at - EPOCH).total_seconds()) if at else 0


def mvhd(taken: datetime | None = TAKEN, lasts: float = 14.2, scale: int = 600, long: bool = False) -> bytes:
    made, length = seconds_of(taken), round(lasts * scale)
    form = ">B3xQQIQ" if long else ">B3xIIII"
    return box(b"mvhd", struct.pack(form, int(long), made, made, scale, length), bytes(80))


def track(carries: bytes, size: tuple[int, int] = (0, 0), matrix: tuple[int, ...] = UPRIGHT) -> bytes:
    head = struct.pack(">B3xIIIII", 0, 0, 0, 1, 0, 0) + bytes(16)
    tkhd = box(b"tkhd", head, struct.pack(">9i", *matrix), struct.pack(">II", size[0] << 16, size[1] << 16))
    return box(b"trak", tkhd, box(b"mdia", box(b"hdlr", bytes(8), carries, bytes(12), b"x\0")))


PICTURE = track(b"vide", (1920, 1080), TURNED)
SOUND = track(b"soun")


def named(**facts: str) -> bytes:
    """The facts that phones add under names of their own."""
    keys = [box(b"mdta", b"com.apple.quicktime." + name.replace("_", ".").encode()) for name in facts]
    values = [
        box(struct.pack(">I", number), box(b"data", struct.pack(">II", 1, 0), value.encode()))
        for number, value in enumerate(facts.values(), 1)
    ]
    hdlr = box(b"hdlr", bytes(8), b"mdta", bytes(12))
    return box(b"meta", hdlr, box(b"keys", struct.pack(">II", 0, len(keys)), *keys), box(b"ilst", *values))


def movie(*moov: bytes, brand: bytes = b"mp42", data: bytes = bytes(range(256)) * 40, after: bool = False) -> bytes:
    """A movie; `after` puts the facts behind the data, as cameras do that do not know them before."""
    parts = [
        box(b"ftyp", brand, bytes(4), brand),
        box(b"moov", *(moov or (mvhd(), PICTURE, SOUND))),
        box(b"mdat", data),
    ]
    return b"".join(parts if not after else [parts[0], parts[2], parts[1]])


def sound_file(seconds: float = 3.0) -> bytes:
    out = BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((1, 2, 8000, 0, "NONE", ""))
        file.writeframes(bytes(range(250)) * int(seconds * 64))
    return out.getvalue()


def element(name: bytes, *inside: bytes, unknown: bool = False) -> bytes:
    body = b"".join(inside)
    size = b"\x01" + b"\xff" * 7 if unknown else (len(body) | 1 << 56).to_bytes(8)
    return name + size + body


def webm(
    *,
    picture: bool = True,
    kind: bytes = b"webm",
    lasts: float = 32_000.0,
    unknown: bool = False,
    size: tuple[int, int] = (1280, 720),
) -> bytes:
    since = int((TAKEN - datetime(2001, 1, 1, tzinfo=UTC)).total_seconds()) * 10**9
    info = element(
        b"\x15\x49\xa9\x66",
        element(b"\x2a\xd7\xb1", (1_000_000).to_bytes(3)),
        element(b"\x44\x89", struct.pack(">d", lasts)),
        element(b"\x44\x61", since.to_bytes(8, signed=True)),
    )
    sides = element(b"\xe0", element(b"\xb0", size[0].to_bytes(4)), element(b"\xba", size[1].to_bytes(4)))
    entry = element(b"\xae", element(b"\x83", b"\x01" if picture else b"\x02"), *([sides] if picture else []))
    cluster = element(b"\x1f\x43\xb6\x75", bytes(5000))
    segment = element(b"\x18\x53\x80\x67", info, element(b"\x16\x54\xae\x6b", entry), cluster, unknown=unknown)
    return element(b"\x1a\x45\xdf\xa3", element(b"\x42\x82", kind)) + segment


def mp3(frames: int = 20, tag: int = 0) -> bytes:
    """MPEG-1 layer III, 128 kbit/s, 44.1 kHz: 417 bytes a frame."""
    head = b"ID3\x04\0\0" + bytes((tag >> shift) & 0x7F for shift in (21, 14, 7, 0)) + bytes(tag) if tag else b""
    return head + (b"\xff\xfb\x90\x00" + bytes(413)) * frames


def aac(frames: int = 20, size: int = 300) -> bytes:
    head = bytes([0xFF, 0xF1, 0x50, 0x80 | size >> 11, size >> 3 & 255, (size & 7) << 5 | 0x1F, 0xFC])
    return (head + bytes(size - 7)) * frames


def ogg(codec: bytes = b"OpusHead", seconds: float = 32.0) -> bytes:
    def page(played: int, body: bytes) -> bytes:
        return b"OggS\0\x02" + struct.pack("<qIII", played, 1, 0, 0) + bytes([1, len(body)]) + body

    last = page(int(seconds * 48_000), bytes(120))
    return page(0, codec + b"\x01\x01" + bytes(10)) + page(0, bytes(200)) * 30 + last
