"""What is captured on a phone is never lost and never doubled when the server dies, is cut off or says no."""

import random
import time
from collections import Counter

import pytest
from playwright.sync_api import Route, expect

from tests.browser.shop_server import Line, Phone, ShopServer, digest, picture, pictures

pytestmark = [pytest.mark.browser, pytest.mark.slow]

GONE = r"net::ERR_(CONNECTION_\w+|EMPTY_RESPONSE|SOCKET_NOT_CONNECTED|\w+_ENCODING|CONTENT_LENGTH_MISMATCH|FAILED)"
KILLS = 20
MB = 1_000_000


def test_the_server_is_killed_twenty_times(shop: ShopServer, phones, tmp_path) -> None:
    """One photo more each time; killed while it waits, while its body comes in, and when it is written down."""
    phone = phones()
    phone.expected += [GONE]
    phone.capture(shop.facts["wing"])
    chance = random.Random(2026)
    files = pictures(tmp_path / "roll", [round(chance.uniform(1, 6) * MB) for _ in range(KILLS)])
    seen: Counter[str] = Counter()
    started = time.monotonic()
    for at, file in enumerate(files):
        before = shop.receipts()
        phone.page.locator("[data-take][multiple]").set_input_files(file)
        aim(shop, chance, at % 4, before)
        when = "half sent" if shop.arriving() else "before or after"
        shop.kill()
        phone.kept(at + 1)
        answered = phone.states()["sent"]
        seen["written down, not answered" if shop.receipts() > answered else when] += 1
        shop.start()
        phone.nudge()
    phone.sent(60)
    print(f"\n{KILLS} kills in {time.monotonic() - started:.0f} s: {dict(seen)}")  # noqa: T201
    shop.has_exactly({file: [shop.facts["wing"]] for file in files})
    assert phone.stored_bytes() == 0
    assert seen["half sent"] and seen["written down, not answered"], seen


def aim(shop: ShopServer, chance: random.Random, how: int, receipts: int) -> None:
    """Wait for the moment of the kill: at random, inside a body (twice), or when a receipt was just written."""
    until = time.monotonic() + 3
    if how == 0:
        time.sleep(chance.uniform(0, 0.3))
        return
    reached = shop.arriving if how < 3 else lambda: shop.receipts() > receipts
    while not reached() and time.monotonic() < until:
        time.sleep(0.001)
    if how < 3:
        time.sleep(chance.uniform(0, 0.03))


def test_bodies_cut_half_way_and_answers_lost(shop: ShopServer, line: Line, phones, tmp_path) -> None:
    phone = phones(base=line.base)
    phone.expected += [GONE]
    phone.capture(shop.facts["hull"])
    chance = random.Random(7)
    sizes = [2 * MB, 3 * MB, 9 * MB]  # the last goes in pieces
    line.cuts = [chance.randrange(2_000, 2 * MB) for _ in range(10)]
    files = pictures(tmp_path / "roll", sizes)
    phone.take(*files)
    phone.kept(3)
    phone.until(lambda: not line.cuts, seconds=60, every=0.1, told=lambda: (again(phone), phone.states()))
    assert line.cut == 10
    line.swallow = 3
    more = pictures(tmp_path / "more", [MB, MB], seed=50)
    phone.take(*more)
    phone.until(lambda: line.swallow == 0, seconds=60, every=0.1, told=lambda: (again(phone), phone.states()))
    again(phone)
    phone.sent(60)
    shop.has_exactly({file: [shop.facts["hull"]] for file in files + more})
    assert list((shop.data / "incoming").rglob("*.upload*")) == []


def again(phone: Phone) -> None:
    """Press "Send now" for all, so that no test waits minutes."""
    phone.ask("await outbox.tryAgain(); await sender.flush()")


def test_the_sign_in_runs_out_while_photos_wait(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones()
    phone.expected += [GONE, "401", "403", "An unknown error occurred when fetching the script"]
    files = pictures(tmp_path / "roll", [10_000] * 3)
    page = phone.capture(shop.facts["wing"])
    shop.kill()
    phone.take(*files)
    phone.kept(3)
    shop.start()
    shop.forget_sign_ins()
    phone.nudge()
    expect(page.locator("[data-sending-state]").locator("visible=true").first).to_contain_text("sign in to send")
    assert phone.states() == {"held": 3} and phone.stored_bytes() == 3 and shop.photos() == {}
    page.goto(f"{shop.base}/accounts/login/?next=/tarnwader-2/kept/")
    phone.sign_in("jory")
    expect(page.locator("[data-list=stuck] li")).to_have_count(3)
    expect(page.locator("[data-list=stuck] li").first).to_contain_text("Edda Norrell")
    phone.nudge()
    time.sleep(1)
    assert phone.states() == {"held": 3} and shop.photos() == {}
    phone.sign_out()
    page.goto(f"{shop.base}/accounts/login/?next=/tarnwader-2/kept/")
    phone.sign_in("edda")
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]] for file in files})
    senders = shop.rows("SELECT DISTINCT person_id FROM buildlog_receipt")
    assert senders == [(shop.facts["people"]["edda"]["key"],)]


def test_one_item_in_trouble_holds_up_no_other(shop: ShopServer, phones, tmp_path) -> None:
    phone = phones(service_workers="block")
    phone.expected += [GONE, "500", "413"]
    page = phone.capture(shop.facts["wing"])
    failing, refused, *fine = pictures(tmp_path / "roll", [30_000] * 5)
    tries: Counter[str] = Counter()

    def trouble(route: Route) -> None:
        body = route.request.post_data_buffer or b""
        if digest(failing).encode() in body and tries["failing"] < 3:
            tries["failing"] += 1
            route.fulfill(status=500, body="<h1>Server error</h1>", content_type="text/html")
        elif digest(refused).encode() in body:
            tries["refused"] += 1
            answer = '{"error": "This photo has 71 MB; at most 60 MB are taken.", "code": "too_large"}'
            route.fulfill(status=413, body=answer, content_type="application/json")
        else:
            route.continue_()

    page.route("**/captured/?kind=photo", trouble)
    phone.take(failing, refused, *fine)
    phone.until(lambda: phone.states() == {"sent": 3, "waiting": 1, "refused": 1}, told=phone.states)
    assert len(shop.photos()) == 3
    phone.until(lambda: tries["failing"] == 2, told=phone.states)  # by itself
    assert tries["refused"] == 1
    again(phone)
    phone.until(lambda: tries["failing"] == 3, told=phone.states)
    again(phone)
    phone.until(lambda: phone.states() == {"sent": 4, "refused": 1}, told=phone.states)
    shop.has_exactly({file: [shop.facts["wing"]] for file in [failing, *fine]})
    phone.go("kept/")
    row = page.locator("[data-list=stuck] li")
    expect(row).to_have_count(1)
    expect(row).to_contain_text("at most 60 MB are taken")
    with page.expect_download() as got:
        row.get_by_role("button", name="Save a copy").click()
    assert digest(got.value.path()) == digest(refused)


def test_a_full_answer_is_not_believed_by_its_status(shop: ShopServer, phones, tmp_path) -> None:
    """A portal, a proxy or a sign-in page may answer 200 to anything."""
    phone = phones(service_workers="block")
    phone.expected += [GONE]
    page = phone.capture(shop.facts["wing"])
    (file,) = pictures(tmp_path / "roll", [30_000])
    lies = [
        {"status": 200, "body": "<h1>Welcome to this network</h1>", "content_type": "text/html"},
        {"status": 201, "body": "{}", "content_type": "application/json"},
        {"status": 201, "body": '{"request_id": "somebodyelses", "digest": "x"}', "content_type": "application/json"},
    ]

    def lie(route: Route) -> None:
        if lies:
            route.fulfill(**lies.pop(0))
        else:
            route.continue_()

    page.route("**/captured/?kind=photo", lie)
    phone.take(file)
    while lies:
        before = len(lies)
        phone.until(lambda: len(lies) < before)  # noqa: B023
        phone.until(lambda: phone.states() == {"waiting": 1}, told=phone.items)
        assert phone.stored_bytes() == 1 and shop.photos() == {}
        if lies:
            phone.ask("await outbox.tryAgain(); await sender.flush()")
    again(phone)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]]})


def test_a_byte_that_turns_over_on_the_way_is_noticed(shop: ShopServer, line: Line, phones, tmp_path) -> None:
    """The server refuses bytes that do not have the digest read on the phone, and the phone sends them again."""
    phone = phones(base=line.base)
    phone.expected += [GONE, "409"]
    phone.capture(shop.facts["wing"])
    file = picture(tmp_path / "rib.jpg", 5, 30_000)
    line.spoil = 20_000
    phone.take(file)
    phone.until(lambda: line.spoil is None)
    phone.until(lambda: phone.states() == {"waiting": 1}, told=phone.items)
    assert shop.photos() == {} and phone.stored_bytes() == 1
    again(phone)
    phone.sent()
    shop.has_exactly({file: [shop.facts["wing"]]})
