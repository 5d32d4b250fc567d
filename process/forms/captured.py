"""What a phone says of plies, pots and photos of process records."""

from django import forms

from accounts.models import Project
from process.models import KINDS, Layup
from process.rules import words


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


class PhotoPlaceForm(forms.Form):
    """Which record a photo shows that was captured on a phone."""

    photo_request = forms.CharField(max_length=36, error_messages={"required": "The request does not say which photo."})
    record_kind = forms.ChoiceField(choices=[(kind, kind) for kind in KINDS])
    record = forms.CharField(max_length=16)
    moment = forms.ChoiceField(choices=[("", ""), *words.MOMENTS.items()], required=False)
    ply = forms.IntegerField(min_value=1, max_value=999, required=False)
