"""Logging a session over HTTP against a view that inserts one bare row: the same server, the same signed-in account."""

import gzip
import http.client
import os
import re
import subprocess
import sys
import time
from datetime import timedelta
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.db import connection
from django.utils import timezone

from accounts import commands as accounts
from accounts.models import Person, Project, User
from config.bench.measure import Ratio, in_turn
from config.ports import free_port
from foundation.fields import new_key
from parts import commands as parts
from parts.models import Assembly

READY_WITHIN = 20  # seconds


def measure(quick: bool) -> Ratio:
    """The signed-in POST of a session, form, rules, rows and journal and all, against one bare row."""
    user = User.objects.create_user("bench-post")
    project, person = accounts.found_project(user=user, at=timezone.now(), builder="Bench", name="Bench post")
    assembly = parts.add_assembly(by=person, at=timezone.now(), project=project, number="10", name="Hull")
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE IF NOT EXISTS bench_row (id INTEGER PRIMARY KEY, words TEXT NOT NULL)")
    path = f"/{project.slug}/sessions/new/"
    port = free_port()
    server = serve(port)
    try:
        client = Client(port, cookies(user))
        client.wait(project)
        return in_turn(
            "session_post",
            lambda number: client.post(path, session_body(project, person, assembly, number), 302),
            lambda number: client.post("/bench-row/", {"words": f"row {number}"}, 204),
            n=60 if quick else 300,
            warm=10,
        )
    finally:
        server.terminate()
        server.wait(timeout=10)


def serve(port: int) -> subprocess.Popen:
    """The production server as `up` starts it, with the bare view beside our own pages."""
    command = [
        *(sys.executable, "-m", "granian", "--interface", "wsgi", "--workers", "1", "--blocking-threads", "32"),
        *("--host", "127.0.0.1", "--port", str(port), "--no-ws", "--log-level", "error", "config.wsgi:application"),
    ]
    env = os.environ | {"DJANGO_SETTINGS_MODULE": "config.bench.settings"}
    return subprocess.Popen(command, cwd=settings.BASE_DIR, env=env)


def cookies(user: User) -> dict[str, str]:
    """A session of a signed-in account."""
    store = SessionStore()
    store[SESSION_KEY] = str(user.pk)
    store[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    store[HASH_SESSION_KEY] = user.get_session_auth_hash()
    store.create()
    assert store.session_key is not None  # creating it gave it one
    return {settings.SESSION_COOKIE_NAME: store.session_key}


def session_body(project: Project, person: Person, assembly: Assembly, number: int) -> dict[str, str]:
    """The form of an evening's work, as a browser sends it; each number is an evening of its own."""
    day = timezone.now().astimezone(project.zone).date() - timedelta(days=1 + number)
    return {
        "request_id": new_key(),
        "assembly": assembly.pk,
        "day": f"{day:%Y-%m-%d}",
        "started": "18:30",
        "ended": "20:10",
        "people": person.pk,
        "kind": "labor",
        "work": "layup",
        "note": "Two plies of tape over the fillets on bulkhead B, both faces. Peel ply on.",
    }


class Client:
    """One keep-alive connection with a signed-in session."""

    def __init__(self, port: int, jar: dict[str, str]) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        self.jar = jar

    def wait(self, project: Project) -> None:
        """Wait until the server answers, and take its form token."""
        until = time.monotonic() + READY_WITHIN
        while True:
            try:
                text = self.get(f"/{project.slug}/sessions/new/")
                break
            except OSError:
                if time.monotonic() > until:
                    raise
                self.wire.close()
                time.sleep(0.1)
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', text)
        assert token is not None  # every form of ours has one
        self.token = token.group(1)

    @property
    def cookie(self) -> str:
        return "; ".join(f"{name}={value}" for name, value in self.jar.items())

    def fetch(self, path: str) -> tuple[str, int]:
        """A page or file as a browser gets it, with its text and its compressed length in bytes."""
        self.wire.request("GET", path, headers={"Cookie": self.cookie, "Accept-Encoding": "gzip"})
        answer = self.wire.getresponse()
        data = answer.read()
        if answer.status != 200:
            raise SystemExit(f"bench: {path} answered {answer.status}")
        plain = gzip.decompress(data) if answer.getheader("Content-Encoding") == "gzip" else data
        return plain.decode(errors="replace"), len(data)

    def get(self, path: str) -> str:
        self.wire.request("GET", path, headers={"Cookie": self.cookie})
        answer = self.wire.getresponse()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                key, _, rest = value.partition("=")
                self.jar[key] = rest.partition(";")[0]
        return answer.read().decode()

    def post(self, path: str, body: dict[str, str], expected: int) -> None:
        """Post a form; anything but the expected status ends the measurement."""
        headers = {
            "Cookie": self.cookie,
            "X-CSRFToken": self.token,
            "Content-Type": "application/x-www-form-urlencoded",
        }
        self.wire.request("POST", path, urlencode(body), headers)
        answer = self.wire.getresponse()
        text = answer.read()
        if answer.status != expected:
            raise SystemExit(f"bench session_post: {path} answered {answer.status}: {text[:300]!r}")
