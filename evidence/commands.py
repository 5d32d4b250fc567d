"""All writes about photos: taking them in, placing and describing them, withdrawing them."""

import errno
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from accounts.models import Person, Project
from evidence import queries, renditions, rules, tasks
from evidence.models import Photo, Place, Placement
from foundation.digest import digest_file
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

SLOW_KINDS = {"heic", "avif"}
NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
NO_ROOM_LEFT = "The server's disk is full, so the photo was not kept. Make room and send it again."


def take_in(
    *,
    by: Person,
    at: datetime,
    project: Project,
    file: IO[bytes],
    name: str = "",
    file_time: datetime | None = None,
    typed: datetime | None = None,
    places: Sequence[Place] = (),
    caption: str = "",
    shows: str = "",
    builder_in_frame: bool = False,
    claimed: str = "",
    captured_at: datetime | None = None,
    clock_ahead: int | None = None,
) -> tuple[Photo, bool]:
    """Keep a photo and say whether it is new; the same bytes in the same project are one photo (rule R11).

    The digest comes before anything else; decoding and writing files happen outside the transaction. Raises Refusal for
    what is not a whole picture of an accepted kind, and then leaves nothing behind; also where the digest is not the
    one that the phone `claimed`: then bytes were lost or changed on the way. `captured_at` is when the phone kept it,
    `clock_ahead` how many seconds the phone's clock was ahead of the server's.
    """
    digest, length = digest_file(file)
    rules.check_digest(digest, claimed)
    rules.check_size(length, settings.PHOTO_MAX_BYTES)
    picture = renditions.look(file)
    drawn = picture.kind not in SLOW_KINDS
    with room_on_disk():
        if drawn and not all(queries.rendition_path(digest, size).exists() for size in queries.SIZES):
            renditions.draw(file, digest)
        keep_original(file, queries.shelf(settings.ORIGINALS_DIR, digest, f".{picture.kind}"), length)
    taken = rules.taken(
        clock=rules.camera_clock(picture.clock),
        offset=rules.camera_offset(picture.offset),
        file_time=file_time,
        typed=typed,
        zone=project.zone,
        received_at=at,
    )
    photo = Photo(
        project=project,
        digest=digest,
        size=length,
        kind=picture.kind,
        width=picture.width,
        height=picture.height,
        file_name=Path(name).name[:200],
        device=picture.device,
        located=picture.located,
        taken_at=taken.at,
        taken_offset=taken.offset_minutes,
        taken_known=taken.known,
        received_at=at,
        sent_by=by,
        taken_by=None,
        caption=caption,
        shows=shows,
        builder_in_frame=builder_in_frame,
        captured_at=captured_at,
        clock_ahead=clock_ahead,
        drawn_at=at if drawn else None,
    )
    return enter(by=by, at=at, photo=photo, places=places)


@transaction.atomic
def enter(*, by: Person, at: datetime, photo: Photo, places: Sequence[Place]) -> tuple[Photo, bool]:
    """Write the rows of a photo whose files are in place, or find the photo that has the same bytes."""
    take_turn(photo.project_id)
    known = Photo.objects.filter(project=photo.project_id, digest=photo.digest).first()
    if known is not None:
        if known.withdrawn:
            restore_photo(by=by, at=at, photo=known)
        place_photo(by=by, at=at, photo=known, places=places)
        return known, False
    photo.number = queries.next_number(photo.project)
    photo.save(force_insert=True)
    for place in places:
        Placement(photo=photo, **on(place)).save(force_insert=True)
    record_change(project=photo.project_id, by=by, at=at, verb="photo.kept", subject=photo)
    if photo.drawn_at is None:
        transaction.on_commit(partial(tasks.draw_renditions.enqueue, photo.pk))
    return photo, True


def on(place: Place) -> dict[str, Place]:
    """The relation of a placement that names this thing."""
    return {place._meta.model_name or "": place}


@dataclass(frozen=True)
class TakenIn:
    """What became of several files: the photos in the order of the files, the keys of the new ones, and a sentence
    for each file that was refused."""

    photos: list[Photo]
    new: set[str]
    refused: list[str]


def take_in_many(*, by: Person, at: datetime, project: Project, files: Iterable[UploadedFile], **more: Any) -> TakenIn:
    """Take in each of several files by itself: a refused one does not hold up the rest.

    A refusal is told as a sentence that begins with the file's name. `more` goes to `take_in` for every file.
    """
    photos: dict[str, Photo] = {}
    new, refused = set(), []
    for file in files:
        try:
            photo, is_new = take_in(by=by, at=at, project=project, file=file, name=file.name or "", **more)
        except Refusal as no:
            refused.append(f"{file.name or 'A file without a name'}: {no.message}")
        else:
            photos.setdefault(photo.pk, photo)
            if is_new:
                new.add(photo.pk)
    return TakenIn(list(photos.values()), new, refused)


@contextmanager
def room_on_disk() -> Iterator[None]:
    """Say in words that the disk is full; other trouble with the disk stays an error."""
    try:
        yield
    except OSError as trouble:
        if trouble.errno not in NO_ROOM:
            raise
        raise Refusal("no_room", NO_ROOM_LEFT, "photo") from None


def keep_original(file: IO[bytes], path: Path, size: int) -> None:
    """Put the untouched bytes on the shelf, on the disk before anybody is told that they are kept.

    A file with the same digest is there already when the same photo came before.
    """
    if path.exists() and path.stat().st_size == size:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".")
    try:
        with os.fdopen(handle, "wb") as out:
            file.seek(0)
            shutil.copyfileobj(file, out, 1024 * 1024)
            out.flush()
            os.fsync(out.fileno())
        Path(name).chmod(0o440)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Have the disk remember the names in a folder, too."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@transaction.atomic
def place_photo(*, by: Person, at: datetime, photo: Photo, places: Sequence[Place]) -> Photo:
    """Show a photo on more things: assemblies, parts, bins, lots; on the same one twice does nothing."""
    take_turn(photo.project_id)
    made = [Placement.objects.get_or_create(photo=photo, **on(place))[1] for place in places]
    if any(made):
        record_change(project=photo.project_id, by=by, at=at, verb="photo.placed", subject=photo)
    return photo


@transaction.atomic
def unplace_photo(*, by: Person, at: datetime, photo: Photo, placement: Placement) -> Photo:
    """Take a photo off an assembly or part; twice does nothing."""
    take_turn(photo.project_id)
    gone, _ = photo.placements.filter(pk=placement.pk).delete()
    if gone:
        record_change(project=photo.project_id, by=by, at=at, verb="photo.unplaced", subject=photo)
    return photo


@transaction.atomic
def describe_photo(*, by: Person, at: datetime, photo: Photo, reason: str = "", **words: object) -> Photo:
    """Change caption, what it shows, who took it, whether the builder is in it. The picture itself never changes."""
    take_turn(photo.project_id)
    for name, value in words.items():
        setattr(photo, name, value)
    photo.save(update_fields=list(words))
    record_change(project=photo.project_id, by=by, at=at, verb="photo.described", subject=photo, reason=reason)
    return photo


@transaction.atomic
def correct_taken(*, by: Person, at: datetime, photo: Photo, typed: datetime, reason: str) -> Photo:
    """Type the time at which a photo was taken; it says from then on that it was typed."""
    if not reason.strip():
        raise Refusal("no_reason", "Say how you know the time. It stays with the photo.", "reason")
    rules.check_typed(typed, at)
    take_turn(photo.project_id)
    photo.taken_at, photo.taken_known = typed, "typed"
    photo.taken_offset = rules.minutes(typed.astimezone(photo.project.zone))
    photo.save(update_fields=["taken_at", "taken_known", "taken_offset"])
    record_change(project=photo.project_id, by=by, at=at, verb="photo.time_typed", subject=photo, reason=reason)
    return photo


@transaction.atomic
def withdraw_photo(*, by: Person, at: datetime, photo: Photo, reason: str) -> Photo:
    """Take a photo out of the record's pages and gates; its bytes and its history stay."""
    take_turn(photo.project_id)
    return withdraw_record(project=photo.project_id, by=by, at=at, record=photo, verb="photo.withdrawn", reason=reason)


@transaction.atomic
def restore_photo(*, by: Person, at: datetime, photo: Photo) -> Photo:
    """Bring a withdrawn photo back; one that stands is left as it is."""
    take_turn(photo.project_id)
    if not Photo.objects.withdrawn().filter(pk=photo.pk).update(withdrawn_at=None):
        return photo
    photo.withdrawn_at = None
    record_change(project=photo.project_id, by=by, at=at, verb="photo.restored", subject=photo)
    return photo


def draw_now(photo: Photo) -> bool:
    """Draw missing renditions of one photo again at once, if its kind is quick; whether they are there now.

    A slow kind is queued for the worker and marked as waiting, so that it is queued once only.
    """
    if photo.kind in SLOW_KINDS:
        if photo.drawn_at is not None:
            Photo.objects.filter(pk=photo.pk).update(drawn_at=None)
            tasks.draw_renditions.enqueue(photo.pk)
        return False
    try:
        with queries.original_path(photo).open("rb") as file:
            renditions.draw(file, photo.digest)
    except (Refusal, OSError):
        return False
    return True


def draw_again(photos: Iterable[Photo]) -> int:
    """Queue the renditions of photos whose files are missing; the number queued."""
    queued = 0
    for photo in photos:
        if not all(queries.has_rendition(photo, size) for size in queries.SIZES):
            tasks.draw_renditions.enqueue(photo.pk)
            queued += 1
    return queued
