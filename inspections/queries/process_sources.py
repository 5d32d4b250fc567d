"""Every kind of process record, told to the gates: see `processes.SOURCES`."""

from collections.abc import Iterable
from functools import partial

from django.urls import NoReverseMatch, reverse

from accounts.models import Project
from inspections.queries.processes import SOURCES, ProcessRecord, ProcessSource
from process.models import KINDS
from process.models import ProcessRecord as Row
from process.pages.judged import Judged, judged
from process.queries import facts


def register() -> None:
    """Let gates ask for records of every kind."""
    for kind, model in KINDS.items():
        SOURCES[kind] = ProcessSource(
            kind, model.TELLING.noun, partial(named, kind), partial(on, kind), partial(new, kind)
        )


def named(kind: str, project: Project, subjects: Iterable[str]) -> list[ProcessRecord]:
    """The records of a kind with these names in the journal, withdrawn ones too."""
    begins = f"{KINDS[kind]._meta.label_lower}:"
    keys = [name.removeprefix(begins) for name in subjects if name.startswith(begins)]
    return told(kind, project, facts.rows(kind, project).filter(pk__in=keys)) if keys else []


def on(kind: str, project: Project, assemblies: Iterable[str]) -> list[ProcessRecord]:
    """The records of a kind that stand on any of these assemblies, newest first."""
    rows = facts.rows(kind, project).filter(withdrawn_at=None, assembly__in=list(assemblies))
    return told(kind, project, rows.order_by("-done_at", "-number"))


def told(kind: str, project: Project, rows: Iterable[Row]) -> list[ProcessRecord]:
    return [as_gates_take_it(one, project) for one in judged(kind, project, rows)]


def as_gates_take_it(one: Judged, project: Project) -> ProcessRecord:
    """A process record as gates and signatures take it."""
    record = one.record
    return ProcessRecord(
        subject=record.subject,
        label=f"{record.label} {record.title}".strip(),
        verdict=one.state,
        at=record.finished_at or record.done_at,
        facts=one.covered,
        page=page(record, project),
        withdrawn=record.withdrawn,
        recorded=one.recorded,
    )


def page(record: Row, project: Project) -> str:
    """The address of a record's page."""
    return address(project, record.KIND, "", record.pk)


def new(kind: str, project: Project, assembly: str) -> str:
    """The address of the page that begins a record of a kind on an assembly."""
    found = address(project, kind, "_new")
    return f"{found}?assembly={assembly}" if found else ""


def address(project: Project, kind: str, act: str, *keys: str) -> str:
    """The address of a page of a kind: under its own name, or under that of checks, which share theirs."""
    for name, args in ((f"process:{kind}{act}", keys), (f"process:check{act}", (kind, *keys))):
        try:
            return reverse(name, args=[project.slug, *args])
        except NoReverseMatch:
            continue
    return ""
