"""What is asked of a builder's record before it is made: for whom, in which order, which part."""

from typing import Any

from django import forms

from accounts.models import Project
from certification.models import Pack
from certification.rules import profiles
from foundation.choosing import offer
from foundation.refusal import Refusal
from parts import queries as parts


class PackForm(forms.Form):
    """All of the record for an examiner, by date, unless something else is chosen."""

    profile = forms.ChoiceField(
        label="For",
        choices=list(profiles.PROFILES.items()),
        widget=forms.RadioSelect,
        initial=profiles.EXAMINER,
        required=False,
    )
    order = forms.ChoiceField(
        label="Bookmarks", choices=list(Pack.ORDERS.items()), widget=forms.RadioSelect, initial="date", required=False
    )
    assembly = forms.ChoiceField(label="Only this assembly and what is below it", required=False)
    since = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To", required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        nodes = parts.tree(project)
        self.assemblies = {node.assembly.pk: node.assembly for node in nodes}
        rows = [(node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in nodes]
        offer(self, "assembly", [("", "All of it"), *rows])

    @property
    def values(self) -> dict[str, Any]:
        """What a good form says, as the command takes it."""
        said = dict(self.cleaned_data)
        said |= {"profile": said["profile"] or profiles.EXAMINER, "order": said["order"] or "date"}
        return said | {"assembly": self.assemblies.get(said["assembly"])}

    def refuse(self, no: Refusal) -> None:
        """Show a refusal where it belongs."""
        self.add_error(no.field if no.field in self.fields else None, no.message)
