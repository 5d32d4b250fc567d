"""All writes about hold and witness points: setting, showing, inviting, going on, signing (rule R25)."""

from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from accounts.rules import ROLES
from evidence.models import Photo
from foundation.refusal import Refusal
from inspections import rules as gate_rules
from inspections.models import Point, PointCall, PointPhoto
from inspections.queries import covered, photo_facts, points
from inspections.queries.points import JudgedPoint
from inspections.rules import points as rules
from journal import commands as journal
from journal.commands import record_change, take_turn, withdraw_record
from journal.models import Signature
from journal.rules import ACCEPTED, NOT_ACCEPTED
from parts.models import Assembly, Part

STATEMENT = (
    "I looked at this point as far as the record and the open work show it, and found nothing that speaks against "
    "going on. The plan, the maker's data and the local rules decide."
)
STATEMENT_NOT_ACCEPTED = (
    "I looked at this point and do not accept it as it is. What I wrote with this signature has to be settled first."
)


def judged(point: Point) -> JudgedPoint:
    """The point as it stands in the database now, judged."""
    rows = points.judged(point.project, points.points(point.project).filter(pk=point.pk))
    if not rows:
        raise Refusal("withdrawn", "This point was withdrawn.")
    return rows[0]


@transaction.atomic
def add_point(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    kind: str,
    words: str,
    role: str,
    number: str = "",
    part: Part | None = None,
    step: str = "",
    detail: str = "",
) -> Point:
    """Set a hold or witness point; without a number of the builder's own it gets the next free one."""
    take_turn(project.pk)
    number = number.strip() or points.proposed(project, kind)
    check_number(project, number)
    check_part(assembly, part)
    point = Point(
        project=project,
        assembly=assembly,
        part=part,
        number=number,
        kind=kind,
        step=step.strip(),
        words=words.strip(),
        detail=detail.strip(),
        role=role,
    )
    point.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="point.added", subject=point)
    return point


def check_number(project: Project, number: str, but: Point | None = None) -> None:
    """Refuse a number that another point has."""
    same = Point.objects.standing().filter(project=project, number=number)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("number_taken", f"Point {number} is there already. Choose another number.", "number")


def check_part(assembly: Assembly, part: Part | None) -> None:
    """Refuse a part that belongs to another assembly than the point."""
    if part is not None and part.assembly_id != assembly.pk:
        raise Refusal(
            "part_elsewhere", f"{part.number} belongs to {part.assembly}. Choose that assembly, or no part.", "part"
        )


@transaction.atomic
def correct_point(*, by: Person, at: datetime, point: Point, reason: str = "", **values: Any) -> Point:
    """Change what a point says. What was signed needs a reason, and then needs signing again (rule R31)."""
    take_turn(point.project_id)
    now = judged(point)
    values = {name: value.strip() if isinstance(value, str) else value for name, value in values.items()}
    # An emptied number says no new one.
    values = {name: value for name, value in values.items() if value or name != "number"}
    changed = {name: value for name, value in values.items() if getattr(now.point, name) != value}
    if not changed:
        return point
    check_number(point.project, values.get("number", now.point.number), but=point)
    check_part(values.get("assembly", now.point.assembly), values.get("part", now.point.part))
    rules.check_correct(bool(now.signed), reason)
    for name, value in changed.items():
        setattr(point, name, value)
    point.save(update_fields=list(changed))
    record_change(project=point.project_id, by=by, at=at, verb="point.corrected", subject=point, reason=reason.strip())
    return point


@transaction.atomic
def withdraw_point(*, by: Person, at: datetime, point: Point, reason: str) -> Point:
    """Take a point that was set by mistake off the lists; one that somebody signed stays."""
    take_turn(point.project_id)
    rules.check_withdraw(bool(judged(point).signed))
    return withdraw_record(project=point.project_id, by=by, at=at, record=point, verb="point.withdrawn", reason=reason)


@transaction.atomic
def show_photo(*, by: Person, at: datetime, point: Point, photo: Photo) -> PointPhoto:
    """Put a photo in place at a point; twice does nothing. One that comes after a signature is not covered by it."""
    take_turn(point.project_id)
    judged(point)
    if fault := gate_rules.photo_fault(photo_facts(photo), None, None):
        raise Refusal("does_not_count", f"{photo.label} {fault}, so it cannot stand here.")
    row, is_new = PointPhoto.objects.get_or_create(point=point, photo=photo, defaults={"at": at, "by": by})
    if is_new:
        record_change(project=point.project_id, by=by, at=at, verb="point.photo_shown", subject=point)
    return row


@transaction.atomic
def take_away_photo(*, by: Person, at: datetime, shown: PointPhoto, reason: str = "") -> None:
    """Take a photo off a point; the photo itself stays in the record. One that a signature covers needs a reason."""
    point = shown.point
    take_turn(point.project_id)
    rules.check_correct(points.is_covered(judged(point), shown.photo), reason)
    shown.delete()
    record_change(
        project=point.project_id, by=by, at=at, verb="point.photo_taken_away", subject=point, reason=reason.strip()
    )


@transaction.atomic
def invite(
    *, by: Person, at: datetime, point: Point, whom: str, planned_at: datetime | None = None, words: str = ""
) -> PointCall:
    """Note who was invited to look, and for when. The program itself writes to nobody."""
    take_turn(point.project_id)
    rules.check_invite(judged(point).state, whom)
    call = PointCall(
        point=point, kind=rules.INVITED, whom=whom.strip(), planned_at=planned_at, words=words.strip(), at=at, by=by
    )
    call.save(force_insert=True)
    record_change(project=point.project_id, by=by, at=at, verb="point.invited", subject=point)
    return call


@transaction.atomic
def go_on(*, by: Person, at: datetime, point: Point, words: str) -> PointCall:
    """Go on past a witness point that nobody came to, and say why; a hold point is never passed."""
    take_turn(point.project_id)
    now = judged(point)
    rules.check_go_on(point.kind, now.state, words)
    call = PointCall(point=point, kind=rules.WENT_ON, words=words.strip(), at=at, by=by)
    call.save(force_insert=True)
    record_change(project=point.project_id, by=by, at=at, verb="point.went_on", subject=point)
    return call


@transaction.atomic
def sign_point(
    *,
    by: Person,
    at: datetime,
    point: Point,
    statement: str = "",
    shown_by: str = "password",
    seen: str | None = None,
    accepted: bool = True,
    reason: str = "",
    name: str = "",
    **more: Any,
) -> Signature:
    """Sign at a point: accepted releases it, not accepted says why and keeps a hold point stopped (rule R30).

    The caller has made sure who is signing and says how in `shown_by`. `seen` is the digest of what the signer had
    before him (`covered.seen`): nobody signs what was changed while he read. A signer who worked on the assembly, or on
    anything below it, is marked as self-inspected (rule R24). `more` are further fields of the signature.
    """
    take_turn(point.project_id)
    now = judged(point)
    rules.check_sign(now.point.kind, now.point.role, by.role, ROLES[now.point.role])
    gate_rules.check_not_accepted(accepted, reason)
    last = now.last.signature if now.last else None
    if last and not now.changes and (last.person, last.accepted, last.reason) == (by.pk, accepted, reason.strip()):
        raise Refusal("signed_already", "You signed this already, and nothing was changed since.")
    covers = points.covers(now.point)
    if seen is not None and seen != covered.seen(covers):
        raise Refusal("changed_meanwhile", gate_rules.CHANGED_MEANWHILE)
    project = now.point.project
    return journal.sign(
        project=project.pk,
        by=by,
        at=at,
        zone=project.time_zone,
        under=point.subject,
        role=by.role,
        certificate=more.pop("certificate", (by.certificate_kind, by.certificate_number)),
        shown_by=shown_by,
        statement=statement or (STATEMENT if accepted else STATEMENT_NOT_ACCEPTED),
        self_inspected=covered.worked_below(by, project, now.point.assembly_id),
        covers=covers,
        name=name,
        outcome=ACCEPTED if accepted else NOT_ACCEPTED,
        reason=reason.strip(),
        **more,
    )
