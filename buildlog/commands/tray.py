"""Sorting the tray: photos get a place, a session, or both, and can be put back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from buildlog import queries
from buildlog.commands.sessions import (
    Shares,
    attach_photos,
    log_session,
    sent_before,
    version_of,
    withdraw_session,
)
from buildlog.models import WorkSession
from buildlog.rules import Worked
from evidence import commands as evidence
from evidence.models import Photo, Place, Placement
from foundation.refusal import Refusal
from journal.commands import take_turn

UNDONE = "Undone in the tray right after it was logged."


@dataclass(frozen=True)
class Sorted:
    """What one acceptance did to which photos, so that it can be told and undone.

    `place` is where `placed` were placed by it. `session` is what `attached` were attached to by it; `version` is that
    session's token when the acceptance itself logged it, else empty.
    """

    photos: Sequence[Photo]
    place: Place | None = None
    placed: Sequence[str] = ()
    session: WorkSession | None = None
    attached: Sequence[str] = ()
    version: str = ""


@transaction.atomic
def place_from_tray(*, by: Person, at: datetime, project: Project, photos: Sequence[Photo], place: Place) -> Sorted:
    """Place photos on one thing; those that stand there already stay as they are."""
    take_turn(project.pk)
    have = set(Placement.objects.filter(photo__in=photos, **evidence.on(place)).values_list("photo", flat=True))
    new = [photo for photo in photos if photo.pk not in have]
    for photo in new:
        evidence.place_photo(by=by, at=at, photo=photo, places=[place])
    return Sorted(photos, place=place, placed=[photo.pk for photo in new])


@transaction.atomic
def attach_from_tray(*, by: Person, at: datetime, session: WorkSession, photos: Sequence[Photo]) -> Sorted:
    """Attach photos to a session; those attached already stay as they are."""
    take_turn(session.project_id)
    if WorkSession.objects.withdrawn().filter(pk=session.pk).exists():
        raise Refusal("withdrawn", f"Session {session.number} was withdrawn. Choose another or log a new one.")
    have = set(session.attachments.values_list("photo", flat=True))
    attach_photos(by=by, at=at, session=session, photos=photos)
    return Sorted(photos, session=session, attached=[photo.pk for photo in photos if photo.pk not in have])


@transaction.atomic
def log_from_tray(
    *,
    by: Person,
    at: datetime,
    project: Project,
    request_id: str,
    photos: Sequence[Photo],
    worked: Sequence[Worked],
    shares: Shares,
    **words: Any,
) -> tuple[Sorted, bool]:
    """Log a session with these photos and place them on its main assembly; whether it is new.

    The same request twice is one session. Photos that left the tray since the page was made are not logged a second
    time: then nothing is written and the refusal says so.
    """
    take_turn(project.pk)
    known = sent_before(project, request_id)
    if known is not None:
        return Sorted(photos, session=known), False
    waiting = set(queries.in_tray(project).filter(pk__in=[photo.pk for photo in photos]).values_list("pk", flat=True))
    if not photos or len(waiting) < len(photos):
        raise Refusal("moved_on", "Somebody gave some of these photos a place meanwhile. Look again, then accept.")
    session, _ = log_session(
        by=by,
        at=at,
        project=project,
        request_id=request_id,
        worked=worked,
        shares=shares,
        photos=photos,
        **words,
    )
    place = max(shares, key=lambda share: share[1])[0]
    done = place_from_tray(by=by, at=at, project=project, photos=photos, place=place)
    return Sorted(photos, place, done.placed, session, done.placed, version_of(session)), True


@transaction.atomic
def put_back(
    *,
    by: Person,
    at: datetime,
    project: Project,
    place: Place | None,
    placed: Sequence[Photo],
    session: WorkSession | None,
    attached: Sequence[Photo],
    version: str,
) -> None:
    """Undo what one acceptance did; twice does nothing.

    A session that it logged is withdrawn, unless somebody changed it since: then nothing is undone and the refusal
    says so.
    """
    take_turn(project.pk)
    if session is not None and version:
        session = WorkSession.objects.select_related("project").get(pk=session.pk)
        if not session.withdrawn and version_of(session) != version:
            raise Refusal(
                "changed_since", f"Session {session.number} was changed since. Withdraw it on its own page instead."
            )
        if not session.withdrawn:
            withdraw_session(by=by, at=at, session=session, reason=UNDONE)
    elif session is not None:
        attach_photos(by=by, at=at, session=session, photos=(), without=[photo.pk for photo in attached])
    if place is not None:
        rows = Placement.objects.filter(photo__in=placed, **evidence.on(place)).select_related("photo")
        for row in rows.order_by("photo__number"):
            evidence.unplace_photo(by=by, at=at, photo=row.photo, placement=row)
