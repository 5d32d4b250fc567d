"""Figures as people type them."""

from typing import Any

from django import forms


class AnyDecimalField(forms.DecimalField):
    """A decimal written with a point or a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        return super().to_python(value)
