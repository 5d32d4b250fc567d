"""The tray in a real browser: sorted with the keyboard, with a thumb, and by following links only."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from buildlog.models import WorkSession
from evidence.models import Photo, Placement
from tests.browser.conftest import SIZES, Desk
from tests.factories import make_assembly, make_photo, make_project, make_user, picture_bytes

pytestmark = pytest.mark.browser

DAYS_AGO = timedelta(days=3)


@pytest.fixture
def builder(flushable: None) -> Person:
    """A tray of two evenings: five photos, and three two hours later; the first single one is from the day before."""
    edda = make_project(user=make_user("edda"))[1]
    make_assembly(edda, "24.1", "Tip float, left")
    make_assembly(edda, "11", "Bottom and chines")
    day = timezone.now().astimezone(edda.project.zone) - DAYS_AGO
    evening = day.replace(hour=19, minute=0, second=0)
    for seed, minute in enumerate([0, 10, 20, 30, 40, 160, 170, 180, -1440]):
        taken = (evening + timedelta(minutes=minute)).strftime("%Y:%m:%d %H:%M:%S")
        offset = re.sub(r"(\d\d)(\d\d)$", r"\1:\2", evening.strftime("%z"))
        make_photo(edda, data=picture_bytes(seed=7000 + seed, taken=taken, offset=offset), at=timezone.now())
    return edda


def tray(desk: Desk, builder: Person, query: str = "") -> Page:
    return desk.go(f"/{builder.project.slug}/tray/{query}")


def groups(page: Page):
    return page.locator(".tray-group")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_group_is_accepted_with_one_tap_and_undone_with_another(desks, builder, scheme) -> None:
    desk: Desk = desks("edda", color_scheme=scheme)
    page = tray(desk, builder)
    expect(groups(page)).to_have_count(3)
    desk.look()
    first = groups(page).nth(1)
    first.locator("select[name=assembly]").select_option(label="24.1 Tip float, left")
    first.get_by_role("button", name="Log this session").click()
    expect(page.get_by_text("5 photos logged as session 1 on 24.1 Tip float, left.")).to_be_visible()
    expect(groups(page)).to_have_count(2)
    desk.look()
    assert WorkSession.objects.get().labor_seconds == 40 * 60
    # The next group lies near that session: its assembly is guessed, so one tap is enough.
    groups(page).nth(0).get_by_role("button", name="Log this session").click()
    expect(page.get_by_text("3 photos logged as session 2 on 24.1 Tip float, left.")).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_text("Undone. The photos are in the tray again. Session 2 is withdrawn.")).to_be_visible()
    expect(groups(page)).to_have_count(2)


def test_a_group_is_split_and_joined_and_back_undoes_it(desks, builder) -> None:
    desk: Desk = desks("edda")
    page = tray(desk, builder)
    page.get_by_role("link", name=re.compile("^Split the group before .*, 19:20$")).click()
    expect(groups(page)).to_have_count(4)
    desk.look()
    page.reload()
    expect(groups(page)).to_have_count(4)
    page.get_by_role("link", name=re.compile("^Join with the group below, .*, 19:00$")).first.click()
    expect(groups(page)).to_have_count(3)
    page.go_back()
    expect(groups(page)).to_have_count(4)
    page.go_back()
    expect(groups(page)).to_have_count(3)


def test_many_photos_are_chosen_and_placed_with_the_keyboard_alone(desks, builder, size) -> None:
    if size == "phone":
        pytest.skip("a phone has no keys")
    desk: Desk = desks("edda")
    page = tray(desk, builder)
    expect(page.locator("[data-chosen]")).to_be_hidden()
    boxes = groups(page).nth(1).locator("[data-pick]")
    for _ in range(200):
        page.keyboard.press("Tab")
        if boxes.first.evaluate("box => box === document.activeElement"):
            break
    page.keyboard.press("Space")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    expect(page.locator("[data-count]")).to_have_text("3 chosen")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    expect(page.locator("[data-chosen]")).to_be_hidden()
    page.keyboard.press("Control+a")
    expect(page.locator("[data-count]")).to_have_text("5 chosen")
    page.keyboard.press("End")
    page.keyboard.press("Space")
    expect(page.locator("[data-count]")).to_have_text("4 chosen")
    desk.look()
    place = page.get_by_label("Place on")
    place.focus()
    page.keyboard.type("11 Bottom")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_text("4 photos placed on 11 Bottom and chines.")).to_be_visible()
    assert Placement.objects.filter(assembly__number="11").count() == 4


def test_photos_are_chosen_with_a_thumb_and_attached_to_a_session(desks, builder, size) -> None:
    if size == "laptop":
        pytest.skip("a laptop is not tapped")
    desk: Desk = desks("edda")
    page = tray(desk, builder)
    for place in (0, 2):
        groups(page).nth(1).locator(".tray-pick").nth(place).tap()
    groups(page).nth(0).locator(".tray-pick").first.tap()
    expect(page.locator("[data-count]")).to_have_text("3 chosen")
    desk.look()
    page.get_by_label("Place on").select_option(label="24.1 Tip float, left")
    page.get_by_role("button", name="Place", exact=True).tap()
    expect(page.get_by_text("3 photos placed on 24.1 Tip float, left.")).to_be_visible()
    page.get_by_role("button", name="Undo").tap()
    expect(page.get_by_text("Undone. The photos are in the tray again.")).to_be_visible()
    assert not Placement.objects.exists()


def test_what_is_tapped_is_large_enough_for_a_thumb(desks, builder, size) -> None:
    desk: Desk = desks("edda")
    page = tray(desk, builder)
    small = page.locator(".tray a, .tray button, .tray label.tray-pick, .tray select").evaluate_all(
        "all => all.filter(one => one.offsetParent && !one.closest('p:not(.under) > a:not(.reach)'))"
        ".map(one => [one.textContent.trim(), one.getBoundingClientRect()])"
        ".filter(([, box]) => box.width > 1 && (box.height < 43.5 || box.width < 43.5)).map(([words]) => words)"
    )
    assert small == []


def test_without_script_photos_are_ticked_and_moved_all_the_same(browser, live_server, builder, size) -> None:
    client = Client()
    client.force_login(builder.user)
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False, **SIZES[size])
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    page.goto(f"/{builder.project.slug}/tray/")
    first = groups(page).nth(1)
    for place in (0, 1):
        first.locator(".tray-pick").nth(place).click()
    page.get_by_label("Place on").select_option(label="11 Bottom and chines")
    page.get_by_role("button", name="Place", exact=True).click()
    expect(page.get_by_text("2 photos placed on 11 Bottom and chines.")).to_be_visible()
    assert Photo.objects.count() == 9
    context.close()
