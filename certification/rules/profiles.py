"""For whom a builder's record is printed, and what of it that reader gets (rules R53, R61).

Everything is cut out of the facts before they are frozen: what is not there cannot leak.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any

EXAMINER, BUYER, INSURER, PUBLIC = "examiner", "buyer", "insurer", "public"
PROFILES = {EXAMINER: "Examiner", BUYER: "Buyer", INSURER: "Insurer", PUBLIC: "Public"}
ABOUT = {
    EXAMINER: "Everything that is recorded, but never what stands in a session for yourself.",
    BUYER: "Left out: places, numbers of people's certificates, and what papers say of identity.",
    INSURER: "Left out: places, numbers of people's certificates, what was written of each session and flight, and of "
    "the certification file all but placards, weight and balance, inspection lists and test flights.",
    PUBLIC: "Left out: places, visits, drawn signatures, the serial number, every name but the builder's, and the "
    "certification file but for the sums of credit and of its evidence.",
}
# What shows a hand: a drawn signature, the page it was given on, initials, and whoever typed it.
DRAWN = {"strokes": [], "ink": "", "ink_page": "", "initials": "", "visit": ""}
# Keys of facts that say where something is or was.
PLACES = {"place", "located", "time_zone"}
CERTIFICATES = {"certificate", "certificate_kind", "certificate_number"}
# Keys under which one person is named; a signature says it under `name`.
NAMED = {"by", "begun_by", "entered_by", "found_by", "made_by", "person", "reopened_by", "taken_by", "witness"}
SHORTEST_NAME = 3
# What a correction of such a field is headed with.
FIELDS = {"place", "where"}
# Statements of the file are typed whole, with the certificate of whoever makes them.
STATEMENTS = {"statement", "text"}
# What an insurer gets of the file.
INSURED = {"placards", "balance", "inspections", "flights"}

type Facts = dict[str, Any]


def for_profile(facts: Facts, profile: str) -> Facts:
    """The facts for one kind of reader. Paid help stays in every one of them (R53)."""
    left_out = "" if profile == EXAMINER else ABOUT[profile]
    return CUTS[profile](facts) | {"profile": profile, "profile_words": PROFILES[profile], "left_out": left_out}


def for_examiner(facts: Facts) -> Facts:
    return facts


def for_buyer(facts: Facts) -> Facts:
    return with_file(without_places(blanked(facts, PLACES | CERTIFICATES)), file_without_places, facts)


def with_file(cut: Facts, cutting: Callable[[Facts, Facts], Facts], facts: Facts) -> Facts:
    """The same facts with the certification file cut, where they have it; `facts` are those before any cut."""
    return cut | {"file": cutting(cut["file"], facts)} if "file" in cut else cut


def file_without_places(file: Facts, facts: Facts) -> Facts:
    """The file without what papers and plates say of identity, where test flights were to stay, and numbers of
    certificates in statements.
    """
    cut = dict(file)
    if "papers" in file:
        papers = [paper | {"said": {}, "note": ""} for paper in file["papers"]["papers"]]
        cut["papers"] = file["papers"] | {"papers": papers, "mismatches": []}
    if "flights" in file:
        cut["flights"] = file["flights"] | {"area": "", "wording": ""}
    if "placards" in file:
        cut["placards"] = [one | {"lacks": []} for one in file["placards"]]
    kept = {part: value for part, value in cut.items() if part in {"inspections", "flights"}}
    numbers = sorted(certificates(facts), key=lambda number: -len(number))
    return cut | in_statements(kept, dict.fromkeys(numbers, "(number left out)"))


def certificates(value: Any) -> set[str]:
    """Every number of a certificate in the facts."""
    if isinstance(value, dict):
        own = {inner for name, inner in value.items() if name in CERTIFICATES and isinstance(inner, str) and inner}
        return own.union(*map(certificates, value.values()))
    return set().union(*map(certificates, value)) if isinstance(value, list) else set()


def in_statements(value: Any, swap: Mapping[str, str]) -> Any:
    """The same facts with words replaced in the texts of statements only."""
    if isinstance(value, dict):
        return {
            name: renamed(inner, swap) if name in STATEMENTS else in_statements(inner, swap)
            for name, inner in value.items()
        }
    return [in_statements(inner, swap) for inner in value] if isinstance(value, list) else value


def without_places(value: Any) -> Any:
    """The same facts without corrections of places, whose old and new values would say them."""
    if isinstance(value, dict):
        return {
            name: [change for change in inner if change["field"].lower() not in FIELDS]
            if name == "changes" and inner and isinstance(inner[0], dict)
            else without_places(inner)
            for name, inner in value.items()
        }
    return [without_places(inner) for inner in value] if isinstance(value, list) else value


def for_insurer(facts: Facts) -> Facts:
    cut = for_buyer(facts)
    sessions = [session | {"note": "", "corrections": []} for session in cut["sessions"]]
    cut |= {"sessions": sessions, "withdrawn": [gone | {"note": ""} for gone in cut["withdrawn"]]}
    return with_file(cut, file_for_insurer, facts)


def file_for_insurer(file: Facts, facts: Facts) -> Facts:
    cut = {part: value for part, value in file.items() if part in INSURED}
    if "flights" in cut:
        cut["flights"] = cut["flights"] | {"flights": [one | {"note": ""} for one in cut["flights"]["flights"]]}
    return cut


def for_public(facts: Facts) -> Facts:
    """Names of other people are replaced wherever they stand, also inside sentences."""
    cut = emptied(for_buyer(facts), DRAWN)
    cut = {name: value for name, value in cut.items() if name != "visits"}
    cut |= {"project": cut["project"] | {"serial_number": ""}}
    cut = with_file(cut, file_for_public, facts)
    return without_names(cut, stand_ins(facts))


def stand_ins(facts: Facts) -> dict[str, str]:
    """What stands for the name of everybody but the builder: members, and whoever signed or is named beside."""
    builders = {person["name"] for person in facts["people"] if person["role"] == "Builder"}
    members = {person["name"]: f"{person['role']} {n}" for n, person in enumerate(facts["people"], 1)}
    others = sorted(named(facts) - members.keys() - builders)
    swap = members | {name: f"Somebody else {n}" if n > 1 else "Somebody else" for n, name in enumerate(others, 1)}
    return {name: word for name, word in swap.items() if name not in builders}


def named(value: Any) -> set[str]:
    """Every name of a person that the facts say under its own key."""
    if isinstance(value, dict):
        keys = NAMED | {"name"} if "capacity" in value else NAMED
        own = {inner for name, inner in value.items() if name in keys and is_name(inner)}
        return own.union(*map(named, value.values()))
    return set().union(*map(named, value)) if isinstance(value, list) else set()


def is_name(value: Any) -> bool:
    """Whether a value may name a person: something is due by a day too."""
    return isinstance(value, str) and bool(value.strip()) and not re.search(r"\d", value)


def without_names(facts: Facts, swap: Mapping[str, str]) -> Facts:
    """Names replaced wherever they stand, also inside sentences, where people are called by one name only."""
    builders = [person["name"] for person in facts["people"] if person["name"] not in swap]
    kept = {word for name in builders for word in name.split()}
    words = {word: told for name, told in swap.items() for word in name.split() if len(word) >= SHORTEST_NAME}
    whole = {rf"(?<!\w){re.escape(name)}(?!\w)": told for name, told in swap.items()}
    single = {
        # A day of May or of August is nobody.
        rf"(?<!\d )(?<!\w){re.escape(word)}(?!\w)(?! \d)": told
        for word, told in words.items()
        if word not in kept
    }
    told = {**by_length(whole), **by_length(single)}
    if not told:
        return facts
    sought, stand = re.compile("|".join(f"({one})" for one in told)), list(told.values())
    return rewritten(facts, lambda text: sought.sub(lambda found: stand[(found.lastindex or 1) - 1], text))


def by_length(told: Mapping[str, str]) -> dict[str, str]:
    """The longest first, so that no name is replaced by what stands for a part of it."""
    return dict(sorted(told.items(), key=lambda pair: -len(pair[0])))


def file_for_public(file: Facts, facts: Facts) -> Facts:
    """Sums of credit and of its evidence; paid help that no column says stays, without a name (R53)."""
    if "credit" not in file:
        return {}
    return {
        "credit": file["credit"] | {"sections": [], "without_task": [], "unbalanced": []},
        "coverage": file["coverage"] | {"tasks": [], "without_claim": []},
    }


def emptied(value: Any, names: Mapping[str, Any]) -> Any:
    """The same facts with these keys set, wherever they stand."""
    if isinstance(value, dict):
        return {name: names[name] if name in names else emptied(inner, names) for name, inner in value.items()}
    return [emptied(inner, names) for inner in value] if isinstance(value, list) else value


def blanked(value: Any, names: set[str]) -> Any:
    """The same facts with these keys emptied, however deep they stand."""
    if isinstance(value, dict):
        return {
            name: "" if name in names and isinstance(inner, str) else blanked(inner, names)
            for name, inner in value.items()
        }
    return [blanked(inner, names) for inner in value] if isinstance(value, list) else value


def renamed(value: Any, swap: Mapping[str, str]) -> Any:
    """The same facts with words replaced in every text."""

    def swapped(text: str) -> str:
        for name, word in swap.items():
            text = text.replace(name, word)
        return text

    return rewritten(value, swapped)


def rewritten(value: Any, change: Callable[[str], str]) -> Any:
    """The same facts with every text changed."""
    if isinstance(value, dict):
        return {name: rewritten(inner, change) for name, inner in value.items()}
    if isinstance(value, list):
        return [rewritten(inner, change) for inner in value]
    return change(value) if isinstance(value, str) else value


CUTS: dict[str, Callable[[Facts], Facts]] = {
    EXAMINER: for_examiner,
    BUYER: for_buyer,
    INSURER: for_insurer,
    PUBLIC: for_public,
}
