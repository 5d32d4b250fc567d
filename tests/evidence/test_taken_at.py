"""When a photo was taken and how that is known (rule R12), as a table, and what a person may type."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from evidence import rules
from foundation.refusal import Refusal
from tests.evidence.pictures import camera_file

ZONE = ZoneInfo("America/Denver")
RECEIVED = datetime(2026, 5, 14, 17, 0, tzinfo=UTC)
FILE = datetime(2026, 5, 13, 20, 0, tzinfo=UTC)
TYPED = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
CAMERA = "2026:05:14 09:30:00"
FROM_FILE = (FILE, -360, "file")
UNKNOWN = (None, None, "unknown")

TABLE = {
    "camera with its zone": (CAMERA, "+02:00", FILE, TYPED, (datetime(2026, 5, 14, 7, 30, tzinfo=UTC), 120, "camera")),
    "camera without a zone": (
        CAMERA,
        "",
        FILE,
        TYPED,
        (datetime(2026, 5, 14, 15, 30, tzinfo=UTC), -360, "camera_local"),
    ),
    "camera without a zone in winter": (
        "2026:01:14 09:30:00",
        "",
        FILE,
        None,
        (datetime(2026, 1, 14, 16, 30, tzinfo=UTC), -420, "camera_local"),
    ),
    "camera with a senseless zone": (
        CAMERA,
        "+99:00",
        FILE,
        None,
        (datetime(2026, 5, 14, 15, 30, tzinfo=UTC), -360, "camera_local"),
    ),
    "camera with a zone of half an hour": (
        CAMERA,
        "-03:30",
        None,
        None,
        (datetime(2026, 5, 14, 13, 0, tzinfo=UTC), -210, "camera"),
    ),
    "camera with hyphens": (
        "2026-05-14 09:30:00",
        "+00:00",
        None,
        None,
        (datetime(2026, 5, 14, 9, 30, tzinfo=UTC), 0, "camera"),
    ),
    "the hour that comes twice": (
        "2025:11:02 01:30:00",
        "",
        None,
        None,
        (datetime(2025, 11, 2, 7, 30, tzinfo=UTC), -360, "camera_local"),
    ),
    "file time only": ("", "", FILE, TYPED, FROM_FILE),
    "typed only": ("", "", None, TYPED, (TYPED, -360, "typed")),
    "nothing": ("", "", None, None, UNKNOWN),
    "a zone without a time": ("", "+02:00", None, None, UNKNOWN),
    "camera clock never set": ("0000:00:00 00:00:00", "", FILE, None, FROM_FILE),
    "camera clock empty": ("    :  :     :  :  ", "", FILE, None, FROM_FILE),
    "camera clock from the first year": ("0001:01:01 00:00:00", "+05:00", FILE, None, FROM_FILE),
    "camera clock from the last year": ("9999:12:31 23:59:59", "-05:00", FILE, None, FROM_FILE),
    "camera clock reset to 1970": ("1970:01:01 00:00:00", "+00:00", FILE, None, FROM_FILE),
    "camera clock reset to 1980": ("1980:01:01 00:00:00", "", None, None, UNKNOWN),
    "camera clock far ahead": ("2062:05:14 09:30:00", "+00:00", FILE, None, FROM_FILE),
    "camera clock two days ahead": ("2026:05:16 20:00:00", "+00:00", None, None, UNKNOWN),
    "camera clock an hour ahead": (
        "2026:05:14 18:00:00",
        "+00:00",
        FILE,
        None,
        (datetime(2026, 5, 14, 18, 0, tzinfo=UTC), 0, "camera"),
    ),
    "a day that is none": ("2026:02:30 09:30:00", "", FILE, None, FROM_FILE),
    "words": ("yesterday", "", FILE, None, FROM_FILE),
    "file time of 1970": ("", "", datetime(1970, 1, 1, tzinfo=UTC), None, UNKNOWN),
    "file time far ahead": ("", "", RECEIVED + timedelta(days=400), TYPED, (TYPED, -360, "typed")),
}


@pytest.mark.parametrize("case", TABLE)
def test_the_time_is_taken_from_the_best_source_and_says_which(case):
    clock, offset, file_time, typed, wanted = TABLE[case]
    taken = rules.taken(
        clock=rules.camera_clock(clock),
        offset=rules.camera_offset(offset),
        file_time=file_time,
        typed=typed,
        zone=ZONE,
        received_at=RECEIVED,
    )
    assert (taken.at, taken.offset_minutes, taken.known) == wanted


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF", "HEIF"])
@pytest.mark.parametrize("orientation", [1, 6])
def test_every_kind_of_file_tells_time_zone_camera_and_place(bench, kind, orientation):
    photo = bench.keep(camera_file(kind, offset="+02:00", orientation=orientation))
    assert photo.taken_at == datetime(2026, 5, 14, 7, 30, tzinfo=UTC)
    assert (photo.taken_known, photo.taken_offset, photo.zone_words) == ("camera", 120, "UTC+02:00")
    assert (photo.device, photo.located) == ("Lumenfold LF-7", True)
    assert (photo.width, photo.height) == (600, 400)


@pytest.mark.parametrize("kind", ["HEIF", "JPEG"])
@pytest.mark.parametrize(
    ("offset", "minutes", "known"),
    [("+05:45", 345, "camera"), ("-09:30", -570, "camera"), ("+00:00", 0, "camera"), ("", -360, "camera_local")],
)
def test_a_phone_abroad_tells_its_own_zone(bench, kind, offset, minutes, known):
    """Exif 2.31, OffsetTimeOriginal; without it the clock is read in the project's zone (Denver, summer time)."""
    photo = bench.keep(camera_file(kind, taken="2026:05:14 09:30:00", offset=offset))
    assert photo.taken_at == datetime(2026, 5, 14, 9, 30, tzinfo=UTC) - timedelta(minutes=minutes)
    assert (photo.taken_offset, photo.taken_known) == (minutes, known)


def test_a_camera_without_a_zone_is_read_in_the_projects_zone(bench):
    photo = bench.keep(camera_file(offset=""))
    assert photo.taken_at == datetime(2026, 5, 14, 15, 30, tzinfo=UTC)
    page = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "14 May 2026, 09:30:00" in page
    assert "time zone taken from the project" in page


def test_a_photo_whose_time_is_not_known_says_so(bench):
    photo = bench.keep(camera_file(taken="", offset=""))
    assert photo.taken_at is None
    page = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "Until a time is typed it counts from when it was received" in page


@pytest.mark.parametrize(("minutes", "words"), [(0, "UTC+00:00"), (-360, "UTC−06:00"), (345, "UTC+05:45"), (None, "")])
def test_a_zone_is_said_as_hours_and_minutes(minutes, words):
    assert rules.zone_words(minutes) == words


@pytest.mark.parametrize("typed", [RECEIVED + timedelta(minutes=1), datetime(26, 5, 14, tzinfo=UTC)])
def test_a_typed_time_that_cannot_be_is_refused(typed):
    with pytest.raises(Refusal):
        rules.check_typed(typed, RECEIVED)


@pytest.mark.parametrize(("after", "late"), [(timedelta(hours=24), False), (timedelta(hours=24, seconds=1), True)])
def test_late_means_more_than_a_day(after, late):
    assert rules.late(RECEIVED - after, RECEIVED) == late
    assert not rules.late(None, RECEIVED)
