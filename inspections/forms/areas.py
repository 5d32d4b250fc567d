"""Turning what was typed about areas and their gates into values."""

from datetime import UTC, datetime
from typing import Any

from django import forms

from accounts.models import Project
from accounts.rules import BUILDER, INSPECTOR
from foundation.choosing import offer
from inspections import rules
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


class ItemForm(forms.Form):
    """One thing that a gate asks for."""

    kind = forms.ChoiceField(label="Kind", choices=list(rules.KINDS.items()))
    words = forms.CharField(label="What is asked", max_length=120)
    detail = forms.CharField(label="What it must show", max_length=300, required=False)
    count = forms.IntegerField(label="How many photos", min_value=1, max_value=50, required=False)
    role = forms.ChoiceField(label="Who signs", choices=ROLES, required=False)

    def clean(self) -> dict[str, Any]:
        super().clean()
        values = self.cleaned_data
        kind = values.get("kind")
        values["count"] = (values.get("count") or 1) if kind == rules.PHOTO else 1
        values["role"] = (values.get("role") or INSPECTOR) if kind == rules.SIGN_OFF else ""
        return values


class FirstItemForm(ItemForm):
    """A line of the list that a new area starts with; left empty it asks for nothing."""

    words = forms.CharField(label="What is asked", max_length=120, required=False)


FirstItems = forms.formset_factory(FirstItemForm, extra=4, max_num=20)

USUAL = [
    {"kind": rules.PHOTO, "words": "Inside, overall", "detail": "The whole space in one view, in focus, with a scale."},
    {"kind": rules.CHECK, "words": "Peel ply off every surface that will be bonded"},
    {"kind": rules.CHECK, "words": "Tools, tape, foam and rags counted and out"},
    {"kind": rules.SIGN_OFF, "words": "Inspector sign-off", "role": INSPECTOR},
]


def first_items(form: Any) -> list[dict[str, Any]]:
    """The lines of a new area's list that say something, in order."""
    return [row.cleaned_data for row in form if row.cleaned_data.get("words")]


def file_time(text: str) -> datetime | None:
    """A file's own time as the browser tells it, in milliseconds since 1970 UTC; None for what is no such time."""
    try:
        return datetime.fromtimestamp(int(text) / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return None


class AnswerForm(forms.Form):
    """The answer to a check."""

    answer = forms.ChoiceField(choices=list(rules.ANSWERS.items()))
    reason = forms.CharField(required=False, max_length=300)


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


class ReasonedAreaForm(AreaForm):
    """An area that is corrected."""

    reason = forms.CharField(label="Why it is corrected", max_length=300, required=False)
