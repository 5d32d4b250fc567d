"""All writes about bonds: begun, told step by step, corrected."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from accounts.models import Person, Project
from foundation.refusal import Refusal
from parts.models import Assembly, Part
from process.commands import common
from process.models import Bond, JoinedPart
from process.rules import bonds as rules


def start_bond(
    *, by: Person, at: datetime, project: Project, assembly: Assembly, joined: Iterable[Part] = (), **values: Any
) -> Bond:
    """Begin a bond; sent twice it is begun once."""
    parts = list(joined)
    check_times(values, values.get("received_at") or at)
    return common.start(
        Bond,
        by=by,
        at=at,
        project=project,
        assembly=assembly,
        then=lambda bond: write_joined(bond, parts),
        **values,
    )


def correct_bond(
    bond: Bond, *, by: Person, at: datetime, reason: str = "", joined: Iterable[Part] | None = None, **values: Any
) -> Bond:
    """Change what is said of a bond or of what it joins."""
    parts = None if joined is None else list(joined)
    check_times(values, at)
    return common.correct_fields(
        bond,
        by=by,
        at=at,
        reason=reason,
        then=lambda now: False if parts is None else write_joined(now, parts),
        **values,
    )


def tell_step(bond: Bond, *, by: Person, at: datetime, step: str, when: datetime | None = None) -> Bond:
    """Say that a step is done, now or when it was. A wipe may be told again: the last one counts."""
    if step not in rules.STEPS:
        raise Refusal("no_step", "There is no such step.")
    moment = when or at
    check_times({step: moment}, at)
    if getattr(bond, step) is not None and step != rules.WIPED:
        raise Refusal("told", f"{rules.STEPS[step]} is told already. Correct the bond if the time is wrong.")
    if step == rules.WIPED and bond.on_at is not None and moment >= bond.on_at:
        raise Refusal("on", "The adhesive is on already. Correct the bond if that is wrong.")
    values: dict[str, Any] = {step: moment}
    if step == rules.PEEL:
        values["had_peel_ply"] = rules.YES
    return common.correct_fields(bond, by=by, at=at, verb=f"bond.{step.removesuffix('_at')}", **values)


def check_times(values: dict[str, Any], now: datetime) -> None:
    """Refuse a step that lies in the future."""
    for step, words in rules.STEPS.items():
        when = values.get(step)
        if when is not None and when > now + common.CLOCK_SLACK:
            raise Refusal("in_future", f"{words} lies in the future. Check date and time.", step)


def write_joined(bond: Bond, parts: Sequence[Part]) -> bool:
    """Say what a bond joins; whether that changed."""
    before = {row.part_id: row for row in bond.joined.all()}
    wanted = {part.pk: part for part in parts}
    for part in wanted.values():
        if part.project_id != bond.project_id:
            raise Refusal("elsewhere", "That part belongs to another project.", "joined")
    for key, row in before.items():
        if key not in wanted:
            row.delete()
    for key, part in wanted.items():
        if key not in before:
            JoinedPart(bond=bond, part=part).save(force_insert=True)
    return set(before) != set(wanted)


finish_bond, reopen_bond, withdraw_bond = common.finish, common.reopen, common.withdraw
