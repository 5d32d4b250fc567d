"""A real browser on the real pages, phone and laptop: every console message and axe finding counts."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import connection
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, expect, sync_playwright

from accounts.models import User
from journal import guards

pytest.register_assert_rewrite("tests.browser.shop_server")
from tests.browser.shop_server import PHONE, Line, Phone, ShopServer, build_shelf  # noqa: E402
from tests.factories import PASSWORD  # noqa: E402

SIZES = {
    "phone": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True},
    "laptop": {"viewport": {"width": 1440, "height": 900}},
}
# A machine that runs other tests at the same time is slow; what is expected comes, only later.
expect.set_options(timeout=15_000)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def chromium() -> str:
    """The browser to drive: named in CHROMIUM, or found on the PATH."""
    names = ["chromium", "chromium-browser", "google-chrome"]
    found = os.environ.get("CHROMIUM") or next((path for name in names if (path := shutil.which(name))), "")
    if not found and os.environ.get("CI") == "true":
        pytest.fail("no Chromium: set CHROMIUM or install it")
    if not found:
        pytest.skip("no Chromium: set CHROMIUM or install it")
    return found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def flushable(transactional_db: None) -> Iterator[None]:
    """The rows of a browser test are really committed; to clear them afterwards the journal's guards step aside."""
    yield
    names = guards.names()
    with connection.cursor() as cursor:
        for name, _, table in names:
            postgres = connection.vendor == "postgresql"
            cursor.execute(f"DROP TRIGGER {name} ON {table}" if postgres else f"DROP TRIGGER {name}")
        if connection.vendor == "postgresql":
            for table in guards.GUARDED:
                cursor.execute(f"DROP TRIGGER {table}_no_truncate ON {table}")


@dataclass
class Desk:
    """One signed-in person at one screen."""

    context: BrowserContext
    page: Page
    base: str
    said: list[str] = field(default_factory=list)
    looked_at: list[str] = field(default_factory=list)

    def go(self, path: str) -> Page:
        self.page.goto(self.base + path)
        return self.page

    def sign_in(self, username: str, password: str = PASSWORD) -> None:
        self.go("/accounts/login/")
        self.page.get_by_label("Username").fill(username)
        self.page.get_by_label("Password", exact=True).fill(password)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda url: "/accounts/login" not in url)

    def come_in(self, username: str) -> None:
        """Be signed in without the form, which other tests fill in, and see what one sees first."""
        client = Client()
        client.force_login(User.objects.get(username=username))
        self.context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": self.base}])
        self.go("/")

    def look(self) -> None:
        """Check the page as it stands: no axe finding, nothing wider than the screen."""
        self.page.wait_for_load_state("networkidle")
        found = Axe().run(self.page)
        assert found.violations_count == 0, f"{self.page.url}\n{found.generate_report()}"
        wide, room = self.page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= room, f"{self.page.url} is {wide} px wide on a screen of {room}"
        self.looked_at.append(self.page.url)


def hear(desk: Desk, message: ConsoleMessage) -> None:
    """Note what the browser complains about, but not that it was told to do without a service worker."""
    if message.type in {"error", "warning"} and "Service Worker registration blocked" not in message.text:
        desk.said.append(f"{message.type}: {message.text}")


@pytest.fixture(params=list(SIZES))
def size(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture
def desks(browser: Browser, live_server, flushable: None, size: str) -> Iterator:  # noqa: ANN001
    """Make desks: `desks(username)` signs that account in at a screen of this size. Console errors fail the test."""
    made: list[Desk] = []

    def make(username: str = "", **options: object) -> Desk:
        # A service worker would answer in place of the routes that tests put up; those about it let it in.
        context = browser.new_context(
            **{**SIZES[size], "accept_downloads": True, "service_workers": "block", **options}
        )
        page = context.new_page()
        desk = Desk(context, page, live_server.url)
        page.on("console", lambda message: hear(desk, message))
        page.on("pageerror", lambda error: desk.said.append(f"exception: {error}"))
        made.append(desk)
        if username:
            desk.come_in(username)
        return desk

    yield make
    said = [line for desk in made for line in desk.said]
    for desk in made:
        desk.context.close()
    assert not said, said


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder with a project in it, from which every shop is copied."""
    folder = tmp_path_factory.mktemp("shelf") / "data"
    build_shelf(folder)
    return folder


@pytest.fixture
def shop(shelf: Path, tmp_path: Path) -> Iterator[ShopServer]:
    """A real server that runs, and may be killed and started again."""
    server = ShopServer(shelf, tmp_path / "data")
    try:
        server.start()
        yield server
    finally:
        server.kill()


@pytest.fixture
def line(shop: ShopServer) -> Iterator[Line]:
    """A line to the shop that may be slow and be cut."""
    made = Line(shop.port)
    yield made
    made.close()


@pytest.fixture
def phones(browser: Browser, shop: ShopServer) -> Iterator:
    """Make phones: `phones("edda")` is signed in. What they say on their consoles fails the test."""
    made: list[Phone] = []

    def make(name: str = "edda", *, base: str = "", context: BrowserContext | None = None, **options: object) -> Phone:
        phone = Phone(shop, context or browser.new_context(**{**PHONE, **options}), base or shop.base)
        made.append(phone)
        if name:
            phone.be(name)
        return phone

    yield make
    for phone in made:
        phone.context.close()
    said = [line for phone in made for line in phone.unexpected()]
    assert not said, said
