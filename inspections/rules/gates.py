"""Pure decisions about enclosed areas: what a gate asks, what is missing, may it be closed (rules R14, R20-R25)."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
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

# The kinds that are answered, and may be answered with "does not apply".
ANSWERED = {CHECK, MEASURE, COUNT, PROCESS}

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
    accepted: bool = True
    reason: str = ""


GOOD, BAD, OPEN = "good", "bad", "open"


@dataclass(frozen=True)
class RecordFacts:
    """What a gate has to know of a process record: what it says of itself, and when it was finished."""

    key: str
    label: str
    verdict: str
    at: datetime
    withdrawn: bool = False


@dataclass(frozen=True)
class InnerFacts:
    """What a gate has to know of an area inside the one it closes."""

    label: str
    closed: bool
    advised: bool = False
    withdrawn: bool = False


DISCREPANCY, POINT = "discrepancy", "point"


@dataclass(frozen=True)
class Wait:
    """Something beside the gate's own items that has to be settled first: a discrepancy or a hold point below."""

    kind: str
    key: str
    label: str
    words: str

    @property
    def name(self) -> str:
        return f"{self.label} {self.words}"


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
    low: Decimal | None = None
    high: Decimal | None = None
    unit: str = ""
    value: Decimal | None = None
    value_unit: str = ""
    number_in: int | None = None
    number_out: int | None = None
    records: tuple[RecordFacts, ...] = ()
    inner: InnerFacts | None = None


@dataclass(frozen=True)
class Item:
    """One requirement judged: in place or not, and what is wrong with it, in words."""

    asked: Asked
    in_place: bool
    why: str = ""
    late: tuple[str, ...] = ()
    serving: frozenset[str] = frozenset()
    """The keys of the photos and process records that count now."""


@dataclass(frozen=True)
class Gate:
    """The derived state of an area's gate. Nobody types it (rule R20)."""

    state: str
    items: tuple[Item, ...] = ()
    waits: tuple[Wait, ...] = ()

    @property
    def missing(self) -> tuple[Item, ...]:
        return tuple(item for item in self.items if not item.in_place)

    @property
    def open_discrepancies(self) -> int:
        """How many discrepancies that block stand open below."""
        return sum(wait.kind == DISCREPANCY for wait in self.waits)

    @property
    def lacks(self) -> list[str]:
        """Everything that stands between this gate and its closing, by name."""
        lacks = [f"{item.asked.position} {item.asked.words}" for item in self.missing]
        if not self.items:
            lacks.append("a list of what its gate asks for")
        return lacks + [wait.name for wait in self.waits]

    @property
    def lost(self) -> bool:
        """Closed, and something that it asked for is not in place now. It stays closed; the page says so (rule R31)."""
        return self.state in {CLOSED, ADVISED} and bool(self.missing or self.waits)

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

    @property
    def lacks_before_signing(self) -> list[str]:
        """What has to be in place or settled before anybody signs, by name."""
        items = [f"{item.asked.position} {item.asked.words}" for item in self.missing_before_signing]
        return items + [wait.name for wait in self.waits]


def gate(
    asked: Sequence[Asked],
    *,
    worked: bool,
    since: datetime | None = None,
    closed_at: datetime | None = None,
    advised: bool = False,
    waits: Sequence[Wait] = (),
) -> Gate:
    """Judge a gate.

    `since` is when the area was last reopened: an access panel's gate is armed again then, and only what came after
    counts. `closed_at` and `advised` tell of a closing that stands. `waits` are the open discrepancies that block and
    the hold points not released, on the area's assembly and below. An area without requirements has nothing that
    holds it, but it does not say "may be closed" either: a gate asks at least one thing.
    """
    items = tuple(judge(one, since, closed_at) for one in sorted(asked, key=lambda one: one.position))
    if closed_at is not None:
        state = ADVISED if advised else CLOSED
    elif items and all(item.in_place for item in items) and not waits:
        state = READY
    elif not worked and since is None and not any(item.in_place for item in items):
        state = NOT_STARTED
    else:
        state = HOLD
    return Gate(state, items, tuple(waits))


def judge(one: Asked, since: datetime | None, closed_at: datetime | None) -> Item:
    """Judge one requirement."""
    if one.kind == PHOTO:
        return judge_photos(one, since, closed_at)
    if one.kind == SIGN_OFF:
        return judge_sign_off(one, since)
    if one.kind == INNER:
        return judge_inner(one)
    if one.answer == "na" and answered(one, since):
        return Item(one, True)
    return {CHECK: judge_check, MEASURE: judge_measure, COUNT: judge_count, PROCESS: judge_process}[one.kind](
        one, since
    )


def answered(one: Asked, since: datetime | None) -> bool:
    """Whether there is an answer that counts: none from before the last reopening."""
    return one.answered_at is not None and (since is None or one.answered_at >= since)


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
    if not answered(one, since):
        return Item(one, False, "Not answered yet.")
    return Item(one, True) if one.answer == "yes" else Item(one, False, "Answered no.")


def judge_measure(one: Asked, since: datetime | None) -> Item:
    """A value in the asked unit, within the limits; a value on a limit is within."""
    if not answered(one, since) or one.value is None:
        return Item(one, False, f"Not measured yet. {limits(one)}.")
    value = measured(one.value, one.value_unit)
    if one.value_unit != one.unit:
        return Item(one, False, f"Measured as {value}, asked for in {one.unit or 'no unit'}.")
    if one.low is not None and one.value < one.low:
        return Item(one, False, f"{value} is under the least, {measured(one.low, one.unit)}.")
    if one.high is not None and one.value > one.high:
        return Item(one, False, f"{value} is over the most, {measured(one.high, one.unit)}.")
    return Item(one, True)


def limits(one: Asked) -> str:
    """The limits of a measured value in words."""
    low, high = (None if end is None else measured(end, one.unit) for end in (one.low, one.high))
    if low and high:
        return f"From {low} to {high}"
    return f"{low} or more" if low else f"{high} or less"


def measured(value: Decimal, unit: str) -> str:
    """A value with its unit, without needless zeros."""
    return f"{value.normalize():f} {unit}".strip()


def judge_count(one: Asked, since: datetime | None) -> Item:
    """As many came out as went in."""
    if not answered(one, since) or one.number_in is None or one.number_out is None:
        return Item(one, False, "Not counted yet.")
    if one.number_in != one.number_out:
        return Item(one, False, f"{one.number_in} went in, {one.number_out} came out.")
    return Item(one, True)


def judge_process(one: Asked, since: datetime | None) -> Item:
    """A process record with a good verdict that stands, finished after the last reopening."""
    faults = {record.key: record_fault(record, since) for record in one.records}
    serving = frozenset(key for key, fault in faults.items() if not fault)
    if serving:
        return Item(one, True, serving=serving)
    told = [f"{record.label} {faults[record.key]}." for record in one.records]
    return Item(one, False, " ".join(["No record that counts.", *told]))


def record_fault(record: RecordFacts, since: datetime | None) -> str:
    """Why a process record does not count for a gate, to be read behind its label; empty when it counts."""
    if record.withdrawn:
        return "was withdrawn"
    if record.verdict != GOOD:
        return "has no verdict yet" if record.verdict == OPEN else "has a bad verdict"
    if since is not None and record.at < since:
        return "is from before the area was opened again"
    return ""


def judge_inner(one: Asked) -> Item:
    """The area inside is closed now."""
    if one.inner is None or one.inner.withdrawn:
        return Item(one, False, "The inner area was withdrawn.")
    if not one.inner.closed:
        return Item(one, False, f"{one.inner.label} is open.")
    return Item(one, True, "Closed with a reason." if one.inner.advised else "")


def judge_sign_off(one: Asked, since: datetime | None) -> Item:
    """A signature by the asked role under a record that has not changed since.

    Whoever of that role does not accept after it takes it away again.
    """
    fresh = sorted((s for s in one.signatures if s.role == one.role and (since is None or s.at >= since)), key=by_time)
    refused = max((number for number, s in enumerate(fresh) if not s.accepted), default=-1)
    later = fresh[refused + 1 :]
    if any(not s.changes for s in later):
        return Item(one, True)
    if later:
        return Item(one, False, "Signed, then changed: " + "; ".join(later[-1].changes) + ".")
    if fresh:
        return Item(one, False, f"Not accepted: {fresh[refused].reason}".rstrip(".") + ".")
    return Item(one, False, "Not signed yet.")


def by_time(signature: SignatureFacts) -> tuple[datetime, bool]:
    """Signatures in order; of two at the same moment the one that does not accept comes last."""
    return signature.at, not signature.accepted


def check_limits(kind: str, low: Decimal | None, high: Decimal | None) -> None:
    """Refuse a measured value without limits, or with limits the wrong way round."""
    if kind != MEASURE:
        return
    if low is None and high is None:
        raise Refusal("no_limit", "Give the least value, the most, or both.", "low")
    if low is not None and high is not None and low > high:
        raise Refusal("limits_crossed", "The least is more than the most. Exchange them.", "low")


def check_inner(area: str, inner: str, asked_inside: Mapping[str, Set[str]]) -> None:
    """Refuse an inner area whose own gate waits for this one, directly or through others: neither could ever close.

    `asked_inside` gives for each area the inner areas that its gate asks for.
    """
    waiting, reached = [inner], set()
    while waiting:
        one = waiting.pop()
        if one == area:
            raise Refusal("inside_itself", "That area waits for this one. Neither could ever be closed.", "inner")
        if one not in reached:
            reached.add(one)
            waiting += asked_inside.get(one, ())


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


def check_sign(judged: Gate, signer_role: str, accepted: bool = True) -> None:
    """Refuse a signature that would cover an unfinished gate or that the gate does not ask for.

    Whoever does not accept need not wait until everything is in place.
    """
    roles = [item.asked.role for item in judged.items if item.asked.kind == SIGN_OFF]
    if judged.state in {CLOSED, ADVISED}:
        raise Refusal("closed_already", "This area is closed. A signature for closing comes before.")
    if not roles:
        raise Refusal("no_sign_off", "This gate asks for no sign-off.")
    if accepted and judged.lacks_before_signing:
        names = ", ".join(judged.lacks_before_signing)
        raise Refusal("missing", f"Nothing is signed over a gap. Missing: {names}.")
    if signer_role not in roles:
        raise Refusal("wrong_role", f"This sign-off is for the {' or the '.join(dict.fromkeys(roles))}.")


def check_not_accepted(accepted: bool, reason: str) -> None:
    """Refuse to leave it open why something is not accepted."""
    if not accepted and not reason.strip():
        raise Refusal("no_reason", "Say what is not accepted and why. It stays with the signature.", "reason")
