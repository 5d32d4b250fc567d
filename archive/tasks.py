"""Checking a project's record: by the worker, or by whoever asks. What it finds can be found again at any time."""

from time import monotonic

from django.db.models import QuerySet
from django.tasks import task
from django.utils import timezone

from archive import queries
from archive.models import Verification
from archive.queries import Progress, Reading
from archive.queries.whole import silent
from archive.rules import MOST_KEPT

# Seconds between two notes of how far a run is.
PACE = 2.0
# Somebody may have made a digest longer than a digest is.
LONGEST = Verification._meta.get_field("newest_digest").max_length


@task()
def check_record(key: str) -> None:
    """Check the record of the project of this run."""
    carry_out(key)


def carry_out(key: str, progress: Progress = silent) -> Reading:
    """Check a project, noting on its run how far it is, and what was found or that it was broken off."""
    run = Verification.objects.filter(pk=key)
    run.update(heard_at=timezone.now(), chapter="rows", done=0, total=0, broken_off_at=None)
    try:
        reading = queries.read(run.values_list("project", flat=True).get(), progress)
        # Photos weigh most by far, so they alone are counted while it runs.
        run.update(
            heard_at=timezone.now(),
            chapter="originals",
            total=reading.originals,
            records=reading.records,
            entries=reading.chain.entries,
            signatures=reading.signatures,
            originals=reading.originals,
            newest_seq=reading.chain.newest_seq,
            newest_digest=reading.chain.newest_digest[:LONGEST],
        )
        look_at_originals(run, reading, progress)
    except BaseException:  # an interrupt too: nobody shall wait for what will not come
        run.update(broken_off_at=timezone.now())
        raise
    run.update(
        ended_at=timezone.now(),
        done=reading.originals,
        faults=[[fault.chapter, fault.kind, fault.words] for fault in reading.faults[:MOST_KEPT]],
        fault_count=len(reading.faults),
    )
    return reading


def look_at_originals(run: QuerySet[Verification], reading: Reading, progress: Progress) -> None:
    """The last chapter, which reads every photo and may take long."""
    told = monotonic()
    for done, found in enumerate(queries.original_faults(reading.chain), start=1):
        reading.faults += found
        progress("originals", done, reading.originals)
        if monotonic() - told > PACE:
            told = monotonic()
            run.update(heard_at=timezone.now(), done=done)
