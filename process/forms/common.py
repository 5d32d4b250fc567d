"""What forms about process records have in common: quantities, moments, lots and tools to choose from, refusals."""

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from accounts.models import Person, Project
from accounts.queries import people
from foundation.fields import new_key
from foundation.plain_form import PlainForm
from parts import queries as parts
from parts.models import Assembly, Lot, Part
from process.forms.quantity import Entered, QuantityField
from process.models import ProcessRecord, Tool
from process.rules import quantities

# What is said of a lot where it is chosen.
AGAINST = {
    "hold": "on hold",
    "reject": "rejected",
    "used_up": "used up",
    "past": "past its date",
    "soon": "expires soon",
}
NO_REASON = "Why it is changed. The old values stay readable in the history."


def when(value: datetime) -> str:
    """A moment as a field for date and time has it, on the clock of the project."""
    return timezone.localtime(value).strftime("%Y-%m-%dT%H:%M:%S")


class MomentField(forms.DateTimeField):
    """Date and time on the clock of the project; empty unless it is asked for."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S")
        more.setdefault("widget", widget)
        super().__init__(**more)


class NumberField(forms.DecimalField):
    """A bare number written with a point or a comma."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 10}))
        super().__init__(**more)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        return super().to_python(value)


class RowField(forms.ChoiceField):
    """One row of the project, offered by the form and given as the row itself; None where nothing was chosen."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        super().__init__(**more)
        self.rows: dict[str, Any] = {}

    def offer(self, rows: Iterable[Any], nothing: str) -> None:
        """Offer these rows, and nothing in these words."""
        self.rows = {row.pk: row for row in rows}
        self.choices = [("", nothing), *((key, self.words(row)) for key, row in self.rows.items())]

    def words(self, row: Any) -> str:
        """What a row is called in the list."""
        return str(row)

    def clean(self, value: Any) -> Any:
        return self.rows.get(super().clean(value))


class LotField(RowField):
    """A lot of the project; `materials` come first in the list. What speaks against a lot stands beside its name."""

    def __init__(self, *materials: str, **more: Any) -> None:
        super().__init__(**more)
        self.materials = materials

    def words(self, row: Any) -> str:
        """The lot, and whether it is past its date, soon will be, or is not to be used."""
        against = AGAINST.get(row.status) or AGAINST.get(row.standing_today, "")
        return f"{row} ({against})" if against else str(row)


class ToolField(RowField):
    """A tool of the project; of these kinds, all where none is named."""

    def __init__(self, *kinds: str, **more: Any) -> None:
        super().__init__(**more)
        self.kinds = kinds


class PartField(RowField):
    """A part of the project; of these kinds, all where none is named."""

    def __init__(self, *kinds: str, **more: Any) -> None:
        super().__init__(**more)
        self.kinds = kinds


class AssemblyField(RowField):
    """An assembly of the project, in the order of the tree."""


class PersonField(RowField):
    """A person of the project who works."""


class ProcessForm(PlainForm):
    """A form in one project. `values` are what was typed as a command takes it, quantities as two values each."""

    def __init__(self, *args: Any, project: Project, record: ProcessRecord | None = None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.project = project
        self.record = record
        for name, field in self.fields.items():
            now = getattr(record, name, None) if record is not None else None
            self.prepare(field, now)

    def prepare(self, field: forms.Field, now: Any) -> None:
        """Offer the rows of the project in a field, among them the one chosen before though it was withdrawn since."""
        before = [now] if isinstance(now, Assembly | Part | Lot | Tool | Person) else []
        if isinstance(field, QuantityField):
            field.mean(quantities.meant(field.suffix, self.project.units))
        elif isinstance(field, LotField):
            lots = sorted(parts.lots(self.project), key=lambda lot: lot.material not in field.materials)
            field.offer([*before, *lots], "Not said")
        elif isinstance(field, ToolField):
            tools = Tool.objects.standing().filter(project=self.project)
            field.offer([*before, *(tools.filter(kind__in=field.kinds) if field.kinds else tools)], "Not said")
        elif isinstance(field, PartField):
            rows = parts.parts_of(self.project)
            field.offer([*before, *(rows.filter(kind__in=field.kinds) if field.kinds else rows)], "None")
        elif isinstance(field, AssemblyField):
            nodes = [node.assembly for node in parts.tree(self.project)]
            field.offer([*before, *nodes], "Choose the assembly")
        elif isinstance(field, PersonField):
            field.offer([*before, *people(self.project).workers()], "Choose who")

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        found: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            field = self.fields.get(name)
            if isinstance(field, QuantityField) and isinstance(value, Entered):
                found |= {name: value.text, f"{name}_{field.suffix}": value.figure}
            else:
                found[name] = value
        return found


class NewForm(ProcessForm):
    """A form that begins a record: it carries the request's id, so that sending twice makes one record."""

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36, initial=new_key)
    assembly = AssemblyField(label="Assembly", required=True, error_messages={"required": "Choose the assembly."})
    part = PartField(label="Part")


class ReasonForm(PlainForm):
    """Why something is withdrawn or opened again."""

    reason = forms.CharField(
        label="Reason", max_length=400, widget=forms.Textarea(attrs={"rows": 2}), help_text="The reason stays with it."
    )


def reason_field(record: ProcessRecord | None = None) -> forms.CharField:
    """Why a record is corrected; asked for where the record is finished."""
    return forms.CharField(
        label="Reason",
        max_length=400,
        required=record is not None and record.finished_at is not None,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=NO_REASON,
    )


def values_of(record: Any, names: Iterable[str]) -> dict[str, Any]:
    """What a record has now, for the fields of a form: rows by key, moments by the project's clock, plain decimals."""
    found: dict[str, Any] = {}
    for name in names:
        if not hasattr(record, name):
            continue
        value = getattr(record, f"{name}_id", None) if hasattr(record, f"{name}_id") else getattr(record, name)
        if isinstance(value, Decimal):
            value = format(value.normalize(), "f")
        found[name] = value
    return found


__all__ = [
    "AssemblyField",
    "LotField",
    "MomentField",
    "NewForm",
    "NumberField",
    "PartField",
    "PersonField",
    "ProcessForm",
    "QuantityField",
    "ReasonForm",
    "RowField",
    "ToolField",
    "reason_field",
    "values_of",
    "when",
]
