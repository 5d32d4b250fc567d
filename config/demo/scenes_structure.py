"""Pictures of structure: ribs, spars, floats, bulkheads, hardpoints, decks."""

from collections.abc import Sequence
from math import cos, pi, sin
from random import Random

from config.demo import prints, props
from config.demo.geometry import Point, Vec, add, curve, spin, sub
from config.demo.paint import GLOSSY, MATTE, STEEL, Material
from config.demo.stage import Stage

type Size = tuple[int, int]


def rib_outline(chord: float, thick: float, count: int = 14) -> tuple[list[Point], list[Point]]:
    """Upper and lower line of a wing section from nose to tail, metres."""
    upper, lower = [], []
    for k in range(count + 1):
        t = (k / count) ** 1.5
        shape = 2.6 * t**0.5 * (1 - t) ** 0.9 * (1 - 0.35 * t)
        upper.append((t * chord, shape * thick * 0.62))
        lower.append((t * chord, -shape * thick * 0.3))
    return upper, lower


def ribs(rng: Random, size: Size, reading: str = "") -> Stage:
    """Ribs standing in a row on their spar in the jig."""
    stage = Stage(rng, size, (rng.uniform(-0.75, -0.5), -1.3, rng.uniform(0.68, 0.85)), (0.0, 0.3, 0.02), fov=52)
    props.bench(stage, far=2.1, half=2.4, near=-1.6)
    ply = rng.choice((props.BIRCH, props.PLY))
    count = rng.randint(6, 8)
    for k in range(count - 1, -1, -1):
        y = -0.42 + 0.30 * k
        upper, lower = rib_outline(1.05, 0.2)
        at: Vec = (-0.38, y, 0.1)
        shape = [*upper, *reversed(lower)]
        stage.shadow([[(at[0] + x, y, at[2] + z) for x, z in shape]], strength=0.42, blur=0.025)
        stage.block_shadow((0.0, y, 0), (0.05, 0.08, 0.05), strength=0.3)
        stage.box((0.34, y + 0.01, 0), (0.05, 0.05, 0.075), props.SPRUCE)
        stage.box((-0.2, y + 0.01, 0), (0.05, 0.05, 0.05), props.SPRUCE)
        holes = [
            [(x + 0.001 + hx, hz) for hx, hz in (spin((r, 0), 20 * a) for a in range(18))]
            for x, r in ((0.19, 0.052), (0.5, 0.05), (0.68, 0.036), (0.82, 0.022))
        ]
        _plate(stage, at, shape, holes, ply)
    stage.rod((-0.12, -0.5, 0.235), (-0.12, -0.42 + 0.3 * count, 0.235), 0.018, (214, 170, 112), MATTE)
    _tip(stage, (-0.12, -0.5, 0.235), 0.018)
    if rng.random() < 0.6:
        props.lay(stage, prints.ruler(30, steel=rng.random() < 0.5), (0.45, -0.72, 0), 0.62, rng.uniform(-30, 30))
    return stage


def _tip(stage: Stage, at: Vec, radius: float) -> None:
    x, y = stage.project(at)
    stage.puff(props.arc_points((x, y), radius * stage.pixels(at), 0, 360, 20), (226, 186, 130), 3)


def _plate(stage: Stage, at: Vec, shape: Sequence[Point], holes: Sequence[Sequence[Point]], material: Material) -> None:
    """An upright plate with holes, its edge just visible behind it."""
    back = add(at, (0.0, 0.01, 0.0))
    dark = Material((138, 106, 70))
    stage.plane(back, (1, 0, 0), (0, 0, 1), shape, dark, shade=1.1, holes=holes)
    stage.plane(at, (1, 0, 0), (0, 0, 1), shape, material, shade=0.98, holes=holes)


def spar_clamps(rng: Random, size: Size, reading: str = "") -> Stage:
    """A spar under clamps while its glue sets."""
    stage = Stage(rng, size, (rng.uniform(-0.9, -0.6), -1.25, 0.82), (0.1, 0.1, 0.12), fov=50)
    props.bench(stage, rng.choice((props.BENCH_PALE, props.FELT, props.PAPER_TOP)), far=1.2, half=2.4)
    turn = rng.uniform(6, 16)
    long = 2.6
    stage.block_shadow((0.2, 0.1, 0), (long, 0.09, 0.2), turn)
    stage.box((0.2, 0.1, 0), (long, 0.1, 0.035), props.SPRUCE, turn=turn)
    stage.box((0.2, 0.1, 0.035), (long, 0.06, 0.14), Material((204, 160, 106), "ply", 900), turn=turn)
    stage.box((0.2, 0.1, 0.175), (long, 0.1, 0.035), props.SPRUCE, turn=turn)
    count = rng.randint(6, 8)
    colour = rng.choice(((178, 40, 30), (40, 70, 120), (206, 150, 40)))
    for k in range(count - 1, -1, -1):
        x, y = spin((-0.85 + 1.9 * k / (count - 1), 0.0), turn)
        at = (x + 0.2, y + 0.1 + 0.01, 0.212)
        pad = add(at, (0, 0, -0.002))
        stage.box(pad, (0.05, 0.09, 0.016), props.BIRCH, turn=turn)
        foot = add(at, (0, 0, 0.014))
        stage.shadow([[(foot[0], foot[1] - 0.1, 0.2), (foot[0] + 0.02, foot[1] - 0.1, 0.0)]], strength=0.3, blur=0.02)
        stage.rod(add(foot, (0, 0.03, 0)), add(foot, (0, -0.1, 0)), 0.012, (60, 62, 66), GLOSSY)
        stage.rod(add(foot, (0, -0.1, 0.11)), add(foot, (0, -0.1, -0.2)), 0.008, (132, 136, 140), STEEL)
        stage.rod(add(foot, (0, -0.1, -0.16)), add(foot, (0, -0.05, -0.16)), 0.012, (60, 62, 66), GLOSSY)
        stage.rod(add(foot, (0, -0.1, 0.005)), add(foot, (0, -0.1, 0.02)), 0.014, (50, 52, 56), GLOSSY)
        stage.rod(add(foot, (0, -0.02, 0.005)), add(foot, (0, -0.02, 0.05)), 0.006, (160, 162, 166), STEEL)
        stage.rod(add(foot, (0, -0.02, 0.05)), add(foot, (0, -0.02, 0.13)), 0.014, colour, GLOSSY)
    for k in range(9):
        x, y = spin((-0.9 + 0.2 * k, -0.052), turn)
        px, py = stage.project((x + 0.2, y + 0.1, 0.034))
        r = rng.uniform(3, 7)
        stage.puff(props.arc_points((px, py), r, 0, 360, 10), (214, 186, 120), r * 0.6, gloss=True, opacity=0.9)
    return stage


def float_section(t: float, beam: float, depth: float) -> list[tuple[float, float]]:
    """Points (breadth, height) of a float's section, gunwale to gunwale, at a share of its length from aft."""
    wide = beam / 2 * (1 - max(0.0, (t - 0.45) / 0.55) ** 2.3 * 0.96) * (0.84 + 0.16 * min(1.0, t / 0.35))
    deep = depth * (1 - 0.62 * max(0.0, (t - 0.55) / 0.45) ** 2)
    half = [(1.0, 0.0), (0.98, -0.34), (0.9, -0.64), (0.5, -0.84), (0.0, -1.0)]
    left = [(-w * wide, d * deep) for w, d in half]
    return left + [(w * wide, d * deep) for w, d in reversed(half[:-1])]


def _float(length: float, beam: float, depth: float, lift: float, turn: float, stations: int = 13) -> list[list[Vec]]:
    grid = []
    for i in range(stations):
        t = i / (stations - 1)
        sheer = 0.05 * length * max(0.0, t - 0.5) ** 2
        row = []
        for y, z in float_section(t, beam, depth):
            px, py = spin(((t - 0.5) * length, y), turn)
            row.append((px, py, lift + z + sheer))
        grid.append(row)
    return grid


def float_open(rng: Random, size: Size, reading: str = "") -> Stage:
    """A float shell, open above, on cradles with its bulkheads in."""
    stage = Stage(rng, size, (rng.uniform(-0.3, 0.3), -1.5, 1.15), (0.0, 0.05, 0.12), fov=50)
    props.bench(stage, rng.choice((props.BENCH, props.BENCH_PALE, props.FLOOR)), far=1.6, half=2.4, near=-1.7)
    turn = rng.uniform(-4, 22)
    shell = _float(1.9, 0.58, 0.3, 0.4, turn)
    stage.shadow([[p for row in shell for p in row]], strength=0.6, blur=0.05)
    for share in (3, 9):
        x, y, _ = shell[share][4]
        stage.block_shadow((x, y, 0), (0.08, 0.5, 0.12), turn, strength=0.5)
        stage.box((x, y, 0), (0.06, 0.46, 0.14), props.SPRUCE, turn=turn)
    outside = rng.choice((props.SANDED, props.GLASS, Material((196, 198, 190), "paint", 900, 0.4), props.CARBON))
    inside = rng.choice((props.GLASS, Material((196, 200, 160), "glass", 1500, 0.3)))
    _shell(stage, shell, outside, inside, (3, 6, 9)[: rng.randint(2, 3)], rng.choice((props.PLY, props.BIRCH)))
    if rng.random() < 0.6:
        props.cup(stage, (0.85, -0.55, 0), 0.05, 0.11, (214, 164, 76))
    else:
        props.brush(stage, (0.6, -0.6, 0.01), (0.9, -0.72, 0.03), 0.24)
    return stage


def _shell(
    stage: Stage,
    shell: Sequence[Sequence[Vec]],
    outside: Material,
    inside: Material,
    frames: Sequence[int],
    ply: Material,
) -> None:
    """The far side, the bulkheads, then the near side of an open shell."""
    far = [list(row[4:]) for row in shell]
    near = [list(row[:5]) for row in shell]
    stage.skin(far, outside, inside, flip=_inside_out(far))
    for i in sorted(frames, key=lambda k: -shell[k][4][1]):
        row = shell[i]
        u = sub(row[-1], row[0])
        width = (u[0] ** 2 + u[1] ** 2) ** 0.5
        middle = add(row[0], u, 0.5)
        drop = 0.04
        shape = []
        for p in row:
            d = sub(p, row[0])
            shape.append(((d[0] * u[0] + d[1] * u[1]) / width, min(-drop, d[2])))
        hole = [
            (width / 2 + x, (row[4][2] - middle[2]) * 0.5 + z * 0.75)
            for x, z in (spin((width * 0.16, 0), 20 * a) for a in range(18))
        ]
        stage.plane(
            add(row[0], (0.012, 0.0, 0.0)), u, (0, 0, 1), shape, Material((122, 92, 60)), shade=0.9, holes=[hole]
        )
        stage.plane(row[0], u, (0, 0, 1), shape, ply, shade=0.95, holes=[hole])
    stage.skin(near, outside, inside, flip=_inside_out(near))
    for rim in ([row[-1] for row in shell], [row[0] for row in shell]):
        stage.cable([stage.project(p) for p in rim], 8, (208, 206, 178), 0.5)
    stage.cable([stage.project(p) for p in shell[0]], 7, (208, 206, 178), 0.5)


def _inside_out(grid: Sequence[Sequence[Vec]]) -> bool:
    """Whether the skin's own normals point up (inwards) and must be turned to point out of the shell."""
    middle = len(grid) // 2
    across, along = sub(grid[middle][3], grid[middle][1]), sub(grid[middle + 1][2], grid[middle - 1][2])
    return across[0] * along[1] - across[1] * along[0] > 0


def bulkhead_fillet(rng: Random, size: Size, reading: str = "") -> Stage:
    """A bulkhead set in a shell, its fillet and tapes being finished."""
    stage = Stage(rng, size, (rng.uniform(-0.2, 0.2), -0.85, 0.72), (0.0, 0.02, 0.08), fov=48)
    glass = rng.choice((props.GLASS, props.WET_GLASS, Material((190, 196, 156), "glass", 1300, 0.4)))
    trough = []
    for i in range(6):
        y = -1.0 + 2.2 * i / 5
        trough.append([(1.3 * (k / 10 - 0.5) * 1.15, y, 0.62 * abs(2 * k / 10 - 1) ** 2.4) for k in range(11)])
    stage.image.paste((120, 124, 116), (0, 0, *size))
    stage.skin(trough, glass)
    ply = rng.choice((props.PLY, props.BIRCH))
    back = 0.12
    shape = [(1.3 * (k / 20 - 0.5) * 1.15, 0.62 * abs(2 * k / 20 - 1) ** 2.4) for k in range(2, 19)]
    top = rng.uniform(0.36, 0.42)
    plate = [(x, min(z, top)) for x, z in shape] + [(shape[-1][0], top), (shape[0][0], top)]
    hole = [(x, 0.21 + z * 0.62) for x, z in (spin((0.16, 0), 15 * a) for a in range(24))]
    foot = [stage.project((x, back - 0.06, z)) for x, z in shape]
    stage.soft([[*foot, *[(x + 30, y + 60) for x, y in reversed(foot)]]], (20, 22, 18), 0.4, 24)
    stage.plane((0, back + 0.014, 0), (1, 0, 0), (0, 0, 1), plate, Material((116, 86, 56)), shade=0.9, holes=[hole])
    stage.plane((0, back, 0), (1, 0, 0), (0, 0, 1), plate, ply, shade=0.97, holes=[hole])
    band = [stage.project((x * 0.985, back, z + 0.05)) for x, z in shape]
    lower = [stage.project((x, back - 0.075, z)) for x, z in shape]
    stage.puff([*band, *reversed(lower)], (214, 208, 178), 15, texture="glass", gloss=True, opacity=0.8, relief=0.6)
    mid_up = [stage.project((x * 0.99, back, z + 0.016)) for x, z in shape]
    mid_low = [stage.project((x, back - 0.026, z)) for x, z in shape]
    stage.puff(
        [*mid_up, *reversed(mid_low)],
        rng.choice(((232, 216, 182), (222, 200, 160), (206, 206, 200))),
        8,
        gloss=True,
        relief=0.7,
    )
    if rng.random() < 0.55:
        at = stage.project((0.2, back - 0.1, 0.05))
        end = (at[0] + 210, at[1] + 190)
        stage.tube(at, (at[0] + 60, at[1] + 54), 22, 13, (206, 176, 124), MATTE)
        stage.tube((at[0] + 58, at[1] + 52), end, 13, 12, (200, 166, 112), MATTE)
        props.hand(
            stage, (end[0] - 40, end[1] - 20), 120, 222, rng.choice(props.GLOVES), rng.choice(props.SLEEVES), reach=8
        )
    stage.card_at, stage.card_z = (0.2, 0.9), 0.05
    return stage


def hardpoint(rng: Random, size: Size, reading: str = "") -> Stage:
    """A hardpoint plate with four bolts, each with a stripe of paint across head and plate."""
    stage = Stage(rng, size, (rng.uniform(-0.08, 0.08), -0.42, 0.46), (0, 0.0, 0.0), fov=46)
    stage.rect((-0.5, 0.5), (-0.3, 0.62), props.close(rng.choice((props.GLASS, props.CARBON, props.SANDED))), shade=1.0)
    props.sun_patch(stage, (-0.05, 0.12, 0), 0.28, 0.2)
    turn = rng.uniform(-28, 28)
    plate = rng.choice((props.ALUMINIUM, props.ALUMINIUM, props.PLY))
    w, h = 0.36, rng.choice((0.22, 0.26, 0.3))
    stage.block_shadow((0, 0, 0), (w, h, 0.014), turn, strength=0.65, blur=0.01)
    stage.box((0, 0, 0), (w, h, 0.014), plate, turn=turn)
    stripe = rng.choice(((226, 120, 36), (226, 200, 50), (60, 150, 90), (214, 60, 90)))
    spots = [(-0.36, -0.34), (0.36, -0.34), (0.36, 0.34), (-0.36, 0.34)]
    if rng.random() < 0.4:
        stage.block_shadow((0, 0, 0.014), (0.05, h * 0.7, 0.05), turn, strength=0.4, blur=0.01)
        stage.box((0, 0, 0.014), (0.045, h * 0.72, 0.06), plate, turn=turn)
    for sx, sy in sorted(spots, key=lambda s: -spin((s[0] * w, s[1] * h), turn)[1]):
        x, y = spin((sx * w, sy * h), turn)
        props.bolt(stage, (x, y, 0.0145), 0.02, stripe=stripe, turn=rng.uniform(0, 60))
    stage.card_at = (0.14, 0.88)
    return stage


def drain_boss(rng: Random, size: Size, reading: str = "") -> Stage:
    """A drain boss with its ring of sealant squeezed out."""
    stage = Stage(rng, size, (rng.uniform(-0.06, 0.06), -0.3, 0.3), (0.0, 0.01, 0.0), fov=46)
    stage.rect(
        (-0.38, 0.38),
        (-0.22, 0.46),
        props.close(rng.choice((props.GLASS, props.CARBON, Material((206, 206, 198), "paint", 900, 0.3)))),
        shade=1.0,
    )
    props.sun_patch(stage, (-0.02, 0.06, 0), 0.18, 0.22)
    seal = rng.choice(((222, 206, 172), (170, 172, 168), (196, 128, 92), (206, 196, 132)))
    ring = []
    for k in range(40):
        r = 0.075 + 0.0012 * props.wave(k / 40, 3, 1.0) + rng.uniform(-0.0008, 0.0008)
        ring.append(stage.project((r * cos(2 * pi * k / 40), r * sin(2 * pi * k / 40), 0.001)))
    scale = stage.pixels((0, 0, 0))
    stage.soft([[(x + 10, y + 16) for x, y in ring]], (14, 15, 16), 0.6, 12)
    stage.puff(ring, seal, 0.009 * scale, gloss=True, relief=0.5)
    stage.turned(
        (0, 0, 0.004),
        [(0, 0.062), (0.009, 0.062), (0.012, 0.056)],
        (172, 176, 182),
        STEEL,
        Material((196, 200, 204), "metal", 2400, 0.5),
    )
    for k in range(3):
        a = 2 * pi * k / 3 + 0.4
        at: Vec = (0.043 * cos(a), 0.043 * sin(a), 0.0165)
        stage.turned(
            at, [(0, 0.008), (0.003, 0.007)], (150, 154, 160), STEEL, Material((200, 203, 207), "metal", 2400, 0.5)
        )
        stage.cable(
            [stage.project(add(at, (-0.005, 0.002, 0.0032))), stage.project(add(at, (0.005, -0.002, 0.0032)))],
            4,
            (44, 46, 50),
            0.0,
        )
    if rng.random() < 0.6:
        stage.shadow([stage.ring((0, 0, 0.05), 0.026, 10)], z=0.016, strength=0.6, blur=0.008)
        props.bolt(stage, (0, 0, 0.016), 0.022, washer=False, turn=rng.uniform(0, 60))
    else:
        stage.disc((0, 0, 0.0163), 0.022, Material((60, 58, 54)), 0.8)
        stage.disc((0.002, -0.003, 0.0164), 0.018, Material((30, 30, 32)), 0.8)
    return stage


def deck_underside(rng: Random, size: Size, reading: str = "") -> Stage:
    """The underside of a deck with its stiffeners bonded on."""
    stage = Stage(rng, size, (rng.uniform(-0.4, 0.1), -1.1, 0.9), (0.02, 0.06, 0.0), fov=50)
    props.bench(stage, far=1.1, half=2.0)
    turn = rng.uniform(-8, 18)
    u, v = spin((1, 0), turn), spin((0, 1), turn)
    outline = [(-0.8, -0.36), (0.25, -0.38), (0.62, -0.24), (0.84, 0.0), (0.62, 0.24), (0.25, 0.38), (-0.8, 0.36)]
    shape = [outline[0], *curve(outline[1:6], 6, closed=False), outline[6]]
    flat = [stage.project((u[0] * x + v[0] * y, u[1] * x + v[1] * y, 0.0)) for x, y in shape]
    stage.soft([[(x + 16, y + 24) for x, y in flat]], (14, 14, 18), 0.55, 14)
    stage.plane((0, 0, 0.012), (*u, 0.0), (*v, 0.0), shape, rng.choice((props.GLASS, props.SANDED)))
    kind = rng.choice(("hat", "foam", "spruce"))
    cover = {"hat": props.GLASS, "foam": props.FOAM_BLUE, "spruce": props.SPRUCE}[kind]
    for row in (2, 1, 0):
        y = (-0.22, 0.0, 0.22)[row]
        length = (1.2, 1.44, 1.2)[row]
        x0, y0 = u[0] * -0.06 + v[0] * y, u[1] * -0.06 + v[1] * y
        stage.block_shadow((x0, y0, 0.012), (length, 0.05, 0.04), turn, strength=0.5, blur=0.015)
        w = 0.055
        tape = [(-length / 2, y - w), (length / 2, y - w), (length / 2, y + w), (-length / 2, y + w)]
        stage.plane(
            (u[0] * -0.06, u[1] * -0.06, 0.0125),
            (*u, 0.0),
            (*v, 0.0),
            tape,
            Material((200, 202, 170), "glass", 1500, 0.3),
        )
        stage.box((x0, y0, 0.013), (length, 0.05, 0.036), cover, turn=turn)
    for k in range(rng.randint(2, 4)):
        x = -0.5 + 0.34 * k
        at = (u[0] * x + v[0] * 0.11, u[1] * x + v[1] * 0.11, 0.013)
        stage.block_shadow(at, (0.03, 0.16, 0.03), turn, strength=0.4, blur=0.01)
        stage.box(at, (0.03, 0.165, 0.03), props.SPRUCE, turn=turn)
    return stage


KINDS = {
    "ribs": ribs,
    "spar_clamps": spar_clamps,
    "float_open": float_open,
    "bulkhead_fillet": bulkhead_fillet,
    "hardpoint": hardpoint,
    "drain_boss": drain_boss,
    "deck_underside": deck_underside,
}
