"""Photos that come along with the form of another app."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template.loader import render_to_string
from django.test import RequestFactory

from evidence.access import chosen_photos
from evidence.models import Photo
from tests.factories import NOW, make_photo, make_project, picture_bytes


@pytest.fixture
def choose(bench):  # noqa: ANN001, ANN201
    def chosen(**fields: object) -> tuple[list[Photo], list[str]]:
        request = RequestFactory().post("/", fields)
        return chosen_photos(request, bench.project, bench.builder, NOW)

    return chosen


def test_attached_photos_come_back_in_their_order_without_those_ticked_for_removal(bench, choose):
    one, two, three = (make_photo(bench.builder) for _ in range(3))
    photos, refused = choose(photos=[three.pk, one.pk, two.pk, three.pk], remove_photos=[one.pk])
    assert (photos, refused) == ([three, two], [])


def test_a_key_of_another_project_is_left_out_with_a_word(bench, choose):
    _, other = make_project("Other boat")
    photos, refused = choose(photos=[make_photo(other).pk, "nonsense", ""])
    assert photos == []
    assert refused == ["2 chosen photos are no longer in this record and left out here."]


def test_new_files_are_taken_in_behind_the_attached_and_refused_ones_told_by_name(bench, choose):
    old = make_photo(bench.builder)
    files = [
        SimpleUploadedFile("a.jpg", picture_bytes(seed=501)),
        SimpleUploadedFile("b.jpg", b"no picture"),
        SimpleUploadedFile("c.jpg", picture_bytes(seed=502)),
    ]
    photos, refused = choose(photos=[old.pk], new_photos=files)
    assert [photo.file_name for photo in photos] == ["photo.jpg", "a.jpg", "c.jpg"]
    assert len(refused) == 1
    assert refused[0].startswith("b.jpg: ")


def test_a_file_that_is_attached_already_comes_once(bench, choose):
    data = picture_bytes(seed=503)
    old = make_photo(bench.builder, data=data)
    photos, _ = choose(photos=[old.pk], new_photos=[SimpleUploadedFile("again.jpg", data)])
    assert photos == [old]


def test_a_page_that_is_only_read_chooses_nothing(bench):
    assert chosen_photos(RequestFactory().get("/"), bench.project, bench.builder, NOW) == ([], [])


def test_the_grid_carries_keys_removal_and_both_ways_to_add(bench, rf):
    request = rf.get("/")
    request.seat = type("Seat", (), {"project": bench.project, "person": bench.builder})()
    request.resolver_match = None
    photo = make_photo(bench.builder)
    html = render_to_string("evidence/_attach.html", {"photos": [photo], "name": "photos"}, request)
    assert f'<input type="hidden" name="photos" value="{photo.pk}">' in html
    assert f'<input type="checkbox" name="remove_photos" value="{photo.pk}">' in html
    assert html.count('name="new_photos"') == 2
    assert 'capture="environment"' in html
    assert f'data-upload="{bench.url("photos")}"' in html
    assert " style=" not in html
    assert "onclick" not in html
