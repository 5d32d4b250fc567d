"""Ply schedules: what an orientation means, rows moved, copied and mirrored, and how the stack is drawn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin, sqrt
from re import compile

from foundation.refusal import Refusal

CLOTH, CORE, PEEL = "cloth", "core", "peel"
KINDS = {CLOTH: "Cloth", CORE: "Core", PEEL: "Peel ply"}
MOST = 80

ORIENTATION = compile(r"([±+-]?)(\d{1,3}(?:\.\d)?)")
HINT = "Write degrees such as 0, 90, ±45, 0/90 or -45."

# The rose is drawn around the middle of a square of 40.
MIDDLE, RING, REACH = 20.0, 17.0, 15.0

Row = dict[str, str]


def angles(text: str) -> tuple[float, ...]:
    """The directions of the fibers in degrees, from "±45", "0/90", "-30"; none where nothing is said."""
    plain = text.replace("°", "").replace("−", "-").replace("+/-", "±").replace(" ", "")
    if not plain:
        return ()
    found: list[float] = []
    for piece in plain.split("/"):
        match = ORIENTATION.fullmatch(piece)
        if match is None or float(match[2]) > 180:
            raise Refusal("orientation", f"“{text}” is not an orientation. {HINT}", "orientation")
        size = float(match[2])
        found += [size, -size] if match[1] == "±" else [-size if match[1] == "-" else size]
    return tuple(dict.fromkeys(found))


def mirrored(text: str) -> str:
    """The same orientation on the other side of the aircraft: +45 becomes -45; 0, 90, ±45 and 0/90 stay."""
    pieces = []
    for piece in text.replace("°", "").replace("−", "-").replace(" ", "").split("/"):
        size = piece.lstrip("+-")
        plain = piece.startswith("±") or not size or float(size) % 90 == 0
        pieces.append(piece if plain else size if piece.startswith("-") else f"-{size}")
    return "/".join(pieces)


# ---- rows of the editor ----


def is_empty(row: Mapping[str, str]) -> bool:
    """Whether nothing was typed in a row; its kind and number alone say nothing."""
    return not any(value for name, value in row.items() if name not in {"kind", "id", "position", "drop"})


def in_order(rows: Sequence[Row]) -> list[Row]:
    """The rows by the number that stands in them; those without one stay where they are, behind the one above."""
    keyed = []
    last = 0.0
    for place, row in enumerate(rows):
        number = row.get("position", "").strip().replace(",", ".")
        try:
            last = float(number)
        except ValueError:
            last += 0.0001
        keyed.append((last, place, row))
    return [row for _, _, row in sorted(keyed, key=lambda one: one[:2])]


def numbered(rows: Sequence[Row]) -> list[Row]:
    """The rows with the numbers of the places they now have."""
    return [row | {"position": str(place)} for place, row in enumerate(rows, start=1)]


def acted(rows: Sequence[Row], act: str) -> list[Row]:
    """The rows after one button of the editor: "add", "up:2", "down:2", "copy:2", "delete:2" (rows count from 1)."""
    rows = in_order(rows)
    verb, _, number = act.partition(":")
    place = int(number) - 1 if number.isdecimal() else -1
    if verb == "add":
        rows.append({"kind": CLOTH})
    elif 0 <= place < len(rows):
        if verb == "delete":
            del rows[place]
        elif verb == "copy":
            rows.insert(place + 1, rows[place] | {"id": ""})
        elif verb in {"up", "down"}:
            there = place + (-1 if verb == "up" else 1)
            if 0 <= there < len(rows):
                rows[place], rows[there] = rows[there], rows[place]
    return numbered(rows)


# ---- drawn ----


@dataclass(frozen=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float


def rosette(text: str) -> list[Line]:
    """The fibers of one ply in the circle of its rose: five lines in one direction, three each in two."""
    try:
        directions = angles(text)
    except Refusal:
        return []
    offsets = (-10.0, -5.0, 0.0, 5.0, 10.0) if len(directions) == 1 else (-9.0, 0.0, 9.0)
    return [chord(direction, offset) for direction in directions for offset in offsets]


def chord(direction: float, offset: float) -> Line:
    """One line of the rose; 0 degrees lies along the datum, drawn left to right, and angles turn left."""
    along, across = (
        (cos(radians(direction)), -sin(radians(direction))),
        (sin(radians(direction)), cos(radians(direction))),
    )
    half = sqrt(REACH**2 - offset**2)
    x, y = MIDDLE + across[0] * offset, MIDDLE + across[1] * offset
    ends = [(round(x + way * half * along[0], 1), round(y + way * half * along[1], 1)) for way in (-1, 1)]
    return Line(*ends[0], *ends[1])


@dataclass(frozen=True)
class Drawn:
    """One layer of the stack's picture: where it lies and what stands beside it."""

    position: int
    kind: str
    y: float
    height: float
    words: str
    laid: bool

    @property
    def text_y(self) -> float:
        return self.y + self.height / 2 + 4.5


@dataclass(frozen=True)
class Spoke:
    """One direction of the whole stack's rose, with the numbers of the plies that run in it."""

    line: Line
    x: float
    y: float
    words: str


@dataclass(frozen=True)
class Stack:
    """The whole schedule as a picture: layers from the mold up, and the rose of its directions."""

    layers: list[Drawn]
    height: float
    mold_y: float
    spokes: list[Spoke]
    told: str


HEIGHTS = {CLOTH: 20.0, CORE: 44.0, PEEL: 16.0}
GAP = 4.0


def stack(plies: Sequence[tuple[int, str, str, str, bool]]) -> Stack:
    """The picture of plies given as (position, kind, cloth, orientation, laid), the first against the mold."""
    height = sum(HEIGHTS[kind] + GAP for _, kind, *_ in plies)
    layers, y = [], height
    for position, kind, cloth, orientation, laid in plies:
        y -= HEIGHTS[kind] + GAP
        words = f"{cloth} {orientation}°" if orientation else cloth
        layers.append(Drawn(position, kind, y, HEIGHTS[kind], words, laid))
    said = [f"{layer.position} {layer.words}" for layer in layers]
    return Stack(layers, height + 14, height, spokes(plies), "From the mold up: " + "; ".join(said))


def spokes(plies: Sequence[tuple[int, str, str, str, bool]]) -> list[Spoke]:
    """The directions of all cloth plies, each once, with the plies that run in it."""
    found: dict[float, list[int]] = {}
    for position, kind, _, orientation, _ in plies:
        if kind != CLOTH:
            continue
        try:
            directions = angles(orientation)
        except Refusal:
            continue
        for direction in directions:
            found.setdefault(direction % 180, []).append(position)
    drawn = []
    for direction, numbers in sorted(found.items()):
        line = Line(*(100 + (value - MIDDLE) * 4 for value in vars(chord(direction, 0)).values()))
        x, y = outside(line.x2, line.y2)
        shown = direction if direction <= 90 else direction - 180
        drawn.append(Spoke(line, x, y, f"{shown:g}°: {', '.join(str(number) for number in numbers)}"))
    return drawn


def outside(x: float, y: float) -> tuple[float, float]:
    """A little further out from the middle of the rose than this point, for words."""
    far = hypot(x - 100, y - 100) or 1
    return round(100 + (x - 100) / far * 78, 1), round(100 + (y - 100) / far * 78 + 4.5, 1)
