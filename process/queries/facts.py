"""Process records as others need them: which there are, and what of each a signature covers."""

from collections.abc import Callable, Iterable
from typing import Any

from django.db.models import Q, QuerySet

from accounts.models import Project
from foundation.digest import canonical
from foundation.record import Recorded
from process.models import KINDS, Bond, Cured, Layup, Mix, MixUse, ProcessRecord
from process.queries import bonds, checks, cures, layups, mixes
from process.queries.common import all_records

# What says how a record came here and not what was done.
HOW_IT_CAME = {"id", "project", "request_id", "entered_at", "entered_by", "received_at", "withdrawn_at"}
WHOLE: dict[str, Callable[[Any], QuerySet[Any]]] = {
    "layup": layups.whole,
    "mix": mixes.whole,
    "cure": cures.whole,
    "bond": bonds.whole,
}


def rows(kind: str, project: Project) -> QuerySet[ProcessRecord]:
    """The records of one kind, withdrawn ones too, with all that is in them at hand: a fixed number of queries."""
    found: QuerySet[Any] = all_records(KINDS[kind], project)
    whole = checks.whole(kind, found) if kind in checks.CHECKS else WHOLE[kind](found)
    return whole.prefetch_related(*KINDS[kind].PARTS)


def with_mixes(found: Iterable[Layup | Bond]) -> dict[str, list[Mix]]:
    """The standing mixes of several layups or bonds, by their key, in the order in which they were mixed."""
    used: dict[str, list[Mix]] = {one.pk: [] for one in found}
    into = Q(layup__in=list(used)) | Q(bond__in=list(used))
    pairs = list(MixUse.objects.filter(into, mix__withdrawn_at=None).values_list("layup", "bond", "mix"))
    rows = mixes.whole(Mix.objects.select_related("project").prefetch_related("shots"))
    known = {mix.pk: mix for mix in rows.filter(pk__in=[mix for *_, mix in pairs])}
    for layup, bond, mix in pairs:
        used[layup or bond].append(known[mix])
    for each in used.values():
        each.sort(key=lambda mix: (mix.mixed_at or mix.done_at, mix.number))
    return used


def cured_layups(found: Iterable[Layup]) -> dict[str, int]:
    """In how many standing cure runs each of several layups lay, by the layup's key."""
    keys = [layup.pk for layup in found]
    pairs = set(Cured.objects.filter(layup__in=keys, run__withdrawn_at=None).values_list("layup", "run"))
    return {key: sum(layup == key for layup, _ in pairs) for key in keys}


def covered(record: ProcessRecord, used: Iterable[Mix] = ()) -> dict[str, Any]:
    """What a signature covers of a record: all recorded of it and its parts; of a layup or a bond its mixes too.

    Figures that follow from what was typed, and keys that name a row and not what is in it, are left out.
    """
    told = said(record, HOW_IT_CAME)
    mixed = {mix.label: said(mix, HOW_IT_CAME | {"uses"}) for mix in used}
    return told | ({"mixes": mixed} if mixed else {})


def said(row: Recorded, apart: set[str]) -> dict[str, Any]:
    """The state of a row without what is `apart`, silent, or a key of its own; its parts in a fixed order."""
    state = row.state()
    silent = row.TELLING.silent
    told = {name: value for name, value in state.items() if name not in apart | silent and name not in row.PARTS}
    for part in row.PARTS:
        if part in state and part not in apart:
            own = row._meta.get_field(part)  # type: ignore[attr-defined]  # mixed into models only
            quiet = set(own.related_model.TELLING.silent) | {"id", own.field.name}
            inner = [{n: v for n, v in each.items() if n not in quiet and v is not None} for each in state[part]]
            told[part] = sorted(inner, key=canonical)
    return told
