"""What is typed about a bond."""

from typing import Any

from django import forms

from parts.queries import parts_of
from process.forms.common import MomentField, NewForm, NumberField, ProcessForm, reason_field, values_of
from process.forms.cures import ThingsField
from process.forms.quantity import QuantityField
from process.models import Bond
from process.rules import words

YES_NO = [("", "Not said"), *words.YES_NO.items()]


class BondFields(ProcessForm):
    """A bond in the order of its steps."""

    kind = forms.ChoiceField(label="Kind", choices=list(words.BOND_KINDS.items()), widget=forms.RadioSelect)
    title = forms.CharField(label="What is bonded", required=False, max_length=120)
    joined = ThingsField(label="Parts that it joins", widget=forms.SelectMultiple(attrs={"size": 6}))
    surfaces = forms.CharField(label="Surfaces", required=False, max_length=300, help_text="Which faces meet.")
    had_peel_ply = forms.ChoiceField(label="Was there peel ply?", choices=YES_NO, required=False)
    abraded = forms.CharField(
        label="Abraded with", required=False, max_length=160, help_text="Grit, by hand or tool, until evenly dull."
    )
    solvent = forms.CharField(label="Wiped with", required=False, max_length=80)
    dry_min = NumberField(label="Dry at least, minutes", min_value=0, max_value=10_000, max_digits=7, decimal_places=2)
    within_h = NumberField(
        label="Adhesive on within, hours", min_value=0, max_value=10_000, max_digits=7, decimal_places=2
    )
    source = forms.CharField(
        label="Where these times are from",
        required=False,
        max_length=160,
        help_text="The adhesive's own sheet. Empty: 15 minutes and 24 hours, from one manual.",
    )
    bond_line = QuantityField("mm", label="Bond line")
    control = forms.CharField(label="Held to that by", required=False, max_length=120, help_text="Such as glass beads.")
    pressure = forms.CharField(label="Pressed by", required=False, max_length=160)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["joined"]
        assert isinstance(field, ThingsField)
        bond = self.record if isinstance(self.record, Bond) else None
        inside = [row.part for row in bond.joined.all()] if bond is not None else []
        keys = {part.pk for part in inside}
        field.offer([*inside, *(part for part in parts_of(self.project) if part.pk not in keys)])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        dry, within = values.get("dry_min"), values.get("within_h")
        if within == 0:
            self.add_error("within_h", "It must be more than zero. Leave it empty where the sheet says nothing.")
        elif dry is not None and within is not None and dry > within * 60:
            self.add_error("within_h", "It would have to be on before it is dry. Check both times.")
        if (dry is not None or within is not None) and not values.get("source"):
            self.add_error("source", "Say which sheet these times are from.")
        return values


class NewBondForm(BondFields, NewForm):
    """A bond that begins."""


class CorrectBondForm(BondFields):
    """A bond that is put right, with all its times."""

    peel_off_at = MomentField(label="Peel ply off at")
    abraded_at = MomentField(label="Abraded at")
    wiped_at = MomentField(label="Last wipe at")
    water_break = forms.ChoiceField(label="Did a water film stay unbroken?", choices=YES_NO, required=False)
    on_at = MomentField(label="Adhesive on at")
    squeeze_out = forms.ChoiceField(label="Squeeze-out all round?", choices=YES_NO, required=False)
    note = forms.CharField(label="Note", required=False, max_length=20000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["reason"] = reason_field(self.record)


class SqueezeForm(forms.Form):
    """What was seen along the edges."""

    squeeze_out = forms.ChoiceField(choices=list(words.YES_NO.items()))


def initial_of(bond: Bond) -> dict[str, Any]:
    """What a bond has now, for its form."""
    found = values_of(bond, CorrectBondForm.base_fields)
    return found | {"joined": [f"part:{row.part_id}" for row in bond.joined.all()]}


LIKE_LAST = ("kind", "abraded", "solvent", "dry_min", "within_h", "source", "control", "pressure")


def initial_for_new(last: Bond | None) -> dict[str, Any]:
    """What a new bond is mostly the same in as the one before."""
    return values_of(last, LIKE_LAST) if last is not None else {"kind": "secondary"}
