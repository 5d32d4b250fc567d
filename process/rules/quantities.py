"""Quantities of process records: which kind and unit a field's name ends with, and the exact value of what was typed.

Verdicts read what was typed, so that no rounding of the kept figure turns a pass into a fail (rule R41).
"""

from decimal import Decimal
from fractions import Fraction

from calc import quantities
from calc.figures import rounded
from calc.units import UNITS

# By the end of a figure's name: the unit it is kept in. Vacuum is inches of mercury below ambient.
KEPT_IN = {
    "mm": "mm",
    "g": "g",
    "degc": "degC",
    "inhg": "inHg",
    "inlb": "in-lbf",
    "in": "in",
    "gsm": "g/m2",
    "m2": "m2",
}
# What is meant where no unit was typed, by the project's units.
MEANT = {
    "si": KEPT_IN | {"inlb": "N*m", "in": "mm"},
    "us": KEPT_IN | {"mm": "in", "degc": "degF", "m2": "ft2", "gsm": "oz/yd2"},
}
# How a unit is written on a page, and read back again.
WRITTEN = {
    "degC": "°C",
    "degF": "°F",
    "in-lbf": "in-lb",
    "ft-lbf": "ft-lb",
    "N*m": "N·m",
    "g/m2": "g/m²",
    "oz/yd2": "oz/yd²",
    "m2": "m²",
    "ft2": "ft²",
}
PLACES = 8


def kind_of(suffix: str) -> str:
    """What a figure with this end of its name measures."""
    return UNITS[KEPT_IN[suffix]].kind


def written(unit: str) -> str:
    return WRITTEN.get(unit, unit)


def meant(suffix: str, units: str) -> str:
    """The unit that is meant where none was typed, in a project with these units."""
    return MEANT[units][suffix]


def read(text: str, suffix: str, default: str, field: str = "value") -> tuple[str, Fraction]:
    """What is kept of typed text, with its unit, and its exact value in the unit of the figure. Raises Impossible."""
    found = quantities.parse(text, kind_of(suffix), default, field)
    entered = found.entered if has_unit(found.entered) else f"{found.entered} {written(default)}"
    return entered, found.within(KEPT_IN[suffix])


def has_unit(text: str) -> bool:
    return any(sign.isalpha() or sign in "°\"'”“″′’‘" for sign in text)


def kept(value: Fraction) -> Decimal:
    """The exact value as it is kept for sums and searches."""
    return rounded(value, PLACES)


def exact(text: str, suffix: str) -> Fraction | None:
    """The exact value of a kept text in the unit of the figure; None where there is none."""
    return read(text, suffix, "")[1] if text else None


def size(text: str, suffix: str) -> Fraction:
    """The exact value of a kept text that is there."""
    return read(text, suffix, "")[1]


def plain(value: Decimal) -> str:
    """A number without trailing zeros."""
    return format(value.normalize(), "f")
