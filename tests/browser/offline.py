"""What tests without signal have in common."""

import time
from collections.abc import Callable

from playwright.sync_api import Page

from tests.browser.conftest import Desk

PATIENCE = 60


def until(page: Page, holds: Callable[[], bool], otherwise: str) -> None:
    """Wait for something that the server writes."""
    late = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < late, otherwise
        page.wait_for_timeout(250)


def wait_until_kept(page: Page) -> None:
    """The worker has the page that is open, so that it opens without signal."""
    kept = "async () => Boolean(await caches.match(location.pathname))"
    until(page, lambda: page.evaluate(kept), "the worker has not kept the page that is open")
    page.wait_for_timeout(300)


def forgive_lost_signal(desk: Desk) -> None:
    """The browser notes each fetch that fails without signal; those are what such a test is about."""
    desk.said[:] = [line for line in desk.said if "ERR_INTERNET_DISCONNECTED" not in line]
