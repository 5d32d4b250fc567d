"""Short videos and voice notes: known by their bytes, kept as they came, never decoded, sent in pieces."""

import struct
import tracemalloc
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest

from evidence import clips, renditions
from evidence.models import Photo
from foundation.refusal import Refusal
from tests.evidence import pictures, recordings
from tests.evidence.recordings import PICTURE, SOUND, TAKEN, box, movie, mvhd, named, track


def look(data: bytes) -> clips.Clip | None:
    return clips.look(BytesIO(data))


def seen(data: bytes) -> clips.Clip:
    clip = look(data)
    assert clip is not None
    return clip


# What is what

KINDS = {
    "mp4": movie(),
    "mov": movie(brand=b"qt  "),
    "3gp": movie(brand=b"3gp5"),
    "m4a": movie(mvhd(), SOUND, brand=b"M4A "),
    "webm": recordings.webm(),
    "weba": recordings.webm(picture=False),
    "mp3": recordings.mp3(),
    "aac": recordings.aac(),
    "ogg": recordings.ogg(),
    "wav": recordings.sound_file(),
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_clip_is_known_by_its_bytes(kind: str) -> None:
    assert seen(KINDS[kind]).kind == kind


def test_a_voice_note_in_the_form_of_a_video_is_sound() -> None:
    assert seen(movie(mvhd(), SOUND)).kind == "m4a"


def test_sound_behind_a_tag_with_padding_is_found() -> None:
    assert seen(recordings.mp3(tag=20_000)).kind == "mp3"


@pytest.mark.parametrize(
    "data",
    [
        pictures.saved(pictures.marked()),
        pictures.camera_file("HEIF"),
        pictures.camera_file("AVIF"),
        pictures.camera_file("WEBP"),
        pictures.saved(pictures.marked(), "PNG"),
        b"A note about bulkhead B.\n" * 50,
        b"RIFF" + struct.pack("<I", 100) + b"AVI " + bytes(92),
        b"\xff\xfe" + "text of sixteen bits".encode("utf-16-le") * 40,
        b"\xff\xfb\x90\x00" + bytes(2000),
        b"ID3\x04\0\0\0\0\0\x0a" + bytes(5000),
        b"",
    ],
    ids=["JPEG", "HEIC", "AVIF", "WebP", "PNG", "text", "AVI", "UTF-16", "one frame", "only a tag", "nothing"],
)
def test_what_is_no_clip_is_left_to_others(data: bytes) -> None:
    assert look(data) is None


# What it says about itself


def test_a_movie_tells_length_upright_size_and_time() -> None:
    clip = seen(movie())
    assert (clip.width, clip.height, clip.seconds) == (1080, 1920, 14)
    assert (clip.clock, clip.offset) == ("2026:05:14 15:30:00", "+00:00")
    assert not clip.located


@pytest.mark.parametrize("long", [False, True], ids=["32 bits", "64 bits"])
@pytest.mark.parametrize("after", [False, True], ids=["facts first", "facts last"])
def test_both_sizes_of_header_are_read_wherever_they_lie(long: bool, after: bool) -> None:
    clip = seen(movie(mvhd(long=long), PICTURE, after=after))
    assert (clip.seconds, clip.clock) == (14, "2026:05:14 15:30:00")


def test_the_time_with_its_zone_that_a_phone_adds_goes_first() -> None:
    facts = named(
        creationdate="2026-05-14T09:28:05-0600", make="Lumenfold", model="LF-7", location_ISO6709="+40.1-105.0/"
    )
    clip = seen(movie(mvhd(), PICTURE, facts, brand=b"qt  "))
    assert (clip.clock, clip.offset) == ("2026:05:14 09:28:05", "-06:00")
    assert clip.device == "Lumenfold LF-7"
    assert clip.located


def test_a_place_in_the_other_notation_is_noticed_too() -> None:
    assert seen(movie(mvhd(), PICTURE, box(b"udta", box(b"\xa9xyz", b"\0\x12\x15\xc7+40.10-105.00/")))).located


def test_a_recording_in_fragments_tells_its_length_elsewhere() -> None:
    extends = box(b"mvex", box(b"mehd", struct.pack(">II", 0, 600 * 8)))
    assert seen(movie(mvhd(lasts=0), PICTURE, extends)).seconds == 8


def test_webm_tells_length_size_and_time() -> None:
    clip = seen(recordings.webm())
    assert (clip.width, clip.height, clip.seconds) == (1280, 720, 32)
    assert (clip.clock, clip.offset) == ("2026:05:14 15:30:00", "+00:00")


def test_a_running_recording_without_a_length_is_taken() -> None:
    assert seen(recordings.webm(unknown=True, lasts=0)).seconds is None


@pytest.mark.parametrize(("data", "seconds"), [(recordings.sound_file(3.2), 3), (recordings.ogg(), 32)])
def test_sound_tells_its_length(data: bytes, seconds: int) -> None:
    assert seen(data).seconds == seconds


def test_a_recorder_that_never_wrote_the_length_is_measured() -> None:
    data = bytearray(recordings.sound_file(3.0))
    data[40:44] = b"\xff\xff\xff\xff"
    assert seen(bytes(data)).seconds == 3


# Lies and harm

CUT = {
    "at half": movie()[: len(movie()) // 2],
    "one byte short": movie()[:-1],
    "at the facts": movie(after=True)[:-40],
    "without the facts": box(b"ftyp", b"mp42", bytes(4)) + box(b"mdat", bytes(5000)),
    "without the data": movie()[: -len(box(b"mdat", bytes(range(256)) * 40))],
    "declares 3 GB": movie() + struct.pack(">I", 3_000_000_000) + b"mdat" + bytes(100),
    "declares 2^60 bytes": movie() + struct.pack(">I4sQ", 1, b"mdat", 2**60),
    "a sound cut": recordings.sound_file()[:-10],
    "only the start": b"\0\0\0\x18ftypmp42",
}


@pytest.mark.parametrize("what", CUT)
def test_a_clip_without_its_end_is_refused(what: str) -> None:
    with pytest.raises(Refusal, match="cut off or damaged: its end is missing"):
        look(CUT[what])


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (movie(mvhd()), "neither picture nor sound"),
        (recordings.webm(kind=b"matroska"), "cannot be read"),
        (recordings.ogg(codec=b"\x80theora"), "cannot be read"),
        (movie() + box(b"free") * (clips.MOST_BOXES + 1), "cannot be read"),
    ],
    ids=["no tracks", "Matroska", "Ogg with pictures", "boxes without end"],
)
def test_what_is_not_taken_is_told(data: bytes, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        look(data)


LIES = {
    "no time": (mvhd(taken=None), "clock", ""),
    "a length of nothing": (mvhd(lasts=0), "seconds", None),
    "a length of years": (mvhd(lasts=40_000_000, scale=60), "seconds", None),
    "no time scale": (mvhd(scale=0), "seconds", None),
    "a length that is not known": (box(b"mvhd", struct.pack(">4xIIII", 0, 0, 600, 2**32 - 1)), "seconds", None),
    "a negative length": (box(b"mvhd", struct.pack(">4xIIIi", 0, 0, 600, -600)), "seconds", None),
    "a time of the far future": (box(b"mvhd", struct.pack(">B3xQQIQ", 1, 2**64 - 1, 0, 600, 600)), "clock", ""),
    "a short header": (box(b"mvhd", b"\0\0"), "clock", ""),
    "a box of size 0 inside": (box(b"mvhd", bytes(100)) + struct.pack(">I4s", 0, b"free"), "seconds", None),
    "a box of size 3 inside": (struct.pack(">I4s", 3, b"free"), "seconds", None),
    "a box beyond its own": (struct.pack(">I4s", 2**31, b"mvhd"), "seconds", None),
}


@pytest.mark.parametrize("what", LIES)
def test_a_lie_in_the_header_costs_the_fact_and_not_the_clip(what: str) -> None:
    header, name, value = LIES[what]
    assert getattr(seen(movie(PICTURE, header)), name) == value


def test_a_size_that_no_camera_has_is_none() -> None:
    clip = seen(recordings.webm(size=(2**32 - 1, 720)))
    assert (clip.kind, clip.width, clip.height) == ("webm", 0, 0)


def test_boxes_in_boxes_end_somewhere() -> None:
    nest = PICTURE
    for _ in range(3000):
        nest = box(b"udta", nest)
    with pytest.raises(Refusal, match="neither picture nor sound"):
        look(movie(nest))


def test_a_last_box_that_reaches_to_the_end_is_whole() -> None:
    assert seen(movie() + struct.pack(">I4s", 0, b"free") + bytes(99)).kind == "mp4"


def test_bytes_behind_the_end_are_kept() -> None:
    assert seen(movie() + b"\0\0\0\0\0").kind == "mp4"


def test_only_little_is_read_of_a_large_clip() -> None:
    facts = [mvhd(), PICTURE, box(b"trak", box(b"mdia", box(b"stbl", bytes(6_000_000)))), SOUND]
    file = BytesIO(movie(*facts, data=bytes(30_000_000), after=True))
    tracemalloc.start()
    clips.look(file)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 300_000


# Taking in


@pytest.mark.parametrize("kind", KINDS)
def test_a_clip_is_kept_byte_for_byte_under_whatever_name_it_comes(bench, files_left, kind: str) -> None:
    photo = bench.keep(KINDS[kind], "IMG_2041.JPG")
    assert photo.kind == kind
    assert photo.drawn_at is not None
    assert files_left() == [f"{photo.digest.removeprefix('sha256:')}.{kind}"]
    assert b"".join(bench.client.get(bench.url("original", photo.pk))) == KINDS[kind]


def test_nothing_is_ever_decoded(bench, monkeypatch) -> None:
    for name in ("look", "draw", "opened"):
        monkeypatch.setattr(renditions, name, lambda *_: pytest.fail("it was decoded"))
    photo = bench.keep(movie())
    assert (photo.width, photo.height, photo.seconds, photo.medium) == (1080, 1920, 14, "video")


def test_the_cameras_time_counts_as_the_cameras(bench) -> None:
    photo = bench.keep(movie())
    assert (photo.taken_at, photo.taken_offset, photo.taken_known) == (TAKEN, 0, "camera")


@pytest.mark.parametrize("taken", [None, datetime(1970, 1, 1, tzinfo=UTC), datetime(2090, 1, 1, tzinfo=UTC)])
def test_a_time_that_cannot_be_right_is_passed_over(bench, taken: datetime | None) -> None:
    at = datetime(2026, 5, 14, 9, 0, tzinfo=UTC)
    photo = bench.keep(movie(mvhd(taken=taken, long=True), PICTURE), file_time=int(at.timestamp() * 1000))
    assert (photo.taken_at, photo.taken_known) == (at, "file")


def test_the_same_bytes_are_one_clip(bench) -> None:
    assert bench.keep(movie()).pk == bench.keep(movie(), "again.mp4").pk


def test_each_limit_is_told_by_what_it_is_for(bench, files_left, settings) -> None:
    settings.CLIP_MAX_BYTES = settings.PHOTO_MAX_BYTES = 1024 * 1024
    large = movie(data=bytes(2 * 1024 * 1024))
    said = bench.send(large).json()["error"]
    assert said == "The file is too large. At most 1 MB are taken for each."
    settings.CLIP_MAX_BYTES = 3 * 1024 * 1024
    assert bench.send(large).status_code == 201
    settings.CLIP_MAX_BYTES = len(KINDS["wav"]) - 1
    settings.PHOTO_MAX_BYTES = 3 * 1024 * 1024
    assert bench.send(KINDS["wav"]).json()["error"].endswith("are taken for a video or voice note.")
    assert Photo.objects.count() == 1


def test_a_clip_that_is_cut_off_leaves_nothing(bench, files_left) -> None:
    answer = bench.send(CUT["at half"])
    assert answer.status_code == 422
    assert "cut off" in answer.json()["error"]
    assert not Photo.objects.exists()
    assert files_left() == []


# Sending


@pytest.fixture
def clip(bench) -> Photo:
    return bench.keep(movie())


def test_a_clip_is_played_in_its_page(bench, clip: Photo) -> None:
    answer = bench.client.get(bench.url("play", clip.pk))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "video/mp4"
    assert answer["Accept-Ranges"] == "bytes"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"].startswith("private")
    assert "Content-Disposition" not in answer
    assert b"".join(answer) == movie()


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [("bytes=0-1", 0, 1), ("bytes=100-", 100, len(movie()) - 1), ("bytes=-7", len(movie()) - 7, len(movie()) - 1)],
)
def test_a_player_gets_the_piece_it_asks_for(bench, clip: Photo, asked: str, first: int, last: int) -> None:
    answer = bench.client.get(bench.url("play", clip.pk), headers={"Range": asked})
    assert answer.status_code == 206
    assert answer["Content-Range"] == f"bytes {first}-{last}/{len(movie())}"
    assert b"".join(answer) == movie()[first : last + 1]


def test_a_piece_behind_the_end_is_not_there(bench, clip: Photo) -> None:
    answer = bench.client.get(bench.url("play", clip.pk), headers={"Range": f"bytes={len(movie())}-"})
    assert answer.status_code == 416
    assert answer["Content-Range"] == f"bytes */{len(movie())}"


def test_a_quicktime_file_is_played_as_what_browsers_know(bench) -> None:
    photo = bench.keep(movie(brand=b"qt  "))
    assert bench.client.get(bench.url("play", photo.pk))["Content-Type"] == "video/mp4"
    assert bench.client.get(bench.url("original", photo.pk))["Content-Type"] == "video/quicktime"


def test_a_clip_has_no_drawn_picture_and_a_picture_is_not_played(bench, clip: Photo) -> None:
    for size in (320, 1280):
        assert bench.client.get(bench.url("rendition", clip.pk, size)).status_code == 404
    picture = bench.keep(pictures.saved(pictures.marked()))
    assert bench.client.get(bench.url("play", picture.pk)).status_code == 404


def test_a_stranger_does_not_learn_that_there_is_a_clip(bench, clip: Photo) -> None:
    bench.client.logout()
    assert bench.client.get(bench.url("play", clip.pk)).status_code == 302


def test_a_lost_clip_is_said_to_be_lost(bench, clip: Photo, settings) -> None:
    next(settings.ORIGINALS_DIR.rglob("*.mp4")).unlink()
    assert bench.client.get(bench.url("play", clip.pk)).status_code == 404


def test_a_wide_clip_lies_and_a_turned_one_stands() -> None:
    lying = seen(movie(mvhd(), track(b"vide", (1920, 1080))))
    assert (lying.width, lying.height) == (1920, 1080)


def test_the_longest_length_that_counts_is_a_week() -> None:
    assert seen(movie(mvhd(lasts=timedelta(days=6).total_seconds(), scale=1), PICTURE)).seconds == 6 * 86400
