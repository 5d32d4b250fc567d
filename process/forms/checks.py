"""What is typed about checks: one form for each kind, for a new record and for a corrected one."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar, cast

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.http import QueryDict
from django.utils.dateformat import format as formatted
from django.utils.timezone import localtime

from calc import torque
from calc.trouble import Impossible
from evidence.models import Photo
from foundation.fields import new_key
from foundation.plain_form import PlainForm
from process.forms.common import (
    AssemblyField,
    LotField,
    MomentField,
    NumberField,
    PartField,
    PersonField,
    ProcessForm,
    RowField,
    ToolField,
    reason_field,
    values_of,
)
from process.forms.quantity import QuantityField
from process.models import Bond, Layup, Mix, ProcessRecord, TapMap
from process.queries.common import records
from process.rules import checks as rules
from process.rules import quantities, words

MOST_OFFERED = 20
MOST_TAPS = 200
WHOLE = 10_000
PLACES = ("Left main", "Right main", "Nose or tail")
# A bare number under a wheel of the whole aircraft is never in grams.
AIRCRAFT_IN = {"us": "lb", "si": "kg"}
# What the page of a check shows in a place of its own.
APART = {"made_with", *(f"{name}_{at}" for name in ("place", "shown", "tare", "arm") for at in (1, 2, 3))}
SHORT = {"autocomplete": "off", "size": 14}


@dataclass(frozen=True)
class Group:
    """Fields that stand together; a folded one opens when something in it is said or wrong."""

    heading: str
    rows: tuple[tuple[str, ...], ...]
    folded: bool = False


@dataclass(frozen=True)
class Section:
    """A group with its fields, as the page draws it."""

    heading: str
    rows: list[list[BoundField]]
    folded: bool
    open: bool
    place: bool
    """Whether it says where the check belongs."""


def line(label: str, most: int = 160, **more: Any) -> forms.CharField:
    """One line of text."""
    more.setdefault("required", False)
    return forms.CharField(label=label, max_length=most, **more)


def quantity(suffix: str, label: str, **more: Any) -> QuantityField:
    return QuantityField(suffix, label=label, **more)


def yes_no(label: str, **more: Any) -> forms.ChoiceField:
    choices = [*words.YES_NO.items(), ("", "Not said yet")]
    return forms.ChoiceField(label=label, choices=choices, required=False, widget=forms.RadioSelect, **more)


class CheckForm(ProcessForm):
    """What every check is asked. A new one carries its request's id; a corrected one says by whom, and why."""

    KIND: ClassVar[str]
    LAYOUT: ClassVar[tuple[Group, ...]]
    # What the next one is mostly the same in.
    LIKE_LAST: ClassVar[tuple[str, ...]] = ()
    NEW_ONLY = ("request_id",)
    CORRECTED_ONLY = ("done_by",)
    COMMON = Group("Note and time", (("title",), ("done_at", "done_by"), ("note",)), folded=True)
    WHERE = Group("Where", (("assembly", "part"),))

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36, initial=new_key)
    assembly = AssemblyField(label="Assembly", required=True, error_messages={"required": "Choose the assembly."})
    part = PartField(label="Part")
    title = line("Title", 120)
    done_at = MomentField(label="Done at", help_text="Empty: now.")
    done_by = PersonField(label="By", required=True)
    note = forms.CharField(label="Note", required=False, max_length=20000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name in self.NEW_ONLY if self.record is not None else self.CORRECTED_ONLY:
            del self.fields[name]
        if self.record is not None:
            self.fields["done_at"].required = True
            self.fields["done_at"].help_text = ""
            self.fields["reason"] = reason_field(self.record)

    @property
    def sections(self) -> Iterator[Section]:
        """The fields in the order of the page."""
        for group in (*self.LAYOUT, self.WHERE, self.COMMON):
            rows = [[self[name] for name in row if name in self.fields] for row in group.rows]
            rows = [row for row in rows if row]
            said = any(field.errors or (field.value() not in {None, "", False} and self.record) for row in rows
                       for field in row if not isinstance(field.value(), list))  # fmt: skip
            yield Section(group.heading, rows, group.folded, said, group is self.WHERE)

    @property
    def values(self) -> dict[str, Any]:
        return {name: value for name, value in super().values.items() if self.keeps(name)}

    def keeps(self, name: str) -> bool:
        """Whether the record keeps this; an empty time of doing is the time of entering."""
        return name != "done_at" or self.cleaned_data["done_at"] is not None

    @property
    def rows(self) -> list[dict[str, Any]] | None:
        """Rows that belong to the record; None for kinds without."""
        return None

    def figure(self, name: str, read: Any) -> Any:
        """What `read` makes of a field that is filled in; what cannot be read is said at the field."""
        typed = self.cleaned_data.get(name)
        if not typed:
            return None
        try:
            return read(typed)
        except Impossible as no:
            self.add_error(name, no.sentence)
            return None


class FastenersForm(CheckForm):
    """A row of fasteners of one kind."""

    KIND = words.FASTENERS
    LIKE_LAST = ("spec", "lot", "solid_rivet", "diameter", "grip", "length", "hole", "sunk", "sealant", "gauge")
    LAYOUT = (
        Group("The row", (("place",), ("spec", "count"), ("lot", "rejected"), ("solid_rivet",))),
        Group("Sizes", (("diameter", "grip", "length"), ("hole", "edge", "pitch"))),
        Group("Formed head, one measured", (("head_width", "head_height"), ("rule", "gauge"))),
        Group("Countersink and sealant", (("sunk", "sealant"),), folded=True),
    )

    place = line("Place", required=True, help_text="Such as skin to rib 3, left.")
    spec = line("Fastener", 80, required=True, help_text="Such as MS20470AD4-6.")
    count = forms.IntegerField(label="How many", min_value=1, max_value=30000)
    rejected = forms.IntegerField(
        label="Rejected and replaced", min_value=0, max_value=30000, required=False, initial=0
    )
    lot = LotField("hardware", label="Lot")
    solid_rivet = forms.BooleanField(label="Solid rivets", required=False)
    diameter = quantity("mm", "Diameter")
    grip = quantity("mm", "Grip")
    length = quantity("mm", "Length")
    hole = quantity("mm", "Hole")
    edge = quantity("mm", "Edge distance")
    pitch = quantity("mm", "Pitch")
    head_width = quantity("mm", "Width of the head")
    head_height = quantity("mm", "Height of the head")
    rule = forms.ChoiceField(
        label="Rule for the height", choices=[("", "Not chosen"), *rules.HEAD_RULES.items()], required=False
    )
    gauge = ToolField("length", label="Caliper or gauge")
    sunk = line("Countersink or dimple", 80)
    sealant = line("Sealant", 80)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        said["rejected"] = said.get("rejected") or 0
        height = said.get("head_height")
        if said.get("solid_rivet") and height and height.text and not said.get("rule"):
            # The rule that judges is written down even where nobody chose one.
            said["rule"] = rules.HALF
        return said


class TorqueForm(CheckForm):
    """One fastener to be tightened, or that was."""

    KIND = words.TORQUE
    LIKE_LAST = ("thread", "nut_type", "wrench", "lever", "castle", "lot", "assembly")
    LAYOUT = (
        Group("The fastener", (("place",), ("thread", "nut_type"), ("castle",))),
        Group("Wrench and drag", (("wrench", "drag"),)),
        Group("Adapter", (("lever", "adapter", "adapter_degrees"),), folded=True),
        Group("The maker's own window", (("window_min", "window_max"), ("source",)), folded=True),
        Group("After tightening", (("shown", "safetied"), ("mark",)), folded=True),
        Group("Lot", (("lot",),), folded=True),
    )

    place = line("Which one", required=True, help_text="Such as strut, lower bolt, left.")
    thread = forms.ChoiceField(
        label="Thread",
        required=False,
        choices=[("", "Not in the table, or not said"), *((row.thread, row.thread) for row in torque.ROWS)],
    )
    nut_type = forms.ChoiceField(
        label="Nut",
        required=False,
        choices=[
            ("", "Not said"),
            (torque.TENSION, "Tension: AN310, AN365"),
            (torque.SHEAR, "Shear: AN320, AN364"),
        ],
    )
    castle = forms.BooleanField(label="Castle nut with a pin", required=False)
    wrench = ToolField("torque", label="Wrench")
    drag = quantity("inlb", "Drag of the nut", zero=True, help_text="Read while it runs down, before it seats.")
    lever = quantity("in", "Lever", help_text="Middle of the grip to the drive.")
    adapter = quantity("in", "Adapter length")
    adapter_degrees = NumberField(
        label="Adapter angle, degrees",
        max_digits=6,
        decimal_places=2,
        min_value=-180,
        max_value=180,
        help_text="Empty: straight on. 90 is square to the wrench, 180 points back to the grip.",
    )
    window_min = quantity("inlb", "At least", zero=True)
    window_max = quantity("inlb", "At most")
    source = line("Where the window is from", help_text="It wins over the table.")
    shown = quantity("inlb", "Wrench showed", zero=True)
    safetied = line("Safetied with", 80)
    mark = forms.BooleanField(label="Witness mark painted", required=False)
    lot = LotField("hardware", label="Lot")

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        low, high, given = said.get("window_min"), said.get("window_max"), None
        if low and high and not self.errors:
            if not (low.text and high.text) and (low.text or high.text):
                self.add_error("window_max" if low.text else "window_min", "A window has two ends. Enter both.")
            elif low.text and low.figure > high.figure:
                self.add_error("window_max", "The most is less than the least. Check the two.")
            given = low.text
        if given and not said.get("source") and not self.errors:
            self.add_error("source", "Say where this window is from: it wins over the table.")
        adapter, lever = said.get("adapter"), said.get("lever")
        if adapter and adapter.text and lever is not None and not lever.text:
            self.add_error("lever", "With an adapter the length of the lever is needed.")
        return said


class WeighingForm(CheckForm):
    """A part on a scale, or the whole aircraft on three."""

    KIND = words.WEIGHING
    LIKE_LAST = ("scale",)
    LAYOUT = (
        Group("On the scale", (("what",), ("weight", "scale"), ("state_of_it",))),
        Group("Arm", (("arm",),), folded=True),
        Group(
            "Whole aircraft on three scales",
            (
                ("whole_aircraft",),
                ("datum", "level"),
                ("fluids",),
                *((f"place_{at}", f"shown_{at}", f"tare_{at}", f"arm_{at}") for at in (1, 2, 3)),
            ),
            folded=True,
        ),
    )

    what = line("What is weighed", required=True)
    weight = quantity("g", "Scale shows")
    state_of_it = line("State", 120, help_text="Such as trimmed, primed, with hardware.")
    scale = ToolField("scale", label="Scale")
    arm = quantity("mm", "Arm from the datum", positive=False)
    whole_aircraft = forms.BooleanField(label="It is the whole aircraft", required=False)
    datum = line("Where the datum is", 120)
    level = line("Leveled how", 120)
    fluids = line("Fluids aboard", 200, help_text="Such as no fuel, oil full.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        unit = AIRCRAFT_IN[self.project.units]
        for at, place in enumerate(PLACES, start=1):
            added: dict[str, forms.Field] = {
                f"place_{at}": line(f"Scale {at} under", 40, initial=place),
                f"shown_{at}": quantity("g", f"Scale {at} shows", zero=True),
                f"tare_{at}": quantity("g", f"Tare {at}", zero=True),
                f"arm_{at}": quantity("mm", f"Arm {at}", positive=False, help_text="Forward of the datum negative."),
            }
            for name, field in added.items():
                self.prepare(field, None)
                if isinstance(field, QuantityField) and field.suffix == "g":
                    field.mean(unit)
                self.fields[name] = field

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        places = [said.get(f"place_{at}") for at in (1, 2, 3) if said.get(f"shown_{at}") and said[f"shown_{at}"].text]
        if said.get("whole_aircraft") and (not all(places) or len(set(places)) < len(places)):
            self.add_error("place_1", "Each scale stands under a place of its own. Name the three.")
        return said

    def keeps(self, name: str) -> bool:
        return (super().keeps(name) and not name.startswith(("place_", "shown_", "tare_", "arm_"))) or name == "arm_mm"

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The scales that were read; none for a part."""
        said = self.cleaned_data
        if not said.get("whole_aircraft"):
            return []
        found = []
        for at in (1, 2, 3):
            row: dict[str, Any] = {"place": said[f"place_{at}"]}
            for name, suffix in (("shown", "g"), ("tare", "g"), ("arm", "mm")):
                row[name], row[f"{name}_{suffix}"] = said[f"{name}_{at}"]
            if row["shown"]:
                found.append(row)
        return found


class CouponForm(CheckForm):
    """A coupon, with its result once there is one."""

    KIND = words.COUPON
    LIKE_LAST = ("test", "limit", "least", "source", "kept_where", "fiber_density", "resin_density")
    LAYOUT = (
        Group("The coupon", (("test", "kept_where"), ("made_with",))),
        Group("Result", (("value", "limit"), ("least",), ("source", "tested_at"))),
        Group(
            "Resin removed: fiber and voids",
            (("specimen_g", "fiber_g"), ("laminate_density", "fiber_density", "resin_density")),
            folded=True,
        ),
    )

    test = line("Test", help_text="Such as lap shear, burn-off, bend.")
    made_with = forms.MultipleChoiceField(
        label="Made with", required=False, widget=forms.CheckboxSelectMultiple, help_text="Same mix, same layup."
    )
    value = line("Result", 40, help_text="With its unit, such as 62 MPa.", widget=forms.TextInput(attrs=SHORT))
    limit = line("Limit", 40, widget=forms.TextInput(attrs=SHORT))
    least = forms.TypedChoiceField(
        label="The limit is",
        choices=[("1", "The least"), ("0", "The most")],
        coerce=lambda value: value == "1",
        initial="1",
        widget=forms.RadioSelect,
    )
    source = line("Where the limit is from")
    tested_at = MomentField(label="Tested at")
    kept_where = line("Kept where", 120)
    specimen_g = NumberField(label="Specimen, g", max_digits=12, decimal_places=5, min_value=0)
    fiber_g = NumberField(label="Fiber left, g", max_digits=12, decimal_places=5, min_value=0)
    laminate_density = NumberField(label="Laminate, g/cm³", max_digits=8, decimal_places=5, min_value=0)
    fiber_density = NumberField(label="Fiber, g/cm³", max_digits=8, decimal_places=5, min_value=0)
    resin_density = NumberField(label="Resin, g/cm³", max_digits=8, decimal_places=5, min_value=0)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        named = getattr(self.record, "made_with", "").split(", ") if self.record else []
        offered: dict[str, str] = {label: label for label in named if label}
        for model in (Mix, Layup, Bond):
            offered |= {
                row.label: f"{row.label} {row.title}".strip() for row in records(model, self.project)[:MOST_OFFERED]
            }
        field = self.fields["made_with"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = list(offered.items())
        if not offered:
            del self.fields["made_with"]
        elif self.record is not None:
            self.initial["made_with"] = [label for label in named if label]
            self.initial["least"] = "1" if getattr(self.record, "least", True) else "0"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for name in ("value", "limit"):
            figure = self.figure(name, rules.si_of)
            said[f"{name}_si"] = None if figure is None else quantities.kept(figure)
        said["made_with"] = ", ".join(said.get("made_with") or ())
        return said


class HardnessForm(CheckForm):
    """Hardness readings."""

    KIND = words.HARDNESS
    LIKE_LAST = ("least", "source", "tester")
    LAYOUT = (
        Group("Where", (("thickness", "edge"),)),
        Group("Readings", (("readings",), ("least", "tester"), ("source",))),
    )

    thickness = quantity("mm", "Thickness of the laminate")
    edge = quantity("mm", "Nearest edge", zero=True)
    readings = forms.CharField(
        label="Readings",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3, "inputmode": "decimal", "autocomplete": "off"}),
        help_text="10 to 12, parted by spaces. The highest and the lowest are left out.",
    )
    least = NumberField(label="At least, on average", max_digits=6, decimal_places=2, min_value=0, max_value=100)
    source = line("Where that is from", help_text="The resin's own data.")
    tester = ToolField("hardness", label="Tester")

    def clean_readings(self) -> list[str]:
        try:
            return rules.read_readings(self.cleaned_data["readings"])
        except Impossible as no:
            raise ValidationError(no.sentence, code=no.code) from None


class TapMapForm(CheckForm):
    """A skin that was tapped; the marks come on their own page."""

    KIND = words.TAP_MAP
    LIKE_LAST = ("skin", "sandwich", "sides_tapped", "grid", "tool")
    LAYOUT = (
        Group("The skin", (("place",), ("skin", "sides_tapped"), ("sandwich",))),
        Group("How", (("tool", "grid"),)),
    )

    place = line("Area", required=True, help_text="Such as left skin, station 40 to 62.")
    skin = quantity("mm", "Thickness of the skin")
    sandwich = forms.BooleanField(label="Sandwich", required=False)
    sides_tapped = forms.TypedChoiceField(
        label="Tapped from", choices=[(1, "One side"), (2, "Both sides")], coerce=int, initial=1
    )
    tool = ToolField("tap", label="Tapped with")
    grid = line("Grid", 80, help_text="Such as every 25 mm.")


class FunctionForm(CheckForm):
    """A test of how something works."""

    KIND = words.FUNCTION
    LIKE_LAST = ("instrument",)
    LAYOUT = (
        Group("The test", (("what",), ("measured", "instrument"))),
        Group("Limits", (("low", "high"), ("source",), ("passed",))),
    )

    what = line("What was tested", 200, required=True, help_text="Such as leak test, door travel, actuator current.")
    measured = line("Value", 40, help_text="With its unit, such as 3.4 A.", widget=forms.TextInput(attrs=SHORT))
    instrument = ToolField(label="Instrument")
    low = line("At least", 40, widget=forms.TextInput(attrs=SHORT))
    high = line("At most", 40, widget=forms.TextInput(attrs=SHORT))
    source = line("Where the limits are from")
    passed = yes_no("It passed", help_text="Where there is no figure, or you saw more than the figure says.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.record is not None:
            unit = getattr(self.record, "unit", "")
            for field, name in (("measured", "value"), ("low", "low"), ("high", "high")):
                value = getattr(self.record, name, None)
                self.initial[field] = f"{value.normalize():f} {unit}".strip() if value is not None else ""

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        unit = ""
        for field, name in (("measured", "value"), ("low", "low"), ("high", "high")):
            found = self.figure(field, rules.with_unit)
            said[name] = None
            if found is None:
                continue
            figure, its = found
            if its and unit and its != unit:
                self.add_error(field, f"Enter it in {unit}, as the field before.")
            unit = unit or its[:20]
            try:
                said[name] = quantities.kept(figure).quantize(Decimal("0.0001"))
            except InvalidOperation:
                self.add_error(field, "That is too large.")
                continue
            if said[name] != figure or abs(said[name]) >= 10**10:
                self.add_error(field, "Enter it with at most four decimals, and ten digits before them.")
        low, high = said.get("low"), said.get("high")
        if isinstance(low, Decimal) and isinstance(high, Decimal) and low > high:
            self.add_error("high", "The most is less than the least. Check the two.")
        return said | {"unit": unit}

    def keeps(self, name: str) -> bool:
        return super().keeps(name) and name != "measured"


FORMS: dict[str, type[CheckForm]] = {
    form.KIND: form
    for form in (FastenersForm, TorqueForm, WeighingForm, CouponForm, HardnessForm, TapMapForm, FunctionForm)
}


class TightenedForm(ProcessForm):
    """What the wrench showed, straight after tightening."""

    shown = QuantityField(
        "inlb", label="Wrench showed", required=True, error_messages={"required": "Enter what it showed."}
    )
    safetied = line("Safetied with", 80)
    mark = forms.BooleanField(label="Witness mark painted", required=False)


def initial_for_new(last: ProcessRecord | None, form: type[CheckForm]) -> dict[str, Any]:
    """What a new check is mostly the same in as the one before."""
    found = values_of(last, form.LIKE_LAST) if last is not None else {}
    if "least" in found and form is CouponForm:
        found["least"] = "1" if found["least"] else "0"
    return found


def initial_of(record: ProcessRecord) -> dict[str, Any]:
    """What a check has now, for its form."""
    found = values_of(record, FORMS[record.KIND].base_fields)
    if record.KIND == words.HARDNESS:
        found["readings"] = " ".join(found["readings"])
    if record.KIND == words.WEIGHING:
        rows: Any = getattr(record, "readings").all()  # noqa: B009
        named = {row.place: row for row in rows}
        places = [place for place in PLACES if place in named] + [place for place in named if place not in PLACES]
        for at, place in enumerate(places[:3] or PLACES, start=1):
            row = named.get(place)
            found[f"place_{at}"] = place
            for name in ("shown", "tare", "arm"):
                found[f"{name}_{at}"] = getattr(row, name) if row else ""
    return found


def facts_of(record: ProcessRecord) -> list[tuple[str, Any]]:
    """What was typed about a check, by the labels of its form; what was left out is left out."""
    form = FORMS[record.KIND]
    initial = form(project=record.project, record=record, initial=initial_of(record))
    found: list[tuple[str, Any]] = []
    for name in (name for group in form.LAYOUT for row in group.rows for name in row):
        if name not in initial.fields or name in APART:
            continue
        field, value = initial.fields[name], initial[name].initial
        if isinstance(field, RowField):
            value = str(getattr(record, name) or "")
        elif isinstance(field, forms.ChoiceField) and not isinstance(value, list):
            value = dict(cast("list[tuple[Any, str]]", field.choices)).get(value, "") if value else ""
        elif isinstance(value, bool):
            value = "Yes" if value else ""
        elif isinstance(value, datetime):
            value = formatted(localtime(value, record.project.zone), "j M Y, H:i")
        elif isinstance(value, Decimal):
            value = quantities.plain(value) if value else ""
        if value not in (None, "", [], 0):
            found.append((str(field.label or name), value))
    return found


class TapsForm(PlainForm):
    """Marks on the photo: rows of place in percent, sound and words. Rows stay as typed where one is wrong."""

    photo = RowField(label="Photo of the area")
    accepted = yes_no("Accepted as it sounds")

    def __init__(self, *args: Any, tapmap: TapMap, photos: Sequence[Photo], **more: Any) -> None:
        super().__init__(*args, **more)
        self.tapmap = tapmap
        field = self.fields["photo"]
        assert isinstance(field, RowField)
        field.offer(photos, "None")
        field.choices = [("", "None"), *((photo.pk, f"{photo.label} {photo.caption}".strip()) for photo in photos)]
        self.read: list[dict[str, Any]] = []
        if tapmap.finished_at is not None:
            self.fields["reason"] = reason_field(tapmap)

    @property
    def rows(self) -> list[dict[str, str]]:
        """The rows as typed, or as they stand."""
        if isinstance(self.data, QueryDict) and self.is_bound:
            lists = [self.data.getlist(name) for name in ("x", "y", "sound", "words")]
            found = [dict(zip(("x", "y", "sound", "words"), row, strict=True)) for row in zip(*lists, strict=False)]
            return [row for row in found if row["x"].strip() or row["y"].strip() or row["sound"]]
        return [
            {"x": percent(tap.x), "y": percent(tap.y), "sound": tap.sound, "words": tap.words}
            for tap in self.tapmap.taps.all()
        ]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        rows = self.rows
        if len(rows) > MOST_TAPS:
            raise ValidationError(f"At most {MOST_TAPS} marks fit on one map.")
        for at, row in enumerate(rows, start=1):
            try:
                self.read.append(one_tap(row))
            except ValidationError as no:
                self.add_error(None, f"Mark {at}: {no.message}")
        return said

    @property
    def values(self) -> dict[str, Any]:
        return {**self.cleaned_data, "taps": self.read}


def percent(value: int) -> str:
    """Ten-thousandths as percent."""
    return quantities.plain(Decimal(value) / 100)


def one_tap(row: dict[str, str]) -> dict[str, Any]:
    """One mark as it is kept."""
    found: dict[str, Any] = {"sound": row["sound"], "words": row["words"].strip()[:120]}
    if row["sound"] not in words.SOUNDS:
        raise ValidationError("say how it sounded.")
    for name, said in (("x", "from the left"), ("y", "from the top")):
        try:
            value = Decimal(row[name].strip().removesuffix("%").replace(",", "."))
        except InvalidOperation:
            raise ValidationError(f"“{row[name][:20]}” is no percentage {said}.") from None
        if not value.is_finite() or not 0 <= value <= 100:
            raise ValidationError(f"{said} it lies between 0 and 100 %.")
        found[name] = min(WHOLE, int((value * 100).to_integral_value()))
    return found
