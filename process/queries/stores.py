"""What the stores want done: lots that expire or run low, and tools that are due."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db.models import Sum

from accounts.models import Project
from parts import queries as parts
from parts.models import Lot
from process.models import Fasteners, Mix
from process.queries import tools
from process.queries.tools import Stood
from process.rules.stores import Left, left_of


@dataclass(frozen=True)
class Watched:
    """One lot to look at: how it stands against its last good day, and what is left of it where that is known."""

    lot: Lot
    state: str
    expires: date | None
    left: Left | None

    @property
    def low(self) -> bool:
        return self.left is not None and self.left.low


@dataclass(frozen=True)
class Watch:
    """Lots and tools that want something done."""

    lots: list[Watched]
    tools: list[Stood]

    @property
    def count(self) -> int:
        return len(self.lots) + len(self.tools)

    def __bool__(self) -> bool:
        return bool(self.count)


def watch(project: Project, today: date) -> Watch:
    """The lots still in use that are past their last good day, close to it, or low, and the tools that are due or not
    to be used: a handful of queries."""
    rows = list(parts.lots(project).filter(status__in=("good", "hold")))
    taken = Taken(project)
    lots = [watched(lot, taken, today) for lot in rows]
    wanted = [one for one in lots if one.state in {"past", "soon"} or one.low]
    wanted.sort(key=lambda one: (one.state not in {"past"}, one.expires or date.max, one.lot.number))
    due = [one for one in tools.stood(project, today) if one.wanted]
    return Watch(wanted, due)


def watched(lot: Lot, taken: "Taken", today: date) -> Watched:
    """How one lot stands."""
    keeps = lot.shelf_life(today)
    return Watched(lot, keeps.state, keeps.expires, taken.left(lot))


class Taken:
    """What was taken from each lot of a project, by mixes and fastener rows: three queries."""

    def __init__(self, project: Project) -> None:
        mixes = Mix.objects.standing().filter(project=project).order_by()
        self.grams: dict[str, Decimal] = {}
        self.add(mixes.filter(resin_lot__isnull=False).values_list("resin_lot").annotate(n=Sum("resin_g")))
        self.add(mixes.filter(hardener_lot__isnull=False).values_list("hardener_lot").annotate(n=Sum("hardener_g")))
        rows = Fasteners.objects.standing().filter(project=project, lot__isnull=False).order_by()
        self.pieces: dict[str, int] = {
            lot: (count or 0) + (rejected or 0)
            for lot, count, rejected in rows.values_list("lot").annotate(n=Sum("count"), gone=Sum("rejected"))
        }

    def add(self, rows: Iterable[tuple[str, Decimal | None]]) -> None:
        for lot, grams in rows:
            self.grams[lot] = self.grams.get(lot, Decimal(0)) + (grams or 0)

    def left(self, lot: Lot) -> Left | None:
        """What is left of a lot; None where that cannot be known."""
        return left_of(lot.quantity, Fraction(self.grams.get(lot.pk, Decimal(0))), self.pieces.get(lot.pk, 0))
