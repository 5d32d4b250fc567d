"""Pictures made for the tests: every format, marked corners, places on earth, and files that mean harm."""

import struct
import zlib
from io import BytesIO
from typing import Any

from PIL import Image

CORNER = (220, 30, 30)
GROUND = (40, 90, 160)
EXIF_IFD, GPS_IFD = 0x8769, 0x8825
# What has to be done to the upright picture so that a camera held that way stores it so.
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def marked(size: tuple[int, int] = (600, 400)) -> Image.Image:
    """An upright picture whose upper left corner is red, all the rest blue."""
    image = Image.new("RGB", size, GROUND)
    image.paste(CORNER, (0, 0, size[0] // 4, size[1] // 4))
    return image


def metadata(
    *, taken: str = "2026:05:14 09:30:00", offset: str = "-06:00", orientation: int = 1, gps: bool = True
) -> Image.Exif:
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Lumenfold", "LF-7"
    exif[0x0112] = orientation
    if taken:
        exif.get_ifd(EXIF_IFD)[0x9003] = taken
    if offset:
        exif.get_ifd(EXIF_IFD)[0x9011] = offset
    if gps:
        exif.get_ifd(GPS_IFD).update({1: "N", 2: (39.0, 44.0, 21.0), 3: "W", 4: (104.0, 59.0, 3.0)})
    return exif


def saved(image: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def camera_file(kind: str = "JPEG", *, orientation: int = 1, size: tuple[int, int] = (600, 400), **facts: Any) -> bytes:
    """The marked picture as a camera held that way stores it, with time, zone and place in its metadata."""
    turn = STORED[orientation]
    image = marked(size) if turn is None else marked(size).transpose(turn)
    exif = metadata(orientation=orientation, **facts)
    # As bytes: the HEIC writer looks for the orientation in nothing else.
    return saved(image, kind, exif=exif.tobytes(), quality=92)


def is_upright(image: Image.Image) -> bool:
    """Whether the marked corner is at the upper left and nowhere else."""
    width, height = image.size
    step = min(width, height) // 16
    corners = [(step, step), (width - step, step), (step, height - step), (width - step, height - step)]
    reds = [red > 150 and blue < 100 for red, _, blue in map(image.convert("RGB").getpixel, corners)]
    return reds == [True, False, False, False]


def two_frames() -> bytes:
    """A phone's JPEG with a second picture in it (MPO)."""
    return saved(marked(), "MPO", save_all=True, append_images=[marked((300, 200))], exif=metadata())


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png_bomb(width: int = 50_000, height: int = 50_000) -> bytes:
    """A small PNG that says it is huge."""
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * ((width // 8 + 1) * 200), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def broken_metadata() -> bytes:
    """A good JPEG whose metadata points outside itself."""
    body = b"Exif\0\0II*\0\x08\0\0\0\x02\0" + struct.pack("<HHII", 0x8769, 4, 1, 0xFFFFFF00) + b"\xff" * 20
    data = saved(marked())
    return data[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + data[2:]
