"""A gate in a real browser: set up from a list, everything supplied from the missing list, closed."""

import re
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from inspections import commands
from inspections.models import Area
from inspections.queries import closures
from parts.models import Assembly
from tests.browser.conftest import Desk
from tests.factories import (
    PASSWORD,
    make_area,
    make_assembly,
    make_person,
    make_project,
    make_session,
    make_user,
    picture_bytes,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def edda(flushable: None) -> Person:
    _, builder = make_project(user=make_user("edda"))
    wing = make_assembly(builder, "22", name="Left wing")
    make_session(builder, wing)
    make_person(builder.project, "inspector", name="Hal Venning", account=True)
    return builder


def picture(seed: int, folder: Path) -> Path:
    path = folder / f"inside-{seed}.jpg"
    path.write_bytes(picture_bytes(seed=seed, taken=f"{timezone.localtime():%Y:%m:%d %H:%M:%S}", offset="+00:00"))
    return path


def set_up(desk: Desk) -> Area:
    """An area from the list of a bonded skin, one line left out, the plan's limit filled in."""
    page = desk.go("/tarnwader-2/areas/new/")
    page.get_by_label("What is closed").select_option(label="Bonded skin, 12 items")
    page.get_by_role("button", name="Fill in").click()
    expect(page.get_by_text("Bonded skin, edition")).to_be_visible()
    desk.look()
    page.get_by_label("Assembly", exact=True).select_option(label="22 Left wing")
    page.get_by_label("Number", exact=True).fill("22-C1")
    page.get_by_label("Name", exact=True).fill("Interior before top skin")
    open_line = page.locator("details.gate-line[open]")
    expect(open_line).to_have_count(1)
    open_line.get_by_label("Most").fill("1,5")
    wires = page.locator("details.gate-line", has_text="Wires, hoses, tubes and antennas")
    wires.locator("summary").click()
    wires.get_by_label("Leave this out").check()
    desk.look()
    page.get_by_role("button", name="Set it up").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Interior before top skin")
    return Area.objects.get()


def take_photos(page: Page, folder: Path) -> None:
    """Take every missing photo; those that ask for two take two."""
    for seed in range(1, 30):
        forms = page.locator(".requirements form[data-send-on-choice]")
        if not forms.count():
            return
        with page.expect_navigation():
            forms.first.locator("input[type=file]").set_input_files(picture(seed, folder))
    pytest.fail("the photos never end")


def yes(page: Page) -> None:
    """Answer yes to every missing check, one tap each."""
    for _ in range(20):
        buttons = page.locator(".requirements > li > form button[value=yes]")
        if not buttons.count():
            return
        with page.expect_navigation():
            buttons.first.click()
    pytest.fail("the checks never end")


def test_an_area_from_a_list_is_supplied_item_by_item_signed_and_closed(desks, edda: Person, tmp_path: Path) -> None:  # noqa: ANN001
    desk: Desk = desks("edda")
    area = set_up(desk)
    page = desk.page
    expect(page.get_by_text("May not be closed: 11 missing")).to_be_visible()
    desk.look()
    take_photos(page, tmp_path)
    yes(page)

    gap = page.locator("li", has_text="Gap at dry fit").first
    gap.get_by_label("Measured").fill("about 1")
    gap.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_contain_text("Write a number such as 2.5")
    expect(gap.get_by_label("Measured")).to_have_value("about 1")
    desk.said[:] = [line for line in desk.said if "422" not in line]  # the refusal itself; the browser notes its status
    desk.look()
    gap.get_by_label("Measured").fill("2,1")
    gap.get_by_role("button", name="Keep").click()
    expect(gap).to_contain_text("2.1 mm is over the most, 1.5 mm.")
    gap.get_by_label("Measured").fill("1,2")
    gap.get_by_role("button", name="Keep").click()
    expect(gap).to_contain_text("In place")
    expect(gap.locator("del")).to_have_text("2.1 mm")

    tools = page.locator("li", has_text="Tools, tape, foam").first
    tools.get_by_label("Went in").fill("14")
    tools.get_by_label("Came out").fill("14")
    tools.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("May not be closed: 2 missing")).to_be_visible()

    bond = page.locator("li", has_text="Bond record").first
    bond.locator("summary").last.click()
    bond.get_by_label("Why it does not apply").fill("The skin is screwed on here")
    bond.get_by_role("button", name="Does not apply").click()
    expect(page.get_by_text("May not be closed: 1 missing")).to_be_visible()
    desk.look()

    inspector: Desk = desks(edda.project.people.get(role="inspector").user.username)
    his = inspector.go("/tarnwader-2/")
    his.get_by_role("link", name=re.compile("Read and sign")).first.click()
    inspector.look()
    his.get_by_label("I have read what this signature covers").check()
    his.get_by_label("Your password, again").fill(PASSWORD)
    his.get_by_role("button", name="Sign: accepted").click()
    expect(his.get_by_text("Signed by Hal Venning.")).to_be_visible()

    home = desk.go("/tarnwader-2/")
    expect(home.get_by_role("heading", name="Ready to close")).to_be_visible()
    desk.look()
    home.get_by_role("link", name=re.compile("Open the gate")).first.click()
    home.get_by_role("link", name="Close up 22-C1").click()
    home.get_by_role("button", name="Close up 22-C1").click()
    expect(home.get_by_role("heading", name="Closed up", exact=True)).to_be_visible()
    desk.look()
    area.refresh_from_db()
    one = commands.judged(area)
    assert one.gate.state == "closed" and not one.gate.lost
    assert area.closure_list == closures.bundled()["bonded-skin"].words


def test_what_is_missing_is_supplied_from_the_shop_and_from_the_assembly(desks, edda: Person, tmp_path: Path) -> None:  # noqa: ANN001
    wing = Assembly.objects.get(number="22")
    make_area(edda, wing, number="22-C1")
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/")
    desk.look()
    blocked = page.locator("section", has=page.get_by_role("heading", name="Blocked today"))
    with page.expect_navigation():
        blocked.locator("input[type=file]").set_input_files(picture(1, tmp_path))
    assert page.url.endswith("/tarnwader-2/"), "a photo taken from the shop goes back to the shop"
    expect(blocked.get_by_text("Drain boss, sealed")).to_have_count(0)
    page = desk.go(f"/tarnwader-2/assemblies/{wing.pk}/")
    desk.look()
    page.get_by_role("button", name=re.compile("^Yes")).click()
    expect(page.get_by_text("Interior vacuumed, nothing loose")).to_have_count(0)
    expect(page.get_by_text("May not be closed: 1 missing")).to_be_visible()
    desk.go(f"/tarnwader-2/missing/{wing.pk}/")
    expect(page.get_by_text("To be signed by an inspector")).to_be_visible()
    desk.look()


def test_closure_lists_are_read_copied_and_corrected(desks, edda: Person) -> None:  # noqa: ANN001
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/closure-lists/")
    desk.look()
    page.get_by_role("link", name=re.compile("^Control run")).click()
    desk.look()
    page.get_by_role("link", name="Copy into a list of our own").click()
    desk.look()
    page.get_by_label("Name", exact=True).fill("Aileron run")
    page.get_by_role("button", name="Keep the list").click()
    expect(page.get_by_text("Aileron run is kept as edition 1.")).to_be_visible()
    page.get_by_role("link", name="Correct: next edition").click()
    line = page.locator("details.gate-line", has_text="Cable tension")
    line.locator("summary").click()
    line.get_by_label("Least").fill("25")
    page.get_by_role("button", name="Save as the next edition").click()
    expect(page.get_by_text("Aileron run stands at edition 2.")).to_be_visible()
    desk.look()
