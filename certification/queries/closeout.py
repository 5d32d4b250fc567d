"""The facts of hold and witness points, discrepancies and visits."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from accounts.models import Project
from accounts.rules import ROLES
from certification.queries.history import corrections, withdrawal_facts, withdrawals
from certification.queries.scope import Scope
from certification.queries.signatures import Known, signature_facts
from certification.queries.words import moment
from inspections.models import Discrepancy, FoundPhoto, Look, Point, PointCall, Visit
from inspections.queries import visits as visiting
from inspections.queries.covered import Signed
from inspections.queries.discrepancies import JudgedDiscrepancy, ToldStep
from inspections.queries.points import JudgedPoint
from inspections.rules import discrepancies as found_rules
from inspections.rules import points as point_rules
from inspections.rules import visits as visit_rules
from journal.models import Entry

# ---- hold and witness points ----


def points_facts(project: Project, rows: Iterable[JudgedPoint], beside: Known) -> list[dict[str, Any]]:
    """Every standing point with its state, calls and signatures."""
    corrected = corrections(project, Point._meta.label_lower)
    return [
        point_facts(one, project.zone, beside) | {"corrections": corrected.get(one.point.subject, [])} for one in rows
    ]


def point_facts(one: JudgedPoint, zone: ZoneInfo, beside: Known) -> dict[str, Any]:
    """One point."""
    point = one.point
    return {
        "number": point.number,
        "words": point.words,
        "kind": point_rules.KINDS[point.kind],
        "state": one.state,
        "state_words": one.words,
        "stops": one.stops,
        "settled": one.settled,
        "assembly": str(point.assembly),
        "part": str(point.part) if point.part else "",
        "step": point.step,
        "detail": point.detail,
        "releaser": ROLES.get(point.role, point.role),
        "calls": [call_facts(call, zone) for call in reversed(one.calls)],
        "photos": [photo.label for photo in one.photos if not photo.withdrawn],
        "signatures": [signature_facts(signed, beside) for signed in one.signed],
    }


def call_facts(call: PointCall, zone: ZoneInfo) -> dict[str, Any]:
    """An invitation, or that work went on without somebody."""
    planned = f" for {moment(call.planned_at, zone)}" if call.planned_at else ""
    whom = f": {call.whom}" if call.whom else ""
    return {
        "what": f"{point_rules.CALLS[call.kind]}{whom}{planned}",
        "words": call.words,
        "by": call.by.name,
        "at": moment(call.at, zone),
    }


def withdrawn_points(project: Project, asked: Scope) -> list[dict[str, Any]]:
    """Points that were set by mistake, with the reason."""
    gone = Point.objects.withdrawn().filter(project=project).order_by("withdrawn_at")
    rows = [one for one in gone if asked.at(one.assembly_id)]
    told = withdrawals(rows)
    return [{"title": str(one)} | withdrawal_facts(one, told, project.zone) for one in rows]


# ---- discrepancies ----


def discrepancies_facts(project: Project, rows: Iterable[JudgedDiscrepancy], beside: Known) -> list[dict[str, Any]]:
    """Every discrepancy by its number, withdrawn ones too: each number is accounted for."""
    rows = sorted(rows, key=lambda one: one.discrepancy.number)
    corrected = corrections(project, Discrepancy._meta.label_lower)
    told = withdrawals(one.discrepancy for one in rows if one.discrepancy.withdrawn)
    return [
        discrepancy_facts(one, project.zone, beside, told) | {"corrections": corrected.get(one.discrepancy.subject, [])}
        for one in rows
    ]


def discrepancy_facts(
    one: JudgedDiscrepancy, zone: ZoneInfo, beside: Known, withdrawn: dict[str, Entry]
) -> dict[str, Any]:
    """One discrepancy with its steps."""
    row = one.discrepancy
    entered = f"Entered {moment(row.entered_at, zone)} by {row.entered_by.name}"
    late = (row.entered_at - row.found_at).total_seconds() > found_rules.LATE
    return {
        "label": row.label,
        "words": row.words,
        "severity": found_rules.SEVERITIES[row.severity],
        "blocks": row.blocks,
        "open": one.open,
        "state": one.state,
        "state_words": one.words,
        "disposition": one.disposition,
        "assembly": str(row.assembly),
        "part": str(row.part) if row.part else "",
        "area": str(row.area) if row.area else "",
        "found_by": row.found_by.name,
        "found_at": moment(row.found_at, zone),
        "entered": entered if late or row.entered_by_id != row.found_by_id else "",
        "late": late,
        "visit": row.visit.label if row.visit else "",
        "photos": {phase: labels(one.photos(phase)) for phase in found_rules.PHASES},
        "steps": [step_facts(step, zone) for step in one.steps],
        "signatures": [
            signature_facts(Signed(step.signature, step.changes, own_work=step.step.self_inspected), beside)
            for step in one.steps
            if step.signature is not None
        ],
        "withdrawn": withdrawal_facts(row, withdrawn, zone) if row.withdrawn else None,
    }


def labels(rows: Iterable[FoundPhoto]) -> list[str]:
    """The photos that stand, by their numbers."""
    return [row.photo.label for row in rows if not row.photo.withdrawn]


def step_facts(told: ToldStep, zone: ZoneInfo) -> dict[str, Any]:
    """One step on the way of a discrepancy, with both dates where it was told late (rule R6)."""
    step = told.step
    verdict = {True: "Accepted", False: "Not accepted"}.get(bool(step.accepted)) if step.accepted is not None else ""
    entered = f"Entered {moment(step.at, zone)} by {step.by.name}"
    return {
        "kind": found_rules.STEPS[step.kind],
        "what": found_rules.DISPOSITIONS.get(step.disposition, "") or verdict or "",
        "words": step.words,
        "by": told.name,
        "at": moment(step.done_at, zone),
        "entered": entered if told.late or (step.by_id != step.person_id and not told.signature) else "",
        "late": told.late,
        "self_inspected": step.self_inspected,
        "changes": list(told.changes),
    }


# ---- visits ----


def visits_facts(
    project: Project, at: datetime, signed: Iterable[dict[str, Any]], asked: Scope
) -> list[dict[str, Any]]:
    """Every visit by its number. `signed` are all things with signatures, as `signed_things` tells them."""
    rows = [one for one in visiting.visits(project).order_by("number") if asked.visit(one)]
    remarks = Discrepancy.objects.filter(project=project, visit__isnull=False).order_by("number")
    by_visit = [(row.visit_id, row.label) for row in remarks]
    revoked = Entry.objects.filter(project=project.pk, verb="visit.revoked").order_by("seq")
    told = {entry.subject: entry for entry in revoked}
    signed = list(signed)
    return [
        visit_facts(one, at, told.get(one.subject))
        | {
            "remarks": [label for visit, label in by_visit if visit == one.pk],
            "signed": [row for row in signed if row["visit"] == one.label],
        }
        for one in rows
    ]


def visit_facts(visit: Visit, at: datetime, revoked: Entry | None) -> dict[str, Any]:
    """One visit: for whom, what for, how the link stood, each opening, what was looked at."""
    zone = visit.project.zone
    counting = {look.pk for look in visiting.latest_looks(visit).values()}
    looks = [one for one in visit.looks.all() if one.outcome != visit_rules.CLEARED]
    return {
        "label": visit.label,
        "person": visit.person.name,
        "purpose": visit.purpose,
        "made": moment(visit.made_at, zone),
        "made_by": visit.made_by.name,
        "link": link_words(visit, at),
        "revoked_reason": f"{revoked.reason} ({revoked.by_name})" if revoked else "",
        "openings": [{"at": moment(one.at, zone), "device": one.device} for one in visit.openings.all()],
        "things": [str(one.area) for one in visit.visit_areas.all()]
        + [str(one.point) for one in visit.visit_points.all()],
        "looks": [look_facts(one, one.pk in counting, zone) for one in looks],
    }


def link_words(visit: Visit, at: datetime) -> str:
    """How long the link opened, or opens."""
    zone = visit.project.zone
    if visit.revoked_at:
        return f"Link taken back {moment(visit.revoked_at, zone)}"
    if visit.ended_at:
        return f"Ended {moment(visit.ended_at, zone)}"
    return f"Link {'ran out' if at >= visit.expires_at else 'opens until'} {moment(visit.expires_at, zone)}"


def look_facts(look: Look, counts: bool, zone: ZoneInfo) -> dict[str, Any]:
    """What the visitor said of one thing, and whether he said something else of it later."""
    return {
        "label": look.label,
        "outcome": visit_rules.OUTCOMES[look.outcome],
        "words": look.words,
        "at": moment(look.at, zone),
        "counts": counts,
    }
