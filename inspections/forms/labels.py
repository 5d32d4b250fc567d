"""Turning what was chosen for labels and part cards into things, a sheet and an address."""

from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any
from urllib.parse import urlsplit

from django import forms
from django.utils import timezone

from accounts.models import Project
from calc.labels import MOST_NUDGE, Sheet
from evidence.models import Place
from foundation.choosing import offer
from inspections.pages import SHEETS, Job
from parts import queries as parts
from parts.models import Part
from parts.rules import KINDS

ALL, SINCE, TICKED = "all", "since", "ticked"
WHICH = {ALL: "All of these kinds", SINCE: "Of these, what changed since a day", TICKED: "Those ticked"}
NAMES = {
    "assembly": "Assemblies",
    **{kind: f"{word}s" for kind, word in KINDS.items()},
    "bin": "Bins",
    "lot": "Lots",
}
USES = {"labels": "Labels", "cards": "Part cards, to lay in the picture"}
INDENT = "\u2003"
MOST = 2000


def kind_of(thing: Place) -> str:
    """Under which of NAMES a thing is counted."""
    return thing.kind if isinstance(thing, Part) else thing._meta.model_name or ""


class Things:
    """Everything in a project that can wear a label, in the order in which it prints."""

    def __init__(self, project: Project) -> None:
        self.project = project
        self.nodes = parts.tree(project)
        self.rows: list[Place] = [node.assembly for node in self.nodes]
        self.rows += [*parts.parts_of(project), *parts.bins(project), *parts.lots(project)]
        self.rows.sort(key=lambda thing: list(NAMES).index(kind_of(thing)))
        self.by_key = {thing.pk: thing for thing in self.rows}

    def of_kind(self, kind: str) -> list[Place]:
        return [thing for thing in self.rows if kind_of(thing) == kind]

    def kinds(self) -> list[tuple[str, str]]:
        """The kinds that there are, with their number."""
        counted = ((kind, name, len(self.of_kind(kind))) for kind, name in NAMES.items())
        return [(kind, f"{name}, {count}") for kind, name, count in counted if count]

    def choices(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """Every thing by its key, in groups."""
        groups = ((name, self.of_kind(kind)) for kind, name in NAMES.items())
        return [(name, [(thing.pk, words(thing)) for thing in rows]) for name, rows in groups if rows]

    def tree(self) -> list[tuple[str, str]]:
        return [(node.assembly.pk, f"{INDENT * node.depth}{node.assembly}") for node in self.nodes]

    def among(self, kinds: list[str], assembly: str, since: datetime | None) -> Iterator[Place]:
        """The things of these kinds; assemblies and parts only where they hang in `assembly`, if one is given."""
        below = parts.subtree(assembly, parts.parents(self.project)) if assembly else None
        changed = parts.changed_since(self.project, since) if since else None
        for thing in self.rows:
            hangs = thing.assembly_id if isinstance(thing, Part) else thing.pk if kind_of(thing) == "assembly" else None
            inside = below is None or hangs is None or hangs in below
            if kind_of(thing) in kinds and inside and (changed is None or thing.subject in changed):
                yield thing


def words(thing: Place) -> str:
    """A thing with its side and count, as a line of a list."""
    return f"{thing}, {thing.counted}" if isinstance(thing, Part) and thing.counted else str(thing)


class LabelForm(forms.Form):
    """What to print, on which paper, with which address."""

    which = forms.ChoiceField(label="Which ones", choices=list(WHICH.items()), widget=forms.RadioSelect, initial=ALL)
    kinds = forms.MultipleChoiceField(label="Kinds", required=False, widget=forms.CheckboxSelectMultiple)
    assembly = forms.ChoiceField(
        label="Assemblies and parts of", required=False, help_text="With all that hangs below. Bins and lots stay."
    )
    since = forms.DateField(
        label="Added or changed since",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    ticked = forms.MultipleChoiceField(label="One by one", required=False, widget=forms.CheckboxSelectMultiple)
    sheet = forms.ChoiceField(label="Paper", widget=forms.RadioSelect)
    start = forms.IntegerField(
        label="Start at label",
        min_value=1,
        initial=1,
        help_text="On a sheet that is partly used: counted along the rows, from the upper left.",
    )
    copies = forms.IntegerField(label="Copies of each", min_value=1, max_value=20, initial=1)
    outline = forms.BooleanField(
        label="Draw the outlines", required=False, help_text="For a trial on plain paper, and for cutting."
    )
    nudge_x = forms.FloatField(label="Move right, mm", required=False, min_value=-MOST_NUDGE, max_value=MOST_NUDGE)
    nudge_y = forms.FloatField(label="Move down, mm", required=False, min_value=-MOST_NUDGE, max_value=MOST_NUDGE)
    base = forms.CharField(
        label="Address of the shop's server", max_length=200, help_text="As it begins in the address line of a browser."
    )

    # Kept for the next print.
    KEPT = ("sheet", "outline", "nudge_x", "nudge_y", "base")

    def __init__(self, things: Things, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.things = things
        offer(self, "kinds", NAMES.items())
        # Shown are those that there are; any other may come from a page that is some days old.
        self.fields["kinds"].widget.choices = things.kinds()
        offer(self, "assembly", [("", "The whole aircraft"), *things.tree()])
        self.fields["ticked"].choices = things.choices()  # type: ignore[attr-defined]  # in groups
        offer(self, "sheet", [(sheet.key, f"{sheet.name}, {sheet.size}") for sheet in SHEETS.values()])
        for name in ("nudge_x", "nudge_y"):
            self.fields[name].widget.attrs |= {"step": "0.5", "placeholder": "0"}

    def clean_base(self) -> str:
        """The address without what the label adds to it."""
        text = self.cleaned_data["base"]
        try:
            parts_of_it = urlsplit(text)
            said = parts_of_it.scheme in {"http", "https"} and parts_of_it.hostname and (parts_of_it.port or True)
        except ValueError:
            said = False
        rest = said and (parts_of_it.path.strip("/") or parts_of_it.query or parts_of_it.fragment)
        if not said or rest or "@" in parts_of_it.netloc or not text.isascii():
            raise forms.ValidationError("Write it like http://192.168.1.20:8000, without anything behind it.")
        return f"{parts_of_it.scheme}://{parts_of_it.netloc.lower()}"

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if said.get("which") == SINCE and not said.get("since") and "since" not in self.errors:
            self.add_error("since", "Choose the day.")
        if not self.errors and not self.chosen:
            self.add_error(*self.nothing())
        sheet = SHEETS.get(said.get("sheet", ""))
        if sheet and (said.get("start") or 1) > sheet.labels:
            self.add_error("start", f"This sheet has {sheet.labels} label{'s' if sheet.labels > 1 else ''}.")
        if not self.errors and len(self.chosen) * said["copies"] > MOST:
            self.add_error("copies", f"These are more than {MOST:,} labels. Print them in several goes.")
        return said

    def nothing(self) -> tuple[str, str]:
        """What to say where nothing is chosen, and at which field."""
        which = self.cleaned_data["which"]
        if which == TICKED:
            return "ticked", "Tick what wants a label."
        if not self.cleaned_data["kinds"]:
            return "kinds", "Choose one kind at least."
        return (
            ("since", "Nothing was added or changed since.") if which == SINCE else ("assembly", "There is none here.")
        )

    @property
    def chosen(self) -> list[Place]:
        """The things to print, each once, in order."""
        said = self.cleaned_data
        if said["which"] == TICKED:
            return [self.things.by_key[key] for key in self.things.by_key if key in said["ticked"]]
        since = start_of(said["since"]) if said["which"] == SINCE else None
        return list(self.things.among(said["kinds"], said["assembly"], since))

    @property
    def paper(self) -> Sheet:
        return SHEETS[self.cleaned_data["sheet"]]

    @property
    def job(self) -> Job:
        said = self.cleaned_data
        return Job(self.paper, said["start"], said["nudge_x"] or 0.0, said["nudge_y"] or 0.0, said["outline"])

    @property
    def kept(self) -> dict[str, Any]:
        """What is kept for the next print."""
        return {name: self.cleaned_data[name] for name in self.KEPT}


def start_of(day: date) -> datetime:
    """When a day begins on the current clock."""
    return datetime.combine(day, time(), timezone.get_current_timezone())
