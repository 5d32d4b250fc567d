"""Weight and balance: weighings on scales, what may be loaded, the limits, and loading cases.

Quantities are kept as typed beside the figure in grams and millimeters (R41). Arms run aft from the datum.
"""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from process.models import Tool
from process.models.common import entered, figure

LOADS = {"crew": "Crew and passengers", "fuel": "Fuel", "baggage": "Baggage", "other": "Other"}
SIDES = {"forward": "Forward", "aft": "Aft"}


class WeighIn(Record):
    """The aircraft on its scales: readings with tare and arm, and the fluids that were aboard or are still to come."""

    # How process records call their kinds: under it a tool found bad lists a weighing (rule R44).
    KIND = "weighin"
    PARTS = ("points", "fluids")
    LATER = frozenset({"request_id"})
    TELLING = Telling(
        name="WB-{number}",
        noun="Weighing of the aircraft",
        verbs={
            "weighin.recorded": "Aircraft weighed",
            "weighin.corrected": "Weighing corrected",
            "weighin.finished": "Weighing finished",
            "weighin.withdrawn": "Weighing withdrawn",
        },
        fields={"done_at": "weighed", "done_by": "by", "datum": "datum", "level": "how it was leveled"},
        silent=frozenset({"request_id"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    done_at = models.DateTimeField()
    done_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    witness = models.CharField(max_length=120, blank=True)
    place = models.CharField(max_length=120, blank=True)
    datum = models.CharField(max_length=160)
    level = models.CharField(max_length=160, blank=True)
    condition = models.TextField(blank=True)
    note = models.TextField(blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    # Made with the empty form, so that one that is sent twice makes one record; rows from before have none.
    request_id = models.CharField(max_length=36, blank=True, default="")

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="weigh_in_number_stands_once"),
            models.UniqueConstraint(
                fields=["project", "request_id"], condition=~Q(request_id=""), name="weigh_in_request_makes_one"
            ),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """The number under which it is cited."""
        return f"WB-{self.number}"

    @property
    def title(self) -> str:
        """What it is called where it stands among records of other kinds."""
        return "Weighing of the aircraft"


def on_scale(said: Mapping[str, Any]) -> str:
    """A reading in a line."""
    tare = f", tare {said['tare']}" if said["tare"] else ""
    return f"{said['name']}: {said['reading']}{tare} at {said['arm']}{', ' + said['tool'] if said['tool'] else ''}"


class ScalePoint(Recorded, models.Model):
    """One scale under one point."""

    RECORD = "part"
    TELLING = Telling(name="scale", line=on_scale)

    id = KeyField()
    weigh_in = models.ForeignKey(WeighIn, models.PROTECT, related_name="points")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=60)
    reading, reading_g = entered(), figure()
    tare, tare_g = entered(), figure()
    arm, arm_mm = entered(), figure()
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["weigh_in", "position"], name="scale_has_its_place")]

    def __str__(self) -> str:
        return self.name


def fluid_line(said: Mapping[str, Any]) -> str:
    """A fluid in a line."""
    return f"{said['name']}: {said['weight']} at {said['arm']}, {'to add' if said['adds'] else 'to take off'}"


class Fluid(Recorded, models.Model):
    """A fluid to take off the weighed aircraft because it was aboard, or to add because it belongs to empty."""

    RECORD = "part"
    TELLING = Telling(name="fluid", line=fluid_line)

    id = KeyField()
    weigh_in = models.ForeignKey(WeighIn, models.PROTECT, related_name="fluids")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    weight, weight_g = entered(), figure()
    arm, arm_mm = entered(), figure()
    adds = models.BooleanField(default=False)

    class Meta:
        ordering = ["position", "id"]

    def __str__(self) -> str:
        return self.name


class LoadItem(Record):
    """Something that is loaded: a seat, a tank, a locker, with its arm, its least and its most."""

    TELLING = Telling(
        name="{name}",
        noun="Loaded item",
        verbs={
            "loaditem.added": "Item added",
            "loaditem.corrected": "Item corrected",
            "loaditem.withdrawn": "Item withdrawn",
        },
        silent=frozenset({"arm_mm", "least_g", "most_g"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=8, choices=list(LOADS.items()))
    name = models.CharField(max_length=80)
    arm, arm_mm = entered(), figure()
    least, least_g = entered(), figure()
    most, most_g = entered(), figure()
    source = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["arm_mm", "name", "id"]

    def __str__(self) -> str:
        return self.name


class Limits(Record):
    """The designer's limits: the most weight, and the forward and the aft limit as lines."""

    PARTS = ("corners",)
    TELLING = Telling(
        name="limits",
        noun="Limits of weight and balance",
        verbs={
            "limits.set": "Limits set",
            "limits.corrected": "Limits corrected",
            "limits.withdrawn": "Limits withdrawn",
        },
        fields={"most": "most weight"},
        silent=frozenset({"most_g"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    most, most_g = entered(), figure()
    source = models.CharField(max_length=200)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-entered_at", "id"]
        verbose_name_plural = "limits"
        constraints = [
            models.UniqueConstraint(
                fields=["project"], condition=Q(withdrawn_at__isnull=True), name="limits_stand_once"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="limits_name_their_source"),
        ]

    def __str__(self) -> str:
        return f"at most {self.most}"


class LimitCorner(Recorded, models.Model):
    """One point of a limit."""

    RECORD = "part"
    TELLING = Telling(name="corner", line=lambda said: f"{said['side']}: {said['arm']} at {said['weight']}")

    id = KeyField()
    limits = models.ForeignKey(Limits, models.PROTECT, related_name="corners")
    side = models.CharField(max_length=8, choices=list(SIDES.items()))
    weight, weight_g = entered(), figure()
    arm, arm_mm = entered(), figure()

    class Meta:
        ordering = ["side", "weight_g", "id"]

    def __str__(self) -> str:
        return f"{self.side} {self.arm} at {self.weight}"


class LoadingCase(Record):
    """A case the builder wants to see: what is aboard then."""

    PARTS = ("loads",)
    TELLING = Telling(
        name="{name}",
        noun="Loading case",
        verbs={
            "loadingcase.added": "Case added",
            "loadingcase.corrected": "Case corrected",
            "loadingcase.withdrawn": "Case withdrawn",
        },
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    note = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class CaseLoad(Recorded, models.Model):
    """What of one item is aboard in a case."""

    RECORD = "part"
    TELLING = Telling(name="load", same="item", line=lambda said: f"{said['item']}: {said['weight']}")

    id = KeyField()
    case = models.ForeignKey(LoadingCase, models.PROTECT, related_name="loads")
    item = models.ForeignKey(LoadItem, models.PROTECT, related_name="+")
    weight, weight_g = entered(), figure()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["case", "item"], name="item_once_in_a_case")]

    def __str__(self) -> str:
        return f"{self.item_id} {self.weight}"
