"""All writes about statements. A statement is never changed: it stands in a logbook. A wrong one is withdrawn."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Statement
from certification.queries import flights as queries
from certification.rules import flights as flying
from certification.rules import statements as rules
from evidence.models import Document
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

KINDS_OF = {"vso": "speed", "vx": "speed", "vy": "speed", "weight": "mass", "arm": "length"}


@transaction.atomic
def make_statement(
    *,
    by: Person,
    at: datetime,
    project: Project,
    kind: str,
    text: str,
    wording: str,
    made_on: date,
    elements: Sequence[str] = (),
    hours: Decimal | None = None,
    document: Document | None = None,
    **figures: str,
) -> Statement:
    """Keep a statement as it stands in the logbook; refused while one of its elements is missing."""
    take_turn(project.pk)
    said = {name: flying.quantity(figures.get(name, ""), what, project.units, name) for name, what in KINDS_OF.items()}
    progress = queries.progress(project)
    rules.check(
        kind,
        elements,
        {**said, "hours": hours},
        progress,
        text=text,
        wording=wording,
        made_on=made_on,
        today=at.astimezone(project.zone).date(),
    )
    if document is not None and document.project_id != project.pk:
        raise Refusal("elsewhere", "That document belongs to another project.", "document")
    known = [element.key for element in rules.ELEMENTS[kind] if element.tick and element.key in elements]
    made = Statement(
        project=project,
        kind=kind,
        text=text.strip(),
        wording=wording,
        elements=known,
        made_on=made_on,
        hours=progress.hours if kind == rules.PHASE_END else hours,
        document=document,
        entered_at=at,
        entered_by=by,
        **said,
    )
    made.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="statement.made", subject=made)
    return made


@transaction.atomic
def withdraw_statement(*, by: Person, at: datetime, statement: Statement, reason: str) -> Statement:
    """Take a statement that was entered wrongly off the list; it stays readable."""
    take_turn(statement.project_id)
    return withdraw_record(
        project=statement.project_id, by=by, at=at, record=statement, verb="statement.withdrawn", reason=reason.strip()
    )
