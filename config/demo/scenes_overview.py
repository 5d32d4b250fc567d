"""Wide pictures: the builder at the bench and the whole aircraft in the garage at its stages."""

from collections.abc import Callable
from math import cos, pi, sin
from random import Random

from config.demo import props, scenes_layup
from config.demo.geometry import Point, Vec, add, curve, spin
from config.demo.paint import GLOSSY, MATTE, STEEL, Colour, Material
from config.demo.props import capsule
from config.demo.stage import Stage

type Size = tuple[int, int]

PRIMER = Material((186, 190, 188), "paint", 260, 0.25)
BARE = Material((196, 200, 166), "scuff", 260, 0.15)
PAINTED = Material((232, 228, 214), "paint", 260, 0.6)
STAGES = ("hull", "tail", "wing", "engine")


def builder(rng: Random, size: Size, reading: str = "") -> Stage:
    """The builder, seen from the side with a respirator on, leaning over a part on the bench."""
    stage = Stage(rng, size, (0.0, -1.25, 0.78), (0.05, 0.1, 0.22), fov=52, shake=0.6)
    props.bench(stage, far=0.9, half=1.9, near=-1.2)
    turn = rng.uniform(-8, 8)
    part = [[(x + 0.42, y + 0.05, z) for x, y, z in row] for row in scenes_layup.mound(0.95, 0.42, 0.13)]
    part = [[(*spin((x, y), turn), z) for x, y, z in row] for row in part]
    stage.shadow([[p for row in part for p in row]], strength=0.55, blur=0.03)
    stage.skin(part, rng.choice((props.WET_GLASS, props.SANDED, props.CARBON, props.PEEL)))
    props.cup(stage, (0.62, 0.5, 0), 0.05, 0.11, (214, 164, 76))
    _figure(stage, rng)
    stage.card_at = (0.8, 0.9)
    return stage


def _figure(stage: Stage, rng: Random) -> None:
    """Coverall, cap, respirator and gloves, drawn from the far arm to the near hand."""
    unit = min(stage.size)
    left = (0.02 if stage.size[0] > stage.size[1] else -0.12) * unit
    drop = (stage.size[1] - unit) * 0.55 + rng.uniform(-0.02, 0.03) * unit

    def at(x: float, y: float) -> Point:
        return (left + x * unit, drop + y * unit)

    cloth: Colour = rng.choice(((62, 82, 104), (196, 196, 190), (96, 92, 76), (70, 74, 78)))
    dark: Colour = (cloth[0] * 3 // 4, cloth[1] * 3 // 4, cloth[2] * 3 // 4)
    glove = rng.choice(props.GLOVES)
    for a, b, ra, rb in ((at(0.40, 0.5), at(0.55, 0.68), 0.062, 0.052), (at(0.55, 0.68), at(0.78, 0.66), 0.052, 0.042)):
        stage.puff(capsule(a, b, ra * unit, rb * unit), dark, 0.04 * unit, texture="paint", relief=0.6)
    props.hand(stage, at(0.84, 0.655), 0.066 * unit, 6, glove, dark, reach=1.2)
    torso = curve(
        [
            at(0.02, 1.2),
            at(0.02, 0.86),
            at(0.06, 0.62),
            at(0.15, 0.46),
            at(0.27, 0.395),
            at(0.38, 0.40),
            at(0.435, 0.5),
            at(0.42, 0.64),
            at(0.40, 0.85),
            at(0.42, 1.2),
        ],
        7,
    )
    stage.soft([[(x + 30, y + 24) for x, y in torso]], (12, 13, 18), 0.4, 34)
    stage.puff(torso, cloth, 0.1 * unit, texture="paint", relief=0.7)
    for a, b in (
        ((0.36, 0.5), (0.30, 0.62)),
        ((0.38, 0.62), (0.28, 0.72)),
        ((0.1, 0.62), (0.2, 0.7)),
        ((0.07, 0.8), (0.2, 0.86)),
    ):
        stage.soft([capsule(at(*a), at(*b), 0.006 * unit, 0.003 * unit)], (14, 16, 22), 0.45, 0.008 * unit)
    _head(stage, rng, at, unit)
    stage.soft([capsule(at(0.30, 0.56), at(0.46, 0.8), 0.07 * unit, 0.07 * unit)], (12, 13, 18), 0.45, 0.03 * unit)
    for a, b, ra, rb in ((at(0.25, 0.50), at(0.42, 0.75), 0.082, 0.066), (at(0.42, 0.75), at(0.66, 0.75), 0.064, 0.05)):
        stage.puff(capsule(a, b, ra * unit, rb * unit), cloth, 0.05 * unit, texture="paint", relief=0.6)
    for x, y in ((0.36, 0.69), (0.4, 0.72), (0.46, 0.77)):
        stage.soft(
            [capsule(at(x - 0.03, y + 0.03), at(x + 0.03, y - 0.02), 0.005 * unit, 0.003 * unit)],
            (14, 16, 22),
            0.4,
            0.007 * unit,
        )
    props.hand(stage, at(0.725, 0.755), 0.08 * unit, 4, glove, cloth, reach=1.2)


def _head(stage: Stage, rng: Random, put: Callable[[float, float], Point], unit: int) -> None:
    """Head in profile, bent to the work: neck, face, hair or cap, glasses, respirator with two straps."""
    skin: Colour = rng.choice(((214, 168, 138), (172, 122, 92), (226, 184, 156)))
    hair: Colour = rng.choice(((74, 54, 40), (46, 42, 42), (150, 112, 70)))
    neck = curve([put(0.27, 0.42), put(0.30, 0.33), put(0.38, 0.33), put(0.42, 0.42)], 5)
    stage.puff(neck, (skin[0] * 4 // 5, skin[1] * 4 // 5, skin[2] * 4 // 5), 0.03 * unit, relief=0.7)
    face = [
        (0.30, 0.2),
        (0.36, 0.135),
        (0.44, 0.14),
        (0.492, 0.19),
        (0.505, 0.25),
        (0.53, 0.285),
        (0.508, 0.3),
        (0.5, 0.345),
        (0.46, 0.385),
        (0.39, 0.37),
        (0.32, 0.31),
    ]
    stage.puff(curve([put(*p) for p in face], 6), skin, 0.055 * unit, relief=0.7)
    crown = [
        (0.275, 0.285),
        (0.27, 0.19),
        (0.33, 0.11),
        (0.42, 0.098),
        (0.49, 0.14),
        (0.505, 0.188),
        (0.45, 0.2),
        (0.40, 0.205),
        (0.385, 0.26),
        (0.35, 0.275),
        (0.325, 0.335),
    ]
    capped = rng.random() < 0.5
    stage.puff(curve([put(*p) for p in crown], 6), hair, 0.04 * unit, texture="paint", relief=0.7)
    if capped:
        shell: Colour = rng.choice(((158, 60, 44), (52, 84, 96), (206, 170, 70)))
        top = [
            (0.268, 0.2),
            (0.30, 0.12),
            (0.38, 0.085),
            (0.46, 0.105),
            (0.505, 0.165),
            (0.6, 0.2),
            (0.595, 0.212),
            (0.5, 0.197),
            (0.38, 0.19),
            (0.3, 0.21),
        ]
        stage.puff(curve([put(*p) for p in top], 6), shell, 0.04 * unit, texture="paint", relief=0.7)
    ear = curve([put(0.385, 0.24), put(0.41, 0.23), put(0.42, 0.26), put(0.405, 0.295), put(0.388, 0.28)], 5)
    stage.puff(ear, skin, 0.012 * unit, relief=0.6)
    for end in ((0.29, 0.235), (0.30, 0.335)):
        stage.cable(
            [put(0.475, 0.335), put(0.39, 0.305 if end[1] > 0.3 else 0.285), put(*end)], 0.012 * unit, (44, 46, 50), 0.2
        )
    stage.cable([put(0.5, 0.232), put(0.41, 0.238)], 0.008 * unit, (40, 42, 46), 0.4)
    lens = curve([put(0.468, 0.216), put(0.524, 0.222), put(0.528, 0.255), put(0.49, 0.262), put(0.466, 0.248)], 4)
    stage.puff(lens, (150, 172, 178), 0.01 * unit, gloss=True, opacity=0.8)
    mask = curve(
        [put(0.462, 0.275), put(0.53, 0.268), put(0.568, 0.318), put(0.556, 0.37), put(0.5, 0.398), put(0.455, 0.36)], 6
    )
    stage.puff(mask, (74, 78, 84), 0.025 * unit, relief=0.6, gloss=True)
    cx, cy = put(0.508, 0.36)
    cartridge: Colour = rng.choice(((186, 66, 108), (206, 170, 60), (96, 120, 84)))
    stage.puff(props.arc_points((cx, cy), 0.043 * unit, 0, 360, 30), cartridge, 0.012 * unit, relief=0.6)
    stage.puff(props.arc_points((cx, cy), 0.031 * unit, 0, 360, 30), (206, 206, 200), 0.006 * unit, relief=0.6)
    for k in range(-2, 3):
        stage.cable(
            [(cx - 0.02 * unit, cy + k * 0.009 * unit), (cx + 0.02 * unit, cy + k * 0.009 * unit)],
            2.5,
            (96, 98, 100),
            0.1,
        )


def _hull_grid(stations: int = 15, around: int = 12) -> list[list[Vec]]:
    """The hull as rings of points, nose at x = -2.4 and stern at 3.2; the planing bottom is a blunt V."""
    grid = []
    for i in range(stations):
        t = i / (stations - 1)
        x = -2.4 + 5.6 * t
        wide = 0.56 * min(1.0, (t / 0.24) ** 0.6 if t else 0.0) * (1 - 0.88 * max(0.0, (t - 0.42) / 0.58) ** 1.1) + 0.03
        high = 0.52 * min(1.0, 0.02 + (t / 0.26) ** 0.6) * (1 - 0.84 * max(0.0, (t - 0.46) / 0.54) ** 0.9) + 0.04
        middle = 1.02 + 0.5 * max(0.0, (t - 0.45) / 0.55) ** 1.4
        ring = []
        for k in range(around + 1):
            a = 2 * pi * k / around - pi / 2
            y, z = cos(a) * wide, sin(a) * high
            if z < 0:
                y *= 1.06
                z *= 1.0 + 0.12 * (1 - abs(cos(a)))
            ring.append((x, y, middle + z))
        grid.append(ring)
    return grid


def _wing_grid(
    y0: float, y1: float, chord: float, tip: float, x: float, z: float, dihedral: float = 0.03
) -> list[list[Vec]]:
    """Half a wing as rows along the span; each row runs round the section from the tail over the top."""
    rows = []
    section = [
        (1.0, 0.0),
        (0.7, 0.055),
        (0.4, 0.1),
        (0.15, 0.085),
        (0.0, 0.0),
        (0.15, -0.035),
        (0.5, -0.03),
        (1.0, 0.0),
    ]
    for t, thick in ((0.0, 1.0), (0.25, 1.0), (0.5, 1.0), (0.75, 1.0), (0.97, 0.9), (1.0, 0.3)):
        y = y0 + (y1 - y0) * t
        c = chord + (tip - chord) * t
        rows.append([(x + (sx - 0.3) * c, y, z + sz * c * 1.3 * thick + abs(y) * dihedral) for sx, sz in section])
    return rows


def _trestle(stage: Stage, x: float, y: float, height: float) -> None:
    """A sawhorse under the aircraft."""
    stage.shadow(
        [[(x, y - 0.4, height), (x, y + 0.4, height), (x, y - 0.4, 0), (x, y + 0.4, 0)]], strength=0.3, blur=0.06
    )
    for sy in (0.36, -0.36):
        for sx in (0.22, -0.22):
            stage.rod((x + sx, y + sy * 1.1, 0.0), (x, y + sy, height), 0.03, (196, 152, 100))
    stage.box((x, y, height - 0.04), (0.1, 0.95, 0.09), props.SPRUCE)


def airframe(rng: Random, size: Size, reading: str = "") -> Stage:
    """The aircraft in the garage; the reading names its stage: hull, tail, wing or engine."""
    step = STAGES.index(reading) if reading in STAGES else rng.randrange(len(STAGES))
    stage = Stage(rng, size, (rng.uniform(-4.6, -3.6), -6.0, 2.5), (0.35, 0.0, 1.05), fov=52, shake=0.5)
    _garage(stage)
    cover = (BARE, BARE, PRIMER, PAINTED)[step] if step else rng.choice((BARE, PRIMER))
    hull = _hull_grid()
    stage.shadow([[p for ring in hull for p in ring]], strength=0.6, blur=0.18)
    if step > 1:
        for side in (-1, 1):
            wing = _wing_grid(0.2 * side, 3.1 * side, 1.2, 0.95, -0.2, 1.78)
            stage.shadow([[p for row in wing for p in row]], strength=0.4, blur=0.25)
        _wing(stage, 1, cover)
    else:
        stage.block_shadow((-0.8, 2.6, 0), (2.6, 0.6, 0.8), strength=0.4, blur=0.08)
        stage.box((-0.8, 2.6, 0.72), (2.6, 0.7, 0.06), props.BIRCH)
        stage.box((-1.9, 2.6, 0), (0.1, 0.6, 0.72), props.SPRUCE)
        stage.box((0.3, 2.6, 0), (0.1, 0.6, 0.72), props.SPRUCE)
    _trestle(stage, 1.4, 0.0, 0.82)
    _trestle(stage, -1.1, 0.0, 0.44)
    stage.skin(hull, cover, flip=True)
    if step:
        _tail(stage, cover, step)
    _cockpit(stage, step)
    if step > 2:
        _engine(stage)
    if step > 1:
        _wing(stage, -1, cover)
    _clutter(stage, rng)
    stage.card_at, stage.card_width = (0.15, 0.9), 0.15
    return stage


def _garage(stage: Stage) -> None:
    """Concrete floor, back wall with a big door letting in light, and a tube lamp."""
    props.floor(stage, props.FLOOR)
    left, right = sorted(stage.rng.sample((-4.2, -1.4, 1.0, 3.4), 2))
    door = [stage.project((x, 5.0, z)) for x, z in ((left, 0.05), (right, 0.05), (right, 2.6), (left, 2.6))]
    stage.soft([door], (222, 228, 230), 0.94, 9)
    for z in (0.65, 1.3, 1.95):
        stage.cable([stage.project((left, 5.0, z)), stage.project((right, 5.0, z))], 4, (150, 156, 160), 0.2)
    pool = [stage.project((x, y, 0.0)) for x, y in ((left, 4.9), (right, 4.9), (right + 0.8, 1.0), (left - 0.6, 1.0))]
    stage.soft([pool], (236, 238, 232), 0.3, 60)


def _wing(stage: Stage, side: int, cover: Material) -> None:
    """One half wing with its tip float."""
    wing = _wing_grid(0.0, 3.1 * side, 1.2, 0.95, -0.2, 1.78)
    tip = (-0.15, 2.7 * side, 1.28)
    pod = []
    for i in range(8):
        t = i / 7
        r = 0.16 * max(0.0, sin(pi * t)) ** 0.6 + 0.006
        pod.append(
            [
                (tip[0] - 0.62 + 1.24 * t, tip[1] + r * cos(2 * pi * k / 9), tip[2] + r * sin(2 * pi * k / 9) * 1.1)
                for k in range(10)
            ]
        )
    stage.rod((tip[0], tip[1], tip[2] + 0.1), (tip[0], tip[1], 1.86), 0.035, (196, 198, 196), STEEL)
    stage.skin(wing, cover, flip=side > 0)
    stage.skin(pod, cover, flip=True)


def _tail(stage: Stage, cover: Material, step: int) -> None:
    """Fin with rudder, and the tailplane on top of it when the stage is far enough."""
    fin = [(2.3, 1.5), (2.75, 2.5), (3.3, 2.55), (3.35, 1.6)]
    stage.plane((0, 0.03, 0), (1, 0, 0), (0, 0, 1), fin, Material((130, 132, 126)), shade=0.7)
    stage.plane((0, -0.02, 0), (1, 0, 0), (0, 0, 1), fin, cover, shade=0.86)
    stage.cable([stage.project((3.0, -0.03, 1.62)), stage.project((3.04, -0.03, 2.5))], 3, (60, 62, 62), 0.1)
    if step > 1:
        for side in (1, -1):
            stage.skin(_wing_grid(0.0, 1.15 * side, 0.7, 0.55, 2.85, 2.5, 0.0), cover, flip=side > 0)


def _cockpit(stage: Stage, step: int) -> None:
    """Cockpit opening, glazed in the later stages."""
    opening = curve(
        [(-1.5, 1.42), (-1.2, 1.66), (-0.75, 1.78), (-0.2, 1.78), (0.05, 1.56), (-0.1, 1.38), (-0.9, 1.34)], 6
    )
    points = [stage.project((x, -0.46 + 0.5 * max(0.0, z - 1.34), z)) for x, z in opening]
    if step < 2:
        stage.puff(points, (56, 54, 48), 10, relief=0.6)
        stage.cable([*points, points[0]], 6, (206, 200, 170), 0.4)
        return
    stage.puff(points, (116, 138, 150), 14, gloss=True, relief=0.5)
    a, b = stage.project((-1.15, -0.34, 1.58)), stage.project((-0.6, -0.28, 1.7))
    stage.soft([capsule(a, b, 8, 5)], (250, 252, 255), 0.65, 8)
    bow = [stage.project((-0.72, -0.46 + 0.5 * max(0.0, z - 1.34), z)) for z in (1.34, 1.5, 1.66, 1.78)]
    stage.cable(bow, 9, (216, 214, 204), 0.4)
    stage.cable([*points, points[0]], 6, (216, 214, 204), 0.4)


def _engine(stage: Stage) -> None:
    """Engine pod on its pylon above the hull, with a two-blade propeller behind it."""
    for dx in (-0.2, 0.35):
        stage.rod((0.25 + dx, 0.0, 1.86), (0.3 + dx * 0.6, 0.0, 2.35), 0.04, (88, 92, 96), STEEL)
    for tilt in (62.0, 242.0):
        y, z = spin((0.82, 0.0), tilt)
        stage.rod((0.98, 0.0, 2.42), (0.98, y, 2.42 + z), 0.055, (72, 58, 46), GLOSSY, 0.03)
    pod = []
    for i in range(9):
        t = i / 8
        r = 0.24 * sin(pi * min(0.93, t * 0.86 + 0.1)) ** 0.55
        pod.append([(-0.3 + 1.25 * t, r * cos(2 * pi * k / 10), 2.42 + r * sin(2 * pi * k / 10)) for k in range(11)])
    stage.skin(pod, Material((196, 92, 48), "paint", 260, 0.6), flip=True)
    x, y = stage.project((0.98, -0.05, 2.42))
    stage.puff(
        props.arc_points((x, y), 0.09 * stage.pixels((0.98, 0, 2.42)), 0, 360, 20), (190, 192, 194), 6, gloss=True
    )


def _clutter(stage: Stage, rng: Random) -> None:
    """A tool cabinet, tins or a roll of cloth in front of the aircraft."""
    if rng.random() < 0.7:
        x = rng.uniform(1.2, 2.4)
        stage.block_shadow((x, -1.9, 0), (0.7, 0.45, 0.8), 8, strength=0.5, blur=0.06)
        stage.box(
            (x, -1.9, 0),
            (0.7, 0.45, 0.8),
            Material(rng.choice(((150, 44, 36), (52, 78, 104), (72, 76, 80))), "paint", 300),
            turn=8,
        )
        for k in range(4):
            ends = [spin((sx, -0.23), 8) for sx in (-0.26, 0.26)]
            face = [stage.project((x + ex, ey - 1.9, 0.14 + 0.18 * k)) for ex, ey in ends]
            stage.cable(face, 5, (190, 192, 194), 0.6)
    if rng.random() < 0.6:
        a, b = (-1.6, -2.0, 0.09), (-0.5, -2.3, 0.09)
        stage.shadow([[a, b, add(b, (0.05, 0.1, 0.08)), add(a, (0, 0.1, 0.08))]], strength=0.5, blur=0.05)
        stage.rod(a, b, 0.09, (222, 222, 208), MATTE)


KINDS = {"builder": builder, "airframe": airframe}
