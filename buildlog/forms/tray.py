"""The line of a group in the tray: what is proposed for its photos."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.forms.utils import ErrorDict

from accounts.models import Person, Project
from buildlog import rules
from buildlog.forms.sessions import TWICE, SessionForm, TimeInput, indented, shown, told_twice
from foundation.choosing import offer
from foundation.fields import new_key
from parts import queries as parts
from parts.models import Assembly

Choices = Sequence[tuple[str, str]]


class TrayForm(forms.Form):
    """What is proposed for one group of photos, on one line. A `SessionForm` reads what is sent of it."""

    request_id = forms.CharField(widget=forms.HiddenInput)
    day = forms.CharField(widget=forms.HiddenInput)
    place = forms.CharField(widget=forms.HiddenInput, required=False)
    assembly = forms.ChoiceField(label="Assembly")
    started = forms.CharField(label="From", widget=TimeInput(format="%H:%M"))
    ended = forms.CharField(label="To", widget=TimeInput(format="%H:%M"))
    start_twice = forms.ChoiceField(label="The clocks went back: which start is meant?", choices=TWICE)
    end_twice = forms.ChoiceField(label="The clocks went back: which end is meant?", choices=TWICE)
    work = forms.ChoiceField(label="Kind of work", choices=list(rules.WORK.items()))
    kind = forms.ChoiceField(label="Counts as", choices=list(rules.KINDS.items()))
    people = forms.MultipleChoiceField(label="Who worked", widget=forms.CheckboxSelectMultiple)
    note = forms.CharField(
        label="What was done", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=20000
    )

    def __init__(
        self, *args: Any, assemblies: Choices, workers: Choices, said: SessionForm | None = None, **more: Any
    ) -> None:
        """`said` is the form that read what was sent; its errors stand here at their fields."""
        super().__init__(*args, **more)
        offer(self, "assembly", [("", "Choose the assembly"), *assemblies])
        offer(self, "people", workers)
        self.asked = said.asked if said else ""
        self.cleaned_data = {}
        self._errors = ErrorDict()
        for name, errors in said.errors.items() if said else ():
            self.add_error(name if name in self.fields else None, list(errors))

    @property
    def asks_start(self) -> bool:
        return bool(self.errors.get("start_twice") or self["start_twice"].value())

    @property
    def asks_end(self) -> bool:
        return bool(self.errors.get("end_twice") or self["end_twice"].value())


def assembly_choices(project: Project) -> list[tuple[str, str]]:
    """The assemblies of a project as choices in tree order: one query."""
    return indented(parts.tree(project), ())


def initial_from_photos(
    project: Project,
    first: datetime,
    times: tuple[datetime, datetime] | None,
    assembly: Assembly | None,
    workers: Sequence[Person],
) -> dict[str, Any]:
    """What the line of a group proposes: where, by whom, and from when to when as far as its photos tell."""
    zone = project.zone
    values: dict[str, Any] = {
        "request_id": new_key(),
        "day": first.astimezone(zone).date().isoformat(),
        "place": project.place,
        "assembly": assembly.pk if assembly else "",
        "kind": "labor",
        "people": [person.pk for person in workers],
    }
    if times is None:
        return values
    start, end = (at.astimezone(zone) for at in times)
    twice = {"start_twice": told_twice(start, zone), "end_twice": told_twice(end, zone)}
    return values | {"started": shown(start), "ended": shown(end)} | twice
