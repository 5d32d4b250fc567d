"""Process records that gates ask for. Each kind is told here once; gates then find its records by their names."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from accounts.models import Project
from inspections.rules.gates import RecordFacts


@dataclass(frozen=True)
class ProcessRecord:
    """One process record as a gate needs it: `subject` names it in the journal, `facts` are what a signature covers.

    `verdict` is "good", "bad" or "open"; `at` is when it was finished; `page` is its address. `recorded` says of a good
    one that no rule judged it: it counts, but nobody calls it good.
    """

    subject: str
    label: str
    verdict: str
    at: datetime
    facts: Mapping[str, Any] = field(default_factory=dict)
    page: str = ""
    withdrawn: bool = False
    recorded: bool = False

    def told(self) -> RecordFacts:
        """As the rules of gates take it."""
        return RecordFacts(self.subject, self.label, self.verdict, self.at, self.withdrawn)


@dataclass(frozen=True)
class ProcessSource:
    """One kind of process record: how it is called, and its records.

    `named` gives those with these names in the journal, withdrawn ones too; `on` those that stand on any of these
    assemblies, newest first, to choose from; `new` gives the address of the page that begins one on an assembly.
    """

    kind: str
    words: str
    named: Callable[[Project, Iterable[str]], list[ProcessRecord]]
    on: Callable[[Project, Iterable[str]], list[ProcessRecord]]
    new: Callable[[Project, str], str] = lambda project, assembly: ""


SOURCES: dict[str, ProcessSource] = {}


def kinds() -> dict[str, str]:
    """The kinds of process records that a gate can ask for, with their words."""
    return {kind: source.words for kind, source in SOURCES.items()}


def records(project: Project, wanted: Iterable[tuple[str, str]]) -> dict[str, ProcessRecord]:
    """The process records of these (kind, name) pairs by name; one call for each kind."""
    by_kind: dict[str, list[str]] = defaultdict(list)
    for kind, subject in wanted:
        by_kind[kind].append(subject)
    found = (SOURCES[kind].named(project, subjects) for kind, subjects in by_kind.items() if kind in SOURCES)
    return {record.subject: record for rows in found for record in rows}


def new_page(project: Project, kind: str, assembly: str) -> str:
    """The address of the page that begins a record of a kind on an assembly; empty where there is none."""
    return SOURCES[kind].new(project, assembly) if kind in SOURCES else ""


def to_choose(project: Project, kind: str, assemblies: Iterable[str]) -> list[ProcessRecord]:
    """The records of one kind on these assemblies; none for a kind that is not known."""
    return SOURCES[kind].on(project, assemblies) if kind in SOURCES else []
