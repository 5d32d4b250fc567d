"""Reads about mixes."""

from datetime import datetime

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.utils import timezone

from accounts.models import Project
from process.models import Layup, Mix, MixUse, Tool
from process.queries.common import all_records, records
from process.queries.own import own_values
from process.rules import mixes as rules
from process.rules.mixes import LotFacts, MixFacts, Scale
from process.rules.quantities import size
from process.rules.usual import Own
from process.rules.verdicts import Verdict, overall

ROWS = ("resin_lot", "hardener_lot", "scale")


def mixes(project: Project) -> QuerySet[Mix]:
    """The mixes that stand, newest first, with lots, scale and uses at hand."""
    return whole(records(Mix, project))


def all_mixes(project: Project) -> QuerySet[Mix]:
    """The mixes of a project, withdrawn ones too."""
    return whole(all_records(Mix, project))


def whole(rows: QuerySet[Mix]) -> QuerySet[Mix]:
    others = Mix.objects.standing().filter(uses__layup=OuterRef("layup")).exclude(pk=OuterRef("mix"))
    uses = MixUse.objects.select_related("layup", "bond", "part").annotate(with_others=Exists(others))
    return rows.select_related(*ROWS).prefetch_related(Prefetch("uses", uses))


def mixes_of(layup: Layup) -> list[Mix]:
    """The mixes that went into a layup and stand, in the order in which they were mixed."""
    return list(mixes(layup.project).filter(uses__layup=layup).order_by("mixed_at", "number"))


def last_mix(project: Project) -> Mix | None:
    """The mix recorded last: the next one is mostly of the same resin."""
    return mixes(project).first()


def named(project: Project, name: str) -> Mix | None:
    """The standing mix with this key or request id."""
    rows = mixes(project)
    return rows.filter(pk=name).first() or rows.filter(request_id=name).first()


def running(project: Project) -> list[Mix]:
    """Pots that are not spread and whose clock runs."""
    rows = mixes(project).filter(spread_at=None, finished_at=None)
    return list(rows.exclude(mixed_at=None).exclude(pot_life_min=None).order_by("mixed_at"))


def facts_of(mix: Mix) -> MixFacts:
    """What is said of a mix, as the rules take it."""
    lots = [lot for lot in (mix.resin_lot, mix.hardener_lot) if lot is not None]
    scale = mix.scale
    day = timezone.localtime(mix.mixed_at or mix.done_at, mix.project.zone).date()
    return MixFacts(
        ratio_by=mix.ratio_by,
        parts_resin=mix.parts_resin,
        parts_hardener=mix.parts_hardener,
        window_percent=mix.window_percent,
        resin=mix.resin,
        hardener=mix.hardener,
        scale=Scale(str(scale), scale.resolution, scale.error_percent) if scale else None,
        mixed_at=mix.mixed_at,
        spread_at=mix.spread_at,
        last_wetout_at=last_wetout(mix),
        pot_life_min=mix.pot_life_min,
        pot_temp=mix.pot_temp,
        source=mix.source,
        lots=[LotFacts(str(lot), lot.shelf_life(day).expires, lot.status) for lot in lots],
        day=day,
    )


def last_wetout(mix: Mix) -> datetime | None:
    """The last wet-out of the finished layup that was made with this mix alone; None where no tap tells when it ended.

    With several pots to a layup its last wet-out says nothing of the earlier ones.
    """
    uses = [(use, use.layup) for use in mix.uses.all() if use.layup is not None]
    if mix.spread_at is not None or mix.mixed_at is None or len(uses) != 1:
        return None
    ((use, layup),) = uses
    when = layup.last_wetout_at
    if when is None or layup.finished_at is None or when < mix.mixed_at:
        return None
    return None if with_others(use) else when


def with_others(use: MixUse) -> bool:
    """Whether other mixes went into the same layup; `whole` has it at hand, for lists."""
    known: bool | None = getattr(use, "with_others", None)
    if known is not None:
        return known
    return Mix.objects.standing().filter(uses__layup=use.layup_id).exclude(pk=use.mix_id).exists()


def verdicts(mix: Mix, own: Own | None = None) -> list[Verdict]:
    """What can be said of a mix: ratio, pot life, lots."""
    return rules.verdicts(facts_of(mix), own_values(mix.project) if own is None else own)


def state(mix: Mix, own: Own | None = None) -> str:
    """The state of all verdicts of a mix together."""
    return overall(verdicts(mix, own))


def scale_errors(project: Project) -> dict[str, dict[str, str]]:
    """What the scales of the project can be wrong by, by key, for the verdict on the page."""
    found = {}
    for tool in Tool.objects.standing().filter(project=project, kind="scale"):
        step = size(tool.resolution, "g") if tool.resolution else 0
        found[tool.pk] = {"step": str(float(step)), "percent": str(tool.error_percent or 0)}
    return found
