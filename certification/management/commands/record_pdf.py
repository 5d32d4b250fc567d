"""The builder's record as a PDF file, without freezing it: for a look, and for print from the command line."""

from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.models import Project
from accounts.queries import people
from accounts.rules import BUILDER
from certification.models import Pack
from certification.pages import CannotDraw, print_record
from certification.queries import builder_record
from certification.queries.scope import scope
from certification.rules.profiles import EXAMINER, PROFILES, for_profile
from parts.queries import assemblies


class Command(BaseCommand):
    help = "Draw the builder's record of a project into a PDF file. Nothing is written to the record."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("project", help="the short name of the project, as in its address")
        parser.add_argument("out", type=Path, help="the file to write")
        parser.add_argument("--for", dest="profile", default=EXAMINER, choices=list(PROFILES), help="who gets it")
        parser.add_argument("--order", default="date", choices=list(Pack.ORDERS), help="of the bookmarks")
        parser.add_argument("--assembly", default="", help="only this assembly, by its number, and what is below it")
        parser.add_argument(
            "--at", default="", help="the time to print on it, such as 2026-05-17T09:00:00+00:00; now if left out"
        )

    def handle(self, project: str, out: Path, at: str, profile: str, order: str, assembly: str, **options: Any) -> None:
        found = Project.objects.standing().filter(slug=project).first()
        if found is None:
            raise CommandError(f"There is no project {project!r}.")
        builder = people(found).filter(role=BUILDER).order_by("pk").first()
        only = assemblies(found).filter(number=assembly).first() if assembly else None
        if assembly and only is None:
            raise CommandError(f"There is no assembly {assembly!r} in {found}.")
        by = builder.name if builder else found.builder_name
        facts = for_profile(builder_record(found, moment(at), by, scope(found, only)), profile) | {"order": order}
        try:
            made = print_record(facts, out, self.tell)
        except CannotDraw as trouble:
            raise CommandError(str(trouble)) from trouble
        self.stdout.write(f"{out}: {made.sheets:,} sheets, {out.stat().st_size:,} bytes")
        for remark in made.remarks:
            self.stdout.write(f"Note: {remark}")

    def tell(self, done: int, total: int) -> None:
        """How far it is, on one line of a terminal; a log gets none of it."""
        if total and self.stderr.isatty() and (done % 20 == 0 or done == total):
            self.stderr.write(f"\r{done:,} of {total:,} sheets", ending="\n" if done == total else "")


def moment(text: str) -> datetime:
    """An ISO time with its zone, or now. Raises CommandError for anything else."""
    if not text:
        return timezone.now()
    try:
        at = datetime.fromisoformat(text)
    except ValueError as trouble:
        raise CommandError(f"{text!r} is not a time. Write it like 2026-05-17T09:00:00+00:00.") from trouble
    if at.tzinfo is None:
        raise CommandError(f"{text!r} has no time zone. Write it like 2026-05-17T09:00:00+00:00.")
    return at
