"""Work on photos that can be made again, for the worker."""

from django.tasks import task
from django.utils import timezone

from evidence import queries, renditions
from evidence.models import Photo
from foundation.refusal import Refusal

NOT_FOUND = "The original could not be read from the server's disk. Check the health of the record."


@task()
def draw_renditions(key: str) -> None:
    """Draw a photo's renditions; a picture that cannot be decoded is marked so that somebody sees it."""
    photo = Photo.objects.get(pk=key)
    try:
        with queries.original_path(photo).open("rb") as file:
            renditions.draw(file, photo.digest)
    except Refusal as no:
        Photo.objects.filter(pk=key).update(fault=no.message[:200])
    except OSError:
        Photo.objects.filter(pk=key).update(fault=NOT_FOUND)
    else:
        Photo.objects.filter(pk=key).update(drawn_at=timezone.now(), fault="")
