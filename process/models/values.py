"""Values that a project puts in place of built-in ones, each with its source (the maker's own sheet wins)."""

from django.db import models
from django.db.models import Q

from accounts.models import Project
from foundation.telling import Telling
from journal.models import Record


class HouseValue(Record):
    """One built-in value replaced for this project. `key` names it: see `process.rules.values`."""

    TELLING = Telling(name="{key}", noun="Own value")

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    key = models.CharField(max_length=60)
    value = models.DecimalField(max_digits=14, decimal_places=4)
    unit = models.CharField(max_length=20, blank=True)
    source = models.CharField(max_length=200)

    class Meta:
        ordering = ["key", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "key"], condition=Q(withdrawn_at__isnull=True), name="own_value_stands_once"
            ),
            models.CheckConstraint(condition=~Q(source=""), name="own_value_names_its_source"),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.value} {self.unit}".strip()
