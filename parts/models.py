"""The assembly tree and the parts in it."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from accounts.models import Project
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from parts import rules


class Assembly(Record):
    """A named group of parts that goes on together; assemblies nest to any depth."""

    TELLING = Telling(name="{number} {name}", noun="Assembly", fields={"parent": "part of"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    parent = models.ForeignKey("self", models.PROTECT, related_name="children", null=True, blank=True)
    number = models.CharField(max_length=24)
    name = models.CharField(max_length=120)
    position = models.PositiveIntegerField(default=0)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["position", "number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"],
                condition=Q(withdrawn_at__isnull=True),
                name="assembly_number_stands_once",
            ),
            models.CheckConstraint(condition=~Q(parent=F("id")), name="assembly_is_not_its_own_parent"),
        ]
        indexes = [models.Index(fields=["project", "parent", "position"], name="assembly_tree")]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class Part(Record):
    """One made or bought item, under the builder's own numbering."""

    TELLING = Telling(
        name="{number} {name}",
        noun="Part",
        verbs={"part.traced": "Where it comes from"},
        fields={
            "n": "number of",
            "of": "out of",
            "weight": "weight, weighed",
            "weight_unit": "unit of the weight",
            "estimate": "weight, estimated",
            "estimate_unit": "unit of the estimate",
        },
        # Grams are computed from what was entered.
        silent=frozenset({"weight_g", "estimate_g", "arm_mm"}),
    )
    PARTS = ("origins", "made_of")
    LATER = frozenset({"kind", "revision", "arm", "arm_mm", "origins", "made_of"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    assembly = models.ForeignKey(Assembly, models.PROTECT, related_name="parts")
    kind = models.CharField(max_length=10, default="part", choices=list(rules.KINDS.items()))
    number = models.CharField(max_length=40)
    name = models.CharField(max_length=120)
    side = models.CharField(max_length=1, blank=True, choices=list(rules.SIDES.items()))
    n = models.PositiveSmallIntegerField(null=True, blank=True)
    of = models.PositiveSmallIntegerField(null=True, blank=True)
    status = models.CharField(max_length=10, default="flight", choices=list(rules.STATUSES.items()))
    origin = models.CharField(max_length=10, default="builder", choices=list(rules.ORIGINS.items()))
    weight = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    weight_unit = models.CharField(max_length=2, blank=True)
    weight_g = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    estimate = models.DecimalField(max_digits=12, decimal_places=4, null=True, blank=True)
    estimate_unit = models.CharField(max_length=2, blank=True)
    estimate_g = models.DecimalField(max_digits=16, decimal_places=6, null=True, blank=True)
    revision = models.CharField(max_length=40, blank=True)
    # Distance from the aircraft's datum, as typed and in millimeters.
    arm = models.CharField(max_length=40, blank=True)
    arm_mm = models.DecimalField(max_digits=18, decimal_places=8, null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number", "side", "n", "id"]
        constraints = [
            models.UniqueConstraint(
                "project",
                "number",
                "side",
                Coalesce("n", 0),
                condition=Q(withdrawn_at__isnull=True),
                name="part_number_side_and_count_stand_once",
            ),
            models.CheckConstraint(
                condition=Q(n__isnull=True, of__isnull=True) | Q(n__gte=1, of__gte=F("n")),
                name="part_count_runs_from_one_to_all",
            ),
        ]
        indexes = [models.Index(fields=["project", "assembly"], name="part_of_assembly")]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    @property
    def counted(self) -> str:
        """Side and count in words, such as "left, 1 of 2"."""
        words = [self.get_side_display().lower()] if self.side else []
        if self.n:
            words.append(f"{self.n} of {self.of}")
        return ", ".join(words)

    @property
    def status_words(self) -> str:
        """The status in words; a mold is not for flight but in use."""
        return rules.status_words(self.kind, self.status)

    @property
    def weighed(self) -> str:
        """The weight as it was entered."""
        return rules.entered(self.weight, self.weight_unit)

    @property
    def estimated(self) -> str:
        """The estimated weight as it was entered."""
        return rules.entered(self.estimate, self.estimate_unit)


class Origin(Recorded, models.Model):
    """Where a part comes from: the mold it was made on, the sheet it was cut from, the part it replaces."""

    RECORD = "part"
    TELLING = Telling(name="{kind}", line=lambda said: said["source"])

    id = KeyField()
    part = models.ForeignKey(Part, models.PROTECT, related_name="origins")
    kind = models.CharField(max_length=10, choices=list(rules.ORIGIN_KINDS.items()))
    source = models.ForeignKey(Part, models.PROTECT, related_name="offspring")

    class Meta:
        ordering = ["kind", "id"]
        constraints = [
            models.UniqueConstraint(fields=["part", "kind", "source"], name="origin_stands_once"),
            models.CheckConstraint(condition=~Q(part=F("source")), name="part_does_not_come_from_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.part_id} {self.kind} {self.source_id}"


class Bin(Record):
    """A drawer, box or shelf in the shop that wears a label: photos of what lies in it are placed on it."""

    TELLING = Telling(name="{number} {name}", noun="Bin")

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.CharField(max_length=24)
    name = models.CharField(max_length=120)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"], condition=Q(withdrawn_at__isnull=True), name="bin_number_stands_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class Lot(Record):
    """One delivery or batch of a material, under the builder's own number, with what its label says."""

    LATER = frozenset(
        {"material", "status", "status_words", "stored", "months", "months_open", "retest_on", "retest_words"}
        | {"faw", "faw_gsm"}
    )
    TELLING = Telling(
        name="{number} {name}",
        noun="Lot",
        fields={
            "maker_lot": "maker's lot",
            "made_on": "made",
            "expires_on": "expires",
            "opened_on": "opened",
            "months": "months it keeps sealed",
            "months_open": "months it keeps once opened",
            "retest_on": "tested again",
            "retest_words": "what the test said",
            "status_words": "why",
            "faw": "areal weight",
        },
        silent=frozenset({"faw_gsm"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.CharField(max_length=24)
    name = models.CharField(max_length=120)
    maker_lot = models.CharField(max_length=60, blank=True)
    supplier = models.CharField(max_length=120, blank=True)
    quantity = models.CharField(max_length=60, blank=True)
    made_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    opened_on = models.DateField(null=True, blank=True)
    material = models.CharField(max_length=10, blank=True, choices=list(rules.MATERIALS.items()))
    status = models.CharField(max_length=8, default="good", choices=list(rules.LOT_STATUSES.items()))
    status_words = models.CharField(max_length=200, blank=True)
    stored = models.CharField(max_length=80, blank=True)
    # By the maker's sheet: how long it keeps sealed from the day it was made, and open from the day it was opened.
    months = models.PositiveSmallIntegerField(null=True, blank=True)
    months_open = models.PositiveSmallIntegerField(null=True, blank=True)
    retest_on = models.DateField(null=True, blank=True)
    retest_words = models.CharField(max_length=200, blank=True)
    # Of a cloth: dry mass per area, as typed and in grams per square meter.
    faw = models.CharField(max_length=40, blank=True)
    faw_gsm = models.DecimalField(max_digits=18, decimal_places=8, null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"], condition=Q(withdrawn_at__isnull=True), name="lot_number_stands_once"
            ),
            models.CheckConstraint(
                condition=Q(made_on__isnull=True) | Q(expires_on__isnull=True) | Q(expires_on__gte=F("made_on")),
                name="lot_expires_after_it_was_made",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"

    def shelf_life(self, today: date) -> rules.ShelfLife:
        """How long it keeps, by label and by opening, as seen on a day."""
        return rules.shelf_life(
            made=self.made_on,
            expires=self.expires_on,
            opened=self.opened_on,
            months=self.months,
            months_open=self.months_open,
            today=today,
        )

    @property
    def keeps(self) -> rules.ShelfLife:
        """How long it keeps, as seen today on the current clock."""
        return self.shelf_life(timezone.localdate())

    @property
    def standing_today(self) -> str:
        """How it stands today, on the current clock, against its last good day (see `rules.lot_state`)."""
        return self.keeps.state

    @property
    def in_use(self) -> bool:
        """Whether it may still go into parts: neither used up nor rejected."""
        return self.status in {"good", "hold"}


class MadeOf(Recorded, models.Model):
    """A lot of material that went straight into a part: a core block, a tube, a sheet."""

    RECORD = "part"
    TELLING = Telling(name="{lot}", same="lot", line=lambda said: said["words"] or "went into it")

    id = KeyField()
    part = models.ForeignKey(Part, models.PROTECT, related_name="made_of")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    words = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["part", "lot"], name="lot_once_in_a_part")]

    def __str__(self) -> str:
        return f"{self.lot_id} in {self.part_id}"
