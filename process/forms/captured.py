"""What a phone says of plies, pots, bonds, cure runs and photos of process records."""

from typing import Any

from django import forms
from django.http import QueryDict

from accounts.models import Project
from parts.models import Assembly, Part
from process.forms.common import RowField
from process.forms.cures import NewRunForm, ThingsField
from process.models import KINDS, Bond, Coupon, Layup, Tool
from process.queries import cures
from process.queries.common import record_of
from process.rules import bonds, words


class PlyLaidForm(forms.Form):
    """A tap that says a ply is laid."""

    ply = forms.IntegerField(min_value=1, max_value=999, error_messages={"required": "The request names no ply."})

    def __init__(self, *args: object, project: Project) -> None:
        super().__init__(*args)  # type: ignore[arg-type]
        self.fields["layup"] = forms.ModelChoiceField(
            Layup.objects.standing().filter(project=project),
            error_messages={
                "required": "The request names no layup.",
                "invalid_choice": "This layup is not in the project any more.",
            },
        )


class PotSpreadForm(forms.Form):
    """A tap that ends a pot's clock."""

    mix = forms.CharField(max_length=36, error_messages={"required": "The request names no mix."})


class BondTapForm(forms.Form):
    """A tap on the page of a bond. A withdrawn bond is found too: its refusal says what to do with the tap."""

    def __init__(self, *args: object, project: Project) -> None:
        super().__init__(*args)  # type: ignore[arg-type]
        self.fields["bond"] = forms.ModelChoiceField(
            Bond.objects.filter(project=project),
            error_messages={
                "required": "The request names no bond.",
                "invalid_choice": "This bond is not in this project. Look up which it was, and type the time there.",
            },
        )


class BondStepForm(BondTapForm):
    """A tap that says a step is done."""

    step = forms.ChoiceField(
        choices=list(bonds.STEPS.items()), error_messages={"required": "The request names no step."}
    )


class BondSqueezeForm(BondTapForm):
    """A tap that says what was seen along the edges."""

    squeeze_out = forms.ChoiceField(choices=list(words.YES_NO.items()))


class CureBegunForm(NewRunForm):
    """The start of a run as it was filled in on a phone, `like` the run that the form offered to take after.

    What it names may have been cured, finished or withdrawn since; it lay in the oven all the same.
    """

    ROWS: dict[str, type[Any]] = {"assembly": Assembly, "part": Part, "equipment": Tool, "logger": Tool}

    def __init__(self, said: QueryDict, *, project: Project) -> None:
        last = cures.all_runs(project).filter(pk=said.get("like", "")).first()
        super().__init__(said, project=project, last=last)
        for name, model in self.ROWS.items():
            field, key = self.fields[name], said.get(name, "")
            if isinstance(field, RowField) and key and key not in field.rows:
                self.prepare(field, model._default_manager.filter(project=project, pk=key).first())
        self.offer_more("cured", said.getlist("cured"))
        self.offer_more("cured_parts", said.getlist("cured_parts"))

    def offer_more(self, name: str, keys: list[str]) -> None:
        """Offer what was named too, if it is in the project."""
        field = self.fields[name]
        assert isinstance(field, ThingsField)
        more = [thing for key in keys if key not in field.things and (thing := self.thing(key)) is not None]
        if more:
            field.offer([*field.things.values(), *more])

    def thing(self, name: str) -> object | None:
        """The layup, bond, coupon or part with this name, withdrawn ones too."""
        kind, _, key = name.partition(":")
        if kind == "part":
            return Part.objects.filter(project=self.project, pk=key).first()
        record = record_of(self.project, kind, key)
        return record if isinstance(record, Layup | Bond | Coupon) else None


class CureStopForm(forms.Form):
    """A tap that says the heat is off."""

    run = forms.CharField(max_length=36, error_messages={"required": "The request names no cure run."})


class PhotoPlaceForm(forms.Form):
    """Which record a photo shows that was captured on a phone."""

    photo_request = forms.CharField(max_length=36, error_messages={"required": "The request does not say which photo."})
    record_kind = forms.ChoiceField(choices=[(kind, kind) for kind in KINDS])
    record = forms.CharField(max_length=16)
    moment = forms.ChoiceField(choices=[("", ""), *words.MOMENTS.items()], required=False)
    ply = forms.IntegerField(min_value=1, max_value=999, required=False)
