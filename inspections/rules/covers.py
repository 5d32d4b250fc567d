"""What a signature covers, and what was changed under it since (rules R30, R31)."""

from collections.abc import Mapping, Sequence
from typing import Any

from accounts.rules import ROLES
from evidence.rules import SHOWS
from foundation.digest import canonical, digest_bytes
from inspections.rules.discrepancies import SEVERITIES
from inspections.rules.gates import ANSWERS, AREA_KINDS
from inspections.rules.points import KINDS as POINT_KINDS

CHANGED_MEANWHILE = "Something listed here was changed while you read. Read it again, then sign."


def cover(subject: str, label: str, facts: Mapping[str, Any]) -> dict[str, Any]:
    """One thing that a signature covers: its name, its facts as they were, and their digest."""
    return {"subject": subject, "label": label, "facts": dict(facts), "digest": digest_of(dict(facts))}


def digest_of(facts: Any) -> str:
    """The digest of facts in their canonical form."""
    return digest_bytes(canonical(facts).encode())


# The fields of covered facts in the words of the shop.
FIELD_WORDS = {
    "kind": "how it is closed",
    "photo": "the picture itself",
    "taken_at": "when it was taken",
    "taken_known": "how its time is known",
    "shows": "what it shows",
    "builder_in_frame": "whether the builder is in it",
    "answered_at": "answered again",
    "answered_by": "who answered",
    "number_in": "how many went in",
    "number_out": "how many came out",
    "value": "the measured value",
    "closed_at": "when it was closed",
    "missing": "what was missing when it was closed",
    "found": "what was found",
    "point": "hold or witness",
    "step": "at which step",
    "words": "what is to be seen",
    "detail": "what it must show",
    "role": "who may release it",
    "found_at": "when it was found",
    "found_by": "who found it",
}

# The fields that are told with what was signed and what stands there now, in this order, behind the others.
TOLD = (
    *("number", "name", "kind", "caption", "shows", "answer", "reason", "found", "severity", "closing"),
    *("point", "step", "words", "detail", "role"),
)
CHOICE_WORDS: dict[str, Mapping[str, str]] = {
    "kind": AREA_KINDS,
    "shows": SHOWS,
    "answer": ANSWERS,
    "severity": SEVERITIES,
    "point": POINT_KINDS,
    "role": ROLES,
}
MOST_TOLD = 120


def changes_since(covers: Sequence[Mapping[str, Any]], now: Mapping[str, Mapping[str, Any]]) -> tuple[str, ...]:
    """What was changed under a signature, each as "label: what"; empty while everything is as signed.

    `now` gives the present facts of each subject; a covered thing that is no longer there counts as changed.
    """
    changes = []
    for item in covers:
        facts = now.get(item["subject"])
        if facts is None:
            changes.append(f"{item['label']}: no longer in place")
        elif digest_of(dict(facts)) != item["digest"]:
            changes.append(f"{item['label']}: {', '.join(changed_words(item['facts'], facts))}")
    return tuple(changes)


def changed_words(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """The fields that differ, in words; the items of a gate one by one."""
    names = sorted(name for name in set(then) | set(now) if then.get(name) != now.get(name))
    told = [name for name in TOLD if name in names]
    # A new answer has a new time anyway.
    plain = [] if "answer" in names else [name for name in names if name not in {*TOLD, "items", "marks"}]
    words = [FIELD_WORDS.get(name, name.replace("_", " ")) for name in plain]
    if "marks" in names:
        words.append(marks_words(then.get("marks", []), now.get("marks", [])))
    if "items" in names:
        words += items_words(then.get("items", []), now.get("items", []))
    return words + [old_and_new(name, then.get(name), now.get(name)) for name in told]


def marks_words(then: Sequence[Any], now: Sequence[Any]) -> str:
    """What became of the marks over a photo."""
    if not then:
        return "marks drawn"
    return "marks changed" if now else "marks taken away"


def old_and_new(name: str, then: Any, now: Any) -> str:
    """A field that says something in words: what was signed and what stands there now."""
    signed = f"signed as {quoted(name, then)}" if then else "signed empty"
    return f"{FIELD_WORDS.get(name, name)}, {signed}, now {quoted(name, now) if now else 'empty'}"


def quoted(name: str, value: Any) -> str:
    """What a field says, as it reads on the page, cut to one line."""
    words = " ".join(str(CHOICE_WORDS.get(name, {}).get(value, value)).split())
    return f"'{words if len(words) <= MOST_TOLD else words[: MOST_TOLD - 1].rstrip() + '…'}'"


def items_words(then: Sequence[Sequence[Any]], now: Sequence[Sequence[Any]]) -> list[str]:
    """What became of the items of a gate; each is told as [position, kind, words, ...]."""
    before, after = {item[0]: list(item) for item in then}, {item[0]: list(item) for item in now}
    words = []
    for position in sorted(before | after):
        old, new = before.get(position), after.get(position)
        if old == new:
            continue
        if old is not None and new is not None and old[2] == new[2]:
            words.append(f"item {position} {new[2]} asked for differently")
            continue
        if old is not None:
            words.append(f"item {position} {old[2]} no longer asked for")
        if new is not None:
            words.append(f"item {position} {new[2]} asked for since")
    return words
