"""Fastener rows, torque, weighing, coupons, hardness, tap maps and function tests."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import Q

from evidence.models import Photo
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from parts.models import Lot
from process.models.common import ProcessRecord, entered, figure, telling
from process.models.tools import Tool
from process.rules import words

# What happened to a check, for kinds whose name in the journal is not their word.
DONE = {
    "recorded": "recorded",
    "marked": "marked on the photo",
    "corrected": "corrected",
    "finished": "finished",
    "reopened": "opened again",
    "withdrawn": "withdrawn",
    "photo_shown": "photo put in place",
    "photo_taken_away": "photo taken away",
}


def verbs(noun: str, kind: str) -> dict[str, str]:
    """The words for journal verbs of a kind."""
    return {f"{kind}.{verb}": f"{noun} {said}" for verb, said in DONE.items()}


def heard(said: Mapping[str, Any]) -> str:
    """One mark of a tap map in a line."""
    place = " and ".join(f"{int(said[name]) / 100:g} % from the {side}" for name, side in (("x", "left"), ("y", "top")))
    return f"{said['sound']}, {place}{': ' if said['words'] else ''}{said['words']}"


class Fasteners(ProcessRecord):
    """One row of fasteners of one kind."""

    KIND = words.FASTENERS
    TELLING = telling(
        "Fastener row",
        words.FASTENERS,
        verbs=verbs("Fastener row", words.FASTENERS),
        fields={"spec": "fastener", "rule": "rule used", "heads": "heads measured"},
        silent=(
            *("diameter_mm", "grip_mm", "length_mm", "hole_mm", "edge_mm", "pitch_mm", "head_height_mm"),
            "head_width_mm",
        ),
    )

    place = models.CharField(max_length=160)
    count = models.PositiveSmallIntegerField()
    spec = models.CharField(max_length=80)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    solid_rivet = models.BooleanField(default=False)
    diameter, diameter_mm = entered(), figure()
    grip, grip_mm = entered(), figure()
    length, length_mm = entered(), figure()
    hole, hole_mm = entered(), figure()
    edge, edge_mm = entered(), figure()
    pitch, pitch_mm = entered(), figure()
    head_height, head_height_mm = entered(), figure()
    head_width, head_width_mm = entered(), figure()
    rule = models.CharField(max_length=80, blank=True)
    sunk = models.CharField(max_length=80, blank=True)
    sealant = models.CharField(max_length=80, blank=True)
    rejected = models.PositiveSmallIntegerField(default=0)
    gauge = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta(ProcessRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="fastener_row_number_stands_once"),
            models.CheckConstraint(condition=Q(count__gte=1), name="fastener_row_has_one_or_more"),
        ]


class Torque(ProcessRecord):
    """One fastener tightened: the table row used, drag, adapter, what the wrench showed."""

    KIND = words.TORQUE
    TELLING = telling(
        "Torque",
        words.TORQUE,
        fields={
            "shown": "wrench showed",
            "drag": "drag of the nut",
            "mark": "witness mark",
            "window_min": "torque at least",
            "window_max": "torque at most",
        },
        silent=("drag_inlb", "shown_inlb", "lever_in", "adapter_in", "window_min_inlb", "window_max_inlb"),
    )

    place = models.CharField(max_length=160)
    thread = models.CharField(max_length=20, blank=True)
    nut_type = models.CharField(max_length=8, blank=True, choices=list(words.NUT_TYPES.items()))
    # A window of the maker's own sheet wins over the table.
    window_min, window_min_inlb = entered(), figure()
    window_max, window_max_inlb = entered(), figure()
    source = models.CharField(max_length=160, blank=True)
    drag, drag_inlb = entered(), figure()
    shown, shown_inlb = entered(), figure()
    wrench = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    lever, lever_in = entered(), figure()
    adapter, adapter_in = entered(), figure()
    adapter_degrees = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    castle = models.BooleanField(default=False)
    safetied = models.CharField(max_length=80, blank=True)
    mark = models.BooleanField(default=False)

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="torque_number_stands_once")]


class Weighing(ProcessRecord):
    """A part or an assembly on a scale, or the whole aircraft on three."""

    KIND = words.WEIGHING
    PARTS = ("shots", "readings")
    TELLING = telling("Weighing", words.WEIGHING, fields={"state_of_it": "state"}, silent=("weight_g", "arm_mm"))

    what = models.CharField(max_length=160)
    state_of_it = models.CharField(max_length=120, blank=True)
    whole_aircraft = models.BooleanField(default=False)
    weight, weight_g = entered(), figure()
    arm, arm_mm = entered(), figure()
    datum = models.CharField(max_length=120, blank=True)
    scale = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    level = models.CharField(max_length=120, blank=True)
    fluids = models.CharField(max_length=200, blank=True)

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="weighing_number_stands_once")]


class ScaleReading(Recorded, models.Model):
    """One scale under the aircraft: what it showed, its tare, and the arm from the datum."""

    RECORD = "part"
    TELLING = Telling(name="{place}", same="place", silent=frozenset({"shown_g", "tare_g", "arm_mm"}))

    id = KeyField()
    weighing = models.ForeignKey(Weighing, models.PROTECT, related_name="readings")
    place = models.CharField(max_length=40)
    shown, shown_g = entered(), figure()
    tare, tare_g = entered(), figure()
    arm, arm_mm = entered(), figure()

    class Meta:
        ordering = ["place", "id"]
        constraints = [models.UniqueConstraint(fields=["weighing", "place"], name="scale_stands_once")]

    def __str__(self) -> str:
        return f"{self.place} {self.shown}"


class Coupon(ProcessRecord):
    """A small panel made with a part to be tested in its stead; the result often comes later."""

    KIND = words.COUPON
    TELLING = telling(
        "Coupon",
        words.COUPON,
        fields={"limit": "limit", "value": "result", "least": "limit is the least"},
        silent=("value_si", "limit_si"),
    )

    made_with = models.CharField(max_length=200, blank=True)
    test = models.CharField(max_length=160, blank=True)
    value, value_si = entered(), figure()
    limit, limit_si = entered(), figure()
    least = models.BooleanField(default=True)
    source = models.CharField(max_length=160, blank=True)
    tested_at = models.DateTimeField(null=True, blank=True)
    kept_where = models.CharField(max_length=120, blank=True)
    specimen_g = figure()
    fiber_g = figure()
    laminate_density = figure()
    fiber_density = figure()
    resin_density = figure()

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="coupon_number_stands_once")]


class Hardness(ProcessRecord):
    """Hardness readings, with whether the method applies to this laminate at all."""

    KIND = words.HARDNESS
    TELLING = telling(
        "Hardness", words.HARDNESS, fields={"least": "asked for at least"}, silent=("thickness_mm", "edge_mm")
    )

    readings = models.JSONField(default=list)
    least = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    source = models.CharField(max_length=160, blank=True)
    thickness, thickness_mm = entered(), figure()
    edge, edge_mm = entered(), figure()
    tester = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="hardness_number_stands_once")]


class TapMap(ProcessRecord):
    """What was heard when a skin was tapped: marks on a photo, and whether the method applies."""

    KIND = words.TAP_MAP
    PARTS = ("shots", "taps")
    TELLING = telling("Tap map", words.TAP_MAP, verbs=verbs("Tap map", words.TAP_MAP), silent=("skin_mm",))

    place = models.CharField(max_length=160)
    skin, skin_mm = entered(), figure()
    sandwich = models.BooleanField(default=False)
    sides_tapped = models.PositiveSmallIntegerField(default=1)
    grid = models.CharField(max_length=80, blank=True)
    tool = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+", null=True, blank=True)
    accepted = models.CharField(max_length=3, blank=True, choices=list(words.YES_NO.items()))

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="tap_map_number_stands_once")]


class Tap(Recorded, models.Model):
    """One place on the photo, in ten-thousandths of its width and height, and how it sounded."""

    RECORD = "part"
    TELLING = Telling(name="tap {position}", same="position", line=heard)

    id = KeyField()
    tapmap = models.ForeignKey(TapMap, models.PROTECT, related_name="taps")
    position = models.PositiveSmallIntegerField()
    x = models.PositiveSmallIntegerField()
    y = models.PositiveSmallIntegerField()
    sound = models.CharField(max_length=8, choices=list(words.SOUNDS.items()))
    words = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["tapmap", "position"], name="tap_number_stands_once"),
            models.CheckConstraint(condition=Q(x__lte=10000, y__lte=10000), name="tap_lies_on_the_picture"),
        ]

    def __str__(self) -> str:
        return f"{self.sound} {self.position}"


class FunctionTest(ProcessRecord):
    """A test of how something works: leak, travel, current, flow; value against its limits."""

    KIND = words.FUNCTION
    TELLING = telling(
        "Function test",
        words.FUNCTION,
        verbs=verbs("Function test", words.FUNCTION),
        fields={"low": "least", "high": "most"},
    )

    what = models.CharField(max_length=200)
    value = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    low = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    high = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    source = models.CharField(max_length=160, blank=True)
    instrument = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    passed = models.CharField(max_length=3, blank=True, choices=list(words.YES_NO.items()))

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="function_test_number_stands_once")]
