"""Pure decisions of the archive: how records and their changes are called in words."""

from collections.abc import Iterator, Mapping
from typing import Any

from journal.rules import differences

# What a record is called, by the kind in its journal name, filled from its state.
TITLES = {
    "accounts.project": "Project {name}",
    "accounts.person": "{name}",
    "parts.assembly": "Assembly {number} {name}",
    "parts.part": "Part {number} {name}",
    "evidence.photo": "Photo P-{number:04d}",
    "buildlog.worksession": "Session {number}",
    "inspections.area": "Area {number} {name}",
    "certification.pack": "Builder's record {number}",
    "journal.signature": "Signature of {name}",
}

# Kinds by which the journal can be filtered.
KINDS = {
    "buildlog.worksession": "Sessions",
    "evidence.photo": "Photos",
    "inspections.area": "Areas",
    "journal.signature": "Signatures",
    "parts.assembly": "Assemblies",
    "parts.part": "Parts",
    "accounts.person": "People",
    "accounts.project": "Project",
    "certification.pack": "Printed records",
}

VERBS = {
    "record.frozen": "Builder's record made",
    "person.given_account": "Person given an account",
    "photo.kept": "Photo taken in",
    "photo.time_typed": "Time of photo typed",
    "signed": "Signed",
}

# Plain words for fields whose name says too little.
FIELDS = {
    "at": "when",
    "by": "by whom",
    "n": "count",
    "of": "count of",
    "labor_seconds": "labor",
    "break_seconds": "breaks",
    "unattended_seconds": "unattended time",
    "seconds": "hours",
    "taken_known": "how the time is known",
}
DURATIONS = {"labor_seconds", "break_seconds", "unattended_seconds", "seconds"}


def kind_of(subject: str) -> str:
    """The kind in a journal name: `buildlog.worksession` of `buildlog.worksession:7k3m...`."""
    return subject.partition(":")[0]


def title(subject: str, state: Mapping[str, Any]) -> str:
    """What a person calls this record, told from its state alone, so that a lost record can be named too."""
    pattern = TITLES.get(kind_of(subject))
    try:
        return pattern.format_map(state).strip() if pattern else subject
    except (KeyError, ValueError, TypeError):
        return subject


def verb_words(verb: str) -> str:
    """A journal verb as words: `session.photos_attached` is "Session photos attached"."""
    return VERBS.get(verb) or verb.replace(".", " ").replace("_", " ").capitalize()


def field_words(name: str) -> str:
    """A field's name as words."""
    return FIELDS.get(name) or name.removesuffix("_id").replace("_", " ")


def changed_words(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """The fields that differ between two states, as words for a sentence: "note, shares (weight)"."""
    words = []
    for change in differences(before, after):
        inner = sorted(set(inner_words(change.before, change.after)))
        words.append(field_words(change.field) + (f" ({', '.join(inner)})" if inner else ""))
    return ", ".join(words)


def inner_words(before: Any, after: Any) -> Iterator[str]:
    """Inside lists of parts: the fields that differ, and whether parts are more or fewer."""
    old, new = by_id(before), by_id(after)
    if old is None or new is None:
        return
    if new.keys() - old.keys():
        yield "one added" if len(new.keys() - old.keys()) == 1 else "several added"
    if old.keys() - new.keys():
        yield "one gone" if len(old.keys() - new.keys()) == 1 else "several gone"
    for key in old.keys() & new.keys():
        for change in differences(old[key], new[key]):
            deeper = list(inner_words(change.before, change.after))
            yield from deeper or [field_words(change.field)]


def by_id(rows: Any) -> dict[str, Mapping[str, Any]] | None:
    """Parts by their key; None when this is not a list of parts."""
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) and "id" in row for row in rows):
        return None
    return {row["id"]: row for row in rows}


def size_words(size: int) -> str:
    """A number of bytes as a person reads it, in powers of a thousand."""
    value = float(size)
    for unit in ("bytes", "kB", "MB", "GB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} TB"
