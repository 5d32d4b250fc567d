"""What process records are tied to: which mix went where, what a cure run held, and photos."""

from django.db import models

from accounts.models import Person
from evidence.models import Photo, on_one_thing
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from parts.models import Part
from process.models.bonds import Bond
from process.models.checks import Coupon, Fasteners, FunctionTest, Hardness, TapMap, Torque, Weighing
from process.models.cures import CureRun
from process.models.layups import Layup, Mix
from process.rules import words


class MixUse(Recorded, models.Model):
    """Where a mix went."""

    RECORD = "part"
    TELLING = Telling(name="used in", line=lambda said: said["layup"] or said["bond"] or said["part"] or "")

    id = KeyField()
    mix = models.ForeignKey(Mix, models.PROTECT, related_name="uses")
    layup = models.ForeignKey(Layup, models.PROTECT, related_name="mix_uses", null=True, blank=True)
    bond = models.ForeignKey(Bond, models.PROTECT, related_name="mix_uses", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=on_one_thing("layup", "bond", "part"), name="mix_goes_into_one_thing"),
            models.UniqueConstraint(fields=["mix", "layup"], name="mix_once_in_a_layup"),
            models.UniqueConstraint(fields=["mix", "bond"], name="mix_once_in_a_bond"),
            models.UniqueConstraint(fields=["mix", "part"], name="mix_once_in_a_part"),
        ]

    def __str__(self) -> str:
        return f"use of {self.mix_id}"


class Cured(Recorded, models.Model):
    """What lay in a cure run."""

    RECORD = "part"
    TELLING = Telling(
        name="cured", line=lambda said: said["layup"] or said["bond"] or said["part"] or said["coupon"] or ""
    )

    id = KeyField()
    run = models.ForeignKey(CureRun, models.PROTECT, related_name="cured")
    layup = models.ForeignKey(Layup, models.PROTECT, related_name="cures", null=True, blank=True)
    bond = models.ForeignKey(Bond, models.PROTECT, related_name="cures", null=True, blank=True)
    part = models.ForeignKey(Part, models.PROTECT, related_name="+", null=True, blank=True)
    coupon = models.ForeignKey(Coupon, models.PROTECT, related_name="cures", null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=on_one_thing("layup", "bond", "part", "coupon"), name="cured_is_one_thing"
            ),
        ]

    def __str__(self) -> str:
        return f"cured in {self.run_id}"


class Shot(Recorded, models.Model):
    """A photo of a process record, with the moment it shows."""

    RECORD = "part"
    TELLING = Telling(name="{photo}", same="photo", line=lambda said: said["moment"] or "in place")

    id = KeyField()
    photo = models.ForeignKey(Photo, models.PROTECT, related_name="+")
    moment = models.CharField(max_length=8, blank=True, choices=list(words.MOMENTS.items()))
    # The ply that it shows, by its place in the schedule.
    ply = models.PositiveSmallIntegerField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    layup = models.ForeignKey(Layup, models.PROTECT, related_name="shots", null=True, blank=True)
    mix = models.ForeignKey(Mix, models.PROTECT, related_name="shots", null=True, blank=True)
    cure = models.ForeignKey(CureRun, models.PROTECT, related_name="shots", null=True, blank=True)
    bond = models.ForeignKey(Bond, models.PROTECT, related_name="shots", null=True, blank=True)
    fasteners = models.ForeignKey(Fasteners, models.PROTECT, related_name="shots", null=True, blank=True)
    torque = models.ForeignKey(Torque, models.PROTECT, related_name="shots", null=True, blank=True)
    weighing = models.ForeignKey(Weighing, models.PROTECT, related_name="shots", null=True, blank=True)
    coupon = models.ForeignKey(Coupon, models.PROTECT, related_name="shots", null=True, blank=True)
    hardness = models.ForeignKey(Hardness, models.PROTECT, related_name="shots", null=True, blank=True)
    tapmap = models.ForeignKey(TapMap, models.PROTECT, related_name="shots", null=True, blank=True)
    function = models.ForeignKey(FunctionTest, models.PROTECT, related_name="shots", null=True, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [models.CheckConstraint(condition=on_one_thing(*words.LETTERS), name="shot_shows_one_record")]

    def __str__(self) -> str:
        return f"{self.photo_id}"
