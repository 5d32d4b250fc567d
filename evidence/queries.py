"""Reads about photos, and where their files lie."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db.models import F, Max, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils.dateparse import parse_datetime

from accounts.models import Person, Project
from evidence import rules
from evidence.models import Photo, Placement
from journal import queries as journal
from journal.models import Entry
from journal.rules import Difference
from parts import queries as parts
from parts.models import Assembly, Part

SIZES = (320, 1280)
WHEN = Coalesce("taken_at", "received_at")


def all_photos(project: Project) -> QuerySet[Photo]:
    """The photos of a project, withdrawn ones too: their pages and files stay readable."""
    return Photo.objects.filter(project=project)


def photos(project: Project) -> QuerySet[Photo]:
    """The photos of a project that stand, newest first by when they were taken, or else received."""
    return Photo.objects.standing().filter(project=project).order_by(WHEN.desc(), "-number")


def placed_on(assemblies: Iterable[str] = (), parts: Iterable[str] = ()) -> Q:
    """The condition for photos placed on any of these assemblies or parts; no photo comes twice."""
    there = Q(assembly__in=list(assemblies)) | Q(part__in=list(parts))
    return Q(pk__in=Placement.objects.filter(there).values("photo"))


def photos_on(assembly: Assembly, below: bool = True) -> QuerySet[Photo]:
    """The photos placed on an assembly and its parts, with `below` also on all that hangs below it."""
    keys = parts.subtree(assembly.pk, parts.parents(assembly.project)) if below else {assembly.pk}
    own_parts = parts.parts_of(assembly.project).filter(assembly__in=keys).values_list("pk", flat=True)
    return photos(assembly.project).filter(placed_on(keys, own_parts))


def uncaptioned(project: Project) -> QuerySet[Photo]:
    """The photos that do not say yet what they show."""
    return photos(project).filter(caption="")


def shown(
    project: Project, *, assembly: Assembly | None = None, below: bool = True, uncaptioned_only: bool = False
) -> QuerySet[Photo]:
    """The photos that the contact sheet shows: of one assembly or of all, with or without captions."""
    rows = photos_on(assembly, below) if assembly else photos(project)
    return rows.filter(caption="") if uncaptioned_only else rows


def by_keys(project: Project, keys: Iterable[str]) -> list[Photo]:
    """The standing photos of a project with these keys, in the order of the keys; unknown keys are left out."""
    wanted = list(dict.fromkeys(keys))
    found = photos(project).in_bulk(wanted)
    return [found[key] for key in wanted if key in found]


def neighbors(photo: Photo) -> tuple[Photo | None, Photo | None]:
    """The photos before and after this one on the contact sheet: the newer one and the older one."""
    rows = photos(photo.project).annotate(when_at=WHEN)
    newer = Q(when_at__gt=photo.when) | Q(when_at=photo.when, number__gt=photo.number)
    older = Q(when_at__lt=photo.when) | Q(when_at=photo.when, number__lt=photo.number)
    return rows.filter(newer).order_by("when_at", "number").first(), rows.filter(older).first()


def placements(photo: Photo) -> QuerySet[Placement]:
    """Where a photo is shown: first on assemblies, then on parts."""
    rows = photo.placements.select_related("assembly", "part__assembly")
    return rows.order_by(F("assembly__number").asc(nulls_last=True), "part__number", "pk")


def next_number(project: Project) -> int:
    """The number for the next photo of a project; withdrawn photos keep theirs."""
    return (Photo.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def shelf(base: Path, digest: str, ending: str) -> Path:
    """The place of a file on disk, told by its digest alone and never by anything a person typed."""
    body = digest.removeprefix("sha256:")
    if len(body) != 64 or not set(body) <= set("0123456789abcdef"):
        raise ValueError(f"not a digest: {digest!r}")
    return base / body[:2] / f"{body}{ending}"


def original_path(photo: Photo) -> Path:
    """Where the untouched original lies."""
    return shelf(settings.ORIGINALS_DIR, photo.digest, f".{photo.kind}")


def rendition_path(digest: str, size: int) -> Path:
    """Where a rendition lies, or will when it is drawn; `size` is its longest side in pixels."""
    return shelf(settings.RENDITIONS_DIR, digest, f"-{size}.jpg")


def has_rendition(photo: Photo, size: int) -> bool:
    """Whether a rendition lies ready."""
    return rendition_path(photo.digest, size).exists()


def waiting(project: Project) -> QuerySet[Photo]:
    """Photos whose renditions are still to be drawn; those that cannot be drawn are not waited for."""
    return photos(project).filter(drawn_at__isnull=True, fault="")


FIELD_WORDS = {
    "taken_at": "Taken",
    "taken_known": "Time known",
    "taken_by": "Taken by",
    "builder_in_frame": "Builder in the picture",
    "shows": "Shows",
    "caption": "Caption",
    "placements": "Placed on",
    "withdrawn_at": "Withdrawn",
}
VERB_WORDS = {
    "photo.kept": "Taken into the record",
    "photo.placed": "Placed",
    "photo.unplaced": "Taken off",
    "photo.described": "Described",
    "photo.time_typed": "Time corrected",
    "photo.withdrawn": "Withdrawn",
    "photo.restored": "Brought back",
}


@dataclass(frozen=True)
class Change:
    """One field of a photo that was changed, with its old and new value in words (times as times)."""

    word: str
    before: Any
    after: Any


@dataclass(frozen=True)
class Told:
    """One entry of a photo's history as it is shown."""

    entry: Entry
    word: str
    changes: list[Change]


def history(photo: Photo) -> list[Told]:
    """What happened to a photo, newest first, with names in place of keys."""
    steps = journal.history(photo.subject)
    names = names_in(photo.project, [step.entry.state for step in steps])
    told = []
    for step in steps:
        changes = [change(one, names) for one in step.changes if one.field in FIELD_WORDS]
        told.append(Told(step.entry, VERB_WORDS.get(step.entry.verb, step.entry.verb), changes))
    return told[::-1]


def change(one: Difference, names: dict[str, str]) -> Change:
    """A difference between two journaled states in words."""
    before, after = in_words(one.field, one.before, names), in_words(one.field, one.after, names)
    return Change(FIELD_WORDS[one.field], before, after)


def names_in(project: Project, states: Iterable[str]) -> dict[str, str]:
    """Names of the people, assemblies and parts that these states of a photo speak of, by key."""
    people, assemblies, own_parts = set(), set(), set()
    for state in map(json.loads, states):
        people.add(state["taken_by"])
        assemblies.update(row["assembly"] for row in state["placements"])
        own_parts.update(row["part"] for row in state["placements"])
    rows = [
        *Person.objects.filter(project=project, pk__in=people - {None}),
        *Assembly.objects.filter(project=project, pk__in=assemblies - {None}),
        *Part.objects.filter(project=project, pk__in=own_parts - {None}),
    ]
    return {row.pk: str(row) for row in rows}


def in_words(field: str, value: Any, names: dict[str, str]) -> Any:
    """A journaled value of a photo in words; a time stays a time, so that the page can show it in its zone."""
    match field:
        case "taken_at" | "withdrawn_at":
            return parse_datetime(value) if value else None
        case "taken_known":
            return rules.KNOWN.get(value, value)
        case "shows":
            return rules.SHOWS.get(value, value)
        case "taken_by":
            return names.get(value, value)
        case "builder_in_frame":
            return "yes" if value else "no"
        case "placements":
            return ", ".join(sorted(names.get(row["assembly"] or row["part"], "?") for row in value))
    return value
