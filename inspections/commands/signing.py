"""Signing for an enclosed area."""

from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Person
from foundation.refusal import Refusal
from inspections import queries, rules
from inspections.commands.areas import judged
from inspections.models import Area
from inspections.rules.visits import DECLINED
from journal import commands as journal
from journal.commands import take_turn
from journal.models import Signature
from journal.rules import ACCEPTED, NOT_ACCEPTED

STATEMENT = (
    "I looked at what is listed here as far as the record and the open area show it, and found nothing that speaks "
    "against closing it. The plan, the maker's data and the local rules decide."
)


@transaction.atomic
def sign_area(
    *,
    by: Person,
    at: datetime,
    area: Area,
    statement: str = "",
    shown_by: str = "password",
    seen: str | None = None,
    accepted: bool = True,
    reason: str = "",
    certificate: tuple[str, str] | None = None,
    **more: Any,
) -> Signature:
    """Sign for an area: the signature stores everything it covers with its digest (rule R30).

    The caller has made sure who is signing and says how in `shown_by`. `seen` is the digest of what the signer had
    before him (`queries.seen`): nobody signs what was changed while he read. With `accepted` false he says that he does
    not accept what he saw, and `reason` why. `certificate` is the kind and number that he gives now, where they are not
    those of the person; `more` are the signature's further fields (see `journal.models.Signature`). A signer who worked
    on the assembly, or on anything below it, is marked as self-inspected (rule R24).
    """
    take_turn(area.project_id)
    now = judged(area)
    rules.check_sign(now.gate, by.role, accepted)
    rules.check_not_accepted(accepted, reason)
    if accepted and now.signed_by(by.pk, by.role):
        raise Refusal("signed_already", "You signed this already, and nothing was changed since.")
    covers = queries.covers(now)
    if seen is not None and seen != queries.seen(covers):
        raise Refusal("changed_meanwhile", rules.CHANGED_MEANWHILE)
    return journal.sign(
        project=area.project_id,
        by=by,
        at=at,
        zone=area.project.time_zone,
        under=area.subject,
        role=by.role,
        certificate=certificate or (by.certificate_kind, by.certificate_number),
        shown_by=shown_by,
        statement=statement or (STATEMENT if accepted else DECLINED),
        self_inspected=queries.worked_on(by, area.project, area),
        covers=covers,
        outcome=ACCEPTED if accepted else NOT_ACCEPTED,
        reason=reason.strip(),
        **more,
    )
