"""What is refused leaves nothing behind: no row, no file."""

from io import BytesIO

import pytest
from PIL import Image

from evidence import rules
from evidence.models import Photo
from tests.evidence import pictures

JPEG = pictures.saved(Image.effect_noise((900, 700), 60).convert("RGB"), quality=90)
HEIC = pictures.camera_file("HEIF", size=(900, 600))
AVIF = pictures.camera_file("AVIF", size=(900, 600))
PNG = pictures.saved(Image.effect_noise((300, 200), 60).convert("RGB"), "PNG")
WEBP = pictures.camera_file("WEBP", size=(900, 600))


def cut(data: bytes, share: float) -> bytes:
    return data[: max(1, int(len(data) * share))]


def gif() -> bytes:
    return pictures.saved(pictures.marked(), "GIF")


def tiff() -> bytes:
    return pictures.saved(pictures.marked(), "TIFF")


REFUSED = {
    "0 bytes": (b"", "empty (0 bytes)"),
    "JPEG cut at 1 %": (cut(JPEG, 0.01), ""),
    "JPEG cut at 50 %": (cut(JPEG, 0.5), "cut off"),
    "JPEG cut at 99 %": (cut(JPEG, 0.99), "cut off"),
    "PNG cut at 50 %": (cut(PNG, 0.5), "cut off"),
    "WebP cut at 50 %": (cut(WEBP, 0.5), ""),
    "HEIC cut at 5 %": (cut(HEIC, 0.05), ""),
    "HEIC cut at 50 %": (cut(HEIC, 0.5), "cut off"),
    "HEIC cut at 99 %": (cut(HEIC, 0.99), "cut off"),
    "AVIF cut at 50 %": (cut(AVIF, 0.5), "cut off"),
    "a text": (b"Bulkhead B, see the other file.\n" * 40, "not a photo"),
    "a PDF": (b"%PDF-1.7\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF", "not a photo"),
    "a GIF": (gif(), "not a photo"),
    "a TIFF": (tiff(), "not a photo"),
    "an SVG": (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "not a photo"),
    "a page": (b"<!doctype html><script>1</script>", "not a photo"),
    "a PNG bomb of 2,500 megapixels": (pictures.png_bomb(), "far larger"),
    "a PNG bomb of 144 megapixels": (pictures.png_bomb(12_000, 12_000), "12000 by 12000"),
    "only the start of a JPEG": (b"\xff\xd8\xff\xe0", "not a photo"),
    "only the start of a HEIC": (b"\0\0\0\x18ftypheic", ""),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_refused_file_is_told_in_a_sentence_and_leaves_nothing(bench, files_left, what):
    data, words = REFUSED[what]
    answer = bench.send(data, "photo.jpg")
    assert answer.status_code == 422
    assert words in answer.json()["error"]
    assert answer.json()["error"].endswith(".")
    assert not Photo.objects.exists()
    assert files_left() == []


def test_a_file_over_the_limit_is_refused_and_leaves_nothing(bench, files_left, settings):
    settings.PHOTO_MAX_BYTES = len(JPEG) - 1
    answer = bench.send(JPEG)
    assert answer.status_code == 422
    assert "at most" in answer.json()["error"]
    assert not Photo.objects.exists()
    assert files_left() == []


def test_a_far_too_large_request_is_refused_before_it_is_read(bench, files_left, settings, monkeypatch):
    settings.PHOTO_MAX_BYTES = settings.CLIP_MAX_BYTES = 1000
    monkeypatch.setattr("django.http.multipartparser.MultiPartParser.parse", lambda parser: pytest.fail("it was read"))
    answer = bench.send(b"x" * (1000 + rules.AROUND_FILES + 1))
    assert answer.status_code == 413
    assert answer.json()["error"].startswith("The file is too large")


@pytest.mark.parametrize(("data", "share"), [(HEIC, 0.0), (AVIF, 0.5)], ids=["HEIC", "AVIF"])
def test_a_slow_kind_that_breaks_only_when_decoded_is_kept_and_its_fault_shown(
    bench, django_capture_on_commit_callbacks, data, share
):
    """Its boxes are whole, so its bytes are evidence; that they cannot be shown is said on its page."""
    start = data.index(b"mdat") + 4
    start += int((len(data) - start) * share)
    hurt = data[:start] + bytes(255 - byte for byte in data[start:])
    with django_capture_on_commit_callbacks(execute=True):
        photo = bench.keep(hurt, "IMG_0001.HEIC")
    photo.refresh_from_db()
    assert photo.fault == "The photo is cut off or damaged. Take or choose it again."
    page = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert photo.fault in page
    assert bench.url("original", photo.pk) in page
    assert b"".join(bench.client.get(bench.url("original", photo.pk))) == hurt


def test_bytes_after_the_end_of_a_jpeg_are_accepted_and_kept(bench):
    """Phones hang short films and depth maps behind the picture."""
    data = JPEG + b"MotionPhoto" + bytes(range(256)) * 8
    photo = bench.keep(data)
    assert b"".join(bench.client.get(bench.url("original", photo.pk))) == data


def test_damaged_metadata_does_not_cost_the_picture(bench):
    photo = bench.keep(pictures.broken_metadata())
    assert (photo.taken_known, photo.device, photo.located) == ("unknown", "", False)


def test_a_damaged_color_profile_does_not_cost_the_picture(bench):
    photo = bench.keep(pictures.saved(pictures.marked(), icc_profile=b"not a profile at all"))
    assert photo.drawn_at is not None


def test_a_phone_picture_with_a_second_one_inside_is_a_jpeg(bench):
    photo = bench.keep(pictures.two_frames())
    assert (photo.kind, photo.width, photo.height) == ("jpg", 600, 400)
    assert pictures.is_upright(Image.open(BytesIO(b"".join(bench.client.get(bench.url("rendition", photo.pk, 320))))))


def test_a_file_name_is_kept_as_words_and_never_as_a_path(bench, files_left):
    photo = bench.keep(JPEG, "../../etc/passwd.jpg")
    assert photo.file_name == "passwd.jpg"
    assert all(name.startswith(photo.digest.removeprefix("sha256:")) for name in files_left())


def test_a_full_disk_is_said_in_words(bench, files_left, monkeypatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("evidence.commands.shutil.copyfileobj", full)
    answer = bench.send(JPEG)
    assert answer.status_code == 422
    assert "disk is full" in answer.json()["error"]
    assert not Photo.objects.exists()
    assert not [name for name in files_left() if not name.endswith(("-320.jpg", "-1280.jpg"))]
