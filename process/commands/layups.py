"""All writes about layups: begun, told moment by moment, plies laid, schedule changed, finished, withdrawn."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.commands import record_change
from parts.models import Assembly, Part
from process.commands import common
from process.models import Layup, Ply
from process.rules import schedule

PLY_FIELDS = ("kind", "cloth", "lot", "faw", "faw_gsm", "orientation", "extent", "splice")
PlyValues = dict[str, Any]


def start_layup(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    request_id: str = "",
    part: Part | None = None,
    plies: Sequence[PlyValues] = (),
    **values: Any,
) -> Layup:
    """Begin a layup of a part, with its ply schedule where it is known; sent twice it is begun once."""
    check_mold(values.get("mold"), part)
    return common.start(
        Layup,
        by=by,
        at=at,
        project=project,
        assembly=assembly,
        request_id=request_id,
        part=part,
        then=lambda layup: write_plies(layup, plies),
        **values,
    )


def check_mold(mold: Part | None, part: Part | None) -> None:
    """Refuse a part that is laid up on itself."""
    if mold is not None and mold == part:
        raise Refusal("own_mold", "A part is not its own mold. Choose the mold or the base part.", "mold")


def tell_moment(layup: Layup, *, by: Person, at: datetime, reason: str = "", **values: Any) -> Layup:
    """Write what is known at one moment of a layup: room and cloth, times, vacuum, thickness and weight."""
    first = values.get("first_wetout_at", layup.first_wetout_at)
    last = values.get("last_wetout_at", layup.last_wetout_at)
    if first is not None and last is not None and last < first:
        raise Refusal("backward", "The last wet-out lies before the first. Check the times.", "last_wetout_at")
    for name in ("first_wetout_at", "last_wetout_at", "bagged_at", "demolded_at"):
        if values.get(name) is not None and values[name] > at + common.CLOCK_SLACK:
            raise Refusal("in_future", "That lies in the future. Check date and time.", name)
    return common.correct_fields(layup, by=by, at=at, reason=reason, verb="layup.moment", **values)


def correct_layup(layup: Layup, *, by: Person, at: datetime, reason: str = "", **values: Any) -> Layup:
    """Change what a layup is called, of what it is, and when and by whom it was done."""
    check_mold(values.get("mold"), values.get("part"))
    return common.correct_fields(layup, by=by, at=at, reason=reason, **values)


# ---- plies ----


def write_plies(layup: Layup, plies: Sequence[PlyValues]) -> list[Ply]:
    """Write the schedule anew in this order; a ply that was there before keeps its key and when it was laid."""
    if len(plies) > schedule.MOST:
        raise Refusal("too_many", f"A schedule has at most {schedule.MOST} layers.")
    for values in plies:
        schedule.angles(values.get("orientation", ""))
    before = {ply.pk: ply for ply in layup.plies.all()}
    rows = []
    for position, values in enumerate(plies, start=1):
        old = before.get(values.get("id", ""))
        known = {name: values[name] for name in PLY_FIELDS if name in values}
        laid_at = old.laid_at if old else None
        rows.append(Ply(id=old.pk if old else new_key(), layup=layup, position=position, laid_at=laid_at, **known))
    # Numbers stand once in a layup, so the old rows go first; the journal keeps them.
    layup.plies.all().delete()
    Ply.objects.bulk_create(rows)
    return rows


@transaction.atomic
def set_plies(layup: Layup, *, by: Person, at: datetime, plies: Sequence[PlyValues], reason: str = "") -> Layup:
    """Put a ply schedule in place of the one before; once a ply is laid or the layup is finished, with a reason."""
    layup = common.fresh(layup)
    before = list(layup.plies.all())
    is_same = same(before, plies)
    begun = layup.finished_at is not None or any(ply.laid_at for ply in before)
    if begun and not is_same and not reason.strip():
        raise Refusal("no_reason", "Plies of this schedule are laid. Say why it changes; the old one stays.", "reason")
    kept = {values.get("id") for values in plies}
    gone = [ply for ply in before if ply.laid_at and ply.pk not in kept]
    if gone:
        numbers = ", ".join(str(ply.position) for ply in gone)
        raise Refusal("laid", f"Ply {numbers} is laid, so it stays in the schedule. Take back that it is laid first.")
    if not is_same:
        write_plies(layup, plies)
        record_change(project=layup.project_id, by=by, at=at, verb="layup.plies", subject=layup, reason=reason)
    return layup


def same(before: Sequence[Ply], plies: Sequence[PlyValues]) -> bool:
    """Whether a schedule says what is there already."""
    if [ply.pk for ply in before] != [values.get("id") for values in plies]:
        return False
    return all(
        getattr(ply, name) == values[name]
        for ply, values in zip(before, plies, strict=True)
        for name in PLY_FIELDS
        if name in values
    )


@transaction.atomic
def lay_ply(layup: Layup, *, by: Person, at: datetime, position: int, laid_at: datetime | None = None) -> Layup:
    """Say that a ply is laid, when it was tapped; a second tap changes nothing. The wet-out times follow."""
    layup = common.fresh(layup)
    ply = one_ply(layup, position)
    if ply.laid_at is not None:
        return layup
    refuse_finished(layup)
    when = laid_at or at
    ply.laid_at = when
    ply.save(update_fields=["laid_at"])
    first, last = layup.first_wetout_at, layup.last_wetout_at
    layup.first_wetout_at = min(first, when) if first else when
    layup.last_wetout_at = max(last, when) if last else when
    layup.save(update_fields=["first_wetout_at", "last_wetout_at"])
    record_change(project=layup.project_id, by=by, at=at, verb="layup.ply_laid", subject=layup)
    return layup


@transaction.atomic
def take_back_ply(layup: Layup, *, by: Person, at: datetime, position: int) -> Layup:
    """Say that a ply is not laid after all: the tap was a slip. The wet-out times follow the plies that are left."""
    layup = common.fresh(layup)
    ply = one_ply(layup, position)
    if ply.laid_at is None:
        return layup
    refuse_finished(layup)
    was, ply.laid_at = ply.laid_at, None
    ply.save(update_fields=["laid_at"])
    times = sorted(one.laid_at for one in layup.plies.all() if one.laid_at is not None)
    # A time that was entered by hand stays; only one that came of this tap goes.
    if layup.first_wetout_at == was:
        layup.first_wetout_at = times[0] if times else None
    if layup.last_wetout_at == was:
        layup.last_wetout_at = times[-1] if times else None
    layup.save(update_fields=["first_wetout_at", "last_wetout_at"])
    record_change(project=layup.project_id, by=by, at=at, verb="layup.ply_taken_back", subject=layup)
    return layup


def one_ply(layup: Layup, position: int) -> Ply:
    """The ply with this number. Raises Refusal where there is none."""
    ply = layup.plies.filter(position=position).first()
    if ply is None:
        raise Refusal("no_such_ply", f"{layup.label} has no ply {position}. Look at the schedule.")
    return ply


def refuse_finished(layup: Layup) -> None:
    """Refuse a tap on a layup that is finished."""
    if layup.finished_at is not None:
        raise Refusal("finished", f"{layup.label} is finished. Open it again first.")


finish_layup, reopen_layup, withdraw_layup = common.finish, common.reopen, common.withdraw
