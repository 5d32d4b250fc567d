"""Pure decisions about discrepancies: what may come next, and whether one still stands open (rules R20, R24, R31)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from foundation.refusal import Refusal

SEVERITIES = {"minor": "Minor", "major": "Major", "safety": "Flight safety"}
USE_AS_IS, REWORK, REPAIR, SCRAP, DEFER = "use", "rework", "repair", "scrap", "defer"
DISPOSITIONS = {
    USE_AS_IS: "Use as is",
    REWORK: "Rework",
    REPAIR: "Repair",
    SCRAP: "Scrap",
    DEFER: "Defer",
}
# What each disposition means, for somebody who has to choose; the words are common practice in the trade.
DISPOSITION_WORDS = {
    USE_AS_IS: "It stays as it is, for a reason that is told.",
    REWORK: "It is made as the plan has it.",
    REPAIR: "It is made good another way than the plan has it.",
    SCRAP: "The part goes, and another takes its place.",
    DEFER: "It stays open until something else is done. It goes on blocking.",
}
PHASES = {"found": "As found", "corrected": "Corrected"}
DECIDED, FIXED, REINSPECTED = "decided", "fixed", "reinspected"
STEPS = {DECIDED: "Disposition", FIXED: "Correction", REINSPECTED: "Inspection after it"}

# After these something has to be done to the thing itself, and told, before anybody looks at it again.
TO_CORRECT = frozenset({REWORK, REPAIR, SCRAP})

# Told more than so many seconds after it was done, a step is marked as late (rule R6).
LATE = 24 * 3600

# States, in the words of the shop. All but the last two are open.
FOUND, TO_DO, DEFERRED, TO_INSPECT = "found", "to_do", "deferred", "to_inspect"
NOT_ACCEPTED, CHANGED, DONE, WITHDRAWN = "not_accepted", "changed", "done", "withdrawn"
STATES = {
    FOUND: "Found, to be decided",
    TO_DO: "To be corrected",
    DEFERRED: "Deferred",
    TO_INSPECT: "To be inspected again",
    NOT_ACCEPTED: "Not accepted",
    CHANGED: "Accepted, then changed: inspect again",
    DONE: "Done",
    WITHDRAWN: "Withdrawn",
}


@dataclass(frozen=True)
class StepFacts:
    """What has to be known of a step. `changes` names what was changed under its signature since (rule R31)."""

    kind: str
    person: str
    disposition: str = ""
    accepted: bool | None = None
    changes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Standing:
    """Where a discrepancy stands, derived from its steps. Nobody types it."""

    state: str
    disposition: str = ""
    # Everybody who ever corrected it, and who decided that it stays as it is: none of them looks with fresh eyes.
    doers: frozenset[str] = frozenset()
    changes: tuple[str, ...] = ()
    ever_accepted: bool = False

    @property
    def open(self) -> bool:
        return self.state not in {DONE, WITHDRAWN}

    @property
    def may_decide(self) -> bool:
        return self.open

    @property
    def may_fix(self) -> bool:
        return self.open and self.disposition in TO_CORRECT

    @property
    def may_reinspect(self) -> bool:
        return self.state in {TO_INSPECT, CHANGED}

    @property
    def next(self) -> str:
        """The kind of step that comes next; empty when nothing does."""
        if self.state == NOT_ACCEPTED:
            return FIXED if self.may_fix else DECIDED
        after = {FOUND: DECIDED, DEFERRED: DECIDED, TO_DO: FIXED, TO_INSPECT: REINSPECTED, CHANGED: REINSPECTED}
        return after.get(self.state, "")

    @property
    def words(self) -> str:
        return STATES[self.state]


def standing(steps: Sequence[StepFacts], withdrawn: bool = False) -> Standing:
    """Where a discrepancy stands after these steps, in the order in which they were told."""
    state, disposition, ever = FOUND, "", False
    decider, fixers = "", set[str]()
    changes: tuple[str, ...] = ()
    for step in steps:
        if step.kind == DECIDED:
            disposition, changes = step.disposition, ()
            decider = step.person if disposition == USE_AS_IS else ""
            state = {USE_AS_IS: TO_INSPECT, DEFER: DEFERRED}.get(disposition, TO_DO)
        elif step.kind == FIXED:
            fixers.add(step.person)
            state, changes = TO_INSPECT, ()
        elif step.accepted:
            state, changes, ever = (CHANGED if step.changes else DONE), step.changes, True
        else:
            state, changes = NOT_ACCEPTED, ()
    doers = frozenset(fixers | {decider} - {""})
    return Standing(WITHDRAWN if withdrawn else state, disposition, doers, changes, ever)


def check_words(words: str) -> None:
    """Refuse a discrepancy that does not say what was found."""
    if not words.strip():
        raise Refusal("no_words", "Say what was found.", "words")


def check_time(what: str, when: datetime, now: datetime, field: str, not_before: datetime | None = None) -> None:
    """Refuse a time that lies ahead, or before the finding that it answers."""
    if when > now:
        raise Refusal("in_the_future", f"The time at which it was {what} lies ahead. Correct it.", field)
    if not_before is not None and when < not_before:
        raise Refusal("before_found", f"The time at which it was {what} lies before it was found. Correct it.", field)


def check_place(*, part_fits: bool, area_fits: bool) -> None:
    """Refuse places that contradict each other: a part or an area of another assembly."""
    if not part_fits:
        raise Refusal("other_assembly", "This part belongs to another assembly. Choose that one, or no part.", "part")
    if not area_fits:
        raise Refusal(
            "other_assembly",
            "This area belongs to another assembly. Choose its assembly or one below it, or no area.",
            "area",
        )


def check_stands(now: Standing) -> None:
    """Refuse a step on what was withdrawn."""
    if now.state == WITHDRAWN:
        raise Refusal("withdrawn", "This discrepancy was withdrawn.")


def check_decide(now: Standing, disposition: str, words: str) -> None:
    """Refuse a disposition of what is done, an unknown one, and one without the words that it needs."""
    check_stands(now)
    if not now.may_decide:
        raise Refusal("done", "This was accepted. What is found now is a new discrepancy.")
    if disposition not in DISPOSITIONS:
        raise Refusal("no_disposition", "Choose what is to become of it.", "disposition")
    if not words.strip():
        asked = {
            USE_AS_IS: "Say why it can stay as it is: which limit or whose word allows it.",
            DEFER: "Say until when or until what it is deferred.",
        }.get(disposition, "Say what is to be done.")
        raise Refusal("no_words", asked, "words")


def check_fix(now: Standing, words: str) -> None:
    """Refuse a correction before anything was decided, after it was accepted, or without words."""
    check_stands(now)
    if not now.open:
        raise Refusal("done", "This was accepted. What is done now belongs to a new discrepancy.")
    if not now.disposition:
        raise Refusal("not_decided", "Decide first what is to become of it.")
    if not now.may_fix:
        raise Refusal("not_to_correct", f"It was decided: {DISPOSITIONS[now.disposition].lower()}. Decide anew first.")
    if not words.strip():
        raise Refusal("no_words", "Say what was done.", "words")


def check_reinspect(
    now: Standing, *, person: str, may_sign: bool, accepted: bool, words: str, independent: bool
) -> bool:
    """Refuse an inspection after the correction that cannot be; tell whether it is one's own work that is inspected.

    Where the authority wants another pair of eyes (`independent`), nobody accepts what he did or decided himself.
    """
    check_stands(now)
    if not may_sign:
        raise Refusal("wrong_role", "Only an inspector or the builder signs.")
    if now.state == DONE:
        raise Refusal("done", "This was accepted, and nothing was changed since.")
    if not now.may_reinspect:
        asked = {
            FOUND: "Decide first what is to become of it.",
            DEFERRED: "It is deferred. Decide anew what is to become of it, then have it looked at.",
            NOT_ACCEPTED: "It was not accepted. Tell first what was done since, or decide anew.",
        }.get(now.state, "Tell first what was done, by whom and when.")
        raise Refusal("not_yet", asked)
    own = person in now.doers
    if own and accepted and independent:
        raise Refusal("own_work", "Who decided or corrected it does not accept it here. Another person has to look.")
    if not accepted and not words.strip():
        raise Refusal("no_words", "Say what is not accepted.", "words")
    return own


def check_withdraw(now: Standing) -> None:
    """Refuse to withdraw what somebody has signed for."""
    check_stands(now)
    if now.ever_accepted:
        raise Refusal("accepted", "Somebody signed that this was put right, so it stays on the list.")


def step_in_words(said: Mapping[str, Any]) -> str:
    """A step in one line."""
    words = [said["kind"], said["disposition"], {True: "accepted", False: "not accepted"}.get(said["accepted"], "")]
    own = "self-inspected" if said.get("self_inspected") else ""
    return ": ".join(filter(None, (", ".join(filter(None, (" ".join(filter(None, words)), own))), said["words"])))
