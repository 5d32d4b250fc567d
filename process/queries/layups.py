"""Reads about layups."""

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from parts.models import Assembly, Part
from process.models import Cured, CureRun, Layup, Mix, MixUse, Ply
from process.queries import mixes as mix_queries
from process.queries.common import all_records, records
from process.queries.own import own_values
from process.rules import layups as rules
from process.rules import schedule
from process.rules.layups import LayupFacts, PlyFacts
from process.rules.usual import Own
from process.rules.verdicts import Verdict, overall


def layups(project: Project) -> QuerySet[Layup]:
    """The layups that stand, newest first, with plies at hand."""
    return whole(records(Layup, project))


def all_layups(project: Project) -> QuerySet[Layup]:
    """The layups of a project, withdrawn ones too."""
    return whole(all_records(Layup, project))


def whole(rows: QuerySet[Layup]) -> QuerySet[Layup]:
    plies = Prefetch("plies", Ply.objects.select_related("lot"))
    return rows.select_related("mold", "core_lot", "gauge", "scale").prefetch_related(plies)


def open_layups(project: Project) -> QuerySet[Layup]:
    """Layups that are not finished, newest first."""
    return layups(project).filter(finished_at=None)


def on(assembly: Assembly) -> QuerySet[Layup]:
    """The layups on an assembly."""
    return layups(assembly.project).filter(assembly=assembly)


def of_part(part: Part) -> QuerySet[Layup]:
    """The layups of a part."""
    return layups(part.project).filter(part=part)


def with_schedule(project: Project, but: Layup | None = None) -> list[Layup]:
    """Layups whose schedule may be copied, newest first."""
    rows = layups(project).filter(plies__isnull=False).distinct()
    return list(rows.exclude(pk=but.pk) if but else rows)


def cures_of(layup: Layup) -> list[CureRun]:
    """The cure runs that this layup lay in and that stand."""
    return list(CureRun.objects.standing().filter(cured__layup=layup).distinct().order_by("started_at"))


def facts_of(layup: Layup, mixes: int | None = None, cures: int | None = None) -> LayupFacts:
    """What is said of a layup, as the rules take it."""
    plies = [PlyFacts(p.position, p.kind, p.cloth, p.faw, p.orientation, p.laid_at) for p in layup.plies.all()]
    if mixes is None:
        mixes = Mix.objects.standing().filter(uses__layup=layup).count()
    if cures is None:
        cures = len(cures_of(layup))
    same = {name: getattr(layup, name) for name in LayupFacts.__dataclass_fields__ if hasattr(layup, name)}
    return LayupFacts(**same | {"plies": plies, "mixes": mixes, "cures": cures})


def current(found: Sequence[Layup]) -> list[tuple[Layup, str]]:
    """Layups with the key of their present moment; empty for those that are finished."""
    keys = [layup.pk for layup in found]
    mixes = Counter(MixUse.objects.filter(layup__in=keys, mix__withdrawn_at=None).values_list("layup", flat=True))
    cured = Cured.objects.filter(layup__in=keys, run__withdrawn_at=None).values_list("layup", "run").distinct()
    cures = Counter(layup for layup, _ in cured)
    return [
        (layup, "" if layup.finished_at else rules.present(facts_of(layup, mixes[layup.pk], cures[layup.pk])))
        for layup in found
    ]


def verdicts(layup: Layup, own: Own | None = None) -> list[Verdict]:
    """What can be said of a layup itself; its mixes and cure runs have their own verdicts."""
    return rules.verdicts(facts_of(layup), own_values(layup.project) if own is None else own)


def whole_verdicts(layup: Layup) -> list[Verdict]:
    """What can be said of a layup and of every mix that went into it."""
    own = own_values(layup.project)
    of_mixes = [verdict for mix in mix_queries.mixes_of(layup) for verdict in mix_queries.verdicts(mix, own)]
    return [*verdicts(layup, own), *of_mixes]


def state(layup: Layup) -> str:
    """The state of a layup with its mixes: good, bad or open."""
    return overall(whole_verdicts(layup))


def stack_of(layup: Layup) -> schedule.Stack:
    """The ply schedule as a picture."""
    return schedule.stack([(p.position, p.kind, p.cloth, p.orientation, bool(p.laid_at)) for p in layup.plies.all()])


def ratio_of(project: Project) -> tuple[Decimal, Decimal] | None:
    """Resin to hardener by weight, of the mix recorded last; None where that was by volume."""
    last = mix_queries.last_mix(project)
    return (last.parts_resin, last.parts_hardener) if last is not None and last.ratio_by == "weight" else None


def totals(rows: list[Mix]) -> tuple[Decimal, Decimal, Decimal] | None:
    """Resin, hardener and hardener per 100 of all mixes by weight together; None without two."""
    weighed = [mix for mix in rows if mix.resin_g and mix.hardener_g]
    if len(weighed) < 2:
        return None
    resin = sum((mix.resin_g or Decimal(0) for mix in weighed), Decimal(0))
    hardener = sum((mix.hardener_g or Decimal(0) for mix in weighed), Decimal(0))
    return resin, hardener, Decimal(round(Fraction(hardener) / Fraction(resin) * 1000)) / 10
