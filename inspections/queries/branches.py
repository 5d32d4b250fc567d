"""The state of every assembly."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from accounts.models import Project
from buildlog import queries as work
from calc.hours import decimal_hours
from inspections import rules
from inspections.queries.gates import JudgedArea, judged
from parts import queries as parts_queries
from parts.models import Assembly
from parts.queries import Node

ASSEMBLY_WORDS = {
    "not-started": "Not started",
    "work": "In work",
    "hold": "Hold",
    "signed": "Signed",
    "closed": "Closed up",
}


@dataclass(frozen=True)
class Branch:
    """One assembly as the tree shows it: place, hours in seconds, state."""

    node: Node
    own: int
    below: int
    state: str

    @property
    def key(self) -> str:
        return self.node.assembly.pk

    @property
    def number(self) -> str:
        return self.node.assembly.number

    @property
    def name(self) -> str:
        return self.node.assembly.name

    @property
    def depth(self) -> int:
        return self.node.depth

    @property
    def total(self) -> int:
        return self.own + self.below

    @property
    def own_hours(self) -> Decimal:
        return decimal_hours(self.own)

    @property
    def below_hours(self) -> Decimal:
        return decimal_hours(self.below)

    @property
    def state_word(self) -> str:
        return ASSEMBLY_WORDS[self.state]


def assembly_state(gates: list[JudgedArea], total: int) -> str:
    """The state of an assembly, derived from its own areas and from whether any work was logged."""
    states = [one.gate.state for one in gates]
    if states and all(state in {rules.CLOSED, rules.ADVISED} for state in states):
        return "closed"
    if rules.HOLD in states:
        return "hold"
    if states and all(one.is_signed or one.closing for one in gates):
        return "signed"
    return "work" if total else "not-started"


def branches(project: Project, gates: list[JudgedArea] | None = None) -> list[Branch]:
    """Every assembly in reading order with hours and state: a fixed number of queries whatever the tree."""
    by_assembly: dict[str, list[JudgedArea]] = defaultdict(list)
    for one in judged(project) if gates is None else gates:
        by_assembly[one.area.assembly_id].append(one)
    return [
        Branch(row.node, row.own, row.below, assembly_state(by_assembly[row.node.assembly.pk], row.total))
        for row in work.hours_by_assembly(project)
    ]


def below(project: Project, assembly: str) -> set[str]:
    """The keys of an assembly and of all below it."""
    return parts_queries.subtree(assembly, parts_queries.parents(project))


def trail(rows: list[Branch], assembly: Assembly) -> list[Branch]:
    """The assemblies that this one is part of, from the top."""
    by_key = {branch.key: branch for branch in rows}
    parent_of = {branch.key: branch.node.assembly.parent_id for branch in rows}
    return [by_key[key] for key in reversed(list(parts_queries.above(assembly.pk, parent_of))) if key in by_key]


def children(rows: list[Branch], assembly: Assembly) -> list[Branch]:
    """The assemblies right below this one."""
    return [branch for branch in rows if branch.node.assembly.parent_id == assembly.pk]


def recent_branches(
    project: Project, rows: list[Branch], most: int, but: set[str]
) -> list[tuple[Branch, datetime | None]]:
    """The assemblies worked on last, with when; filled up from the top of the tree on a fresh project."""
    last = work.last_worked(project)
    order = sorted((b for b in rows if b.key in last and b.key not in but), key=lambda b: last[b.key], reverse=True)
    order += [branch for branch in rows if branch.key not in last and branch.key not in but]
    return [(branch, last.get(branch.key)) for branch in order[:most]]
