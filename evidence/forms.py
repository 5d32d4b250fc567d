"""What is typed and chosen about photos, turned into values."""

from datetime import UTC, datetime
from typing import Any

from django import forms

from accounts.models import Project
from accounts.queries import people
from evidence import rules
from evidence.models import Photo, Place
from parts import queries as parts
from parts.models import Assembly

INDENT = "\u2003"


def from_milliseconds(text: str) -> datetime | None:
    """A file's time as browsers tell it, in milliseconds since 1970 UTC; None for what is not such a time."""
    try:
        return datetime.fromtimestamp(int(text) / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return None


def assembly_choices(project: Project, none: str) -> list[tuple[str, str]]:
    """The assemblies as a list to choose from, indented like the tree; `none` is the choice of no assembly."""
    nodes = parts.tree(project)
    return [("", none), *((node.assembly.pk, f"{INDENT * node.depth}{node.assembly}") for node in nodes)]


class AssemblyField(forms.ChoiceField):
    """One assembly of a project, chosen from its tree; the value is the assembly itself or None."""

    def __init__(self, *, project: Project, none: str, **options: Any) -> None:
        super().__init__(choices=assembly_choices(project, none), required=False, **options)
        self.project = project

    def clean(self, value: str) -> Assembly | None:
        return parts.assemblies(self.project).filter(pk=super().clean(value)).first()


class FilterForm(forms.Form):
    """Which photos the contact sheet shows."""

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["assembly"] = AssemblyField(project=project, none="All assemblies", label="Placed on")
        self.fields["only"] = forms.BooleanField(required=False, label="Only this one, not what hangs below it")
        self.fields["caption"] = forms.ChoiceField(
            required=False, label="Caption", choices=[("", "With or without"), ("none", "Without a caption")]
        )


class UploadForm(forms.Form):
    """One photo as a script sends it."""

    photo = forms.FileField(
        allow_empty_file=True, error_messages={"required": "No photo came with this. Choose one and send it again."}
    )
    file_time = forms.CharField(required=False)

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        no_place = {"invalid_choice": "This assembly or part is not in the project. Choose another."}
        self.fields["assembly"] = AssemblyField(project=project, none="", error_messages=no_place)
        self.fields["part"] = forms.ModelChoiceField(parts.parts_of(project), required=False, error_messages=no_place)

    def clean_file_time(self) -> datetime | None:
        return from_milliseconds(self.cleaned_data["file_time"])


class PhotoForm(forms.Form):
    """The words that go with a photo."""

    caption = forms.CharField(
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What is to be seen, as somebody needs it who was not there.",
    )
    shows = forms.ChoiceField(choices=list(rules.SHOWS.items()), required=False, label="What it shows")
    builder_in_frame = forms.BooleanField(required=False, label="The builder is in the picture")

    def __init__(self, *args: Any, photo: Photo, **options: Any) -> None:
        initial = {name: getattr(photo, name) for name in ("caption", "shows", "builder_in_frame", "taken_by")}
        super().__init__(*args, **options | {"initial": initial})
        self.fields["taken_by"] = forms.ModelChoiceField(people(photo.project), required=False, empty_label="Not said")
        self.fields["reason"] = forms.CharField(
            max_length=300,
            required=False,
            label="Reason for the change",
            help_text="It stays with the old words in the history.",
        )

    def changes(self) -> dict[str, object]:
        """The fields that are not what they were."""
        return {name: self.cleaned_data[name] for name in self.changed_data if name != "reason"}


class TimeForm(forms.Form):
    """A typed time for a photo, in the project's zone."""

    taken_at = forms.DateTimeField(
        label="Taken",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S"),
    )
    reason = forms.CharField(
        max_length=300, label="How this is known", help_text="For example: clock of the camera was one hour behind."
    )


class WithdrawForm(forms.Form):
    """Why a photo is withdrawn."""

    reason = forms.CharField(max_length=300, label="Reason")


class PlaceForm(forms.Form):
    """On what a photo is shown besides where it is already."""

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["assembly"] = AssemblyField(project=project, none="No assembly", label="Assembly")
        self.fields["part"] = forms.ModelChoiceField(parts.parts_of(project), required=False, empty_label="No part")

    def clean(self) -> dict[str, object]:
        if not self.errors and not any(self.cleaned_data.values()):
            raise forms.ValidationError("Choose an assembly or a part.")
        return self.cleaned_data

    @property
    def places(self) -> list[Place]:
        """What was chosen."""
        return [place for place in self.cleaned_data.values() if place]
