"""Looking into picture files and drawing the renditions; nothing here changes a record or an original."""

import os
import struct
import tempfile
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import IO

from django.conf import settings
from PIL import Image, ImageCms, ImageDraw, ImageFont

from calc import marks
from evidence import queries, rules
from foundation.refusal import Refusal

try:
    import pillow_heif
except ImportError:
    HEIC_READY = False
else:
    pillow_heif.register_heif_opener()
    HEIC_READY = True

# The library's own guard refuses at twice this value; our caps (rules.check_pixels) stand below it.
Image.MAX_IMAGE_PIXELS = rules.MOST_PIXELS_JPEG // 2
warnings.simplefilter("ignore", Image.DecompressionBombWarning)

OPEN = ["JPEG", "PNG", "WEBP", "AVIF"] + (["HEIF"] if HEIC_READY else [])
EXIF_IFD, GPS_IFD = 0x8769, 0x8825
TAKEN, TAKEN_OFFSET, MAKE, MODEL, ORIENTATION = 0x9003, 0x9011, 0x010F, 0x0110, 0x0112
QUALITY = 80

# Marks in a copy: ink with a light edge, drawn twice as large as they are kept.
DARK, LIGHT = (16, 32, 28), (252, 253, 251)
FINER, MARKED_QUALITY = 2, 88
ANY_SCRIPT = "DejaVuSans"

# How a picture is turned so that it stands upright, by Exif orientation, and those that swap width and height.
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
TURNED = {5, 6, 7, 8}

# What the decoders raise over files that are broken or made to do harm.
UNREADABLE = (
    OSError,
    ValueError,
    SyntaxError,
    struct.error,
    EOFError,
    KeyError,
    TypeError,
    IndexError,
    AttributeError,
    ArithmeticError,
    RuntimeError,
    MemoryError,
)

NOT_A_PICTURE = "This is not a photo that can be read. JPEG, PNG, WebP and HEIC are taken."
NO_HEIC = (
    "HEIC photos cannot be read here yet. Install the Python package pillow-heif on the server, "
    "or set the phone's camera to its most compatible format (JPEG)."
)
FAR_TOO_LARGE = "The picture says it is far larger than any camera's. Send a smaller one."
CUT_OFF = "The photo is cut off or damaged. Take or choose it again."


@dataclass(frozen=True)
class Picture:
    """What a picture file says about itself. Width and height are those of the upright picture."""

    kind: str
    width: int
    height: int
    clock: str
    offset: str
    device: str
    located: bool


def look(file: IO[bytes]) -> Picture:
    """Read the facts of a picture without decoding it. Raises Refusal for what is not an accepted picture."""
    image = opened(file)
    rules.check_pixels(image.format or "", *image.size)
    exif = metadata(image)
    more = directory(exif, EXIF_IFD)
    width, height = image.size
    if orientation(exif) in TURNED:
        width, height = height, width
    return Picture(
        kind=rules.ENDINGS[image.format or ""],
        width=width,
        height=height,
        clock=text(more.get(TAKEN)),
        offset=text(more.get(TAKEN_OFFSET)),
        device=device(exif),
        located=bool(directory(exif, GPS_IFD)),
    )


def metadata(image: Image.Image) -> Image.Exif:
    """The picture's metadata; none where it is damaged, because the picture itself still counts.

    A PNG has to be decoded to find it, so a PNG that is cut off is refused here.
    """
    if image.format == "PNG":
        whole(image)
    try:
        return image.getexif()
    except UNREADABLE:
        return Image.Exif()


def directory(exif: Image.Exif, tag: int) -> dict[int, object]:
    """One directory inside the metadata, empty where it is missing or damaged."""
    try:
        return exif.get_ifd(tag)
    except UNREADABLE:
        return {}


def orientation(exif: Image.Exif) -> int:
    """How the camera was held: 1 to 8 as in Exif, 1 where nothing usable is said."""
    said = exif.get(ORIENTATION)
    return said if isinstance(said, int) and 1 <= said <= 8 else 1


def device(exif: Image.Exif) -> str:
    """Make and model of the camera; a make that the model repeats is said once."""
    make, model = text(exif.get(MAKE)), text(exif.get(MODEL))
    name = model if make and model.casefold().startswith(make.casefold()) else f"{make} {model}"
    return name.strip()[:120]


def opened(file: IO[bytes]) -> Image.Image:
    """Open one of the accepted formats, whatever the file calls itself."""
    file.seek(0)
    head = file.read(16)
    if head[4:8] == b"ftyp":
        check_boxes(file, head)
    file.seek(0)
    try:
        return Image.open(file, formats=OPEN)
    except Image.DecompressionBombError:
        raise Refusal("too_many_pixels", FAR_TOO_LARGE, "photo") from None
    except UNREADABLE:
        raise Refusal("not_a_picture", NOT_A_PICTURE, "photo") from None


# A camera writes a handful of boxes at the top level; a file of nothing but boxes is made to keep the reader busy.
MOST_BOXES = 10_000


def check_boxes(file: IO[bytes], head: bytes) -> None:
    """Refuse a HEIC or AVIF file that is cut off: its top-level boxes (ISO/IEC 14496-12) must end with the file.

    The pictures in it are decoded later, by the worker, so a missing end has to be noticed here.
    """
    if not HEIC_READY and head[8:12] not in {b"avif", b"avis"}:
        raise Refusal("no_heic", NO_HEIC, "photo")
    end, place = file.seek(0, os.SEEK_END), 0
    for _ in range(MOST_BOXES):
        if place + 8 > end:
            break
        file.seek(place)
        size = struct.unpack(">I4x", file.read(8))[0]
        if size == 1:
            size = struct.unpack(">Q", file.read(8).ljust(8, b"\0"))[0]
        if size == 0:
            return
        if size < 8:
            break
        place += size
    if place != end:
        raise Refusal("cut_off", CUT_OFF, "photo")


def text(value: object) -> str:
    """A metadata value as clean text."""
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return " ".join("".join(sign if sign.isprintable() else " " for sign in str(value or "")).split())


def draw(file: IO[bytes], digest: str) -> None:
    """Decode the picture once and write both renditions: upright, sRGB, without metadata.

    Raises Refusal when the picture cannot be decoded to its end, in which case nothing is written.
    """
    small = decoded(file)
    # Pillow would carry a comment of the camera's over into the copy; nothing but the picture may leave (rule R13).
    small.info = {}
    for size in sorted(queries.SIZES, reverse=True):
        small.thumbnail((size, size), Image.Resampling.LANCZOS, reducing_gap=None)
        out = BytesIO()
        small.save(out, "JPEG", quality=QUALITY)
        put(queries.rendition_path(digest, size), out.getvalue())


def decoded(file: IO[bytes]) -> Image.Image:
    """The upright picture in sRGB, decoded no larger than the largest rendition needs."""
    image = opened(file)
    rules.check_pixels(image.format or "", *image.size)
    most = max(queries.SIZES)
    turn = TURNS.get(orientation(metadata(image)))
    image.draft("RGB", (most, most))
    whole(image)
    try:
        image = smooth(image)
        image.thumbnail((most, most), Image.Resampling.LANCZOS, reducing_gap=None)
        upright = image if turn is None else image.transpose(turn)
        return flat(in_srgb(upright))
    except UNREADABLE:
        raise Refusal("cut_off", CUT_OFF, "photo") from None


def whole(image: Image.Image) -> None:
    """Decode a picture to its end. Raises Refusal where the end is missing."""
    try:
        image.load()
    except UNREADABLE:
        raise Refusal("cut_off", CUT_OFF, "photo") from None


def smooth(image: Image.Image) -> Image.Image:
    """The picture in a mode that can be scaled well.

    Grays of 16 bits, as instruments write them, are brought to 8; a picture with a palette gets its colors.
    """
    if image.mode.startswith("I"):
        return image.convert("I").point(lambda value: value / 257).convert("L")
    if image.mode in {"P", "1"}:
        return image.convert("RGBA" if "transparency" in image.info else "RGB")
    return image


def in_srgb(image: Image.Image) -> Image.Image:
    """The picture in the color space that every screen and printer assumes."""
    profile = image.info.get("icc_profile")
    if not profile or b"sRGB" in profile or image.mode not in {"RGB", "RGBA", "CMYK", "L"}:
        return image
    mode = "RGBA" if image.mode == "RGBA" else "RGB"
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile))
        return ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode=mode) or image
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return image


def flat(image: Image.Image) -> Image.Image:
    """The picture as plain RGB; what is transparent becomes white."""
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        image = image.convert("RGBA")
        paper = Image.new("RGB", image.size, "white")
        paper.paste(image, mask=image.getchannel("A"))
        return paper
    return image.convert("RGB")


def marked_copy(digest: str, drawn_over: Sequence[marks.Mark]) -> Path:
    """The large rendition with marks drawn in, without metadata; made once for each set of marks.

    Raises FileNotFoundError where the rendition itself is missing.
    """
    path = queries.marked_path(digest, drawn_over)
    if not path.exists():
        with Image.open(queries.rendition_path(digest, max(queries.SIZES)), formats=["JPEG"]) as image:
            out = BytesIO()
            with_marks(image, drawn_over).save(out, "JPEG", quality=MARKED_QUALITY)
        for old in path.parent.glob(f"{path.name.partition('-')[0]}-marks-*"):
            old.unlink(missing_ok=True)
        put(path, out.getvalue())
    return path


def with_marks(image: Image.Image, drawn_over: Sequence[marks.Mark]) -> Image.Image:
    """A picture with marks drawn in. They are drawn larger and scaled down, so that their edges are smooth."""
    picture = image.convert("RGB")
    picture.info = {}
    width, height = (side * FINER for side in picture.size)
    layer = Image.new("RGBA", (width, height), (*LIGHT, 0))
    frame, pen = marks.Frame(width, height), ImageDraw.Draw(layer)
    for one in marks.drawn(drawn_over, frame):
        draw_mark(pen, one, frame.unit)
    layer = layer.resize(picture.size, Image.Resampling.LANCZOS)
    picture.paste(layer, mask=layer.getchannel("A"))
    return picture


def draw_mark(pen: ImageDraw.ImageDraw, one: marks.Drawn, unit: float) -> None:
    """One mark: each dark line lies on a wider light one, so that it can be seen on any picture."""
    for color, width in ((LIGHT, marks.HALO), (DARK, marks.STROKE)):
        half = width * unit / 2
        if one.shaft:
            pen.line(one.shaft, fill=color, width=round(2 * half))
            disc(pen, one.shaft[0], half, color)
        if one.head:
            pen.polygon(one.head, fill=color)
            if color == LIGHT:
                edge = round((marks.HALO - marks.STROKE) * unit)
                pen.line((*one.head, *one.head[:2]), fill=color, width=edge, joint="curve")
        if one.ring:
            x, y, half_x, half_y = one.ring
            box = (x - half_x - half, y - half_y - half, x + half_x + half, y + half_y + half)
            pen.ellipse(box, outline=color, width=round(2 * half))
    if one.box:
        x, y, width, height = one.box
        pen.rectangle((x, y, x + width, y + height), fill=LIGHT, outline=DARK, width=round(marks.RIM * unit))
        right = x + width - marks.PAD * unit / 2
        for left, base, words in one.lines:
            letter(pen, (left, base), words, "AtkinsonNext-Regular", marks.LETTERS * unit, right - left)
    disc(pen, one.balloon, (marks.BALLOON + marks.RIM / 2) * unit, DARK)
    disc(pen, one.balloon, (marks.BALLOON - marks.RIM / 2) * unit, LIGHT)
    x, y = one.balloon
    base = y + marks.DROP * marks.NUMBER * unit
    letter(pen, (x, base), str(one.number), "AtkinsonNext-Bold", marks.NUMBER * unit, 1.6 * marks.BALLOON * unit, "ms")


@lru_cache(maxsize=16)
def font_of(name: str, size: int) -> ImageFont.FreeTypeFont:
    """An embedded family at a size in pixels."""
    return ImageFont.truetype(settings.FONTS_DIR / f"{name}.ttf", size)


def disc(pen: ImageDraw.ImageDraw, at: marks.Point, radius: float, color: tuple[int, int, int]) -> None:
    """A filled circle."""
    pen.ellipse((at[0] - radius, at[1] - radius, at[0] + radius, at[1] + radius), fill=color)


def letter(
    pen: ImageDraw.ImageDraw, at: marks.Point, text: str, font: str, size: float, room: float, anchor: str = "ls"
) -> None:
    """Text on a base line, in the family that draws its script, made smaller where it does not fit."""
    name = font if text.isascii() else ANY_SCRIPT
    chosen = font_of(name, max(1, round(size)))
    if (wide := chosen.getlength(text)) > room:
        chosen = font_of(name, max(1, int(size * room / wide)))
    pen.text(at, text, fill=DARK, font=chosen, anchor=anchor)


def put(path: Path, data: bytes) -> None:
    """Write a file that is either whole or absent."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
