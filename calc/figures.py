"""Entered numbers as exact fractions, so that no verdict turns on how a computer rounds (rule R41).

A float is taken for the decimal it prints as: 0.1 is one tenth, as it was typed, not the nearest binary fraction.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import floor, isfinite

from calc.trouble import Impossible

type Figure = int | float | Decimal | Fraction

# Nothing in a shop is larger or smaller than this in any unit; what is, is a slip of the keyboard.
MOST_EXPONENT = 15
MOST = 10**MOST_EXPONENT
LEAST_EXPONENT = -60
MOST_DIGITS = 60

# Units that a field's key may end with.
UNIT_TAILS = {"in", "mm", "g", "lb", "kt", "ft", "ft2", "m2", "gsm", "min", "h", "inlb", "inhg", "degC", "degF", "mil"}


def exact(
    value: Figure,
    field: str,
    *,
    above: Figure | None = None,
    low: Figure | None = None,
    high: Figure | None = None,
    why: str = "",
) -> Fraction:
    """The number as a fraction, exactly as typed; refused if it is not more than `above`, or outside `low` to `high`.

    `why` is added to the sentence of a refusal.
    """
    fraction = _fraction(value, field)
    tail = f" {why}" if why else ""
    if above is not None and not fraction > above:
        raise Impossible(f"{named(field)} must be more than {shown(above)}, not {shown(value)}.{tail}", field)
    if low is not None and fraction < low:
        raise Impossible(f"{named(field)} must be {shown(low)} or more, not {shown(value)}.{tail}", field)
    if high is not None and fraction > high:
        raise Impossible(f"{named(field)} must be {shown(high)} or less, not {shown(value)}.{tail}", field)
    return fraction


def positive(value: Figure, field: str, why: str = "") -> Fraction:
    """A number above zero."""
    return exact(value, field, above=0, why=why)


def not_negative(value: Figure, field: str, why: str = "") -> Fraction:
    """A number of zero or more."""
    return exact(value, field, low=0, why=why)


def whole(value: Figure, field: str, low: int = 0, high: int = 10**6) -> int:
    """A whole number, such as a count of plies."""
    fraction = exact(value, field, low=low, high=high)
    if fraction.denominator != 1:
        raise Impossible(f"{named(field)} must be a whole number, not {shown(value)}.", field)
    return int(fraction)


def nearest(value: Fraction) -> int:
    """The nearest whole number, halves up."""
    return floor(value + Fraction(1, 2))


def mean(values: Sequence[Fraction]) -> Fraction:
    """The average of one or more numbers."""
    return sum(values, Fraction(0)) / len(values)


def named(field: str) -> str:
    """A field's key as the beginning of a sentence: "fibre_density" is "Fiber density", "grip_in" is "Grip (in)"."""
    *words, last = field.replace("fibre", "fiber").replace("labour", "labor").split("_")
    tail = f"({last})" if words and last in UNIT_TAILS else last
    said = " ".join([*words, tail]).strip()
    return said[:1].upper() + said[1:]


def shown(value: Figure) -> str:
    """A number for a sentence, without a row of zeros."""
    if isinstance(value, Fraction):
        value = float(value)
    return f"{value:g}" if isinstance(value, float | Decimal) else str(value)[:40]


def rounded(value: Fraction, places: int) -> Decimal:
    """A fraction for display: so many decimals, halves up."""
    return Decimal(nearest(value * 10**places)).scaleb(-places)


def _fraction(value: Figure, field: str) -> Fraction:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | Fraction):
        raise Impossible(f"{named(field)} must be a number.", field, "type")
    if isinstance(value, float):
        if not isfinite(value):
            raise Impossible(f"{named(field)} must be a finite number.", field)
        value = Decimal(repr(value))
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise Impossible(f"{named(field)} must be a finite number.", field)
        digits, exponent = len(value.as_tuple().digits), value.adjusted()
        if value and not (LEAST_EXPONENT < exponent < MOST_EXPONENT and digits <= MOST_DIGITS):
            raise Impossible(f"{named(field)} is too large, too small or too long to be a measurement.", field)
        # Zero has no size, but may carry any exponent.
        return Fraction(value) if value else Fraction(0)
    if abs(value) > MOST:
        raise Impossible(f"{named(field)} is too large to be a measurement.", field)
    return Fraction(value)
