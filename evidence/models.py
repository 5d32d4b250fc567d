"""Photos: the original bytes with their digest, what is known about them, and where they belong."""

from datetime import datetime
from functools import reduce
from operator import or_

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from calc.marks import Mark
from evidence import rules
from foundation.digest import short
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from parts.models import Assembly, Bin, Lot, Part

CORNERS = ("x1", "y1", "x2", "y2")

type Place = Assembly | Part | Bin | Lot


class Photo(Record):
    """One photo as evidence. The file is kept byte for byte as the camera sent it (rule R10)."""

    PARTS = ("placements", "marks")
    LATER = frozenset({"captured_at", "clock_ahead", "seconds", "marks"})
    APART = frozenset({"drawn_at", "fault"})
    TELLING = Telling(
        name="P-{number:04d}",
        noun="Photo",
        verbs={
            "photo.kept": "Photo taken in",
            "photo.unplaced": "Photo taken off",
            "photo.time_typed": "Time of photo typed in",
            "photo.restored": "Photo brought back",
            "photo.marked": "Marks drawn",
        },
        fields={
            "size": "size in bytes",
            "kind": "kind of file",
            "located": "file names a place",
            "taken_at": "taken",
            "taken_offset": "minutes ahead of UTC",
            "taken_known": "how the time is known",
            "received_at": "received",
            "captured_at": "kept on the phone",
            "clock_ahead": "seconds the phone's clock was ahead",
            "seconds": "length in seconds",
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
    captured_at = models.DateTimeField(null=True, blank=True)
    clock_ahead = models.IntegerField(null=True, blank=True)
    seconds = models.PositiveIntegerField(null=True, blank=True)
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
    def opens_in_browser(self) -> bool:
        """Whether every browser shows the original itself; others are shown by what is drawn of them."""
        return self.kind in rules.SHOWN_BY_BROWSERS

    @property
    def clock_words(self) -> str:
        """How wrong the phone's clock was when it sent this, in words; empty when it was right."""
        return rules.clock_words(self.clock_ahead) if self.clock_ahead else ""

    @property
    def medium(self) -> str:
        """Whether the file is a picture, a video or audio."""
        return rules.medium(self.kind)

    @property
    def is_clip(self) -> bool:
        """Whether it is played and not looked at: nothing is drawn of it, and it prints as a note."""
        return self.medium != "picture"

    @property
    def noun(self) -> str:
        """What it is, in the words of the shop: a photo, a video or a voice note."""
        return rules.MEDIA[self.medium]

    @property
    def lasting(self) -> str:
        """The length of a clip, such as 0:14; empty where it is not known."""
        return rules.lasting(self.seconds)

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
        return self.caption or f"{self.noun} {self.label}, no caption"

    @property
    def waiting(self) -> bool:
        """Whether its renditions are still to be drawn, and nothing went wrong with that."""
        return self.drawn_at is None and not self.fault


def on_one_thing(*names: str) -> Q:
    """The condition that exactly one of these relations is there."""
    ways = (Q(**{f"{other}__isnull": other != name for other in names}) for name in names)
    return reduce(or_, ways)


class Placement(Recorded, models.Model):
    """A photo shown on one thing: an assembly, a part, a bin or a lot of material."""

    RECORD = "part"
    LATER = frozenset({"bin", "lot"})
    TELLING = Telling(
        name="placed on",
        line=lambda said: said["assembly"] or said["part"] or said.get("bin") or said.get("lot") or "",
    )

    id = KeyField()
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="placements")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    bin = models.ForeignKey(Bin, models.PROTECT, related_name="+", null=True, blank=True)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=on_one_thing("assembly", "part", "bin", "lot"), name="photo_is_on_one_thing"
            ),
            models.UniqueConstraint(fields=["photo", "assembly"], name="photo_once_on_an_assembly"),
            models.UniqueConstraint(fields=["photo", "part"], name="photo_once_on_a_part"),
            models.UniqueConstraint(fields=["photo", "bin"], name="photo_once_on_a_bin"),
            models.UniqueConstraint(fields=["photo", "lot"], name="photo_once_on_a_lot"),
        ]

    def __str__(self) -> str:
        return f"{self.photo_id} on {self.thing.pk}"

    @property
    def thing(self) -> Place:
        """What the photo is shown on."""
        found = self.assembly or self.part or self.bin or self.lot
        assert found is not None
        return found


class PhotoMark(Recorded, models.Model):
    """A mark drawn over a photo; the picture below is never altered.

    Its corners are in ten-thousandths of the upright picture's width and height: an arrow goes from the first to the
    second, a ring fills the box between them, a note's words start at the first.
    """

    RECORD = "part"
    TELLING = Telling(name="mark {position}", line=rules.mark_in_words)

    id = KeyField()
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="marks")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=5, choices=list(rules.MARKS.items()))
    x1 = models.PositiveSmallIntegerField()
    y1 = models.PositiveSmallIntegerField()
    x2 = models.PositiveSmallIntegerField()
    y2 = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["photo", "position"], name="mark_number_stands_once"),
            models.CheckConstraint(
                condition=Q(x1__lte=rules.WHOLE, y1__lte=rules.WHOLE, x2__lte=rules.WHOLE, y2__lte=rules.WHOLE),
                name="mark_lies_on_the_picture",
            ),
            models.CheckConstraint(condition=~Q(kind="note") | ~Q(words=""), name="note_has_words"),
        ]

    def __str__(self) -> str:
        return f"{self.position} {self.kind} on {self.photo_id}"

    @property
    def corners(self) -> tuple[int, int, int, int]:
        """Both corners, in ten-thousandths."""
        return self.x1, self.y1, self.x2, self.y2

    @property
    def drawing(self) -> Mark:
        """The mark as it is drawn."""
        return Mark(self.position, self.kind, *self.corners, self.words)

    @property
    def where(self) -> str:
        """Where on the picture it points, in words."""
        return rules.mark_in_words({"kind": self.kind, "words": "", **dict(zip(CORNERS, self.corners, strict=True))})


class Document(Record):
    """A file that is kept as it came: a drawing, a receipt, a certificate, a data sheet, a logger's file."""

    PARTS = ("document_places",)
    TELLING = Telling(
        name="DOC-{number} {title}",
        noun="Document",
        verbs={"document.kept": "Document taken in"},
        fields={"size": "size in bytes", "received_at": "received", "kind": "what it is", "media_type": "kind of file"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=11, choices=list(rules.DOCUMENTS.items()))
    title = models.CharField(max_length=160)
    revision = models.CharField(max_length=40, blank=True)
    dated_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    digest = models.CharField(max_length=71)
    size = models.PositiveBigIntegerField()
    media_type = models.CharField(max_length=80)
    file_name = models.CharField(max_length=200)
    received_at = models.DateTimeField()
    sent_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="document_number_stands_once"),
            models.UniqueConstraint(fields=["project", "digest"], name="same_document_counts_once"),
        ]

    def __str__(self) -> str:
        return f"{self.label} {self.title}"

    @property
    def label(self) -> str:
        """The number under which it is cited."""
        return f"DOC-{self.number}"


class DocumentPlace(Recorded, models.Model):
    """What a document is about: an assembly, a part, a bin or a lot of material."""

    RECORD = "part"
    TELLING = Telling(
        name="about", line=lambda said: said["assembly"] or said["part"] or said["bin"] or said["lot"] or ""
    )

    id = KeyField()
    document = models.ForeignKey(Document, models.PROTECT, related_name="document_places")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="+", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    bin = models.ForeignKey(Bin, models.PROTECT, related_name="+", null=True, blank=True)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=on_one_thing("assembly", "part", "bin", "lot"), name="document_is_about_one_thing"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.document_id} about {self.thing.pk}"

    @property
    def thing(self) -> Place:
        """What the document is about."""
        found = self.assembly or self.part or self.bin or self.lot
        assert found is not None
        return found
