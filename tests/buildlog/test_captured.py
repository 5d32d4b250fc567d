"""What phones capture arrives exactly once, whatever the order, and two versions are both kept."""

from datetime import datetime, timedelta
from itertools import permutations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from archive.queries import whole
from buildlog import commands
from buildlog.models import OtherVersion, Receipt, WorkSession
from evidence import queries as evidence
from evidence.models import Photo
from foundation.digest import digest_bytes
from journal.models import Entry
from tests import factories
from tests.buildlog.browse import Shop, form_of

pytestmark = pytest.mark.django_db


def ms(at: datetime) -> str:
    return str(round(at.timestamp() * 1000))


class Phone:
    """A phone signed in as somebody: it sends what it captured as static/js/outbox does."""

    def __init__(self, person) -> None:
        self.person = person
        self.client = factories.client_for(person)
        self.slug = person.project.slug
        self.ahead = timedelta()
        self.serial = 0

    def id(self) -> str:
        self.serial += 1
        return f"{self.person.pk[:8]}-{self.serial:06d}"

    def send(self, kind: str, *, at: datetime | None = None, request_id: str = "", ahead: bool = True, **fields):
        now = timezone.now()
        data = {
            "request_id": request_id or self.id(),
            "kind": kind,
            "happened_at": ms((at or now) + self.ahead),
            "sent_at": ms(now + self.ahead),
            "person": self.person.pk,
            **fields,
        }
        if ahead:
            data["ahead"] = round(self.ahead.total_seconds() * 1000)
        if kind in {"session", "session_edit"}:
            data["kind"] = "labor"
        url = reverse("buildlog:captured", args=[self.slug]) + f"?kind={kind}"
        return self.client.post(url, data, headers={"Accept": "application/json"})

    def photo(self, data: bytes, **fields):
        file = SimpleUploadedFile("IMG_1.jpg", data, "image/jpeg")
        return self.send("photo", photo=file, **({"digest": digest_bytes(data)} | fields))

    def get(self, name: str, **asked):
        return self.client.get(
            reverse(f"buildlog:{name}", args=[self.slug]), asked, headers={"Accept": "application/json"}
        )


def typed(phone: Phone, **fields):
    """The form of a new session as a browser would send it, with these fields typed over."""
    page = Shop(phone.person, phone.client).get("session_new")
    form = {**form_of(page)[0], **fields}
    form["request_id"] = form["request_id"][0]
    form.pop("kind")
    return form


@pytest.fixture
def shop():
    project, edda = factories.make_project()
    wing = factories.make_assembly(edda, number="20", name="Wing")
    hull = factories.make_assembly(edda, number="10", name="Hull")
    phone = Phone(edda)
    phone.wing, phone.hull, phone.project = wing, hull, project
    return phone


def clean(project) -> None:
    assert list(whole.faults(project)) == []


def test_a_phone_is_told_what_it_needs_without_signal(shop, django_assert_max_num_queries):
    part = factories.make_part(shop.person, shop.wing, number="20-101")
    started = shop.send("timer_start", assembly=shop.wing.pk).json()
    with django_assert_max_num_queries(20):
        said = shop.get("captured").json()
    assert said["person"] == {"key": shop.person.pk, "name": shop.person.name}
    assert [place["number"] for place in said["places"]["assemblies"]] == ["20", "10"]
    assert said["places"]["parts"][0]["key"] == part.pk
    assert said["timers"][0]["request_id"] == started["request_id"] and said["timers"][0]["mine"]
    assert said["last_place"] == shop.wing.pk
    assert said["kept"] == {"photos": 0, "bytes": 0, "last_received": None}
    assert abs(said["now"] - timezone.now().timestamp() * 1000) < 10_000 and said["csrf"]


def test_strangers_and_the_signed_out_learn_nothing(shop):
    _, other = factories.make_project("Second hull", builder="Olin")
    elsewhere = Phone(other)
    elsewhere.slug = shop.slug
    assert elsewhere.get("captured").status_code == 404
    assert elsewhere.photo(factories.picture_bytes(seed=1)).status_code == 404
    nobody = Client().post(reverse("buildlog:captured", args=[shop.slug]), headers={"Accept": "application/json"})
    assert nobody.status_code == 401 and "error" in nobody.json()
    assert Photo.objects.count() == 0


def test_a_post_needs_the_token(shop):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(shop.person.user)
    url = reverse("buildlog:captured", args=[shop.slug])
    answer = strict.post(url, {"kind": "photo", "request_id": "abcdefgh1"}, headers={"Accept": "application/json"})
    assert answer.status_code == 403 and "error" in answer.json()
    token = strict.get(url, headers={"Accept": "application/json"}).json()["csrf"]
    data = {"kind": "timer_start", "request_id": "abcdefgh1", "assembly": shop.wing.pk}
    kept = strict.post(url, data, headers={"Accept": "application/json", "X-CSRFToken": token})
    assert kept.status_code == 201


def test_a_photo_sent_again_is_one_photo_and_one_entry(shop):
    data = factories.picture_bytes(seed=3)
    first = shop.photo(data, request_id="photo-000001", place=shop.wing.pk, shows="inside", caption="Drain boss")
    again = shop.photo(data, request_id="photo-000001", place=shop.wing.pk, shows="inside", caption="Drain boss")
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["request_id"] == "photo-000001" and first.json()["digest"] == digest_bytes(data)
    assert first.json()["id"] == again.json()["id"]
    photo = Photo.objects.get()
    assert (photo.shows, photo.caption, photo.placements.get().assembly_id) == ("inside", "Drain boss", shop.wing.pk)
    assert Entry.objects.filter(subject=photo.subject).count() == 1
    clean(shop.project)


def test_bytes_that_were_cut_on_the_way_are_not_kept(shop):
    data = factories.picture_bytes(seed=4)
    cut = SimpleUploadedFile("IMG.jpg", data[:-40], "image/jpeg")
    answer = shop.send("photo", photo=cut, digest=digest_bytes(data))
    assert answer.status_code == 409 and answer.json()["code"] == "digest_differs"
    assert Photo.objects.count() == 0 and Receipt.objects.count() == 0


def test_a_photo_for_a_thing_that_is_gone_goes_to_the_tray(shop):
    answer = shop.photo(factories.picture_bytes(seed=5), place="nothingbythiskey")
    assert answer.status_code == 201
    assert not Photo.objects.get().placements.exists()


def test_a_photo_may_come_before_its_session(shop):
    shop.photo(factories.picture_bytes(seed=6), session="start-000001")
    assert shop.send("timer_stop", session="start-000001").status_code == 425
    shop.send("timer_start", request_id="start-000001", assembly=shop.wing.pk)
    session = WorkSession.objects.get()
    assert [photo.number for photo in session.photos] == [1]
    shop.photo(factories.picture_bytes(seed=7), session="start-000001")
    assert [photo.number for photo in WorkSession.objects.get().photos] == [1, 2]
    clean(shop.project)


def test_a_timer_without_signal_has_the_times_of_the_taps(shop):
    start = timezone.now() - timedelta(hours=5)
    taps = [
        ("timer_start", 0, {"assembly": shop.wing.pk, "request_id": "start-000002"}),
        ("timer_break", 60, {"session": "start-000002"}),
        ("timer_on", 75, {"session": "start-000002"}),
        ("timer_stop", 150, {"session": "start-000002"}),
    ]
    for kind, minutes, fields in taps:
        assert shop.send(kind, at=start + timedelta(minutes=minutes), **fields).status_code == 201
    session = WorkSession.objects.get()
    assert session.labor_seconds == (150 - 15) * 60
    assert session.started_at == start.replace(microsecond=0)
    assert session.entered_at == session.started_at and session.received_at is not None
    entries = Entry.objects.filter(subject=session.subject)
    assert all(entry.at - timezone.now() < timedelta(minutes=1) for entry in entries)
    page = shop.client.get(reverse("buildlog:session", args=[shop.slug, session.pk])).content.decode()
    assert "Kept on a phone first" in page
    clean(shop.project)


def test_every_tap_sent_twice_changes_nothing(shop):
    start = timezone.now() - timedelta(hours=2)
    ids = {kind: f"{kind}-0001" for kind in ("timer_start", "timer_break", "timer_on", "timer_stop")}
    for minute, kind in enumerate(ids):
        at = start + timedelta(minutes=10 * minute)
        fields = {"assembly": shop.wing.pk} if kind == "timer_start" else {"session": ids["timer_start"]}
        answers = [shop.send(kind, at=at, request_id=ids[kind], **fields) for _ in range(3)]
        assert [one.status_code for one in answers] == [201, 200, 200]
        assert len({one.json()["session"] for one in answers}) == 1
    session = WorkSession.objects.get()
    assert session.labor_seconds == 20 * 60
    assert Entry.objects.filter(subject=session.subject).count() == 4


def test_a_clock_that_is_wrong_is_put_right_and_told(shop):
    shop.ahead = timedelta(hours=3, minutes=7)
    start = timezone.now() - timedelta(hours=1)
    shop.send("timer_start", at=start, request_id="start-000003", assembly=shop.wing.pk)
    shop.send("timer_stop", at=start + timedelta(minutes=30), session="start-000003")
    session = WorkSession.objects.get()
    assert abs(session.started_at - start) < timedelta(seconds=2)
    assert abs(session.labor_seconds - 30 * 60) <= 2
    assert abs(session.clock_ahead - (3 * 60 + 7) * 60) <= 2
    page = shop.client.get(reverse("buildlog:session", args=[shop.slug, session.pk])).content.decode()
    assert "3 h 7 min ahead" in page


def test_the_file_time_of_a_wrong_clock_is_put_right(shop):
    shop.ahead = timedelta(days=2)
    taken = timezone.now() - timedelta(hours=1)
    shop.photo(factories.picture_bytes(seed=8, taken=""), file_time=ms(taken + shop.ahead))
    photo = Photo.objects.get()
    assert photo.taken_known == "file" and abs(photo.taken_at - taken) < timedelta(seconds=2)
    assert abs(photo.clock_ahead - 2 * 24 * 3600) <= 2


def test_nothing_happens_in_the_future_or_before_there_were_phones(shop):
    shop.send("timer_start", at=timezone.now() + timedelta(hours=1), request_id="start-000004", assembly=shop.wing.pk)
    assert WorkSession.objects.get().started_at <= timezone.now()
    shop.send("timer_stop", at=datetime(1980, 1, 6, tzinfo=timezone.get_current_timezone()), session="start-000004")
    assert WorkSession.objects.get().ended_at <= timezone.now() + timedelta(seconds=2)


def test_a_start_that_comes_late_ends_where_the_next_timer_began(shop):
    now = timezone.now().replace(microsecond=0)
    later = commands.start_timer(
        by=shop.person, at=now - timedelta(minutes=30), project=shop.project, assembly=shop.hull
    )
    shop.send("timer_start", at=now - timedelta(minutes=90), request_id="start-000005", assembly=shop.wing.pk)
    early = WorkSession.objects.get(request_id="start-000005")
    assert early.ended_at == later.started_at and early.labor_seconds == 3600
    assert WorkSession.objects.get(pk=later.pk).running
    clean(shop.project)


def test_two_phones_that_stop_at_other_times_are_asked(shop):
    now = timezone.now().replace(microsecond=0)
    shop.send("timer_start", at=now - timedelta(hours=3), request_id="start-000006", assembly=shop.wing.pk)
    shop.send("timer_stop", at=now - timedelta(hours=1), session="start-000006")
    late = shop.send("timer_stop", at=now - timedelta(hours=2), session="start-000006")
    assert late.status_code == 201 and late.json()["ask"] is True
    session = WorkSession.objects.get()
    assert session.labor_seconds == 2 * 3600
    version = OtherVersion.objects.get()
    url = reverse("buildlog:version", args=[shop.slug, version.pk])
    page = shop.client.get(url).content.decode()
    assert "On the server" in page and "From the phone" in page
    assert (
        "Two versions of session"
        in shop.client.get(reverse("buildlog:session", args=[shop.slug, session.pk])).content.decode()
    )
    shop.client.post(url, {"choose": "phone"})
    session.refresh_from_db()
    assert session.labor_seconds == 3600
    assert OtherVersion.objects.get().taken
    shop.client.post(url, {"choose": "server"})
    session.refresh_from_db()
    assert session.labor_seconds == 3600
    clean(shop.project)


def test_the_version_that_is_not_chosen_stays_readable(shop):
    now = timezone.now().replace(microsecond=0)
    shop.send("timer_start", at=now - timedelta(hours=3), request_id="start-000007", assembly=shop.wing.pk)
    shop.send("timer_stop", at=now - timedelta(hours=1), session="start-000007")
    shop.send("timer_stop", at=now - timedelta(hours=2), session="start-000007")
    version = OtherVersion.objects.get()
    url = reverse("buildlog:version", args=[shop.slug, version.pk])
    shop.client.post(url, {"choose": "server"})
    assert WorkSession.objects.get().labor_seconds == 2 * 3600
    assert "From the phone" in shop.client.get(url).content.decode()
    session = WorkSession.objects.get()
    assert "not taken" in shop.client.get(reverse("buildlog:session", args=[shop.slug, session.pk])).content.decode()


def test_stops_in_the_same_minute_are_one_stop(shop):
    now = timezone.now().replace(microsecond=0)
    shop.send("timer_start", at=now - timedelta(hours=3), request_id="start-000008", assembly=shop.wing.pk)
    shop.send("timer_stop", at=now - timedelta(hours=1), session="start-000008")
    again = shop.send("timer_stop", at=now - timedelta(minutes=60, seconds=20), session="start-000008")
    assert again.json()["ask"] is False and not OtherVersion.objects.exists()


def test_a_late_stop_leaves_whoever_joined_after_it(shop):
    jory = factories.make_person(shop.project, name="Jory Pask")
    now = timezone.now().replace(microsecond=0)
    shop.send("timer_start", at=now - timedelta(hours=3), request_id="start-000009", assembly=shop.wing.pk)
    session = WorkSession.objects.get()
    commands.join_timer(by=jory, at=now - timedelta(hours=1), session=session, person=jory)
    shop.send("timer_stop", at=now - timedelta(hours=2), session="start-000009")
    session.refresh_from_db()
    assert session.running
    assert session.people.get(person=shop.person).labor_seconds == 3600
    assert session.people.get(person=jory).ended_at is None


def test_a_break_taken_on_a_phone_of_a_session_that_was_stopped_elsewhere_is_asked_about(shop):
    now = timezone.now().replace(microsecond=0)
    shop.send("timer_start", at=now - timedelta(hours=4), request_id="start-000010", assembly=shop.wing.pk)
    session = WorkSession.objects.get()
    commands.stop_timer(by=shop.person, at=now - timedelta(hours=1), session=session)
    shop.send("timer_break", at=now - timedelta(hours=3), session="start-000010")
    shop.send("timer_on", at=now - timedelta(hours=2, minutes=45), session="start-000010")
    version = OtherVersion.objects.get()
    shop.client.post(reverse("buildlog:version", args=[shop.slug, version.pk]), {"choose": "phone"})
    assert WorkSession.objects.get().labor_seconds == (3 * 60 - 15) * 60


def test_a_session_typed_without_signal_is_logged_once_as_late_as_it_was_typed(shop):
    form = typed(shop, assembly=shop.wing.pk, note="Bonded the rib")
    request_id = form.pop("request_id")
    first = shop.send("session", request_id=request_id, at=timezone.now() - timedelta(days=1), **form)
    again = shop.send("session", request_id=request_id, **form)
    assert (first.status_code, again.status_code) == (201, 200), first.content
    session = WorkSession.objects.get()
    assert session.note == "Bonded the rib" and session.received_at is not None
    assert first.json()["session"] == session.pk
    known = shop.client.post(
        reverse("buildlog:captured_known", args=[shop.slug]), {"id": [request_id, "other-0000"]}
    ).json()
    assert list(known["items"]) == [request_id]


def test_a_session_that_is_there_in_other_words_is_kept_twice_and_asked(shop):
    form = typed(shop, assembly=shop.wing.pk, note="As the laptop has it")
    shop.client.post(reverse("buildlog:session_new", args=[shop.slug]), form | {"kind": "labor"})
    request_id = form.pop("request_id")
    form["note"] = "As the phone has it"
    answer = shop.send("session", request_id=request_id, **form)
    assert answer.json()["ask"] is True
    version = OtherVersion.objects.get()
    url = reverse("buildlog:version", args=[shop.slug, version.pk])
    page = shop.client.get(url).content.decode()
    assert "As the laptop has it" in page and "As the phone has it" in page
    shop.client.post(url, {"choose": "phone"})
    session = WorkSession.objects.get()
    assert session.note == "As the phone has it"
    entry = Entry.objects.filter(subject=session.subject).latest("seq")
    assert entry.verb == "session.corrected" and "Chosen of two versions" in entry.reason
    clean(shop.project)


def test_a_session_that_cannot_be_is_refused_with_its_fields(shop):
    form = typed(shop, assembly="", note="x")
    request_id = form.pop("request_id")
    answer = shop.send("session", request_id=request_id, **form)
    assert answer.status_code == 422 and "assembly" in answer.json()["errors"]


def test_a_correction_over_a_newer_one_is_kept_and_asked(shop):
    session = factories.make_session(shop.person, shop.wing)
    seen = commands.version_of(WorkSession.objects.get(pk=session.pk))
    shop.client.get(reverse("buildlog:session_edit", args=[shop.slug, session.pk]))
    fresh = WorkSession.objects.get(pk=session.pk)
    commands.attach_photos(by=shop.person, at=timezone.now(), session=fresh, photos=[factories.make_photo(shop.person)])
    form = typed(shop, assembly=shop.hull.pk, note="From the phone", reason="Wrong assembly", seen=seen)
    form.pop("request_id")
    answer = shop.send("session_edit", session=session.pk, **form)
    assert answer.status_code == 201 and answer.json()["ask"] is True, answer.content
    assert OtherVersion.objects.get().session_id == session.pk
    clean(shop.project)


def test_words_come_after_the_photo(shop):
    assert shop.send("describe", photo_request="photo-000009", caption="Early").status_code == 425
    shop.photo(factories.picture_bytes(seed=11), request_id="photo-000009", place=shop.wing.pk)
    shop.send("describe", photo_request="photo-000009", caption="Rib 4", builder_in_frame="1")
    photo = Photo.objects.get()
    assert (photo.caption, photo.builder_in_frame, photo.shows) == ("Rib 4", True, "")
    shop.send("describe", photo_request="photo-000009", place=shop.hull.pk)
    assert [place.assembly_id for place in Photo.objects.get().placements.all()] == [shop.hull.pk]
    clean(shop.project)


def test_undo_withdraws_what_the_request_brought_and_no_more(shop):
    data = factories.picture_bytes(seed=12)
    kept = factories.make_photo(shop.person, data=data, places=[shop.wing])
    shop.photo(data, request_id="photo-000012", place=shop.hull.pk)
    assert shop.send("undo", photo_request="photo-000012").status_code == 201
    kept.refresh_from_db()
    assert not kept.withdrawn
    assert [place.assembly_id for place in kept.placements.all()] == [shop.wing.pk]
    shop.photo(factories.picture_bytes(seed=13), request_id="photo-000013", place=shop.hull.pk)
    shop.send("undo", photo_request="photo-000013")
    assert Photo.objects.latest("number").withdrawn
    clean(shop.project)


def test_undo_leaves_the_place_where_it_was_before(shop):
    data = factories.picture_bytes(seed=14)
    kept = factories.make_photo(shop.person, data=data, places=[shop.wing])
    shop.photo(data, request_id="photo-000014", place=shop.wing.pk)
    shop.send("undo", photo_request="photo-000014")
    assert [place.assembly_id for place in kept.placements.all()] == [shop.wing.pk]


def test_only_who_sent_a_photo_takes_it_back(shop):
    jory = Phone(factories.make_person(shop.project, name="Jory Pask"))
    shop.photo(factories.picture_bytes(seed=15), request_id="photo-000015")
    assert jory.send("undo", photo_request="photo-000015").status_code == 422
    assert not Photo.objects.get().withdrawn


def test_an_inspector_sends_nothing(shop):
    hal = Phone(factories.make_person(shop.project, "inspector", name="Hal Venning"))
    answer = hal.photo(factories.picture_bytes(seed=16))
    assert answer.status_code == 403 and "error" in answer.json()


def pieces_of(shop, data: bytes, size: int, *, start: int = 0):
    """Send a file in pieces from `start` on; the answers."""
    url, digest = reverse("buildlog:captured_piece", args=[shop.slug]), digest_bytes(data)
    for offset in range(start, len(data), size):
        yield shop.client.post(
            f"{url}?digest={digest}&offset={offset}&size={len(data)}",
            data[offset : offset + size],
            content_type="application/octet-stream",
            headers={"Accept": "application/json"},
        )


def test_a_large_file_comes_in_pieces_and_goes_on_where_it_broke_off(shop):
    data, digest = factories.picture_bytes(seed=17), digest_bytes(factories.picture_bytes(seed=17))
    sender = pieces_of(shop, data, 500)
    assert next(sender).json() == {"digest": digest, "have": 500}
    assert next(sender).json()["have"] == 1000
    assert shop.get("captured_piece", digest=digest).json()["have"] == 1000
    gap = next(pieces_of(shop, data, 500, start=1500))
    assert gap.status_code == 409 and gap.json()["have"] == 1000
    for answer in pieces_of(shop, data, 500, start=1000):
        assert answer.status_code == 200
    kept = shop.send("photo", digest=digest, pieces="1", file_name="IMG_9.jpg", place=shop.wing.pk)
    assert kept.status_code == 201 and Photo.objects.get().file_name == "IMG_9.jpg"
    assert not evidence.piece_path(shop.person.pk, digest).exists()


def test_pieces_that_do_not_make_up_the_file_begin_again(shop):
    data, digest = factories.picture_bytes(seed=18), digest_bytes(factories.picture_bytes(seed=18))
    damaged = data[:200] + b"\0" * 40 + data[240:]
    url = reverse("buildlog:captured_piece", args=[shop.slug])
    shop.client.post(
        f"{url}?digest={digest}&offset=0&size={len(data)}", damaged, content_type="application/octet-stream"
    )
    answer = shop.send("photo", digest=digest, pieces="1")
    assert answer.status_code == 409 and Photo.objects.count() == 0
    assert shop.get("captured_piece", digest=digest).json()["have"] == 0


def test_a_file_larger_than_taken_is_refused_before_its_first_piece(shop, settings):
    settings.CLIP_MAX_BYTES = 1000
    answer = next(pieces_of(shop, factories.picture_bytes(seed=19) * 3, 500))
    assert answer.status_code == 413


def test_what_the_server_has_is_known_by_its_digest(shop):
    data = factories.picture_bytes(seed=20)
    kept = factories.make_photo(shop.person, data=data)
    url = reverse("buildlog:captured_known", args=[shop.slug])
    known = shop.client.post(url, {"digest": [digest_bytes(data), digest_bytes(b"other")]}).json()
    assert known["photos"] == {digest_bytes(data): known["photos"][digest_bytes(data)]}
    assert known["photos"][digest_bytes(data)]["label"] == kept.label
    _, other = factories.make_project("Second hull", builder="Olin")
    assert Phone(other).client.post(
        reverse("buildlog:captured_known", args=[other.project.slug]), {"digest": digest_bytes(data)}
    ).json() == {"items": {}, "photos": {}}


@pytest.mark.parametrize("order", list(permutations(range(4)))[::5])
def test_in_whatever_order_things_come_they_end_the_same(shop, order):
    """Text comes first as a rule; retries shuffle it. What waits for another is sent again until it is taken."""
    start = timezone.now().replace(microsecond=0) - timedelta(hours=2)
    data = factories.picture_bytes(seed=21)
    sends = [
        lambda: shop.send("timer_start", at=start, request_id="start-000021", assembly=shop.wing.pk),
        lambda: shop.send(
            "timer_stop", at=start + timedelta(hours=1), request_id="stop-000021", session="start-000021"
        ),
        lambda: shop.photo(data, request_id="photo-000021", session="start-000021", place=shop.wing.pk),
        lambda: shop.send("describe", request_id="words-000021", photo_request="photo-000021", caption="Rib"),
    ]
    waiting = [sends[number] for number in order]
    for _ in range(5):
        waiting = [send for send in waiting if send().status_code not in {200, 201}]
    assert not waiting
    session = WorkSession.objects.get()
    assert session.labor_seconds == 3600 and [photo.caption for photo in session.photos] == ["Rib"]
    assert Receipt.objects.count() == 4 and Photo.objects.count() == 1
    clean(shop.project)
