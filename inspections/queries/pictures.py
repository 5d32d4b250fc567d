"""Photos of what is enclosed, and where they stand at gates."""

from django.db.models import Q, QuerySet

from accounts.models import Person, Project
from buildlog import queries as work
from evidence import queries as evidence
from evidence.models import Photo, Placement
from evidence.rules import CLIPS
from inspections.models import Area, Exhibit, Point, PointPhoto, Requirement
from inspections.queries.branches import below
from inspections.queries.covered import worked_below


def photos_of(project: Project, assemblies: set[str]) -> QuerySet[Photo]:
    """Photos of these assemblies: placed on them or their parts, or taken in sessions worked on them; newest first."""
    placed = Placement.objects.filter(Q(assembly__in=assemblies) | Q(part__assembly__in=assemblies))
    return evidence.photos(project).filter(
        Q(pk__in=placed.values("photo")) | Q(pk__in=work.photos_on(assemblies).values("pk"))
    )


def in_place() -> QuerySet[Exhibit]:
    """The photos in place for what the gates of standing areas still ask for."""
    return Exhibit.objects.filter(requirement__dropped_at=None, requirement__area__withdrawn_at=None)


# Told to the contact sheet below: photos at gates have a home, on the assemblies of the areas.
AT_GATES = evidence.Elsewhere(
    keys=lambda project: in_place().filter(requirement__area__project=project).values("photo"),
    on=lambda assemblies: in_place().filter(requirement__area__assembly__in=list(assemblies)).values("photo"),
    assemblies=lambda photo: in_place().filter(photo=photo).values_list("requirement__area__assembly", flat=True),
)


def at_points() -> QuerySet[PointPhoto]:
    """The photos in place at hold and witness points that stand."""
    return PointPhoto.objects.filter(point__withdrawn_at=None)


# Told to the contact sheet below: photos at points have a home as well.
AT_POINTS = evidence.Elsewhere(
    keys=lambda project: at_points().filter(point__project=project).values("photo"),
    on=lambda assemblies: at_points().filter(point__assembly__in=list(assemblies)).values("photo"),
    assemblies=lambda photo: at_points().filter(photo=photo).values_list("point__assembly", flat=True),
)


def photos_for_point(project: Project, point: Point) -> QuerySet[Photo]:
    """Photos of what a point belongs to that are not in place there yet; newest first. No clip can be."""
    pictures = photos_of(project, below(project, point.assembly_id)).exclude(kind__in=CLIPS)
    return pictures.exclude(pk__in=point.point_photos.values("photo"))


def photos_to_choose(project: Project, area: Area, requirement: Requirement) -> QuerySet[Photo]:
    """Photos of what the area belongs to that are not in place for this item yet; newest first. No clip can be."""
    there = requirement.exhibits.values("photo")
    pictures = photos_of(project, below(project, area.assembly_id)).exclude(kind__in=CLIPS)
    return pictures.exclude(pk__in=there)


def worked_on(person: Person, project: Project, area: Area) -> bool:
    """Whether this person worked on what the area belongs to (rule R24)."""
    return worked_below(person, project, area.assembly_id)
