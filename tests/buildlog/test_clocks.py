"""Wall-clock times typed into the session form, in the shop's zone: the shop's facts, midnight, and clock changes.

What is expected is reckoned in epoch seconds or taken from the facts."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from buildlog.models import WorkSession
from tests.buildlog.browse import Shop, form_of, text_of
from tests.factories import client_for, make_assembly, make_person, make_project

FACTS = {
    fact["id"]: fact
    for fact in json.loads((Path(__file__).parent.parent / "data" / "shop_facts_hours.json").read_text())["facts"]
}
# Denver's offset is six hours in summer, seven in winter; in 2025 the clocks went forward 9 Mar and back 2 Nov.
SUMMER, WINTER = 6, 7


def instant(text: str, offset: int) -> datetime:
    """A wall-clock time at an offset west of Greenwich, as an instant: arithmetic, no zone database."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC) + timedelta(hours=offset)


@pytest.fixture
def wing(shop):  # noqa: ANN001, ANN201
    return make_assembly(shop.person, "20", "Wing")


def kept(response) -> WorkSession:
    assert response.status_code == 302, dict(response.context["form"].errors)
    return WorkSession.objects.order_by("-number").first()


def refused(response, *words: str) -> str:
    assert response.status_code == 422
    text = text_of(response)
    for word in words:
        assert word in text
    assert not WorkSession.objects.exists()
    return text


def typed(start: str, end: str, **more: str) -> dict[str, str]:
    day, began = start.split("T")
    return {"day": day, "started": began, "ended": end.split("T")[-1], **more}


@pytest.mark.parametrize("key", ["HRS-04", "HRS-05", "HRS-06"])
def test_the_shops_facts_come_out_of_the_form(shop, key):
    fact = FACTS[key]
    given, expected = fact["inputs"], fact["expected"]
    # HRS-06 is local without a zone: in a zone without clock changes, so that it is that night's plain difference.
    if key == "HRS-06":
        _, person = make_project("Plain", time_zone="UTC")
        shop = Shop(person, client_for(person))
    parts = {name: make_assembly(shop.person, name=name) for name in given["shares"]}
    values = typed(
        given["start"], given["end"], breaks=str(given["break_min"]), unattended=str(given["unattended_cure_min"])
    )
    for number, (name, weight) in enumerate(given["shares"].items()):
        values |= {f"assembly_{number}" if number else "assembly": parts[name].pk, f"weight_{number}": str(weight)}
    session = kept(shop.log(**values))
    minutes = {share.assembly.name: share.seconds / 60 for share in session.shares.all()}
    assert session.labor_seconds / 60 == pytest.approx(expected["labour_min"], abs=fact["tolerance"]["abs"])
    assert minutes == pytest.approx(expected["by_assembly_min"], abs=fact["tolerance"]["abs"])
    assert sum(minutes.values()) == pytest.approx(expected["sum_min"])
    assert f"{session.labor_seconds / 3600:.2f}" == f"{expected['labour_h']:.2f}"


def test_the_night_the_clocks_go_forward_is_an_hour_shorter(shop, wing):
    fact = FACTS["HRS-07"]
    assert shop.project.time_zone == fact["inputs"]["zone"]
    session = kept(shop.log(**typed(fact["inputs"]["start_local"], fact["inputs"]["end_local"], assembly=wing.pk)))
    assert session.labor_seconds == fact["expected"]["elapsed_min"] * 60
    assert session.started_at == instant("2025-03-09T01:30", WINTER)
    assert session.ended_at == instant("2025-03-09T04:10", SUMMER)


@pytest.mark.parametrize(("field", "values"), [("started", ("02:30", "05:00")), ("ended", ("00:30", "02:15"))])
def test_a_time_that_was_skipped_is_refused_and_everything_typed_is_still_there(shop, wing, field, values):
    words = {
        "note": "Floats sanded <by hand> & foot",
        "place": "Barn",
        "breaks": "7",
        "work": "fairing",
        "kind": "process",
    }
    response = shop.log(day="2025-03-09", started=values[0], ended=values[1], assembly=wing.pk, **words)
    refused(response, f"{values[0] if field == 'started' else values[1]} was skipped when the clocks went forward")
    assert response.context["form"].errors.keys() == {field}
    fields, _ = form_of(response)
    sent = {"day": "2025-03-09", "started": values[0], "ended": values[1], "assembly": wing.pk, **words}
    assert {name: fields[name] for name in sent} == {name: [value] for name, value in sent.items()}
    session = kept(shop.fill(response, **{field: "03:15"}, breaks="5"))
    assert session.note == words["note"]


def test_a_start_that_came_twice_asks_which_and_both_answers_are_right(shop, wing):
    asked = shop.log(**typed("2025-11-02T01:30", "2025-11-02T04:00", assembly=wing.pk, note="Night shift"))
    refused(asked, "01:30 came twice when the clocks went back", "which start is meant?", "The second time around")
    assert "which end is meant?" not in text_of(asked)
    assert form_of(asked)[0]["note"] == ["Night shift"]
    first = kept(shop.fill(asked, start_twice="first"))
    assert first.started_at == instant("2025-11-02T01:30", SUMMER)
    assert first.labor_seconds == round(3.5 * 3600)
    second = kept(shop.fill(asked, start_twice="second", request_id="another"))
    assert second.started_at == instant("2025-11-02T01:30", WINTER)
    assert second.labor_seconds == round(2.5 * 3600)


def test_an_end_that_came_twice_asks_which(shop, wing):
    asked = shop.log(**typed("2025-11-01T23:00", "2025-11-02T01:15", assembly=wing.pk))
    refused(asked, "which end is meant?")
    assert kept(shop.fill(asked, end_twice="first")).labor_seconds == round(2.25 * 3600)
    assert kept(shop.fill(asked, end_twice="second", request_id="another")).labor_seconds == round(3.25 * 3600)


@pytest.mark.parametrize(
    ("started", "ended", "twice", "hours"),
    [
        ("01:10", "01:40", ("first", "first"), 0.5),
        ("01:10", "01:40", ("first", "second"), 1.5),
        ("01:10", "01:40", ("second", "second"), 0.5),
        ("01:45", "01:15", ("first", "second"), 0.5),
        ("01:30", "01:30", ("first", "second"), 1.0),
    ],
)
def test_both_ends_in_the_hour_that_came_twice(shop, wing, started, ended, twice, hours):
    page = shop.log(day="2025-11-02", started=started, ended=ended, assembly=wing.pk)
    refused(page, "came twice")
    page = shop.fill(page, start_twice=twice[0])
    if page.status_code == 422:
        page = shop.fill(page, end_twice=twice[1])
    assert kept(page).labor_seconds == hours * 3600


def test_an_end_in_the_first_hour_before_a_start_in_the_second_is_refused(shop, wing):
    values = {"day": "2025-11-02", "started": "01:10", "ended": "01:40", "start_twice": "second", "end_twice": "first"}
    refused(shop.log(assembly=wing.pk, **values), "the end must come after the start")


def test_several_people_in_the_hour_that_came_twice_are_asked_once(shop, wing):
    jory, tam = (make_person(shop.project, name=name) for name in ("Jory Pask", "Tam Wray"))
    values = {"day": "2025-11-02", "started": "00:15", "ended": "04:00", "assembly": wing.pk}
    values |= {"people": [shop.person.pk, jory.pk, tam.pk], f"start_{jory.pk}": "01:20", f"start_{tam.pk}": "01:40"}
    asked = shop.log(**values)
    refused(asked, "01:20 came twice", "which start is meant?")
    session = kept(shop.fill(asked, start_twice="second"))
    starts = {row.person_id: row.started_at for row in session.people.all()}
    assert starts[jory.pk] == instant("2025-11-02T01:20", WINTER)
    assert starts[tam.pk] == instant("2025-11-02T01:40", WINTER)


@pytest.mark.parametrize(("answer", "offset"), [("first", SUMMER), ("second", WINTER)])
def test_a_session_of_that_night_is_edited_without_being_asked_again_and_can_be_moved_to_the_other_hour(
    shop, wing, answer, offset
):
    values = typed("2025-11-02T01:30", "2025-11-02T04:00", start_twice=answer, assembly=wing.pk)
    session = kept(shop.log(**values))
    page = shop.get("session_edit", session.pk)
    assert form_of(page)[0]["start_twice"] == [answer]
    assert kept(shop.fill(page, note="Words", reason="None before")).started_at == instant("2025-11-02T01:30", offset)
    page = shop.get("session_edit", session.pk)
    other = "second" if answer == "first" else "first"
    moved = kept(shop.fill(page, start_twice=other, reason="It was the other hour"))
    assert moved.started_at == instant("2025-11-02T01:30", SUMMER + WINTER - offset)
    assert moved.people.get().started_at == moved.started_at


def test_people_who_share_a_clock_time_but_not_the_hour_keep_their_own_when_something_else_is_corrected(shop, wing):
    jory = make_person(shop.project)
    first = kept(
        shop.log(**typed("2025-11-02T00:30", "2025-11-02T04:00", assembly=wing.pk, people=[shop.person.pk, jory.pk]))
    )
    row = first.people.get(person=jory)
    row.started_at = instant("2025-11-02T01:40", WINTER)
    row.labor_seconds = 140 * 60
    row.save()
    page = shop.get("session_edit", first.pk)
    moved = kept(shop.fill(page, ended="04:30", reason="Half an hour was missing"))
    assert moved.people.get(person=jory).started_at == instant("2025-11-02T01:40", WINTER)
    assert moved.people.get(person=jory).labor_seconds == 170 * 60


@pytest.mark.parametrize(
    ("started", "ended", "hours"),
    [("22:30", "00:45", 2.25), ("23:59", "00:01", 1 / 30), ("12:00", "11:59", 24 - 1 / 60)],
)
def test_an_end_before_the_start_is_the_next_day(shop, wing, started, ended, hours):
    session = kept(shop.log(day="2026-04-02", started=started, ended=ended, assembly=wing.pk))
    assert session.labor_seconds == round(hours * 3600)
    assert session.started_at == instant(f"2026-04-02T{started}", SUMMER)


def test_a_start_and_end_that_are_the_same_are_refused(shop, wing):
    page = shop.log(day="2026-04-02", started="10:00", ended="10:00", assembly=wing.pk, note="Stay")
    refused(page, "Start and end are the same")
    assert form_of(page)[0]["note"] == ["Stay"]


def test_more_than_a_day_is_refused_where_the_clocks_went_back_within_it(shop, wing):
    values = {"day": "2025-11-01", "started": "12:00", "ended": "11:30", "assembly": wing.pk}
    refused(shop.log(**values), "a session lasts 24 hours at most")
    assert kept(shop.log(**values | {"ended": "11:00"})).labor_seconds == 24 * 3600


@pytest.mark.parametrize(
    ("day", "started", "ended"),
    [("2026-05-14", "10:00", "11:11"), ("2026-05-14", "23:00", "01:00"), ("2026-06-01", "08:00", "09:00")],
)
def test_a_session_that_ends_in_the_future_is_refused(shop, wing, day, started, ended):
    refused(shop.log(day=day, started=started, ended=ended, assembly=wing.pk), "the end lies in the future")


def test_the_form_begins_with_the_last_hour_and_that_can_be_saved_as_it_is(shop, wing):
    session = kept(shop.log(assembly=wing.pk))
    assert (session.started_at, session.ended_at) == (shop_now() - timedelta(hours=1), shop_now())


def shop_now() -> datetime:
    from django.utils import timezone

    return timezone.now()


@pytest.mark.parametrize(
    ("now", "hour"),
    [
        ("2025-03-09T09:30", 1),  # 03:30, an hour after 01:30: the clocks jumped in between
        ("2025-11-02T08:20", 1),  # 01:20 for the second time
        ("2025-11-02T07:20", 1),  # 01:20 for the first time
        ("2026-05-14T06:20", 1),  # 00:20: the day is yesterday's
    ],
)
def test_the_last_hour_is_an_hour_in_every_night(shop, wing, clock, now, hour):
    clock.now = datetime.fromisoformat(now).replace(tzinfo=UTC)
    session = kept(shop.log(assembly=wing.pk))
    assert session.labor_seconds == hour * 3600
    assert session.ended_at == clock.now


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31", "1949-12-31", "2100-01-01", "2026-02-30", "yesterday", ""])
@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Denver"])
def test_a_day_out_of_reach_is_an_error_of_its_field(shop, day, zone):
    _, person = make_project("Far", time_zone=zone)
    far = Shop(person, client_for(person))
    page = far.log(day=day, started="23:30", ended="00:30", assembly=make_assembly(person).pk)
    assert page.status_code == 422
    assert "day" in page.context["form"].errors


@pytest.mark.parametrize(
    ("times", "own", "start", "end"),
    [
        (("08:00", "12:00"), ("07:15", ""), "2026-04-02T07:15", "2026-04-02T12:00"),
        (("08:00", "12:00"), ("", "10:30"), "2026-04-02T08:00", "2026-04-02T10:30"),
        (("18:00", "22:00"), ("09:00", "10:00"), "2026-04-02T09:00", "2026-04-02T10:00"),
        (("22:00", "02:00"), ("00:30", ""), "2026-04-03T00:30", "2026-04-03T02:00"),
        (("22:00", "02:00"), ("", "00:30"), "2026-04-02T22:00", "2026-04-03T00:30"),
        (("22:00", "02:00"), ("20:00", "21:00"), "2026-04-02T20:00", "2026-04-02T21:00"),
        (("18:00", "22:00"), ("21:00", "00:30"), "2026-04-02T21:00", "2026-04-03T00:30"),
    ],
)
def test_a_persons_own_times_fall_on_the_right_day_and_come_back_the_same(shop, wing, times, own, start, end):
    jory = make_person(shop.project)
    values = {"day": "2026-04-02", "started": times[0], "ended": times[1], "assembly": wing.pk}
    values |= {"people": [shop.person.pk, jory.pk], f"start_{jory.pk}": own[0], f"end_{jory.pk}": own[1]}
    session = kept(shop.log(**values))
    row = session.people.get(person=jory)
    assert (row.started_at, row.ended_at) == (instant(start, SUMMER), instant(end, SUMMER))
    before = [one.state() for one in session.people.order_by("pk")]
    again = kept(shop.fill(shop.get("session_edit", session.pk), note="Words", reason="None before"))
    assert [one.state() for one in again.people.order_by("pk")] == before
    # Touched: every time is typed anew and has to come out where it was.
    touched = shop.fill(shop.get("session_edit", session.pk), breaks="1", reason="A pause was missing")
    assert [(one.started_at, one.ended_at) for one in kept(touched).people.order_by("pk")] == [
        (one.started_at, one.ended_at) for one in session.people.order_by("pk")
    ]


def test_own_start_and_end_that_are_the_same_are_refused_by_name(shop, wing):
    jory = make_person(shop.project, name="Jory Pask")
    own = {f"start_{jory.pk}": "09:00", f"end_{jory.pk}": "09:00"}
    page = shop.log(day="2026-04-02", started="08:00", ended="12:00", assembly=wing.pk, people=[jory.pk], **own)
    refused(page, "Jory Pask: the end must come after the start")


def test_a_night_session_typed_the_day_after_it_began_is_of_the_day_after(shop, wing, clock):
    clock.now = instant("2026-04-03T17:46", SUMMER)
    session = kept(shop.log(day="2026-04-02", started="22:30", ended="01:15", assembly=wing.pk))
    assert session.source == "next_day"
    assert "Worked 2 Apr 2026, entered" in text_of(shop.get("session", session.pk))


@pytest.mark.parametrize(
    ("entered", "source", "words"),
    [
        ("2026-04-02T23:50", "live", ""),
        ("2026-04-03T00:10", "next_day", "Logged the day after"),
        ("2026-04-04T08:00", "reconstructed", "Reconstructed later"),
    ],
)
def test_late_entries_are_told_by_local_dates_and_shown_with_both(shop, wing, clock, entered, source, words):
    clock.now = instant(entered, SUMMER)
    session = kept(shop.log(day="2026-04-02", started="20:00", ended="22:00", assembly=wing.pk))
    assert session.source == source
    page, rows = text_of(shop.get("session", session.pk)), text_of(shop.get("sessions"))
    assert ("Both dates print" in page) == (source != "live")
    if words:
        assert words in page
        assert words in rows
        assert "Worked 2 Apr 2026, entered" in page
        assert f"{clock.now - timedelta(hours=SUMMER):%-d %b %Y, %H:%M}" in page
