"""Pure decisions about assemblies and parts."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from calc import units
from foundation.refusal import Refusal

STATUSES = {
    "trial": "Trial",
    "mockup": "Mock-up",
    "flight": "Flight",
    "spare": "Spare",
    "scrapped": "Scrapped",
}
# Molds, plugs and templates are made and kept like parts, but do not fly. Common practice.
KINDS = {"part": "Part", "mold": "Mold", "plug": "Plug", "template": "Template"}
# A tool does not fly: what is in use says so.
TOOL_STATUSES = STATUSES | {"flight": "In use"}
SIDES = {"": "No side", "L": "Left", "R": "Right"}
ORIGINS = {"builder": "Made by builder", "kit": "From a kit", "bought": "Bought", "paid": "Made for pay"}


def check_move(node: str, parent: str | None, parents: Mapping[str, str | None]) -> None:
    """Refuse to hang an assembly below itself, below one of its own sub-assemblies, or below one that is gone."""
    check_stands(parent, parents)
    above = parent
    while above is not None:
        if above == node:
            raise Refusal("cycle", "An assembly cannot be part of itself. Choose another place for it.", "parent")
        above = parents.get(above)


def check_stands(assembly: str | None, parents: Mapping[str, str | None]) -> None:
    """Refuse an assembly that was withdrawn while somebody was still looking at it; None is the top of the tree."""
    if assembly is not None and assembly not in parents:
        raise Refusal("no_such_assembly", "This assembly is not there any more. Choose another one.", "assembly")


def step(neighbors: Sequence[str], node: str, up: bool) -> tuple[bool, str | None]:
    """One place up or down among neighbors: whether it moves, and the neighbor it then stands after (None: first)."""
    others = [key for key in neighbors if key != node]
    place = neighbors.index(node) + (-1 if up else 1)
    if not 0 <= place <= len(others):
        return False, None
    return True, others[place - 1] if place else None


def check_count(n: int | None, of: int | None) -> None:
    """Refuse "3 of 2" and half-filled counts."""
    if (n is None) != (of is None):
        raise Refusal("half_count", "Fill in both numbers, as in 1 of 2, or neither.", "n")
    if n is not None and of is not None and not 1 <= n <= of:
        raise Refusal(
            "count_out_of_range", f"{n} of {of} does not exist. The first number runs from 1 to the second.", "n"
        )


# Units a weight may be entered in, and the one each system of units shows it in.
UNITS = {unit: unit for unit in units.GRAMS}
SHOWN_IN = {"si": "g", "us": "lb"}
SHOWN_PLACES = {"si": 1, "us": 3}
# More than any whole aircraft that one person builds at home.
TOO_HEAVY = Decimal(10_000_000)


def check_weight(grams: Decimal | None, field: str) -> None:
    """Refuse a weight that cannot be (rule R42)."""
    if grams is not None and grams < 0:
        raise Refusal("weight_negative", "A weight is zero or more.", field)
    if grams is not None and grams >= TOO_HEAVY:
        raise Refusal("weight_too_great", "This is ten tonnes or more. Check the figure and its unit.", field)


def entered(value: Decimal | None, unit: str) -> str:
    """A weight exactly as it was entered, such as "12.5 lb"; empty for none."""
    return "" if value is None else f"{plain_figure(value)} {unit}"


def converted(grams: Decimal, system: str) -> str:
    """A weight in the project's unit, rounded for reading only."""
    unit = SHOWN_IN[system]
    places = Decimal(1).scaleb(-SHOWN_PLACES[system])
    return f"{units.from_grams(grams, unit).quantize(places, ROUND_HALF_UP):,} {unit}"


def plain_figure(value: Decimal) -> str:
    """A decimal without an exponent or trailing zeros."""
    return format(value.normalize(), "f")


def status_words(kind: str, status: str) -> str:
    """The status of a part as a reader is told; molds, plugs and templates are in use where a part is for flight."""
    return (STATUSES if kind == "part" else TOOL_STATUSES)[status]


# ---- lots of material ----

# A lot that passes its date within so many days is looked at first: time enough for a delivery. Common practice.
SOON_DAYS = 60


def check_lot_dates(made: date | None, opened: date | None, expires: date | None, today: date) -> None:
    """Refuse dates of a lot that cannot be: made, then opened, neither of them after today; not expired when made."""
    if made and made > today:
        raise Refusal("made_later", "This day has not come yet. Check the day it was made.", "made_on")
    if opened and opened > today:
        raise Refusal("opened_later", "This day has not come yet. Leave it empty until the lot is opened.", "opened_on")
    if made and opened and opened < made:
        raise Refusal("opened_before_made", "It was opened before it was made. Check both days.", "opened_on")
    if made and expires and expires < made:
        raise Refusal("expired_before_made", "It expires before it was made. Check both days.", "expires_on")


def lot_state(expires: date | None, today: date) -> str:
    """How a lot stands against the date on its label: "past", "soon", "good", or "" where the label has no date."""
    if expires is None:
        return ""
    if expires < today:
        return "past"
    return "soon" if expires <= today + timedelta(days=SOON_DAYS) else "good"
