"""Turning what was typed about hold and witness points into values."""

from typing import Any

from django import forms

from accounts.models import Project
from accounts.rules import INSPECTOR
from foundation.choosing import offer
from inspections.forms.areas import ROLES
from inspections.rules import points as rules
from parts import queries as parts


class PointForm(forms.Form):
    """A hold or witness point."""

    kind = forms.ChoiceField(
        label="What it does",
        choices=[
            (rules.HOLD, "Hold point: work behind it stops until it is released"),
            (rules.WITNESS, "Witness point: invites somebody to look, and lets pass"),
        ],
        widget=forms.RadioSelect,
        initial=rules.HOLD,
    )
    words = forms.CharField(
        label="What is to be seen", max_length=200, help_text="Such as: strut hardpoint bond before the skin goes on."
    )
    assembly = forms.ChoiceField(
        label="Assembly", error_messages={"required": "Choose the assembly or the part that it is about."}
    )
    part = forms.ChoiceField(label="Part", required=False, help_text="Only if it is about one part.")
    step = forms.CharField(
        label="At which step", max_length=120, required=False, help_text="Such as: before bagging the second skin."
    )
    detail = forms.CharField(
        label="What it must show", max_length=600, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    role = forms.ChoiceField(label="Who may release it", choices=ROLES, initial=INSPECTOR, widget=forms.RadioSelect)
    number = forms.CharField(label="Number", max_length=24, required=False)

    def __init__(self, *args: Any, project: Project, proposed: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = {node.assembly.pk: node.assembly for node in parts.tree(project)}
        nodes = parts.in_order(self.rows.values())
        lines = ((node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in nodes)
        offer(self, "assembly", [("", "Choose the assembly"), *lines])
        place = {node.assembly.pk: index for index, node in enumerate(nodes)}
        found = sorted(parts.parts_of(project), key=lambda one: (place.get(one.assembly_id, 0), one.number))
        self.parts = {one.pk: one for one in found}
        named = ((one.pk, f"{one.assembly.number}: {one.number} {one.name}") for one in found)
        offer(self, "part", [("", "No part, the assembly itself"), *named])
        # A part alone says which assembly it is.
        self.fields["assembly"].required = not self.data.get(self.add_prefix("part"))
        if proposed:
            self.fields["number"].help_text = f"Your own numbering. Left empty it becomes {proposed}."

    def clean_part(self) -> Any:
        return self.parts.get(self.cleaned_data["part"])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        part, key = values.get("part"), values.get("assembly")
        if key:
            values["assembly"] = self.rows[key]
        elif part:
            values["assembly"] = part.assembly
        return values


class CorrectedPointForm(PointForm):
    """A point that is corrected; what was signed is not changed without a reason."""

    reason = forms.CharField(label="Why it is corrected", max_length=300, required=False)


class InviteForm(forms.Form):
    """Who was asked to come and look."""

    whom = forms.CharField(label="Who is invited", max_length=120)
    planned_at = forms.DateTimeField(
        label="For when, as agreed",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        error_messages={"invalid": "Write a day and a time, such as 2026-05-16 10:00."},
    )
    words = forms.CharField(
        label="Note", max_length=300, required=False, help_text="How he was asked, what he wants to see."
    )


class GoOnForm(forms.Form):
    """Why work went on past a witness point."""

    words = forms.CharField(
        label="Why work went on without him",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Such as: invited twice, could not come; the bond could not wait.",
    )
