"""A layup as a run of moments, and what follows from what was entered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from calc import cure, laminate, mix, room
from calc.figures import rounded
from calc.trouble import Impossible
from process.rules import words
from process.rules.quantities import plain, size
from process.rules.schedule import CLOTH
from process.rules.usual import NONE, Own, fiber_of, usual
from process.rules.verdicts import BAD, GOOD, Verdict, judged, told, tried, waiting

# The state of hands in each moment, as the form says it.
HANDS = {
    "before": "Clean hands: what is laid up, from what, in which room.",
    "mixing": "One clean hand: two readings of the scale. The clock starts by itself.",
    "wet": "Gloves and resin: one tap or one photo for each ply.",
    "bag": "Gauge, pump off, gauge again.",
    "cure": "Hands off: the cure run tells it.",
    "demold": "Clean hands: thickness, weight, both faces.",
}


@dataclass(frozen=True)
class PlyFacts:
    """What is said of one ply."""

    position: int
    kind: str
    cloth: str
    faw: str
    orientation: str
    laid_at: datetime | None = None

    @property
    def is_cloth(self) -> bool:
        return self.kind == CLOTH


@dataclass(frozen=True)
class LayupFacts:
    """What is said of a layup; quantities as they were typed."""

    plies: Sequence[PlyFacts] = ()
    mixes: int = 0
    cures: int = 0
    area: str = ""
    room_temp: str = ""
    room_rh: Decimal | None = None
    cloth_weight: str = ""
    resin_per_100: Decimal | None = None
    loss_percent: Decimal | None = None
    first_wetout_at: datetime | None = None
    last_wetout_at: datetime | None = None
    bagged_at: datetime | None = None
    vacuum: str = ""
    drop_start: str = ""
    drop_end: str = ""
    drop_minutes: Decimal | None = None
    demolded_at: datetime | None = None
    thickness: str = ""
    weight: str = ""
    fate: str = ""


# ---- moments ----


@dataclass(frozen=True)
class Moment:
    """One moment of a layup: begun, done, and whether it is the present one. `over`: the layup is finished."""

    key: str
    begun: bool
    done: bool
    now: bool
    over: bool = False

    @property
    def words(self) -> str:
        return words.MOMENTS[self.key]

    @property
    def hands(self) -> str:
        return HANDS[self.key]

    @property
    def mark(self) -> str:
        """The drawn state beside its name."""
        return "in-place" if self.done else "work" if self.now or self.begun else "not-started"

    @property
    def state_word(self) -> str:
        if self.done or self.now:
            return "Done" if self.done else "Now"
        return "Begun" if self.begun else "Not told" if self.over else "Not yet"


def moments(facts: LayupFacts, over: bool = False) -> list[Moment]:
    """The moments in order. The present one is the first that is not done and that nothing later has overtaken.

    A layup that is finished (`over`) has no present one.
    """
    laid = [ply for ply in facts.plies if ply.laid_at]
    wet = bool(facts.first_wetout_at or laid)
    bagged = bool(facts.bagged_at or facts.vacuum)
    begun = {
        "before": bool(facts.plies or facts.room_temp or facts.cloth_weight),
        "mixing": bool(facts.mixes),
        "wet": wet,
        "bag": bagged,
        "cure": bool(facts.cures),
        "demold": bool(facts.demolded_at or facts.thickness or facts.weight),
    }
    done = {
        "before": bool(facts.plies and facts.room_temp),
        "mixing": bool(facts.mixes),
        "wet": bool(facts.plies) and len(laid) == len(facts.plies),
        "bag": bool(facts.vacuum),
        "cure": bool(facts.cures),
        "demold": bool(facts.demolded_at and facts.fate),
    }
    order = list(words.MOMENTS)
    last = max((place for place, key in enumerate(order) if begun[key]), default=0)
    now = next((key for place, key in enumerate(order) if place >= last and not done[key]), order[-1])
    return [Moment(key, begun[key], done[key], key == now and not over, over) for key in order]


def present(facts: LayupFacts) -> str:
    """The key of the present moment."""
    return next(moment.key for moment in moments(facts) if moment.now)


def next_ply(plies: Sequence[PlyFacts]) -> PlyFacts | None:
    """The first ply that is not laid yet."""
    return next((ply for ply in plies if ply.laid_at is None), None)


def all_laid(plies: Sequence[PlyFacts]) -> bool:
    return bool(plies) and next_ply(plies) is None


# ---- resin to mix ----


@dataclass(frozen=True)
class ToMix:
    """How much to mix for the cloth that was cut, in g."""

    mixed: Decimal
    resin: Decimal | None
    hardener: Decimal | None
    per_100: Decimal
    why: str
    rule: str = mix.FROM_CLOTH.words
    source: str = mix.FROM_CLOTH.source
    caution: str = mix.FROM_CLOTH.caution


def to_mix(facts: LayupFacts, ratio: tuple[Decimal, Decimal] | None, own: Own = NONE) -> ToMix | None:
    """The resin that the cut cloth needs, split by a ratio of weights where one is known; None without a weight."""
    if not facts.cloth_weight:
        return None
    per_100, why = facts.resin_per_100, "as entered"
    if per_100 is None:
        fibers = {fiber_of(ply.cloth) for ply in facts.plies if ply.is_cloth}
        fiber = fibers.pop() if len(fibers) == 1 else ""
        if f"resin_per_100_{fiber}" not in {"resin_per_100_carbon", "resin_per_100_glass"}:
            return None
        found = usual(f"resin_per_100_{fiber}", own)
        per_100, why = found.value, f"{found.words}; {found.source}"
    hardener_per_100 = Fraction(100) if ratio is None else Fraction(ratio[1]) / Fraction(ratio[0]) * 100
    try:
        batch = mix.batch_for_cloth(
            size(facts.cloth_weight, "g"), per_100, hardener_per_100, facts.loss_percent or Decimal(0)
        )
    except Impossible:
        return None
    resin, hardener = (None, None) if ratio is None else (tenth(batch.resin), tenth(batch.hardener))
    return ToMix(tenth(batch.mixed), resin, hardener, per_100, why)


def tenth(value: float) -> Decimal:
    return rounded(Fraction(value), 1)


# ---- verdicts ----


def verdicts(facts: LayupFacts, own: Own = NONE) -> list[Verdict]:
    """What can be said of a layup itself by what was entered; its mixes and cures are judged by themselves."""
    found = [
        plies_laid(facts),
        room_verdict(facts, own),
        vacuum_verdict(facts, own),
        drop_verdict(facts, own),
        fiber_verdict(facts, own),
        weight_verdict(facts, own),
    ]
    return [verdict for verdict in found if verdict is not None]


def plies_laid(facts: LayupFacts) -> Verdict | None:
    """Whether every layer of the schedule was laid."""
    if not facts.plies or not any(ply.laid_at for ply in facts.plies):
        return None
    laid = sum(1 for ply in facts.plies if ply.laid_at)
    text = f"{laid} of {len(facts.plies)} laid"
    rule = "every layer of the schedule is tapped or timed as it is laid"
    about, source = "Plies", "the layup's own schedule"
    if laid == len(facts.plies):
        return Verdict(GOOD, text, rule, source, about=about)
    if facts.demolded_at or facts.vacuum:
        missing = ", ".join(str(ply.position) for ply in facts.plies if not ply.laid_at)
        return Verdict(BAD, f"{text}: not told of {missing}", rule, source, about=about)
    return waiting(text, about=about)


def room_verdict(facts: LayupFacts, own: Own = NONE) -> Verdict | None:
    """The room when it was laid up."""
    if not facts.room_temp or facts.room_rh is None:
        return None
    low, high, most = (usual(key, own) for key in ("room_low_degc", "room_high_degc", "room_rh_most"))

    def make() -> Verdict:
        found = room.room(
            size(facts.room_temp, "degc"), facts.room_rh or Decimal(0), (low.value, high.value), most.value
        )
        humidity = plain(facts.room_rh or Decimal(0))
        limits = f"Limits {plain(low.value)} to {plain(high.value)} °C, at most {plain(most.value)} % ({low.source})"
        return told(
            found, "Room inside the limits", lines=(f"{facts.room_temp}, {humidity} % RH", limits), about="Room"
        )

    return tried(make, "Room", room.ROOM)


def vacuum_verdict(facts: LayupFacts, own: Own = NONE) -> Verdict | None:
    """The vacuum of the bag."""
    if not facts.vacuum:
        return None
    least = usual("vacuum_least_inhg", own)

    def make() -> Verdict:
        found = cure.vacuum(size(facts.vacuum, "inhg"), least.value)
        lines = (f"{facts.vacuum} below ambient, at least {plain(least.value)} inHg ({least.source})",)
        return told(found, "Vacuum high enough", lines=lines, about="Bag vacuum")

    return tried(make, "Bag vacuum", cure.VACUUM)


def drop_verdict(facts: LayupFacts, own: Own = NONE) -> Verdict | None:
    """The drop test of the bag."""
    if not (facts.drop_start or facts.drop_end):
        return None
    if not (facts.drop_start and facts.drop_end and facts.drop_minutes):
        return waiting("The drop test asks for both readings and the minutes between.", cure.DROP, "Drop test")
    most = usual("drop_most_percent", own)

    def make() -> Verdict:
        minutes = facts.drop_minutes or Decimal(0)
        found = cure.bag_drop(size(facts.drop_start, "inhg"), size(facts.drop_end, "inhg"), minutes, most.value)
        lines = (
            f"{facts.drop_start} to {facts.drop_end} in {plain(minutes)} min, {found.drop:.1f} % lost",
            f"At most {plain(most.value)} % in 5 min ({most.source})",
        )
        return told(found, "The bag holds", lines=lines, about="Drop test")

    return tried(make, "Drop test", cure.DROP)


@dataclass(frozen=True)
class Cloth:
    """All cloth of a layup together: dry weight per area, plies, and the density of its fibers."""

    faw: Fraction
    plies: int
    density: Fraction | None
    lines: tuple[str, ...]
    trouble: str = ""


def cloth_of(plies: Sequence[PlyFacts], own: Own = NONE) -> Cloth:
    """The cloth of a schedule as one; what is missing for sums is said."""
    cloth = [ply for ply in plies if ply.is_cloth]
    silent = [str(ply.position) for ply in cloth if not ply.faw]
    if not cloth:
        return Cloth(Fraction(0), 0, None, (), "The schedule has no cloth yet.")
    if silent:
        return Cloth(Fraction(0), len(cloth), None, (), f"Say the areal weight of ply {', '.join(silent)}.")
    faw, volume = Fraction(0), Fraction(0)
    used: dict[str, str] = {}
    unknown = []
    for ply in cloth:
        weight = size(ply.faw, "gsm")
        faw += weight
        fiber = fiber_of(ply.cloth)
        if not fiber:
            unknown.append(str(ply.position))
            continue
        density = usual(f"fiber_density_{fiber}", own)
        volume += weight / Fraction(density.value)
        used[fiber] = f"{fiber} {plain(density.value)} g/cm³ ({density.source})"
    lines = (f"{len(cloth)} plies, {float(faw):g} g/m² of dry cloth together", *used.values())
    if unknown:
        words_ = f"Write carbon, glass or aramid in the name of the cloth of ply {', '.join(unknown)}."
        return Cloth(faw, len(cloth), None, lines, words_)
    return Cloth(faw, len(cloth), faw / volume, lines)


def fiber_verdict(facts: LayupFacts, own: Own = NONE) -> Verdict | None:
    """The fiber volume that the measured thickness means; more than can be is flagged (rule R42)."""
    if not facts.thickness:
        return None
    cloth = cloth_of(facts.plies, own)
    if cloth.density is None:
        return waiting(cloth.trouble, laminate.FIBER_VOLUME, "Fiber volume")
    if any(ply.kind == "core" for ply in facts.plies):
        return waiting(
            "With a core in the stack the thickness says nothing of it.", laminate.FIBER_VOLUME, "Fiber volume"
        )
    density = cloth.density

    def make() -> Verdict:
        found = laminate.fiber_volume(1, cloth.faw, density, size(facts.thickness, "mm"))
        text = f"Fiber volume {found.fiber_volume:.2f}"
        bad = f"{text}: more than a laminate can hold. Count the plies and measure again."
        return told(found, text, bad, (*cloth.lines, f"Thickness {facts.thickness}"), "Fiber volume")

    return tried(make, "Fiber volume", laminate.FIBER_VOLUME)


def estimate(facts: LayupFacts, own: Own = NONE) -> tuple[Fraction, tuple[str, ...]] | None:
    """What the laminate should weigh in g, without core and trim, and how that is reckoned; None where it cannot be."""
    share = usual("fiber_mass_fraction", own)
    if facts.cloth_weight:
        dry, how = size(facts.cloth_weight, "g"), f"cut cloth {facts.cloth_weight}"
    else:
        cloth = cloth_of(facts.plies, own)
        if not facts.area or not cloth.faw:
            return None
        dry, how = size(facts.area, "m2") * cloth.faw, f"{facts.area} x {float(cloth.faw):g} g/m² of cloth"
    total = dry / Fraction(share.value)
    return total, (f"{how}, {plain(share.value)} of it fiber by weight ({share.source})",)


def weight_verdict(facts: LayupFacts, own: Own = NONE) -> Verdict | None:
    """The weighed part against its estimate."""
    if not facts.weight:
        return None
    predicted = estimate(facts, own)
    if predicted is None:
        return waiting("Weigh the cut cloth, or say the area and the areal weights.", laminate.VARIANCE, "Weight")
    alarm = usual("weight_alarm_percent", own)
    total, lines = predicted

    def make() -> Verdict:
        found = laminate.weight_variance(total, size(facts.weight, "g"), alarm.value)
        text = f"{facts.weight} weighed, {rounded(total, 0)} g expected, {found.percent:+.0f} %"
        more = (*lines, f"Looked at from {plain(alarm.value)} % on ({alarm.source})")
        return judged(laminate.VARIANCE, found.good, text, more, "Weight")

    return tried(make, "Weight", laminate.VARIANCE)
