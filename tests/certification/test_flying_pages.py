"""Inspection lists, test flights, statements and who built it: through the pages, for who may and who may not."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts import commands as accounts
from accounts.models import Person
from archive.queries import faults
from buildlog import commands as buildlog
from certification.commands import flights as flying
from certification.commands import inspection_lists as commands
from certification.commands import statements as stating
from certification.models import Flight, Inspection, LineAnswer, Statement, TestPoint
from certification.queries import flights as flight_queries
from certification.queries import inspection_lists as queries
from certification.queries import people as people_queries
from evidence import commands as evidence
from foundation.refusal import Refusal
from inspections.commands import discrepancies
from inspections.models import Discrepancy
from journal.models import Entry
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_person,
    make_photo,
    make_project,
    make_session,
    worked,
)

pytestmark = pytest.mark.django_db
BASE = "/tarnwader-2"
OWN = "Hull,Drain plugs fitted\nHull,Keel: no damage\nWings,Pins locked\n"
TICKS = ["controllable", "no_hazard", "safe"]
FIGURES = {"vso": "41", "vx": "54", "vy": "62 kt", "weight": "612", "arm": "2210 mm"}


@pytest.fixture
def edda() -> Person:
    return make_project()[1]


@pytest.fixture
def client(edda: Person) -> Client:
    return client_for(edda)


def begin(by: Person, text: str = OWN, kind: str = "final", title: str = "Own") -> Inspection:
    groups = queries.rules.read_list(text).groups
    content = queries.rules.content(title, "1", "own", groups)
    return commands.begin(by=by, at=NOW, project=by.project, kind=kind, content=content)


def answer(by: Person, run: Inspection, code: str, said: str, **more) -> LineAnswer:  # noqa: ANN003
    return commands.give_answer(by=by, at=NOW, inspection=run, code=code, answer=said, **more)


def fly(by: Person, minutes: int = 60, **more) -> Flight:  # noqa: ANN003
    said = {"flown_on": NOW.date(), "pilot": "Edda Norrell", "minutes": minutes, "landings": 1}
    said |= {"weight": "", "arm": "", "note": ""} | more
    return flying.log_flight(by=by, at=NOW, project=by.project, **said)


def phase(by: Person, hours: str = "40", **more) -> None:  # noqa: ANN003
    said = {"source": "Operating limitations of 3 May 2026, par. 5", "wording": "These are its words."} | more
    flying.set_phase(by=by, at=NOW, project=by.project, hours_asked=Decimal(hours), **said)


def page(client: Client, path: str) -> str:
    response = client.get(BASE + path)
    assert response.status_code == 200, path
    return response.content.decode()


def no_faults(by: Person) -> None:
    assert not list(faults(by.project))


# ---- beginning ----


def test_a_bundled_list_is_begun_and_kept_with_edition_and_digest(client: Client, edda: Person) -> None:
    assert "No inspection yet" in page(client, "/inspection-lists/")
    response = client.post(f"{BASE}/inspection-lists/new/", {"kind": "final", "which": "bundled", "act": "begin"})
    assert response.status_code == 302
    run = Inspection.objects.get()
    assert (run.number, run.edition) == (1, "1, 2026-11-28")
    assert queries.seal(queries.bundled()["final"]) == (run.content, run.digest)
    shown = page(client, f"/inspection-lists/{run.pk}/")
    assert "77 open" in shown and shown.count('aria-pressed="false"') == 77 * 3
    assert "%" not in queries.judged([run])[0].counts.words
    assert Entry.objects.filter(verb="inspection.begun").count() == 1
    no_faults(edda)


def test_ones_own_list_is_looked_at_first_and_told_line_by_line(client: Client) -> None:
    said = {"kind": "final", "which": "own", "title": "Own list", "text": "Hull,Plugs\nHull,Plugs\n,\nWings,\n"}
    response = client.post(f"{BASE}/inspection-lists/new/", said | {"act": "begin"})
    shown = response.content.decode()
    assert response.status_code == 422
    assert "Line 2" in shown and "Line 4" in shown and "Hull,Plugs" in shown
    assert not Inspection.objects.exists()
    response = client.post(f"{BASE}/inspection-lists/new/", said | {"act": "look", "text": OWN})
    assert response.status_code == 200
    assert "3 lines in 2 groups. Nothing is kept yet." in response.content.decode()
    assert not Inspection.objects.exists()
    assert client.post(f"{BASE}/inspection-lists/new/", said | {"act": "begin", "text": OWN}).status_code == 302
    assert [len(group.lines) for group in queries.judged(Inspection.objects.all())[0].groups] == [2, 1]


def test_a_file_is_read_into_the_field_and_never_taken_unseen(client: Client) -> None:
    said = {"kind": "final", "which": "own", "title": "Own list", "act": "look"}
    file = SimpleUploadedFile("list.csv", OWN.encode())
    shown = client.post(f"{BASE}/inspection-lists/new/", said | {"file": file}).content.decode()
    assert "Drain plugs fitted" in shown and "3 lines" in shown
    file = SimpleUploadedFile("list.csv", "Hull,Tür".encode("latin-1"))
    response = client.post(f"{BASE}/inspection-lists/new/", said | {"file": file})
    assert response.status_code == 422 and "UTF-8" in response.content.decode()


# ---- answering ----


def test_one_tap_answers_a_line_with_and_without_htmx(client: Client, edda: Person) -> None:
    run = begin(edda)
    to = f"{BASE}/inspection-lists/{run.pk}/1.01/answer/"
    plain = client.post(to, {"answer": "yes"})
    assert plain.status_code == 302 and plain.url.endswith("#line-1.01")
    piece = client.post(
        f"{BASE}/inspection-lists/{run.pk}/1.02/answer/",
        {"answer": "na", "note": "No keel"},
        headers={"HX-Request": "true"},
    )
    shown = piece.content.decode()
    assert "<html" not in shown and 'id="line-1.02"' in shown and 'id="counts"' in shown
    assert "1 open, 1 in order, 1 not applicable" in shown
    assert LineAnswer.objects.get(code="1.02").note == "No keel"
    no_faults(edda)


def test_another_answer_asks_why_and_keeps_the_old_one_in_the_history(client: Client, edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "yes")
    to = f"{BASE}/inspection-lists/{run.pk}/1.01/answer/"
    for headers in ({}, {"HX-Request": "true"}):
        refused = client.post(to, {"answer": "no", "note": "Loose"}, headers=headers)
        assert refused.status_code == 422
        assert "Say why the answer changes" in refused.content.decode() and "Loose" in refused.content.decode()
    assert LineAnswer.objects.get().answer == "yes"
    client.post(to, {"answer": "no", "note": "Loose", "reason": "Looked again"})
    assert LineAnswer.objects.get().answer == "no"
    shown = page(client, f"/inspection-lists/{run.pk}/1.01/")
    assert "Looked again" in shown and "<del>In order</del>" in shown
    no_faults(edda)


def test_the_same_answer_again_writes_nothing(edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "yes")
    before = Entry.objects.count()
    answer(edda, run, "1.01", "yes")
    assert Entry.objects.count() == before
    with pytest.raises(Refusal, match="no such line"):
        answer(edda, run, "9.99", "yes")


def test_a_line_of_ones_own_is_answered_like_the_others_and_can_leave(client: Client, edda: Person) -> None:
    run = begin(edda)
    assert client.post(f"{BASE}/inspection-lists/{run.pk}/own/", {"words": " "}).status_code == 422
    client.post(f"{BASE}/inspection-lists/{run.pk}/own/", {"words": "Anchor stowed"})
    assert "4 open" in page(client, f"/inspection-lists/{run.pk}/")
    answer(edda, run, "A-1", "yes")
    assert queries.judged([run])[0].counts.words == "3 open, 1 in order"
    client.post(f"{BASE}/inspection-lists/{run.pk}/A-1/back/", {"reason": "No anchor"})
    assert queries.judged([run])[0].counts.lines == 3
    assert commands.add_line(by=edda, at=NOW, inspection=run, words="Paddle").code == "A-2"
    no_faults(edda)


def test_an_answer_taken_back_opens_its_line(client: Client, edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "yes")
    to = f"{BASE}/inspection-lists/{run.pk}/1.01/back/"
    assert client.post(to, {"reason": ""}).status_code == 422
    assert client.post(to, {"reason": "Wrong line"}).status_code == 302
    assert queries.judged([run])[0].counts.open == 3
    answer(edda, run, "1.01", "no")
    assert LineAnswer.objects.standing().get().answer == "no"


def test_what_is_open_can_be_shown_alone(client: Client, edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "yes")
    shown = page(client, f"/inspection-lists/{run.pk}/?open=1")
    assert "Drain plugs" not in shown and "Keel" in shown


# ---- discrepancies ----


def test_what_is_not_in_order_becomes_a_discrepancy_and_each_leads_to_the_other(client: Client, edda: Person) -> None:
    run, hull = begin(edda), make_assembly(edda, "10", "Hull")
    answer(edda, run, "1.02", "no", note="Gelcoat cracked")
    to = f"{BASE}/inspection-lists/{run.pk}/1.02"
    shown = page(client, f"/inspection-lists/{run.pk}/1.02/")
    assert "It becomes a discrepancy" in shown and "Keel: no damage: Gelcoat cracked" in shown
    said = {"words": "Gelcoat cracked at frame 3", "severity": "minor", "blocks": "on"}
    assert client.post(f"{to}/find/", said).status_code == 422
    assert client.post(f"{to}/find/", said | {"assembly": hull.pk}).status_code == 302
    found = Discrepancy.objects.get()
    assert found.assembly == hull and LineAnswer.objects.get().discrepancy == found
    assert found.label in page(client, f"/inspection-lists/{run.pk}/")
    led = client.get(f"{BASE}/discrepancies/{found.pk}/from/", headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in led and f"{to}/" in led and "Keel: no damage" in led
    assert "discrepancies" in page(client, f"/discrepancies/{found.pk}/")
    assert client.post(f"{to}/find/", said | {"assembly": hull.pk}).status_code == 422
    no_faults(edda)


def test_a_line_is_tied_to_a_discrepancy_that_is_there(client: Client, edda: Person) -> None:
    run, hull = begin(edda), make_assembly(edda, "10", "Hull")
    found = discrepancies.find(by=edda, at=NOW, project=edda.project, assembly=hull, words="Crack", severity="minor")
    elsewhere = make_project("Other")[1]
    there = discrepancies.find(
        by=elsewhere, at=NOW, project=elsewhere.project, assembly=make_assembly(elsewhere), words="X", severity="minor"
    )
    answer(edda, run, "1.02", "no")
    to = f"{BASE}/inspection-lists/{run.pk}/1.02/tie/"
    assert client.post(to, {"discrepancy": there.pk}).status_code == 422
    assert client.post(to, {"discrepancy": found.pk}).status_code == 302
    assert LineAnswer.objects.get().discrepancy == found
    good = answer(edda, run, "1.01", "yes")
    with pytest.raises(Refusal, match="not in order"):
        commands.tie(by=edda, at=NOW, answer=good, discrepancy=found)


def test_what_led_to_a_discrepancy_says_nothing_where_nothing_did(client: Client, edda: Person) -> None:
    found = discrepancies.find(
        by=edda, at=NOW, project=edda.project, assembly=make_assembly(edda), words="Crack", severity="minor"
    )
    to = f"{BASE}/discrepancies/{found.pk}/from/"
    assert not client.get(to, headers={"HX-Request": "true"}).content.strip()
    assert "No line of an inspection list" in client.get(to).content.decode()


# ---- the end ----

ENTRY = {
    "done_on": NOW.date().isoformat(),
    "done_by": "Edda Norrell",
    "certificate": "",
    "total_hours": "",
    "wording": "limits",
    "statement": "As our limitations word it.",
    "gap_reason": "",
}


def test_a_run_is_finished_when_every_line_is_answered_and_stays_as_it_is(client: Client, edda: Person) -> None:
    run = begin(edda)
    to = f"{BASE}/inspection-lists/{run.pk}/finish/"
    refused = client.post(to, ENTRY)
    assert refused.status_code == 422 and "3 lines are not answered." in refused.content.decode()
    for code in ("1.01", "1.02", "2.01"):
        answer(edda, run, code, "yes")
    assert client.post(to, ENTRY | {"wording": ""}).status_code == 422
    assert client.post(to, ENTRY).status_code == 302
    run.refresh_from_db()
    assert run.finished_at and run.statement == ENTRY["statement"] and not run.gap_reason
    with pytest.raises(Refusal, match="finished"):
        answer(edda, run, "1.01", "no", reason="Later")
    shown = page(client, f"/inspection-lists/{run.pk}/")
    assert "Finished" in shown and 'name="answer"' not in shown and "As our limitations word it." in shown
    client.post(f"{BASE}/inspection-lists/{run.pk}/reopen/", {"reason": "A line was wrong"})
    answer(edda, run, "1.01", "no", reason="A line was wrong")
    assert "A line was wrong" in page(client, f"/inspection-lists/{run.pk}/")
    no_faults(edda)


def test_over_a_gap_only_with_a_reason_that_stays_and_prints(client: Client, edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "no")
    reason = "Wings come on the day of the visit"
    assert client.post(f"{BASE}/inspection-lists/{run.pk}/finish/", ENTRY | {"gap_reason": reason}).status_code == 302
    assert queries.judged([Inspection.objects.get()])[0].state[1] == "Finished over gaps"
    for path in ("", "print/"):
        assert reason in page(client, f"/inspection-lists/{run.pk}/{path}")
    assert queries.inspections_facts(edda.project)[0]["gap_reason"] == reason


def test_a_yearly_run_asks_for_certificate_and_total_time_and_tells_when_the_next_is_due(
    client: Client, edda: Person
) -> None:
    """Due within 12 calendar months, copies of operating limitations (seen); clamped like shelf life."""
    assert flight_queries.dates(edda.project) == []
    final = begin(edda, "Hull,Plugs\n")
    answer(edda, final, "1.01", "yes")
    client.post(f"{BASE}/inspection-lists/{final.pk}/finish/", ENTRY)
    due = flight_queries.dates(edda.project)
    assert due[0][0] == date(2027, 5, 14) and "final inspection" in due[0][1]
    run = begin(edda, "Hull,Plugs\n", "condition")
    answer(edda, run, "1.01", "yes")
    refused = client.post(f"{BASE}/inspection-lists/{run.pk}/finish/", ENTRY)
    assert refused.status_code == 422 and "certificate" in refused.content.decode()
    full = ENTRY | {"certificate": "Repairman 123", "total_hours": "87.4"}
    assert client.post(f"{BASE}/inspection-lists/{run.pk}/finish/", full).status_code == 302
    assert "last condition inspection" in flight_queries.dates(edda.project)[0][1]
    for path in ("/inspection-lists/", "/flights/"):
        shown = page(client, path)
        assert "14 May 2027" in shown and "31 May 2027" in shown


def test_a_sheet_prints_with_empty_boxes_and_with_what_was_said(client: Client, edda: Person) -> None:
    run = begin(edda)
    answer(edda, run, "1.01", "yes", note="Torqued")
    blank = page(client, f"/inspection-lists/{run.pk}/print/?blank=1")
    assert blank.count("paper-box") == 9 and "Torqued" not in blank
    said = page(client, f"/inspection-lists/{run.pk}/print/")
    assert said.count("paper-box") == 8 and "Torqued" in said
    for kind, boxes in (("final", 77 * 3), ("condition", 30 * 3)):
        shown = page(client, f"/inspection-lists/blank/{kind}/")
        assert shown.count("paper-box") == boxes and "Not an official form" in shown
    assert client.get(f"{BASE}/inspection-lists/blank/other/").status_code == 404


def test_a_run_begun_by_mistake_is_withdrawn_and_stays_readable(client: Client, edda: Person) -> None:
    run = begin(edda)
    client.post(f"{BASE}/inspection-lists/{run.pk}/withdraw/", {"reason": "Twice"})
    assert "No inspection yet" in page(client, "/inspection-lists/")
    assert "Withdrawn" in page(client, f"/inspection-lists/{run.pk}/")
    assert begin(edda).number == 2
    with pytest.raises(Refusal, match="withdrawn"):
        answer(edda, run, "1.01", "yes")


# ---- flights ----


def test_flights_add_up_against_the_hours_asked(client: Client, edda: Person) -> None:
    assert "Hours asked are not set" in page(client, "/flights/")
    asked = page(client, "/flights/asked/")
    assert "25 h" in asked and "40 h" in asked
    assert client.post(f"{BASE}/flights/asked/", {"hours_asked": "40", "source": ""}).status_code == 422
    client.post(f"{BASE}/flights/asked/", {"hours_asked": "2", "source": "Limitations, par. 5"})
    said = {"flown_on": NOW.date().isoformat(), "pilot": "Edda", "landings": "2", "weight": "612", "arm": "2210 mm"}
    assert client.post(f"{BASE}/flights/new/", said | {"minutes": "1.2"}).status_code == 422
    client.post(f"{BASE}/flights/new/", said | {"minutes": "1:12"})
    assert "Still to fly" in page(client, "/flights/") and "0:48" in page(client, "/flights/")
    client.post(f"{BASE}/flights/new/", said | {"minutes": "48 min"})
    shown = page(client, "/flights/")
    assert "2:00 flown of 2 h asked" in shown and "The hours asked are flown" in shown
    first = Flight.objects.get(number=1)
    assert (first.minutes, first.weight, first.arm) == (72, "612 kg", "2210 mm")
    no_faults(edda)


def test_a_flight_is_corrected_with_a_reason_and_withdrawn_only_when_no_point_names_it(
    client: Client, edda: Person
) -> None:
    flight = fly(edda, 72)
    said = {"flown_on": NOW.date().isoformat(), "pilot": "Jory", "landings": "1", "minutes": "1:15"}
    assert client.post(f"{BASE}/flights/{flight.pk}/edit/", said).status_code == 422
    client.post(f"{BASE}/flights/{flight.pk}/edit/", said | {"reason": "Clock misread"})
    shown = page(client, f"/flights/{flight.pk}/")
    assert "1:15" in shown and "Clock misread" in shown and "<del>72</del>" in shown
    point = flying.plan_point(by=edda, at=NOW, project=edda.project, words="Stall, clean")
    flying.tell_point(by=edda, at=NOW, point=point, outcome="good", flight=flight)
    refused = client.post(f"{BASE}/flights/{flight.pk}/withdraw/", {"reason": "Never flown"})
    assert refused.status_code == 422 and "TP-1" in refused.content.decode()
    flying.tell_point(by=edda, at=NOW, point=point, outcome="", reason="Not flown")
    client.post(f"{BASE}/flights/{flight.pk}/withdraw/", {"reason": "Never flown"})
    assert flight_queries.progress(edda.project).flown == 0
    no_faults(edda)


def test_a_flight_of_tomorrow_is_refused(edda: Person) -> None:
    with pytest.raises(Refusal, match="has not come"):
        fly(edda, flown_on=NOW.date() + timedelta(days=1))
    with pytest.raises(Refusal, match="at least a minute"):
        fly(edda, 0)


def test_points_are_planned_flown_and_one_that_is_bad_becomes_a_discrepancy_by_one_tap(
    client: Client, edda: Person
) -> None:
    wing = make_assembly(edda, "20", "Wing")
    client.post(f"{BASE}/flights/points/new/", {"points": "Stall, clean | no wing drop\nClimb at 62 kt"})
    assert client.post(f"{BASE}/flights/points/new/", {"points": " "}).status_code == 422
    stall = TestPoint.objects.get(number=1)
    to = f"{BASE}/flights/points/{stall.pk}/"
    flight = fly(edda)
    assert client.post(to, {"outcome": "bad", "found": "Left wing drops"}).status_code == 422
    assert client.post(to, {"outcome": "bad", "flight": flight.pk}).status_code == 422
    client.post(to, {"outcome": "bad", "found": "Left wing drops", "flight": flight.pk})
    assert "It becomes a discrepancy" in page(client, f"/flights/points/{stall.pk}/")
    assert client.post(f"{to}find/", {"assembly": wing.pk, "severity": "major"}).status_code == 302
    found = Discrepancy.objects.get()
    assert "Left wing drops" in found.words and TestPoint.objects.get(number=1).discrepancy == found
    assert client.post(f"{to}find/", {"assembly": wing.pk, "severity": "major"}).status_code == 422
    led = client.get(f"{BASE}/discrepancies/{found.pk}/from/").content.decode()
    assert "TP-1 Stall, clean" in led
    assert client.post(to, {"outcome": "good", "flight": flight.pk}).status_code == 422
    client.post(to, {"outcome": "good", "flight": flight.pk, "reason": "Rigged anew, flown again"})
    shown = page(client, "/flights/")
    assert "1 as it should be, 0 to fly again, 0 not as it should be, 1 not flown" in shown
    client.post(f"{to}edit/", {"words": "Stall, clean, 1800 m", "limits": "", "reason": "Height added"})
    client.post(f"{to}withdraw/", {"reason": "Flown as TP-2"})
    assert flight_queries.points(edda.project).count() == 1
    no_faults(edda)


# ---- statements ----


def statement(**more: object) -> dict[str, object]:
    said = {"elements": TICKS, "wording": "limits", "text": "These are its words.", "made_on": NOW.date().isoformat()}
    return said | FIGURES | more


def test_the_end_of_the_phase_is_stated_only_with_every_element(client: Client, edda: Person) -> None:
    to = f"{BASE}/statements/new/phase_end/"
    phase(edda, "2")
    fly(edda, 119)
    assert "These are its words." in page(client, "/statements/new/phase_end/")
    refused = client.post(to, statement())
    assert refused.status_code == 422 and "The hours asked were flown" in refused.content.decode()
    fly(edda, 1)
    for key in FIGURES:
        assert client.post(to, statement(**{key: ""})).status_code == 422
    for tick in TICKS:
        assert client.post(to, statement(elements=[one for one in TICKS if one != tick])).status_code == 422
    assert client.post(to, statement(vx="54 kg")).status_code == 422
    assert not Statement.objects.exists()
    assert client.post(to, statement()).status_code == 302
    made = Statement.objects.get()
    assert (made.hours, made.vso, made.weight, made.elements) == (Decimal("2.0"), "41 kt", "612 kg", TICKS)
    shown = page(client, f"/statements/{made.pk}/")
    assert "No hazardous characteristic" in shown and "41 kt" in shown
    client.post(f"{BASE}/statements/{made.pk}/withdraw/", {"reason": "Wrong date"})
    assert not flight_queries.statements(edda.project)
    no_faults(edda)


@pytest.mark.parametrize(
    ("kind", "ticks"),
    [("completion", ["own_purpose", "scope", "eligible", "signed"]), ("aerobatic", ["flown"])],
)
def test_the_other_statements_need_their_elements_too(
    client: Client, edda: Person, kind: str, ticks: list[str]
) -> None:
    to = f"{BASE}/statements/new/{kind}/"
    assert client.post(to, statement(elements=ticks[:-1])).status_code == 422
    assert client.post(to, statement(elements=ticks)).status_code == 302
    assert flight_queries.flights_facts(edda.project)["statements"][0]["elements"]


def test_a_yearly_inspection_from_paper_counts_for_the_next_date(client: Client, edda: Person) -> None:
    said = statement(elements=["scope", "signed"], hours="120.5")
    assert client.post(f"{BASE}/statements/new/condition/", said | {"hours": ""}).status_code == 422
    assert client.post(f"{BASE}/statements/new/condition/", said).status_code == 302
    assert flight_queries.due(edda.project).on == date(2027, 5, 14)
    assert client.get(f"{BASE}/statements/new/praise/").status_code == 404


# ---- people ----


def test_each_persons_part_is_told_and_paid_help_is_listed(client: Client, edda: Person) -> None:
    jory = make_person(edda.project, "helper", name="Jory")
    tam = make_person(edda.project, "paid", name="Tam")
    hull, wing = make_assembly(edda, "10", "Hull"), make_assembly(edda, "20", "Wing")
    start = NOW - timedelta(days=3)
    first = make_session(edda, hull, worked(edda, start), worked(jory, start), kind="labor", work="layup")
    make_session(edda, wing, worked(edda), shares=((hull, 1), (wing, 1)))
    make_session(edda, wing, worked(tam, minutes=90), note="Sprayed the primer")
    photo = make_photo(edda)
    evidence.describe_photo(by=edda, at=NOW, photo=photo, builder_in_frame=True)
    buildlog.attach_photos(by=edda, at=NOW, session=first, photos=[photo])
    now = people_queries.builders(edda.project)
    mine = now.people[0]
    assert mine.person == edda and mine.counted == 4 * 3600 and mine.sums.sessions == 2 and mine.sums.days == 2
    assert {str(place): seconds for place, seconds in mine.assemblies} == {"10 Hull": 3 * 3600, "20 Wing": 3600}
    assert [one.label for one in mine.photos] == [photo.label]
    assert mine.entered is not None and mine.left is None
    assert [one.person.name for one in now.paid] == ["Tam"]
    assert dict(now.by_role) == {"Builder": 4 * 3600, "Helper, unpaid": 2 * 3600, "Paid help": 90 * 60}
    shown = page(client, "/who-built-it/")
    assert "Sprayed the primer" in shown and "Who owned the aircraft when is not recorded here" in shown
    assert "The authority decides" in shown
    sheet = page(client, f"/who-built-it/{edda.pk}/")
    assert "4.0 hours in 2 sessions" in sheet and "10 Hull" in sheet and photo.label in sheet
    facts = people_queries.builders_facts(edda.project)
    assert [row["name"] for row in facts["people"]] == ["Edda Norrell", "Jory", "Tam"]
    assert facts["people"][2]["did"][0]["note"] == "Sprayed the primer"


def test_who_left_the_record_keeps_a_place_with_the_day(client: Client, edda: Person) -> None:
    jory = make_person(edda.project, "helper", name="Jory")
    make_session(edda, make_assembly(edda), worked(jory))
    accounts.withdraw_person(by=edda, at=NOW, person=jory, reason="Moved away")
    assert "left the record 14 May 2026" in page(client, "/who-built-it/")


def test_a_paid_helper_who_also_worked_with_others_is_told_of_alone(edda: Person) -> None:
    tam = make_person(edda.project, "paid", name="Tam")
    make_session(edda, make_assembly(edda), worked(edda), worked(tam, minutes=30))
    one = people_queries.builders(edda.project).of(tam.pk)
    assert [row.seconds for row in one.did] == [1800]


# ---- doors ----

PATHS = (
    "inspection-lists/",
    "inspection-lists/new/",
    "inspection-lists/blank/final/",
    "inspection-lists/{run}/",
    "inspection-lists/{run}/print/",
    "inspection-lists/{run}/finish/",
    "inspection-lists/{run}/1.01/",
    "discrepancies/{found}/from/",
    "flights/",
    "flights/asked/",
    "flights/new/",
    "flights/{flight}/",
    "flights/points/{point}/",
    "statements/new/phase_end/",
    "statements/{made}/",
    "who-built-it/",
    "who-built-it/{edda}/",
)


def everything(by: Person) -> dict[str, str]:
    """One of each, by the name that the addresses use."""
    run = begin(by)
    given = answer(by, run, "1.01", "no")
    found = commands.make_discrepancy(
        by=by, at=NOW, answer=given, assembly=make_assembly(by), words="Loose", severity="minor"
    )
    phase(by)
    flight = fly(by)
    point = flying.plan_point(by=by, at=NOW, project=by.project, words="Stall")
    made = stating.make_statement(
        by=by,
        at=NOW,
        project=by.project,
        kind="aerobatic",
        text="Loops",
        wording="own",
        made_on=NOW.date(),
        elements=["flown"],
    )
    rows = {"run": run, "found": found, "flight": flight, "point": point, "made": made, "edda": by}
    return {name: row.pk for name, row in rows.items()}


def test_a_stranger_finds_no_page_and_no_row_of_another_project(edda: Person) -> None:
    keys = everything(edda)
    other = make_project("Other")[1]
    stranger = client_for(other)
    for path in PATHS:
        assert stranger.get(f"{BASE}/{path.format(**keys)}").status_code == 404, path
        if "{" in path:
            assert stranger.get(f"/other/{path.format(**keys)}").status_code == 404, path
    assert stranger.post(f"/other/inspection-lists/{keys['run']}/1.01/answer/", {"answer": "yes"}).status_code == 404
    assert queries.inspections_facts(other.project) == []
    assert flight_queries.flights_facts(other.project)["flights"] == []
    assert people_queries.builders_facts(other.project)["people"][0]["hours"] == "0.0"


def test_every_page_is_there_for_a_member_and_says_no_word_it_must_not(client: Client, edda: Person) -> None:
    keys = everything(edda)
    for path in PATHS:
        shown = page(client, "/" + path.format(**keys)).lower()
        assert "airworthy" not in shown and "compliant" not in shown, path


@pytest.mark.parametrize(
    ("role", "may_answer", "may_fly", "may_end"),
    [
        ("builder", True, True, True),
        ("helper", True, True, False),
        ("inspector", True, False, False),
        ("reader", False, False, False),
    ],
)
def test_who_may_do_what(edda: Person, role: str, may_answer: bool, may_fly: bool, may_end: bool) -> None:
    keys = everything(edda)
    person = edda if role == "builder" else make_person(edda.project, role)
    client = client_for(person)
    to = f"{BASE}/inspection-lists/{keys['run']}"

    def let_in(path: str, said: dict[str, object]) -> bool:
        return client.post(path, said).status_code != 403

    assert client.get(f"{to}/").status_code == 200
    assert let_in(f"{to}/1.02/answer/", {"answer": "yes"}) == may_answer
    assert let_in(f"{to}/own/", {"words": "Paddle"}) == may_answer
    assert let_in(f"{BASE}/flights/new/", {}) == may_fly
    assert let_in(f"{BASE}/flights/points/{keys['point']}/", {"outcome": ""}) == may_fly
    for path in (
        f"{to}/finish/",
        f"{to}/withdraw/",
        f"{BASE}/inspection-lists/new/",
        f"{BASE}/flights/asked/",
        f"{BASE}/statements/new/phase_end/",
    ):
        assert let_in(path, {}) == may_end, path


# ---- cost ----


def test_pages_cost_the_same_for_many_lines_flights_and_sessions(client: Client, edda: Person) -> None:
    keys = everything(edda)
    hull = make_assembly(edda, "10", "Hull")
    make_session(edda, hull)
    paths = ["inspection-lists/", f"inspection-lists/{keys['run']}/", "flights/", "who-built-it/"]

    def costs() -> list[int]:
        found = []
        for path in paths:
            client.get(f"{BASE}/{path}")
            with CaptureQueriesContext(connection) as asked:
                client.get(f"{BASE}/{path}")
            found.append(len(asked))
        return found

    before = costs()
    run = Inspection.objects.get()
    for code in ("1.02", "2.01"):
        answer(edda, run, code, "yes")
    for number in range(4):
        begin(edda)
        fly(edda)
        flying.plan_point(by=edda, at=NOW, project=edda.project, words="More")
        make_session(
            edda, make_assembly(edda, f"10.{number}"), worked(make_person(edda.project, "helper", account=False))
        )
    assert costs() == before


def test_the_clock_of_the_project_decides_the_day(edda: Person) -> None:
    """02:00 UTC on 15 May is still 14 May in Denver."""
    late = NOW.replace(day=15, hour=2)
    with timezone.override(edda.project.zone), pytest.raises(Refusal, match="has not come"):
        said = {"pilot": "Edda", "minutes": 10, "landings": 1, "weight": "", "arm": "", "note": ""}
        flying.log_flight(by=edda, at=late, project=edda.project, flown_on=late.date(), **said)
