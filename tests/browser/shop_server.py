"""A server as it runs in a shop, on a data folder of its own, that a test may kill and start again; the line to it,
which may be slow or be cut; and phones, which are real browsers.

The tests' own Django has another database: what the server has is read from its files, by SQL and by its own commands.
"""

import contextlib
import hashlib
import json
import os
import random
import re
import shutil
import signal
import socket
import sqlite3
import struct
import subprocess
import sys
import threading
import time
import urllib.request
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import BrowserContext, Error, Page, expect

from config.ports import free_port
from tests.config.test_up import ROOT, environment

SLUG = "tarnwader-2"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "accept_downloads": True}
FURNISH = "import django; django.setup(); from tests.browser import shop_server; shop_server.furnish()"
PAGES = ["", "capture/", "kept/", "sessions/new/"]
# What Chromium says without network; the second is about a service worker whose script it was about to look at again.
NO_NETWORK = (
    r"net::ERR_(INTERNET_DISCONNECTED|NETWORK_CHANGED|FAILED)|An unknown error occurred when fetching the script"
)
COMMENT = 65_000  # bytes in one comment of a JPEG file, which holds 65,533 at most
# A request that carries a file, as the browser begins to write it.
CARRIES = re.compile(rb"POST /[\w-]+/captured/(\?kind=photo|piece/\?)")


# ---- the server ----


def furnish() -> None:
    """Run inside the server's own settings: a project, two people signed in, and what the test has to know of them."""
    from tests import factories

    project, edda = factories.make_project(user=factories.make_user("edda"))
    wing = factories.make_assembly(edda, "20", "Wing")
    hull = factories.make_assembly(edda, "10", "Hull")
    jory = factories.make_person(project, name="Jory Pask")
    people = {"edda": edda, "edda again": edda, "jory": jory}
    facts = {
        "wing": wing.pk,
        "hull": hull.pk,
        "people": {name: {"key": one.pk, "username": one.user.username} for name, one in people.items()},
        "cookies": {name: factories.client_for(one).cookies["sessionid"].value for name, one in people.items()},
    }
    assert project.slug == SLUG
    print(json.dumps(facts))  # noqa: T201


def build_shelf(data: Path) -> None:
    """Set up a data folder once; every test works on a copy."""
    for command in (["manage.py", "up", "--no-serve", "--no-demo"], ["-c", FURNISH]):
        done = subprocess.run(
            [sys.executable, *command],
            cwd=ROOT,
            env=environment(data, DJANGO_SETTINGS_MODULE="config.settings"),
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stdout + done.stderr
    (data / "facts.json").write_text(done.stdout.strip().splitlines()[-1])


class ShopServer:
    """The production server on a copy of the shelf."""

    def __init__(self, shelf: Path, data: Path) -> None:
        shutil.copytree(shelf, data, ignore=shutil.ignore_patterns("static"))
        (data / "static").symlink_to(shelf / "static")
        self.data, self.port = data, free_port()
        self.facts: dict[str, Any] = json.loads((data / "facts.json").read_text())
        self.names = json.loads((data / "static" / "staticfiles.json").read_text())["paths"]
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def module(self, name: str) -> str:
        """The address under which the pages load a module, so that a test works on the very same one."""
        return "/static/" + self.names[f"js/{name}.js"]

    def start(self) -> None:
        """Serve, and wait for the first answer."""
        # The background worker is left out: what waits for it is the small pictures.
        command = [
            *(sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws", "--host", "127.0.0.1"),
            *("--port", str(self.port), "--workers", "1", "--blocking-threads", "8", "--log-level", "error"),
            *("--working-dir", str(ROOT), "config.wsgi:application"),
        ]
        self.process = subprocess.Popen(
            command,
            env=environment(self.data, WORKER="1", DJANGO_SETTINGS_MODULE="config.settings"),
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=(self.data / "server.log").open("ab"),
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        eventually(self.answers, seconds=30, every=0.02)

    def answers(self) -> bool:
        assert self.process and self.process.poll() is None, (self.data / "server.log").read_text()
        try:
            with urllib.request.urlopen(f"{self.base}/offline/", timeout=5) as answer:
                return answer.status == 200
        except OSError:
            return False

    def kill(self) -> None:
        """End it as a power cut does, with all its threads and helpers."""
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None

    def rows(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        """What its database says."""
        with contextlib.closing(sqlite3.connect(f"file:{self.data / 'record.sqlite3'}?mode=ro", uri=True)) as database:
            return database.execute(sql, values).fetchall()

    def count(self, table: str) -> int:
        return self.rows(f"SELECT count(*) FROM {table}")[0][0]

    def receipts(self, kind: str = "photo") -> int:
        return self.rows("SELECT count(*) FROM buildlog_receipt WHERE kind = ?", kind)[0][0]

    def arriving(self) -> bool:
        """Whether part of a file has come and is not kept yet."""
        return any((self.data / "incoming").iterdir())

    def forget_sign_ins(self) -> None:
        """Everybody is signed out; the server, which remembers sessions, is started again."""
        self.kill()
        with contextlib.closing(sqlite3.connect(self.data / "record.sqlite3")) as database:
            database.execute("DELETE FROM django_session")
            database.commit()
        self.start()

    def photos(self) -> dict[str, list[str]]:
        """The digest of every standing photo, with the keys of what it is on."""
        found = self.rows("SELECT digest, id FROM evidence_photo WHERE withdrawn_at IS NULL")
        places = defaultdict(list)
        for photo, assembly in self.rows("SELECT photo_id, assembly_id FROM evidence_placement"):
            places[photo].append(assembly)
        assert len(dict(found)) == len(found), "the same bytes stand twice"
        return {digest: sorted(places[photo]) for digest, photo in found}

    def verify(self) -> str:
        """What `manage.py verify` says of a record that has to be whole."""
        done = subprocess.run(
            [sys.executable, "manage.py", "verify"],
            cwd=ROOT,
            env=environment(self.data),
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def has_exactly(self, files: dict[Path, list[str]], *, receipts: int | None = None) -> None:
        """Every file is there, once, on the things named, with its receipt; nothing else came; the record is whole."""
        assert self.photos() == {digest(path): sorted(keys) for path, keys in files.items()}
        assert self.receipts() == (len(files) if receipts is None else receipts)
        told = Counter(
            self.rows(
                "SELECT p.digest FROM buildlog_receipt r JOIN evidence_photo p ON p.id = r.photo_id "
                "WHERE r.kind = 'photo'"
            )
        )
        assert {one for (one,) in told} == {digest(path) for path in files}
        said = self.verify()
        assert f"{len(files)} original{'' if len(files) == 1 else 's'}: whole" in said, said
        assert "Note" not in said, said


# ---- the line ----


class Line:
    """A line to the server that forwards bytes, slowly if asked, and is cut where a test says.

    `rate`: bytes a second towards the server. `cuts`: after how many bytes of the next requests with a file the line is
    reset. `swallow`: how many of the next answers to a file are lost after the server has given them. `spoil`: which
    byte of the next request with a file is turned over on the way.
    """

    def __init__(self, port: int) -> None:
        self.server = port
        self.rate: float | None = None
        self.cuts: list[int] = []
        self.swallow = 0
        self.spoil: int | None = None
        self.dark = False
        self.cut = self.swallowed = 0
        self.requests = 0  # that carried a file
        self.carried = 0  # bytes of the newest of them
        self.pairs: list[Pair] = []
        self.listener = socket.create_server(("127.0.0.1", 0))
        # Little is put aside, so that a browser that goes away takes most of its file with it.
        self.listener.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 65_536)
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def close(self) -> None:
        self.listener.close()

    def hang_up(self) -> None:
        """Reset whatever is open and take no calls, until `dark` is said to be over."""
        self.dark = True
        for pair in self.pairs:
            pair.reset()
        self.pairs.clear()

    def accept(self) -> None:
        while True:
            try:
                phone, _ = self.listener.accept()
            except OSError:
                return
            try:
                if self.dark:
                    raise ConnectionRefusedError
                server = socket.create_connection(("127.0.0.1", self.server), timeout=5)
            except OSError:
                phone.close()
                continue
            server.settimeout(None)
            pair = Pair(self, phone, server)
            self.pairs.append(pair)
            for work in (pair.up, pair.down):
                threading.Thread(target=work, daemon=True).start()


class Pair:
    """One connection through the line."""

    def __init__(self, line: Line, phone: socket.socket, server: socket.socket) -> None:
        self.line, self.phone, self.server = line, phone, server
        self.sent: int | None = None  # bytes of the present request, if it carries a file
        self.serial = 0

    def up(self) -> None:
        with contextlib.suppress(OSError):
            while data := self.phone.recv(16_384):
                if CARRIES.match(data):
                    self.sent = 0
                    self.line.requests += 1
                    self.serial = self.line.requests
                elif self.sent is not None and data.startswith((b"GET /", b"POST /")):
                    self.sent = None
                if self.sent is None:
                    self.server.sendall(data)
                elif not self.carry(data):
                    return
        self.end()

    def carry(self, data: bytes) -> bool:
        line = self.line
        if line.rate:
            time.sleep(len(data) / line.rate)
        before, self.sent = self.sent or 0, (self.sent or 0) + len(data)
        if self.serial == line.requests:
            line.carried = self.sent
        if line.spoil is not None and before <= line.spoil < self.sent:
            at = line.spoil - before
            data = data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]
            line.spoil = None
        if line.cuts and self.sent >= line.cuts[0]:
            over = self.sent - line.cuts.pop(0)
            line.cut += 1
            self.server.sendall(data[: len(data) - over])
            self.reset()
            return False
        self.server.sendall(data)
        return True

    def down(self) -> None:
        with contextlib.suppress(OSError):
            while data := self.server.recv(65_536):
                if self.sent is not None and self.line.swallow:
                    self.line.swallow -= 1
                    self.line.swallowed += 1
                    return self.reset()
                self.phone.sendall(data)
        return self.end()

    def end(self) -> None:
        for one in (self.phone, self.server):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def reset(self) -> None:
        """As when a phone leaves the network: no farewell."""
        for one in (self.phone, self.server):
            with contextlib.suppress(OSError):
                one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                one.shutdown(socket.SHUT_RD)
                one.close()


# ---- files ----


def digest(path: Path) -> str:
    return "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest()


def picture(path: Path, seed: int, size: int = 0) -> Path:
    """A picture of about `size` bytes, with bytes of its own, in the place named."""
    chance = random.Random(seed)
    out = BytesIO()
    Image.new("RGB", (64, 48), (seed % 256, seed // 256 % 256, 90)).save(
        out, "JPEG", comment=f"picture {seed}".encode()
    )
    small = out.getvalue()
    more = max(0, size - len(small))
    lengths = [min(COMMENT, more - at) for at in range(0, more, COMMENT)]
    comments = [b"\xff\xfe" + struct.pack(">H", length + 2) + chance.randbytes(length) for length in lengths]
    path.write_bytes(small[:2] + b"".join(comments) + small[2:])
    return path


def pictures(folder: Path, sizes: Iterable[int], seed: int = 1) -> list[Path]:
    folder.mkdir(exist_ok=True)
    return [picture(folder / f"IMG_{seed + at:04d}.jpg", seed + at, size) for at, size in enumerate(sizes)]


# ---- phones ----


@dataclass
class Phone:
    """A browser of somebody in the shop. What it says on its console fails the test, but for what is `expected`."""

    shop: ShopServer
    context: BrowserContext
    base: str
    said: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=lambda: ["Service Worker registration blocked by Playwright"])
    answered: int = 0  # posts to captured/ that were answered

    def __post_init__(self) -> None:
        self.context.on("console", self.heard)
        self.context.on("weberror", lambda one: self.said.append(f"exception: {one.error}"))
        self.context.on("requestfinished", self.counted)
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()

    def heard(self, message: Any) -> None:
        if message.type in {"error", "warning"}:
            self.said.append(f"{message.type}: {message.text}")

    def counted(self, request: Any) -> None:
        if request.method == "POST" and "/captured/?kind=" in request.url:
            self.answered += 1

    def unexpected(self) -> list[str]:
        return [line for line in self.said if not any(re.search(one, line) for one in self.expected)]

    def be(self, name: str) -> None:
        """Signed in as one of those of furnish()."""
        self.context.add_cookies([{"name": "sessionid", "value": self.shop.facts["cookies"][name], "url": self.base}])

    def go(self, path: str = "", page: Page | None = None) -> Page:
        page = page or self.page
        page.goto(f"{self.base}/{SLUG}/{path}")
        return page

    def capture(self, place: str = "", page: Page | None = None) -> Page:
        """The capture page of a thing, once its script works."""
        page = self.go(f"capture/{place}/" if place else "capture/", page)
        expect(page.locator("[data-take-form].live")).to_be_visible()
        return page

    def ready(self) -> None:
        """Until the service worker answers and has all its pages."""
        script = """async ([home, pages]) => {
          for (;;) {
            const found = await Promise.all(pages.map((page) => caches.match(home + page)));
            if (found.every(Boolean) && navigator.serviceWorker.controller) return;
            await new Promise((done) => setTimeout(done, 50));
          }
        }"""
        self.page.evaluate(script, [f"/{SLUG}/", PAGES])

    def take(self, *files: Path, page: Page | None = None) -> None:
        """Choose photos as a person does; returns when the page shows them all as cards."""
        page = page or self.page
        cards = page.locator("[data-card]")
        before = cards.count()
        page.locator("[data-take][multiple]").set_input_files(files)
        expect(cards).to_have_count(before + len(files), timeout=60_000)

    def kept(self, count: int, page: Page | None = None) -> None:
        """Until so many cards say that their photo is kept here or on the server."""
        shown = (page or self.page).locator("[data-card]:is([data-kept=phone], [data-kept=server])")
        expect(shown).to_have_count(count, timeout=30_000)

    def ask(self, body: str, given: object = None, page: Page | None = None) -> Any:
        """Run the body of an async function with the outbox's modules at hand; its argument is `given`."""
        names = ["store", "outbox", "sender", "changes"]
        load = ", ".join(f"import({json.dumps(self.shop.module(f'outbox/{name}'))})" for name in names)
        head = f"const [{', '.join(names)}] = await Promise.all([{load}]);"
        while True:
            try:
                return (page or self.page).evaluate(f"async (given) => {{ {head} {body} }}", given)
            except Error as trouble:
                # The page went on to another meanwhile; nothing that is asked here does harm when it is asked again.
                if "context was destroyed" not in trouble.message:
                    raise

    def items(self, page: Page | None = None) -> list[dict[str, Any]]:
        return self.ask("return (await store.openStore()).all()", page=page)

    def states(self, page: Page | None = None) -> Counter[str]:
        return Counter(item["state"] for item in self.items(page))

    def stored_bytes(self, page: Page | None = None) -> int:
        """Files that lie in this phone's storage."""
        return self.ask(
            """const opened = await store.openStore();
            let found = 0;
            for (const { id } of await opened.all()) if (await opened.bytes(id)) found += 1;
            return found;""",
            page=page,
        )

    def nudge(self, page: Page | None = None) -> None:
        """What a phone tells a page when it finds a network again."""
        (page or self.page).evaluate("dispatchEvent(new Event('online'))")

    def sent(self, seconds: float = 30, page: Page | None = None, nudging: bool = True) -> None:
        """Until nothing waits any more, as the page itself counts."""

        def done() -> bool:
            states = self.states(page)
            waits = {"waiting", "sending", "held"} & {*states}
            if waits and nudging:
                self.nudge(page)
            return not waits

        self.until(done, seconds=seconds, every=0.2, told=lambda: self.states(page))

    def until(self, done: Callable[[], object], *, every: float = 0.05, **options: Any) -> None:
        """Like eventually(), with the browser's events, and the routes of the test, served meanwhile."""
        eventually(done, every=every, pause=lambda seconds: self.page.wait_for_timeout(seconds * 1000), **options)

    def sign_in(self, name: str) -> None:
        """By the form that stands on the page."""
        from tests.factories import PASSWORD

        self.page.get_by_label("Username").fill(self.shop.facts["people"][name]["username"])
        self.page.get_by_label("Password", exact=True).fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda url: "/accounts/login" not in url)

    def sign_out(self) -> None:
        self.page.goto(f"{self.base}/accounts/logout/")
        self.page.get_by_role("button", name="Sign out").click()
        expect(self.page.get_by_label("Username")).to_be_visible()


def eventually(
    done: Callable[[], object],
    *,
    seconds: float = 10,
    every: float = 0.05,
    told: Callable[[], object] = lambda: "",
    pause: Callable[[float], object] = time.sleep,
) -> None:
    """Look again and again until it is so."""
    until = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < until, f"not within {seconds} s: {told()}"
        pause(every)
