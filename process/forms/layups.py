"""What is typed about layups: a short form for each moment, and the ply schedule."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms

from accounts.models import Project
from calc.trouble import Impossible
from foundation.refusal import Refusal
from parts import queries as parts
from parts.models import Lot
from process.forms.common import (
    AssemblyField,
    LotField,
    MomentField,
    NewForm,
    NumberField,
    PartField,
    PersonField,
    ProcessForm,
    RowField,
    ToolField,
    reason_field,
)
from process.forms.quantity import QuantityField
from process.models import Layup, Ply
from process.rules import quantities, schedule, words


def words_field(label: str, length: int, help_text: str = "") -> forms.CharField:
    """A line of words that may be left empty."""
    return forms.CharField(label=label, max_length=length, required=False, help_text=help_text)


class NewLayupForm(NewForm):
    """A layup that begins."""

    title = words_field("What is laid up", 120, "Such as: shell, lower, left.")
    mold = PartField(label="On which mold or base part", required=False)
    revision = words_field("Revision of the drawing", 40)
    datum = words_field("What 0° is", 120, "Such as: 0° runs keel to bow.")
    schedule_of = RowField(label="With the ply schedule of")
    mirror = forms.BooleanField(
        label="For the other side", required=False, help_text="+45 becomes -45; 0, 90, ±45 and 0/90 stay."
    )

    def __init__(self, *args: Any, layups: Iterable[Layup] = (), **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["schedule_of"]
        assert isinstance(field, RowField)
        field.offer(layups, "None yet")


class MomentForm(ProcessForm):
    """What is known at one moment. A finished layup is changed with a reason."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.record is not None and self.record.finished_at is not None:
            self.fields["reason"] = reason_field(self.record)


class BeforeForm(MomentForm):
    room_temp = QuantityField("degc", label="Room temperature")
    room_rh = NumberField(label="Humidity, %", min_value=0, max_value=100, max_digits=5, decimal_places=2)
    cloth_weight = QuantityField("g", label="Cut cloth, weighed")
    area = QuantityField("m2", label="Area")
    resin_per_100 = NumberField(
        label="Resin for 100 g of cloth, g",
        min_value=1,
        max_digits=7,
        decimal_places=2,
        help_text="Of the plan or sheet.",
    )
    loss_percent = NumberField(
        label="Left in cup and brush, %", min_value=0, max_value=500, max_digits=5, decimal_places=2
    )
    surface = words_field("Surface", 200, "How it was prepared.")
    release = words_field("Release", 120)
    core_lot = LotField("core", label="Core lot")


class WetForm(MomentForm):
    first_wetout_at = MomentField(label="First wet-out")
    last_wetout_at = MomentField(label="Last wet-out")

    @property
    def values(self) -> dict[str, Any]:
        """What was typed. An empty time takes nothing away: a tap may have set it since the page was made."""
        return {name: value for name, value in super().values.items() if value is not None}


class BagForm(MomentForm):
    vacuum = QuantityField("inhg", label="Vacuum, below ambient")
    drop_start = QuantityField("inhg", label="Drop test, pump off at")
    drop_end = QuantityField("inhg", label="Drop test, then", zero=True)
    drop_minutes = NumberField(label="After, minutes", min_value=0, max_digits=6, decimal_places=2)
    bagged_at = MomentField(label="Bagged at")
    gauge = ToolField("vacuum", label="Gauge")
    bag_stack = words_field("Bag stack", 300, "Peel ply, film, breather, bag.")


class DemoldForm(MomentForm):
    demolded_at = MomentField(label="Out of the mold at")
    thickness = QuantityField("mm", label="Thickness")
    weight = QuantityField("g", label="Weight")
    scale = ToolField("scale", label="Scale")
    defects = forms.CharField(
        label="Defects, both faces",
        required=False,
        max_length=20000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="None found is worth writing too.",
    )
    fate = forms.ChoiceField(
        label="What becomes of it", required=False, choices=list(words.FATE.items()), widget=forms.RadioSelect
    )


MOMENTS: dict[str, type[MomentForm]] = {"before": BeforeForm, "wet": WetForm, "bag": BagForm, "demold": DemoldForm}


class CorrectLayupForm(ProcessForm):
    """What a layup is, apart from its moments."""

    assembly = AssemblyField(label="Assembly", required=True)
    part = PartField(label="Part")
    title = words_field("What is laid up", 120)
    mold = PartField(label="On which mold or base part")
    revision = words_field("Revision of the drawing", 40)
    datum = words_field("What 0° is", 120)
    done_at = MomentField(label="Laid up at", required=True)
    done_by = PersonField(label="By", required=True)
    note = forms.CharField(label="Note", required=False, max_length=20000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["reason"] = reason_field(self.record)


# ---- the ply schedule ----

ROW_FIELDS = ("id", "position", "kind", "cloth", "lot", "faw", "orientation", "extent", "splice")
LENGTHS = {"cloth": 80, "orientation": 12, "extent": 120, "splice": 120}


class PlyRows:
    """The rows of the schedule as they were typed, with what is wrong in each. Each name repeats once per row."""

    def __init__(self, project: Project, rows: Sequence[schedule.Row]) -> None:
        self.project = project
        self.rows = list(rows)
        self.errors: list[dict[str, str]] = [{} for _ in rows]
        self.lots: dict[str, Lot] = {lot.pk: lot for lot in parts.lots(project)}

    @classmethod
    def sent(cls, project: Project, data: Any) -> "PlyRows":
        """The rows of a posted form."""
        columns = {name: data.getlist(name) for name in ROW_FIELDS}
        count = min(len(columns["kind"]), schedule.MOST + 1)
        values = [
            {name: (column[place].strip() if place < len(column) else "") for name, column in columns.items()}
            for place in range(count)
        ]
        return cls(project, values)

    @classmethod
    def kept(cls, project: Project, plies: Iterable[Ply]) -> "PlyRows":
        """The rows of a schedule as it stands."""
        rows = [
            {name: str(getattr(ply, name) or "") for name in ROW_FIELDS if name != "lot"} | {"lot": ply.lot_id or ""}
            for ply in plies
        ]
        found = cls(project, rows)
        found.lots |= {ply.lot.pk: ply.lot for ply in plies if ply.lot is not None}
        return found

    @property
    def shown(self) -> list[dict[str, Any]]:
        """Each row with its errors and its choices, for the page."""
        return [{"row": row, "errors": wrong} for row, wrong in zip(self.rows, self.errors, strict=True)]

    @property
    def good(self) -> bool:
        return not any(self.errors)

    def values(self) -> list[dict[str, Any]]:
        """The plies as a command takes them, in their order, without empty rows; what is wrong is noted beside each."""
        self.rows = [row for row in schedule.in_order(self.rows) if not schedule.is_empty(row)]
        self.errors = [{} for _ in self.rows]
        return [self.value(row, wrong) for row, wrong in zip(self.rows, self.errors, strict=True)]

    def value(self, row: Mapping[str, str], wrong: dict[str, str]) -> dict[str, Any]:
        kind = row["kind"] if row["kind"] in schedule.KINDS else schedule.CLOTH
        found: dict[str, Any] = {"id": row.get("id", ""), "kind": kind, "faw": "", "faw_gsm": None}
        for name, most in LENGTHS.items():
            found[name] = row.get(name, "")
            if len(found[name]) > most:
                wrong[name] = f"At most {most} signs."
        if not found["cloth"]:
            wrong["cloth"] = "Say which cloth, core or peel ply."
        found["lot"] = self.lots.get(row.get("lot", ""))
        try:
            schedule.angles(found["orientation"])
        except Refusal as no:
            wrong["orientation"] = no.message
        if row.get("faw"):
            unit = quantities.meant("gsm", self.project.units)
            try:
                found["faw"], exact = quantities.read(row["faw"], "gsm", unit)
            except Impossible as no:
                wrong["faw"] = no.sentence
            else:
                found["faw_gsm"] = quantities.kept(exact)
                if exact <= 0:
                    wrong["faw"] = "It must be more than zero."
        elif found["lot"] is not None and found["lot"].faw:
            # What the label of the lot says need not be typed again.
            found["faw"], found["faw_gsm"] = found["lot"].faw, found["lot"].faw_gsm
        return found


def copied(layup: Layup, mirror: bool = False) -> list[schedule.Row]:
    """The rows of another layup's schedule, as new ones; for the other side their orientation is mirrored."""
    rows = PlyRows.kept(layup.project, layup.plies.all()).rows
    return [
        row | {"id": "", "orientation": schedule.mirrored(row["orientation"]) if mirror else row["orientation"]}
        for row in rows
    ]
