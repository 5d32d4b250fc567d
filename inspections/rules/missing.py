"""What stands between a gate and its closing, in the order in which the builder can act on it (rule R21)."""

from dataclasses import dataclass
from enum import StrEnum

from inspections.rules.gates import (
    ADVISED,
    CHECK,
    CLOSED,
    COUNT,
    DISCREPANCY,
    INNER,
    MEASURE,
    PHOTO,
    POINT,
    PROCESS,
    SIGN_OFF,
    Gate,
    Item,
    Wait,
)


class Way(StrEnum):
    """The one step that supplies what is missing."""

    SAY = "say"
    CORRECT = "correct"
    RELEASE = "release"
    TAKE = "take"
    SEND = "send"
    ANSWER = "answer"
    MEASURE = "measure"
    COUNT = "count"
    RECORD = "record"
    INNER = "inner"
    SIGN = "sign"
    REOPEN = "reopen"


# What a person has to be allowed to do to go this way, and the words on the button.
ACT = {
    Way.SAY: "edit",
    Way.CORRECT: "read",
    Way.RELEASE: "read",
    Way.TAKE: "log",
    Way.SEND: "log",
    Way.ANSWER: "log",
    Way.MEASURE: "log",
    Way.COUNT: "log",
    Way.RECORD: "log",
    Way.INNER: "read",
    Way.SIGN: "sign",
    Way.REOPEN: "close",
}
BUTTON = {
    Way.SAY: "Say what it asks for",
    Way.CORRECT: "Open",
    Way.RELEASE: "Open",
    Way.TAKE: "Take",
    Way.SEND: "Add",
    Way.ANSWER: "Yes",
    Way.MEASURE: "Measure",
    Way.COUNT: "Count",
    Way.RECORD: "Choose",
    Way.INNER: "Open its gate",
    Way.SIGN: "Read and sign",
    Way.REOPEN: "Open it again",
}

# What stops the work comes first, then what can be seen only while the area is open, then the rest; people sign last.
ORDER = (Way.SAY, Way.CORRECT, Way.RELEASE, Way.TAKE, Way.SEND, Way.ANSWER, Way.RECORD, Way.INNER, Way.SIGN, Way.REOPEN)
WAYS = {
    PHOTO: Way.TAKE,
    CHECK: Way.ANSWER,
    MEASURE: Way.MEASURE,
    COUNT: Way.COUNT,
    PROCESS: Way.RECORD,
    INNER: Way.INNER,
    SIGN_OFF: Way.SIGN,
    DISCREPANCY: Way.CORRECT,
    POINT: Way.RELEASE,
}
# Checks, values and counts are supplied in the order in which the gate asks for them.
TOGETHER = {Way.MEASURE: Way.ANSWER, Way.COUNT: Way.ANSWER}


@dataclass(frozen=True)
class Lack:
    """One line of the missing list: what is missing, why, and the way to supply it.

    `key` names the gate's item, the discrepancy or the point; it is empty where the gate asks for nothing yet.
    """

    way: Way
    key: str
    label: str
    words: str
    why: str = ""
    position: int = 0
    role: str = ""

    @property
    def rank(self) -> tuple[int, int, str]:
        return ORDER.index(TOGETHER.get(self.way, self.way)), self.position, self.label

    @property
    def act(self) -> str:
        """What somebody has to be allowed to do to supply it."""
        return ACT[self.way]

    @property
    def button(self) -> str:
        return BUTTON[self.way]


def lacking(gate: Gate) -> tuple[Lack, ...]:
    """Everything that a gate lacks, in the order in which it can be supplied; empty when it may be closed.

    A closed area takes photos from before its closing, and what is wrong below it can be settled; for all else it has
    to be opened again.
    """
    closed = gate.state in {CLOSED, ADVISED}
    rows = [of_item(item, closed) for item in gate.missing] + [of_wait(wait) for wait in gate.waits]
    if not gate.items and not closed:
        rows.append(Lack(Way.SAY, "", "", "Its gate asks for nothing yet"))
    return tuple(sorted(rows, key=lambda one: one.rank))


def of_item(item: Item, closed: bool) -> Lack:
    """The line of an item that is not in place."""
    asked = item.asked
    way = WAYS[asked.kind]
    if closed:
        way = Way.SEND if asked.kind == PHOTO else Way.REOPEN
    return Lack(way, asked.key, str(asked.position), asked.words, item.why, asked.position, asked.role)


def of_wait(wait: Wait) -> Lack:
    """The line of a discrepancy that blocks or a hold point that is not released."""
    why = "Open discrepancy, blocks closing." if wait.kind == DISCREPANCY else "Hold point, not released."
    return Lack(WAYS[wait.kind], wait.key, wait.label, wait.words, why)


def since_closing(lacks: list[str], missing: list[str]) -> list[str]:
    """What is not in place now and was not told as missing when the area was closed."""
    return [name for name in lacks if name not in missing]
