"""Many phones at once against the server as `up` starts it: nothing lost, nothing doubled, the journal whole."""

import http.client
import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parent.parent.parent
SESSIONS, HANDS = 50, 16
TOKEN = "t" * 32

MAKE = """
import json
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from tests.factories import make_assembly, make_person, make_project
project, edda = make_project(time_zone="UTC")
seats = []
for person in [edda, *(make_person(project) for _ in range(3))]:
    store = SessionStore()
    store[SESSION_KEY] = str(person.user.pk)
    store[BACKEND_SESSION_KEY] = "allauth.account.auth_backends.AuthenticationBackend"
    store[HASH_SESSION_KEY] = person.user.get_session_auth_hash()
    store.create()
    seats.append({"cookie": store.session_key, "person": person.pk})
assemblies = [make_assembly(edda).pk for _ in range(3)]
print(json.dumps({"slug": project.slug, "seats": seats, "assemblies": assemblies}))
"""

LOOK = """
import json
from buildlog.models import WorkSession
from journal.models import Entry
from journal.queries import chain_faults
rows = list(WorkSession.objects.all())
print(json.dumps({
    "numbers": sorted(row.number for row in rows),
    "requests": sorted(row.request_id for row in rows),
    "off": [row.number for row in rows if sum(s.seconds for s in row.shares.all()) != row.labor_seconds],
    "labor": sum(row.labor_seconds for row in rows),
    "logged": Entry.objects.filter(verb="session.logged").count(),
    "faults": [fault for row in rows[:1] for fault in chain_faults(row.project_id)],
}))
"""


@dataclass
class Server:
    port: int
    data: Path
    facts: dict
    log: Path


def environment(data: Path) -> dict[str, str]:
    apart = {"DJANGO_SETTINGS_MODULE", "DATABASE_URL", "WORKER", "BEHIND_HTTPS", "DEBUG"}
    kept = {name: value for name, value in os.environ.items() if name not in apart}
    return {**kept, "MANAGE_NO_BOOT": "1", "DATA_DIR": str(data), "PYTHONPATH": str(ROOT)}


def shell(data: Path, script: str) -> dict:
    """Run a script with the server's own settings; what it prints last is JSON."""
    words = [sys.executable, "manage.py", "shell", "-v", "0", "-c", script]
    done = subprocess.run(words, cwd=ROOT, env=environment(data), capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.strip().splitlines()[-1])


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def wait_for(port: int, server: subprocess.Popen, log: Path) -> None:
    for _ in range(300):
        assert server.poll() is None, log.read_text()
        with socket.socket() as knock:
            if knock.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise AssertionError("the server did not come up")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """The web process of `up`, on a data folder of its own."""
    data, log, port = tmp_path / "data", tmp_path / "server.log", free_port()
    up = [sys.executable, "manage.py", "up", "--no-serve", "--no-demo"]
    subprocess.run(up, cwd=ROOT, env=environment(data), check=True, capture_output=True, timeout=120)
    facts = shell(data, MAKE)
    code = "from config.management.commands.up import THREADS, server_command; import json; "
    code += f"print(json.dumps(server_command('127.0.0.1', {port}, THREADS)))"
    command = shell(data, code)
    assert "--blocking-threads" in command
    with log.open("wb") as out:
        running = subprocess.Popen(command, cwd=ROOT, env=environment(data), stdout=out, stderr=out)
        try:
            wait_for(port, running, log)
            yield Server(port, data, facts, log)
        finally:
            running.terminate()
            running.wait(timeout=20)


def send(server: Server, number: int) -> tuple[int, str]:
    """Log one session as a signed-in person; answers with status and place."""
    seat = server.facts["seats"][number % len(server.facts["seats"])]
    first, second, third = server.facts["assemblies"]
    fields = {
        "csrfmiddlewaretoken": TOKEN,
        "request_id": f"phone-{number:03d}",
        "assembly": first,
        "weight_0": 1 + number % 3,
        "assembly_1": second,
        "assembly_2": third,
        "day": "2026-05-14",
        "started": "08:00",
        "ended": f"09:{number:02d}",
        "breaks": number % 7,
        "people": seat["person"],
        "kind": "labor",
        "work": "",
        "note": f"Session of request {number}",
    }
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Cookie": f"sessionid={seat['cookie']}; csrftoken={TOKEN}",
    }
    line = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    try:
        line.request("POST", f"/{server.facts['slug']}/sessions/new/", urlencode(fields), headers)
        answer = line.getresponse()
        answer.read()
        return answer.status, answer.getheader("Location") or ""
    finally:
        line.close()


def test_fifty_sessions_sent_twice_at_once_are_fifty(server: Server) -> None:
    wanted = [number for number in range(SESSIONS) for _ in range(2)]
    began = time.monotonic()
    with ThreadPoolExecutor(HANDS) as hands:
        answers = list(hands.map(lambda number: send(server, number), wanted))
    took = time.monotonic() - began
    sys.stdout.write(f"\n{len(wanted)} posts in {took:.1f} s: {len(wanted) / took:.0f} a second\n")

    assert {status for status, _ in answers} == {302}
    assert all(re.fullmatch(rf"/{server.facts['slug']}/sessions/[^/]+/", place) for _, place in answers)
    places = [place for _, place in answers]
    assert places[::2] == places[1::2]
    assert len(set(places)) == SESSIONS
    kept = shell(server.data, LOOK)
    assert kept["numbers"] == list(range(1, SESSIONS + 1))
    assert kept["requests"] == [f"phone-{number:03d}" for number in range(SESSIONS)]
    assert kept["logged"] == SESSIONS
    assert kept["off"] == []
    assert kept["labor"] == sum(3600 + number * 60 - number % 7 * 60 for number in range(SESSIONS))
    assert kept["faults"] == []
    assert "locked" not in server.log.read_text()
