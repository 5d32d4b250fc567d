"""Pages that gather what lies below: the shop, one assembly, all holds."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone

from accounts.access import for_member
from accounts.queries import authority_of, people
from buildlog import queries as work
from evidence import queries as evidence
from foundation.answer import answer
from foundation.fields import new_key
from inspections import queries
from inspections.context import Frame, FramedRequest
from inspections.queries import JudgedArea
from inspections.rules import HOLD, NOT_STARTED, READY
from parts import queries as parts

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
        "awaiting": [one for one in frame.gates if one.awaits(person.role)] if signs_only(frame) else [],
        "altered": changed_since_signing(frame.gates, person.pk) if signs_only(frame) else [],
        "blocked": [one for one in frame.gates if one.gate.state == HOLD],
        "ready": [one for one in frame.gates if one.gate.state == READY],
        "days": work.last_days(project, timezone.now(), 7),
        "tray": work.tray_count(project) if frame.can_log else 0,
        "versions": work.versions_to_settle(project) if frame.can_log else [],
        "request_id": new_key(),
        "today": timezone.localtime(),
    }
    return answer(request, "inspections/shop.html", context)


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
    context = {
        "assembly": shown,
        "branch": branch,
        "trail": queries.trail(frame.branches, shown),
        "children": queries.children(frame.branches, shown),
        "gates": [one for one in frame.gates if one.area.assembly_id == shown.pk],
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
    }
    return answer(request, "inspections/holds.html", context)
