"""Pages without signal: what the service worker opens, what it renews, and what it forgets on signing out."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Desk
from tests.factories import make_assembly, make_project

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.parametrize("size", ["phone"], indirect=True)]

PAGES = ["", "capture/", "kept/", "sessions/new/"]


@pytest.fixture
def edda(flushable):  # noqa: ANN001, ANN201
    _, builder = make_project()
    make_assembly(builder, "20", "Wing")
    return builder


@pytest.fixture
def desk(edda, desks) -> Desk:  # noqa: ANN001
    """Signed in, with the worker in charge and the pages kept."""
    desk = desks(edda.user.username, service_workers="allow")
    home = f"/{edda.project.slug}/"
    desk.go(home)
    wait_for_pages(desk.page, home)
    return desk


def wait_for_pages(page: Page, home: str) -> None:
    script = """async ([home, pages]) => {
      for (;;) {
        const found = await Promise.all(pages.map((page) => caches.match(home + page)));
        if (found.every(Boolean) && navigator.serviceWorker.controller) return;
        await new Promise((done) => setTimeout(done, 50));
      }
    }"""
    page.evaluate(script, [home, PAGES])


def kept(page: Page) -> list[str]:
    return page.evaluate(
        """async () => {
          const paths = [];
          for (const name of await caches.keys()) if (name.startsWith("pages-"))
            for (const { url } of await (await caches.open(name)).keys()) paths.push(new URL(url).pathname);
          return paths.sort();
        }"""
    )


def offline(desk: Desk) -> None:
    desk.context.set_offline(True)
    # What the browser itself says about requests that find no network is no fault of ours.
    desk.page.on("console", lambda message: desk.said.clear() if "ERR_INTERNET_DISCONNECTED" in message.text else None)


def test_shop_capture_kept_and_log_form_open_without_signal_and_nothing_else_does(desk, edda):
    home = f"/{edda.project.slug}/"
    assert kept(desk.page) == sorted(home + page for page in PAGES)
    offline(desk)
    page = desk.go(home)
    expect(page.get_by_role("navigation", name="Places")).to_be_visible()
    expect(page.locator("[data-sending-state]").first).to_contain_text("No signal")
    assert page.evaluate("getComputedStyle(document.body).fontFamily").startswith('"Atkinson Hyperlegible Next')
    desk.go(home + "capture/")
    expect(page.locator("input[type=file]").first).to_be_attached()
    desk.go(home + "capture/anythingatall/")
    expect(page.locator("input[type=file]").first).to_be_attached()
    desk.go(home + "sessions/new/")
    expect(page.get_by_label("What was done")).to_be_visible()
    desk.go(home + "kept/")
    expect(page.get_by_role("heading", name="Kept on this phone").first).to_be_visible()
    desk.go(home + "hours/")
    expect(page.get_by_role("heading", name="No signal, and this page is not kept here")).to_be_visible()
    desk.look()
    link = page.get_by_role("link", name=re.compile("Take photos"))
    assert link.get_attribute("href") == home + "capture/"
    desk.said.clear()


def test_what_changed_on_the_server_is_shown_when_there_is_signal(desk, edda):
    make_assembly(edda, "24.1", "Tip float, left")
    page = desk.go(f"/{edda.project.slug}/")
    expect(page.locator("main").get_by_text("Tip float, left").first).to_be_visible()
    offline(desk)
    page.reload()
    expect(page.locator("main").get_by_text("Tip float, left").first).to_be_visible()
    desk.said.clear()


def test_signing_out_forgets_the_pages_and_keeps_the_outbox(desk, edda):
    slug = edda.project.slug
    page = desk.page
    page.evaluate(
        """async (url) => {
          const { keepEvent } = await import("/static/js/outbox/outbox.js");
          const fields = { assembly: "x" };
          await keepEvent({ project: "other", person: "", url, kind: "timer_start", fields, label: "S" });
        }""",
        "/other/captured/",
    )
    desk.go("/accounts/logout/")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Username")).to_be_visible()
    assert kept(page) == []
    count = "import('/static/js/outbox/outbox.js').then(async ({ waiting }) => (await waiting()).length)"
    assert page.evaluate(count) == 1
    desk.sign_in(edda.user.username)
    wait_for_pages(page, f"/{slug}/")
    desk.said[:] = [line for line in desk.said if "404" not in line]


def test_an_address_that_asks_for_signing_in_is_not_kept_in_place_of_a_page(desk, edda):
    desk.context.clear_cookies()
    page = desk.go(f"/{edda.project.slug}/")
    expect(page.get_by_label("Username")).to_be_visible()
    assert len(kept(page)) == len(PAGES)
    offline(desk)
    desk.go(f"/{edda.project.slug}/")
    expect(page.get_by_role("navigation", name="Places")).to_be_visible()
    desk.said.clear()
