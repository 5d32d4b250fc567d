"""A hold point set on the builder's phone, signed, changed and not accepted; a witness point passed with words."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from evidence.models import Photo
from inspections.commands import points as commands
from inspections.models import Point
from tests.browser.conftest import Desk
from tests.factories import NOW, PASSWORD, make_assembly, make_part, make_person, make_project, make_user, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def crew(flushable: None) -> tuple:
    _, edda = make_project(user=make_user("edda"))
    hal = make_person(
        edda.project, "inspector", name="Hal Venning", certificate_kind="A&P mechanic", certificate_number="DEMO-0417"
    )
    make_assembly(edda, "24.1", "Tip float, left")
    return edda, hal


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "bond.jpg"
    path.write_bytes(picture_bytes(size=(1600, 1200), seed=7))
    return path


def test_a_hold_point_is_set_signed_changed_and_not_accepted(desks, crew, photo) -> None:
    edda, hal = crew
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/points/")
    expect(page.get_by_role("heading", name="No hold or witness points yet")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Set a point").first.click()
    expect(page.get_by_role("radio", name=re.compile("^Hold point"))).to_be_checked()
    desk.look()

    # What is missing is said, and what was typed is still there.
    page.get_by_label("What is to be seen").fill("Strut hardpoint bond")
    page.get_by_label("At which step").fill("Before the skin goes on")
    page.get_by_role("button", name="Set it").click()
    expect(page.get_by_label("What is to be seen")).to_have_value("Strut hardpoint bond")
    expect(page.get_by_text("Choose the assembly or the part that it is about.").first).to_be_visible()
    desk.look()
    forget_refusal(desk)
    page.get_by_role("combobox", name="Assembly").select_option(label="24.1 Tip float, left")
    page.get_by_role("button", name="Set it").click()
    expect(page.get_by_role("heading", name="Hold", exact=True)).to_be_visible()
    expect(page.get_by_text("Work behind it stops until an inspector releases it.")).to_be_visible()
    desk.look()

    page.get_by_role("link", name="Add a photo").click()
    desk.look()
    page.get_by_label("Photo file").set_input_files(photo)
    page.get_by_role("button", name="Put in place at H-1").click()
    expect(page.get_by_role("figure")).to_have_count(1)
    page.get_by_role("link", name="Invite somebody to look").click()
    expect(page.get_by_label("Who is invited")).to_have_value("Hal Venning")
    desk.look()
    page.get_by_label("For when, as agreed").fill("2026-06-16T10:00")
    page.get_by_role("button", name="Note the invitation").click()
    expect(page.get_by_role("heading", name="Hold, invited")).to_be_visible()
    desk.look()

    signing = desks(hal.user.username)
    sign(signing, Point.objects.get().pk)

    # A caption put right later asks for the signature again.
    desk.go(f"/tarnwader-2/photos/{Photo.objects.get().pk}/edit/")
    page.get_by_label("Caption").fill("Bond line, aft edge")
    page.get_by_role("button", name=re.compile("Save")).first.click()
    page = desk.go(f"/tarnwader-2/points/{Point.objects.get().pk}/")
    expect(page.get_by_role("heading", name="Signed, then changed")).to_be_visible()
    expect(page.get_by_text("now 'Bond line, aft edge'").first).to_be_visible()
    desk.look()
    refuse(signing, Point.objects.get().pk)
    desk.go("/tarnwader-2/points/")
    expect(page.get_by_role("heading", name="Stops work now")).to_be_visible()
    expect(page.get_by_text("Voids at the aft edge")).to_be_visible()
    desk.look()


def forget_refusal(desk: Desk) -> None:
    """The browser notes the status of a refusal; it is expected."""
    desk.said[:] = [line for line in desk.said if "422" not in line]


def sign(desk: Desk, point: str) -> None:
    """The inspector reads what he signs; nothing is ticked for him."""
    page = desk.go(f"/tarnwader-2/points/{point}/")
    page.get_by_role("link", name="Read and sign").click()
    expect(page.get_by_label("I have read what this signature covers")).not_to_be_checked()
    desk.look()
    page.get_by_label("I have read what this signature covers").check()
    page.get_by_label("Your password, again").fill(PASSWORD)
    page.get_by_role("button", name="Sign: accepted").click()
    expect(page.get_by_role("heading", name="Released")).to_be_visible()
    expect(page.locator(".signature-block").first).to_contain_text("DEMO-0417")
    desk.look()


def refuse(desk: Desk, point: str) -> None:
    """He looks again and does not accept; without words the page asks for them."""
    page = desk.go(f"/tarnwader-2/points/{point}/sign/")
    page.get_by_label("I have read what this signature covers").check()
    page.get_by_label("Your password, again").fill(PASSWORD)
    page.get_by_role("button", name="Sign: not accepted").click()
    expect(page.get_by_text("Say what is not accepted").first).to_be_visible()
    desk.look()
    forget_refusal(desk)
    page.get_by_label("I have read what this signature covers").check()
    page.get_by_label("Your password, again").fill(PASSWORD)
    page.get_by_label("If you do not accept it").fill("Voids at the aft edge")
    page.get_by_role("button", name="Sign: not accepted").click()
    expect(page.get_by_role("heading", name="Not accepted", exact=True)).to_be_visible()
    desk.look()


def test_a_witness_point_on_a_part_is_passed_with_words(desks, crew) -> None:
    edda, _ = crew
    part = make_part(edda, make_assembly(edda, "30", "Hull"), "TW2-0001", name="Rudder horn")
    point = commands.add_point(
        by=edda,
        at=NOW,
        project=edda.project,
        assembly=part.assembly,
        part=part,
        kind="witness",
        words="Horn fit",
        role="inspector",
    )
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/parts/{part.pk}/")
    expect(page.get_by_role("link", name="Horn fit")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Horn fit").click()
    page.get_by_role("link", name="Go on without").click()
    desk.look()
    page.get_by_label("Why work went on without him").fill("Invited twice, could not come.")
    page.get_by_role("button", name="Go on without").click()
    expect(page.get_by_role("heading", name="Went on without")).to_be_visible()
    desk.look()
    desk.go(f"/tarnwader-2/points/part/{part.pk}/")
    desk.look()
    desk.go(f"/tarnwader-2/points/{point.pk}/edit/")
    desk.look()
