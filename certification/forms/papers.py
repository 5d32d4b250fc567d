"""What is typed about papers of the file, drafts, equipment and placards."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from accounts.models import Project
from calc.trouble import Impossible
from certification.models import Equipment, Paper, Placard
from certification.models.papers import PAPER_STATES, PLACARD_KINDS
from certification.queries.papers import documents_to_choose
from certification.rules.file_profiles import Item
from certification.rules.identity import FIELDS
from evidence.models import Document
from evidence.rules import DOCUMENTS, MB, check_document
from foundation.plain_form import PlainForm
from foundation.refusal import Refusal
from process.rules import quantities

OLD_STAYS = "The old words stay readable in the history."


class FileForm(PlainForm):
    """A form of the file."""

    @property
    def values(self) -> dict[str, Any]:
        """What was typed, as a command takes it."""
        return dict(self.cleaned_data)


class DayField(forms.DateField):
    """A day, chosen or typed."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**more)


def area(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class ReasonForm(FileForm):
    """Why something is withdrawn."""

    reason = forms.CharField(label="Reason", max_length=400, widget=area(2), help_text="The reason stays with it.")


class PaperForm(FileForm):
    """How a paper stands, and what of the identity stands on it, copied off letter by letter."""

    title = forms.CharField(label="Name of the paper", max_length=160)
    state_word = forms.ChoiceField(label="State", choices=list(PAPER_STATES.items()), widget=forms.RadioSelect)
    due_on = DayField(label="Needed on", help_text="Such as the day of the inspector's visit.")
    filed_on = DayField(label="Filed on")
    reference = forms.CharField(
        label="Reference", max_length=120, required=False, help_text="A number they gave it, or where the paper lies."
    )
    said_builder = forms.CharField(label="Builder", max_length=120, required=False)
    said_model = forms.CharField(label="Model", max_length=80, required=False)
    said_serial = forms.CharField(label="Serial number", max_length=40, required=False)
    said_marks = forms.CharField(label="Marks", max_length=20, required=False)
    note = forms.CharField(label="Note", required=False, widget=area(3))
    reason = forms.CharField(label="Reason", max_length=400, required=False, widget=area(2), help_text=OLD_STAYS)

    def __init__(self, *args: Any, item: Item | None = None, paper: Paper | None = None, **more: Any) -> None:
        if paper is not None:
            now = {name: getattr(paper, name) for name in self.base_fields if hasattr(paper, name)}
            more["initial"] = now | (more.get("initial") or {})
        super().__init__(*args, **more)
        if item is not None:
            del self.fields["title"]
            if paper is None or paper.state_word == "not_started":
                self.initial.setdefault("state_word", "draft")
        if paper is None:
            del self.fields["reason"]
        for key, (_, _, said) in FIELDS.items():
            self.fields[said].widget.attrs |= {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}
            if item is not None and key not in item.says and not (paper and getattr(paper, said)):
                del self.fields[said]

    @property
    def said(self) -> list[forms.BoundField]:
        """The fields that are held against the identity."""
        return [self[said] for _, _, said in FIELDS.values() if said in self.fields]


class PaperFileField(forms.FileField):
    """A document to be kept, refused here already where it is empty or too large."""

    def __init__(self, **more: Any) -> None:
        super().__init__(required=False, allow_empty_file=True, **more)

    def clean(self, data: Any, initial: Any = None) -> Any:
        found = super().clean(data, initial)
        if isinstance(found, UploadedFile):
            try:
                check_document(found.size or 0, settings.DOCUMENT_MAX_BYTES)
            except Refusal as no:
                raise forms.ValidationError(no.message) from None
        return found


class PaperDocumentForm(FileForm):
    """A document of a paper: a new file, or one that is kept already."""

    file = PaperFileField(label="File")
    kept = forms.ModelChoiceField(
        Document.objects.none(), label="Or one that is kept already", required=False, empty_label="None"
    )
    kind = forms.ChoiceField(label="What it is", choices=list(DOCUMENTS.items()), initial="other")
    title = forms.CharField(label="Title", max_length=160, required=False, help_text="Empty: the name of the paper.")
    dated_on = DayField(label="Its date")

    def __init__(self, *args: Any, project: Project, paper: Paper | None, name: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.name = name
        self.most = settings.DOCUMENT_MAX_BYTES // MB
        kept = self.fields["kept"]
        assert isinstance(kept, forms.ModelChoiceField)
        kept.queryset = documents_to_choose(project, paper)

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if not self.errors and bool(said.get("file")) == bool(said.get("kept")):
            raise forms.ValidationError("Choose a file, or one document that is kept already.")
        return said

    @property
    def words(self) -> dict[str, Any]:
        """What is said of a new file."""
        said = self.cleaned_data
        return {"kind": said["kind"], "title": (said["title"] or self.name)[:160], "dated_on": said["dated_on"]}


class DraftForm(FileForm):
    text = forms.CharField(label="Your text", widget=area(16), max_length=20_000, strip=False)

    def clean_text(self) -> str:
        return "\n".join(self.cleaned_data["text"].splitlines()).strip() + "\n"


class QuantityField(forms.CharField):
    """A quantity as it is typed, kept beside its figure: a field `x` gives `x` and `x_<suffix>` (rule R41)."""

    def __init__(self, suffix: str, *, below: bool = False, **more: Any) -> None:
        more.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "size": 14}))
        super().__init__(required=False, max_length=40, **more)
        self.suffix, self.below, self.said = suffix, below, self.help_text
        self.unit = quantities.KEPT_IN[suffix]

    def mean(self, units: str) -> None:
        """Say in which unit a bare number is meant."""
        self.unit = quantities.meant(self.suffix, units)
        self.help_text = f"{self.said} In {quantities.written(self.unit)} unless you write another unit.".strip()

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return "", None
        # An arm may lie ahead of the datum; the reader of quantities knows no sign of its own.
        minus = self.below and typed[0] in "-−–"
        try:
            text, exact = quantities.read(typed[1:].strip() if minus else typed, self.suffix, self.unit)
        except Impossible as no:
            raise forms.ValidationError(no.sentence, code=no.code) from None
        if exact < 0 or (exact == 0 and not self.below):
            raise forms.ValidationError("It must be more than zero.", code="impossible")
        text = f"-{text}" if minus else text
        if len(text) > 40:
            raise forms.ValidationError("Write it in fewer signs.", code="too_long")
        return text, quantities.kept(-exact if minus else exact)


class EquipmentForm(FileForm):
    """A line of the equipment list."""

    name = forms.CharField(label="What it is", max_length=120)
    maker = forms.CharField(label="Maker", max_length=80, required=False)
    model = forms.CharField(label="Model", max_length=80, required=False)
    serial = forms.CharField(label="Serial number", max_length=60, required=False)
    weight = QuantityField("g", label="Weight", help_text="With its unit, such as 1.2 kg or 2 lb 4 oz.")
    arm = QuantityField("mm", label="Arm", below=True, help_text="Aft of the datum; forward of it with a minus.")
    installed_on = DayField(label="Installed on")
    note = forms.CharField(label="Note", required=False, widget=area(2))
    reason = forms.CharField(label="Reason", max_length=400, required=False, widget=area(2), help_text=OLD_STAYS)

    def __init__(self, *args: Any, project: Project, row: Equipment | None = None, **more: Any) -> None:
        if row is not None:
            more["initial"] = {name: getattr(row, name) for name in self.base_fields if hasattr(row, name)}
        super().__init__(*args, **more)
        if row is None:
            del self.fields["reason"]
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.mean(project.units)

    @property
    def values(self) -> dict[str, Any]:
        found = dict(self.cleaned_data)
        for name in ("weight", "arm"):
            field = self.fields[name]
            assert isinstance(field, QuantityField)
            found[name], found[f"{name}_{field.suffix}"] = found[name]
        return found


class PlacardForm(FileForm):
    """A plate, marks or a placard."""

    kind = forms.ChoiceField(label="Kind", choices=list(PLACARD_KINDS.items()), widget=forms.RadioSelect)
    words = forms.CharField(label="What stands on it", max_length=600, widget=area(4), help_text="Line by line.")
    letter_mm = forms.DecimalField(
        label="Height of the letters, mm",
        max_digits=6,
        decimal_places=1,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "size": 8}),
        help_text="Of a capital letter. 1 in is 25.4 mm.",
    )
    count = forms.IntegerField(label="How many", initial=1)
    place = forms.CharField(label="Where it goes", max_length=160, required=False)
    source = forms.CharField(label="Where that is from", max_length=200, required=False)
    fitted_on = DayField(label="Fitted on")
    reason = forms.CharField(label="Reason", max_length=400, required=False, widget=area(2), help_text=OLD_STAYS)

    def __init__(self, *args: Any, row: Placard | None = None, **more: Any) -> None:
        if row is not None:
            more["initial"] = {name: getattr(row, name) for name in self.base_fields if hasattr(row, name)}
        super().__init__(*args, **more)
        if row is None:
            del self.fields["reason"]

    def clean_words(self) -> str:
        return "\n".join(line.strip() for line in self.cleaned_data["words"].splitlines()).strip()
