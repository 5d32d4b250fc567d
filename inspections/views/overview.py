"""Pages that gather what lies below: the shop, one assembly, all holds."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts.access import for_member
from accounts.models import Person, Project
from accounts.queries import authority_of, people
from buildlog import queries as work
from evidence import queries as evidence
from foundation.answer import answer
from foundation.fields import new_key
from inspections import queries
from inspections.context import Frame, FramedRequest
from inspections.queries import JudgedArea, discrepancies, missing, points, since
from inspections.rules import HOLD, NOT_STARTED, READY
from parts import queries as parts
from process.queries import cures, mixes, stores

RECENT, STRIP, LAST = 4, 8, 5


@for_member()
def shop(request: FramedRequest, slug: str) -> HttpResponse:
    """What is running, what to go on with, what is blocked, the last seven days."""
    request.frame = frame = Frame(request)
    project, person = request.seat.project, request.seat.person
    timers = list(work.running(project))
    mine = [timer for timer in timers if any(r.person_id == person.pk and not r.ended_at for r in timer.people.all())]
    busy = {row.person_id for timer in timers for row in timer.people.all() if not row.ended_at}
    context = {
        "mine": mine,
        "others": [timer for timer in timers if timer not in mine],
        "workers": [one for one in people(project).workers() if one.pk not in busy] if mine else [],
        "recent": queries.recent_branches(
            project, frame.branches, RECENT, {s.assembly_id for t in mine for s in t.shares.all()}
        ),
        "days": work.last_days(project, timezone.now(), 7),
        "watch": stores.watch(project, timezone.localdate(timezone=project.zone)) if frame.can_log else None,
        "pots": mixes.running(project) if frame.can_log else [],
        "heated": list(cures.going_on(project)) if frame.can_log else [],
        "tray": work.tray_count(project) if frame.can_log else 0,
        "versions": work.versions_to_settle(project) if frame.can_log else [],
        "request_id": new_key(),
        "today": timezone.localtime(),
    }
    context |= what_holds(frame, person)
    if signs_only(frame):
        context |= to_sign(frame, person)
    return answer(request, "inspections/shop.html", context)


def what_holds(frame: Frame, person: Person) -> dict[str, Any]:
    """What is blocked, what stops work, what may be closed, and work after a closing that nobody explained."""
    project = person.project
    return {
        "blocked": missing.listed([one for one in frame.gates if one.gate.state == HOLD], person),
        "ready": [one for one in frame.gates if one.gate.state == READY],
        "untold": since.to_explain(since.worked_after(project, frame.gates, untold=True)) if frame.can_edit else [],
        **stopped(project),
    }


def stopped(project: Project) -> dict[str, Any]:
    """The hold points that stop work now, and how many open discrepancies block a closing."""
    return {
        "stopping": [one for rows in points.open_holds(project).values() for one in rows],
        "blocking": sum(len(rows) for rows in discrepancies.open_blocking(project).values()),
    }


def to_sign(frame: Frame, person: Person) -> dict[str, Any]:
    """What waits for this person's signature, and what was changed since he gave one."""
    awaiting = [one for one in frame.gates if one.awaits(person.role)]
    spots = points.awaiting(points.judged(person.project), person.role)
    return {
        "awaiting": awaiting,
        "waiting_points": spots,
        "awaiting_count": len(awaiting) + len(spots),
        "altered": changed_since_signing(frame.gates, person.pk),
    }


def signs_only(frame: Frame) -> bool:
    """Whether this person comes here to sign and not to work: what he may sign heads the page."""
    return frame.can_sign and not frame.can_log


def changed_since_signing(gates: list[JudgedArea], person: str) -> list[tuple[JudgedArea, tuple[str, ...]]]:
    """The areas that this person signed for and that were changed since, each with the changes in words."""
    rows = [(one, one.changed_under(person)) for one in gates]
    return [(one, changes) for one, changes in rows if changes]


@for_member()
def assembly(request: FramedRequest, slug: str, key: str) -> HttpResponse:
    """One assembly with its gates, hours, photos, parts and sessions."""
    request.frame = frame = Frame(request)
    project = request.seat.project
    shown = get_object_or_404(parts.assemblies(project).select_related("parent"), pk=key)
    branch = next(one for one in frame.branches if one.key == shown.pk)
    below = queries.below(project, shown.pk)
    photos = queries.photos_of(project, below)
    sessions = work.sessions_on(project, shown)
    trail = queries.trail(frame.branches, shown)
    on_it = [one for one in frame.gates if one.area.assembly_id == shown.pk]
    on_points = points.on_assemblies(points.judged(project), [shown.pk])
    context = {
        "assembly": shown,
        "branch": branch,
        "trail": trail,
        "children": queries.children(frame.branches, shown),
        "gates": missing.listed(on_it, request.seat.person),
        "shut": since.shut_above(frame.gates, [shown.pk, *(up.key for up in trail)]),
        "untold": since.to_explain(since.worked_after(project, on_it, untold=True)),
        "points": on_points,
        "holding": points.stopping(on_points),
        "discrepancies": discrepancies.of(project, assemblies=[shown.pk]),
        "photos": photos[:STRIP],
        "photo_count": photos.count(),
        "parts": parts.parts_of(project).filter(assembly=shown),
        "sessions": sessions[:LAST],
        "session_count": sessions.count(),
        "request_id": new_key(),
    }
    return answer(request, "inspections/assembly.html", context)


@for_member()
def holds(request: FramedRequest, slug: str) -> HttpResponse:
    """Every enclosed area by what can be done about it."""
    request.frame = frame = Frame(request)
    groups = [
        ("Hold", [one for one in frame.gates if one.gate.state == HOLD]),
        ("May be closed", [one for one in frame.gates if one.gate.state == READY]),
        ("Not started", [one for one in frame.gates if one.gate.state == NOT_STARTED]),
        ("Closed up", [one for one in frame.gates if one.closing is not None]),
    ]
    context = {
        "groups": [(name, rows) for name, rows in groups if rows],
        "authority": authority_of(request.seat.project),
        "waiting": evidence.waiting(request.seat.project).count(),
        **stopped(request.seat.project),
    }
    return answer(request, "inspections/holds.html", context)


@for_member()
def lacking_panel(request: FramedRequest, slug: str, key: str) -> HttpResponse:
    """What is missing on one assembly and below it: a page, or the piece of it for another page."""
    request.frame = frame = Frame(request)
    project = request.seat.project
    shown = get_object_or_404(parts.assemblies(project), pk=key)
    below = queries.below(project, shown.pk)
    rows = [one for one in frame.gates if one.area.assembly_id in below]
    return lacking(request, rows, {"place": str(shown), "assembly": shown})


@for_member()
def part_panel(request: FramedRequest, slug: str, key: str) -> HttpResponse:
    """What is missing on the assembly of one part: a page, or for the part's own page the piece of it."""
    request.frame = frame = Frame(request)
    shown = get_object_or_404(parts.parts_of(request.seat.project).select_related("assembly"), pk=key)
    rows = [one for one in frame.gates if one.area.assembly_id == shown.assembly_id]
    return lacking(request, rows, {"place": str(shown.assembly), "assembly": shown.assembly, "part": shown})


def lacking(request: FramedRequest, rows: list[JudgedArea], place: dict[str, Any]) -> HttpResponse:
    """The missing lists of the areas that are open."""
    still = [one for one in rows if not one.closing and not one.gate.may_close]
    context = {
        "listed": missing.listed(still, request.seat.person),
        "ready": [one for one in rows if one.gate.may_close],
        "closed": [one for one in rows if one.closing],
        **place,
    }
    return answer(request, "inspections/lacking_panel.html", context, piece="panel")
