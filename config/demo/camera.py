"""Turns a drawn picture into the file a camera or a phone would hand over, with the metadata it would carry."""

from datetime import datetime
from fractions import Fraction
from io import BytesIO
from random import Random

from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

_BASE, _GPS = ExifTags.Base, ExifTags.GPS

# How the pixels must be turned on storing so that a viewer that honours the tag shows them upright again.
_STORED = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def jpeg(
    image: Image.Image,
    *,
    taken: datetime,
    make: str,
    model: str,
    orientation: int = 1,
    gps: tuple[float, float] | None = None,
    offset: bool = True,
    quality: int = 88,
) -> bytes:
    """A JPEG with camera metadata.

    `taken` is aware and is written as the clock of its own time zone, with the UTC offset when `offset`; `gps` is
    latitude and longitude in degrees, north and east positive. With an orientation other than 1 the pixels are stored
    turned. Raises ValueError when `taken` has no time zone or the orientation is not 1 to 8.
    """
    stored = _turned(image, orientation)
    out = BytesIO()
    exif = _exif(stored.size, taken, make, model, orientation, gps, offset)
    stored.save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()


def heic(
    image: Image.Image,
    *,
    taken: datetime,
    make: str,
    model: str,
    orientation: int = 1,
    gps: tuple[float, float] | None = None,
    offset: bool = True,
    quality: int = 62,
) -> bytes:
    """A HEIC with camera metadata, as for `jpeg`. Raises ImportError when HEIC support is not installed.

    The orientation stands in the file's own transform boxes as well as in the tag; readers here turn the pixels and
    report orientation 1. The fastest encoder preset is a tenth of the work and no larger at this quality.
    """
    import pillow_heif  # optional at run time, so only here

    stored = _turned(image, orientation)
    exif = _exif(stored.size, taken, make, model, orientation, gps, offset)
    out = BytesIO()
    pillow_heif.from_pillow(stored).save(out, quality=quality, exif=exif.tobytes(), enc_params={"preset": "ultrafast"})
    return out.getvalue()


def png(image: Image.Image, taken: datetime) -> bytes:
    """A PNG as a screenshot tool writes it: no camera, only the time in a text chunk."""
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_text("Creation Time", taken.isoformat(timespec="seconds"))
    out = BytesIO()
    image.save(out, "PNG", pnginfo=info, compress_level=1)
    return out.getvalue()


def _turned(image: Image.Image, orientation: int) -> Image.Image:
    if orientation == 1:
        return image
    if orientation not in _STORED:
        raise ValueError("Orientation must be a whole number from 1 to 8.")
    return image.transpose(_STORED[orientation])


def _exif(
    size: tuple[int, int],
    taken: datetime,
    make: str,
    model: str,
    orientation: int,
    gps: tuple[float, float] | None,
    offset: bool,
) -> Image.Exif:
    """The metadata of one exposure; exposure values follow from the time, so the same picture gives the same bytes."""
    if taken.tzinfo is None:
        raise ValueError("The time a photo was taken needs a time zone.")
    rng = Random(taken.isoformat())
    stamp = taken.strftime("%Y:%m:%d %H:%M:%S")
    exif = Image.Exif()
    exif[_BASE.Make], exif[_BASE.Model] = make, model
    exif[_BASE.Orientation] = orientation
    exif[_BASE.XResolution] = exif[_BASE.YResolution] = IFDRational(72, 1)
    exif[_BASE.ResolutionUnit] = 2
    exif[_BASE.Software] = f"{model} 1.4"
    exif[_BASE.DateTime] = stamp
    detail = exif.get_ifd(ExifTags.IFD.Exif)
    detail.update(
        {
            _BASE.ExposureTime: IFDRational(1, rng.choice((30, 40, 60, 80, 120))),
            _BASE.FNumber: IFDRational(18, 10),
            _BASE.ISOSpeedRatings: rng.choice((64, 100, 160, 200, 320, 400)),
            _BASE.ExifVersion: b"0232",
            _BASE.DateTimeOriginal: stamp,
            _BASE.DateTimeDigitized: stamp,
            _BASE.SubsecTimeOriginal: f"{rng.randrange(1000):03d}",
            _BASE.FocalLength: IFDRational(rng.choice((42, 57, 68)), 10),
            _BASE.FocalLengthIn35mmFilm: 26,
            _BASE.ColorSpace: 1,
            _BASE.ExifImageWidth: size[0],
            _BASE.ExifImageHeight: size[1],
        }
    )
    if offset:
        detail[_BASE.OffsetTime] = detail[_BASE.OffsetTimeOriginal] = _offset(taken)
    if gps is not None:
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(_position(gps))
    return exif


def _offset(taken: datetime) -> str:
    """The UTC offset as cameras write it, such as -05:00."""
    text = taken.strftime("%z")
    return f"{text[:3]}:{text[3:5]}"


def _position(gps: tuple[float, float]) -> dict[int, object]:
    """Latitude and longitude as degrees, minutes, seconds with their hemispheres."""
    latitude, longitude = gps
    return {
        _GPS.GPSVersionID: b"\x02\x03\x00\x00",
        _GPS.GPSLatitudeRef: "N" if latitude >= 0 else "S",
        _GPS.GPSLatitude: _sexagesimal(abs(latitude)),
        _GPS.GPSLongitudeRef: "E" if longitude >= 0 else "W",
        _GPS.GPSLongitude: _sexagesimal(abs(longitude)),
    }


def _sexagesimal(degrees: float) -> tuple[IFDRational, IFDRational, IFDRational]:
    hundredths = round(Fraction(degrees) * 360_000)
    whole, rest = divmod(hundredths, 360_000)
    minutes, seconds = divmod(rest, 6000)
    return (IFDRational(whole, 1), IFDRational(minutes, 1), IFDRational(seconds, 100))
