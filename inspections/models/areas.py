"""Enclosed areas, what their gates ask, what was supplied, and each closing."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from accounts.rules import ROLES
from buildlog.models import WorkSession
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections import rules
from inspections.rules import answers
from journal.models import Record
from parts.models import Assembly


class Area(Record):
    """A space that will be enclosed, with the gate that stands before closing it."""

    PARTS = ("requirements", "closings", "explained")
    LATER = frozenset({"closure_list", "explained"})
    TELLING = Telling(
        name="{number} {name}",
        noun="Area",
        verbs={
            "area.item_added": "Gate item added",
            "area.item_dropped": "Gate item dropped",
            "area.photo_shown": "Photo put in place",
            "area.photo_taken_away": "Photo taken away",
            "area.check_answered": "Item answered",
            "area.record_shown": "Process record put in place",
            "area.record_taken_away": "Process record taken away",
            "area.worked_inside": "Work after closing explained",
        },
        fields={"closure_list": "set up from the list"},
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
    # The list its gate was first asked from, with its edition, in words.
    closure_list = models.CharField(max_length=160, blank=True)

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
    PARTS = ("exhibits", "answers", "shown_records")
    LATER = frozenset({"low", "high", "unit", "inner", "process", "shown_records"})
    TELLING = Telling(
        name="item {position} {words}",
        fields={
            "words": "what is asked for",
            "count": "how many",
            "dropped_at": "no longer asked for since",
            "low": "least",
            "high": "most",
            "inner": "inner area",
            "process": "kind of process record",
        },
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
    # A measure's limits, either of which may be open, in its unit as the builder writes it.
    low = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    high = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    inner = models.ForeignKey(Area, models.PROTECT, related_name="asked_closed_by", null=True, blank=True)
    process = models.CharField(max_length=20, blank=True)
    dropped_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["area", "position"], condition=Q(dropped_at__isnull=True), name="gate_item_number_stands_once"
            ),
            models.CheckConstraint(condition=~Q(kind="signoff") | ~Q(role=""), name="sign_off_names_a_role"),
            models.CheckConstraint(
                condition=~Q(kind="measure") | Q(low__isnull=False) | Q(high__isnull=False),
                name="measure_has_a_limit",
            ),
            models.CheckConstraint(
                condition=Q(kind="inner", inner__isnull=False) | (~Q(kind="inner") & Q(inner__isnull=True)),
                name="inner_item_names_its_area",
            ),
            models.CheckConstraint(condition=~Q(kind="process") | ~Q(process=""), name="process_item_names_its_kind"),
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


class ShownRecord(Recorded, models.Model):
    """A process record put in place for a requirement; `record` is the name by which the journal knows it."""

    RECORD = "part"
    TELLING = Telling(name="{record}", same="record", line=lambda said: "in place")

    id = KeyField()
    requirement = models.ForeignKey(Requirement, models.PROTECT, related_name="shown_records")
    record = models.CharField(max_length=80)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.UniqueConstraint(fields=["requirement", "record"], name="record_once_for_a_requirement")]

    def __str__(self) -> str:
        return f"{self.record} for {self.requirement_id}"


class Answer(Recorded, models.Model):
    """An answer to a check, a measured value, or two counts that have to agree.

    A later one stands beside it and counts instead; none is changed. A measured value keeps the unit it was read in.
    """

    RECORD = "part"
    LATER = frozenset({"value", "unit", "number_in", "number_out"})
    TELLING = Telling(name="answer", line=answers.in_words)

    id = KeyField()
    requirement = models.ForeignKey(Requirement, models.PROTECT, related_name="answers")
    answer = models.CharField(max_length=3, blank=True, choices=list(rules.ANSWERS.items()))
    reason = models.CharField(max_length=300, blank=True)
    value = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    number_in = models.PositiveIntegerField(null=True, blank=True)
    number_out = models.PositiveIntegerField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.CheckConstraint(condition=~Q(answer="na") | ~Q(reason=""), name="does_not_apply_has_a_reason"),
            models.CheckConstraint(
                condition=~Q(answer="") | Q(value__isnull=False) | Q(number_in__isnull=False, number_out__isnull=False),
                name="answer_says_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.answer} for {self.requirement_id}"

    @property
    def words(self) -> str:
        """What it says in one line."""
        names = ("answer", "reason", "value", "unit", "number_in", "number_out")
        return answers.in_words({name: getattr(self, name) for name in names})


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


class Explained(Recorded, models.Model):
    """Why a session was worked on an assembly whose area had been closed (rule R23): it did not touch the inside."""

    RECORD = "part"
    TELLING = Telling(name="{session}", same="session", fields={"words": "what was done"})

    id = KeyField()
    area = models.ForeignKey(Area, models.PROTECT, related_name="explained")
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="+")
    words = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["area", "session"], name="session_explained_once_for_an_area"),
            models.CheckConstraint(condition=~Q(words=""), name="explanation_has_words"),
        ]

    def __str__(self) -> str:
        return f"{self.session_id} beside {self.area_id}"
