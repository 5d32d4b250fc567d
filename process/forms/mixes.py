"""What is typed about a mix."""

from typing import Any

from django import forms

from calc.trouble import Impossible
from foundation.fields import new_key
from parts.queries import parts_of
from process.forms.common import (
    AssemblyField,
    LotField,
    MomentField,
    NumberField,
    PersonField,
    ProcessForm,
    RowField,
    ToolField,
    reason_field,
    values_of,
)
from process.forms.quantity import QuantityField
from process.models import Bond, Layup, Mix
from process.rules import mixes as rules
from process.rules import quantities, words

# What the next mix is mostly the same in.
LIKE_LAST = (
    *("system", "resin_lot", "hardener_lot", "ratio_by", "parts_resin", "parts_hardener", "window_percent"),
    *("scale", "pot_life_min", "source"),
)
AMOUNT = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 10})


def amount_field(label: str) -> forms.CharField:
    """An amount: a weight where the ratio is by weight, a volume where it is by volume."""
    return forms.CharField(label=label, required=False, max_length=40, widget=AMOUNT)


class MixFields(ProcessForm):
    """A mix: what was measured out first, since that is what one has in hand."""

    resin = amount_field("Resin on the scale")
    hardener = amount_field("Hardener on the scale")
    ratio_by = forms.ChoiceField(
        label="The ratio is", choices=list(words.RATIO_BY.items()), widget=forms.RadioSelect, initial=words.BY_WEIGHT
    )
    parts_resin = NumberField(
        label="Parts of resin", required=True, max_digits=9, decimal_places=4, min_value=0, initial="100"
    )
    parts_hardener = NumberField(label="Parts of hardener", required=True, max_digits=9, decimal_places=4, min_value=0)
    window_percent = NumberField(
        label="May lie off by, %",
        max_digits=6,
        decimal_places=3,
        min_value=0,
        max_value=99,
        help_text="The window of the resin's own sheet.",
    )
    pot_life_min = NumberField(label="Pot life, minutes", max_digits=7, decimal_places=2, min_value=0)
    pot_temp = QuantityField("degc", label="Temperature of the pot")
    system = forms.CharField(label="Resin system", required=False, max_length=80)
    resin_lot = LotField("resin", label="Resin lot")
    hardener_lot = LotField("hardener", label="Hardener lot")
    scale = ToolField("scale", label="Scale")
    filler = forms.CharField(label="Filler", required=False, max_length=120)
    source = forms.CharField(
        label="Where ratio, window and pot life are from",
        required=False,
        max_length=160,
        help_text="The maker's sheet.",
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        ratio_by = values.get("ratio_by", words.BY_WEIGHT)
        for name in ("resin", "hardener"):
            values[f"{name}_g"] = None
            if not values.get(name):
                continue
            try:
                values[name], exact = rules.amount(values[name], ratio_by)
            except Impossible as no:
                self.add_error(name, no.sentence)
                continue
            if exact <= 0:
                self.add_error(name, "It must be more than zero.")
            elif ratio_by == words.BY_WEIGHT:
                values[f"{name}_g"] = quantities.kept(exact)
        if values.get("pot_life_min") == 0:
            self.add_error("pot_life_min", "A pot life is more than zero minutes. Leave it empty if it is not known.")
        return values


class MixForm(MixFields):
    """A mix that is measured out now, or is written down later."""

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36, initial=new_key)
    assembly = AssemblyField(label="Assembly", required=False)
    used_in = RowField(label="Goes into")
    mixed_at = MomentField(label="Mixed at", help_text="Empty: now. From then on the clock runs.")

    def __init__(self, *args: Any, late: bool = False, **more: Any) -> None:
        """`late`: what comes from a phone may belong to something that was finished meanwhile."""
        super().__init__(*args, **more)
        project = self.project
        wanted = {"project": project} if late else {"project": project, "finished_at": None}
        open_ones: list[Any] = list(Layup.objects.standing().filter(**wanted))
        open_ones += Bond.objects.standing().filter(**wanted)
        field = self.fields["used_in"]
        assert isinstance(field, RowField)
        field.offer([*open_ones, *parts_of(project)], "Not said yet")

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        thing = values.get("used_in")
        if values.get("assembly") is None and thing is not None:
            # What a mix goes into says where it belongs.
            values["assembly"] = thing.assembly
            self.cleaned_data["assembly"] = thing.assembly
        if values.get("assembly") is None and "assembly" not in self.errors:
            self.add_error("assembly", "Choose the assembly, or what the mix goes into.")
        return values


class CorrectMixForm(MixFields):
    """A mix that is put right."""

    assembly = AssemblyField(label="Assembly", required=True)
    mixed_at = MomentField(label="Mixed at", required=True)
    spread_at = MomentField(label="Pot finished at")
    done_by = PersonField(label="By", required=True)
    note = forms.CharField(label="Note", required=False, max_length=20000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["reason"] = reason_field(self.record)


class SpreadForm(forms.Form):
    """When the pot was finished; empty: now."""

    spread_at = MomentField(label="Pot finished at")


def initial_for_new(last: Mix | None) -> dict[str, Any]:
    """What a new mix is mostly the same in as the one before."""
    return values_of(last, LIKE_LAST) if last is not None else {}


def initial_of(mix: Mix) -> dict[str, Any]:
    """What a mix has now, for its form."""
    return values_of(mix, CorrectMixForm.base_fields)
