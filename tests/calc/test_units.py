"""Units of weight: exact factors, and the way there and back."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import units

amounts = st.decimals(0, 100_000, places=4, allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize(
    ("value", "unit", "grams"),
    [
        ("1", "g", "1"),
        ("1", "kg", "1000"),
        ("1", "lb", "453.59237"),
        ("16", "oz", "453.59237"),
        ("0", "lb", "0"),
    ],
)
def test_a_weight_in_grams(value, unit, grams):
    assert units.grams(Decimal(value), unit) == Decimal(grams)


@given(amounts)
def test_sixteen_ounces_are_one_pound(pounds):
    assert units.grams(pounds * 16, "oz") == units.grams(pounds, "lb")


@given(amounts, st.sampled_from(sorted(units.GRAMS)))
def test_there_and_back_gives_the_entered_value(value, unit):
    back = units.from_grams(units.grams(value, unit), unit)
    assert back.quantize(Decimal("0.0001")) == value


def test_an_unknown_unit_is_an_error():
    with pytest.raises(KeyError):
        units.grams(Decimal(1), "stone")
