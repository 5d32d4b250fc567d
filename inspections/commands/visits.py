"""All writes about visits: the link, what the visitor says and signs, and its end."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction

from accounts.commands import add_person
from accounts.models import Person, Project
from accounts.rules import INSPECTOR
from evidence.models import Photo
from foundation.digest import short
from foundation.refusal import Refusal
from inspections.commands import discrepancies, points
from inspections.commands.signing import STATEMENT, sign_area
from inspections.models import Area, Discrepancy, Look, Opening, Point, Visit, VisitArea, VisitPoint
from inspections.queries import visits as queries
from inspections.queries.visits import AREA, Thing
from inspections.rules import visits as rules
from journal.commands import record_change, take_turn
from journal.models import Signature


@transaction.atomic
def make_visit(
    *,
    by: Person,
    at: datetime,
    project: Project,
    token: str,
    purpose: str,
    expires_at: datetime,
    person: Person | None = None,
    newcomer: dict[str, str] | None = None,
    areas: Sequence[Area] = (),
    points: Sequence[Point] = (),
    note: str = "",
) -> Visit:
    """Make a link for one person to look at chosen areas and points. Only the digest of its `token` is kept.

    `newcomer` has name and certificate of an inspector who is not in the record yet.
    """
    take_turn(project.pk)
    rules.check_made(at=at, expires_at=expires_at, things=len(areas) + len(points))
    if person is None:
        person = add_person(by=by, at=at, project=project, role=INSPECTOR, **(newcomer or {}))
    visit = Visit(
        project=project,
        number=queries.next_number(project),
        person=person,
        purpose=purpose,
        note=note,
        digest=queries.digest_of(token),
        made_at=at,
        made_by=by,
        expires_at=expires_at,
    )
    visit.save(force_insert=True)
    for area in areas:
        VisitArea(visit=visit, area=area).save(force_insert=True)
    for point in points:
        VisitPoint(visit=visit, point=point).save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="visit.made", subject=visit)
    return visit


def take_turn_open(visit: Visit, at: datetime) -> Visit:
    """Wait for the turn, then refuse a visit that is over by now, whatever the page that was open says."""
    take_turn(visit.project_id)
    now = Visit.objects.select_related("project", "person").get(pk=visit.pk)
    rules.check_open(queries.standing(now, at))
    return now


@transaction.atomic
def opened(*, visit: Visit, at: datetime, device: str) -> Opening:
    """The link was opened in a browser that had not opened it before."""
    visit = take_turn_open(visit, at)
    if visit.openings.count() >= rules.MOST_OPENINGS:
        raise Refusal("opened_too_often", "This link was opened too often. Ask for a new one.")
    opening = Opening(visit=visit, at=at, device=device)
    opening.save(force_insert=True)
    record_change(project=visit.project_id, by=visit.person, at=at, verb="visit.opened", subject=visit)
    return opening


@transaction.atomic
def look(*, visit: Visit, at: datetime, thing: str, label: str, outcome: str, words: str = "") -> Look | None:
    """What the visitor says of one thing; saying the same again adds nothing."""
    visit = take_turn_open(visit, at)
    words = words.strip() if outcome == rules.NO_ACCESS else ""
    rules.check_look(outcome, words)
    last = queries.latest_looks(visit).get(thing)
    if (last.outcome, last.words) == (outcome, words) if last else outcome == rules.CLEARED:
        return last
    row = Look(visit=visit, thing=thing, label=label[:200], outcome=outcome, words=words, at=at)
    row.save(force_insert=True)
    record_change(project=visit.project_id, by=visit.person, at=at, verb="visit.looked", subject=visit)
    return row


@transaction.atomic
def remark(
    *,
    visit: Visit,
    at: datetime,
    about: Thing,
    words: str,
    severity: str,
    blocks: bool,
    label: str = "",
    photos: Sequence[Photo] = (),
) -> Discrepancy:
    """The visitor found something: it becomes a discrepancy. `label` names the item where it is about one alone."""
    visit = take_turn_open(visit, at)
    return discrepancies.find(
        by=visit.person,
        at=at,
        project=visit.project,
        assembly=about.row.assembly,
        words=f"{label}: {words}" if label else words,
        severity=severity,
        blocks=blocks,
        area=about.row if about.kind == AREA else None,
        part=None if about.kind == AREA else about.row.part,
        visit=visit,
        found_at=at,
        found_by=visit.person,
        photos=photos,
    )


def statement_of(kind: str, accepted: bool) -> str:
    """What a signature says: for an area or a point, accepted or not."""
    if kind == AREA:
        return STATEMENT if accepted else rules.DECLINED
    return points.STATEMENT if accepted else points.STATEMENT_NOT_ACCEPTED


@transaction.atomic
def sign(
    *, visit: Visit, at: datetime, chosen: Sequence[tuple[Thing, str]], accepted: bool, reason: str = "", **more: Any
) -> list[Signature]:
    """Sign for the chosen things, all or none; the visit ends with the last of them.

    Each comes with the digest of what the visitor had before him.
    """
    visit = take_turn_open(visit, at)
    rules.check_signature(accepted=accepted, reason=reason, chosen=len(chosen))
    given = []
    for thing, seen in chosen:
        try:
            given.append(
                sign_thing(
                    by=visit.person,
                    at=at,
                    thing=thing,
                    seen=seen,
                    shown_by="link",
                    accepted=accepted,
                    reason=reason,
                    visit=visit.subject,
                    **more,
                )
            )
        except Refusal as no:
            field = no.field if no.field == "reason" else None
            raise Refusal(no.code, f"{thing.number}: {no.message}", field) from None
    if queries.all_done(queries.things(visit)):
        end_visit(visit=visit, at=at)
    return given


def sign_thing(*, by: Person, at: datetime, thing: Thing, shown_by: str, accepted: bool, **more: Any) -> Signature:
    """Sign for an area or a point, with the words that belong to it."""
    words: dict[str, Any] = {"by": by, "at": at, "statement": statement_of(thing.kind, accepted), "shown_by": shown_by}
    if thing.kind == AREA:
        return sign_area(area=thing.row, accepted=accepted, **words, **more)
    return points.sign_point(point=thing.row, accepted=accepted, **words, **more)


@transaction.atomic
def end_visit(*, visit: Visit, at: datetime) -> Visit:
    """The visitor is done: his link opens nothing any more."""
    visit = take_turn_open(visit, at)
    visit.ended_at = at
    visit.save(update_fields=["ended_at"])
    record_change(project=visit.project_id, by=visit.person, at=at, verb="visit.ended", subject=visit)
    return visit


@transaction.atomic
def revoke(*, by: Person, at: datetime, visit: Visit, reason: str) -> Visit:
    """Take a link back, with a reason; it opens nothing from now on."""
    take_turn(visit.project_id)
    if not reason.strip():
        raise Refusal("no_reason", "Say why the link is taken back. The reason stays with the visit.", "reason")
    if not Visit.objects.filter(pk=visit.pk, revoked_at=None, ended_at=None).update(revoked_at=at):
        raise Refusal("over_already", "This visit is over already.")
    visit.revoked_at = at
    record_change(project=visit.project_id, by=by, at=at, verb="visit.revoked", subject=visit, reason=reason)
    return visit


@transaction.atomic
def sign_in_ink(
    *,
    by: Person,
    at: datetime,
    person: Person,
    thing: Thing,
    page: Photo,
    number: str,
    signed_on: date,
    accepted: bool,
    **more: Any,
) -> Signature:
    """Take a page that somebody signed in ink for his signature: `page` shows it, `by` typed what stands on it.

    `number` is the record number printed on it: what was signed there has to be what stands here now. `signed_on` is
    the day on the page; the signature is entered now, and both days stay with it.
    """
    take_turn(by.project_id)
    rules.check_page(
        number=number,
        present=short(thing.seen),
        signed_on=signed_on,
        today=at.astimezone(by.project.zone).date(),
        since=thing.since.astimezone(by.project.zone).date() if thing.since else None,
        is_picture=not page.is_clip,
    )
    return sign_thing(
        by=person,
        at=at,
        thing=thing,
        shown_by="ink",
        accepted=accepted,
        ink=page.digest,
        entered_by=f"{by.name}, from a page dated {signed_on:%-d %b %Y}"[:120],
        **more,
    )
