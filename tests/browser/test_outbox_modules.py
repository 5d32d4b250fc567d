"""The outbox module by module in a real browser, against a server that is made up here."""

import hashlib
import json
from collections.abc import Callable, Iterator
from email import message_from_bytes
from io import BytesIO
from urllib.parse import parse_qs, urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, Route

from tests.browser.conftest import FLAGS, chromium

pytestmark = pytest.mark.browser

PERSON = {"key": "edda", "name": "Edda Norrell"}
URL = "/stub/captured/"
BARE = "/stub/"

IMPORTS = """
const load = (name) => import(`/static/js/outbox/${name}.js`);
const names = ["id", "digest", "camera-time", "store", "outbox", "sender", "changes", "choosing", "state", "lease"];
const modules = await Promise.all(names.map(load));
const [{ newId }, digest, { cameraTime }, { openStore }, outbox, sender, changes, choosing, state, lease] = modules;
const { keepPhoto, keepEvent, undo, putBack, retag, tryAgain, forgetRequest, waiting, summary, pendingTimers } = outbox;
const about = { project: "tarnwader-2", person: "edda", url: "/stub/captured/" };
const fileOf = (name, size) =>
  new File([new Uint8Array(size).fill(name.length)], name, { type: "image/jpeg", lastModified: 1_700_000_000_000 });
const photo = (name, size = 100, more = {}) =>
  keepPhoto({ ...about, label: `Photo ${name}`, file: fileOf(name, size), ...more });
const all = async () => (await openStore()).all();
"""


def run(page: Page, body: str, given: object = None) -> object:
    """Run the body of an async function that has everything imported; its argument is `given`."""
    return page.evaluate(f"async (given) => {{ {IMPORTS} {body} }}", given)


def states(page: Page) -> list[str]:
    return run(page, "return (await all()).map((item) => item.state)")


class Stub:
    """A server that keeps what it is sent: exactly once by request id. `trouble` answers in its place."""

    def __init__(self) -> None:
        self.person = PERSON
        self.status: int = 200
        self.kept: dict[str, dict] = {}
        self.order: list[str] = []
        self.posts: list[str] = []
        self.pieces: dict[str, bytes] = {}
        self.known_asked = 0
        self.trouble: Callable[[Route, dict], bool] = lambda route, fields: False

    def __call__(self, route: Route) -> None:
        address = urlsplit(route.request.url)
        if self.status == 0:
            return route.abort("failed")
        if address.path.endswith("/piece/"):
            return self.piece(route, parse_qs(address.query))
        if address.path.endswith("/known/"):
            return self.known(route)
        if route.request.method == "GET":
            return self.tell(route)
        fields = read_form(route)
        fields["kind"] = fields.get("kind") or parse_qs(address.query)["kind"][0]
        self.posts.append(fields["kind"])
        if self.trouble(route, fields):
            return None
        answer = {"request_id": fields["request_id"], "digest": fields.get("digest", ""), "kind": fields["kind"]}
        new = fields["request_id"] not in self.kept
        if new:
            self.order.append(fields["request_id"])
        self.kept[fields["request_id"]] = fields
        return say(route, 201 if new else 200, answer | {"is_new": new})

    def tell(self, route: Route) -> None:
        if self.status == 401:
            return say(route, 401, {"error": "Sign in."})
        body = {
            "csrf": "token",
            "now": 0,
            "project": {"slug": "tarnwader-2", "name": "Tarnwader 2"},
            "person": self.person,
            "limits": {"photo": 60 << 20, "clip": 200 << 20, "piece": 3 << 20},
            "timers": [],
        }
        return say(route, 200, body)

    def known(self, route: Route) -> None:
        self.known_asked += 1
        asked = parse_qs(route.request.post_data or "").get("id", [])
        found = {
            one: {"request_id": one, "digest": self.kept[one].get("digest", ""), "kind": self.kept[one]["kind"]}
            for one in asked
            if one in self.kept
        }
        say(route, 200, {"items": found, "photos": {}})

    def piece(self, route: Route, query: dict) -> None:
        digest = query["digest"][0]
        have = self.pieces.get(digest, b"")
        if route.request.method == "POST":
            if int(query["offset"][0]) != len(have):
                return say(route, 409, {"digest": digest, "have": len(have)})
            if self.trouble(route, {"kind": "piece"}):
                return None
            have = self.pieces[digest] = have + (route.request.post_data_buffer or b"")
        return say(route, 200, {"digest": digest, "have": len(have)})


def say(route: Route, status: int, body: dict) -> None:
    route.fulfill(status=status, content_type="application/json", body=json.dumps(body))


def refuse(route: Route, status: int, error: str) -> bool:
    say(route, status, {"error": error})
    return True


def read_form(route: Route) -> dict:
    """The fields of a multipart body; the browser leaves out what came from a file, so only names count there."""
    data = route.request.post_data_buffer or b""
    head = f"Content-Type: {route.request.headers['content-type']}\r\n\r\n".encode()
    fields: dict = {}
    for part in message_from_bytes(head + data).get_payload():
        name = part.get_param("name", header="content-disposition")
        value = part.get_payload(decode=True).decode("utf-8", "replace")
        fields[name] = (
            [*fields[name], value]
            if isinstance(fields.get(name), list)
            else ([fields[name], value] if name in fields else value)
        )
    return fields


@pytest.fixture
def stub() -> Stub:
    return Stub()


@pytest.fixture
def context(browser: Browser, live_server, stub: Stub, db: None) -> Iterator[BrowserContext]:  # noqa: ANN001
    made = browser.new_context(base_url=live_server.url)
    serve(made, stub)
    yield made
    made.close()


def serve(context: BrowserContext, stub: Stub) -> None:
    """Answer for the made-up server, and with a page that has no scripts of its own."""
    context.route(
        "**/stub/", lambda route: route.fulfill(content_type="text/html", body="<!doctype html><title>Bare</title>")
    )
    context.route("**/stub/captured/**", stub)


@pytest.fixture
def page(context: BrowserContext) -> Page:
    return opened(context)


def opened(context: BrowserContext) -> Page:
    page = context.new_page()
    page.goto(BARE)
    return page


# Digest

VECTORS = [
    (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
]


@pytest.mark.parametrize("browsers_own", [True, False])
def test_the_digest_is_that_of_the_published_examples(page, browsers_own):
    """FIPS 180-4 examples: empty, 24 bits, 448 bits, one million times the letter a."""
    body = """
      if (!given.own) Object.defineProperty(crypto, "subtle", { value: undefined });
      const short = await Promise.all(given.texts.map((text) => digest.digestOf(new Blob([text]))));
      return [...short, await digest.digestOf(new Blob(["a".repeat(1_000_000)]))];
    """
    found = run(page, body, {"own": browsers_own, "texts": [text.decode() for text, _ in VECTORS]})
    million = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"
    assert found == [f"sha256:{hexed}" for hexed in [*(hexed for _, hexed in VECTORS), million]]


def test_bytes_in_pieces_of_any_length_have_the_digest_of_the_whole(page):
    body = """
      const bytes = new Uint8Array(3000).map((_, index) => (index * 7) % 251);
      const sums = [1, 55, 56, 63, 64, 65, 119, 129, 1000].map((length) => {
        const sum = new digest.Sha256();
        for (let at = 0; at < bytes.length; at += length) sum.add(bytes.subarray(at, at + length));
        return sum.hex();
      });
      const ends = [55, 56, 57, 63, 64, 65].map((length) => new digest.Sha256().add(bytes.subarray(0, length)).hex());
      return [sums, ends];
    """
    data = bytes((index * 7) % 251 for index in range(3000))
    sums, ends = run(page, body)
    assert set(sums) == {hashlib.sha256(data).hexdigest()}
    assert ends == [hashlib.sha256(data[:length]).hexdigest() for length in (55, 56, 57, 63, 64, 65)]


def test_a_file_too_large_for_memory_is_digested_in_pieces(page):
    body = """
      const blob = new Blob([new Uint8Array(33 * 1024 * 1024).fill(5)]);
      const told = [];
      const sum = await digest.digestOf(blob, (share) => told.push(share));
      return [sum, told.length, told.at(-1)];
    """
    sum_, count, last = run(page, body)
    assert sum_ == "sha256:" + hashlib.sha256(b"\x05" * (33 << 20)).hexdigest()
    assert (count, last) == (34, 1)


# The camera's time


def exif(clock: str = "2026:05:14 19:06:30", offset: str = "-06:00") -> bytes:
    tags = Image.Exif()
    if clock:
        tags.get_ifd(0x8769)[0x9003] = clock
    if offset:
        tags.get_ifd(0x8769)[0x9011] = offset
    return tags.tobytes()


def picture(kind: str, tags: bytes, size: int = 64) -> bytes:
    out = BytesIO()
    image = Image.effect_noise((size, size), 90).convert("RGB")
    if kind in {"heic", "avif"}:
        heif = pytest.importorskip("pillow_heif")
        if kind == "heic":
            heif.from_pillow(image).save(out, exif=tags)
            return out.getvalue()
    image.save(out, kind.upper(), exif=tags)
    return out.getvalue()


def camera_time(page: Page, data: bytes) -> dict | None:
    return run(page, "return cameraTime(new Blob([new Uint8Array(given)]))", list(data))


@pytest.mark.parametrize("kind", ["jpeg", "heic", "avif", "png", "webp"])
def test_the_cameras_time_is_read_from_every_kind_of_photo(page, kind):
    found = camera_time(page, picture(kind, exif()))
    assert found == {"clock": "2026:05:14 19:06:30", "offset": "-06:00"}


@pytest.mark.parametrize("kind", ["jpeg", "heic"])
def test_a_camera_without_zone_or_without_time_says_so(page, kind):
    assert camera_time(page, picture(kind, exif(offset=""))) == {"clock": "2026:05:14 19:06:30", "offset": ""}
    assert camera_time(page, picture(kind, exif(clock=""))) is None
    assert camera_time(page, picture(kind, exif(clock="0000:00:00 00:00:00"))) is None


def test_a_time_behind_the_first_half_megabyte_is_found_and_nonsense_is_not(page):
    tags = exif()
    assert camera_time(page, b"\x01" * 900_000 + tags) == {"clock": "2026:05:14 19:06:30", "offset": "-06:00"}
    for data in (b"", b"II*\0", b"II*\0\xff\xff\xff\x7f", b"MM\0*" * 5000, tags[: len(tags) // 2], tags[:30]):
        assert camera_time(page, data) is None


# Ids and the store


def test_ids_are_22_url_safe_characters_and_never_the_same(page):
    found = run(page, "return Array.from({ length: 500 }, newId)")
    assert len(set(found)) == 500
    assert all(len(one) == 22 and one.replace("-", "").replace("_", "").isalnum() for one in found)


def test_what_is_kept_is_there_after_a_reload_with_its_digest_and_times(page):
    run(page, "await photo('rib.jpg', 2000, { fields: { place: 'wing' }, into: 'timer-1' }); await photo('two.jpg')")
    page.reload()
    items = run(page, "return all()")
    size = run(page, "return (await (await openStore()).bytes(given)).size", items[0]["id"])
    first = items[0]
    assert [item["order"] for item in items] == [1, 2]
    assert (first["state"], size, first["fields"]) == ("waiting", 2000, {"place": "wing", "session": "timer-1"})
    assert first["file"] == {
        "name": "rib.jpg",
        "type": "image/jpeg",
        "size": 2000,
        "modified": 1_700_000_000_000,
        "digest": "sha256:" + hashlib.sha256(b"\x07" * 2000).hexdigest(),
        "camera": None,
        "kept": True,
    }


def small_storage(page: Page, live_server, quota: int | None) -> None:  # noqa: ANN001
    session = page.context.new_cdp_session(page)
    given = {"origin": live_server.url} | ({"quotaSize": quota} if quota is not None else {})
    session.send("Storage.overrideQuotaForOrigin", given)


def test_a_photo_without_room_keeps_its_words_and_is_sent_from_memory(page, live_server, stub):
    small_storage(page, live_server, 1_000_000)
    run(page, "await keepEvent({ ...about, kind: 'timer_start', fields: { assembly: 'wing' }, label: 'Start' })")
    found = run(
        page,
        """const { item, kept } = await photo('rib.jpg', 3_000_000, { fields: { place: 'wing' } });
        const store = await openStore();
        return [kept, item.trouble, item.file.kept, (await store.bytes(item.id)).size, summary(await all())]""",
    )
    assert found[0] is False
    assert "do not close it until the photo is sent" in found[1]
    assert found[2:4] == [False, 3_000_000]
    assert (found[4]["count"], found[4]["unkept"]) == (2, 1)
    run(page, "await sender.flush()")
    assert [one["kind"] for one in stub.kept.values()] == ["timer_start", "photo"]
    assert set(states(page)) == {"sent"}


def test_a_photo_whose_page_was_closed_is_told_and_comes_back_when_chosen_again(page, live_server, stub):
    small_storage(page, live_server, 1_000_000)
    first = run(
        page,
        "return (await photo('rib.jpg', 3_000_000, { fields: { place: 'wing' } })).item.id",
    )
    page.reload()
    # An hour later: by the clock, because a refused file may still take the room of any word.
    page.evaluate("() => { const now = Date.now; Date.now = () => now() + 3_600_000; }")
    run(page, "await sender.flush()")
    [item] = run(page, "return all()")
    assert (item["state"], item["fields"]) == ("held", {"place": "wing"})
    assert stub.posts == []
    small_storage(page, live_server, None)
    assert run(page, "return (await photo('rib.jpg', 3_000_000)).item.id") == first
    run(page, "await sender.flush()")
    assert stub.kept[first]["place"] == "wing"


def test_what_lay_in_memory_is_written_once_there_is_room(page, live_server, stub):
    small_storage(page, live_server, 1_000_000)
    assert run(page, "return (await photo('rib.jpg', 3_000_000)).kept") is False
    small_storage(page, live_server, None)
    run(page, "await (await openStore()).rescue()")
    page.reload()
    assert run(page, "return (await all()).map((item) => [item.file.kept, item.trouble])") == [[True, ""]]
    run(page, "await sender.flush()")
    assert states(page) == ["sent"]


def test_when_even_words_do_not_fit_they_are_sent_from_memory_and_that_is_said(page, live_server, stub):
    small_storage(page, live_server, 1)
    found = run(
        page,
        """const pairs = [['note', 'x'.repeat(200_000)]];
        const item = await keepEvent({ ...about, kind: 'session', pairs, label: 'Session' });
        return [item.in_memory, item.trouble, (await openStore()).full, summary(await all()).unkept]""",
    )
    assert found[0] is True
    assert "Delete something from the phone" in found[1]
    assert found[2:] == [True, 1]
    run(page, "await sender.flush()")
    assert len(stub.kept) == 1
    assert run(page, "return (await waiting()).length") == 0


def test_words_that_did_not_fit_are_written_at_the_next_round_without_anything_sent(page, live_server, stub):
    stub.status = 0
    small_storage(page, live_server, 1)
    run(page, "await keepEvent({ ...about, kind: 'timer_start', fields: { assembly: 'wing' }, label: 'Start' })")
    small_storage(page, live_server, None)
    run(page, "await sender.flush()")
    page.reload()
    assert [(item["kind"], item.get("in_memory")) for item in run(page, "return all()")] == [("timer_start", None)]
    assert run(page, "return (await openStore()).full") is False


def test_what_was_let_go_while_another_was_written_does_not_come_back(page, live_server, stub):
    small_storage(page, live_server, 1)
    body = """
      const start = (assembly) => keepEvent({ ...about, kind: 'timer_start', fields: { assembly }, label: 'S' });
      return [await start('wing'), await start('hull')].map((item) => [item.id, item.in_memory])"""
    (first, _), (second, in_memory) = run(page, body)
    assert in_memory is True
    small_storage(page, live_server, None)
    found = run(
        page,
        """const store = await openStore(), put = store.put.bind(store);
        store.put = async (item) => { store.put = put; await store.drop(given); return put(item); };
        await store.rescueWords();
        return (await all()).map((item) => item.id)""",
        second,
    )
    assert found == [first]


def test_a_page_that_could_not_write_its_turn_does_not_hold_up_the_next(page, live_server, stub):
    """On a full phone: the turn of the page before stands on the disk, and the page that went last is another."""
    run(page, "await lease.takeLease(await openStore())")
    unwritten = """
      const store = await openStore();
      const real = store.transact.bind(store);
      const full = () => Promise.reject(new Error("full"));
      store.transact = (names, mode, work) => (mode === "readwrite" ? full() : real(names, mode, work));
      return lease.takeLease(store)"""
    page.reload()
    assert run(page, unwritten) is True
    page.reload()
    assert run(page, "return lease.takeLease(await openStore())") is True


def test_where_storage_is_refused_the_outbox_works_in_memory_and_says_so(context, stub):
    page = context.new_page()
    page.add_init_script(
        "Object.defineProperty(window, 'indexedDB', { get() { throw new DOMException('no', 'SecurityError') } })"
    )
    page.goto(BARE)
    found = run(
        page,
        """const { item, kept } = await photo('rib.jpg', 2000);
        return [(await openStore()).persistent, kept, item.trouble, (await all()).length]""",
    )
    assert found == [False, False, "Not kept on this phone: do not close this page.", 1]
    run(page, "await sender.flush()")
    assert len(stub.kept) == 1
    assert run(page, "return (await waiting()).length") == 0


# Sending


def test_text_goes_first_then_photos_and_only_then_the_bytes_are_let_go(page, stub):
    ids = run(
        page,
        """const one = (await photo('one.jpg')).item.id;
        const start = (await keepEvent({ ...about, kind: 'timer_start', fields: { assembly: 'wing' }, label: 'S' })).id;
        const stop = (await keepEvent({ ...about, kind: 'timer_stop', fields: { session: start }, label: 'E' })).id;
        const two = (await photo('two.jpg')).item.id;
        await sender.flush();
        return [start, stop, one, two]""",
    )
    assert stub.order == ids
    assert states(page) == ["sent"] * 4
    kept = stub.kept[ids[2]]
    assert kept["digest"] == "sha256:" + hashlib.sha256(b"\x07" * 100).hexdigest()
    assert (kept["size"], kept["file_time"], kept["person"]) == ("100", "1700000000000", "edda")
    assert 0 <= int(kept["sent_at"]) - int(kept["happened_at"]) < 60_000
    body = "const store = await openStore(); return Promise.all((await all()).map((item) => store.bytes(item.id)))"
    assert run(page, body) == [None] * 4


@pytest.mark.parametrize("status", [500, 502, 409, 425, 400])
def test_a_server_in_trouble_is_asked_again_later_and_holds_up_nobody_else(page, stub, status):
    stub.trouble = lambda route, fields: fields.get("assembly") == "wing" and refuse(route, status, "x")
    body = """
      const start = (assembly) => keepEvent({ ...about, kind: 'timer_start', fields: { assembly }, label: 'S' });
      await start('wing'); await start('hull'); await photo('one.jpg');
      await sender.flush();
      return all()
    """
    items = run(page, body)
    assert [item["state"] for item in items] == ["waiting", "sent", "sent"]
    assert items[0]["tries"] == 1
    assert items[0]["next_try"] > items[0]["happened"]
    assert items[0]["trouble"]


@pytest.mark.parametrize("answer", ["login page", "no id", "other digest", "redirect", "empty"])
def test_an_answer_that_does_not_repeat_id_and_digest_is_not_believed(page, stub, answer):
    def odd(route: Route, fields: dict) -> bool:
        if answer == "redirect":
            route.fulfill(status=302, headers={"location": "/accounts/login/"})
        elif answer == "other digest":
            say(route, 201, {"request_id": fields["request_id"], "digest": "sha256:00"})
        else:
            text = {"login page": "<h1>Sign in</h1>", "no id": '{"ok": true}', "empty": ""}[answer]
            route.fulfill(status=200, body=text)
        return True

    stub.trouble = odd
    body = """
      const { item } = await photo('one.jpg');
      await sender.flush();
      return (await (await openStore()).bytes(item.id)).size
    """
    found = run(page, body)
    assert found == 100
    assert states(page) == ["waiting"]


@pytest.mark.parametrize("status", [413, 422])
def test_what_the_server_refuses_for_good_stays_with_its_sentence(page, stub, status):
    stub.trouble = lambda route, fields: refuse(route, status, "Not a photo.")
    [item] = run(page, "await photo('one.jpg'); await sender.flush(); await sender.flush(); return all()")
    assert (item["state"], item["trouble"]) == ("refused", "Not a photo.")
    assert len(stub.posts) == 1
    stub.trouble = lambda route, fields: False
    run(page, "await tryAgain(given); await sender.flush()", item["id"])
    assert states(page) == ["sent"]


def test_signed_out_the_queue_stays_and_goes_after_signing_in(page, stub):
    stub.status = 401
    [item] = run(page, "await photo('one.jpg'); await sender.flush(); return all()")
    assert (item["state"], item["trouble"]) == ("held", "Sign in to send.")
    stub.status = 200
    run(page, "await sender.flush()")
    assert states(page) == ["sent"]


def test_nothing_is_sent_in_the_name_of_another(page, stub):
    run(page, "await (await openStore()).remember('person:edda', 'Edda Norrell')")
    stub.person = {"key": "jory", "name": "Jory Pask"}
    [item] = run(page, "await photo('one.jpg'); await sender.flush(); return all()")
    assert (item["state"], item["trouble"]) == ("held", "Kept for Edda Norrell. Sign in as Edda Norrell to send it.")
    assert stub.posts == []
    stub.person = PERSON
    run(page, "await sender.look('/stub/captured/'); await sender.flush()")
    assert states(page) == ["sent"]


def test_a_photo_whose_answer_was_lost_is_not_uploaded_again(page, stub):
    def lose(route: Route, fields: dict) -> bool:
        stub.kept[fields["request_id"]] = fields
        stub.order.append(fields["request_id"])
        route.abort("connectionreset")
        return True

    stub.trouble = lose
    [item] = run(page, "await photo('one.jpg'); await sender.flush(); return all()")
    assert (item["state"], item["trouble"]) == ("waiting", "No signal. It is sent by itself when there is.")
    stub.trouble = lambda route, fields: False
    run(page, "await tryAgain(); await sender.flush()")
    assert states(page) == ["sent"]
    assert (len(stub.posts), stub.known_asked) == (1, 1)


def test_a_stale_token_is_fetched_afresh_and_tried_once_more(page, stub):
    asked = []

    def stale(route: Route, fields: dict) -> bool:
        asked.append(fields["request_id"])
        if len(asked) == 1:
            say(route, 403, {"error": "stale"})
        return len(asked) == 1

    stub.trouble = stale
    run(page, "await photo('one.jpg'); await sender.flush()")
    assert states(page) == ["sent"]
    assert len(asked) == 2


def test_no_signal_costs_no_tries_and_the_queue_goes_when_it_is_back(page, stub):
    stub.status = 0
    items = run(page, "await photo('one.jpg'); await photo('two.jpg'); await sender.flush(); return all()")
    assert [(item["state"], item["tries"]) for item in items] == [("waiting", 0)] * 2
    stub.status = 200
    run(page, "await sender.flush()")
    assert states(page) == ["sent", "sent"]


def test_a_large_file_goes_in_pieces_and_goes_on_where_it_was_broken_off(page, stub):
    pieces = []

    def breaks(route: Route, fields: dict) -> bool:
        if fields["kind"] != "piece":
            return False
        pieces.append(1)
        if len(pieces) == 3:
            route.abort("connectionreset")
        return len(pieces) == 3

    stub.trouble = breaks
    body = """
      const bytes = new Uint8Array(10 * 1024 * 1024).map((_, index) => index % 251);
      const file = new File([bytes], "flyby.mp4", { type: "video/mp4" });
      await keepPhoto({ ...about, label: "Clip", file });
      await sender.flush();
      const before = (await all())[0].state;
      await tryAgain();
      await sender.flush();
      return [before, (await all())[0].state]
    """
    assert run(page, body) == ["waiting", "sent"]
    data = bytes(index % 251 for index in range(10 << 20))
    [sent] = stub.kept.values()
    assert stub.pieces == {sent["digest"]: data}
    assert (sent["digest"], sent["pieces"]) == ("sha256:" + hashlib.sha256(data).hexdigest(), "1")
    assert len(pieces) == 5


def test_a_file_over_the_servers_limit_is_refused_without_being_sent(page, stub):
    body = """
      const file = new File([new Uint8Array(61 * 1024 * 1024)], "huge.jpg", { type: "image/jpeg" });
      await keepPhoto({ ...about, label: "Huge", file });
      await sender.flush();
      return (await all())[0]
    """
    item = run(page, body)
    assert (item["state"], item["trouble"]) == ("refused", "The file has 61.0 MB; at most 60 MB are taken.")
    assert stub.posts == []


def test_a_session_form_keeps_its_own_fields_and_waits_for_its_hold(page, stub):
    body = """
      const people = [["people", "edda"], ["people", "jory"]];
      const pairs = [["kind", "amateur"], ...people, ["request_id", "form-id"], ["note", "Ribs"]];
      const holdUntil = Date.now() + given;
      await keepEvent({ ...about, id: "form-id", kind: "session", pairs, label: "Session", holdUntil });
      await sender.flush();
      return (await all())[0].state
    """
    assert run(page, body, 20_000) == "waiting"
    assert stub.posts == []
    assert run(page, body, 0) == "sent"
    sent = stub.kept["form-id"]
    assert (sent["kind"], sent["people"], sent["note"]) == ("amateur", ["edda", "jory"], "Ribs")


# Two pages


def test_two_pages_send_every_item_once(context, stub):
    one, two = opened(context), opened(context)
    run(one, "for (let index = 0; index < 12; index += 1) await photo(`n${'x'.repeat(index)}.jpg`)")
    for page in (one, two):
        page.evaluate(f"(async () => {{ {IMPORTS} window.done = sender.flush(); }})()")
    for page in (one, two):
        page.evaluate("window.done")
    run(two, "await sender.flush()")
    run(one, "await sender.flush()")
    assert states(one) == ["sent"] * 12
    assert len(stub.posts) == len(stub.kept) == 12


def test_a_lease_is_ours_until_it_goes_stale(context):
    one, two = opened(context), opened(context)
    take = "return lease.takeLease(await openStore())"
    assert run(one, take) is True
    assert run(one, take) is True
    assert run(two, take) is False
    age = """
      const store = await openStore();
      await store.swap('lease', (held) => ({ ...held, until: Date.now() + given }));
      return lease.takeLease(store)
    """
    assert run(two, age, 60_000) is True, "written before the clock was put right"
    assert run(one, age, -1) is True, "its page is gone"
    assert run(one, "return lease.leaveLease(await openStore())") is True
    assert run(two, take) is True


def test_other_pages_hear_of_changes(context):
    one, two = opened(context), opened(context)
    run(two, "window.heard = []; changes.onChange((news) => window.heard.push(news.why))")
    run(one, "await photo('one.jpg')")
    two.evaluate("new Promise((done) => setInterval(() => window.heard.includes('kept') && done(), 20))")


# Undo, words, timers


def test_undo_before_sending_keeps_it_here_and_it_can_be_put_back(page, stub):
    body = """
      const { item } = await photo('one.jpg');
      const undone = await undo(item.id);
      await sender.flush();
      const between = (await all())[0].state;
      await putBack(item.id);
      await sender.flush();
      return [undone, between, (await all())[0].state]
    """
    assert run(page, body) == [True, "undone", "sent"]


def test_undo_after_sending_asks_the_server_and_can_be_taken_back_until_it_is_sent(page, stub):
    body = """
      const { item } = await photo('one.jpg');
      await sender.flush();
      await undo(item.id);
      const back = await putBack(item.id);
      await undo(item.id);
      await sender.flush();
      return [back, item.id, await putBack(item.id)]
    """
    back, photo, late = run(page, body)
    assert (back, late) == (True, False)
    assert [one["photo_request"] for one in stub.kept.values() if one["kind"] == "undo"] == [photo]


def test_undoing_a_start_takes_its_taps_along_and_leaves_its_photos(page, stub):
    body = """
      const start = await keepEvent({ ...about, kind: 'timer_start', fields: { assembly: 'wing' }, label: 'S' });
      await keepEvent({ ...about, kind: 'timer_break', fields: { session: start.id }, label: 'B' });
      await photo('one.jpg', 100, { into: start.id });
      await undo(start.id);
      await sender.flush();
      return (await all()).map((item) => [item.kind, item.state, item.fields.session ?? null])
    """
    found = run(page, body)
    assert [row[:2] for row in found] == [["timer_start", "undone"], ["timer_break", "undone"], ["photo", "sent"]]
    assert found[2][2] == ""


def test_words_go_with_the_photo_or_after_it(page, stub):
    body = """
      const before = (await photo('one.jpg')).item.id;
      await retag(before, { shows: 'edge' });
      await sender.flush();
      await retag(before, { caption: 'Leading edge' });
      await sender.flush();
      return before
    """
    photo = run(page, body)
    described = [one for one in stub.kept.values() if one["kind"] == "describe"]
    assert stub.kept[photo]["shows"] == "edge"
    assert [(one["photo_request"], one["caption"]) for one in described] == [(photo, "Leading edge")]


def test_words_tapped_while_the_photo_is_on_its_way_are_not_lost(page, stub):
    photo = run_with_tap(page)
    described = [one for one in stub.kept.values() if one["kind"] == "describe"]
    assert [(one["photo_request"], one["builder_in_frame"]) for one in described] == [(photo, "1")]


def run_with_tap(page: Page) -> str:
    """Send a photo and tap a tag at the moment its bytes are handed over."""
    return run(
        page,
        """const { item } = await photo('one.jpg');
        const send = XMLHttpRequest.prototype.send;
        XMLHttpRequest.prototype.send = function (body) {
          XMLHttpRequest.prototype.send = send;
          retag(item.id, { builder_in_frame: '1' }).then(() => send.call(this, body));
        };
        await sender.flush();
        await sender.flush();
        return item.id""",
    )


def test_a_request_that_the_server_shows_is_not_sent(page, stub):
    body = """
      const pairs = [['note', 'x']];
      const item = await keepEvent({ ...about, id: 'form-id', kind: 'session', pairs, label: 'Session' });
      await forgetRequest(item.id);
      await sender.flush();
      return (await all())[0].state
    """
    assert run(page, body) == "sent"
    assert stub.posts == []


def test_the_timers_on_screen_count_what_is_not_sent(page):
    body = """
      const server = [{ session: 's1', request_id: 'r1', assembly: 'wing', started: 1000, break_since: null,
        off_seconds: 60, people: ['Edda Norrell'], mine: true }];
      const tap = (order, kind, fields, more = {}) =>
        ({ id: `i${order}`, order, kind, fields, happened: order * 10_000, state: 'waiting', ...more });
      const facts = (timer) =>
        [timer.request_id, timer.assembly, timer.break_since, timer.off_seconds, timer.pending];
      const of = (items, asOf) => pendingTimers(items, server, asOf).map(facts);
      return {
        nothing: of([]),
        paused: of([tap(1, 'timer_break', { session: 'r1' })]),
        on: of([tap(1, 'timer_break', { session: 'r1' }), tap(4, 'timer_on', { session: 'r1' })]),
        stopped: of([tap(1, 'timer_stop', { session: 'r1' })]),
        switched: of([tap(2, 'timer_start', { assembly: 'hull' })]),
        undone: of([tap(2, 'timer_start', { assembly: 'hull' }, { state: 'undone' })]),
        sentBefore: of([tap(2, 'timer_start', { assembly: 'hull' }, { state: 'sent', sent_at: 50 })], 100),
        sentAfter: of([tap(2, 'timer_start', { assembly: 'hull' }, { state: 'sent', sent_at: 150 })], 100),
      };
    """
    wing = ["r1", "wing", None, 60, False]
    assert run(page, body) == {
        "nothing": [wing],
        "paused": [["r1", "wing", 10_000, 60, True]],
        "on": [["r1", "wing", None, 90, True]],
        "stopped": [],
        "switched": [["i2", "hull", None, 0, True]],
        "undone": [wing],
        "sentBefore": [wing],
        "sentAfter": [["i2", "hull", None, 0, False]],
    }


def test_what_waits_is_said_with_its_size_and_trouble(page):
    body = """
      const said = (counted, outcome) => {
        const nothing = { count: 0, bytes: 0, refused: 0, held: 0, sentToday: 0, unkept: 0 };
        const words = state.stateWords({ ...nothing, ...counted }, outcome);
        return words && [words.main, words.more];
      };
      return [
        said({}, 'here'), said({ sentToday: 2 }, 'here'), said({}, 'unreachable'),
        said({ count: 3, bytes: 12.4 * 1048576 }, 'unreachable'), said({ count: 1, held: 1 }, 'signed-out'),
        said({ count: 2, refused: 1 }, 'here'), said({ count: 1, bytes: 9, refused: 1 }, 'here'),
        said({ count: 1, bytes: 2_000_000, unkept: 1 }, 'here'),
      ];
    """
    assert run(page, body) == [
        None,
        ["All sent", ""],
        ["No signal", ""],
        ["3 waiting · 12 MB", "no signal"],
        ["1 waiting", "sign in to send"],
        ["2 waiting", "1 not taken"],
        ["1 not taken", ""],
        ["1 waiting · 1.9 MB", "do not close this page"],
    ]


def test_waits_grow_and_a_clock_put_right_holds_nothing_up(page):
    body = """
      const now = 1_000_000_000;
      const due = (facts) => choosing.isDue({ state: 'waiting', next_try: 0, ...facts }, now);
      return [
        [1, 2, 3, 8, 9, 40].map(choosing.backoff), due({}), due({ next_try: now + 5000 }),
        due({ next_try: now + 9_000_000 }), due({ hold_until: now + 20_000 }),
        due({ hold_until: now + 90_000_000 }), due({ state: 'refused' }),
      ];
    """
    assert run(page, body) == [[2000, 4000, 8000, 256_000, 300_000, 300_000], True, False, True, False, True, False]


# Plain HTTP on the shop's own network


@pytest.fixture
def plain_page(browser: Browser, live_server, stub: Stub, db: None) -> Iterator[Page]:  # noqa: ANN001
    """A page at a name that the browser does not count as secure."""
    rule = "--host-resolver-rules=MAP shop.test 127.0.0.1"
    other = browser.browser_type.launch(executable_path=chromium(), args=[*FLAGS, rule])
    context = other.new_context(base_url=f"http://shop.test:{urlsplit(live_server.url).port}")
    context.route("**/stub/captured/**", stub)
    page = context.new_page()
    page.goto("/accounts/login/")
    yield page
    other.close()


def test_over_plain_http_everything_is_kept_and_sent(plain_page, stub):
    page = plain_page
    secure = "[isSecureContext, Boolean(crypto.subtle), Boolean(crypto.randomUUID), 'serviceWorker' in navigator]"
    assert page.evaluate(secure) == [False] * 4
    run(page, "await photo('rib.jpg', 2000)")
    page.reload()
    assert states(page) == ["waiting"]
    run(page, "await sender.flush()")
    [kept] = stub.kept.values()
    assert kept["digest"] == "sha256:" + hashlib.sha256(b"\x07" * 2000).hexdigest()
