"""The contact sheet and the page of one photo, with its corrections and who may make them."""

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from evidence import commands, queries
from evidence.models import Photo
from journal.models import Entry
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_part,
    make_person,
    make_photo,
    make_project,
    picture_bytes,
)


def page(bench, name: str, *keys: object, query: str = "", client: Client | None = None) -> str:  # noqa: ANN001
    answer = (client or bench.client).get(bench.url(name, *keys) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_empty_record_says_how_photos_come_in(bench):
    assert "No photos yet" in page(bench, "photos")
    reader = client_for(make_person(bench.project, "reader"))
    shown = page(bench, "photos", client=reader)
    assert "Photos that the builder sends" in shown
    assert 'type="file"' not in shown


def test_the_contact_sheet_holds_60_newest_first_and_reserves_their_places(bench):
    data = picture_bytes(size=(320, 240))
    photos = [make_photo(bench.builder, data=data + bytes([n]), at=NOW + timedelta(seconds=n)) for n in range(61)]
    for n, photo in enumerate(photos):
        Photo.objects.filter(pk=photo.pk).update(taken_at=NOW - timedelta(minutes=n))
    first = page(bench, "photos")
    assert first.count("<figure") - first.count("<template") == 60
    assert first.index("P-0001") < first.index("P-0060")
    assert "P-0061" not in first
    assert 'width="320" height="240" loading="lazy"' in first
    further = re.search(r'href="([^"]*before=[^"]*)">Older photos', first)
    assert "P-0061" in page(bench, "photos", query=unescape(further[1]))


def test_a_photo_whose_time_is_not_known_stands_where_it_was_received(bench):
    old = make_photo(bench.builder, at=NOW)
    unknown = make_photo(bench.builder, data=picture_bytes(taken="", offset=""), at=NOW)
    assert list(queries.photos(bench.project)) == [unknown, old]
    assert "Time not known, received 14 May 2026" in page(bench, "photos")


def test_the_contact_sheet_of_an_assembly_has_what_hangs_below_and_its_parts_but_each_photo_once(bench):
    wing = make_assembly(bench.builder, "20", "Wing")
    tip = make_assembly(bench.builder, "24.1", "Tip float", wing)
    hull = make_assembly(bench.builder, "10", "Hull")
    part = make_part(bench.builder, tip)
    on_wing, on_tip, on_part, on_hull = (make_photo(bench.builder) for _ in range(4))
    for photo, place in ((on_wing, wing), (on_tip, tip), (on_tip, wing), (on_hull, hull)):
        commands.place_photo(by=bench.builder, at=NOW, photo=photo, places=[place])
    commands.place_photo(by=bench.builder, at=NOW, photo=on_part, places=[part])
    assert set(queries.photos_on(wing)) == {on_wing, on_tip, on_part}
    assert queries.photos_on(wing).count() == 3
    assert set(queries.photos_on(wing, below=False)) == {on_wing, on_tip}
    shown = page(bench, "photos", query=f"?assembly={wing.pk}")
    assert "3 photos on" in shown
    assert on_hull.label not in shown
    assert "2 photos on" in page(bench, "photos", query=f"?assembly={wing.pk}&only=on")


def test_an_assembly_of_another_project_filters_nothing_out_of_it(bench):
    _, other = make_project("Other boat")
    theirs = make_assembly(other, "99", "Secret hull")
    shown = page(bench, "photos", query=f"?assembly={theirs.pk}")
    assert "Secret hull" not in shown


def test_photos_without_a_caption_can_be_found(bench):
    told, bare = make_photo(bench.builder, caption="Bulkhead B"), make_photo(bench.builder)
    shown = page(bench, "photos", query="?caption=none")
    assert bare.label in shown
    assert told.label not in shown
    assert "2 in the record, 1 without a caption" in shown


def test_the_contact_sheet_asks_the_database_no_more_for_many_photos_than_for_few(bench, django_assert_max_num_queries):
    make_photo(bench.builder)
    with django_assert_max_num_queries(100) as few:
        page(bench, "photos")
    for _ in range(12):
        make_photo(bench.builder)
    with django_assert_max_num_queries(len(few)):
        page(bench, "photos")


def test_the_page_tells_what_is_known(bench):
    assembly = make_assembly(bench.builder, "24.1", "Tip float, left")
    part = make_part(bench.builder, assembly, "TW2-0101", name="Bulkhead B")
    photo = make_photo(
        bench.builder, places=[assembly], caption="Fillet, aft face", shows="inside", builder_in_frame=True
    )
    commands.place_photo(by=bench.builder, at=NOW, photo=photo, places=[part])
    shown = page(bench, "photo", photo.pk)
    for words in (
        photo.label,
        "Fillet, aft face",
        "14 May 2026, 09:30:00",
        "UTC−06:00",
        "by the camera, with its time zone",
        "Edda Norrell",
        "Lumenfold LF-7",
        "640 × 480 pixels",
        photo.short_digest,
        photo.digest,
        "Inside before closing, builder in the picture",
        "photo.jpg",
        "Tip float, left",
        "Bulkhead B",
        bench.url("original", photo.pk),
    ):
        assert words in shown, words


def test_newer_and_older_lead_through_the_contact_sheet(bench):
    photos = [make_photo(bench.builder, data=picture_bytes(seed=n, taken=f"2026:05:1{n} 09:00:00")) for n in range(4)]
    commands.withdraw_photo(by=bench.builder, at=NOW, photo=photos[2], reason="Blurred")
    assert queries.neighbors(photos[1]) == (photos[3], photos[0])
    assert queries.neighbors(photos[0]) == (photos[1], None)
    assert queries.neighbors(photos[3]) == (None, photos[1])
    shown = page(bench, "photo", photos[1].pk)
    assert bench.url("photo", photos[3].pk) in shown
    assert bench.url("photo", photos[0].pk) in shown


def test_photos_of_the_same_second_are_led_through_by_number(bench):
    photos = [make_photo(bench.builder) for _ in range(3)]
    assert list(queries.photos(bench.project)) == photos[::-1]
    assert queries.neighbors(photos[1]) == (photos[2], photos[0])


def test_a_caption_is_corrected_and_the_old_one_stays_readable(bench):
    photo = make_photo(bench.builder, caption="Bulkhead A")
    sent = {
        "caption": "Bulkhead B",
        "shows": "inside",
        "builder_in_frame": "on",
        "taken_by": bench.builder.pk,
        "reason": "Mistyped",
    }
    answer = bench.client.post(bench.url("photo_edit", photo.pk), sent)
    assert answer["Location"] == bench.url("photo", photo.pk)
    photo.refresh_from_db()
    assert (photo.caption, photo.shows, photo.builder_in_frame, photo.taken_by) == (
        "Bulkhead B",
        "inside",
        True,
        bench.builder,
    )
    shown = page(bench, "photo", photo.pk)
    assert "<del>Bulkhead A</del>" in shown and "<ins>Bulkhead B</ins>" in shown
    assert "<ins>Edda Norrell</ins>" in shown
    assert "Reason: Mistyped" in shown


def test_saving_nothing_new_writes_nothing(bench):
    photo = make_photo(bench.builder, caption="Bulkhead A")
    before = Entry.objects.count()
    assert bench.client.post(bench.url("photo_edit", photo.pk), {"caption": "Bulkhead A"}).status_code == 302
    assert Entry.objects.count() == before


def test_what_is_typed_is_shown_as_text(bench):
    photo = make_photo(bench.builder, caption="<script>alert(1)</script>")
    assert "<script>alert" not in page(bench, "photo", photo.pk) + page(bench, "photos")


def test_a_typed_time_is_read_in_the_projects_zone_and_marked_as_typed(bench):
    photo = make_photo(bench.builder)
    sent = {"taken_at": "2026-05-13T08:15:00", "reason": "Clock of the camera a day ahead"}
    assert bench.client.post(bench.url("photo_time", photo.pk), sent).status_code == 302
    photo.refresh_from_db()
    assert (photo.taken_at, photo.taken_known, photo.taken_offset) == (
        datetime(2026, 5, 13, 14, 15, tzinfo=UTC),
        "typed",
        -360,
    )
    shown = page(bench, "photo", photo.pk)
    assert "<del>14 May 2026, 09:30</del>" in shown and "<ins>13 May 2026, 08:15</ins>" in shown
    assert "Reason: Clock of the camera a day ahead" in shown


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"taken_at": "2026-05-13T08:15", "reason": " "}, "required"),
        ({"taken_at": "2999-05-13T08:15", "reason": "x"}, "still to come"),
        ({"taken_at": "0026-05-13T08:15", "reason": "x"}, "Check the year"),
        ({"taken_at": "2026-03-08T02:30", "reason": "x"}, "couldn’t be interpreted"),
        ({"taken_at": "soon", "reason": "x"}, "valid date"),
    ],
)
def test_a_time_that_cannot_be_is_refused_beside_its_field(bench, sent, words):
    photo = make_photo(bench.builder)
    answer = bench.client.post(bench.url("photo_time", photo.pk), sent)
    assert answer.status_code == 422
    assert words in answer.content.decode().replace("&#x27;", "’")
    photo.refresh_from_db()
    assert photo.taken_known == "camera"


def test_a_withdrawn_photo_leaves_the_lists_and_keeps_page_file_and_history(bench):
    photo = make_photo(bench.builder)
    url = bench.url("photo_withdraw", photo.pk)
    assert bench.client.post(url, {"reason": ""}).status_code == 422
    assert bench.client.post(url, {"reason": "Shows the neighbor's boat"}).status_code == 302
    assert not queries.photos(bench.project).exists()
    shown = page(bench, "photo", photo.pk)
    assert "Withdrawn on" in shown
    assert "Shows the neighbor" in shown
    assert bench.client.get(bench.url("original", photo.pk)).status_code == 200
    assert bench.client.post(url, {"reason": "again"}).status_code == 422
    assert bench.client.post(bench.url("photo_restore", photo.pk)).status_code == 302
    assert queries.photos(bench.project).get() == photo


def test_restoring_what_stands_writes_nothing(bench):
    photo = make_photo(bench.builder)
    before = Entry.objects.count()
    bench.client.post(bench.url("photo_restore", photo.pk))
    assert Entry.objects.count() == before


def test_a_photo_is_placed_and_taken_off(bench):
    assembly = make_assembly(bench.builder, "24.1", "Tip float, left")
    photo = make_photo(bench.builder)
    assert bench.client.post(bench.url("photo_place", photo.pk), {"assembly": "", "part": ""}).status_code == 422
    for _ in range(2):
        assert bench.client.post(bench.url("photo_place", photo.pk), {"assembly": assembly.pk}).status_code == 302
    place = queries.placements(photo).get()
    assert Entry.objects.filter(verb="photo.placed").count() == 1
    assert bench.client.post(bench.url("photo_unplace", photo.pk, place.pk)).status_code == 302
    assert not queries.placements(photo).exists()
    assert "<del>24.1 Tip float, left</del>" in page(bench, "photo", photo.pk)
    assert bench.client.post(bench.url("photo_unplace", photo.pk, place.pk)).status_code == 404


def test_next_never_leads_off_the_site(bench):
    photo = make_photo(bench.builder)
    answer = bench.client.post(
        bench.url("photo_edit", photo.pk), {"caption": "x", "next": "https://elsewhere.example/"}
    )
    assert answer["Location"] == bench.url("photo", photo.pk)


GETS = ["photos", "photo", "photo_edit", "photo_time", "photo_withdraw", "original"]
POSTS = ["photo_edit", "photo_time", "photo_withdraw", "photo_restore", "photo_place"]
OPEN_TO_HELPERS = {"photo_edit", "photo_place"}


def keys(name: str, photo: Photo) -> list[str]:
    return [] if name == "photos" else [photo.pk]


@pytest.mark.parametrize("name", GETS)
def test_a_stranger_gets_404_and_somebody_signed_out_the_sign_in_page(bench, name):
    photo = make_photo(bench.builder)
    _, stranger = make_project("Other boat")
    url = bench.url(name, *keys(name, photo))
    assert client_for(stranger).get(url).status_code == 404
    answer = Client().get(url)
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("account_login"))


@pytest.mark.parametrize("name", ["photo", "photo_edit", "photo_time", "photo_withdraw", "original"])
def test_a_photo_of_another_project_is_404_under_ones_own_project(bench, name):
    _, other = make_project("Other boat")
    theirs = make_photo(other)
    assert bench.client.get(bench.url(name, theirs.pk)).status_code == 404


@pytest.mark.parametrize("name", POSTS)
@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_who_may_change_what(bench, name, role):
    photo = make_photo(bench.builder)
    answer = client_for(make_person(bench.project, role)).post(bench.url(name, photo.pk), {})
    if role == "helper" and name in OPEN_TO_HELPERS:
        assert answer.status_code != 403
    else:
        assert answer.status_code == 403


@pytest.mark.parametrize("role", ["inspector", "reader"])
def test_readers_see_no_button_that_would_refuse_them(bench, role):
    photo = make_photo(bench.builder)
    shown = page(bench, "photo", photo.pk, client=client_for(make_person(bench.project, role)))
    for name in POSTS:
        assert bench.url(name, photo.pk) not in shown
