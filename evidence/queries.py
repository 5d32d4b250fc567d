"""Reads about photos and documents, and where their files lie."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import reduce
from itertools import groupby
from operator import or_
from pathlib import Path

from django.conf import settings
from django.db.models import Count, F, Max, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce, TruncMonth
from django.utils import timezone

from accounts.models import Project
from calc.marks import Mark
from evidence import rules
from evidence.models import Document, DocumentPlace, Photo, PhotoMark, Place, Placement
from foundation.digest import canonical, digest_bytes, short
from parts import queries as parts
from parts.models import Assembly, Bin, Lot, Part

SIZES = (320, 1280)
WHEN = Coalesce("taken_at", "received_at")


def all_photos(project: Project) -> QuerySet[Photo]:
    """The photos of a project, withdrawn ones too: their pages and files stay readable."""
    return Photo.objects.filter(project=project)


def photos(project: Project) -> QuerySet[Photo]:
    """The photos of a project that stand, newest first by when they were taken, or else received."""
    return Photo.objects.standing().filter(project=project).order_by(WHEN.desc(), "-number")


@dataclass(frozen=True)
class Elsewhere:
    """Where photos stand in an app above this one, told by that app when the program starts.

    `keys` gives the keys of all photos of a project that stand there; `on` those that stand there for any of these
    assemblies; `assemblies` the keys of the assemblies for which one photo stands there.
    """

    keys: Callable[[Project], QuerySet]
    on: Callable[[Iterable[str]], QuerySet]
    assemblies: Callable[[Photo], QuerySet]


ELSEWHERE: list[Elsewhere] = []


def placed_on(assemblies: Iterable[str] = (), parts: Iterable[str] = ()) -> Q:
    """The condition for photos on any of these assemblies or parts, placed or by what they stand for; none twice."""
    keys = list(assemblies)
    there = Q(pk__in=Placement.objects.filter(Q(assembly__in=keys) | Q(part__in=list(parts))).values("photo"))
    return reduce(or_, (Q(pk__in=other.on(keys)) for other in ELSEWHERE), there) if keys else there


def photos_on(assembly: Assembly, below: bool = True) -> QuerySet[Photo]:
    """The photos on an assembly and its parts, with `below` also on all that hangs below it."""
    keys = parts.subtree(assembly.pk, parts.parents(assembly.project)) if below else {assembly.pk}
    own_parts = parts.parts_of(assembly.project).filter(assembly__in=keys).values_list("pk", flat=True)
    return photos(assembly.project).filter(placed_on(keys, own_parts))


def has_place(project: Project) -> Q:
    """The condition for photos that stand somewhere: placed on a thing, or used in an app above this one."""
    there = Q(pk__in=Placement.objects.filter(photo__project=project).values("photo"))
    return reduce(or_, (Q(pk__in=other.keys(project)) for other in ELSEWHERE), there)


# ---- the contact sheet ----

# A piece of one month is so many photos: complete rows in 2, 3, 4, 5 and 6 columns.
PIECE = 60


@dataclass(frozen=True)
class Wanted:
    """Which photos the contact sheet shows: all that stand, or those for which everything said here is so."""

    assembly: Assembly | None = None
    below: bool = True
    place: Place | None = None
    uncaptioned: bool = False
    unplaced: bool = False
    clips: bool = False
    builder: bool = False
    shows: str = ""


def shown(project: Project, wanted: Wanted) -> QuerySet[Photo]:
    """The photos that the contact sheet shows, newest first."""
    rows = photos_on(wanted.assembly, wanted.below) if wanted.assembly else photos(project)
    if wanted.place is not None:
        rows = rows.filter(pk__in=placements_on(wanted.place).values("photo"))
    if wanted.uncaptioned:
        rows = rows.filter(caption="")
    if wanted.unplaced:
        rows = rows.exclude(has_place(project))
    if wanted.clips:
        rows = rows.filter(kind__in=rules.VIDEO | rules.AUDIO)
    if wanted.builder:
        rows = rows.filter(builder_in_frame=True)
    return rows.filter(shows=wanted.shows) if wanted.shows else rows


def placements_on(place: Place) -> QuerySet[Placement]:
    """The placements on one thing."""
    return Placement.objects.filter(**{place._meta.model_name or "": place})


def counts(rows: QuerySet[Photo]) -> dict[str, int]:
    """How many photos these are, and how many of them the short filters would leave."""
    clips = Q(kind__in=rules.VIDEO | rules.AUDIO)
    return rows.order_by().aggregate(
        all=Count("pk"),
        uncaptioned=Count("pk", filter=Q(caption="")),
        clips=Count("pk", filter=clips),
        builder=Count("pk", filter=Q(builder_in_frame=True)),
        waiting=Count("pk", filter=Q(drawn_at=None, fault="") & ~clips),
    )


@dataclass(frozen=True)
class Month:
    """A month of the contact sheet: its first day, and how many photos it has."""

    day: date
    count: int


def months(rows: QuerySet[Photo]) -> list[Month]:
    """The months in which these photos were taken, newest first, on the current clock."""
    told = rows.order_by().annotate(month=TruncMonth(WHEN)).values("month").annotate(count=Count("pk"))
    return sorted((Month(row["month"].date(), row["count"]) for row in told), key=lambda one: one.day, reverse=True)


@dataclass(frozen=True)
class Spot:
    """A place in the order of the contact sheet, just before the photos that are older than this."""

    when: datetime
    number: int

    def __str__(self) -> str:
        return f"{round(self.when.timestamp() * 1_000_000)}-{self.number}"

    @classmethod
    def read(cls, text: str) -> "Spot | None":
        """A place as an address carries it; None for what is not one."""
        when, _, number = text.partition("-")
        try:
            return cls(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(when)), int(number))
        except (ValueError, OverflowError):
            return None

    @classmethod
    def end_of(cls, month: date) -> "Spot":
        """The place just after a month, on the current clock."""
        following = date(month.year + month.month // 12, month.month % 12 + 1, 1)
        return cls(datetime.combine(following, time(), timezone.get_current_timezone()), 0)


@dataclass(frozen=True)
class Piece:
    """Photos of one month in a row; `first` when they are the newest of it."""

    day: date
    first: bool
    photos: list[Photo]


@dataclass(frozen=True)
class Chunk:
    """What is loaded of the contact sheet at once, and the place where it goes on (None at the end)."""

    pieces: list[Piece]
    further: Spot | None


def chunk(rows: QuerySet[Photo], after: Spot | None) -> Chunk:
    """The photos of the sheet that come after a place: one query. Each piece but the last of a month is full."""
    found = list(with_marks_counted(older_than(rows, after))[: 2 * PIECE + 1])
    more, found = len(found) > 2 * PIECE, found[: 2 * PIECE]
    pieces: list[Piece] = []
    before, used = month_of(after.when) if after else None, 0
    while used < len(found) and used < PIECE:
        day, alike = next_month(found[used : used + PIECE])
        pieces.append(Piece(day, day != before, alike))
        before, used = day, used + len(alike)
    last = found[used - 1] if used else None
    further = Spot(last.when, last.number) if last and (more or used < len(found)) else None
    return Chunk(pieces, further)


def next_month(photos: list[Photo]) -> tuple[date, list[Photo]]:
    """The month of the first of these photos, and those at their head that are of the same month."""
    day, alike = next(groupby(photos, key=lambda photo: month_of(photo.when)))
    return day, list(alike)


def month_of(when: datetime) -> date:
    """The first day of a time's month, on the current clock."""
    return timezone.localtime(when).date().replace(day=1)


def older_than(rows: QuerySet[Photo], place: Spot | None) -> QuerySet[Photo]:
    """The photos after a place in the order of the sheet."""
    if place is None:
        return rows
    return rows.alias(when_at=WHEN).filter(Q(when_at__lt=place.when) | Q(when_at=place.when, number__lt=place.number))


def with_marks_counted(rows: QuerySet[Photo]) -> QuerySet[Photo]:
    """Photos that know in `mark_count` how many marks are drawn over them."""
    drawn = PhotoMark.objects.filter(photo=OuterRef("pk")).order_by().values("photo").annotate(n=Count("pk"))
    return rows.annotate(mark_count=Coalesce(Subquery(drawn.values("n")), 0))


@dataclass(frozen=True)
class Around:
    """Where a photo stands among others: the newer and the older one, both ends, its place from 1, of how many.

    The place is 0 for a photo that is not one of them.
    """

    newer: Photo | None
    older: Photo | None
    first: Photo | None
    last: Photo | None
    place: int
    count: int


def around(photo: Photo, rows: QuerySet[Photo]) -> Around:
    """The surroundings of a photo on the contact sheet of these photos."""
    newer_ones = newer_than(rows, photo)
    here = Spot(photo.when, photo.number)
    return Around(
        newer=newer_ones.order_by(WHEN.asc(), "number").first(),
        older=older_than(rows, here).first(),
        first=rows.first(),
        last=rows.order_by(WHEN.asc(), "number").first(),
        place=newer_ones.count() + 1 if rows.filter(pk=photo.pk).exists() else 0,
        count=rows.count(),
    )


def newer_than(rows: QuerySet[Photo], photo: Photo) -> QuerySet[Photo]:
    """The photos before this one in the order of the sheet."""
    return rows.alias(when_at=WHEN).filter(Q(when_at__gt=photo.when) | Q(when_at=photo.when, number__gt=photo.number))


def with_bytes(project: Project, digests: Iterable[str]) -> list[Photo]:
    """The photos of a project that have any of these digests, withdrawn ones too."""
    return list(all_photos(project).filter(digest__in=list(digests)))


def neighbors(photo: Photo) -> tuple[Photo | None, Photo | None]:
    """The photos before and after this one on the sheet of all: the newer one and the older one."""
    found = around(photo, photos(photo.project))
    return found.newer, found.older


def earlier_of_same_place(photo: Photo, most: int = 12) -> list[Photo]:
    """Pictures of the same things from before, newest first: with what a photo is compared."""
    rows = placements(photo)
    keys = {one.assembly_id for one in rows if one.assembly_id} | {one.part.assembly_id for one in rows if one.part}
    for other in ELSEWHERE:
        keys |= set(other.assemblies(photo))
    things = [Q(pk__in=placements_on(one.thing).values("photo")) for one in rows]
    same = reduce(or_, things, placed_on(keys))
    older = older_than(photos(photo.project).filter(same), Spot(photo.when, photo.number))
    return list(older.exclude(kind__in=rules.VIDEO | rules.AUDIO).exclude(drawn_at=None)[:most])


def marks_token(marks: Iterable[PhotoMark]) -> str:
    """A digest of marks as they stand, by which is known whether others were drawn meanwhile."""
    told = [[mark.kind, *mark.corners, mark.words] for mark in sorted(marks, key=lambda mark: mark.position)]
    return digest_bytes(canonical(told).encode())


def by_keys(project: Project, keys: Iterable[str]) -> list[Photo]:
    """The standing photos of a project with these keys, in the order of the keys; unknown keys are left out."""
    wanted = list(dict.fromkeys(keys))
    found = photos(project).in_bulk(wanted)
    return [found[key] for key in wanted if key in found]


def placements(photo: Photo) -> QuerySet[Placement]:
    """Where a photo is shown: first on assemblies, then on parts, bins and lots."""
    rows = photo.placements.select_related("assembly", "part__assembly", "bin", "lot")
    return rows.order_by(F("assembly__number").asc(nulls_last=True), "part__number", "bin__number", "lot__number", "pk")


def place_by_key(project: Project, key: str, *, withdrawn_too: bool = False) -> Place | None:
    """The assembly, part, bin or lot of a project that has this key and stands; None where there is none."""
    kinds: list[type[Place]] = [Assembly, Part, Bin, Lot]
    stands = {} if withdrawn_too else {"withdrawn_at": None}
    rows = (kind.objects.filter(project=project, pk=key, **stands).first() for kind in kinds) if key else iter(())
    return next((row for row in rows if row is not None), None)


def next_number(project: Project) -> int:
    """The number for the next photo of a project; withdrawn photos keep theirs."""
    return (Photo.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def shelf(base: Path, digest: str, ending: str) -> Path:
    """The place of a file on disk, told by its digest alone and never by anything a person typed."""
    body = digest.removeprefix("sha256:")
    if len(body) != 64 or not set(body) <= set("0123456789abcdef"):
        raise ValueError(f"not a digest: {digest!r}")
    return base / body[:2] / f"{body}{ending}"


def original_path(photo: Photo) -> Path:
    """Where the untouched original lies."""
    return shelf(settings.ORIGINALS_DIR, photo.digest, f".{photo.kind}")


def rendition_path(digest: str, size: int) -> Path:
    """Where a rendition lies, or will when it is drawn; `size` is its longest side in pixels."""
    return shelf(settings.RENDITIONS_DIR, digest, f"-{size}.jpg")


def marked_path(digest: str, marks: Sequence[Mark]) -> Path:
    """Where the large rendition with these marks drawn in lies, or will when it is drawn."""
    told = canonical([[mark.number, mark.kind, mark.x1, mark.y1, mark.x2, mark.y2, mark.words] for mark in marks])
    return shelf(settings.RENDITIONS_DIR, digest, f"-marks-{short(digest_bytes(told.encode()))}.jpg")


def has_rendition(photo: Photo, size: int) -> bool:
    """Whether a rendition lies ready."""
    return rendition_path(photo.digest, size).exists()


def waiting(project: Project) -> QuerySet[Photo]:
    """Photos whose renditions are still to be drawn; those that cannot be drawn are not waited for."""
    return photos(project).filter(drawn_at__isnull=True, fault="")


def piece_path(person: str, digest: str) -> Path:
    """Where a large file is gathered that somebody sends in pieces."""
    return settings.FILE_UPLOAD_TEMP_DIR / f"{person}-{shelf(Path(), digest, '.part').name}"


def gathered(person: str, digest: str) -> int:
    """How many bytes of such a file are here."""
    path = piece_path(person, digest)
    return path.stat().st_size if path.exists() else 0


def is_on(project: Project, digest: str, place: Place | None) -> bool:
    """Whether a photo with these bytes is shown on a thing already."""
    rows = Placement.objects.filter(photo__project=project, photo__digest=digest)
    return place is not None and rows.filter(**{place._meta.model_name or "": place}).exists()


def by_digests(project: Project, digests: Iterable[str]) -> dict[str, Photo]:
    """The standing photos of a project that have these bytes, by digest."""
    rows = Photo.objects.standing().filter(project=project, digest__in=list(digests))
    return {photo.digest: photo for photo in rows}


# ---- documents ----


def documents(project: Project) -> QuerySet[Document]:
    """The documents of a project that stand, newest first."""
    return Document.objects.standing().filter(project=project).order_by("-number")


def all_documents(project: Project) -> QuerySet[Document]:
    """The documents of a project, withdrawn ones too: their pages and files stay readable."""
    return Document.objects.filter(project=project)


def find_documents(project: Project, text: str = "", kind: str = "") -> QuerySet[Document]:
    """Documents of this kind with the text in title, revision, note or file name."""
    found = documents(project)
    if kind:
        found = found.filter(kind=kind)
    if text:
        holds = (Q(**{f"{name}__icontains": text}) for name in ("title", "revision", "note", "file_name"))
        found = found.filter(reduce(or_, holds))
    return found


def documents_about(place: Place) -> QuerySet[Document]:
    """The standing documents about one thing."""
    there = DocumentPlace.objects.filter(**{place._meta.model_name or "": place})
    return documents(place.project).filter(pk__in=there.values("document"))


def document_places(document: Document) -> QuerySet[DocumentPlace]:
    """What a document is about: first assemblies, then parts, bins and lots."""
    rows = document.document_places.select_related("assembly", "part__assembly", "bin", "lot")
    kinds = (F(f"{kind}__number").asc(nulls_last=True) for kind in ("assembly", "part", "bin", "lot"))
    return rows.order_by(*kinds, "pk")


@dataclass(frozen=True)
class About:
    """A thing of an app above this one that a document is about: what it is, its number and name, and its page."""

    noun: str
    number: str
    name: str
    page: str


# What tells of a document what else it is about; added to by apps above this one when the program starts.
ABOUT: list[Callable[[Document], list[About]]] = []


def about_elsewhere(document: Document) -> list[About]:
    """What a document is about in apps above this one."""
    return [one for tell in ABOUT for one in tell(document)]


def next_document_number(project: Project) -> int:
    """The number for the next document of a project; withdrawn ones keep theirs."""
    return (Document.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def document_path(document: Document) -> Path:
    """Where the untouched file lies."""
    ending = rules.DOCUMENT_ENDINGS.get(document.media_type, "bin")
    return shelf(settings.DOCUMENTS_DIR, document.digest, f".{ending}")


def document_time(document: Document, project: Project) -> datetime:
    """When a document counts in an order of time: noon of the day it carries, or else when it came in."""
    if document.dated_on is None:
        return document.received_at
    return datetime.combine(document.dated_on, time(12), project.zone)


def papers_photographed(place: Place) -> QuerySet[Photo]:
    """The photos of receipts and labels that are placed on a thing: papers, too."""
    rows = photos(place.project).filter(shows__in=("receipt", "label"))
    return rows.filter(pk__in=placements_on(place).values("photo"))
