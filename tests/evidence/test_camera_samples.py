"""Files of real cameras, read by us and by ExifRead, which knows nothing of us.

The pictures come from packages of the npm registry, fetched once by name and version and never committed:
exif-js 2.3.0 (4 JPEGs), exif-parser 0.1.12 (2), jpeg-exif 1.1.4 (2 and a TIFF).
"""

import os
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import exifread
import pytest
from PIL import Image

from evidence import queries, renditions, rules
from evidence.models import Photo
from foundation.digest import digest_bytes

KEPT = Path(__file__).resolve().parents[2] / ".test-output" / "packages"
SAMPLES = [
    ("exif-js@2.3.0", "example/Bloated-Hero.jpg"),
    ("exif-js@2.3.0", "example/Bush-dog.jpg"),
    ("exif-js@2.3.0", "example/DSCN0614_small.jpg"),
    ("exif-js@2.3.0", "example/dsc_09827.jpg"),
    ("exif-parser@0.1.12", "test/starfish.jpg"),
    ("exif-parser@0.1.12", "test/test.jpg"),
    ("jpeg-exif@1.1.4", "test/IMG_0001.JPG"),
    ("jpeg-exif@1.1.4", "test/IMG_0003.JPG"),
]
TIFF = ("jpeg-exif@1.1.4", "test/Arbitro.tiff")
TURNED = {5, 6, 7, 8}


def fetch(package: str) -> Path:
    """The package's archive, fetched by the registry's own client if it is not here yet."""
    archive = KEPT / f"{package.replace('@', '-')}.tgz"
    if archive.exists():
        return archive
    client = shutil.which("npm")
    if client is None:
        missing(f"npm is not installed, so {package} could not be fetched")
    KEPT.mkdir(parents=True, exist_ok=True)
    # A folder of its own, because two test processes may want the same package at once.
    with tempfile.TemporaryDirectory(dir=KEPT) as folder:
        command = [client, "pack", package, "--silent", "--ignore-scripts", "--pack-destination", folder]
        try:
            subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=90)
        except (subprocess.SubprocessError, OSError) as trouble:
            missing(f"{package} could not be fetched from the npm registry ({type(trouble).__name__})")
        next(Path(folder).glob("*.tgz")).replace(archive)
    return archive


def missing(why: str) -> None:
    """Skip where there is no registry; on a build server that is a failure."""
    if os.environ.get("CI", "").lower() in {"1", "true", "yes"}:
        pytest.fail(why)
    pytest.skip(f"NOT CHECKED AGAINST REAL CAMERAS: {why}.")


@pytest.fixture(scope="session")
def sample() -> Callable[[str, str], bytes]:
    """The bytes of one picture of a package."""

    def read(package: str, name: str) -> bytes:
        with tarfile.open(fetch(package)) as archive:
            file = archive.extractfile(f"package/{name}")
            assert file is not None
            return file.read()

    return read


def told(tags: dict[str, object], name: str) -> str:
    return " ".join(str(tags.get(name, "")).split())


@pytest.mark.parametrize(("package", "name"), SAMPLES)
def test_we_read_of_a_camera_file_what_an_independent_reader_reads(sample, package, name):
    data = sample(package, name)
    picture = renditions.look(BytesIO(data))
    tags = exifread.process_file(BytesIO(data), details=False)
    assert picture.clock == told(tags, "EXIF DateTimeOriginal")
    assert picture.offset == told(tags, "EXIF OffsetTimeOriginal")
    assert picture.located == any(tag.startswith("GPS ") for tag in tags)
    for part in (told(tags, "Image Make"), told(tags, "Image Model")):
        assert part in picture.device
    wide, high = Image.open(BytesIO(data)).size
    orientation = tags["Image Orientation"].values[0] if "Image Orientation" in tags else 1
    assert (picture.width, picture.height) == ((high, wide) if orientation in TURNED else (wide, high))


@pytest.mark.parametrize(("package", "name"), SAMPLES)
def test_a_camera_file_is_kept_as_it_is_and_drawn_upright_without_metadata(bench, sample, package, name):
    data = sample(package, name)
    photo = bench.keep(data, Path(name).name)
    assert queries.original_path(photo).read_bytes() == data
    assert photo.digest == digest_bytes(data)
    clock = rules.camera_clock(renditions.look(BytesIO(data)).clock)
    if clock is None:
        assert photo.taken_known == "unknown"
    else:
        assert photo.taken_at.astimezone(bench.project.zone).replace(tzinfo=None) == clock
    for size in queries.SIZES:
        drawn = queries.rendition_path(photo.digest, size).read_bytes()
        image = Image.open(BytesIO(drawn))
        assert abs(image.width / image.height - photo.width / photo.height) < 0.02
        assert max(image.size) == min(size, max(photo.width, photo.height))
        assert exifread.process_file(BytesIO(drawn)) == {}
        assert difference(image, upright(data)) < 6


def upright(data: bytes) -> Image.Image:
    """The picture turned by what ExifRead says about how the camera was held, decoded in full."""
    tags = exifread.process_file(BytesIO(data), details=False)
    image = Image.open(BytesIO(data)).convert("RGB")
    orientation = tags["Image Orientation"].values[0] if "Image Orientation" in tags else 1
    return image.rotate({3: 180, 6: 270, 8: 90}.get(orientation, 0), expand=True)


def difference(one: Image.Image, other: Image.Image) -> float:
    """How far two pictures are apart, as the mean of all gray values of a small copy (0 to 255)."""
    small = [list(image.convert("L").resize((24, 24)).tobytes()) for image in (one, other)]
    return sum(abs(a - b) for a, b in zip(*small, strict=True)) / len(small[0])


def test_a_tiff_of_a_camera_is_refused(bench, sample):
    answer = bench.send(sample(*TIFF), "Arbitro.tiff")
    assert answer.status_code == 422
    assert not Photo.objects.exists()
