"""Common practice of one-off composite shops: ranges to expect, and two small shop sums. No published source."""

from collections.abc import Mapping
from types import MappingProxyType

from calc.figures import Figure, exact, positive, whole
from calc.trouble import Impossible
from calc.units import INCH
from calc.verdict import PRACTICE, Rule

SHOPS = "common practice in one-off composite shops; no published source"

RANGE = Rule("what is usual", SHOPS, PRACTICE, valid="The seven things that are known here.")
BRIDGES = Rule(
    "bridge = slot x uncut / cut",
    SHOPS,
    PRACTICE,
    valid="Slots and bridges in turn along one line.",
)
STEP = Rule("step = tape thickness x layers", SHOPS, PRACTICE, caution="Thin foil tape beats cloth tape.")

USUAL: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "small bonded part, total minutes": {"max_min": 30},
        "small part oven cure, minutes": {"typical_min": 8, "accept_from_min": 1, "accept_to_min": 14 * 24 * 60},
        "flush inlet depth, in": {"min_in": 2.25, "max_in": 2.5},
        "fence height, in": {"typical_in": 0.5},
        "overlap strip": {"width_in": 6, "plies": 6},
        "stock sheet plies": {"plies": 10},
        "airspeed, kt CAS": {"kt": 130},
    }
)


def usual(what: str) -> dict[str, float]:
    """What is usual for one of the things known here."""
    wanted = " ".join(what.casefold().split())
    for name, found in USUAL.items():
        if name.casefold() == wanted:
            return dict(found)
    raise Impossible(f"Nothing is known here of “{what[:60]}”; known are: {'; '.join(USUAL)}.", "what", "unknown")


def bridge(slot: Figure, cut: Figure) -> float:
    """Length of the bridge after a slot, in the slot's unit, when `cut` is the fraction of the line that is cut."""
    share = exact(cut, "cut_fraction", above=0, high=1, why="It is a fraction, not a percentage.")
    return float(positive(slot, "slot_in") * (1 - share) / share)


def joint_step(tape: Figure, layers: Figure) -> float:
    """The step that release tape left in a lapped joint opens, in inches; the tape's thickness in mil (0.001 in)."""
    return float(positive(tape, "tape_mil") * whole(layers, "layers", low=1, high=100) / 1000)


def in_mm(inches: float) -> float:
    """Inches in mm."""
    return inches * float(INCH * 1000)
