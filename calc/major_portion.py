"""Major portion: credit per task in tenths over four columns, and the builders' share of all counted tasks.

Tasks are counted, never hours. One counted task is ten tenths, split over the maker, paid help, the builders' assembly
and the builders' fabrication.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from calc.trouble import Impossible
from calc.verdict import Rule

MAKER, PAID, ASSEMBLY, FABRICATION = COLUMNS = "mfr", "commercial", "builder_assembly", "builder_fabrication"
FULL = 10
"""Tenths of one task."""

SHARE = Rule(
    "builders' share = (assembly + fabrication) / all counted tasks; counted = listed without N/A, with added ones",
    "Amateur-Built Fabrication and Assembly Checklist (2011), instructions above the table; the quotient is inferred",
    valid="Whole tenths; each task ten of them; fixed wing.",
    caution="The inspector decides. Use the official list of tasks; between 50 and 51 % the published readings differ.",
)
MORE, MARGINAL, SHORT, EMPTY = "more_than_half", "marginal", "short", "nothing_counted"


@dataclass(frozen=True)
class Task:
    """One line of a list. Without `tenths` it does not apply to this aircraft and is not counted."""

    name: str
    tenths: Mapping[str, int] | None
    added: bool = False

    @property
    def counted(self) -> bool:
        return self.tenths is not None

    def of(self, *columns: str) -> int:
        """The tenths in these columns together."""
        return sum((self.tenths or {}).get(column, 0) for column in columns)

    @property
    def given(self) -> int:
        """The tenths that are given to somebody."""
        return self.of(*COLUMNS)


def task(name: str, tenths: Mapping[str, int] | None, *, added: bool = False) -> Task:
    """A task whose columns are known and hold whole tenths of at most one task. Raises Impossible for others."""
    for column, number in (tenths or {}).items():
        if column not in COLUMNS:
            raise Impossible(f"{name}: no column “{column}”; known are {', '.join(COLUMNS)}.", "tenths", "unknown")
        if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number <= FULL:
            raise Impossible(f"{name}: a column holds 0 to {FULL} whole tenths, not {number}.", "tenths")
    return Task(name, None if tenths is None else {column: tenths.get(column, 0) for column in COLUMNS}, added)


def more(one: Task, column: str, tenths: int) -> Task:
    """A task with more in one column. Raises Impossible where the task would hold more than one point."""
    after = one.given + tenths
    if one.tenths is None:
        raise Impossible(f"{one.name} does not apply, so nothing of it can be credited.", "tenths")
    if after > FULL:
        raise Impossible(f"task total would be {after} tenths", "tenths")
    return task(one.name, {**one.tenths, column: one.tenths.get(column, 0) + tenths}, added=one.added)


@dataclass(frozen=True)
class Share:
    """What counted tasks add up to, in tenths."""

    counted: int
    totals: Mapping[str, int]
    unbalanced: tuple[str, ...]
    """Tasks whose columns do not add up to one point: their rest is nobody's yet, or too much is claimed."""

    @property
    def points(self) -> int:
        return self.counted * FULL

    @property
    def builders(self) -> int:
        return self.totals[ASSEMBLY] + self.totals[FABRICATION]

    @property
    def others(self) -> int:
        return self.totals[MAKER] + self.totals[PAID]

    @property
    def percent(self) -> Fraction | None:
        """The builders' share, exactly; None where nothing is counted. Only what is shown is rounded."""
        return Fraction(self.builders * 100, self.points) if self.points else None

    @property
    def more_than_half(self) -> bool:
        return self.percent is not None and self.percent > 50

    @property
    def at_least_51(self) -> bool:
        return self.percent is not None and self.percent >= 51

    @property
    def standing(self) -> str:
        """More than half, marginal over 50 and under 51 % (published readings differ), short, or nothing counted."""
        if self.percent is None:
            return EMPTY
        return MORE if self.at_least_51 else MARGINAL if self.more_than_half else SHORT

    @property
    def without_fabrication(self) -> bool:
        """Nothing in the column of fabrication, although 14 CFR 21.191(g) says fabricated and assembled."""
        return self.counted > 0 and not self.totals[FABRICATION]


def share(tasks: Iterable[Task]) -> Share:
    """Add up counted tasks. Raises Impossible where two have one name."""
    counted = [one for one in tasks if one.counted]
    names = [one.name for one in counted]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise Impossible(f"Task {twice} stands twice in the list.", "tasks")
    totals = {column: sum(one.of(column) for one in counted) for column in COLUMNS}
    return Share(len(counted), totals, tuple(one.name for one in counted if one.given != FULL))


def hired_out(tasks: Sequence[Task], names: Iterable[str]) -> list[Task]:
    """The same tasks with what the builders have of these given to paid help."""
    away = set(names)
    return [_given_away(one) if one.name in away and one.tenths is not None else one for one in tasks]


def _given_away(one: Task) -> Task:
    kept = {MAKER: one.of(MAKER), PAID: one.of(PAID, ASSEMBLY, FABRICATION), ASSEMBLY: 0, FABRICATION: 0}
    return replace(one, tenths=kept)
