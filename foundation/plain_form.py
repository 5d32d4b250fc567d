"""The form that all others are: it shows a refusal where it belongs."""

from django import forms

from foundation.refusal import Refusal


class PlainForm(forms.Form):
    """A form that shows a refusal at the field that it names, or above all of them."""

    def refuse(self, no: Refusal) -> None:
        """Show why a command wrote nothing."""
        self.add_error(no.field if no.field in self.fields else None, no.message)
