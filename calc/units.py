"""Units of weight. The entered value and its unit are kept beside the converted value (rule R41)."""

from decimal import Decimal

# Exact by definition: international yard and pound agreement of 1959, 1 lb = 0.45359237 kg.
GRAMS = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}


def grams(value: Decimal, unit: str) -> Decimal:
    """A weight in grams, exactly. Raises KeyError for a unit that is not in GRAMS."""
    return value * GRAMS[unit]


def from_grams(value: Decimal, unit: str) -> Decimal:
    """Grams in another unit, unrounded."""
    return value / GRAMS[unit]
