"""Work sessions: who worked when, on what, and the photos that go with it."""

from datetime import datetime
from typing import ClassVar, Self

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person, Project
from buildlog import rules
from calc import hours
from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record, Standing
from parts.models import Assembly


class SessionSet(Standing["WorkSession"]):
    """Filters of work sessions."""

    def running(self) -> Self:
        """Sessions without an end: timers."""
        return self.standing().filter(ended_at__isnull=True)

    def counted(self) -> Self:
        """Sessions whose hours count: ended and standing."""
        return self.standing().filter(ended_at__isnull=False)


class WorkSession(Record):
    """One stretch of work by one or more people. Without an end it is a running timer."""

    PARTS = ("people", "shares", "attachments")
    LATER = frozenset({"received_at", "clock_ahead", "private_note"})
    TELLING = Telling(
        name="{number}",
        noun="Session",
        verbs={"timer.break_started": "Break started", "timer.break_ended": "Break ended"},
        fields={
            "labor_seconds": "labor",
            "break_since": "on a break since",
            "source": "how it was logged",
            "received_at": "came from the phone",
            "clock_ahead": "seconds the phone's clock was ahead",
        },
        # A remark for oneself is told nowhere: histories and prints go by this.
        silent=frozenset({"request_id", "private_note"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    request_id = models.CharField(max_length=36, unique=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    break_since = models.DateTimeField(null=True, blank=True)
    kind = models.CharField(max_length=10, default="labor", choices=list(rules.KINDS.items()))
    work = models.CharField(max_length=12, blank=True, choices=list(rules.WORK.items()))
    note = models.TextField(blank=True)
    place = models.CharField(max_length=120, blank=True)
    private_note = models.TextField(blank=True)
    source = models.CharField(max_length=14, choices=list(rules.SOURCES.items()))
    labor_seconds = models.PositiveIntegerField(default=0)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    # Where it was entered on a phone without signal: when it reached the server, and how wrong the phone's clock was.
    received_at = models.DateTimeField(null=True, blank=True)
    clock_ahead = models.IntegerField(null=True, blank=True)

    objects: ClassVar = SessionSet.as_manager()

    class Meta:
        ordering = ["started_at", "number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="session_number_stands_once"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gt=F("started_at")),
                name="session_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=Q(break_since__isnull=True) | Q(ended_at__isnull=True),
                name="only_a_running_session_is_on_a_break",
            ),
        ]
        indexes = [models.Index(fields=["project", "started_at"], name="session_by_time")]

    def __str__(self) -> str:
        return f"Session {self.number}"

    @property
    def end(self) -> datetime:
        """The end of a session that is over; not to be asked of a running one."""
        assert self.ended_at is not None
        return self.ended_at

    @property
    def running(self) -> bool:
        return self.ended_at is None and self.withdrawn_at is None

    @property
    def off_seconds(self) -> int:
        """Breaks of a running session that are over, as whoever was there for most of them has them (seconds)."""
        return max((row.break_seconds for row in self.people.all()), default=0)

    @property
    def elapsed_now(self) -> int:
        """Seconds a running session has run, breaks taken off; it stands still during a break."""
        until = self.break_since or timezone.now()
        return max(0, int((until - self.started_at).total_seconds()) - self.off_seconds)

    @property
    def too_long(self) -> bool:
        """Whether a timer was forgotten: nobody works for more than a day."""
        return self.ended_at is not None and self.ended_at - self.started_at > rules.LONGEST

    @property
    def photos(self) -> list[Photo]:
        """The standing photos attached, in the order of their numbers."""
        photos = [attachment.photo for attachment in self.attachments.all()]
        return sorted((photo for photo in photos if not photo.withdrawn), key=lambda photo: photo.number)

    @property
    def clock_words(self) -> str:
        """How wrong the clock of the phone was on which it was entered."""
        return hours.clock_error(self.clock_ahead or 0)

    @property
    def late(self) -> bool:
        """Whether it was entered after the day it was worked; then both dates are shown (rule R6)."""
        return self.source != "live"


class SessionPerson(Recorded, models.Model):
    """One person's own times in a session. `labor_seconds` follows from the others (rule R1) and is kept for sums."""

    RECORD = "part"
    TELLING = Telling(
        name="{person}",
        fields={"break_seconds": "breaks", "unattended_seconds": "unattended time", "labor_seconds": "labor"},
        same="person",
        line=rules.times_in_words,
    )

    id = KeyField()
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="people")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    break_seconds = models.PositiveIntegerField(default=0)
    unattended_seconds = models.PositiveIntegerField(default=0)
    labor_seconds = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["started_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["session", "person"], name="person_stands_once_in_a_session"),
            models.UniqueConstraint(
                fields=["person"], condition=Q(ended_at__isnull=True), name="person_has_one_running_timer"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")), name="person_ends_after_starting"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person_id} in {self.session_id}"

    @property
    def end(self) -> datetime:
        """The end of a person's time that is over; not to be asked of a running timer."""
        assert self.ended_at is not None
        return self.ended_at


class SessionShare(Recorded, models.Model):
    """An assembly's share of a session: its weight, and the whole seconds that come of it (rule R2)."""

    RECORD = "part"
    TELLING = Telling(name="{assembly}", fields={"seconds": "hours"}, same="assembly", line=rules.share_in_words)

    id = KeyField()
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="shares")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+")
    weight = models.PositiveSmallIntegerField(default=1)
    seconds = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-weight", "id"]
        constraints = [
            models.UniqueConstraint(fields=["session", "assembly"], name="assembly_stands_once_in_a_session"),
            models.CheckConstraint(condition=Q(weight__gte=1), name="share_has_a_weight"),
        ]
        indexes = [models.Index(fields=["session", "assembly", "seconds"], name="share_sums")]

    def __str__(self) -> str:
        return f"{self.weight} of {self.session_id} on {self.assembly_id}"


class SessionPhoto(Recorded, models.Model):
    """A photo attached to a session."""

    RECORD = "part"
    TELLING = Telling(name="{photo}", same="photo", line=lambda said: "attached")

    id = KeyField()
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="attachments")
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "photo"], name="photo_once_in_a_session")]

    def __str__(self) -> str:
        return f"{self.photo_id} in {self.session_id}"


class OtherVersion(Record):
    """A second version of a session that a phone brought when the server had another one already.

    Both are kept until somebody says which counts; the one that was not chosen stays readable here.
    """

    TELLING = Telling(
        name="of session {session}",
        noun="Second version",
        verbs={"version.kept": "Second version kept", "version.settled": "Said which version counts"},
        fields={"said": "what the phone says", "settled_at": "settled", "taken": "taken over"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="versions")
    kind = models.CharField(max_length=12, choices=list(rules.VERSIONS.items()))
    said = models.JSONField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    captured_at = models.DateTimeField()
    received_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, editable=False)
    settled_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True)
    taken = models.BooleanField(default=False)

    class Meta:
        ordering = ["received_at", "id"]

    def __str__(self) -> str:
        return f"Second version of {self.session_id}"


class Receipt(Recorded, models.Model):
    """Something a phone captured and the server has: by its request id, so that sending again changes nothing."""

    RECORD = "delivery"

    request_id = models.CharField(max_length=36, primary_key=True)
    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=list(rules.CAPTURED.items()))
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    session = models.ForeignKey(WorkSession, models.PROTECT, related_name="+", null=True)
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+", null=True)
    # What this very request did: the bytes were new; the photo was placed or attached by it, and on what.
    is_new = models.BooleanField(default=True)
    placed_on = models.CharField(max_length=16, blank=True)
    # The request id of the session that the photo belongs to, as long as that one has not come.
    waits_for = models.CharField(max_length=36, blank=True)
    asks = models.BooleanField(default=False)

    class Meta:
        indexes = [models.Index(fields=["project", "waits_for"], name="receipts_that_wait")]

    def __str__(self) -> str:
        return f"{self.kind} {self.request_id}"
