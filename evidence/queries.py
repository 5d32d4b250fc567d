"""Reads about photos, and where their files lie."""

from collections.abc import Iterable
from pathlib import Path

from django.conf import settings
from django.db.models import F, Max, Q, QuerySet
from django.db.models.functions import Coalesce

from accounts.models import Project
from evidence.models import Photo, Place, Placement
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


def placed_on(assemblies: Iterable[str] = (), parts: Iterable[str] = ()) -> Q:
    """The condition for photos placed on any of these assemblies or parts; no photo comes twice."""
    there = Q(assembly__in=list(assemblies)) | Q(part__in=list(parts))
    return Q(pk__in=Placement.objects.filter(there).values("photo"))


def photos_on(assembly: Assembly, below: bool = True) -> QuerySet[Photo]:
    """The photos placed on an assembly and its parts, with `below` also on all that hangs below it."""
    keys = parts.subtree(assembly.pk, parts.parents(assembly.project)) if below else {assembly.pk}
    own_parts = parts.parts_of(assembly.project).filter(assembly__in=keys).values_list("pk", flat=True)
    return photos(assembly.project).filter(placed_on(keys, own_parts))


def uncaptioned(project: Project) -> QuerySet[Photo]:
    """The photos that do not say yet what they show."""
    return photos(project).filter(caption="")


def shown(
    project: Project, *, assembly: Assembly | None = None, below: bool = True, uncaptioned_only: bool = False
) -> QuerySet[Photo]:
    """The photos that the contact sheet shows: of one assembly or of all, with or without captions."""
    rows = photos_on(assembly, below) if assembly else photos(project)
    return rows.filter(caption="") if uncaptioned_only else rows


def by_keys(project: Project, keys: Iterable[str]) -> list[Photo]:
    """The standing photos of a project with these keys, in the order of the keys; unknown keys are left out."""
    wanted = list(dict.fromkeys(keys))
    found = photos(project).in_bulk(wanted)
    return [found[key] for key in wanted if key in found]


def neighbors(photo: Photo) -> tuple[Photo | None, Photo | None]:
    """The photos before and after this one on the contact sheet: the newer one and the older one."""
    rows = photos(photo.project).annotate(when_at=WHEN)
    newer = Q(when_at__gt=photo.when) | Q(when_at=photo.when, number__gt=photo.number)
    older = Q(when_at__lt=photo.when) | Q(when_at=photo.when, number__lt=photo.number)
    return rows.filter(newer).order_by("when_at", "number").first(), rows.filter(older).first()


def placements(photo: Photo) -> QuerySet[Placement]:
    """Where a photo is shown: first on assemblies, then on parts."""
    rows = photo.placements.select_related("assembly", "part__assembly")
    return rows.order_by(F("assembly__number").asc(nulls_last=True), "part__number", "pk")


def place_by_key(project: Project, key: str) -> Place | None:
    """The assembly, part, bin or lot of a project that has this key and stands; None where there is none."""
    kinds: list[type[Place]] = [Assembly, Part, Bin, Lot]
    rows = (kind.objects.standing().filter(project=project, pk=key).first() for kind in kinds) if key else iter(())
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


def has_rendition(photo: Photo, size: int) -> bool:
    """Whether a rendition lies ready."""
    return rendition_path(photo.digest, size).exists()


def waiting(project: Project) -> QuerySet[Photo]:
    """Photos whose renditions are still to be drawn; those that cannot be drawn are not waited for."""
    return photos(project).filter(drawn_at__isnull=True, fault="")
