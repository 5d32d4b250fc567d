"""What is captured on a phone is never lost and never doubled, whatever becomes of its network, page or browser."""

import contextlib
import os
import re
import signal
import time
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.conftest import FLAGS, chromium
from tests.browser.shop_server import NO_NETWORK, PHONE, Line, Phone, ShopServer, picture, pictures

pytestmark = [pytest.mark.browser, pytest.mark.slow]

CUT = r"net::ERR_(SOCKET_NOT_CONNECTED|EMPTY_RESPONSE|CONNECTION_\w+)"

# More than the browser and the system put aside for one connection, and less than what goes in pieces.
LARGE = 8_000_000


def test_taken_offline_on_a_page_opened_offline(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [NO_NETWORK]
    phone.go()
    phone.ready()
    phone.page.close()
    phone.context.set_offline(True)
    phone.page = phone.context.new_page()
    files = pictures(tmp_path / "roll", [4_000, 5_000, 6_000])
    phone.capture(shop.facts["hull"])
    phone.take(*files)
    phone.kept(3)
    page = phone.go()
    page.locator("[data-live-region] form[data-tap=timer_start] button, [data-idle] form button").locator(
        "visible=true"
    ).click()
    stop = page.locator("form[data-tap=timer_stop] button, button[data-tap=timer_stop]").locator("visible=true")
    expect(stop).to_be_visible()
    began = phone.items()[-1]
    stop.click()
    phone.until(lambda: [item["kind"] for item in phone.items()][-1] == "timer_stop")
    assert phone.states() == {"waiting": 5}
    assert shop.photos() == {} and shop.count("buildlog_worksession") == 0
    phone.context.set_offline(False)
    phone.sent(nudging=False)
    shop.has_exactly({path: [shop.facts["hull"]] for path in files})
    assert shop.rows("SELECT request_id, ended_at IS NULL FROM buildlog_worksession") == [(began["id"], 0)]
    assert (shop.receipts("timer_start"), shop.receipts("timer_stop")) == (1, 1)


def test_the_network_goes_in_the_middle_of_a_file(shop: ShopServer, line: Line, phones, tmp_path) -> None:
    phone = phones(base=line.base)
    phone.expected += [NO_NETWORK, CUT]
    phone.capture(shop.facts["wing"])
    line.rate = 3_000_000
    file = picture(tmp_path / "large.jpg", 7, 6_000_000)
    phone.take(file)
    phone.until(lambda: line.carried > 1_500_000, every=0.01)
    # Told that there is no network, the browser lets what is under way go on.
    phone.context.set_offline(True)
    line.hang_up()
    phone.until(lambda: phone.states() == {"waiting": 1}, told=phone.items)
    assert line.carried < 6_000_000 and shop.photos() == {}
    expect(phone.page.locator("[data-card]")).to_contain_text("Kept on this phone")
    expect(phone.page.locator("[data-card]")).not_to_contain_text("Kept on the server")
    line.dark = False
    phone.context.set_offline(False)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]]})
    expect(phone.page.locator("[data-card]")).to_contain_text("Kept on the server")


def test_the_same_photo_on_two_things_is_one_photo(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [NO_NETWORK]
    file = picture(tmp_path / "twice.jpg", 3, 50_000)
    phone.go()
    phone.ready()
    phone.context.set_offline(True)
    for before, place in enumerate(["wing", "hull"]):
        phone.capture(shop.facts[place])
        phone.kept(before)  # what was taken lately stands there again
        phone.take(file)
        phone.kept(before + 1)
    phone.context.set_offline(False)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"], shop.facts["hull"]]}, receipts=2)


def test_two_pages_send_at_once(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [NO_NETWORK]
    files = pictures(tmp_path / "roll", [300_000] * 12)
    phone.capture(shop.facts["wing"])
    other = phone.capture(shop.facts["wing"], page=phone.context.new_page())
    phone.context.set_offline(True)
    phone.take(*files)
    phone.kept(12)
    phone.context.set_offline(False)
    for _ in range(5):
        for page in (phone.page, other):
            phone.nudge(page)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]] for file in files})
    phone.kept(12)
    assert phone.answered == 12, "a photo was sent more than once"


def test_the_page_is_loaded_again_while_it_sends(shop: ShopServer, line: Line, phones, tmp_path) -> None:
    phone = phones(base=line.base)
    phone.expected += [NO_NETWORK, CUT]
    files = pictures(tmp_path / "roll", [LARGE] * 3)
    phone.capture(shop.facts["hull"])
    line.rate = LARGE / 1.5
    phone.take(*files)
    phone.kept(3)
    broken_off, seen = 0, 0
    for _ in range(3):
        phone.until(lambda: line.requests > seen and line.carried > 200_000, every=0.01, told=phone.items)  # noqa: B023
        before, sender, seen = shop.receipts(), lease(phone), line.requests
        phone.page.reload()
        broken_off += shop.receipts() == before
        # The page that went has given the right to send back: nobody has to wait until it runs out.
        phone.until(lambda: lease(phone) != sender, seconds=5, told=phone.items)  # noqa: B023
    assert broken_off >= 2
    line.rate = None
    phone.sent()
    shop.has_exactly({file: [shop.facts["hull"]] for file in files})
    assert phone.stored_bytes() == 0


def lease(phone: Phone) -> str | None:
    """Which page sends."""
    return phone.ask("return (await (await store.openStore()).recall('lease'))?.page")


def test_the_browser_is_killed_while_it_sends(shop: ShopServer, line: Line, phones, browser, tmp_path) -> None:
    files = pictures(tmp_path / "roll", [LARGE, 20_000, 20_000])
    profile = tmp_path / "profile"
    phone = phones(base=line.base, context=open_profile(browser, profile))
    phone.capture(shop.facts["hull"])
    line.rate = LARGE / 1.5
    phone.take(*files)
    phone.kept(3)
    phone.until(lambda: line.carried > 200_000, every=0.01, told=phone.items)
    kill_browser(profile)
    time.sleep(2)
    assert shop.photos() == {}
    line.rate = None
    phone = phones(base=line.base, context=open_profile(browser, profile))
    phone.capture(shop.facts["hull"])
    assert phone.stored_bytes() == 3
    phone.sent()
    shop.has_exactly({file: [shop.facts["hull"]] for file in files})
    assert phone.stored_bytes() == 0


def open_profile(browser: Browser, profile: Path) -> BrowserContext:
    return browser.browser_type.launch_persistent_context(profile, executable_path=chromium(), args=FLAGS, **PHONE)


def kill_browser(profile: Path) -> None:
    """End at once what runs on this profile, as a phone does that is out of memory or of power."""
    words = f"--user-data-dir={profile}".encode()
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            if words in (process / "cmdline").read_bytes().split(b"\0"):
                os.kill(int(process.name), signal.SIGKILL)


def test_two_hundred_photos_without_signal(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [NO_NETWORK]
    files = pictures(tmp_path / "roll", [20_000] * 200)
    phone.go()
    phone.ready()
    phone.context.set_offline(True)
    page = phone.capture(shop.facts["wing"])
    started = time.monotonic()
    phone.take(*files)
    phone.kept(200)
    kept = time.monotonic() - started
    assert phone.states() == {"waiting": 200}
    page.reload()
    assert phone.states() == {"waiting": 200}
    started = time.monotonic()
    phone.context.set_offline(False)
    phone.nudge()
    slowest, change = 0.0, page.locator("[data-change]")
    while phone.states()["sent"] < 200:
        assert time.monotonic() < started + 90, phone.states()
        before = time.monotonic()
        open_now = change.get_attribute("aria-expanded")
        change.click()
        expect(change).to_have_attribute("aria-expanded", "false" if open_now == "true" else "true")
        slowest = max(slowest, time.monotonic() - before)
    sent = time.monotonic() - started
    print(  # noqa: T201
        f"\n200 photos: kept in {kept:.1f} s, sent in {sent:.1f} s; slowest answer to a touch {slowest:.2f} s"
    )
    shop.has_exactly({file: [shop.facts["wing"]] for file in files})
    assert phone.stored_bytes() == 0
    assert slowest < 1


def limit(phone: Phone, quota: int | None) -> None:
    """To be said before any page of the site is open: the browser remembers for a while how much room there is."""
    given = {"origin": phone.base} if quota is None else {"origin": phone.base, "quotaSize": quota}
    phone.context.new_cdp_session(phone.page).send("Storage.overrideQuotaForOrigin", given)


def test_no_room_on_the_phone_and_no_signal(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [NO_NETWORK]
    page = phone.page
    limit(phone, 2_500_000)
    small, large = pictures(tmp_path / "roll", [20_000, 3_000_000])
    phone.go()
    phone.ready()
    phone.context.set_offline(True)
    phone.capture(shop.facts["wing"])
    phone.take(small)
    phone.kept(1)
    phone.take(large)
    card = page.locator("[data-card]").first
    expect(card).to_have_attribute("data-kept", "memory")
    expect(card).to_contain_text("Not kept on this phone")
    expect(card.locator("[data-trouble]")).to_contain_text("do not close it until the photo is sent")
    assert re.search("Kept on this phone", card.inner_text()) is None
    expect(page.locator("[data-kept-summary]")).to_contain_text("1 only in this page")
    # What can be written is: the words of the photo, and a tap on the timer.
    phone.ask(
        """await outbox.keepEvent({ project: "tarnwader-2", person: document.body.dataset.person, label: "Start",
        url: document.body.dataset.captured, kind: "timer_start", fields: { assembly: given } });""",
        shop.facts["wing"],
    )
    page.reload()
    assert [(item["kind"], bool(item.get("in_memory"))) for item in phone.items()] == [
        ("photo", False),
        ("photo", False),
        ("timer_start", False),
    ]
    phone.go("kept/")
    row = page.locator("[data-list=stuck] li")
    expect(row).to_have_count(1)
    assert "Kept on this phone" not in row.inner_text()
    phone.context.set_offline(False)
    phone.nudge()
    phone.until(
        lambda: phone.states() == {"sent": 2, "held": 1} or phone.states() == {"sent": 2, "waiting": 1},
        told=phone.items,
    )
    assert len(shop.photos()) == 1
    # Room was made, and the same file is chosen again: it takes the place of what was noted.
    limit(phone, None)
    phone.capture(shop.facts["wing"])
    page.locator("[data-take][multiple]").set_input_files(large)
    phone.until(lambda: phone.states() == {"sent": 3}, told=phone.items)
    assert shop.receipts("timer_start") == 1
    shop.has_exactly({small: [shop.facts["wing"]], large: [shop.facts["wing"]]})


def test_no_room_on_the_phone_but_signal(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    limit(phone, 2_500_000)
    phone.go()
    phone.ready()
    page = phone.capture(shop.facts["wing"])
    shown: list[str] = []
    page.expose_function("shown", lambda words: shown.append(words))
    page.evaluate(
        """() => {
          const tell = () => shown(document.querySelector("[data-card] [data-words]").textContent);
          const all = { subtree: true, childList: true, characterData: true };
          new MutationObserver(tell).observe(document.querySelector("[data-cards]"), all);
        }"""
    )
    (large,) = pictures(tmp_path / "roll", [3_000_000])
    phone.take(large)
    expect(page.locator("[data-card]")).to_contain_text("Kept on the server", timeout=20_000)
    assert not [words for words in shown if words.startswith("Kept on this phone")], shown
    shop.has_exactly({large: [shop.facts["wing"]]})
