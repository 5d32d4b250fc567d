"""Sustained intake of captured photos on one core, and what a phone has to fetch for the capture page."""

import hashlib
import json
import os
import re
import shutil
import time
from dataclasses import dataclass, field
from io import BytesIO
from statistics import median
from urllib.parse import urljoin

from django.utils import timezone
from PIL import Image

from accounts import commands as accounts
from accounts.models import Person, Project, User
from buildlog import commands as buildlog
from config.bench.measure import Ratio, in_turn
from config.bench.photos import big_jpeg, marked
from config.bench.session_post import Client, cookies, serve
from config.ports import free_port
from evidence import commands as evidence
from evidence.queries import SIZES
from foundation.fields import new_key
from parts import commands as parts
from parts.models import Assembly

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
MOST_SCRIPT_AND_STYLE = 60_000  # compressed bytes, the target for the capture page
CODE = {"script", "style"}

# What a page and its files name: style sheets, scripts, what scripts import, and the lettering of the head.
LINKED = {
    "style": re.compile(r'<link rel="stylesheet" href="([^"]+)"'),
    "script": re.compile(r'<script[^>]* src="([^"]+)"'),
    "font": re.compile(r'<link rel="preload" href="([^"]+)" as="font"'),
}
IMPORTED = re.compile(r"""(?:\bfrom\s*|\bimport\s*\(?\s*)["'](\.[^"']+)["']""")


@dataclass
class Weight:
    """What the first visit fetches: bytes as sent by kind of file, requests, and the time until it is loaded."""

    page: int = 0
    bytes: dict[str, int] = field(default_factory=dict)
    requests: int = 0
    first_load: float | None = None

    @property
    def code(self) -> int:
        return sum(self.bytes.get(kind, 0) for kind in CODE)

    def line(self) -> str:
        return json.dumps(
            {
                "name": "capture_page",
                "script_and_style": self.code,
                "most": MOST_SCRIPT_AND_STYLE,
                "script": self.bytes.get("script", 0),
                "style": self.bytes.get("style", 0),
                "fonts": self.bytes.get("font", 0),
                "page": self.page,
                "requests": self.requests,
                "unit": "bytes as sent",
                "first_load_ms": self.first_load and round(self.first_load),
            }
        )


@dataclass(frozen=True)
class Capture:
    """Both measurements."""

    intake: Ratio
    weight: Weight

    def line(self) -> str:
        return f"{self.intake.line()}\n{self.weight.line()}"


def measure(quick: bool) -> Capture:
    """The intake on this process's one core, then the page from the production server."""
    user = User.objects.create_user("bench-capture")
    project, person = accounts.found_project(user=user, at=timezone.now(), builder="Bench", name="Bench capture")
    assembly = parts.add_assembly(by=person, at=timezone.now(), project=project, number="10", name="Hull")
    return Capture(intake(project, person, assembly, 12 if quick else 40), weight(project, user, 3 if quick else 9))


def intake(project: Project, person: Person, assembly: Assembly, n: int) -> Ratio:
    """Ours: all that a captured photo goes through behind the request. Reference: hash, draft decode, both sizes."""
    picture = big_jpeg()

    def ours(number: int) -> None:
        file, at = BytesIO(marked(picture, f"ours {number}")), timezone.now()
        photo, is_new = evidence.take_in(
            by=person, at=at, project=project, file=file, name="photo.jpg", places=[assembly], captured_at=at
        )
        capture = buildlog.Capture(new_key(), "photo", project, person, at, at)
        buildlog.receive_photo(capture=capture, photo=photo, is_new=is_new, place=assembly)

    return in_turn("capture", ours, lambda number: bare(marked(picture, f"bare {number}")), n=n)


def bare(data: bytes) -> None:
    """Hash, draft decode, both sizes; nothing is written."""
    hashlib.sha256(data).hexdigest()
    image = Image.open(BytesIO(data))
    image.draft("RGB", (max(SIZES), max(SIZES)))
    image.load()
    for size in sorted(SIZES, reverse=True):
        image.thumbnail((size, size), Image.Resampling.LANCZOS, reducing_gap=None)


def weight(project: Project, user: User, visits: int) -> Weight:
    """What the capture page costs, from the production server: counted here, timed in a browser where there is one."""
    port = free_port()
    server = serve(port)
    try:
        client = Client(port, cookies(user))
        client.wait(project)
        path = f"/{project.slug}/capture/"
        found = fetched(client, path)
        found.first_load = first_load(f"http://127.0.0.1:{port}{path}", client.jar, visits)
        return found
    finally:
        server.terminate()
        server.wait(timeout=10)


def fetched(client: Client, path: str) -> Weight:
    """The page and, one after the other, everything it names and that they name in turn."""
    text, size = client.fetch(path)
    found, seen = Weight(page=size, requests=1), set()
    waiting = [(kind, urljoin(path, name)) for kind, names in LINKED.items() for name in names.findall(text)]
    while waiting:
        kind, name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        text, size = client.fetch(name)
        found.requests += 1
        found.bytes[kind] = found.bytes.get(kind, 0) + size
        if kind == "script":
            waiting += [(kind, urljoin(name, more)) for more in IMPORTED.findall(text)]
    return found


def first_load(url: str, jar: dict[str, str], visits: int) -> float | None:
    """Milliseconds until a browser that knows nothing of us yet has loaded the page; None without a browser."""
    program = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return None
    if not program:
        return None
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=FLAGS)
        times = []
        for _ in range(visits):
            context = browser.new_context(viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True)
            context.add_cookies([{"name": name, "value": value, "url": url} for name, value in jar.items()])
            page = context.new_page()
            start = time.perf_counter()
            page.goto(url, wait_until="load")
            times.append((time.perf_counter() - start) * 1000)
            context.close()
        browser.close()
    return median(times)
