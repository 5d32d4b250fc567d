"""Turning what was typed about areas and their gates into values."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from django import forms
from django.forms.utils import ErrorDict

from accounts.models import Project
from accounts.rules import BUILDER, INSPECTOR
from foundation.choosing import offer
from foundation.figures import AnyDecimalField
from foundation.refusal import Refusal
from inspections import rules
from inspections.models import Area
from journal.rules import ACCEPTED, NOT_ACCEPTED, OUTCOMES
from parts import queries as parts

ROLES = [(INSPECTOR, "An inspector"), (BUILDER, "The builder")]


class AreaForm(forms.Form):
    """An enclosed area."""

    assembly = forms.ChoiceField(label="Assembly")
    number = forms.CharField(label="Number", max_length=24, help_text="Your own numbering, such as 24.1-C1.")
    name = forms.CharField(
        label="Name", max_length=120, help_text="What will be closed, such as: interior before deck bond."
    )
    kind = forms.ChoiceField(label="How it is closed", choices=list(rules.AREA_KINDS.items()), widget=forms.RadioSelect)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = {node.assembly.pk: node.assembly for node in parts.tree(project)}
        nodes = parts.in_order(self.rows.values())
        lines = ((node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in nodes)
        offer(self, "assembly", [("", "Choose the assembly"), *lines])

    def clean_assembly(self) -> Any:
        return self.rows[self.cleaned_data["assembly"]]


def limit(label: str, **more: Any) -> AnyDecimalField:
    """A measured figure, as a builder types it."""
    wrong = {
        "invalid": "Write a number such as 2.5, without the unit.",
        "max_digits": "Write a shorter number.",
        "max_decimal_places": "Write at most four decimals.",
        "max_whole_digits": "Write a smaller number.",
    }
    return AnyDecimalField(label=label, max_digits=12, decimal_places=4, error_messages=wrong, **more)


class ItemForm(forms.Form):
    """One thing that a gate asks for. Each kind uses some of the fields; the others are left out."""

    kind = forms.ChoiceField(label="Kind")
    words = forms.CharField(label="What is asked", max_length=120)
    detail = forms.CharField(label="What it must show", max_length=300, required=False)
    count = forms.IntegerField(label="How many photos", min_value=1, max_value=50, required=False)
    low = limit("Least", required=False)
    high = limit("Most", required=False)
    unit = forms.CharField(label="Unit", max_length=12, required=False)
    process = forms.ChoiceField(label="Which record", required=False)
    inner = forms.ChoiceField(label="Which area", required=False)
    role = forms.ChoiceField(label="Who signs", choices=ROLES, required=False)

    # Whether a measured value needs its limits now: a list may leave them to the plan.
    needs_limits = True

    def __init__(self, *args: Any, areas: Sequence[Area] = (), known: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.areas = {area.pk: area for area in areas}
        absent = {rules.PROCESS: not known, rules.INNER: not areas}
        offer(self, "kind", [(kind, words) for kind, words in rules.KINDS.items() if not absent.get(kind)])
        offer(self, "process", [("", "Choose the kind of record"), *known.items()])
        offer(self, "inner", [("", "Choose the area"), *((key, str(area)) for key, area in self.areas.items())])
        self.fields["words"].required = False

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        kind = values.get("kind")
        values["count"] = (values.get("count") or 1) if kind == rules.PHOTO else 1
        values["role"] = (values.get("role") or INSPECTOR) if kind == rules.SIGN_OFF else ""
        values["process"] = values.get("process", "") if kind == rules.PROCESS else ""
        values["inner"] = self.areas.get(values.get("inner", "")) if kind == rules.INNER else None
        if kind != rules.MEASURE:
            values |= {"low": None, "high": None, "unit": ""}
        if values["inner"] and not values.get("words"):
            values["words"] = f"{values['inner']}"[:120]
        if not self.says_nothing:
            self.check(kind, values)
        return values

    @property
    def says_nothing(self) -> bool:
        """Whether the line may be passed over."""
        return False

    def check(self, kind: str | None, values: dict[str, Any]) -> None:
        """Tell what an item of this kind still needs, at its field."""
        if kind == rules.INNER and not values["inner"]:
            self.add_error("inner", "Choose the area that has to be closed first.")
        elif not values.get("words") and "words" not in self.errors:
            self.add_error("words", "Say what is asked.")
        if kind == rules.PROCESS and not values["process"]:
            self.add_error("process", "Choose the kind of record.")
        if kind != rules.MEASURE or {"low", "high"} & set(self.errors):
            return
        if self.needs_limits or values.get("low") is not None or values.get("high") is not None:
            try:
                rules.check_limits(rules.MEASURE, values.get("low"), values.get("high"))
            except Refusal as no:
                self.add_error(no.field, no.message)

    @property
    def picked(self) -> str:
        """The kind that stands in the form now."""
        return str(self["kind"].value() or rules.PHOTO)

    @property
    def summary(self) -> str:
        """The line in one sentence, for when its fields are put away."""
        return str(self["words"].value() or "")

    @property
    def kind_words(self) -> str:
        return rules.KINDS.get(self.picked, "")

    @property
    def incomplete(self) -> bool:
        """Whether the plan's limits have still to be filled in."""
        return bool(self.summary) and self.picked == rules.MEASURE and not (self["low"].value() or self["high"].value())


class FirstItemForm(ItemForm):
    """A line of the list that a new area starts with; left empty or left out it asks for nothing."""

    drop = forms.BooleanField(label="Leave this out", required=False)

    @property
    def says_nothing(self) -> bool:
        values = self.cleaned_data
        return bool(
            values.get("drop") or (not (values.get("words") or values.get("inner")) and "words" not in self.errors)
        )

    def full_clean(self) -> None:
        """What is left out has no errors."""
        super().full_clean()
        if self.is_bound and getattr(self, "cleaned_data", {}).get("drop"):
            self._errors = ErrorDict()


class ListItemForm(FirstItemForm):
    """A line of a closure list: limits may be left to the plan of each aircraft."""

    needs_limits = False


SPARE = 4
FirstItems = forms.formset_factory(FirstItemForm, extra=SPARE, max_num=40)
ListItems = forms.formset_factory(ListItemForm, extra=SPARE, max_num=40)

USUAL: list[dict[str, Any]] = [
    {"kind": rules.PHOTO, "words": "Inside, overall", "detail": "The whole space in one view, in focus, with a scale."},
    {"kind": rules.CHECK, "words": "Peel ply off every surface that will be bonded"},
    {"kind": rules.COUNT, "words": "Tools, tape, foam and rags counted and out"},
    {"kind": rules.SIGN_OFF, "words": "Inspector sign-off", "role": INSPECTOR},
]


def first_items(form: Any) -> list[dict[str, Any]]:
    """The lines of a list that say something, in order."""
    rows = (row.cleaned_data for row in form)
    said = [row for row in rows if row.get("words") and not row.get("drop")]
    return [{name: value for name, value in row.items() if name != "drop"} for row in said]


def file_time(text: str) -> datetime | None:
    """A file's own time as the browser tells it, in milliseconds since 1970 UTC; None for what is no such time."""
    try:
        return datetime.fromtimestamp(int(text) / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return None


class AnswerForm(forms.Form):
    """The answer to a check, or to anything: it does not apply."""

    answer = forms.ChoiceField(
        choices=list(rules.ANSWERS.items()),
        error_messages=dict.fromkeys(("required", "invalid_choice"), "Choose yes, no, or does not apply."),
    )
    reason = forms.CharField(
        required=False, max_length=300, error_messages={"max_length": "Say it in at most 300 characters."}
    )


class NoteForm(forms.Form):
    """What is measured or counted may have a note."""

    reason = forms.CharField(
        label="Note",
        required=False,
        max_length=300,
        error_messages={"max_length": "Write the note in at most 300 characters."},
    )


class MeasureForm(NoteForm):
    """A measured value, in the unit in which the item asks for it."""

    value = limit("Measured value")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["value"].error_messages["required"] = "Type the value that you read."


class CountForm(NoteForm):
    """How many tools and consumables went in, and how many came out."""

    number_in = forms.IntegerField(label="Went in", min_value=0, max_value=100_000)
    number_out = forms.IntegerField(label="Came out", min_value=0, max_value=100_000)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, words in (("number_in", "went in"), ("number_out", "came out")):
            self.fields[name].error_messages |= {
                "required": f"Type how many {words}.",
                "invalid": "Write a whole number.",
                "min_value": "Write a number of zero or more.",
                "max_value": "Write a smaller number.",
            }


class ReasonForm(forms.Form):
    """A reason that stays with the record."""

    reason = forms.CharField(label="Why", max_length=1000, widget=forms.Textarea(attrs={"rows": 3}))


class CloseForm(forms.Form):
    """Closing an area; the reason is asked for only where something is missing and may stay so."""

    reason = forms.CharField(
        label="Why it is closed all the same",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "To close it all the same, say why. The reason stays and prints."},
    )

    def __init__(self, *args: Any, asked: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = asked


class SignForm(forms.Form):
    """The deliberate act of signing; `seen` is the digest of what was listed before the signer's eyes."""

    seen = forms.CharField(widget=forms.HiddenInput)
    agreed = forms.BooleanField(
        label="I have read what this signature covers, and it is mine.",
        error_messages={"required": "Tick this when you have read it."},
    )
    password = forms.CharField(
        label="Your password, again",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your password."},
    )

    def __init__(self, *args: Any, present: str, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"seen": present})
        super().__init__(*args, **kwargs)
        self.present = present

    def clean(self) -> dict[str, Any]:
        """Say that the list was changed meanwhile whatever else is wrong: the next page shows it as it is now."""
        values = super().clean() or {}
        if values.get("seen") != self.present:
            self.add_error(None, rules.CHANGED_MEANWHILE)
        return values

    def untick(self) -> None:
        """Take the tick away before the page is shown again: nobody's consent is ticked for him beforehand."""
        if self.is_bound:
            self.data = {name: value for name, value in self.data.items() if name != "agreed"}


class SignAreaForm(SignForm):
    """Signing for an area, either way."""

    outcome = forms.ChoiceField(
        label="Accepted or not",
        choices=list(OUTCOMES.items()),
        error_messages={"required": "Choose whether you accept it."},
    )
    reason = forms.CharField(
        label="If you do not accept it: what, and what has to be done first",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    @property
    def accepted(self) -> bool:
        return self.cleaned_data["outcome"] == ACCEPTED

    def clean(self) -> dict[str, Any]:
        """A reason for not accepting is never dropped by the other button, nor by the Enter key."""
        values = super().clean()
        outcome, reason = values.get("outcome"), values.get("reason", "")
        try:
            rules.check_not_accepted(outcome != NOT_ACCEPTED, reason)
        except Refusal as no:
            self.add_error(no.field, no.message)
        if outcome == ACCEPTED and reason.strip():
            self.add_error("reason", "You wrote what you do not accept. Empty this, or choose Not accepted.")
        return values


class ReasonedAreaForm(AreaForm):
    """An area that is corrected."""

    reason = forms.CharField(label="Why it is corrected", max_length=300, required=False)
