"""Drawing records for the worker; the same facts give the same bytes, so it can be done again at any time."""

import json
from collections.abc import Callable
from time import monotonic

from django.tasks import task

from certification import pages, queries
from certification.models import Pack
from foundation.digest import digest_file

# Seconds between two words of how far a drawing is; each is a write to the database.
TOLD_EVERY = 1.5


@task()
def draw_pack(key: str) -> None:
    """Draw the file of a pack; a failure becomes part of the row, so that somebody sees it."""
    pack = Pack.objects.get(pk=key)
    path = queries.pack_path(pack)
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        pages.write_record(json.loads(pack.facts), path, teller(key))
    except pages.CannotDraw as trouble:
        mark_failed(key, str(trouble))
        return
    except (
        Exception
    ) as trouble:  # a fault of the program: somebody waits for this file and has to see that none will come
        mark_failed(key, f"The program failed while drawing ({type(trouble).__name__}). Nothing was lost; report it.")
        raise
    with path.open("rb") as file:
        digest, size = digest_file(file)
    Pack.objects.filter(pk=key).update(state_word=Pack.READY, fault="", file_digest=digest, size=size)


def teller(key: str) -> Callable[[int, int], None]:
    """Writes on the pack now and then how many of its sheets are drawn."""
    last = monotonic()

    def tell(done: int, total: int) -> None:
        nonlocal last
        if total and (done == total or monotonic() - last > TOLD_EVERY):
            last = monotonic()
            Pack.objects.filter(pk=key).update(sheets_drawn=done, sheets=total)

    return tell


def mark_failed(key: str, fault: str) -> None:
    """Say on the pack that it could not be drawn, and why."""
    Pack.objects.filter(pk=key).update(state_word=Pack.FAILED, fault=fault[:300])
