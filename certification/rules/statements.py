"""Pure decisions about statements: the elements that each kind needs. The words come from the aircraft's own papers."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from certification.rules.flights import Progress
from foundation.refusal import Refusal

COMPLETION, PHASE_END, AEROBATIC, CONDITION = "completion", "phase_end", "aerobatic", "condition"


@dataclass(frozen=True)
class Element:
    """Something that a statement of its kind says. The builder confirms a `tick`; others are figures, or in the log."""

    key: str
    words: str
    tick: bool = True


# The exact wording is in each aircraft's own papers; these are only its elements, with their sources below.
ELEMENTS: Mapping[str, tuple[Element, ...]] = {
    COMPLETION: (
        Element("own_purpose", "Built for own education or recreation"),
        Element("scope", "Inspected to the scope of part 43 Appendix D"),
        Element("eligible", "Eligible for an experimental certificate, amateur-built purpose"),
        Element("signed", "Signed and dated in the logbook"),
    ),
    PHASE_END: (
        Element("hours", "The hours asked were flown", tick=False),
        Element("controllable", "Controllable through its normal speeds and all manoeuvres to be flown"),
        Element("no_hazard", "No hazardous characteristic or design feature"),
        Element("safe", "Safe for operation"),
        Element("vso", "Vso, as found", tick=False),
        Element("vx", "Vx, as found", tick=False),
        Element("vy", "Vy, as found", tick=False),
        Element("weight", "Weight at which they were found", tick=False),
        Element("arm", "Center of gravity at which they were found", tick=False),
    ),
    AEROBATIC: (Element("flown", "Each manoeuvre named in the words was flown in the test phase"),),
    CONDITION: (
        Element("scope", "Inspected to the scope that the operating limitations name, such as part 43 Appendix D"),
        Element("total_time", "Total time in service", tick=False),
        Element("signed", "Entry carries name, signature, certificate kind and number"),
    ),
}
SOURCES: Mapping[str, str] = {
    COMPLETION: "A forum thread on the completion entry, answered by a designee (seen)",
    PHASE_END: "14 CFR 91.319(b) as a designee's magazine column and forum copies of the statement have it (seen)",
    AEROBATIC: "Copies of operating limitations: manoeuvres flown are listed in a further statement (seen)",
    CONDITION: "Copies of operating limitations, and 14 CFR 43.11(a): content of the entry (seen)",
}


def missing(kind: str, ticked: Collection[str], said: Mapping[str, object], progress: Progress) -> list[Element]:
    """The elements of a statement that are not there. `said` holds figures by key."""

    def there(element: Element) -> bool:
        if element.tick:
            return element.key in ticked
        if element.key == "hours":
            return progress.enough
        if element.key == "total_time":
            return said.get("hours") is not None
        return bool(said.get(element.key))

    return [element for element in ELEMENTS[kind] if not there(element)]


def check(
    kind: str,
    ticked: Collection[str],
    said: Mapping[str, object],
    progress: Progress,
    *,
    text: str,
    wording: str,
    made_on: date,
    today: date,
) -> None:
    """Refuse a statement while an element is missing."""
    if kind not in ELEMENTS:
        raise Refusal("no_such_kind", "Choose what it states.", "kind")
    if made_on > today:
        raise Refusal("ahead", "That day has not come yet.", "made_on")
    if not text.strip():
        raise Refusal("no_words", "Write the words as they stand in the logbook.", "text")
    if not wording:
        raise Refusal("no_wording", "Say where the words come from.", "wording")
    lacking = missing(kind, ticked, said, progress)
    if lacking:
        words = "; ".join(element.words for element in lacking)
        first = next((element.key for element in lacking if not element.tick and element.key != "hours"), "elements")
        raise Refusal("missing", f"Still missing: {words}.", first if first != "total_time" else "hours")
