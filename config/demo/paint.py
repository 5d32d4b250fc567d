"""Colours, materials and the way a grey surface value becomes a colour."""

from dataclasses import dataclass
from functools import lru_cache

from PIL import Image

_BICUBIC = Image.Resampling.BICUBIC

type Colour = tuple[int, int, int]

# Materials are painted this much brighter, because the camera's light map in Stage.finish can only darken.
EXPOSURE = 1.2

# How bright a round bar is across its width, edge to edge (128 is its own colour).
MATTE = (52, 92, 128, 150, 146, 126, 100, 74, 56, 60)
GLOSSY = (48, 88, 122, 236, 160, 124, 98, 72, 56, 74)
STEEL = (60, 150, 226, 255, 188, 96, 70, 120, 168, 84)


@dataclass(frozen=True)
class Material:
    """A colour, the texture on it, texture pixels per metre, and how much it mirrors the key light (0 to 1)."""

    colour: Colour
    texture: str = ""
    density: float = 900.0
    gloss: float = 0.0


@lru_cache(maxsize=4096)
def _palette(colour: Colour, gain: int, gloss: bool) -> bytes:
    """The shown colour for every texture value; gain is in 32nds. Shadows run cool, lights run warm."""
    table = bytearray()
    white = 0.95 if gloss else 0.55
    for v in range(256):
        t = v * gain / 4096
        for c, tint in zip(colour, (-0.05, 0.0, 0.08), strict=True):
            shown = c * t * (1 + tint * (1 - t)) if t <= 1 else c + (255 - c) * min(1.0, (t - 1) * white)
            table.append(max(0, min(255, int(shown + 0.5))))
    return bytes(table)


def coloured(values: Image.Image, colour: Colour, gain: float = 1.0, gloss: bool = False) -> Image.Image:
    """Grey values (128 = own colour) turned into a colour picture; brightness is rounded to 32nds.

    `values` is used up: it must be a picture of the caller's own, never a shared texture.
    """
    values.putpalette(_palette(colour, max(1, round(gain * EXPOSURE * 32)), gloss))
    return values.convert("RGB")


@lru_cache(maxsize=32)
def strip_of(profile: tuple[int, ...]) -> Image.Image:
    """A brightness profile as an 8 by 64 picture."""
    column = Image.new("L", (1, len(profile)))
    column.putdata(profile)
    return column.resize((8, 64), _BICUBIC)
