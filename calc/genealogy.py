"""Where a lot went, and what a part came from: through mixes, layups, cut sheets, splits and bonds (rule R43)."""

from collections import deque
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

from calc.trouble import Impossible
from calc.verdict import PRACTICE, Rule

WHERE_USED = Rule(
    "from a lot to every mix, layup and bond it is in, and to every part under them, parts cut from a sheet too",
    "common practice in one-off composite shops; no published source",
    PRACTICE,
    caution="It knows only what was recorded.",
)


def reached[Node: Hashable](links: Iterable[tuple[Node, Node]], start: Iterable[Node]) -> set[Node]:
    """Everything that links (from, to) lead to from the start, which itself counts only if a link leads back to it."""
    onward: dict[Node, list[Node]] = {}
    for here, there in links:
        onward.setdefault(here, []).append(there)
    found: set[Node] = set()
    waiting = deque(start)
    while waiting:
        for there in onward.get(waiting.popleft(), ()):
            if there not in found:
                found.add(there)
                waiting.append(there)
    return found


def turned[Node](links: Iterable[tuple[Node, Node]]) -> list[tuple[Node, Node]]:
    """The same links the other way, to look for what something came from."""
    return [(there, here) for here, there in links]


@dataclass(frozen=True)
class Mix:
    """One cup, and the lots in it."""

    key: str
    lots: tuple[str, ...]


@dataclass(frozen=True)
class Layup:
    """A layup or a bond: the mixes and other lots in it, the parts that go into it, and what it makes."""

    key: str
    mixes: tuple[str, ...] = ()
    lots: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    makes: tuple[str, ...] = ()


@dataclass(frozen=True)
class WhereUsed:
    """Where a lot is, each list in order of name."""

    mixes: list[str]
    layups: list[str]
    bonds: list[str]
    parts: list[str]


MIX, LAYUP, BOND, PART, LOT = "mix", "layup", "bond", "part", "lot"


def where_used(
    lot: str,
    mixes: Sequence[Mix],
    layups: Sequence[Layup],
    cut_from: Mapping[str, Sequence[str]],
    bonds: Sequence[Layup] = (),
) -> WhereUsed:
    """Every mix, layup, bond and part that holds a lot.

    `cut_from` gives a part what it was cut or split from. A bond passes the lot to the parts it joins and to what it
    makes; a layup made on a part passes it on the same way.
    """
    names = {mix.key for mix in mixes}
    for kind, keys in (
        ("mix", [mix.key for mix in mixes]),
        ("layup", [one.key for one in layups]),
        ("bond", [one.key for one in bonds]),
    ):
        if len(set(keys)) != len(keys):
            raise Impossible(f"Two records share the name of one {kind}.", f"{kind}es" if kind == MIX else f"{kind}s")
    links: list[tuple[tuple[str, str], tuple[str, str]]] = []
    links += [((LOT, used), (MIX, mix.key)) for mix in mixes for used in mix.lots]
    for kind, records in ((LAYUP, layups), (BOND, bonds)):
        for record in records:
            here = kind, record.key
            for mix in record.mixes:
                if mix not in names:
                    raise Impossible(f"{record.key} uses the mix {mix}, which is not recorded.", f"{kind}s", "unknown")
            links += [((MIX, mix), here) for mix in record.mixes]
            links += [((LOT, used), here) for used in record.lots]
            links += [(here, (PART, made)) for made in record.makes]
            # What is in a part is in what is made of it, and a bond's adhesive is on every part it joins.
            links += [((PART, part), (PART, made)) for part in record.parts for made in record.makes]
            links += [(here, (PART, part)) for part in record.parts]
    cuts = [((PART, source), (PART, part)) for part, sources in cut_from.items() for source in sources]
    try:
        TopologicalSorter(cut_from).prepare()
    except CycleError as ring:
        raise Impossible(f"{ring.args[1][0]} is cut from itself.", "cut_from") from ring
    found = reached(links + cuts, [(LOT, lot)])
    by_kind = {kind: sorted(key for of, key in found if of == kind) for kind in (MIX, LAYUP, BOND, PART)}
    return WhereUsed(by_kind[MIX], by_kind[LAYUP], by_kind[BOND], by_kind[PART])
