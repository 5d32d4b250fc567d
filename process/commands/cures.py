"""All writes about cure runs: begun, stopped, specified, logged, corrected. The verdict is made after each."""

from collections.abc import Callable, Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from accounts.models import Person, Project
from calc.trouble import Impossible
from evidence.models import Document
from foundation.refusal import Refusal
from parts.models import Assembly, Part
from process.commands import common
from process.models import Bond, Coupon, Cured, CurePoint, CureRun, Layup, StackMaterial
from process.pages import cures as pages
from process.queries import cures as queries
from process.rules import cures as rules
from process.rules import logs, quantities

Thing = Layup | Bond | Part | Coupon

MOST_POINTS = 2000


@dataclass(frozen=True)
class Typed:
    """One temperature that was typed: with its unit, beside the figure."""

    sensor: str
    at: datetime
    temp: str
    temp_degc: Decimal


def start_run(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    started_at: datetime | None = None,
    cured: Iterable[Thing] = (),
    stack: Iterable[rules.Material] = (),
    received_at: datetime | None = None,
    **values: Any,
) -> CureRun:
    """Begin a run, now or when it was; sent twice it is begun once."""
    started = started_at or at
    check_times(started, values.get("stopped_at"), received_at or at)
    things, materials = list(cured), list(stack)

    def then(run: CureRun) -> None:
        write_cured(run, things)
        write_stack(run, materials)

    values.setdefault("done_at", started)
    run = common.start(
        CureRun,
        by=by,
        at=at,
        project=project,
        assembly=assembly,
        started_at=started,
        received_at=received_at,
        then=then,
        **values,
    )
    return judge_now(run, at)


def correct_run(
    run: CureRun,
    *,
    by: Person,
    at: datetime,
    reason: str = "",
    cured: Iterable[Thing] | None = None,
    stack: Iterable[rules.Material] | None = None,
    verb: str = "",
    **values: Any,
) -> CureRun:
    """Change what is said of a run, of what lay in it, or of its stack."""
    started = values.get("started_at", run.started_at)
    check_times(started, values.get("stopped_at", run.stopped_at), at)
    things, materials = None if cured is None else list(cured), None if stack is None else list(stack)

    check_specification(run, values)

    def then(now: CureRun) -> bool:
        changed = False if things is None else write_cured(now, things)
        return (False if materials is None else write_stack(now, materials)) or changed

    if "started_at" in values:
        values.setdefault("done_at", started)
    corrected = common.correct_fields(run, by=by, at=at, reason=reason, verb=verb, then=then, **values)
    return judge_now(corrected, at)


def stop_run(run: CureRun, *, by: Person, at: datetime, stopped_at: datetime | None = None) -> CureRun:
    """Say that the heat is off. A second time changes nothing."""
    if run.stopped_at is not None:
        return run
    when = stopped_at or at
    check_times(run.started_at, when, at)
    return judge_now(common.correct_fields(run, by=by, at=at, verb="cure.stopped", stopped_at=when), at)


def check_times(started: datetime, stopped: datetime | None, now: datetime) -> None:
    """Refuse a run that stops before it starts, or lies in the future."""
    for name, when in (("started_at", started), ("stopped_at", stopped)):
        if when is not None and when > now + common.CLOCK_SLACK:
            raise Refusal("in_future", "That lies in the future. Check date and time.", name)
    if stopped is not None and stopped <= started:
        raise Refusal("backward", "It cannot stop before it started. Check the times.", "stopped_at")


def check_specification(run: CureRun, values: dict[str, Any]) -> None:
    """Refuse a specification that no cure could meet, as it would be with these values."""
    wanted = copy(run)
    for name, value in values.items():
        setattr(wanted, name, value)
    try:
        rules.check_spec(pages.spec(wanted))
    except Impossible as no:
        renamed = {"dwell_max": "soak_max", "ramp_max": "ramp_max_per_min", "cool_max": "cool_max_per_min"}
        raise Refusal(no.code, no.sentence, renamed.get(no.field or "", no.field)) from no


def write_cured(run: CureRun, things: Sequence[Thing]) -> bool:
    """Say what lay in a run; whether that changed."""
    before = {(row.layup_id, row.bond_id, row.part_id, row.coupon_id): row for row in run.cured.all()}
    wanted: dict[tuple, dict[str, Thing]] = {}
    for thing in things:
        if thing.project_id != run.project_id:
            raise Refusal("elsewhere", "That belongs to another project.", "cured")
        name = thing.KIND if isinstance(thing, Layup | Bond | Coupon) else "part"
        key = tuple(thing.pk if name == column else None for column in ("layup", "bond", "part", "coupon"))
        wanted[key] = {name: thing}
    for key, row in before.items():
        if key not in wanted:
            row.delete()
    for key, where in wanted.items():
        if key not in before:
            Cured(run=run, **where).save(force_insert=True)
    return set(before) != set(wanted)


def write_stack(run: CureRun, materials: Sequence[rules.Material]) -> bool:
    """Say what is in the heated stack; whether that changed."""
    names = [one.name for one in materials]
    if len(set(names)) != len(names):
        raise Refusal("twice", "A material stands twice in the stack.", "stack")
    before = {row.name: row for row in run.stack.all()}
    changed = False
    for one in materials:
        row = before.pop(one.name, None)
        if row is None:
            StackMaterial(run=run, name=one.name, limit=one.limit, source=one.source).save(force_insert=True)
        elif (row.limit, row.source) != (one.limit, one.source):
            row.limit, row.source = one.limit, one.source
            row.save(update_fields=["limit", "source"])
        else:
            continue
        changed = True
    for row in before.values():
        row.delete()
        changed = True
    return changed


def type_points(run: CureRun, *, by: Person, at: datetime, points: Sequence[Typed], reason: str = "") -> CureRun:
    """Put the typed temperatures of a run: all of them, as they are now."""
    if len(points) > MOST_POINTS:
        raise Refusal("too_many", f"{len(points)} points are too many to type. Send them as a file.", "points")
    wanted: dict[tuple[str, datetime], Typed] = {}
    for one in points:
        if one.at > at + common.CLOCK_SLACK:
            raise Refusal("in_future", f"{one.sensor}, {one.temp}: that lies in the future.", "points")
        if (one.sensor, one.at) in wanted:
            raise Refusal("twice", f"{one.sensor} has two temperatures at one time. Keep one of them.", "points")
        wanted[one.sensor, one.at] = one

    def then(now: CureRun) -> bool:
        before = {(row.sensor, row.at): row for row in now.points.all()}
        changed = False
        for key, one in wanted.items():
            row = before.pop(key, None)
            if row is None:
                CurePoint(run=now, **one.__dict__).save(force_insert=True)
            elif row.temp != one.temp:
                row.temp, row.temp_degc = one.temp, one.temp_degc
                row.save(update_fields=["temp", "temp_degc"])
            else:
                continue
            changed = True
        for row in before.values():
            row.delete()
        return changed or bool(before)

    common.correct_fields(run, by=by, at=at, reason=reason, verb="cure.points_typed", then=then)
    return judge_now(run, at)


def read_in(
    run: CureRun,
    *,
    by: Person,
    at: datetime,
    document: Document,
    reading: logs.Reading,
    take_times: bool = True,
    reason: str = "",
) -> CureRun:
    """Let a kept logger file speak for a run, read in this way. `take_times` takes start and end of the log over.

    The file is read before anything is written: a line that cannot be read refuses the whole.
    """
    if document.project_id != run.project_id:
        raise Refusal("elsewhere", "That file belongs to another project.", "log")
    log = pages.read_log(document, reading, ZoneInfo(run.project.time_zone), run.started_at)
    ends = log.starts + timedelta(minutes=max(track.minutes[-1] for track in log.tracks))
    if ends > at + common.CLOCK_SLACK:
        raise Refusal(
            "in_future",
            "By this reading the log ends in the future. Check the order of the date and the zone.",
            "order",
        )
    values: dict[str, Any] = {"log": document, "mapping": reading.as_json()}
    if take_times:
        values |= {"started_at": log.starts, "stopped_at": ends, "done_at": log.starts}
    now = common.correct_fields(run, by=by, at=at, reason=reason, verb="cure.log_read", **values)
    return judge_now(now, at, log)


def take_off_log(run: CureRun, *, by: Person, at: datetime, reason: str) -> CureRun:
    """Let a log that belongs to another cure no longer speak for this one. The file itself stays kept."""
    if not reason.strip():
        raise Refusal("no_reason", "Say why the log is taken off.", "reason")
    now = common.correct_fields(run, by=by, at=at, reason=reason, verb="cure.log_taken_off", log=None, mapping={})
    return judge_now(now, at)


def finish_run(run: CureRun, *, by: Person, at: datetime) -> CureRun:
    """Say that a run is told completely."""
    return judge_now(common.finish(run, by=by, at=at), at)


def reopen_run(run: CureRun, *, by: Person, at: datetime, reason: str) -> CureRun:
    """Say that a run was not complete after all."""
    return judge_now(common.reopen(run, by=by, at=at, reason=reason), at)


withdraw_run: Callable[..., CureRun] = common.withdraw


def judge_now(run: CureRun, at: datetime, log: logs.Log | None = None) -> CureRun:
    """Make the verdict of a run anew and keep it beside the record, if anything that it depends on changed.

    Reading a long log takes seconds, so it happens outside of any write; what is kept is of the inputs it names.
    """
    run = queries.all_runs(run.project).get(pk=run.pk)
    basis = pages.basis(run)
    if run.verdict and run.verdict.get("basis") == basis:
        return run
    run.verdict = pages.judged(run, log).as_json(basis)
    run.judged_at = at
    with transaction.atomic():
        run.save(update_fields=["verdict", "judged_at"])
    return run


def typed_point(sensor: str, at: datetime, text: str, unit: str) -> Typed:
    """A point as it was typed, in the unit of the run where none was typed. Raises Impossible."""
    kept, exact = quantities.read(text, "degc", rules.UNITS[unit], "temp")
    return Typed(sensor, at, kept, quantities.kept(exact))
