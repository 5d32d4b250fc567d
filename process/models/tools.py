"""Tools whose readings the record rests on, with what happened to them (rule R44)."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from process.models.common import entered, figure
from process.rules import words


class Tool(Record):
    """A tool under the builder's own number. When it is due follows from its events: see `process.rules.tools`."""

    PARTS = ("events",)
    TELLING = Telling(
        name="{number} {name}",
        noun="Tool",
        verbs={"tool.event": "Happened to it"},
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


class ToolEvent(Recorded, models.Model):
    """Something that happened to a tool: calibrated, checked, dropped, repaired, found bad."""

    RECORD = "part"
    TELLING = Telling(name="event", fields={"happened_on": "on"})

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
