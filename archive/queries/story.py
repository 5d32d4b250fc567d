"""The journal as a person reads it: entries in words, and what each changed."""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import DateTimeField, QuerySet
from django.utils import timezone

from accounts.models import Project
from archive import rules
from archive.queries.whole import loaded
from foundation.digest import short
from foundation.fields import ALPHABET, LENGTH
from journal import queries as journal
from journal.models import Entry
from journal.rules import differences

KEY = re.compile(rf'"([{ALPHABET}]{{{LENGTH}}})"')
# Fields that say nothing to a person who reads the history.
SILENT = {"id", "project", "request_id", "position"}


@dataclass(frozen=True)
class Line:
    """One journal entry in words."""

    entry: Entry
    verb: str
    title: str


@dataclass(frozen=True)
class Change:
    """One field with its old and new value in words; an empty text means that there was, or is, nothing."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class Step:
    """One entry of a record's history with what it changed."""

    entry: Entry
    verb: str
    changes: list[Change]


@dataclass(frozen=True)
class History:
    """The whole history of one record, oldest first."""

    subject: str
    title: str
    standing: bool
    steps: list[Step]

    @property
    def kind(self) -> str:
        return rules.kind_of(self.subject)

    @property
    def key(self) -> str:
        return self.subject.partition(":")[2]


def entries(project: Project, kind: str = "") -> QuerySet[Entry]:
    """The journal of a project, newest first, of one kind of record or of all."""
    rows = journal.entries(project.pk)
    return rows.filter(subject__startswith=f"{kind}:") if kind in rules.KINDS else rows


def lines(rows: Iterable[Entry]) -> list[Line]:
    """Entries in words."""
    return [Line(row, rules.verb_words(row.verb), rules.title(row.subject, loaded(row.state))) for row in rows]


def history(project: Project, subject: str) -> History | None:
    """What happened to one record of this project: two queries. None when the journal knows nothing of it."""
    rows = list(Entry.objects.filter(project=project.pk, subject=subject).order_by("seq"))
    if not rows:
        return None
    names = names_in(project, rows)
    steps, before = [], {}
    for row in rows:
        state = loaded(row.state)
        steps.append(Step(row, rules.verb_words(row.verb), list(changes(rules.kind_of(subject), before, state, names))))
        before = state
    return History(subject, rules.title(subject, before), not before.get("withdrawn_at"), steps)


def names_in(project: Project, rows: Iterable[Entry]) -> dict[str, str]:
    """What the records are called whose keys stand in these entries, by key: one query."""
    keys = {key for row in rows for key in KEY.findall(row.state)}
    subjects = [f"{kind}:{key}" for key in keys for kind in rules.TITLES]
    found = (
        Entry.objects.filter(project=project.pk, subject__in=subjects).order_by("seq").values_list("subject", "state")
    )
    return {subject.partition(":")[2]: rules.title(subject, loaded(state)) for subject, state in found}


def changes(
    kind: str, before: Mapping[str, Any], after: Mapping[str, Any], names: Mapping[str, str]
) -> Iterator[Change]:
    """The fields that differ between two states of a record, in words and in the order of the record's fields."""
    model = model_of(kind)
    for change in sorted(differences(before, after), key=lambda change: place_of(model, change.field)):
        if change.field in SILENT:
            continue
        if model is not None and change.field in model.PARTS:
            yield from part_changes(model, change.field, change.before or [], change.after or [], names)
            continue
        old, new = (words_of(model, change.field, value, names) for value in (change.before, change.after))
        if old != new:
            yield Change(rules.field_words(change.field), old, new)


def place_of(model: Any, name: str) -> tuple[int, str]:
    """Where a field stands in its record; parts and fields of old come last."""
    order = [field.name for field in model._meta.concrete_fields] if model is not None else []
    return (order.index(name) if name in order else len(order), name)


def model_of(kind: str) -> Any:
    """The model of a kind of record; None for a kind that the program no longer has."""
    try:
        return apps.get_model(kind)
    except (LookupError, ValueError):
        return None


def part_changes(model: Any, part: str, before: list, after: list, names: Mapping[str, str]) -> Iterator[Change]:
    """The parts of a record that came, went or changed."""
    related = model._meta.get_field(part)
    inner, owner = related.related_model, related.field.name
    old, new = rules.by_id(before) or {}, rules.by_id(after) or {}
    field = rules.field_words(part)
    for key in sorted(old.keys() | new.keys()):
        if key not in old or key not in new:
            yield Change(field, summary(inner, owner, old.get(key), names), summary(inner, owner, new.get(key), names))
            continue
        for change in changes(inner._meta.label_lower, old[key], new[key], names):
            yield Change(f"{field}, {change.field}", change.before, change.after)


def summary(model: Any, owner: str, state: Mapping[str, Any] | None, names: Mapping[str, str]) -> str:
    """One part in words: everything it says that is not empty."""
    if state is None:
        return ""
    told = [name for name in state if name not in SILENT | {owner, *model.PARTS} and state[name] not in (0, False)]
    words = [
        (name, words_of(model, name, state[name], names))
        for name in sorted(told, key=lambda name: place_of(model, name))
    ]
    return "; ".join(labeled(rules.field_words(name), value) for name, value in words if value)


def labeled(name: str, value: str) -> str:
    """A value behind its name, unless it begins with that word itself."""
    return value if value.lower().startswith(f"{name} ") else f"{name} {value}"


def words_of(model: Any, name: str, value: Any, names: Mapping[str, str]) -> str:
    """A value of a journaled state in words."""
    if value is None or value in ("", [], {}):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name in rules.DURATIONS and isinstance(value, int):
        return f"{value // 3600} h {value // 60 % 60:02d} min"
    if isinstance(value, list | dict):
        return json.dumps(value, ensure_ascii=False) if isinstance(value, dict) else ", ".join(map(item_words, value))
    field = field_of(model, name)
    if isinstance(field, DateTimeField):
        return moment(value)
    choices = dict(field.flatchoices) if field is not None else {}
    text = str(choices.get(value) or names.get(str(value)) or value)
    return short(text) if text.startswith("sha256:") else text


def item_words(item: Any) -> str:
    """One item of a list; what a signature covers is told by its label."""
    return str(item.get("label") or item.get("words") or item) if isinstance(item, Mapping) else str(item)


def field_of(model: Any, name: str) -> Any:
    """A model's field; None when it has none of that name any more."""
    try:
        return model._meta.get_field(name) if model is not None else None
    except FieldDoesNotExist:
        return None


def moment(value: str) -> str:
    """A journaled time on the clock of the project."""
    try:
        at = timezone.localtime(datetime.fromisoformat(value))
    except ValueError:
        return value
    return f"{at:%-d %b %Y, %H:%M}" + (f":{at:%S}" if at.second else "")
