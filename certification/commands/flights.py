"""All writes about the test phase: what it asks, flights, test points and what was found."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import Flight, TestPhase, TestPoint
from certification.queries import flights as queries
from certification.rules import flights as rules
from foundation.refusal import Refusal
from inspections.commands import discrepancies
from inspections.models import Discrepancy
from journal.commands import record_change, take_turn, withdraw_record
from parts.models import Assembly


def need_reason(reason: str) -> str:
    """The reason of a correction, or a refusal."""
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is changed. The old words stay in the history.", "reason")
    return reason.strip()


@transaction.atomic
def set_phase(
    *,
    by: Person,
    at: datetime,
    project: Project,
    hours_asked: Decimal,
    source: str,
    area: str = "",
    wording: str = "",
    reason: str = "",
) -> TestPhase:
    """Say how many hours are asked, where that stands and in what words the phase is closed; later with a reason."""
    take_turn(project.pk)
    rules.check_hours(hours_asked, source)
    row = queries.phase(project)
    said = {"hours_asked": hours_asked, "source": source.strip(), "area": area.strip(), "wording": wording.strip()}
    if row is None:
        row = TestPhase(project=project, entered_at=at, entered_by=by, **said)
        row.save(force_insert=True)
        record_change(project=project.pk, by=by, at=at, verb="testphase.set", subject=row)
        return row
    if all(getattr(row, name) == value for name, value in said.items()):
        return row
    reason = need_reason(reason)
    for name, value in said.items():
        setattr(row, name, value)
    row.save(update_fields=list(said))
    record_change(project=project.pk, by=by, at=at, verb="testphase.corrected", subject=row, reason=reason)
    return row


# ---- flights ----


@transaction.atomic
def log_flight(*, by: Person, at: datetime, project: Project, **said: Any) -> Flight:
    """Log a flight of the test phase under the next number."""
    take_turn(project.pk)
    flight = Flight(project=project, number=queries.next_flight(project), entered_at=at, entered_by=by)
    fill(flight, said, at)
    flight.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="flight.logged", subject=flight)
    return flight


@transaction.atomic
def correct_flight(*, by: Person, at: datetime, flight: Flight, reason: str, **said: Any) -> Flight:
    """Change what was logged, with a reason."""
    take_turn(flight.project_id)
    now = Flight.objects.select_related("project").get(pk=flight.pk)
    if now.withdrawn:
        raise Refusal("withdrawn", f"{now} was withdrawn. It stays as it is.")
    reason = need_reason(reason)
    fill(now, said, at)
    now.save()
    record_change(project=now.project_id, by=by, at=at, verb="flight.corrected", subject=now, reason=reason)
    return now


@transaction.atomic
def withdraw_flight(*, by: Person, at: datetime, flight: Flight, reason: str) -> Flight:
    """Take a flight that was never flown out of the totals; not while a test point says it was found in it."""
    take_turn(flight.project_id)
    found = [f"TP-{point.number}" for point in queries.points(flight.project).filter(flight=flight)]
    if found:
        raise Refusal("points", f"{', '.join(found)} names this flight. Correct that first.")
    return withdraw_record(
        project=flight.project_id, by=by, at=at, record=flight, verb="flight.withdrawn", reason=reason.strip()
    )


def fill(flight: Flight, said: dict[str, Any], at: datetime) -> None:
    """Set what is said of a flight, and refuse what cannot be."""
    units = flight.project.units
    for name, value in said.items():
        setattr(flight, name, value)
    flight.weight = rules.quantity(flight.weight, "mass", units, "weight")
    flight.arm = rules.quantity(flight.arm, "length", units, "arm")
    today = at.astimezone(flight.project.zone).date()
    rules.check_flight(flight.flown_on, today, flight.pilot, flight.minutes)


# ---- points ----


@transaction.atomic
def plan_point(*, by: Person, at: datetime, project: Project, words: str, limits: str = "") -> TestPoint:
    """Plan something to find out in flight, under the next number."""
    take_turn(project.pk)
    if not words.strip():
        raise Refusal("no_words", "Say what is to be found.", "words")
    point = TestPoint(
        project=project,
        number=queries.next_point(project),
        words=words.strip(),
        limits=limits.strip(),
        entered_at=at,
        entered_by=by,
    )
    point.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="testpoint.planned", subject=point)
    return point


@transaction.atomic
def plan_points(*, by: Person, at: datetime, project: Project, points: str) -> list[TestPoint]:
    """Plan several points, one a line, an entry for each."""
    rows = rules.read_points(points)
    return [plan_point(by=by, at=at, project=project, words=words, limits=limits) for words, limits in rows]


def standing_point(point: TestPoint) -> TestPoint:
    """The point as it stands now."""
    now = TestPoint.objects.select_related("project").get(pk=point.pk)
    if now.withdrawn:
        raise Refusal("withdrawn", f"TP-{now.number} was withdrawn. It stays as it is.")
    return now


@transaction.atomic
def tell_point(
    *,
    by: Person,
    at: datetime,
    point: TestPoint,
    outcome: str,
    found: str = "",
    flight: Flight | None = None,
    reason: str = "",
) -> TestPoint:
    """Say what was found at a point, and in which flight; another outcome than the one that stands needs a reason."""
    take_turn(point.project_id)
    now = standing_point(point)
    rules.check_told(outcome, found)
    if outcome and flight is None:
        raise Refusal("no_flight", "Say in which flight it was found. Log the flight first.", "flight")
    if flight is not None and (flight.project_id != now.project_id or flight.withdrawn):
        raise Refusal("no_flight", "Choose a flight that stands.", "flight")
    said = {"outcome": outcome, "found": found.strip(), "flight_id": flight.pk if flight else None}
    if all(getattr(now, name) == value for name, value in said.items()):
        return now
    told_before = bool(now.outcome)
    if told_before:
        reason = need_reason(reason)
    for name, value in said.items():
        setattr(now, name, value)
    now.save(update_fields=["outcome", "found", "flight"])
    verb = "testpoint.told_anew" if told_before else "testpoint.told"
    record_change(project=now.project_id, by=by, at=at, verb=verb, subject=now, reason=reason.strip())
    return now


@transaction.atomic
def correct_point(
    *, by: Person, at: datetime, point: TestPoint, words: str, limits: str = "", reason: str
) -> TestPoint:
    """Change what is to be found, or its limits, with a reason."""
    take_turn(point.project_id)
    now = standing_point(point)
    reason = need_reason(reason)
    if not words.strip():
        raise Refusal("no_words", "Say what is to be found.", "words")
    now.words, now.limits = words.strip(), limits.strip()
    now.save(update_fields=["words", "limits"])
    record_change(project=now.project_id, by=by, at=at, verb="testpoint.corrected", subject=now, reason=reason)
    return now


@transaction.atomic
def withdraw_point(*, by: Person, at: datetime, point: TestPoint, reason: str) -> TestPoint:
    """Take a point that is not to be flown off the list."""
    take_turn(point.project_id)
    return withdraw_record(
        project=point.project_id, by=by, at=at, record=point, verb="testpoint.withdrawn", reason=reason.strip()
    )


@transaction.atomic
def point_discrepancy(
    *, by: Person, at: datetime, point: TestPoint, assembly: Assembly, severity: str = "major", blocks: bool = True
) -> Discrepancy:
    """Make a discrepancy of a point that is not as it should be: two records, and an entry for each."""
    take_turn(point.project_id)
    now = standing_point(point)
    if now.outcome != rules.BAD:
        raise Refusal("not_bad", "Only a point that is not as it should be becomes a discrepancy.")
    if now.discrepancy_id:
        raise Refusal("tied", "A discrepancy tells of this point already.")
    found = discrepancies.find(
        by=by,
        at=at,
        project=now.project,
        assembly=assembly,
        words=f"Test flight, {now}: {now.found}",
        severity=severity,
        blocks=blocks,
    )
    now.discrepancy = found
    now.save(update_fields=["discrepancy"])
    record_change(project=now.project_id, by=by, at=at, verb="testpoint.tied", subject=now)
    return found
