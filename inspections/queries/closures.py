"""Closure lists: the bundled ones from their data file, and the project's own."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from inspections.models import Area, ClosureItem, ClosureList
from inspections.queries import processes
from inspections.rules import AREA_KINDS
from inspections.rules import closures as rules
from journal.models import Entry

DATA = Path(__file__).parent.parent / "data" / "closures.json"


@dataclass(frozen=True)
class Listed:
    """A closure list, bundled or the project's own."""

    key: str
    name: str
    kind: str
    use: str
    note: str
    source: str
    edition: str
    items: tuple[dict[str, Any], ...] = field(repr=False)
    own: ClosureList | None = None

    @property
    def words(self) -> str:
        """By which name an area tells which list it was set up from."""
        return f"{self.name}, edition {self.edition}"

    @property
    def kind_words(self) -> str:
        return AREA_KINDS[self.kind]

    def offered(self) -> list[dict[str, Any]]:
        """The lines as a gate can ask them now."""
        return [rules.offered(item, tuple(processes.kinds())) for item in self.items]

    @property
    def lines(self) -> list[tuple[dict[str, Any], bool]]:
        """Each line, and whether its limits are left to the plan."""
        return [(item, rules.waits_for_plan(item)) for item in self.offered()]

    @property
    def to_complete(self) -> int:
        """How many measured values take their limits from the plan."""
        return sum(rules.waits_for_plan(item) for item in self.items)


@cache
def data() -> dict[str, Any]:
    """The bundled data file."""
    return json.loads(DATA.read_text())


@cache
def bundled() -> dict[str, Listed]:
    """The bundled lists by key."""
    edition = f"{data()['edition']}, {data()['date']}"
    return {row["key"]: from_data(row, edition) for row in data()["lists"]}


def from_data(row: dict[str, Any], edition: str) -> Listed:
    """One list of the data file."""
    items = tuple(rules.from_data(item) for item in row["items"])
    return Listed(row["key"], row["name"], row["kind"], row["use"], row["note"], row["source"], edition, items)


def rows(project: Project) -> QuerySet[ClosureList]:
    """The project's own lists that stand."""
    own = ClosureList.objects.standing().filter(project=project).select_related("project")
    return own.prefetch_related(Prefetch("items", ClosureItem.objects.order_by("position")))


def own_lists(project: Project) -> list[Listed]:
    """The project's own lists with the day of their edition: two queries and one for the days."""
    lists = list(rows(project))
    last: dict[str, Entry] = {}
    for entry in Entry.objects.filter(project=project.pk, subject__in=[one.subject for one in lists]).order_by("seq"):
        last[entry.subject] = entry
    return [from_row(one, f"{last[one.subject].at.astimezone(project.zone):%Y-%m-%d}") for one in lists]


def from_row(row: ClosureList, day: str) -> Listed:
    """One of the project's own lists; `day` is when its edition was made."""
    items = tuple(item_words(item) for item in row.items.all())
    use = f"Made from {row.based_on}." if row.based_on else ""
    return Listed(row.pk, row.name, row.kind, use, row.note, "", f"{row.edition}, {day}", items, row)


def item_words(item: Any) -> dict[str, Any]:
    """A line of a list, or an item of a gate, as plain values."""
    return {name: getattr(item, name) for name in rules.FIELDS}


def all_lists(project: Project) -> list[Listed]:
    """The project's own lists, then the bundled ones."""
    return [*own_lists(project), *bundled().values()]


def list_of(project: Project, key: str) -> Listed | None:
    """The list of this key, bundled or of this project; none for any other key."""
    return next((one for one in all_lists(project) if one.key == key), None) if key else None


def items_of(area: Area) -> list[dict[str, Any]]:
    """What the gate of an area asks, as lines of a list."""
    return rules.listable([item_words(item) for item in area.asked])


def grouped(lists: Iterable[Listed]) -> list[tuple[str, list[Listed]]]:
    """Lists under headings; empty headings are left out."""
    lists = list(lists)
    groups = [
        ("Own lists", [one for one in lists if one.own]),
        ("Bundled lists", [one for one in lists if not one.own]),
    ]
    return [(words, found) for words, found in groups if found]
