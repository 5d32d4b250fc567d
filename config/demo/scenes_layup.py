"""Pictures of laminating work: wet cloth, bags, gauges, scales, foam, resin and paper."""

from collections.abc import Sequence
from math import cos, pi, sin
from random import Random

from PIL import Image

from config.demo import prints, props
from config.demo.geometry import Vec, add, curve, spin
from config.demo.paint import GLOSSY, MATTE, STEEL, Colour, Material
from config.demo.stage import Stage

type Size = tuple[int, int]


def _number(reading: str, otherwise: float) -> float:
    """The number in a reading, or another value when there is none."""
    try:
        return float(reading)
    except ValueError:
        return otherwise


def mound(
    length: float, width: float, height: float, *, rows: int = 9, columns: int = 12, nose: float = 2.4
) -> list[list[Vec]]:
    """A long convex form lying on the bench, pointed to the right, as rows across and points along."""
    grid = []
    for i in range(rows):
        s = 2 * i / (rows - 1) - 1
        row = []
        for j in range(columns):
            t = j / (columns - 1)
            taper = (1 - max(0.0, (t - 0.3) / 0.7) ** nose * 0.93) * (0.86 + 0.14 * min(1.0, t / 0.3))
            row.append(
                ((t - 0.5) * length, s * width / 2 * taper, height * max(0.0, 1 - abs(s) ** 2.6) * (0.3 + 0.7 * taper))
            )
        grid.append(row)
    return grid


def _turned(grid: Sequence[Sequence[Vec]], degrees: float, at: Vec = (0.0, 0.0, 0.0)) -> list[list[Vec]]:
    """The grid turned about the vertical and moved to `at`."""

    def moved(p: Vec) -> Vec:
        x, y = spin((p[0], p[1]), degrees)
        return (x + at[0], y + at[1], p[2] + at[2])

    return [[moved(p) for p in row] for row in grid]


def wet_layup(rng: Random, size: Size, reading: str = "") -> Stage:
    """Cloth being wetted out over a mold, brush in a gloved hand; the right part is still dry."""
    stage = Stage(rng, size, (rng.uniform(-0.15, 0.15), -0.86, 0.72), (0.02, 0.03, 0.03))
    props.bench(stage)
    turn = rng.uniform(-14, 14)
    base = _turned(mound(1.02, 0.56, 0.13, rows=7, columns=6), turn)
    stage.shadow([[p for row in base for p in row]], strength=0.6, blur=0.03)
    carbon = rng.random() < 0.35
    stage.skin(base, Material(rng.choice(((62, 92, 88), (96, 60, 52), (62, 70, 98))), "paint", 900, 0.5))
    split = rng.choice((7, 8, 9))
    cloth = _turned([[(x, y * 0.9, z * 1.03 + 0.002) for x, y, z in row[1:]] for row in mound(0.98, 0.56, 0.13)], turn)
    dry = Material((74, 77, 82), "carbon", 1700) if carbon else Material((214, 214, 200), "glass", 1500)
    wet = props.CARBON if carbon else props.WET_GLASS
    stage.skin([row[split - 1 :] for row in cloth], dry)
    stage.skin([row[:split] for row in cloth], wet)
    for _ in range(4):
        spot = cloth[rng.randint(2, 5)][rng.randint(1, split - 2)]
        x, y = stage.project(spot)
        r = rng.uniform(14, 40)
        stage.soft([props.capsule((x - r, y), (x + r, y - r * 0.2), r * 0.3, r * 0.2)], (255, 250, 232), 0.5, r * 0.3)
    tip = add(cloth[3][split - 2], (0, 0, 0.012))
    end = add(tip, (0.14, -0.11, 0.13))
    props.brush(stage, tip, end, 0.2, rng.choice(((168, 70, 44), (196, 150, 72), (60, 90, 120))))
    x, y = stage.project(add(tip, (0.098, -0.077, 0.092)))
    props.hand(stage, (x + 30, y + 10), 92, 206, rng.choice(props.GLOVES), rng.choice(props.SLEEVES), reach=7)
    if rng.random() < 0.7:
        props.cup(stage, (-0.52, 0.36, 0), 0.045, 0.1, (214, 164, 76))
    return stage


def dry_kit(rng: Random, size: Size, reading: str = "") -> Stage:
    """The plies of a part, cut and stacked in order, with a rule across them."""
    stage = Stage(rng, size, (rng.uniform(-0.1, 0.1), -0.7, 0.82), (0, 0.0, 0.0))
    props.bench(stage, rng.choice((props.PAPER_TOP, props.BENCH_PALE, props.BENCH)))
    angle = rng.uniform(-10, 10)
    count = rng.randint(4, 6)
    for k in range(count):
        cloth = rng.choice(
            (
                Material((214, 214, 200), "glass", 1500),
                Material((206, 208, 188), "glass", 1500),
                Material((66, 69, 75), "carbon", 1700),
            )
        )
        w, h = 0.72 - 0.05 * k, 0.46 - 0.035 * k
        turn = angle + rng.uniform(-3, 3) + (45 if rng.random() < 0.18 else 0) * (k > 2)
        u, v = spin((1, 0), turn), spin((0, 1), turn)
        shape = [
            (-w / 2, -h / 2),
            (w * 0.34, -h / 2),
            (w / 2, -h * 0.2),
            (w / 2, h * 0.3),
            (w * 0.3, h / 2),
            (-w / 2, h / 2),
        ]
        at = (rng.uniform(-0.02, 0.02), rng.uniform(-0.02, 0.02), 0.0025 * k)
        outline = [stage.project((at[0] + u[0] * x + v[0] * y, at[1] + u[1] * x + v[1] * y, at[2])) for x, y in shape]
        stage.soft([[(x + 6, y + 9) for x, y in outline]], (14, 14, 18), 0.5, 6)
        stage.plane(at, (*u, 0.0), (*v, 0.0), shape, cloth)
        tag = stage.on_plane((0.30 + 0.04 * k, 0.36 + 0.035 * k), at[2])
        if k < count - 1:
            x, y = stage.project(tag)
            stage.soft([[(x - 16, y - 8), (x + 16, y - 8), (x + 16, y + 8), (x - 16, y + 8)]], (54, 76, 140), 0.25, 4)
    props.lay(stage, prints.ruler(30), (0.05, rng.uniform(-0.1, 0.08), 0.02), 0.6, angle + rng.uniform(-20, 20))
    if rng.random() < 0.6:
        stage.block_shadow((0.5, -0.2, 0), (0.12, 0.12, 0.05), strength=0.4)
        stage.turned((0.5, -0.2, 0), [(0, 0.06), (0.05, 0.06)], (214, 184, 66), MATTE, Material((196, 170, 70)))
        stage.disc((0.5, -0.2, 0.0505), 0.042, Material((70, 56, 44)), 0.8)
    return stage


def vacuum_bag(rng: Random, size: Size, reading: str = "") -> Stage:
    """A part under wrinkled film, sealed with yellow tape, hose and gauge on it."""
    stage = Stage(rng, size, (rng.uniform(-0.2, 0.2), -0.95, 0.8), (0, 0.02, 0.02))
    props.bench(stage)
    turn = rng.uniform(-12, 12)
    u3, v3 = (*spin((1, 0), turn), 0.0), (*spin((0, 1), turn), 0.0)
    hw, hh = 0.66, 0.38
    for inset, material in ((0.0, props.TAPE), (0.022, Material((146, 152, 128), "film", 900, 0.3))):
        w, h = hw - inset, hh - inset
        stage.plane((0, 0, 0.002), u3, v3, [(-w, -h), (w, -h), (w, h), (-w, h)], material, step=2)
    form = _turned(mound(1.0, 0.44, 0.12, rows=9, columns=12), turn)
    stage.shadow([[p for row in form for p in row]], strength=0.4, blur=0.05)
    tint = rng.choice(((150, 160, 124), (160, 156, 140), (112, 122, 116)))
    stage.skin(form, Material(tint, "film", 1000, 0.75))
    for _ in range(9):
        i, j = rng.randint(1, 5), rng.randint(1, 8)
        a, b = stage.project(form[i][j]), stage.project(form[i + 1][j + rng.randint(0, 1)])
        stage.soft([props.capsule(a, b, 5, 2)], (255, 255, 250), 0.6, 4)
    port = (*spin((rng.choice((-0.42, 0.4)), -0.27), turn), 0.01)
    stage.shadow([stage.ring(add(port, (0, 0, 0.05)), 0.03, 8)], strength=0.5, blur=0.01)
    stage.turned(
        port,
        [(0, 0.034), (0.018, 0.034), (0.02, 0.018), (0.06, 0.018)],
        (176, 150, 84),
        STEEL,
        Material((120, 100, 60)),
    )
    x, y = stage.project(add(port, (0, 0, 0.055)))
    side = 1 if port[0] > 0 else -1
    hose = [
        (x, y),
        (x + side * 30, y - 40),
        (x + side * 150, y - 20),
        (x + side * 260, y + 110),
        (x + side * 620, y + 260),
    ]
    from_curve = curve(hose, 8, closed=False)
    stage.soft(
        [[(a + 14, b + 26) for a, b in from_curve] + [(a + 14, b + 50) for a, b in reversed(from_curve)]],
        (14, 14, 18),
        0.35,
        12,
    )
    stage.cable(from_curve, 25, rng.choice(((54, 58, 62), (170, 190, 196), (160, 60, 46))), 0.7)
    stage.card_at = (0.5, 0.91)
    value = _number(reading, rng.uniform(22, 26))
    props.lay(
        stage,
        prints.dial(0, 30, 5, value, unit="inHg", name="VACUUM"),
        (*spin((-side * 0.46, -0.22), turn), 0.03),
        0.13,
        0,
        0.02,
    )
    return stage


def _bezel(stage: Stage, centre: tuple[float, float], radius: float, colour: Colour) -> None:
    """A round instrument case seen from the front, with its shadow on the wall."""
    outer = props.arc_points(centre, radius, 0, 360, 60)
    stage.soft([[(x + radius * 0.14, y + radius * 0.2) for x, y in outer]], (12, 13, 18), 0.6, radius * 0.09)
    stage.puff(outer, colour, radius * 0.07, relief=1.5, gloss=True)


def _instrument(rng: Random, size: Size, dial: Image.Image, wall: Material, case: Colour, hose: bool = False) -> Stage:
    """A dial hanging on a wall, nearly square to the camera; with a hose when it is a gauge."""
    stage = Stage(rng, size, (rng.uniform(-0.16, 0.12), -1.0, rng.uniform(-0.06, 0.1)), (0.03, 0, 0.0), fov=40)
    stage.plane((-1.2, 0, -1.0), (1, 0, 0), (0, 0, 1), [(0, 0), (2.4, 0), (2.4, 2.0), (0, 2.0)], wall, shade=0.98)
    r = rng.uniform(0.17, 0.2)
    middle: Vec = (-0.04, -0.035, 0.03)
    centre, scale = stage.project(middle), stage.pixels(middle)
    if hose:
        _hose(stage, add(middle, (0, 0, -r)))
    _bezel(stage, centre, r * 1.14 * scale, case)
    inner = props.arc_points(centre, r * 1.01 * scale, 0, 360, 60)
    stage.soft([inner], (10, 10, 12), 0.9, 3)
    stage.decal(dial, add(middle, (-r, 0, r)), (2 * r, 0, 0), (0, 0, -2 * r), 1.0)
    rs = r * scale
    rim = props.arc_points(centre, rs * 0.99, 180, 360, 24)
    lower = props.arc_points((centre[0] + rs * 0.03, centre[1] + rs * 0.09), rs * 0.97, 360, 180, 24)
    stage.soft([[*rim, *lower]], (10, 10, 14), 0.4, rs * 0.04)
    sheen = [
        (centre[0] - rs * 0.75, centre[1] - rs * 0.1),
        (centre[0] - rs * 0.2, centre[1] - rs * 0.82),
        (centre[0] + rs * 0.12, centre[1] - rs * 0.86),
        (centre[0] - rs * 0.68, centre[1] + rs * 0.26),
    ]
    stage.soft([sheen], (255, 255, 255), 0.2, 8)
    stage.card_at, stage.card_hangs = (0.84, 0.66), True
    return stage


def vacuum_gauge(rng: Random, size: Size, reading: str = "") -> Stage:
    """A vacuum gauge close up; the reading is in inches of mercury."""
    value = _number(reading, rng.uniform(22, 27))
    dial = prints.dial(0, 30, 5, value, unit="inHg", name="VACUUM", band=(22, 28))
    wall = rng.choice((props.PLY, Material((112, 126, 130), "paint", 900), Material((150, 156, 126), "film", 900, 0.3)))
    return _instrument(rng, size, dial, wall, rng.choice(((42, 43, 46), (170, 134, 70), (150, 154, 158))), hose=True)


def _hose(stage: Stage, top: Vec) -> None:
    """The brass stem of a gauge and the hose that hangs from it."""
    (x, y), scale = stage.project(top), stage.pixels(top)
    stage.soft([props.capsule((x + 20, y + 20), (x + 24, y + 400), 0.05 * scale, 0.05 * scale)], (12, 12, 16), 0.4, 18)
    stage.tube((x, y), (x + 4, y + 0.16 * scale), 0.032 * scale, 0.032 * scale, (186, 152, 84), STEEL)
    stage.tube((x + 4, y + 0.16 * scale), (x + 8, y + 0.9 * scale), 0.024 * scale, 0.024 * scale, (60, 62, 66), GLOSSY)


def thermometer(rng: Random, size: Size, reading: str = "") -> Stage:
    """The shop thermometer on the wall; the reading is in degrees Celsius."""
    value = _number(reading, rng.uniform(18, 25))
    dial = prints.dial(-10, 50, 10, value, unit="°C", name="SHOP AIR", band=(18, 28))
    wall = rng.choice(
        (props.PLY, props.BIRCH, Material((186, 184, 170), "paint", 800), Material((126, 140, 140), "paint", 800))
    )
    stage = _instrument(rng, size, dial, wall, rng.choice(((44, 45, 48), (196, 150, 72), (212, 210, 202))))
    for x, z in ((-0.3, 0.3), (0.34, -0.3)):
        px, py = stage.project((x, -0.003, z))
        stage.puff(props.arc_points((px, py), 12, 0, 360, 16), (150, 150, 148), 4, gloss=True)
    return stage


def _weigher(stage: Stage, at: Vec, reading: str, width: float = 0.3) -> float:
    """A bench scale with its display; gives back the height of its pan."""
    depth, tall = width * 0.95, width * 0.16
    stage.block_shadow(at, (width, depth, tall), strength=0.65, blur=0.02)
    stage.box(at, (width, depth, tall), Material((52, 54, 58), "paint", 900, 0.2))
    pan = add(at, (0, depth * 0.12, tall))
    w = width * 0.43
    stage.box(pan, (w * 2, w * 1.55, tall * 0.16), props.ALUMINIUM)
    top = add(at, (-width * 0.3, -depth * 0.315, tall * 1.01))
    stage.decal(prints.display(reading, "g"), top, (width * 0.42, 0, 0), (0, -width * 0.135, 0), 1.0)
    for k in range(2):
        key = add(at, (width * (0.22 + 0.13 * k), -depth * 0.39, tall * 1.01))
        stage.disc(key, width * 0.035, Material(((60, 104, 84), (130, 52, 46))[k]), 1.0)
    return at[2] + tall * 1.16


def scale_cup(rng: Random, size: Size, reading: str = "") -> Stage:
    """Resin being weighed in a cup; the reading is in grams."""
    stage = Stage(rng, size, (rng.uniform(-0.12, 0.12), -0.62, 0.42), (0.01, 0.02, 0.06))
    props.bench(stage, far=0.75)
    text = reading or f"{rng.uniform(60, 380):.1f}"
    props.cup(stage, (-0.33, 0.3, 0), 0.05, 0.11)
    _can(stage, (0.36, 0.34, 0), 0.085, 0.2, "FR2-2607")
    pan = _weigher(stage, (0, 0.02, 0), text)
    props.cup(
        stage,
        (rng.uniform(-0.02, 0.02), 0.06, pan),
        0.056,
        0.12,
        rng.choice(((220, 170, 82), (206, 150, 66), (226, 196, 130))),
    )
    if rng.random() < 0.7:
        stage.rod((0.015, 0.06, pan + 0.1), (0.06, 0.09, pan + 0.24), 0.0045, (206, 168, 112))
    return stage


def part_scale(rng: Random, size: Size, reading: str = "") -> Stage:
    """A trimmed part lying on the scale; the reading is in grams."""
    stage = Stage(rng, size, (rng.uniform(-0.12, 0.12), -0.72, 0.5), (0, 0.02, 0.04))
    props.bench(stage, far=0.8)
    pan = _weigher(stage, (0, -0.02, 0), reading or f"{rng.uniform(240, 1900):.0f}")
    part = _turned(mound(0.5, 0.2, 0.05, rows=7, columns=10), rng.uniform(-24, 24), (0.0, 0.05, pan + 0.012))
    stage.shadow([[p for row in part for p in row]], z=pan, strength=0.5, blur=0.02)
    stage.skin(part, rng.choice((props.GLASS, props.CARBON, props.SANDED)), props.SANDED)
    props.lay(stage, prints.ruler(20), (0.34, -0.18, 0.002), 0.32, rng.uniform(40, 75))
    return stage


def peel_ply(rng: Random, size: Size, reading: str = "") -> Stage:
    """Peel ply being pulled off a cured skin; the torn-back sheet curls over."""
    stage = Stage(rng, size, (rng.uniform(-0.1, 0.1), -0.8, 0.62), (0, 0.05, 0.03))
    props.bench(stage)
    stage.block_shadow((0, 0.05, 0), (1.3, 0.62, 0.03))
    stage.box((0, 0.05, 0), (1.3, 0.62, 0.03), rng.choice((props.SANDED, props.GLASS)))
    z = 0.0305
    line = rng.uniform(-0.2, -0.04)
    stage.plane((line, -0.24, z), (1, 0, 0), (0, 1, 0), [(0, 0), (0.75, 0), (0.75, 0.58), (0.0, 0.58)], props.PEEL)
    stage.soft(
        [[stage.project((line + dx, y, z)) for dx, y in ((-0.16, -0.24), (0.02, -0.24), (0.02, 0.34), (-0.16, 0.34))]],
        (12, 14, 14),
        0.5,
        22,
    )
    curl = []
    for i in range(7):
        y = -0.24 + 0.58 * i / 6
        row = []
        for k in range(11):
            a = pi * 1.05 * k / 10
            r = 0.085 + 0.02 * props.wave(i / 6, 0.6, 0.4)
            lift = max(0.0, k - 7) * 0.03 * (1 if i < 3 else 0.4)
            row.append((line - r * sin(a) + lift * 2.6, y - lift * 0.5, z + r * (1 - cos(a)) + lift * 0.6))
        curl.append(row)
    stage.skin(curl, props.PEEL, Material((206, 204, 190), "peel", 1500))
    x, y = stage.project(add(curl[1][10], (0.0, 0.0, 0.0)))
    props.hand(stage, (x + 52, y + 26), 105, 206, rng.choice(props.GLOVES), rng.choice(props.SLEEVES), reach=8)
    return stage


def foam_cut(rng: Random, size: Size, reading: str = "") -> Stage:
    """A foam block being cut by a hot wire between two templates."""
    stage = Stage(rng, size, (rng.uniform(-0.2, 0.1), -1.0, 0.62), (0, 0.05, 0.1))
    props.bench(stage)
    foam = rng.choice((props.FOAM_BLUE, props.FOAM_PINK, props.FOAM_GREEN))
    turn = rng.uniform(-16, 6)
    stage.block_shadow((0, 0.1, 0), (0.9, 0.46, 0.2), turn)
    stage.box((0, 0.1, 0), (0.9, 0.46, 0.2), foam, turn=turn)
    u3, v3 = (*spin((1, 0), turn), 0.0), (*spin((0, 1), turn), 0.0)
    face = add(add((0, 0.1, 0), v3, -0.2315), u3, -0.42)
    upper = [(0.84 * t / 16, 0.07 + 0.24 * (t / 16) ** 0.5 * (1 - t / 16) * 0.9) for t in range(17)]
    lower = [(0.84 * t / 16, 0.07 - 0.07 * (t / 16) ** 0.5 * (1 - t / 16)) for t in range(16, -1, -1)]
    stage.plane(face, u3, (0, 0, 1), [*upper, *lower], props.BIRCH, shade=0.92)
    for k in (0.16, 0.45, 0.7):
        x, y = stage.project(add(add(face, u3, k), (0, 0, 1), 0.09))
        stage.puff(props.arc_points((x, y), 9, 0, 360, 12), (150, 152, 156), 3, gloss=True)
    here = rng.uniform(0.25, 0.6)
    rise = 0.07 + 0.24 * here**0.5 * (1 - here) * 0.9
    front = add(add(add(face, u3, 0.84 * here), (0, 0, 1), rise), v3, -0.16)
    back = add(front, v3, 0.78)
    cut = [
        stage.project(add(add(face, u3, 0.84 * t), (0, 0, 1), 0.07 + 0.24 * t**0.5 * (1 - t) * 0.9))
        for t in (0.0, here * 0.4, here * 0.7, here)
    ]
    stage.cable(cut, 5, (58, 46, 44), 0.0)
    a, b = stage.project(front), stage.project(add(back, (0, 0, 0.0)))
    top = stage.project(add(front, v3, 0.16))
    stage.soft([props.capsule(a, top, 8, 8)], (255, 150, 60), 0.5, 9)
    stage.cable([a, top], 3.2, (255, 176, 92), 0.9)
    bow = [add(front, (0, 0, 1), 0.0), add(front, (0, 0, 1), 0.36), add(back, (0, 0, 1), 0.36), back]
    stage.rod(bow[2], bow[1], 0.012, (200, 160, 106))
    stage.rod(bow[0], bow[1], 0.011, (206, 166, 110))
    stage.soft([[(b[0] - 30, b[1] - 90), (b[0] + 10, b[1] - 160), (b[0] + 40, b[1] - 60)]], (235, 235, 235), 0.25, 26)
    x, y = stage.project(add(front, (0, 0, 1), 0.2))
    props.hand(stage, (x + 18, y), 78, 196, rng.choice(props.GLOVES), rng.choice(props.SLEEVES), reach=11)
    return stage


def _can(stage: Stage, at: Vec, radius: float, height: float, lot: str) -> None:
    """A resin can with its label bent round it."""
    stage.shadow(
        [[*stage.ring(at, radius, 10), *stage.ring(add(at, (0, 0, height)), radius, 10)]], strength=0.6, blur=0.03
    )
    stage.turned(
        at,
        [
            (0, radius),
            (height * 0.04, radius * 1.02),
            (height * 0.05, radius),
            (height * 0.93, radius),
            (height * 0.95, radius * 1.02),
            (height, radius * 1.02),
        ],
        (188, 192, 194),
        STEEL,
        Material((176, 180, 182), "metal", 1200, 0.3),
    )
    stage.disc(add(at, (0, 0, height + 0.001)), radius * 0.8, Material((204, 206, 206), "metal", 1200, 0.3), 0.9)
    stage.turned(
        add(at, (radius * 0.25, 0, height)),
        [(0, radius * 0.24), (radius * 0.24, radius * 0.22)],
        (178, 44, 34),
        GLOSSY,
        Material((192, 56, 44)),
    )
    label = prints.resin_label(lot)
    slices = 14
    for k in range(slices):
        edges = []
        for share in (k / slices, (k + 1) / slices):
            a = (share - 0.5) * 2.5
            edges.append((at[0] + radius * 1.004 * sin(a), at[1] - radius * 1.004 * cos(a)))
        left, right = round(label.width * k / slices), round(label.width * (k + 1) / slices)
        high, low = at[2] + height * 0.9, at[2] + height * 0.1
        corners = [
            stage.project((*edges[0], high)),
            stage.project((*edges[1], high)),
            stage.project((*edges[1], low)),
            stage.project((*edges[0], low)),
        ]
        a = ((k + 0.5) / slices - 0.5) * 2.5
        shade = 0.42 + 0.6 * max(0.0, cos(a + 0.5)) ** 0.8
        stage.decal_on(
            [(x + (0.6 if i in (1, 2) else -0.6), y) for i, (x, y) in enumerate(corners)],
            label.crop((max(0, left - 3), 0, min(label.width, right + 3), label.height)),
            shade,
        )


def resin_can(rng: Random, size: Size, reading: str = "") -> Stage:
    """The label of a resin can; the reading is the lot number on it."""
    stage = Stage(rng, size, (rng.uniform(-0.1, 0.1), -0.62, 0.26), (0.0, 0.02, 0.11), fov=44)
    props.bench(stage, far=0.6)
    lot = reading or f"{rng.randint(2401, 2699)}"
    if rng.random() < 0.7:
        _can(stage, (0.3, 0.32, 0), 0.08, 0.19, "2588")
    _can(stage, (rng.uniform(-0.03, 0.03), 0.08, 0), 0.115, 0.25, lot)
    props.cup(stage, (-0.27, 0.12, 0), 0.045, 0.1)
    return stage


def receipt(rng: Random, size: Size, reading: str = "") -> Stage:
    """A receipt lying on the bench with a pencil; the reading is the lot number on it."""
    stage = Stage(rng, size, (rng.uniform(-0.04, 0.04), -0.34, 0.56), (0, -0.0, 0.0), fov=44)
    props.bench(stage, far=0.8)
    props.lay(
        stage,
        prints.receipt(rng, reading or f"{rng.randint(2401, 2699)}"),
        (0, 0.0, 0),
        0.235,
        rng.uniform(-14, 14),
        0.005,
    )
    stage.shadow([[(0.17, -0.1, 0), (0.24, 0.1, 0), (0.17, -0.1, 0.008), (0.24, 0.1, 0.008)]], strength=0.5, blur=0.006)
    stage.rod((0.18, -0.09, 0.005), (0.25, 0.11, 0.005), 0.005, (206, 160, 52), GLOSSY)
    stage.rod((0.174, -0.107, 0.004), (0.18, -0.09, 0.005), 0.0012, (216, 180, 132), MATTE, 0.005)
    if rng.random() < 0.6:
        _coil(stage, (-0.23, 0.1, 0))
    return stage


def _coil(stage: Stage, at: Vec) -> None:
    """A roll of tape lying on its side."""
    stage.shadow([stage.ring(add(at, (0, 0, 0.03)), 0.055, 12)], strength=0.5, blur=0.012)
    stage.turned(at, [(0, 0.055), (0.03, 0.055)], (214, 188, 92), MATTE, Material((206, 182, 96), "paint", 900))
    stage.disc(add(at, (0, 0, 0.0305)), 0.038, Material((120, 96, 66)), 0.9)
    stage.disc(add(at, (0.004, -0.004, 0.0306)), 0.032, Material((66, 52, 42)), 0.8)


def tap_test(rng: Random, size: Size, reading: str = "") -> Stage:
    """Grid marks on a skin and the tap hammer or coin on one of them."""
    stage = Stage(rng, size, (rng.uniform(-0.1, 0.1), -0.66, 0.66), (0, 0.02, 0))
    stage.rect(
        (-1.0, 1.0),
        (-0.5, 1.2),
        rng.choice((props.GLASS, props.SANDED, Material((186, 194, 160), "glass", 1200, 0.3))),
        shade=0.98,
    )
    props.sun_patch(stage, (rng.uniform(-0.2, 0.3), -0.1, 0.001), 0.34, 0.26)
    ink = rng.choice(((28, 30, 36), (150, 34, 28), (34, 54, 130)))
    bad = (rng.randint(-1, 2), rng.randint(-1, 1))
    for i in range(-4, 5):
        for j in range(-2, 5):
            x, y = i * 0.145 + rng.uniform(-0.004, 0.004), j * 0.145 + rng.uniform(-0.004, 0.004)
            r = 0.017
            wide = max(2.0, 0.0042 * stage.pixels((x, y, 0)))
            stage.cable([stage.project((x - r, y, 0)), stage.project((x + r, y + 0.002, 0))], wide, ink, 0.0)
            stage.cable([stage.project((x, y - r, 0)), stage.project((x + 0.002, y + r, 0))], wide, ink, 0.0)
            if (i, j) == bad:
                loop = [stage.project(p) for p in stage.ring((x, y, 0), 0.05, 30)]
                stage.cable([*loop, loop[0], loop[1]], wide * 1.1, (190, 40, 30), 0.1)
    spot: Vec = (bad[0] * 0.145 + 0.15, bad[1] * 0.145 - 0.03, 0.0)
    stage.shadow([stage.ring(add(spot, (0, 0, 0.016)), 0.02, 10)], strength=0.6, blur=0.012)
    stage.shadow(
        [[add(spot, (0.0, 0, 0.02)), add(spot, (0.26, -0.2, 0.05)), add(spot, (0.27, -0.19, 0.05))]],
        strength=0.35,
        blur=0.012,
    )
    stage.turned(
        spot,
        [(0.002, 0.014), (0.012, 0.02), (0.03, 0.02)],
        (176, 180, 186),
        STEEL,
        Material((210, 213, 216), "metal", 2400, 0.4),
    )
    end = add(spot, (0.26, -0.2, 0.05))
    stage.rod(add(spot, (0, 0, 0.022)), end, 0.006, (196, 150, 92), GLOSSY, 0.009)
    x, y = stage.project(add(spot, (0.21, -0.16, 0.045)))
    props.hand(stage, (x + 26, y + 12), 100, 216, rng.choice(props.GLOVES), rng.choice(props.SLEEVES), reach=8)
    return stage


KINDS = {
    "wet_layup": wet_layup,
    "dry_kit": dry_kit,
    "vacuum_bag": vacuum_bag,
    "vacuum_gauge": vacuum_gauge,
    "thermometer": thermometer,
    "scale_cup": scale_cup,
    "part_scale": part_scale,
    "peel_ply": peel_ply,
    "foam_cut": foam_cut,
    "resin_can": resin_can,
    "receipt": receipt,
    "tap_test": tap_test,
}
