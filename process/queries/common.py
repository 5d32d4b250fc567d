"""What every kind of process record is read by."""

from typing import cast

from django.db.models import Max, QuerySet

from accounts.models import Project
from process.models import KINDS, ProcessRecord


def all_records[R: ProcessRecord](model: type[R], project: Project) -> QuerySet[R]:
    """The records of one kind, withdrawn ones too: they stay readable."""
    rows = cast(QuerySet[R], model._default_manager.filter(project=project))
    return rows.select_related("project", "assembly", "part", "done_by", "entered_by")


def records[R: ProcessRecord](model: type[R], project: Project) -> QuerySet[R]:
    """The records of one kind that stand, newest first."""
    return all_records(model, project).filter(withdrawn_at=None).order_by("-number")


def next_number(model: type[ProcessRecord], project: Project) -> int:
    """The number for the next record of a kind; withdrawn ones keep theirs."""
    rows = model._default_manager.filter(project=project)
    return (rows.aggregate(last=Max("number"))["last"] or 0) + 1


def by_request[R: ProcessRecord](model: type[R], request_id: str) -> R | None:
    """The record that came of this request."""
    return cast(R | None, model._default_manager.filter(request_id=request_id).first())


def record_of(project: Project, kind: str, key: str) -> ProcessRecord | None:
    """The record of a project by kind and key, withdrawn ones too."""
    model = KINDS.get(kind)
    return all_records(model, project).filter(pk=key).first() if model else None
