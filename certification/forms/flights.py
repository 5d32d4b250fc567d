"""What is typed about the test phase."""

from typing import Any

from django import forms

from accounts.models import Project
from certification.forms.inspection_lists import INDENT, day_field
from certification.models import Flight, TestPoint
from certification.models.flying import OUTCOMES
from certification.queries import flights as queries
from certification.rules import flights as rules
from foundation.choosing import offer
from foundation.plain_form import PlainForm
from foundation.refusal import Refusal
from inspections.rules.discrepancies import SEVERITIES
from parts import queries as parts
from parts.models import Assembly


def words_field(label: str, rows: int = 3, **more: Any) -> forms.CharField:
    """Some sentences."""
    return forms.CharField(label=label, widget=forms.Textarea(attrs={"rows": rows}), **more)


def reason_field(*, required: bool = True) -> forms.CharField:
    return words_field(
        "Reason", 2, max_length=400, required=required, help_text="Why it is changed. The old words stay readable."
    )


class PhaseForm(PlainForm):
    """What the test phase asks."""

    hours_asked = forms.DecimalField(
        label="Hours asked",
        min_value=0,
        max_digits=6,
        decimal_places=1,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 8}),
    )
    source = forms.CharField(
        label="Where that stands",
        max_length=200,
        help_text="Such as: operating limitations of 3 May 2027, paragraph 5.",
    )
    area = forms.CharField(label="Test area", max_length=200, required=False)
    wording = words_field(
        "Words that your operating limitations ask at the end of the phase",
        5,
        required=False,
        max_length=4000,
        help_text="Copied letter by letter. They are offered when the statement is made.",
    )


class CorrectPhaseForm(PhaseForm):
    reason = reason_field()


class FlightForm(PlainForm):
    """A flight."""

    flown_on = day_field("Flown on")
    pilot = forms.CharField(label="Pilot", max_length=120)
    minutes = forms.CharField(label="Time", max_length=30, help_text="1:12, 72 min or 1.2 h.")
    landings = forms.IntegerField(label="Landings", min_value=0, max_value=200, initial=1)
    weight = forms.CharField(label="Weight at takeoff", max_length=40, required=False, help_text="With its unit.")
    arm = forms.CharField(
        label="Center of gravity", max_length=40, required=False, help_text="Aft of the datum, with its unit."
    )
    note = words_field("Note", required=False, max_length=4000)

    def clean_minutes(self) -> int:
        try:
            return rules.minutes_of(self.cleaned_data["minutes"])
        except Refusal as no:
            raise forms.ValidationError(no.message) from None


class CorrectFlightForm(FlightForm):
    reason = reason_field()


def values_of_flight(flight: Flight) -> dict[str, Any]:
    """A flight as the form holds it."""
    names = ("flown_on", "pilot", "landings", "weight", "arm", "note")
    return {name: getattr(flight, name) for name in names} | {"minutes": rules.clock(flight.minutes)}


class PointsForm(PlainForm):
    """Points to fly, one a line."""

    points = words_field(
        "Test points, one a line",
        5,
        max_length=20000,
        help_text="After a bar its limits: Stall, clean, 6,000 ft | no wing drop over 15°",
        error_messages={"required": "Write one point a line."},
    )


class PointForm(PlainForm):
    """A point that is worded anew."""

    words = forms.CharField(label="What is to be found", max_length=200)
    limits = forms.CharField(label="Limits", max_length=160, required=False)
    reason = reason_field()


class ToldForm(PlainForm):
    """What was found at a point."""

    outcome = forms.ChoiceField(
        label="Outcome", choices=list(OUTCOMES.items()), required=False, widget=forms.RadioSelect
    )
    found = forms.CharField(label="What was found", max_length=200, required=False)
    flight = forms.ChoiceField(label="In which flight", required=False)
    reason = reason_field(required=False)

    def __init__(self, *args: Any, project: Project, point: TestPoint, **more: Any) -> None:
        more["initial"] = {"outcome": point.outcome, "found": point.found, "flight": point.flight_id or ""}
        super().__init__(*args, **more)
        self.rows = {row.pk: row for row in queries.flights(project)}
        lines = [(row.pk, f"{row.label}, {row.flown_on:%-d %b %Y}") for row in reversed(self.rows.values())]
        offer(self, "flight", [("", "Choose the flight"), *lines])
        if not point.outcome:
            del self.fields["reason"]

    def clean_flight(self) -> Flight | None:
        return self.rows.get(self.cleaned_data["flight"])


class PointDiscrepancyForm(PlainForm):
    """Where a point that is not as it should be belongs."""

    assembly = forms.ChoiceField(label="Assembly", error_messages={"required": "Choose the assembly."})
    severity = forms.ChoiceField(label="Severity", choices=list(SEVERITIES.items()), initial="major")

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        nodes = parts.tree(project)
        self.rows = {node.assembly.pk: node.assembly for node in nodes}
        offer(self, "assembly", [(node.assembly.pk, INDENT * node.depth + str(node.assembly)) for node in nodes])

    def clean_assembly(self) -> Assembly:
        return self.rows[self.cleaned_data["assembly"]]
