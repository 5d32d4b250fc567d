"""Tools whose readings the record rests on, with what happened to them (rule R44)."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence.models import Document, Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from process.models.common import entered, figure
from process.rules import words


class Tool(Record):
    """A tool under the builder's own number. When it is due follows from its events: see `process.rules.tools`."""

    PARTS = ("events", "papers")
    LATER = frozenset({"papers"})
    TELLING = Telling(
        name="{number} {name}",
        noun="Tool",
        verbs={
            "tool.event": "Happened to it",
            "tool.paper": "Document put with it",
            "tool.paper_off": "Document taken off it",
        },
        fields={"interval_months": "months between calibrations", "error_percent": "error, percent of reading"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.CharField(max_length=24)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=list(words.TOOL_KINDS.items()))
    full_scale, full_scale_si = entered(), figure()
    resolution, resolution_si = entered(), figure()
    error_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    interval_months = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"], condition=Q(withdrawn_at__isnull=True), name="tool_number_stands_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


def happening(said: Mapping[str, Any]) -> str:
    """Something that happened to a tool, in a line."""
    certificate = f", certificate {said['certificate']}" if said["certificate"] else ""
    photo = f", photo {said['photo']}" if said["photo"] else ""
    return f"{said['kind']} on {said['happened_on']}{certificate}{': ' if said['words'] else ''}{said['words']}{photo}"


class ToolEvent(Recorded, models.Model):
    """Something that happened to a tool: calibrated, checked, dropped, repaired, found bad."""

    RECORD = "part"
    TELLING = Telling(name="event", line=happening)

    id = KeyField()
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="events")
    kind = models.CharField(max_length=10, choices=list(words.TOOL_EVENTS.items()))
    happened_on = models.DateField()
    words = models.CharField(max_length=300, blank=True)
    certificate = models.CharField(max_length=80, blank=True)
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+", null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["happened_on", "at", "id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.tool_id}"


class ToolDocument(Recorded, models.Model):
    """A document about a tool, such as its certificate; with `event` about one thing that happened to it."""

    RECORD = "part"
    TELLING = Telling(
        name="document",
        same="document",
        line=lambda said: f"{said['document']}{', with what happened to it' if said['event'] else ''}",
    )

    id = KeyField()
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="papers")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")
    event = models.ForeignKey(ToolEvent, models.PROTECT, related_name="papers", null=True, blank=True)

    class Meta:
        ordering = ["document__number", "id"]
        constraints = [models.UniqueConstraint(fields=["tool", "document"], name="document_once_with_a_tool")]

    def __str__(self) -> str:
        return f"{self.document_id} about {self.tool_id}"


class Recheck(Record):
    """A record that was made with a tool later found bad, looked at again: what came of it.

    The record is named by its kind and key, and by the number under which it is cited.
    """

    TELLING = Telling(
        name="{cited}",
        noun="Looked at again",
        verbs={
            "recheck.told": "Looked at again",
            "recheck.corrected": "Looking again corrected",
            "recheck.withdrawn": "Looking again withdrawn",
        },
        fields={"tool": "made with", "cited": "record", "looked_on": "on"},
        # The event has no name of its own, and the record is told by the number under which it is cited.
        silent=frozenset({"event", "kind", "record"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="rechecks")
    event = models.ForeignKey(ToolEvent, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12)
    record = models.CharField(max_length=16)
    cited = models.CharField(max_length=24)
    outcome = models.CharField(max_length=8, choices=list(words.RECHECKED.items()))
    words = models.CharField(max_length=300)
    looked_on = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["event", "kind", "record"],
                condition=Q(withdrawn_at__isnull=True),
                name="record_looked_at_again_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cited}: {self.outcome}"
