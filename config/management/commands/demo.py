"""Load the demo project."""

import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from accounts.models import Project
from config.demo import story
from config.secrets import demo_passphrase

WIDTH = 28


class Command(BaseCommand):
    help = "Load the invented demo project; where it is loaded already, do nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        if Project.objects.filter(slug=story.SLUG).exists():
            self.stdout.write(f"The demo project {story.SLUG} is loaded already.")
            return
        passphrase = demo_passphrase(settings.DATA_DIR)
        project = story.tell(now=timezone.now(), passphrase=passphrase, progress=self.show)
        self.stdout.write(f"The demo project {project.slug} is loaded.")

    def show(self, done: int, of: int, words: str) -> None:
        """A bar on a terminal; nothing in a log."""
        if not sys.stderr.isatty():
            return
        full = WIDTH * done // of
        self.stderr.write(
            f"\rDemo project [{'#' * full}{'.' * (WIDTH - full)}] {words:<22}", ending="\n" if done == of else ""
        )
