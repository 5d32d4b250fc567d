"""Where clips stand in the record: on sessions and places, never for a photo that a gate asks for, in the print as a
note, and read back like every original."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from archive import queries as archive
from certification import pages, queries
from evidence import commands as evidence
from evidence.models import Photo
from foundation.refusal import Refusal
from inspections import commands as inspections
from inspections.queries import photos_to_choose
from tests.evidence import recordings
from tests.factories import NOW, client_for, make_area, make_assembly, make_project, make_session

pytestmark = pytest.mark.django_db


@pytest.fixture
def record():  # noqa: ANN201
    project, edda = make_project()
    return project, edda, make_assembly(edda, "24.1")


def keep(by, data: bytes, *places) -> Photo:  # noqa: ANN001
    return evidence.take_in(by=by, at=NOW, project=by.project, file=BytesIO(data), name="clip", places=places)[0]


def test_a_clip_does_not_serve_where_a_photo_is_asked_for(record) -> None:
    project, edda, float_ = record
    area = make_area(edda, float_)
    asked = area.requirements.get(kind="photo")
    for data, words in ((recordings.movie(), "a video"), (recordings.sound_file(), "a voice note")):
        clip = keep(edda, data, float_)
        with pytest.raises(Refusal, match=f"{clip.label} is {words}, not a photo, so it does not count here."):
            inspections.show_photo(by=edda, at=NOW, requirement=asked, photo=clip)
        assert clip not in photos_to_choose(project, area, asked)


def test_a_clip_that_a_form_sends_for_an_item_is_kept_and_told_not_to_count(record) -> None:
    project, edda, float_ = record
    area = make_area(edda, float_)
    url = reverse("inspections:item_photo", args=[project.slug, area.pk, area.requirements.get(kind="photo").pk])
    answer = client_for(edda).post(url, {"new_photos": BytesIO(recordings.movie())})
    assert answer.status_code == 422
    assert "not a photo" in answer.content.decode()
    assert Photo.objects.get().kind == "mp4"


def test_a_session_shows_its_clips_with_their_length(record) -> None:
    project, edda, float_ = record
    photos = (keep(edda, recordings.movie(), float_), keep(edda, recordings.sound_file(32.0)))
    session = make_session(edda, float_, photos=photos)
    page = client_for(edda).get(reverse("buildlog:session", args=[project.slug, session.pk])).content.decode()
    assert "Video, 0:14" in page
    assert "Voice note, 0:32" in page
    assert "320.jpg" not in page


def test_its_page_plays_it_and_tells_length_and_size(record) -> None:
    project, edda, _ = record
    clip = keep(edda, recordings.movie())
    page = client_for(edda).get(reverse("evidence:photo", args=[project.slug, clip.pk])).content.decode()
    assert f'<video controls playsinline preload="metadata" src="/{project.slug}/photos/{clip.pk}/play/"' in page
    assert "Video, 0:14, 10." in page
    assert "Being prepared" not in page
    sound = keep(edda, recordings.sound_file())
    page = client_for(edda).get(reverse("evidence:photo", args=[project.slug, sound.pk])).content.decode()
    assert f'<audio controls preload="metadata" src="/{project.slug}/photos/{sound.pk}/play/"' in page
    assert "0 × 0" not in page


def test_in_print_a_note_stands_for_a_clip(record, tmp_path) -> None:
    project, edda, float_ = record
    clip = keep(edda, recordings.movie(data=bytes(2_500_000)), float_)
    make_session(edda, float_, photos=(clip,))
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    assert facts["counts"]["photos_printed"] == 0
    out = tmp_path / "record.pdf"
    remarks = pages.write_record(facts, out)
    text = "\n".join(page.extract_text() for page in PdfReader(out).pages)
    assert "Video, 0:14, 2.4 MB" in text
    assert "Kept in the record, not printed" in text
    assert clip.short_digest in text
    assert not [remark for remark in remarks if clip.label in remark]


def test_its_bytes_are_read_back_like_every_original(record, settings) -> None:
    project, edda, _ = record
    clip = keep(edda, recordings.movie())
    assert not list(archive.faults(project))
    path = next(settings.ORIGINALS_DIR.rglob("*.mp4"))
    path.chmod(0o600)
    path.write_bytes(recordings.movie()[:-1] + b"x")
    assert any(clip.label in fault for fault in archive.faults(project))
