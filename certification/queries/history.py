"""What the journal tells of corrected and withdrawn records: the old values, who, when and why (rule R32)."""

import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from functools import reduce
from operator import or_
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from accounts.models import Project
from certification.queries.words import moment
from journal.models import Entry, Record
from journal.queries.story import Step, tell
from process.rules.words import LETTERS as MADE

# How a record goes on: told by its own lines on the sheets, or adding to it without altering what it said.
GOING_ON = {
    "area.item_added",
    "area.item_dropped",
    "area.photo_shown",
    "area.record_shown",
    "area.check_answered",
    "area.closed",
    "area.reopened",
    "point.invited",
    "point.went_on",
    "point.photo_shown",
    "discrepancy.decided",
    "discrepancy.fixed",
    "discrepancy.reinspected",
    "discrepancy.photo_shown",
}
# What is said for the first time by such an entry corrects nothing, unless it gives a reason.
ADDING = {"area.worked_inside", "photo.described", "photo.marked"} | {
    *("layup.moment", "layup.plies", "cure.points_typed", "cure.log_read", "tapmap.marked"),
    *(f"bond.{step}" for step in ("peel_off", "abraded", "wiped", "on")),
    *(f"{kind}.corrected" for kind in MADE),
}
UNSAID = {"", "no"}


def is_alteration(entry: Entry) -> bool:
    """Whether an entry about an area, a point or a discrepancy alters what it said before."""
    return entry.verb not in GOING_ON and not entry.verb.endswith(".withdrawn")


def corrections(
    project: Project,
    kind: str | tuple[str, ...],
    wanted: Callable[[Entry], bool] = is_alteration,
    verbs: Iterable[str] = (),
) -> dict[str, list[dict[str, Any]]]:
    """The corrections of all records of a kind, or of several, by the record's name in the journal: two queries.

    The first entry of a record corrects nothing. `verbs` leaves out the records that have no entry of these.
    """
    kinds = (kind,) if isinstance(kind, str) else kind
    named = reduce(or_, (Q(subject__startswith=f"{each}:") for each in kinds))
    about = Entry.objects.filter(named, project=project.pk)
    if verbs:
        about = about.filter(subject__in=about.filter(verb__in=list(verbs)).values("subject"))
    entries: dict[str, list[Entry]] = defaultdict(list)
    for entry in about.order_by("seq").iterator():
        entries[entry.subject].append(entry)
    corrected = [telling(rows, wanted) for rows in entries.values() if any(map(wanted, rows[1:]))]
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for step in tell([entry for rows in corrected for entry in rows], project.zone):
        if step.entry == entries[step.entry.subject][0] or not wanted(step.entry):
            continue
        facts = correction_facts(step, project.zone)
        if facts["changes"] or step.entry.verb not in ADDING:
            found[step.entry.subject].append(facts)
    return found


def telling(rows: list[Entry], wanted: Callable[[Entry], bool]) -> list[Entry]:
    """Of the entries about one record those that are wanted, each with the one before it, whose state it alters."""
    after = [wanted(entry) for entry in rows]
    return [entry for entry, now, then in zip(rows, after, [*after[1:], False], strict=True) if now or then]


def correction_facts(step: Step, zone: ZoneInfo) -> dict[str, Any]:
    """One correction with the old values, each person's times, each share and each photo by itself."""
    adding = step.entry.verb in ADDING and not step.entry.reason
    return {
        "at": moment(step.entry.at, zone),
        "by": step.entry.by_name,
        "reason": step.entry.reason,
        "changes": [
            {"field": one.label, "before": one.before or "nothing", "after": one.after or "nothing"}
            for one in step.changes
            if not adding or one.before not in UNSAID
        ],
    }


def withdrawals(rows: Iterable[Record]) -> dict[str, Entry]:
    """The entry by which each of these records was withdrawn, by the record's name: one query."""
    about = Entry.objects.filter(subject__in=[row.subject for row in rows], verb__endswith=".withdrawn")
    return {entry.subject: entry for entry in about.order_by("seq")}


def withdrawal_facts(row: Record, told: dict[str, Entry], zone: ZoneInfo) -> dict[str, str]:
    """When, by whom and why a record was withdrawn."""
    assert row.withdrawn_at is not None  # none but withdrawn ones are told here
    entry = told.get(row.subject)
    return {
        "at": moment(row.withdrawn_at, zone),
        "by": entry.by_name if entry else "",
        "reason": entry.reason if entry else "",
    }


def drops(entries: QuerySet[Entry]) -> dict[str, Entry]:
    """The entry by which each item of a gate ceased to be asked for, by the item's key."""
    found: dict[str, Entry] = {}
    for entry in entries.order_by("seq"):
        for item in json.loads(entry.state)["requirements"]:
            if item["dropped_at"]:
                found.setdefault(item["id"], entry)
    return found
