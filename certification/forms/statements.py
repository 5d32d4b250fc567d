"""What is typed about statements."""

from typing import Any

from django import forms

from accounts.models import Project
from certification.forms.inspection_lists import day_field
from certification.models.flying import WORDINGS
from certification.rules import statements as rules
from evidence.models import Document
from evidence.queries import documents
from foundation.choosing import offer
from foundation.plain_form import PlainForm


class StatementForm(PlainForm):
    """A statement of one kind, with the elements that it needs."""

    elements = forms.MultipleChoiceField(
        label="What it says",
        widget=forms.CheckboxSelectMultiple,
        choices=[],
        error_messages={"required": "Tick what your words say."},
    )
    vso = forms.CharField(label="Vso, stall speed in landing configuration", max_length=40, required=False)
    vx = forms.CharField(label="Vx, speed for best angle of climb", max_length=40, required=False)
    vy = forms.CharField(label="Vy, speed for best rate of climb", max_length=40, required=False)
    weight = forms.CharField(label="Weight at which they were found", max_length=40, required=False)
    arm = forms.CharField(label="Center of gravity at which they were found", max_length=40, required=False)
    hours = forms.DecimalField(
        label="Total time in service, hours",
        required=False,
        min_value=0,
        max_digits=8,
        decimal_places=1,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "size": 10}),
    )
    wording = forms.ChoiceField(
        label="Where do these words come from?",
        choices=[(key, word) for key, word in WORDINGS.items() if key],
        widget=forms.RadioSelect,
        help_text="Such as “in a condition for safe operation”: that aircraft's own operating limitations give them.",
        error_messages={"required": "Say where the words come from."},
    )
    text = forms.CharField(
        label="The words, as they stand in the logbook",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 6}),
        error_messages={"required": "Write the words as they stand in the logbook."},
    )
    made_on = day_field("Signed on")
    document = forms.ChoiceField(label="The signed page", required=False)

    def __init__(self, *args: Any, project: Project, kind: str, **more: Any) -> None:
        super().__init__(*args, **more)
        ticks = [(one.key, one.words) for one in rules.ELEMENTS[kind] if one.tick]
        offer(self, "elements", ticks)
        figures = {one.key for one in rules.ELEMENTS[kind] if not one.tick}
        for name in ("vso", "vx", "vy", "weight", "arm"):
            if name not in figures:
                del self.fields[name]
            else:
                self.fields[name].required = True
        if kind not in {rules.CONDITION, rules.COMPLETION}:
            del self.fields["hours"]
        else:
            self.fields["hours"].required = kind == rules.CONDITION
        self.rows = {row.pk: row for row in documents(project)}
        offer(self, "document", [("", "None kept yet"), *((key, str(row)) for key, row in self.rows.items())])

    def clean_document(self) -> Document | None:
        return self.rows.get(self.cleaned_data["document"])

    @property
    def figures(self) -> list[Any]:
        """The fields of figures that this kind has."""
        return [self[name] for name in ("hours", "vso", "vx", "vy", "weight", "arm") if name in self.fields]
