"""Own values in place of built-in ones: what may be replaced, and with what."""

from decimal import Decimal

from foundation.refusal import Refusal
from process.rules.usual import USUAL


def check(key: str, value: Decimal, source: str) -> None:
    """Refuse a value that nothing is judged by, one that cannot be, and one without a source."""
    if key not in USUAL:
        raise Refusal("no_such_value", "There is no built-in value of that name.", "key")
    if not source.strip():
        raise Refusal(
            "no_source", "Say where the value is from: the maker's sheet, the plan, with its edition.", "source"
        )
    if value <= 0:
        raise Refusal("impossible", "The value must be more than zero.", "value")
    unit = USUAL[key].unit
    if unit == "%" and key in {"room_rh_most", "drop_most_percent"} and value > 100:
        raise Refusal("impossible", "It is a percentage: at most 100.", "value")
    if key == "fiber_mass_fraction" and value > 1:
        raise Refusal("impossible", "It is a fraction, not a percentage: at most 1.", "value")
