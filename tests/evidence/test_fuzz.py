"""Thousands of damaged files: each is kept whole or refused in a sentence, and nothing is ever left in between."""

import random
import resource
import struct
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from evidence import commands, renditions, tasks
from evidence.models import Photo
from foundation.refusal import Refusal
from tests.evidence import pictures, recordings
from tests.factories import NOW, make_project

pytestmark = [pytest.mark.django_db, pytest.mark.filterwarnings("ignore::UserWarning")]

EACH = 400  # damaged files of each kind of picture
MOST_MORE = 450  # MB that all of them together may add to the peak: one picture of 60 million pixels fits into it

Data = bytearray
Chance = random.Random
SMALL = Image.effect_noise((72, 48), 50).convert("RGB")
PICTURES = {
    "JPEG": pictures.saved(SMALL, exif=pictures.metadata(orientation=6), quality=85),
    "PNG": pictures.saved(SMALL, "PNG", exif=pictures.metadata()),
    "WEBP": pictures.saved(SMALL, "WEBP", exif=pictures.metadata(), quality=80),
    "HEIF": pictures.saved(SMALL, "HEIF", exif=pictures.metadata().tobytes()),
    "AVIF": pictures.saved(SMALL, "AVIF", exif=pictures.metadata().tobytes(), speed=10),
}
CLIPS = {
    "mp4": recordings.movie(recordings.mvhd(), recordings.PICTURE, recordings.SOUND, data=bytes(400)),
    "mov": recordings.movie(
        recordings.mvhd(), recordings.PICTURE, recordings.named(creationdate="2026-05-14T09:28:05-0600"), data=bytes(99)
    ),
    "webm": recordings.webm(),
    "mp3": recordings.mp3(4, tag=40),
    "aac": recordings.aac(4),
    "ogg": recordings.ogg(),
    "wav": recordings.sound_file(0.05),
}
EXTREMES = (0, 1, 7, 8, 0x7F, 0xFF, 0x7FFF, 0xFFFF, 2**31 - 1, 2**31, 2**32 - 1, 2**32 - 8)


# Ways to damage a file


def flip(data: Data, chance: Chance) -> Data:
    """A few bytes become others."""
    for _ in range(chance.choice((1, 1, 2, 8, 40))):
        data[chance.randrange(len(data))] ^= chance.randrange(1, 256)
    return data


def cut(data: Data, chance: Chance) -> Data:
    """The end is missing, or a piece in between."""
    first = chance.randrange(len(data))
    return data[:first] if chance.random() < 0.5 else data[:first] + data[first + chance.randrange(1, 200) :]


def insert(data: Data, chance: Chance) -> Data:
    """Something foreign in between."""
    place = chance.randrange(len(data))
    return data[:place] + Data(chance.randbytes(chance.choice((1, 2, 4, 64, 3000)))) + data[place:]


def swap(data: Data, chance: Chance) -> Data:
    """Two pieces change places."""
    a, b, c = sorted(chance.randrange(len(data)) for _ in range(3))
    return data[:a] + data[b:c] + data[a:b] + data[c:]


def again(data: Data, chance: Chance) -> Data:
    """A piece comes many times."""
    a, b = sorted(chance.randrange(len(data)) for _ in range(2))
    return data[:b] + data[a : min(b, a + 400)] * chance.choice((1, 2, 50)) + data[b:]


def lie(data: Data, chance: Chance) -> Data:
    """A number of the head is another: a length, a size, a count."""
    wide = chance.choice((1, 2, 4))
    place = chance.randrange(min(len(data) - wide, 1500))
    value = chance.choice(EXTREMES) & (1 << 8 * wide) - 1
    data[place : place + wide] = value.to_bytes(wide, chance.choice(("big", "little")))
    return data


WAYS = (flip, cut, insert, swap, again, lie, lie)


def mended(data: Data) -> Data:
    """A PNG whose checks are right again, so that the damage goes on to the decoder."""
    place = 8
    while place + 12 <= len(data):
        end = place + 8 + int.from_bytes(data[place : place + 4])
        if end + 4 > len(data):
            break
        data[end : end + 4] = zlib.crc32(data[place + 4 : end]).to_bytes(4)
        place = end + 4
    return data


def damaged(base: bytes, number: int, repair: Callable[[Data], Data] | None = None) -> bytes:
    """The same damage for the same number."""
    chance, data = random.Random(number), Data(base)
    for _ in range(chance.choice((1, 1, 2, 3))):
        if len(data) > 8:
            data = chance.choice(WAYS)(data, chance)
    return bytes(repair(data) if repair and chance.random() < 0.7 else data)


# What may come of it


class Shelf:
    """Takes damaged files in and looks at what is left of each."""

    def __init__(self, files_left: Callable[[], list[str]]) -> None:
        self.project, self.edda = make_project()
        self.files_left, self.kept, self.refused = files_left, 0, 0

    def take_in(self, data: bytes, told: str) -> None:
        try:
            photo, _ = commands.take_in(by=self.edda, at=NOW, project=self.project, file=BytesIO(data), name=told)
        except Refusal as no:
            assert no.message.endswith("."), told
            self.refused += 1
            return
        except Exception as trouble:
            raise AssertionError(f"{told}: {trouble!r}") from trouble
        self.kept += 1
        if photo.drawn_at is None:
            tasks.draw_renditions.func(photo.pk)

    def check(self) -> None:
        """Every row has its file, every file its row; what cannot be drawn says so; no piece of anything is left."""
        rows = list(Photo.objects.all())
        names = {photo.digest.removeprefix("sha256:"): photo for photo in rows}
        left = self.files_left()
        originals = {name for name in left if not name.endswith("0.jpg") or "-" not in name}
        assert originals == {f"{body}.{photo.kind}" for body, photo in names.items()}
        drawn = {name.rpartition("-")[0] for name in left} - {""}
        assert drawn == {body for body, photo in names.items() if photo.drawn_at and not photo.is_clip}
        assert all(photo.drawn_at or photo.fault for photo in rows)


@pytest.fixture
def shelf(files_left: Callable[[], list[str]]) -> Shelf:
    return Shelf(files_left)


def peak() -> float:
    """The most memory this process ever had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@pytest.mark.slow
@pytest.mark.parametrize("kind", PICTURES)
def test_a_damaged_picture_is_kept_whole_or_refused(kind: str, shelf: Shelf) -> None:
    before = peak()
    for number in range(EACH):
        data = damaged(PICTURES[kind], number, mended if kind == "PNG" else None)
        shelf.take_in(data, f"{kind} {number}")
    shelf.check()
    assert min(shelf.kept, shelf.refused) >= EACH / 50  # the damage is neither harmless nor always deadly
    assert peak() - before < MOST_MORE


@pytest.mark.parametrize("kind", CLIPS)
def test_a_damaged_clip_is_kept_whole_or_refused(kind: str, shelf: Shelf) -> None:
    for number in range(100):
        shelf.take_in(damaged(CLIPS[kind], number), f"{kind} {number}")
    shelf.check()
    assert min(shelf.kept, shelf.refused) >= 1


def lying_jpeg(width: int, height: int) -> bytes:
    """A small JPEG that says it is huge."""
    data = pictures.saved(pictures.marked())
    place = data.index(b"\xff\xc0") + 5
    return data[:place] + struct.pack(">HH", height, width) + data[place + 4 :]


@pytest.mark.parametrize("data", [pictures.png_bomb(), lying_jpeg(50_000, 50_000)], ids=["PNG", "JPEG"])
def test_fifty_thousand_by_fifty_thousand_is_refused_without_decoding(
    data: bytes, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(renditions, "whole", lambda _: pytest.fail("it was decoded"))
    before = peak()
    with pytest.raises(Refusal, match="far larger than any camera's"):
        commands.take_in(by=shelf.edda, at=NOW, project=shelf.project, file=BytesIO(data))
    assert peak() - before < 20
    shelf.check()


def test_the_largest_jpeg_that_is_taken_is_decoded_small(tmp_path: Path, shelf: Shelf) -> None:
    """196 million pixels would be 590 MB; an eighth of each side is 9."""
    before = peak()
    shelf.take_in(lying_jpeg(14_000, 14_000), "a JPEG that says it has 196 million pixels")
    assert peak() - before < 120
    shelf.check()
