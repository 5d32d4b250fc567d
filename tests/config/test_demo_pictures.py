"""The demo's drawn photos: every kind draws, the same seed gives the same bytes, the metadata reads back right."""

from datetime import UTC, datetime, timedelta, timezone
from io import BytesIO

import exifread
import pytest
from PIL import Image, ImageChops, ImageOps, ImageStat

from config.demo import camera, scenes

TAKEN = datetime(2026, 3, 14, 19, 5, 9, tzinfo=timezone(timedelta(hours=-7)))
GPS = (45.5125, -122.3175)


@pytest.fixture(scope="module")
def picture() -> Image.Image:
    return scenes.draw("scale_cup", 7, card=("24-113-02", "Rib 4, left float"), reading="211.4")


def _tags(data: bytes) -> dict[str, object]:
    return exifread.process_file(BytesIO(data), details=False)


def _difference(one: Image.Image, other: Image.Image) -> float:
    return max(ImageStat.Stat(ImageChops.difference(one.convert("RGB"), other.convert("RGB"))).mean)


@pytest.mark.parametrize("kind", sorted(scenes.KINDS))
def test_every_kind_draws_a_picture_with_something_in_it(kind):
    picture = scenes.draw(kind, 1, card=("24-113-02", "Rib 4, left float", "2026-03-14"))
    assert (picture.mode, picture.size) == ("RGB", scenes.LANDSCAPE)
    assert min(ImageStat.Stat(picture).stddev) > 12


@pytest.mark.parametrize("kind", ["builder", "airframe", "vacuum_bag", "ribs"])
def test_portrait_stands_upright(kind):
    assert scenes.draw(kind, 2, portrait=True).size == scenes.PORTRAIT


def test_same_seed_same_bytes_other_seed_other_picture():
    files = [camera.jpeg(scenes.draw("wet_layup", s), taken=TAKEN, make="Ambry", model="A2") for s in (4, 4, 5)]
    assert files[0] == files[1]
    assert files[0] != files[2]


def test_the_order_of_drawing_does_not_matter():
    first = scenes.draw("hardpoint", 3)
    scenes.draw("tap_test", 9)
    assert scenes.draw("hardpoint", 3).tobytes() == first.tobytes()


def test_unknown_kind_is_refused():
    with pytest.raises(KeyError):
        scenes.draw("volcano", 1)


def test_a_card_and_a_reading_change_the_picture():
    plain = scenes.draw("vacuum_gauge", 6, reading="24")
    assert _difference(plain, scenes.draw("vacuum_gauge", 6, reading="12")) > 0
    assert _difference(plain, scenes.draw("vacuum_gauge", 6, reading="24", card=("11-001",))) > 0


@pytest.mark.parametrize("reading", ["-5", "99", "no number"])
def test_a_dial_takes_any_reading(reading):
    assert scenes.draw("thermometer", 1, reading=reading).size == scenes.LANDSCAPE


def test_another_reader_finds_the_same_metadata(picture):
    tags = _tags(camera.jpeg(picture, taken=TAKEN, make="Lumenfold", model="LF-7", gps=GPS))
    assert str(tags["Image Make"]) == "Lumenfold"
    assert str(tags["Image Model"]) == "LF-7"
    assert str(tags["EXIF DateTimeOriginal"]) == "2026:03:14 19:05:09"
    assert str(tags["EXIF OffsetTimeOriginal"]) == "-07:00"
    assert tags["Image Orientation"].values == [1]
    assert tags["EXIF ExposureTime"].values[0].num == 1
    assert float(tags["EXIF FNumber"].values[0]) == pytest.approx(1.8)
    assert tags["EXIF ISOSpeedRatings"].values[0] >= 64
    assert float(tags["EXIF FocalLength"].values[0]) > 4
    assert len(str(tags["EXIF SubSecTimeOriginal"])) == 3


def test_place_reads_back_in_degrees(picture):
    tags = _tags(camera.jpeg(picture, taken=TAKEN, make="Ambry", model="A2", gps=GPS))
    for name, value in zip(("Latitude", "Longitude"), GPS, strict=True):
        degrees, minutes, seconds = (float(part) for part in tags[f"GPS GPS{name}"].values)
        sign = -1 if str(tags[f"GPS GPS{name}Ref"]) in "SW" else 1
        assert sign * (degrees + minutes / 60 + seconds / 3600) == pytest.approx(value, abs=1e-5)


def test_offset_and_place_are_left_out_when_not_given(picture):
    tags = _tags(camera.jpeg(picture, taken=TAKEN, make="Ambry", model="A2", offset=False))
    assert "EXIF DateTimeOriginal" in tags
    assert not [name for name in tags if "Offset" in name and "Time" in name]
    assert not [name for name in tags if name.startswith("GPS")]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_photo_comes_back_upright(picture, orientation):
    data = camera.jpeg(picture, taken=TAKEN, make="Ambry", model="A2", orientation=orientation)
    stored = Image.open(BytesIO(data))
    assert stored.size == (picture.size if orientation < 5 else picture.size[::-1])
    assert _tags(data)["Image Orientation"].values == [orientation]
    upright = ImageOps.exif_transpose(stored)
    assert upright.size == picture.size
    assert _difference(upright, picture) < 6


@pytest.mark.parametrize("orientation", [0, 9])
def test_an_impossible_orientation_is_refused(picture, orientation):
    with pytest.raises(ValueError, match="1 to 8"):
        camera.jpeg(picture, taken=TAKEN, make="Ambry", model="A2", orientation=orientation)


def test_a_time_without_a_zone_is_refused(picture):
    with pytest.raises(ValueError, match="time zone"):
        camera.jpeg(picture, taken=datetime(2026, 3, 14), make="Ambry", model="A2")


@pytest.mark.parametrize("orientation", [1, 6])
def test_heic_comes_back_upright_with_its_time_and_place(picture, orientation):
    pillow_heif = pytest.importorskip("pillow_heif")
    small = picture.resize((480, 360))
    data = camera.heic(small, taken=TAKEN, make="Ambry", model="A2", orientation=orientation, gps=GPS)
    read = pillow_heif.open_heif(data).to_pillow()
    assert read.size == small.size
    assert _difference(read, small) < 8
    exif = Image.Exif()
    exif.load(read.info["exif"])
    assert exif.get_ifd(0x8769)[0x9003] == "2026:03:14 19:05:09"
    assert exif.get_ifd(0x8769)[0x9011] == "-07:00"
    assert exif.get_ifd(0x8825)[1] == "N"


def test_a_screenshot_has_no_camera(picture):
    read = Image.open(BytesIO(camera.png(picture.resize((320, 240)), datetime(2026, 3, 14, 9, 0, tzinfo=UTC))))
    assert read.format == "PNG"
    assert not read.getexif()
    assert read.text == {"Creation Time": "2026-03-14T09:00:00+00:00"}
