"""Pictures of fasteners, controls, wiring, templates and drawings."""

from itertools import pairwise
from math import pi, sin
from random import Random

from config.demo import prints, props
from config.demo.geometry import Vec, add, curve, spin, sub
from config.demo.paint import GLOSSY, MATTE, STEEL, Material
from config.demo.scenes_structure import rib_outline
from config.demo.stage import Stage

type Size = tuple[int, int]


def rivet_row(rng: Random, size: Size, reading: str = "") -> Stage:
    """A row of fasteners near an edge, with a rule that shows edge distance and pitch."""
    stage = Stage(rng, size, (rng.uniform(-0.04, 0.04), -0.22, 0.27), (0, 0.01, 0.0), fov=46)
    stage.rect((-0.3, 0.3), (-0.2, 0.3), rng.choice((props.BENCH, props.FELT, props.close(props.CARBON))))
    turn = rng.uniform(-9, 9)
    u, v = spin((1, 0), turn), spin((0, 1), turn)
    sheet = rng.choice((props.ALUMINIUM, props.ALUMINIUM, Material((148, 158, 124), "paint", 1200, 0.3)))
    stage.block_shadow((v[0] * 0.19, v[1] * 0.19, 0), (1.0, 0.4, 0.004), turn, strength=0.65, blur=0.006)
    stage.box((v[0] * 0.19, v[1] * 0.19, 0), (1.0, 0.4, 0.003), sheet, turn=turn)
    for k in range(-6, 7):
        for line in (0.03, 0.09):
            x, y = k * 0.042 + (0.021 if line > 0.05 else 0), line
            at: Vec = (u[0] * x + v[0] * y, u[1] * x + v[1] * y, 0.0032)
            stage.shadow([stage.ring(add(at, (0, 0, 0.004)), 0.0075, 8)], z=0.0032, strength=0.6, blur=0.004)
            px, py = stage.project(add(at, (0, 0, 0.002)))
            r = 0.0082 * stage.pixels(at)
            stage.puff(
                props.arc_points((px, py), r, 0, 360, 20), (176, 180, 186), r * 0.5, gloss=True, relief=0.85, base=130
            )
            stage.soft([props.arc_points((px, py), r * 0.28, 0, 360, 10)], (60, 62, 68), 0.5, 2)
    props.lay(stage, prints.ruler(15), (v[0] * -0.065 + 0.02, v[1] * -0.065, 0.001), 0.36, turn + rng.uniform(-2, 2))
    if rng.random() < 0.5:
        pencil = [stage.project((u[0] * x + v[0] * 0.03, u[1] * x + v[1] * 0.03, 0.0033)) for x in (-0.45, 0.45)]
        stage.cable(pencil, 2, (70, 74, 90), 0.0)
    stage.card_at = (0.85, 0.14)
    return stage


def bellcrank(rng: Random, size: Size, reading: str = "") -> Stage:
    """A bellcrank with control cables, turnbuckle and twisted safety wire."""
    stage = Stage(rng, size, (rng.uniform(-0.06, 0.06), -0.44, 0.44), (0, 0.0, 0.0), fov=48)
    stage.rect(
        (-0.55, 0.55), (-0.36, 0.6), rng.choice((props.PLY, props.close(props.SANDED), props.close(props.CARBON)))
    )
    turn = rng.uniform(-25, 25)

    def at(x: float, y: float, z: float) -> Vec:
        return (*spin((x, y), turn), z)

    arm = curve(
        [
            (-0.03, -0.05),
            (0.05, -0.05),
            (0.19, -0.02),
            (0.205, 0.02),
            (0.17, 0.035),
            (0.06, 0.05),
            (0.035, 0.17),
            (0.0, 0.195),
            (-0.035, 0.17),
            (-0.05, 0.04),
        ],
        6,
    )
    solid = [at(x, y, 0.03) for x, y in arm]
    stage.soft([[stage.project(add(p, (0.016, -0.006, -0.03))) for p in solid]], (12, 12, 16), 0.6, 10)
    u, v = at(1, 0, 0), at(0, 1, 0)
    holes = [
        [(cx + x, cy + y) for x, y in (spin((r, 0), 24 * k) for k in range(15))]
        for cx, cy, r in ((0.11, 0.0, 0.02), (0.0, 0.1, 0.018))
    ]
    stage.plane((0, 0, 0.024), u, v, arm, Material((96, 100, 106)), shade=0.8, holes=holes)
    stage.plane(
        (0, 0, 0.03),
        u,
        v,
        arm,
        rng.choice((props.ALUMINIUM, Material((146, 156, 98), "paint", 1200, 0.3))),
        holes=holes,
    )
    cable_colour = (150, 154, 158)
    for x, y, far in ((0.18, 0.005, (0.26, -0.9)), (0.0, 0.172, (-0.95, 0.24))):
        start, end = at(x, y, 0.046), at(*far, 0.046)
        middle = add(start, sub(end, start), 0.24)
        stop = add(start, sub(end, start), 0.42)
        stage.shadow([[start, end, add(end, (0.008, 0, 0))]], strength=0.4, blur=0.01)
        stage.rod(start, end, 0.0035, cable_colour, STEEL)
        stage.shadow([[middle, stop, add(stop, (0.015, 0, 0)), add(middle, (0.015, 0, 0))]], strength=0.45, blur=0.008)
        stage.rod(middle, stop, 0.0085, (186, 152, 84), STEEL)
        stage.rod(
            add(middle, sub(stop, middle), 0.4), add(middle, sub(stop, middle), 0.6), 0.011, (186, 152, 84), STEEL
        )
        stage.rod(start, add(start, sub(end, start), 0.1), 0.006, (170, 174, 178), STEEL)
        _twist(stage, add(middle, sub(stop, middle), 0.5), start)
        props.bolt(
            stage,
            at(x, y, 0.031),
            0.0115,
            stripe=(226, 120, 36) if rng.random() < 0.7 else None,
            turn=rng.uniform(0, 60),
        )
    props.bolt(stage, (0, 0, 0.031), 0.02, turn=rng.uniform(0, 60))
    return stage


def _twist(stage: Stage, a: Vec, b: Vec) -> None:
    """Two strands of safety wire twisted round each other from a to b."""
    p, q = stage.project(a), stage.project(b)
    length = ((q[0] - p[0]) ** 2 + (q[1] - p[1]) ** 2) ** 0.5
    nx, ny = -(q[1] - p[1]) / max(1.0, length), (q[0] - p[0]) / max(1.0, length)
    count = max(8, int(length / 5))
    for phase in (0.0, pi):
        points = []
        for k in range(count + 1):
            t = k / count
            swing = 5 * sin(phase + t * length / 9) + 12 * sin(pi * t)
            points.append((p[0] + (q[0] - p[0]) * t + nx * swing, p[1] + (q[1] - p[1]) * t + ny * swing))
        stage.cable(points, 3.4, (190, 194, 198), 0.9)


def wiring(rng: Random, size: Size, reading: str = "") -> Stage:
    """A loom running through conduit and clips, with tie wraps and tags."""
    stage = Stage(rng, size, (rng.uniform(-0.05, 0.05), -0.4, 0.46), (0, 0.0, 0.0), fov=48)
    stage.rect(
        (-0.55, 0.55), (-0.36, 0.6), rng.choice((props.close(props.SANDED), props.PLY, props.close(props.GLASS)))
    )
    props.sun_patch(stage, (-0.25, 0.0, 0), 0.26, 0.2)
    sag = rng.uniform(-0.05, 0.05)
    spine = [(-0.75, -0.12), (-0.3, -0.06 + sag), (0.02, 0.02 - sag), (0.3, 0.04), (0.75, 0.16)]
    path = curve(spine, 8, closed=False)
    screen = [stage.project((x, y, 0.012)) for x, y in path]
    scale = stage.pixels((0, 0, 0))
    stage.soft(
        [
            [
                *[(x + 8, y - 0.004 * scale) for x, y in screen],
                *[(x + 18, y + 0.03 * scale) for x, y in reversed(screen)],
            ]
        ],
        (12, 12, 16),
        0.5,
        12,
    )
    colours = [
        (226, 222, 210),
        (196, 46, 36),
        (38, 40, 46),
        (232, 190, 60),
        (60, 96, 160),
        (226, 222, 210),
        (96, 140, 84),
    ]
    rng.shuffle(colours)
    branch = [(0.06, 0.0), (0.16, 0.1), (0.17, 0.22), (0.24, 0.5)]
    for k, colour in enumerate(colours[:3]):
        points = curve([(x + k * 0.006, y) for x, y in branch], 7, closed=False)
        stage.cable([stage.project((x, y, 0.014)) for x, y in points], 0.0062 * scale, colour, 0.6)
    for k, colour in enumerate(colours):
        phase = rng.uniform(0, 6.28)
        wire = []
        for m, (x, y) in enumerate(path):
            y += (k - 3) * 0.0052 + 0.0035 * props.wave(m / len(path), 2.2, phase)
            wire.append(stage.project((x, y, 0.012)))
        stage.cable(wire, 0.0062 * scale, colour, 0.6)
    half = len(screen) * 7 // 10
    ridged = screen[half:]
    stage.cable(ridged, 0.05 * scale, (54, 56, 60), 0.3)
    for a, b in pairwise(ridged):
        for share in (0.0, 0.33, 0.66):
            x, y = a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share
            stage.cable([(x - 3, y - 0.023 * scale), (x + 3, y + 0.023 * scale)], 5, (34, 35, 38), 0.5)
    for index in (6, 12, 17):
        x, y = screen[min(index, half - 2)]
        stage.cable([(x - 4, y - 0.026 * scale), (x + 3, y + 0.026 * scale)], 0.011 * scale, (232, 232, 226), 0.5)
        stage.cable([(x - 4, y - 0.026 * scale), (x + 10, y - 0.05 * scale)], 0.006 * scale, (232, 232, 226), 0.5)
    tag = prints.tag(f"W{rng.randint(10, 48)}-{rng.choice('ABC')}")
    props.lay(stage, tag, (-0.17, -0.035 + sag, 0.02), 0.075, 8, 0.008)
    return stage


def template(rng: Random, size: Size, reading: str = "") -> Stage:
    """A template lying on stock, its outline traced, with a scale bar."""
    stage = Stage(rng, size, (rng.uniform(-0.08, 0.08), -0.62, 0.78), (0, 0.0, 0.0), fov=48)
    props.bench(stage, rng.choice((props.BENCH, props.FELT)), far=0.9)
    stage.block_shadow((0, 0, 0), (1.1, 0.62, 0.012), 2)
    stage.box(
        (0, 0, 0), (1.1, 0.62, 0.012), rng.choice((props.BIRCH, props.PLY, props.FOAM_PINK)), turn=rng.uniform(-4, 4)
    )
    turn = rng.uniform(-8, 8)
    upper, lower = rib_outline(0.86, 0.26)
    shape = [(x - 0.43, z * 1.25 - 0.02) for x, z in [*upper, *reversed(lower)]]
    u, v = spin((1, 0), turn), spin((0, 1), turn)
    line = [
        stage.project((u[0] * x * 1.03 + v[0] * y * 1.1, u[1] * x * 1.03 + v[1] * y * 1.1, 0.0125)) for x, y in shape
    ]
    stage.cable([*line, line[0]], 3, (60, 62, 74), 0.0)
    stage.soft(
        [[stage.project((u[0] * x + v[0] * y + 0.006, u[1] * x + v[1] * y - 0.01, 0.0125)) for x, y in shape]],
        (14, 14, 18),
        0.5,
        6,
    )
    holes = [[(cx + x, y - 0.005) for x, y in (spin((0.022, 0), 24 * k) for k in range(15))] for cx in (-0.22, 0.08)]
    stage.plane(
        (0, 0, 0.016),
        (*u, 0.0),
        (*v, 0.0),
        shape,
        rng.choice((props.ALUMINIUM, Material((196, 188, 150), "paper", 900), props.WHITE)),
        holes=holes,
    )
    props.lay(stage, prints.checker_bar(6), (0.2, -0.21, 0.0125), 0.34, turn + rng.uniform(-4, 4), 0.002)
    stage.shadow(
        [[(-0.3, 0.22, 0.012), (-0.08, 0.27, 0.012), (-0.3, 0.22, 0.02), (-0.08, 0.27, 0.02)]],
        z=0.012,
        strength=0.5,
        blur=0.006,
    )
    stage.rod((-0.28, 0.225, 0.018), (-0.08, 0.27, 0.018), 0.006, rng.choice(((206, 160, 52), (170, 40, 36))), GLOSSY)
    stage.rod((-0.305, 0.219, 0.016), (-0.28, 0.225, 0.018), 0.0012, (216, 180, 132), MATTE, 0.006)
    return stage


def drawing_sheet(rng: Random, size: Size, reading: str = "") -> Stage:
    """A shop drawing on the bench with a rule on it."""
    stage = Stage(rng, size, (rng.uniform(-0.06, 0.06), -0.5, 0.62), (0, 0.0, 0.0), fov=48)
    props.bench(stage, rng.choice((props.BENCH, props.BENCH_PALE)), far=0.9)
    props.lay(stage, prints.drawing(rng), (0, 0.02, 0), 0.72, rng.uniform(-10, 10), 0.004)
    props.lay(stage, prints.ruler(25), (0.05, -0.12, 0.004), 0.42, rng.uniform(-30, 10), 0.004)
    props.cup(stage, (-0.36, 0.26, 0), 0.042, 0.09, (70, 46, 34))
    return stage


KINDS = {
    "rivet_row": rivet_row,
    "bellcrank": bellcrank,
    "wiring": wiring,
    "template": template,
    "drawing_sheet": drawing_sheet,
}
