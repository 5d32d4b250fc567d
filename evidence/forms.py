"""What is typed and chosen about photos, turned into values."""

from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict

from accounts.models import Project
from accounts.queries import people
from evidence import commands, queries, rules
from evidence.models import Photo, Place
from parts import queries as parts
from parts.models import Assembly

INDENT = "\u2003"
# The names under which the address of the contact sheet may name one thing.
THINGS = ("part", "bin", "lot")
CORNER_LABELS = {"x1": "From left", "y1": "From top", "x2": "End, from left", "y2": "End, from top"}


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
    """Which photos the contact sheet shows, and among which the page of one photo leads on."""

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.project = project
        self.fields["assembly"] = AssemblyField(project=project, none="All assemblies", label="On")
        self.fields["only"] = forms.BooleanField(required=False, label="Only this one, not what hangs below it")
        self.fields["shows"] = forms.ChoiceField(
            required=False, label="What it shows", choices=[("", "Anything"), *list(rules.SHOWS.items())[1:]]
        )
        self.fields["caption"] = forms.ChoiceField(
            required=False, label="Caption", choices=[("", "With or without"), ("none", "Without a caption")]
        )
        self.fields["place"] = forms.ChoiceField(
            required=False, label="Place", choices=[("", "With or without"), ("none", "Without a place")]
        )
        self.fields["medium"] = forms.ChoiceField(
            required=False, label="Kind", choices=[("", "Photos and clips"), ("clip", "Clips only")]
        )
        self.fields["builder"] = forms.BooleanField(required=False, label="Builder in the picture")
        for name in THINGS:
            self.fields[name] = forms.CharField(required=False, widget=forms.HiddenInput)

    @property
    def wanted(self) -> queries.Wanted:
        """What was chosen; a choice that cannot be read filters nothing."""
        self.is_valid()
        said = self.cleaned_data
        thing = next((said[name] for name in THINGS if said.get(name)), "")
        return queries.Wanted(
            assembly=said.get("assembly"),
            below=not said.get("only"),
            place=queries.place_by_key(self.project, thing),
            uncaptioned=said.get("caption") == "none",
            unplaced=said.get("place") == "none",
            clips=said.get("medium") == "clip",
            builder=bool(said.get("builder")),
            shows=said.get("shows", ""),
        )

    @property
    def carried(self) -> str:
        """The filter as the end of an address, such as ?assembly=7k3m&only=on; empty without one."""
        self.is_valid()
        kept = [(name, self.data[name]) for name in self.fields if self.cleaned_data.get(name) and name in self.data]
        return "?" + urlencode(kept) if kept else ""


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


class BulkForm(forms.Form):
    """Where many photos go, and the digests of those about to be sent."""

    MOST = 100

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        gone = {"invalid_choice": "This assembly is not in the project any more. Choose another."}
        self.fields["assembly"] = AssemblyField(
            project=project, none="The tray: no place yet", label="Where they go", error_messages=gone
        )

    def digests(self, sent: QueryDict) -> list[str]:
        """The digests that were sent, each once, a hundred at most."""
        return list(dict.fromkeys(sent.getlist("digest")))[: self.MOST]


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


class CaptionForm(forms.Form):
    """The caption alone, typed on the page of the photo. `was` is what stood there when the page was opened."""

    caption = forms.CharField(max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}))
    was = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, photo: Photo, **options: Any) -> None:
        super().__init__(*args, **options | {"initial": {"caption": photo.caption, "was": photo.caption}})
        self.photo = photo

    def clean(self) -> dict[str, Any]:
        """Refuse to write over a caption that somebody changed meanwhile; saved again, it is meant."""
        said = self.cleaned_data
        if said.get("was", "") not in {self.photo.caption, said.get("caption")}:
            self.data = dict(self.data.items()) | {"was": self.photo.caption}
            raise forms.ValidationError(
                f"The caption was changed meanwhile. It now says: {self.photo.caption or 'nothing'}. "
                "Save again to put yours in its place."
            )
        return said


class MarkForm(forms.Form):
    """One mark drawn over a photo, as a line of a list. Places are in per cent of the picture, from the upper left."""

    key = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)
    kind = forms.ChoiceField(choices=[("", "No mark"), *rules.MARKS.items()], required=False)
    words = forms.CharField(max_length=rules.LONGEST_MARK_WORDS, required=False)
    at = forms.ChoiceField(
        choices=[("", "By the numbers"), *((str(n), f"{word}".capitalize()) for n, word in enumerate(rules.PLACES))],
        required=False,
        label="Place",
    )
    gone = forms.BooleanField(required=False, label="Take away")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name, label in CORNER_LABELS.items():
            self.fields[name] = forms.DecimalField(
                required=False,
                label=label,
                min_value=0,
                max_value=100,
                decimal_places=2,
                widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
            )

    def clean(self) -> dict[str, Any]:
        """A mark without a place is refused in words."""
        said = self.cleaned_data
        if said.get("kind") and not said.get("gone") and not said.get("at") and self.lacking(said):
            raise forms.ValidationError("Say where on the picture: choose a place, or type numbers from 0 to 100.")
        return said

    def lacking(self, said: dict[str, Any]) -> bool:
        """Whether a number that this kind needs is neither typed nor wrong already."""
        needed = list(CORNER_LABELS)[: 2 if said["kind"] == "note" else 4]
        return any(said.get(name) is None and name not in self.errors for name in needed)

    @property
    def facts(self) -> commands.MarkFacts | None:
        """The mark as the command takes it; None for an empty line and one that is taken away."""
        said = self.cleaned_data  # empty for a line that nobody touched
        if not said.get("kind") or said.get("gone"):
            return None
        corners = rules.corners_at(said["kind"], int(said["at"])) if said.get("at") else self.typed(said)
        return commands.MarkFacts(said["kind"], corners, said["words"], said["key"])

    def typed(self, said: dict[str, Any]) -> tuple[int, int, int, int]:
        """The corners typed in per cent, in ten-thousandths."""
        x1, y1, x2, y2 = (int((said.get(name) or 0) * 100) for name in CORNER_LABELS)
        return x1, y1, x2, y2


MarkForms = forms.formset_factory(
    MarkForm, extra=3, max_num=rules.MOST_MARKS, absolute_max=2 * rules.MOST_MARKS, validate_max=True
)


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
        self.fields["bin"] = forms.ModelChoiceField(parts.bins(project), required=False, empty_label="No bin")
        self.fields["lot"] = forms.ModelChoiceField(parts.lots(project), required=False, empty_label="No lot")

    def clean(self) -> dict[str, object]:
        if not self.errors and not any(self.cleaned_data.values()):
            raise forms.ValidationError("Choose an assembly, a part, a bin or a lot.")
        return self.cleaned_data

    @property
    def places(self) -> list[Place]:
        """What was chosen."""
        return [place for place in self.cleaned_data.values() if place]


class DocumentForm(forms.Form):
    """What is said of a document."""

    kind = forms.ChoiceField(label="What it is", choices=[("", "Choose"), *rules.DOCUMENTS.items()])
    title = forms.CharField(max_length=160, label="Title", help_text="As somebody looks for it years later.")
    revision = forms.CharField(max_length=40, required=False, label="Revision")
    dated_on = forms.DateField(
        required=False,
        label="Its date",
        help_text="The day that the paper carries.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    note = forms.CharField(required=False, label="Note", widget=forms.Textarea(attrs={"rows": 2}))


class NewDocumentForm(DocumentForm):
    """A document with its file and what it is about."""

    file = forms.FileField(
        label="File", allow_empty_file=True, error_messages={"required": "Choose the file that is to be kept."}
    )

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.project = project
        about = PlaceForm(project=project)
        self.places = list(about.fields)
        self.fields |= about.fields
        self.order_fields(["file", "kind", "title", "revision", "dated_on", *self.places, "note"])

    @property
    def words(self) -> dict[str, Any]:
        """What is said of it, and what it is about, as the command takes them."""
        said = self.cleaned_data
        about = [said[name] for name in self.places if said.get(name)]
        return {name: said[name] for name in DocumentForm.base_fields} | {"places": about}


class CorrectDocumentForm(DocumentForm):
    reason = forms.CharField(
        max_length=300,
        required=False,
        label="Reason for the change",
        help_text="It stays with the old words in the history.",
    )


class FindDocumentForm(forms.Form):
    """Which documents to list. A filter that makes no sense is left out rather than refused."""

    text = forms.CharField(label="Title, note or file name holds", required=False, max_length=80)
    kind = forms.ChoiceField(label="What it is", required=False, choices=[("", "Anything"), *rules.DOCUMENTS.items()])

    @property
    def wanted(self) -> dict[str, str]:
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value}
