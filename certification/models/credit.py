"""The list of tasks a project uses, and what is credited to whom (rules R50, R51, R54)."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import F, Q

from accounts.models import Person, Project
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from parts.models import Assembly, Part


class TaskList(Record):
    """A list of tasks as it was taken up, with its edition; the project keeps it when a newer one comes out.

    `content` is canonical JSON: {"sections": [{"code", "title", "tasks": [{"code", "words", "provenance"}]}]}.
    """

    APART = frozenset({"content"})
    SEALED = (("content", "digest"),)
    TELLING = Telling(
        name="{title}, edition {edition}",
        noun="List of tasks",
        verbs={"tasklist.taken": "List of tasks taken up"},
        silent=frozenset({"digest"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    title = models.CharField(max_length=120)
    edition = models.CharField(max_length=60)
    source = models.CharField(max_length=300)
    official = models.BooleanField(default=False)
    content = models.TextField()
    digest = models.CharField(max_length=71)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-taken_at", "id"]
        constraints = [models.CheckConstraint(condition=~Q(source=""), name="task_list_names_its_source")]

    def __str__(self) -> str:
        return f"{self.title}, edition {self.edition}"


class Credit(Record):
    """What is credited for one task, in tenths of a point over four columns; or that it does not apply, and why.

    A task that the builder added has its section and words here; others have them in their list. `code` is the task's
    number in the list, so that credit finds its task again in a newer edition.
    """

    PARTS = ("places",)
    TELLING = Telling(
        name="{code}",
        noun="Credit for task",
        verbs={"credit.given": "Credit given", "credit.placed": "Work tied to the task"},
        fields={
            "mfr": "tenths: maker",
            "commercial": "tenths: paid help",
            "builder_assembly": "tenths: builders, assembly",
            "builder_fabrication": "tenths: builders, fabrication",
        },
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    code = models.CharField(max_length=24)
    added = models.BooleanField(default=False)
    section = models.CharField(max_length=24, blank=True)
    words = models.CharField(max_length=200, blank=True)
    applies = models.BooleanField(default=True)
    mfr = models.PositiveSmallIntegerField(default=0)
    commercial = models.PositiveSmallIntegerField(default=0)
    builder_assembly = models.PositiveSmallIntegerField(default=0)
    builder_fabrication = models.PositiveSmallIntegerField(default=0)
    reason = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["code", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "code"], condition=Q(withdrawn_at__isnull=True), name="task_is_credited_once"
            ),
            models.CheckConstraint(
                condition=Q(mfr__lte=10 - F("commercial") - F("builder_assembly") - F("builder_fabrication")),
                name="task_is_at_most_ten_tenths",
            ),
            models.CheckConstraint(condition=Q(applies=True) | ~Q(reason=""), name="task_that_does_not_apply_says_why"),
            models.CheckConstraint(condition=Q(added=False) | ~Q(words=""), name="added_task_says_what_it_is"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.words}".strip()


def where(said: Mapping[str, Any]) -> str:
    """A place of work in a line."""
    return said["part"] or said["assembly"] or "a place"


class CreditPlace(Recorded, models.Model):
    """An assembly or a part whose sessions and photos are evidence of a task."""

    RECORD = "part"
    TELLING = Telling(name="place", line=where)

    id = KeyField()
    credit = models.ForeignKey(Credit, models.PROTECT, related_name="places")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(assembly__isnull=False, part__isnull=True) | Q(assembly__isnull=True, part__isnull=False),
                name="task_place_is_an_assembly_or_a_part",
            ),
            models.UniqueConstraint(fields=["credit", "assembly"], name="assembly_once_for_a_task"),
            models.UniqueConstraint(fields=["credit", "part"], name="part_once_for_a_task"),
        ]

    def __str__(self) -> str:
        return f"{self.credit_id} at {self.part_id or self.assembly_id}"
