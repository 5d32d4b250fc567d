"""What people type about tools."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from evidence.models import Document
from evidence.rules import DOCUMENTS, MB, check_document
from foundation.plain_form import PlainForm
from foundation.refusal import Refusal
from process.forms.common import NumberField
from process.models import Recheck, Tool, ToolEvent
from process.queries.tools import events_of, papers_to_choose
from process.rules import words
from process.rules.tools import day_words


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


class PaperField(forms.FileField):
    """A document to be kept, refused here already where it is empty or too large."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        super().__init__(allow_empty_file=True, **more)

    def clean(self, data: Any, initial: Any = None) -> Any:
        found = super().clean(data, initial)
        if isinstance(found, UploadedFile):
            try:
                check_document(found.size or 0, settings.DOCUMENT_MAX_BYTES)
            except Refusal as no:
                raise forms.ValidationError(no.message) from None
        return found


class NewEventForm(EventForm):
    """What happened to a tool, with the paper about it."""

    paper = PaperField(label="The certificate as a file", help_text="PDF, picture or text; it is kept as it came.")

    @property
    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in EventForm.base_fields}

    def said_of_paper(self, tool: Tool) -> dict[str, Any]:
        """What is said of the paper, from what is said of the event."""
        calibrated = self.cleaned_data["kind"] == words.CALIBRATED
        kind = "calibration" if calibrated else "report"
        what = f"{DOCUMENTS[kind]} {self.cleaned_data['certificate']}".strip()
        return {"kind": kind, "title": f"{what}, {tool}"[:160], "dated_on": self.cleaned_data["happened_on"]}


class PaperForm(PlainForm):
    """A document about a tool: a new file, or one that is kept already."""

    file = PaperField(label="File")
    kept = forms.ModelChoiceField(
        Document.objects.none(), label="Or one that is kept already", required=False, empty_label="None"
    )
    event = forms.ChoiceField(label="About what happened to it", required=False)
    kind = forms.ChoiceField(label="What it is", choices=list(DOCUMENTS.items()), initial="calibration")
    title = forms.CharField(
        label="Title", max_length=160, required=False, help_text="Empty: what it is, and the name of the tool."
    )
    dated_on = forms.DateField(
        label="Its date", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, tool: Tool, **more: Any) -> None:
        super().__init__(*args, **more)
        self.tool = tool
        self.most = settings.DOCUMENT_MAX_BYTES // MB
        kept, event = self.fields["kept"], self.fields["event"]
        assert isinstance(kept, forms.ModelChoiceField) and isinstance(event, forms.ChoiceField)
        kept.queryset = papers_to_choose(tool)
        self.happened = {row.pk: row for row in events_of(tool)[::-1]}
        event.choices = [("", "The tool itself"), *((key, event_words(row)) for key, row in self.happened.items())]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if not self.errors and bool(said.get("file")) == bool(said.get("kept")):
            raise forms.ValidationError("Choose a file, or one document that is kept already.")
        return said

    @property
    def event_chosen(self) -> ToolEvent | None:
        return self.happened.get(self.cleaned_data["event"])

    @property
    def said(self) -> dict[str, Any]:
        """What is said of a new file."""
        said = self.cleaned_data
        title = said["title"] or f"{DOCUMENTS[said['kind']]}, {self.tool}"
        return {"kind": said["kind"], "title": title[:160], "dated_on": said["dated_on"]}


def event_words(event: ToolEvent) -> str:
    """An event as it is chosen: what and when, with its certificate."""
    certificate = f", certificate {event.certificate}" if event.certificate else ""
    return f"{event.get_kind_display()}, {day_words(event.happened_on)}{certificate}"


class RecheckForm(PlainForm):
    outcome = forms.ChoiceField(
        label="What came of it", choices=list(words.RECHECKED.items()), widget=forms.RadioSelect
    )
    looked_on = forms.DateField(label="Looked at on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    words = forms.CharField(
        label="How, and what it read",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Such as: torque read again with T2, 46 in-lb. If it is accepted as it is, why.",
        error_messages={"required": "Say in a few words how it was looked at, or why it is accepted."},
    )


class CorrectRecheckForm(RecheckForm):
    reason = reason_field("Why it is changed. The old words stay in the history.", required=True)


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


def values_of_recheck(recheck: Recheck) -> dict[str, Any]:
    return {name: getattr(recheck, name) for name in RecheckForm.base_fields}
