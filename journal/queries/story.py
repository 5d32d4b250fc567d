"""The history of records in words, for every page and for print: what was done, by whom, and each thing that changed.

The journal knows no app above it. How a kind is told, its model says (`Telling`); what a key points to is called, the
journal itself knows from the newest entry about it. So lost and withdrawn records are named like all others.
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import DateField, DateTimeField, ForeignKey
from django.utils import timezone

from calc.hours import clock_hours
from foundation.digest import short
from foundation.fields import ALPHABET, LENGTH
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Entry
from journal.rules import differences

type State = Mapping[str, Any]
type Model = type[Recorded] | None
# For each field, words for its values.
type Words = Mapping[str, Mapping[str, str]]

SUBJECT = re.compile(rf"[a-z]+\.[a-z]+:[{ALPHABET}]{{{LENGTH}}}")
# Fields that say nothing to a reader: the entry itself says when a record was withdrawn.
SILENT = frozenset({"id", "project", "position", "withdrawn_at"})
UNKNOWN = "something that the journal does not know"


@dataclass(frozen=True)
class Change:
    """One thing with its old and new value in words; an empty text means that there was, or is, nothing."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Step:
    """One entry of a record's history: what was done, and each thing that it changed."""

    entry: Entry
    what: str
    changes: list[Change]


def told(project: str, *subjects: str, whole: bool = False, values: Words | None = None) -> list[Step]:
    """The history of these records of a project, newest first, on the current clock: two queries. See `tell`."""
    rows = Entry.objects.filter(project=project, subject__in=subjects).order_by("seq")
    return tell(rows, timezone.get_current_timezone(), whole=whole, values=values)[::-1]


def tell(rows: Iterable[Entry], zone: tzinfo, *, whole: bool = False, values: Words | None = None) -> list[Step]:
    """Entries of one project in words, in the order given (oldest first): one query for all names in them.

    The first entry of a record changes nothing, or with `whole` everything that it says. `values` has words for values
    that a model does not know itself.
    """
    pairs = list(in_pairs(rows, whole))
    keys = {key for row, before, after in pairs for key in pointed(row.subject, before, after)}
    teller = Teller(zone, newest_states(pairs[0][0].project, keys) if keys else {}, values or {})
    return [Step(row, what(row), teller.steps_of(row.subject, before, after)) for row, before, after in pairs]


def in_pairs(rows: Iterable[Entry], whole: bool) -> Iterator[tuple[Entry, State, State]]:
    """Each entry with the state of its record before and after it."""
    last: dict[str, State] = {}
    for row in rows:
        state = loaded(row.state)
        yield row, last.get(row.subject, {} if whole else state), state
        last[row.subject] = state


def loaded(text: str) -> dict[str, Any]:
    """A journaled state; empty when somebody made it unreadable."""
    try:
        state = json.loads(text)
    except ValueError:
        return {}
    return state if isinstance(state, dict) else {}


# ---- names ----


def newest_states(project: str, subjects: Iterable[str]) -> dict[str, State]:
    """The newest state of each of these records of a project, by subject: one query."""
    rows = Entry.objects.filter(project=project, subject__in=list(subjects)).order_by("seq")
    newest = dict(rows.values_list("subject", "state"))
    return {subject: loaded(state) for subject, state in newest.items()}


def pointed(subject: str, before: State, after: State) -> Iterator[str]:
    """The records that are spoken of where two states differ."""
    for change in differences(before, after):
        for value in (change.before, change.after):
            yield from pointed_in(model_of(subject), {change.field: value})


def pointed_in(model: Model, state: State) -> Iterator[str]:
    """The records that a state speaks of, in its parts too."""
    for name, value in state.items():
        if name in parts_of(model):
            for row in part_rows(value):
                yield from pointed_in(part_model(model, name), row)
        elif subject := subject_in(model, name, value):
            yield subject


def subject_in(model: Model, name: str, value: Any) -> str:
    """The record that a value points to, by key or by its name in the journal; empty for any other value."""
    if not isinstance(value, str) or not value or name in SILENT:
        return ""
    field = field_of(model, name)
    if isinstance(field, ForeignKey):
        return f"{field.related_model._meta.label_lower}:{value}"
    return value if SUBJECT.fullmatch(value) else ""


# ---- words for kinds, verbs and fields ----


def model_of(subject: str) -> Model:
    """The model of a record; None for a kind that the program no longer has."""
    try:
        found = apps.get_model(kind_of(subject))
    except (LookupError, ValueError):
        return None
    return found if issubclass(found, Recorded) else None


def kind_of(subject: str) -> str:
    """The kind in a journal name: `buildlog.worksession` of `buildlog.worksession:7k3m...`."""
    return subject.partition(":")[0]


def telling_of(model: Model) -> Telling:
    """How records of this kind are told."""
    return model.TELLING if model is not None else Telling()


def title(subject: str, state: State) -> str:
    """What a person calls this record, told from its state alone, so that a lost record can be named too."""
    return telling_of(model_of(subject)).titled(state) or subject


def what(entry: Entry) -> str:
    """What was done, in words: `session.corrected` is "Session corrected"."""
    words = telling_of(model_of(entry.subject)).verbs.get(entry.verb)
    return words or first_up(entry.verb.replace(".", " ").replace("_", " "))


def field_words(model: Model, name: str) -> str:
    """A field's name as words within a sentence."""
    field = field_of(model, name)
    known = telling_of(model).fields.get(name) or getattr(field, "verbose_name", "")
    words = str(known or name.removesuffix("_id").replace("_", " "))
    return words[:1].lower() + words[1:]


def first_up(words: str) -> str:
    """Words with a capital at the beginning and left alone behind it."""
    return words[:1].upper() + words[1:]


# ---- fields and parts of a model ----


def meta_of(model: type[Recorded]) -> Any:
    """What Django knows of a model."""
    return model._meta  # type: ignore[attr-defined]  # mixed into models only


def field_of(model: Model, name: str) -> Any:
    """A model's field; None when it has none of that name any more."""
    try:
        return meta_of(model).get_field(name) if model is not None else None
    except FieldDoesNotExist:
        return None


def parts_of(model: Model) -> tuple[str, ...]:
    """The names of the lists of parts in a state."""
    return model.PARTS if model is not None else ()


def part_model(model: Model, part: str) -> type[Recorded]:
    """The model of the parts in one list."""
    return field_of(model, part).related_model


def part_rows(value: Any) -> list[State]:
    """The states of parts in a list; none when it is not such a list."""
    return [row for row in value if isinstance(row, Mapping)] if isinstance(value, list) else []


def place_of(model: Model, name: str) -> tuple[int, str]:
    """Where a field stands in its record; its parts come after, fields of old last."""
    order = [one.name for one in meta_of(model).concrete_fields] if model is not None else []
    order += parts_of(model)
    return (order.index(name) if name in order else len(order), name)


@dataclass(frozen=True)
class Teller:
    """Puts states into words: on the clock of `zone`, with the newest `states` of what they point to, by subject."""

    zone: tzinfo
    states: Mapping[str, State]
    values: Words = field(default_factory=dict)

    def steps_of(self, subject: str, before: State, after: State) -> list[Change]:
        """All that differs between two states of a record."""
        return list(self.changes(model_of(subject), before, after))

    def changes(self, model: Model, before: State, after: State, inside: str = "") -> Iterator[Change]:
        """All that differs between two states, in the order of the fields; `inside` says in which part."""
        silent = SILENT | telling_of(model).silent
        for change in sorted(differences(before, after), key=lambda one: place_of(model, one.field)):
            if change.field in silent:
                continue
            if change.field in parts_of(model):
                yield from self.part_changes(model, change.field, change.before, change.after, inside)
                continue
            old, new = (self.words(model, change.field, value) for value in (change.before, change.after))
            if old != new:
                yield Change(first_up(inside + field_words(model, change.field)), old, new)

    def part_changes(self, model: Model, part: str, before: Any, after: Any, inside: str) -> Iterator[Change]:
        """The parts of a record that came, went or changed, by what they are called."""
        inner, owner = part_model(model, part), field_of(model, part).field.name
        same = inner.TELLING.same
        old, new = ({str(row.get(same)): row for row in part_rows(rows)} for rows in (before, after))
        named = {key: inner.TELLING.called(self.said(inner, row)) for key, row in (old | new).items()}
        for key in sorted(named, key=lambda key: (named[key], key)):
            label, was, now = inside + (named[key] or field_words(model, part)), old.get(key), new.get(key)
            if was is not None and now is not None and not inner.TELLING.line:
                yield from self.changes(inner, was, now, f"{label}, ")
                continue
            one = Change(first_up(label), *(self.line(inner, owner, state) for state in (was, now)))
            if one.before != one.after:
                yield one

    def line(self, model: type[Recorded], owner: str, state: State | None) -> str:
        """A whole part in one line; empty when there is none."""
        if state is None:
            return ""
        if model.TELLING.line:
            with suppress(KeyError, ValueError, TypeError, AttributeError):  # a state of old, or one that was altered
                return model.TELLING.line(self.said(model, state))
        return self.all_of(model, owner, state)

    def all_of(self, model: type[Recorded], owner: str, state: State) -> str:
        """Everything that a part says of itself beside its name and that is not empty."""
        silent = SILENT | model.TELLING.silent | {owner, *model.PARTS}
        more = (name for name in state if name not in silent and f"{{{name}}}" not in model.TELLING.name)
        names = sorted(more, key=lambda name: place_of(model, name))
        words = {name: self.words(model, name, state[name]) for name in names if state[name] not in (0, False)}
        return "; ".join(f"{field_words(model, name)} {value}" for name, value in words.items() if value)

    def said(self, model: Model, state: State) -> dict[str, Any]:
        """A state with names for keys, words for choices and times on the clock of the project."""
        return {name: self.moment_or_words(model, name, value) for name, value in state.items()}

    def moment_or_words(self, model: Model, name: str, value: Any) -> Any:
        """A value as a line may be made of it: numbers and lists as they are, times as times, the rest in words."""
        if not isinstance(value, str):
            return value
        if isinstance(field_of(model, name), DateTimeField):
            return self.local(value) or value
        return self.words(model, name, value)

    def words(self, model: Model, name: str, value: Any) -> str:
        """A journaled value in words; empty for nothing."""
        if value is None or value in ("", [], {}):
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, int):
            return f"{clock_hours(value)} h" if name.endswith("seconds") else str(value)
        if isinstance(value, list):
            return ", ".join(map(item_words, value))
        if not isinstance(value, str):
            return json.dumps(value, ensure_ascii=False)
        if subject := subject_in(model, name, value):
            return self.name_of(subject, subject == value) or (value if subject == value else UNKNOWN)
        return self.text_words(model, name, value)

    def text_words(self, model: Model, name: str, value: str) -> str:
        """A journaled text in words: choices, days, times and digests as a reader knows them."""
        field = field_of(model, name)
        known = self.values.get(name) or telling_of(model).values.get(name) or dict(getattr(field, "flatchoices", ()))
        if value in known:
            return str(known[value])
        if isinstance(field, DateTimeField):
            at = self.local(value)
            return f"{at:%-d %b %Y, %H:%M}" + (f":{at:%S}" if at.second else "") if at else value
        if isinstance(field, DateField):
            return day_words(value)
        return short(value) if value.startswith("sha256:") else value

    def name_of(self, subject: str, with_noun: bool) -> str:
        """What the record is called that a value points to; empty when the journal does not know it."""
        state, telling = self.states.get(subject, {}), telling_of(model_of(subject))
        return telling.titled(state) if with_noun else telling.called(state)

    def local(self, value: str) -> datetime | None:
        """A journaled time on the clock of the project; None when it is no time."""
        try:
            return datetime.fromisoformat(value).astimezone(self.zone)
        except ValueError:
            return None


def day_words(value: str) -> str:
    """A journaled day."""
    try:
        return f"{date.fromisoformat(value):%-d %b %Y}"
    except ValueError:
        return value


def item_words(item: Any) -> str:
    """One item of a list; what a signature covers is told by its label."""
    return str(item.get("label") or item) if isinstance(item, Mapping) else str(item)
