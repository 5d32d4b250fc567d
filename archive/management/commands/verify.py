"""manage.py verify: is the record whole?"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.models import Project
from archive import queries
from journal.queries import head


class Command(BaseCommand):
    help = (
        "Hold every record, journal entry and original photo against the journal and say what was changed behind the "
        "program's back, one fault to a line. Ends with 0 when the record is whole and with 1 when it is not. What it "
        "cannot find is a change by somebody who rewrote the whole journal after it: compare the newest digest, told "
        "at the end, with the one on a record that was printed or sent away before."
    )
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("project", nargs="?", help="short name of one project, as in its address; all without it")

    def handle(self, **options: Any) -> None:
        """Check one project or all of them."""
        chosen = Project.objects.order_by("slug")
        if options["project"]:
            chosen = chosen.filter(slug=options["project"])
            if not chosen:
                raise CommandError(f"There is no project {options['project']!r}.")
        found = sum(self.check_project(project) for project in chosen)
        if not options["project"]:
            found += self.tell(queries.stray_entries())
            for path in queries.strays():
                self.stdout.write(f"Note: no photo knows the original file {path.name}.")
        if found:
            self.stdout.write(f"{found} fault{'s' if found > 1 else ''}")
            raise SystemExit(1)

    def check_project(self, project: Project) -> int:
        """Check one project; the number of its faults."""
        found = self.tell(queries.faults(project, self.progress), f"{project.slug}: ")
        if not found:
            seen, newest = queries.counts(project), head(project.pk)
            self.stdout.write(
                f"{project.slug}: {seen.records} records, {seen.entries} entries, {seen.originals} originals: whole. "
                + (
                    f"Newest entry {newest.seq}, digest {newest.short_digest} ({newest.digest})."
                    if newest
                    else "No entries."
                )
            )
        return found

    def tell(self, faults: Any, before: str = "") -> int:
        """Write each fault as it is found; their number."""
        number = 0
        for number, fault in enumerate(faults, start=1):  # noqa: B007
            self.stdout.write(before + fault)
        return number

    def progress(self, done: int, total: int) -> None:
        """Show how far the originals are, on a terminal only."""
        if self.stderr.isatty():
            self.stderr.write(f"\roriginals {done} of {total}", ending="\n" if done == total else "")
            self.stderr.flush()
