"""What phones captured, taken in exactly once by its request id, however often and in whatever order it comes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from buildlog import queries, rules
from buildlog.commands.sessions import (
    Shares,
    attach_photos,
    correct_session,
    end_break,
    log_session,
    start_timer,
    stop_timer,
    take_break,
)
from buildlog.models import OtherVersion, Receipt, WorkSession
from buildlog.rules import Worked
from evidence import commands as evidence
from evidence.models import Photo, Place
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn
from parts.models import Assembly

TAKEN_BACK = "Taken back on the phone right after it was taken."
NOT_YET = "What this belongs to has not come yet. It is sent again."


@dataclass(frozen=True)
class Capture:
    """What every captured thing says of itself: who, when by a clock put right, and when it came."""

    request_id: str
    kind: str
    project: Project
    by: Person
    at: datetime
    received_at: datetime
    clock_ahead: int | None = None

    @property
    def journaled(self) -> dict[str, Any]:
        """Who did it and when it is written down, as the commands take it."""
        return {"by": self.by, "at": self.received_at}


def known(capture: Capture) -> Receipt | None:
    """The receipt of the same capture, if it came before. Takes the project's turn, so that two senders agree."""
    take_turn(capture.project.pk)
    receipt = Receipt.objects.select_related("session", "photo").filter(pk=capture.request_id).first()
    if receipt is not None and receipt.project_id != capture.project.pk:
        raise Refusal("request_reused", "This was sent before for another project.")
    return receipt


def receipt_of(capture: Capture, **what: Any) -> Receipt:
    """Write down that a capture came, and what it did."""
    receipt = Receipt(
        request_id=capture.request_id,
        project=capture.project,
        person=capture.by,
        kind=capture.kind,
        happened_at=capture.at,
        received_at=capture.received_at,
        **what,
    )
    receipt.save(force_insert=True)
    return receipt


def session_named(project: Project, name: str) -> WorkSession:
    """The session with this key or request id. Raises Refusal where it has not come yet."""
    session = queries.session_named(project, name)
    if session is None:
        raise Refusal("not_yet", NOT_YET)
    return session


# Timers


@transaction.atomic
def receive_start(*, capture: Capture, assembly: Assembly, people: Sequence[Person] = ()) -> Receipt:
    """Start a timer that was started on a phone."""
    if receipt := known(capture):
        return receipt
    session = start_timer(
        by=capture.by,
        at=capture.at,
        project=capture.project,
        assembly=assembly,
        people=people,
        request_id=capture.request_id,
        received_at=capture.received_at,
        clock_ahead=capture.clock_ahead,
    )
    attach_waiting(capture, session)
    return receipt_of(capture, session=session)


@transaction.atomic
def receive_stop(*, capture: Capture, session: str) -> Receipt:
    """Stop a timer that was stopped on a phone; where it has another end already, keep both and ask."""
    if receipt := known(capture):
        return receipt
    found = session_named(capture.project, session)
    if found.running:
        stop_timer(by=capture.by, at=capture.at, session=found, received_at=capture.received_at)
    elif not found.withdrawn and not rules.same_moment(found.end, capture.at):
        keep_version(capture, found, "end", {"end": capture.at.isoformat()})
        return receipt_of(capture, session=found, asks=True)
    return receipt_of(capture, session=found)


@transaction.atomic
def receive_break(*, capture: Capture, session: str) -> Receipt:
    """Start a break that was started on a phone."""
    if receipt := known(capture):
        return receipt
    found = session_named(capture.project, session)
    if found.running:
        take_break(by=capture.by, at=capture.at, session=found, received_at=capture.received_at)
    elif not found.withdrawn and capture.at < found.end:
        keep_version(capture, found, "break", {"from": capture.at.isoformat(), "to": found.end.isoformat()})
        return receipt_of(capture, session=found, asks=True)
    return receipt_of(capture, session=found)


@transaction.atomic
def receive_on(*, capture: Capture, session: str) -> Receipt:
    """End a break that was ended on a phone."""
    if receipt := known(capture):
        return receipt
    found = session_named(capture.project, session)
    if found.running:
        end_break(by=capture.by, at=capture.at, session=found, received_at=capture.received_at)
        return receipt_of(capture, session=found)
    version = queries.open_versions(found).filter(kind="break", by=capture.by).last()
    if version is not None and capture.at < found.end:
        version.said = version.said | {"to": capture.at.isoformat()}
        version.save(update_fields=["said"])
        record_change(project=capture.project.pk, verb="version.kept", subject=version, **capture.journaled)
    return receipt_of(capture, session=found, asks=version is not None)


# Sessions


@transaction.atomic
def receive_session(
    *,
    capture: Capture,
    request_id: str,
    worked: Sequence[Worked],
    shares: Shares,
    photos: Sequence[Photo],
    typed: list[list[str]],
    same: bool,
    **words: Any,
) -> Receipt:
    """Log a session that was typed on a phone; where it is there already in other words, keep both and ask.

    `typed` is the form as it was typed; `same` says whether the session that is there says the same.
    """
    if receipt := known(capture):
        return receipt
    session, new = log_session(
        by=capture.by,
        at=capture.at,
        project=capture.project,
        request_id=request_id,
        worked=worked,
        shares=shares,
        photos=photos,
        received_at=capture.received_at,
        clock_ahead=capture.clock_ahead,
        **words,
    )
    asks = not new and not same and not session.withdrawn
    if asks:
        keep_version(capture, session, "form", {"typed": typed})
    attach_waiting(capture, session)
    return receipt_of(capture, session=session, is_new=new, asks=asks)


@transaction.atomic
def receive_correction(
    *, capture: Capture, session: WorkSession, typed: list[list[str]], same: bool, **corrected: Any
) -> Receipt:
    """Correct a session as it was typed on a phone; where it was changed elsewhere meanwhile, keep both and ask."""
    if receipt := known(capture):
        return receipt
    asks = False
    if not same:
        try:
            with transaction.atomic():
                correct_session(session=session, **corrected, **capture.journaled)
        except Refusal as no:
            if no.code != "changed_elsewhere":
                raise
            keep_version(capture, session, "form", {"typed": typed})
            asks = True
    attach_waiting(capture, session)
    return receipt_of(capture, session=session, is_new=False, asks=asks)


def keep_version(capture: Capture, session: WorkSession, kind: str, said: dict[str, Any]) -> OtherVersion:
    """Keep what a phone says of a session beside what the server has, until somebody chooses."""
    version = OtherVersion(
        project=capture.project,
        session=session,
        kind=kind,
        said=said,
        by=capture.by,
        captured_at=capture.at,
        received_at=capture.received_at,
    )
    version.save(force_insert=True)
    record_change(project=capture.project.pk, verb="version.kept", subject=version, **capture.journaled)
    return version


@transaction.atomic
def settle_version(
    *, by: Person, at: datetime, version: OtherVersion, corrected: dict[str, Any] | None = None, reason: str = ""
) -> OtherVersion:
    """Say which of two versions of a session counts: the phone's, as `corrected` gives it, or the one that is kept.

    Settling twice changes nothing. The version that was not chosen stays readable.
    """
    take_turn(version.project_id)
    version = OtherVersion.objects.select_related("session").get(pk=version.pk)
    if version.settled_at is not None:
        return version
    if corrected is not None:
        correct_session(by=by, at=at, session=version.session, reason=reason, **corrected)
    version.settled_at, version.settled_by, version.taken = at, by, corrected is not None
    version.save(update_fields=["settled_at", "settled_by", "taken"])
    record_change(project=version.project_id, by=by, at=at, verb="version.settled", subject=version)
    return version


# Photos


@transaction.atomic
def receive_photo(*, capture: Capture, photo: Photo, is_new: bool, place: Place | None, session: str = "") -> Receipt:
    """Write down that a photo came whose bytes are kept, and attach it to its session; to one still to come, later."""
    if receipt := known(capture):
        return receipt
    found = queries.session_named(capture.project, session) if session else None
    attached = found is not None and photo in found.photos
    if found is not None and not found.withdrawn and not attached:
        attach_photos(session=found, photos=[photo], **capture.journaled)
    return receipt_of(
        capture,
        photo=photo,
        # Only what this request did is undone by taking it back.
        session=None if attached else found,
        is_new=is_new,
        placed_on=place.pk if place else "",
        waits_for=session if session and found is None else "",
    )


def attach_waiting(capture: Capture, session: WorkSession) -> None:
    """Attach the photos that came before the session they belong to."""
    waiting = Receipt.objects.filter(project=capture.project, waits_for=session.request_id)
    photos = [receipt.photo for receipt in waiting.select_related("photo") if receipt.photo]
    if photos:
        attach_photos(session=session, photos=photos, **capture.journaled)
        waiting.update(waits_for="", session=session)


def photo_of(project: Project, request_id: str) -> Receipt:
    """The receipt of a photo. Raises Refusal where the photo has not come yet."""
    receipt = Receipt.objects.select_related("photo__project", "session").filter(
        project=project, pk=request_id, photo__isnull=False
    )
    found = receipt.first()
    if found is None:
        raise Refusal("not_yet", NOT_YET)
    return found


@transaction.atomic
def receive_description(
    *, capture: Capture, photo_request: str, words: dict[str, Any], place: Place | None = None
) -> Receipt:
    """Change words and tags of a photo after it was sent, or put it on another thing than the one it was sent for."""
    if receipt := known(capture):
        return receipt
    sent = photo_of(capture.project, photo_request)
    photo = sent.photo
    assert photo is not None
    changed = {name: value for name, value in words.items() if getattr(photo, name) != value}
    if changed:
        evidence.describe_photo(photo=photo, **capture.journaled, **changed)
    if place is not None and place.pk != sent.placed_on:
        take_off(capture, sent)
        evidence.place_photo(photo=photo, places=[place], **capture.journaled)
        Receipt.objects.filter(pk=sent.pk).update(placed_on=place.pk)
    return receipt_of(capture, photo=photo, is_new=False)


def take_off(capture: Capture, sent: Receipt) -> None:
    """Take a photo off the thing on which the request that sent it had placed it."""
    photo = sent.photo
    assert photo is not None
    for placement in photo.placements.all():
        if placement.thing.pk == sent.placed_on:
            evidence.unplace_photo(photo=photo, placement=placement, **capture.journaled)


@transaction.atomic
def receive_undo(*, capture: Capture, photo_request: str) -> Receipt:
    """Take back a photo on the phone that had been sent: withdraw it if that request brought it, else its place only.

    Only the one who sent it takes it back this way.
    """
    if receipt := known(capture):
        return receipt
    sent = photo_of(capture.project, photo_request)
    if sent.person_id != capture.by.pk:
        raise Refusal(
            "not_yours", "Only who sent a photo takes it back this way. The builder withdraws it on its page."
        )
    photo = sent.photo
    assert photo is not None
    if sent.session is not None:
        attach_photos(session=sent.session, photos=[], without=[photo.pk], **capture.journaled)
    if sent.is_new and not photo.withdrawn:
        evidence.withdraw_photo(photo=photo, reason=TAKEN_BACK, **capture.journaled)
    elif not sent.is_new:
        take_off(capture, sent)
    return receipt_of(capture, photo=photo, is_new=False)
