"""Units of the shop and exact ways between them. The entered value and its unit stay beside the converted one (R41).

Factors are exact where the unit is defined exactly: inch, pound and nautical mile by international agreement, the
others from them, from 9.80665 m/s2 and from the definitions of the SI (NIST Special Publication 811, 2008 edition,
appendix B; BIPM, The International System of Units, 9th edition). Inches of mercury and of water are the conventional
ones (NIST SP 811: mercury of 13 595.1 kg/m3, water of 1000 kg/m3). Gallons and fluid ounces are US ones.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from calc.figures import Figure, exact
from calc.trouble import Impossible
from calc.verdict import MEMORY, Rule

# Exact by definition: international yard and pound agreement of 1959, 1 lb = 0.45359237 kg.
GRAMS = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}

CONVERT = Rule(
    "exact factors; temperatures with their zero, rates and differences without it",
    "NIST SP 811 (2008), appendix B; BIPM SI brochure, 9th edition",
    MEMORY,
    valid="Units of the same kind; temperatures from absolute zero up.",
    caution="Keep what was entered beside what it converts to, and judge by what was entered.",
)

INCH = Fraction(254, 10_000)
FOOT = 12 * INCH
YARD = 3 * FOOT
POUND = Fraction(45_359_237, 10**8)
OUNCE = POUND / 16
GRAVITY = Fraction(980_665, 10**5)
POUND_FORCE = POUND * GRAVITY
NAUTICAL_MILE = Fraction(1852)
MILE = 1760 * YARD
GALLON = 231 * INCH**3
DEGREE_F = Fraction(5, 9)
ICE_POINT = Fraction(27_315, 100)
MERCURY = Fraction(135_951, 10) * GRAVITY
WATER = 1000 * GRAVITY
HORSEPOWER = 550 * FOOT * POUND_FORCE


@dataclass(frozen=True)
class Unit:
    """One unit: the kind of quantity it measures, its size and its zero in the SI unit of that kind."""

    name: str
    kind: str
    size: Fraction
    zero: Fraction = Fraction(0)


def grams(value: Decimal, unit: str) -> Decimal:
    """A weight in grams, exactly. Raises KeyError for a unit that is not in GRAMS."""
    return value * GRAMS[unit]


def from_grams(value: Decimal, unit: str) -> Decimal:
    """Grams in another unit, unrounded."""
    return value / GRAMS[unit]


def _sizes() -> dict[str, dict[str, Fraction]]:
    """Every kind of quantity with its units, in SI."""
    one = Fraction(1)
    length = {
        "m": one,
        "cm": one / 100,
        "mm": one / 1000,
        "um": one / 10**6,
        "km": one * 1000,
        "in": INCH,
        "ft": FOOT,
        "yd": YARD,
        "mil": INCH / 1000,
        "mi": MILE,
        "nmi": NAUTICAL_MILE,
    }
    mass = {
        "kg": one,
        "g": one / 1000,
        "mg": one / 10**6,
        "t": one * 1000,
        "lb": POUND,
        "oz": OUNCE,
        "slug": POUND_FORCE / FOOT,
    }
    time = {"s": one, "min": one * 60, "h": one * 3600, "d": one * 86_400}
    volume = {
        "m3": one,
        "L": one / 1000,
        "mL": one / 10**6,
        "cm3": one / 10**6,
        "in3": INCH**3,
        "ft3": FOOT**3,
        "yd3": YARD**3,
        "gal": GALLON,
        "qt": GALLON / 4,
        "pt": GALLON / 8,
        "fl oz": GALLON / 128,
    }
    degrees = {"degC": one, "K": one, "degF": DEGREE_F, "degR": DEGREE_F}
    force = {"N": one, "kN": one * 1000, "lbf": POUND_FORCE, "ozf": POUND_FORCE / 16, "kgf": GRAVITY}
    return {
        "length": length,
        "area": {f"{name}2": length[name] ** 2 for name in ("m", "cm", "mm", "in", "ft", "yd")},
        "volume": volume,
        "mass": mass,
        "time": time,
        "force": force,
        "torque": {
            "N*m": one,
            "N*cm": one / 100,
            "kgf*m": GRAVITY,
            "kgf*cm": GRAVITY / 100,
            "in-lbf": POUND_FORCE * INCH,
            "ft-lbf": POUND_FORCE * FOOT,
            "in-ozf": POUND_FORCE / 16 * INCH,
        },
        "mass moment": {
            "kg*m": one,
            "kg*mm": one / 1000,
            "g*mm": one / 10**6,
            "lb*in": POUND * INCH,
            "lb*ft": POUND * FOOT,
        },
        "pressure": {
            "Pa": one,
            "hPa": one * 100,
            "kPa": one * 1000,
            "MPa": one * 10**6,
            "mbar": one * 100,
            "bar": one * 10**5,
            "atm": one * 101_325,
            "torr": Fraction(101_325, 760),
            "psi": POUND_FORCE / INCH**2,
            "psf": POUND_FORCE / FOOT**2,
            "inHg": MERCURY * INCH,
            "mmHg": MERCURY / 1000,
            "inH2O": WATER * INCH,
            "mmH2O": WATER / 1000,
        },
        "areal weight": {
            "kg/m2": one,
            "g/m2": one / 1000,
            "oz/yd2": OUNCE / YARD**2,
            "oz/ft2": OUNCE / FOOT**2,
            "lb/ft2": POUND / FOOT**2,
        },
        "density": {
            "kg/m3": one,
            "g/cm3": one * 1000,
            "kg/L": one * 1000,
            "g/mL": one * 1000,
            "g/L": one,
            "lb/ft3": POUND / FOOT**3,
            "lb/in3": POUND / INCH**3,
            "lb/gal": POUND / GALLON,
            "oz/in3": OUNCE / INCH**3,
        },
        "temperature rate": {
            f"{degree}/{clock}": degrees[degree] / time[clock]
            for degree in ("degC", "degF", "K")
            for clock in ("s", "min", "h")
        },
        "temperature difference": {f"delta {degree}": degrees[degree] for degree in ("degC", "degF", "K")},
        "speed": {
            "m/s": one,
            "km/h": Fraction(1000, 3600),
            "kt": NAUTICAL_MILE / 3600,
            "mph": MILE / 3600,
            "ft/s": FOOT,
            "ft/min": FOOT / 60,
            "m/min": one / 60,
        },
        "flow": {
            "m3/s": one,
            "L/min": one / 60_000,
            "L/h": one / 3_600_000,
            "mL/min": one / (60 * 10**6),
            "gal/h": GALLON / 3600,
            "gal/min": GALLON / 60,
            "ft3/min": FOOT**3 / 60,
        },
        "power": {"W": one, "kW": one * 1000, "hp": HORSEPOWER},
    }


def _units() -> dict[str, Unit]:
    """Every unit by its name."""
    units = {name: Unit(name, kind, size) for kind, sizes in _sizes().items() for name, size in sizes.items()}
    ice_f = ICE_POINT - 32 * DEGREE_F
    return units | {
        "K": Unit("K", "temperature", Fraction(1)),
        "degC": Unit("degC", "temperature", Fraction(1), ICE_POINT),
        "degF": Unit("degF", "temperature", DEGREE_F, ice_f),
        "degR": Unit("degR", "temperature", DEGREE_F),
    }


UNITS: Mapping[str, Unit] = _units()

DEGREES = [("C", "degC"), ("F", "degF"), ("°C", "degC"), ("°F", "degF"), ("degC", "degC"), ("degF", "degF"), ("K", "K")]
CLOCKS = [("s", "s"), ("sec", "s"), ("min", "min"), ("minute", "min"), ("h", "h"), ("hr", "h"), ("hour", "h")]

# Other ways in which the same units are written; read without regard to case where that is not ambiguous.
SPELLINGS = {
    **dict.fromkeys(('"', "inch", "inches"), "in"),
    **dict.fromkeys(("'", "foot", "feet"), "ft"),
    **dict.fromkeys(("yard", "yards"), "yd"),
    **dict.fromkeys(("mils", "thou"), "mil"),
    **dict.fromkeys(("µm", "micron", "microns"), "um"),
    **dict.fromkeys(("nm", "NM", "nautical mile", "nautical miles"), "nmi"),
    **dict.fromkeys(("mile", "miles"), "mi"),
    **dict.fromkeys(("meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("gram", "grams"), "g"),
    **dict.fromkeys(("kilogram", "kilograms", "kilo", "kilos"), "kg"),
    **dict.fromkeys(("lbs", "pound", "pounds", "lbm"), "lb"),
    **dict.fromkeys(("ounce", "ounces"), "oz"),
    **dict.fromkeys(("gallon", "gallons", "US gal", "USgal"), "gal"),
    **{f"{square}{name}": f"{name}2" for square in ("sq ", "sq. ", "sq") for name in ("in", "ft", "yd", "m")},
    **dict.fromkeys(("tonne", "tonnes", "metric ton"), "t"),
    **dict.fromkeys(("floz", "fl.oz", "fl. oz", "fl-oz"), "fl oz"),
    **dict.fromkeys(("l", "liter", "liters", "litre", "litres"), "L"),
    **dict.fromkeys(("ml", "milliliter", "milliliters"), "mL"),
    **dict.fromkeys(("cc", "ccm"), "cm3"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("minute", "minutes", "mins"), "min"),
    **dict.fromkeys(("hr", "hrs", "hour", "hours"), "h"),
    **dict.fromkeys(("day", "days"), "d"),
    **dict.fromkeys(("Nm", "N m", "N-m", "N.m"), "N*m"),
    **dict.fromkeys(("Ncm", "N cm", "N-cm"), "N*cm"),
    **dict.fromkeys(("in-lb", "in-lbs", "inlb", "inlbf", "in lb", "in lbf", "in*lbf", "in*lb"), "in-lbf"),
    **dict.fromkeys(("lbf*in", "lbf-in", "lbf in", "lb-in", "inch-pounds", "inch-pound", "in.-lb"), "in-lbf"),
    **dict.fromkeys(("ft-lb", "ft-lbs", "ftlb", "ftlbf", "ft lb", "ft lbf", "ft*lbf", "ft*lb"), "ft-lbf"),
    **dict.fromkeys(("lbf*ft", "lbf-ft", "lbf ft", "lb-ft", "foot-pounds", "foot-pound"), "ft-lbf"),
    **dict.fromkeys(("in-oz", "inoz", "oz-in", "ozf-in", "ozf*in"), "in-ozf"),
    **dict.fromkeys(("kgm", "kgf m", "kgf-m"), "kgf*m"),
    **dict.fromkeys(("kgcm", "kgf cm", "kgf-cm"), "kgf*cm"),
    **dict.fromkeys(("in Hg", "in-Hg", "inches of mercury"), "inHg"),
    **dict.fromkeys(("mm Hg",), "mmHg"),
    **dict.fromkeys(("in H2O", "inches of water", "inwc"), "inH2O"),
    **dict.fromkeys(("lbf/in2", "lb/in2"), "psi"),
    **dict.fromkeys(("lbf/ft2",), "psf"),
    **dict.fromkeys(("gsm",), "g/m2"),
    **dict.fromkeys(("osy", "oz/sq yd"), "oz/yd2"),
    **dict.fromkeys(("g/cc",), "g/cm3"),
    **dict.fromkeys(("pcf",), "lb/ft3"),
    **dict.fromkeys(("C", "°C", "deg C", "celsius"), "degC"),
    **dict.fromkeys(("F", "°F", "deg F", "fahrenheit"), "degF"),
    **dict.fromkeys(("kelvin",), "K"),
    **dict.fromkeys(("R", "°R", "rankine"), "degR"),
    **{f"{mark}/{spelled}": f"{degree}/{clock}" for mark, degree in DEGREES for spelled, clock in CLOCKS},
    **{f"delta_{degree}": f"delta {degree}" for degree in ("degC", "degF", "K")},
    **dict.fromkeys(("kts", "kn", "knot", "knots"), "kt"),
    **dict.fromkeys(("kph", "kmh"), "km/h"),
    **dict.fromkeys(("fps",), "ft/s"),
    **dict.fromkeys(("fpm",), "ft/min"),
    **dict.fromkeys(("gph", "gal/hr"), "gal/h"),
    **dict.fromkeys(("gpm",), "gal/min"),
    **dict.fromkeys(("cfm",), "ft3/min"),
}  # fmt: skip


def _folded() -> dict[str, str]:
    """Every spelling in lower case that means one unit only."""
    found: dict[str, set[str]] = {}
    for spelled, name in [*SPELLINGS.items(), *((name, name) for name in UNITS)]:
        found.setdefault(spelled.casefold(), set()).add(name)
    # A small m and a large M differ by a thousand millions.
    return {spelled: names.pop() for spelled, names in found.items() if len(names) == 1 and spelled != "mpa"}


FOLDED = _folded()
PLAIN = str.maketrans(
    {"·": "*", "⋅": "*", "×": "*", "²": "2", "³": "3", "º": "°", "″": '"', "′": "'", "μ": "µ", "^": None}
)


def unit(text: str, field: str = "unit", kind: str | None = None) -> Unit:
    """The unit that a text names, of the given kind if one is asked for. Never guessed from the size of a number."""
    plain = " ".join(text.translate(PLAIN).split())
    name = plain if plain in UNITS else SPELLINGS.get(plain) or FOLDED.get(plain.casefold())
    if name is None:
        raise Impossible(f"“{text[:40]}” is not a unit that is known here.", field, "unknown")
    found = UNITS[name]
    if kind and found.kind != kind:
        raise Impossible(f"{found.name} measures {found.kind}, and a unit of {kind} is needed here.", field, "unknown")
    return found


def to_si(value: Figure, source: str, field: str = "value", unit_field: str = "unit") -> Fraction:
    """A value in the SI unit of its kind, exactly. Temperatures below absolute zero are refused."""
    found = unit(source, unit_field)
    return _above_zero(exact(value, field) * found.size + found.zero, found, field)


def from_si(value: Fraction, target: str, unit_field: str = "unit") -> Fraction:
    """A value of the SI unit in another unit of the same kind, exactly."""
    found = unit(target, unit_field)
    return (value - found.zero) / found.size


def convert(value: Figure, source: str, target: str) -> Fraction:
    """A value in another unit of the same kind, exactly.

    Temperatures carry their zero; rates ("degC/min") and differences ("delta degC") do not.
    """
    here, there = unit(source, "from"), unit(target, "to")
    if here.kind != there.kind:
        raise Impossible(
            f"{here.name} measures {here.kind} and {there.name} {there.kind}: no conversion leads there.", "to"
        )
    return (_above_zero(exact(value, "value") * here.size + here.zero, here, "value") - there.zero) / there.size


def convert_difference(value: Figure, source: str, target: str, field: str = "value") -> Fraction:
    """A difference of two temperatures in another unit: 3 degC are 5.4 degF, without the 32."""
    here, there = degrees(source, "from"), degrees(target, "to")
    return exact(value, field) * here.size / there.size


def degrees(text: str, field: str = "unit") -> Unit:
    """The unit of temperature that a text names."""
    return unit(text, field, "temperature")


def kelvin(value: Figure, source: str, field: str) -> Fraction:
    """A temperature in kelvin, exactly; refused below absolute zero."""
    found = degrees(source)
    return _above_zero(exact(value, field) * found.size + found.zero, found, field)


def _above_zero(value: Fraction, found: Unit, field: str) -> Fraction:
    if found.kind == "temperature" and value < 0:
        raise Impossible("No temperature lies below absolute zero.", field)
    return value
