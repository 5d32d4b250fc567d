"""All writes about discrepancies: found, corrected, decided, put right, inspected again."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from accounts.models import Person, Project
from accounts.queries import authority_of
from evidence.models import Photo
from evidence.rules import CLIPS
from foundation.refusal import Refusal
from inspections.models import Area, Discrepancy, DiscrepancyStep, FoundPhoto, Visit
from inspections.queries import covered
from inspections.queries import discrepancies as queries
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.rules import covers as covering
from inspections.rules import discrepancies as rules
from journal import commands as journal
from journal.commands import record_change, take_turn, withdraw_record
from journal.models import Signature
from journal.rules import ACCEPTED, NOT_ACCEPTED
from parts import queries as parts
from parts.models import Assembly, Part

ACCEPTS = (
    "I looked at what was found here and at what was done about it as far as the record and the thing itself show it, "
    "and accept it. The plan, the maker's data and the local rules decide."
)
DOES_NOT_ACCEPT = (
    "I looked at what was found here and at what was done about it as far as the record and the thing itself show it, "
    "and do not accept it, for the reason given."
)


def judged(discrepancy: Discrepancy) -> JudgedDiscrepancy:
    """The discrepancy as it stands in the database now, judged."""
    project = discrepancy.project
    return queries.judged(project, queries.all_rows(project).filter(pk=discrepancy.pk))[0]


@transaction.atomic
def find(
    *,
    by: Person,
    at: datetime,
    project: Project,
    assembly: Assembly,
    words: str,
    severity: str,
    blocks: bool = True,
    area: Area | None = None,
    part: Part | None = None,
    visit: Visit | None = None,
    found_at: datetime | None = None,
    found_by: Person | None = None,
    photos: Sequence[Photo] = (),
) -> Discrepancy:
    """Record what was found, under the next number of the project. Who found it may be another than who enters it."""
    take_turn(project.pk)
    rules.check_words(words)
    rules.check_time("found", found_at or at, at, "found_at")
    check_place(project, assembly, part, area)
    one = Discrepancy(
        project=project,
        number=queries.next_number(project),
        assembly=assembly,
        part=part,
        area=area,
        visit=visit,
        words=words.strip(),
        severity=severity,
        blocks=blocks,
        found_at=found_at or at,
        found_by=found_by or by,
        entered_at=at,
        entered_by=by,
    )
    one.save(force_insert=True)
    add_photos(one, photos, "found", by, at)
    record_change(project=project.pk, by=by, at=at, verb="discrepancy.found", subject=one)
    return one


def check_place(project: Project, assembly: Assembly, part: Part | None, area: Area | None) -> None:
    """Refuse places that contradict each other."""
    below = parts.subtree(area.assembly_id, parts.parents(project)) if area else set()
    rules.check_place(
        part_fits=part is None or part.assembly_id == assembly.pk, area_fits=area is None or assembly.pk in below
    )


def add_photos(one: Discrepancy, photos: Sequence[Photo], phase: str, by: Person, at: datetime) -> bool:
    """Put photos to a discrepancy and tell whether there was a new one; the same one twice does nothing."""
    for photo in photos:
        if photo.kind in CLIPS:
            raise Refusal("not_a_photo", f"{photo.label} is a {photo.noun.lower()}. Only photos stand here.", "photos")
    made = [
        FoundPhoto.objects.get_or_create(discrepancy=one, photo=photo, phase=phase, defaults={"at": at, "by": by})[1]
        for photo in photos
    ]
    return any(made)


@transaction.atomic
def correct(*, by: Person, at: datetime, discrepancy: Discrepancy, reason: str, **values: Any) -> Discrepancy:
    """Change what was entered, with a reason: the words, severity, whether it blocks, where, when, by whom found.

    After it was accepted this shows as changed under the signature, and it has to be looked at again.
    """
    take_turn(discrepancy.project_id)
    rules.check_stands(judged(discrepancy).standing)
    changed = {name: value for name, value in values.items() if getattr(discrepancy, name) != value}
    if not changed:
        return discrepancy
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is corrected. The reason stays with it.", "reason")
    for name, value in changed.items():
        setattr(discrepancy, name, value)
    rules.check_words(discrepancy.words)
    rules.check_time("found", discrepancy.found_at, at, "found_at")
    check_place(discrepancy.project, discrepancy.assembly, discrepancy.part, discrepancy.area)
    discrepancy.save(update_fields=list(changed))
    record_change(
        project=discrepancy.project_id,
        by=by,
        at=at,
        verb="discrepancy.corrected",
        subject=discrepancy,
        reason=reason.strip(),
    )
    return discrepancy


@transaction.atomic
def withdraw(*, by: Person, at: datetime, discrepancy: Discrepancy, reason: str) -> Discrepancy:
    """Take what was entered by mistake off the lists; what somebody signed for stays."""
    take_turn(discrepancy.project_id)
    rules.check_withdraw(judged(discrepancy).standing)
    return withdraw_record(
        project=discrepancy.project_id,
        by=by,
        at=at,
        record=discrepancy,
        verb="discrepancy.withdrawn",
        reason=reason.strip(),
    )


def add_step(discrepancy: Discrepancy, now: JudgedDiscrepancy, at: datetime, **values: Any) -> DiscrepancyStep:
    """Write the next step. Steps are read in the order of their times, so none has the time of the one before."""
    last = max((one.step.at for one in now.steps), default=None)
    at = at if last is None else max(at, last + timedelta(microseconds=1))
    step = DiscrepancyStep(discrepancy=discrepancy, at=at, **values)
    step.save(force_insert=True)
    return step


@transaction.atomic
def decide(
    *,
    by: Person,
    at: datetime,
    discrepancy: Discrepancy,
    disposition: str,
    words: str,
    person: Person | None = None,
    done_at: datetime | None = None,
) -> DiscrepancyStep:
    """Decide what is to become of it; a later decision counts instead of an earlier one, which stays readable."""
    take_turn(discrepancy.project_id)
    now = judged(discrepancy)
    rules.check_decide(now.standing, disposition, words)
    rules.check_time("decided", done_at or at, at, "done_at", now.discrepancy.found_at if done_at else None)
    step = add_step(
        discrepancy,
        now,
        at,
        kind=rules.DECIDED,
        disposition=disposition,
        words=words.strip(),
        person=person or by,
        done_at=done_at or at,
        by=by,
    )
    record_change(project=discrepancy.project_id, by=by, at=at, verb="discrepancy.decided", subject=discrepancy)
    return step


@transaction.atomic
def fix(
    *,
    by: Person,
    at: datetime,
    discrepancy: Discrepancy,
    words: str,
    person: Person | None = None,
    done_at: datetime | None = None,
    photos: Sequence[Photo] = (),
) -> DiscrepancyStep:
    """Tell what was done about it, by whom and when, with photos of it."""
    take_turn(discrepancy.project_id)
    now = judged(discrepancy)
    rules.check_fix(now.standing, words)
    rules.check_time("corrected", done_at or at, at, "done_at", now.discrepancy.found_at if done_at else None)
    step = add_step(
        discrepancy,
        now,
        at,
        kind=rules.FIXED,
        words=words.strip(),
        person=person or by,
        done_at=done_at or at,
        by=by,
    )
    add_photos(discrepancy, photos, "corrected", by, at)
    record_change(project=discrepancy.project_id, by=by, at=at, verb="discrepancy.fixed", subject=discrepancy)
    return step


@transaction.atomic
def reinspect(
    *,
    by: Person,
    at: datetime,
    discrepancy: Discrepancy,
    accepted: bool,
    words: str = "",
    statement: str = "",
    shown_by: str = "password",
    seen: str | None = None,
    name: str = "",
    **more: Any,
) -> DiscrepancyStep:
    """Sign that what was done about it is accepted, or is not and why (rules R24, R30).

    The caller has made sure who is signing and says how in `shown_by`. `seen` is the digest of what the signer had
    before him (`covered.seen`). `more` are the signature's further fields (see `journal.commands.sign`).
    """
    take_turn(discrepancy.project_id)
    now = judged(discrepancy)
    own = rules.check_reinspect(
        now.standing,
        person=by.pk,
        may_sign=by.may("sign"),
        accepted=accepted,
        words=words,
        independent=authority_of(discrepancy.project).independent,
    )
    covers = queries.covers(now.discrepancy)
    if seen is not None and seen != covered.seen(covers):
        raise Refusal("changed_meanwhile", covering.CHANGED_MEANWHILE)
    signature: Signature = journal.sign(
        project=discrepancy.project_id,
        by=by,
        at=at,
        zone=discrepancy.project.time_zone,
        under=discrepancy.subject,
        role=by.role,
        certificate=(by.certificate_kind, by.certificate_number),
        shown_by=shown_by,
        statement=statement or (ACCEPTS if accepted else DOES_NOT_ACCEPT),
        self_inspected=own,
        covers=covers,
        name=name,
        **{"outcome": ACCEPTED if accepted else NOT_ACCEPTED, "reason": "" if accepted else words.strip()} | more,
    )
    step = add_step(
        discrepancy,
        now,
        at,
        kind=rules.REINSPECTED,
        accepted=accepted,
        words=words.strip(),
        person=by,
        done_at=at,
        self_inspected=own,
        signature=signature.pk,
        by=by,
    )
    record_change(project=discrepancy.project_id, by=by, at=at, verb="discrepancy.reinspected", subject=discrepancy)
    return step


@transaction.atomic
def show_photos(
    *, by: Person, at: datetime, discrepancy: Discrepancy, photos: Sequence[Photo], phase: str = "found"
) -> None:
    """Put photos to what was found or to its correction; those that stand there already change nothing."""
    take_turn(discrepancy.project_id)
    rules.check_stands(judged(discrepancy).standing)
    if add_photos(discrepancy, photos, phase, by, at):
        record_change(project=discrepancy.project_id, by=by, at=at, verb="discrepancy.photo_shown", subject=discrepancy)


@transaction.atomic
def take_away_photo(*, by: Person, at: datetime, found_photo: FoundPhoto) -> None:
    """Take a photo off a discrepancy; the photo itself stays in the record."""
    one = found_photo.discrepancy
    take_turn(one.project_id)
    rules.check_stands(judged(one).standing)
    found_photo.delete()
    record_change(project=one.project_id, by=by, at=at, verb="discrepancy.photo_taken_away", subject=one)
