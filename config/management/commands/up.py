"""The one command that sets up and serves."""

import hashlib
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from ipaddress import AddressValueError
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
from config.lan import lan_address, lan_addresses, terminal_code
from config.ports import address, answers, check_port
from config.secrets import demo_passphrase
from config.supervise import Program, Supervisor

if TYPE_CHECKING:
    from config.certificates import Certificates

THREADS = 32  # enough that a dozen phones with slow uploads never hold up a page
WORTH_TELLING = 3.0  # seconds of set-up before its length is mentioned
DEMO_BUILDER = "edda"
DEMO_ACCOUNTS = {"edda": "builder", "jory": "helper", "hal": "inspector"}
ALL_INTERFACES = "0.0.0.0"
LOOPBACK = "127.0.0.1"
ALREADY_SERVED = "The record in {} is being served already. Stop that program, or set DATA_DIR to another folder."
NO_NETWORK = "This machine has no address on a network"
NO_CRYPTOGRAPHY = "HTTPS needs the Python package cryptography ({}). Install it, or start without --https."
PLAIN_HTTP = (
    "Over plain http, logging hours, photos and keeping both on the phone work while the page is open.",
    "Opening a page without signal and a place on the home screen do not.",
    "For these, stop and start again with --lan --https.",
)
CAUTION = (
    "Whoever holds the keys in {} could pretend to be this server to phones that trust it.",
    "Keep that folder to yourself, and take the certificate off a phone that needs it no longer.",
)


@dataclass(frozen=True)
class Doors:
    """Where the server listens, and how."""

    host: str
    port: int
    lan: bool
    certificates: "Certificates | None" = None

    @property
    def scheme(self) -> str:
        return "https" if self.certificates else "http"

    @property
    def trust_port(self) -> int:
        """Where the page that helps a phone trust the certificate is served."""
        return self.port + 1

    @property
    def near(self) -> str:
        """The host by which a program on this machine reaches the server."""
        return LOOPBACK if self.host == ALL_INTERFACES else self.host

    @property
    def here(self) -> str:
        """The server's address for a browser on this machine."""
        return address(self.near, self.port, self.scheme)


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
        parser.add_argument(
            "--https",
            action="store_true",
            help="serve HTTPS with a certificate of our own, and on the next port a page that helps to trust it",
        )
        parser.add_argument("--no-serve", action="store_true", help="only set up and show the sign-in link")
        parser.add_argument("--no-demo", action="store_true", help="leave the demo project out")

    def handle(
        self, *, host: str, port: int, lan: bool, https: bool, no_serve: bool, no_demo: bool, **options: Any
    ) -> None:
        """Set up, then serve; a SystemExit with words is shown as one line, status 2."""
        host = ALL_INTERFACES if lan else host
        if not no_serve:
            check_port(host, port)
        if https and not no_serve:
            check_port(host, port + 1)
        make_data_folder(settings.DATA_DIR)
        served = Lock(settings.DATA_DIR / "served.lock")
        if not no_serve and not served.take():
            raise SystemExit(ALREADY_SERVED.format(settings.DATA_DIR))
        doors = Doors(host, port, lan, certificates(host) if https else None)
        self.set_up(demo=not no_demo)
        announce = partial(self.announce, doors, demo=not no_demo)
        if no_serve:
            announce()
        elif status := self.serve(doors, announce):
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

    def announce(self, doors: Doors, *, demo: bool) -> None:
        """Where to go and how to get in."""
        path = sign_in_link(demo)
        self.say(f"\nOpen    {doors.here}/")
        self.say(f"Sign in {doors.here}{path}")
        self.say("        (this link works once)")
        if doors.certificates:
            self.announce_trust(doors, doors.certificates.fingerprint)
        if doors.lan:
            self.announce_lan(doors, sign_in_link(demo))
        if demo:
            names = ", ".join(f"{name} ({role})" for name, role in DEMO_ACCOUNTS.items())
            self.say(f"Demo    {names}")
            self.say(f"        passphrase {demo_passphrase(settings.DATA_DIR)}")

    def announce_trust(self, doors: Doors, fingerprint: str) -> None:
        """What every phone has to do once before it opens the record, and the caution that goes with it."""
        page = address(lan_address() if doors.lan else doors.near, doors.trust_port)
        self.say(f"Trust   {page}/")
        self.tell("Open this first, once on every phone and browser: it helps to trust this server's certificate.")
        if doors.lan:
            self.show_code(page + "/")
        self.tell("Its fingerprint (SHA-256), to compare:", fingerprint[:47], fingerprint[48:])
        self.tell(*(line.format(settings.DATA_DIR / "secrets") for line in CAUTION))

    def announce_lan(self, doors: Doors, path: str) -> None:
        """The way in for a phone on the shop's network, and what it can do there."""
        found = lan_address()
        if not found:
            self.say(f"Phone   {NO_NETWORK.lower()}; connect it and start again.")
            return
        phone = address(found, doors.port, doors.scheme)
        self.say(f"Phone   {phone}/")
        if not doors.certificates:
            self.tell(*PLAIN_HTTP)
        self.tell("Then scan to sign in:" if doors.certificates else "Scan to sign in:")
        self.show_code(phone + path)

    def tell(self, *lines: str) -> None:
        """Lines that belong to the one before."""
        for line in lines:
            self.say(f"        {line}")

    def show_code(self, link: str) -> None:
        """A code to scan; where the terminal has not the characters, the link itself."""
        code = terminal_code(link)
        self.say("\n" + code if printable(code) else link)

    def serve(self, doors: Doors, on_ready: Callable[[], None]) -> int:
        """Run the web server and the background worker side by side until told to stop."""
        connections.close_all()

        def announce() -> None:
            on_ready()
            self.say("\nStop with Ctrl-C.")
            connections.close_all()  # the children use the database from here on

        ready = partial(answers, doors.near, doors.port)
        return Supervisor(programs(doors), say=self.say, ready=ready, on_ready=announce).run()


def certificates(host: str) -> "Certificates":
    """Certificates of our own for every address under which the server will be reached."""
    try:
        from config.certificates import make_certificates
    except ImportError as error:
        raise SystemExit(NO_CRYPTOGRAPHY.format(error)) from error
    addresses = lan_addresses() if host == ALL_INTERFACES else [host]
    if not addresses:
        raise SystemExit(f"{NO_NETWORK}. Connect it and start again, or leave out --https.")
    try:
        return make_certificates(settings.DATA_DIR / "secrets", addresses, now())
    except AddressValueError as error:
        raise SystemExit(f"With --https, write --host as an address such as 192.168.1.20, not {host}.") from error


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


def programs(doors: Doors) -> list[Program]:
    """The programs to run side by side."""
    web = {"WORKER": "1"}
    if doors.certificates:
        web |= {"SERVES_HTTPS": "1", "BEHIND_HTTPS": ""}
    running = [
        Program("The web server", web_command(doors), web),
        Program("The background worker", worker_command(), {"WORKER": "1"}, essential=False),
    ]
    if doors.certificates:
        trust = {"DJANGO_SETTINGS_MODULE": "config.trust_settings", "TRUST_FOR_PORT": str(doors.port)}
        running.append(Program("The trust page", trust_command(doors), trust, essential=False))
    return running


def web_command(doors: Doors) -> list[str]:
    """The production server of the record."""
    command = server_command(doors.host, doors.port, THREADS)
    if kept := doors.certificates:
        command += ["--ssl-certificate", str(kept.certificate), "--ssl-keyfile", str(kept.key)]
        command += ["--ssl-protocol-min", "tls1.2"]  # phones of before 2019 know no newer one
    return command


def trust_command(doors: Doors) -> list[str]:
    """A small server for the page that helps a phone trust the certificate."""
    return server_command(doors.host, doors.trust_port, 2)


def server_command(host: str, port: int, threads: int) -> list[str]:
    """The production server: one process so that caches and limits are shared, many threads, no access log."""
    return [
        *(sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws"),
        *("--host", host, "--port", str(port), "--workers", "1", "--blocking-threads", str(threads)),
        *("--log-level", "error", "--working-dir", str(settings.BASE_DIR), "config.wsgi:application"),
    ]


def worker_command() -> list[str]:
    """The background worker, run by the same interpreter."""
    return [sys.executable, str(settings.BASE_DIR / "manage.py"), "worker"]
