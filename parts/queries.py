"""Reads about the assembly tree and its parts."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import reduce
from operator import or_

from django.db.models import Case, Count, Q, QuerySet, Value, When

from accounts.models import Project
from calc import units
from journal.models import Entry
from parts import rules
from parts.models import Assembly, Bin, Lot, MadeOf, Origin, Part


def assemblies(project: Project) -> QuerySet[Assembly]:
    """The assemblies of a project that stand."""
    return Assembly.objects.standing().filter(project=project)


def parts_of(project: Project) -> QuerySet[Part]:
    """The parts of a project that stand, each with its assembly."""
    return Part.objects.standing().filter(project=project).select_related("assembly")


@dataclass(frozen=True)
class Node:
    """One assembly in reading order, with how deep it hangs."""

    assembly: Assembly
    depth: int


def in_order(rows: Iterable[Assembly]) -> list[Node]:
    """Assemblies of one project, parents before children, each level by position."""
    children: dict[str | None, list[Assembly]] = {}
    rows = list(rows)
    known = {row.pk for row in rows}
    for row in rows:
        children.setdefault(row.parent_id if row.parent_id in known else None, []).append(row)
    nodes: list[Node] = []
    waiting = [Node(row, 0) for row in reversed(children.get(None, []))]
    while waiting:
        node = waiting.pop()
        nodes.append(node)
        waiting += [Node(row, node.depth + 1) for row in reversed(children.get(node.assembly.pk, []))]
    return nodes


def tree(project: Project) -> list[Node]:
    """The whole tree of a project in reading order: one query."""
    return in_order(assemblies(project))


def parents(project: Project) -> dict[str, str | None]:
    """Each standing assembly's parent, by key."""
    return dict(assemblies(project).order_by().values_list("pk", "parent_id"))


def parent_names(project: Project) -> dict[str, str]:
    """Number and name of what each assembly is part of, by its key; those at the top are left out. One query."""
    rows = list(assemblies(project))
    names = {row.pk: str(row) for row in rows}
    return {row.pk: names[row.parent_id] for row in rows if row.parent_id in names}


def above(key: str, parent_of: dict[str, str | None]) -> Iterator[str]:
    """The assemblies that this one is part of, nearest first."""
    parent = parent_of.get(key)
    while parent is not None:
        yield parent
        parent = parent_of.get(parent)


def subtree(key: str, parent_of: dict[str, str | None]) -> set[str]:
    """The keys of an assembly and of all below it."""
    return {node for node in parent_of if node == key or key in above(node, parent_of)}


# ---- lists ----


def part_counts(project: Project) -> dict[str, int]:
    """How many parts stand in each assembly itself, by key: one query."""
    rows = parts_of(project).order_by().values_list("assembly").annotate(count=Count("pk"))
    return dict(rows)


def find_parts(
    project: Project, *, text: str = "", kind: str = "", status: str = "", assembly: str = ""
) -> QuerySet[Part]:
    """Parts whose number, name or note holds the text, of this kind and status, in this assembly or below it."""
    found = parts_of(project)
    if text:
        found = found.filter(Q(number__icontains=text) | Q(name__icontains=text) | Q(note__icontains=text))
    if kind:
        found = found.filter(kind=kind)
    if status:
        found = found.filter(status=status)
    if assembly:
        found = found.filter(assembly__in=subtree(assembly, parents(project)))
    return found


def bins(project: Project) -> QuerySet[Bin]:
    """The bins of a project that stand, by number."""
    return Bin.objects.standing().filter(project=project)


def lots(project: Project) -> QuerySet[Lot]:
    """The lots of a project that stand, by number."""
    return Lot.objects.standing().filter(project=project)


def find_lots(project: Project, today: date, text: str = "") -> QuerySet[Lot]:
    """Lots with the text in what their label says, by number; first those past their date or close to it, last
    those used up or rejected."""
    found = lots(project)
    if text:
        holds = (Q(**{f"{name}__icontains": text}) for name in ("number", "name", "maker_lot", "supplier", "note"))
        found = found.filter(reduce(or_, holds))
    close = When(pk__in=close_lots(found, today), then=Value(0))
    gone = When(status__in=("used_up", "reject"), then=Value(2))
    return found.order_by(Case(gone, close, default=Value(1)), "number", "pk")


def close_lots(lots: QuerySet[Lot], today: date) -> list[str]:
    """The keys of those lots still in use that are past their last good day or close to it."""
    in_use = lots.filter(status__in=("good", "hold"))
    return [lot.pk for lot in in_use if lot.shelf_life(today).state in {"past", "soon"}]


def changed_since(project: Project, moment: datetime) -> set[str]:
    """The journal names of the assemblies, parts, bins and lots added or changed since then; where an assembly hangs
    does not count."""
    rows = Entry.objects.filter(project=project.pk, subject__startswith="parts.", at__gte=moment)
    return set(rows.exclude(verb="assembly.moved").values_list("subject", flat=True))


@dataclass(frozen=True)
class Place:
    """A place in the tree where an assembly can be hung: below `parent`, right after `after`; None is top and first."""

    parent: Assembly | None
    after: Assembly | None
    depth: int

    @property
    def key(self) -> str:
        """The place as one text, for a form."""
        return f"{self.parent.pk if self.parent else ''}/{self.after.pk if self.after else ''}"

    @property
    def words(self) -> str:
        """The place as a reader of the tree sees it."""
        where = f"in {self.parent}" if self.parent else "at the top"
        return f"after {self.after}, {where}" if self.after else f"first {where}"


def places(project: Project, moved: Assembly) -> list[Place]:
    """Every place the assembly can be hung, in the order of the tree: one query. Its own subtree is left out."""
    rows = list(assemblies(project))
    own = subtree(moved.pk, {row.pk: row.parent_id for row in rows})
    by_key = {row.pk: row for row in rows}
    found, open_nodes = [Place(None, None, 0)], list[Node]()

    def leave(node: Node) -> None:
        found.append(Place(by_key.get(node.assembly.parent_id or ""), node.assembly, node.depth))

    for node in in_order(row for row in rows if row.pk not in own):
        while open_nodes and open_nodes[-1].depth >= node.depth:
            leave(open_nodes.pop())
        open_nodes.append(node)
        found.append(Place(node.assembly, None, node.depth + 1))
    for node in reversed(open_nodes):
        leave(node)
    return found


def present_place(project: Project, assembly: Assembly) -> str:
    """The key of the place where an assembly hangs now."""
    before = None
    for row in assemblies(project).filter(parent=assembly.parent_id):
        if row.pk == assembly.pk:
            break
        before = row
    return Place(assembly.parent, before, 0).key


# ---- one part ----


@dataclass(frozen=True)
class Weight:
    """A weight as entered, and in the project's unit if that is another one."""

    entered: str
    converted: str


def weight_of(part: Part, project: Project) -> Weight:
    """The weighed weight of a part for a reader."""
    return shown(part.weight, part.weight_unit, project.units)


def estimate_of(part: Part, project: Project) -> Weight:
    """The estimated weight of a part for a reader."""
    return shown(part.estimate, part.estimate_unit, project.units)


def shown(value: Decimal | None, unit: str, system: str) -> Weight:
    """A weight for a reader, converted from what was entered and not from the rounded grams (rule R41)."""
    if value is None or unit == rules.SHOWN_IN[system]:
        return Weight(rules.entered(value, unit), "")
    return Weight(rules.entered(value, unit), rules.converted(units.grams(value, unit), system))


# ---- genealogy ----


def origin_links(project: Project) -> list[tuple[str, str]]:
    """Each part that stands with what it comes from, as keys: one query."""
    rows = Origin.objects.filter(part__project=project, part__withdrawn_at=None).order_by()
    return list(rows.values_list("part_id", "source_id"))


def origins(part: Part) -> QuerySet[Origin]:
    """Where a part comes from."""
    return part.origins.select_related("source__assembly").order_by("kind", "source__number", "pk")


def offspring(part: Part) -> QuerySet[Origin]:
    """What comes from a part; withdrawn parts are left out."""
    rows = part.offspring.filter(part__withdrawn_at=None).select_related("part__assembly")
    return rows.order_by("kind", "part__number", "part__side", "part__n", "pk")


def made_of(part: Part) -> QuerySet[MadeOf]:
    """The lots that went straight into a part."""
    return part.made_of.select_related("lot").order_by("lot__number", "pk")
