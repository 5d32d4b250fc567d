"""What the page that sends many photos asks of the server."""

import re

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from evidence import commands
from evidence.models import Photo
from journal.models import Entry
from tests.evidence.conftest import JSON, Bench
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_person,
    make_photo,
    make_project,
    make_user,
    picture_bytes,
)

UNKNOWN = "sha256:" + "0" * 64


def ask(bench: Bench, digests: list[str], **more: str) -> dict:
    answer = bench.client.post(bench.url("bulk"), {"digest": digests, **more}, headers=JSON)
    assert answer.status_code == 200, answer.content
    return answer.json()["photos"]


def test_it_tells_which_files_need_not_be_sent(bench):
    known = make_photo(bench.builder)
    there = ask(bench, [known.digest, UNKNOWN])
    assert set(there) == {known.digest}
    assert there[known.digest] == {
        "id": known.pk,
        "label": known.label,
        "page": bench.url("photo", known.pk),
        "withdrawn": False,
    }


def test_photos_that_are_known_are_placed_where_was_asked_once(bench):
    known, assembly = make_photo(bench.builder), make_assembly(bench.builder)
    for _ in range(2):
        ask(bench, [known.digest], assembly=assembly.pk)
    assert known.placements.get().assembly == assembly
    assert Entry.objects.filter(verb="photo.placed").count() == 1


def test_a_withdrawn_photo_is_told_and_stays_withdrawn(bench):
    gone, assembly = make_photo(bench.builder), make_assembly(bench.builder)
    commands.withdraw_photo(by=bench.builder, at=NOW, photo=gone, reason="Blurred")
    assert ask(bench, [gone.digest], assembly=assembly.pk)[gone.digest]["withdrawn"] is True
    assert not gone.placements.exists()


def test_photos_of_another_project_are_not_known_here(bench):
    theirs = make_photo(make_project("Other")[1])
    assert ask(bench, [theirs.digest]) == {}


def test_at_most_a_hundred_are_asked_about_at_once(bench):
    known = make_photo(bench.builder)
    assert ask(bench, [f"sha256:{n:064x}" for n in range(100)] + [known.digest]) == {}


def test_a_hundred_cost_as_many_queries_as_one(bench, django_assert_max_num_queries):
    photos = [make_photo(bench.builder) for _ in range(5)]
    with django_assert_max_num_queries(20) as one:
        ask(bench, [photos[0].digest])
    with django_assert_max_num_queries(len(one)):
        ask(bench, [photo.digest for photo in photos])


def test_an_assembly_that_is_gone_is_a_sentence(bench):
    answer = bench.client.post(bench.url("bulk"), {"digest": [UNKNOWN], "assembly": "gone"}, headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["error"] == "This assembly is not in the project any more. Choose another."


def test_a_page_open_for_long_gets_a_fresh_token(bench):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(bench.builder.user)
    token = strict.get(bench.url("bulk"), headers=JSON).json()["csrf"]
    assert strict.post(bench.url("bulk"), {"digest": UNKNOWN}, headers=JSON).status_code == 403
    answer = strict.post(bench.url("bulk"), {"digest": UNKNOWN}, headers=JSON | {"X-CSRFToken": token})
    assert answer.status_code == 200


def test_who_may_not_send_hears_why(bench):
    hal = make_person(bench.project, "inspector")
    assert client_for(hal).post(bench.url("bulk"), {"digest": UNKNOWN}, headers=JSON).status_code == 403
    assert client_for(hal).get(bench.url("bulk")).status_code == 403
    assert Client().post(bench.url("bulk"), {"digest": UNKNOWN}, headers=JSON).status_code == 401
    stranger = make_project("Other", user=make_user())[1]
    assert client_for(stranger).post(bench.url("bulk"), {"digest": UNKNOWN}, headers=JSON).status_code == 404


def test_without_script_the_form_sends_several_files_to_the_photos_page(bench):
    html = bench.client.get(bench.url("bulk")).content.decode()
    action = re.search(r'<form method="post" enctype="multipart/form-data" action="([^"]+)"', html)[1]
    assert action == bench.url("photos") == reverse("evidence:photos", args=[bench.project.slug])
    assert re.search(r'<input type="file" name="photo" multiple', html)
    files = [SimpleUploadedFile(f"{n}.jpg", picture_bytes(seed=4000 + n)) for n in range(3)]
    assert bench.client.post(action, {"photo": files}).status_code == 200
    assert Photo.objects.count() == 3
