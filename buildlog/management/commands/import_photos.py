"""manage.py import_photos: a folder of photos into the record, as often as it takes."""

import os
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from accounts.models import Person, Project
from accounts.queries import people
from accounts.rules import BUILDER
from buildlog import queries, rules
from calc.groups import Group, grouped
from evidence import commands as evidence
from evidence import queries as photos
from evidence.models import Photo, Place
from evidence.rules import KNOWN_SHORT, TYPES
from foundation.digest import digest_file
from foundation.refusal import Refusal
from parts import queries as parts

ENDINGS = {f".{ending}" for ending in {*TYPES, "jpeg", "heif", "hif"}}
ALL_TAKEN, SOME_REFUSED, WRONG_USE, STOPPED = 0, 1, 2, 130


@dataclass
class Sums:
    """What became of the files of a folder."""

    new: int = 0
    before: int = 0
    refused: int = 0
    passed: list[str] = field(default_factory=list)
    seen: dict[str, str] = field(default_factory=dict)
    times: list[datetime | None] = field(default_factory=list)
    keys: set[str] = field(default_factory=set)


class Command(BaseCommand):
    help = (
        "Take a folder of photos and clips into a project, folders in it included. Files stay where they are. What the "
        "record has already is not copied again; run it again after a stop and it goes on. Photos without a place wait "
        "in the tray, in groups by time. Ends with 0 when every photo is in the record, with 1 when some were refused, "
        "with 2 when it was not told what to do."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="the folder with the photos")
        parser.add_argument("project", help="the short name of the project, as in its address")
        parser.add_argument("--by", default="", metavar="USERNAME", help="who sends them; without it the builder")
        parser.add_argument(
            "--place", default="", help="number of the assembly that they show, or the key of any place; else the tray"
        )
        parser.add_argument("--dry-run", action="store_true", help="only tell what would be done; nothing is written")

    def handle(self, *, folder: Path, project: str, by: str, place: str, dry_run: bool, **options: Any) -> None:
        found = chosen_project(project)
        self.dry, self.project, self.root = dry_run, found, chosen_folder(folder)
        self.by, self.place, self.sums = chosen_person(found, by), chosen_place(found, place), Sums()
        files = list(self.sorted_out(walk(self.root)))
        try:
            for number, path in enumerate(files, start=1):
                self.stdout.write(f"{number}/{len(files)} {self.one(path)}")
        except KeyboardInterrupt:
            done = self.sums.new + self.sums.before
            self.stdout.write(f"\nStopped. {done} of {len(files)} are in the record. Run it again to go on.")
            raise SystemExit(STOPPED) from None
        self.tell_all()
        if self.sums.refused:
            raise SystemExit(SOME_REFUSED)

    def sorted_out(self, files: Iterable[Path]) -> Iterator[Path]:
        """Those files that are photos or clips by their ending; the others are noted."""
        for path in files:
            if path.suffix.lower() in ENDINGS and not path.is_symlink():
                yield path
            else:
                self.sums.passed.append(self.name(path))

    def name(self, path: Path) -> str:
        """A file as it is named to the reader: its way inside the folder."""
        return path.relative_to(self.root).as_posix()

    def one(self, path: Path) -> str:
        """Take one file in, or find out what would become of it; what became of it in words."""
        try:
            with path.open("rb") as file:
                return self.taken(path, file)
        except Refusal as no:
            why = no.message
        except OSError as trouble:
            why = f"It cannot be read ({trouble.strerror or trouble})."
        self.sums.refused += 1
        return f"refused {self.name(path)}: {why}"

    def taken(self, path: Path, file: Any) -> str:
        """What became of one open file, in words."""
        digest, _ = digest_file(file)
        if digest in self.sums.seen:
            self.sums.before += 1
            return f"before {self.name(path)}: the same file as {self.sums.seen[digest]}"
        known = next(iter(photos.with_bytes(self.project, [digest])), None)
        if known is not None:
            return self.linked(path, digest, known)
        file_time = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        words = self.examined(path, file, file_time) if self.dry else self.kept(path, file, file_time)
        self.sums.seen[digest] = self.name(path)
        return words

    def linked(self, path: Path, digest: str, known: Photo) -> str:
        """The record has these bytes: nothing is copied, and a photo that stands is placed where was asked."""
        self.sums.before += 1
        self.sums.seen[digest] = self.name(path)
        if known.withdrawn:
            return f"before {self.name(path)}: is {known.label}, which was withdrawn and stays so"
        if self.place and not self.dry:
            evidence.place_photo(by=self.by, at=timezone.now(), photo=known, places=[self.place])
        return f"before {self.name(path)}: is {known.label}"

    def examined(self, path: Path, file: Any, file_time: datetime) -> str:
        """What would become of a file that the record does not have."""
        taken = evidence.examine(project=self.project, at=timezone.now(), file=file, file_time=file_time)
        self.sums.new += 1
        self.sums.times.append(taken.at)
        return f"new {self.name(path)}: {self.when(taken.at, taken.known)}"

    def kept(self, path: Path, file: Any, file_time: datetime) -> str:
        """Take in a file that the record does not have."""
        photo, is_new = evidence.take_in(
            by=self.by,
            at=timezone.now(),
            project=self.project,
            file=file,
            name=path.name,
            file_time=file_time,
            places=[self.place] if self.place else [],
        )
        # Somebody may have sent the same photo a moment ago.
        self.sums.new += is_new
        self.sums.before += not is_new
        self.sums.keys.add(photo.pk)
        return f"new {self.name(path)}: {photo.label}, {self.when(photo.taken_at, photo.taken_known)}"

    def when(self, at: datetime | None, known: str) -> str:
        """When a photo was taken and how that is known."""
        if at is None:
            return "when it was taken is not known"
        return f"{at.astimezone(self.project.zone):%-d %b %Y, %H:%M}, {KNOWN_SHORT[known]}"

    # ---- at the end ----

    def tell_all(self) -> None:
        """Sums, what was passed over, and how the tray will gather what has no place."""
        sums, new = self.sums, "would be new" if self.dry else "new"
        self.stdout.write(f"{sums.new} {new}, {sums.before} in the record before, {sums.refused} refused.")
        if sums.passed:
            by_ending = Counter(Path(name).suffix.lower() or "no ending" for name in sums.passed)
            kinds = ", ".join(f"{count} {ending}" for ending, count in by_ending.most_common())
            self.stdout.write(f"Passed over, no photos or only links to files: {len(sums.passed)} ({kinds})")
            for name in sums.passed:
                self.stdout.write(f"  {name}")
        if self.place:
            self.stdout.write(f"Place: {self.place}.")
        elif sums.new:
            self.tell_groups()
        if self.dry:
            self.stdout.write("Nothing was written.")

    def tell_groups(self) -> None:
        """The groups of the tray in which the new photos stand, the earliest first."""
        groups = self.groups()
        self.stdout.write(f"In the tray they make {len(groups)} group{'s' if len(groups) != 1 else ''} by time:")
        zone = self.project.zone
        for group in groups:
            first, last, count = group.first.astimezone(zone), group.last.astimezone(zone), len(group.members)
            to = f" to {last:%H:%M}" if first.date() == last.date() else f" to {last:%a %-d %b, %H:%M}"
            photos = f"{count} photo{'s' if count != 1 else ''}"
            self.stdout.write(f"  {first:%a %-d %b %Y, %H:%M}{to if count > 1 else ''}, {photos}")
        if timeless := self.timeless():
            self.stdout.write(f"  time not known: {timeless}")

    def groups(self) -> list[Group[str]]:
        """The groups that hold new photos; after a dry run those that there would be."""
        if not self.dry:
            return [one for one in queries.tray(self.project).groups[::-1] if self.sums.keys & {*one.members}]
        there = [*queries.in_tray(self.project).values_list("taken_at", "pk")]
        there += [(at, f"new {number}") for number, at in enumerate(self.sums.times)]
        known = [(at, key) for at, key in there if at is not None]
        found = grouped(known, gap=rules.TRAY_GAP, longest=rules.LONGEST)
        return [one for one in found if any(key.startswith("new ") for key in one.members)]

    def timeless(self) -> int:
        """How many of the new photos do not say when they were taken."""
        if self.dry:
            return self.sums.times.count(None)
        return len(self.sums.keys & {*queries.tray(self.project).timeless})


def walk(root: Path) -> Iterator[Path]:
    """Every file below a folder in one fixed order; nothing hidden, and no link to elsewhere is followed."""
    for folder, folders, files in os.walk(root, followlinks=False):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        yield from (Path(folder, name) for name in sorted(files) if not name.startswith("."))
        yield from (path for name in folders if (path := Path(folder, name)).is_symlink())


def chosen_project(slug: str) -> Project:
    """The project with this short name."""
    found = Project.objects.standing().filter(slug=slug).first()
    if found is None:
        there = ", ".join(Project.objects.standing().order_by("slug").values_list("slug", flat=True))
        raise CommandError(
            f"There is no project {slug!r}. There {'is: ' + there if there else 'are none yet'}.", returncode=WRONG_USE
        )
    return found


def chosen_folder(folder: Path) -> Path:
    """The folder itself, also where its name is a link to it."""
    if not folder.is_dir():
        raise CommandError(f"There is no folder {str(folder)!r}.", returncode=WRONG_USE)
    return folder.resolve()


def chosen_person(project: Project, username: str) -> Person:
    """Whose photos they are: the member with this account, or the builder."""
    members = people(project).filter(user__isnull=False).order_by("pk")
    found = members.filter(user__username=username) if username else members.filter(role=BUILDER)
    person = found.first()
    if person is None:
        known = ", ".join(members.values_list("user__username", flat=True))
        raise CommandError(f"No account {username!r} belongs to this project. Known: {known}.", returncode=WRONG_USE)
    if not person.may("log"):
        raise CommandError(f"{person.name} may not send photos to this project.", returncode=WRONG_USE)
    return person


def chosen_place(project: Project, named: str) -> Place | None:
    """The assembly with this number, or the place with this key; None where none was named."""
    if not named:
        return None
    found = parts.assemblies(project).filter(number=named).first() or photos.place_by_key(project, named)
    if found is None:
        raise CommandError(
            f"There is no assembly {named!r} in this project, and nothing with that key.", returncode=WRONG_USE
        )
    return found
