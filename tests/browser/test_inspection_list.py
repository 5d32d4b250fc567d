"""An inspection list in a real browser: one tap a line, what is not in order becomes a discrepancy, the end."""

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from accounts.models import Person
from certification.commands import flights, inspection_lists
from certification.models import Inspection, LineAnswer
from certification.queries import inspection_lists as queries
from inspections.models import Discrepancy
from tests.browser.conftest import Desk
from tests.factories import NOW, make_assembly, make_project, make_session, make_user

pytestmark = pytest.mark.browser
LINES = "Hull,Drain plugs fitted\nHull,Keel: no damage\nWings,Pins locked\n"


@pytest.fixture
def builder(flushable: None) -> Person:
    edda = make_project(user=make_user("edda"))[1]
    make_assembly(edda, "10", "Hull")
    return edda


def begin(by: Person) -> Inspection:
    content = queries.rules.content("Own list", "1", "own", queries.rules.read_list(LINES).groups)
    return inspection_lists.begin(by=by, at=NOW, project=by.project, kind="final", content=content)


def picture(page: Page, name: str) -> None:
    """Leave a picture to be looked at where a folder for it is named."""
    folder = os.environ.get("SHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}-{page.viewport_size['width']}.png", full_page=True)


def test_a_list_is_worked_through_tap_by_tap(desks, builder) -> None:
    run = begin(builder)
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/inspection-lists/{run.pk}/")
    desk.look()
    plugs, keel, pins = (page.locator("li.check-line").nth(number) for number in range(3))
    for button in plugs.get_by_role("group").get_by_role("button").all():
        assert button.bounding_box()["height"] >= 56
    page.evaluate("window.stayed = true")
    plugs.get_by_role("button", name="In order", exact=True).click()
    expect(page.locator("#counts")).to_have_text("2 open, 1 in order")
    expect(plugs.get_by_role("button", name="In order", exact=True)).to_have_attribute("aria-pressed", "true")
    expect(plugs.get_by_role("button", name="In order", exact=True)).to_be_focused()
    assert page.evaluate("window.stayed"), "one tap must not load the page anew"
    # Another answer asks why, at the line, and keeps what was typed.
    plugs.get_by_role("button", name="Does not apply").click()
    plugs.get_by_label("Why the answer changes").fill("This hull has none")
    desk.look()
    picture(page, "inspection-change")
    plugs.get_by_role("button", name="Change the answer").click()
    expect(page.locator("#counts")).to_have_text("2 open, 1 not applicable")
    # By keys alone.
    pins.get_by_role("button", name="In order", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.locator("#group-2")).to_have_text("1 in order")
    keel.get_by_text("Note", exact=False).first.click()
    keel.get_by_label("Note to Keel: no damage").fill("Gelcoat cracked")
    keel.get_by_role("button", name="Not in order").click()
    desk.look()
    picture(page, "inspection")
    keel.get_by_role("link", name="Make a discrepancy of it").click()
    desk.look()
    picture(page, "inspection-line")
    page.get_by_label("Assembly").select_option(label="10 Hull")
    page.get_by_role("button", name="Record the discrepancy").click()
    page.wait_for_url("**/inspection-lists/**")
    found = Discrepancy.objects.get()
    page.get_by_role("link", name=found.label).first.click()
    expect(page.get_by_role("link", name="1.02 Keel: no damage")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="1.02 Keel: no damage").click()
    page.get_by_role("link", name="Final inspection 1").first.click()
    page.get_by_role("link", name="Finish the inspection").click()
    page.get_by_label("From this aircraft's own operating limitations").check(force=True)
    page.get_by_label("The statement, as it stands in the logbook").fill("As the limitations word it.")
    desk.look()
    picture(page, "inspection-finish")
    page.get_by_role("button", name="Finish", exact=True).click()
    expect(page.get_by_role("heading", name="Finished")).to_be_visible()
    desk.look()
    assert LineAnswer.objects.get(code="1.02").note == "Gelcoat cracked"
    desk.said[:] = [line for line in desk.said if "422" not in line]  # the question for the reason


def test_it_works_without_a_script(desks, builder) -> None:
    run = begin(builder)
    desk: Desk = desks("edda", java_script_enabled=False)
    page = desk.go(f"/{builder.project.slug}/inspection-lists/{run.pk}/")
    page.locator("li.check-line").first.get_by_role("button", name="In order", exact=True).click()
    expect(page.locator("#counts")).to_have_text("2 open, 1 in order")
    page.locator("li.check-line").first.get_by_role("button", name="Not in order").click()
    page.get_by_label("Why the answer changes").fill("Looked again")
    page.get_by_role("button", name="Change the answer").click()
    expect(page.locator("#counts")).to_have_text("2 open, 1 not in order")
    desk.said[:] = [line for line in desk.said if "422" not in line]  # the question for the reason


def test_the_rooms_around_it_are_whole(desks, builder) -> None:
    run = begin(builder)
    make_session(builder, make_assembly(builder, "20", "Wing"))
    flights.plan_points(by=builder, at=NOW, project=builder.project, points="Stall, clean | no wing drop")
    said = {"flown_on": NOW.date(), "pilot": "Edda", "minutes": 72, "landings": 2, "weight": "612 kg"}
    said |= {"arm": "", "note": ""}
    flights.log_flight(by=builder, at=NOW, project=builder.project, **said)
    point = flights.queries.points(builder.project).get()
    desk: Desk = desks("edda")
    rooms = {
        "inspection-lists/": "lists",
        "inspection-lists/new/": "inspection-new",
        f"inspection-lists/{run.pk}/print/?blank=1": "inspection-print",
        "inspection-lists/blank/condition/": "inspection-blank",
        "flights/": "flights",
        "flights/asked/": "flight-phase",
        "flights/new/": "flight-new",
        f"flights/points/{point.pk}/": "test-point",
        "statements/new/phase_end/": "statement",
        "who-built-it/": "people",
        f"who-built-it/{builder.pk}/": "people-sheet",
    }
    for path, name in rooms.items():
        page = desk.go(f"/{builder.project.slug}/{path}")
        desk.look()
        picture(page, name)
