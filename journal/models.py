"""The append-only history of everything (rule R32), and signatures with what they cover (rule R30).

Entries name project, person and subject by their unguessable keys and by text, without foreign keys: the history has to
stand by itself, in an archive or after a restore, and knows nothing of the apps above it.
"""

from typing import Self
from zoneinfo import ZoneInfo

from django.db import models

from foundation.digest import short
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal import rules


class Standing[M: models.Model](models.QuerySet[M]):
    """Filters that every kind of record has."""

    def standing(self) -> Self:
        """Records that have not been withdrawn."""
        return self.filter(withdrawn_at__isnull=True)

    def withdrawn(self) -> Self:
        """Records that have been withdrawn: kept, marked, out of every total."""
        return self.filter(withdrawn_at__isnull=False)


class Record(Recorded, models.Model):
    """A record of its own: it is created, corrected and withdrawn, never deleted."""

    id = KeyField()
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    objects = Standing.as_manager()

    class Meta:
        abstract = True

    @property
    def withdrawn(self) -> bool:
        return self.withdrawn_at is not None


class Entry(Recorded, models.Model):
    """One change: who, when, to which record, why, and the record's whole state after it."""

    RECORD = "journal"

    id = models.BigAutoField(primary_key=True)
    project = models.CharField(max_length=16)
    seq = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.CharField(max_length=16)
    by_name = models.CharField(max_length=120)
    verb = models.CharField(max_length=60)
    subject = models.CharField(max_length=80)
    state = models.TextField()  # type: ignore[assignment]  # an entry tells the state of another row, not its own
    reason = models.TextField(blank=True)
    previous = models.CharField(max_length=71)
    digest = models.CharField(max_length=71)

    class Meta:
        ordering = ["project", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["project", "seq"], name="journal_has_one_entry_for_each_number"),
        ]
        indexes = [models.Index(fields=["subject", "seq"], name="journal_by_subject")]

    def __str__(self) -> str:
        return f"{self.seq} {self.verb} {self.subject}"

    @property
    def short_digest(self) -> str:
        return short(self.digest)


class Signature(Recorded, models.Model):
    """A person's deliberate signature under a record (`under` names it), for exactly the things listed in `covers`.

    A visitor may also sign that he does not accept what he saw: then `outcome` says so and `reason` why. `strokes` is
    a drawn signature: lines of points in thousandths of the pad's width, x and y by turns. `ink` is the digest of the
    photo of a page signed in ink, and `entered_by` names who photographed it. `extent` and `time_in_service` are what
    an inspection entry tells besides (14 CFR 43.11(a)).
    """

    LATER = frozenset(
        {
            "capacity",
            "outcome",
            "reason",
            "extent",
            "time_in_service",
            "strokes",
            "ink",
            "entered_by",
            "visit",
            "place",
        }
    )
    TELLING = Telling(
        name="{name}",
        noun="Signature of",
        verbs={"signed": "Signed"},
        fields={
            "under": "signed",
            "shown_by": "identity shown by",
            "at": "when",
            "zone": "time zone",
            "ink": "digest of the photographed page",
            "strokes": "drawn signature",
            "extent": "type and extent",
        },
        values={"shown_by": rules.SHOWN_BY, "outcome": rules.OUTCOMES},
        silent=frozenset({"person"}),
    )

    id = KeyField()
    project = models.CharField(max_length=16)
    under = models.CharField(max_length=80)
    at = models.DateTimeField()
    zone = models.CharField(max_length=64)
    person = models.CharField(max_length=16)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=20)
    certificate_kind = models.CharField(max_length=80, blank=True)
    certificate_number = models.CharField(max_length=60, blank=True)
    shown_by = models.CharField(max_length=20)
    statement = models.TextField()
    self_inspected = models.BooleanField(default=False)
    covers = models.JSONField()
    covers_digest = models.CharField(max_length=71)
    capacity = models.CharField(max_length=120, blank=True)
    outcome = models.CharField(max_length=12, default=rules.ACCEPTED, choices=list(rules.OUTCOMES.items()))
    reason = models.TextField(blank=True)
    extent = models.CharField(max_length=300, blank=True)
    time_in_service = models.CharField(max_length=80, blank=True)
    strokes = models.JSONField(default=list, blank=True)
    ink = models.CharField(max_length=71, blank=True)
    entered_by = models.CharField(max_length=120, blank=True)
    visit = models.CharField(max_length=80, blank=True)
    place = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["under", "at"], name="signatures_under_a_record")]

    def __str__(self) -> str:
        return f"{self.name}, {self.at:%Y-%m-%d}, {self.under}"

    @property
    def day(self) -> str:
        """The local date of signing, as a stamp shows it."""
        return f"{self.at.astimezone(ZoneInfo(self.zone)):%-d %b %Y}"

    @property
    def role_words(self) -> str:
        return self.role.capitalize()

    @property
    def accepted(self) -> bool:
        """Whether the signer accepted what he saw."""
        return self.outcome == rules.ACCEPTED

    @property
    def initials(self) -> str:
        return "".join(word[0] for word in self.name.split()[:3]).upper()

    @property
    def short_digest(self) -> str:
        return short(self.covers_digest)
