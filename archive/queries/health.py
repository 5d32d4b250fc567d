"""How the installation is: worker, disk, database, originals, newest entries."""

import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.models import Count, QuerySet, Sum
from django.tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from accounts.models import Project, User
from accounts.queries import seats_of
from archive.queries.runs import Checked, checked
from archive.rules import size_words
from evidence.models import Document, Photo
from journal import guards
from journal import queries as journal
from journal.models import Entry

LEAST_FREE = 2_000_000_000  # bytes


@dataclass(frozen=True)
class Health:
    """How the installation is. Sizes in bytes."""

    worker: bool
    waiting: int
    failed: list[str]
    free: int
    room: int
    database: int
    photos: int
    documents: int
    originals_size: int
    guards_missing: list[str]
    heads: list[tuple[Project, Entry | None]]
    checks: list[Checked]

    @property
    def low(self) -> bool:
        """Whether the disk has less room left than a few evenings of photos need."""
        return self.free < LEAST_FREE

    @property
    def free_words(self) -> str:
        return size_words(self.free)

    @property
    def room_words(self) -> str:
        return size_words(self.room)

    @property
    def database_words(self) -> str:
        return size_words(self.database)

    @property
    def originals_words(self) -> str:
        return size_words(self.originals_size)


def health(user: User, now: datetime) -> Health:
    """The figures of the health page, with the newest entry and the last check of each project of this account."""
    disk = shutil.disk_usage(settings.DATA_DIR)
    seats = seats_of(user)
    own = [rows.filter(project__in=[seat.project for seat in seats]) for rows in (Photo.objects, Document.objects)]
    (photos, photos_size), (documents, documents_size) = map(counted, own)
    tasks = DBTaskResult.objects.all()
    failed = tasks.filter(status=TaskResultStatus.FAILED)
    return Health(
        worker=settings.WORKER,
        waiting=tasks.filter(status__in=[TaskResultStatus.READY, TaskResultStatus.RUNNING]).count(),
        failed=list(failed.order_by("-finished_at").values_list("exception_class_path", flat=True)[:20]),
        free=disk.free,
        room=disk.total,
        database=database_size(),
        photos=photos,
        documents=documents,
        originals_size=photos_size + documents_size,
        guards_missing=guards.missing(connection.alias),
        heads=[(seat.project, journal.head(seat.project.pk)) for seat in seats],
        checks=[checked(seat, now) for seat in seats],
    )


def counted(rows: QuerySet) -> tuple[int, int]:
    """How many files these rows stand for, and how many bytes."""
    found = rows.aggregate(count=Count("pk"), size=Sum("size"))
    return found["count"], found["size"] or 0


def database_size() -> int:
    """Bytes that the database takes, with SQLite's journal file."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_database_size(current_database())")
            return cursor.fetchone()[0]
    file = Path(str(connection.settings_dict["NAME"]))
    return sum(path.stat().st_size for path in (file, file.with_name(f"{file.name}-wal")) if path.exists())
