"""Visits: a person without an account looks, by a link, at what he was asked to look at."""

from django.db import models
from django.db.models import F, Q

from accounts.models import Person, Project
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections.models.areas import Area
from inspections.models.points import Point
from inspections.rules import visits as rules
from journal.models import Record


class Visit(Record):
    """One visit by one person to chosen areas and points, by a link of which only the digest is kept.

    The link ends when the visit ends, when it expires or when it is taken back; nothing else opens it again.
    """

    PARTS = ("visit_areas", "visit_points", "openings", "looks")
    TELLING = Telling(
        name="V-{number}",
        noun="Visit",
        verbs={
            "visit.made": "Visit link made",
            "visit.opened": "Visit link opened",
            "visit.looked": "Looked at",
            "visit.remarked": "Remark made",
            "visit.revoked": "Visit link taken back",
            "visit.ended": "Visit ended",
        },
        fields={"expires_at": "link ends", "purpose": "what for", "note": "words to the visitor"},
        silent=frozenset({"digest"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=200)
    note = models.TextField(blank=True)
    digest = models.CharField(max_length=71, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="visit_number_stands_once"),
            models.CheckConstraint(condition=Q(expires_at__gt=F("made_at")), name="visit_link_ends_after_it_was_made"),
        ]

    def __str__(self) -> str:
        return f"{self.label} {self.purpose}"

    @property
    def label(self) -> str:
        """The number under which it is cited, on screen and on paper."""
        return f"V-{self.number}"


class VisitArea(Recorded, models.Model):
    """An area that a visit is to look at."""

    RECORD = "part"
    TELLING = Telling(name="{area}", same="area", line=lambda said: "to be looked at")

    id = KeyField()
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="visit_areas")
    area = models.ForeignKey(Area, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["area__number", "id"]
        constraints = [models.UniqueConstraint(fields=["visit", "area"], name="area_once_in_a_visit")]

    def __str__(self) -> str:
        return f"{self.area_id} in {self.visit_id}"


class VisitPoint(Recorded, models.Model):
    """A hold or witness point that a visit is to look at."""

    RECORD = "part"
    TELLING = Telling(name="{point}", same="point", line=lambda said: "to be looked at")

    id = KeyField()
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="visit_points")
    point = models.ForeignKey(Point, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["point__number", "id"]
        constraints = [models.UniqueConstraint(fields=["visit", "point"], name="point_once_in_a_visit")]

    def __str__(self) -> str:
        return f"{self.point_id} in {self.visit_id}"


class Opening(Recorded, models.Model):
    """The link was opened in a browser that had not opened it before."""

    RECORD = "part"
    TELLING = Telling(name="opening", line=lambda said: said["device"] or "in a browser")

    id = KeyField()
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="openings")
    at = models.DateTimeField()
    device = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"opening of {self.visit_id}"


class Look(Recorded, models.Model):
    """What the visitor said of one thing before him: seen, or could not be reached. A later one counts instead."""

    RECORD = "part"
    TELLING = Telling(name="{label}", line=rules.look_in_words)

    id = KeyField()
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="looks")
    # The journal's name of what was looked at: a gate item, a point, an area.
    thing = models.CharField(max_length=80)
    label = models.CharField(max_length=200)
    outcome = models.CharField(max_length=12, choices=list(rules.OUTCOMES.items()))
    words = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.outcome} {self.label}"
