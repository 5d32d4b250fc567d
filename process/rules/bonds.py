"""A bond in its steps, and whether its surfaces were ready when the adhesive went on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo

from calc import bonding
from calc.verdict import PRACTICE, Rule
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict, judged, overall, tried, waiting

PEEL, ABRADED, WIPED, ON = "peel_off_at", "abraded_at", "wiped_at", "on_at"
STEPS = {PEEL: "Peel ply off", ABRADED: "Abraded", WIPED: "Last wipe", ON: "Adhesive on"}
YES, NO = "yes", "no"

SQUEEZE_OUT = Rule(
    "adhesive squeezed out along every edge",
    "no single source",
    PRACTICE,
    valid="What can be seen from outside; a void in the middle shows no squeeze-out missing.",
    caution="The adhesive's own data sheet and the plan win.",
)
WATER = Rule(
    "a film of clean water stays unbroken on a clean surface",
    "no single source",
    PRACTICE,
    valid="Composites and metals that water does not harm; dry again before bonding.",
    caution="The adhesive's own data sheet and the plan win over this test.",
)
IN_ORDER = Rule("peel ply off, abraded, wiped, then the adhesive", bonding.BOND.source, caution=bonding.BOND.caution)


@dataclass(frozen=True)
class BondFacts:
    """What is said of a bond."""

    had_peel_ply: str = ""
    peel_off_at: datetime | None = None
    abraded_at: datetime | None = None
    wiped_at: datetime | None = None
    on_at: datetime | None = None
    dry_min: Decimal | None = None
    within_h: Decimal | None = None
    source: str = ""
    water_break: str = ""
    squeeze_out: str = ""

    @property
    def dry(self) -> Decimal:
        """Minutes that the last wipe has to dry."""
        return Decimal(bonding.DRY_MINUTES) if self.dry_min is None else self.dry_min

    @property
    def within(self) -> Decimal:
        """Minutes from the last wipe within which the adhesive has to be on."""
        return Decimal(bonding.WINDOW_MINUTES) if self.within_h is None else self.within_h * 60

    @property
    def dry_at(self) -> datetime | None:
        """From when on the adhesive may go on."""
        return None if self.wiped_at is None else self.wiped_at + timedelta(minutes=float(self.dry))

    @property
    def expires_at(self) -> datetime | None:
        """Until when the adhesive has to be on."""
        return None if self.wiped_at is None else self.wiped_at + timedelta(minutes=float(self.within))


@dataclass(frozen=True)
class Step:
    """One step of a bond: whether it is done, and whether it is the next."""

    key: str
    words: str
    done_at: datetime | None
    needed: bool
    next: bool


def steps(facts: BondFacts) -> tuple[Step, ...]:
    """The steps in their order; peel ply only where there was some."""
    found: list[Step] = []
    waits = True
    for key, words in STEPS.items():
        done = getattr(facts, key)
        needed = key != PEEL or facts.had_peel_ply != NO
        first = waits and needed and done is None
        found.append(Step(key, words, done, needed, first))
        waits = waits and not first
    return tuple(found)


def verdicts(facts: BondFacts, zone: ZoneInfo) -> list[Verdict]:
    """Everything that can be judged of a bond."""
    found = [window(facts, zone)]
    if (backward := out_of_order(facts, zone)) is not None:
        found.append(backward)
    if facts.water_break:
        good = facts.water_break == YES
        words = "Water stayed an unbroken film." if good else "The water film broke: clean again before bonding."
        found.append(judged(WATER, good, words, about="Water film"))
    found.append(squeeze_out(facts))
    return found


def window(facts: BondFacts, zone: ZoneInfo) -> Verdict:
    """The time between last wipe and adhesive; the adhesive's own sheet wins over the built-in times."""
    about = "Surface and window"
    rule, source = rule_of(facts)
    if facts.wiped_at is None:
        return _of(waiting("The last wipe is not told yet.", bonding.BOND, about), rule, source)
    dry_at, expires_at = facts.dry_at, facts.expires_at
    if dry_at is None or expires_at is None:
        raise ValueError("a wiped surface has a window")
    if facts.on_at is None:
        wiped, first, last = (clock(when, zone) for when in (facts.wiped_at, whole_minute(dry_at), expires_at))
        words = f"Wiped at {wiped}: adhesive on from {first} to {last}."
        return _of(waiting(words, bonding.BOND, about), rule, source)
    if facts.had_peel_ply == "" and facts.peel_off_at is None:
        return _of(waiting("Say whether there was peel ply on the surfaces.", bonding.BOND, about), rule, source)
    return _of(tried(lambda: _window(facts, zone, about), about, bonding.BOND), rule, source)


def _window(facts: BondFacts, zone: ZoneInfo, about: str) -> Verdict:
    wiped, on = facts.wiped_at, facts.on_at
    if wiped is None or on is None:
        raise ValueError("judged once both are told")
    result = bonding.window(
        wiped,
        on,
        peel_ply_off=facts.had_peel_ply == NO or facts.peel_off_at is not None,
        dry_minutes=facts.dry,
        window_minutes=facts.within,
    )
    said = {
        bonding.NOT_DRY: f"on {lasted(result.elapsed)} after the last wipe, which has to dry {lasted(facts.dry)}",
        bonding.EXPIRED: f"on {lasted(result.elapsed)} after the last wipe, over the {lasted(facts.within)}: "
        "the surfaces had to be cleaned again",
        bonding.PEEL_PLY: "the peel ply is not recorded as taken off",
    }
    if result.good:
        words = f"The adhesive was on {lasted(result.elapsed)} after the last wipe."
    else:
        reasons = "; ".join(said[reason] for reason in result.reasons)
        words = f"{reasons[:1].upper()}{reasons[1:]}."
    lines = (
        f"Last wipe {clock(wiped, zone)}, adhesive on {clock(on, zone)}",
        f"Dry at least {lasted(facts.dry)}, on within {lasted(facts.within)}",
    )
    return judged(bonding.BOND, result.good, words, lines, about)


def rule_of(facts: BondFacts) -> tuple[str, str]:
    """The rule in words, and where its times are from: the adhesive's own sheet where it is given."""
    if facts.dry_min is None and facts.within_h is None:
        return bonding.BOND.words, bonding.BOND.source
    dry, within = lasted(facts.dry), lasted(facts.within)
    rule = f"at least {dry} dry after the last wipe, adhesive on within {within}, peel ply recorded off"
    own = facts.source or "own values, without a source"
    built_in = [name for name, value in (("drying time", facts.dry_min), ("window", facts.within_h)) if value is None]
    if built_in:
        own += f"; {built_in[0]} built in: {bonding.BOND.source}"
    return rule, own


def _of(verdict: Verdict, rule: str, source: str) -> Verdict:
    return Verdict(verdict.state, verdict.words, rule, source, bonding.BOND.caution, verdict.lines, verdict.about)


def out_of_order(facts: BondFacts, zone: ZoneInfo) -> Verdict | None:
    """Steps that were told in the wrong order; None where none were."""
    done = [(words, at) for key, words in STEPS.items() if (at := getattr(facts, key)) is not None]
    for (first, one), (second, other) in pairwise(done):
        if other < one:
            words = (
                f"{second} at {clock(other, zone)} is before {first.lower()} at {clock(one, zone)}. Check the times."
            )
            return judged(IN_ORDER, False, words, about="Order of the steps")
    return None


def squeeze_out(facts: BondFacts) -> Verdict:
    """Whether adhesive came out all round."""
    about = "Squeeze-out"
    if not facts.squeeze_out:
        return waiting("Look along every edge once it is pressed.", SQUEEZE_OUT, about)
    if facts.squeeze_out == YES:
        return judged(SQUEEZE_OUT, True, "Squeeze-out was seen all round.", about=about)
    return judged(SQUEEZE_OUT, False, "Not all round: look into the dry edge before it cures.", about=about)


def state(found: Sequence[Verdict]) -> str:
    """The state of a bond as a whole."""
    return overall(list(found))


SAID = {GOOD: "Ready surfaces, in time", BAD: "Not as it has to be", OPEN: "Not complete yet"}


def clock(when: datetime, zone: ZoneInfo) -> str:
    """A time of the project's clock with its day."""
    local = when.astimezone(zone)
    return f"{local.day} {local:%b %H:%M}"


def whole_minute(when: datetime) -> datetime:
    """A moment from which something may be done, told without seconds: never earlier than it is."""
    rest = timedelta(seconds=when.second, microseconds=when.microsecond)
    return when - rest + timedelta(minutes=1) if rest else when


def lasted(minutes: Decimal | float) -> str:
    """A length of time: "3 h 10 min"; never rounded onto a limit that it passes."""
    whole = int(float(minutes) * 60 + 1e-6)
    hours, minute, second = whole // 3600, whole % 3600 // 60, whole % 60
    parts = [*([f"{hours} h"] if hours else []), *([f"{minute} min"] if minute or not (hours or second) else [])]
    return " ".join([*parts, *([f"{second} s"] if second else [])])
