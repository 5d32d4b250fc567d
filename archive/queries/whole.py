"""Is the record whole? Rows, journal, signatures and original files held against one another (rule R33).

It cannot find a change by somebody who rewrote the row, its entry and every entry after it: then the newest digest
differs from the one on any record that was printed, sent or kept elsewhere before.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection

from accounts.models import Project
from archive.queries import stored
from archive.queries.chain import Chain, cut_faults, read_chain
from archive.rules import Fault, count_words, sentence
from evidence.models import Document, Photo
from evidence.queries import document_path, original_path
from foundation.digest import canonical, digest_bytes, digest_file
from foundation.record import Recorded
from journal import guards
from journal.models import Entry, Signature
from journal.queries.story import field_words, loaded, model_of, title

# Told where a check is: the chapter, how much of it is done, how much there is in all.
Progress = Callable[[str, int, int], None]
PHOTOS, DOCUMENTS = f"{Photo._meta.label_lower}:", f"{Document._meta.label_lower}:"
# What has a file of its own, with what its journaled state must say to find it.
KEPT: dict[str, Callable[[Mapping[str, Any]], Path]] = {
    PHOTOS: lambda state: original_path(Photo(digest=state["digest"], kind=state["kind"])),
    DOCUMENTS: lambda state: document_path(Document(digest=state["digest"], media_type=state["media_type"])),
}
SIGNATURES = f"{Signature._meta.label_lower}:"
# Entries and records of a lost project that are named one by one.
MOST_NAMED = 5
# The longest that a file waits for its row.
TAKING_IN = timedelta(hours=1)


def silent(chapter: str, done: int, total: int) -> None:
    """Nobody is told how far it is."""


@dataclass
class Reading:
    """What one check of a project has seen and found."""

    project: str
    chain: Chain
    faults: list[Fault] = field(default_factory=list)
    records: int = 0
    signatures: int = 0
    originals: int = 0


@dataclass(frozen=True)
class Told:
    """What the journal tells of one row: the record it belongs to, in which of its lists it stands, its values."""

    subject: str
    part: str
    state: Mapping[str, Any]


def faults(project: Project) -> list[str]:
    """Everything in a project that was changed behind the program's back, each as one sentence."""
    return [fault.words for fault in check(project.pk).faults]


def check(project: str, progress: Progress = silent) -> Reading:
    """Look through everything of a project, given by its key: its row may be gone."""
    reading = read(project, progress)
    for done, fault in enumerate(original_faults(reading.chain), start=1):
        progress("originals", done, reading.originals)
        reading.faults += fault
    return reading


def read(project: str, progress: Progress = silent) -> Reading:
    """All chapters but that of the originals, at one moment of the database. `progress` must not write to it."""
    with stored.snapshot():
        progress("database", 0, 1)
        found = [*guard_faults(), *database_faults(), *cut_faults()]
        progress("journal", 0, 1)
        chain = read_chain(project)
        reading = Reading(project, chain, [*found, *chain.faults])
        Rows(reading, progress).check()
        progress("signatures", 0, 1)
        reading.faults += signature_faults(reading)
    reading.originals = sum(subject.startswith(tuple(KEPT)) for subject in chain.last)
    return reading


def guard_faults() -> Iterator[Fault]:
    """The triggers that keep the journal append-only and are not there."""
    for name in guards.missing(connection.alias):
        words = f"the guard {name} is missing from the database: the journal could be changed"
        yield Fault("database", "guard", sentence(words))


def database_faults() -> Iterator[Fault]:
    """What SQLite itself finds wrong with its file: broken pages, indexes that do not fit their tables."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check(20)")
        for (words,) in cursor.fetchall():
            if words != "ok":
                yield Fault("database", "database", sentence(f"the database file is damaged: {words}"))


# ---- rows ----


def root_models() -> list[type[Any]]:
    """Every kind of record that has journal entries under its own name."""
    return [model for model in apps.get_models() if issubclass(model, Recorded) and model.RECORD == "root"]


def part_models() -> dict[type[Any], tuple[Any, ...]]:
    """Every kind of row that belongs to a record, with the keys by one of which it does; outer ones before inner ones.

    A photo of a process record belongs to a layup, or to a mix, and so on: it has a key for each, and one of them set.
    """
    found: dict[type[Any], tuple[Any, ...]] = {}
    level = root_models()
    while level:
        relations = [model._meta.get_field(part) for model in level for part in model.PARTS]
        for relation in relations:
            owners = found.get(relation.related_model, ())
            found[relation.related_model] = tuple(dict.fromkeys((*owners, relation.field)))
        level = list(dict.fromkeys(relation.related_model for relation in relations))
    return found


def recorded_fields(model: Any) -> list[Any]:
    """The columns that are part of the record."""
    return [one for one in model._meta.concrete_fields if one.name not in model.APART]


class Rows:
    """Every row of a project held against what the journal last told of it, and the other way round."""

    def __init__(self, reading: Reading, progress: Progress) -> None:
        self.reading, self.chain, self.progress = reading, reading.chain, progress
        # By model and key: what the journal tells, and the keys of rows that it does not know.
        self.told: dict[Any, dict[str, Told]] = defaultdict(dict)
        self.strangers: dict[Any, set[Any]] = defaultdict(set)
        # By record: what is wrong with it, by field or list of parts, and inside a list how often in which words.
        self.wrong: dict[str, dict[str, Counter[str]]] = defaultdict(lambda: defaultdict(Counter))
        self.unread: set[str] = set()

    def check(self) -> None:
        """All tables, whole records first."""
        for subject, (seq, text) in self.chain.last.items():
            self.expect(subject, seq, text)
        models: dict[Any, Any] = dict.fromkeys(root_models()) | part_models()
        for done, (model, owners) in enumerate(models.items()):
            self.progress("rows", done, len(models))
            self.read_table(model, owners)
        self.tell()

    # ---- what the journal leads to expect ----

    def expect(self, subject: str, seq: int, text: str) -> None:
        """Take in the newest state of one record, and of the rows inside it."""
        model, state = model_of(subject), loaded(text)
        if not state:
            self.unread.add(subject)
            self.blame(
                "gone" if model is None else "row",
                f"{subject} cannot be compared: journal entry {seq}, which tells how it is, cannot be read",
            )
        if model is not None:
            self.told[model][subject.partition(":")[2]] = Told(subject, "", state)
            self.expect_parts(model, subject, "", state)

    def expect_parts(self, model: Any, subject: str, top: str, state: Mapping[str, Any]) -> None:
        """Take in the rows inside a state, at any depth; `top` is the list of the record in which all of them stand."""
        for part in model.PARTS:
            inner = model._meta.get_field(part).related_model
            rows = state.get(part)
            for row in rows if isinstance(rows, list) else []:
                if isinstance(row, Mapping):
                    self.told[inner][str(row.get("id"))] = Told(subject, top or part, row)
                    self.expect_parts(inner, subject, top or part, row)

    # ---- what the tables have ----

    def read_table(self, model: Any, owners: Any) -> None:
        """Hold every row of one table against the journal; `owners` are the keys to the record a part belongs to."""
        expected, seen = self.told[model], set()
        silences = {name: model().silence(name) for name in model.LATER if name not in model.PARTS}
        for row in stored.rows(model, recorded_fields(model)):
            key = row["id"]
            told = expected.get(key) if isinstance(key, str) else None
            if told is None:
                self.strange(model, owners, row)
                continue
            seen.add(key)
            for name, value in row.items():
                if differs(value, told.state[name] if name in told.state else silences.get(name, MISSING)):
                    self.note(told, model, name)
        for key in expected.keys() - seen:
            self.lost(model, expected[key])
        self.reading.records += 0 if owners else len(seen)
        self.check_sealed(model)

    def note(self, told: Told, model: Any, name: str) -> None:
        """A field of a row is not what the journal tells."""
        if told.part:
            self.wrong[told.subject][told.part][field_words(model, name)] += 1
        else:
            self.wrong[told.subject][name][""] += 1

    def strange(self, model: Any, owners: Any, row: Mapping[str, Any]) -> None:
        """A row that the journal does not know: told where it belongs to this project."""
        if owners is None:
            home = row["id"] if model is Project else row["project"]
            if home == self.reading.project:
                self.strangers[model].add(row["id"])
                name = title(f"{model._meta.label_lower}:{row['id']}", row)
                self.blame("stranger", f"{name}: the journal knows nothing of it. It was written outside the program")
            return
        for owner in owners:
            holder = row[owner.name]
            if told := self.told[owner.related_model].get(holder):
                self.wrong[told.subject][told.part or part_name(owner)][ADDED] += 1
            elif holder in self.strangers[owner.related_model]:
                self.strangers[model].add(row["id"])

    def lost(self, model: Any, told: Told) -> None:
        """A row of which the journal tells and which is not there."""
        if told.part:
            self.wrong[told.subject][told.part][GONE] += 1
        else:
            self.wrong[told.subject][""][GONE] += 1

    def check_sealed(self, model: Any) -> None:
        """Text kept apart for its bulk, held against its digest in the journal."""
        for name, seal in model.SEALED:
            fields = [model._meta.get_field("id"), model._meta.get_field(name)]
            for row in stored.rows(model, fields, chunk=1):
                told, text = self.told[model].get(row["id"]), row[name]
                if told and not (isinstance(text, str) and digest_bytes(text.encode()) == told.state.get(seal)):
                    self.note(told, model, name)

    # ---- faults in words ----

    def blame(self, kind: str, words: str) -> None:
        self.reading.faults.append(Fault("rows", kind, sentence(words)))

    def tell(self) -> None:
        """One fault for each record with which something is wrong."""
        for subject, wrong in self.wrong.items():
            if subject in self.unread:
                continue
            seq, text = self.chain.last[subject]
            name = title(subject, loaded(text))
            if "" in wrong:
                entry = f"entry {seq}" + (" (which was altered)" if seq in self.chain.altered else "")
                self.blame("gone", f"{name}: the journal tells of it, up to {entry}, but the record is gone")
                continue
            model = model_of(subject)
            words = ", ".join(field_words(model, each) + inside(wrong[each]) for each in sorted(wrong))
            if seq in self.chain.altered:
                self.blame("row", f"{name}: {words} not as journal entry {seq} tells, which was altered itself")
            else:
                self.blame("row", f"{name}: {words} changed outside the program. Journal entry {seq} tells how it was")


ADDED, GONE = "added", "gone"
MISSING = stored.Odd("nothing in the journal")


def differs(value: Any, told: Any) -> bool:
    """Whether a stored value is another than the journal tells; numbers in JSON may be written in several ways."""
    if type(value) is type(told) and not isinstance(value, list | dict):
        return value != told
    try:
        return canonical(value) != canonical(told)
    except (ValueError, TypeError):
        return True


def inside(words: Counter[str]) -> str:
    """What is wrong inside a list of parts, in brackets; nothing for a field."""
    many = {word: f"{'one' if words[word] == 1 else 'several'} {word}" for word in (ADDED, GONE)}
    found = sorted(many.get(each, each) for each in words if each)
    return f" ({', '.join(found)})" if found else ""


def part_name(owner: Any) -> str:
    """The list of a record in which the rows with this key stand."""
    return owner.remote_field.get_accessor_name()


# ---- signatures ----


def signature_faults(reading: Reading) -> Iterator[Fault]:
    """Signatures that do not fit what they list, or of whose giving no entry tells."""
    for row in stored.rows(Signature, recorded_fields(Signature), project=reading.project):
        reading.signatures += 1
        key = f"{SIGNATURES}{row['id']}"
        for words in signature_words(row, key, reading.chain):
            yield Fault("signatures", "signature", sentence(f"{signature_name(row, key, reading.chain)}: {words}"))


def signature_name(row: Mapping[str, Any], key: str, chain: Chain) -> str:
    """Whose signature, under what, by which entry."""
    under = str(row["under"])
    state = loaded(chain.last[under][1]) if under in chain.last else {}
    entry = f" (journal entry {chain.last[key][0]})" if key in chain.last else ""
    return f"{title(key, row)} under {title(under, state)}{entry}"


def signature_words(row: Mapping[str, Any], key: str, chain: Chain) -> Iterator[str]:
    """What is wrong with one signature."""
    if key not in chain.signed:
        yield "no journal entry tells that it was given"
    if row["under"] not in chain.last:
        yield "the journal knows nothing of what it stands under"
    covers = row["covers"]
    if not isinstance(covers, list) or digest_of(covers) != row["covers_digest"]:
        yield "what it lists does not match its digest"
    for number, item in enumerate(covers if isinstance(covers, list) else [], start=1):
        if not isinstance(item, Mapping) or "digest" not in item or digest_of(item.get("facts")) != item["digest"]:
            label = item.get("label") if isinstance(item, Mapping) else ""
            yield f"what it lists as {label or number} does not match its digest"


def digest_of(value: Any) -> str:
    """The digest of a value in its canonical form; empty when it has none."""
    try:
        return digest_bytes(canonical(value).encode())
    except (ValueError, TypeError):
        return ""


# ---- originals ----


def original_faults(chain: Chain) -> Iterator[list[Fault]]:
    """For each photo and document that the journal tells of, what is wrong with its original file.

    The digest is the one in the journal, so that a changed row does not hide its file. What came after the journal was
    read is not looked at.
    """
    for subject, (seq, text) in chain.last.items():
        path_of = next((path for begins, path in KEPT.items() if subject.startswith(begins)), None)
        if path_of is not None:
            state = loaded(text)
            words = original_words(state, path_of)
            if words and seq in chain.altered:
                words += f", by its digest in journal entry {seq}, which was altered"
            yield [Fault("originals", "original", sentence(f"{title(subject, state)}: {words}"))] if words else []


def original_words(state: Mapping[str, Any], path_of: Callable[[Mapping[str, Any]], Path]) -> str:
    """What is wrong with one original file; empty when nothing is."""
    try:
        with path_of(state).open("rb") as file:
            digest, size = digest_file(file)
    except (OSError, ValueError, KeyError, TypeError):
        return "the original file is missing or cannot be read"
    if size != state.get("size"):
        return f"the original file has {size} bytes and not {state.get('size')}; it was changed"
    return "" if digest == state["digest"] else "the original file was changed; its digest does not match"


# ---- what belongs to no project ----


def projects_by_key() -> dict[str, tuple[str, str]]:
    """Short name and name of every project there is, and of every one that the journal alone still tells of, by key.

    Read as they are stored: a name that somebody made unreadable must not keep the record from being checked.
    """
    fields = [Project._meta.get_field(name) for name in ("id", "slug", "name")]
    found = {str(row["id"]): (str(row["slug"]), str(row["name"])) for row in stored.rows(Project, fields)}
    about = [Entry._meta.get_field(name) for name in ("project", "subject")]
    for row in stored.rows(Entry, about):
        key = row["project"]
        if isinstance(key, str) and key not in found and row["subject"] == f"{Project._meta.label_lower}:{key}":
            found[key] = (f"project {key}", f"project {key}")
    return dict(sorted(found.items()))


def stray_faults() -> list[Fault]:
    """Entries and rows that belong to no project and no record, at one moment of the database."""
    with stored.snapshot():
        return [*stray_entries(), *stray_rows()]


def stray_entries() -> Iterator[Fault]:
    """Journal entries of projects of which nothing else tells: one fault for each such project."""
    known = projects_by_key()
    fields = [Entry._meta.get_field(name) for name in ("project", "seq", "subject")]
    found: dict[str, list[str]] = defaultdict(list)
    for row in stored.rows(Entry, fields):
        if str(row["project"]) not in known:
            found[str(row["project"])].append(f"{row['seq']} ({row['subject']})")
    for project, entries in found.items():
        many = count_words(len(entries), "journal entry is", "journal entries are")
        yield Fault("journal", "entry", sentence(f"{many} of a project '{project}' that is gone: {named(entries)}"))


def stray_rows() -> Iterator[Fault]:
    """Rows whose project, or whose record, does not exist; what is left of a lost project is checked by itself."""
    known = projects_by_key()
    models = [*root_models(), *part_models()]
    keys = {model: {row["id"] for row in stored.rows(model, [model._meta.pk])} for model in models}
    found: dict[str, list[str]] = defaultdict(list)
    for model in root_models():
        for row in stored.rows(model, recorded_fields(model)) if model is not Project else ():
            if str(row["project"]) not in known:
                found[str(row["project"])].append(title(f"{model._meta.label_lower}:{row['id']}", row))
    for project, names in found.items():
        many = count_words(len(names), "record is", "records are")
        yield stray(f"{many} of a project '{project}' that is gone: {named(names)}")
    for model, owners in part_models().items():
        for row in stored.rows(model, [model._meta.pk, *owners]):
            held = [(row[owner.name], owner.related_model) for owner in owners]
            if not any(holder in keys[kind] for holder, kind in held):
                holder = next((holder for holder, _ in held if holder is not None), None)
                yield stray(f"{model._meta.label_lower}:{row['id']} belongs to '{holder}', which is gone")


def named(names: list[str]) -> str:
    """The first few names."""
    return ", ".join(names[:MOST_NAMED]) + (" and more" if len(names) > MOST_NAMED else "")


def stray(words: str) -> Fault:
    return Fault("rows", "stranger", sentence(words))


def stray_files(now: datetime) -> list[Path]:
    """Files among the originals that no photo and no document of any project knows: not a fault, but worth a look.

    A file is there before its row; so files that came lately are left out.
    """
    latest = (now - TAKING_IN).timestamp()
    files = [path for path in original_files() if path.stat().st_mtime < latest]
    known: set[Path] = set()
    for model, path_of in ((Photo, KEPT[PHOTOS]), (Document, KEPT[DOCUMENTS])):
        fields = [model._meta.get_field(name) for name in ("digest", "kind" if model is Photo else "media_type")]
        rows = [{name: str(value) for name, value in row.items()} for row in stored.rows(model, fields)]
        known |= {path_of(row) for row in rows if len(row["digest"]) == 71}
    return sorted(path for path in files if path not in known)


def original_files() -> Iterator[Path]:
    """Every finished file on the shelves of photos and documents."""
    for shelf in (settings.ORIGINALS_DIR, settings.DOCUMENTS_DIR):
        for folder, _, names in shelf.walk():
            yield from (folder / name for name in names if not name.startswith("."))
