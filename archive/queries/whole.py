"""Is the record whole? Rows, journal and original files held against one another (rule R33)."""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import batched
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection
from django.db.models import Model, QuerySet

from accounts.models import Project
from evidence.models import Photo
from evidence.queries import original_path
from foundation.digest import canonical, digest_bytes, digest_file
from foundation.record import Recorded
from journal import guards
from journal import queries as journal
from journal.models import Entry
from journal.queries.story import field_words, loaded, title
from journal.rules import Difference, differences

# Rows read at a time: the queries of one model do not grow with its rows below this number, and memory stays small.
BATCH = 2000

Progress = Callable[[int, int], None]


def faults(project: Project, progress: Progress | None = None) -> Iterator[str]:
    """Everything that was changed behind the program's back, each as one sentence.

    It cannot find a change by somebody who rewrote the row, its entry and every entry after it: then the newest digest
    differs from the one on any record that was printed, sent or kept elsewhere before.
    """
    yield from guard_faults()
    yield from (f"{fault[0].upper()}{fault[1:]}." for fault in journal.chain_faults(project.pk))
    known = journal.last_states(project.pk)
    for model in root_models():
        yield from row_faults(model, project, known)
    for subject, text in known.items():
        yield f"{title(subject, loaded(text))}: the journal tells of it, but the record is gone."
    yield from original_faults(project, progress)


def guard_faults() -> Iterator[str]:
    """The triggers that keep the journal append-only and are not there."""
    for name in guards.missing(connection.alias):
        yield f"The guard {name} is missing from the database: the journal could be changed. Run manage.py migrate."


def stray_entries() -> Iterator[str]:
    """Journal entries of projects that do not exist."""
    known = Project.objects.values("pk")
    for key in Entry.objects.exclude(project__in=known).order_by().values_list("project", flat=True).distinct():
        yield f"The journal has entries of a project {key!r} that is gone."


def root_models() -> list[type[Model]]:
    """Every kind of record that has journal entries under its own name."""
    return [model for model in apps.get_models() if issubclass(model, Recorded) and model.RECORD == "root"]


def part_paths(model: Any, before: str = "") -> Iterator[str]:
    """The lookups by which all parts of a record are read at once, whatever their depth."""
    for part in model.PARTS:
        yield before + part
        yield from part_paths(model._meta.get_field(part).related_model, f"{before}{part}__")


def row_faults(model: Any, project: Project, known: dict[str, str]) -> Iterator[str]:
    """Rows of one kind that are not as the journal last told them. Takes what it has seen out of `known`."""
    ours = {"pk": project.pk} if model is Project else {"project": project.pk}
    keys = list(model._base_manager.filter(**ours).order_by("pk").values_list("pk", flat=True))
    for some in batched(keys, BATCH):
        for key, row in rows_of(model, list(some)):
            text = known.pop(f"{model._meta.label_lower}:{key}", None)
            yield from row_fault(model, key, row, text)


def rows_of(model: Any, keys: list[Any]) -> Iterator[tuple[Any, Any]]:
    """Rows by key with their parts at hand; None for a row that cannot be read at all."""
    whole = model._base_manager.prefetch_related(*part_paths(model))
    try:
        found = whole.in_bulk(keys)
    except Exception:  # a value that the database's own type cannot hold, written by other means
        found = {key: row for key in keys if (row := readable(whole, key))}
    for key in keys:
        yield key, found.get(key)


def readable(whole: QuerySet, key: Any) -> Any:
    """One row, or None when a value in it cannot be read."""
    try:
        return whole.get(pk=key)
    except Exception:
        return None


def row_fault(model: Any, key: Any, row: Any, text: str | None) -> Iterator[str]:
    """What is wrong with one row, given the newest state the journal has of it (None: none)."""
    subject = f"{model._meta.label_lower}:{key}"
    state = state_of(row)
    if state is None:
        yield f"{title(subject, loaded(text or '{}'))}: a value changed outside the program; it cannot be read."
        return
    if text is None:
        yield f"{title(subject, state)}: the journal knows nothing of it. It was written outside the program."
    elif not same(state, text):
        before = loaded(text)
        words = changed_words(model, before, state) or "the record"
        yield f"{title(subject, before)}: {words} changed outside the program."
    for field, seal in model.SEALED:
        if digest_bytes(str(getattr(row, field)).encode()) != getattr(row, seal):
            yield f"{title(subject, state)}: {field_words(model, field)} changed outside the program."


def state_of(row: Any) -> dict[str, Any] | None:
    """The state of a row that was read; None when there is none or when it holds what no field of it can hold."""
    try:
        return None if row is None else row.state()
    except Exception:
        return None


def same(state: dict[str, Any], text: str) -> bool:
    """Whether a state has exactly this canonical text. The quick form is equal for all but rare values."""
    return (
        json.dumps(state, ensure_ascii=False, sort_keys=True, separators=(",", ":")) == text or canonical(state) == text
    )


def changed_words(model: Any, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """The fields that differ between two states, as words for a sentence: "note, shares (weight)"."""
    words = []
    for change in differences(before, after):
        inner = sorted(set(inner_words(model, change)))
        words.append(field_words(model, change.field) + (f" ({', '.join(inner)})" if inner else ""))
    return ", ".join(words)


def inner_words(model: Any, change: Difference) -> Iterator[str]:
    """Inside lists of parts: the fields that differ, and whether parts are more or fewer."""
    old, new = by_id(change.before), by_id(change.after)
    if change.field not in model.PARTS or old is None or new is None:
        return
    inner = model._meta.get_field(change.field).related_model
    if new.keys() - old.keys():
        yield "one added" if len(new.keys() - old.keys()) == 1 else "several added"
    if old.keys() - new.keys():
        yield "one gone" if len(old.keys() - new.keys()) == 1 else "several gone"
    for key in old.keys() & new.keys():
        for deeper in differences(old[key], new[key]):
            yield from list(inner_words(inner, deeper)) or [field_words(inner, deeper.field)]


def by_id(rows: Any) -> dict[str, Mapping[str, Any]] | None:
    """Parts by their key; None when this is not a list of parts."""
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) and "id" in row for row in rows):
        return None
    return {row["id"]: row for row in rows}


def original_faults(project: Project, progress: Progress | None = None) -> Iterator[str]:
    """Original files that are missing, or whose bytes are not those that came from the camera."""
    photos = Photo.objects.filter(project=project).order_by("number").only("number", "digest", "size", "kind")
    total = photos.count()
    for done, photo in enumerate(photos.iterator(), start=1):
        yield from original_fault(photo)
        if progress:
            progress(done, total)


def original_fault(photo: Photo) -> Iterator[str]:
    """What is wrong with one original file."""
    try:
        with original_path(photo).open("rb") as file:
            digest, size = digest_file(file)
    except (OSError, ValueError):
        yield f"Photo {photo.label}: the original file is missing or cannot be read."
        return
    if size != photo.size:
        yield f"Photo {photo.label}: the original file has {size} bytes and not {photo.size}; it was changed."
    elif digest != photo.digest:
        yield f"Photo {photo.label}: the original file was changed; its digest does not match."


def strays() -> list[Path]:
    """Files among the originals that no photo of any project knows: not a fault, but worth a look."""
    known = {
        original_path(photo) for photo in Photo.objects.only("digest", "kind").iterator() if len(photo.digest) == 71
    }
    return sorted(path for path in original_files() if path not in known)


def original_files() -> Iterator[Path]:
    """Every finished file on the shelf of originals."""
    for folder, _, names in settings.ORIGINALS_DIR.walk():
        yield from (folder / name for name in names if not name.startswith("."))


@dataclass(frozen=True)
class Counts:
    """What was looked at."""

    records: int
    entries: int
    originals: int


def counts(project: Project) -> Counts:
    """How many records, journal entries and originals a project has."""
    rows = [model._base_manager.filter(project=project.pk) for model in root_models() if model is not Project]
    return Counts(
        1 + sum(each.count() for each in rows),
        journal.entries(project.pk).count(),
        Photo.objects.filter(project=project).count(),
    )
