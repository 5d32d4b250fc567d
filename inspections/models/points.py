"""Hold and witness points: where work stops for somebody to look, or invites him (rule R25)."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from accounts.rules import ROLES
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections.rules import points as rules
from journal.models import Record
from parts.models import Assembly, Part


class Point(Record):
    """A point on an assembly or a part, at a named step, at which somebody is to look before work goes on.

    A hold point stops what comes after it until a signature by `role` releases it; a witness point invites and lets
    pass. Its state is derived: see `rules.points`.
    """

    PARTS = ("point_photos", "calls")
    TELLING = Telling(
        name="{number} {words}",
        noun="Point",
        verbs={
            "point.added": "Point set",
            "point.invited": "Invited to look",
            "point.went_on": "Went on without",
            "point.photo_shown": "Photo put in place",
            "point.photo_taken_away": "Photo taken away",
        },
        fields={"words": "what is to be seen", "step": "at which step", "role": "who may release it"},
        values={"role": ROLES},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    number = models.CharField(max_length=24)
    kind = models.CharField(max_length=7, choices=list(rules.KINDS.items()))
    step = models.CharField(max_length=120, blank=True)
    words = models.CharField(max_length=200)
    detail = models.CharField(max_length=600, blank=True)
    role = models.CharField(max_length=10)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"], condition=Q(withdrawn_at__isnull=True), name="point_number_stands_once"
            ),
            models.CheckConstraint(condition=~Q(role=""), name="point_names_who_may_release_it"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.words}"


class PointPhoto(Recorded, models.Model):
    """A photo that shows what a point is about."""

    RECORD = "part"
    TELLING = Telling(name="{photo}", same="photo", line=lambda said: "in place")

    id = KeyField()
    point = models.ForeignKey(Point, models.PROTECT, related_name="point_photos")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["point", "photo"], name="photo_once_at_a_point")]

    def __str__(self) -> str:
        return f"{self.photo_id} at {self.point_id}"


class PointCall(Recorded, models.Model):
    """Somebody was invited to a point, or work went on past a witness point without him."""

    RECORD = "part"
    TELLING = Telling(name="call", line=rules.call_in_words)

    id = KeyField()
    point = models.ForeignKey(Point, models.PROTECT, related_name="calls")
    kind = models.CharField(max_length=8, choices=list(rules.CALLS.items()))
    whom = models.CharField(max_length=120, blank=True)
    # When he is to come, as agreed.
    planned_at = models.DateTimeField(null=True, blank=True)
    words = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(kind="invited") | ~Q(whom=""), name="invitation_names_somebody"),
            models.CheckConstraint(condition=~Q(kind="went_on") | ~Q(words=""), name="going_on_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} at {self.point_id}"
