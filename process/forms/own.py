"""What is typed about an own value."""

from django import forms

from foundation.plain_form import PlainForm
from process.forms.common import NumberField


class OwnValueForm(PlainForm):
    """A value with its source. A value that stood before is changed with a reason."""

    value = NumberField(label="Value", required=True, max_digits=14, decimal_places=4)
    source = forms.CharField(
        label="Where it is from",
        max_length=200,
        help_text="The maker's sheet, the plan or the manual, with its edition.",
    )
    reason = forms.CharField(
        label="Why it changes", required=False, max_length=400, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: object, changes: bool, **more: object) -> None:
        super().__init__(*args, **more)  # type: ignore[arg-type]
        if not changes:
            del self.fields["reason"]
