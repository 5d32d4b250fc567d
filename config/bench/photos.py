"""Intake of a 12-megapixel photo with everything against the bare work that cannot be avoided."""

import hashlib
import random
from io import BytesIO
from pathlib import Path

from django.conf import settings
from django.utils import timezone
from PIL import Image, ImageFilter

from accounts import commands as accounts
from accounts.models import User
from config.bench.measure import Ratio, in_turn
from evidence import commands as evidence
from evidence.queries import SIZES
from evidence.renditions import QUALITY

SIZE = (4000, 3000)


def measure(quick: bool) -> Ratio:
    """Ours: hash, metadata, original and renditions on disk, rows, journal. Reference: hash, draft decode, the same two
    renditions on disk."""
    n = 12 if quick else 40
    project, person = accounts.found_project(
        user=User.objects.create_user("bench-photos"), at=timezone.now(), builder="Bench", name="Bench photos"
    )
    picture = big_jpeg()
    folder = settings.DATA_DIR / "bench-reference"
    folder.mkdir(parents=True)

    def ours(number: int) -> None:
        data = BytesIO(marked(picture, f"ours {number}"))
        evidence.take_in(by=person, at=timezone.now(), project=project, file=data, name="photo.jpg")

    def reference(number: int) -> None:
        bare(marked(picture, f"bare {number}"), folder / str(number))

    return in_turn("photos", ours, reference, n=n)


def bare(data: bytes, name: Path) -> None:
    """Hash, draft decode, two renditions; nothing else."""
    hashlib.sha256(data).hexdigest()
    image = Image.open(BytesIO(data))
    image.draft("RGB", (max(SIZES), max(SIZES)))
    image.load()
    for size in sorted(SIZES, reverse=True):
        image.thumbnail((size, size), Image.Resampling.LANCZOS, reducing_gap=None)
        image.save(name.with_suffix(f".{size}.jpg"), "JPEG", quality=QUALITY)


def big_jpeg() -> bytes:
    """A 12-megapixel JPEG with the detail of a photograph, and camera metadata."""
    random.seed(12)
    noise = Image.effect_noise((SIZE[0] // 2, SIZE[1] // 2), 60).resize(SIZE, Image.Resampling.BICUBIC)
    scene = Image.merge(
        "RGB", (noise, noise.filter(ImageFilter.GaussianBlur(4)), Image.linear_gradient("L").resize(SIZE))
    )
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Lumenfold", "LF-7"
    exif.get_ifd(0x8769)[0x9003] = "2026:05:14 09:30:00"
    exif.get_ifd(0x8769)[0x9011] = "-06:00"
    out = BytesIO()
    scene.save(out, "JPEG", quality=90, exif=exif)
    return out.getvalue()


def marked(data: bytes, words: str) -> bytes:
    """The same picture as other bytes: a comment segment right behind the start marker."""
    comment = words.encode()
    return data[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + data[2:]
