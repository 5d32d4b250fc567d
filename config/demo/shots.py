"""The photos of the demo story: what each shows and how its phone stored it. No Django here: painters run apart."""

import random
from dataclasses import dataclass
from datetime import datetime
from importlib.util import find_spec
from typing import Any

from config.demo import camera, scenes
from config.demo.plan import Job


@dataclass(frozen=True)
class Shot:
    """One photo to be drawn: what it shows, when it was taken, and on which phone."""

    name: str
    scene: str
    seed: int
    taken: datetime
    card: tuple[str, ...]
    reading: str
    style: int


def to_shoot(jobs: list[Job]) -> list[Shot]:
    """Every photo of the story, each at a time within its session."""
    chance = random.Random(2026)
    shots: list[Shot] = []
    for job in jobs:
        for number, (scene, words) in enumerate(job.photos):
            taken = job.start + (job.end - job.start) * (number + 1) / (len(job.photos) + 1)
            name = f"{job.key}-{number}"
            shots.append(
                Shot(name, scene, chance.randrange(1_000_000), taken, job.card, words_reading(words), len(shots))
            )
    return shots


def words_reading(words: str) -> str:
    """The figure that a gauge or a scale in the picture should show, given in the caption in brackets."""
    return words.partition("[")[2].partition("]")[0]


def drawn(shot: Shot) -> tuple[str, bytes]:
    """Draw one photo as a phone would have stored it; a few phones turn, a few write HEIC, one is a screenshot."""
    image = scenes.draw(shot.scene, shot.seed, card=shot.card, reading=shot.reading, portrait=shot.style % 9 == 4)
    facts: dict[str, Any] = {"taken": shot.taken, "make": "Lumenfold", "model": "LF-7"}
    if shot.style % 5 == 2:
        facts |= {"make": "Ambry", "model": "A2", "offset": False}
    if shot.style % 17 == 3 and find_spec("pillow_heif"):
        return shot.name, camera.heic(image, **facts)
    if shot.style % 31 == 30:
        return shot.name, camera.png(image, shot.taken)
    turned = {4: 6, 7: 3, 8: 8}.get(shot.style % 9, 1)
    gps = (40.0, -105.0) if shot.style % 6 == 1 else None
    return shot.name, camera.jpeg(image, orientation=turned, gps=gps, **facts)
