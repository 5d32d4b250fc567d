"""manage.py verify: is the record whole?"""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError
from django.utils import timezone

from accounts.models import Project
from archive import commands, pages, queries, tasks
from archive.queries import Outcome, Reading
from archive.rules import CHAPTERS, count_words
from foundation.digest import short

BROKEN_OFF = 130  # as a shell says it of a command that was interrupted


class Command(BaseCommand):
    help = (
        "Hold every record, journal entry, signature and original photo against the journal and say what was changed "
        "behind the program's back, one fault to a line. Ends with 0 when the record is whole, with 1 when it is not, "
        "with 130 when it was broken off. What it cannot find is a change by somebody who rewrote the whole journal "
        "after it: compare the newest digest, told at the end, with the one on a record that was printed or sent away "
        "before."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("project", nargs="?", help="short name of one project, as in its address; all without it")
        parser.add_argument("--report", metavar="FILE", help="also write what was checked and found, to be kept")

    def handle(self, **options: Any) -> None:
        """Check one project or all of them."""
        try:
            found = self.check_all(options["project"], options["report"])
        except KeyboardInterrupt:
            self.stdout.write("Broken off. What was not looked at may hold faults; run it again.")
            raise SystemExit(BROKEN_OFF) from None
        if found:
            self.stdout.write(count_words(found, "fault"))
            raise SystemExit(1)

    def check_all(self, slug: str | None, report: str | None) -> int:
        """Check what was asked for and write the report; the number of faults."""
        begun = timezone.now()
        outcomes = [self.check_project(key, *names) for key, names in chosen(slug).items()]
        strays = [] if slug else queries.stray_faults()
        files = [] if slug else queries.stray_files(begun)
        notes = [f"No photo and no document knows the original file {path.name}." for path in files]
        for fault in strays:
            self.stdout.write(fault.words)
        for note in notes:
            self.stdout.write(f"Note: {note}")
        if report:
            write_report(Path(report), pages.report(outcomes, strays, notes))
        return sum(outcome.fault_count for outcome in outcomes) + len(strays)

    def check_project(self, key: str, slug: str, name: str) -> Outcome:
        """Check one project, tell what was found, and leave a run for the health page."""
        begun = timezone.now()
        reading = self.carried_out(key, begun, self.progress(slug))
        for fault in reading.faults:
            self.stdout.write(f"{slug}: {fault.words}")
        outcome = queries.outcome(reading, name, begun, timezone.now())
        self.stdout.write(f"{slug}: {figures(outcome)}: {verdict(outcome)}. {newest(outcome)}")
        return outcome

    def carried_out(self, project: str, begun: datetime, progress: queries.Progress) -> Reading:
        """Check a project with a run that tells of it; without one where its row is gone, or no run can be written."""
        if not Project.objects.filter(pk=project).exists():
            return queries.check(project, progress)
        try:
            run = commands.begin_check(project=project, at=begun)
        except DatabaseError as trouble:
            self.stderr.write(f"The health page will not show this check: {trouble}")
            return queries.check(project, progress)
        return tasks.carry_out(run.pk, progress)

    def progress(self, name: str) -> Callable[[str, int, int], None]:
        """Show how far it is, on a terminal only."""
        if not self.stderr.isatty():
            return lambda chapter, done, total: None

        def show(chapter: str, done: int, total: int) -> None:
            step = list(CHAPTERS).index(chapter) + 1
            line = f"{name}: {step} of {len(CHAPTERS)}, {chapter}" + (f", {done} of {total}" if total > 1 else "")
            over = chapter == "originals" and done == total
            self.stderr.write(f"\r{line:<60}", ending="\n" if over else "")
            self.stderr.flush()

        return show


def chosen(slug: str | None) -> dict[str, tuple[str, str]]:
    """Short name and name of the projects to be checked, by key."""
    found = queries.projects_by_key()
    if slug is None:
        return found
    wanted = {key: names for key, names in found.items() if names[0] == slug}
    if not wanted:
        raise CommandError(f"There is no project {slug!r}.")
    return wanted


def figures(outcome: Outcome) -> str:
    """What was looked at."""
    return ", ".join(
        (
            count_words(outcome.records, "record"),
            count_words(outcome.entries, "entry", "entries"),
            count_words(outcome.signatures, "signature"),
            count_words(outcome.originals, "original"),
        )
    )


def verdict(outcome: Outcome) -> str:
    """Whole or not."""
    return "whole" if outcome.whole else count_words(outcome.fault_count, "fault")


def newest(outcome: Outcome) -> str:
    """What to compare with a printed record."""
    if not outcome.newest_seq:
        return "No entries."
    return f"Newest entry {outcome.newest_seq}, digest {short(outcome.newest_digest)} ({outcome.newest_digest})."


def write_report(path: Path, text: str) -> None:
    """Put the report where it was asked for."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as trouble:
        raise CommandError(f"The report cannot be written to {path}: {trouble.strerror}.") from trouble
