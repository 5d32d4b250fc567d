"""Checks judged: fastener rows, torque, weighing, coupons, hardness, tap maps and function tests.

Each kind has its facts, as they were typed, and one function that gives the verdicts on them. Where a method says
nothing about a laminate, its verdict is never good, whatever was read.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import partial
from re import fullmatch

from calc import bonding, hardness, laminate, quantities, rivets, room, torque, units, weighing
from calc.figures import mean, rounded
from calc.quantities import Quantity
from calc.trouble import Impossible
from calc.verdict import PRACTICE, Rule
from process.rules import words
from process.rules.quantities import exact, size, written
from process.rules.usual import NONE, Own, usual
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict, judged, sentence, told, tried, waiting

TAKEN, FIT, SAFETIED = "Torque", "Wrench", "Safetied"
LENGTH, HEAD, EDGE, PITCH, LOT = "Rivet length", "Formed head", "Edge distance", "Pitch", "Lot"
WEIGHT, BALANCE = "Weight", "Weight and balance"
RESULT, CONTENT = "Result", "Fiber and voids"
METHOD, HARD, HEARD, TESTED, TOOL = "Method", "Hardness", "What was heard", "Test", "Tool"

MAKER = Rule("the maker's window plus measured drag", "as entered", valid="The fastener the window was given for.")
LIMIT = Rule("the value against its limits", "as entered", valid="Value and limits in one unit.")
EAR = Rule(
    "a dull sound against a clear one, told by whoever tapped",
    "FAA AC 43.13-1B para 5-105",
    caution=bonding.TAP.caution,
)
SAFETY = Rule("a castle nut holds only with its pin or wire", "common practice", PRACTICE)

# The rules for the height of a formed head; which one was used is kept with the row.
HALF, MILITARY = "0.5 D, AC 43.13-1B", "Military limits, MIL-R-47196A"
HEAD_RULES = {HALF: HALF, MILITARY: MILITARY}
# A rivet is made in sixteenths, so the nearest one is at most half of that away.
NEAREST = float(rivets.SIXTEENTH / 2)
ROUNDING = 1e-12


@dataclass(frozen=True)
class Lot:
    """The lot that the fasteners came from."""

    label: str
    status: str = "good"


def lot_verdicts(lot: Lot | None) -> list[Verdict]:
    """A lot on hold or rejected; one that is good needs no word."""
    if lot is None or lot.status not in {"hold", "reject"}:
        return []
    said = "on hold" if lot.status == "hold" else "rejected"
    return [Verdict(BAD, f"{lot.label} is {said}", "what is on hold or rejected is not used", "the lot's own page",
                    about=LOT)]  # fmt: skip


# ---- fastener rows ----


@dataclass(frozen=True)
class FastenerFacts:
    """A row of fasteners; lengths as they were typed."""

    count: int = 1
    rejected: int = 0
    solid_rivet: bool = False
    diameter: str = ""
    grip: str = ""
    length: str = ""
    edge: str = ""
    pitch: str = ""
    head_height: str = ""
    head_width: str = ""
    rule: str = ""
    lot: Lot | None = None


def fastener_verdicts(facts: FastenerFacts) -> list[Verdict]:
    """Length, formed head, edge and pitch of solid rivets; of other fasteners their lot only: no rule is built in."""
    found = lot_verdicts(facts.lot)
    if not facts.solid_rivet:
        return found
    if not facts.diameter:
        return [waiting("The diameter is not said, and every rule for rivets starts from it.", rivets.SOLID), *found]
    if facts.grip and facts.length:
        found.append(tried(lambda: rivet_length(facts), LENGTH, rivets.SOLID))
    if facts.head_height or facts.head_width:
        found.append(tried(lambda: formed_head(facts), HEAD, rivets.HEAD_HEIGHT))
    else:
        found.append(waiting("No formed head was measured.", rivets.HEAD_HEIGHT, HEAD))
    for text, times, about in ((facts.edge, 2, EDGE), (facts.pitch, 3, PITCH)):
        if text:
            found.append(tried(partial(spaced, facts, text, times, about), about, rivets.SOLID))
    return found


def inches(text: str) -> Fraction:
    return size(text, "in")


def rivet_length(facts: FastenerFacts) -> Verdict:
    """Whether the length is the one nearest to grip + 1.5 D that is made."""
    wanted = rivets.solid(inches(facts.diameter), inches(facts.grip))
    off = float(inches(facts.length)) - wanted.length
    good = abs(off) <= NEAREST + ROUNDING
    asked = f"{wanted.length:.3f} in is asked for, nearest made {wanted.dash_length}/16 in"
    said = f"{facts.length} for a grip of {facts.grip}"
    text = said if good else f"{said} is too {'long' if off > 0 else 'short'}: {asked}"
    return judged(rivets.SOLID, good, text, (sentence(asked),), LENGTH)


def formed_head(facts: FastenerFacts) -> Verdict:
    """The measured head against the rule that was chosen; without one, against the circular's."""
    diameter = inches(facts.diameter)
    lines, reasons, rule = [], [], facts.rule
    if facts.head_width:
        least = float(diameter * 3 / 2)
        lines.append(f"Width {facts.head_width}, at least {least:.3f} in")
        if float(inches(facts.head_width)) < least:
            reasons.append("narrower than 1.5 D")
    if facts.head_height:
        found = rivets.head_height(diameter, inches(facts.head_height))
        lines.append(f"Height {facts.head_height}, at least {float(diameter / 2):.4f} in by 0.5 D")
        lines += found.notes
        accepted = found.military if rule == MILITARY else found.half_diameter
        if accepted is None:
            reasons.append("no military limits are known for this diameter")
        elif not accepted and rule != MILITARY and found.military:
            reasons.append("lower than 0.5 D; the military limits accept it, so choose that rule if it is yours")
        elif not accepted:
            reasons.append("outside the military limits" if rule == MILITARY else "lower than 0.5 D")
        lines.append(f"Rule used: {rule or HALF}")
    text = "Formed head as asked for" if not reasons else f"Formed head {', '.join(reasons)}"
    return judged(rivets.HEAD_HEIGHT, not reasons, text, tuple(lines), HEAD)


def spaced(facts: FastenerFacts, text: str, times: int, about: str) -> Verdict:
    """A distance against so many diameters."""
    least = float(inches(facts.diameter) * times)
    good = float(inches(text)) >= least
    asked = f"at least {least:.3f} in, {times} D"
    return judged(rivets.SOLID, good, f"{text}, {asked}" if good else f"{text} is too little: {asked}", (), about)


# ---- torque ----


@dataclass(frozen=True)
class Wrench:
    """The wrench used: its number, its scale and graduation as entered."""

    label: str
    full_scale: str = ""
    resolution: str = ""


@dataclass(frozen=True)
class TorqueFacts:
    """One fastener tightened; quantities as they were typed. `unit` is the one the wrench is read in."""

    thread: str = ""
    nut_type: str = ""
    window_min: str = ""
    window_max: str = ""
    source: str = ""
    drag: str = ""
    shown: str = ""
    lever: str = ""
    adapter: str = ""
    adapter_degrees: Decimal | None = None
    castle: bool = False
    safetied: str = ""
    mark: bool = False
    wrench: Wrench | None = None
    lot: Lot | None = None
    unit: str = "in-lbf"


@dataclass(frozen=True)
class Window:
    """What the nut is to get without drag, in inch-pounds-force, and who says so."""

    low: Fraction
    high: Fraction
    rule: Rule
    words: str
    table: bool


def window_of(facts: TorqueFacts) -> Window | None:
    """The maker's window, or else the table's; None where neither is said. Raises Impossible."""
    if facts.window_min or facts.window_max:
        if not (facts.window_min and facts.window_max):
            raise Impossible("A window has two ends: enter the least and the most.", "window_min", "missing")
        low, high = size(facts.window_min, "inlb"), size(facts.window_max, "inlb")
        if low > high:
            raise Impossible("The least torque is more than the most. Check the two.", "window_min")
        source = facts.source or "not said"
        rule = Rule(MAKER.words, source, valid=MAKER.valid)
        return Window(low, high, rule, f"{facts.window_min} to {facts.window_max}, from: {source}", False)
    if not facts.thread or not facts.nut_type:
        return None
    row = torque.row(facts.thread)
    low_, high_ = row.range(torque.nut_name(facts.nut_type))
    said = f"Table 7-1, {row.thread}, {words.NUT_TYPES[facts.nut_type].lower()}: {low_} to {high_} in-lb"
    return Window(Fraction(low_), Fraction(high_), torque.WINDOW, said, True)


def gain_of(facts: TorqueFacts) -> Fraction:
    """By how much the adapter multiplies what the wrench shows. Raises Impossible."""
    length = exact(facts.adapter, "in")
    if not length:
        return Fraction(1)
    if not facts.lever:
        raise Impossible("With an adapter the length of the lever is needed.", "lever", "missing")
    return torque.lever_gain(size(facts.lever, "in"), length, facts.adapter_degrees or 0)


@dataclass(frozen=True)
class Setting:
    """What to dial in before tightening: `main` in words, with what led to it."""

    main: str
    lines: tuple[str, ...]
    low: Fraction
    high: Fraction
    """On the wrench, in inch-pounds-force."""
    rule: Rule

    @property
    def caution(self) -> str:
        return self.rule.caution


def setting_of(facts: TorqueFacts) -> Setting | None:
    """The setting for the wrench: window plus drag, by the adapter. None where no window is known; raises Impossible.

    A castle nut starts at the lower end and is turned on to the next slot. Any other nut gets the middle.
    """
    window = window_of(facts)
    if window is None:
        return None
    drag, gain = exact(facts.drag, "inlb") or Fraction(0), gain_of(facts)
    low, high = (window.low + drag) / gain, (window.high + drag) / gain
    ends = f"{shown_in(low, facts.unit, up=True)} to {shown_in(high, facts.unit)}"
    lines = [window.words]
    lines.append(f"Drag {facts.drag} added" if facts.drag else "No drag measured: run the nut down and read it first")
    if gain != 1:
        turned = f" at {facts.adapter_degrees.normalize():f}°" if facts.adapter_degrees else ", straight"
        lines.append(
            f"Adapter {facts.adapter}{turned}, lever {facts.lever}: the bolt gets {float(gain):.3f} times the dial"
        )
    if facts.castle:
        main = f"Set the wrench to {shown_in(low, facts.unit, up=True)}"
        lines.append(
            f"Castle nut: start there, turn on to the next slot, never past {shown_in(high, facts.unit)} on the wrench"
        )
    else:
        main = f"Set the wrench to {shown_in((low + high) / 2, facts.unit, nearest=True)}"
        lines.append(f"Good on the wrench: {ends}")
    lines += reused(facts)
    return Setting(main, tuple(lines), low, high, window.rule)


def reused(facts: TorqueFacts) -> list[str]:
    """What a self-locking nut that is used again has to hold, for threads that the table has."""
    if facts.castle or not facts.thread or not facts.drag:
        return []
    least = torque.prevailing_minimum(facts.thread)
    if least is None:
        return ["Re-used self-locking nut: this thread is not in Table 7-2, so take a new nut or the maker's limit"]
    return [f"Re-used self-locking nut: rejected if it turns with less than {least} in-lb (AC 43.13-1B, Table 7-2)"]


def shown_in(value: Fraction, unit: str, *, up: bool = False, nearest: bool = False) -> str:
    """A torque in the unit of the wrench, to a tenth; the ends of a window are rounded into it."""
    tenths = units.convert(value, "in-lbf", unit) * 10
    whole = rounded(tenths, 0) if nearest else Decimal(-(-tenths // 1) if up else tenths // 1)
    said = (whole / 10).normalize()
    return f"{said:f} {written(unit)}"


def torque_verdicts(facts: TorqueFacts) -> list[Verdict]:
    """Whether the wrench fits, what the nut got, and whether a castle nut is safetied."""
    found = [tried(lambda: taken(facts), TAKEN, torque.NET), *fits(facts)]
    if facts.castle and facts.shown and not facts.safetied:
        found.append(waiting("Say how the castle nut is safetied.", SAFETY, SAFETIED))
    return found + lot_verdicts(facts.lot)


def taken(facts: TorqueFacts) -> Verdict:
    """What the nut got, less drag, against its window."""
    window = window_of(facts)
    if window is None:
        return waiting("Choose thread and nut type, or enter the maker's window.", torque.WINDOW, TAKEN)
    set_to = setting_of(facts)
    if not facts.shown:
        return waiting(f"Not tightened yet. {set_to.main if set_to else ''}".strip(), window.rule, TAKEN)
    gain, drag = gain_of(facts), exact(facts.drag, "inlb") or Fraction(0)
    net = size(facts.shown, "inlb") * gain - drag
    net_words = shown_in(net, facts.unit, nearest=True)
    lines = [f"Wrench showed {facts.shown}", *(set_to.lines[:3] if set_to else ())]
    lines.append("Witness mark painted" if facts.mark else "No witness mark said")
    if facts.safetied:
        lines.append(f"Safetied: {facts.safetied}")
    if window.table:
        found = torque.judge(facts.thread, facts.nut_type, drag, size(facts.shown, "inlb") * gain)
        rule, good, notes = found.rule, found.good, found.notes
        why = {
            torque.LOW: "below the window",
            torque.OVER_RANGE: "above the window, not above the largest torque allowed",
            torque.OVER_MAXIMUM: f"above the largest torque allowed, {found.row.limit(facts.nut_type)} in-lb",
        }.get(found.verdict, "")
    else:
        rule, good, notes = window.rule, window.low <= net <= window.high, ()
        why = "" if good else "below the window" if net < window.low else "above the window"
    lines += notes
    if good:
        return judged(rule, True, f"{net_words} on the nut, in the window", tuple(lines), TAKEN)
    again = "Loosen it and tighten it anew" if net > window.high else "Tighten it further"
    return judged(rule, False, f"{net_words} on the nut: {why}. {again}", tuple(lines), TAKEN)


def fits(facts: TorqueFacts) -> list[Verdict]:
    """Whether the wrench is the right one, where its scale is known."""
    wrench = facts.wrench
    if wrench is None:
        return [waiting("No wrench is named, so nothing is known of its calibration.", torque.TOOL_FIT, FIT)]
    if not wrench.full_scale or not wrench.resolution:
        said = f"Range and graduation of {wrench.label} are not entered on its page."
        return [waiting(said, torque.TOOL_FIT, FIT)]
    try:
        set_to = setting_of(facts)
    except Impossible:
        return []
    if set_to is None:
        return []

    def make() -> Verdict:
        middle = set_to.low if facts.castle else (set_to.low + set_to.high) / 2
        found = torque.tool_fit(size(wrench.full_scale, "inlb"), size(wrench.resolution, "inlb"), middle)
        at = f"{found.fraction * 100:.0f} % of its scale of {wrench.full_scale}"
        best = "" if found.in_best_band or not found.good else "; best is 30 to 80 %"
        text = f"{wrench.label} is used at {at}{best}"
        return told(found, text, f"{wrench.label} does not fit: {', '.join(found.reasons)}", (), FIT)

    return [tried(make, FIT, torque.TOOL_FIT)]


# ---- weighing ----


@dataclass(frozen=True)
class Scale:
    """One scale under the aircraft, as typed."""

    place: str
    shown: str = ""
    tare: str = ""
    arm: str = ""


@dataclass(frozen=True)
class WeighingFacts:
    """A part on a scale, or the aircraft on three; `estimate` as the part has it."""

    whole_aircraft: bool = False
    weight: str = ""
    estimate: str = ""
    level: str = ""
    datum: str = ""
    fluids: str = ""
    scales: Sequence[Scale] = ()


SCALES = 3


def weighing_verdicts(facts: WeighingFacts, own: Own = NONE) -> list[Verdict]:
    """A part against its estimate; the aircraft's weight and center of gravity."""
    if facts.whole_aircraft:
        return [tried(lambda: aircraft(facts), BALANCE, weighing.CENTER)]
    if not facts.weight:
        return [waiting("Nothing was read from the scale yet.", laminate.VARIANCE, WEIGHT)]
    if not facts.estimate:
        return []
    return [tried(lambda: against_estimate(facts, own), WEIGHT, laminate.VARIANCE)]


def against_estimate(facts: WeighingFacts, own: Own = NONE) -> Verdict:
    """How far the part is from its estimate."""
    alarm = usual("weight_alarm_percent", own)
    found = laminate.weight_variance(size(facts.estimate, "g"), size(facts.weight, "g"), alarm.value)
    text = f"{facts.weight}, {found.percent:+.1f} % off the estimate of {facts.estimate}"
    why = ", ".join(found.reasons)
    lines = (f"Alarm at {alarm.value.normalize():f} % either way ({alarm.source})",)
    return told(found, text, f"{text}: {why}", lines, WEIGHT)


def net(scale: Scale) -> Fraction:
    """What a scale carries without its tare, in grams. Raises Impossible."""
    found = size(scale.shown, "g") - (exact(scale.tare, "g") or 0)
    if found < 0:
        raise Impossible(f"{scale.place}: the tare is more than what the scale showed. Check the two.", "tare")
    return found


@dataclass(frozen=True)
class Aircraft:
    """What the scales say together, in the units that were typed first."""

    weight: str
    center: str
    moment: str
    """Empty where an arm is missing."""


def balanced(facts: WeighingFacts) -> Aircraft | None:
    """Weight and center of gravity of the scales that were read; None without one. Raises Impossible."""
    read_ = [scale for scale in facts.scales if scale.shown]
    if not read_:
        return None
    mass = typed(read_[0].shown, "mass").unit
    total = weighing.total((scale.place, net(scale)) for scale in read_)
    weight = in_unit(total, "g", mass, 1)
    if not all(scale.arm for scale in read_) or not total:
        return Aircraft(weight, "", "")
    length = typed(read_[0].arm, "length").unit
    found = weighing.balance([(net(scale), size(scale.arm, "mm")) for scale in read_])
    arm = sum((net(scale) * size(scale.arm, "mm") for scale in read_), Fraction(0)) / total
    # The moment in the two units that were typed, such as lb in.
    moment = units.convert(total, "g", mass) * units.convert(arm, "mm", length)
    side = "at the datum" if not found.arm else "aft of the datum" if found.arm > 0 else "forward of the datum"
    center = f"{in_unit(abs(arm), 'mm', length, 2)} {side}" if arm else side
    return Aircraft(weight, center, f"{rounded(moment, 0)} {mass} {length}")


def aircraft(facts: WeighingFacts) -> Verdict:
    """Weight and center of gravity, with what is still missing; limits are in the aircraft's own papers."""
    found = balanced(facts)
    count = sum(bool(scale.shown) for scale in facts.scales)
    if found is None:
        return waiting("No scale was read yet.", weighing.TOTAL, BALANCE)
    lines = [scale_line(scale) for scale in facts.scales if scale.shown]
    if found.moment:
        lines.append(f"Moment {found.moment} about the datum")
    missing = [f"{SCALES - count} of {SCALES} scales" if count < SCALES else ""]
    missing += ["an arm" if not found.center else "", "" if facts.datum else "where the datum is"]
    missing += ["" if facts.level else "how it was leveled", "" if facts.fluids else "which fluids were aboard"]
    asked = [one for one in missing if one]
    center = f", center of gravity {found.center}" if found.center else ""
    text = f"{found.weight}{center}"
    if asked:
        text = f"{text}. Still missing: {', '.join(asked)}"
    rule = weighing.CENTER
    caution = f"{weighing.TOTAL.caution} {rule.caution}"
    said = f"{rule.source} ({rule.provenance})"
    return Verdict(OPEN if asked else GOOD, text, rule.words, said, caution, tuple(lines), BALANCE)


def scale_line(scale: Scale) -> str:
    """One scale in words."""
    tare = f" less tare {scale.tare}" if scale.tare else ", no tare"
    return f"{scale.place}: {scale.shown}{tare}{f', arm {scale.arm}' if scale.arm else ''}"


def typed(text: str, kind: str) -> Quantity:
    """A kept quantity in the unit it was typed in."""
    return quantities.parse(text, kind)


def in_unit(value: Fraction, source: str, unit: str, places: int) -> str:
    return f"{rounded(units.convert(value, source, unit), places)} {written(unit)}"


def part_weight(text: str) -> tuple[Decimal, str]:
    """A weighed weight as a part keeps it: figure and unit as typed where the part can hold that, else in grams."""
    found = typed(text, "mass")
    unit = found.unit if found.unit in units.GRAMS else "g"
    value = rounded(found.within(unit), 4)
    if Fraction(value) != found.within(unit):
        unit, value = "g", rounded(found.within("g"), 4)
    return value, unit


# ---- coupons ----


@dataclass(frozen=True)
class CouponFacts:
    """A coupon with its result and its limit as typed, and what it weighed before and after its resin was removed."""

    value: str = ""
    limit: str = ""
    least: bool = True
    source: str = ""
    specimen_g: Decimal | None = None
    fiber_g: Decimal | None = None
    laminate_density: Decimal | None = None
    fiber_density: Decimal | None = None
    resin_density: Decimal | None = None


BURNT = {
    "specimen_g": "weight of the specimen",
    "fiber_g": "weight of the fiber left",
    "laminate_density": "density of the laminate",
    "fiber_density": "density of the fiber",
    "resin_density": "density of the resin",
}


def with_unit(text: str) -> tuple[Fraction, str]:
    """A figure with any unit, such as 62 MPa or 41. Raises Impossible."""
    found = fullmatch(r"([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+))\s*(\S.*)?", text.strip())
    if found is None:
        raise Impossible(f"“{text[:40]}” is not a figure with its unit, such as 62 MPa.", "value", "unknown")
    return Fraction(found[1].replace(",", ".")), (found[2] or "").strip()


def si_of(text: str) -> Fraction:
    """A figure in the SI unit of its kind; as typed where its unit is not known here. Raises Impossible."""
    value, unit = with_unit(text)
    try:
        return units.to_si(value, unit) if unit else value
    except Impossible as no:
        if no.code != "unknown":
            raise
        return value


def comparable(first: str, second: str) -> bool:
    """Whether two figures with units can be set against each other."""
    ours, theirs = with_unit(first)[1], with_unit(second)[1]
    if ours == theirs:
        return True
    try:
        return units.unit(ours).kind == units.unit(theirs).kind
    except Impossible:
        return False


def coupon_verdicts(facts: CouponFacts) -> list[Verdict]:
    """The result against its limit, and fiber and voids where the resin was removed."""
    found = []
    burnt = [getattr(facts, name) is not None for name in BURNT]
    if facts.value or not any(burnt):
        found.append(tried(lambda: coupon_result(facts), RESULT, LIMIT))
    if any(burnt):
        found.append(tried(lambda: content(facts), CONTENT, laminate.BURN_OFF))
    return found


def coupon_result(facts: CouponFacts) -> Verdict:
    """A test's result against its limit."""
    if not facts.value:
        return waiting("Not tested yet.", LIMIT, RESULT)
    rule = Rule(LIMIT.words, facts.source or "source of the limit not said", valid=LIMIT.valid)
    if not facts.limit:
        return waiting(f"{facts.value}, without a limit to hold it against.", rule, RESULT)
    if not comparable(facts.value, facts.limit):
        raise Impossible(f"{facts.value} cannot be compared with {facts.limit}: enter both in units of one kind.")
    value, limit = si_of(facts.value), si_of(facts.limit)
    good = value >= limit if facts.least else value <= limit
    asked = f"{'at least' if facts.least else 'at most'} {facts.limit}"
    return judged(rule, good, f"{facts.value}, {asked}" if good else f"{facts.value}, not {asked}", (), RESULT)


def content(facts: CouponFacts) -> Verdict:
    """Fiber, resin and voids of a coupon; what cannot be is flagged, never filed in silence (rule R42)."""
    missing = [said for name, said in BURNT.items() if getattr(facts, name) is None]
    if missing:
        return waiting(f"Still missing: {', '.join(missing)}.", laminate.BURN_OFF, CONTENT)
    figures = [getattr(facts, name) for name in BURNT]
    found = laminate.constituents(*figures)
    text = f"{found.fiber:.1f} % fiber, {found.matrix:.1f} % resin, {found.void:.1f} % voids by volume"
    why = ", ".join(found.reasons)
    return told(found, text, f"{text}. This cannot be: {why}. Check weights and densities", (), CONTENT)


# ---- hardness ----


@dataclass(frozen=True)
class HardnessFacts:
    """Hardness readings, and where they were taken."""

    readings: Sequence[str] = ()
    least: Decimal | None = None
    source: str = ""
    thickness: str = ""
    edge: str = ""


def read_readings(text: str) -> list[str]:
    """Readings as they were typed, parted by spaces, lines, semicolons or a comma and a space. Raises Impossible."""
    plain = text.replace(";", " ").replace(", ", " ").replace(",\n", "\n")
    found = [one.strip(",").replace(",", ".") for one in plain.split()]
    for one in found:
        if not fullmatch(r"\d{1,3}(\.\d{1,2})?", one) or Fraction(one) > 100:
            raise Impossible(f"“{one[:20]}” is no reading: they run from 0 to 100.", "readings")
    return found


def hardness_verdicts(facts: HardnessFacts) -> list[Verdict]:
    """Whether the method applies, and only then what the readings say."""
    applies = tried(lambda: hardness_applies(facts), METHOD, hardness.VALID)
    if not applies.good:
        lines = applies.lines + tuple(average_lines(facts))
        return [Verdict(applies.state, applies.words, applies.rule, applies.source, applies.caution, lines, METHOD)]
    return [applies, tried(lambda: hard_enough(facts), HARD, hardness.BARCOL)]


def hardness_applies(facts: HardnessFacts) -> Verdict:
    """Thick enough, and far enough from an edge."""
    missing = [
        said for text, said in ((facts.thickness, "thickness"), (facts.edge, "distance to the edge")) if not text
    ]
    if missing:
        return waiting(f"Enter {' and '.join(missing)}: without them the readings say nothing.", hardness.VALID, METHOD)
    found = hardness.barcol_valid(size(facts.thickness, "mm"), size(facts.edge, "mm"))
    lines = (f"Thickness {facts.thickness}, edge {facts.edge} away",)
    why = ", ".join(found.reasons)
    return told(found, "The method applies here", f"The method does not apply here: {why}", lines, METHOD)


def average_lines(facts: HardnessFacts) -> list[str]:
    """The average in words, where there is one."""
    if len(facts.readings) < hardness.FEWEST:
        return []
    values = sorted(Fraction(one) for one in facts.readings)
    average = float(mean(values[1:-1]))
    return [f"Average {average:.1f} of {len(values) - 2}, without {float(values[0]):g} and {float(values[-1]):g}"]


def hard_enough(facts: HardnessFacts) -> Verdict:
    """The average, without the highest and the lowest, against what the resin's data ask."""
    count = len(facts.readings)
    if count < hardness.FEWEST:
        return waiting(f"{count} of {hardness.FEWEST} readings.", hardness.BARCOL, HARD)
    lines = average_lines(facts)
    if facts.least is None:
        return waiting(f"{lines[0]}. Enter the least that the resin's data ask.", hardness.BARCOL, HARD)
    found = hardness.barcol([Fraction(one) for one in facts.readings], facts.least)
    asked = f"at least {facts.least.normalize():f} ({facts.source or 'source not said'})"
    text = f"Average {found.average:.1f}, {asked}"
    return told(found, text, f"{text}: {', '.join(found.reasons)}", tuple(lines), HARD)


# ---- tap maps ----


@dataclass(frozen=True)
class TapFacts:
    """A tap test: the skin, how often each sound was marked, and what the one who tapped says."""

    skin: str = ""
    sandwich: bool = False
    sides_tapped: int = 1
    sounds: Sequence[str] = ()
    photo: bool = False
    accepted: str = ""


def tap_verdicts(facts: TapFacts) -> list[Verdict]:
    """Whether the method applies, and only then what was heard."""
    applies = tried(lambda: tap_applies(facts), METHOD, bonding.TAP)
    return [applies, heard(facts)] if applies.good else [applies]


def tap_applies(facts: TapFacts) -> Verdict:
    """Thin enough a skin, and a sandwich from both sides."""
    if not facts.skin:
        return waiting("Enter the thickness of the skin: a thick one hides what lies below it.", bonding.TAP, METHOD)
    found = bonding.tap_valid(size(facts.skin, "in"), sandwich=facts.sandwich, sides=facts.sides_tapped)
    sides = "both sides" if facts.sides_tapped == 2 else "one side"
    lines = (f"Skin {facts.skin}, {'sandwich' if facts.sandwich else 'solid'}, tapped from {sides}",)
    why = ", ".join(found.reasons)
    return told(found, "The method applies here", f"The method does not apply here: {why}", lines, METHOD)


def heard(facts: TapFacts) -> Verdict:
    """What was marked and what the one who tapped says of it."""
    counts = [f"{facts.sounds.count(sound)} {said.lower()}" for sound, said in words.SOUNDS.items()]
    lines = (f"Marked: {', '.join(counts)}" if facts.sounds else "No sound is marked",)
    if not facts.photo:
        return waiting("Mark what was heard on a photo: the method leaves no record of itself.", EAR, HEARD)
    if not facts.accepted:
        return waiting("Say whether what was heard is accepted.", EAR, HEARD)
    good = facts.accepted == "yes"
    return judged(EAR, good, "Accepted by whoever tapped" if good else "Not accepted by whoever tapped", lines, HEARD)


# ---- function tests ----


@dataclass(frozen=True)
class FunctionFacts:
    """A test of how something works."""

    value: Decimal | None = None
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    source: str = ""
    passed: str = ""


def function_verdicts(facts: FunctionFacts) -> list[Verdict]:
    """The value against its limits, and what the tester says; either of them can fail the test."""
    limits = [
        f"at least {facts.low.normalize():f}" if facts.low is not None else "",
        f"at most {facts.high.normalize():f}" if facts.high is not None else "",
    ]
    asked = " and ".join(one for one in limits if one)
    rule = Rule(LIMIT.words, facts.source or "source of the limits not said", valid=LIMIT.valid)
    said = f"{facts.value.normalize():f} {facts.unit}".strip() if facts.value is not None else ""
    if facts.value is not None and asked:
        low = facts.low is not None and facts.value < facts.low
        high = facts.high is not None and facts.value > facts.high
        text = f"{said}, {asked} {facts.unit}".strip()
        if low or high:
            return [judged(rule, False, f"{text}: too {'low' if low else 'high'}", (), TESTED)]
        if facts.passed != "no":
            return [judged(rule, True, text, (), TESTED)]
    seen = Rule("what the tester saw", facts.source or "the one who tested", PRACTICE)
    if facts.passed == "no":
        return [Verdict(BAD, f"{said}: not passed".strip(": "), seen.words, seen.source, about=TESTED)]
    if facts.passed == "yes":
        return [Verdict(GOOD, f"{said}: passed".strip(": "), seen.words, seen.source, about=TESTED)]
    missing = "Enter the limits, or say whether it passed" if said else "Enter the value, or say whether it passed"
    return [waiting(f"{said}. {missing}.".removeprefix(". "), rule, TESTED)]


# ---- tools ----


def looked_again_verdict(label: str, found_bad: str, outcome: str, looked_on: str, said: str) -> Verdict:
    """What came of looking again at what was made with a tool found bad: what was done again stays as bad as it was."""
    came = f"Looked at again on {looked_on}: {words.RECHECKED[outcome].lower()}"
    return judged(room.SUSPECT, outcome != words.REDONE, f"{label} was found bad on {found_bad}. {came}", (said,), TOOL)


def tool_verdict(label: str, standing: Verdict, suspect_since: str = "") -> list[Verdict]:
    """A warning about the tool that was used: due, upset or found bad on that day, or found bad later."""
    if suspect_since:
        said = f"{label} was found bad on {suspect_since}, and this was made with it since it was last good"
        return [Verdict(BAD, said, room.CALIBRATION.words, room.CALIBRATION.source, room.CALIBRATION.caution,
                        about=TOOL)]  # fmt: skip
    if not standing.bad:
        return []
    return [
        Verdict(
            BAD, f"{label}: {standing.words}", standing.rule, standing.source, standing.caution, standing.lines, TOOL
        )
    ]
