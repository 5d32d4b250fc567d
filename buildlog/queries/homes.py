"""Photos of sessions, told to the contact sheet below: they have a home, on the assemblies worked on."""

from collections.abc import Iterable

from django.db.models import QuerySet

from accounts.models import Project
from buildlog.models import SessionPhoto
from evidence.models import Photo
from evidence.queries import Elsewhere


def attached() -> QuerySet[SessionPhoto]:
    """The photos of sessions that stand, timers too."""
    return SessionPhoto.objects.filter(session__withdrawn_at=None)


def keys(project: Project) -> QuerySet:
    """Keys of the photos in sessions of a project."""
    return attached().filter(session__project=project).values("photo")


def on(assemblies: Iterable[str]) -> QuerySet:
    """Keys of the photos in sessions that were worked on any of these assemblies."""
    return attached().filter(session__shares__assembly__in=list(assemblies)).values("photo")


def assemblies(photo: Photo) -> QuerySet:
    """Keys of the assemblies worked on in the sessions of a photo."""
    return attached().filter(photo=photo).values_list("session__shares__assembly", flat=True)


IN_SESSIONS = Elsewhere(keys, on, assemblies)
