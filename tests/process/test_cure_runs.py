"""Cure runs through their pages: started once, logged, judged, corrected with a reason, seen by members only."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from evidence.models import Document
from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import cures as commands
from process.models import Cured, CureRun
from process.pages import cures as pages
from process.rules import cures as rules
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project

pytestmark = pytest.mark.django_db

# A rise that is too fast from 18:40 to 19:05, on 13 March 2026.
FAST = """Oven log
Time;Spar (°C);Skin (°C)
13.03.2026 18:30;20,0;20,0
13.03.2026 18:40;22,0;22,0
13.03.2026 19:05;32,0;31,0
13.03.2026 21:30;60,0;60,5
14.03.2026 02:00;60,0;61,0
14.03.2026 03:00;40,0;40,0
"""
SPEC = {"low": Decimal(58), "high": Decimal(65), "soak_min": Decimal(240), "ramp_max_per_min": Decimal("0.3")}
SHORT = SPEC | {"soak_min": Decimal(60)}


@pytest.fixture
def shop():  # noqa: ANN201
    project, builder = make_project()
    return project, builder, make_assembly(builder)


def run_of(shop, **more) -> CureRun:  # noqa: ANN001, ANN003
    project, builder, assembly = shop
    values = {"heat": "oven", "started_at": NOW - timedelta(days=60), "unit": "C"} | more
    return commands.start_run(by=builder, at=NOW, project=project, assembly=assembly, **values)


def url(name: str, shop, *args) -> str:  # noqa: ANN001, ANN002
    return reverse(f"process:{name}", args=[shop[0].slug, *args])


def send_log(client, shop, run: CureRun, text: str = FAST):  # noqa: ANN001, ANN201
    file = SimpleUploadedFile("oven.csv", text.encode(), content_type="text/csv")
    return client.post(url("cure_log", shop, run.pk), {"file": file})


def confirm(client, shop, run: CureRun, **changed):  # noqa: ANN001, ANN003, ANN201
    page = client.get(url("cure_mapping", shop, run.pk, Document.objects.get().pk))
    form = page.context["form"]
    data = {field.html_name: field.value() for field in form if field.value() not in (None, False)}
    return client.post(url("cure_mapping", shop, run.pk, Document.objects.get().pk), data | changed)


def test_a_run_is_started_once(shop) -> None:  # noqa: ANN001
    client = client_for(shop[1])
    data = {"heat": "oven", "assembly": shop[2].pk, "setpoint": "60", "request_id": "r-1"}
    for _ in range(2):
        response = client.post(url("cure_new", shop), data)
        assert response.status_code == 302
    run = CureRun.objects.get()
    assert (run.label, run.setpoint, run.setpoint_degc) == ("C-1", "60 °C", Decimal(60))
    assert Entry.objects.filter(verb="cure.begun").count() == 1


def test_a_log_is_kept_shown_confirmed_and_judged(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop, **SPEC)
    response = send_log(client, shop, run)
    document = Document.objects.get()
    assert response.url == url("cure_mapping", shop, run.pk, document.pk)
    page = client.get(response.url).content.decode()
    assert "Spar (°C)" in page
    assert "13.03.2026 18:40" in page
    before = Entry.objects.count()
    assert confirm(client, shop, run).status_code == 302
    assert Entry.objects.count() == before + 1
    run.refresh_from_db()
    assert run.log == document
    assert run.started_at.astimezone(timezone.get_current_timezone()) is not None
    assert run.verdict["state"] == "bad"
    page = client.get(url("cure", shop, run.pk)).content.decode()
    assert "Spar: ramp 0.40 °C/min (24.0 °C/h), over the most, 0.30 °C/min (18.0 °C/h), from 18:40 to 19:05." in page
    assert "maker" in page
    assert "oven.csv" in page
    assert client.get(url("cure_file", shop, run.pk)).getvalue() == FAST.encode()


def test_a_line_that_cannot_be_read_refuses_the_whole(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    send_log(client, shop, run, FAST.replace("32,0", "hot"))
    response = confirm(client, shop, run)
    assert response.status_code == 422
    assert "Line 5: “hot” in column 2 is no temperature" in response.content.decode()
    run.refresh_from_db()
    assert run.log is None


def test_the_same_logger_is_known_again(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    send_log(client, shop, run)
    confirm(client, shop, run, name_1="Spar root", place_1="station 400", ramp_over="7")
    second = run_of(shop)
    page = client.get(url("cure_mapping", shop, second.pk, Document.objects.get().pk))
    reading = page.context["guess"].reading
    assert [(one.name, one.place) for one in reading.sensors][0] == ("Spar root", "station 400")
    assert reading.ramp_over == 7


def test_a_file_that_is_no_log_says_what_to_do(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    file = SimpleUploadedFile("a.png", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)))
    response = client.post(url("cure_log", shop, run.pk), {"file": file})
    assert response.status_code == 422
    assert "not a text file" in response.content.decode()
    assert not Document.objects.exists()
    words = send_log(client, shop, run, "Dear builder,\nthe oven was warm\n")
    page = client.get(words.url)
    assert page.status_code == 422
    assert "one line for each reading" in page.content.decode()


def test_typed_points_are_judged_and_corrected(shop) -> None:  # noqa: ANN001
    client, run = (
        client_for(shop[1]),
        run_of(shop, **SPEC | {"soak_min": Decimal(60)}, stopped_at=NOW - timedelta(days=59)),
    )
    rows = {
        "sensor": ["Oven", "Oven", "Oven", ""],
        "at": ["2026-03-13T18:30", "2026-03-13T21:30", "2026-03-13T23:30", ""],
        "temp": ["20", "140 °F", "60.5", ""],
    }
    assert client.post(url("cure_points", shop, run.pk), rows).status_code == 302
    run.refresh_from_db()
    assert [point.temp for point in run.points.all()] == ["20 °C", "140 °F", "60.5 °C"]
    assert run.verdict["state"] == "good"
    rows["temp"][1] = "warm"
    response = client.post(url("cure_points", shop, run.pk), rows)
    assert response.status_code == 422
    assert "Row 2" in response.content.decode()
    assert "warm" in response.content.decode()


def test_start_and_stop_alone_stay_open(shop) -> None:  # noqa: ANN001
    run = run_of(shop, **SPEC, stopped_at=NOW - timedelta(days=59))
    assert run.verdict["state"] == "open"
    assert "No temperatures" in client_for(shop[1]).get(url("cure", shop, run.pk)).content.decode()


def test_a_specification_is_entered_by_hour_and_in_hours(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    data = {"unit": "C", "low": "58", "high": "65", "soak_min": "4 h", "soak_rule": "unbroken", "ramp": "10"}
    data |= {"rate_per": "h", "source": "Resin sheet, 2025"}
    assert client.post(url("cure_spec", shop, run.pk), data).status_code == 302
    run.refresh_from_db()
    assert run.soak_min == 240
    assert run.ramp_max_per_min == Decimal("0.16666667")
    page = client.get(url("cure_spec", shop, run.pk))
    assert page.context["form"]["ramp"].value() == "10"
    bad = client.post(url("cure_spec", shop, run.pk), data | {"high": "50"})
    assert bad.status_code == 422
    assert "upper end lies below" in bad.content.decode()


def test_a_known_film_gets_its_limit_with_its_source(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    data = {"name": ["PVC film", "Foam core", ""], "limit": ["", "75", ""], "limit_source": ["", "core sheet", ""]}
    assert client.post(url("cure_stack", shop, run.pk), data).status_code == 302
    run.refresh_from_db()
    rows = {row.name: row for row in run.stack.all()}
    assert rows["PVC film"].limit == Decimal("82.223")
    assert "43.13-1B" in rows["PVC film"].source
    assert rows["Foam core"].limit == 75
    data["name"][1], data["limit"][1] = "Wood", ""
    response = client.post(url("cure_stack", shop, run.pk), data)
    assert "No limit is known here for “Wood”" in response.content.decode()


def test_a_built_in_limit_never_fails_what_is_at_it() -> None:
    limit = rules.built_in("PVC film", "C")
    assert limit is not None
    assert float(limit[0]) >= (180 - 32) / 1.8


def test_several_parts_lie_in_one_run(shop) -> None:  # noqa: ANN001
    project, builder, assembly = shop
    parts = [make_part(builder, assembly) for _ in range(2)]
    run = run_of(shop, cured=parts)
    assert {row.part for row in Cured.objects.filter(run=run)} == set(parts)
    commands.correct_run(run, by=builder, at=NOW, cured=parts[:1])
    assert [row.part for row in Cured.objects.filter(run=run)] == parts[:1]


def test_a_finished_run_is_corrected_with_a_reason_only(shop) -> None:  # noqa: ANN001
    run = run_of(shop)
    commands.finish_run(run, by=shop[1], at=NOW)
    with pytest.raises(Refusal, match="Say why"):
        commands.correct_run(run, by=shop[1], at=NOW, low=Decimal(50))
    assert commands.correct_run(run, by=shop[1], at=NOW, low=Decimal(50), reason="Misread").low == 50


def test_the_verdict_is_made_again_when_what_it_rests_on_changes(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop, **SPEC)
    send_log(client, shop, run)
    confirm(client, shop, run)
    run.refresh_from_db()
    basis = run.verdict["basis"]
    run = commands.correct_run(run, by=shop[1], at=NOW, ramp_max_per_min=Decimal("0.5"))
    assert run.verdict["basis"] != basis
    assert run.verdict["state"] == "good"
    # One that was kept of something else is not shown.
    CureRun.objects.filter(pk=run.pk).update(ramp_max_per_min=Decimal("0.2"))
    run.refresh_from_db()
    assert pages.standing(run).state == "bad"


def test_strangers_and_readers_are_kept_out(shop) -> None:  # noqa: ANN001
    run = run_of(shop)
    other, stranger = make_project("Another")
    assert client_for(stranger).get(url("cure", shop, run.pk)).status_code == 404
    assert client_for(stranger).get(reverse("process:cure", args=[other.slug, run.pk])).status_code == 404
    inspector = make_person(shop[0], "inspector")
    assert client_for(inspector).get(url("cure", shop, run.pk)).status_code == 200
    assert client_for(inspector).post(url("cure_spec", shop, run.pk), {}).status_code == 403


def test_every_page_of_a_run_opens(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop, **SPEC)
    names = ("cure_edit", "cure_spec", "cure_stack", "cure_points", "cure_log", "cure_withdraw", "cure_log_away")
    for name in names:
        assert client.get(url(name, shop, run.pk)).status_code == 200, name
    for name in ("cures", "cure_new"):
        assert client.get(url(name, shop)).status_code == 200, name
    assert client.post(url("cure_stop", shop, run.pk)).status_code == 302
    assert client.post(url("cure_finish", shop, run.pk)).status_code == 302
    assert client.post(url("cure_reopen", shop, run.pk), {"reason": "More to tell"}).status_code == 302
    assert client.post(url("cure_withdraw", shop, run.pk), {"reason": "Twice"}).status_code == 302
    assert "Withdrawn" in client.get(url("cure", shop, run.pk)).content.decode()


def test_a_log_that_ends_in_the_future_asks_for_the_order_of_the_date(shop) -> None:  # noqa: ANN001
    client, run = client_for(shop[1]), run_of(shop)
    send_log(client, shop, run, FAST.replace("2026", "2096"))
    response = confirm(client, shop, run)
    assert response.status_code == 422
    assert "ends in the future" in response.content.decode()
