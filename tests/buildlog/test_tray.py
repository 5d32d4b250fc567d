"""The tray: photos without a place, in proposed sessions, sorted exactly once."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from hypothesis import given
from hypothesis import strategies as st

from buildlog import commands, queries, rules
from buildlog.models import WorkSession
from evidence import commands as evidence
from evidence.models import Photo, Placement
from foundation.fields import new_key
from foundation.refusal import Refusal
from inspections import commands as inspections
from journal.models import Entry
from parts.models import Assembly
from tests.buildlog.browse import Clock, Shop, text_of
from tests.evidence.recordings import movie
from tests.factories import (
    NOW,
    client_for,
    make_area,
    make_assembly,
    make_part,
    make_person,
    make_photo,
    make_project,
    make_session,
    picture_bytes,
    worked,
)

EVENING = datetime(2026, 5, 13, 19, 0)  # on the clock of the shop, a day before NOW
seeds = iter(range(5000, 9000))


def shoot(by, *minutes: int, day: datetime = EVENING, **more: Any) -> list[Photo]:
    """Photos taken so many minutes after seven in the evening, with the camera's zone."""
    times = [(day + timedelta(minutes=minute)).strftime("%Y:%m:%d %H:%M:%S") for minute in minutes]
    return [make_photo(by, data=picture_bytes(seed=next(seeds), taken=taken), **more) for taken in times]


def utc(minutes: int) -> datetime:
    return (EVENING + timedelta(hours=6, minutes=minutes)).replace(tzinfo=UTC)


# ---- rules ----


keys = st.sets(st.sampled_from("abcdef")).map(frozenset)


@given(keys, keys, st.sampled_from("abcdef"))
def test_the_later_of_splitting_and_joining_wins(apart, together, key):
    marks = rules.Marks(apart, together)
    assert marks.join(key).split(key) == marks.split(key)
    assert marks.split(key).join(key) == marks.join(key)
    for wish in (marks.split(key), marks.join(key)):
        assert (key in wish.apart) != (key in wish.together)
        assert wish.apart | wish.together == apart | together | {key}


@given(st.integers(0, 86_400), st.integers(0, 86_400))
def test_proposed_times_are_the_whole_minutes_around_the_photos(first, longer):
    start = NOW + timedelta(seconds=first)
    times = rules.proposed_times(start, start + timedelta(seconds=longer))
    if longer < 60:
        assert times is None
        return
    assert times is not None
    assert times[0] <= start and times[1] >= start + timedelta(seconds=longer)
    assert times[1] - times[0] < timedelta(seconds=longer) + timedelta(minutes=2)
    assert {time.second for time in times} == {0}


# ---- what is in it and what is proposed ----


@pytest.mark.django_db
def test_only_photos_without_any_place_are_in_it():
    project, edda = make_project()
    assembly = make_assembly(edda)
    loose, placed, attached, at_gate, gone = shoot(edda, 0, 1, 2, 3, 4)
    evidence.place_photo(by=edda, at=NOW, photo=placed, places=[make_part(edda, assembly)])
    session = make_session(edda, assembly, photos=[attached])
    area = make_area(edda, assembly)
    inspections.show_photo(by=edda, at=NOW, requirement=area.requirements.get(kind="photo"), photo=at_gate)
    evidence.withdraw_photo(by=edda, at=NOW, photo=gone, reason="Blurred")
    shoot(make_project("Other")[1], 0)
    assert list(queries.in_tray(project)) == [loose]
    commands.withdraw_session(by=edda, at=NOW, session=session, reason="Twice")
    assert set(queries.in_tray(project)) == {loose, attached}


def group_of(project, number: int = 0, **how: Any) -> queries.TrayGroup:
    whole = queries.tray(project, **how)
    return queries.shown_groups(project, whole, whole.groups, NOW)[number]


@pytest.mark.django_db
def test_a_session_at_that_time_is_proposed_the_senders_own_first():
    project, edda = make_project()
    jory = make_person(project, "helper", name="Jory Pask")
    assembly = make_assembly(edda)
    theirs = make_session(edda, assembly, worked(edda, utc(-10), 200), at=utc(300))
    own = make_session(edda, assembly, worked(jory, utc(60), 60), at=utc(300))
    make_session(edda, assembly, worked(jory, utc(-400), 60), at=utc(300))
    shoot(jory, 5, 40, 70)
    assert group_of(project).sessions == [own, theirs]


@pytest.mark.django_db
@pytest.mark.parametrize(("minutes", "near"), [(14, True), (16, False)])
def test_photos_just_after_a_session_still_belong_to_it(minutes, near):
    project, edda = make_project()
    make_session(edda, make_assembly(edda), worked(edda, utc(-60), 60), at=utc(300))
    shoot(edda, minutes)
    assert bool(group_of(project).sessions) is near


@pytest.mark.django_db
def test_a_running_timer_is_proposed_too():
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=utc(-5), project=project, assembly=make_assembly(edda))
    shoot(edda, 0, 20)
    assert group_of(project).sessions == [timer]


@pytest.mark.django_db
def test_the_assembly_is_that_of_the_senders_nearest_session_else_the_last_worked_on():
    project, edda = make_project()
    float_, hull, wing = (make_assembly(edda, number) for number in ("24.1", "11", "20"))
    jory = make_person(project, "helper")
    make_session(edda, hull, worked(edda, utc(-23 * 60), 60), at=NOW)
    make_session(edda, float_, worked(edda, utc(-3 * 60), 60), at=NOW)
    make_session(edda, wing, worked(jory, utc(150), 30), at=NOW)
    shoot(edda, 0, 30)
    assert group_of(project).assembly == float_
    shoot(edda, 0, 30, day=EVENING - timedelta(days=60))
    assert group_of(project, 1).assembly == wing


@pytest.mark.django_db
def test_a_single_photo_proposes_no_times():
    project, edda = make_project()
    shoot(edda, 0)
    assert (group_of(project).start, group_of(project).end) == (None, None)


# ---- commands ----


def log(edda, photos, assembly, **more: Any) -> tuple[commands.Sorted, bool]:
    facts = {
        "request_id": new_key(),
        "worked": (worked(edda, utc(0), 40),),
        "shares": ((assembly, 1),),
    } | more
    return commands.log_from_tray(by=edda, at=NOW, project=edda.project, photos=photos, **facts)


@pytest.mark.django_db
def test_logging_places_the_photos_and_writes_one_entry_for_each_change():
    project, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20, 39)
    before = Entry.objects.count()
    done, new = log(edda, photos, assembly, work="layup")
    assert new
    assert done.session.source == "next_day"
    assert (done.session.work, done.session.photos) == ("layup", photos)
    assert {row.assembly for row in Placement.objects.all()} == {assembly}
    assert list(Entry.objects.values_list("verb", flat=True).order_by("seq"))[before:] == [
        "session.logged",
        *["photo.placed"] * 3,
    ]
    assert queries.tray_count(project) == 0


@pytest.mark.django_db
def test_the_same_request_twice_is_one_session():
    _, edda = make_project()
    assembly, photos, request_id = make_assembly(edda), shoot(edda, 0, 20), new_key()
    first, _ = log(edda, photos, assembly, request_id=request_id)
    before = Entry.objects.count()
    again, new = log(edda, photos, assembly, request_id=request_id)
    assert (again.session, new) == (first.session, False)
    assert Entry.objects.count() == before


@pytest.mark.django_db
def test_two_pages_with_the_same_photos_make_one_session():
    _, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20)
    log(edda, photos, assembly)
    before = Entry.objects.count()
    with pytest.raises(Refusal, match="a place meanwhile"):
        log(edda, photos, assembly)
    assert (WorkSession.objects.count(), Entry.objects.count()) == (1, before)


@pytest.mark.django_db
def test_a_session_that_cannot_be_leaves_the_photos_where_they_are():
    project, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20)
    before = Entry.objects.count()
    with pytest.raises(Refusal):
        log(edda, photos, assembly, worked=())
    assert (queries.tray_count(project), Entry.objects.count()) == (2, before)


@pytest.mark.django_db
def test_attaching_and_placing_twice_change_nothing_more():
    project, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20)
    session = make_session(edda, assembly)
    for act, facts in (
        (commands.attach_from_tray, {"session": session}),
        (commands.place_from_tray, {"project": project, "place": assembly}),
    ):
        act(by=edda, at=NOW, photos=photos, **facts)
        before = Entry.objects.count()
        done = act(by=edda, at=NOW, photos=photos, **facts)
        assert Entry.objects.count() == before
        assert not done.placed and not done.attached


def undo(edda, done: commands.Sorted) -> None:
    by_key = {photo.pk: photo for photo in done.photos}
    commands.put_back(
        by=edda,
        at=NOW,
        project=edda.project,
        place=done.place,
        placed=[by_key[key] for key in done.placed],
        session=done.session,
        attached=[by_key[key] for key in done.attached],
        version=done.version,
    )


@pytest.mark.django_db
@pytest.mark.parametrize("act", ["log", "attach", "place"])
def test_what_was_sorted_can_be_put_back_once_and_twice(act):
    project, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20)
    session = make_session(edda, assembly)
    if act == "log":
        done, _ = log(edda, photos, assembly)
    elif act == "attach":
        done = commands.attach_from_tray(by=edda, at=NOW, session=session, photos=photos)
    else:
        done = commands.place_from_tray(by=edda, at=NOW, project=project, photos=photos, place=assembly)
    assert queries.tray_count(project) == 0
    undo(edda, done)
    assert queries.tray_count(project) == 2
    before = Entry.objects.count()
    undo(edda, done)
    assert Entry.objects.count() == before
    session.refresh_from_db()
    assert not session.withdrawn


@pytest.mark.django_db
def test_a_session_changed_since_is_not_withdrawn_by_undo():
    project, edda = make_project()
    assembly, photos = make_assembly(edda), shoot(edda, 0, 20)
    done, _ = log(edda, photos, assembly)
    commands.correct_session(
        by=edda,
        at=NOW,
        session=done.session,
        worked=(worked(edda, utc(0), 50),),
        shares=((assembly, 1),),
        reason="Ten minutes more",
    )
    with pytest.raises(Refusal, match="was changed since"):
        undo(edda, done)
    assert queries.tray_count(project) == 0


# ---- the page, as a browser without script has it ----


@pytest.fixture
def tray(shop: Shop, clock: Clock) -> Shop:
    """Edda's tray: two groups on one evening, and the assemblies that there are."""
    make_assembly(shop.person, "24.1", "Tip float, left")
    make_assembly(shop.person, "11", "Bottom and chines")
    shoot(shop.person, 0, 20, 44)
    shoot(shop.person, 120, 150)
    return shop


def assembly(number: str = "24.1") -> Assembly:
    return Assembly.objects.get(number=number)


def headings(page: HttpResponse) -> list[str]:
    return re.findall(r'<h2 id="h-\w+">([^<]+)</h2>', text_of(page))


def group_form(page: HttpResponse, number: int = 0) -> dict[str, Any]:
    """The fields of one group's form as they stand."""
    html = text_of(page).split('class="tray-form"')[number + 1].split("</form>")[0]
    fields: dict[str, Any] = dict(re.findall(r'<input type="(?:hidden|time)" name="(\w+)" value="([^"]*)"', html))
    for name, options in re.findall(r'<select name="(\w+)"[^>]*>(.*?)</select>', html, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        fields[name] = chosen[1] if chosen else re.search(r'value="([^"]*)"', options)[1]
    people = re.findall(r'name="people" value="(\w+)"[^>]*checked', html)
    fields.pop("csrfmiddlewaretoken", None)
    return fields | {"people": people, "note": ""}


def accept(shop: Shop, number: int = 0, query: str = "", **typed: Any) -> HttpResponse:
    page = shop.client.get(shop.url("tray") + query)
    return shop.client.post(shop.url("tray") + query, group_form(page, number) | {"do": "log"} | typed)


def test_groups_are_shown_latest_first_with_what_the_photos_say(tray):
    page = tray.get("tray")
    assert headings(page) == ["Wed 13 May, 21:00 to 21:30", "Wed 13 May, 19:00 to 19:44"]
    assert "5 photos without a place" in text_of(page)
    assert "the work began before the first and ended after the last" in text_of(page)


def test_accepting_a_group_is_one_post(tray):
    answer = accept(tray, 1, assembly=assembly().pk)
    assert answer.status_code == 302
    session = WorkSession.objects.get()
    zone = tray.project.zone
    assert f"{session.started_at.astimezone(zone):%H:%M} {session.ended_at.astimezone(zone):%H:%M}" == "19:00 19:44"
    assert (len(session.photos), session.source) == (3, "next_day")
    page = tray.client.get(answer["Location"])
    assert "3 photos logged as session 1 on 24.1 Tip float, left." in text_of(page)
    assert headings(page) == ["Wed 13 May, 21:00 to 21:30"]
    back = tray.post("tray", do="undo")
    assert headings(tray.client.get(back["Location"])) == ["Wed 13 May, 21:00 to 21:30", "Wed 13 May, 19:00 to 19:44"]
    assert WorkSession.objects.get().withdrawn


def test_one_line_corrects_it_before_it_is_accepted(tray):
    accept(tray, 1, assembly=assembly("11").pk, started="18:30", ended="20:10", work="layup")
    session = WorkSession.objects.get()
    assert session.labor_seconds == 100 * 60
    assert (session.work, session.shares.get().assembly.number) == ("layup", "11")


def test_what_cannot_be_read_stays_on_the_page_with_what_was_typed(tray):
    answer = accept(tray, 1, assembly="", ended="19:99", work="layup")
    assert answer.status_code == 422
    html = text_of(answer).split('class="tray-form"')[2].split("</form>")[0]
    assert "Choose the assembly that was worked on." in html
    assert 'value="19:99"' in html and '<option value="layup" selected>' in html
    assert "error" not in text_of(answer).split('class="tray-form"')[1].split("</form>")[0]
    assert not WorkSession.objects.exists()


def test_an_end_before_the_start_is_asked_about_before_it_becomes_a_night(tray):
    answer = accept(tray, 1, assembly=assembly().pk, ended="18:00")
    assert answer.status_code == 422
    assert "From and to make 23:00 hours. Log it again if that is right." in text_of(answer)
    assert not WorkSession.objects.exists()
    again = group_form(answer, 1) | {"do": "log", "ended": "18:00"}
    assert again["again"] == "long-23:00"
    assert tray.client.post(tray.url("tray"), again).status_code == 422  # and 18:00 is still to come
    assert tray.client.post(tray.url("tray"), again | {"ended": "10:55"}).status_code == 302
    assert WorkSession.objects.get().labor_seconds == 955 * 60


def test_a_second_tap_and_a_second_page_make_no_second_session(tray):
    page = tray.get("tray")
    fields = group_form(page, 1) | {"do": "log", "assembly": assembly().pk}
    other = group_form(tray.get("tray"), 1) | {"do": "log", "assembly": assembly().pk}
    for sent in (fields, fields, other):
        assert tray.client.post(tray.url("tray"), sent).status_code == 302
    assert WorkSession.objects.count() == 1
    assert "a place meanwhile" in text_of(tray.get("tray"))


def test_a_group_is_split_and_joined_by_links_that_stand_in_the_address(tray):
    page = tray.get("tray")
    split = re.findall(r'class="splits" href="(\?[^"#]+)', text_of(page))
    parted = tray.client.get(tray.url("tray") + split[-1])
    assert headings(parted) == ["Wed 13 May, 21:00 to 21:30", "Wed 13 May, 19:44", "Wed 13 May, 19:00 to 19:20"]
    join = re.findall(r'class="joins"><a class="reach" href="(\?[^"#]+)', text_of(parted))
    again = tray.client.get(tray.url("tray") + join[1])
    assert headings(again) == headings(page)
    joined = tray.client.get(tray.url("tray") + join[0])
    assert headings(joined) == ["Wed 13 May, 19:44 to 21:30", "Wed 13 May, 19:00 to 19:20"]
    # Accepting one group keeps the way the others are gathered, and forgets marks at photos that are gone.
    answer = accept(tray, 1, query=join[0], assembly=assembly().pk)
    assert headings(tray.client.get(answer["Location"])) == ["Wed 13 May, 19:44 to 21:30"]


def test_another_pause_gathers_anew(tray):
    assert headings(tray.get("tray", gap="90")) == ["Wed 13 May, 19:00 to 21:30"]
    assert headings(tray.get("tray", gap="7")) == headings(tray.get("tray"))
    assert headings(tray.get("tray", page="x")) == headings(tray.get("tray"))


def test_a_group_beside_a_session_is_attached_with_one_tap(tray):
    session = make_session(tray.person, assembly(), worked(tray.person, utc(0), 60))
    page = tray.get("tray")
    assert f"Attach to session {session.number}" in text_of(page)
    tray.client.post(tray.url("tray"), group_form(page, 1) | {"do": f"attach:{session.pk}"})
    assert len(WorkSession.objects.get().photos) == 3
    assert not Placement.objects.exists()
    assert "3 photos attached to session 1." in text_of(tray.get("tray"))


def test_photos_are_only_placed_when_no_session_is_wanted(tray):
    accept(tray, 1, do="place", assembly=assembly("11").pk)
    assert Placement.objects.filter(assembly__number="11").count() == 3
    assert not WorkSession.objects.exists()


def test_chosen_photos_of_several_groups_go_to_one_place(tray):
    part = make_part(tray.person, assembly())
    photos = list(Photo.objects.order_by("number"))
    chosen = [photos[0].pk, photos[4].pk]
    answer = tray.post("tray", do="place", photos=chosen, place_on=part.pk)
    assert answer.status_code == 302
    assert {row.photo_id for row in Placement.objects.filter(part=part)} == set(chosen)
    session = make_session(tray.person, assembly())
    tray.post("tray", do="attach", photos=[photos[1].pk], session=session.pk)
    assert WorkSession.objects.get().photos == [photos[1]]


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"do": "place"}, "Choose one or more photos first"),
        ({"do": "place", "photos": "one"}, "Choose where the chosen photos belong"),
        ({"do": "attach", "photos": "one"}, "Choose a session for the chosen photos"),
    ],
)
def test_a_choice_that_lacks_something_is_kept_and_asked_for(tray, sent, words):
    first = Photo.objects.order_by("number").first()
    if "photos" in sent:
        sent = sent | {"photos": first.pk}
    answer = tray.post("tray", **sent)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert text_of(answer).count("data-pick checked") == len(sent) - 1


def test_photos_without_a_time_stand_apart_with_a_way_to_type_it(tray):
    photo = make_photo(tray.person, data=picture_bytes(seed=next(seeds), taken="", offset=""))
    page = text_of(tray.get("tray"))
    assert "Time not known" in page
    assert tray.url("evidence:photo_time", photo.pk) in page


def test_a_recording_stands_among_the_photos(tray):
    clip = make_photo(tray.person, data=movie())
    page = text_of(tray.get("tray"))
    assert f'value="{clip.pk}" form="chosen"' in page
    assert "<span>Video" in page


def test_the_tray_of_another_project_is_out_of_reach(tray):
    _, stranger = make_project("Other")
    theirs = shoot(stranger, 0)[0]
    tray.post("tray", do="place", photos=[theirs.pk], place_on=assembly("11").pk)
    assert not Placement.objects.exists()
    their_assembly = make_assembly(stranger)
    mine = Photo.objects.filter(project=tray.project).first()
    assert tray.post("tray", do="place", photos=[mine.pk], place_on=their_assembly.pk).status_code == 422
    assert client_for(stranger).get(tray.url("tray")).status_code == 404


def test_only_who_may_log_sorts_photos(tray):
    hal = make_person(tray.project, "inspector")
    jory = make_person(tray.project, "helper")
    assert client_for(hal).get(tray.url("tray")).status_code == 403
    assert client_for(jory).get(tray.url("tray")).status_code == 200


def test_an_empty_tray_says_so(shop):
    assert "Nothing waits here" in text_of(shop.get("tray"))


def test_nothing_to_undo_is_said(tray):
    assert "nothing to undo" in text_of(tray.client.post(tray.url("tray"), {"do": "undo"}, follow=True))


def test_many_groups_stand_on_pages_and_cost_no_more_queries_than_few(tray, django_assert_max_num_queries):
    make_session(tray.person, assembly(), worked(tray.person, utc(-200), 60))
    make_session(tray.person, assembly(), worked(tray.person, utc(-800), 60))
    tray.get("tray")
    with django_assert_max_num_queries(100) as few:
        tray.get("tray")
    rows = [
        Photo(
            project=tray.project,
            number=1000 + number,
            digest=f"sha256:{number:064x}",
            size=1,
            kind="jpg",
            width=4,
            height=3,
            taken_at=utc(-number * 60 * 3),
            taken_known="camera",
            received_at=NOW,
            sent_by=tray.person,
        )
        for number in range(1, 240)
    ]
    Photo.objects.bulk_create(rows)
    with django_assert_max_num_queries(len(few)):
        page = tray.get("tray")
    assert len(headings(page)) == 8
    assert "Page 1 of 31" in text_of(page)
    with django_assert_max_num_queries(len(few)):
        assert len(headings(tray.get("tray", page="31"))) == 1
