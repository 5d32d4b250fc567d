"""All writes about work sessions and timers."""

from collections.abc import Collection, Sequence
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
def start_timer(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    request_id: str = "",
    people: Sequence[Person] = (),
    received_at: datetime | None = None,
    clock_ahead: int | None = None,
) -> WorkSession:
    """Start a session without an end. Whoever's timer still runs is taken off that one first: so one switches.

    A phone without signal brings its start late, at `received_at`; `at` is then when it was tapped, by a clock that was
    `clock_ahead` seconds ahead of the server's and has been put right. Whoever was on a later timer by then had
    switched to it, so his time here ends where that one starts.
    """
    take_turn(project.pk)
    known = sent_before(project, request_id) if request_id else None
    if known is not None:
        return known
    at, now = at.replace(microsecond=0), received_at or at
    people = list(people) or [by]
    # Two taps in one second are a second apart, and no switch to a later timer.
    late = received_at is not None
    switched = {p.pk: later for p in people if late and (later := queries.on_timer_since(p, after=at))}
    staying = [person for person in people if person.pk not in switched]
    at = max([at, *(leave_running(by=by, at=at, person=person, received_at=received_at) for person in staying)])
    session = WorkSession(
        project=project,
        number=queries.next_number(project),
        request_id=request_id or new_key(),
        started_at=at,
        source="live",
        entered_at=at,
        entered_by=by,
        received_at=rules.late_receipt(at, now),
        clock_ahead=clock_ahead,
        place=project.place,
    )
    session.save(force_insert=True)
    rows = [SessionPerson(session=session, person=person, started_at=at) for person in people]
    for row in rows:
        if row.person_id in switched:
            end_row(row, switched[row.person_id])
    SessionPerson.objects.bulk_create(rows)
    SessionShare(session=session, assembly=assembly).save(force_insert=True)
    if not staying:
        settle(session)
    record_change(project=project.pk, by=by, at=now, verb="timer.started", subject=session)
    return session


def sent_before(project: Project, request_id: str) -> WorkSession | None:
    """The session that came of this request when it was sent before."""
    known = WorkSession.objects.filter(request_id=request_id).first()
    if known is not None and known.project_id != project.pk:
        raise Refusal(
            "request_reused", "This entry was sent before for another project. Reload the page and send it again."
        )
    return known


def leave_running(*, by: Person, at: datetime, person: Person, received_at: datetime | None = None) -> datetime:
    """Take a person off the timer that runs for him, and say from when he is free: a second on if he just started."""
    if queries.runs_elsewhere(person):
        raise Refusal("runs_elsewhere", f"{person.name}'s timer runs in another project. Stop it there first.")
    running = queries.running_of(person)
    if running is None:
        return at
    left = leave_timer(by=by, at=at, session=running, person=person, received_at=received_at)
    return max(at, left.people.get(person=person).end)


@transaction.atomic
def stop_timer(*, by: Person, at: datetime, session: WorkSession, received_at: datetime | None = None) -> WorkSession:
    """End a running session for everybody still in it. Stopping twice changes nothing.

    A phone without signal brings its stop late, at `received_at`; whoever joined after the stop works on.
    """
    take_turn(session.project_id)
    session = WorkSession.objects.select_related("project").get(pk=session.pk)
    if not session.running:
        return session
    at, now = at.replace(microsecond=0), received_at or at
    end_break_of(session, at)
    session.break_since = None
    still_in = session.people.filter(ended_at__isnull=True)
    # A stop that comes at once ends it for all, also for one who joined in the same second.
    for row in still_in if received_at is None else still_in.filter(started_at__lte=at):
        close_row(row, at)
    session.received_at = rules.late_receipt(at, now) or session.received_at
    if still_in.all().exists():
        session.save(update_fields=["break_since", "received_at"])
    else:
        settle(session)
    record_change(project=session.project_id, by=by, at=now, verb="timer.stopped", subject=session)
    return session


def close_row(row: SessionPerson, at: datetime) -> None:
    """End one person's time in a session and keep it."""
    end_row(row, at)
    row.save(update_fields=["ended_at", "break_seconds", "labor_seconds"])


def end_row(row: SessionPerson, at: datetime) -> None:
    """End one person's time in a session, at least a second after he came: two taps in one second are one second."""
    row.ended_at = max(at, row.started_at + timedelta(seconds=1))
    passed = hours.elapsed(row.started_at, row.ended_at)
    row.break_seconds = min(row.break_seconds, passed)
    row.labor_seconds = passed - row.break_seconds


def end_break_of(session: WorkSession, at: datetime) -> None:
    """Add a running break to everybody who is in the session."""
    if session.break_since is None:
        return
    for row in session.people.filter(ended_at__isnull=True):
        row.break_seconds += max(0, hours.elapsed(max(session.break_since, row.started_at), at))
        row.save(update_fields=["break_seconds"])


def settle(session: WorkSession) -> None:
    """Make end and sums of a stopped session follow from its people and weights, to the second (rules R1, R2)."""
    rows = list(session.people.all())
    session.ended_at = max(row.end for row in rows)
    session.labor_seconds = sum(row.labor_seconds for row in rows)
    session.save(update_fields=["ended_at", "break_since", "labor_seconds", "received_at"])
    replace_shares(session, [(share.assembly, share.weight) for share in session.shares.select_related("assembly")])


@transaction.atomic
def take_break(*, by: Person, at: datetime, session: WorkSession, received_at: datetime | None = None) -> WorkSession:
    """Start a break for everybody in a running session; a second tap changes nothing."""
    take_turn(session.project_id)
    at, now = max(at.replace(microsecond=0), session.started_at), received_at or at
    if WorkSession.objects.running().filter(pk=session.pk, break_since__isnull=True).update(break_since=at):
        session.refresh_from_db()
        record_change(project=session.project_id, by=by, at=now, verb="timer.break_started", subject=session)
    return session


@transaction.atomic
def end_break(*, by: Person, at: datetime, session: WorkSession, received_at: datetime | None = None) -> WorkSession:
    """Go on working after a break."""
    take_turn(session.project_id)
    session.refresh_from_db()
    if session.break_since is not None:
        end_break_of(session, at.replace(microsecond=0))
        session.break_since = None
        session.save(update_fields=["break_since"])
        now = received_at or at
        record_change(project=session.project_id, by=by, at=now, verb="timer.break_ended", subject=session)
    return session


@transaction.atomic
def join_timer(*, by: Person, at: datetime, session: WorkSession, person: Person) -> WorkSession:
    """Let one more person work in a running session from now on; a second tap changes nothing."""
    take_turn(session.project_id)
    session.refresh_from_db()
    if not session.running:
        raise Refusal("not_running", "This timer has been stopped. Start a new one.")
    row = session.people.filter(person=person).first()
    if row is not None and row.ended_at is None:
        return session
    if row is not None:
        raise Refusal(
            "left_before", f"{person.name} left this session before. Start a new timer for the second stretch."
        )
    at = leave_running(by=by, at=at.replace(microsecond=0), person=person)
    SessionPerson(session=session, person=person, started_at=max(at, session.started_at)).save(force_insert=True)
    record_change(project=session.project_id, by=by, at=at, verb="timer.joined", subject=session)
    return session


@transaction.atomic
def leave_timer(
    *, by: Person, at: datetime, session: WorkSession, person: Person, received_at: datetime | None = None
) -> WorkSession:
    """End one person's time in a running session while the others go on."""
    take_turn(session.project_id)
    session.refresh_from_db()
    row = session.people.filter(person=person, ended_at__isnull=True).first()
    if row is None or not session.running:
        return session
    if not session.people.filter(ended_at__isnull=True).exclude(pk=row.pk).exists():
        return stop_timer(by=by, at=at, session=session, received_at=received_at)
    at, now = at.replace(microsecond=0), received_at or at
    if session.break_since is not None:
        row.break_seconds += max(0, hours.elapsed(max(session.break_since, row.started_at), at))
    close_row(row, at)
    record_change(project=session.project_id, by=by, at=now, verb="timer.left", subject=session)
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
    private_note: str = "",
    received_at: datetime | None = None,
    clock_ahead: int | None = None,
) -> tuple[WorkSession, bool]:
    """Log a session that has ended, and say whether it is new; the same request twice is one session.

    One that a phone kept comes at `received_at`; `at` is then when it was entered there.
    """
    take_turn(project.pk)
    known = sent_before(project, request_id)
    if known is not None:
        return known, False
    rules.check_worked(worked, received_at or at)
    rules.check_shares([(assembly.pk, weight) for assembly, weight in shares])
    session = WorkSession(
        project=project,
        number=queries.next_number(project),
        request_id=request_id,
        started_at=min(stretch.start for stretch in worked),
        ended_at=max(stretch.end for stretch in worked),
        kind=kind,
        work=work,
        note=note,
        place=place,
        private_note=private_note,
        labor_seconds=sum(stretch.labor for stretch in worked),
        entered_at=at,
        entered_by=by,
        received_at=rules.late_receipt(at, received_at) if received_at else None,
        clock_ahead=clock_ahead,
    )
    session.source = source_of(session)
    session.save(force_insert=True)
    write_parts(session, worked, shares, photos)
    record_change(project=project.pk, by=by, at=received_at or at, verb="session.logged", subject=session)
    return session, True


def write_parts(session: WorkSession, worked: Sequence[Worked], shares: Shares, photos: Sequence[Photo]) -> None:
    """Write the rows below a new session and hold them, so that its state need not be read back."""
    session.held = {
        "people": SessionPerson.objects.bulk_create([person_row(session, stretch) for stretch in worked]),
        "shares": SessionShare.objects.bulk_create(
            SessionShare(session=session, assembly=assembly, weight=weight, seconds=seconds)
            for assembly, weight, seconds in split_over(session.labor_seconds, shares)
        ),
        "attachments": SessionPhoto.objects.bulk_create(
            [SessionPhoto(session=session, photo=photo) for photo in photos]
        ),
    }


def split_over(seconds: int, shares: Shares) -> list[tuple[Assembly, int, int]]:
    """Each assembly with its weight and seconds (rule R2), in a fixed order: the same shares split the same again."""
    ordered = sorted(shares, key=lambda share: (-share[1], share[0].pk))
    parts = hours.split(seconds, [weight for _, weight in ordered])
    return [(assembly, weight, part) for (assembly, weight), part in zip(ordered, parts, strict=True)]


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
    written and the refusal says so. A timer's first description (its words, photos, kind) needs no reason. Whether it
    is a late entry (rule R6) follows from the day worked and the day it was first entered.
    """
    take_turn(session.project_id)
    session = WorkSession.objects.select_related("project").get(pk=session.pk)
    if session.withdrawn:
        raise Refusal("withdrawn", "This session was withdrawn. Log a new one.")
    if seen and seen != version_of(session):
        raise Refusal(
            "changed_elsewhere", "Somebody changed this session since you opened it. Compare, then save again."
        )
    if not reason.strip() and queries.is_described(session):
        raise Refusal("no_reason", "Say why it is corrected. The old values stay beside the new ones.", "reason")
    rules.check_worked(worked, at)
    rules.check_shares([(assembly.pk, weight) for assembly, weight in shares])
    for name, value in words.items():
        setattr(session, name, value)
    session.started_at = min(stretch.start for stretch in worked)
    session.ended_at = max(stretch.end for stretch in worked)
    session.break_since = None
    session.labor_seconds = sum(stretch.labor for stretch in worked)
    session.source = source_of(session, timed=queries.was_timed(session))
    session.save(update_fields=["started_at", "ended_at", "break_since", "labor_seconds", "source", *words])
    replace_people(session, worked)
    replace_shares(session, shares)
    if photos is not None:
        replace_photos(session, photos)
    record_change(project=session.project_id, by=by, at=at, verb="session.corrected", subject=session, reason=reason)
    return session


def source_of(session: WorkSession, *, timed: bool = False) -> str:
    """How fresh an entry is, from the local dates of its start and of its entering (rule R6).

    A timer was there while the work went on, so for a `timed` session the day on which the work ended counts.
    """
    zone = session.project.zone
    worked = session.end if timed else session.started_at
    return rules.source(worked.astimezone(zone).date(), session.entered_at.astimezone(zone).date())


def version_of(session: WorkSession) -> str:
    """A token that changes with every change of a session."""
    return short(digest_bytes(canonical(session.state()).encode()))


def replace_people(session: WorkSession, worked: Sequence[Worked]) -> None:
    """Make the people of a session those of `worked`; the rows that go are kept by the journal's last entry."""
    session.people.exclude(person__in=[stretch.person for stretch in worked]).delete()
    for stretch in worked:
        row = person_row(session, stretch)
        values = {
            name: getattr(row, name)
            for name in ("started_at", "ended_at", "break_seconds", "unattended_seconds", "labor_seconds")
        }
        SessionPerson.objects.update_or_create(session=session, person_id=stretch.person, defaults=values)


def replace_shares(session: WorkSession, shares: Shares) -> None:
    """Make the shares of a session those given, split anew to the second."""
    session.shares.exclude(assembly__in=[assembly for assembly, _ in shares]).delete()
    for assembly, weight, seconds in split_over(session.labor_seconds, shares):
        SessionShare.objects.update_or_create(
            session=session, assembly=assembly, defaults={"weight": weight, "seconds": seconds}
        )


def replace_photos(session: WorkSession, photos: Sequence[Photo]) -> None:
    """Make the photos attached to a session those given. All photos stay in the record, a withdrawn one also here."""
    session.attachments.filter(photo__withdrawn_at__isnull=True).exclude(photo__in=photos).delete()
    have = set(session.attachments.values_list("photo", flat=True))
    SessionPhoto.objects.bulk_create(
        [SessionPhoto(session=session, photo=photo) for photo in photos if photo.pk not in have]
    )


@transaction.atomic
def withdraw_session(*, by: Person, at: datetime, session: WorkSession, reason: str) -> WorkSession:
    """Take a session out of all totals; it stays readable with the reason. A running timer is stopped first."""
    session = stop_timer(by=by, at=at, session=session)
    return withdraw_record(
        project=session.project_id, by=by, at=at, record=session, verb="session.withdrawn", reason=reason
    )


@transaction.atomic
def attach_photos(
    *, by: Person, at: datetime, session: WorkSession, photos: Sequence[Photo], without: Collection[str] = ()
) -> WorkSession:
    """Attach photos to a session, running or ended; those attached already stay as they are.

    The photos with the keys in `without` are taken off the session; they stay in the record.
    """
    take_turn(session.project_id)
    gone, _ = session.attachments.filter(photo__in=list(without)).delete()
    have = set(session.attachments.values_list("photo", flat=True))
    new = [SessionPhoto(session=session, photo=photo) for photo in photos if photo.pk not in have]
    SessionPhoto.objects.bulk_create(new)
    if new or gone:
        verb = "session.photos_changed" if gone else "session.photos_attached"
        record_change(project=session.project_id, by=by, at=at, verb=verb, subject=session)
    return session
