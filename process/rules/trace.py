"""Pure walks from a lot to everything that holds it, and back, with the way that leads there; and their picture."""

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from re import compile as pattern

from calc.genealogy import WHERE_USED
from process.rules import words

# What a link leads from and to: its kind, and its key within the kind.
type Node = tuple[str, str]
type Link = tuple[Node, Node, str]
type Onward = dict[Node, list[tuple[Node, str]]]

LOT, PART, ASSEMBLY = "lot", "part", "assembly"
# The kinds in the order in which material goes through them, with what a list of them is called.
KINDS = {
    LOT: "Lots",
    words.MIX: "Mixes",
    words.LAYUP: "Layups",
    words.BOND: "Bonds",
    words.CURE: "Cure runs",
    words.FASTENERS: "Fastener rows",
    words.TORQUE: "Torques",
    words.COUPON: "Coupons",
    PART: "Parts",
    ASSEMBLY: "Assemblies",
}

RULE = WHERE_USED
CAUTION = (
    "It knows only what was recorded: a mix without a use, a layup without a lot or a part without an origin ends the "
    "trail. A mold's own material and a replaced part's are not followed."
)


# The kinds that a coupon names by their numbers, by letter, and how they lead to it.
CITED = pattern(r"\b([A-Z]+)-(\d{1,6})\b")
IN_COUPONS = {words.MIX: "is in", words.LAYUP: "is tested by", words.BOND: "is tested by"}
BY_LETTER = {words.LETTERS[kind]: kind for kind in IN_COUPONS}


def cited(said: str) -> list[tuple[str, int]]:
    """The mixes, layups and bonds that a text such as "L-3, M-6" names, by kind and number; each once."""
    found = ((BY_LETTER.get(letter), int(number)) for letter, number in CITED.findall(said))
    return list(dict.fromkeys((kind, number) for kind, number in found if kind is not None))


@dataclass(frozen=True)
class Walk:
    """What was reached, nearest first, each with the node before it and how that leads on."""

    start: tuple[Node, ...]
    before: Mapping[Node, tuple[Node, str] | None]

    @property
    def found(self) -> list[Node]:
        """Everything reached, without where it started."""
        return [node for node, before in self.before.items() if before is not None]

    def way(self, node: Node) -> list[tuple[Node, str]]:
        """The shortest way from the start: each node passed, with how it leads to the next; the last is `node`."""
        steps: list[tuple[Node, str]] = [(node, "")]
        while (before := self.before[steps[-1][0]]) is not None:
            steps.append(before)
        return steps[::-1]


def walk(links: Iterable[Link], start: Iterable[Node]) -> Walk:
    """Everything that the links lead to from the start, breadth first: each node once, whatever rings there are."""
    return walk_along(gathered(links), start)


def gathered(links: Iterable[Link], onward: Onward | None = None) -> Onward:
    """The links by where they begin, added to those that are there already."""
    onward = {} if onward is None else onward
    for here, there, how in links:
        onward.setdefault(here, []).append((there, how))
    return onward


def walk_along(onward: Onward, start: Iterable[Node]) -> Walk:
    """The walk along links that are gathered already."""
    before: dict[Node, tuple[Node, str] | None] = dict.fromkeys(start)
    first = tuple(before)
    waiting = deque(first)
    while waiting:
        here = waiting.popleft()
        for there, how in onward.get(here, ()):
            if there not in before:
                before[there] = here, how
                waiting.append(there)
    return Walk(first, before)


def turned(links: Iterable[Link]) -> list[Link]:
    """The same links the other way, to look for what something is made of."""
    return [(there, here, how) for here, there, how in links]


def upward(assemblies: Iterable[str], parents: Mapping[str, str | None]) -> list[Link]:
    """The links from assemblies to all that they are part of."""
    links: dict[str, Link] = {}
    for key in assemblies:
        here, above = key, parents.get(key)
        while above is not None and here not in links:
            links[here] = (ASSEMBLY, here), (ASSEMBLY, above), "part of"
            here, above = above, parents.get(above)
    return list(links.values())


# ---- the picture ----

WIDTH, HEIGHT, ACROSS, DOWN, EDGE = 156, 40, 60, 12, 4
# More than this on one sheet cannot be read; the list says everything.
MOST_DRAWN = 90


@dataclass(frozen=True)
class Box:
    """One node of the picture, by its upper left corner."""

    node: Node
    x: int
    y: int
    label: str
    words: str


@dataclass(frozen=True)
class Picture:
    """Boxes in layers from left to right, and the lines between them as SVG paths."""

    width: int
    height: int
    columns: int
    boxes: list[Box]
    lines: list[str]


def picture(walked: Walk, links: Iterable[Link], names: Mapping[Node, tuple[str, str]]) -> Picture | None:
    """The graph of what was reached, in layers by how far it is, assemblies last; None where it would be too many."""
    nodes = [node for node in walked.before if node in names]
    if not 1 < len(nodes) <= MOST_DRAWN:
        return None
    drawn = set(nodes)
    pairs = list(dict.fromkeys((here, there) for here, there, _ in links if here in drawn and there in drawn))
    rows = layered(nodes, distances(walked, drawn), pairs)
    tall = max(len(row) for row in rows)
    boxes: dict[Node, Box] = {}
    for column, row in enumerate(rows):
        top = EDGE + (tall - len(row)) * (HEIGHT + DOWN) // 2
        for place, node in enumerate(row):
            x, y = EDGE + column * (WIDTH + ACROSS), top + place * (HEIGHT + DOWN)
            label, said = names[node]
            boxes[node] = Box(node, x, y, fitted(label, 20), fitted(said, 24))
    last = max(box.x for box in boxes.values())
    beside = ACROSS // 2 if any(boxes[here].x == last == boxes[there].x for here, there in pairs) else 0
    return Picture(
        width=last + WIDTH + beside + EDGE,
        height=2 * EDGE + tall * (HEIGHT + DOWN) - DOWN,
        columns=len(rows),
        boxes=list(boxes.values()),
        lines=[line(boxes[here], boxes[there]) for here, there in pairs],
    )


def distances(walked: Walk, drawn: set[Node]) -> dict[Node, int]:
    """How many steps each node is from the start; assemblies stand behind everything else, in steps of their own."""
    far: dict[Node, int] = {}
    for node, before in walked.before.items():
        if node in drawn:
            far[node] = far.get(before[0], -1) + 1 if before is not None else 0
    rest = max((step for node, step in far.items() if node[0] != ASSEMBLY), default=0)
    for node, before in walked.before.items():
        if node in drawn and node[0] == ASSEMBLY and before is not None:
            inner = before[0][0] == ASSEMBLY and before[0] in far
            far[node] = far[before[0]] + 1 if inner else rest + 1
    return far


def layered(nodes: Sequence[Node], far: Mapping[Node, int], pairs: Iterable[tuple[Node, Node]]) -> list[list[Node]]:
    """The nodes of each layer, each near the middle of what leads to it, so that few lines cross."""
    layers: dict[int, list[Node]] = {}
    for node in nodes:
        layers.setdefault(far[node], []).append(node)
    behind: dict[Node, list[Node]] = {}
    for here, there in pairs:
        behind.setdefault(there, []).append(here)
    place: dict[Node, float] = {}
    rows = []
    for step in sorted(layers):
        row = layers[step]

        def middle(node: Node) -> float:
            known = [place[one] for one in behind.get(node, ()) if one in place]  # noqa: B023  # used at once
            return sum(known) / len(known) if known else 0.5

        row.sort(key=lambda node: (middle(node), list(KINDS).index(node[0])))
        place |= {node: (number + 0.5) / len(row) for number, node in enumerate(row)}
        rows.append(row)
    return rows


def line(here: Box, there: Box) -> str:
    """The curve from the right of one box to the left of another; in one column it bulges out to the right."""
    x1, y1 = here.x + WIDTH, here.y + HEIGHT // 2
    x2, y2 = there.x, there.y + HEIGHT // 2
    if here.x == there.x:
        return f"M{x1} {y1}C{x1 + ACROSS // 2} {y1} {x1 + ACROSS // 2} {y2} {x1} {y2}"
    bend = max(ACROSS // 2, abs(x2 - x1) // 2)
    return f"M{x1} {y1}C{x1 + bend} {y1} {x2 - bend} {y2} {x2} {y2}"


def fitted(text: str, most: int) -> str:
    """A text cut to what fits into a box."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"
