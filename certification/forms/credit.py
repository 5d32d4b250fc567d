"""What is typed about lists of tasks and the credit for tasks."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from accounts.models import Project
from calc.major_portion import COLUMNS, FULL
from certification.queries.credit import Line, SectionLines, Sheet
from certification.rules import credit as rules
from foundation.plain_form import PlainForm
from foundation.refusal import Refusal
from parts import queries as parts
from parts.models import Assembly, Part

INDENT = "\u2003"
LARGEST = 2_000_000
APPLIES = [("yes", "It is a task of this aircraft"), ("no", "It does not apply to this aircraft")]


def tenths_choices() -> list[tuple[int, str]]:
    """Nought to one whole task, in tenths."""
    words = {0: "0 – nothing", 1: "1 tenth", FULL: "10 – all of it"}
    return [(n, words.get(n, f"{n} tenths")) for n in range(FULL + 1)]


class ReasonForm(PlainForm):
    """Why something is withdrawn."""

    reason = forms.CharField(label="Why", max_length=400, widget=forms.Textarea(attrs={"rows": 2}))


class PlacesForm(PlainForm):
    """At which assemblies and parts the evidence of a task stands."""

    def __init__(
        self, *args: Any, project: Project, line: Line | None = None, tie: Assembly | None = None, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.nodes = parts.tree(project)
        self.parts = {row.pk: row for row in parts.parts_of(project)}
        tied = [row for row in (line.parts if line else []) if row.pk in self.parts]
        # One that the builder came from, to tie it, is ticked for him.
        have = [row.pk for row in [*(line.assemblies if line else []), *([tie] if tie else [])]]
        self.fields["assemblies"] = forms.MultipleChoiceField(
            label="Assemblies",
            required=False,
            choices=[(node.assembly.pk, f"{INDENT * node.depth}{node.assembly}") for node in self.nodes],
            widget=forms.CheckboxSelectMultiple,
            initial=have,
            help_text="An assembly brings all below it.",
        )
        if tied:
            self.fields["tied_parts"] = forms.MultipleChoiceField(
                label="Parts",
                required=False,
                choices=[(row.pk, str(row)) for row in tied],
                widget=forms.CheckboxSelectMultiple,
                initial=[row.pk for row in tied],
            )
        self.fields["part"] = forms.ChoiceField(
            label="One more part",
            required=False,
            choices=[("", "No further part"), *((key, str(row)) for key, row in self.parts.items())],
            help_text="A part brings its own photos, and the sessions these were taken in.",
        )

    @property
    def places(self) -> list[Assembly | Part]:
        """What was chosen."""
        said = self.cleaned_data
        by_key = {node.assembly.pk: node.assembly for node in self.nodes}
        chosen = dict.fromkeys([*said.get("tied_parts", []), *([said["part"]] if said.get("part") else [])])
        return [*(by_key[key] for key in said["assemblies"]), *(self.parts[key] for key in chosen)]


class SplitForm(PlacesForm):
    """How one task is split over the four columns, why, and where its evidence stands."""

    applies = forms.ChoiceField(label="Does it apply?", choices=APPLIES, widget=forms.RadioSelect)
    reason = forms.CharField(
        label="Reason for the split",
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was bought, who helped, what you made. Needed where the task does not apply.",
    )
    why = forms.CharField(
        label="Why the split changes",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed when you change the tenths. The old split stays readable.",
    )

    def __init__(self, *args: Any, line: Line | None = None, **more: Any) -> None:
        credit = line.credit if line else None
        start: dict[str, Any] = {"applies": "yes", **rules.NOTHING}
        if line and credit:
            start |= {"applies": "yes" if credit.applies else "no", "reason": credit.reason}
            start |= {column: getattr(credit, column) for column in COLUMNS}
        super().__init__(*args, line=line, initial=start, **more)
        for column in COLUMNS:
            self.fields[column] = forms.TypedChoiceField(
                label=rules.COLUMN_WORDS[column], choices=tenths_choices(), coerce=int
            )
        if credit is None:
            del self.fields["why"]

    @property
    def columns(self) -> list[forms.BoundField]:
        return [self[column] for column in COLUMNS]

    @property
    def given(self) -> int:
        """The tenths as they stand in the form now."""
        return sum(int(value) for column in COLUMNS if (value := str(self[column].value() or 0)).isdigit())

    @property
    def rest(self) -> int:
        return FULL - self.given

    @property
    def values(self) -> dict[str, Any]:
        """What is said, as the command takes it."""
        said = self.cleaned_data
        known = {"reason": said["reason"], "places": self.places, "tenths": {c: said[c] for c in COLUMNS}}
        if "why" in said:
            known["why"] = said["why"]
        return known | {"applies": said["applies"] == "yes"}


@dataclass
class TaskRow:
    """One task on the page of all: what is typed, and what is wrong with it."""

    line: Line
    typed: dict[str, str]
    applies: bool
    error: str = ""
    split: rules.Split | None = None

    @property
    def fields(self) -> list[dict[str, str]]:
        """The four fields for the page."""
        heads = rules.COLUMN_HEADS
        return [
            {"column": column, "head": heads[column], "name": f"{self.line.code}:{column}", "value": self.typed[column]}
            for column in COLUMNS
        ]

    def show(self, split: rules.Split) -> None:
        """Fill in how a task stands; noughts of a task that says nothing are left empty."""
        self.applies = split.applies
        self.typed = {column: str(n) if sum(split.tenths) else "" for column, n in split.by_column.items()}


class AllTasksForm(PlainForm):
    """Every task of the list with its four columns; only those that were changed are kept, with one reason.

    `seen` is what the page showed: what the builder changed is told from it, and what somebody else changed meanwhile.
    """

    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Reason for all that you change here",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed where tenths change that were given before, and where a task does not apply. If reasons "
        "differ, save in between.",
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, sheet: Sheet) -> None:
        super().__init__(data)
        self.sheet = sheet
        self.rows = {line.code: self.row(line) for line in sheet.lines}
        self.changes: dict[str, tuple[rules.Split, rules.Split]] = {}

    def row(self, line: Line) -> TaskRow:
        """A task as it was typed, or as it stands."""
        typed = {column: self.data.get(f"{line.code}:{column}", "") for column in COLUMNS}
        row = TaskRow(line, typed, f"{line.code}:away" not in self.data)
        if not self.is_bound:
            row.show(line.split)
        return row

    @property
    def sections(self) -> list[tuple[SectionLines, list[TaskRow]]]:
        """The tasks in their groups."""
        return [(one, [self.rows[line.code] for line in one.lines]) for one in self.sheet.sections]

    @property
    def wrong(self) -> list[TaskRow]:
        """The tasks that have to be put right."""
        return [row for row in self.rows.values() if row.error]

    @property
    def now(self) -> str:
        """How all tasks stand, to come back with the form."""
        return rules.kept_splits({line.code: line.split for line in self.sheet.lines})

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        shown = rules.splits_kept(said.get("seen", ""))
        for code, row in self.rows.items():
            self.read(row, shown.get(code, rules.Split()))
        if self.changes and not said.get("reason") and "reason" not in self.errors:
            lacking = [code for code, (before, after) in self.changes.items() if before.told or not after.applies]
            if lacking:
                words = f"Say why, for {', '.join(lacking)}. The old split stays readable in the history."
                self.add_error("reason", words)
        if self.wrong:
            self.add_error(None, "Nothing is kept yet. Some tasks need putting right.")
        return said

    def read(self, row: TaskRow, seen: rules.Split) -> None:
        """Take in one task: whether it was changed, and whether it may be so."""
        stands = row.line.split
        try:
            wanted = rules.read_split(row.typed, applies=row.applies)
            if wanted == seen:
                # Somebody else may have changed it: that is what is shown and stays.
                row.show(stands)
                return
            # A missing reason is said once, at its field.
            rules.check_split(wanted.by_column, applies=wanted.applies, reason="said")
        except Refusal as no:
            row.error = no.message
            return
        if wanted == stands:
            return
        self.changes[row.line.code] = (seen, wanted)
        if stands != seen:
            row.error = rules.changed_words(stands)

    def refuse(self, no: Refusal) -> None:
        """Show a refusal at its task, or where it belongs."""
        if no.field in self.rows:
            self.rows[no.field].error = no.message
            self.add_error(None, "Nothing is kept yet. Some tasks need putting right.")
        else:
            super().refuse(no)


class OwnTaskForm(SplitForm):
    """A task that the list does not have."""

    section = forms.ChoiceField(label="Section")
    words = forms.CharField(
        label="What the task is", max_length=rules.LONGEST, help_text="Such as: Fabricate tip floats"
    )

    def __init__(self, *args: Any, sheet: Sheet, section: str = "", **more: Any) -> None:
        super().__init__(*args, **more)
        del self.fields["applies"]
        self.fields["section"].choices = [(one.code, f"{one.code} {one.title}") for one in sheet.sections]  # type: ignore[attr-defined]
        self.fields["section"].initial = section

    @property
    def values(self) -> dict[str, Any]:
        said = self.cleaned_data
        tenths = {column: said[column] for column in COLUMNS}
        known = {"section": said["section"], "words": said["words"], "tenths": tenths}
        return known | {"reason": said["reason"], "places": self.places}


class ListForm(PlainForm):
    """A list of tasks from a file or pasted, with its title, edition and source. What was read is shown first."""

    title = forms.CharField(label="Title", max_length=120)
    edition = forms.CharField(label="Edition", max_length=60, help_text="As the list itself says: a date, a revision.")
    source = forms.CharField(
        label="Where it comes from", max_length=300, help_text="So that a reader can find it again."
    )
    official = forms.BooleanField(
        label="This is the official list of my authority",
        required=False,
        help_text="Only if you typed it from the form.",
    )
    file = forms.FileField(label="CSV file", required=False, allow_empty_file=True)
    text = forms.CharField(
        label="Or paste it here",
        required=False,
        strip=False,
        max_length=LARGEST,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "class": "code"}),
    )

    def __init__(self, data: Mapping[str, Any] | None = None, files: Any = None, **more: Any) -> None:
        # What came as a file is shown as text from then on, so that nothing is lost and lines can be put right here.
        came = files.get("file") if files else None
        if data is not None and came is not None and came.size <= LARGEST:
            data = {**{key: data[key] for key in data}, "text": decoded(came.read())}
        super().__init__(data, files, **more)

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        came = said.get("file")
        if came is not None and came.size > LARGEST:
            self.add_error("file", f"The file has {came.size // 1000} kB; at most {LARGEST // 1000} kB are read.")
        elif not (said.get("text") or "").strip() and "text" not in self.errors:
            self.add_error("text", "Choose a CSV file, or paste the lines.")
        return said

    @property
    def reading(self) -> rules.Reading:
        """What the text holds."""
        return rules.read(self.cleaned_data["text"])

    @property
    def words(self) -> dict[str, Any]:
        """What is said of the list, as the command takes it."""
        return {name: self.cleaned_data[name] for name in ("title", "edition", "source", "official")}


def decoded(data: bytes) -> str:
    """The text of a file, whatever program wrote it."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")
