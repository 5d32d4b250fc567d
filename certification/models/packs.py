"""Records handed out: their facts, frozen when they were asked for, and the file drawn from them."""

from typing import ClassVar

from django.db import models

from accounts.models import Person, Project
from evidence.models import Document
from foundation.digest import short
from foundation.telling import Telling
from journal.models import Record
from parts.models import Assembly


class Pack(Record):
    """One builder's record as handed out. The file can be drawn again from the frozen facts, byte for byte."""

    APART = frozenset({"facts", "state_word", "fault", "file_digest", "size", "sheets", "sheets_drawn"})
    LATER = frozenset({"profile", "order", "assembly", "since", "until", "supersedes"})
    SEALED = (("facts", "facts_digest"),)
    TELLING = Telling(name="{number}", noun="Builder's record", verbs={"record.frozen": "Builder's record made"})

    PROFILES: ClassVar = {"examiner": "Examiner", "buyer": "Buyer", "insurer": "Insurer", "public": "Public"}
    ORDERS: ClassVar = {"date": "By date", "assembly": "By assembly"}
    WAITING, READY, FAILED = "waiting", "ready", "failed"

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    facts = models.TextField()
    facts_digest = models.CharField(max_length=71)
    state_word = models.CharField(max_length=8, default=WAITING)
    fault = models.CharField(max_length=300, blank=True)
    file_digest = models.CharField(max_length=71, blank=True)
    size = models.PositiveBigIntegerField(default=0)
    # How far the drawing is; 0 of 0 while it is being laid out.
    sheets = models.PositiveIntegerField(default=0)
    sheets_drawn = models.PositiveIntegerField(default=0)
    # For whom, in which order, of what and when: all of it for an examiner unless it says otherwise.
    profile = models.CharField(max_length=8, choices=list(PROFILES.items()), default="examiner")
    order = models.CharField(max_length=8, choices=list(ORDERS.items()), default="date")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+", null=True, blank=True)
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    supersedes = models.ForeignKey("self", models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="pack_number_stands_once")]

    def __str__(self) -> str:
        return f"Builder's record {self.number}"

    @property
    def ready(self) -> bool:
        return self.state_word == self.READY

    @property
    def failed(self) -> bool:
        return self.state_word == self.FAILED

    @property
    def short_digest(self) -> str:
        return short(self.facts_digest)


class SignedCopy(Record):
    """A record handed out with a digital signature in its file. The file is a kept document: it cannot be made again.

    The certificate is public; the key that belongs to it was never kept.
    """

    TELLING = Telling(
        name="{holder}",
        noun="Digital signature",
        verbs={"record.signed": "Builder's record signed digitally"},
        fields={"pack": "of", "document": "signed file", "valid_until": "certificate valid until"},
        silent=frozenset({"certificate"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    pack = models.ForeignKey(Pack, models.PROTECT, related_name="signed_copies")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    signed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    holder = models.CharField(max_length=300)
    issuer = models.CharField(max_length=300)
    self_made = models.BooleanField()
    fingerprint = models.CharField(max_length=71)
    valid_until = models.DateTimeField()
    certificate = models.TextField()

    class Meta:
        ordering = ["signed_at", "id"]

    def __str__(self) -> str:
        return f"{self.pack}, signed by {self.holder}"

    @property
    def short_fingerprint(self) -> str:
        """Enough of it to be compared by eye."""
        return short(self.fingerprint)
