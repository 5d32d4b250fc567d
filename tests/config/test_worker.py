"""What a killed worker left behind, found by the next one."""

import pytest
from django.tasks import TaskResultStatus
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from config.management.commands.worker import ATTEMPTS, put_back_interrupted

pytestmark = pytest.mark.django_db


def running_task(attempts: int) -> DBTaskResult:
    return DBTaskResult.objects.create(
        status=TaskResultStatus.RUNNING,
        args_kwargs={"args": [], "kwargs": {}},
        task_path="evidence.tasks.none",
        backend_name="default",
        run_after=now(),
        worker_ids=[f"worker {number}" for number in range(attempts)],
    )


def test_an_interrupted_task_is_queued_again() -> None:
    task = running_task(attempts=1)
    put_back_interrupted()
    task.refresh_from_db()
    assert task.status == TaskResultStatus.READY


def test_a_task_that_took_the_worker_down_too_often_is_recorded_as_failed() -> None:
    task = running_task(attempts=ATTEMPTS)
    put_back_interrupted()
    task.refresh_from_db()
    assert task.status == TaskResultStatus.FAILED
    assert "killed 3 times" in task.traceback
