"""Photos of process records, told to the contact sheet below: they have a home, on the record's assembly."""

from collections.abc import Iterable
from functools import reduce
from operator import or_

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce

from accounts.models import Project
from evidence.models import Photo
from evidence.queries import Elsewhere
from process.models import KINDS, Shot


def standing() -> QuerySet[Shot]:
    """Photos of records that have not been withdrawn."""
    return Shot.objects.filter(any_kind("withdrawn_at__isnull", True))


def any_kind(field: str, value: object) -> Q:
    """The condition that the record shown, of whatever kind, has this value."""
    return reduce(or_, (Q(**{f"{kind}__isnull": False, f"{kind}__{field}": value}) for kind in KINDS))


def keys(project: Project) -> QuerySet:
    """Keys of the photos of the process records of a project."""
    return standing().filter(photo__project=project).values("photo")


def on(assemblies: Iterable[str]) -> QuerySet:
    """Keys of the photos of process records on any of these assemblies."""
    return standing().filter(any_kind("assembly__in", list(assemblies))).values("photo")


def assemblies(photo: Photo) -> QuerySet:
    """Keys of the assemblies of the records that a photo stands for."""
    one = Coalesce(*(f"{kind}__assembly_id" for kind in KINDS))
    return standing().filter(photo=photo).annotate(on=one).values_list("on", flat=True)


IN_RECORDS = Elsewhere(keys, on, assemblies)
