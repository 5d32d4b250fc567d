"""What is typed about inspection lists."""

from typing import Any, cast

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from accounts.models import Project
from certification.models.flying import INSPECTIONS, WORDINGS
from certification.queries import inspection_lists as queries
from certification.rules import inspection_lists as rules
from foundation.choosing import offer
from foundation.plain_form import PlainForm
from inspections.queries import discrepancies
from inspections.rules.discrepancies import SEVERITIES
from parts import queries as parts
from parts.models import Assembly

INDENT = "\u2003"
LARGEST = 300_000
BUNDLED, OWN = "bundled", "own"
DAY = {"type": "date"}


def day_field(label: str, **more: Any) -> forms.DateField:
    """A day."""
    return forms.DateField(label=label, widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"), **more)


class WhyForm(PlainForm):
    """Why something is withdrawn, taken back or opened again."""

    reason = forms.CharField(
        label="Reason", max_length=400, widget=forms.Textarea(attrs={"rows": 2}), help_text="The reason stays with it."
    )


class BeginForm(PlainForm):
    """Which list is worked through: a bundled one, or one of one's own from a file."""

    kind = forms.ChoiceField(label="What for", choices=list(INSPECTIONS.items()), widget=forms.RadioSelect)
    which = forms.ChoiceField(
        label="Which list",
        choices=[(BUNDLED, "The list that comes with the program"), (OWN, "My own list")],
        widget=forms.RadioSelect,
    )
    title = forms.CharField(label="Title of your list", max_length=120, required=False)
    edition = forms.CharField(
        label="Its edition", max_length=60, required=False, help_text="Such as: handbook, revision 3, 2 May 2026."
    )
    file = forms.FileField(label="File", required=False, help_text="CSV: group, item and, if you like, source.")
    text = forms.CharField(
        label="Or the lines themselves",
        required=False,
        max_length=LARGEST,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text="One thing to look at on each line: group, item, source. What you see here is what is taken.",
    )

    def clean_file(self) -> UploadedFile | None:
        """The file's text goes into the field for lines, so that it is seen before it is taken."""
        file = self.cleaned_data["file"]
        if not file:
            return None
        if file.size > LARGEST:
            raise forms.ValidationError("That file is too large for a list. At most 300 kB.")
        try:
            text = file.read().decode("utf-8-sig")
        except UnicodeDecodeError:
            raise forms.ValidationError("Save the list as CSV in UTF-8, then choose it again.") from None
        shown = cast(QueryDict, self.data).copy()
        shown["text"] = text
        self.data = shown
        self.from_file = text
        return file

    from_file = ""

    def clean(self) -> dict[str, Any]:
        """Read a list of one's own; each line that cannot be read is told."""
        values = super().clean() or {}
        self.read: rules.Read | None = None
        if values.get("which") != OWN:
            return values
        if not values.get("title"):
            self.add_error("title", "Give your list a title.")
        text = self.from_file or values.get("text") or ""
        if "file" not in self.errors:
            self.read = rules.read_list(text)
            if self.read.errors:
                self.add_error("text", f"{len(self.read.errors)} of the lines cannot be taken; they are listed below.")
        return values

    @property
    def content(self) -> dict[str, Any]:
        """The list as the inspection keeps it."""
        said = self.cleaned_data
        if said["which"] == BUNDLED or self.read is None:
            return queries.bundled()[said["kind"]]
        return rules.content(said["title"], said["edition"] or "not said", "The builder's own list", self.read.groups)


class AnswerForm(PlainForm):
    """One tap, with a note; another answer than before needs a reason."""

    answer = forms.CharField(max_length=4)
    note = forms.CharField(max_length=2000, required=False)
    reason = forms.CharField(max_length=400, required=False)


class OwnLineForm(PlainForm):
    """A line of one's own."""

    words = forms.CharField(
        label="What is to be looked at", max_length=rules.LONGEST_WORDS, error_messages={"required": "Say what it is."}
    )


class DiscrepancyForm(PlainForm):
    """A discrepancy made of a line that is not in order."""

    words = forms.CharField(
        label="What was found",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Say what was found."},
    )
    severity = forms.ChoiceField(
        label="Severity", choices=list(SEVERITIES.items()), initial="minor", widget=forms.RadioSelect
    )
    blocks = forms.BooleanField(
        label="Blocks closing", required=False, help_text="While it stands open, nothing above it is closed."
    )
    assembly = forms.ChoiceField(label="Assembly", error_messages={"required": "Choose the assembly."})

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        nodes = parts.tree(project)
        self.rows = {node.assembly.pk: node.assembly for node in nodes}
        lines = [(node.assembly.pk, INDENT * node.depth + str(node.assembly)) for node in nodes]
        offer(self, "assembly", [("", "Choose the assembly"), *lines])

    def clean_assembly(self) -> Assembly:
        return self.rows[self.cleaned_data["assembly"]]


class TieForm(PlainForm):
    """A discrepancy that is there already."""

    discrepancy = forms.ChoiceField(
        label="Discrepancy", error_messages={"required": "Choose the discrepancy that tells of it."}
    )

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        self.rows = {row.pk: row for row in discrepancies.rows(project)}
        lines = [(key, f"{row.label} {row.words}"[:90]) for key, row in self.rows.items()]
        offer(self, "discrepancy", [("", "Choose the discrepancy"), *lines])

    def clean_discrepancy(self) -> Any:
        return self.rows[self.cleaned_data["discrepancy"]]


class FinishForm(PlainForm):
    """What the entry in the logbook carries."""

    done_on = day_field("Inspected on")
    done_by = forms.CharField(label="Inspected by", max_length=120)
    certificate = forms.CharField(
        label="Certificate, kind and number",
        max_length=120,
        required=False,
        help_text="A yearly entry carries it. Before the first certificate there is none.",
    )
    total_hours = forms.DecimalField(
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
    statement = forms.CharField(
        label="The statement, as it stands in the logbook",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 6}),
        error_messages={"required": "Write the words of the statement, as they stand in the logbook."},
    )
    gap_reason = forms.CharField(
        label="Why it is finished over what is open",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="It prints with the inspection for ever.",
    )
