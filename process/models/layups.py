"""Layups with their plies, and mixes."""

from django.db import models
from django.db.models import F, Q

from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from parts.models import Lot, Part
from process.models.common import ProcessRecord, entered, figure, telling
from process.models.tools import Tool
from process.rules import words


class Layup(ProcessRecord):
    """One layup, told as it goes: before, mixing, wet, bag, cure, demold. `part` is what is laid up."""

    KIND = words.LAYUP
    PARTS = ("shots", "plies")
    TELLING = telling(
        "Layup",
        words.LAYUP,
        verbs={"layup.moment": "Told as it went", "layup.plies": "Ply schedule changed", "layup.ply_laid": "Ply laid"},
        fields={
            "room_rh": "humidity of the room, percent",
            "faw": "areal weight",
            "first_wetout_at": "first wet-out",
            "last_wetout_at": "last wet-out",
            "drop_minutes": "minutes of the drop test",
        },
        silent=(
            *("area_m2", "room_temp_degc", "cloth_weight_g", "vacuum_inhg", "drop_start_inhg", "drop_end_inhg"),
            *("thickness_mm", "weight_g"),
        ),
    )

    # Before: clean hands.
    mold = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    revision = models.CharField(max_length=40, blank=True)
    datum = models.CharField(max_length=120, blank=True)
    surface = models.CharField(max_length=200, blank=True)
    release = models.CharField(max_length=120, blank=True)
    core_lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    area, area_m2 = entered(), figure()
    room_temp, room_temp_degc = entered(), figure()
    room_rh = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    cloth_weight, cloth_weight_g = entered(), figure()
    # Resin to mix for each 100 g of cloth, and what is lost in cup and brush (percent).
    resin_per_100 = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    loss_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    # Wet.
    first_wetout_at = models.DateTimeField(null=True, blank=True)
    last_wetout_at = models.DateTimeField(null=True, blank=True)
    # Bag.
    bag_stack = models.CharField(max_length=300, blank=True)
    bagged_at = models.DateTimeField(null=True, blank=True)
    vacuum, vacuum_inhg = entered(), figure()
    drop_start, drop_start_inhg = entered(), figure()
    drop_end, drop_end_inhg = entered(), figure()
    drop_minutes = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    gauge = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    # Demold.
    demolded_at = models.DateTimeField(null=True, blank=True)
    thickness, thickness_mm = entered(), figure()
    weight, weight_g = entered(), figure()
    scale = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    defects = models.TextField(blank=True)
    fate = models.CharField(max_length=6, blank=True, choices=list(words.FATE.items()))

    class Meta(ProcessRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="layup_number_stands_once"),
            models.CheckConstraint(
                condition=Q(first_wetout_at__isnull=True)
                | Q(last_wetout_at__isnull=True)
                | Q(last_wetout_at__gte=F("first_wetout_at")),
                name="layup_wet_out_ends_after_it_began",
            ),
        ]


class Ply(Recorded, models.Model):
    """One ply of the schedule, in its order from the mold; a core or a peel ply stands among them."""

    RECORD = "part"
    TELLING = Telling(name="ply {position}", same="position", fields={"degrees": "orientation"})

    id = KeyField()
    layup = models.ForeignKey(Layup, models.PROTECT, related_name="plies")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=8, choices=[("cloth", "Cloth"), ("core", "Core"), ("peel", "Peel ply")])
    cloth = models.CharField(max_length=80)
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    faw, faw_gsm = entered(), figure()
    # Degrees against the stated datum, as it is written: "0", "±45", "0/90".
    orientation = models.CharField(max_length=12, blank=True)
    extent = models.CharField(max_length=120, blank=True)
    splice = models.CharField(max_length=120, blank=True)
    laid_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["layup", "position"], name="ply_number_stands_once")]

    def __str__(self) -> str:
        return f"ply {self.position} of {self.layup_id}"


class Mix(ProcessRecord):
    """One cup of resin and hardener. The ratio is resin to hardener, by weight or by volume: two different things."""

    KIND = words.MIX
    PARTS = ("shots", "uses")
    TELLING = telling(
        "Mix",
        words.MIX,
        verbs={"mix.used": "Used", "mix.spread": "Pot finished"},
        fields={
            "ratio_by": "ratio",
            "parts_resin": "parts of resin",
            "parts_hardener": "parts of hardener",
            "window_percent": "off the ratio at most, percent",
            "pot_life_min": "pot life, minutes",
        },
        silent=("resin_g", "hardener_g", "pot_temp_degc"),
    )

    system = models.CharField(max_length=80, blank=True)
    resin_lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    hardener_lot = models.ForeignKey(Lot, models.PROTECT, related_name="+", null=True, blank=True)
    ratio_by = models.CharField(max_length=6, default=words.BY_WEIGHT, choices=list(words.RATIO_BY.items()))
    parts_resin = models.DecimalField(max_digits=9, decimal_places=4)
    parts_hardener = models.DecimalField(max_digits=9, decimal_places=4)
    # The window of the resin's own sheet, percent either way.
    window_percent = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    resin, resin_g = entered(), figure()
    hardener, hardener_g = entered(), figure()
    filler = models.CharField(max_length=120, blank=True)
    scale = models.ForeignKey(Tool, models.PROTECT, related_name="+", null=True, blank=True)
    mixed_at = models.DateTimeField(null=True, blank=True)
    pot_temp, pot_temp_degc = entered(), figure()
    pot_life_min = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    spread_at = models.DateTimeField(null=True, blank=True)
    source = models.CharField(max_length=160, blank=True)

    class Meta(ProcessRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="mix_number_stands_once"),
            models.CheckConstraint(
                condition=Q(parts_resin__gt=0) & Q(parts_hardener__gt=0), name="mix_ratio_has_two_parts"
            ),
        ]
