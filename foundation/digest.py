"""Digests and canonical JSON. A digest is always written with its algorithm: `sha256:` and 64 hex digits."""

import hashlib
from typing import IO, Any

import rfc8785

CHUNK = 1024 * 1024


def digest_bytes(data: bytes) -> str:
    """SHA-256 of bytes, with its algorithm in front."""
    return "sha256:" + hashlib.sha256(data).hexdigest()


def digest_file(file: IO[bytes]) -> tuple[str, int]:
    """SHA-256 and length in bytes of an open binary file, read in pieces from its start."""
    file.seek(0)
    running, size = hashlib.sha256(), 0
    while piece := file.read(CHUNK):
        running.update(piece)
        size += len(piece)
    return "sha256:" + running.hexdigest(), size


def canonical(value: Any) -> str:
    """The one JSON text of a value, by RFC 8785 (JSON Canonicalization Scheme)."""
    return rfc8785.dumps(value).decode()


def short(digest: str) -> str:
    """A digest short enough to be compared by eye on paper: three groups of four hex digits."""
    body = digest.split(":")[-1].upper()
    return f"{body[:4]}-{body[4:8]}-{body[8:12]}"
