"""Pure decisions about assemblies and parts."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from graphlib import CycleError, TopologicalSorter

from calc import quantities, room, units
from calc.figures import rounded
from calc.times import in_months
from calc.trouble import Impossible
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


# How a part comes from another (its genealogy).
ORIGIN_KINDS = {
    "made_on": "Made on",
    "cut_from": "Cut from",
    "split_from": "Split from",
    "made_from": "Made from",
    "replaces": "Replaces",
}

# How the later part is told from the earlier one.
OFFSPRING_WORDS = {
    "made_on": "made on it",
    "cut_from": "cut from it",
    "split_from": "split from it",
    "made_from": "made from it",
    "replaces": "replaces it",
}
# Along these, what is in the earlier part is in the later one. A mold's own material is not, nor a replaced part's.
HANDED_ON = ("cut_from", "split_from", "made_from")


def check_origin(part: str, source: str, links: Iterable[tuple[str, str]]) -> None:
    """Refuse an origin that closes a ring; `links` are the pairs (part, what it comes from) that stand already."""
    if part == source:
        raise Refusal("own_origin", "A part does not come from itself. Choose another one.", "source")
    graph: dict[str, set[str]] = {}
    for later, earlier in (*links, (part, source)):
        graph.setdefault(later, set()).add(earlier)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError:
        said = "That part comes from this one already, so this one cannot come from it. Look at both pages."
        raise Refusal("ring", said, "source") from None


# The unit that is meant where none was typed, by the project's units.
LENGTH_IN = {"si": "mm", "us": "in"}
AREAL_IN = {"si": "g/m2", "us": "oz/yd2"}


def kept_quantity(text: str, kind: str, unit: str, meant: str, field: str) -> tuple[str, Decimal | None]:
    """What is kept of a typed quantity: the text with its unit, and its figure in `unit` (rule R41).

    Refusal for what is no quantity of this kind; nothing for nothing.
    """
    if not text.strip():
        return "", None
    try:
        found = quantities.parse(text, kind, meant, field)
    except Impossible as no:
        raise Refusal(no.code, no.sentence, field) from None
    bare = not any(sign.isalpha() or sign in "'\"′″" for sign in found.entered)
    return (f"{found.entered} {meant}" if bare else found.entered), rounded(found.within(unit), 8)


# ---- lots of material ----

MATERIALS = {
    "cloth": "Cloth",
    "resin": "Resin",
    "hardener": "Hardener",
    "adhesive": "Adhesive",
    "core": "Core or foam",
    "fastener": "Fasteners",
    "metal": "Metal",
    "wood": "Wood",
    "sealant": "Sealant",
    "paint": "Primer or paint",
    "other": "Other",
}
LOT_STATUSES = {"good": "Good", "hold": "On hold", "used_up": "Used up", "reject": "Rejected"}

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


def check_lot_status(status: str, words: str) -> None:
    """Refuse to put a lot aside without a word why."""
    if status in {"hold", "reject"} and not words.strip():
        raise Refusal("no_reason", "Say why it is on hold or rejected. It stays with the lot.", "status_words")


def lot_state(expires: date | None, today: date) -> str:
    """How a lot stands against its last good day: "past", "soon", "good", or "" where no day is known."""
    if expires is None:
        return ""
    if expires < today:
        return "past"
    return "soon" if expires <= today + timedelta(days=SOON_DAYS) else "good"


@dataclass(frozen=True)
class ShelfLife:
    """How long a lot keeps: its last good day, by which of its dates, and how it stands today."""

    state: str
    expires: date | None
    by: str
    rule: str = room.SHELF_LIFE.words
    source: str = room.SHELF_LIFE.source
    caution: str = room.SHELF_LIFE.caution

    @property
    def open(self) -> bool:
        """Whether nothing is known about how long it keeps."""
        return self.expires is None


LABEL, SEALED, OPENED = "label", "sealed", "opened"
SHELF_WORDS = {
    "": "",
    LABEL: "by the date on its label",
    SEALED: "by the day it was made and the months it keeps sealed",
    OPENED: "by the day it was opened and the months it keeps then",
}


def shelf_life(
    *,
    made: date | None,
    expires: date | None,
    opened: date | None,
    months: int | None,
    months_open: int | None,
    today: date,
) -> ShelfLife:
    """How a lot stands by its label and by its opening, whichever ends first (`calc.room.shelf_life`)."""
    ends: list[tuple[date, str]] = []
    if expires is not None:
        ends.append((expires, LABEL))
    if made is not None and months is not None:
        ends.append((room.shelf_life(made, months, max(made, today)).expires, SEALED))
    if opened is not None and months_open is not None:
        ends.append((in_months(opened, months_open, "months_open"), OPENED))
    if not ends:
        return ShelfLife("", None, "")
    last, by = min(ends)
    return ShelfLife(lot_state(last, today), last, SHELF_WORDS[by])
