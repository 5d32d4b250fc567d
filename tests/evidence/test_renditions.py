"""Small pictures: upright, of the right size, in the colors that screens assume, and without a word about place."""

from io import BytesIO

import exifread
import pytest
from PIL import Image, ImageCms, PngImagePlugin

from evidence import queries, renditions
from evidence.models import Photo
from tests.evidence import pictures

KINDS = ["JPEG", "PNG", "WEBP", "AVIF", "HEIF"]


def drawn(photo: Photo) -> dict[int, bytes]:
    """The bytes of both renditions, drawn now where the worker would."""
    if not queries.has_rendition(photo, 320):
        with queries.original_path(photo).open("rb") as file:
            renditions.draw(file, photo.digest)
    return {size: queries.rendition_path(photo.digest, size).read_bytes() for size in queries.SIZES}


def opened(data: bytes) -> Image.Image:
    return Image.open(BytesIO(data))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_way_to_hold_the_camera_is_shown_upright(bench, kind, orientation):
    photo = bench.keep(pictures.camera_file(kind, orientation=orientation, size=(900, 600)))
    assert (photo.width, photo.height) == (900, 600)
    for data in drawn(photo).values():
        image = opened(data)
        assert image.width > image.height
        assert pictures.is_upright(image)


@pytest.mark.parametrize("kind", KINDS)
def test_a_rendition_carries_no_metadata_and_no_place(bench, kind):
    """Rule R13, asked of two readers that know nothing of each other."""
    photo = bench.keep(pictures.camera_file(kind))
    assert photo.located
    for data in drawn(photo).values():
        image = opened(data)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert exifread.process_file(BytesIO(data)) == {}
        for word in (b"Exif", b"GPS", b"Lumenfold", b"2026:05:14", b"http://ns.adobe.com"):
            assert word not in data


def test_a_comment_of_the_camera_stays_in_the_original(bench):
    photo = bench.keep(pictures.saved(pictures.marked(), comment=b"39.74 N 104.98 W, home"))
    assert all(b"home" not in data for data in drawn(photo).values())


def test_words_in_a_png_stay_in_the_original(bench):
    words = PngImagePlugin.PngInfo()
    words.add_text("Comment", "home, 39.74 N")
    photo = bench.keep(pictures.saved(pictures.marked(), "PNG", pnginfo=words))
    assert all(b"home" not in data for data in drawn(photo).values())


def test_the_original_keeps_its_place_untouched(bench):
    photo = bench.keep(pictures.camera_file())
    with queries.original_path(photo).open("rb") as file:
        assert "GPS GPSLatitude" in exifread.process_file(file)


@pytest.mark.parametrize(
    ("size", "large", "small"),
    [
        ((4000, 3000), (1280, 960), (320, 240)),
        ((3000, 4000), (960, 1280), (240, 320)),
        ((1280, 720), (1280, 720), (320, 180)),
        ((200, 100), (200, 100), (200, 100)),
        ((5000, 10), (1280, 3), (320, 1)),
    ],
)
def test_renditions_fit_their_size_and_are_never_enlarged(bench, size, large, small):
    photo = bench.keep(pictures.saved(Image.new("RGB", size, pictures.GROUND)))
    data = drawn(photo)
    assert opened(data[1280]).size == large
    assert opened(data[320]).size == small
    assert (photo.large_size, photo.small_size) == (large, small)


def test_a_transparent_picture_stands_on_white(bench):
    image = Image.new("RGBA", (400, 300), (0, 0, 0, 0))
    photo = bench.keep(pictures.saved(image, "PNG"))
    assert min(opened(drawn(photo)[320]).getpixel((5, 5))) > 250


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "CMYK", "I;16"])
def test_pictures_of_every_make_are_drawn(bench, mode):
    gray = Image.new("L", (400, 300), 128)
    image = Image.frombytes("I;16", (400, 300), b"\x80\x80" * 400 * 300) if mode == "I;16" else gray.convert(mode)
    photo = bench.keep(pictures.saved(image, "JPEG" if mode == "CMYK" else "PNG"))
    shown = opened(drawn(photo)[320])
    assert shown.mode == "RGB"
    if mode != "1":
        assert all(abs(value - 128) < 8 for value in shown.getpixel((100, 100)))


def red_for_blue() -> bytes:
    """A color profile like sRGB, but with the primaries of red and blue exchanged."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return (
        profile.replace(b"rXYZ", b"????").replace(b"bXYZ", b"rXYZ").replace(b"????", b"bXYZ").replace(b"sRGB", b"test")
    )


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
def test_a_picture_in_another_color_space_is_brought_to_srgb(bench, mode):
    """The numbers say blue, the profile says that this means red; the copy has to be red for a reader without it."""
    image = Image.new(mode, (300, 200), (30, 30, 220, 0) if mode == "RGBA" else (30, 30, 220))
    if mode == "RGBA":
        image.paste((30, 30, 220, 255), (0, 0, 150, 200))
    photo = bench.keep(pictures.saved(image, "JPEG" if mode == "RGB" else "PNG", icc_profile=red_for_blue()))
    shown = opened(drawn(photo)[320])
    red, green, blue = shown.getpixel((50, 50))
    assert red > 200
    assert max(green, blue) < 60
    assert "icc_profile" not in shown.info
    if mode == "RGBA":
        assert min(shown.getpixel((280, 50))) > 250


def test_a_picture_without_heic_support_says_what_to_do(bench, monkeypatch):
    monkeypatch.setattr(renditions, "HEIC_READY", False)
    answer = bench.send(pictures.camera_file("HEIF"), "IMG_0001.HEIC")
    assert answer.status_code == 422
    assert "pillow-heif" in answer.json()["error"]
    assert "JPEG" in answer.json()["error"]
