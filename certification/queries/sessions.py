"""The facts of work sessions: as they stand, with every correction, and those withdrawn."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from accounts.models import Project
from accounts.rules import ROLES
from buildlog import queries as work
from buildlog.models import WorkSession
from certification.queries.history import corrections, withdrawal_facts, withdrawals
from certification.queries.scope import Scope
from certification.queries.words import clock, day, moment
from journal.models import Entry

# What alters what a session said; breaks, joining, leaving and further photos are only how it goes on.
CORRECTIONS = {"session.corrected", "session.photos_changed"}


def with_corrections(
    project: Project, sessions: list[WorkSession]
) -> Iterable[tuple[WorkSession, list[dict[str, Any]]]]:
    """Each session with its corrections out of the journal: two queries for all of them."""
    found = corrections(project, WorkSession._meta.label_lower, is_correction, CORRECTIONS)
    for session in sessions:
        yield session, found.get(session.subject, [])


def is_correction(entry: Entry) -> bool:
    """Whether an entry alters what a session said; a timer's first description, which has no reason, does not."""
    return entry.verb in CORRECTIONS and (entry.verb != "session.corrected" or bool(entry.reason))


def session_facts(pair: tuple[WorkSession, list[dict[str, Any]]], zone: ZoneInfo) -> dict[str, Any]:
    """One session as it prints."""
    session, corrected = pair
    start, end = session.started_at.astimezone(zone), session.end.astimezone(zone)
    return {
        "number": session.number,
        "date": f"{start:%a %-d %b %Y}",
        "iso_date": f"{start:%Y-%m-%d}",
        "start": f"{start:%H:%M}",
        "end": f"{end:%H:%M}" if end.date() == start.date() else f"{end:%H:%M on %-d %b}",
        "people": [
            {
                "name": row.person.name,
                "role": ROLES[row.person.role],
                "start": clock(row.started_at, zone),
                "end": clock(row.end, zone),
                "breaks": row.break_seconds,
                "unattended": row.unattended_seconds,
                "labor": row.labor_seconds,
            }
            for row in session.people.all()
        ],
        "shares": [
            {"number": share.assembly.number, "name": share.assembly.name, "seconds": share.seconds}
            for share in session.shares.all()
        ],
        "kind": session.get_kind_display(),
        "work": session.get_work_display() if session.work else "",
        "note": session.note,
        "place": session.place,
        "late": late_words(session, zone),
        "labor": session.labor_seconds,
        "photos": [photo.label for photo in work.photos_of(session)],
        "corrections": corrected,
    }


def kept_first(session: WorkSession, zone: ZoneInfo) -> str:
    """When a session was entered on a phone, and how wrong the phone's clock was."""
    clock = f" by a clock that was {session.clock_words}, put right" if session.clock_ahead else ""
    how = f"{session.get_source_display()}, kept on a phone" if session.late else "Kept on a phone"
    return f"{how}: entered {moment(session.entered_at, zone)}{clock}"


def late_words(session: WorkSession, zone: ZoneInfo) -> str:
    """The dates of a session that was entered after its day, or on a phone that brought it later (rule R6)."""
    if session.received_at is not None:
        return f"{kept_first(session, zone)}, received {moment(session.received_at, zone)}"
    if not session.late:
        return ""
    # A session that went on past midnight was worked on two days, and may be entered late on the second of them.
    days = dict.fromkeys(day(at, zone) for at in (session.started_at, session.ended_at or session.started_at))
    return f"{session.get_source_display()}: worked {' to '.join(days)}, entered {moment(session.entered_at, zone)}"


def withdrawn_sessions(project: Project) -> QuerySet[WorkSession]:
    """Sessions that were withdrawn: listed with their reason, out of every total."""
    return WorkSession.objects.withdrawn().filter(project=project).order_by("number")


def withdrawn_facts(project: Project, asked: Scope) -> list[dict[str, Any]]:
    """The withdrawn sessions, each with when, by whom and why."""
    gone = withdrawn_sessions(project).prefetch_related("shares")
    rows, zone = [one for one in gone if asked.session(one)], project.zone
    told = withdrawals(rows)
    return [
        {"number": one.number, "date": day(one.started_at, zone), "note": one.note} | withdrawal_facts(one, told, zone)
        for one in rows
    ]
