"""The timer from the shop page to the form that describes what it left."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from buildlog import commands
from buildlog.models import WorkSession
from tests.buildlog.browse import Shop, form_of, text_of
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_person,
    make_project,
    make_user,
    picture_bytes,
)

ACTS = ["timer_stop", "timer_break", "timer_on", "timer_join", "timer_leave", "timer_photo"]


@pytest.fixture
def wing(shop: Shop):  # noqa: ANN201
    return make_assembly(shop.person, "20", "Wing")


def start(shop: Shop, assembly, request_id: str = "tap-1") -> WorkSession:
    response = shop.post("timer_start", assembly=assembly.pk, request_id=request_id)
    assert response.status_code == 302
    return WorkSession.objects.get(request_id=request_id)


def home(shop: Shop) -> str:
    return text_of(shop.get("inspections:shop"))


def test_one_post_starts_and_one_stops_and_the_form_follows(shop, wing, clock):
    session = start(shop, wing)
    assert session.running
    assert (session.started_at, session.entered_by, session.place) == (NOW, shop.person, shop.project.place)
    clock.now = NOW + timedelta(hours=1, seconds=42)
    response = shop.post("timer_stop", session.pk)
    assert (response.status_code, response["Location"]) == (302, shop.url("session_edit", session.pk))
    session.refresh_from_db()
    assert session.labor_seconds == 3642
    page = shop.client.get(response["Location"])
    assert "Log the session" in text_of(page)
    assert "Stopped. Session 1 is logged" in text_of(page)


def test_the_timer_is_on_the_server_and_there_after_a_reload_and_on_another_device(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=84)
    phone = Shop(shop.person, client_for(shop.person))
    for device in (shop, shop, phone):
        page = home(device)
        assert "1:24" in page
        assert "Running" in page
        assert shop.url("timer_stop", session.pk) in page
    assert phone.post("timer_stop", session.pk).status_code == 302
    assert "Nothing running" in home(shop)
    # The first device still shows the old page and stops again: nothing changes, the form follows.
    clock.now = NOW + timedelta(hours=5)
    response = shop.post("timer_stop", session.pk)
    assert response["Location"] == shop.url("session_edit", session.pk)
    session.refresh_from_db()
    assert session.labor_seconds == 84 * 60


def test_a_start_sent_twice_is_one_session_also_after_it_was_stopped(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=5)
    assert start(shop, wing) == session
    shop.post("timer_stop", session.pk)
    assert start(shop, wing) == session
    assert "Session 1 was stopped already." in home(shop)
    assert WorkSession.objects.count() == 1
    assert not WorkSession.objects.running().exists()


def test_every_start_button_has_a_request_of_its_own(shop, wing):
    for _ in range(3):
        make_assembly(shop.person)
    page = home(shop)
    ids = [part.split('"')[0] for part in page.split('name="request_id" value="')[1:]]
    assert len(ids) == len(set(ids)) >= 2
    assert all(0 < len(one) <= 36 for one in ids)


def test_switching_stops_the_first(shop, wing, clock):
    first = start(shop, wing)
    clock.now = NOW + timedelta(minutes=30)
    second = start(shop, make_assembly(shop.person), "tap-2")
    first.refresh_from_db()
    assert (first.labor_seconds, first.ended_at, second.started_at) == (1800, clock.now, clock.now)
    assert list(WorkSession.objects.running()) == [second]


def test_two_people_on_one_job_have_their_own_times(shop, wing, clock):
    jory = make_person(shop.project, name="Jory Pask")
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=10)
    assert "Joins now" in home(shop)
    assert shop.post("timer_join", session.pk, person=jory.pk).status_code == 302
    # Nobody else is there to join, and one of the two can still leave.
    page = home(shop)
    assert "Joins now" not in page
    assert page.count("Leaves now") == 2
    assert "Jory Pask" in page
    clock.now = NOW + timedelta(minutes=25)
    helper = Shop(jory, client_for(jory))
    assert helper.post("timer_leave", session.pk, person=jory.pk).status_code == 302
    assert "Jory Pask (left 11:25)" in home(shop)
    clock.now = NOW + timedelta(minutes=60)
    shop.post("timer_stop", session.pk)
    rows = {row.person_id: row.labor_seconds for row in session.people.all()}
    assert rows == {shop.person.pk: 3600, jory.pk: 900}
    session.refresh_from_db()
    assert session.labor_seconds == 4500 == session.shares.get().seconds


def test_the_last_one_to_leave_comes_to_the_form(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=25)
    response = shop.post("timer_leave", session.pk, person=shop.person.pk)
    assert response["Location"] == shop.url("session_edit", session.pk)
    assert not WorkSession.objects.get().running


def test_joining_a_timer_that_was_stopped_is_told(shop, wing, clock):
    jory = make_person(shop.project)
    session = start(shop, wing)
    shop.post("timer_stop", session.pk)
    shop.post("timer_join", session.pk, person=jory.pk)
    assert "This timer has been stopped. Start a new one." in home(shop)


def test_only_people_of_the_project_who_log_hours_join(shop, wing):
    session = start(shop, wing)
    _, olin = make_project("Other boat", builder="Olin Marsh")
    for person in (olin, make_person(shop.project, "inspector")):
        assert shop.post("timer_join", session.pk, person=person.pk).status_code == 404
    assert shop.post("timer_leave", session.pk, person=olin.pk).status_code == 404
    assert session.people.count() == 1


def test_a_break_is_shown_and_taken_off_and_the_stop_ends_it(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=10)
    shop.post("timer_break", session.pk)
    clock.now = NOW + timedelta(minutes=22)
    page = home(shop)
    assert "On a break" in page
    assert "0:10" in page
    assert "data-elapsed-from" not in page
    shop.post("timer_on", session.pk)
    page = home(shop)
    assert 'data-elapsed-less="720"' in page
    assert "breaks 0:12" in page
    clock.now = NOW + timedelta(minutes=30)
    shop.post("timer_break", session.pk)
    clock.now = NOW + timedelta(minutes=40)
    shop.post("timer_stop", session.pk)
    row = session.people.get()
    assert (row.break_seconds, row.labor_seconds) == (22 * 60, 18 * 60)


def test_stopping_in_the_second_of_the_start_leaves_one_second_that_can_be_described(shop, wing):
    session = start(shop, wing)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    assert shop.fill(page, note="Tapped by mistake").status_code == 302
    session.refresh_from_db()
    assert (session.labor_seconds, session.note) == (1, "Tapped by mistake")


def test_a_timer_saved_untouched_keeps_its_seconds_and_needs_no_reason_but_a_later_change_does(shop, wing, clock):
    jory = make_person(shop.project)
    clock.now = NOW + timedelta(seconds=13)
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=7, seconds=51)
    shop.post("timer_join", session.pk, person=jory.pk)
    clock.now = NOW + timedelta(minutes=9, seconds=5)
    shop.post("timer_break", session.pk)
    clock.now = NOW + timedelta(minutes=11, seconds=46)
    shop.post("timer_on", session.pk)
    clock.now = NOW + timedelta(minutes=33, seconds=7)
    shop.post("timer_leave", session.pk, person=jory.pk)
    clock.now = NOW + timedelta(minutes=58, seconds=59)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    before = [row.state() for row in session.people.order_by("pk")]
    assert "reason" not in form_of(page)[0]
    assert shop.fill(page).status_code == 302
    assert [row.state() for row in session.people.order_by("pk")] == before
    page = shop.get("session_edit", session.pk)
    assert "reason" in form_of(page)[0]
    page = shop.fill(page, note="Deck boss bedded")
    assert page.status_code == 422
    assert form_of(page)[0]["note"] == ["Deck boss bedded"]
    assert shop.fill(page, reason="No words before").status_code == 302
    assert [row.state() for row in session.people.order_by("pk")] == before


def test_a_change_of_one_time_leaves_the_seconds_of_the_others(shop, wing, clock):
    clock.now = NOW + timedelta(seconds=13)
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=58, seconds=59)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    clock.now = NOW + timedelta(hours=3)
    assert shop.fill(page, started="10:30").status_code == 302
    session.refresh_from_db()
    assert session.started_at == NOW - timedelta(minutes=30)
    assert session.ended_at == NOW + timedelta(minutes=58, seconds=59)


def test_a_timer_forgotten_for_more_than_a_day_asks_when_the_work_ended(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(hours=26)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    assert "The timer ran for more than 24 hours" in text_of(page)
    assert form_of(page)[0]["ended"] == [""]
    assert shop.fill(page, note="Words").status_code == 422
    assert shop.fill(page, ended="13:00", note="Words").status_code == 302
    session.refresh_from_db()
    assert session.labor_seconds == 2 * 3600


def test_a_timer_past_midnight_is_live(shop, wing, clock):
    clock.now = NOW.replace(hour=5)  # 23:00 in the shop
    session = start(shop, wing)
    clock.now += timedelta(hours=2)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    clock.now += timedelta(days=3)  # described much later: that does not make the times a reconstruction
    assert shop.fill(page, note="Words").status_code == 302
    session.refresh_from_db()
    assert (session.source, session.labor_seconds) == ("live", 7200)


def test_a_timer_whose_start_is_put_before_midnight_stays_live(shop, wing, clock):
    clock.now = NOW.replace(hour=6, minute=5)  # 00:05 in the shop
    session = start(shop, wing)
    clock.now += timedelta(hours=1)
    page = shop.client.get(shop.post("timer_stop", session.pk)["Location"])
    assert shop.fill(page, day="2026-05-13", started="23:50").status_code == 302
    session.refresh_from_db()
    assert (session.source, session.labor_seconds) == ("live", 75 * 60)


def test_a_helper_who_stops_the_builders_timer_sees_the_session(shop, wing, clock):
    session, jory = start(shop, wing), make_person(shop.project)
    clock.now = NOW + timedelta(minutes=25)
    response = Shop(jory, client_for(jory)).post("timer_stop", session.pk)
    assert response["Location"] == shop.url("session", session.pk)


def test_a_timer_in_another_project_is_refused_in_words(shop, wing):
    other, there = make_project("Other boat", user=shop.person.user)
    over_there = Shop(there, client_for(there))
    start(over_there, make_assembly(there))
    response = shop.post("timer_start", assembly=wing.pk, request_id="tap-2")
    assert response.status_code == 302
    page = home(shop)
    assert "timer runs in another project. Stop it there first." in page
    assert "Nothing running" in page
    assert not WorkSession.objects.filter(project=shop.project).exists()
    # A request that was used there is refused in words as well.
    shop.post("timer_start", assembly=wing.pk, request_id="tap-1")
    assert "was sent before for another project" in home(shop)


@pytest.mark.parametrize(
    ("role", "status"), [("helper", 302), ("paid", 302), ("inspector", 403), ("reader", 403), ("", 404)]
)
def test_helpers_use_the_timer_inspectors_and_readers_may_not_strangers_see_nothing(shop, wing, role, status):
    session = commands.start_timer(by=shop.person, at=NOW, project=shop.project, assembly=wing)
    client = Client()
    client.force_login(make_person(shop.project, role).user if role else make_user())
    assert client.post(shop.url("timer_start"), {"assembly": wing.pk, "request_id": "x"}).status_code == status
    for act in ACTS:
        if act == "timer_photo" and status == 302:
            continue
        assert client.post(shop.url(act, session.pk), {"person": shop.person.pk}).status_code == status
    assert (
        WorkSession.objects.filter(request_id="x").exists(),
        WorkSession.objects.running().filter(pk=session.pk).exists(),
    ) == (
        status == 302,
        status != 302,
    )


@pytest.mark.parametrize("act", [*ACTS[:-1], "timer_start"])
def test_the_timer_changes_by_post_alone(shop, wing, act):
    session = commands.start_timer(by=shop.person, at=NOW, project=shop.project, assembly=wing)
    assert shop.get(act, *([] if act == "timer_start" else [session.pk])).status_code == 405


def test_timers_of_another_project_are_not_there(shop):
    _, olin = make_project("Other boat", builder="Olin Marsh")
    theirs = commands.start_timer(by=olin, at=NOW, project=olin.project, assembly=make_assembly(olin))
    for act in ACTS:
        assert shop.post(act, theirs.pk, person=shop.person.pk).status_code == 404
    assert shop.post("timer_start", assembly=theirs.shares.get().assembly_id).status_code == 404


def test_a_running_timer_is_readable_and_can_be_withdrawn_but_not_edited(shop, wing, clock):
    session = start(shop, wing)
    clock.now = NOW + timedelta(minutes=5)
    assert "running" in text_of(shop.get("session", session.pk))
    assert "running" in text_of(shop.get("sessions"))
    assert shop.get("session_edit", session.pk).status_code == 404
    shop.post("session_withdraw", session.pk, reason="Wrong boat")
    assert "Nothing running" in home(shop)
    assert shop.post("timer_stop", session.pk).status_code == 404


def test_photos_go_to_a_running_timer_and_a_bad_file_keeps_the_good_one(shop, wing):
    session = start(shop, wing)
    files = [SimpleUploadedFile("good.jpg", picture_bytes(seed=9101)), SimpleUploadedFile("bad.jpg", b"no picture")]
    page = shop.client.post(shop.url("timer_photo", session.pk), {"new_photos": files})
    assert page.status_code == 422
    assert "bad.jpg: " in text_of(page)
    assert len(form_of(page)[0]["photos"]) == 1
    assert shop.fill(page).status_code == 302
    assert session.attachments.count() == 1
    assert "1 photo kept with session 1." in home(shop)
    assert shop.post("timer_photo", session.pk).status_code == 200  # nothing chosen: the page again
    session.refresh_from_db()
    assert session.running


def send(shop: Shop, session: WorkSession, seed: int, **more: str):  # noqa: ANN201
    """Send a photo as the outbox does that joins this session."""
    photo = SimpleUploadedFile("rib.jpg", picture_bytes(seed=seed, taken=""))
    said = {"kind": "photo", "request_id": f"photo-{shop.person.pk}-{seed}"}
    return shop.post("captured", photo=photo, session=session.pk, **said, **more)


def test_a_photo_sent_by_the_script_is_attached_at_once_and_there_on_return(shop, wing):
    session = start(shop, wing)
    answer = send(shop, session, 9201, file_time=str(int(NOW.timestamp() * 1000)))
    photo = session.attachments.get().photo
    kept = answer.json()
    assert (answer.status_code, kept["id"], kept["digest"], kept["is_new"]) == (201, photo.pk, photo.digest, True)
    assert (kept["label"], photo.taken_at, photo.sent_by) == (photo.label, NOW, shop.person)
    # Sent again it is the same photo, and the button adds nothing to it.
    assert send(shop, session, 9201).status_code == 200
    page = shop.get("timer_photo", session.pk)
    assert f'data-into="{session.pk}"' in page.content.decode()
    assert (form_of(page)[0]["photos"], form_of(page)[0]["were"]) == ([photo.pk], [photo.pk])
    assert shop.fill(page).status_code == 302
    assert session.attachments.get().photo == photo


def test_a_photo_removed_on_the_page_is_taken_off_and_one_sent_meanwhile_stays(shop, wing):
    session = start(shop, wing)
    first = send(shop, session, 9202).json()["id"]
    page = shop.get("timer_photo", session.pk)
    other = send(shop, session, 9203).json()["id"]
    assert shop.fill(page, photos=[]).status_code == 302
    assert {row.photo_id for row in session.attachments.all()} == {other} != {first}
    # A helper who was not in it takes off what he sent himself, and nothing else.
    jory = make_person(shop.project)
    helper = Shop(jory, client_for(jory))
    send(helper, session, 9204)
    helper.post("timer_photo", session.pk, were=[row.photo_id for row in session.attachments.all()])
    assert session.attachments.get().photo_id == other
