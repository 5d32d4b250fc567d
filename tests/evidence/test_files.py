"""Originals and renditions as they leave: who gets them, validators, ranges; a lost rendition is drawn again."""

import pytest
from django.test import Client
from django.urls import reverse

from evidence import queries
from evidence.models import Photo
from foundation.digest import digest_bytes
from tests.evidence.pictures import camera_file
from tests.factories import client_for, make_person, make_project

DATA = camera_file()
SIZE = len(DATA)


@pytest.fixture
def photo(bench) -> Photo:  # noqa: ANN001
    return bench.keep(DATA, "IMG_0042.JPG")


@pytest.fixture
def original(bench, photo):  # noqa: ANN001, ANN201
    return lambda **headers: bench.client.get(bench.url("original", photo.pk), headers=headers)


def body(answer) -> bytes:  # noqa: ANN001
    return b"".join(answer)


def test_an_original_is_saved_under_its_label_with_its_own_type(bench, photo, original):
    answer = original()
    assert answer.status_code == 200
    assert body(answer) == DATA
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Content-Disposition"] == 'attachment; filename="P-0001.jpg"'
    assert answer["Content-Length"] == str(SIZE)
    assert answer["ETag"] == f'"{photo.digest}"'
    assert answer["Accept-Ranges"] == "bytes"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize(
    ("kind", "ending", "told"),
    [
        ("PNG", "png", "image/png"),
        ("WEBP", "webp", "image/webp"),
        ("AVIF", "avif", "image/avif"),
        ("HEIF", "heic", "image/heic"),
    ],
)
def test_every_kind_leaves_as_what_it_is_whatever_its_name_said(bench, kind, ending, told):
    data = camera_file(kind)
    photo = bench.keep(data, "photo.jpg")
    answer = bench.client.get(bench.url("original", photo.pk))
    assert (answer["Content-Type"], photo.kind) == (told, ending)
    assert answer["Content-Disposition"].endswith(f'"P-0001.{ending}"')
    assert body(answer) == data


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-0", 0, 0),
        ("bytes=0-99", 0, 99),
        ("bytes=100-", 100, SIZE - 1),
        ("bytes=-5", SIZE - 5, SIZE - 1),
        (f"bytes=-{SIZE * 2}", 0, SIZE - 1),
        (f"bytes={SIZE - 1}-{SIZE * 9}", SIZE - 1, SIZE - 1),
    ],
)
def test_one_range_is_sent_as_206(original, asked, first, last):
    answer = original(Range=asked)
    assert answer.status_code == 206
    assert body(answer) == DATA[first : last + 1]
    assert answer["Content-Range"] == f"bytes {first}-{last}/{SIZE}"
    assert answer["Content-Length"] == str(last - first + 1)


@pytest.mark.parametrize("asked", [f"bytes={SIZE}-", f"bytes={SIZE + 5}-{SIZE + 9}", "bytes=-0"])
def test_a_range_outside_the_file_is_416(original, asked):
    answer = original(Range=asked)
    assert answer.status_code == 416
    assert answer["Content-Range"] == f"bytes */{SIZE}"


@pytest.mark.parametrize("asked", ["bytes=9-3", "bytes=-", "bytes=a-b", "lines=1-2", "bytes=0-1,4-5", "bytes=٣-", "x"])
def test_what_cannot_be_read_as_one_range_gets_the_whole_file(original, asked):
    answer = original(Range=asked.encode().decode("latin-1"))
    assert answer.status_code == 200
    assert body(answer) == DATA


def test_a_range_counts_only_for_the_version_it_was_asked_for(photo, original):
    assert original(Range="bytes=0-9", **{"If-Range": f'"{photo.digest}"'}).status_code == 206
    assert original(Range="bytes=0-9", **{"If-Range": '"another"'}).status_code == 200
    assert original(Range="bytes=0-9", **{"If-Range": f'W/"{photo.digest}"'}).status_code == 200


@pytest.mark.parametrize("said", ['"{}"', 'W/"{}"', '"x", "{}"', "*"])
def test_a_browser_that_has_it_gets_304_without_a_body(photo, original, said):
    answer = original(**{"If-None-Match": said.format(photo.digest)})
    assert answer.status_code == 304
    assert answer.content == b""
    assert answer["ETag"] == f'"{photo.digest}"'
    assert answer["Cache-Control"] == "private, no-cache"


def test_head_tells_the_same_and_opens_no_file(bench, photo, monkeypatch):
    for name in ("original", "rendition"):
        url = bench.url(name, photo.pk, *([320] if name == "rendition" else []))
        got = bench.client.get(url)
        size = len(body(got))
        monkeypatch.setattr("pathlib.Path.open", lambda *_: pytest.fail("the file was opened"))
        head = bench.client.head(url, headers={"Range": "bytes=0-3"})
        monkeypatch.undo()
        assert (head.status_code, head.content, head["Content-Length"]) == (200, b"", str(size))
        for header in ("ETag", "Content-Type", "Cache-Control", "Accept-Ranges"):
            assert head[header] == got[header]


def test_the_file_is_closed_when_the_answer_is(original, monkeypatch):
    closed = []
    monkeypatch.setattr("foundation.sending.Slice.close", lambda part: (closed.append(part), part.file.close()))
    answer = original(Range="bytes=0-9")
    answer.close()
    assert [part.file.closed for part in closed] == [True]


def test_a_rendition_is_cached_for_ever_by_this_browser_alone(bench, photo):
    answer = bench.client.get(bench.url("rendition", photo.pk, 1280))
    assert answer["Cache-Control"] == "private, max-age=31536000, immutable"
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["ETag"] == f'"{photo.digest}-1280"'
    assert "Content-Disposition" not in answer
    assert (
        bench.client.get(bench.url("rendition", photo.pk, 1280), headers={"If-None-Match": answer["ETag"]}).status_code
        == 304
    )


@pytest.mark.parametrize("size", [0, 1, 319, 640, 1281, 99999])
def test_only_the_two_sizes_exist(bench, photo, size):
    assert bench.client.get(bench.url("rendition", photo.pk, size)).status_code == 404


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_lost_rendition_is_drawn_again_the_same(bench, kind):
    photo = bench.keep(camera_file(kind))
    path = queries.rendition_path(photo.digest, 320)
    before = path.read_bytes()
    path.unlink()
    assert body(bench.client.get(bench.url("rendition", photo.pk, 320))) == before


def test_a_heic_is_404_until_the_worker_has_drawn_it(bench, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks() as later:
        photo = bench.keep(camera_file("HEIF"))
    assert bench.client.get(bench.url("rendition", photo.pk, 320)).status_code == 404
    page = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "Being prepared" in page
    assert 'hx-trigger="load delay:2s"' in page
    for callback in later:
        callback()
    assert bench.client.get(bench.url("rendition", photo.pk, 320)).status_code == 200
    assert "Being prepared" not in bench.client.get(bench.url("photo", photo.pk)).content.decode()


def test_a_lost_rendition_of_a_heic_is_queued_once(bench, django_capture_on_commit_callbacks, monkeypatch):
    with django_capture_on_commit_callbacks(execute=True):
        photo = bench.keep(camera_file("HEIF"))
    queued = []
    monkeypatch.setattr("evidence.commands.tasks.draw_renditions", type("Later", (), {"enqueue": queued.append}))
    queries.rendition_path(photo.digest, 320).unlink()
    for _ in range(3):
        assert bench.client.get(bench.url("rendition", photo.pk, 320)).status_code == 404
    assert queued == [photo.pk]


def test_htmx_gets_the_picture_alone(bench, photo):
    piece = bench.client.get(bench.url("photo", photo.pk), headers={"HX-Request": "true"}).content.decode()
    assert piece.lstrip().startswith('<section class="sheet photo-large" id="picture"')
    assert "<html" not in piece


def test_an_original_missing_from_the_disk_is_404(bench, photo, original):
    path = queries.original_path(photo)
    path.chmod(0o600)
    path.unlink()
    assert original().status_code == 404


def test_files_go_to_members_only(bench, photo):
    """A reader reads, a stranger learns nothing, a key of another project opens nothing."""
    other_project, stranger = make_project("Other boat")
    urls = [bench.url("original", photo.pk), bench.url("rendition", photo.pk, 320)]
    for url in urls:
        assert client_for(make_person(bench.project, "reader")).get(url).status_code == 200
        assert client_for(stranger).get(url).status_code == 404
        assert Client().get(url).status_code == 302
        assert bench.client.post(url).status_code == 405
    theirs = reverse("evidence:original", args=[other_project.slug, photo.pk])
    assert client_for(stranger).get(theirs).status_code == 404


def test_a_place_on_the_disk_comes_from_a_digest_and_nothing_else():
    good = digest_bytes(b"")
    assert queries.rendition_path(good, 320).name == f"{good[7:]}-320.jpg"
    for bad in ("", "sha256:", "../" * 22, "sha256:" + "../" * 21 + "x", good[:-1], good + "0", good[:-1] + "G"):
        with pytest.raises(ValueError, match="not a digest"):
            queries.rendition_path(bad, 320)
