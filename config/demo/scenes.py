"""The kinds of demo photo and how to draw one: every picture is drawn by code from a seed."""

from collections.abc import Callable
from random import Random

from PIL import Image

from config.demo import props, scenes_layup, scenes_overview, scenes_structure, scenes_systems
from config.demo.stage import Stage

LANDSCAPE = (1440, 1080)
PORTRAIT = (1080, 1440)

KINDS: dict[str, Callable[[Random, tuple[int, int], str], Stage]] = {
    **scenes_layup.KINDS,
    **scenes_structure.KINDS,
    **scenes_systems.KINDS,
    **scenes_overview.KINDS,
}


def draw(kind: str, seed: int, *, card: tuple[str, ...] = (), reading: str = "", portrait: bool = False) -> Image.Image:
    """One RGB picture of a kind, 1440 by 1080 (portrait 1080 by 1440); the same arguments give the same pixels.

    `card` is the lettering of a part card lying in the frame: the part number first, then up to four lines; no card
    when empty. `reading` is what an instrument shows: inHg for vacuum_gauge and vacuum_bag, degrees C for thermometer,
    grams for scale_cup and part_scale, the lot number for resin_can and receipt, the stage for airframe (hull, tail,
    wing, engine); other kinds ignore it. Raises KeyError for an unknown kind.
    """
    rng = Random(f"{kind}:{seed}")
    stage = KINDS[kind](rng, PORTRAIT if portrait else LANDSCAPE, reading)
    if card:
        props.lay_card(stage, card)
    return stage.finish()
