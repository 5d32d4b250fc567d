"""The one background worker of an installation."""

import logging
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.tasks import TaskResultStatus
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

INTERVAL = 0.3  # seconds between looks into an empty queue: half of it is the usual wait of a task
ATTEMPTS = 3  # a task that took the worker down with it this often is not tried again


class WorkerKilledError(RuntimeError):
    """Recorded as the failure of a task during which the worker was killed too often."""


class Command(BaseCommand):
    help = "Do the queued work (renditions, documents, archives). One per installation; `up` starts it by itself."
    requires_system_checks = []

    def handle(self, **options: Any) -> None:
        """Work until told to stop."""
        if not settings.WORKER:
            raise SystemExit("Set WORKER=1 for the web process and for the worker; without it work is never queued.")
        # A failure is told once, by django.tasks; every start and end of a task, and being asked to stop, are not news.
        logging.getLogger("django.tasks").setLevel(logging.WARNING)
        logging.getLogger("django_tasks_db").setLevel(logging.ERROR)
        put_back_interrupted()
        worker = Worker(
            queue_names=["*"],
            excluded_queue_names=[],
            backend_name="default",
            worker_id=get_random_string(32),
            interval=INTERVAL,
            startup_delay=False,
            batch=False,
            max_tasks=None,
        )
        worker.configure_signals()
        worker.run()


def put_back_interrupted() -> None:
    """Queue again what a killed worker left running: with one worker, nothing can be running before it starts."""
    for task in DBTaskResult.objects.filter(status=TaskResultStatus.RUNNING):
        if len(task.worker_ids) >= ATTEMPTS:
            task.set_failed(WorkerKilledError(f"The worker was killed {ATTEMPTS} times during this task."))
        else:
            task.status = TaskResultStatus.READY
            task.save(update_fields=["status"])
