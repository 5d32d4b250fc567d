"""What follows from a mix: its ratio, what the scale can hide, its pot life, and the lots it was made from."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from calc import mix, quantities, room
from calc.trouble import Impossible
from calc.units import convert
from process.rules import words
from process.rules.quantities import has_unit, plain, read, size, written
from process.rules.usual import NONE, Own, usual
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict, judged, told, tried, waiting

RATIO, POT, LOT = "Mix ratio", "Pot life", "Lot"
VOLUME_WORDS = "The ratio is by volume: enter both amounts as volumes, such as 60 mL, or the ratio by weight."
WEIGHT_WORDS = "The ratio is by weight: enter both amounts as weights, such as 145.2 g, or the ratio by volume."


@dataclass(frozen=True)
class Scale:
    """The scale used: its number, its resolution as entered, and its error in percent of the reading."""

    label: str
    resolution: str = ""
    error_percent: Decimal | None = None

    def error(self, reading: Fraction) -> Fraction:
        """By how many grams a reading can be wrong: resolution and accuracy together."""
        step = size(self.resolution, "g") if self.resolution else Fraction(0)
        return step + reading * Fraction(self.error_percent or 0) / 100

    @property
    def known(self) -> bool:
        return bool(self.resolution or self.error_percent)


@dataclass(frozen=True)
class LotFacts:
    """A lot that went into the mix."""

    label: str
    expires: date | None
    status: str = "good"


@dataclass(frozen=True)
class MixFacts:
    """What is said of a mix; amounts as they were typed."""

    ratio_by: str
    parts_resin: Decimal
    parts_hardener: Decimal
    window_percent: Decimal | None = None
    resin: str = ""
    hardener: str = ""
    scale: Scale | None = None
    mixed_at: datetime | None = None
    spread_at: datetime | None = None
    last_wetout_at: datetime | None = None
    pot_life_min: Decimal | None = None
    pot_temp: str = ""
    source: str = ""
    lots: Sequence[LotFacts] = ()
    day: date | None = None


def amount(text: str, ratio_by: str) -> tuple[str, Fraction]:
    """A measured amount, as it is kept and exactly: grams where the ratio is by weight, milliliters by volume.

    Raises Impossible, also where a weight was typed for a ratio by volume: one never turns into the other unseen.
    """
    if ratio_by == words.BY_WEIGHT:
        try:
            return read(text, "g", "g")
        except Impossible as no:
            raise Impossible(WEIGHT_WORDS, code=no.code) if is_volume(text) else no from None
    try:
        found = quantities.parse(text, "volume", "mL")
    except Impossible as no:
        raise Impossible(VOLUME_WORDS, code=no.code) if is_weight(text) else no from None
    kept = found.entered if has_unit(found.entered) else f"{found.entered} {written('mL')}"
    return kept, convert(found.value, found.unit, "mL")


def is_volume(text: str) -> bool:
    return is_a(text, "volume")


def is_weight(text: str) -> bool:
    return is_a(text, "mass")


def is_a(text: str, kind: str) -> bool:
    try:
        quantities.parse(text, kind)
    except Impossible:
        return False
    return True


def verdicts(facts: MixFacts, own: Own = NONE) -> list[Verdict]:
    """Ratio, pot life and lots."""
    return [ratio_verdict(facts, own), *pot_verdict(facts), *lot_verdicts(facts)]


def window(facts: MixFacts, own: Own = NONE) -> tuple[Fraction, str]:
    """How far the ratio may lie off, in percent, and who says so."""
    if facts.window_percent is not None:
        return Fraction(facts.window_percent), facts.source or "as entered"
    found = usual("mix_window_percent", own)
    return Fraction(found.value), found.source


def ratio_verdict(facts: MixFacts, own: Own = NONE) -> Verdict:
    """The ratio of what was measured out, inside the window or not, with the scale's worst case."""
    if not facts.resin or not facts.hardener:
        return waiting("Resin and hardener are not both measured out yet.", mix.WINDOW, RATIO)

    def make() -> Verdict:
        resin, hardener = amount(facts.resin, facts.ratio_by)[1], amount(facts.hardener, facts.ratio_by)[1]
        wide, source = window(facts, own)
        target = Fraction(facts.parts_resin) / Fraction(facts.parts_hardener)
        low, high = target * (1 - wide / 100), target * (1 + wide / 100)
        found = mix.judge(resin, hardener, target, (low, high))
        by = words.RATIO_BY[facts.ratio_by].lower()
        needed = resin / target
        lines = [
            f"{facts.resin} resin to {facts.hardener} hardener, {by}",
            f"Asked for {plain(facts.parts_resin)} : {plain(facts.parts_hardener)} {by}, "
            f"within {float(wide):g} % ({source})",
        ]
        text = f"{per_100(hardener, resin)} of hardener per 100 of resin, {found.deviation:+.1f} % off the ratio"
        if not found.good:
            unit = "g" if facts.ratio_by == words.BY_WEIGHT else "mL"
            text = f"{text}: {found.reasons[0]}. Do not spread it before it is put right"
            short, needs = (hardener, needed) if hardener < needed else (resin, hardener * target)
            name = "hardener" if hardener < needed else "resin"
            lines.append(f"To put it right, add {float(needs - short):.1f} {unit} of {name}, stir, and weigh again")
        lines += worst(facts, resin, hardener, low, high)
        return judged(mix.WINDOW, found.good, text, tuple(lines), RATIO)

    return tried(make, RATIO, mix.WINDOW)


def worst(facts: MixFacts, resin: Fraction, hardener: Fraction, low: Fraction, high: Fraction) -> list[str]:
    """What the scale can hide, in words; nothing where the scale's error is not known or volumes were measured."""
    if facts.scale is None or not facts.scale.known or facts.ratio_by != words.BY_WEIGHT:
        return []
    scale = facts.scale
    try:
        span = mix.worst_case(resin, hardener, scale.error(resin), scale.error(hardener))
    except Impossible as no:
        return [no.sentence]
    ends = f"{100 / span.high:.1f} to {100 / span.low:.1f}"
    said = f"Scale {scale.label} may be off: {ends} per 100 at worst"
    inside = low <= Fraction(span.low) and Fraction(span.high) <= high
    return [said if inside else f"{said}, which leaves the window. Mix a larger batch or use a finer scale"]


def per_100(hardener: Fraction, resin: Fraction) -> str:
    return f"{float(hardener / resin * 100):.1f}"


def ends_at(facts: MixFacts) -> datetime | None:
    """When the pot life is over."""
    if facts.mixed_at is None or facts.pot_life_min is None:
        return None
    return facts.mixed_at + timedelta(minutes=float(facts.pot_life_min))


def pot_verdict(facts: MixFacts) -> list[Verdict]:
    """Whether the pot was spread, or the last ply of it wet out, within the pot life."""
    if facts.mixed_at is None or facts.pot_life_min is None:
        return []
    end = facts.spread_at or facts.last_wetout_at
    mixed_at, life = facts.mixed_at, facts.pot_life_min
    if end is None:
        return [waiting("The pot is not spread yet.", mix.POT_CLOCK, POT)]

    def make() -> Verdict:
        found = mix.pot_clock(mixed_at, end, life)
        words_ = f"Spread after {found.elapsed:.0f} of {plain(life)} min"
        lines = (f"Pot life {plain(life)} min ({facts.source or 'as entered'})",)
        return told(found, words_, f"{words_}: after the pot life", lines, POT)

    return [tried(make, POT, mix.POT_CLOCK)]


@dataclass(frozen=True)
class Hint:
    """Pot life at the pot's temperature, for the alarm only."""

    minutes: int
    words: str
    rule: str = mix.POT_LIFE.words
    source: str = mix.POT_LIFE.source
    caution: str = mix.POT_LIFE.caution


REFERENCE_DEGC = 25


def pot_hint(pot_life: Decimal | None, pot_temp: str) -> Hint | None:
    """How long the pot life is at the pot's own temperature, when the sheet gives it at 25 °C."""
    if pot_life is None or not pot_temp:
        return None
    try:
        minutes = mix.pot_life_at(pot_life, REFERENCE_DEGC, size(pot_temp, "degc"), "degC")
    except Impossible:
        return None
    said = f"About {minutes:.0f} min at {pot_temp}, if the sheet's {plain(pot_life)} min are for {REFERENCE_DEGC} °C"
    return Hint(round(minutes), said)


def lot_verdicts(facts: MixFacts) -> list[Verdict]:
    """Lots past their date on the day of mixing, and lots on hold or rejected; good ones once, together."""
    day = facts.day
    bad = []
    for lot in facts.lots:
        if lot.status in {"hold", "reject"}:
            said = "on hold" if lot.status == "hold" else "rejected"
            bad.append(Verdict(BAD, f"{lot.label} is {said}", room.SHELF_LIFE.words, "the lot's own page", about=LOT))
        elif day is not None and lot.expires is not None and lot.expires < day:
            said = f"{lot.label} was past its date ({lot.expires:%-d %b %Y}) when it was mixed"
            bad.append(
                Verdict(BAD, said, room.SHELF_LIFE.words, room.SHELF_LIFE.source, room.SHELF_LIFE.caution, about=LOT)
            )
    if bad or not facts.lots:
        return bad
    dated = all(lot.expires for lot in facts.lots)
    text = "All lots in date" if dated else "No date known of every lot"
    said_of = tuple(
        f"{lot.label}, {'to ' + format(lot.expires, '%-d %b %Y') if lot.expires else 'no date'}" for lot in facts.lots
    )
    return [
        Verdict(
            GOOD if dated else OPEN,
            text,
            room.SHELF_LIFE.words,
            room.SHELF_LIFE.source,
            room.SHELF_LIFE.caution,
            said_of,
            LOT,
        )
    ]
