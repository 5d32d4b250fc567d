"""Saying of work that was logged after an area had been closed that it did not touch the inside (rule R23)."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from accounts.models import Person
from buildlog.models import WorkSession
from foundation.refusal import Refusal
from inspections.commands.areas import judged
from inspections.models import Area, Explained
from inspections.queries import since as queries
from inspections.rules import since as rules
from journal.commands import record_change, take_turn


@transaction.atomic
def explain_work(
    *, by: Person, at: datetime, area: Area, sessions: Sequence[WorkSession], words: str
) -> list[Explained]:
    """Say of sessions after a closing for good why the inside was not touched; said again, the later words stand.

    Whoever did touch the inside opens the area again instead.
    """
    take_turn(area.project_id)
    now = judged(area)
    rules.check_explain(now.area.kind, now.closing is not None, words, len(sessions))
    found = queries.worked_after(area.project, [now])
    after = {row.session.pk: row.explained for one in found for row in one.sessions}
    if any(session.pk not in after for session in sessions):
        raise Refusal("not_after", "That session is not work on this assembly after the closing.", "sessions")
    changed = [explain(by, at, area, session, words.strip(), after[session.pk]) for session in sessions]
    rows = [row for row in changed if row is not None]
    if rows:
        record_change(project=area.project_id, by=by, at=at, verb="area.worked_inside", subject=area)
    return rows


def explain(
    by: Person, at: datetime, area: Area, session: WorkSession, words: str, there: Explained | None
) -> Explained | None:
    """Write one explanation, or none when the same words stand there."""
    if there is None:
        row = Explained(area=area, session=session, words=words, at=at, by=by)
        row.save(force_insert=True)
        return row
    if there.words == words:
        return None
    there.words, there.at, there.by = words, at, by
    there.save(update_fields=["words", "at", "by"])
    return there
