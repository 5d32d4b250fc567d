"""Quantities as they are entered in a shop: `2 1/4`, `2.25 in`, `57 mm`, `2 lb 11.3 oz`, `98 °F`, `12,5 g`.

What was typed is kept, with its unit, beside the exact value (rule R41). Judge by the exact value, never by one that
was rounded for display.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from re import VERBOSE, compile

from calc import units
from calc.figures import exact, rounded
from calc.trouble import Impossible

LONGEST = 60
MARKS = {"'": "ft", '"': "in"}

SINGLE_SIGNS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
SINGLE_SIGNS |= {"−": "-", "–": "-", "⁄": "/", "”": '"', "“": '"', "″": '"', "’": "'", "‘": "'", "′": "'", "\xa0": " "}

NUMBER = r"""
    (?: (?P<whole>[0-9]+) (?:[ ]+ | [ ]*-[ ]*) (?P<mixed_top>[0-9]+) [ ]*/[ ]* (?P<mixed_bottom>[0-9]+)
      | (?P<top>[0-9]+) [ ]*/[ ]* (?P<bottom>[0-9]+)
      | (?P<decimal>[0-9]+[.,][0-9]+ | [.,][0-9]+ | [0-9]+\.?)
    ) (?![0-9.,/])
"""
# A unit begins with a letter or a mark, and a later part of the quantity begins with a digit after it.
UNIT = r"""
    (?P<unit> ["']
      | fl[. ]*oz | in[ ]?Hg | in[ ]?H2O
      | [A-Za-zµμ°]+ (?:[*·⋅/. -]? [A-Za-zµμ°]+[0-9²³]?)* [0-9²³]?
    )?
"""
PART = compile(rf"[ ]*{NUMBER}[ ]*{UNIT}[ ]*", VERBOSE)

# What may follow what in one quantity, and how many of the second make one of the first.
FOLLOWS = {("ft", "in"): 12, ("yd", "ft"): 3, ("lb", "oz"): 16, ("kg", "g"): 1000, ("h", "min"): 60, ("min", "s"): 60}

EXAMPLES = {
    "length": "2 1/4, 2.25 in, 57 mm, 3' 4 1/2\"",
    "mass": "250 g, 2 lb 11.3 oz",
    "temperature": "72 °F, 22.5 °C",
    "torque": "25 in-lb, 30 ft-lb, 5.6 Nm",
    "time": "45 min, 1 h 30 min",
}


@dataclass(frozen=True)
class Quantity:
    """A quantity as it was entered, with its unit, and its exact value in that unit."""

    entered: str
    unit: str
    value: Fraction

    @property
    def kind(self) -> str:
        """What it measures."""
        return units.UNITS[self.unit].kind

    @property
    def si(self) -> Fraction:
        """The exact value in the SI unit of its kind."""
        return units.to_si(self.value, self.unit)

    def within(self, unit: str) -> Fraction:
        """The exact value in another unit of the same kind."""
        return units.convert(self.value, self.unit, unit)

    def shown(self, unit: str, places: int) -> str:
        """For display in another unit: "57.15 mm"."""
        return f"{rounded(self.within(unit), places)} {unit}"


def parse(text: str, kind: str, default: str = "", field: str = "value") -> Quantity:
    """Read a quantity of one kind; without a unit in the text it is in `default`, and refused where there is none.

    A comma is a decimal comma; where it could also part thousands, as in 1,200, the entry is refused. Parts such as
    pounds and ounces must fall in size, and only the last may have decimals or a fraction.
    """
    entered = " ".join(text.split())
    if not entered:
        raise Impossible(f"Enter a value{_such(kind)}.", field, "missing")
    plain = entered[: LONGEST + 1]
    for sign, meant in SINGLE_SIGNS.items():
        plain = plain.replace(sign, meant)
    plain = plain.strip()
    if len(entered) > LONGEST:
        raise _unread(entered, kind, field)
    negative = plain.startswith("-")
    plain = plain.removeprefix("-").removeprefix("+")
    parts: list[tuple[Fraction, units.Unit | None]] = []
    at = 0
    while at < len(plain):
        found = PART.match(plain, at)
        if found is None:
            raise _unread(entered, kind, field)
        name = found["unit"]
        unit = units.unit(MARKS.get(name, name), field) if name else None
        parts.append((_number(found.groupdict(), entered, field), unit))
        at = found.end()
        # 3'-4 1/2": the hyphen parts feet from inches.
        if plain[at : at + 1] == "-" and at + 1 < len(plain):
            at += 1
    if not parts:
        raise _unread(entered, kind, field)
    value, unit = _together(parts, default, entered, kind, field)
    if unit.kind != kind:
        raise Impossible(f"{unit.name} measures {unit.kind}; enter a {kind}{_such(kind)}.", field, "unknown")
    value = exact(-value if negative else value, field)
    if kind == "temperature":
        units.kelvin(value, unit.name, field)
    return Quantity(entered, unit.name, value)


def _together(
    parts: list[tuple[Fraction, units.Unit | None]], default: str, entered: str, kind: str, field: str
) -> tuple[Fraction, units.Unit]:
    """The sum of the parts in the unit of the first."""
    value, first = parts[0]
    if first is None:
        if len(parts) > 1:
            raise _unread(entered, kind, field)
        if not default:
            raise Impossible(f"Enter the unit too{_such(kind)}.", field, "missing")
        return value, units.unit(default, field)
    before, scale = first, Fraction(1)
    for number, (amount, unit) in enumerate(parts[1:], start=1):
        if unit is None or (before.name, unit.name) not in FOLLOWS:
            raise _unread(entered, kind, field)
        count = FOLLOWS[before.name, unit.name]
        if parts[number - 1][0].denominator != 1:
            raise Impossible(f"In “{entered}” only the last part may have decimals or a fraction.", field, "format")
        if amount >= count:
            sentence = f"In “{entered}” the {unit.name} come to {count} or more, which is one {before.name}: check it."
            raise Impossible(sentence, field, "format")
        scale *= count
        value += amount / scale
        before = unit
    return value, first


def _number(found: dict[str, str | None], entered: str, field: str) -> Fraction:
    decimal = found["decimal"]
    if decimal is not None:
        whole, comma, after = decimal.partition(",")
        if comma and len(after) == 3 and whole.lstrip("0"):
            raise Impossible(
                f"“{entered}” can be read in two ways: write {whole}{after} or {whole}.{after}.", field, "format"
            )
        return Fraction(Decimal(decimal.replace(",", ".")))
    top, bottom = found["mixed_top"] or found["top"], found["mixed_bottom"] or found["bottom"]
    if top is None or bottom is None:
        raise ValueError("a number is a decimal or a fraction")
    if not int(bottom):
        raise Impossible(f"In “{entered}” something is divided by zero.", field, "format")
    part = Fraction(int(top), int(bottom))
    if found["whole"] is None:
        return part
    if part >= 1:
        raise Impossible(f"In “{entered}” the fraction is one or more: check it.", field, "format")
    return int(found["whole"]) + part


def _unread(entered: str, kind: str, field: str) -> Impossible:
    return Impossible(f"“{entered[:LONGEST]}” cannot be read; write a {kind}{_such(kind)}.", field, "format")


def _such(kind: str) -> str:
    return f", such as {EXAMPLES[kind]}" if kind in EXAMPLES else ""


def in_inches(value: Fraction, finest: int = 32) -> str:
    """Inches as a shop writes them, to the nearest 1/32 or what is finest: "2 1/4", with ≈ when that is not exact."""
    nearest = Fraction(round(value * finest), finest)
    mark = "" if nearest == value else "≈ "
    sign, size = "-" if nearest < 0 else "", abs(nearest)
    whole, part = divmod(size, 1)
    words = " ".join(str(one) for one in (whole if whole or not part else None, part or None) if one is not None)
    return f"{mark}{sign}{words}"


def in_pounds_and_ounces(grams: Fraction, places: int = 1) -> str:
    """A weight as a shop writes it: "2 lb 11.3 oz"."""
    ounces = rounded(units.convert(grams, "g", "oz"), places)
    sign, size = "-" if ounces < 0 else "", abs(ounces)
    pounds, rest = divmod(size, 16)
    return f"{sign}{f'{pounds:.0f} lb ' if pounds else ''}{rest:.{places}f} oz"
