"""A quantity typed with its unit, kept as it was typed beside its figure (rule R41)."""

from decimal import Decimal
from typing import Any, NamedTuple

from django import forms
from django.core.exceptions import ValidationError

from calc.trouble import Impossible
from process.rules import quantities


class Entered(NamedTuple):
    """What was typed, with its unit, and the figure in the unit in which it is kept."""

    text: str
    figure: Decimal | None


NOTHING = Entered("", None)


class QuantityField(forms.CharField):
    """A quantity such as 2 1/4 in, 57 mm, 98 °F. `suffix` is the end of the figure's name: mm, g, degc, inhg...

    Its form says in which unit a bare number is meant (see `process.forms.common.ProcessForm`); until then it is the
    unit of the figure. A field called `x` gives the values `x` and `x_<suffix>`.
    """

    def __init__(self, suffix: str, *, positive: bool = True, zero: bool = False, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("max_length", 40)
        more.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "size": 14}))
        super().__init__(**more)
        self.suffix = suffix
        # Temperatures may lie below zero.
        self.positive = positive and suffix != "degc"
        self.zero = zero
        self.said = self.help_text
        self.mean(quantities.KEPT_IN[suffix])

    def mean(self, unit: str) -> None:
        """Say in which unit a bare number is meant."""
        self.unit = unit
        self.help_text = f"{self.said} In {quantities.written(unit)} unless you write another unit.".strip()

    def clean(self, value: Any) -> Entered:
        typed = super().clean(value)
        if not typed:
            return NOTHING
        try:
            text, exact = quantities.read(typed, self.suffix, self.unit)
        except Impossible as no:
            raise ValidationError(no.sentence, code=no.code) from None
        if self.positive and (exact < 0 or (exact == 0 and not self.zero)):
            raise ValidationError("It must be more than zero.", code="impossible")
        if len(text) > 40:
            raise ValidationError("Write it in fewer signs.", code="too_long")
        return Entered(text, quantities.kept(exact))
