"""The project's own lists of what a gate asks for common closures; the bundled ones are data (`data/closures.json`)."""

from django.db import models
from django.db.models import Q

from accounts.models import Project
from accounts.rules import ROLES
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from inspections import rules
from journal.models import Record


class ClosureList(Record):
    """What the builder asks of every closure of one kind. Each correction makes the next edition."""

    PARTS = ("items",)
    TELLING = Telling(name="{name}", noun="Closure list", fields={"based_on": "made from"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    edition = models.PositiveIntegerField(default=1)
    kind = models.CharField(max_length=10, default="permanent", choices=list(rules.AREA_KINDS.items()))
    based_on = models.CharField(max_length=160, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "name"], condition=Q(withdrawn_at__isnull=True), name="closure_list_name_stands_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, edition {self.edition}"


class ClosureItem(Recorded, models.Model):
    """One line of a closure list; an area set up from it asks for the same."""

    RECORD = "part"
    TELLING = Telling(
        name="item {position} {words}",
        same="position",
        fields={"words": "what is asked for", "count": "how many", "low": "least", "high": "most"},
        values={"role": ROLES},
    )

    id = KeyField()
    closure_list = models.ForeignKey(ClosureList, models.PROTECT, related_name="items")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=list(rules.KINDS.items()))
    words = models.CharField(max_length=120)
    detail = models.CharField(max_length=300, blank=True)
    count = models.PositiveSmallIntegerField(default=1)
    role = models.CharField(max_length=10, blank=True)
    low = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    high = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    process = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["closure_list", "position"], name="closure_item_number_stands_once"),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.words}"
