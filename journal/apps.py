"""The journal app: guards its tables after every migrate, because a rebuilt table loses its triggers."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class JournalConfig(AppConfig):
    name = "journal"

    def ready(self) -> None:
        from journal import checks, guards  # noqa: F401  (registers the system check)

        post_migrate.connect(guards.after_migrate, sender=self, dispatch_uid="journal.guards")
