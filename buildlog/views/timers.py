"""The running timer: start, switch, break, stop; each in one tap."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from accounts.queries import people
from buildlog import commands, queries
from buildlog.access import notices
from buildlog.models import WorkSession
from buildlog.views.sessions import may_change
from evidence.access import chosen_photos
from foundation.answer import answer, go_back
from foundation.refusal import Refusal
from parts import queries as parts


def running(request: SeatedRequest, key: str) -> WorkSession:
    """The timer of this project by key, running or stopped already."""
    return get_object_or_404(queries.sessions(request.seat.project), pk=key)


@for_member("log")
@require_POST
def timer_start(request: SeatedRequest, slug: str) -> HttpResponse:
    """Start a timer on an assembly; a timer that runs for this person stops first."""
    project = request.seat.project
    assembly = get_object_or_404(parts.assemblies(project), pk=request.POST.get("assembly", ""))
    try:
        session = commands.start_timer(
            by=request.seat.person,
            at=timezone.now(),
            project=project,
            assembly=assembly,
            request_id=request.POST.get("request_id", "")[:36],
        )
    except Refusal as no:
        messages.error(request, no.message)
    else:
        words = (
            f"The timer runs on {assembly}." if session.running else f"Session {session.number} was stopped already."
        )
        messages.success(request, words)
        for sentence in notices(project, [assembly.pk]):
            messages.warning(request, sentence)
    return redirect("inspections:shop", slug)


@for_member("log")
@require_POST
def timer_stop(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Stop the timer. The session is logged by that; what follows is describing it."""
    return stopped(
        request, commands.stop_timer(by=request.seat.person, at=timezone.now(), session=running(request, key))
    )


def stopped(request: SeatedRequest, session: WorkSession) -> HttpResponse:
    """On to the form in which a stopped session is described; whoever may not change it sees it."""
    if not may_change(request.seat, session):
        messages.success(request, f"Stopped. Session {session.number} is logged.")
        return redirect("buildlog:session", request.seat.project.slug, session.pk)
    messages.success(request, f"Stopped. Session {session.number} is logged; add words and photos if you like.")
    return redirect("buildlog:session_edit", request.seat.project.slug, session.pk)


@for_member("log")
@require_POST
def timer_break(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    commands.take_break(by=request.seat.person, at=timezone.now(), session=running(request, key))
    return redirect("inspections:shop", slug)


@for_member("log")
@require_POST
def timer_on(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    commands.end_break(by=request.seat.person, at=timezone.now(), session=running(request, key))
    return redirect("inspections:shop", slug)


@for_member("log")
def timer_photo(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The photos of a running session. Each is attached as it comes in; the button takes off those removed here."""
    session, seat, now = running(request, key), request.seat, timezone.now()
    photos, refused = chosen_photos(request, seat.project, seat.person, now)
    removed = taken_off(request, session, {photo.pk for photo in photos})
    if photos or removed:
        commands.attach_photos(by=seat.person, at=now, session=session, photos=photos, without=removed)
        if not refused:
            messages.success(
                request, f"{len(photos)} photo{'s' if len(photos) != 1 else ''} kept with session {session.number}."
            )
            return redirect("inspections:shop", slug)
        session = running(request, key)
    context = {"session": session, "photos": queries.photos_of(session), "refused": refused}
    response = answer(request, "buildlog/timer_photo.html", context)
    if refused:
        response.status_code = 422
    return response


def taken_off(request: SeatedRequest, session: WorkSession, kept: set[str]) -> set[str]:
    """The photos that the page showed and somebody removed there: any by who may change the session, else his own."""
    gone, anyones = set(request.POST.getlist("were")) - kept, may_change(request.seat, session)
    return {
        photo.pk
        for photo in queries.photos_of(session)
        if photo.pk in gone and (anyones or photo.sent_by_id == request.seat.person.pk)
    }


@for_member("log")
@require_POST
def timer_join(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Let one more person work in a running session."""
    person = get_object_or_404(people(request.seat.project).workers(), pk=request.POST.get("person", ""))
    try:
        commands.join_timer(by=request.seat.person, at=timezone.now(), session=running(request, key), person=person)
    except Refusal as no:
        messages.error(request, no.message)
    return go_back(request, f"/{slug}/")


@for_member("log")
@require_POST
def timer_leave(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """End one person's time in a running session while the others go on."""
    person = get_object_or_404(people(request.seat.project), pk=request.POST.get("person", ""))
    session = commands.leave_timer(
        by=request.seat.person, at=timezone.now(), session=running(request, key), person=person
    )
    return go_back(request, f"/{slug}/") if session.running else stopped(request, session)
