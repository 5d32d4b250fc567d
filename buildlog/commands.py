"""All writes about work sessions and timers."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from buildlog import queries, rules
from buildlog.models import SessionPerson, SessionPhoto, SessionShare, WorkSession
from buildlog.rules import Worked
from calc import hours
from evidence.models import Photo
from foundation.digest import canonical, digest_bytes, short
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly

Shares = Sequence[tuple[Assembly, int]]


@transaction.atomic
def start_timer(*, by: Person, at: datetime, project: Project, assembly: Assembly, request_id: str = "", people: Sequence[Person] = ()) -> WorkSession:
    """Start a session without an end. Whoever's timer still runs is taken off that one first, which is how one switches."""
    take_turn(project.pk)
    known = WorkSession.objects.filter(request_id=request_id).first() if request_id else None
    if known is not None:
        return known
    at = at.replace(microsecond=0)
    people = list(people) or [by]
    for person in people:
        leave_running(by=by, at=at, person=person)
    session = WorkSession(
        project=project,
        number=queries.next_number(project),
        request_id=request_id or new_key(),
        started_at=at,
        source="live",
        entered_at=at,
        entered_by=by,
        place=project.place,
    )
    session.save(force_insert=True)
    SessionPerson.objects.bulk_create([SessionPerson(session=session, person=person, started_at=at) for person in people])
    SessionShare(session=session, assembly=assembly).save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="timer.started", subject=session)
    return session


def leave_running(*, by: Person, at: datetime, person: Person) -> None:
    """Take a person off the timer that runs for him; the timer stops with its last person."""
    running = queries.running_of(person)
    if running is None:
        return
    if running.project_id != by.project_id:
        raise Refusal("runs_elsewhere", f"{person.name}'s timer runs in another project. Stop it there first.")
    if running.people.filter(ended_at__isnull=True).exclude(person=person).exists():
        leave_timer(by=by, at=at, session=running, person=person)
    else:
        stop_timer(by=by, at=at, session=running)


@transaction.atomic
def stop_timer(*, by: Person, at: datetime, session: WorkSession) -> WorkSession:
    """End a running session for everybody still in it. Stopping twice changes nothing."""
    take_turn(session.project_id)
    session = WorkSession.objects.select_related("project").get(pk=session.pk)
    if not session.running:
        return session
    at = after_start(session, at)
    end_break_of(session, at)
    session.ended_at = at
    session.break_since = None
    for row in session.people.filter(ended_at__isnull=True):
        close_row(row, at)
    settle(session)
    record_change(project=session.project_id, by=by, at=at, verb="timer.stopped", subject=session)
    return session


def after_start(session: WorkSession, at: datetime) -> datetime:
    """A stopping time in whole seconds, at least one second after the start (two taps in one second are one second of work)."""
    at = at.replace(microsecond=0)
    return at if hours.elapsed(session.started_at, at) > 0 else session.started_at.replace(microsecond=0) + timedelta(seconds=1)


def close_row(row: SessionPerson, at: datetime) -> None:
    """End one person's time in a session at `at`, or at his start if he came later."""
    row.ended_at = max(at, row.started_at)
    passed = hours.elapsed(row.started_at, row.ended_at)
    row.break_seconds = min(row.break_seconds, passed)
    row.labor_seconds = passed - row.break_seconds
    row.save(update_fields=["ended_at", "break_seconds", "labor_seconds"])


def end_break_of(session: WorkSession, at: datetime) -> None:
    """Add a running break to everybody who is in the session."""
    if session.break_since is None:
        return
    for row in session.people.filter(ended_at__isnull=True):
        row.break_seconds += max(0, hours.elapsed(max(session.break_since, row.started_at), at))
        row.save(update_fields=["break_seconds"])


def settle(session: WorkSession) -> None:
    """Make the sums of an ended session follow from its people and weights, to the second (rules R1, R2)."""
    session.labor_seconds = sum(row.labor_seconds for row in session.people.all())
    session.save(update_fields=["ended_at", "break_since", "labor_seconds"])
    shares = list(session.shares.order_by("-weight", "id"))
    for share, seconds in zip(shares, hours.split(session.labor_seconds, [share.weight for share in shares]), strict=True):
        share.seconds = seconds
        share.save(update_fields=["seconds"])


@transaction.atomic
def take_break(*, by: Person, at: datetime, session: WorkSession) -> WorkSession:
    """Start a break for everybody in a running session; a second tap changes nothing."""
    take_turn(session.project_id)
    at = at.replace(microsecond=0)
    if WorkSession.objects.running().filter(pk=session.pk, break_since__isnull=True).update(break_since=at):
        session.refresh_from_db()
        record_change(project=session.project_id, by=by, at=at, verb="timer.break_started", subject=session)
    return session


@transaction.atomic
def end_break(*, by: Person, at: datetime, session: WorkSession) -> WorkSession:
    """Go on working after a break."""
    take_turn(session.project_id)
    session.refresh_from_db()
    if session.break_since is not None:
        end_break_of(session, at.replace(microsecond=0))
        session.break_since = None
        session.save(update_fields=["break_since"])
        record_change(project=session.project_id, by=by, at=at, verb="timer.break_ended", subject=session)
    return session


@transaction.atomic
def join_timer(*, by: Person, at: datetime, session: WorkSession, person: Person) -> WorkSession:
    """Let one more person work in a running session from now on."""
    take_turn(session.project_id)
    session.refresh_from_db()
    if not session.running:
        raise Refusal("not_running", "This timer has been stopped. Start a new one.")
    if session.people.filter(person=person).exists():
        raise Refusal("in_already", f"{person.name} is in this session already.")
    at = at.replace(microsecond=0)
    leave_running(by=by, at=at, person=person)
    SessionPerson(session=session, person=person, started_at=max(at, session.started_at)).save(force_insert=True)
    record_change(project=session.project_id, by=by, at=at, verb="timer.joined", subject=session)
    return session


@transaction.atomic
def leave_timer(*, by: Person, at: datetime, session: WorkSession, person: Person) -> WorkSession:
    """End one person's time in a running session while the others go on."""
    take_turn(session.project_id)
    session.refresh_from_db()
    row = session.people.filter(person=person, ended_at__isnull=True).first()
    if row is None or not session.running:
        return session
    if not session.people.filter(ended_at__isnull=True).exclude(pk=row.pk).exists():
        return stop_timer(by=by, at=at, session=session)
    at = after_start(session, at)
    if session.break_since is not None:
        row.break_seconds += max(0, hours.elapsed(max(session.break_since, row.started_at), at))
    close_row(row, at)
    record_change(project=session.project_id, by=by, at=at, verb="timer.left", subject=session)
    return session


@transaction.atomic
def log_session(
    *,
    by: Person,
    at: datetime,
    project: Project,
    request_id: str,
    worked: Sequence[Worked],
    shares: Shares,
    photos: Sequence[Photo] = (),
    kind: str = "labor",
    work: str = "",
    note: str = "",
    place: str = "",
) -> tuple[WorkSession, bool]:
    """Log a session that has ended, and say whether it is new; the same request twice is one session."""
    take_turn(project.pk)
    known = WorkSession.objects.filter(request_id=request_id).first()
    if known is not None:
        if known.project_id != project.pk:
            raise Refusal("request_reused", "This entry was sent before for another project. Reload the page and send it again.")
        return known, False
    rules.check_worked(worked, at)
    rules.check_shares([(assembly.pk, weight) for assembly, weight in shares])
    end = max(stretch.end for stretch in worked)
    session = WorkSession(
        project=project,
        number=queries.next_number(project),
        request_id=request_id,
        started_at=min(stretch.start for stretch in worked),
        ended_at=end,
        kind=kind,
        work=work,
        note=note,
        place=place,
        source=rules.source(end.astimezone(project.zone).date(), at.astimezone(project.zone).date()),
        labor_seconds=sum(stretch.labor for stretch in worked),
        entered_at=at,
        entered_by=by,
    )
    session.save(force_insert=True)
    write_parts(session, worked, shares, photos)
    record_change(project=project.pk, by=by, at=at, verb="session.logged", subject=session)
    return session, True


def write_parts(session: WorkSession, worked: Sequence[Worked], shares: Shares, photos: Sequence[Photo]) -> None:
    """Write the rows below a new session and hold them, so that its state need not be read back."""
    ordered = sorted(shares, key=lambda share: -share[1])
    seconds = hours.split(session.labor_seconds, [weight for _, weight in ordered])
    session.held = {
        "people": SessionPerson.objects.bulk_create([person_row(session, stretch) for stretch in worked]),
        "shares": SessionShare.objects.bulk_create(
            SessionShare(session=session, assembly=assembly, weight=weight, seconds=part)
            for (assembly, weight), part in zip(ordered, seconds, strict=True)
        ),
        "attachments": SessionPhoto.objects.bulk_create([SessionPhoto(session=session, photo=photo) for photo in photos]),
    }


def person_row(session: WorkSession, stretch: Worked) -> SessionPerson:
    """The row of one person's time."""
    return SessionPerson(
        session=session,
        person_id=stretch.person,
        started_at=stretch.start,
        ended_at=stretch.end,
        break_seconds=stretch.breaks,
        unattended_seconds=stretch.unattended,
        labor_seconds=stretch.labor,
    )


@transaction.atomic
def correct_session(
    *,
    by: Person,
    at: datetime,
    session: WorkSession,
    worked: Sequence[Worked],
    shares: Shares,
    photos: Sequence[Photo] | None = None,
    reason: str = "",
    seen: str = "",
    **words: Any,
) -> WorkSession:
    """Change a session that has ended. The old values stay readable in the journal with the reason.

    `seen` is the token of the version that the person had before him; when somebody else changed it since, nothing is
    written and the refusal says so. A timer's first description (its words, photos, kind) needs no reason.
    """
    take_turn(session.project_id)
    session = WorkSession.objects.select_related("project").get(pk=session.pk)
    if session.withdrawn:
        raise Refusal("withdrawn", "This session was withdrawn. Log a new one.")
    if seen and seen != version_of(session):
        raise Refusal("changed_elsewhere", "Somebody changed this session since you opened it. Compare, then save again.")
    rules.check_worked(worked, at)
    rules.check_shares([(assembly.pk, weight) for assembly, weight in shares])
    for name, value in words.items():
        setattr(session, name, value)
    session.started_at = min(stretch.start for stretch in worked)
    session.ended_at = max(stretch.end for stretch in worked)
    session.break_since = None
    session.labor_seconds = sum(stretch.labor for stretch in worked)
    session.save(update_fields=["started_at", "ended_at", "break_since", "labor_seconds", *words])
    replace_people(session, worked)
    replace_shares(session, shares)
    if photos is not None:
        replace_photos(session, photos)
    record_change(project=session.project_id, by=by, at=at, verb="session.corrected", subject=session, reason=reason)
    return session


def version_of(session: WorkSession) -> str:
    """A token that changes with every change of a session."""
    return short(digest_bytes(canonical(session.state()).encode()))


def replace_people(session: WorkSession, worked: Sequence[Worked]) -> None:
    """Make the people of a session those of `worked`; the rows that go are kept by the journal's last entry."""
    session.people.exclude(person__in=[stretch.person for stretch in worked]).delete()
    for stretch in worked:
        row = person_row(session, stretch)
        values = {name: getattr(row, name) for name in ("started_at", "ended_at", "break_seconds", "unattended_seconds", "labor_seconds")}
        SessionPerson.objects.update_or_create(session=session, person_id=stretch.person, defaults=values)


def replace_shares(session: WorkSession, shares: Shares) -> None:
    """Make the shares of a session those given, split anew to the second."""
    session.shares.exclude(assembly__in=[assembly for assembly, _ in shares]).delete()
    ordered = sorted(shares, key=lambda share: -share[1])
    seconds = hours.split(session.labor_seconds, [weight for _, weight in ordered])
    for (assembly, weight), part in zip(ordered, seconds, strict=True):
        SessionShare.objects.update_or_create(session=session, assembly=assembly, defaults={"weight": weight, "seconds": part})


def replace_photos(session: WorkSession, photos: Sequence[Photo]) -> None:
    """Make the photos attached to a session those given; the photos themselves all stay in the record."""
    session.attachments.exclude(photo__in=photos).delete()
    have = set(session.attachments.values_list("photo", flat=True))
    SessionPhoto.objects.bulk_create([SessionPhoto(session=session, photo=photo) for photo in photos if photo.pk not in have])


@transaction.atomic
def withdraw_session(*, by: Person, at: datetime, session: WorkSession, reason: str) -> WorkSession:
    """Take a session out of all totals; it stays readable with the reason. A running timer is stopped first."""
    session = stop_timer(by=by, at=at, session=session)
    return withdraw_record(project=session.project_id, by=by, at=at, record=session, verb="session.withdrawn", reason=reason)


@transaction.atomic
def attach_photos(*, by: Person, at: datetime, session: WorkSession, photos: Sequence[Photo]) -> WorkSession:
    """Attach photos to a session, running or ended; those attached already stay as they are."""
    take_turn(session.project_id)
    have = set(session.attachments.values_list("photo", flat=True))
    new = [SessionPhoto(session=session, photo=photo) for photo in photos if photo.pk not in have]
    if new:
        SessionPhoto.objects.bulk_create(new)
        record_change(project=session.project_id, by=by, at=at, verb="session.photos_attached", subject=session)
    return session


@transaction.atomic
def detach_photo(*, by: Person, at: datetime, session: WorkSession, photo: Photo) -> WorkSession:
    """Take a photo off a session; the photo itself stays in the record."""
    take_turn(session.project_id)
    gone, _ = session.attachments.filter(photo=photo).delete()
    if gone:
        record_change(project=session.project_id, by=by, at=at, verb="session.photo_detached", subject=session)
    return session
