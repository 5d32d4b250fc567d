"""What phones captured about layups, mixes, bonds and cure runs, taken in exactly once by its request id."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from buildlog import rules as log_rules
from buildlog.commands.captured import NOT_YET, Capture, known, photo_of, receipt_of
from buildlog.models import Receipt
from foundation.refusal import Refusal
from process.commands import bonds, cures, layups, mixes, shots
from process.models import Bond, CureRun, Layup, ProcessRecord
from process.queries import common
from process.queries import cures as cure_queries
from process.queries import mixes as mix_queries
from process.rules import bonds as bond_rules


@transaction.atomic
def receive_mix(*, capture: Capture, **values: Any) -> Receipt:
    """Record a mix that was measured out on a phone; its clock started with the tap there."""
    if receipt := known(capture):
        return receipt
    values["mixed_at"] = values.get("mixed_at") or capture.at
    mixes.record_mix(
        by=capture.by,
        at=capture.at,
        project=capture.project,
        request_id=capture.request_id,
        received_at=capture.received_at,
        **values,
    )
    return receipt_of(capture)


@transaction.atomic
def receive_spread(*, capture: Capture, mix: str) -> Receipt:
    """End the clock of a mix when it was tapped; the mix is named by its key or by the request that brings it."""
    if receipt := known(capture):
        return receipt
    found = mix_queries.named(capture.project, mix)
    if found is None:
        raise Refusal("not_yet", NOT_YET)
    mixes.spread_mix(found, spread_at=capture.at, **capture.journaled)
    return receipt_of(capture)


@transaction.atomic
def receive_ply(*, capture: Capture, layup: Layup, position: int) -> Receipt:
    """Write when a ply was laid, by the tap."""
    if receipt := known(capture):
        return receipt
    layups.lay_ply(layup, position=position, laid_at=capture.at, **capture.journaled)
    return receipt_of(capture)


@transaction.atomic
def receive_step(*, capture: Capture, bond: Bond, step: str) -> Receipt:
    """Write when a step of a bond was done, by the tap. A wipe that comes after a later one changes nothing."""
    if receipt := known(capture):
        return receipt
    bond = Bond.objects.select_related("project").get(pk=bond.pk)
    refuse_closed(capture, bond, bond_rules.STEPS[step])
    before = getattr(bond, step)
    if before is None or (step == bond_rules.WIPED and before < capture.at):
        bonds.tell_step(bond, step=step, when=capture.at, **capture.journaled)
    elif step != bond_rules.WIPED and not log_rules.same_moment(before, capture.at):
        raise Refusal(
            "told",
            f"{bond.label} has {bond_rules.STEPS[step].lower()} at {said(capture, before)} already. If "
            f"{said(capture, capture.at)} is right, correct the bond: its history keeps both. Then take this off.",
        )
    return receipt_of(capture)


@transaction.atomic
def receive_squeeze(*, capture: Capture, bond: Bond, squeeze_out: str) -> Receipt:
    """Write what was seen along the edges of a bond."""
    if receipt := known(capture):
        return receipt
    bond = Bond.objects.select_related("project").get(pk=bond.pk)
    refuse_closed(capture, bond, "Squeeze-out")
    bonds.correct_bond(bond, squeeze_out=squeeze_out, **capture.journaled)
    return receipt_of(capture)


@transaction.atomic
def receive_cure(*, capture: Capture, **values: Any) -> Receipt:
    """Begin a cure run that was started on a phone: by the tap, or by the time that was typed."""
    if receipt := known(capture):
        return receipt
    values["started_at"] = values.get("started_at") or capture.at
    cures.start_run(
        by=capture.by,
        at=capture.at,
        project=capture.project,
        request_id=capture.request_id,
        received_at=capture.received_at,
        **values,
    )
    return receipt_of(capture)


@transaction.atomic
def receive_cure_stop(*, capture: Capture, run: str) -> Receipt:
    """Say that the heat is off since the tap; the run is named by its key or by the request that begins it."""
    if receipt := known(capture):
        return receipt
    found = cure_queries.named(capture.project, run)
    if found is None:
        raise Refusal("not_yet", NOT_YET)
    if found.stopped_at is not None and log_rules.same_moment(found.stopped_at, capture.at):
        return receipt_of(capture)
    refuse_closed(capture, found, "Heat off")
    refuse_other_stop(capture, found)
    cures.stop_run(found, stopped_at=capture.at, **capture.journaled)
    return receipt_of(capture)


def refuse_other_stop(capture: Capture, run: CureRun) -> None:
    """Refuse a stop that another one contradicts, or that lies before the start: a person has to say which is right."""
    tapped = said(capture, capture.at)
    if run.stopped_at is not None:
        raise Refusal(
            "stopped",
            f"{run.label} has its heat off at {said(capture, run.stopped_at)} already. If {tapped} is right, correct "
            "the run: its history keeps both. Then take this off.",
        )
    if capture.at <= run.started_at:
        raise Refusal(
            "backward",
            f"{run.label} has its heat on at {said(capture, run.started_at)}, after this heat off at {tapped}. "
            "Correct the run, then send this again: it keeps the time of the tap.",
        )


def refuse_closed(capture: Capture, record: ProcessRecord, what: str) -> None:
    """Refuse a tap on a record that was withdrawn or finished meanwhile, and say how the tap still counts."""
    tapped = said(capture, capture.at)
    if record.withdrawn:
        raise Refusal(
            "withdrawn",
            f"{record.label} was withdrawn, so this is not written. If it was done for another one, correct that one "
            f"and type the time there: {what}, {tapped}. Then take this off.",
        )
    if record.finished_at is not None:
        raise Refusal(
            "finished",
            f"{record.label} was finished before this came: {what}, {tapped}. Open it again on its page, then send "
            "this again: it keeps the time of the tap.",
        )


def said(capture: Capture, when: datetime) -> str:
    """A moment on the clock of the project."""
    local = timezone.localtime(when, capture.project.zone)
    return f"{local.day} {local:%b %Y, %H:%M}"


@transaction.atomic
def receive_shot(
    *, capture: Capture, photo_request: str, kind: str, key: str, moment: str = "", ply: int | None = None
) -> Receipt:
    """Put a photo that was sent before in place for a record."""
    if receipt := known(capture):
        return receipt
    record = common.record_of(capture.project, kind, key)
    if record is None:
        raise Refusal("no_such_record", "What this photo shows is not in the project. The photo itself is kept.")
    photo = photo_of(capture.project, photo_request).photo
    assert photo is not None
    shots.show_shot(record=record, photo=photo, moment=moment, ply=ply, **capture.journaled)
    return receipt_of(capture, photo=photo, is_new=False)
