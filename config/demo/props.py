"""Things of the shop that several scenes share: room, bench, hand tools, cups, clamps, gloved hands, the builder."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import atan2, cos, degrees, pi, radians, sin
from random import Random

from PIL import Image, ImageDraw, ImageFilter

from config.demo import prints
from config.demo.geometry import Point, Vec, add, curve, spin
from config.demo.paint import GLOSSY, MATTE, STEEL, Colour, Material
from config.demo.stage import Stage

GLASS = Material((178, 186, 146), "glass", 1500, 0.5)
WET_GLASS = Material((168, 178, 132), "glass", 1500, 0.9)
SANDED = Material((190, 194, 162), "scuff", 1400, 0.12)
CARBON = Material((58, 61, 67), "carbon", 1700, 0.55)
PLY = Material((206, 166, 116), "ply", 1300)
BIRCH = Material((222, 194, 150), "ply", 1100)
SPRUCE = Material((214, 170, 112), "spruce", 1500)
FOAM_BLUE = Material((126, 170, 200), "foam", 2200)
FOAM_PINK = Material((214, 158, 152), "foam", 2200)
FOAM_GREEN = Material((158, 178, 128), "foam", 2200)
BENCH = Material((150, 112, 78), "bench", 900)
BENCH_PALE = Material((186, 176, 160), "bench", 900)
FELT = Material((86, 98, 92), "concrete", 1200)
PAPER_TOP = Material((196, 176, 146), "concrete", 900)
FLOOR = Material((132, 132, 130), "concrete", 420)
ALUMINIUM = Material((176, 181, 186), "metal", 1600, 0.6)
WHITE = Material((226, 226, 220), "paint", 1200, 0.2)
PEEL = Material((222, 220, 208), "peel", 1500)
TAPE = Material((208, 178, 62), "paint", 900)


def close(material: Material) -> Material:
    """The same material as seen from close by: its weave or grain at its real size."""
    return replace(material, density=4200)


BENCHES = (BENCH, BENCH_PALE, PAPER_TOP, FELT)
GLOVES: tuple[Colour, ...] = ((66, 108, 178), (52, 54, 60), (96, 140, 116), (122, 96, 168))
SLEEVES: tuple[Colour, ...] = ((92, 100, 112), (120, 62, 52), (226, 228, 230), (70, 86, 66))


def room(stage: Stage, *, horizon: Vec = (0.0, 2.4, 0.0), dark: float = 1.0) -> None:
    """An out-of-focus shop behind the bench: wall, window or door light, shelves and hanging tools."""
    rng = stage.rng
    scale = 8
    width, height = stage.size[0] // scale, stage.size[1] // scale
    level = stage.project(horizon)[1] / scale
    wall = rng.choice(((136, 142, 146), (152, 142, 126), (120, 130, 132), (158, 158, 152)))
    tone = [round(c * dark) for c in wall]
    picture = Image.new("RGB", (width, height), tuple(tone))
    pen = ImageDraw.Draw(picture)
    for y in range(height):
        share = 0.72 + 0.42 * y / max(1, height)
        pen.line((0, y, width, y), fill=tuple(min(255, round(c * share)) for c in tone))
    _wall_things(pen, rng, width, level, height)
    picture = picture.filter(ImageFilter.GaussianBlur(1.3))
    low = max(2, min(height, round(level) + 12))
    seen = picture.crop((0, 0, width, low)).resize((stage.size[0], low * scale), Image.Resampling.BILINEAR)
    stage.image.paste(seen)


def _wall_things(pen: ImageDraw.ImageDraw, rng: Random, width: int, level: float, height: int) -> None:
    """Window, shelves with tins and boxes, tools on a board; everything is small because it is seen blurred."""
    x = rng.randrange(-20, width)
    if rng.random() < 0.7:
        pen.rectangle((x, level - height * 0.62, x + 46, level - height * 0.12), fill=(236, 240, 238))
        pen.line((x + 23, level - height * 0.62, x + 23, level - height * 0.12), fill=(120, 120, 118), width=2)
        pen.line((x, level - height * 0.37, x + 46, level - height * 0.37), fill=(120, 120, 118), width=2)
    for row in range(2):
        y = level - 12 - row * 30
        left = rng.randrange(0, width // 2)
        right = left + rng.randrange(50, 110)
        cursor = left + 3
        while cursor < right - 8:
            wide, tall = rng.randrange(5, 14), rng.randrange(8, 20)
            fill = rng.choice(
                ((158, 60, 44), (196, 160, 60), (58, 92, 112), (210, 206, 196), (86, 88, 90), (136, 104, 70))
            )
            pen.rectangle((cursor, y - tall, cursor + wide, y), fill=fill)
            cursor += wide + rng.randrange(1, 6)
        pen.rectangle((left, y, right, y + 2), fill=(104, 80, 56))
    board = rng.randrange(0, width)
    for k in range(6):
        x = board + k * 9
        pen.line(
            (x, level - 62, x + rng.randrange(-2, 3), level - 62 + rng.randrange(14, 30)),
            fill=rng.choice(((60, 60, 64), (150, 44, 36), (92, 70, 50))),
            width=rng.randrange(2, 4),
        )


def bench(
    stage: Stage, material: Material | None = None, *, far: float = 0.9, half: float = 1.5, near: float = -1.4
) -> None:
    """A bench top with its far edge in view and the shop behind it."""
    room(stage, horizon=(0.0, far, 0.0))
    material = material or stage.rng.choice(BENCHES)
    stage.rect((-half, half), (near, far), material, step=2)
    edge = [stage.project((x, far, 0.0)) for x in (-half, half)]
    stage.soft([[edge[0], edge[1], (edge[1][0], edge[1][1] + 6), (edge[0][0], edge[0][1] + 6)]], (20, 18, 18), 0.5, 5)


def floor(stage: Stage, material: Material = FLOOR) -> None:
    """A garage floor running to a back wall."""
    room(stage, horizon=(0.0, 5.0, 0.4))
    stage.rect((-9, 9), (-5.8, 5.0), material, step=2)
    wall = [stage.project((x, 5.0, 0.0)) for x in (-9, 9)]
    stage.soft(
        [[wall[0], wall[1], (wall[1][0], wall[1][1] + 30), (wall[0][0], wall[0][1] + 30)]], (18, 18, 22), 0.45, 20
    )


def sun_patch(stage: Stage, at: Vec, size: float, strength: float = 0.2) -> None:
    """Window light lying on a level surface, in two panes."""
    for shift in (0.0, 0.58):
        shape = [(shift, 0.0), (shift + 0.5, 0.1), (shift + 0.78, 1.1), (shift + 0.28, 1.0)]
        points = [stage.project(add(at, (x * size, y * size, 0.0))) for x, y in shape]
        stage.soft([points], (255, 244, 216), strength, 9)


def capsule(a: Point, b: Point, ra: float, rb: float) -> list[Point]:
    """Outline of a rounded bar between two picture points."""
    angle = degrees(atan2(b[1] - a[1], b[0] - a[0]))
    points = []
    for centre, radius, start in ((b, rb, -90.0), (a, ra, 90.0)):
        for k in range(9):
            x, y = spin((radius, 0.0), angle + start + 180 * k / 8)
            points.append((centre[0] + x, centre[1] + y))
    return points


def hand(
    stage: Stage,
    at: Point,
    size: float,
    angle: float,
    colour: Colour,
    sleeve: Colour,
    *,
    grip: bool = True,
    reach: float = 5.0,
    mirror: bool = False,
) -> None:
    """A gloved hand with its forearm: `at` is the middle of the palm, `size` the palm's width in pixels; angle points
    from the wrist to the fingers, in degrees clockwise from the right of the picture."""
    flip = -1.0 if mirror else 1.0

    def place(x: float, y: float) -> Point:
        dx, dy = spin((x * size, y * size * flip), angle)
        return (at[0] + dx, at[1] + dy)

    arm = capsule(place(-0.75, 0.0), place(-reach, 0.25), size * 0.40, size * (0.42 + 0.06 * min(5.0, reach)))
    drop = size * 0.28
    shadows = [
        arm,
        [place(-0.6, -0.6), place(0.6, -0.55), place(1.3, -0.2), place(1.2, 0.5), place(0.2, 0.7), place(-0.6, 0.5)],
    ]
    stage.soft(
        [[(x + drop, y + drop * 1.5) for x, y in shape] for shape in shadows], (14, 15, 20), 0.42, max(3, size * 0.16)
    )
    stage.puff(arm, sleeve, size * 0.42, texture="paint", relief=0.7)
    stage.puff(capsule(place(-1.15, 0.02), place(-0.62, 0.0), size * 0.43, size * 0.41), colour, size * 0.2, relief=0.8)
    for k in range(4):
        y = -0.39 + 0.265 * k
        length = (0.58, 0.7, 0.66, 0.48)[k] * (0.82 if grip else 1.0)
        knuckle, middle = place(0.42, y), place(0.42 + length, y * 1.06)
        tip = place(0.42 + length * (1.2 if grip else 1.85), y * 0.95 + (0.26 if grip else 0.0))
        stage.puff(capsule(middle, tip, size * 0.128, size * 0.105), colour, size * 0.09, relief=0.7)
        stage.puff(capsule(knuckle, middle, size * 0.145, size * 0.13), colour, size * 0.1, relief=0.7)
    palm = curve(
        [
            place(-0.8, -0.38),
            place(-0.2, -0.52),
            place(0.42, -0.5),
            place(0.62, -0.1),
            place(0.58, 0.42),
            place(-0.1, 0.5),
            place(-0.8, 0.38),
        ],
        5,
    )
    stage.puff(palm, colour, size * 0.3, relief=0.8)
    thumb = (place(-0.15, 0.42), place(0.35, 0.78 if not grip else 0.68), place(0.8, 0.74 if not grip else 0.5))
    stage.puff(capsule(thumb[1], thumb[2], size * 0.15, size * 0.12), colour, size * 0.1, relief=0.7)
    stage.puff(capsule(thumb[0], thumb[1], size * 0.2, size * 0.155), colour, size * 0.12, relief=0.7)


def brush(stage: Stage, tip: Vec, towards: Vec, length: float = 0.22, colour: Colour = (168, 70, 44)) -> None:
    """A laminating brush from the tip of its bristles to the end of its handle."""
    step = tuple(t - p for t, p in zip(towards, tip, strict=True))
    size = max(1e-6, sum(s * s for s in step) ** 0.5)
    way = tuple(s / size for s in step)
    root, ferrule, end = (add(tip, way, length * share) for share in (0.22, 0.38, 1.0))
    stage.shadow([[tip, add(root, (0.01, 0, 0)), end, add(end, (0.012, 0, 0)), root]], strength=0.5, blur=0.01)
    a, b = stage.project(tip), stage.project(root)
    wide = length * 0.11 * stage.pixels(root)
    stage.tube(a, b, wide * 0.8, wide, (176, 150, 106), (60, 110, 96, 140, 116, 150, 104, 126, 80, 60))
    stage.rod(root, ferrule, length * 0.11, (178, 180, 182), STEEL)
    stage.rod(ferrule, end, length * 0.075, colour, GLOSSY, length * 0.045)


def cup(stage: Stage, at: Vec, radius: float, height: float, fill: Colour | None = None) -> None:
    """A white mixing cup, empty or with mixed resin in it."""
    stage.shadow(
        [[*stage.ring(at, radius * 0.8, 10), *stage.ring(add(at, (0, 0, height)), radius, 10)]],
        z=at[2],
        strength=0.5,
        blur=0.02,
    )
    stage.turned(at, [(0, radius * 0.76), (height, radius)], (228, 227, 220), MATTE)
    stage.disc(add(at, (0, 0, height)), radius, Material((240, 239, 234)), 1.0)
    rim = add(at, (0, 0, height))
    stage.disc(rim, radius * 0.93, Material((176, 174, 166)), 0.8)
    if fill:
        stage.disc(add(rim, (0.0, -radius * 0.02, -radius * 0.05)), radius * 0.86, Material(fill, gloss=0.5), 1.0)
        c = stage.project(add(rim, (-radius * 0.3, radius * 0.3, 0)))
        r = radius * stage.pixels(rim)
        stage.soft(
            [capsule((c[0] - r * 0.2, c[1]), (c[0] + r * 0.25, c[1] - r * 0.05), r * 0.08, r * 0.06)],
            (255, 250, 236),
            0.8,
            r * 0.05,
        )


def bolt(
    stage: Stage, at: Vec, radius: float, *, washer: bool = True, stripe: Colour | None = None, turn: float = 0.0
) -> None:
    """A hexagon head on a washer, seen from above; the stripe is a witness mark of paint across nut and plate."""
    stage.shadow(
        [stage.ring(add(at, (0, 0, radius * 0.7)), radius * 1.1, 10)], z=at[2], strength=0.55, blur=radius * 0.3
    )
    if washer:
        stage.turned(
            at,
            [(0, radius * 1.55), (radius * 0.16, radius * 1.55)],
            (168, 172, 176),
            STEEL,
            Material((196, 199, 203), "metal", 2400, 0.4),
        )
    foot = add(at, (0, 0, radius * 0.16))
    corners = [spin((radius, 0), 60 * k + turn) for k in range(6)]
    low = [add(foot, (cx, cy, 0)) for cx, cy in corners]
    high = [add(foot, (cx, cy, radius * 0.72)) for cx, cy in corners]
    faces = sorted(range(6), key=lambda k: -(low[k][1] + low[(k + 1) % 6][1]))
    for k in faces:
        j = (k + 1) % 6
        n = (low[k][0] + low[j][0] - 2 * at[0], low[k][1] + low[j][1] - 2 * at[1], 0.0)
        if n[0] * (stage.eye[0] - at[0]) + n[1] * (stage.eye[1] - at[1]) > 0:
            value = stage.lit(n)
            stage.quad(
                [stage.project(p) for p in (low[k], low[j], high[j], high[k])],
                Material((158, 163, 170), gloss=0.3),
                [value * 0.8, value * 0.8, value * 1.2, value * 1.1],
            )
    stage.plane(
        add(foot, (0, 0, radius * 0.72)), (1, 0, 0), (0, 1, 0), corners, Material((188, 192, 198), "metal", 2600, 0.4)
    )
    stage.disc(add(foot, (0, 0, radius * 0.73)), radius * 0.62, Material((204, 208, 212), "metal", 2600, 0.4))
    if stripe:
        _witness(stage, at, radius, stripe, turn + 24)


def _witness(stage: Stage, at: Vec, radius: float, colour: Colour, turn: float) -> None:
    """A stripe of paint from the middle of a bolt head, down its side and over the washer on to the plate."""
    way, side = spin((radius, 0.0), turn), spin((0.0, radius * 0.15), turn)
    path = [(0.1, 0.9), (0.88, 0.9), (0.93, 0.18), (1.54, 0.17), (1.56, 0.01), (2.3, 0.01)]

    def edge(d: float, h: float, sign: float) -> Point:
        return stage.project(
            (at[0] + way[0] * d + side[0] * sign, at[1] + way[1] * d + side[1] * sign, at[2] + radius * h)
        )

    for (d0, h0), (d1, h1) in pairwise(path):
        steep = h1 < h0 - 0.1
        if steep and way[0] * (stage.eye[0] - at[0]) + way[1] * (stage.eye[1] - at[1]) < 0:
            continue
        shade = 0.72 if steep else 1.0
        stage.quad(
            [edge(d0, h0, 1), edge(d1, h1, 1), edge(d1, h1, -1), edge(d0, h0, -1)], Material(colour), [shade] * 4
        )


def lay_card(stage: Stage, lines: Sequence[str]) -> None:
    """A part card lying (or pinned to the wall) where the scene has room for it."""
    middle = (
        stage.on_wall(stage.card_at, -0.004)
        if stage.card_hangs
        else stage.on_plane(stage.card_at, stage.card_z + 0.0004)
    )
    wide = stage.card_width * stage.size[0] / stage.pixels(middle)
    angle = stage.rng.uniform(-4, 4) if stage.card_hangs else stage.rng.uniform(-13, 13)
    (ux, uy), (vx, vy) = spin((wide, 0), angle), spin((0, -wide * 0.64), angle)
    u, v = ((ux, 0.0, uy), (vx, 0.0, vy)) if stage.card_hangs else ((ux, uy, 0.0), (vx, vy, 0.0))
    origin = add(add(middle, u, -0.5), v, -0.5)
    points = [stage.project(p) for p in (origin, add(origin, u), add(add(origin, u), v), add(origin, v))]
    lift = wide * stage.pixels(middle) * 0.02
    stage.soft([[(x + lift, y + lift * 1.2) for x, y in points]], (14, 14, 18), 0.55, max(2.0, lift * 0.9))
    stage.decal(prints.part_card(lines, stage.rng), origin, u, v, 1.0)


def lay(stage: Stage, picture: Image.Image, at: Vec, width: float, turn: float = 0.0, lift: float = 0.003) -> None:
    """Lay a flat picture on a level surface with its middle at `at`, `width` metres wide, turned by degrees."""
    height = width * picture.height / picture.width
    u, v = (*spin((width, 0), turn), 0.0), (*spin((0, -height), turn), 0.0)
    origin = add(add(add(at, (0, 0, lift * 0.3)), u, -0.5), v, -0.5)
    points = [stage.project(p) for p in (origin, add(origin, u), add(add(origin, u), v), add(origin, v))]
    shift = lift * stage.pixels(at)
    stage.soft([[(x + shift, y + shift) for x, y in points]], (14, 14, 18), 0.5, max(2.0, shift))
    stage.decal(picture, origin, u, v, 1.0)


def wave(t: float, turns: float, phase: float) -> float:
    """A sine for wrinkles and wobble."""
    return sin(2 * pi * turns * t + phase)


def arc_points(centre: Point, radius: float, start: float, end: float, count: int = 14) -> list[Point]:
    """Picture points on an arc, angles in degrees clockwise from the right."""
    return [
        (
            centre[0] + radius * cos(radians(start + (end - start) * k / count)),
            centre[1] + radius * sin(radians(start + (end - start) * k / count)),
        )
        for k in range(count + 1)
    ]
