"""Where a lot went, and what a thing is made of: the whole web of a project in a few queries, walked in memory (R43).

The number of queries does not depend on how much there is. Withdrawn records and parts hand nothing on: they were
entered by mistake.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from itertools import chain

from accounts.models import Project
from parts import queries as parts
from parts.models import Assembly, Lot, MadeOf, Origin, Part
from parts.rules import HANDED_ON, ORIGIN_KINDS
from process.models import (
    KINDS,
    Bond,
    Coupon,
    Cured,
    Fasteners,
    JoinedPart,
    Layup,
    Mix,
    MixUse,
    Ply,
    ProcessRecord,
    Torque,
)
from process.rules import trace, words
from process.rules.trace import ASSEMBLY, LOT, PART, Link, Node

MIX, LAYUP, BOND, CURE, COUPON = words.MIX, words.LAYUP, words.BOND, words.CURE, words.COUPON
# More keys than this are not named one by one in a query: the rows of the project are read instead.
MANY = 2000


@dataclass(frozen=True)
class Step:
    """One step of a way: a thing, and how it leads to the next one."""

    label: str
    how: str


@dataclass(frozen=True)
class Hit:
    """One thing that was found, with the way from where the walk began."""

    kind: str
    key: str
    label: str
    name: str
    note: str
    at: datetime | None
    way: tuple[Step, ...]

    @property
    def why(self) -> str:
        """The way in one line."""
        return " ".join(f"{step.label} {step.how}".strip() for step in self.way)


@dataclass(frozen=True)
class Named:
    """What a thing is called."""

    label: str
    name: str
    note: str = ""
    at: datetime | None = None

    @property
    def words(self) -> str:
        return f"{self.label} {self.name}".strip()


@dataclass(frozen=True)
class Group:
    """The hits of one kind."""

    kind: str
    words: str
    hits: list[Hit]

    @property
    def timed(self) -> bool:
        """Whether these things have a time: records have, parts and lots have none."""
        return any(hit.at for hit in self.hits)


class Traced:
    """What a walk found, named. `back` when it went from a thing to what is in it."""

    def __init__(self, project: Project, walked: trace.Walk, links: list[Link], *, back: bool) -> None:
        self.walked = walked
        self.links = links
        self.back = back
        self.names = named(project, walked.before)

    @cached_property
    def groups(self) -> list[Group]:
        """The hits by kind, each kind in order of number, with the way to each."""
        found: dict[str, list[Hit]] = {}
        for node in self.walked.found:
            if node in self.names:
                found.setdefault(node[0], []).append(self.hit(node))
        groups = [Group(kind, said, found[kind]) for kind, said in trace.KINDS.items() if kind in found]
        for group in groups:
            group.hits.sort(key=lambda hit: by_number(hit.label))
        return groups

    @property
    def count(self) -> int:
        """How many things were found."""
        return sum(len(group.hits) for group in self.groups)

    def hit(self, node: Node) -> Hit:
        """A node with its name and its way."""
        one, way = self.names[node], self.walked.way(node)
        steps = tuple(Step(self.names[passed].label, how) for passed, how in way if passed in self.names)
        return Hit(*node, label=one.label, name=one.name, note=one.note, at=one.at, way=steps)

    @cached_property
    def picture(self) -> trace.Picture | None:
        """The same as a drawing; None where there is nothing or too much to draw."""
        return trace.picture(self.walked, self.links, {node: (one.label, one.name) for node, one in self.names.items()})


def by_number(label: str) -> list[tuple[int, int | str]]:
    """An order in which L-9 comes before L-10."""
    pieces: list[tuple[int, int | str]] = []
    for piece in label.replace("-", " ").split():
        pieces.append((0, int(piece)) if piece.isascii() and piece.isdigit() else (1, piece))
    return pieces


def where_used(project: Project, kind: str, key: str) -> Traced:
    """Every mix, layup, bond, cure, fastener row, part and assembly that holds a lot, a record's work or a part."""
    walked, onward = walk_up(project, (kind, key))
    links = [(here, there, how) for here in walked.before for there, how in onward.get(here, ())]
    return Traced(project, walked, links, back=False)


def walk_up(project: Project, start: Node) -> tuple[trace.Walk, trace.Onward]:
    """The walk behind `where_used`, and the links it went along: without names.

    Cure runs and assemblies are asked for once it is known what they can hold: they hand nothing on but to assemblies.
    """
    onward = trace.gathered(material_links(project))
    inside = trace.walk_along(onward, [start])
    trace.gathered((link for link in cure_links(project) if link[0] in inside.before), onward)
    trace.gathered(to_assemblies(project, inside.before), onward)
    return trace.walk_along(onward, [start]), onward


def contents(project: Project, kind: str, key: str) -> Traced:
    """Everything that is in a part, an assembly or a record: records and, at the ends, all lots."""
    links = trace.turned(material_links(project))
    if kind == ASSEMBLY:
        links = [*from_assembly(project, key), *links]
    if kind == CURE:
        links += [(there, here, how) for here, there, how in cure_links(project)]
    return Traced(project, trace.walk(links, [(kind, key)]), links, back=True)


def lots_in(project: Project, part: Part) -> list[Hit]:
    """All lots that are in a part."""
    return [hit for group in contents(project, PART, part.pk).groups if group.kind == LOT for hit in group.hits]


# ---- links: from what is inside to what holds it ----


def material_links(project: Project) -> Iterable[Link]:
    """How material goes from lots through mixes, layups, bonds and fasteners into parts, and from part to part."""
    links = chain(
        *(
            find(project)
            for find in (lot_links, mix_links, layup_links, bond_links, fastener_links, coupon_links, part_links)
        )
    )
    gone = {(PART, key) for key in Part.objects.withdrawn().filter(project=project).values_list("pk", flat=True)}
    return (link for link in links if link[0] not in gone and link[1] not in gone) if gone else links


def lot_links(project: Project) -> Iterator[Link]:
    """Lots that are in plies, and those that went straight into parts."""
    plies = Ply.objects.filter(layup__project=project, layup__withdrawn_at=None, lot__isnull=False).order_by()
    for lot, layup, position in plies.values_list("lot_id", "layup_id", "position"):
        yield (LOT, lot), (LAYUP, layup), f"is ply {position} of"
    for lot, part in MadeOf.objects.filter(part__project=project).order_by().values_list("lot_id", "part_id"):
        yield (LOT, lot), (PART, part), "went into"


def mix_links(project: Project) -> Iterator[Link]:
    """Lots that are in mixes, and where the mixes went; one without a use that stands stays with its assembly."""
    uses = MixUse.objects.filter(
        mix__project=project,
        mix__withdrawn_at=None,
        # True as well where it went into none of that kind.
        layup__withdrawn_at=None,
        bond__withdrawn_at=None,
        part__withdrawn_at=None,
    )
    used = set()
    for mix, layup, bond, part in uses.order_by().values_list("mix_id", "layup_id", "bond_id", "part_id"):
        used.add(mix)
        there = (LAYUP, layup) if layup else (BOND, bond) if bond else (PART, part)
        yield (MIX, mix), there, "was used in"
    mixes = Mix.objects.standing().filter(project=project).order_by()
    for mix, resin, hardener, assembly in mixes.values_list("pk", "resin_lot_id", "hardener_lot_id", "assembly_id"):
        if resin:
            yield (LOT, resin), (MIX, mix), "is the resin of"
        if hardener:
            yield (LOT, hardener), (MIX, mix), "is the hardener of"
        if mix not in used:
            yield (MIX, mix), (ASSEMBLY, assembly), "was mixed for"


def layup_links(project: Project) -> Iterator[Link]:
    """Layups and what they make. One on another part, and not on a mold, is on that part too."""
    rows = Layup.objects.standing().filter(project=project).order_by()
    fields = ("pk", "part_id", "assembly_id", "core_lot_id", "mold_id", "mold__kind")
    for layup, part, assembly, core, base, kind in rows.values_list(*fields):
        here = (LAYUP, layup)
        if core:
            yield (LOT, core), here, "is the core of"
        yield here, (PART, part) if part else (ASSEMBLY, assembly), "makes" if part else "was laid up on"
        if base and kind == "part" and base != part:
            yield here, (PART, base), "was laid up on"
            if part:
                yield (PART, base), (PART, part), "is the base of"


def bond_links(project: Project) -> Iterator[Link]:
    """Bonds, the parts they join, and what the parts become."""
    joined: dict[str, list[str]] = {}
    rows = JoinedPart.objects.filter(bond__project=project, bond__withdrawn_at=None).order_by()
    for bond, part in rows.values_list("bond_id", "part_id"):
        joined.setdefault(bond, []).append(part)
    bonds = Bond.objects.standing().filter(project=project).order_by()
    for bond, made, assembly in bonds.values_list("pk", "part_id", "assembly_id"):
        here, members = (BOND, bond), joined.get(bond, [])
        for part in members:
            yield here, (PART, part), "joins"
            if made and made != part:
                yield (PART, part), (PART, made), "was bonded into"
        if made:
            yield here, (PART, made), "is in"
        elif not members:
            yield here, (ASSEMBLY, assembly), "is in"


def fastener_links(project: Project) -> Iterator[Link]:
    """Fastener rows and torques with the lots of their fasteners."""
    for model in (Fasteners, Torque):
        rows = model._default_manager.filter(project=project, withdrawn_at=None, lot__isnull=False).order_by()
        for key, lot, part, assembly in rows.values_list("pk", "lot_id", "part_id", "assembly_id"):
            yield (LOT, lot), (model.KIND, key), "is in"
            yield (model.KIND, key), (PART, part) if part else (ASSEMBLY, assembly), "is in"


def coupon_links(project: Project) -> Iterator[Link]:
    """Coupons, with the mixes, layups and bonds of which they tell; a coupon hands nothing on to a part.

    A coupon names them by their numbers, so those that are named are looked up: a query for each kind among them.
    """
    rows = Coupon.objects.standing().filter(project=project).exclude(made_with="").order_by()
    named_by: dict[str, dict[int, list[str]]] = {}
    for coupon, said in rows.values_list("pk", "made_with"):
        for kind, number in trace.cited(said):
            named_by.setdefault(kind, {}).setdefault(number, []).append(coupon)
    for kind, numbers in named_by.items():
        made = KINDS[kind]._default_manager.filter(project=project, withdrawn_at=None).order_by()
        if len(numbers) <= MANY:
            made = made.filter(number__in=list(numbers))
        for key, number in made.values_list("pk", "number"):
            for coupon in numbers.get(number, ()):
                yield (kind, key), (COUPON, coupon), trace.IN_COUPONS[kind]


def part_links(project: Project) -> Iterator[Link]:
    """Parts that hand on what is in them to what was cut, split or made from them."""
    said = {kind: f"was {ORIGIN_KINDS[kind].lower()}".replace("from", "into") for kind in HANDED_ON}
    rows = Origin.objects.filter(part__project=project, kind__in=HANDED_ON).order_by()
    for source, part, kind in rows.values_list("source_id", "part_id", "kind"):
        yield (PART, source), (PART, part), said[kind]


def cure_links(project: Project) -> Iterator[Link]:
    """What lay in cure runs; a run hands nothing on."""
    rows = Cured.objects.filter(
        run__project=project,
        run__withdrawn_at=None,
        # True as well where it is none of that kind.
        layup__withdrawn_at=None,
        bond__withdrawn_at=None,
        part__withdrawn_at=None,
        coupon__withdrawn_at=None,
    )
    kinds = (LAYUP, BOND, PART, COUPON)
    for run, *keys in rows.order_by().values_list("run_id", "layup_id", "bond_id", "part_id", "coupon_id"):
        for kind, key in zip(kinds, keys, strict=True):
            if key:
                yield (kind, key), (CURE, run), "was cured in"


def to_assemblies(project: Project, found: Iterable[Node]) -> list[Link]:
    """The assemblies in which the parts found are, and what those are part of: two queries."""
    keys = [key for kind, key in found if kind == PART]
    rows = parts.parts_of(project).select_related(None).order_by()
    if len(keys) <= MANY:
        rows = rows.filter(pk__in=keys)
    wanted = set(keys)
    pairs = [pair for pair in rows.values_list("pk", "assembly_id") if pair[0] in wanted]
    bare = {key for kind, key in found if kind == ASSEMBLY}
    links: list[Link] = [((PART, part), (ASSEMBLY, assembly), "is in") for part, assembly in pairs]
    return links + trace.upward(sorted({assembly for _, assembly in pairs} | bare), parts.parents(project))


def from_assembly(project: Project, key: str) -> list[Link]:
    """What is in an assembly and all below it: parts, as turned links, so that a walk goes down."""
    here = (ASSEMBLY, key)
    below = parts.subtree(key, parts.parents(project))
    rows = parts.parts_of(project).select_related(None).filter(assembly__in=below).order_by()
    links: list[Link] = [(here, (PART, part), "is in") for part in rows.values_list("pk", flat=True)]
    return links + [(here, (ASSEMBLY, other), "part of") for other in sorted(below - {key})]


# ---- names ----


def named(project: Project, nodes: Iterable[Node]) -> dict[Node, Named]:
    """What these things are called: one query for each kind among them."""
    keys: dict[str, list[str]] = {}
    for kind, key in nodes:
        keys.setdefault(kind, []).append(key)
    found: dict[Node, Named] = {}
    for kind, wanted in keys.items():
        model = MODELS.get(kind)
        if model is None:
            continue
        rows = model._default_manager.filter(project=project)
        if len(wanted) <= MANY:
            rows = rows.filter(pk__in=wanted)
        chosen = set(wanted)
        for row in rows.order_by():
            if row.pk in chosen:
                found[kind, row.pk] = name_of(row)
    return found


MODELS: dict[str, type[Lot] | type[Part] | type[Assembly] | type[ProcessRecord]] = {
    LOT: Lot,
    PART: Part,
    ASSEMBLY: Assembly,
    **{kind: KINDS[kind] for kind in trace.KINDS if kind in KINDS},
}


def name_of(row: Lot | Part | Assembly | ProcessRecord) -> Named:
    """The number, the name and what else a reader should know of a thing."""
    if isinstance(row, Part):
        notes = [row.counted, "" if row.status == "flight" and row.kind == "part" else row.status_words.lower()]
        return Named(row.number, row.name, ", ".join(note for note in notes if note))
    if isinstance(row, Lot):
        return Named(row.number, row.name, "" if row.status == "good" else row.get_status_display().lower())
    if isinstance(row, Assembly):
        return Named(row.number, row.name)
    return Named(row.label, row.title, "" if row.finished_at else "open", row.done_at)
