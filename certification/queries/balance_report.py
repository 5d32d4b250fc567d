"""The facts of the report about weight and balance, as they stand at one moment."""

from datetime import datetime
from typing import Any

from accounts.models import Project
from certification.queries.balance import balance_facts
from certification.queries.record import identity
from certification.queries.words import moment
from foundation.digest import short
from journal.queries import head


def report_facts(project: Project, at: datetime, by_name: str) -> dict[str, Any]:
    """Identity, weight and balance, and the newest journal entry they rest on, as JSON values."""
    newest = head(project.pk)
    return {
        "printed": moment(at, project.zone),
        "printed_by": by_name,
        "head": {"seq": newest.seq, "digest": newest.digest, "short": short(newest.digest)} if newest else None,
        "project": identity(project),
        "balance": balance_facts(project),
    }
