"""A cure run in a real browser: started on a phone, its log read in, and the page says why it fails."""

import os
import re
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from buildlog.models import Receipt
from foundation.fields import new_key
from process.commands import cures as commands
from process.models import CureRun
from tests.browser.conftest import Desk
from tests.browser.offline import forgive_lost_signal, until, wait_until_kept
from tests.factories import make_assembly, make_project, make_user

pytestmark = pytest.mark.browser

ZONE = ZoneInfo("America/Denver")
START = datetime(2026, 3, 13, 18, 30, tzinfo=ZONE)


@pytest.fixture
def builder(flushable: None) -> Person:
    edda = make_project(user=make_user("edda"))[1]
    make_assembly(edda, "24.1", "Tip float, left")
    return edda


def log(temps, step: int = 5) -> str:  # noqa: ANN001
    """A logger's file: one row every few minutes, decimal commas, the day first."""
    rows = ["Shop oven;logger 2", "Date;Time;Spar °C;Skin °C;RH %"]
    for at, (spar, skin) in enumerate(temps):
        when = START + timedelta(minutes=step * at)
        rows.append(f"{when:%d.%m.%Y};{when:%H:%M};{spar:.1f};{skin:.1f};41".replace(".1f", "").replace(".", ",", 0))
    return "\n".join(row if at < 2 else comma(row) for at, row in enumerate(rows)) + "\n"


def comma(row: str) -> str:
    day, *rest = row.split(";")
    return ";".join([day, *(cell.replace(".", ",") for cell in rest)])


def slow() -> str:
    """Twelve hours to 60 °C, then only two in the band."""
    rise = [(20 + at * 40 / 144, 20 + at * 41 / 144) for at in range(145)]
    return log([*rise, *[(60, 61)] * 24, (50, 50), (40, 40)])


def fast() -> str:
    """Too fast from 18:40 to 19:05, then as it should be; the skin gets too hot."""
    rise = [(20, 20), (21, 21), (22, 22), (24, 24), (26, 25), (28, 26), (30, 28), (32, 30)]
    on = [(32 + at, 30 + at * 1.1) for at in range(1, 29)]
    hold = [(60, 61 if at != 20 else 72.5) for at in range(60)]
    return log([*rise, *on, *hold, (50, 50), (40, 40)])


def send(page: Page, text: str) -> None:
    page.get_by_role("link", name="Add the logger's file").click()
    page.get_by_label("Logger file").set_input_files(
        {"name": "oven.csv", "mimeType": "text/csv", "buffer": text.encode("latin-1")}
    )
    page.get_by_role("button", name="Look at it").click()


def started(desk: Desk, builder: Person) -> Page:
    """A run on a phone: a few taps, then the sheet's cure."""
    page = desk.go(f"/{builder.project.slug}/cures/new/")
    desk.look()
    page.get_by_label("Assembly").select_option(label="24.1 Tip float, left")
    page.get_by_label("Heat on at").fill("2026-03-13T18:30")
    page.get_by_label("Set to").fill("60")
    page.get_by_role("button", name="Start the run").click()
    expect(page.get_by_text("C-1 is kept.")).to_be_visible()
    page.get_by_role("link", name="Enter the specification").click()
    desk.look()
    page.get_by_label("Soak from").fill("58")
    page.get_by_label("Soak to").fill("65")
    page.get_by_label("Soak at least").fill("4 h")
    page.get_by_label("Never hotter than").fill("70")
    page.get_by_label("Heat up by at most").fill("0,3")
    page.get_by_label("Where it is from").fill("Resin sheet of 2025")
    page.get_by_role("button", name="Save and judge").click()
    expect(page.get_by_text("The specification is kept")).to_be_visible()
    return page


def picture(page: Page, name: str) -> None:
    """Leave a picture to be looked at where a folder for it is named."""
    folder = os.environ.get("SHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}-{page.viewport_size['width']}.png", full_page=True)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_log_that_heats_too_fast_shows_where_and_why(desks, builder, scheme) -> None:
    desk: Desk = desks("edda", color_scheme=scheme)
    page = started(desk, builder)
    desk.look()
    send(page, fast())
    expect(page.get_by_label("Order of the date")).to_have_value("dmy")
    expect(page.get_by_label("Decimals")).to_have_value(",")
    expect(page.get_by_label("Column 3 is a temperature")).to_be_checked()
    expect(page.get_by_label("Column 5 is a temperature")).not_to_be_checked()
    box = page.get_by_label("Column 3 is a temperature").bounding_box()
    assert min(box["width"], box["height"]) >= 44
    page.get_by_label("Where the sensor of column 3 sat").fill("spar root")
    desk.look()
    picture(page, f"mapping-{scheme}")
    page.get_by_role("button", name="Read it like this").click()
    faults = page.locator(".faults li")
    expect(faults.nth(0)).to_contain_text(
        "Spar: ramp 0.40 °C/min (24.0 °C/h), over the most, 0.30 °C/min (18.0 °C/h), from 18:40 to 19:05."
    )
    expect(page.locator(".faults")).to_contain_text("Skin reached 72.5 °C at")
    expect(page.locator("svg.cure-plot:visible .ring")).to_have_count(faults.count())
    expect(page.locator(".title-block")).to_contain_text("faults")
    desk.look()
    page.get_by_text("The same as a table").click()
    desk.look()
    picture(page, f"fast-{scheme}")


def test_a_slow_ramp_that_eats_the_soak_says_so(desks, builder) -> None:
    desk: Desk = desks("edda")
    page = started(desk, builder)
    send(page, slow())
    page.get_by_role("button", name="Read it like this").click()
    expect(page.locator(".faults")).to_contain_text("less than the 4 h asked for")
    expect(page.locator(".faults")).to_contain_text("Spar was the last to reach 58 °C, at 14 Mar 05:53")
    expect(page.locator(".faults")).to_contain_text("on average")
    desk.look()
    picture(page, "slow")
    assert CureRun.objects.get().verdict["state"] == "bad"


def test_a_running_cure_rings_at_the_end_of_its_soak(desks, builder) -> None:
    desk: Desk = desks("edda")
    page = started(desk, builder)
    page.get_by_role("button", name="Soak begins now").click()
    expect(page.get_by_role("timer")).to_have_text("4:00:00")
    desk.look()
    page.evaluate("localStorage.setItem(Object.keys(localStorage).find((key) => key.startsWith('soak:')), '1000')")
    expect(page.get_by_role("alert")).to_contain_text("The soak is over by this clock")
    page.get_by_role("button", name="Stop the alarm").click()
    expect(page.get_by_role("button", name="Soak begins now")).to_be_visible()
    page.get_by_role("button", name="Heat off now").click()
    expect(page.get_by_role("button", name="Heat off now")).to_have_count(0)


def test_stack_and_typed_points_on_a_phone(desks, builder) -> None:
    desk: Desk = desks("edda")
    page = started(desk, builder)
    page.get_by_role("link", name="Enter the stack").click()
    page.get_by_label("Material 1", exact=True).fill("Foam core")
    page.get_by_label("At most, material 1").fill("130 °F")
    page.get_by_label("Material 2", exact=True).fill("PVA film")
    desk.look()
    page.get_by_role("button", name="Save and judge").click()
    expect(page.get_by_text("at most 121.112 °C, FAA AC 43.13-1B")).to_be_visible()
    page.get_by_role("link", name="Type temperatures").click()
    for row, (at, temp) in enumerate([("18:30", "20"), ("21:00", "60"), ("23:30", "60")], start=1):
        page.get_by_label(f"Read at, row {row}").fill(f"2026-03-13T{at}")
        page.get_by_label(f"Temperature, row {row}").fill(temp)
    desk.look()
    page.get_by_role("button", name="Save and judge").click()
    expect(page.locator(".faults")).to_contain_text("more than Foam core bears")
    desk.look()


@pytest.mark.slow
@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_a_run_begun_and_stopped_without_signal(desks, builder) -> None:  # noqa: ANN001
    desk: Desk = desks("edda", service_workers="allow")
    page = desk.go(f"/{builder.project.slug}/cures/new/")
    desk.look()
    wait_until_kept(page)
    desk.context.set_offline(True)
    # An address that asks for an assembly opens the same kept page.
    assembly = page.get_by_label("Assembly").locator("option", has_text="Tip float, left").get_attribute("value")
    page.goto(f"{page.url}?assembly={assembly}")
    expect(page.get_by_label("Assembly")).to_have_value(assembly)
    page.get_by_label("What it is").fill("Post-cure")
    page.get_by_label("Set to").fill("60")
    began = timezone.now()
    page.get_by_role("button", name="Start the run").click()
    card = page.locator("[data-request]")
    expect(card).to_contain_text(re.compile(r"Kept on this phone, \d\d:\d\d – will be sent"))
    expect(card.locator("[data-elapsed]")).to_have_text(re.compile(r"^0:00:\d\d$"))
    expect(page.get_by_role("button", name="Start the run")).to_be_hidden()
    desk.look()
    # The list shows it too, and the heat goes off before its start has been sent.
    page.goto(f"{desk.base}/{builder.project.slug}/cures/")
    expect(card).to_contain_text("Post-cure")
    page.wait_for_timeout(1500)
    stopped = timezone.now()
    card.get_by_role("button", name="Heat off now").click()
    expect(card).to_contain_text("Heat off: Kept on this phone")
    expect(card.get_by_role("button", name="Heat off now")).to_be_hidden()
    desk.look()
    assert not CureRun.objects.exists()
    page.wait_for_timeout(3000)
    came = timezone.now()
    desk.context.set_offline(False)
    until(page, lambda: Receipt.objects.count() == 2, "the run has not come")
    run = CureRun.objects.get()
    assert began < run.started_at < stopped < run.stopped_at < came - timedelta(seconds=2)
    assert run.started_at - began < timedelta(seconds=3)
    assert (run.title, run.setpoint) == ("Post-cure", "60 °C")
    expect(page.get_by_role("link", name="C-1")).to_be_visible(timeout=30_000)
    expect(card).to_have_count(0)
    forgive_lost_signal(desk)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_heat_off_and_the_soak_without_signal(desks, builder) -> None:  # noqa: ANN001
    now, assembly = timezone.now(), make_assembly(builder, "24.2", "Tip float, right")
    spec = {"low": Decimal(58), "soak_min": Decimal(240), "source": "Resin sheet of 2025"}
    values = {"heat": "oven", "unit": "C", "request_id": new_key(), "started_at": now - timedelta(hours=3)} | spec
    run = commands.start_run(by=builder, at=now, project=builder.project, assembly=assembly, **values)
    desk: Desk = desks("edda", service_workers="allow")
    page = desk.go(f"/{builder.project.slug}/cures/{run.pk}/")
    wait_until_kept(page)
    desk.context.set_offline(True)
    page.reload()
    page.get_by_role("button", name="Soak begins now").click()
    page.wait_for_timeout(1200)
    page.reload()
    expect(page.get_by_role("timer")).to_have_text(re.compile(r"^3:59:5\d$"))
    off = timezone.now()
    page.get_by_role("button", name="Heat off now").click()
    expect(page.locator(".title-block")).to_contain_text(re.compile(r"Kept on this phone, \d\d:\d\d – will be sent"))
    expect(page.get_by_role("timer")).to_be_hidden()
    expect(page.get_by_role("button", name="Heat off now")).to_be_hidden()
    desk.look()
    page.wait_for_timeout(3000)
    desk.context.set_offline(False)
    until(page, lambda: CureRun.objects.get().stopped_at is not None, "heat off has not come")
    assert timedelta(0) < CureRun.objects.get().stopped_at - off < timedelta(seconds=2)
    expect(page.locator(".title-block")).not_to_contain_text("Kept on this phone", timeout=30_000)
    forgive_lost_signal(desk)


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_a_start_that_is_not_taken_shows_what_is_wrong(desks, builder) -> None:  # noqa: ANN001
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/cures/new/")
    page.get_by_label("Assembly").select_option(label="24.1 Tip float, left")
    page.get_by_label("Set to").fill("warm")
    page.get_by_role("button", name="Start the run").click()
    expect(page.locator("[name=setpoint][aria-invalid=true]")).to_have_value("warm")
    page.get_by_label("Set to").fill("60")
    page.get_by_role("button", name="Start the run").click()
    expect(page.get_by_text("C-1 is kept.")).to_be_visible()
    desk.said[:] = [line for line in desk.said if "422" not in line]
