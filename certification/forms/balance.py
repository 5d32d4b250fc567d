"""What is typed about weight and balance: weighings, loaded items, limits, loading cases."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from re import fullmatch
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from accounts.models import Person, Project
from accounts.queries import people
from calc.trouble import Impossible
from certification.models import Limits, LoadingCase, LoadItem, WeighIn
from certification.models.balance import LOADS, SIDES
from certification.queries import balance as queries
from certification.rules.balance import AIRCRAFT_IN, SCALES
from foundation.fields import new_key
from foundation.plain_form import PlainForm
from process.models import Tool
from process.rules import quantities

MOST_ROWS = 12
MOST_SIGNS = 40
SAID = ("done_at", "done_by", "place", "datum", "level", "condition", "witness", "note")
PLACES = ("Left main", "Right main", "Nose or tail")
OFF, ON = "off", "on"
POURED = {OFF: "Take off: it was aboard", ON: "Add: it was missing"}


class Typed(NamedTuple):
    """A quantity as typed, with its unit, and its figure."""

    text: str
    figure: Decimal | None


class Amount(forms.CharField):
    """A weight (`suffix` g) or an arm (mm), kept as typed beside its figure; `unit` is meant where none is written."""

    def __init__(self, suffix: str, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "size": 12, "inputmode": "text"}))
        super().__init__(max_length=MOST_SIGNS, **more)
        self.suffix, self.said, self.unit = suffix, self.help_text, ""

    def mean(self, units: str) -> None:
        """Say in which unit a bare number is meant in a project with these units."""
        self.unit = AIRCRAFT_IN[units] if self.suffix == "g" else quantities.meant(self.suffix, units)
        self.help_text = f"{self.said} In {self.unit} unless you write another unit.".strip()

    def clean(self, value: Any) -> Typed:
        typed = super().clean(value)
        if not typed:
            return Typed("", None)
        try:
            text, exact = quantities.read(typed, self.suffix, self.unit)
        except Impossible as no:
            raise ValidationError(no.sentence, code=no.code) from None
        if self.suffix == "g" and exact < 0:
            raise ValidationError("A weight is not less than nothing.", code="impossible")
        if len(text) > MOST_SIGNS:
            raise ValidationError("Write it in fewer signs.", code="too_long")
        return Typed(text, quantities.kept(exact))


class Choice(forms.ChoiceField):
    """One row of the project, given as the row itself."""

    def offer(self, rows: Iterable[Any], nothing: str = "") -> None:
        self.rows = {row.pk: row for row in rows}
        self.choices = [*([("", nothing)] if nothing else []), *((key, str(row)) for key, row in self.rows.items())]

    def clean(self, value: Any) -> Any:
        return self.rows.get(super().clean(value))


def reason_field() -> forms.CharField:
    """Why something is corrected."""
    return forms.CharField(
        label="Reason",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Why it is changed. The old values stay readable in the history.",
    )


class BalanceForm(PlainForm):
    """A form in one project; quantities without a unit are meant in the project's."""

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        self.project = project
        for field in self.fields.values():
            self.prepare(field)

    def prepare(self, field: forms.Field) -> None:
        if isinstance(field, Amount):
            field.mean(self.project.units)

    def add(self, name: str, field: forms.Field) -> None:
        """A field of a row."""
        self.prepare(field)
        self.fields[name] = field

    def typed(self, name: str) -> dict[str, Any]:
        """A quantity as the two values that are kept of it."""
        field, value = self.fields[name], self.cleaned_data.get(name, Typed("", None))
        assert isinstance(field, Amount)
        plain = name.rpartition("_")[0] if name[-1].isdigit() else name
        return {plain: value.text, f"{plain}_{field.suffix}": value.figure}


def rows_sent(data: Mapping[str, Any], name: str, least: int) -> int:
    """How many rows a posted form has, by the numbers behind the name of one field."""
    numbers = [int(found[1]) for key in data if (found := fullmatch(rf"{name}_(\d{{1,2}})", key))]
    return min(max([least, *numbers]), MOST_ROWS)


# ---- weighings ----


class WeighInForm(BalanceForm):
    """A weighing: what each scale showed, which fluids do not belong or are missing, and how it was done."""

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36, required=False)
    done_at = forms.DateTimeField(
        label="Weighed at",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    done_by = Choice(label="By")
    place = forms.CharField(label="Place", max_length=120, required=False, help_text="Closed, without wind.")
    datum = forms.CharField(
        label="Where the datum is", max_length=160, required=False, help_text="Such as face of the firewall."
    )
    level = forms.CharField(
        label="How it was leveled", max_length=160, required=False, help_text="Such as on the canopy rail, both ways."
    )
    condition = forms.CharField(
        label="Condition",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Such as empty, oil full, unusable fuel; and what is not fitted yet.",
    )
    witness = forms.CharField(label="Witness", max_length=120, required=False)
    note = forms.CharField(label="Note", max_length=20000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, record: WeighIn | None = None, more: str = "", **options: Any) -> None:
        super().__init__(*args, **options)
        self.record = record
        before = [record.done_by] if record else []
        done_by = self.fields["done_by"]
        assert isinstance(done_by, Choice)
        done_by.offer({one.pk: one for one in [*before, *people(self.project).workers()]}.values())
        known = self.data or self.initial
        self.scale_count = rows_sent(known, "name", SCALES) + (more == "scale")
        self.fluid_count = rows_sent(known, "fluid", 1) + (more == "fluid")
        tools = {one.pk: one for one in queries.scales(self.project)}
        if record is not None:
            tools |= {one.tool.pk: one.tool for one in record.points.all() if one.tool}
        for at in range(1, self.scale_count + 1):
            self.add_scale(at, tools)
        for at in range(1, self.fluid_count + 1):
            self.add_fluid(at)
        if record is not None:
            del self.fields["request_id"]
            if record.finished_at is not None:
                self.fields["reason"] = reason_field()

    def add_scale(self, at: int, tools: dict[str, Tool]) -> None:
        tool = Choice(label=f"Scale used, {at}", required=False)
        tool.offer(tools.values(), "Not said")
        place = forms.CharField(label=f"Scale {at} stands under", max_length=60, required=False)
        if self.record is None and at <= len(PLACES):
            self.initial.setdefault(f"name_{at}", PLACES[at - 1])
        self.add(f"name_{at}", place)
        self.add(f"reading_{at}", Amount("g", label=f"Scale {at} shows"))
        self.add(f"tare_{at}", Amount("g", label=f"Tare {at}", help_text="Chocks, blocks, stands."))
        self.add(f"arm_{at}", Amount("mm", label=f"Arm {at}", help_text="Forward of the datum negative."))
        self.add(f"tool_{at}", tool)
        self.say_once(at, "tare", "arm", "reading")

    def add_fluid(self, at: int) -> None:
        adds = forms.ChoiceField(
            label=f"Fluid {at} is to be", choices=list(POURED.items()), required=False, initial=OFF
        )
        name = forms.CharField(label=f"Fluid {at}", max_length=80, required=False, help_text="Such as fuel, oil.")
        self.add(f"fluid_{at}", name)
        self.add(f"weight_{at}", Amount("g", label=f"Weight of fluid {at}"))
        self.add(f"farm_{at}", Amount("mm", label=f"Arm of fluid {at}"))
        self.add(f"adds_{at}", adds)
        self.say_once(at, "fluid", "weight", "farm")

    def say_once(self, at: int, *names: str) -> None:
        """What is said of the fields of the first row need not be said again."""
        if at > 1:
            for name in names:
                self.fields[f"{name}_{at}"].help_text = ""

    @property
    def scale_rows(self) -> Iterator[dict[str, Any]]:
        """The fields of each scale, for the page."""
        for at in range(1, self.scale_count + 1):
            yield {"n": at, "fields": [self[f"{name}_{at}"] for name in ("name", "reading", "tare", "arm", "tool")]}

    @property
    def fluid_rows(self) -> Iterator[dict[str, Any]]:
        """The fields of each fluid, for the page."""
        for at in range(1, self.fluid_count + 1):
            yield {"n": at, "fields": [self[f"{name}_{at}"] for name in ("fluid", "weight", "farm", "adds")]}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for at in range(1, self.scale_count + 1):
            if not said.get(f"name_{at}") and any(self.filled(name, at) for name in ("reading", "tare", "arm")):
                self.add_error(f"name_{at}", "Say where this scale stands.")
        for at in range(1, self.fluid_count + 1):
            if not said.get(f"fluid_{at}") and any(self.filled(name, at) for name in ("weight", "farm")):
                self.add_error(f"fluid_{at}", "Say which fluid this is.")
        return said

    def filled(self, name: str, at: int) -> bool:
        value = self.cleaned_data.get(f"{name}_{at}")
        return bool(value and value.text)

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        said = self.cleaned_data
        names = (*SAID, "reason", "request_id")
        scales = [
            {"name": said[f"name_{at}"], "tool": said[f"tool_{at}"]}
            | self.typed(f"reading_{at}")
            | self.typed(f"tare_{at}")
            | self.typed(f"arm_{at}")
            for at in range(1, self.scale_count + 1)
            if said[f"name_{at}"]
        ]
        fluids = [
            {"name": said[f"fluid_{at}"], "adds": said[f"adds_{at}"] == ON}
            | self.typed(f"weight_{at}")
            | {name.replace("farm", "arm"): value for name, value in self.typed(f"farm_{at}").items()}
            for at in range(1, self.fluid_count + 1)
            if said[f"fluid_{at}"]
        ]
        return {name: said[name] for name in names if name in said} | {"scales": scales, "fluids": fluids}

    def says_the_same(self, row: WeighIn) -> bool:
        """Whether a weighing that is kept says what was typed."""
        values = self.values
        parts = (("scales", row.points), ("fluids", row.fluids))
        return all(getattr(row, name) == values[name] for name in SAID) and all(
            len(values[part]) == len(kept.all())
            and all(
                getattr(one, name) == value
                for one, typed in zip(kept.all(), values[part], strict=True)
                for name, value in typed.items()
            )
            for part, kept in parts
        )


def weighin_initial(row: WeighIn) -> dict[str, Any]:
    """What a weighing says, for its form."""
    found: dict[str, Any] = {
        name: getattr(row, name) for name in ("place", "datum", "level", "condition", "witness", "note")
    }
    found |= {"done_at": local(row.done_at), "done_by": row.done_by_id}
    for at, one in enumerate(row.points.all(), start=1):
        found |= {f"name_{at}": one.name, f"reading_{at}": one.reading, f"tare_{at}": one.tare}
        found |= {f"arm_{at}": one.arm, f"tool_{at}": one.tool_id or ""}
    for at, fluid in enumerate(row.fluids.all(), start=1):
        found |= {f"fluid_{at}": fluid.name, f"weight_{at}": fluid.weight, f"farm_{at}": fluid.arm}
        found[f"adds_{at}"] = ON if fluid.adds else OFF
    return found


def weighin_fresh(by: Person, at: datetime, last: WeighIn | None) -> dict[str, Any]:
    """What the next weighing is mostly the same in: who, now, datum, leveling, places, tares, arms and scales."""
    found: dict[str, Any] = {}
    if last is not None:
        old = weighin_initial(last)
        same = ("datum", "level", "place")
        found = {
            key: value
            for key, value in old.items()
            if key in same or key.startswith(("name_", "tare_", "arm_", "tool_"))
        }
    return found | {"done_at": local(at), "done_by": by.pk, "request_id": new_key()}


def local(value: datetime) -> str:
    return timezone.localtime(value).strftime("%Y-%m-%dT%H:%M")


# ---- what is loaded ----


class ItemForm(BalanceForm):
    """A seat, a tank, a locker."""

    kind = forms.ChoiceField(label="What it is", choices=list(LOADS.items()), widget=forms.RadioSelect, initial="crew")
    name = forms.CharField(label="Name", max_length=80, help_text="Such as front seat, main tank, aft locker.")
    arm = Amount("mm", label="Arm", required=True, help_text="Aft of the datum; forward of it negative.")
    least = Amount("g", label="Least", help_text="What is always aboard, such as the lightest pilot.")
    most = Amount("g", label="Most", required=True)
    source = forms.CharField(label="Where arm and most are from", max_length=200, required=False)

    def __init__(self, *args: Any, record: LoadItem | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        if record is not None:
            self.fields["reason"] = reason_field()

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        plain = {name: self.cleaned_data[name] for name in ("kind", "name", "source", "reason") if name in self.fields}
        return plain | self.typed("arm") | self.typed("least") | self.typed("most")


# ---- limits ----


class LimitsForm(BalanceForm):
    """The designer's limits: the most weight, and each line by its points from the lightest to the heaviest."""

    most = Amount("g", label="Most weight", required=True)
    source = forms.CharField(
        label="Where the limits are from", max_length=200, help_text="Such as plan, sheet 4, revision C."
    )

    def __init__(self, *args: Any, record: Limits | None = None, more: str = "", **options: Any) -> None:
        super().__init__(*args, **options)
        known = self.data or self.initial
        self.counts = {side: rows_sent(known, f"{side}_weight", 2) + (more == side) for side in SIDES}
        for side, count in self.counts.items():
            for at in range(1, count + 1):
                self.add(f"{side}_weight_{at}", Amount("g", label=f"{SIDES[side]} point {at}: at weight"))
                self.add(f"{side}_arm_{at}", Amount("mm", label=f"{SIDES[side]} point {at}: arm"))
        if record is not None:
            self.fields["reason"] = reason_field()

    @property
    def sides(self) -> Iterator[dict[str, Any]]:
        """The points of each line, for the page."""
        for side, count in self.counts.items():
            pairs = [(self[f"{side}_weight_{at}"], self[f"{side}_arm_{at}"]) for at in range(1, count + 1)]
            yield {"key": side, "name": SIDES[side], "pairs": pairs}

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it; a point needs both its figures."""
        said = self.cleaned_data
        corners = []
        for side, count in self.counts.items():
            for at in range(1, count + 1):
                weight, arm = said[f"{side}_weight_{at}"], said[f"{side}_arm_{at}"]
                if weight.text and arm.text:
                    corners.append(
                        {"side": side, "weight": weight.text, "weight_g": weight.figure}
                        | {"arm": arm.text, "arm_mm": arm.figure}
                    )
        plain = {name: said[name] for name in ("source", "reason") if name in said}
        return plain | self.typed("most") | {"corners": corners}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        for side, count in self.counts.items():
            for at in range(1, count + 1):
                weight, arm = said.get(f"{side}_weight_{at}"), said.get(f"{side}_arm_{at}")
                if weight and arm and bool(weight.text) != bool(arm.text):
                    lacking = "arm" if weight.text else "weight"
                    self.add_error(f"{side}_{lacking}_{at}", "A point has a weight and an arm.")
        return said


def limits_initial(limits: Limits) -> dict[str, Any]:
    """What the limits say, for their form."""
    found: dict[str, Any] = {"most": limits.most, "source": limits.source}
    for side in SIDES:
        corners = [one for one in limits.corners.all() if one.side == side]
        for at, one in enumerate(corners, start=1):
            found |= {f"{side}_weight_{at}": one.weight, f"{side}_arm_{at}": one.arm}
    return found


# ---- cases ----


class CaseForm(BalanceForm):
    """A loading case: what of each item is aboard."""

    name = forms.CharField(label="Name of the case", max_length=80, help_text="Such as pilot alone, full fuel.")
    note = forms.CharField(label="Note", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, items: Iterable[LoadItem], record: LoadingCase | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.items = list(items)
        for item in self.items:
            said = f"{item.least or 'Nothing'} to {item.most}, arm {item.arm}."
            self.add(f"load_{item.pk}", Amount("g", label=item.name, help_text=said))
            if record is None:
                self.initial.setdefault(f"load_{item.pk}", item.least)
        if record is not None:
            self.fields["reason"] = reason_field()

    @property
    def load_fields(self) -> list[Any]:
        """A field for each item, for the page."""
        return [self[f"load_{item.pk}"] for item in self.items]

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        said = self.cleaned_data
        loads = {item.pk: tuple(said[f"load_{item.pk}"]) for item in self.items if said[f"load_{item.pk}"].text}
        return {name: said[name] for name in ("name", "note", "reason") if name in said} | {"loads": loads}


def case_initial(case: LoadingCase) -> dict[str, Any]:
    """What a case says, for its form."""
    return {"name": case.name, "note": case.note} | {f"load_{one.item_id}": one.weight for one in case.loads.all()}


class WithdrawForm(PlainForm):
    """Why something is withdrawn."""

    reason = forms.CharField(
        label="Reason", max_length=400, widget=forms.Textarea(attrs={"rows": 2}), help_text="The reason stays with it."
    )
