"""What is typed and chosen about photos, turned into values."""

from datetime import UTC, datetime

from django import forms
from django.http import HttpRequest

from accounts.models import Person, Project
from accounts.queries import people
from evidence import commands, queries, rules
from evidence.models import Photo
from parts import queries as parts
from parts.models import Assembly

INDENT = "\u2003"


def chosen_photos(
    request: HttpRequest, project: Project, by: Person, at: datetime, name: str = "photos"
) -> tuple[list[Photo], list[str]]:
    """The photos that a form with `evidence/_attach.html` sent, and a sentence for each that was refused.

    The template, in a form with enctype="multipart/form-data":

        {% url 'evidence:photos' frame.project.slug as upload_url %}
        {% include "evidence/_attach.html" with photos=photos upload_url=upload_url %}

    (`name="..."` if the form has more than one such grid) and in block scripts, so that photos go up while the rest is
    filled in:

        <script type="module" src="{% static 'js/attach.js' %}"></script>

    In the view, for GET and POST alike (a GET chooses nothing):

        photos, refused = chosen_photos(request, project, person, now)

    Read are the keys in `photos` (scoped to the project, in their order), without those ticked in `remove_photos`, and
    the files in `new_photos`, which are taken into the record here and now. So when the form itself is bad, show the
    page again with the returned photos: nothing has to be chosen twice. A refusal begins with the file's name and
    concerns that file alone; whether the rest of the form is saved all the same is up to the view.
    """
    if request.method != "POST":
        return [], []
    removed = set(request.POST.getlist(f"remove_{name}"))
    keys = [key for key in dict.fromkeys(request.POST.getlist(name)) if key and key not in removed]
    photos = queries.by_keys(project, keys)
    refused = []
    if missing := len(keys) - len(photos):
        words = "One chosen photo is" if missing == 1 else f"{missing} chosen photos are"
        refused.append(f"{words} no longer in this record and left out here.")
    taken = commands.take_in_many(by=by, at=at, project=project, files=request.FILES.getlist(f"new_{name}"))
    photos += [photo for photo in taken.photos if photo not in photos]
    return photos, refused + taken.refused


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

    def __init__(self, *, project: Project, none: str, **options: object) -> None:
        super().__init__(choices=assembly_choices(project, none), required=False, **options)
        self.project = project

    def clean(self, value: str) -> Assembly | None:
        return parts.assemblies(self.project).filter(pk=super().clean(value)).first()


class FilterForm(forms.Form):
    """Which photos the contact sheet shows."""

    def __init__(self, *args: object, project: Project, **options: object) -> None:
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

    def __init__(self, *args: object, project: Project, **options: object) -> None:
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

    def __init__(self, *args: object, photo: Photo, **options: object) -> None:
        initial = {name: getattr(photo, name) for name in ("caption", "shows", "builder_in_frame", "taken_by")}
        super().__init__(*args, initial=initial, **options)
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

    def __init__(self, *args: object, project: Project, **options: object) -> None:
        super().__init__(*args, **options)
        self.fields["assembly"] = AssemblyField(project=project, none="No assembly", label="Assembly")
        self.fields["part"] = forms.ModelChoiceField(parts.parts_of(project), required=False, empty_label="No part")

    def clean(self) -> dict[str, object]:
        if not self.errors and not any(self.cleaned_data.values()):
            raise forms.ValidationError("Choose an assembly or a part.")
        return self.cleaned_data
