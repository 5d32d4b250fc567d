"""Measure our ways against bare references; one JSON line each."""

import os
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

INSIDE = "BENCH_INSIDE"
NAMES = ("hours", "photos", "session_post", "capture", "trace", "cure", "record")


class Command(BaseCommand):
    help = "Measure speed as ratios to bare references, each on rows of its own in a temporary data folder (SQLite)."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("names", nargs="*", choices=[*NAMES, []], help="what to measure (default: everything)")
        parser.add_argument("--quick", action="store_true", help="fewer rounds, under a minute in all")

    def handle(self, *, names: list[str], quick: bool, **options: Any) -> None:
        if os.environ.get(INSIDE):
            self.measure(names or list(NAMES), quick)
            return
        with tempfile.TemporaryDirectory(prefix="record-bench-") as folder:
            env = os.environ | {
                INSIDE: "1",
                "DATA_DIR": folder,
                "DATABASE_URL": "",
                "WORKER": "",
                "MANAGE_NO_BOOT": "1",
            }
            command = [
                sys.executable,
                str(settings.BASE_DIR / "manage.py"),
                "bench",
                *names,
                *(["--quick"] if quick else []),
            ]
            answer = subprocess.run(command, env=env, check=False)
        if answer.returncode:
            raise SystemExit(answer.returncode)

    def measure(self, names: list[str], quick: bool) -> None:
        """Run the measurements one after the other in the folder made for them."""
        from config.bench import capture, cure, hours, photos, record, session_post, trace

        call_command("migrate", verbosity=0)
        call_command("collectstatic", interactive=False, verbosity=0)
        rooms = {
            "hours": hours,
            "photos": photos,
            "session_post": session_post,
            "capture": capture,
            "trace": trace,
            "cure": cure,
            "record": record,
        }
        for name in names:
            self.stdout.write(rooms[name].measure(quick).line())
            self.stdout.flush()
