"""Quantities as a shop enters them: kept as typed, exact beside it, refused when they could mean two things."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import quantities, units
from calc.quantities import parse
from calc.trouble import Impossible


@pytest.mark.parametrize(
    ("text", "kind", "default", "unit", "value"),
    [
        ("2 1/4", "length", "in", "in", "2.25"),
        ("2-1/4", "length", "in", "in", "2.25"),
        ("2½ in", "length", "", "in", "2.5"),
        ("⅛”", "length", "", "in", "0.125"),
        ('1/8"', "length", "", "in", "0.125"),
        ("5/4 in", "length", "", "in", "1.25"),
        ("2.25 in", "length", "mm", "in", "2.25"),
        (".25 in", "length", "", "in", "0.25"),
        ("57 mm", "length", "in", "mm", "57"),
        ("57mm", "length", "in", "mm", "57"),
        ("3' 4 1/2\"", "length", "", "ft", "3.375"),
        ("3'-4 1/2\"", "length", "", "ft", "3.375"),
        ("9 mil", "length", "", "mil", "9"),
        ("2 lb 11.3 oz", "mass", "", "lb", "2.70625"),
        ("12,5 g", "mass", "", "g", "12.5"),
        ("0,125 kg", "mass", "", "kg", "0.125"),
        ("1200 lb", "mass", "", "lb", "1200"),
        ("98 °F", "temperature", "", "degF", "98"),
        ("-40 F", "temperature", "degC", "degF", "-40"),
        ("−5,5", "temperature", "degC", "degC", "-5.5"),
        ("25 in-lbs", "torque", "", "in-lbf", "25"),
        ("30 ft lb", "torque", "", "ft-lbf", "30"),
        ("5.6 N·m", "torque", "", "N*m", "5.6"),
        ("5.7 oz/yd²", "areal weight", "", "oz/yd2", "5.7"),
        ("22 in Hg", "pressure", "", "inHg", "22"),
        ("3 °C/min", "temperature rate", "", "degC/min", "3"),
        ("1 h 30 min", "time", "", "h", "1.5"),
        ("4 fl oz", "volume", "", "fl oz", "4"),
        ("130 kt", "speed", "", "kt", "130"),
    ],
)
def test_what_a_shop_writes_is_read_exactly_and_kept_as_typed(text, kind, default, unit, value) -> None:
    found = parse(text, kind, default)
    assert (found.entered, found.unit, found.value, found.kind) == (text, unit, Fraction(value), kind)


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "missing", "Enter a value"),
        ("   ", "missing", "Enter a value"),
        ("57", "missing", "unit too"),
        ("abc", "format", "cannot be read"),
        ("1,200 in", "format", "write 1200 or 1.200"),
        ("1.234,5 in", "format", "cannot be read"),
        ("1 200 in", "format", "cannot be read"),
        ("1/0 in", "format", "divided by zero"),
        ("2 5/4 in", "format", "one or more"),
        ("2.5 ft 3 in", "format", "only the last part"),
        ("2 ft 14 in", "format", "12 or more"),
        ("2 in 3 ft", "format", "cannot be read"),
        ("2 ft 3", "format", "cannot be read"),
        ("2 lb", "unknown", "measures mass"),
        ("2 furlongs", "unknown", "not a unit"),
        ("1e3 in", "unknown", "not a unit"),
        ("2 in ?", "format", "cannot be read"),
        ("--2 in", "format", "cannot be read"),
        ("-", "format", "cannot be read"),
        ("9" * 50 + " in", "impossible", "too large"),
        ("9" * 90, "format", "cannot be read"),
        ("٣ in", "format", "cannot be read"),
    ],
)
def test_what_could_mean_two_things_or_nothing_is_refused_with_a_sentence(text, code, words) -> None:
    with pytest.raises(Impossible) as refused:
        parse(text, "length", field="width")
    assert refused.value.code == code and words in refused.value.sentence and refused.value.field == "width"
    assert refused.value.sentence.endswith(".")


def test_no_temperature_is_below_absolute_zero() -> None:
    with pytest.raises(Impossible, match="absolute zero"):
        parse("-500 °F", "temperature")


LAW = settings(deadline=None, max_examples=80)
lengths = st.sampled_from(["in", "ft", "mm", "cm", "m", "mil", "yd"])


@LAW
@given(st.decimals(0, 10_000, places=3), lengths, st.sampled_from([".", ","]), st.sampled_from([" ", ""]))
def test_any_decimal_is_read_exactly_with_a_point_or_a_comma(value, unit, comma, gap) -> None:
    written = f"{value:.4f}".replace(".", comma)
    assert parse(f"{written}{gap}{unit}", "length").value == Fraction(value)


@LAW
@given(st.integers(0, 400), st.integers(1, 31), st.sampled_from([2, 4, 8, 16, 32]), st.sampled_from([" ", "-"]))
def test_inches_and_their_fractions_are_written_and_read_back(whole, top, bottom, gap) -> None:
    value = whole + Fraction(top % bottom, bottom)
    written = quantities.in_inches(value)
    assert "≈" not in written
    assert parse(written.replace(" ", gap), "length", "in").value == value


@LAW
@given(st.fractions(-100, 100, max_denominator=997))
def test_inches_that_are_no_fraction_of_the_rule_say_so(value) -> None:
    written = quantities.in_inches(value)
    back = parse(written.removeprefix("≈ "), "length", "in").value
    assert abs(back - value) <= Fraction(1, 64)
    assert written.startswith("≈") == (back != value)


@LAW
@given(st.integers(0, 500), st.integers(0, 159))
def test_pounds_and_ounces_are_written_and_read_back(pounds, tenths) -> None:
    exact = pounds + Fraction(tenths, 160)
    grams = units.convert(exact, "lb", "g")
    assert parse(quantities.in_pounds_and_ounces(grams), "mass").within("lb") == exact


@LAW
@given(st.decimals(0, 1000, places=2), lengths, lengths)
def test_there_and_back_is_exact_and_keeps_the_order(value, unit, other) -> None:
    found = parse(f"{value} {unit}", "length")
    assert units.convert(found.within(other), other, unit) == found.value
    assert found.si == found.within("m")


@LAW
@given(
    st.text(max_size=30), st.sampled_from(["length", "mass", "temperature", "torque"]), st.sampled_from(["", "in", "g"])
)
def test_any_text_is_read_or_refused_with_a_sentence(text, kind, default) -> None:
    try:
        found = parse(text, kind, default)
    except Impossible as refused:
        assert refused.sentence.endswith(".") and refused.field == "value"
    else:
        assert found.kind == kind and found.entered == " ".join(text.split())


@LAW
@given(st.text(alphabet="0123456789 ./,-'\"inlbftozmg°FC½", max_size=16))
def test_any_scribble_of_a_shop_is_read_or_refused(text) -> None:
    for kind, default in (("length", "in"), ("mass", ""), ("temperature", "degF")):
        try:
            parse(text, kind, default)
        except Impossible as refused:
            assert refused.sentence


def test_display_rounds_and_the_exact_value_stays() -> None:
    found = parse("2 1/4", "length", "in")
    assert found.shown("mm", 1) == "57.2 mm"
    assert found.within("mm") == Fraction(Decimal("57.15"))
