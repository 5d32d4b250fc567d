"""Enclosed areas, what their gates ask, what was supplied, and each closing."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from accounts.rules import ROLES
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections import rules
from journal.models import Record
from parts.models import Assembly


class Area(Record):
    """A space that will be enclosed, with the gate that stands before closing it."""

    PARTS = ("requirements", "closings")
    TELLING = Telling(
        name="{number} {name}",
        noun="Area",
        verbs={
            "area.item_added": "Gate item added",
            "area.item_dropped": "Gate item dropped",
            "area.photo_shown": "Photo put in place",
            "area.photo_taken_away": "Photo taken away",
            "area.check_answered": "Check answered",
        },
    )

    # Fetched along by `queries.areas`: what is still asked for, in order, and every closing.
    asked: "list[Requirement]"
    all_closings: "list[Closing]"

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+")
    number = models.CharField(max_length=24)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, default="permanent", choices=list(rules.AREA_KINDS.items()))
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"], condition=Q(withdrawn_at__isnull=True), name="area_number_stands_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class Requirement(Recorded, models.Model):
    """One thing that a gate asks for."""

    RECORD = "part"
    PARTS = ("exhibits", "answers")
    TELLING = Telling(
        name="item {position} {words}",
        fields={"words": "what is asked for", "count": "how many", "dropped_at": "no longer asked for since"},
        values={"role": ROLES},
    )

    id = KeyField()
    area = models.ForeignKey(Area, models.PROTECT, related_name="requirements")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=list(rules.KINDS.items()))
    words = models.CharField(max_length=120)
    detail = models.CharField(max_length=300, blank=True)
    count = models.PositiveSmallIntegerField(default=1)
    role = models.CharField(max_length=10, blank=True)
    dropped_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["area", "position"], condition=Q(dropped_at__isnull=True), name="gate_item_number_stands_once"
            ),
            models.CheckConstraint(condition=~Q(kind="signoff") | ~Q(role=""), name="sign_off_names_a_role"),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.words}"


class Exhibit(Recorded, models.Model):
    """A photo put in place for a requirement."""

    RECORD = "part"
    TELLING = Telling(name="{photo}", same="photo", line=lambda said: "in place")

    id = KeyField()
    requirement = models.ForeignKey(Requirement, models.PROTECT, related_name="exhibits")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["requirement", "photo"], name="photo_once_for_a_requirement")]

    def __str__(self) -> str:
        return f"{self.photo_id} for {self.requirement_id}"


class Answer(Recorded, models.Model):
    """An answer to a check. A later one stands beside it and counts instead; none is changed."""

    RECORD = "part"
    TELLING = Telling(name="answer", line=lambda said: ": ".join(filter(None, (said["answer"], said["reason"]))))

    id = KeyField()
    requirement = models.ForeignKey(Requirement, models.PROTECT, related_name="answers")
    answer = models.CharField(max_length=3, choices=list(rules.ANSWERS.items()))
    reason = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(answer="na") | ~Q(reason=""), name="does_not_apply_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.answer} for {self.requirement_id}"


class Closing(Recorded, models.Model):
    """One closing of an area, and its reopening if there was one. A reason for closing over a gap stays for ever."""

    RECORD = "part"
    TELLING = Telling(
        name="closing",
        # Their entries in the journal say the same of when, by whom and why.
        silent=frozenset({"closed_at", "closed_by", "reason", "reopened_at", "reopened_by", "reopen_reason"}),
    )

    id = KeyField()
    area = models.ForeignKey(Area, models.PROTECT, related_name="closings")
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    missing = models.JSONField(default=list)
    reason = models.TextField(blank=True)
    reopened_at = models.DateTimeField(null=True)
    reopened_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True)
    reopen_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["closed_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["area"], condition=Q(reopened_at__isnull=True), name="area_has_one_closing_that_stands"
            ),
            models.CheckConstraint(
                condition=Q(reopened_at__isnull=True) | ~Q(reopen_reason=""), name="reopening_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"closing of {self.area_id}"
