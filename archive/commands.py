"""Asking for a check of the record. Runs are no part of the record: old ones make room for new ones."""

from datetime import datetime
from functools import partial

from django.db import transaction

from accounts.models import Project
from archive import queries, tasks
from archive.models import Verification

# Runs of a project that are kept.
KEPT = 20


@transaction.atomic
def begin_check(*, project: str, at: datetime) -> Verification:
    """A run that is carried out by who asks for it; all but the newest runs of the project go.

    The project is given by its key: what its row says may be unreadable.
    """
    run = Verification(project_id=project, started_at=at)
    run.save(force_insert=True)
    old = queries.runs(project).values_list("pk", flat=True)[KEPT:]
    Verification.objects.filter(pk__in=list(old)).delete()
    return run


@transaction.atomic
def ask_for_check(*, project: Project, at: datetime) -> Verification:
    """Have the worker check a project; a run that is under way already is enough."""
    under_way = queries.run_under_way(project, at)
    if under_way is not None:
        return under_way
    run = begin_check(project=project.pk, at=at)
    transaction.on_commit(partial(tasks.check_record.enqueue, run.pk))
    return run
