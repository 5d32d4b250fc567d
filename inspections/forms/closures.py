"""What is typed about the project's own closure lists."""

from django import forms

from inspections import rules


class ListForm(forms.Form):
    """A list of what gates of one kind of closure ask."""

    name = forms.CharField(label="Name", max_length=80, help_text="Such as: bonded skin, our way.")
    kind = forms.ChoiceField(label="How it is closed", choices=list(rules.AREA_KINDS.items()), widget=forms.RadioSelect)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class CorrectedListForm(ListForm):
    """The next edition of a list."""

    reason = forms.CharField(label="Why it is corrected", max_length=300, required=False)
