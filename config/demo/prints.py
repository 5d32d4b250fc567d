"""Flat printed things that lie or stand in the demo pictures: cards, scales, dials, displays, labels, receipts.

All names on them are invented. Every function returns a picture to be laid into a scene with `Stage.decal`.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from math import cos, radians, sin
from random import Random

from PIL import Image, ImageDraw, ImageFilter, ImageFont

from config.demo import textures

INK = (28, 32, 40)
_SEGMENTS = {
    "0": "abcdef",
    "1": "bc",
    "2": "abged",
    "3": "abgcd",
    "4": "fgbc",
    "5": "afgcd",
    "6": "afgedc",
    "7": "abc",
    "8": "abcdefg",
    "9": "abcdfg",
    "-": "g",
    " ": "",
}


@lru_cache(maxsize=64)
def font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The lettering that comes with the imaging library, at a pixel size."""
    return ImageFont.load_default(size)


def _sheet(size: tuple[int, int], colour: tuple[int, int, int]) -> Image.Image:
    """Paper of a colour with a little tooth."""
    tooth = textures.texture("paper").crop((0, 0, *size))
    tables = [[max(0, min(255, round(c + (v - 128) * 0.9))) for v in range(256)] for c in colour]
    return Image.merge("RGB", [tooth.point(table) for table in tables])


def _fitted(text: str, size: int, width: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The largest lettering up to `size` in which the text is no wider than `width`."""
    while size > 12 and font(size).getlength(text) > width:
        size -= 2
    return font(size)


def part_card(lines: Sequence[str], rng: Random) -> Image.Image:
    """A part card 640 by 400: the first line is the part number, the others are written below it."""
    card = _sheet((640, 400), (240, 234, 218))
    pen = ImageDraw.Draw(card)
    pen.rectangle((0, 0, 640, 58), fill=(42, 74, 92))
    pen.text((24, 29), "PART CARD", font=font(32), fill=(238, 236, 226), anchor="lm")
    pen.ellipse((586, 14, 616, 44), fill=(92, 78, 62))
    head, *rest = lines or ("",)
    pen.text((24, 112), head, font=_fitted(head, 76, 592), fill=INK, anchor="lm")
    for row in range(4):
        y = 168 + row * 54
        pen.line((24, y + 46, 616, y + 46), fill=(150, 164, 172), width=2)
        if row < len(rest):
            pen.text(
                (28 + rng.randint(-3, 5), y + 22),
                rest[row],
                font=_fitted(rest[row], 42, 584),
                fill=(34, 48, 104),
                anchor="lm",
            )
    return card


def ruler(length: int, *, steel: bool = True) -> Image.Image:
    """A rule with `length` centimetres, 40 pixels a centimetre."""
    base = (204, 207, 208) if steel else (226, 190, 92)
    face = _sheet((length * 40 + 20, 110), base)
    pen = ImageDraw.Draw(face)
    for mm in range(length * 10 + 1):
        x = 10 + mm * 4
        tall = 46 if mm % 10 == 0 else 34 if mm % 5 == 0 else 22
        pen.line((x, 0, x, tall), fill=INK, width=2)
        if mm % 10 == 0 and 0 < mm < length * 10:
            pen.text((x, 68), str(mm // 10), font=font(34), fill=INK, anchor="mm")
    return face


def checker_bar(steps: int) -> Image.Image:
    """A scale bar of black and white steps with its figures."""
    bar = _sheet((steps * 60 + 96, 96), (242, 241, 236))
    pen = ImageDraw.Draw(bar)
    for k in range(steps):
        pen.rectangle((20 + k * 60, 12, 80 + k * 60, 40), fill=INK if k % 2 == 0 else (246, 246, 242), outline=INK)
        pen.text((20 + k * 60, 66), str(k), font=font(30), fill=INK, anchor="mm")
    pen.text((20 + steps * 60 - 8, 66), f"{steps} in", font=font(30), fill=INK, anchor="lm")
    return bar


def dial(
    low: float,
    high: float,
    step: float,
    reading: float,
    *,
    unit: str,
    name: str,
    minor: int = 5,
    band: tuple[float, float] | None = None,
    sweep: float = 270.0,
) -> Image.Image:
    """A round dial 720 by 720 with transparent corners; the needle stands at `reading`, cut to the scale's ends."""
    side, centre = 720, 360
    face = _sheet((side, side), (238, 237, 229)).convert("RGBA")
    pen = ImageDraw.Draw(face)

    def at(value: float, radius: float) -> tuple[float, float]:
        angle = radians(-90 - sweep / 2 + sweep * (value - low) / (high - low))
        return (centre + radius * cos(angle), centre + radius * sin(angle))

    if band is not None:
        start, end = (-90 - sweep / 2 + sweep * (v - low) / (high - low) for v in band)
        pen.arc((52, 52, side - 52, side - 52), start, end, fill=(58, 138, 84), width=24)
    count = round((high - low) / step) * minor
    for k in range(count + 1):
        value = low + (high - low) * k / count
        major = k % minor == 0
        pen.line((at(value, 310), at(value, 262 if major else 288)), fill=INK, width=8 if major else 4)
        if major:
            pen.text(at(value, 218), f"{value:g}", font=font(50), fill=INK, anchor="mm")
    pen.text((centre, 530), name, font=font(28), fill=(90, 92, 96), anchor="mm")
    pen.text((centre, 480), unit, font=font(40), fill=INK, anchor="mm")
    _needle(face, at, min(high, max(low, reading)))
    mask = Image.new("L", (side * 2, side * 2))
    ImageDraw.Draw(mask).ellipse((8, 8, side * 2 - 8, side * 2 - 8), fill=255)
    face.putalpha(mask.reduce(2))
    return face


def _needle(face: Image.Image, at: Callable[[float, float], tuple[float, float]], value: float) -> None:
    """The needle with its shadow and hub."""
    tip, tail = at(value, 282), at(value, -74)
    side = face.width
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    length = (dx * dx + dy * dy) ** 0.5
    nx, ny = -dy / length, dx / length
    shape = [
        (tip[0] + nx * 2, tip[1] + ny * 2),
        (tip[0] - nx * 2, tip[1] - ny * 2),
        (tail[0] - nx * 11, tail[1] - ny * 11),
        (tail[0] + nx * 11, tail[1] + ny * 11),
    ]
    shade = Image.new("L", (side, side))
    ImageDraw.Draw(shade).polygon([(x + 9, y + 14) for x, y in shape], fill=120)
    face.paste((40, 40, 44), (0, 0), shade.reduce(2).filter(ImageFilter.GaussianBlur(3)).resize((side, side)))
    large = Image.new("L", (side * 2, side * 2))
    ImageDraw.Draw(large).polygon([(x * 2, y * 2) for x, y in shape], fill=255)
    face.paste((188, 34, 26), (0, 0), large.reduce(2))
    pen = ImageDraw.Draw(face)
    pen.ellipse((332, 332, 388, 388), fill=(34, 34, 38))
    pen.ellipse((344, 342, 370, 368), fill=(92, 94, 98))


def display(text: str, unit: str) -> Image.Image:
    """A seven-segment liquid crystal display, 560 by 180."""
    face = _sheet((560, 180), (168, 182, 158))
    pen = ImageDraw.Draw(face)
    x = 470 - 82 * sum(c != "." for c in text)
    for c in text:
        if c == ".":
            pen.rectangle((x - 16, 138, x - 6, 150), fill=INK)
            continue
        for ghost in (True, False):
            for segment in "abcdefg" if ghost else _SEGMENTS.get(c, ""):
                pen.polygon(_segment(segment, x, 34), fill=(156, 170, 147) if ghost else INK)
        x += 82
    pen.text((510, 122), unit, font=font(52), fill=INK, anchor="mm")
    pen.rectangle((0, 0, 560, 10), fill=(120, 130, 116))
    return face


def _segment(name: str, x: int, y: int) -> list[tuple[int, int]]:
    """One bar of a seven-segment figure 58 wide and 116 tall, leaning a little."""
    flat = {"a": (0, 0), "g": (0, 52), "d": (0, 104)}
    if name in flat:
        dx, dy = flat[name]
        bar = [(dx + 8, dy), (dx + 50, dy), (dx + 44, dy + 12), (dx + 14, dy + 12)]
    else:
        dx, dy = {"f": (0, 4), "b": (46, 4), "e": (0, 60), "c": (46, 60)}[name]
        bar = [(dx, dy + 4), (dx + 12, dy + 10), (dx + 12, dy + 44), (dx, dy + 50)]
    return [(round(x + bx + (116 - by) * 0.08), y + by) for bx, by in bar]


def resin_label(lot: str) -> Image.Image:
    """The label of an invented laminating resin."""
    face = _sheet((620, 520), (238, 236, 228))
    pen = ImageDraw.Draw(face)
    pen.rectangle((0, 0, 620, 132), fill=(24, 92, 104))
    pen.polygon([(0, 132), (620, 132), (620, 150), (0, 176)], fill=(222, 150, 44))
    pen.text((310, 66), "FENMARK", font=font(92), fill=(244, 242, 232), anchor="mm")
    pen.text((310, 232), "Resin FR-2", font=font(78), fill=INK, anchor="mm")
    pen.text((310, 292), "laminating epoxy  part A", font=font(36), fill=(70, 76, 84), anchor="mm")
    pen.rectangle((70, 330, 550, 404), outline=INK, width=4)
    pen.text((310, 367), f"LOT {lot}", font=_fitted(f"LOT {lot}", 54, 450), fill=INK, anchor="mm")
    pen.text((310, 440), "mix 100 : 27 by weight", font=font(34), fill=INK, anchor="mm")
    for k in range(52):
        if (k * 7919 + 13) % 5 > 1:
            pen.rectangle((180 + k * 5, 468, 182 + k * 5 + (k % 3 == 0), 508), fill=INK)
    return face


def tag(text: str) -> Image.Image:
    """A small wire marker."""
    face = _sheet((200, 70), (240, 236, 220))
    ImageDraw.Draw(face).text((100, 35), text, font=_fitted(text, 46, 180), fill=INK, anchor="mm")
    return face


def receipt(rng: Random, lot: str) -> Image.Image:
    """A till receipt of an invented supplier."""
    face = _sheet((460, 860), (242, 241, 236))
    pen = ImageDraw.Draw(face)
    rows = [
        ("Fenmark Resin FR-2 4 kg", 148.00),
        (f"  lot {lot}", None),
        ("Fenmark Hardener FH-2", 61.50),
        ("Glass 2x2 twill 300 g", 86.40),
        ("Peel ply 1.5 m", 22.90),
        ("Bag film 10 m", 31.00),
        ("Seal tape 2 rolls", 19.80),
        ("Mixing cups 50", 12.25),
    ]
    pen.text((230, 50), "Saltmarsh Supply", font=font(46), fill=INK, anchor="mm")
    pen.text((230, 96), "composites counter", font=font(28), fill=(80, 82, 86), anchor="mm")
    pen.text((230, 138), f"ticket {rng.randint(2000, 9899)}", font=font(28), fill=INK, anchor="mm")
    y, total = 200, 0.0
    for text, price in rows:
        pen.text((24, y), text, font=font(28), fill=INK, anchor="lm")
        if price is not None:
            total += price
            pen.text((436, y), f"{price:.2f}", font=font(28), fill=INK, anchor="rm")
        y += 52
    pen.line((24, y, 436, y), fill=INK, width=3)
    pen.text((24, y + 44), "TOTAL", font=font(42), fill=INK, anchor="lm")
    pen.text((436, y + 44), f"{total:.2f}", font=font(42), fill=INK, anchor="rm")
    pen.text((230, y + 120), "thank you", font=font(30), fill=(80, 82, 86), anchor="mm")
    return face


def drawing(rng: Random) -> Image.Image:
    """A sheet of a shop drawing with a rib outline, dimensions and a title block."""
    sheet = _sheet((1000, 700), (232, 236, 236))
    pen = ImageDraw.Draw(sheet)
    line = (46, 66, 110)
    pen.rectangle((24, 24, 976, 676), outline=line, width=3)
    upper = [(110 + 7.6 * t, 330 - 150 * (t / 100) ** 0.5 * (1 - t / 100) * 1.9) for t in range(101)]
    lower = [(110 + 7.6 * t, 330 + 44 * (t / 100) ** 0.5 * (1 - t / 100) * 1.9) for t in range(101)]
    pen.line(upper, fill=line, width=4)
    pen.line(lower, fill=line, width=4)
    for x in (210, 340, 500, 660):
        pen.ellipse((x - 26, 268, x + 26, 320), outline=line, width=3)
        pen.line((x, 400, x, 452), fill=line, width=2)
    pen.line((110, 440, 870, 440), fill=line, width=2)
    pen.rectangle((640, 540, 976, 676), outline=line, width=3)
    pen.text((660, 576), "TARNWADER 2", font=font(38), fill=line, anchor="lm")
    pen.text((660, 632), f"SHEET {rng.randint(4, 38)}", font=font(34), fill=line, anchor="lm")
    return sheet
