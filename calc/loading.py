"""Loading: every way in which an aircraft may be loaded, its most forward and most aft center of gravity, and limits.

Weights in one unit, arms in one unit from one datum, forward of it negative.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import isqrt

from calc.figures import Figure, exact, not_negative, positive
from calc.trouble import Impossible
from calc.verdict import MEMORY, Rule

EXTREMES = Rule(
    "the most forward case holds the least of everything and then fills from the front while that moves the center "
    "forward; the most aft case from the rear",
    "standard adverse loading check; FAA-H-8083-1 treats it under adverse-loaded center of gravity checks",
    MEMORY,
    valid="Items between a least and a most weight; one limit of the whole weight.",
    caution="Limits, arms and seats come from the aircraft's own papers. Weigh it, and check the case you fly.",
)
ENVELOPE = Rule(
    "at every weight the center of gravity lies between the forward and the aft limit",
    "standard weight-and-balance arithmetic",
    MEMORY,
    valid="Limits as straight lines between points (weight, arm).",
    caution="Limits come from the designer's own papers; where they and this differ, the papers win.",
)


@dataclass(frozen=True)
class Item:
    """Something that is loaded at one arm, between a least and a most weight."""

    name: str
    arm: Fraction
    least: Fraction
    most: Fraction


def item(name: str, arm: Figure, most: Figure, least: Figure = 0) -> Item:
    """An item whose least is not above its most."""
    low, high = not_negative(least, "least"), not_negative(most, "most")
    if low > high:
        raise Impossible(f"{name}: the least is above the most.", "least")
    return Item(name, exact(arm, "arm"), low, high)


@dataclass(frozen=True)
class Loading:
    """One case: what is aboard, with weight, moment and arm of the whole."""

    weights: tuple[tuple[str, Fraction], ...]
    weight: Fraction
    moment: Fraction

    @property
    def arm(self) -> Fraction:
        return self.moment / self.weight


@dataclass(frozen=True)
class Aircraft:
    """The empty aircraft with what may be loaded, and the most it may weigh."""

    weight: Fraction
    arm: Fraction
    items: tuple[Item, ...]
    most: Fraction

    @property
    def lightest(self) -> Fraction:
        return self.weight + sum((one.least for one in self.items), Fraction(0))

    @property
    def heaviest(self) -> Fraction:
        """All that can be aboard without going over the limit."""
        return min(self.most, self.weight + sum((one.most for one in self.items), Fraction(0)))


def aircraft(weight: Figure, arm: Figure, items: Iterable[Item], most: Figure) -> Aircraft:
    """An aircraft that can be loaded at all. Raises Impossible where its least load is over the limit already."""
    found = Aircraft(positive(weight, "weight"), exact(arm, "arm"), tuple(items), positive(most, "most"))
    if found.lightest > found.most:
        raise Impossible("With the least of every item aboard it is over its most weight already.", "most")
    return found


def frontier(craft: Aircraft, *, aft: bool) -> list[Loading]:
    """The corners of what can be reached on one side: at every weight the most forward, or most aft, loading.

    Between neighboring corners one item is filled; weights ascend. Its lightest corner is the same on both sides.
    """
    aboard = {one.name: one.least for one in craft.items}
    corners = [case(craft, aboard)]
    room = craft.heaviest - craft.lightest
    for one in sorted(craft.items, key=lambda one: (-one.arm if aft else one.arm, one.name)):
        more = min(one.most - one.least, room)
        if more:
            aboard[one.name] += more
            room -= more
            corners.append(case(craft, aboard))
    return corners


def case(craft: Aircraft, aboard: dict[str, Fraction]) -> Loading:
    """The aircraft with these weights aboard."""
    weights = tuple((one.name, aboard[one.name]) for one in craft.items)
    weight = craft.weight + sum(aboard.values(), Fraction(0))
    moment = craft.weight * craft.arm + sum((aboard[one.name] * one.arm for one in craft.items), Fraction(0))
    return Loading(weights, weight, moment)


def most_forward(craft: Aircraft) -> Loading:
    """The case with the least arm of all."""
    return min(frontier(craft, aft=False), key=lambda one: one.arm)


def most_aft(craft: Aircraft) -> Loading:
    """The case with the greatest arm of all."""
    return max(frontier(craft, aft=True), key=lambda one: one.arm)


@dataclass(frozen=True)
class Line:
    """A limit as straight lines between points (weight, arm), weights ascending."""

    points: tuple[tuple[Fraction, Fraction], ...]

    def at(self, weight: Fraction) -> Fraction | None:
        """The limit at a weight; None outside its points."""
        for (low, arm), (high, end) in pairwise(self.points):
            if low <= weight <= high:
                return arm if low == high else arm + (end - arm) * (weight - low) / (high - low)
        return None


def line(points: Sequence[tuple[Figure, Figure]]) -> Line:
    """A limit of at least two points; weights must ascend."""
    found = tuple((positive(weight, "weight"), exact(arm, "arm")) for weight, arm in points)
    if len(found) < 2:
        raise Impossible("A limit needs two points at least.", "points", "missing")
    if any(low >= high for (low, _), (high, _) in pairwise(found)):
        raise Impossible("The weights of a limit must ascend.", "points", "backward")
    return Line(found)


@dataclass(frozen=True)
class Envelope:
    """The limits: forward and aft over the same weights."""

    forward: Line
    aft: Line


def envelope(forward: Sequence[tuple[Figure, Figure]], aft: Sequence[tuple[Figure, Figure]]) -> Envelope:
    """Limits that lie the right way round. Raises Impossible for others."""
    found = Envelope(line(forward), line(aft))
    ends = [(one.points[0][0], one.points[-1][0]) for one in (found.forward, found.aft)]
    if ends[0] != ends[1]:
        raise Impossible("Both limits must begin and end at the same weights.", "points")
    for weight in {weight for one in (found.forward, found.aft) for weight, _ in one.points}:
        ahead, behind = found.forward.at(weight), found.aft.at(weight)
        if ahead is None or behind is None or ahead >= behind:
            raise Impossible(f"At {float(weight):g} the forward limit is not ahead of the aft one.", "points")
    return found


@dataclass(frozen=True)
class Place:
    """Where a loading lies against the limits: room is negative past a limit, None off the limits' weights."""

    loading: Loading
    room_forward: Fraction | None
    room_aft: Fraction | None
    room_weight: Fraction

    @property
    def inside(self) -> bool:
        return all(room is not None and room >= 0 for room in (self.room_forward, self.room_aft, self.room_weight))


def place(limits: Envelope, most: Fraction, loading: Loading) -> Place:
    """A loading against the limits and the most weight."""
    ahead, behind = limits.forward.at(loading.weight), limits.aft.at(loading.weight)
    return Place(
        loading,
        None if ahead is None else loading.arm - ahead,
        None if behind is None else behind - loading.arm,
        most - loading.weight,
    )


def worst(limits: Envelope, craft: Aircraft) -> tuple[Place, Place]:
    """The cases that come nearest to, or farthest past, the forward and the aft limit, among all that can be loaded.

    A limit may slope, so these need not be the most forward and the most aft case. A case off the weights of the limits
    is worse than any other.
    """
    return _worst(limits, craft, aft=False), _worst(limits, craft, aft=True)


def _worst(limits: Envelope, craft: Aircraft, *, aft: bool) -> Place:
    def room(one: Place) -> tuple[int, Fraction]:
        found = one.room_aft if aft else one.room_forward
        return (0, Fraction(0)) if found is None else (1, found)

    corners = frontier(craft, aft=aft)
    limit = limits.aft if aft else limits.forward
    cases = list(corners)
    for low, high in pairwise(corners):
        cases += [between(low, high, weight) for weight in _turns(low, high, limit)]
    return min((place(limits, craft.most, one) for one in cases), key=room)


def _turns(low: Loading, high: Loading, limit: Line) -> list[Fraction]:
    """Weights between two corners where the distance to a limit may turn: its points, and where the curve is parallel.

    While one item is filled the arm is m0 / weight + s; against a limit of slope q that turns where weight² = -m0 / q.
    """
    found = [weight for weight, _ in limit.points if low.weight < weight < high.weight]
    slope = (high.moment - low.moment) / (high.weight - low.weight)
    rest = low.moment - slope * low.weight
    for (begin, arm), (end, last) in pairwise(limit.points):
        tilt = (last - arm) / (end - begin)
        square = -rest / tilt if tilt else Fraction(0)
        if square > 0:
            weight = _root(square)
            if max(low.weight, begin) < weight < min(high.weight, end):
                found.append(weight)
    return found


def _root(square: Fraction) -> Fraction:
    """A square root to twelve digits after the point."""
    scale = 10**24
    return Fraction(isqrt(square.numerator * scale // square.denominator), 10**12)


def between(low: Loading, high: Loading, weight: Fraction) -> Loading:
    """The loading of this weight on the way from one corner to the next."""
    share = (weight - low.weight) / (high.weight - low.weight)
    pairs = zip(low.weights, high.weights, strict=True)
    weights = tuple((name, one + (other - one) * share) for (name, one), (_, other) in pairs)
    return Loading(weights, weight, low.moment + (high.moment - low.moment) * share)
