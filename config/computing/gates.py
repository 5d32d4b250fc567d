"""Computations that ask this program's own rules: may an area be closed, does a photo count."""

from datetime import UTC, datetime

from calc.trouble import Impossible
from calc.verdict import PRACTICE, Rule
from config.computing.inputs import Input, a_list, a_text, moment, number
from config.computing.registry import Given, Results, computation
from evidence.rules import serves_as_inside
from inspections import rules

SHOPS = "common practice in one-off composite shops; no published source"
CLOSEOUT = Rule(
    "every required item present and no open discrepancy, or the area stays open",
    SHOPS,
    PRACTICE,
    valid="At least one item required.",
    caution="It says what is recorded and what is missing, not that the work is good.",
)
INSIDE = Rule(
    "a photo taken after an area was closed cannot show its inside",
    SHOPS,
    PRACTICE,
    valid="One taken before and sent later counts.",
    caution="The camera's clock may be wrong; the record says how the time is known.",
)

# When the items of a gate asked about here were answered: any time will do.
ANSWERED = datetime(2000, 1, 1, tzinfo=UTC)


@computation(
    "closeout_gate",
    CLOSEOUT,
    "may_close, missing (in the order required)",
    Input("required", a_list(a_text), "items"),
    Input("present", a_list(a_text), "items"),
    number("open_discrepancies", "count", needed=False, default=0),
)
def closeout_gate(given: Given) -> Results:
    count = given["open_discrepancies"]
    if not isinstance(count, int) or not 0 <= count <= 10_000:
        raise Impossible("Open discrepancies must be a whole number of zero or more.", "open_discrepancies")
    present = set(given["present"])
    asked = [
        rules.Asked(words, position, rules.CHECK, words, answer="yes" if words in present else "", answered_at=ANSWERED)
        for position, words in enumerate(given["required"], start=1)
    ]
    waits = [rules.Wait(rules.DISCREPANCY, str(number), f"D-{number}", "") for number in range(count)]
    gate = rules.gate(asked, worked=True, waits=waits)
    return {"may_close": gate.may_close, "missing": [item.asked.words for item in gate.missing]}


@computation("photo_counts", INSIDE, "counts", moment("photo_taken"), moment("closed_at", needed=False))
def photo_counts(given: Given) -> Results:
    taken, closed = given["photo_taken"], given["closed_at"]
    if closed is not None and (taken.tzinfo is None) != (closed.tzinfo is None):
        raise Impossible("One of the two times has a zone and the other has none.", "closed_at", "type")
    return {"counts": serves_as_inside(taken, "camera", taken, closed)}
