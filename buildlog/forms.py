"""Turning what was typed about a session into people's times and shares."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms

from accounts.models import Person, Project
from accounts.queries import people
from buildlog import rules
from buildlog.models import WorkSession
from buildlog.rules import Worked
from calc import hours
from foundation.fields import new_key
from parts import queries as parts
from parts.models import Assembly

MORE_SHARES = 3
TWICE = [("", "Choose one"), ("first", "The first time around"), ("second", "The second time around")]


class TimeInput(forms.TimeInput):
    input_type = "time"


class DateInput(forms.DateInput):
    input_type = "date"


def minutes_field(label: str) -> forms.IntegerField:
    """A field for whole minutes that may be left empty."""
    widget = forms.NumberInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(label=label, required=False, min_value=0, max_value=24 * 60, widget=widget)


def indented(project: Project) -> list[tuple[str, str]]:
    """The assemblies of a project as choices in tree order."""
    return [(node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in parts.tree(project)]


class PersonRow:
    """The fields of one person in the form, for the template."""

    def __init__(self, form: "SessionForm", person: Person) -> None:
        self.person = person
        self.start, self.end, self.breaks, self.unattended = (
            form[f"{name}_{person.pk}"] for name in ("start", "end", "breaks", "unattended")
        )

    @property
    def used(self) -> bool:
        """Whether this person has times of his own, so that the template shows them open."""
        return any(field.value() not in (None, "") for field in (self.start, self.end, self.breaks, self.unattended)) or bool(
            self.start.errors or self.end.errors or self.breaks.errors or self.unattended.errors
        )


class SessionForm(forms.Form):
    """A session as typed: one day and times for everybody, and a person's own times where they differ."""

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    assembly = forms.ChoiceField(label="Assembly")
    day = forms.DateField(label="Day", widget=DateInput(format="%Y-%m-%d"))
    started = forms.TimeField(label="From", widget=TimeInput(format="%H:%M"))
    ended = forms.TimeField(label="To", widget=TimeInput(format="%H:%M"))
    start_twice = forms.ChoiceField(label="The clocks went back: which start is meant?", choices=TWICE, required=False)
    end_twice = forms.ChoiceField(label="The clocks went back: which end is meant?", choices=TWICE, required=False)
    breaks = minutes_field("Breaks, minutes")
    unattended = minutes_field("Hands off, minutes")
    people = forms.MultipleChoiceField(label="Who worked", widget=forms.CheckboxSelectMultiple)
    kind = forms.ChoiceField(label="Counts as", choices=list(rules.KINDS.items()), widget=forms.RadioSelect)
    work = forms.ChoiceField(
        label="Kind of work", choices=list(rules.WORK.items()), widget=forms.RadioSelect, required=False
    )
    note = forms.CharField(
        label="What was done", required=False, widget=forms.Textarea(attrs={"rows": 5}), max_length=20000
    )
    place = forms.CharField(label="Where", required=False, max_length=120)
    reason = forms.CharField(label="Why it is corrected", required=False, max_length=300)

    def __init__(self, *args: Any, project: Project, session: WorkSession | None = None, needs_reason: bool = False, **kwargs: Any) -> None:
        self.project = project
        self.session = session
        self.needs_reason = needs_reason
        kwargs.setdefault("initial", {})
        super().__init__(*args, **kwargs)
        self.rows = {row.person_id: row for row in session.people.all()} if session else {}
        self.workers = {person.pk: person for person in people(project).workers()}
        self.workers |= {key: row.person for key, row in self.rows.items()}
        choices = indented(project)
        self.fields["assembly"].choices = [("", "Choose the assembly"), *choices]
        self.fields["people"].choices = [(person.pk, person.name) for person in self.workers.values()]
        self.fields["reason"].required = needs_reason
        for number in range(1, MORE_SHARES + 1):
            self.fields[f"assembly_{number}"] = forms.ChoiceField(
                label="Also on", choices=[("", "Nothing else"), *choices], required=False
            )
            self.fields[f"weight_{number}"] = self.weight_field()
        self.fields["weight_0"] = self.weight_field()
        for key in self.workers:
            self.fields[f"start_{key}"] = forms.TimeField(label="From", required=False, widget=TimeInput(format="%H:%M"))
            self.fields[f"end_{key}"] = forms.TimeField(label="To", required=False, widget=TimeInput(format="%H:%M"))
            self.fields[f"breaks_{key}"] = minutes_field("Breaks, minutes")
            self.fields[f"unattended_{key}"] = minutes_field("Hands off, minutes")

    @staticmethod
    def weight_field() -> forms.IntegerField:
        widget = forms.NumberInput(attrs={"inputmode": "numeric"})
        return forms.IntegerField(label="Share", required=False, min_value=1, max_value=1000, widget=widget)

    @property
    def person_rows(self) -> list[PersonRow]:
        return [PersonRow(self, person) for person in self.workers.values()]

    @property
    def more_shares(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"assembly_{number}"], self[f"weight_{number}"]) for number in range(1, MORE_SHARES + 1)]

    @property
    def shares_open(self) -> bool:
        return any(field.value() or field.errors for field, _ in self.more_shares)

    @property
    def asks_start(self) -> bool:
        return bool(self.errors.get("start_twice") or self["start_twice"].value())

    @property
    def asks_end(self) -> bool:
        return bool(self.errors.get("end_twice") or self["end_twice"].value())

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if not self.errors:
            values["worked"] = self.worked(values)
        if "assembly" in values:
            values["shares"] = list(self.shares(values))
        return values

    def shares(self, values: dict[str, Any]) -> Iterator[tuple[Assembly, int]]:
        """The assemblies chosen, with their weights; 1 where none was typed."""
        chosen = [(values["assembly"], values.get("weight_0") or 1)]
        chosen += [
            (values[f"assembly_{n}"], values.get(f"weight_{n}") or 1)
            for n in range(1, MORE_SHARES + 1)
            if values.get(f"assembly_{n}")
        ]
        rows = {row.pk: row for row in parts.assemblies(self.project).filter(pk__in=[key for key, _ in chosen])}
        return ((rows[key], weight) for key, weight in chosen)

    def worked(self, values: dict[str, Any]) -> list[Worked]:
        """Everybody's stretch as instants; a clock time that never was, or was twice, becomes an error of its field."""
        start, end = self.everybody(values)
        if start is None or end is None:
            return []
        return [stretch for key in values["people"] if (stretch := self.stretch(values, key, start, end))]

    def everybody(self, values: dict[str, Any]) -> tuple[datetime | None, datetime | None]:
        """The start and end that hold for everybody without times of his own.

        The fields show whole minutes; where they were left alone, the timer's seconds stay.
        """
        if self.session is not None and self.untouched("day", "started", "ended", "start_twice", "end_twice"):
            return self.session.started_at, self.session.ended_at
        if values["ended"] == values["started"]:
            self.add_error("ended", "Start and end are the same. Type the time at which the work ended.")
            return None, None
        start = self.instant(values["day"], values["started"], values["start_twice"], "start")
        end_day = values["day"] + timedelta(days=values["ended"] < values["started"])
        return start, self.instant(end_day, values["ended"], values["end_twice"], "end")

    def untouched(self, *names: str) -> bool:
        """Whether these fields were sent back as they were shown."""
        return not set(names) & set(self.changed_data)

    def stretch(self, values: dict[str, Any], key: str, start: datetime, end: datetime) -> Worked | None:
        """One person's stretch: his own times where he has them, else everybody's."""
        row = self.rows.get(key)
        shown = ("day", "started", "ended", f"start_{key}", f"end_{key}")
        if row is not None and self.untouched(*shown):
            start, end = row.started_at, row.ended_at
        else:
            start, end = self.own_times(values, key, start, end)
        if start is None or end is None:
            return None
        breaks = self.taken_off(values, key, "breaks", row.break_seconds if row else 0)
        unattended = self.taken_off(values, key, "unattended", row.unattended_seconds if row else 0)
        return Worked(key, self.workers[key].name, start, end, breaks, unattended)

    def taken_off(self, values: dict[str, Any], key: str, name: str, before: int) -> int:
        """Seconds of break or unattended time: the person's own minutes, else everybody's; seconds kept where untouched."""
        if key in self.rows and self.untouched(name, f"{name}_{key}"):
            return before
        return first_given(values.get(f"{name}_{key}"), values.get(name)) * 60

    def own_times(self, values: dict[str, Any], key: str, start: datetime | None, end: datetime | None) -> tuple[datetime | None, datetime | None]:
        """A person's own times where he has them, else everybody's."""
        own_start, own_end = values.get(f"start_{key}"), values.get(f"end_{key}")
        zone = self.project.zone
        if own_start is not None:
            start = self.instant(on_or_after(start.astimezone(zone), own_start), own_start, values["start_twice"], "start", key)
        if own_end is not None and start is not None:
            end = self.instant(on_or_after(start.astimezone(zone), own_end), own_end, values["end_twice"], "end", key)
        return start, end

    def instant(self, day: date, clock: time, twice: str, edge: str, key: str = "") -> datetime | None:
        """A wall-clock time in the shop as an instant; None with an error in the form where there is no such, or two."""
        field = f"{edge}_{key}" if key else {"start": "started", "end": "ended"}[edge]
        try:
            return hours.on_the_clock(day, clock, self.project.zone, second=twice == "second" if twice else None)
        except hours.NoSuchTime:
            self.add_error(field, f"{clock:%H:%M} was skipped when the clocks went forward that night. Choose another time.")
        except hours.TimeTwice:
            self.add_error(f"{edge}_twice", f"{clock:%H:%M} came twice when the clocks went back that night. Say which is meant.")
        return None


def on_or_after(start: datetime, clock: time) -> date:
    """The day on which `clock` comes within the 24 hours around a session: the same day, or the next for early hours."""
    return start.date() + timedelta(days=clock < start.time() and (start.hour - clock.hour) > 6)


def first_given(*values: int | None) -> int:
    """The first value that was typed, else 0."""
    return next((value for value in values if value is not None), 0)


def initial_for_new(project: Project, person: Person, now: datetime, assembly: str = "") -> dict[str, Any]:
    """What a new session's form says before anything is typed: the last hour up to now, by the person who logs."""
    local = now.astimezone(project.zone)
    return {
        "request_id": new_key(),
        "assembly": assembly,
        "day": (local - timedelta(hours=1)).date(),
        "started": shown(local - timedelta(hours=1)),
        "ended": shown(local),
        "people": [person.pk],
        "kind": "labor",
        "work": "",
        "place": project.place,
    }


def initial_of(session: WorkSession) -> dict[str, Any]:
    """What the form of a session that is there says: what everybody shares on top, own times where they differ."""
    zone = session.project.zone
    start, end = session.started_at.astimezone(zone), session.ended_at.astimezone(zone)
    rows = list(session.people.all())
    common_breaks, common_off = rows[0].break_seconds, rows[0].unattended_seconds
    values: dict[str, Any] = {
        "request_id": session.request_id,
        "day": start.date(),
        "started": shown(start),
        "ended": shown(end),
        "start_twice": told_twice(session.started_at, zone),
        "end_twice": told_twice(session.ended_at, zone),
        "breaks": common_breaks // 60 or None,
        "unattended": common_off // 60 or None,
        "people": [row.person_id for row in rows],
        "kind": session.kind,
        "work": session.work,
        "note": session.note,
        "place": session.place,
    }
    for row in rows:
        if row.started_at != session.started_at:
            values[f"start_{row.person_id}"] = shown(row.started_at.astimezone(zone))
        if row.ended_at != session.ended_at:
            values[f"end_{row.person_id}"] = shown(row.ended_at.astimezone(zone))
        if row.break_seconds != common_breaks:
            values[f"breaks_{row.person_id}"] = row.break_seconds // 60
        if row.unattended_seconds != common_off:
            values[f"unattended_{row.person_id}"] = row.unattended_seconds // 60
    for number, share in enumerate(session.shares.all()):
        values["assembly" if number == 0 else f"assembly_{number}"] = share.assembly_id
        values[f"weight_{number}"] = share.weight
    return values


def shown(at: datetime) -> time:
    """A local time as the form shows it: whole minutes."""
    return at.time().replace(second=0, microsecond=0)


def told_twice(at: datetime, zone: Any) -> str:
    """Which of two equal clock times an instant is; empty where there is only one."""
    local = at.astimezone(zone)
    if local.replace(fold=0).utcoffset() == local.replace(fold=1).utcoffset():
        return ""
    return "second" if local.fold else "first"


class WithdrawForm(forms.Form):
    """The reason for taking something out of the record's totals."""

    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
