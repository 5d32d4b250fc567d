"""The one command that sets up and serves."""

import hashlib
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import django
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import DEFAULT_DB_ALIAS, OperationalError, connections
from django.db.migrations.executor import MigrationExecutor
from django.urls import reverse
from django.utils.timezone import now

from accounts import commands as accounts
from accounts.models import User
from config.boot import Lock
from config.lan import lan_address, terminal_code
from config.ports import address, answers, check_port
from config.secrets import demo_passphrase
from config.supervise import Program, Supervisor

THREADS = 32  # enough that a dozen phones with slow uploads never hold up a page
WORTH_TELLING = 3.0  # seconds of set-up before its length is mentioned
DEMO_BUILDER = "edda"
DEMO_ACCOUNTS = {"edda": "builder", "jory": "helper", "hal": "inspector"}
ALL_INTERFACES = "0.0.0.0"
ALREADY_SERVED = "The record in {} is being served already. Stop that program, or set DATA_DIR to another folder."


class Command(BaseCommand):
    help = "Set up whatever is missing, load the demo project, and serve the record until Ctrl-C."
    requires_system_checks = []  # run below, when the database is up to date

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (default: this machine only)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: 8000)")
        parser.add_argument(
            "--lan",
            action="store_true",
            help="let phones on the same network in: listen on all interfaces instead of --host, show a code to scan",
        )
        parser.add_argument("--no-serve", action="store_true", help="only set up and show the sign-in link")
        parser.add_argument("--no-demo", action="store_true", help="leave the demo project out")

    def handle(self, *, host: str, port: int, lan: bool, no_serve: bool, no_demo: bool, **options: Any) -> None:
        """Set up, then serve; a SystemExit with words is shown as one line, status 2."""
        host = ALL_INTERFACES if lan else host
        if not no_serve:
            check_port(host, port)
        make_data_folder(settings.DATA_DIR)
        served = Lock(settings.DATA_DIR / "served.lock")
        if not no_serve and not served.take():
            raise SystemExit(ALREADY_SERVED.format(settings.DATA_DIR))
        self.set_up(demo=not no_demo)
        announce = partial(self.announce, host, port, lan=lan, demo=not no_demo)
        if no_serve:
            announce()
        elif status := self.serve(host, port, announce):
            raise SystemExit(status)

    def set_up(self, *, demo: bool) -> None:
        """Database, static files and the demo project; each step does only what is missing."""
        started = time.monotonic()
        try:
            self.migrate()
        except OperationalError as error:
            raise SystemExit(f"The database cannot be used: {str(error).splitlines()[0]}") from error
        self.check(databases=[DEFAULT_DB_ALIAS])
        self.collect_static()
        if demo:
            call_command("demo", stdout=self.stdout, stderr=self.stderr)
        took = time.monotonic() - started
        if took > WORTH_TELLING:
            self.say(f"Set up in {took:.0f} seconds.")

    def say(self, line: str) -> None:
        """Print at once, also into a pipe."""
        self.stdout.write(line)
        self.stdout.flush()

    def migrate(self) -> None:
        """Bring the database up to date; silent when it is. Runs even then, as its signal re-makes lost triggers."""
        executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
        waiting = len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
        call_command("migrate", interactive=False, verbosity=0)
        if waiting:
            self.say(f"Database brought up to date ({waiting} steps).")

    def collect_static(self) -> None:
        """Gather style sheets, scripts and fonts where the server reads them, only when one of them changed."""
        stamp = settings.DATA_DIR / "static.stamp"
        current = static_fingerprint()
        if stamp.exists() and stamp.read_text() == current and settings.STATIC_ROOT.is_dir():
            return
        call_command("collectstatic", interactive=False, verbosity=0)
        stamp.write_text(current)

    def announce(self, host: str, port: int, *, lan: bool, demo: bool) -> None:
        """Where to go and how to get in."""
        path = sign_in_link(demo)
        here = address("127.0.0.1" if host == ALL_INTERFACES else host, port)
        self.say(f"\nOpen    {here}/")
        self.say(f"Sign in {here}{path}")
        self.say("        (this link works once)")
        if lan:
            self.announce_lan(port, sign_in_link(demo))
        if demo:
            names = ", ".join(f"{name} ({role})" for name, role in DEMO_ACCOUNTS.items())
            self.say(f"Demo    {names}")
            self.say(f"        passphrase {demo_passphrase(settings.DATA_DIR)}")

    def announce_lan(self, port: int, path: str) -> None:
        """The same for a phone on the shop's network."""
        found = lan_address()
        if not found:
            self.say("Phone   this machine has no address on a network; connect it and start again.")
            return
        self.say(f"Phone   {address(found, port)}/  or scan to sign in:")
        code = terminal_code(address(found, port) + path)
        if printable(code):
            self.say("\n" + code)
        else:
            self.say(address(found, port) + path)

    def serve(self, host: str, port: int, on_ready: Callable[[], None]) -> int:
        """Run the web server and the background worker side by side until told to stop."""
        programs = [
            Program("The web server", web_command(host, port), {"WORKER": "1"}),
            Program("The background worker", worker_command(), {"WORKER": "1"}, essential=False),
        ]

        def announce() -> None:
            on_ready()
            self.say("\nStop with Ctrl-C.")
            connections.close_all()  # the children use the database from here on

        connections.close_all()
        asked = "127.0.0.1" if host == ALL_INTERFACES else host
        return Supervisor(programs, say=self.say, ready=lambda: answers(asked, port), on_ready=announce).run()


def make_data_folder(folder: Path) -> None:
    """Make the data folder for its owner alone and be sure it can be written."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not (folder / "static.stamp").exists():  # the first start; later its mode is the owner's business
            folder.chmod(0o700)
        settings.FILE_UPLOAD_TEMP_DIR.mkdir(mode=0o700, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise SystemExit(
            f"The data folder {folder} cannot be written ({error.strerror}). "
            "Make it writable or set DATA_DIR to another folder."
        ) from error


def static_fingerprint() -> str:
    """Changes whenever a static file, its place, or the code that gathers them changes."""
    digest = hashlib.sha256(f"{django.__version__} {settings.STATIC_ROOT}".encode())
    for finder in get_finders():
        for path, storage in finder.list([]):
            facts = Path(storage.path(path)).stat()
            digest.update(f"{path} {facts.st_mtime_ns} {facts.st_size}\n".encode())
    return digest.hexdigest()


def sign_in_link(demo: bool) -> str:
    """The path of a link that signs in once: the demo's builder, or the first account, made if there is none."""
    at = now()
    user = User.objects.filter(username=DEMO_BUILDER).first() if demo else None
    user = user or accounts.first_owner(at=at)
    return reverse("accounts:enter", args=[accounts.make_sign_in_link(user=user, at=at)])


def printable(text: str) -> bool:
    """Whether this terminal has the characters."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def web_command(host: str, port: int) -> list[str]:
    """The production server: one process so that caches and limits are shared, many threads, no access log."""
    return [
        *(sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws"),
        *("--host", host, "--port", str(port), "--workers", "1", "--blocking-threads", str(THREADS)),
        *("--log-level", "error", "--working-dir", str(settings.BASE_DIR), "config.wsgi:application"),
    ]


def worker_command() -> list[str]:
    """The background worker, run by the same interpreter."""
    return [sys.executable, str(settings.BASE_DIR / "manage.py"), "worker"]
