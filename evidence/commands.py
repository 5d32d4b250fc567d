"""All writes about photos and documents: taking them in, placing and describing them, withdrawing them."""

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from accounts.models import Person, Project
from evidence import clips, queries, renditions, rules, tasks
from evidence.clips import Clip
from evidence.models import Document, DocumentPlace, Photo, PhotoMark, Place, Placement
from evidence.renditions import Picture
from foundation.digest import digest_file
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

SLOW_KINDS = {"heic", "avif"}
NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
NO_ROOM_LEFT = "The server's disk is full, so the file was not kept. Make room and send it again."


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
    """Keep a photo or a clip and say whether it is new; the same bytes in the same project are one photo (rule R11).

    The digest comes before anything else; decoding and writing files happen outside the transaction. Raises Refusal for
    what is not a whole picture or clip of an accepted kind, and then leaves nothing behind; also where the digest is
    not the one that the phone `claimed`: then bytes were lost or changed on the way. `captured_at` is when the phone
    kept it, `clock_ahead` how many seconds the phone's clock was ahead of the server's.
    """
    digest, length = digest_file(file)
    rules.check_digest(digest, claimed)
    picture = look_into(file, length)
    clip = picture if isinstance(picture, Clip) else None
    drawn = picture.kind not in SLOW_KINDS
    with room_on_disk():
        if not clip and drawn and not all(queries.rendition_path(digest, size).exists() for size in queries.SIZES):
            renditions.draw(file, digest)
        keep_original(file, queries.shelf(settings.ORIGINALS_DIR, digest, f".{picture.kind}"), length)
    taken = time_of(picture, project=project, at=at, file_time=file_time, typed=typed)
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
        seconds=clip.seconds if clip else None,
        drawn_at=at if drawn else None,
    )
    return enter(by=by, at=at, photo=photo, places=places)


def look_into(file: IO[bytes], length: int) -> Clip | Picture:
    """What a file of this many bytes is and what it says of itself; Refusal for what is not taken."""
    clip = clips.look(file)
    rules.check_size(length, settings.CLIP_MAX_BYTES if clip else settings.PHOTO_MAX_BYTES, "clip" if clip else "photo")
    return clip or renditions.look(file)


def time_of(
    found: Clip | Picture, *, project: Project, at: datetime, file_time: datetime | None, typed: datetime | None = None
) -> rules.Taken:
    """When a file that was looked into was taken, and how that is known."""
    return rules.taken(
        clock=rules.camera_clock(found.clock),
        offset=rules.camera_offset(found.offset),
        file_time=file_time,
        typed=typed,
        zone=project.zone,
        received_at=at,
    )


def examine(*, project: Project, at: datetime, file: IO[bytes], file_time: datetime | None) -> rules.Taken:
    """What taking a file in would find out about its time, with nothing written anywhere; Refusal as for taking in.

    Kinds that the worker decodes later are not decoded here either.
    """
    found = look_into(file, file.seek(0, os.SEEK_END))
    if isinstance(found, Picture) and found.kind not in SLOW_KINDS:
        renditions.decoded(file)
    return time_of(found, project=project, at=at, file_time=file_time)


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


def on(place: Place) -> dict[str, Any]:
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


@dataclass(frozen=True)
class MarkFacts:
    """A mark as it was drawn: corners in ten-thousandths of the upright picture; `key` of one that was there before."""

    kind: str
    corners: tuple[int, int, int, int]
    words: str = ""
    key: str = ""


@transaction.atomic
def mark_photo(*, by: Person, at: datetime, photo: Photo, marks: Sequence[MarkFacts], seen: str) -> Photo:
    """Draw these marks over a photo in place of those it has; the picture itself never changes.

    `seen` is the token of the marks that the drawer had before him (`queries.marks_token`). Refused when others were
    drawn meanwhile, when there are too many, and when one cannot be drawn; the same marks again write nothing.
    """
    take_turn(photo.project_id)
    there = list(PhotoMark.objects.filter(photo=photo))
    if queries.marks_token(there) != seen:
        raise Refusal("changed_meanwhile", "Somebody drew on this photo meanwhile. Look at both, then save again.")
    rows = drawable(photo, marks, {row.pk for row in there})
    if queries.marks_token(rows) == seen:
        return photo
    photo.marks.all().delete()
    PhotoMark.objects.bulk_create(rows)
    record_change(project=photo.project_id, by=by, at=at, verb="photo.marked", subject=photo)
    return photo


def drawable(photo: Photo, marks: Sequence[MarkFacts], there: set[str]) -> list[PhotoMark]:
    """The rows of marks that can be drawn, numbered from 1; a mark that was there before keeps its key."""
    if photo.medium != "picture":
        raise Refusal("not_a_picture", "Only a picture can be drawn on.")
    if len(marks) > rules.MOST_MARKS:
        raise Refusal("too_many", f"At most {rules.MOST_MARKS} marks fit on one photo. Take some away.")
    rows, keys = [], set[str]()
    for number, mark in enumerate(marks, start=1):
        words = " ".join(mark.words.split())
        rules.check_mark(mark.kind, mark.corners, words, number)
        x1, y1, x2, y2 = rules.in_order(mark.kind, mark.corners)
        row = PhotoMark(photo=photo, position=number, kind=mark.kind, x1=x1, y1=y1, x2=x2, y2=y2, words=words)
        if mark.key in there - keys:
            row.pk = mark.key
        keys.add(row.pk)
        rows.append(row)
    return rows


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
    if photo.is_clip:
        return False
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
    """Queue the renditions of pictures whose files are missing; the number queued."""
    queued = 0
    for photo in photos:
        if not photo.is_clip and not all(queries.has_rendition(photo, size) for size in queries.SIZES):
            tasks.draw_renditions.enqueue(photo.pk)
            queued += 1
    return queued


def add_piece(*, person: Person, digest: str, offset: int, size: int, read: Callable[[int], bytes]) -> int:
    """Put one piece of a large file in its place and say how many bytes are here.

    `offset` is where the piece begins and `size` how long the whole file is. A piece that came before is written over
    with the same bytes; one that would leave a gap is refused as "gap". Writing goes on as far as the sender got.
    """
    path = queries.piece_path(person.pk, digest)
    rules.check_piece(offset, size, queries.gathered(person.pk, digest), settings.CLIP_MAX_BYTES)
    sweep_pieces()
    left = min(rules.PIECE, size - offset)
    with room_on_disk(), path.open("r+b" if path.exists() else "w+b") as file:
        file.seek(offset)
        while left and (block := read(min(left, 64 * 1024))):
            file.write(block)
            left -= len(block)
    return path.stat().st_size


def drop_pieces(*, person: Person, digest: str) -> None:
    """Let the gathered pieces of a file go, once it is kept or turned out to be damaged."""
    queries.piece_path(person.pk, digest).unlink(missing_ok=True)


def sweep_pieces() -> None:
    """Let go what was begun and not gone on with for two weeks; the phone still has it and begins again."""
    old = time.time() - rules.PIECES_KEPT.total_seconds()
    for path in settings.FILE_UPLOAD_TEMP_DIR.glob("*.part"):
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < old:
                path.unlink()


# ---- documents ----


def keep_document(
    *,
    by: Person,
    at: datetime,
    project: Project,
    file: IO[bytes],
    name: str,
    kind: str,
    title: str,
    revision: str = "",
    dated_on: date | None = None,
    note: str = "",
    places: Sequence[Place] = (),
    made_here: bool = False,
) -> tuple[Document, bool]:
    """Keep a file byte for byte and say whether it is new; the same bytes in the same project are one document.

    What was `made_here`, by the program, may be of any size.

    The digest comes before anything else, and the file is on the disk before its row is written. Bytes that are known
    already get the further places; their words stay as they were.
    """
    digest, length = digest_file(file)
    rules.check_document(length, length if made_here else settings.DOCUMENT_MAX_BYTES)
    file.seek(0)
    said = rules.plain_name(name)
    document = Document(
        project=project,
        kind=kind,
        title=title,
        revision=revision,
        dated_on=dated_on,
        note=note,
        digest=digest,
        size=length,
        media_type=rules.media_type(said, file.read(rules.HEAD)),
        file_name=said,
        received_at=at,
        sent_by=by,
    )
    # Bytes that came before lie under the ending they had then.
    known = Document.objects.filter(project=project, digest=digest).first()
    with room_on_disk():
        keep_original(file, queries.document_path(known or document), length)
    return enter_document(by=by, at=at, document=document, places=places)


@transaction.atomic
def enter_document(*, by: Person, at: datetime, document: Document, places: Sequence[Place]) -> tuple[Document, bool]:
    """Write the rows of a document whose file is in place, or find the one that has the same bytes."""
    take_turn(document.project_id)
    known = Document.objects.filter(project=document.project_id, digest=document.digest).first()
    if known is not None:
        back = bool(Document.objects.withdrawn().filter(pk=known.pk).update(withdrawn_at=None))
        known.withdrawn_at = None
        if put_about(known, places) or back:
            verb = "document.restored" if back else "document.placed"
            record_change(project=known.project_id, by=by, at=at, verb=verb, subject=known)
        return known, False
    document.number = queries.next_document_number(document.project)
    document.save(force_insert=True)
    put_about(document, places)
    record_change(project=document.project_id, by=by, at=at, verb="document.kept", subject=document)
    return document, True


def put_about(document: Document, places: Sequence[Place]) -> bool:
    """Say that a document is about these things; whether any of them is new to it."""
    made = [DocumentPlace.objects.get_or_create(document=document, **on(place))[1] for place in places]
    return any(made)


@transaction.atomic
def place_document(*, by: Person, at: datetime, document: Document, places: Sequence[Place]) -> Document:
    """Say that a document is about more things; about the same one twice does nothing."""
    take_turn(document.project_id)
    if put_about(document, places):
        record_change(project=document.project_id, by=by, at=at, verb="document.placed", subject=document)
    return document


@transaction.atomic
def unplace_document(*, by: Person, at: datetime, document: Document, place: DocumentPlace) -> Document:
    """Say that a document is not about a thing after all; twice does nothing."""
    take_turn(document.project_id)
    gone, _ = document.document_places.filter(pk=place.pk).delete()
    if gone:
        record_change(project=document.project_id, by=by, at=at, verb="document.unplaced", subject=document)
    return document


@transaction.atomic
def correct_document(*, by: Person, at: datetime, document: Document, reason: str = "", **words: Any) -> Document:
    """Change what is said of a document; the file itself never changes. The same words again write nothing."""
    take_turn(document.project_id)
    changed = [name for name, value in words.items() if getattr(document, name) != value]
    if not changed:
        return document
    for name in changed:
        setattr(document, name, words[name])
    document.save(update_fields=changed)
    project = document.project_id
    record_change(project=project, by=by, at=at, verb="document.corrected", subject=document, reason=reason)
    return document


@transaction.atomic
def withdraw_document(*, by: Person, at: datetime, document: Document, reason: str) -> Document:
    """Take a document out of the lists; its bytes and its history stay."""
    take_turn(document.project_id)
    return withdraw_record(
        project=document.project_id, by=by, at=at, record=document, verb="document.withdrawn", reason=reason
    )
