"""Drawing the builder's record of a long project against placing the same pictures and nothing else in a PDF."""

import json
import re
import subprocess
import sys
from datetime import timedelta
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from django.conf import settings
from django.utils import timezone
from PIL import Image

from accounts import commands as accounts
from accounts.models import Person, User
from buildlog import commands as buildlog
from buildlog.rules import Worked
from certification.pages import print_record
from certification.queries import builder_record
from config.bench.measure import Ratio, in_turn
from config.bench.photos import marked
from evidence import commands as evidence
from evidence.models import Photo
from evidence.queries import rendition_path
from foundation.digest import canonical
from foundation.fields import new_key
from parts import commands as parts

PHOTOS, SESSIONS, SIZE = 3000, 2000, (1280, 960)
# What drawing may take: so many times as long as placing the pictures, and a second for so many rows of text.
TIMES, ROWS = 1.5, 5000
# Where a piece of text begins in the operators of a sheet: left edge and base line.
PLACE = re.compile(rb"BT 1 0 0 1 (\S+) (\S+) Tm")
# Draws frozen facts in a process of its own and tells by how many kB its memory grew meanwhile.
ALONE = """
import json, sys
import django
django.setup()
from pathlib import Path
from certification.pages import print_record
from foundation import lettering

def most():
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))

lettering.load()
facts = json.loads(Path(sys.argv[1]).read_text())
rest = most()
print_record(facts, Path(sys.argv[2]))
print(most() - rest)
"""


def measure(quick: bool) -> Ratio:
    """3,000 photos and 2,000 sessions: both passes, all sheets, the file written. The facts are gathered before.

    To the standard error stream go how much text was drawn, the time that the target allows for it, and by how much
    memory grows over that of the program with the facts at hand, in MB (Linux only).
    """
    import img2pdf

    photos, sessions = (PHOTOS // 10, SESSIONS // 10) if quick else (PHOTOS, SESSIONS)
    facts, pictures = long_project(photos, sessions)
    folder = settings.DATA_DIR / "bench-record"
    folder.mkdir(parents=True)

    def ours(_: int) -> None:
        print_record(facts, folder / "ours.pdf")

    def reference(_: int) -> None:
        with (folder / "bare.pdf").open("wb") as file:
            img2pdf.convert([str(path) for path in pictures], outputstream=file)

    found = in_turn("record", ours, reference, n=3, warm=1)
    pieces, rows = text_in(folder / "ours.pdf")
    allowed = TIMES * found.reference + rows / ROWS * 1000
    sys.stderr.write(f"record: {pieces:,} pieces of text on {rows:,} rows drawn; {allowed:,.0f} ms allowed for them\n")
    if Path("/proc/self/status").exists():
        sys.stderr.write(f"record: {peak(facts, folder):.0f} MB more while {photos:,} photos are drawn\n")
    return found


def long_project(photos: int, sessions: int) -> tuple[dict, list[Path]]:
    """The facts of a project through the commands, and the pictures that they print, all of different bytes."""
    now = timezone.now()
    project, person = accounts.found_project(
        user=User.objects.create_user("bench-record"), at=now, builder="Bench", name="Bench record"
    )
    assemblies = [
        parts.add_assembly(by=person, at=now, project=project, number=f"{n}", name=f"Assembly {n}")
        for n in range(10, 60)
    ]
    picture, kept, pictures = scene(), [], []
    for number in range(photos):
        digest = "sha256:" + sha256(f"bench {number}".encode()).hexdigest()
        path = rendition_path(digest, max(SIZE))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(marked(picture, f"bench {number}"))
        pictures.append(path)
        kept.append(photo(person, digest, number))
    for number in range(sessions):
        start = now - timedelta(days=number + 1)
        stretch = Worked(person.pk, person.name, start, start + timedelta(hours=2), 0, 0)
        buildlog.log_session(
            by=person,
            at=now,
            project=project,
            request_id=new_key(),
            worked=[stretch],
            shares=[(assemblies[number % len(assemblies)], 1)],
            photos=kept[number * photos // sessions : (number + 1) * photos // sessions],
            note=f"Session {number}: two plies of tape over the fillets, both faces, peel ply and weights.",
        )
    return json.loads(canonical(builder_record(project, now, person.name))), pictures


def photo(person: Person, digest: str, number: int) -> Photo:
    """A photo whose renditions are in place."""
    at = timezone.now() - timedelta(days=1)
    row = Photo(
        project=person.project,
        digest=digest,
        size=4_000_000,
        kind="jpg",
        width=4000,
        height=3000,
        taken_at=at - timedelta(minutes=number),
        taken_known="camera",
        received_at=at,
        sent_by=person,
        drawn_at=at,
        caption=f"Fillet {number}, both faces",
    )
    return evidence.enter(by=person, at=at, photo=row, places=())[0]


def scene() -> bytes:
    """A JPEG of the size and weight of a rendition."""
    noise = Image.effect_noise((SIZE[0] // 3, SIZE[1] // 3), 50).resize(SIZE, Image.Resampling.BICUBIC)
    out = BytesIO()
    Image.merge("RGB", (noise, noise, Image.linear_gradient("L").resize(SIZE))).save(out, "JPEG", quality=80)
    return out.getvalue()


def text_in(path: Path) -> tuple[int, int]:
    """How many pieces of text a file holds, and on how many rows: what shares a base line on a sheet is one row."""
    from pypdf import PdfReader

    sheets = (page.get_contents() for page in PdfReader(path).pages)
    drawn = [PLACE.findall(sheet.get_data()) for sheet in sheets if sheet is not None]
    return sum(map(len, drawn)), sum(len({base for _, base in places}) for places in drawn)


def peak(facts: dict, folder: Path) -> float:
    """By how many MB memory grows while the facts are drawn."""
    source = folder / "facts.json"
    source.write_text(canonical(facts), encoding="utf-8")
    command = [sys.executable, "-c", ALONE, str(source), str(folder / "alone.pdf")]
    done = subprocess.run(command, cwd=settings.BASE_DIR, check=True, capture_output=True, text=True)
    return int(done.stdout) / 1024
