"""What every process record has."""

from typing import Any

from django.db import models

from accounts.models import Person, Project
from buildlog.models import WorkSession
from foundation.telling import Telling
from journal.models import Record
from parts.models import Assembly, Part
from process.rules.words import LETTERS

# Words for the fields that every process record has.
FIELDS = {"done_at": "done", "done_by": "done by", "finished_at": "finished"}


class ProcessRecord(Record):
    """A record of how something was made or checked, numbered within its kind.

    `done_at` is when it was done, `entered_at` when it was typed. It is open until `finished_at`: only then does it
    have a verdict that counts. Quantities are kept as they were typed, with their unit, beside the SI figure (R41).
    """

    KIND = ""
    PARTS: tuple[str, ...] = ("shots",)

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="+", null=True, blank=True)
    title = models.CharField(max_length=120, blank=True)
    note = models.TextField(blank=True)
    done_at = models.DateTimeField()
    done_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    # Where it was captured on a phone without signal, as with sessions.
    request_id = models.CharField(max_length=36, unique=True)
    received_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.label} {self.title}".strip()

    @property
    def label(self) -> str:
        """The number under which it is cited, such as L-31."""
        return f"{LETTERS[self.KIND]}-{self.number}"


def telling(noun: str, kind: str, **more: Any) -> Telling:
    """How records of one kind are told."""
    fields = FIELDS | more.pop("fields", {})
    silent = frozenset({"request_id"}) | frozenset(more.pop("silent", ()))
    return Telling(name=LETTERS[kind] + "-{number} {title}", noun=noun, fields=fields, silent=silent, **more)


def entered() -> models.CharField:
    """A quantity as it was typed, with its unit, such as "2 1/4 in"."""
    return models.CharField(max_length=40, blank=True)


def figure() -> models.DecimalField:
    """The same quantity in the SI unit that the field's name ends with; derived, but kept for sums and searches."""
    return models.DecimalField(max_digits=18, decimal_places=8, null=True, blank=True)
