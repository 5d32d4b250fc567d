"""System checks of the journal."""

from collections.abc import Sequence
from typing import Any

from django.core.checks import Error, Tags, register

from journal import guards


@register(Tags.database)
def guards_in_place(databases: Sequence[str] | None, **_: Any) -> list[Error]:
    """journal.E001: a guard of the append-only tables is missing."""
    return [
        Error(f"The trigger {name} is missing from database {using!r}.", hint="Run migrate.", id="journal.E001")
        for using in databases or []
        for name in guards.missing(using)
    ]
