"""Turning what is typed about visits into values: by the builder who makes a link, and by the visitor who signs."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.http import QueryDict

from accounts.models import Person, Project
from calc import strokes
from foundation.choosing import offer
from foundation.refusal import Refusal
from inspections.models import Area, Point
from inspections.queries import visits as queries
from inspections.queries.visits import Thing
from inspections.rules import discrepancies, visits

SOMEBODY_NEW = "new"
EXTENT_HELP = "Such as: interior before closing, by eye and with a mirror; bond line tapped."
MOST_REMARK_PHOTOS = 3


class VisitForm(forms.Form):
    """A visit to be made: who comes, to look at what, until when."""

    person = forms.ChoiceField(label="Who comes", widget=forms.RadioSelect)
    name = forms.CharField(label="Name", max_length=120, required=False)
    certificate_kind = forms.CharField(
        label="Kind of certificate", max_length=80, required=False, help_text="Left empty, he fills it in himself."
    )
    certificate_number = forms.CharField(label="Number of certificate", max_length=60, required=False)
    purpose = forms.CharField(label="What he is asked to do", max_length=200)
    areas = forms.MultipleChoiceField(label="Areas", required=False, widget=forms.CheckboxSelectMultiple)
    points = forms.MultipleChoiceField(label="Points", required=False, widget=forms.CheckboxSelectMultiple)
    days = forms.IntegerField(
        label="Days the link is open",
        min_value=1,
        max_value=visits.MOST_DAYS,
        initial=visits.USUAL_DAYS,
        help_text=f"1 to {visits.MOST_DAYS}. It ends by itself when everything is signed.",
    )
    note = forms.CharField(
        label="Words to him", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, project: Project, areas: list[Area], points: list[Point], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.people: dict[str, Person] = {one.pk: one for one in queries.inspectors(project)}
        self.area_of: dict[str, Area] = {one.pk: one for one in areas}
        self.point_of: dict[str, Point] = {one.pk: one for one in points}
        words = ((one.pk, f"{one.name} {one.certificate}".strip()) for one in self.people.values())
        offer(self, "person", [*words, (SOMEBODY_NEW, "Somebody new")])
        offer(self, "areas", [(one.pk, str(one)) for one in areas])
        offer(self, "points", [(one.pk, str(one)) for one in points])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("person") == SOMEBODY_NEW and not values.get("name", "").strip():
            self.add_error("name", "Give the name of the one who comes.")
        if not values.get("areas") and not values.get("points"):
            self.add_error("areas" if self.area_of else None, "Choose at least one area or point to look at.")
        return values

    def wanted(self, at: datetime) -> dict[str, Any]:
        """What the command is asked for, at this moment."""
        values = self.cleaned_data
        who = ("name", "certificate_kind", "certificate_number")
        new = values["person"] == SOMEBODY_NEW
        return {
            "person": None if new else self.people[values["person"]],
            "newcomer": {name: values[name].strip() for name in who} if new else None,
            "purpose": values["purpose"],
            "note": values["note"],
            "areas": [self.area_of[key] for key in values["areas"]],
            "points": [self.point_of[key] for key in values["points"]],
            "expires_at": at + timedelta(days=values["days"]),
        }


class LookForm(forms.Form):
    """What a visitor says of one thing."""

    thing = forms.CharField(max_length=80)
    outcome = forms.ChoiceField(choices=list(visits.OUTCOMES.items()))
    words = forms.CharField(required=False, max_length=300)


class RemarkForm(forms.Form):
    """Something a visitor found; it becomes a discrepancy."""

    item = forms.ChoiceField(label="What it is about", required=False)
    words = forms.CharField(label="What you found", max_length=1000, widget=forms.Textarea(attrs={"rows": 4}))
    severity = forms.ChoiceField(
        label="How serious", choices=list(discrepancies.SEVERITIES.items()), widget=forms.RadioSelect
    )
    blocks = forms.BooleanField(label="Closing has to wait for it", required=False, initial=True)

    def __init__(self, *args: Any, about: Thing, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.names = {name: words for name, words in about.names().items() if name != about.subject}
        offer(self, "item", [("", f"The whole: {about.label}"), *self.names.items()])
        if not self.names:
            del self.fields["item"]

    @property
    def label(self) -> str:
        """The item it is about, in words; empty for the whole."""
        return self.names.get(self.cleaned_data.get("item", ""), "").partition(", ")[2]


class SignerForm(forms.Form):
    """Who signs and as what, and what kind of inspection it was (14 CFR 43.9(a), 43.11(a))."""

    name = forms.CharField(label="Your name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    capacity = forms.CharField(
        label="Signing as",
        max_length=120,
        help_text="Such as inspector, technical counselor, mechanic, delegate.",
        widget=forms.TextInput(attrs={"list": "capacities", "autocomplete": "off"}),
    )
    certificate_kind = forms.CharField(label="Kind of certificate", max_length=80, required=False)
    certificate_number = forms.CharField(
        label="Number of certificate", max_length=60, required=False, widget=forms.TextInput(attrs={"class": "code"})
    )
    extent = forms.CharField(label="Type and extent of the inspection", max_length=300, help_text=EXTENT_HELP)
    time_in_service = forms.CharField(
        label="Total time in service",
        max_length=80,
        required=False,
        help_text="Leave it empty for an aircraft that is still being built.",
    )

    @property
    def signer(self) -> dict[str, Any]:
        """The fields of the signature that these words make."""
        values = self.cleaned_data
        words = {name: values[name].strip() for name in ("name", "capacity", "extent", "time_in_service")}
        return words | {"certificate": (values["certificate_kind"].strip(), values["certificate_number"].strip())}


class VisitorSignForm(SignerForm):
    """The deliberate act of a visitor who signs: accepted, or not accepted and why."""

    agreed = forms.BooleanField(required=False)
    strokes = forms.CharField(required=False, widget=forms.HiddenInput)
    typed = forms.CharField(
        label="Your name as your signature",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    reason = forms.CharField(
        label="What is not accepted, and why",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    outcome = forms.ChoiceField(choices=[("accepted", "Accepted"), ("not_accepted", "Not accepted")])

    field_order = ["name", "capacity", "certificate_kind", "certificate_number", "extent", "time_in_service"]

    def __init__(self, *args: Any, offered: list[Thing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = {f"{one.kind}:{one.key}": one for one in offered}

    @property
    def picked(self) -> list[str]:
        """Which of the offered things are ticked; a single one needs no tick."""
        if len(self.offered) == 1:
            return list(self.offered)
        wanted = self.data.getlist("things") if isinstance(self.data, QueryDict) else []
        return [name for name in self.offered if name in wanted]

    @property
    def chosen(self) -> list[tuple[Thing, str]]:
        """What is signed, each with the digest of what was before the signer's eyes."""
        return [(self.offered[name], self.data.get(f"seen-{name}", "")) for name in self.picked]

    @property
    def accepted(self) -> bool:
        return self.cleaned_data.get("outcome") == "accepted"

    def clean_strokes(self) -> list[list[int]]:
        try:
            return strokes.parse(self.cleaned_data["strokes"])
        except strokes.BadStrokes:
            raise forms.ValidationError("The drawn signature did not arrive whole. Draw it again.") from None

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        typed, drawn = values.get("typed", "").strip(), values.get("strokes") or []
        if not self.picked:
            self.add_error(None, "Choose what you sign.")
        if self.accepted and not values.get("agreed"):
            self.add_error("agreed", "Tick the statement when it is what you say.")
        if not self.accepted and not values.get("reason", "").strip():
            self.add_error("reason", "Say what is not accepted and why. It stays with the record.")
        if typed and typed.casefold() != values.get("name", "").strip().casefold():
            self.add_error("typed", "Type it as it stands under Your name.")
        elif not typed and not strokes.enough(drawn) and "strokes" not in self.errors:
            self.add_error("strokes", "Sign with a finger, or type your name instead.")
        return values


class InkForm(SignerForm):
    """A page that was signed in ink, photographed; what stands on it, typed off."""

    person = forms.ChoiceField(label="Who signed it", widget=forms.RadioSelect)
    page = forms.FileField(
        label="Photo of the signed page",
        widget=forms.ClearableFileInput(attrs={"accept": "image/*,.heic,.heif", "capture": "environment"}),
    )
    number = forms.CharField(
        label="Record number on the page",
        max_length=20,
        help_text="Three groups of four, as printed at its head.",
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off"}),
    )
    signed_on = forms.DateField(
        label="Date on the page", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    outcome = forms.ChoiceField(
        label="What is crossed on the page",
        choices=[("accepted", "Accepted"), ("not_accepted", "Not accepted")],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="What is not accepted, and why", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    field_order = ["page", "number", "outcome", "reason", "person", "name"]

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(self.field_order)
        self.fields["name"].label = "Name on the page"
        self.fields["capacity"].label = "Signed as"
        self.people: dict[str, Person] = {one.pk: one for one in queries.inspectors(project)}
        offer(self, "person", [(one.pk, one.name) for one in self.people.values()])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("outcome") == "not_accepted" and not values.get("reason", "").strip():
            self.add_error("reason", "Say what is not accepted and why, as it stands on the page.")
        return values


def refuse(form: forms.Form, no: Refusal) -> None:
    """Show a refusal where it belongs."""
    form.add_error(no.field if no.field in form.fields else None, no.message)
