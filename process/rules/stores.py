"""How much of a lot is left, by what was taken from it."""

from dataclasses import dataclass
from fractions import Fraction
from re import fullmatch

from calc import quantities
from calc.trouble import Impossible

# A lot with no more than this share left is low. Common practice: order before the last quarter is begun.
LOW = Fraction(1, 4)
GRAMS, PIECES = "g", "pieces"


@dataclass(frozen=True)
class Left:
    """What is left of a lot, in grams or pieces, of how much."""

    left: Fraction
    whole: Fraction
    unit: str

    @property
    def low(self) -> bool:
        return self.left <= self.whole * LOW

    @property
    def words(self) -> str:
        """Such as "about 400 g of 5000 g left"; less than nothing is told as more taken than came."""
        if self.left < 0:
            return f"{round(-self.left)} {self.unit} more taken than came"
        return f"about {round(self.left)} {self.unit} of {round(self.whole)} {self.unit} left"


def left_of(quantity: str, grams: Fraction, pieces: int) -> Left | None:
    """What is left of a lot of this quantity after so many grams and pieces were taken.

    None for a quantity that is neither a mass nor a count, such as 12 m: nobody writes down how much a layup took.
    """
    counted = fullmatch(r"\s*([0-9]{1,9})\s*(?:pieces?|pcs?\.?|pc|ea|each|off)?\s*", quantity.lower())
    if counted:
        whole = Fraction(int(counted[1]))
        return Left(whole - pieces, whole, PIECES) if whole else None
    try:
        mass = quantities.parse(quantity, "mass").within(GRAMS)
    except Impossible:
        return None
    return Left(mass - grams, mass, GRAMS) if mass > 0 else None
