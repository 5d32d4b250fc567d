"""Field kinds that every app uses."""

import secrets
from typing import Any

from django.db import models

# No vowels and no look-alikes, so that a key read aloud or printed on a label is neither a word nor mistaken.
ALPHABET = "23456789bcdfghjkmnpqrstvwxyz"
LENGTH = 16


def new_key() -> str:
    """An identifier that cannot be guessed: 16 signs out of 28, about 77 bits."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


class KeyField(models.CharField):
    """The primary key of every record: unguessable, so that it may stand in links and on labels."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("primary_key", True)
        options.setdefault("max_length", LENGTH)
        options.setdefault("default", new_key)
        options.setdefault("editable", False)
        super().__init__(**options)
