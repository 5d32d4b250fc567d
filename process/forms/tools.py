"""What people type about tools."""

from typing import Any

from django import forms

from foundation.refusal import Refusal
from process.forms.common import NumberField
from process.models import Tool, ToolEvent
from process.rules import words


class PlainForm(forms.Form):
    """A form that can show a refusal where it belongs."""

    def refuse(self, no: Refusal) -> None:
        self.add_error(no.field if no.field in self.fields else None, no.message)


def reason_field(why: str, *, required: bool) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 2})
    return forms.CharField(label="Reason", max_length=400, required=required, widget=widget, help_text=why)


class ToolForm(PlainForm):
    number = forms.CharField(label="Number", max_length=24, help_text="Your own numbering, such as T-4.")
    name = forms.CharField(label="Name", max_length=120, help_text="Maker and model, or what it is.")
    kind = forms.ChoiceField(label="Kind", choices=[("", "Choose"), *words.TOOL_KINDS.items()])
    full_scale = forms.CharField(
        label="Full scale", max_length=40, required=False, help_text="With its unit: 150 in-lb, 2000 g or 30 inHg."
    )
    resolution = forms.CharField(
        label="Smallest step it shows", max_length=40, required=False, help_text="With its unit, such as 1 g or 0.5 °C."
    )
    error_percent = NumberField(
        label="Error, percent of reading", min_value=0, max_value=100, max_digits=6, decimal_places=3
    )
    interval_months = forms.IntegerField(
        label="Months between calibrations",
        required=False,
        min_value=1,
        max_value=1200,
        help_text="By its maker or laboratory; yearly is usual for a torque wrench. Empty where it is not calibrated.",
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class CorrectToolForm(ToolForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.", required=False)


class EventForm(PlainForm):
    kind = forms.ChoiceField(label="What happened", choices=list(words.TOOL_EVENTS.items()), widget=forms.RadioSelect)
    happened_on = forms.DateField(label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    words = forms.CharField(
        label="In words",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="How it was checked and what it read, or what happened to it.",
    )
    certificate = forms.CharField(label="Certificate number", max_length=80, required=False)


class CorrectEventForm(EventForm):
    reason = reason_field("Why it is changed. The old words stay in the history.", required=True)


class WithdrawForm(PlainForm):
    reason = reason_field("The reason stays with it.", required=True)


def values_of_tool(tool: Tool) -> dict[str, Any]:
    values = {name: getattr(tool, name) for name in ToolForm.base_fields}
    if tool.error_percent is not None:
        values["error_percent"] = format(tool.error_percent.normalize(), "f")
    return values


def values_of_event(event: ToolEvent) -> dict[str, Any]:
    return {name: getattr(event, name) for name in EventForm.base_fields}
