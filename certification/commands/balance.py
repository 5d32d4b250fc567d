"""All writes about weight and balance: weighings, what is loaded, the limits, loading cases."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Model

from accounts.models import Person, Project
from calc.trouble import Impossible
from certification.models import CaseLoad, Fluid, LimitCorner, Limits, LoadingCase, LoadItem, ScalePoint, WeighIn
from certification.queries import balance as queries
from certification.rules import balance as rules
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from journal.models import Record
from process.models import Tool

CLOCK_SLACK = timedelta(minutes=10)
POINT = ("name", "reading", "reading_g", "tare", "tare_g", "arm", "arm_mm", "tool")
POURED = ("name", "weight", "weight_g", "arm", "arm_mm", "adds")
CORNER = ("side", "weight", "weight_g", "arm", "arm_mm")
EMPTY = {"name": "", "reading": "", "tare": "", "arm": "", "weight": "", "adds": False}

type Rows = Sequence[Mapping[str, Any]]


# ---- weighings ----


@transaction.atomic
def record_weighin(
    *,
    by: Person,
    at: datetime,
    project: Project,
    scales: Rows,
    fluids: Rows = (),
    request_id: str = "",
    **values: Any,
) -> WeighIn:
    """Begin a weighing of the aircraft; it is a draft until it is finished. The same request makes it once."""
    take_turn(project.pk)
    known = queries.sent_before(project, request_id)
    if known is not None:
        return known
    values = {"done_at": at, "done_by": by} | values
    check(project, values, scales, at)
    named = {"number": queries.next_number(project), "request_id": request_id}
    row = WeighIn(project=project, entered_at=at, entered_by=by, **named, **values)
    row.save(force_insert=True)
    write_rows(row, ScalePoint, "points", scales, POINT)
    write_rows(row, Fluid, "fluids", fluids, POURED)
    check_sum(row)
    record_change(project=project.pk, by=by, at=at, verb="weighin.recorded", subject=row)
    return row


@transaction.atomic
def correct_weighin(
    *,
    by: Person,
    at: datetime,
    weighin: WeighIn,
    reason: str = "",
    scales: Rows | None = None,
    fluids: Rows | None = None,
    **values: Any,
) -> WeighIn:
    """Change a weighing; a finished one with a reason only, and it has to stay complete."""
    row = fresh(weighin)
    if row.finished_at is not None:
        need_reason(reason)
    check(row.project, values, scales or (), at)
    changed = change(row, values)
    if scales is not None:
        changed |= write_rows(row, ScalePoint, "points", scales, POINT)
    if fluids is not None:
        changed |= write_rows(row, Fluid, "fluids", fluids, POURED)
    check_sum(row)
    if row.finished_at is not None:
        need_complete(row)
    if changed:
        record_change(project=row.project_id, by=by, at=at, verb="weighin.corrected", subject=row, reason=reason)
    return row


@transaction.atomic
def finish_weighin(*, by: Person, at: datetime, weighin: WeighIn) -> WeighIn:
    """Say that a weighing is complete: the newest finished one counts. Refused while something is missing."""
    row = fresh(weighin)
    if row.finished_at is not None:
        return row
    check_sum(row)
    need_complete(row)
    row.finished_at = at
    row.save(update_fields=["finished_at"])
    record_change(project=row.project_id, by=by, at=at, verb="weighin.finished", subject=row)
    return row


def withdraw_weighin(*, by: Person, at: datetime, weighin: WeighIn, reason: str) -> WeighIn:
    """Take a weighing that was entered by mistake out of what counts; it stays readable."""
    return withdraw(weighin, "weighin.withdrawn", by=by, at=at, reason=reason)


def check(project: Project, values: Mapping[str, Any], scales: Rows, now: datetime) -> None:
    """Refuse what belongs to another project, and what is said to be done before it can have been."""
    refuse_elsewhere(project, values)
    for row in scales:
        refuse_elsewhere(project, row)
    done_at = values.get("done_at")
    if done_at is not None and done_at > now + CLOCK_SLACK:
        raise Refusal("in_future", "That lies in the future. Check date and time.", "done_at")


def refuse_elsewhere(project: Project, values: Mapping[str, Any]) -> None:
    for name, value in values.items():
        if isinstance(value, Tool | Person | LoadItem) and value.project_id != project.pk:
            raise Refusal("elsewhere", "That belongs to another project.", name)


def check_sum(row: WeighIn) -> None:
    """Refuse readings that cannot be, such as a tare of more than what was read."""
    try:
        queries.weighed(queries.all_weigh_ins(row.project).get(pk=row.pk))
    except Impossible as no:
        raise Refusal("impossible", no.sentence) from None


def need_complete(row: WeighIn) -> None:
    """Refuse a weighing that does not say everything that it has to."""
    lacking = queries.missing(queries.all_weigh_ins(row.project).get(pk=row.pk))
    if lacking:
        raise Refusal("not_complete", f"Still missing: {'; '.join(lacking)}.")


# ---- what is loaded ----


@transaction.atomic
def add_item(*, by: Person, at: datetime, project: Project, **values: Any) -> LoadItem:
    """Enter a seat, a tank, a locker, with its arm, its least and its most."""
    take_turn(project.pk)
    row = LoadItem(project=project, entered_at=at, entered_by=by, **values)
    check_item(row)
    row.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="loaditem.added", subject=row)
    return row


@transaction.atomic
def correct_item(*, by: Person, at: datetime, item: LoadItem, reason: str, **values: Any) -> LoadItem:
    """Change what is said of a loaded item, with a reason."""
    row = fresh(item)
    need_reason(reason)
    changed = change(row, values)
    check_item(row)
    if changed:
        record_change(project=row.project_id, by=by, at=at, verb="loaditem.corrected", subject=row, reason=reason)
    return row


def check_item(row: LoadItem) -> None:
    """Refuse an item whose least is above its most, or whose name is taken."""
    try:
        queries.load_of(row).item  # noqa: B018
    except Impossible as no:
        raise Refusal("impossible", no.sentence, no.field) from None
    others = queries.load_items(row.project).exclude(pk=row.pk)
    if any(one.name.casefold() == row.name.casefold() for one in others):
        raise Refusal("same_name", f"There is {row.name} already. Give it another name.", "name")


@transaction.atomic
def withdraw_item(*, by: Person, at: datetime, item: LoadItem, reason: str) -> LoadItem:
    """Take an item out of the lists; refused while a case has something of it aboard."""
    row = fresh(item)
    used = queries.cases_with(row)
    if used:
        names = ", ".join(one.name for one in used)
        raise Refusal("in_a_case", f"{row.name} is aboard in: {names}. Take it out there first.")
    return withdraw(row, "loaditem.withdrawn", by=by, at=at, reason=reason)


# ---- limits ----


@transaction.atomic
def set_limits(
    *, by: Person, at: datetime, project: Project, corners: Rows, most: str, source: str, reason: str = "", **more: Any
) -> Limits:
    """Enter the designer's limits, or correct them with a reason; the old ones stay in the history."""
    take_turn(project.pk)
    if not source.strip():
        raise Refusal("no_source", "Say where the limits are from, such as plan, sheet and revision.", "source")
    check_limits(most, corners)
    row = Limits.objects.standing().filter(project=project).first()
    values = {"most": most, "source": source} | more
    if row is None:
        row = Limits(project=project, entered_at=at, entered_by=by, **values)
        row.save(force_insert=True)
        write_corners(row, corners)
        record_change(project=project.pk, by=by, at=at, verb="limits.set", subject=row)
        return row
    need_reason(reason)
    changed = change(row, values)
    if write_corners(row, corners) or changed:
        record_change(project=project.pk, by=by, at=at, verb="limits.corrected", subject=row, reason=reason)
    return row


def check_limits(most: str, corners: Rows) -> None:
    """Refuse limits that lie the wrong way round or do not reach."""
    sides: dict[str, list[tuple[str, str]]] = {"forward": [], "aft": []}
    for one in corners:
        sides[one["side"]].append((one["weight"], one["arm"]))
    try:
        rules.bounds(most, sides["forward"], sides["aft"])
    except Impossible as no:
        raise Refusal("impossible", no.sentence, no.field) from None


def write_corners(row: Limits, corners: Rows) -> bool:
    """Write the points of the limits, and whether anything changed; the journal keeps the old ones."""
    before = sorted(tuple(getattr(one, name) for name in CORNER) for one in row.corners.all())
    if before == sorted(tuple(one[name] for name in CORNER) for one in corners):
        return False
    row.corners.all().delete()
    for one in corners:
        LimitCorner(id=new_key(), limits=row, **{name: one[name] for name in CORNER}).save(force_insert=True)
    return True


def withdraw_limits(*, by: Person, at: datetime, limits: Limits, reason: str) -> Limits:
    """Take limits that were entered by mistake away; no case is judged then."""
    return withdraw(limits, "limits.withdrawn", by=by, at=at, reason=reason)


# ---- cases ----


@transaction.atomic
def add_case(
    *, by: Person, at: datetime, project: Project, name: str, loads: Mapping[str, tuple[str, Any]], note: str = ""
) -> LoadingCase:
    """Enter a loading case; `loads` are weight as typed and in grams by the key of the item."""
    take_turn(project.pk)
    row = LoadingCase(project=project, name=name, note=note, entered_at=at, entered_by=by)
    check_case(row, loads)
    row.save(force_insert=True)
    write_loads(row, loads)
    record_change(project=project.pk, by=by, at=at, verb="loadingcase.added", subject=row)
    return row


@transaction.atomic
def correct_case(
    *,
    by: Person,
    at: datetime,
    case: LoadingCase,
    reason: str,
    loads: Mapping[str, tuple[str, Any]] | None = None,
    **values: Any,
) -> LoadingCase:
    """Change a loading case, with a reason."""
    row = fresh(case)
    need_reason(reason)
    changed = change(row, values)
    check_case(row, loads or {})
    if loads is not None:
        changed |= write_loads(row, loads)
    if changed:
        record_change(project=row.project_id, by=by, at=at, verb="loadingcase.corrected", subject=row, reason=reason)
    return row


def check_case(row: LoadingCase, loads: Mapping[str, Any]) -> None:
    """Refuse a case with a name that is taken, or with something aboard that the project does not have."""
    known = {one.pk for one in queries.load_items(row.project)}
    if not known >= set(loads):
        raise Refusal("elsewhere", "That is not among the loaded items. Reload the page.")
    others = queries.cases(row.project).exclude(pk=row.pk)
    if any(one.name.casefold() == row.name.casefold() for one in others):
        raise Refusal("same_name", f"There is a case {row.name} already. Give it another name.", "name")


def write_loads(row: LoadingCase, loads: Mapping[str, tuple[str, Any]]) -> bool:
    """Write what is aboard, and whether anything changed; the journal keeps the old."""
    before = {one.item_id: (one.weight, one.weight_g) for one in row.loads.all()}
    if before == dict(loads):
        return False
    row.loads.all().delete()
    for item, (weight, figure) in loads.items():
        CaseLoad(id=new_key(), case=row, item_id=item, weight=weight, weight_g=figure).save(force_insert=True)
    return True


def withdraw_case(*, by: Person, at: datetime, case: LoadingCase, reason: str) -> LoadingCase:
    """Take a case away."""
    return withdraw(case, "loadingcase.withdrawn", by=by, at=at, reason=reason)


# ---- in common ----


def fresh[R: Record](record: R) -> R:
    """The record as it stands now that it is this writer's turn; a withdrawn one is refused."""
    take_turn(record.project_id)  # type: ignore[attr-defined]  # every root has a project
    now = type(record)._base_manager.select_related("project").get(pk=record.pk)
    if now.withdrawn:
        raise Refusal("withdrawn", "This was withdrawn. It stays as it is.")
    return now


def need_reason(reason: str) -> None:
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is corrected. The old values stay in the history.", "reason")


def change(row: Model, values: Mapping[str, Any]) -> bool:
    """Write the values that differ, and whether any did."""
    changed = [name for name, value in values.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, values[name])
    if changed:
        row.save(update_fields=changed)
    return bool(changed)


def write_rows(
    weighin: WeighIn, model: type[ScalePoint] | type[Fluid], part: str, rows: Rows, names: Sequence[str]
) -> bool:
    """Write the scales or the fluids of a weighing in their order, and whether anything changed."""
    before = list(getattr(weighin, part).all())
    wanted = [{name: row.get(name, EMPTY.get(name)) for name in names} for row in rows]
    changed = False
    for position, values in enumerate(wanted, start=1):
        if position <= len(before):
            row = before[position - 1]
            if any(getattr(row, name) != value for name, value in values.items()):
                for name, value in values.items():
                    setattr(row, name, value)
                row.save(update_fields=list(names))
                changed = True
        else:
            model(id=new_key(), weigh_in=weighin, position=position, **values).save(force_insert=True)
            changed = True
    for row in before[len(wanted) :]:
        row.delete()
        changed = True
    return changed


@transaction.atomic
def withdraw[R: Record](record: R, verb: str, *, by: Person, at: datetime, reason: str) -> R:
    project = record.project_id  # type: ignore[attr-defined]  # every root has a project
    take_turn(project)
    return withdraw_record(project=project, by=by, at=at, record=record, verb=verb, reason=reason)
