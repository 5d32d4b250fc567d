"""What people type about assemblies and parts, bins and lots."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.text import capfirst

from accounts.models import Project
from foundation.choosing import offer
from foundation.figures import AnyDecimalField
from foundation.plain_form import PlainForm
from parts import rules
from parts.models import Assembly, Bin, Lot, Part
from parts.queries import Node, Place, lots, parts_of

INDENT = "\u00a0" * 3
UNIT_CHOICES = list(rules.UNITS.items())


def weight_field(label: str) -> AnyDecimalField:
    """A weight of zero or more; its unit is a field of its own."""
    return AnyDecimalField(
        label=label,
        required=False,
        min_value=0,
        max_digits=12,
        decimal_places=4,
        error_messages={
            "invalid": "Write a number such as 12.5, without a thousands mark and without the unit.",
            "min_value": "A weight is zero or more.",
        },
    )


def unit_field() -> forms.ChoiceField:
    return forms.ChoiceField(label="Unit", choices=UNIT_CHOICES)


def reason_field(why: str, *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label="Reason", max_length=400, required=required, widget=forms.Textarea(attrs={"rows": 2}), help_text=why
    )


def note_field() -> forms.CharField:
    return forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


def indented(words: str, depth: int) -> str:
    """A line of a list that shows a tree; no-break spaces, because a browser drops the others."""
    return INDENT * depth + words


def tree_choices(nodes: Sequence[Node]) -> list[tuple[str, str]]:
    return [(node.assembly.pk, indented(str(node.assembly), node.depth)) for node in nodes]


class AssemblyForm(PlainForm):
    number = forms.CharField(label="Number", max_length=24, help_text="Your own numbering, such as 24 or 24.1.")
    name = forms.CharField(label="Name", max_length=120)
    note = note_field()


class NewAssemblyForm(AssemblyForm):
    parent = forms.ChoiceField(label="Part of", required=False)

    field_order = ["parent", "number", "name", "note"]

    def __init__(self, nodes: Sequence[Node], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "parent", [("", "The whole aircraft"), *tree_choices(nodes)])


class CorrectAssemblyForm(AssemblyForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


class MoveForm(PlainForm):
    place = forms.ChoiceField(label="New place", help_text="In the order of the tree. All below it moves with it.")

    def __init__(self, places: Sequence[Place], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places = {place.key: place for place in places}
        offer(self, "place", [(key, indented(capfirst(one.words), one.depth)) for key, one in self.places.items()])

    @property
    def chosen(self) -> Place:
        return self.places[self.cleaned_data["place"]]


class WithdrawForm(PlainForm):
    reason = reason_field("The reason stays with it.", required=True)


class PartForm(PlainForm):
    kind = forms.ChoiceField(
        label="What it is", choices=list(rules.KINDS.items()), widget=forms.RadioSelect, initial="part"
    )
    assembly = forms.ChoiceField(label="Assembly")
    number = forms.CharField(label="Part number", max_length=40, help_text="Your own numbering.")
    name = forms.CharField(label="Name", max_length=120)
    side = forms.ChoiceField(label="Side", choices=list(rules.SIDES.items()), required=False, widget=forms.RadioSelect)
    n = forms.IntegerField(label="This is number", required=False, min_value=1, max_value=9999)
    of = forms.IntegerField(
        label="Out of", required=False, min_value=1, max_value=9999, help_text="Both or neither, as in 1 of 2."
    )
    status = forms.ChoiceField(
        label="Status", choices=list(rules.STATUSES.items()), widget=forms.RadioSelect, initial="flight"
    )
    origin = forms.ChoiceField(
        label="Where it comes from", choices=list(rules.ORIGINS.items()), widget=forms.RadioSelect, initial="builder"
    )
    weight = weight_field("Weight, weighed")
    weight_unit = unit_field()
    estimate = weight_field("Weight, estimated")
    estimate_unit = unit_field()
    revision = forms.CharField(
        label="Definition revision", max_length=40, required=False, help_text="Of the drawing or plan it was made to."
    )
    arm = forms.CharField(
        label="Arm from the datum",
        max_length=40,
        required=False,
        help_text="With its unit, such as 57 in or 1450 mm; forward of the datum with a minus.",
    )
    note = note_field()

    def __init__(self, nodes: Sequence[Node], project: Project, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.assemblies = {node.assembly.pk: node.assembly for node in nodes}
        offer(self, "assembly", [("", "Choose the assembly"), *tree_choices(nodes)])
        for unit in ("weight_unit", "estimate_unit"):
            self.initial[unit] = self.initial.get(unit) or rules.SHOWN_IN[project.units]

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        return self.cleaned_data | {"assembly": self.assemblies[self.cleaned_data["assembly"]]}


class CorrectPartForm(PartForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


class FindForm(PlainForm):
    """Which parts to list. A filter that makes no sense is left out rather than refused."""

    text = forms.CharField(label="Number, name or note holds", required=False, max_length=80)
    assembly = forms.ChoiceField(label="Assembly, with all below", required=False)
    kind = forms.ChoiceField(label="What it is", required=False, choices=[("", "Any"), *rules.KINDS.items()])
    status = forms.ChoiceField(label="Status", required=False, choices=[("", "Any"), *rules.STATUSES.items()])

    def __init__(self, nodes: Sequence[Node], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "assembly", [("", "All"), *tree_choices(nodes)])

    @property
    def wanted(self) -> dict[str, str]:
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}


class OriginForm(PlainForm):
    """One part that this part comes from."""

    kind = forms.ChoiceField(label="How", choices=[("", "Choose"), *rules.ORIGIN_KINDS.items()])

    def __init__(self, part: Part, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = parts_of(part.project).exclude(pk=part.pk)
        self.fields["source"] = PartField(others, label="The other part", empty_label="Choose the part")


class MadeOfForm(PlainForm):
    """One lot that went straight into a part."""

    def __init__(self, project: Project, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lot"] = forms.ModelChoiceField(lots(project), label="Lot", empty_label="Choose the lot")
        self.fields["words"] = forms.CharField(
            label="What of it", max_length=120, required=False, help_text="Such as: block 300 by 200, upper half."
        )


class PartField(forms.ModelChoiceField):
    """A part to choose, with its side and count: left and right share a number."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj}, {obj.counted}" if obj.counted else str(obj)


class BinForm(PlainForm):
    number = forms.CharField(label="Number", max_length=24, help_text="Your own numbering, such as B3.")
    name = forms.CharField(label="Name", max_length=120, help_text="What lies in it or what it is, in a few words.")
    note = note_field()


class CorrectBinForm(BinForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


def day_field(label: str, help_text: str = "") -> forms.DateField:
    """A day that may be left empty."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=widget, help_text=help_text)


def months_field(label: str, help_text: str) -> forms.IntegerField:
    """A number of months that may be left empty."""
    return forms.IntegerField(label=label, required=False, min_value=1, max_value=1200, help_text=help_text)


class LotForm(PlainForm):
    number = forms.CharField(label="Number", max_length=24, help_text="Your own numbering, such as L-0311.")
    name = forms.CharField(label="Material", max_length=120, help_text="Such as: epoxy resin, laminating.")
    maker_lot = forms.CharField(label="Maker's lot", max_length=60, required=False, help_text="As the label has it.")
    supplier = forms.CharField(label="Supplier", max_length=120, required=False)
    material = forms.ChoiceField(
        label="Kind of material", choices=[("", "Not said"), *rules.MATERIALS.items()], required=False
    )
    quantity = forms.CharField(
        label="Quantity", max_length=60, required=False, help_text="Such as 5 kg, 12 m or 100 pieces."
    )
    faw = forms.CharField(
        label="Areal weight, of a cloth", max_length=40, required=False, help_text="Such as 290 g/m2 or 5.7 oz/yd2."
    )
    made_on = day_field("Made")
    expires_on = day_field("Expires", "As the label has it; where it names a month only, the last day of it.")
    opened_on = day_field("Opened", "Empty while it is sealed.")
    months = months_field("Keeps sealed, months", "By its maker's sheet, from the day it was made.")
    months_open = months_field("Keeps open, months", "By its maker's sheet, from the day it was opened.")
    stored = forms.CharField(
        label="Stored", max_length=80, required=False, help_text="Where and how warm, such as cabinet, 15 to 25 °C."
    )
    retest_on = day_field("Tested again", "Where old stock was tested before use.")
    retest_words = forms.CharField(label="What the test said", max_length=200, required=False)
    status = forms.ChoiceField(
        label="Status",
        choices=list(rules.LOT_STATUSES.items()),
        widget=forms.RadioSelect,
        required=False,
        initial="good",
    )
    status_words = forms.CharField(
        label="Why", max_length=200, required=False, help_text="Needed for a lot on hold or rejected."
    )
    note = note_field()

    def clean_status(self) -> str:
        return self.cleaned_data["status"] or "good"


class CorrectLotForm(LotForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


class FindLotForm(PlainForm):
    """Which lots to list."""

    text = forms.CharField(label="Number, material, maker's lot or supplier holds", required=False, max_length=80)

    @property
    def wanted(self) -> str:
        self.is_valid()
        return str(self.cleaned_data.get("text", ""))


def values_of_part(part: Part) -> dict[str, Any]:
    """A part's present values for its form; decimals without trailing zeros."""
    values = {name: getattr(part, name) for name in PartForm.base_fields}
    figures = {name: rules.plain_figure(values[name]) for name in ("weight", "estimate") if values[name] is not None}
    return values | figures | {"assembly": part.assembly_id}


def values_of_assembly(assembly: Assembly) -> dict[str, Any]:
    return {name: getattr(assembly, name) for name in AssemblyForm.base_fields}


def values_of_bin(store: Bin) -> dict[str, Any]:
    return {name: getattr(store, name) for name in BinForm.base_fields}


def values_of_lot(lot: Lot) -> dict[str, Any]:
    return {name: getattr(lot, name) for name in LotForm.base_fields}
