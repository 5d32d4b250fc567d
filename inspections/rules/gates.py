"""Pure decisions about enclosed areas: what a gate asks, what is missing, may it be closed (rules R14, R20-R25)."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from evidence.rules import MEDIA, serves_as_inside
from foundation.refusal import Refusal

PHOTO, CHECK, MEASURE, COUNT = "photo", "check", "measure", "count"
PROCESS, INNER, SIGN_OFF = "process", "inner", "signoff"

KINDS = {
    PHOTO: "Photo",
    CHECK: "Check",
    MEASURE: "Measured value",
    COUNT: "Tools and consumables counted",
    PROCESS: "Process record",
    INNER: "Inner area closed",
    SIGN_OFF: "Sign-off",
}
AREA_KINDS = {"permanent": "Closed for good", "access": "Access panel"}
ANSWERS = {"yes": "Yes", "no": "No", "na": "Does not apply"}

BLOCK, ADVISE = "block", "advise"

# States of an area, in the words of the shop.
NOT_STARTED, HOLD, READY, CLOSED, ADVISED = "not_started", "hold", "ready", "closed", "advised"
STATE_WORDS = {
    NOT_STARTED: "Not started",
    HOLD: "Hold",
    READY: "May be closed",
    CLOSED: "Closed up",
    ADVISED: "Closed with a reason",
}


@dataclass(frozen=True)
class PhotoFacts:
    """What a gate has to know of a photo."""

    key: str
    label: str
    taken_at: datetime | None
    known: str
    received_at: datetime
    withdrawn: bool = False
    medium: str = "picture"


@dataclass(frozen=True)
class SignatureFacts:
    """What a gate has to know of a signature; `changes` names what was changed under it since (rule R31)."""

    key: str
    role: str
    at: datetime
    changes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Asked:
    """One requirement of a gate with everything that was supplied for it."""

    key: str
    position: int
    kind: str
    words: str
    count: int = 1
    role: str = ""
    photos: tuple[PhotoFacts, ...] = ()
    answer: str = ""
    answered_at: datetime | None = None
    signatures: tuple[SignatureFacts, ...] = ()


@dataclass(frozen=True)
class Item:
    """One requirement judged: in place or not, and what is wrong with it, in words."""

    asked: Asked
    in_place: bool
    why: str = ""
    late: tuple[str, ...] = ()
    serving: frozenset[str] = frozenset()
    """The keys of the photos that count now."""


@dataclass(frozen=True)
class Gate:
    """The derived state of an area's gate. Nobody types it (rule R20)."""

    state: str
    items: tuple[Item, ...] = ()
    open_discrepancies: int = 0

    @property
    def missing(self) -> tuple[Item, ...]:
        return tuple(item for item in self.items if not item.in_place)

    @property
    def lacks(self) -> list[str]:
        """Everything that stands between this gate and its closing, by name."""
        lacks = [f"{item.asked.position} {item.asked.words}" for item in self.missing]
        if not self.items:
            lacks.append("a list of what its gate asks for")
        if self.open_discrepancies:
            lacks.append(f"{self.open_discrepancies} open discrepanc{'y' if self.open_discrepancies == 1 else 'ies'}")
        return lacks

    @property
    def bays(self) -> list[dict[str, Any]]:
        """The gate as a seam: one bay for each requirement."""
        return [{"number": item.asked.position, "in_place": item.in_place} for item in self.items]

    @property
    def may_close(self) -> bool:
        return self.state == READY

    @property
    def words(self) -> str:
        return STATE_WORDS[self.state]

    @property
    def missing_before_signing(self) -> tuple[Item, ...]:
        """What has to be in place before anybody signs."""
        return tuple(item for item in self.missing if item.asked.kind != SIGN_OFF)


def gate(
    asked: Sequence[Asked],
    *,
    worked: bool,
    since: datetime | None = None,
    closed_at: datetime | None = None,
    advised: bool = False,
    open_discrepancies: int = 0,
) -> Gate:
    """Judge a gate.

    `since` is when the area was last reopened: an access panel's gate is armed again then, and only what came after
    counts. `closed_at` and `advised` tell of a closing that stands. An area without requirements has nothing that holds
    it, but it does not say "may be closed" either: a gate asks at least one thing.
    """
    items = tuple(judge(one, since, closed_at) for one in sorted(asked, key=lambda one: one.position))
    if closed_at is not None:
        state = ADVISED if advised else CLOSED
    elif items and all(item.in_place for item in items) and not open_discrepancies:
        state = READY
    elif not worked and since is None and not any(item.in_place for item in items):
        state = NOT_STARTED
    else:
        state = HOLD
    return Gate(state, items, open_discrepancies)


def judge(one: Asked, since: datetime | None, closed_at: datetime | None) -> Item:
    """Judge one requirement."""
    if one.kind == PHOTO:
        return judge_photos(one, since, closed_at)
    if one.kind == CHECK:
        return judge_check(one, since)
    return judge_sign_off(one, since)


def judge_photos(one: Asked, since: datetime | None, closed_at: datetime | None) -> Item:
    """Enough photos that stand, taken before the closing and after the last reopening."""
    faults = {photo.key: photo_fault(photo, since, closed_at) for photo in one.photos}
    serving = [photo for photo in one.photos if not faults[photo.key]]
    late = tuple(p.label for p in serving if closed_at is not None and p.received_at >= closed_at)
    short = one.count - len(serving)
    why = ""
    if short > 0:
        why = "Photo missing." if one.count == 1 else f"{short} of {one.count} photos missing."
        why = " ".join([why, *(f"{p.label} {faults[p.key]}." for p in one.photos if faults[p.key])])
    return Item(one, short <= 0, why, late, frozenset(photo.key for photo in serving))


def photo_fault(photo: PhotoFacts, since: datetime | None, closed_at: datetime | None) -> str:
    """Why a photo does not count for a gate, to be read behind its label; empty when it counts (rules R14, R23).

    No photo was taken after it was received: a camera whose clock runs ahead does not make it one.
    """
    taken = photo.received_at
    if photo.taken_at is not None and photo.known != "unknown":
        taken = min(photo.taken_at, taken)
    if photo.withdrawn:
        return "was withdrawn"
    if photo.medium != "picture":
        return f"is a {MEDIA[photo.medium].lower()}, not a photo"
    if since is not None and taken < since:
        return "was taken before the area was opened again"
    if not serves_as_inside(taken, photo.known, photo.received_at, closed_at):
        return "was taken after closing"
    return ""


def judge_check(one: Asked, since: datetime | None) -> Item:
    """Answered yes, or does not apply with a reason; after the last reopening."""
    if not one.answer or (since is not None and one.answered_at is not None and one.answered_at < since):
        return Item(one, False, "Not answered yet.")
    return Item(one, True) if one.answer in {"yes", "na"} else Item(one, False, "Answered no.")


def judge_sign_off(one: Asked, since: datetime | None) -> Item:
    """A signature by the asked role under a record that has not changed since."""
    fresh = [s for s in one.signatures if s.role == one.role and (since is None or s.at >= since)]
    if any(not s.changes for s in fresh):
        return Item(one, True)
    if fresh:
        return Item(one, False, "Signed, then changed: " + "; ".join(max(fresh, key=lambda s: s.at).changes) + ".")
    return Item(one, False, "Not signed yet.")


def check_close(judged: Gate, policy: str, reason: str) -> None:
    """Refuse a closing (rule R22): `block` refuses while anything is missing, `advise` asks for a reason that stays."""
    if judged.state in {CLOSED, ADVISED}:
        raise Refusal("closed_already", "This area is closed. Reopen it first if it has to be closed again.")
    if judged.may_close:
        return
    names = ", ".join(judged.lacks)
    if policy == BLOCK:
        raise Refusal("missing", f"May not be closed. Missing: {names}.")
    if not reason.strip():
        raise Refusal(
            "reason_needed", f"Missing: {names}. To close all the same, say why. The reason stays and prints.", "reason"
        )


def check_sign(judged: Gate, signer_role: str) -> None:
    """Refuse a signature that would cover an unfinished gate or that the gate does not ask for."""
    roles = [item.asked.role for item in judged.items if item.asked.kind == SIGN_OFF]
    if judged.state in {CLOSED, ADVISED}:
        raise Refusal("closed_already", "This area is closed. A signature for closing comes before.")
    if not roles:
        raise Refusal("no_sign_off", "This gate asks for no sign-off.")
    if judged.missing_before_signing:
        names = ", ".join(f"{item.asked.position} {item.asked.words}" for item in judged.missing_before_signing)
        raise Refusal("missing", f"Nothing is signed over a gap. Missing: {names}.")
    if signer_role not in roles:
        raise Refusal("wrong_role", f"This sign-off is for the {' or the '.join(dict.fromkeys(roles))}.")
