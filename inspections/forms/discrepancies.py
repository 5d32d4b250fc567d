"""Turning what was typed about discrepancies into values."""

from datetime import datetime
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone

from accounts.models import Person, Project
from accounts.queries import people
from foundation.choosing import offer
from inspections.forms.areas import SignForm
from inspections.models import Area, Discrepancy, Visit
from inspections.queries.discrepancies import OPEN, SHOWN, Wanted
from inspections.rules import discrepancies as rules
from parts import queries as parts
from parts.models import Assembly, Part

INDENT = "\u2003"
MOST_WORDS = 4000


def when(label: str, **more: Any) -> forms.DateTimeField:
    """A time to the minute, on the project's clock."""
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    return forms.DateTimeField(label=label, widget=widget, **more)


def this_minute(at: datetime) -> datetime:
    """A time as a field to the minute shows it."""
    return timezone.localtime(at).replace(second=0, microsecond=0)


class Who(forms.Form):
    """Who did it and when; both are filled in with who sits here now."""

    person = forms.ChoiceField(label="By")
    done_at = when("When")

    def __init__(self, *args: Any, project: Project, by: Person, at: datetime, **kwargs: Any) -> None:
        kwargs["initial"] = {"person": by.pk, "done_at": this_minute(at)} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.people = {one.pk: one for one in people(project)}
        offer(self, "person", [(one.pk, one.name) for one in self.people.values()])
        self.order_fields(["disposition", "words", "person", "done_at"])

    def clean_person(self) -> Person:
        return self.people[self.cleaned_data["person"]]


class DecideForm(Who):
    """What is to become of it."""

    disposition = forms.ChoiceField(
        label="Disposition",
        choices=list(rules.DISPOSITIONS.items()),
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what is to become of it."},
    )
    words = forms.CharField(
        label="How, why, or until when",
        max_length=MOST_WORDS,
        required=False,
        help_text="What is to be done; for Use as is what allows it; for Defer until when or what.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class FixForm(Who):
    """What was done about it."""

    words = forms.CharField(
        label="What was done",
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Say what was done."},
    )


class FindForm(forms.Form):
    """What was found, where, by whom."""

    words = forms.CharField(
        label="What was found",
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Say what was found."},
    )
    severity = forms.ChoiceField(label="Severity", choices=list(rules.SEVERITIES.items()), widget=forms.RadioSelect)
    blocks = forms.BooleanField(
        label="Blocks closing", required=False, help_text="While it stands open, nothing above it is closed."
    )
    assembly = forms.ChoiceField(
        label="Assembly", required=False, help_text="Left open, it follows from the area or the part."
    )
    area = forms.ChoiceField(label="Enclosed area", required=False)
    part = forms.ChoiceField(label="Part", required=False)
    found_by = forms.ChoiceField(label="Found by")
    found_at = when("Found")

    def __init__(
        self, *args: Any, project: Project, by: Person, at: datetime, one: Discrepancy | None = None, **kwargs: Any
    ) -> None:
        usual: dict[str, Any] = {"severity": "minor", "blocks": True, "found_by": by.pk, "found_at": this_minute(at)}
        kwargs["initial"] = usual | (as_typed(one) if one else {}) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.one = one
        nodes = parts.tree(project)
        self.assemblies = {node.assembly.pk: node.assembly for node in nodes}
        self.areas = {area.pk: area for area in Area.objects.standing().filter(project=project)}
        self.parts = {part.pk: part for part in parts.parts_of(project)}
        self.people = {person.pk: person for person in people(project)}
        if one:
            # What it stands on stays to be chosen though it was withdrawn since.
            self.assemblies.setdefault(one.assembly_id, one.assembly)
            self.areas |= {one.area.pk: one.area} if one.area else {}
            self.parts |= {one.part.pk: one.part} if one.part else {}
            self.people.setdefault(one.found_by_id, one.found_by)
        lines = {node.assembly.pk: INDENT * node.depth + str(node.assembly) for node in nodes}
        lines = {key: lines.get(key, str(assembly)) for key, assembly in self.assemblies.items()}
        offer(self, "assembly", [("", "Choose the assembly"), *lines.items()])
        offer(self, "area", [("", "No area"), *((key, str(area)) for key, area in self.areas.items())])
        offer(self, "part", [("", "No part"), *((key, str(part)) for key, part in self.parts.items())])
        offer(self, "found_by", [(key, person.name) for key, person in self.people.items()])

    def clean_area(self) -> Area | None:
        return self.areas.get(self.cleaned_data["area"])

    def clean_part(self) -> Part | None:
        return self.parts.get(self.cleaned_data["part"])

    def clean_found_by(self) -> Person:
        return self.people[self.cleaned_data["found_by"]]

    def clean_found_at(self) -> datetime:
        """The time as typed; where the minute is left as it was, to the second as it was."""
        typed = self.cleaned_data["found_at"]
        return self.one.found_at if self.one and this_minute(self.one.found_at) == typed else typed

    def clean(self) -> dict[str, Any]:
        """The assembly follows from the part or the area where it was left open."""
        values = super().clean() or {}
        part, area = values.get("part"), values.get("area")
        near = part.assembly if part else area.assembly if area else None
        values["assembly"] = self.assemblies.get(values.get("assembly", ""), near)
        if values["assembly"] is None and "assembly" not in self.errors:
            self.add_error("assembly", "Choose the assembly, or a part or an area of it.")
        return values


def as_typed(one: Discrepancy) -> dict[str, Any]:
    """A discrepancy as the form holds it."""
    return {
        "words": one.words,
        "severity": one.severity,
        "blocks": one.blocks,
        "assembly": one.assembly_id,
        "area": one.area_id or "",
        "part": one.part_id or "",
        "found_by": one.found_by_id,
        "found_at": this_minute(one.found_at),
    }


class CorrectForm(FindForm):
    """A discrepancy that is corrected; the old values stay beside the new ones."""

    reason = forms.CharField(
        label="Why it is corrected",
        max_length=300,
        error_messages={"required": "Say why it is corrected. The reason stays with it."},
    )


class ReinspectForm(SignForm):
    """The deliberate act of accepting what was done, or of not accepting it."""

    accepted = forms.ChoiceField(
        label="What you say of it",
        choices=[("yes", "Accepted"), ("no", "Not accepted")],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose whether you accept it."},
    )
    words = forms.CharField(
        label="Remark, or what is not accepted",
        max_length=MOST_WORDS,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def clean_accepted(self) -> bool:
        return self.cleaned_data["accepted"] == "yes"


class FilterForm(forms.Form):
    """Which discrepancies a list or a print shows."""

    state = forms.ChoiceField(label="Which", choices=list(SHOWN.items()), required=False)
    blocks = forms.BooleanField(label="Only those that block", required=False)
    severity = forms.ChoiceField(
        label="Severity", choices=[("", "Any severity"), *rules.SEVERITIES.items()], required=False
    )
    assembly = forms.ChoiceField(label="Assembly and below", required=False)
    area = forms.ChoiceField(label="Enclosed area", required=False)
    part = forms.ChoiceField(label="Part", required=False)
    visit = forms.ChoiceField(label="Found on a visit", required=False)
    found_by = forms.ChoiceField(label="Found by", required=False)

    def __init__(self, data: QueryDict, *, project: Project) -> None:
        super().__init__(data)
        nodes = parts.tree(project)
        found = Discrepancy.objects.standing().filter(project=project)
        self.rows: dict[str, dict[str, Assembly | Area | Part | Visit | Person]] = {
            "assembly": {node.assembly.pk: node.assembly for node in nodes},
            "area": {one.pk: one for one in Area.objects.standing().filter(project=project)},
            "part": {one.pk: one for one in parts.parts_of(project)},
            "visit": {one.pk: one for one in Visit.objects.filter(pk__in=found.values("visit"))},
            "found_by": {one.pk: one for one in Person.objects.filter(pk__in=found.values("found_by"))},
        }
        none = {"assembly": "All", "area": "Any or none", "part": "Any or none", "visit": "Any or none"}
        depth = {node.assembly.pk: node.depth for node in nodes}
        for name, rows in self.rows.items():
            lines = [(key, INDENT * depth.get(key, 0) + str(one)) for key, one in rows.items()]
            offer(self, name, [("", none.get(name, "Anybody")), *lines])

    @property
    def wanted(self) -> Wanted:
        """What was asked for; what cannot be read asks for nothing."""
        said = self.cleaned_data if self.is_valid() else {}
        return Wanted(
            state=said.get("state") or OPEN,
            blocks=bool(said.get("blocks")),
            severity=said.get("severity", ""),
            **{name: rows.get(said.get(name, "")) for name, rows in self.rows.items()},  # type: ignore[arg-type]  # each by its own kind
        )
