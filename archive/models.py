"""What the last checks of the record found."""

from django.db import models

from accounts.models import Project
from foundation.fields import KeyField
from foundation.record import Recorded


class Verification(Recorded, models.Model):
    """One run that held a project's rows, journal and originals against each other. It can be run again any time."""

    RECORD = "derived"

    id = KeyField()
    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    # Empty while it waits for the worker; then when it last told how far it is.
    heard_at = models.DateTimeField(null=True)
    # Which chapter it is at: see `rules.CHAPTERS`.
    chapter = models.CharField(max_length=12, blank=True)
    # Empty while it runs, or when it was broken off.
    ended_at = models.DateTimeField(null=True)
    broken_off_at = models.DateTimeField(null=True)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    records = models.PositiveIntegerField(default=0)
    entries = models.PositiveIntegerField(default=0)
    originals = models.PositiveIntegerField(default=0)
    signatures = models.PositiveIntegerField(default=0)
    faults = models.JSONField(default=list)
    fault_count = models.PositiveIntegerField(default=0)
    # The newest entry it read: what a record printed before has to agree with.
    newest_seq = models.PositiveIntegerField(default=0)
    newest_digest = models.CharField(max_length=71, blank=True)

    class Meta:
        ordering = ["-started_at", "-id"]
        indexes = [models.Index(fields=["project", "-started_at"], name="last_verification")]

    def __str__(self) -> str:
        return f"verification of {self.project_id} at {self.started_at:%Y-%m-%d %H:%M}"

    @property
    def whole(self) -> bool:
        """Whether it ran to its end and found nothing."""
        return self.ended_at is not None and not self.fault_count
