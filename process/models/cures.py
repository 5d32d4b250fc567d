"""Cure runs: what was heated, by which specification, and what the sensors said."""

from django.db import models
from django.db.models import F, Q

from evidence.models import Document
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from process.models.common import ProcessRecord, entered, figure, telling
from process.models.tools import Tool
from process.rules import words


class CureRun(ProcessRecord):
    """One cure or post-cure, of one or more layups, bonds or parts, judged against its own sheet (rule R40).

    The points come from a logger's file, from typed points, or from start and stop alone. `verdict` is what the
    program makes of them and can be made again.
    """

    KIND = words.CURE
    PARTS = ("shots", "cured", "points", "stack")
    APART = frozenset({"verdict", "judged_at"})
    TELLING = telling(
        "Cure run",
        words.CURE,
        verbs={"cure.log_read": "Log read in"},
        fields={
            "unit": "degrees",
            "low": "soak from",
            "high": "soak to",
            "soak_min": "soak at least, minutes",
            "soak_max": "soak at most, minutes",
            "soak_rule": "times in the band",
            "peak_max": "never hotter than",
            "ramp_max_per_min": "heating up at most, degrees a minute",
            "cool_max_per_min": "cooling down at most, degrees a minute",
            "cool_to": "cooling counts down to",
            "setpoint": "set to",
        },
        # How the log is read is a matter of columns; the log itself is told.
        silent=("mapping", "setpoint_degc", "vacuum_inhg"),
    )

    heat = models.CharField(max_length=8, choices=list(words.HEAT.items()))
    equipment = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    logger = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    setpoint, setpoint_degc = entered(), figure()
    vacuum, vacuum_inhg = entered(), figure()
    # The specification, in the unit of the sheet it comes from.
    unit = models.CharField(max_length=1, default="C", choices=[("C", "°C"), ("F", "°F")])
    low = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    high = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    soak_min = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    soak_max = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    soak_rule = models.CharField(max_length=10, default=words.UNBROKEN, choices=list(words.SOAK_RULES.items()))
    peak_max = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    ramp_max_per_min = models.DecimalField(max_digits=12, decimal_places=8, null=True, blank=True)
    cool_max_per_min = models.DecimalField(max_digits=12, decimal_places=8, null=True, blank=True)
    # Cooling is judged down to this temperature.
    cool_to = models.DecimalField(max_digits=8, decimal_places=3, null=True, blank=True)
    source = models.CharField(max_length=160, blank=True)
    log = models.ForeignKey(Document, models.PROTECT, related_name="+", null=True, blank=True)
    # Delimiter, date order, unit, which column is the time and which are sensors, and where each sensor sat.
    mapping = models.JSONField(default=dict, blank=True)
    verdict = models.JSONField(default=dict, blank=True)
    judged_at = models.DateTimeField(null=True, blank=True)

    class Meta(ProcessRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="cure_number_stands_once"),
            models.CheckConstraint(
                condition=models.Q(low__isnull=True)
                | models.Q(high__isnull=True)
                | models.Q(high__gte=models.F("low")),
                name="cure_band_is_the_right_way_round",
            ),
            models.CheckConstraint(
                condition=Q(stopped_at__isnull=True) | Q(stopped_at__gt=F("started_at")),
                name="cure_stops_after_it_starts",
            ),
        ]


class CurePoint(Recorded, models.Model):
    """One temperature read and typed by hand."""

    RECORD = "part"
    TELLING = Telling(name="{sensor}", line=lambda said: f"{said['at']:%-d %b %Y, %H:%M}, {said['temp']}")

    id = KeyField()
    run = models.ForeignKey(CureRun, models.PROTECT, related_name="points")
    sensor = models.CharField(max_length=40)
    at = models.DateTimeField()
    temp, temp_degc = entered(), figure()

    class Meta:
        ordering = ["at", "sensor", "id"]
        constraints = [models.UniqueConstraint(fields=["run", "sensor", "at"], name="sensor_read_once_at_a_time")]

    def __str__(self) -> str:
        return f"{self.sensor} {self.temp}"


class StackMaterial(Recorded, models.Model):
    """A material in the heated stack with the most that it bears, in the unit of the run."""

    RECORD = "part"
    TELLING = Telling(name="{name}", same="name", fields={"limit": "bears at most"})

    id = KeyField()
    run = models.ForeignKey(CureRun, models.PROTECT, related_name="stack")
    name = models.CharField(max_length=80)
    limit = models.DecimalField(max_digits=8, decimal_places=3)
    source = models.CharField(max_length=160, blank=True)

    class Meta:
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return f"{self.name} {self.limit}"
