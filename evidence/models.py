"""Photos: the original bytes with their digest, what is known about them, and where they belong."""

from datetime import datetime

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence import rules
from foundation.digest import short
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from parts.models import Assembly, Part


class Photo(Record):
    """One photo as evidence. The file is kept byte for byte as the camera sent it (rule R10)."""

    PARTS = ("placements",)
    APART = frozenset({"drawn_at", "fault"})
    TELLING = Telling(
        name="P-{number:04d}",
        noun="Photo",
        verbs={
            "photo.kept": "Photo taken in",
            "photo.unplaced": "Photo taken off",
            "photo.time_typed": "Time of photo typed in",
            "photo.restored": "Photo brought back",
        },
        fields={
            "size": "size in bytes",
            "kind": "kind of file",
            "located": "file names a place",
            "taken_at": "taken",
            "taken_offset": "minutes ahead of UTC",
            "taken_known": "how the time is known",
            "received_at": "received",
            "builder_in_frame": "builder in the picture",
        },
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    digest = models.CharField(max_length=71)
    size = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=5)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    file_name = models.CharField(max_length=200, blank=True)
    device = models.CharField(max_length=120, blank=True)
    located = models.BooleanField(default=False)
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_offset = models.SmallIntegerField(null=True, blank=True)
    taken_known = models.CharField(max_length=14, choices=list(rules.KNOWN.items()))
    received_at = models.DateTimeField()
    sent_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+", null=True, blank=True)
    builder_in_frame = models.BooleanField(default=False)
    shows = models.CharField(max_length=10, blank=True, choices=list(rules.SHOWS.items()))
    caption = models.CharField(max_length=300, blank=True)
    drawn_at = models.DateTimeField(null=True, editable=False)
    fault = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "digest"], name="same_bytes_count_once"),
            models.UniqueConstraint(fields=["project", "number"], name="photo_number_stands_once"),
            models.CheckConstraint(
                condition=Q(taken_at__isnull=False) | Q(taken_known="unknown"), name="taken_time_says_how_it_is_known"
            ),
        ]
        indexes = [models.Index(fields=["project", "taken_at"], name="photo_by_time")]

    def __str__(self) -> str:
        return f"{self.label} {self.caption}".strip()

    @property
    def label(self) -> str:
        """The number under which a photo is cited, on screen and on paper."""
        return f"P-{self.number:04d}"

    @property
    def short_digest(self) -> str:
        return short(self.digest)

    @property
    def when(self) -> datetime:
        """When it was taken, or else when it was received."""
        return self.taken_at or self.received_at

    @property
    def large_size(self) -> tuple[int, int]:
        """Width and height of the 1280 px rendition."""
        return rules.fitted(self.width, self.height, 1280)

    @property
    def small_size(self) -> tuple[int, int]:
        """Width and height of the 320 px rendition."""
        return rules.fitted(self.width, self.height, 320)

    @property
    def late(self) -> bool:
        """Whether it came in more than a day after it was taken."""
        return rules.late(self.taken_at, self.received_at)

    @property
    def zone_words(self) -> str:
        """The zone in which its time was told, such as UTC−06:00."""
        return rules.zone_words(self.taken_offset)

    @property
    def known_short(self) -> str:
        """How the time is known, in a word or two."""
        return rules.KNOWN_SHORT[self.taken_known]

    @property
    def words(self) -> str:
        """What stands for the picture where it cannot be seen: the caption, or else its number."""
        return self.caption or f"Photo {self.label}, no caption"

    @property
    def waiting(self) -> bool:
        """Whether its renditions are still to be drawn, and nothing went wrong with that."""
        return self.drawn_at is None and not self.fault


class Placement(Recorded, models.Model):
    """A photo shown on an assembly or a part."""

    RECORD = "part"
    TELLING = Telling(name="placed on", line=lambda said: said["assembly"] or said["part"])

    id = KeyField()
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="placements")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(assembly__isnull=False, part__isnull=True) | Q(assembly__isnull=True, part__isnull=False),
                name="photo_is_placed_on_one_thing",
            ),
            models.UniqueConstraint(fields=["photo", "assembly"], name="photo_once_on_an_assembly"),
            models.UniqueConstraint(fields=["photo", "part"], name="photo_once_on_a_part"),
        ]

    def __str__(self) -> str:
        return f"{self.photo_id} on {self.assembly_id or self.part_id}"
