"""Shop computation by name: JSON lines in, JSON lines out."""

import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

MOST = 125  # the largest exit status that no shell takes for something else
UNREADABLE = 126

HELP = """Compute shop figures by name: JSON lines in, JSON lines out.

Each line is {"id": ..., "calc": NAME, ...inputs}; each answer is {"id": ..., ...results}, in the same order, written as
soon as it is known. What cannot be computed is {"id": ..., "error": {"code", "sentence", "field"}}. Blank lines are
passed over. --list names every computation with its inputs, units, rule, source, validity and caution.

The exit status is the number of errors, at most 125; 126 when the file cannot be read.

Where the plan or the maker's data sheet gives a value, that value wins.
"""


class Command(BaseCommand):
    help = HELP
    requires_system_checks = []

    def create_parser(self, prog_name: str, subcommand: str, **more: Any) -> Any:
        return super().create_parser(prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **more)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", metavar="FILE", help="read from here (default: standard input)")
        parser.add_argument("--list", action="store_true", help="name every computation and stop")
        parser.add_argument(
            "--explain", action="store_true", help="add rule, source, validity and caution to each answer"
        )

    def handle(self, *, file: str | None, list: bool, explain: bool, **options: Any) -> None:
        from config.computing.lines import COMPUTATIONS

        if list:
            self.stdout.write("\n\n".join(found.told for found in COMPUTATIONS.values()))
            return
        try:
            if file in (None, "-"):
                errors = self.compute(sys.stdin.buffer, explain)
            else:
                with Path(file).open("rb") as lines:
                    errors = self.compute(lines, explain)
        except BrokenPipeError:
            # Nobody reads any more; Python would complain about it once again when it flushes at its end.
            sys.stdout = None
            raise SystemExit(1) from None
        except OSError as trouble:
            self.stderr.write(f"{file} cannot be read: {trouble.strerror or trouble}.")
            raise SystemExit(UNREADABLE) from trouble
        if errors:
            raise SystemExit(min(errors, MOST))

    def compute(self, lines: Iterable[bytes], explain: bool) -> int:
        """Answer each line as it comes; the number of errors."""
        from config.computing.lines import answers

        errors = 0
        for answer in answers(lines, explain=explain):
            self.stdout.write(answer.line())
            self.stdout.flush()
            errors += answer.failed
        return errors
