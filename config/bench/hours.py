"""The roll-up of hours over the tree against raw recursive SQL."""

import random
import sqlite3
from datetime import UTC, datetime, timedelta

from django.db import connection

from accounts import commands as accounts
from accounts.models import Person, Project, User
from buildlog import queries
from buildlog.models import SessionShare, WorkSession
from config.bench.measure import Ratio, in_turn
from parts.models import Assembly

SESSIONS, ASSEMBLIES = 10_000, 500

# Sessions grouped first, then joined to each of their ancestors: the fast way to say it in one statement.
RECURSIVE = """
WITH RECURSIVE own (node, seconds) AS (
  SELECT share.assembly_id, SUM(share.seconds) FROM buildlog_sessionshare share
  JOIN buildlog_worksession session ON session.id = share.session_id
  WHERE session.project_id = ? AND session.withdrawn_at IS NULL AND session.ended_at IS NOT NULL
  GROUP BY share.assembly_id
), line (node, above) AS (
  SELECT id, id FROM parts_assembly WHERE project_id = ? AND withdrawn_at IS NULL
  UNION ALL
  SELECT line.node, assembly.parent_id FROM line JOIN parts_assembly assembly ON assembly.id = line.above
  WHERE assembly.parent_id IS NOT NULL
)
SELECT line.above, SUM(CASE WHEN line.node = line.above THEN own.seconds ELSE 0 END),
       SUM(CASE WHEN line.node <> line.above THEN own.seconds ELSE 0 END)
FROM line JOIN own ON own.node = line.node GROUP BY line.above
"""


def measure(quick: bool) -> Ratio:
    """Own and below of every assembly, by our queries and by one recursive statement through the sqlite3 module."""
    project = fill()
    connection.ensure_connection()
    raw = sqlite3.connect(connection.settings_dict["NAME"])
    raw.execute("PRAGMA cache_size=-4000")

    def reference(_: int) -> dict[str, tuple[int, int]]:
        return {row[0]: (row[1], row[2]) for row in raw.execute(RECURSIVE, (project.pk, project.pk))}

    def ours(_: int) -> dict:
        return queries.rolled_hours(project)

    told = {key: (rolled.own, rolled.below) for key, rolled in ours(0).items() if rolled.total}
    if told != reference(0):
        raise SystemExit("bench hours: the two ways do not agree")
    result = in_turn("hours", ours, reference, n=40 if quick else 200)
    raw.close()
    return result


def fill() -> Project:
    """A project of ten years: a tree six deep, ten thousand sessions, a third of them shared by two assemblies."""
    chance, start = random.Random(7), datetime(2016, 1, 1, tzinfo=UTC)
    user = User.objects.create_user("bench-hours")
    project, person = accounts.found_project(
        user=user, at=start, builder="Bench", name="Bench hours", slug="bench-hours"
    )
    nodes: list[Assembly] = []
    for number in range(ASSEMBLIES):
        parent = chance.choice(nodes[: max(1, number // 2)]) if nodes and chance.random() < 0.97 else None
        nodes.append(Assembly(project=project, parent=parent, number=str(number), name=f"Assembly {number}"))
    Assembly.objects.bulk_create(nodes)
    sessions = [session(project, person, number, start + timedelta(hours=8 * number)) for number in range(SESSIONS)]
    WorkSession.objects.bulk_create(sessions)
    SessionShare.objects.bulk_create(
        SessionShare(session=one, assembly=node, seconds=one.labor_seconds // 2)
        for one in sessions
        for node in chance.sample(nodes, 2 if chance.random() < 0.33 else 1)
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return project


def session(project: Project, person: Person, number: int, start: datetime) -> WorkSession:
    return WorkSession(
        project=project,
        number=number + 1,
        request_id=f"bench-{number}",
        started_at=start,
        ended_at=start + timedelta(hours=2),
        source="live",
        labor_seconds=7200,
        entered_at=start,
        entered_by=person,
    )
