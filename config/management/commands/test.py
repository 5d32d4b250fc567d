"""The one command that checks everything: style, then the tests, with a browser where there is one."""

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

from django.core.management.base import BaseCommand

from config.boot import tell

ROOT = Path(__file__).resolve().parent.parent.parent.parent
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
QUICK = "not browser and not slow"
HINT = "install chromium (Debian: apt install chromium) or set CHROMIUM to a browser's path"


class Command(BaseCommand):
    help = "Check the code and run the tests; words it does not know go to pytest, such as -k gate or a file's name."
    requires_system_checks = []

    def run_from_argv(self, argv: list[str]) -> None:
        """Its own parser, because everything unknown is meant for pytest, -v included."""
        parser = argparse.ArgumentParser(prog="manage.py test", description=self.help, allow_abbrev=False)
        parser.add_argument("--quick", action="store_true", help="leave out browser tests and slow tests")
        options, words = parser.parse_known_args(argv[2:])
        sys.exit(run(quick=options.quick, words=words))


def run(*, quick: bool, words: list[str]) -> int:
    """Exit status of the first check that fails, or of pytest."""
    browser = browser_on_path() if quick else find_browser()
    environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings", "CHROMIUM": browser}
    python = [sys.executable, "-m"]
    style = subprocess.run([*python, "ruff", "check", "--quiet"], cwd=ROOT, env=environment, check=False)
    if style.returncode:
        return style.returncode
    command = [*python, "pytest", *workers(words), *(["-m", QUICK] if quick else []), *words]
    return subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode


def workers(words: list[str]) -> list[str]:
    """Two at a time where there are two cores, the idle one taking what waits for the other; a debugger needs one.

    The caller's own -n comes later and wins.
    """
    return ["-n", "2", "--dist", "worksteal"] if (os.cpu_count() or 1) >= 2 and "--pdb" not in words else []


def find_browser() -> str:
    """The path of a Chromium, installed now if that is possible; empty, said loudly, if there is none.

    Stops with status 2 where there must be one: on a build server (CI is set).
    """
    found = browser_on_path() or (browser_on_path() if install("chromium") else "")
    # A browser is made to trust a certificate with it; without it that one test is skipped, or fails where CI is set.
    if found and not shutil.which("certutil"):
        install("libnss3-tools")
    if found:
        return found
    if os.environ.get("CI", "").lower() in {"1", "true", "yes"}:
        raise SystemExit(f"No Chromium was found, and on a build server the browser tests must run: {HINT}.")
    tell(f"NO BROWSER FOUND: the browser tests are skipped. To run them, {HINT}.")
    return ""


def browser_on_path() -> str:
    """What CHROMIUM names, or the first known browser on the PATH."""
    named = os.environ.get("CHROMIUM", "")
    if named and not shutil.which(named):
        raise SystemExit(f"CHROMIUM: there is no program {named}. Correct it or leave it empty.")
    return next((path for path in map(shutil.which, [named, *BROWSERS]) if path), "")


def install(package: str) -> bool:
    """Install a package of Debian's; only root can."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    if not root or not shutil.which("apt-get"):
        return False
    tell(f"Installing {package} for the browser tests.")
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    steps = (["apt-get", "-qq", "update"], ["apt-get", "-qq", "install", "-y", "--no-install-recommends", package])
    return all(
        subprocess.run(step, env=environment, stdout=subprocess.DEVNULL, check=False).returncode == 0 for step in steps
    )
