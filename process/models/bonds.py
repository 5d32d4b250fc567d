"""Bonds: how surfaces were prepared and joined."""

from django.db import models

from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from parts.models import Part
from process.models.common import ProcessRecord, entered, figure, telling
from process.rules import words


class Bond(ProcessRecord):
    """One bond: peel ply off, abraded, wiped, dry, adhesive on in time, squeeze-out seen all round."""

    KIND = words.BOND
    PARTS = ("shots", "joined")
    TELLING = telling(
        "Bond",
        words.BOND,
        fields={
            "peel_off_at": "peel ply off",
            "wiped_at": "last wipe",
            "on_at": "adhesive on",
            "had_peel_ply": "peel ply had been on",
            "dry_min": "dry at least, minutes",
            "within_h": "adhesive on within, hours",
            "squeeze_out": "squeeze-out all round",
            "water_break": "water film unbroken",
        },
        silent=("bond_line_mm",),
    )

    kind = models.CharField(max_length=10, choices=list(words.BOND_KINDS.items()))
    surfaces = models.CharField(max_length=300, blank=True)
    had_peel_ply = models.CharField(max_length=3, blank=True, choices=list(words.YES_NO.items()))
    peel_off_at = models.DateTimeField(null=True, blank=True)
    abraded = models.CharField(max_length=160, blank=True)
    abraded_at = models.DateTimeField(null=True, blank=True)
    solvent = models.CharField(max_length=80, blank=True)
    wiped_at = models.DateTimeField(null=True, blank=True)
    water_break = models.CharField(max_length=3, blank=True, choices=list(words.YES_NO.items()))
    on_at = models.DateTimeField(null=True, blank=True)
    # The window of the adhesive's own sheet: dry at least, bonded within.
    dry_min = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    within_h = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    source = models.CharField(max_length=160, blank=True)
    bond_line, bond_line_mm = entered(), figure()
    control = models.CharField(max_length=120, blank=True)
    pressure = models.CharField(max_length=160, blank=True)
    squeeze_out = models.CharField(max_length=3, blank=True, choices=list(words.YES_NO.items()))

    class Meta(ProcessRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="bond_number_stands_once")]


class JoinedPart(Recorded, models.Model):
    """A part that a bond joins."""

    RECORD = "part"
    TELLING = Telling(name="{part}", same="part", line=lambda said: "joined")

    id = KeyField()
    bond = models.ForeignKey(Bond, models.PROTECT, related_name="joined")
    part = models.ForeignKey(Part, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["bond", "part"], name="part_once_in_a_bond")]

    def __str__(self) -> str:
        return f"{self.part_id} in {self.bond_id}"
