"""Discrepancies: what was found not to be as it should, and what became of it."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections.models.areas import Area
from inspections.models.visits import Visit
from inspections.rules import discrepancies as rules
from journal.models import Record
from parts.models import Assembly, Part


class Discrepancy(Record):
    """Something found, numbered through the project. Its state follows from its steps: see `rules.discrepancies`."""

    PARTS = ("found_photos", "steps")
    TELLING = Telling(
        name="D-{number}",
        noun="Discrepancy",
        verbs={
            "discrepancy.found": "Discrepancy found",
            "discrepancy.decided": "Disposition decided",
            "discrepancy.fixed": "Correction told",
            "discrepancy.reinspected": "Inspected again",
            "discrepancy.photo_shown": "Photo put in place",
            "discrepancy.photo_taken_away": "Photo taken away",
        },
        fields={"words": "what was found", "blocks": "blocks closing", "found_at": "found"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    area = models.ForeignKey(Area, models.PROTECT, related_name="discrepancies", null=True, blank=True)
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="discrepancies", null=True, blank=True)
    words = models.TextField()
    severity = models.CharField(max_length=8, choices=list(rules.SEVERITIES.items()))
    blocks = models.BooleanField(default=True)
    found_at = models.DateTimeField()
    found_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="discrepancy_number_stands_once"),
            models.CheckConstraint(condition=~Q(words=""), name="discrepancy_says_what_was_found"),
        ]

    def __str__(self) -> str:
        return f"{self.label} {self.words}"

    @property
    def label(self) -> str:
        """The number under which it is cited, on screen and on paper."""
        return f"D-{self.number}"


class FoundPhoto(Recorded, models.Model):
    """A photo of what was found, or of its correction; marks are drawn over the photo itself."""

    RECORD = "part"
    TELLING = Telling(name="{photo}", same="photo", line=lambda said: said["phase"])

    id = KeyField()
    discrepancy = models.ForeignKey(Discrepancy, models.PROTECT, related_name="found_photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    phase = models.CharField(max_length=9, choices=list(rules.PHASES.items()))
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["discrepancy", "photo", "phase"], name="photo_once_in_a_phase"),
        ]

    def __str__(self) -> str:
        return f"{self.photo_id} of {self.discrepancy_id}"


class DiscrepancyStep(Recorded, models.Model):
    """One step on the way of a discrepancy: a disposition, a correction, an inspection after it. None is changed."""

    RECORD = "part"
    TELLING = Telling(name="step", line=rules.step_in_words)

    id = KeyField()
    discrepancy = models.ForeignKey(Discrepancy, models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=11, choices=list(rules.STEPS.items()))
    disposition = models.CharField(max_length=8, blank=True, choices=list(rules.DISPOSITIONS.items()))
    # For an inspection after the correction: whether it was accepted.
    accepted = models.BooleanField(null=True)
    words = models.TextField(blank=True)
    # Who decided, corrected or inspected, and when; who typed it, and when.
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    done_at = models.DateTimeField()
    self_inspected = models.BooleanField(default=False)
    # The key of the signature by which it was accepted.
    signature = models.CharField(max_length=16, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="decided") & ~Q(disposition="") | ~Q(kind="decided") & Q(disposition=""),
                name="decision_names_its_disposition",
            ),
            models.CheckConstraint(
                condition=Q(kind="reinspected", accepted__isnull=False) | ~Q(kind="reinspected") & Q(accepted=None),
                name="inspection_says_whether_it_accepts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.discrepancy_id}"
