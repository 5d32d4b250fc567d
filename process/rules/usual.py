"""Values that judge layups and mixes where plan and maker's sheet give none; a project may put its own in place.

Each has its source. `own` maps a key to the project's own value with its source.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Usual:
    """A built-in or own value, with what it is and where it is from."""

    value: Decimal
    unit: str
    words: str
    source: str


MEMORY = "from memory, typical"
USUAL = {
    "fiber_density_carbon": Usual(Decimal("1.78"), "g/cm3", "density of carbon fiber", MEMORY),
    "fiber_density_glass": Usual(Decimal("2.57"), "g/cm3", "density of glass fiber", MEMORY),
    "fiber_density_aramid": Usual(Decimal("1.44"), "g/cm3", "density of aramid fiber", MEMORY),
    "fiber_mass_fraction": Usual(
        Decimal("0.5"), "", "fiber by weight in a hand layup", "FAA AC 43.13-1B para 3-3, about 50:50 by weight"
    ),
    "weight_alarm_percent": Usual(
        Decimal(15),
        "%",
        "how far a weighed part may lie from its estimate",
        "common practice, the builder's own choice",
    ),
    "room_low_degc": Usual(Decimal(15), "°C", "coldest room", "epoxy prepreg processing guide 1-1015, workshop line"),
    "room_high_degc": Usual(Decimal(25), "°C", "warmest room", "epoxy prepreg processing guide 1-1015, workshop line"),
    "room_rh_most": Usual(Decimal(70), "%", "dampest room", "epoxy prepreg processing guide 1-1015, workshop line"),
    "vacuum_least_inhg": Usual(Decimal(22), "inHg", "least vacuum of a bag", "FAA AC 43.13-1B para 3-4 (l)"),
    "drop_most_percent": Usual(
        Decimal(10), "%", "most vacuum lost in 5 minutes", "epoxy prepreg processing guide 1-1015, key points"
    ),
    "mix_window_percent": Usual(
        Decimal(3), "%", "how far a mix may lie from its ratio", "relayed from a resin maker, mailing list, 17 Nov 1999"
    ),
    "resin_per_100_carbon": Usual(
        Decimal(85), "g", "resin for 100 g of carbon cloth", "certified light aeroplane's maintenance manual, 51-00-00"
    ),
    "resin_per_100_glass": Usual(
        Decimal(70), "g", "resin for 100 g of glass cloth", "certified light aeroplane's maintenance manual, 51-00-00"
    ),
}
FIBERS = {"carbon": "carbon", "glass": "glass", "aramid": "aramid", "e-glass": "glass", "s-glass": "glass"}

Own = Mapping[str, Usual]
NONE: Own = {}


def usual(key: str, own: Own = NONE) -> Usual:
    """The project's own value, or else the built-in one."""
    return own.get(key) or USUAL[key]


def fiber_of(cloth: str) -> str:
    """Which fiber a cloth is of by its name: carbon, glass or aramid; empty where the name does not say."""
    plain = cloth.casefold()
    return next((fiber for word, fiber in FIBERS.items() if word in plain), "")
