"""The journal of a project as a person reads it: all entries, or the history of one record."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from accounts.models import Project
from accounts.queries import authority_names
from archive import rules
from journal import queries as journal
from journal.models import Entry
from journal.queries.story import Step, kind_of, loaded, title, told, what


@dataclass(frozen=True)
class Line:
    """One journal entry in words."""

    entry: Entry
    what: str
    title: str


@dataclass(frozen=True)
class History:
    """The whole history of one record, newest first."""

    subject: str
    title: str
    standing: bool
    steps: list[Step]

    @property
    def kind(self) -> str:
        return kind_of(self.subject)

    @property
    def key(self) -> str:
        return self.subject.partition(":")[2]


def entries(project: Project, kind: str = "") -> QuerySet[Entry]:
    """The journal of a project, newest first, of one kind of record or of all."""
    rows = journal.entries(project.pk)
    return rows.filter(subject__startswith=f"{kind}:") if kind in rules.KINDS else rows


def lines(rows: Iterable[Entry]) -> list[Line]:
    """Entries in words."""
    return [Line(row, what(row), title(row.subject, loaded(row.state))) for row in rows]


def history(project: Project, subject: str) -> History | None:
    """What happened to one record of this project: two queries. None when the journal knows nothing of it."""
    steps = told(project.pk, subject, whole=True, values=authority_names())
    if not steps:
        return None
    now = loaded(steps[0].entry.state)
    return History(subject, title(subject, now), not now.get("withdrawn_at"), steps)
