"""A cure run as its rules take it: what it has to keep to, what its sensors said, what is kept of its verdict, words.

Temperatures are in the unit of the run, times in minutes since its first reading.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from hashlib import sha256
from itertools import islice
from typing import Any, overload
from zoneinfo import ZoneInfo

from calc import cure
from process.rules.verdicts import MARKS, Verdict

# Raised whenever the same inputs give another verdict or another drawing.
VERSION = 1
CELSIUS, FAHRENHEIT = "C", "F"
UNITS = {CELSIUS: "degC", FAHRENHEIT: "degF"}
SIGNS = {CELSIUS: "°C", FAHRENHEIT: "°F"}
# Minutes within which two lengths of time are the same.
EVEN = 1e-6

RAMP, COOL, PEAK, SOAK, STACK = "ramp", "cool", "peak", "soak", "stack"


@dataclass(frozen=True)
class Material:
    """A material in the heated stack and the most it bears, in the unit of the run."""

    name: str
    limit: Decimal
    source: str = ""


@dataclass(frozen=True)
class Spec:
    """What a run has to keep to, in the unit of its sheet; rates per minute, times in minutes."""

    unit: str = CELSIUS
    low: Decimal | None = None
    high: Decimal | None = None
    soak_min: Decimal | None = None
    soak_max: Decimal | None = None
    added_up: bool = False
    peak_max: Decimal | None = None
    ramp_max: Decimal | None = None
    cool_max: Decimal | None = None
    cool_to: Decimal | None = None
    source: str = ""
    stack: tuple[Material, ...] = ()
    over: bool = True
    """Whether the run has ended: until then a short soak is no fault."""
    ramp_over: float = 0.0
    area_ft2: float = 0.0
    vacuum_inhg: Fraction | Decimal | None = None
    vacuum_least: Decimal = Decimal(cure.LEAST_VACUUM)
    vacuum_source: str = cure.VACUUM.source

    @property
    def sign(self) -> str:
        return SIGNS[self.unit]

    @property
    def asks(self) -> bool:
        """Whether there is anything to judge by."""
        return self.low is not None or self.peak_max is not None or bool(self.stack)


class Points(Sequence[tuple[float, float]]):
    """Times and temperatures as points, made only while they are read: a long log has millions."""

    def __init__(self, minutes: Sequence[float], degrees_: Sequence[float]) -> None:
        self.minutes, self.degrees = minutes, degrees_

    @cached_property
    def step(self) -> float:
        """Minutes between two readings where all lie as far apart; zero where they do not."""
        lasts = [after - before for before, after in zip(self.minutes, islice(self.minutes, 1, None), strict=False)]
        if not lasts:
            return 0.0
        shortest, longest = min(lasts), max(lasts)
        return lasts[0] if shortest > 0 and longest - shortest < EVEN * shortest else 0.0

    def steps_in(self, over: float) -> int:
        """How many even steps make up so many minutes; zero where they do not."""
        count = round(over / self.step) if self.step else 0
        return count if 0 < count < len(self.minutes) and abs(count * self.step - over) < EVEN else 0

    def __len__(self) -> int:
        return len(self.minutes)

    @overload
    def __getitem__(self, at: int) -> tuple[float, float]: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[tuple[float, float]]: ...
    def __getitem__(self, at: int | slice) -> tuple[float, float] | Sequence[tuple[float, float]]:
        if isinstance(at, slice):
            return Points(self.minutes[at], self.degrees[at])
        return self.minutes[at], self.degrees[at]

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return zip(self.minutes, self.degrees, strict=True)


@dataclass(frozen=True)
class Sensed:
    """What one sensor said, in minutes since the run's first reading and the unit of the run."""

    name: str
    place: str
    points: Points


@dataclass(frozen=True)
class Fault:
    """Something that the specification does not allow, with when it was."""

    kind: str
    start: float
    end: float
    at: float
    degree: float
    short: str
    sentence: str
    sensor: str = ""


@dataclass
class Judged:
    """A run judged, as it is kept beside the record and drawn."""

    state: str
    words: str
    verdicts: list[Verdict] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    facts: list[tuple[str, str]] = field(default_factory=list)
    soaks: list[tuple[float, float]] = field(default_factory=list)
    peak: float | None = None
    starts: str = ""
    minutes: float = 0.0
    interval: float = 0.0
    drawn: list[dict[str, Any]] = field(default_factory=list)

    @property
    def mark(self) -> str:
        """The drawn state that stands beside the words."""
        return MARKS[self.state]

    def as_json(self, basis: str) -> dict[str, Any]:
        return asdict(self) | {"basis": basis}

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Judged":
        known = {key: said[key] for key in cls.__dataclass_fields__ if key in said}
        known["verdicts"] = [Verdict(**one | {"lines": tuple(one["lines"])}) for one in said.get("verdicts", ())]
        known["faults"] = [Fault(**one) for one in said.get("faults", ())]
        known["facts"] = [(one, other) for one, other in said.get("facts", ())]
        known["soaks"] = [(one, other) for one, other in said.get("soaks", ())]
        return cls(**known)


def basis(inputs: Any) -> str:
    """By what a verdict is known to be of these inputs."""
    return sha256(json.dumps([VERSION, inputs], sort_keys=True, default=str).encode()).hexdigest()


def real(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


# ---- Words


@dataclass(frozen=True)
class Clock:
    """Minutes of the log as times of the project's clock, with the day where it is not the log's first."""

    starts: datetime
    zone: ZoneInfo

    def __call__(self, minute: float) -> str:
        when = (self.starts + timedelta(minutes=minute)).astimezone(self.zone)
        same = when.date() == self.starts.astimezone(self.zone).date()
        return f"{when:%H:%M}" if same else f"{when.day} {when:%b %H:%M}"


def temp(value: float, spec: Spec) -> str:
    """A temperature for a sentence; never rounded onto a limit that it passes."""
    return f"{figure(value)} {spec.sign}"


def difference(value: float, spec: Spec) -> str:
    return f"{figure(value)} {spec.sign}"


def figure(value: float) -> str:
    for places in (1, 2, 3):
        text = f"{value:.{places}f}"
        if abs(float(text) - value) < 1e-9 or places == 3:
            return text.removesuffix(".0") if places == 1 else text
    return f"{value:g}"


def rate(value: float, spec: Spec) -> str:
    """A rate per minute, and per hour where the minute's is small, as home post-cures are written."""
    text = f"{value:.2f} {spec.sign}/min"
    return f"{text} ({value * 60:.1f} {spec.sign}/h)" if 0 < value < 1 else text


def lasted(minutes: float) -> str:
    """A length of time: "3 h 10 min"."""
    if minutes < 10 and abs(minutes - round(minutes)) > 0.05:
        return f"{minutes:.1f} min"
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    return " ".join([*([f"{hours} h"] if hours else []), *([f"{rest} min"] if rest or not hours else [])])


def band(spec: Spec) -> str:
    if spec.low is None:
        return "none given"
    if spec.high is None:
        return f"{temp(float(spec.low), spec)} and more"
    return f"{figure(float(spec.low))} to {temp(float(spec.high), spec)}"


def and_words(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
