"""All writes about the project's own closure lists. Each correction makes the next edition."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from foundation.refusal import Refusal
from inspections.models import ClosureItem, ClosureList
from inspections.rules import closures as rules
from journal.commands import record_change, take_turn, withdraw_record


@transaction.atomic
def add_list(
    *,
    by: Person,
    at: datetime,
    project: Project,
    name: str,
    kind: str,
    items: Sequence[dict[str, Any]],
    note: str = "",
    based_on: str = "",
) -> ClosureList:
    """Keep a list of what gates of one kind of closure ask; `based_on` tells from which list or area it was copied."""
    take_turn(project.pk)
    check_name(project, name)
    rules.check_items(items)
    made = ClosureList(project=project, name=name, kind=kind, note=note, based_on=based_on)
    made.save(force_insert=True)
    write_items(made, items)
    record_change(project=project.pk, by=by, at=at, verb="closure_list.added", subject=made)
    return made


@transaction.atomic
def correct_list(
    *,
    by: Person,
    at: datetime,
    closure_list: ClosureList,
    name: str,
    kind: str,
    items: Sequence[dict[str, Any]],
    note: str = "",
    reason: str = "",
) -> ClosureList:
    """Make the next edition of a list. Areas that were set up from an earlier one keep what they have."""
    take_turn(closure_list.project_id)
    now = standing(closure_list)
    check_name(now.project, name, but=now)
    rules.check_items(items)
    before = [rules.listed({field: getattr(item, field) for field in rules.FIELDS}) for item in now.items.all()]
    said = {"name": name, "kind": kind, "note": note}
    if before == [rules.listed(item) for item in items] and all(getattr(now, k) == v for k, v in said.items()):
        return now
    for field, value in said.items():
        setattr(now, field, value)
    now.edition += 1
    now.save(update_fields=["edition", *said])
    write_items(now, items)
    record_change(project=now.project_id, by=by, at=at, verb="closure_list.corrected", subject=now, reason=reason)
    return now


@transaction.atomic
def withdraw_list(*, by: Person, at: datetime, closure_list: ClosureList, reason: str) -> ClosureList:
    """Take a list off the lists to choose from; areas set up from it keep what they have."""
    take_turn(closure_list.project_id)
    now = standing(closure_list)
    return withdraw_record(
        project=now.project_id, by=by, at=at, record=now, verb="closure_list.withdrawn", reason=reason
    )


def standing(closure_list: ClosureList) -> ClosureList:
    """The list as it stands in the database now; refused when it was withdrawn."""
    now = ClosureList.objects.standing().select_related("project").filter(pk=closure_list.pk).first()
    if now is None:
        raise Refusal("withdrawn", "This list was withdrawn.")
    return now


def check_name(project: Project, name: str, but: ClosureList | None = None) -> None:
    """Refuse a name that another list of the project has."""
    same = ClosureList.objects.standing().filter(project=project, name=name)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("name_taken", f"A list called {name} is there already. Choose another name.", "name")


def write_items(closure_list: ClosureList, items: Sequence[dict[str, Any]]) -> None:
    """Make the lines of a list those given, in order; lines that go are kept by the journal's last entry."""
    closure_list.items.filter(position__gt=len(items)).delete()
    for position, item in enumerate(items, start=1):
        ClosureItem.objects.update_or_create(closure_list=closure_list, position=position, defaults=rules.listed(item))
