"""A photo put in place for a process record."""

from datetime import UTC, datetime

from django import forms

from process.rules import words


class ShotForm(forms.Form):
    """The moment and the ply that photos show, and the file's own time where the browser tells it."""

    moment = forms.ChoiceField(
        label="What it shows", choices=[("", "The finished thing"), *words.MOMENTS.items()], required=False
    )
    ply = forms.IntegerField(label="Ply", required=False, min_value=1, max_value=999)
    file_time = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)

    def clean_file_time(self) -> datetime | None:
        """Milliseconds since 1970 UTC; None for what is no such time."""
        try:
            return datetime.fromtimestamp(int(self.cleaned_data["file_time"]) / 1000, UTC)
        except (ValueError, OverflowError, OSError):
            return None
