"""No false alarms: whatever people do through the program, a check finds nothing (rule R33)."""

from collections import Counter
from random import Random

import pytest
from django.db import transaction

from archive import queries
from tests.archive.honest import ACTS, History

pytestmark = [pytest.mark.slow, pytest.mark.django_db]
HISTORIES, STEPS = 100, 17


def test_a_hundred_honest_histories_raise_no_alarm() -> None:
    done: Counter[str] = Counter()
    for number in range(HISTORIES):
        with transaction.atomic():
            history = History(Random(number))
            # The last one is as long as it takes to have every kind of record.
            history = history.live_it_all() if number == HISTORIES - 1 else history.live(STEPS)
            reading = queries.check(history.project.pk)
            assert [fault.words for fault in reading.faults] == [], f"history {number}"
            assert queries.stray_faults() == []
            done += history.done
            transaction.set_rollback(True)
    never = {do.__name__ for do in ACTS} - done.keys()
    assert len(never) * 10 <= len(ACTS), f"these were refused every time: {never}"
