"""Pure decisions about hold and witness points (rule R25)."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from foundation.refusal import Refusal
from inspections.rules.gates import SignatureFacts

HOLD, WITNESS = "hold", "witness"
KINDS = {HOLD: "Hold point", WITNESS: "Witness point"}
# How the builder's own numbers begin unless he types others.
LETTERS = {HOLD: "H", WITNESS: "W"}

INVITED, WENT_ON = "invited", "went_on"
CALLS = {INVITED: "Invited", WENT_ON: "Went on without"}

# States of a point; nobody types them. Those of `CALLS` are states too, while nothing was signed since.
OPEN, RELEASED, NOT_ACCEPTED, CHANGED = "open", "released", "not_accepted", "changed"
STATE_WORDS = {
    HOLD: {
        OPEN: "Hold",
        INVITED: "Hold, invited",
        RELEASED: "Released",
        NOT_ACCEPTED: "Not accepted",
        CHANGED: "Signed, then changed",
    },
    WITNESS: {
        OPEN: "To be witnessed",
        INVITED: "Invited",
        WENT_ON: "Went on without",
        RELEASED: "Witnessed",
        NOT_ACCEPTED: "Not accepted",
        CHANGED: "Signed, then changed",
    },
}


def call_in_words(said: Mapping[str, Any]) -> str:
    """An invitation or a going on in one line."""
    at = said.get("planned_at")
    words = [said["kind"], said["whom"], f"for {at:%-d %b %Y, %H:%M}" if isinstance(at, datetime) else ""]
    return ": ".join(filter(None, (" ".join(filter(None, words)), said["words"])))


def last_signatures(role: str, signatures: Sequence[SignatureFacts]) -> list[SignatureFacts]:
    """The last signature by the role that may release a point, all of them where several have the same time.

    A signature of another role was given before the role was corrected; it is looked at while no other is there.
    """
    given = [one for one in signatures if one.role == role] or list(signatures)
    last = max((one.at for one in given), default=None)
    return [one for one in given if one.at == last]


def state(
    kind: str, role: str, signatures: Sequence[SignatureFacts] = (), calls: Sequence[tuple[datetime, str]] = ()
) -> str:
    """The state of a point from its signatures and from its calls, each as when and kind.

    The last signature by the asked role decides, and releases only while nothing that it covers was changed. What was
    called before it is settled by it. Going on without somebody settles a witness point that is not signed, and that
    alone: no call ever moves a hold point on.
    """
    last = last_signatures(role, signatures)
    since = [(at, what) for at, what in calls if not last or at > last[0].at]
    if last and all(one.accepted and one.role == role and not one.changes for one in last):
        return RELEASED
    if kind == WITNESS and any(what == WENT_ON for _, what in since):
        return WENT_ON
    if last:
        return CHANGED if all(one.accepted for one in last) else NOT_ACCEPTED
    return INVITED if any(what == INVITED for _, what in since) else OPEN


def stops(kind: str, now: str) -> bool:
    """Whether work has to stop here: a hold point stops until it is released, a witness point never does."""
    return kind == HOLD and now != RELEASED


def settled(now: str) -> bool:
    """Whether nobody is waited for any more."""
    return now in {RELEASED, WENT_ON}


def next_number(kind: str, taken: Iterable[str]) -> str:
    """The number to propose: the letter of the kind and the first free one behind the highest, such as H-3."""
    letter = LETTERS[kind]
    used = [number.removeprefix(f"{letter}-") for number in taken if number.startswith(f"{letter}-")]
    return f"{letter}-{max((int(one) for one in used if one.isdecimal() and one.isascii()), default=0) + 1}"


def order_of(number: str) -> tuple[tuple[bool, int, str], ...]:
    """Where a number stands in a list: H-2 comes before H-10."""
    return tuple((one.isdecimal(), int(one) if one.isdecimal() else 0, one) for one in re.split(r"(\d+)", number))


def check_go_on(kind: str, now: str, words: str) -> None:
    """Refuse to go on past a hold point, past what was seen, or without a word."""
    if kind == HOLD:
        raise Refusal("hold_stops", "A hold point stops until it is released. Nobody goes on without the signature.")
    if now == RELEASED:
        raise Refusal("released", "This point was witnessed. There is nothing to go on without.")
    if not words.strip():
        raise Refusal("no_words", "Say why work went on without him. The words stay with the point.", "words")


def check_invite(now: str, whom: str) -> None:
    """Refuse to invite nobody, or to what is released."""
    if now == RELEASED:
        raise Refusal("released", "This point is released. Nobody has to be invited any more.")
    if not whom.strip():
        raise Refusal("nobody", "Name who is invited.", "whom")


def check_sign(kind: str, role: str, signer_role: str, role_words: str) -> None:
    """Refuse a signature by somebody who may not release this point."""
    if signer_role != role:
        raise Refusal("wrong_role", f"This {KINDS[kind].lower()} is for the {role_words.lower()} to sign.")


def check_correct(signed: bool, reason: str) -> None:
    """Refuse to change what was signed without saying why."""
    if signed and not reason.strip():
        raise Refusal(
            "no_reason", "This point was signed. Say why it is changed: it then needs signing again.", "reason"
        )


def check_withdraw(signed: bool) -> None:
    """Refuse to take a point off the lists that somebody signed."""
    if signed:
        raise Refusal("signed", "This point was signed, so it stays in the record. Correct it, with a reason.")
