"""The project's own values in place of built-in ones, as rules take them."""

from dataclasses import dataclass
from decimal import Decimal

from accounts.models import Project
from process.models import HouseValue
from process.rules.usual import USUAL, Usual


@dataclass(frozen=True)
class Line:
    """One value that verdicts use: the built-in one, and the project's own where there is one."""

    key: str
    built_in: Usual
    own: HouseValue | None


def lines(project: Project) -> list[Line]:
    """All values that may be replaced, in the order in which work goes."""
    rows = {row.key: row for row in HouseValue.objects.standing().filter(project=project)}
    return [Line(key, built_in, rows.get(key)) for key, built_in in USUAL.items()]


def own_values(project: Project) -> dict[str, Usual]:
    """Own values of the project by key, with their source."""
    rows = HouseValue.objects.standing().filter(project=project)
    return {row.key: as_own(row.key, row.value, row.unit, row.source) for row in rows}


def as_own(key: str, value: Decimal, unit: str, source: str) -> Usual:
    """An own value as rules take it."""
    words = USUAL[key].words if key in USUAL else key
    return Usual(value.normalize(), unit, words, f"own value: {source}")
