"""What phones have to know, and what came from them."""

from collections.abc import Collection
from typing import Any

from django.db.models import Max, QuerySet, Sum

from accounts.models import Person, Project
from buildlog.models import Receipt, WorkSession
from buildlog.queries.sessions import last_worked, running
from evidence import queries as evidence
from evidence.models import Photo
from parts import queries as parts
from parts.models import Bin, Lot

RECENT = 6


def receipts(project: Project, ids: Collection[str]) -> QuerySet[Receipt]:
    """The receipts of these requests in a project."""
    rows = Receipt.objects.filter(project=project, pk__in=ids)
    return rows.select_related("photo__project", "session__project")


def phone_facts(project: Project, person: Person) -> dict[str, Any]:
    """What a phone remembers of a project for when there is no signal; a fixed number of queries."""
    worked = last_worked(project)
    nodes = parts.tree(project)
    standing = {node.assembly.pk for node in nodes}
    recent = [key for key in sorted(worked, key=lambda key: worked[key], reverse=True) if key in standing][:RECENT]
    return {
        "timers": [timer_facts(timer, person) for timer in running(project)],
        "places": {
            "assemblies": [{**named(node.assembly), "depth": node.depth} for node in nodes],
            "parts": [
                {**named(one), "assembly": one.assembly_id, "counted": one.counted} for one in parts.parts_of(project)
            ],
            "bins": [named(one) for one in Bin.objects.standing().filter(project=project)],
            "lots": [named(one) for one in Lot.objects.standing().filter(project=project)],
        },
        "recent": recent,
        "last_place": recent[0] if recent else None,
        "kept": kept_facts(project),
    }


def named(thing: evidence.Place) -> dict[str, str]:
    """Key, number and name of something that photos are placed on."""
    return {"key": thing.pk, "number": thing.number, "name": thing.name}


def timer_facts(timer: WorkSession, person: Person) -> dict[str, Any]:
    """A running timer; times in milliseconds since 1970 UTC."""
    inside = [row for row in timer.people.all() if not row.ended_at]
    first = timer.shares.all()[0]
    return {
        "session": timer.pk,
        "request_id": timer.request_id,
        "assembly": first.assembly_id,
        "started": milliseconds(timer.started_at),
        "break_since": milliseconds(timer.break_since) if timer.break_since else None,
        "off_seconds": timer.off_seconds,
        "people": [row.person.name for row in inside],
        "mine": any(row.person_id == person.pk for row in inside),
    }


def kept_facts(project: Project) -> dict[str, Any]:
    """How many photos and bytes the server has, and when the last came."""
    rows = Photo.objects.standing().filter(project=project)
    sums = rows.aggregate(bytes=Sum("size"), last=Max("received_at"))
    return {
        "photos": rows.count(),
        "bytes": sums["bytes"] or 0,
        "last_received": milliseconds(sums["last"]) if sums["last"] else None,
    }


def milliseconds(at: Any) -> int:
    """An instant as scripts tell time."""
    return round(at.timestamp() * 1000)
