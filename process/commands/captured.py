"""What phones captured about layups and mixes, taken in exactly once by its request id."""

from typing import Any

from django.db import transaction

from buildlog.commands.captured import NOT_YET, Capture, known, photo_of, receipt_of
from buildlog.models import Receipt
from foundation.refusal import Refusal
from process.commands import layups, mixes, shots
from process.models import Layup
from process.queries import common
from process.queries import mixes as mix_queries


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
