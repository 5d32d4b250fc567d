"""Grey surface textures for the demo pictures: value 128 is "the material's own colour".

Every texture is made once per process from a fixed seed, so that the same picture comes out the same on every machine.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from random import Random

from PIL import Image, ImageChops, ImageFilter

SIDE = 1536
_BICUBIC = Image.Resampling.BICUBIC


def noise(rng: Random, cells: tuple[int, int], size: tuple[int, int]) -> Image.Image:
    """Smooth grey noise with `cells` random values across and down, blown up to `size` pixels."""
    small = Image.frombytes("L", cells, rng.randbytes(cells[0] * cells[1]))
    return small.resize(size, _BICUBIC)


def _layers(rng: Random, cells: Sequence[tuple[int, int]], size: tuple[int, int] = (SIDE, SIDE)) -> Image.Image:
    """The mean of several noises, the first one weighing most."""
    total = noise(rng, cells[0], size)
    for number, count in enumerate(cells[1:], start=1):
        total = Image.blend(total, noise(rng, count, size), 1 / (number + 1.6))
    return total


def _contrast(image: Image.Image, amount: float, middle: int = 128) -> Image.Image:
    """Squeeze or stretch the values round 128."""
    return image.point([max(0, min(255, round(middle + (v - 128) * amount))) for v in range(256)])


def _tiled(tile: Image.Image, side: int = SIDE) -> Image.Image:
    """Repeat a tile over a square."""
    sheet = Image.new("L", (side, side))
    sheet.paste(tile)
    done = tile.width
    while done < side:
        sheet.paste(sheet.crop((0, 0, done, side)), (done, 0))
        done *= 2
    done = tile.height
    while done < side:
        sheet.paste(sheet.crop((0, 0, side, done)), (0, done))
        done *= 2
    return sheet


def _grain(rng: Random, rings: float) -> Image.Image:
    """Wood grain along the first axis: growth rings are the level lines of a stretched noise."""
    height = noise(rng, (5, 16), (384, SIDE)).filter(ImageFilter.GaussianBlur(4))
    bands = height.point([round(128 + 84 * (((v * rings / 64.0) % 1.0) - 0.5)) for v in range(256)])
    bands = bands.filter(ImageFilter.GaussianBlur(1.6)).resize((SIDE, SIDE), _BICUBIC)
    streaks = noise(rng, (22, 900), (SIDE, SIDE))
    pores = noise(rng, (90, SIDE), (SIDE, SIDE))
    mixed = Image.blend(Image.blend(bands, streaks, 0.26), pores, 0.16)
    return _contrast(mixed, 0.85)


def _ply() -> Image.Image:
    return _contrast(Image.blend(_grain(Random(11), 5.0), noise(Random(12), (9, 9), (SIDE, SIDE)), 0.2), 0.72)


def _spruce() -> Image.Image:
    return _contrast(_grain(Random(21), 9.0), 0.8)


def _bench() -> Image.Image:
    """Worn planks: grain, dark joints, stains and knife scratches."""
    rng = Random(31)
    sheet = _contrast(_grain(rng, 7.0), 0.9)
    plank = SIDE // 6
    for number in range(6):
        top = number * plank
        piece = sheet.crop((0, top, SIDE, top + plank))
        piece = ImageChops.offset(piece, rng.randrange(SIDE), 0)
        shift = rng.randint(-16, 12)
        sheet.paste(piece.point([max(0, min(255, v + shift)) for v in range(256)]), (0, top))
        sheet.paste(52, (0, top, SIDE, top + 3))
        sheet.paste(150, (0, top + 3, SIDE, top + 5))
    stains = _contrast(noise(rng, (14, 14), (SIDE, SIDE)), 0.35)
    return Image.blend(sheet, stains, 0.28)


def _weave_value(x: int, y: int, pitch: int, over: Sequence[Sequence[int]], swing: float) -> int:
    """Value of a woven cloth at a pixel: threads are round, and dive at their ends."""
    column, row = x // pitch, y // pitch
    warp = over[row % len(over)][column % len(over[0])]
    across = (x % pitch) / (pitch - 1) if warp else (y % pitch) / (pitch - 1)
    along = (y % pitch) / (pitch - 1) if warp else (x % pitch) / (pitch - 1)
    roundness = 1 - (2 * across - 1) ** 2
    dive = 1 - abs(2 * along - 1) ** 3
    base = 1.0 if warp else 0.72
    return round(128 + swing * (base * (0.25 + 0.75 * roundness) * (0.55 + 0.45 * dive) - 0.5) * 2)


def _weave(pitch: int, over: Sequence[Sequence[int]], swing: float, seed: int) -> Image.Image:
    side = pitch * len(over)
    tile = Image.new("L", (side, side))
    tile.putdata([_weave_value(x, y, pitch, over, swing) for y in range(side) for x in range(side)])
    cloth = _tiled(tile)
    return Image.blend(cloth, _contrast(_layers(Random(seed), [(10, 10), (60, 60), (400, 400)]), 0.8), 0.2)


_PLAIN = ((1, 0), (0, 1))
_TWILL = ((1, 1, 0, 0), (0, 1, 1, 0), (0, 0, 1, 1), (1, 0, 0, 1))


def _glass() -> Image.Image:
    return _weave(8, _PLAIN, 46, 41)


def _carbon() -> Image.Image:
    return _weave(8, _TWILL, 66, 42)


def _peel() -> Image.Image:
    """Peel ply: fine nylon with a coloured tracer that shows as a darker thread."""
    cloth = _weave(6, _PLAIN, 26, 43)
    for left in range(0, SIDE, 192):
        cloth.paste(84, (left, 0, left + 5, SIDE))
    return cloth


def _foam() -> Image.Image:
    """Closed-cell foam: fine speckle."""
    rng = Random(51)
    cells = Image.frombytes("L", (SIDE, SIDE), rng.randbytes(SIDE * SIDE)).filter(ImageFilter.GaussianBlur(1.5))
    return Image.blend(_contrast(cells, 1.6), noise(rng, (12, 12), (SIDE, SIDE)), 0.16)


def _concrete() -> Image.Image:
    return _contrast(_layers(Random(61), [(7, 7), (30, 30), (220, 220), (768, 768)]), 0.3)


def _paint() -> Image.Image:
    return _contrast(_layers(Random(62), [(6, 6), (90, 90), (700, 700)]), 0.14)


def _paper() -> Image.Image:
    return _contrast(_layers(Random(63), [(5, 5), (300, 300)]), 0.08)


def _metal() -> Image.Image:
    """Brushed sheet: fine lines along the first axis."""
    return _contrast(_layers(Random(71), [(5, 5), (12, 900), (30, SIDE)]), 0.4)


def _film() -> Image.Image:
    """Bagging film under vacuum: broken bright creases in several directions over soft hollows."""
    rng = Random(81)
    half = (SIDE // 2, SIDE // 2)
    total = _contrast(noise(rng, (22, 22), half), 0.36, 106)
    for cells, angle, width, strength in (
        ((16, 5), 24, 17, 0.6),
        ((14, 4), 97, 15, 0.55),
        ((20, 6), 151, 17, 0.5),
        ((44, 16), 62, 20, 0.42),
        ((40, 18), 128, 20, 0.4),
    ):
        field = noise(rng, cells, (SIDE, SIDE)).rotate(angle, Image.Resampling.BILINEAR)
        field = field.crop((SIDE // 4, SIDE // 4, SIDE // 4 + half[0], SIDE // 4 + half[1]))
        crease = field.point([round(225 * strength * max(0.0, 1 - abs(v - 128) / width) ** 2) for v in range(256)])
        where = noise(rng, (18, 18), half).point([max(0, min(255, (v - 120) * 4)) for v in range(256)])
        total = ImageChops.add(total, ImageChops.multiply(crease, where))
    return total.filter(ImageFilter.GaussianBlur(1.0)).resize((SIDE, SIDE), _BICUBIC)


def _scuff() -> Image.Image:
    """Sanded laminate: cloudy dull patches over a faint weave."""
    cloudy = _contrast(_layers(Random(91), [(12, 12), (50, 50), (500, 500)]), 0.6)
    return Image.blend(_contrast(_glass(), 0.6), cloudy, 0.55)


_MAKERS: dict[str, Callable[[], Image.Image]] = {
    "ply": _ply,
    "spruce": _spruce,
    "bench": _bench,
    "glass": _glass,
    "carbon": _carbon,
    "peel": _peel,
    "foam": _foam,
    "concrete": _concrete,
    "paint": _paint,
    "paper": _paper,
    "metal": _metal,
    "film": _film,
    "scuff": _scuff,
}


@lru_cache(maxsize=64)
def texture(name: str, level: int = 0) -> Image.Image:
    """The named texture, halved `level` times. Raises KeyError for an unknown name."""
    if level <= 0:
        return _MAKERS[name]()
    return texture(name, level - 1).reduce(2)


@lru_cache(maxsize=1)
def sensor_noise() -> Image.Image:
    """A sheet of camera noise, larger than any picture, with mean 128."""
    side = 1024
    fine = Image.frombytes("L", (side, side), Random(99).randbytes(side * side)).filter(ImageFilter.GaussianBlur(0.7))
    return _tiled(_contrast(fine, 0.14), side * 2)
