"""What is made of process records of every kind: their verdicts, in a fixed number of queries for each kind.

A new kind adds its judge to `JUDGES`.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from accounts.models import Project
from process.models import KINDS, Bond, CureRun, Layup, Mix, ProcessRecord
from process.pages import cures as cure_pages
from process.queries import bonds, checks, facts, layups, mixes, own
from process.rules import layups as layup_rules
from process.rules import words
from process.rules.usual import Own
from process.rules.verdicts import BAD, GOOD, MARKS, OPEN, Verdict, overall

WORDS = {GOOD: "Good", BAD: "Bad verdict", OPEN: "No verdict yet"}


@dataclass(frozen=True)
class Judged:
    """A record with its verdicts, and the mixes that were judged with it.

    `bare` is the state of a finished record of which no rule says anything.
    """

    record: ProcessRecord
    verdicts: Sequence[Verdict]
    mixes: Sequence[Mix] = ()
    bare: str = OPEN

    @property
    def state(self) -> str:
        """Good, bad or open; what is not finished is open."""
        if not self.record.finished_at:
            return OPEN
        return overall(list(self.verdicts)) if self.verdicts else self.bare

    @property
    def mark(self) -> str:
        """The drawn state that stands beside the word."""
        return MARKS[self.state]

    @property
    def word(self) -> str:
        """The state in a word or two."""
        return WORDS[self.state]

    @property
    def recorded(self) -> bool:
        """Finished and never judged: it stands, but no rule calls it good."""
        return not self.verdicts and self.state == GOOD

    @property
    def covered(self) -> dict[str, Any]:
        """What a signature over the record covers."""
        return facts.covered(self.record, self.mixes)


def judge_layups(rows: Sequence[Layup], known: Own) -> list[Judged]:
    """Layups, each with the mixes that went into it."""
    used, cured = facts.with_mixes(rows), facts.cured_layups(rows)
    found = []
    for layup in rows:
        told = layups.facts_of(layup, mixes=len(used[layup.pk]), cures=cured[layup.pk])
        of_mixes = [verdict for mix in used[layup.pk] for verdict in mixes.verdicts(mix, known)]
        found.append(Judged(layup, [*layup_rules.verdicts(told, known), *of_mixes], used[layup.pk]))
    return found


def judge_mixes(rows: Sequence[Mix], known: Own) -> list[Judged]:
    return [Judged(mix, mixes.verdicts(mix, known)) for mix in rows]


def judge_cures(rows: Sequence[CureRun], known: Own) -> list[Judged]:
    """Cure runs: the kept verdict where it is of the record as it is now."""
    return [Judged(run, cure_pages.standing(run, known).verdicts) for run in rows]


def judge_bonds(rows: Sequence[Bond], known: Own) -> list[Judged]:
    """Bonds, each with the mixes that went into it."""
    used = facts.with_mixes(rows)
    found = []
    for bond in rows:
        of_mixes = [verdict for mix in used[bond.pk] for verdict in mixes.verdicts(mix, known)]
        found.append(Judged(bond, [*bonds.verdicts(bond), *of_mixes], used[bond.pk]))
    return found


def judge_checks(rows: Sequence[ProcessRecord], known: Own) -> list[Judged]:
    """Checks; one that no rule judges, such as a row of bolts, stands once it is finished."""
    return [Judged(row, checks.verdicts(row, known), bare=GOOD) for row in rows]


JUDGES: dict[str, Callable[[Any, Own], list[Judged]]] = {
    words.LAYUP: judge_layups,
    words.MIX: judge_mixes,
    words.CURE: judge_cures,
    words.BOND: judge_bonds,
    **dict.fromkeys(checks.CHECKS, judge_checks),
}


def judged(kind: str, project: Project, rows: Iterable[ProcessRecord], known: Own | None = None) -> list[Judged]:
    """Records of one kind (as `queries.facts.rows` gives them) with their verdicts, in their order."""
    found = list(rows)
    if not found:
        return []
    values: Mapping[str, Any] = own.own_values(project) if known is None else known
    judge = JUDGES.get(kind)
    return judge(found, values) if judge else [Judged(one, ()) for one in found]


def turned(project: Project, known: Own) -> list[tuple[Judged, Judged]]:
    """Finished records whose state would be another by these own values: as they stand, and as they would."""
    now = own.own_values(project)
    found = []
    for kind in KINDS:
        rows = [row for row in facts.rows(kind, project) if row.finished_at and not row.withdrawn]
        pairs = zip(judged(kind, project, rows, now), judged(kind, project, rows, known), strict=True)
        found += [(before, after) for before, after in pairs if before.state != after.state]
    return found
