"""The grid of photos in a real browser: each goes up by itself, one that fails holds up nobody, the form waits."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.test import Client
from playwright.sync_api import Browser, Page, Route, expect

from accounts.models import Person
from buildlog.models import WorkSession
from evidence.models import Photo
from tests.factories import make_assembly, make_project, picture_bytes

pytestmark = pytest.mark.browser


@pytest.fixture
def builder(flushable: None) -> Person:
    return make_project()[1]


@pytest.fixture
def page(browser: Browser, live_server, builder: Person) -> Iterator[Page]:  # noqa: ANN001
    """A phone's page, signed in; any script error or breach of the content policy fails the test."""
    client = Client()
    client.force_login(builder.user)
    context = browser.new_context(
        base_url=live_server.url, viewport={"width": 390, "height": 844}, service_workers="block"
    )
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    opened, trouble = context.new_page(), []
    opened.on("pageerror", lambda error: trouble.append(str(error)))
    opened.on("console", lambda said: trouble.append(said.text) if "Content Security" in said.text else None)
    yield opened
    context.close()
    assert trouble == []


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """Two photos with something that is none between them."""
    named = {"one.jpg": picture_bytes(seed=901), "notes.jpg": b"not a picture", "two.jpg": picture_bytes(seed=902)}
    for name, data in named.items():
        (tmp_path / name).write_bytes(data)
    return [tmp_path / name for name in named]


def choose(page: Page, files: list[Path]) -> None:
    page.set_input_files("input[type=file][multiple]", files)


def test_on_the_contact_sheet_a_bad_file_is_told_and_the_rest_is_kept(page, builder, files):
    page.goto(f"/{builder.project.slug}/photos/")
    choose(page, files)
    expect(page.locator("[data-attach-status]")).to_contain_text("3 photos: 2 sent, 1 not sent.")
    bad = page.locator("figure", has_text="notes.jpg")
    expect(bad).to_contain_text("This is not a photo that can be read")
    expect(bad.get_by_role("button", name="Try again")).to_be_hidden()
    bad.get_by_role("button", name="Remove").click()
    expect(page.locator("[data-attach-status]")).to_contain_text("2 photos: 2 sent.")
    page.get_by_role("link", name="Show on the contact sheet").click()
    expect(page.locator(".contact-sheet figure")).to_have_count(2)
    assert {photo.taken_known for photo in Photo.objects.all()} == {"camera"}


def test_about_photos_that_do_not_go_it_is_asked_and_they_follow_the_session(page, builder, files):
    make_assembly(builder, "24.1", "Tip float, left")
    down = [True]

    def answer(route: Route) -> None:
        if route.request.method == "POST" and down[0]:
            route.fulfill(status=503, body="")
        else:
            route.continue_()

    page.route("**/captured/?kind=photo", answer)
    page.goto(f"/{builder.project.slug}/sessions/new/")
    page.select_option("select[name=assembly]", index=1)
    choose(page, [files[0], files[2]])
    expect(page.get_by_text("The server gave no clear answer. It is sent again by itself.")).to_have_count(2)
    page.locator("[data-saves]").click()
    expect(page.get_by_text("2 photos are not sent yet. Save now and they follow by themselves.")).to_be_visible()
    assert not WorkSession.objects.exists()
    page.locator("[data-save-without]").click()
    page.wait_for_url(re.compile(r"/sessions/(?!new)"))
    assert WorkSession.objects.get().attachments.count() == 0
    down[0] = False
    expect(page.locator("html")).to_have_attribute("data-waiting", "0", timeout=15_000)
    assert WorkSession.objects.get().attachments.count() == 2


def test_trying_again_sends_what_was_left_and_then_saves(page, builder, files):
    make_assembly(builder, "24.1", "Tip float, left")
    down = [True]
    page.route(
        "**/captured/?kind=photo", lambda route: route.fulfill(status=503, body="") if down[0] else route.continue_()
    )
    page.goto(f"/{builder.project.slug}/sessions/new/")
    page.select_option("select[name=assembly]", index=1)
    choose(page, [files[0], files[2]])
    expect(page.get_by_role("button", name=re.compile("Try again .*jpg"))).to_have_count(2)
    page.locator("[data-saves]").click()
    down[0] = False
    page.locator("[data-retry-all]").click()
    page.wait_for_url(re.compile(r"/sessions/(?!new)"))
    assert WorkSession.objects.get().attachments.count() == 2


def test_a_reload_shows_photos_that_still_wait_and_removing_one_takes_it_back(page, builder, files):
    make_assembly(builder, "24.1", "Tip float, left")
    page.route("**/captured/?kind=photo", lambda route: route.fulfill(status=503, body=""))
    page.goto(f"/{builder.project.slug}/sessions/new/")
    choose(page, [files[0], files[2]])
    expect(page.get_by_text("It is sent again by itself")).to_have_count(2)
    page.reload()
    expect(page.locator("figure[data-attached]")).to_have_count(2)
    page.locator("figure", has_text="one.jpg").get_by_role("button", name="Remove").click()
    page.unroute("**/captured/?kind=photo")
    page.reload()
    expect(page.locator("figure[data-attached]")).to_have_count(1)
    expect(page.locator("input[type=hidden][name=photos]")).to_have_count(1, timeout=15_000)
    assert [photo.file_name for photo in Photo.objects.all()] == ["two.jpg"]


def test_what_is_removed_is_not_attached_and_stays_in_the_record(page, builder, files):
    make_assembly(builder, "24.1", "Tip float, left")
    page.goto(f"/{builder.project.slug}/sessions/new/")
    page.select_option("select[name=assembly]", index=1)
    choose(page, [files[0], files[2]])
    expect(page.locator("input[type=hidden][name=photos]")).to_have_count(2)
    page.locator("figure", has_text="one.jpg").get_by_role("button", name="Remove").click()
    expect(page.locator("[data-attach-status]")).to_contain_text(
        "Not with this session any more; the photo stays under Photos."
    )
    page.locator("[data-saves]").click()
    page.wait_for_url(re.compile(r"/sessions/(?!new)"))
    assert [row.photo.file_name for row in WorkSession.objects.get().attachments.all()] == ["two.jpg"]
    assert Photo.objects.count() == 2


def test_trying_again_is_not_offered_for_files_that_are_no_photos(page, builder, files):
    make_assembly(builder, "24.1", "Tip float, left")
    page.goto(f"/{builder.project.slug}/sessions/new/")
    page.select_option("select[name=assembly]", index=1)
    choose(page, [files[1]])
    expect(page.locator("figcaption.not-sent")).to_have_count(1)
    page.locator("[data-saves]").click()
    expect(page.get_by_text("1 photo was not sent. Save without it.", exact=True)).to_be_visible()
    expect(page.locator("[data-retry-all]")).to_be_hidden()
    page.locator("[data-save-without]").click()
    page.wait_for_url(re.compile(r"/sessions/(?!new)"))
    assert not WorkSession.objects.get().attachments.exists()
