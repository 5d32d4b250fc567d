"""All writes about enclosed areas: their gates, what is supplied, closing, reopening."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from accounts.queries import authority_of
from evidence.models import Photo
from foundation.refusal import Refusal
from inspections import queries, rules
from inspections.models import Answer, Area, Closing, Exhibit, Requirement, ShownRecord
from inspections.queries import JudgedArea, processes
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly


def judged(area: Area) -> JudgedArea:
    """The area as it stands in the database now, judged."""
    rows = queries.judged(area.project, queries.areas(area.project).filter(pk=area.pk))
    if not rows:
        raise Refusal("withdrawn", "This area was withdrawn.")
    return rows[0]


@transaction.atomic
def add_area(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    number: str,
    name: str,
    kind: str = "permanent",
    note: str = "",
    requirements: Sequence[dict[str, Any]] = (),
    closure_list: str = "",
) -> Area:
    """Set up an enclosed area with what its gate asks, in order; `closure_list` names the list it was taken from."""
    take_turn(project.pk)
    check_number(project, number)
    words = {"number": number, "name": name, "kind": kind, "note": note, "closure_list": closure_list}
    area = Area(project=project, assembly=assembly, **words)
    area.save(force_insert=True)
    for position, values in enumerate(requirements, start=1):
        check_item(area, values)
        Requirement(area=area, position=position, **values).save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="area.added", subject=area)
    return area


def check_number(project: Project, number: str, but: Area | None = None) -> None:
    """Refuse an area number that is in use."""
    same = Area.objects.standing().filter(project=project, number=number)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("number_taken", f"Area {number} is there already. Choose another number.", "number")


@transaction.atomic
def correct_area(*, by: Person, at: datetime, area: Area, reason: str = "", **values: Any) -> Area:
    """Change number, name, kind or note of an area that is not closed."""
    take_turn(area.project_id)
    refuse_closed(area)
    check_number(area.project, values.get("number", area.number), but=area)
    changed = {name: value for name, value in values.items() if getattr(area, name) != value}
    if not changed:
        return area
    for name, value in changed.items():
        setattr(area, name, value)
    area.save(update_fields=list(changed))
    record_change(project=area.project_id, by=by, at=at, verb="area.corrected", subject=area, reason=reason)
    return area


@transaction.atomic
def ask_for(*, by: Person, at: datetime, area: Area, **values: Any) -> Requirement:
    """Add one requirement to a gate, behind the others."""
    take_turn(area.project_id)
    refuse_closed(area)
    check_item(area, values)
    last = (
        area.requirements.filter(dropped_at__isnull=True)
        .order_by("-position")
        .values_list("position", flat=True)
        .first()
    )
    requirement = Requirement(area=area, position=(last or 0) + 1, **values)
    requirement.save(force_insert=True)
    record_change(project=area.project_id, by=by, at=at, verb="area.item_added", subject=area)
    return requirement


def check_item(area: Area, values: Mapping[str, Any]) -> None:
    """Refuse an item that could never be supplied: limits the wrong way round, or an inner area that is none."""
    rules.check_limits(values.get("kind", ""), values.get("low"), values.get("high"))
    inner = values.get("inner")
    if values.get("kind") != rules.INNER or inner is None:
        return
    if inner.withdrawn or inner.project_id != area.project_id:
        raise Refusal("no_such_area", "Choose an area of this project.", "inner")
    rules.check_inner(area.pk, inner.pk, queries.asked_inside(area.project))


@transaction.atomic
def drop_requirement(*, by: Person, at: datetime, requirement: Requirement, reason: str) -> Requirement:
    """Stop asking for something; it stays in the record with the reason."""
    area = requirement.area
    take_turn(area.project_id)
    refuse_closed(area)
    refuse_dropped(requirement)
    if not reason.strip():
        raise Refusal("no_reason", "Say why this is no longer asked for. The reason stays with the area.", "reason")
    requirement.dropped_at = at
    requirement.save(update_fields=["dropped_at"])
    record_change(project=area.project_id, by=by, at=at, verb="area.item_dropped", subject=area, reason=reason)
    return requirement


@transaction.atomic
def show_photo(*, by: Person, at: datetime, requirement: Requirement, photo: Photo) -> Exhibit:
    """Put a photo in place for a requirement; twice does nothing.

    A closed area takes a photo that was taken before the closing and sent later, and no other (rule R14).
    """
    area = requirement.area
    take_turn(area.project_id)
    refuse_withdrawn(area)
    refuse_dropped(requirement)
    if requirement.kind != rules.PHOTO:
        raise Refusal("not_a_photo_item", "This item does not ask for a photo.")
    fault = rules.photo_fault(queries.photo_facts(photo), *queries.open_between(area))
    if fault:
        raise Refusal("does_not_count", f"{photo.label} {fault}, so it does not count here.")
    exhibit, is_new = Exhibit.objects.get_or_create(requirement=requirement, photo=photo, defaults={"at": at, "by": by})
    if is_new:
        record_change(project=area.project_id, by=by, at=at, verb="area.photo_shown", subject=area)
    return exhibit


@transaction.atomic
def take_away_photo(*, by: Person, at: datetime, exhibit: Exhibit) -> None:
    """Take a photo off a requirement of an open area; the photo itself stays in the record."""
    area = exhibit.requirement.area
    take_turn(area.project_id)
    refuse_closed(area)
    exhibit.delete()
    record_change(project=area.project_id, by=by, at=at, verb="area.photo_taken_away", subject=area)


@transaction.atomic
def show_record(*, by: Person, at: datetime, requirement: Requirement, record: str) -> ShownRecord:
    """Put a process record in place for a requirement, by its name in the journal; twice does nothing."""
    area = requirement.area
    take_turn(area.project_id)
    refuse_closed(area)
    refuse_dropped(requirement)
    if requirement.kind != rules.PROCESS:
        raise Refusal("not_a_process_item", "This item does not ask for a process record.")
    known = processes.records(area.project, [(requirement.process, record)]).get(record)
    if known is None:
        raise Refusal("no_such_record", "That record is not of the kind that this item asks for.")
    fault = rules.record_fault(known.told(), queries.open_between(area)[0])
    if fault:
        raise Refusal("does_not_count", f"{known.label} {fault}, so it does not count here.")
    shown, is_new = ShownRecord.objects.get_or_create(
        requirement=requirement, record=record, defaults={"at": at, "by": by}
    )
    if is_new:
        record_change(project=area.project_id, by=by, at=at, verb="area.record_shown", subject=area)
    return shown


@transaction.atomic
def take_away_record(*, by: Person, at: datetime, shown: ShownRecord) -> None:
    """Take a process record off a requirement of an open area; the record itself stays."""
    area = shown.requirement.area
    take_turn(area.project_id)
    refuse_closed(area)
    shown.delete()
    record_change(project=area.project_id, by=by, at=at, verb="area.record_taken_away", subject=area)


@transaction.atomic
def answer_check(*, by: Person, at: datetime, requirement: Requirement, answer: str, reason: str = "") -> Answer:
    """Answer a check, or say of a check, measure, count or process record that it does not apply; earlier answers stay.

    The same person saying the same again, by a second tap, adds nothing.
    """
    if requirement.kind != rules.CHECK and (answer != "na" or requirement.kind not in rules.ANSWERED):
        raise Refusal("not_a_check", "This item is not a check.")
    if answer == "na" and not reason.strip():
        raise Refusal("no_reason", "Say why this does not apply.", "reason")
    return add_answer(by=by, at=at, requirement=requirement, answer=answer, reason=reason.strip())


@transaction.atomic
def answer_measure(
    *, by: Person, at: datetime, requirement: Requirement, value: Decimal, unit: str, reason: str = ""
) -> Answer:
    """Write down a measured value, with the unit it was read in and, if there is something to say, a note.

    A value outside its limits is kept too: it holds the gate and is told there.
    """
    if requirement.kind != rules.MEASURE:
        raise Refusal("not_a_measure", "This item does not ask for a measured value.")
    return add_answer(by=by, at=at, requirement=requirement, value=value, unit=unit, reason=reason.strip())


@transaction.atomic
def answer_count(
    *, by: Person, at: datetime, requirement: Requirement, number_in: int, number_out: int, reason: str = ""
) -> Answer:
    """Write down how many tools and consumables went in and how many came out."""
    if requirement.kind != rules.COUNT:
        raise Refusal("not_a_count", "This item does not ask for a count.")
    numbers = {"number_in": number_in, "number_out": number_out}
    return add_answer(by=by, at=at, requirement=requirement, **numbers, reason=reason.strip())


def add_answer(*, by: Person, at: datetime, requirement: Requirement, **values: Any) -> Answer:
    """Add an answer to an item of an open area, unless the same person said just the same before."""
    area = requirement.area
    take_turn(area.project_id)
    refuse_closed(area)
    refuse_dropped(requirement)
    row = Answer(requirement=requirement, at=at, by=by, **values)
    last, (since, _) = queries.latest_answer(requirement), queries.open_between(area)
    if last is not None and (since is None or last.at >= since) and says_the_same(last, row):
        return last
    row.save(force_insert=True)
    record_change(project=area.project_id, by=by, at=at, verb="area.check_answered", subject=area)
    return row


def says_the_same(one: Answer, other: Answer) -> bool:
    """Whether two answers are by the same person and say the same."""
    said = ("answer", "reason", "value", "unit", "number_in", "number_out", "by_id")
    return all(getattr(one, name) == getattr(other, name) for name in said)


@transaction.atomic
def close_area(*, by: Person, at: datetime, area: Area, reason: str = "") -> Closing:
    """Close an area for good or put its panel on.

    Refused, or asked for a reason that stays, while something is missing (rule R22).
    """
    take_turn(area.project_id)
    now = judged(area)
    rules.check_close(now.gate, authority_of(area.project).closing, reason)
    missing = now.gate.lacks
    closing = Closing(area=area, closed_at=at, closed_by=by, missing=missing, reason=reason.strip() if missing else "")
    closing.save(force_insert=True)
    record_change(project=area.project_id, by=by, at=at, verb="area.closed", subject=area, reason=closing.reason)
    return closing


@transaction.atomic
def reopen_area(*, by: Person, at: datetime, area: Area, reason: str) -> Closing:
    """Open a closed area again; what was signed before no longer satisfies its gate (rule R23)."""
    take_turn(area.project_id)
    if not reason.strip():
        raise Refusal("no_reason", "Say why the area is opened again. The reason stays with it.", "reason")
    closing = area.closings.filter(reopened_at__isnull=True).first()
    if closing is None:
        raise Refusal("not_closed", "This area is open.")
    closing.reopened_at, closing.reopened_by, closing.reopen_reason = at, by, reason.strip()
    closing.save(update_fields=["reopened_at", "reopened_by", "reopen_reason"])
    record_change(project=area.project_id, by=by, at=at, verb="area.reopened", subject=area, reason=reason)
    return closing


@transaction.atomic
def withdraw_area(*, by: Person, at: datetime, area: Area, reason: str) -> Area:
    """Take an area that was set up by mistake off the lists; a closed one stays."""
    take_turn(area.project_id)
    refuse_closed(area)
    return withdraw_record(project=area.project_id, by=by, at=at, record=area, verb="area.withdrawn", reason=reason)


def refuse_dropped(requirement: Requirement) -> None:
    """Refuse to supply or drop what is no longer asked for."""
    if not Requirement.objects.filter(pk=requirement.pk, dropped_at__isnull=True).exists():
        raise Refusal("dropped", "This item is no longer asked for.")


def refuse_closed(area: Area) -> None:
    """Refuse a change of an area that is closed or withdrawn."""
    refuse_withdrawn(area)
    if area.closings.filter(reopened_at__isnull=True).exists():
        raise Refusal("closed", "This area is closed. Reopen it with a reason first.")


def refuse_withdrawn(area: Area) -> None:
    """Refuse a change of an area that was withdrawn."""
    if Area.objects.withdrawn().filter(pk=area.pk).exists():
        raise Refusal("withdrawn", "This area was withdrawn.")
