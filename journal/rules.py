"""Pure decisions of the journal: how entries are chained, and what differs between two states."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from foundation.digest import canonical, digest_bytes

START = "sha256:" + "0" * 64

# How a signer's identity was shown.
SHOWN_BY = {"password": "signed in, password given again", "link": "visit link", "ink": "wet ink, photographed"}


# What a signer says of what he saw.
ACCEPTED, NOT_ACCEPTED = "accepted", "not_accepted"
OUTCOMES = {ACCEPTED: "Accepted", NOT_ACCEPTED: "Not accepted"}


def entry_digest(facts: Mapping[str, Any]) -> str:
    """The digest of one entry: SHA-256 over the canonical JSON of everything it says and of the digest before it.

    `facts` has project, seq, at (UTC text), by, by_name, verb, subject, state (the canonical text), reason, previous.
    """
    return digest_bytes(canonical(dict(facts)).encode())


@dataclass(frozen=True)
class Difference:
    """One field that is not what it was."""

    field: str
    before: Any
    after: Any


def differences(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Difference]:
    """Fields whose value differs between two states, by name."""
    names = sorted(set(before) | set(after))
    return [Difference(n, before.get(n), after.get(n)) for n in names if before.get(n) != after.get(n)]
