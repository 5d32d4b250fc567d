"""The closeout rules a second time, in plain Python that knows nothing of the program.

These classes keep their own facts and decide from the rules of the product: R14 (photos after closing), R20 to R25
(gates, closing, reopening, hold points), R30 and R31 (signatures and what was changed under them). `test_model` drives
the program and this side by side. Nothing of the program may be imported here: an error would stand on both sides.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

PUT_RIGHT = {"rework", "repair", "scrap"}


@dataclass(eq=False)
class Person:
    key: str
    name: str
    role: str


@dataclass(eq=False)
class Assembly:
    key: str
    within: "Assembly | None" = None
    workers: set[Person] = field(default_factory=set)

    def holds(self, other: "Assembly") -> bool:
        """Whether the other is this one or stands somewhere below it."""
        at: Assembly | None = other
        while at is not None:
            if at is self:
                return True
            at = at.within
        return False


@dataclass(eq=False)
class Photo:
    key: str
    label: str
    taken: datetime | None
    known: str
    received: datetime
    clip: bool = False
    caption: str = ""
    shows: str = ""
    in_frame: bool = False
    marks: tuple[str, ...] = ()
    withdrawn: bool = False

    @property
    def moment(self) -> datetime:
        """When it was taken, as far as anybody knows: no photo was taken after it came in."""
        return self.received if self.taken is None else min(self.taken, self.received)

    def serves(self, since: datetime | None, closed: datetime | None) -> bool:
        """R14, R23: a picture that stands, taken after the last reopening and before the closing."""
        return not (
            self.withdrawn
            or self.clip
            or (since is not None and self.moment < since)
            or (closed is not None and self.moment >= closed)
        )

    @property
    def said(self) -> dict[str, Any]:
        """What a signature over it covers besides the bytes: captions and mark-up count too."""
        return {
            "taken": (self.taken, self.known),
            "caption": self.caption,
            "shows": self.shows,
            "in_frame": self.in_frame,
            "marks": self.marks,
        }


@dataclass(eq=False)
class Record:
    """A process record."""

    key: str
    label: str
    verdict: str
    at: datetime
    figure: int = 0
    withdrawn: bool = False

    def serves(self, since: datetime | None) -> bool:
        return not self.withdrawn and self.verdict == "good" and (since is None or self.at >= since)

    @property
    def said(self) -> dict[str, Any]:
        return {"verdict": self.verdict, "at": self.at, "figure": self.figure}


@dataclass(eq=False)
class Answer:
    at: datetime
    by: Person
    said: tuple[Any, ...]
    """("yes" | "no" | "na", reason), ("measured", value, unit, note) or ("counted", in, out, note)."""


@dataclass(eq=False)
class Item:
    key: str
    position: int
    kind: str
    words: str
    count: int = 1
    role: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    unit: str = ""
    inner: "Area | None" = None
    process: str = ""
    dropped: bool = False
    photos: list[Photo] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)

    @property
    def name(self) -> str:
        return f"{self.position} {self.words}"

    @property
    def asks(self) -> tuple[Any, ...]:
        inner = self.inner.key if self.inner else ""
        return (
            self.position, self.kind, self.words, self.count, self.role,
            self.low, self.high, self.unit, inner, self.process,
        )  # fmt: skip

    def answer(self, since: datetime | None, until: datetime | None = None) -> Answer | None:
        """The last answer, none from before the reopening; with `until` as it was then."""
        given = [one for one in self.answers if until is None or one.at <= until]
        last = given[-1] if given else None
        return last if last and (since is None or last.at >= since) else None

    def answered_well(self, since: datetime | None) -> bool:
        last = self.answer(since)
        if last is None:
            return False
        what, *rest = last.said
        if what == "measured":
            value, unit = rest[0], rest[1]
            over = self.high is not None and value > self.high
            under = self.low is not None and value < self.low
            return unit == self.unit and not over and not under
        if what == "counted":
            return rest[0] == rest[1]
        return what in {"yes", "na"}


@dataclass(eq=False)
class Closing:
    at: datetime
    missing: list[str]
    reason: str
    reopened: datetime | None = None


@dataclass(frozen=True)
class Covered:
    """One thing a signature covers: how it is called, and what it said then."""

    label: str
    said: dict[str, Any]


@dataclass(eq=False)
class Signature:
    key: str
    by: Person
    at: datetime
    accepted: bool
    reason: str
    covers: dict[tuple[Any, ...], Covered]
    worked: bool


@dataclass(frozen=True)
class Change:
    """A change under a signature: what it is about, and the fields that differ; none when the thing is gone."""

    label: str
    fields: frozenset[str] = frozenset()


def changes(signed: Signature, now: dict[tuple[Any, ...], Covered]) -> list[Change]:
    """R31: all that is not as it was signed."""
    found = []
    for name, then in signed.covers.items():
        there = now.get(name)
        if there is None:
            found.append(Change(then.label, frozenset({"gone"})))
        elif there.said != then.said:
            differ = {key for key in then.said | there.said if then.said.get(key) != there.said.get(key)}
            found.append(Change(then.label, frozenset(differ)))
    return found


@dataclass(eq=False)
class Point:
    key: str
    number: str
    kind: str
    words: str
    role: str
    assembly: Assembly
    step: str = ""
    photos: list[Photo] = field(default_factory=list)
    signatures: list[Signature] = field(default_factory=list)
    went_on: list[datetime] = field(default_factory=list)
    withdrawn: bool = False

    @property
    def name(self) -> str:
        return f"{self.number} {self.words}"

    @property
    def covers(self) -> dict[tuple[Any, ...], Covered]:
        wording = {"kind": self.kind, "words": self.words, "role": self.role, "step": self.step, "number": self.number}
        now = {("point",): Covered(self.name, wording)}
        return now | {("photo", one.key): Covered(one.label, one.said) for one in self.photos if not one.withdrawn}

    @property
    def last(self) -> Signature | None:
        """The signature that decides: the last by who may release it, or else the last of all."""
        own = [one for one in self.signatures if one.by.role == self.role]
        return (own or self.signatures or [None])[-1]

    @property
    def state(self) -> str:
        """R25: nothing but an unchanged signature that accepts, by who may give it, releases a point."""
        last = self.last
        if last and last.accepted and last.by.role == self.role and not changes(last, self.covers):
            return "released"
        if self.kind == "witness" and any(last is None or at > last.at for at in self.went_on):
            return "went_on"
        if last:
            return "changed" if last.accepted else "not_accepted"
        return "open"

    @property
    def stops(self) -> bool:
        return not self.withdrawn and self.kind == "hold" and self.state != "released"

    def not_signed(self, by: Person, accepted: bool, reason: str) -> set[str]:
        """Why this signature is refused."""
        why = set()
        if self.withdrawn:
            why.add("withdrawn")
        if by.role != self.role:
            why.add("wrong_role")
        if not accepted and not reason.strip():
            why.add("no_reason")
        last = self.last
        if last and not changes(last, self.covers) and (last.by, last.accepted, last.reason) == (by, accepted, reason):
            why.add("signed_already")
        return why


@dataclass(eq=False)
class Step:
    kind: str
    person: Person
    disposition: str = ""
    words: str = ""
    signature: Signature | None = None


@dataclass(eq=False)
class Discrepancy:
    key: str
    label: str
    words: str
    severity: str
    blocks: bool
    assembly: Assembly
    area: "Area | None"
    entered: datetime
    photos: list[Photo] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    withdrawn: bool = False

    @property
    def name(self) -> str:
        return f"{self.label} {self.words}"

    @property
    def covers(self) -> dict[tuple[Any, ...], Covered]:
        wording = {"words": self.words, "severity": self.severity, "blocks": self.blocks}
        now = {("found",): Covered(self.label, wording)}
        now |= {
            ("photo", one.key): Covered(f"{one.label}, as found", one.said) for one in self.photos if not one.withdrawn
        }
        return now | {("step", n): Covered(f"Step {n}", {"words": one.words}) for n, one in enumerate(self.steps, 1)}

    @property
    def disposition(self) -> str:
        return next((one.disposition for one in reversed(self.steps) if one.kind == "decided"), "")

    @property
    def state(self) -> str:
        """Open until somebody has looked again at what was done about it, and accepted it as it is now."""
        if self.withdrawn:
            return "withdrawn"
        last = self.steps[-1] if self.steps else None
        if last is None:
            return "found"
        if last.kind == "decided":
            return {"use": "to_inspect", "defer": "deferred"}.get(last.disposition, "to_do")
        if last.kind == "fixed":
            return "to_inspect"
        if not last.signature.accepted:
            return "not_accepted"
        return "changed" if changes(last.signature, self.covers) else "done"

    @property
    def open(self) -> bool:
        return self.state not in {"done", "withdrawn"}

    @property
    def doers(self) -> set[Person]:
        """Who corrected it at any time, and who decided last that it stays as it is."""
        fixed = {one.person for one in self.steps if one.kind == "fixed"}
        decided = [one for one in self.steps if one.kind == "decided"][-1:]
        return fixed | {one.person for one in decided if one.disposition == "use"}

    @property
    def accepted_once(self) -> bool:
        return any(one.signature and one.signature.accepted for one in self.steps)

    def not_decided(self) -> set[str]:
        return {"withdrawn"} if self.withdrawn else set() if self.open else {"done"}

    def not_fixed(self) -> set[str]:
        if self.withdrawn:
            return {"withdrawn"}
        if not self.open:
            return {"done"}
        return set() if self.disposition in PUT_RIGHT else {"not_to_correct" if self.disposition else "not_decided"}

    def not_inspected(self, by: Person, accepted: bool, words: str, independent: bool) -> set[str]:
        why = set()
        if self.withdrawn:
            why.add("withdrawn")
        if by.role == "helper":
            why.add("wrong_role")
        if self.state == "done":
            why.add("done")
        if self.state not in {"to_inspect", "changed"}:
            why.add("not_yet")
        if accepted and independent and by in self.doers:
            why.add("own_work")
        if not accepted and not words.strip():
            why.add("no_words")
        return why


@dataclass(eq=False)
class Area:
    key: str
    number: str
    name: str
    kind: str
    assembly: Assembly
    world: "World" = field(repr=False)
    all_items: list[Item] = field(default_factory=list)
    closings: list[Closing] = field(default_factory=list)
    signatures: list[Signature] = field(default_factory=list)
    withdrawn: bool = False

    # ---- what stands ----

    @property
    def items(self) -> list[Item]:
        return sorted((one for one in self.all_items if not one.dropped), key=lambda one: one.position)

    @property
    def closing(self) -> Closing | None:
        return self.closings[-1] if self.closings and self.closings[-1].reopened is None else None

    @property
    def closed(self) -> datetime | None:
        return self.closing.at if self.closing else None

    @property
    def since(self) -> datetime | None:
        """When it was last opened again: the gate was armed anew then."""
        return max((one.reopened for one in self.closings if one.reopened), default=None)

    # ---- the gate (R20, R21) ----

    def in_place(self, item: Item) -> bool:
        since = self.since
        match item.kind:
            case "photo":
                return sum(one.serves(since, self.closed) for one in item.photos) >= item.count
            case "signoff":
                return self.signed_off(item.role)
            case "inner":
                return not item.inner.withdrawn and item.inner.closed is not None
            case "process":
                return item.answered_well(since) or any(one.serves(since) for one in item.records)
        return item.answered_well(since)

    def serving(self, item: Item) -> set[str]:
        """The photos and process records that count for an item now; none where the item was waived."""
        if item.kind == "process":
            waived = item.answered_well(self.since)
            return set() if waived else {one.key for one in item.records if one.serves(self.since)}
        return {one.key for one in item.photos if one.serves(self.since, self.closed)}

    def late(self, item: Item) -> set[str]:
        """Of the photos that count, those that came in after the closing (R14)."""
        serving = self.serving(item) if self.closed else set()
        return {one.label for one in item.photos if one.key in serving and one.received >= self.closed}

    def signed_off(self, role: str) -> bool:
        """The last word of this role since the reopening: accepted, and over a record that is still as it was."""
        good = False
        for one in self.signatures:
            if one.by.role != role or self.is_void(one):
                continue
            if not one.accepted:
                good = False
            elif not self.changed_under(one):
                good = True
        return good

    @property
    def waits(self) -> list[str]:
        """What stands open on the assembly or below: discrepancies that block, hold points not released."""
        below = self.assembly.holds
        found = [one.name for one in self.world.discrepancies if one.blocks and one.open and below(one.assembly)]
        return found + [one.name for one in self.world.points if one.stops and below(one.assembly)]

    @property
    def missing(self) -> list[str]:
        """The items that are not in place, in the order of the gate."""
        return [one.name for one in self.items if not self.in_place(one)]

    @property
    def lacks(self) -> list[str]:
        return self.missing + ([] if self.items else ["a list of what its gate asks for"]) + self.waits

    @property
    def gaps(self) -> list[str]:
        """What has to be there before anybody signs that he accepts it."""
        return [one.name for one in self.items if one.kind != "signoff" and not self.in_place(one)] + self.waits

    @property
    def state(self) -> str:
        if self.closing:
            return "advised" if self.closing.missing else "closed"
        if not self.lacks:
            return "ready"
        begun = self.workers or self.since or len(self.missing) < len(self.items)
        return "hold" if begun else "not_started"

    @property
    def workers(self) -> set[Person]:
        below = (one for one in self.world.assemblies if self.assembly.holds(one))
        return {person for one in below for person in one.workers}

    # ---- signatures (R24, R30, R31) ----

    def covers(self) -> dict[tuple[Any, ...], Covered]:
        """What a signature given now covers: the gate's wording, and all that counts for it now."""
        now = self.standing(None)
        counts = {("area",)}
        for item in self.items:
            counts |= {("photo", item.key, key) for key in self.serving(item)}
            counts |= {("record", item.key, key) for key in self.serving(item)}
            counts |= {("inner", item.key)} | ({("answer", item.key)} if item.answer(self.since) else set())
        return {name: one for name, one in now.items() if name in counts}

    def standing(self, until: datetime | None) -> dict[tuple[Any, ...], Covered]:
        """All that can be under a signature, as it is now; the answers with `until` as they were then."""
        wording = {
            "number": self.number,
            "name": self.name,
            "kind": self.kind,
            "items": [one.asks for one in self.items],
        }
        now: dict[tuple[Any, ...], Covered] = {("area",): Covered(f"{self.number} {self.name}", wording)}
        for item in self.items:
            label = f"Item {item.position}, "
            for photo in item.photos:
                if not photo.withdrawn:
                    now["photo", item.key, photo.key] = Covered(label + photo.label, photo.said)
            for record in item.records:
                if not record.withdrawn:
                    now["record", item.key, record.key] = Covered(label + record.label, record.said)
            if item.inner and not item.inner.withdrawn:
                inner = item.inner
                told = {
                    "number": inner.number,
                    "name": inner.name,
                    "closed": inner.closed,
                    "missing": inner.closing.missing if inner.closing else [],
                }
                now["inner", item.key] = Covered(label + inner.number, told)
            if answer := item.answer(None, until):
                now["answer", item.key] = Covered(
                    label + item.words, {"said": answer.said, "at": answer.at, "by": answer.by.key}
                )
        return now

    def is_void(self, signed: Signature) -> bool:
        """Given for a closing that was opened again (R23)."""
        return any(one.reopened and one.reopened > signed.at for one in self.closings)

    def changed_under(self, signed: Signature) -> list[Change]:
        """What was changed under a signature, and what was found since that it did not know of.

        It is about the closing that came after it: what is answered anew after that was opened again is no change of
        it, and what is found after the closing is no news about it, unless it is about this very area while closed.
        """
        after = next((one for one in self.closings if one.at > signed.at), None)

        def in_time(one: Discrepancy) -> bool:
            if after is None or one.entered <= after.at:
                return True
            return one.area is self and (after.reopened is None or one.entered <= after.reopened)

        news = [
            Change(one.label, frozenset({"found since"}))
            for one in self.world.discrepancies
            if one.blocks
            and not one.withdrawn
            and one.entered > signed.at
            and self.assembly.holds(one.assembly)
            and in_time(one)
        ]
        return changes(signed, self.standing(after.reopened if after else None)) + news

    def not_signed(
        self, by: Person, accepted: bool, reason: str, seen: dict[tuple[Any, ...], Covered] | None
    ) -> set[str]:
        """Why this signature is refused."""
        roles = {one.role for one in self.items if one.kind == "signoff"}
        why = self.not_changeable()
        if not roles:
            why.add("no_sign_off")
        if by.role not in roles:
            why.add("wrong_role")
        if accepted and self.gaps:
            why.add("missing")
        if not accepted and not reason.strip():
            why.add("no_reason")
        own = any(one.by is by and one.accepted and self.is_good(one) for one in self.signatures)
        if accepted and own and self.signed_off(by.role):
            why.add("signed_already")
        if seen is not None and seen != self.covers():
            why.add("changed_meanwhile")
        return why

    def is_good(self, signed: Signature) -> bool:
        return not self.is_void(signed) and not self.changed_under(signed)

    # ---- closing and reopening (R22, R23) ----

    def not_changeable(self) -> set[str]:
        """Why nothing about it may be changed; several names for closed, as the program has."""
        return ({"withdrawn"} if self.withdrawn else set()) | ({"closed", "closed_already"} if self.closing else set())

    def not_closed(self, policy: str, reason: str) -> set[str]:
        why = self.not_changeable()
        if self.lacks and policy == "block":
            why.add("missing")
        elif self.lacks and not reason.strip():
            why.add("reason_needed")
        return why

    def not_reopened(self, reason: str) -> set[str]:
        return (set() if self.closing else {"not_closed"}) | (set() if reason.strip() else {"no_reason"})

    def not_asked(self, inner: "Area | None", low: Decimal | None, high: Decimal | None) -> set[str]:
        """Why an item is not taken on: limits the wrong way round, or areas that would wait for each other."""
        why = set()
        if low is not None and high is not None and low > high:
            why.add("limits_crossed")
        if inner is not None and inner.withdrawn:
            why.add("no_such_area")
        if inner is not None and self in inner.reaches():
            why.add("inside_itself")
        return why

    def reaches(self) -> "set[Area]":
        """This area and all that its gate waits for, directly or through others."""
        found, todo = {self}, [self]
        while todo:
            one = todo.pop()
            inside = [] if one.withdrawn else [item.inner for item in one.items if item.inner]
            todo += [inner for inner in inside if inner not in found]
            found |= set(inside)
        return found


@dataclass(eq=False)
class World:
    """One project as the oracle knows it."""

    policy: str
    independent: bool
    assemblies: list[Assembly] = field(default_factory=list)
    people: list[Person] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)
    records: list[Record] = field(default_factory=list)
    points: list[Point] = field(default_factory=list)
    discrepancies: list[Discrepancy] = field(default_factory=list)

    @property
    def standing(self) -> list[Area]:
        return [one for one in self.areas if not one.withdrawn]

    def outside(self, area: Area) -> Iterator[Area]:
        """The areas whose gates ask for this one."""
        return (one for one in self.standing if any(item.inner is area for item in one.items))
