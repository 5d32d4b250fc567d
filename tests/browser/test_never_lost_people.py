"""What is captured is never lost where phones differ: a wrong clock, two phones on one timer, plain HTTP."""

import json
import os
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import FLAGS, chromium
from tests.browser.shop_server import NO_NETWORK, PHONE, Phone, ShopServer, pictures

pytestmark = [pytest.mark.browser, pytest.mark.slow]

AHEAD = 3 * 3600
WRONG_CLOCK = f"""
  const Right = Date;
  globalThis.Date = class extends Right {{
    constructor(...given) {{ if (given.length) super(...given); else super(Right.now() + {AHEAD * 1000}); }}
    static now() {{ return Right.now() + {AHEAD * 1000}; }}
  }};
"""
SHOP_NAME = "shop.test"  # a name as a router gives it: for the browser it is this machine


def start_button(page: Page):  # noqa: ANN201
    return page.locator("[data-tap=timer_start]").locator("visible=true").first


def stop_button(page: Page):  # noqa: ANN201
    return page.locator("[data-tap=timer_stop]").locator("visible=true").first


def tap(phone: Phone, kind: str) -> None:
    """Tap the timer of the shop page and wait until the phone has the tap."""
    before = len(phone.items())
    place = {"timer_start": start_button, "timer_stop": stop_button}[kind](phone.page)
    button = place if place.evaluate("node => node.tagName") == "BUTTON" else place.locator("button")
    button.click()
    phone.until(lambda: len(phone.items()) > before)


def moment(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def test_a_phone_whose_clock_is_three_hours_ahead(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones(service_workers="allow")
    phone.expected += [NO_NETWORK]
    phone.context.add_init_script(WRONG_CLOCK)
    (file,) = pictures(tmp_path / "roll", [20_000])
    phone.go()
    phone.ready()
    phone.context.set_offline(True)
    phone.capture(shop.facts["wing"])
    taken = time.time()
    os.utime(file, (taken + AHEAD, taken + AHEAD))
    phone.take(file)
    phone.kept(1)
    phone.go()
    started = time.time()
    tap(phone, "timer_start")
    phone.page.wait_for_timeout(2_000)
    stopped = time.time()
    tap(phone, "timer_stop")
    assert phone.items()[0]["happened"] / 1000 > taken + AHEAD - 60
    phone.context.set_offline(False)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]]})
    ((begin, end, ahead),) = shop.rows("SELECT started_at, ended_at, clock_ahead FROM buildlog_worksession")
    assert abs(moment(begin) - started) < 4 and abs(moment(end) - stopped) < 4
    assert abs(ahead - AHEAD) < 4
    ((known, at, kept),) = shop.rows("SELECT taken_known, taken_at, captured_at FROM evidence_photo")
    assert abs(moment(kept) - taken) < 4 and abs(moment(at) - taken) < 4, (known, at, kept)


def test_two_phones_stop_the_same_timer(shop: ShopServer, phones) -> None:
    one, other = phones("edda"), phones("edda again")
    for phone in (one, other):
        phone.expected += [NO_NETWORK]
        phone.go()
        phone.ready()
    tap_offline(one, "timer_start", minutes_ago=30)
    one.context.set_offline(False)
    one.sent()
    other.go()
    expect(stop_button(other.page)).to_be_visible()
    now = time.time()
    tap_offline(one, "timer_stop", minutes_ago=20)
    tap_offline(other, "timer_stop", minutes_ago=10)
    assert shop.rows("SELECT ended_at FROM buildlog_worksession") == [(None,)]
    for phone in (other, one):
        phone.context.set_offline(False)
        phone.sent()
    ((start, end),) = shop.rows("SELECT started_at, ended_at FROM buildlog_worksession")
    assert abs(moment(start) - (now - 1800)) < 10 and abs(moment(end) - (now - 600)) < 10
    ((said, settled),) = shop.rows("SELECT said, settled_at FROM buildlog_otherversion")
    assert abs(datetime.fromisoformat(json.loads(said)["end"]).timestamp() - (now - 1200)) < 10
    assert settled is None
    assert (shop.receipts("timer_start"), shop.receipts("timer_stop")) == (1, 2)
    shop.verify()
    page = one.go()
    expect(page.get_by_text("Two versions of session 1")).to_be_visible()
    page.get_by_role("link", name="Compare and choose").click()
    expect(page.locator("main")).to_contain_text("Edda Norrell")


def tap_offline(phone: Phone, kind: str, *, minutes_ago: int) -> None:
    """A tap some minutes ago: the clock is put back for the tap alone, so that no minutes have to be waited."""
    phone.context.set_offline(True)
    phone.page.evaluate(
        "(late) => { globalThis.rightNow = Date.now; Date.now = () => rightNow() - late; }", minutes_ago * 60_000
    )
    tap(phone, kind)
    phone.page.evaluate("Date.now = rightNow")


@pytest.fixture
def plain(browser: Browser, shop: ShopServer, phones, tmp_path: Path) -> Iterator[Phone]:
    """A phone on the shop's network that reaches the server over plain HTTP by a name."""
    opened = browser.browser_type.launch(
        executable_path=chromium(), args=[*FLAGS, f"--host-resolver-rules=MAP {SHOP_NAME} 127.0.0.1"]
    )
    yield phones(base=f"http://{SHOP_NAME}:{shop.port}", context=opened.new_context(**PHONE))
    opened.close()


def test_over_plain_http_what_was_typed_and_taken_survives(shop: ShopServer, plain: Phone, tmp_path) -> None:
    phone = plain
    phone.expected += [r"net::ERR_CONNECTION_\w+", "Cross-Origin-Opener-Policy header has been ignored"]
    page = phone.capture(shop.facts["hull"])
    assert not page.evaluate("isSecureContext || 'serviceWorker' in navigator")
    photo, with_form = pictures(tmp_path / "roll", [200_000, 250_000])
    # The server is away, the pages are open.
    form = phone.go("sessions/new/", phone.context.new_page())
    shop.kill()
    phone.take(photo)
    phone.kept(1)
    form.get_by_label("What was done").fill("Laid the keel strip")
    shop.start()
    form.reload()
    expect(form.get_by_label("What was done")).to_have_value("Laid the keel strip")
    page.reload()
    expect(page.locator("[data-card]")).to_have_count(1)
    phone.sent()
    shop.has_exactly({photo: [shop.facts["hull"]]})
    # A session and a tap with the server away: both wait, outlive the page, and go.
    shop_page = phone.go(page=page)
    expect(start_button(shop_page)).to_be_visible()
    form.locator("select[name=assembly]").select_option(shop.facts["hull"])
    shop.kill()
    tap(phone, "timer_start")
    form.get_by_role("button", name="Save session").click()
    phone.until(
        lambda: {item["kind"] for item in phone.items() if item["state"] != "sent"} == {"timer_start", "session"},
        told=phone.items,
    )
    page.close()
    form.close()
    shop.start()
    phone.page = phone.context.new_page()
    phone.go("kept/")
    phone.sent()
    assert shop.receipts("session") == shop.receipts("timer_start") == 1
    assert shop.rows("SELECT note FROM buildlog_worksession WHERE ended_at IS NOT NULL") == [("Laid the keel strip",)]
    shop.verify()
