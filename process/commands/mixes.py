"""All writes about mixes: weighed, used, spread, corrected, withdrawn."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from foundation.refusal import Refusal
from journal.commands import record_change
from parts.models import Assembly, Part
from process.commands import common
from process.models import Bond, Layup, Mix, MixUse

Thing = Layup | Bond | Part


def record_mix(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    parts_resin: Decimal,
    parts_hardener: Decimal,
    used_in: Thing | None = None,
    mixed_at: datetime | None = None,
    received_at: datetime | None = None,
    **values: Any,
) -> Mix:
    """Record a mix as it was measured out, and where it goes; sent twice it is recorded once.

    Its clock starts at `mixed_at`, or else when it is recorded.
    """
    check_ratio(parts_resin, parts_hardener)
    when = mixed_at or at
    return common.start(
        Mix,
        by=by,
        at=at,
        project=project,
        assembly=assembly,
        parts_resin=parts_resin,
        parts_hardener=parts_hardener,
        mixed_at=when,
        done_at=values.pop("done_at", None) or when,
        received_at=received_at,
        verb="mix.recorded",
        then=lambda mix: write_use(mix, used_in),
        **values,
    )


def check_ratio(resin: Decimal | None, hardener: Decimal | None) -> None:
    """Refuse a ratio without two parts."""
    if not resin or resin <= 0:
        raise Refusal("no_ratio", "The parts of resin must be more than zero.", "parts_resin")
    if not hardener or hardener <= 0:
        raise Refusal("no_ratio", "The parts of hardener must be more than zero.", "parts_hardener")


def write_use(mix: Mix, thing: Thing | None) -> bool:
    """Tie a mix to what it went into; whether that is new."""
    if thing is None:
        return False
    if thing.project_id != mix.project_id:
        raise Refusal("elsewhere", "That belongs to another project.", "used_in")
    if thing.withdrawn:
        raise Refusal("withdrawn", f"{thing} was withdrawn.", "used_in")
    name = "layup" if isinstance(thing, Layup) else "bond" if isinstance(thing, Bond) else "part"
    where: dict[str, Any] = {"mix": mix, name: thing}
    return MixUse.objects.get_or_create(**where)[1]


@transaction.atomic
def use_mix(mix: Mix, *, by: Person, at: datetime, thing: Thing) -> Mix:
    """Say where a mix went; it may have gone into several things. Said twice it is written once."""
    mix = common.fresh(mix)
    if write_use(mix, thing):
        record_change(project=mix.project_id, by=by, at=at, verb="mix.used", subject=mix)
    return mix


@transaction.atomic
def take_off_use(mix: Mix, *, by: Person, at: datetime, use: MixUse, reason: str = "") -> Mix:
    """Say that a mix did not go there after all; the journal keeps that it was said."""
    mix = common.fresh(mix)
    if use.mix_id != mix.pk:
        raise Refusal("not_there", "That is not a use of this mix.")
    if mix.finished_at is not None and not reason.strip():
        raise Refusal("no_reason", "Say why it is corrected. The old values stay in the history.", "reason")
    use.delete()
    record_change(project=mix.project_id, by=by, at=at, verb="mix.not_used", subject=mix, reason=reason)
    return mix


@transaction.atomic
def spread_mix(mix: Mix, *, by: Person, at: datetime, spread_at: datetime | None = None) -> Mix:
    """Say that the pot is empty: its clock ends. A second time changes nothing."""
    mix = common.fresh(mix)
    if mix.spread_at is not None:
        return mix
    when = spread_at or at
    if mix.mixed_at is not None and when < mix.mixed_at:
        raise Refusal("backward", "It was not spread before it was mixed. Check the times.", "spread_at")
    mix.spread_at = when
    mix.save(update_fields=["spread_at"])
    record_change(project=mix.project_id, by=by, at=at, verb="mix.spread", subject=mix)
    return mix


def correct_mix(mix: Mix, *, by: Person, at: datetime, reason: str = "", **values: Any) -> Mix:
    """Change what is said of a mix."""
    check_ratio(values.get("parts_resin", mix.parts_resin), values.get("parts_hardener", mix.parts_hardener))
    mixed, spread = values.get("mixed_at", mix.mixed_at), values.get("spread_at", mix.spread_at)
    if mixed is not None and spread is not None and spread < mixed:
        raise Refusal("backward", "It was not spread before it was mixed. Check the times.", "spread_at")
    return common.correct_fields(mix, by=by, at=at, reason=reason, **values)


finish_mix, reopen_mix, withdraw_mix = common.finish, common.reopen, common.withdraw
