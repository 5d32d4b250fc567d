"""Photos come in: who may send, what is answered, that nothing counts twice and no byte is changed."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from evidence import queries
from evidence.commands import take_in_many, withdraw_photo
from evidence.models import Photo
from foundation.digest import digest_bytes
from journal.models import Entry
from tests.evidence.conftest import JSON
from tests.evidence.pictures import camera_file
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project, picture_bytes

DATA = camera_file()


def test_a_new_photo_is_answered_with_201_and_what_the_sender_checks(bench):
    answer = bench.send(DATA, "IMG_0042.JPG")
    photo = Photo.objects.get()
    assert answer.status_code == 201
    assert answer.json() == {
        "id": photo.pk,
        "label": "P-0001",
        "digest": digest_bytes(DATA),
        "is_new": True,
        "page": bench.url("photo", photo.pk),
        "thumb": bench.url("rendition", photo.pk, 320),
        "taken": "2026-05-14T15:30:00+00:00",
        "known": "camera",
    }


def test_the_kept_original_is_byte_for_byte_what_was_sent(bench):
    """Rule R10."""
    photo = bench.keep(DATA)
    assert queries.original_path(photo).read_bytes() == DATA
    assert (photo.digest, photo.size) == (digest_bytes(DATA), len(DATA))


def test_the_same_bytes_twice_are_one_photo(bench):
    """Rule R11."""
    first = bench.send(DATA, "IMG_0042.JPG").json()
    again = bench.send(DATA, "renamed.jpg")
    assert again.status_code == 200
    assert again.json() == first | {"is_new": False}
    assert Photo.objects.count() == 1
    assert Entry.objects.filter(verb="photo.kept").count() == 1


def test_the_same_bytes_in_another_project_are_a_photo_of_that_project(bench):
    _, other = make_project("Other boat")
    bench.keep(DATA)
    answer = client_for(other).post(
        reverse("evidence:photos", args=[other.project.slug]),
        {"photo": SimpleUploadedFile("a.jpg", DATA)},
        headers=JSON,
    )
    assert answer.status_code == 201
    assert Photo.objects.count() == 2


def test_a_withdrawn_photo_sent_again_stands_again(bench):
    photo = bench.keep(DATA)
    withdraw_photo(by=bench.builder, at=NOW, photo=photo, reason="Blurred")
    assert bench.send(DATA).status_code == 200
    photo.refresh_from_db()
    assert not photo.withdrawn


def test_a_photo_can_be_placed_on_an_assembly_and_a_part_while_it_comes_in(bench):
    assembly = make_assembly(bench.builder)
    part = make_part(bench.builder, assembly)
    photo = bench.keep(DATA, assembly=assembly.pk, part=part.pk)
    assert [place.assembly or place.part for place in queries.placements(photo)] == [assembly, part]


def test_an_assembly_of_another_project_is_refused(bench):
    _, other = make_project("Other boat")
    answer = bench.send(DATA, assembly=make_assembly(other).pk)
    assert answer.status_code == 422
    assert "not in the project" in answer.json()["error"]
    assert not Photo.objects.exists()


def test_the_file_time_read_on_the_phone_counts_where_the_camera_says_nothing(bench):
    read = datetime(2026, 5, 2, 6, 30, tzinfo=UTC)
    photo = bench.keep(camera_file(taken="", offset=""), file_time=int(read.timestamp() * 1000))
    assert (photo.taken_at, photo.taken_known, photo.taken_offset) == (read, "file", -360)


@pytest.mark.parametrize("told", ["", "soon", "NaN", "1e99", "9" * 40, "-1"])
def test_a_senseless_file_time_does_not_cost_the_photo(bench, told):
    assert bench.keep(camera_file(taken="", offset=""), file_time=told).taken_known == "unknown"


def test_a_field_asks_for_json_where_headers_cannot_be_set(bench):
    answer = bench.client.post(bench.url("photos"), {"photo": SimpleUploadedFile("a.jpg", DATA), "json": "1"})
    assert (answer.status_code, answer.json()["label"]) == (201, "P-0001")


def test_nothing_sent_is_said(bench):
    answer = bench.client.post(bench.url("photos"), {}, headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["error"].startswith("No photo came with this")


# Without scripts


def test_a_form_sends_several_and_reads_by_name_what_was_kept_and_what_not(bench):
    files = [
        SimpleUploadedFile("good.jpg", DATA),
        SimpleUploadedFile("notes.jpg", b"not a picture"),
        SimpleUploadedFile("copy.jpg", DATA),
        SimpleUploadedFile("other.jpg", picture_bytes(seed=7)),
    ]
    answer = bench.client.post(bench.url("photos"), {"photo": files})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "notes.jpg: This is not a photo" in page
    assert "P-0001 good.jpg" in page
    assert "P-0002 other.jpg" in page
    assert Photo.objects.count() == 2


def test_a_form_whose_photos_are_all_kept_answers_200(bench):
    answer = bench.client.post(bench.url("photos"), {"photo": [SimpleUploadedFile("good.jpg", DATA)]})
    assert answer.status_code == 200


def test_a_form_without_a_file_says_what_to_do(bench):
    answer = bench.client.post(bench.url("photos"), {})
    assert answer.status_code == 422
    assert "Go back and choose one or more" in answer.content.decode()


def test_several_at_once_come_back_in_order_and_the_refused_by_name(bench):
    files = [SimpleUploadedFile("b.jpg", picture_bytes(seed=2)), SimpleUploadedFile("a.gif", b"GIF89a")]
    taken = take_in_many(by=bench.builder, at=NOW, project=bench.project, files=files)
    assert [photo.file_name for photo in taken.photos] == ["b.jpg"]
    assert taken.new == {taken.photos[0].pk}
    assert taken.refused[0].startswith("a.gif: ")


# Who may


@pytest.mark.parametrize(("role", "status"), [("helper", 201), ("paid", 201), ("inspector", 403), ("reader", 403)])
def test_those_who_log_work_send_photos_and_nobody_else(bench, role, status):
    answer = bench.send(DATA, client=client_for(make_person(bench.project, role)))
    assert answer.status_code == status
    assert Photo.objects.exists() == (status == 201)
    if status == 403:
        assert answer.json() == {"error": "Only builders and helpers log work here."}


def test_a_reader_who_sends_by_form_gets_403_as_a_page(bench):
    reader = client_for(make_person(bench.project, "reader"))
    answer = reader.post(bench.url("photos"), {"photo": SimpleUploadedFile("a.jpg", DATA)})
    assert answer.status_code == 403
    assert answer["Content-Type"].startswith("text/html")


def test_a_stranger_gets_404_as_json(bench):
    _, stranger = make_project("Other boat")
    answer = bench.send(DATA, client=client_for(stranger))
    assert answer.status_code == 404
    assert answer.json()["error"].endswith(".")


def test_somebody_signed_out_gets_401_as_json_and_a_browser_the_sign_in_page(bench):
    answer = bench.send(DATA, client=Client())
    assert answer.status_code == 401
    assert answer.json()["error"].startswith("You are signed out")
    page = Client().post(bench.url("photos"), {"photo": SimpleUploadedFile("a.jpg", DATA)})
    assert page.status_code == 302
    assert page["Location"].startswith(reverse("account_login"))


def test_a_post_without_the_page_s_token_is_refused_as_json(bench):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(bench.builder.user)
    answer = bench.send(DATA, client=strict)
    assert answer.status_code == 403
    assert "Reload it" in answer.json()["error"]
    assert not Photo.objects.exists()


def test_a_post_with_the_page_s_token_in_its_header_is_taken(bench):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(bench.builder.user)
    strict.get(bench.url("photos"))
    token = strict.cookies["csrftoken"].value
    body = {"photo": SimpleUploadedFile("a.jpg", DATA)}
    answer = strict.post(bench.url("photos"), body, headers=JSON | {"X-CSRFToken": token})
    assert answer.status_code == 201


def test_a_photo_that_comes_in_days_later_is_marked_late(bench):
    photo = bench.keep(camera_file(taken="2026:05:01 08:00:00"))
    assert photo.received_at - photo.taken_at > timedelta(days=1)
    assert photo.late
    assert "Late:" in bench.client.get(bench.url("photo", photo.pk)).content.decode()
