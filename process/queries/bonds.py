"""Reads about bonds."""

from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from process.models import Bond, Cured, CureRun, JoinedPart, Mix, MixUse
from process.queries.common import all_records, records
from process.rules import bonds as rules
from process.rules.verdicts import Verdict


def whole(rows: QuerySet[Bond]) -> QuerySet[Bond]:
    """Bonds with what they join, their mixes and cures at hand."""
    return rows.prefetch_related(
        Prefetch("joined", JoinedPart.objects.select_related("part")),
        Prefetch("mix_uses", MixUse.objects.select_related("mix")),
        Prefetch("cures", Cured.objects.select_related("run")),
    )


def bonds(project: Project) -> QuerySet[Bond]:
    """The bonds that stand, newest first."""
    return whole(records(Bond, project))


def all_bonds(project: Project) -> QuerySet[Bond]:
    """The bonds of a project, withdrawn ones too."""
    return whole(all_records(Bond, project))


def facts_of(bond: Bond) -> rules.BondFacts:
    """A bond as its rules take it."""
    names = rules.BondFacts.__dataclass_fields__
    return rules.BondFacts(**{name: getattr(bond, name) for name in names})


def verdicts(bond: Bond) -> list[Verdict]:
    """What the program makes of a bond."""
    return rules.verdicts(facts_of(bond), ZoneInfo(bond.project.time_zone))


def mixes_of(bond: Bond) -> list[Mix]:
    """The mixes that stand and went into a bond."""
    return [use.mix for use in bond.mix_uses.all() if not use.mix.withdrawn]


def cures_of(bond: Bond) -> list[CureRun]:
    """The cure runs that stand in which a bond lay."""
    return [row.run for row in bond.cures.all() if not row.run.withdrawn]
