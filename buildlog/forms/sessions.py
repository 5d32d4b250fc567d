"""Turning what was typed about a session into people's times and shares."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from accounts.models import Person, Project
from accounts.queries import people
from buildlog import rules
from buildlog.models import WorkSession
from buildlog.rules import Worked
from calc import hours
from foundation.choosing import offer
from foundation.fields import new_key
from foundation.refusal import Refusal
from parts import queries as parts
from parts.models import Assembly
from parts.queries import Node

MORE_SHARES = 3
YEARS = range(1950, 2100)
# What is said of a session besides who worked when and on what, by the names of its fields.
WORDS = ("kind", "work", "note", "place", "private_note")
GONE = "This assembly is not in the project any more. Choose another."
NO_REASON = "Say why it is corrected. The old values stay beside the new ones."
TWICE = [("", "Choose one"), ("first", "The first time around"), ("second", "The second time around")]


class TimeInput(forms.TimeInput):
    input_type = "time"


class DateInput(forms.DateInput):
    input_type = "date"


def minutes_field(label: str) -> forms.IntegerField:
    """A field for whole minutes that may be left empty."""
    widget = forms.NumberInput(attrs={"inputmode": "numeric"})
    return forms.IntegerField(label=label, required=False, min_value=0, max_value=24 * 60, widget=widget)


def indented(nodes: Iterable[Node], also: Iterable[Assembly]) -> list[tuple[str, str]]:
    """Assemblies as choices in tree order, and below them those that a session stands on though they were withdrawn."""
    choices = [(node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in nodes]
    known = {key for key, _ in choices}
    return choices + [(one.pk, f"{one} (withdrawn)") for one in also if one.pk not in known]


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
        return any(
            field.value() not in (None, "") for field in (self.start, self.end, self.breaks, self.unattended)
        ) or bool(self.start.errors or self.end.errors or self.breaks.errors or self.unattended.errors)


class SessionForm(forms.Form):
    """A session as typed: one day and times for everybody, and a person's own times where they differ."""

    request_id = forms.CharField(widget=forms.HiddenInput, max_length=36)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    again = forms.CharField(widget=forms.HiddenInput, required=False)
    assembly = forms.ChoiceField(
        label="Assembly", error_messages={"required": "Choose the assembly that was worked on.", "invalid_choice": GONE}
    )
    day = forms.DateField(label="Day", widget=DateInput(format="%Y-%m-%d"))
    started = forms.TimeField(label="From", widget=TimeInput(format="%H:%M"))
    ended = forms.TimeField(label="To", widget=TimeInput(format="%H:%M"))
    start_twice = forms.ChoiceField(label="The clocks went back: which start is meant?", choices=TWICE, required=False)
    end_twice = forms.ChoiceField(label="The clocks went back: which end is meant?", choices=TWICE, required=False)
    breaks = minutes_field("Breaks, minutes")
    unattended = minutes_field("Hands off, minutes")
    people = forms.MultipleChoiceField(
        label="Who worked", widget=forms.CheckboxSelectMultiple, error_messages={"required": "Say who worked."}
    )
    kind = forms.ChoiceField(label="Counts as", choices=list(rules.KINDS.items()), widget=forms.RadioSelect)
    work = forms.ChoiceField(
        label="Kind of work", choices=list(rules.WORK.items()), widget=forms.RadioSelect, required=False
    )
    note = forms.CharField(
        label="What was done", required=False, widget=forms.Textarea(attrs={"rows": 5}), max_length=20000
    )
    place = forms.CharField(label="Where", required=False, max_length=120)
    private_note = forms.CharField(
        label="For yourself",
        required=False,
        max_length=5000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Seen by whoever may change this session. It never prints, for nobody.",
    )
    reason = forms.CharField(
        label="Why it is corrected", required=False, max_length=300, error_messages={"required": NO_REASON}
    )

    def __init__(
        self,
        *args: Any,
        project: Project,
        session: WorkSession | None = None,
        needs_reason: bool = False,
        **kwargs: Any,
    ) -> None:
        self.project = project
        self.session = session
        self.needs_reason = needs_reason
        self.asked = ""
        kwargs.setdefault("initial", {})
        super().__init__(*args, **kwargs)
        self.rows = {row.person_id: row for row in session.people.all()} if session else {}
        self.workers = {person.pk: person for person in people(project).workers()}
        self.workers |= {key: row.person for key, row in self.rows.items()}
        nodes = parts.tree(project)
        before = [share.assembly for share in session.shares.all()] if session else []
        self.assemblies = {one.pk: one for one in [*before, *(node.assembly for node in nodes)]}
        self.places = max(MORE_SHARES, len(before) - 1)
        choices = indented(nodes, before)
        offer(self, "assembly", [("", "Choose the assembly"), *choices])
        offer(self, "people", [(person.pk, person.name) for person in self.workers.values()])
        self.fields["reason"].required = needs_reason
        for number in self.further:
            self.fields[f"assembly_{number}"] = forms.ChoiceField(
                label="Also on",
                choices=[("", "Nothing else"), *choices],
                required=False,
                error_messages={"invalid_choice": GONE},
            )
            self.fields[f"weight_{number}"] = self.weight_field()
        self.fields["weight_0"] = self.weight_field()
        for key in self.workers:
            self.fields[f"start_{key}"] = forms.TimeField(
                label="From", required=False, widget=TimeInput(format="%H:%M")
            )
            self.fields[f"end_{key}"] = forms.TimeField(label="To", required=False, widget=TimeInput(format="%H:%M"))
            self.fields[f"breaks_{key}"] = minutes_field("Breaks, minutes")
            self.fields[f"unattended_{key}"] = minutes_field("Hands off, minutes")

    @staticmethod
    def weight_field() -> forms.IntegerField:
        widget = forms.NumberInput(attrs={"inputmode": "numeric"})
        return forms.IntegerField(label="Share", required=False, min_value=1, max_value=1000, widget=widget)

    @property
    def further(self) -> range:
        """The numbers of the places for more assemblies: three, or as many as the session has."""
        return range(1, self.places + 1)

    @property
    def person_rows(self) -> list[PersonRow]:
        return [PersonRow(self, person) for person in self.workers.values()]

    @property
    def more_shares(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"assembly_{number}"], self[f"weight_{number}"]) for number in self.further]

    @property
    def shares_open(self) -> bool:
        return any(field.value() or field.errors or weight.errors for field, weight in self.more_shares)

    def ask(self, questions: Mapping[str, str]) -> bool:
        """Ask each of these questions once, by its name; whether one was asked now. Saving again answers them."""
        answered = self.cleaned_data["again"].split()
        fresh = {name: words for name, words in questions.items() if name not in answered}
        for words in fresh.values():
            self.add_error(None, words)
        self.asked = " ".join([*answered, *fresh])
        return bool(fresh)

    @property
    def asks_start(self) -> bool:
        return bool(self.errors.get("start_twice") or self["start_twice"].value())

    @property
    def asks_end(self) -> bool:
        return bool(self.errors.get("end_twice") or self["end_twice"].value())

    def clean_day(self) -> date:
        """A day within reach of calendar arithmetic in every zone."""
        if self.cleaned_data["day"].year not in YEARS:
            raise forms.ValidationError("Check the year.")
        return self.cleaned_data["day"]

    def clean(self) -> dict[str, Any]:
        super().clean()
        values = self.cleaned_data
        if not self.errors:
            # A copy: an error found on the way takes its field out of the values.
            values["worked"] = self.worked(dict(values))
        if "assembly" in values:
            values["shares"] = list(self.shares(values))
        return values

    def says_the_same(self, session: WorkSession) -> bool:
        """Whether this form, which is good, says what a session says already (its photos apart)."""
        values = self.cleaned_data
        typed = {(w.person, w.start.timestamp(), w.end.timestamp(), w.breaks, w.unattended) for w in values["worked"]}
        kept = {
            (r.person_id, r.started_at.timestamp(), r.end.timestamp(), r.break_seconds, r.unattended_seconds)
            for r in session.people.all()
        }
        shares = {(share.assembly_id, share.weight) for share in session.shares.all()}
        same_words = all(values[name] == getattr(session, name) for name in WORDS)
        return same_words and typed == kept and {(one.pk, weight) for one, weight in values["shares"]} == shares

    def shares(self, values: dict[str, Any]) -> Iterator[tuple[Assembly, int]]:
        """The assemblies chosen, with their weights; 1 where none was typed."""
        chosen = [(values["assembly"], values.get("weight_0") or 1)]
        chosen += [
            (values[f"assembly_{n}"], values.get(f"weight_{n}") or 1)
            for n in self.further
            if values.get(f"assembly_{n}")
        ]
        return ((self.assemblies[key], weight) for key, weight in chosen)

    def worked(self, values: dict[str, Any]) -> list[Worked]:
        """Everybody's stretch as instants; a clock time that never was, or was twice, becomes an error of its field."""
        start, end = self.everybody(values)
        if start is None or end is None:
            return []
        return [stretch for key in values["people"] if (stretch := self.stretch(values, key, start, end))]

    def everybody(self, values: dict[str, Any]) -> tuple[datetime | None, datetime | None]:
        """The start and end for everybody without times of his own; as they were where nothing was touched."""
        session = self.session
        if session is not None and self.untouched("day", "started", "ended", "start_twice", "end_twice"):
            return session.started_at, session.ended_at
        day, end_clock = values["day"], values["ended"]
        start = self.instant(values, day, values["started"], "start", before=session.started_at if session else None)
        end_day = (
            self.day_of_end(values, start, end_clock) if start else day + timedelta(days=end_clock < values["started"])
        )
        end = self.instant(values, end_day, end_clock, "end", before=session.ended_at if session else None)
        if start and end and end_clock == values["started"] and hours.elapsed(start, end) < 60:
            self.add_error("ended", "Start and end are the same. Type the time at which the work ended.")
            return None, None
        return start, end

    def untouched(self, *names: str) -> bool:
        """Whether these fields were sent back as they were shown."""
        return not set(names) & set(self.changed_data)

    def stretch(self, values: dict[str, Any], key: str, start: datetime, end: datetime) -> Worked | None:
        """One person's stretch: his own times where he has them, else everybody's."""
        row = self.rows.get(key)
        begun, over = self.own_times(values, key, start, end)
        if begun is None or over is None:
            return None
        breaks = self.taken_off(values, key, "breaks", row.break_seconds if row else 0)
        unattended = self.taken_off(values, key, "unattended", row.unattended_seconds if row else 0)
        stretch = Worked(key, self.workers[key].name, begun, over, breaks, unattended)
        self.check_own_off(values, stretch)
        return stretch

    def check_own_off(self, values: dict[str, Any], stretch: Worked) -> None:
        """Mark a person's own breaks or unattended time when they are too long; everybody's are checked later."""
        own = [name for name in ("breaks", "unattended") if values.get(f"{name}_{stretch.person}") is not None]
        if not own or stretch.end <= stretch.start:
            return
        try:
            rules.check_off(stretch)
        except Refusal as no:
            self.add_error(f"{own[0]}_{stretch.person}", no.message)

    def taken_off(self, values: dict[str, Any], key: str, name: str, before: int) -> int:
        """Seconds of break or unattended time: the person's own, else everybody's; as they were where untouched."""
        own = values.get(f"{name}_{key}")
        if key in self.rows and self.untouched(f"{name}_{key}") and (own is not None or self.untouched(name)):
            return before
        return first_given(own, values.get(name)) * 60

    def own_times(
        self, values: dict[str, Any], key: str, start: datetime, end: datetime
    ) -> tuple[datetime | None, datetime | None]:
        """A person's own times where he has them, else everybody's; as they were where nothing was touched."""
        row, zone = self.rows.get(key), self.project.zone
        if row is not None and self.untouched(
            "day", "started", "ended", "start_twice", "end_twice", f"start_{key}", f"end_{key}"
        ):
            return row.started_at, row.ended_at
        own_start, own_end = values.get(f"start_{key}"), values.get(f"end_{key}")
        begun: datetime | None = start
        over: datetime | None = end
        if own_start is not None:
            day = rules.day_of_own_start(own_start, start.astimezone(zone), end.astimezone(zone))
            begun = self.instant(values, day, own_start, "start", key, row.started_at if row else None)
        if own_end is not None and begun is not None:
            day = self.day_of_end(values, begun, own_end)
            over = self.instant(values, day, own_end, "end", key, row.ended_at if row else None)
        return begun, over

    def day_of_end(self, values: dict[str, Any], start: datetime, clock: time) -> date:
        """The day of an end: that of the start, or the next for an earlier clock time.

        In the night the clocks go back 01:15 comes after 01:45 on the same day, unless the first 01:15 was answered.
        """
        local = start.astimezone(self.project.zone)
        day, began = local.date(), shown(local)
        if clock >= began:
            return day
        again = second_time(day, clock, self.project.zone)
        same_day = again is not None and hours.elapsed(start, again) > 0 and values["end_twice"] != "first"
        return day if same_day else day + timedelta(days=1)

    def instant(
        self, values: dict[str, Any], day: date, clock: time, edge: str, key: str = "", before: datetime | None = None
    ) -> datetime | None:
        """A wall-clock time in the shop as an instant; None with an error in the form where there is no such, or two.

        The fields show whole minutes: where the clock says what it said for `before`, that one's seconds stay.
        """
        zone, asked = self.project.zone, f"{edge}_twice"
        field = f"{edge}_{key}" if key else {"start": "started", "end": "ended"}[edge]
        if before is not None and self.untouched(asked):
            local = before.astimezone(zone)
            if (local.date(), shown(local)) == (day, clock):
                return before
        twice = values[asked]
        try:
            return hours.on_the_clock(day, clock, zone, second=twice == "second" if twice else None)
        except hours.NoSuchTime:
            self.add_error(
                field, f"{clock:%H:%M} was skipped when the clocks went forward that night. Choose another time."
            )
        except hours.TimeTwice:
            if not self.has_error(asked):
                self.add_error(
                    asked, f"{clock:%H:%M} came twice when the clocks went back that night. Say which is meant."
                )
        return None


def second_time(day: date, clock: time, zone: ZoneInfo) -> datetime | None:
    """The second instant at which a wall clock showed this, in the night the clocks went back; None on any other."""
    try:
        hours.on_the_clock(day, clock, zone)
    except hours.TimeTwice:
        return hours.on_the_clock(day, clock, zone, second=True)
    except hours.NoSuchTime:
        pass
    return None


def first_given(*values: int | None) -> int:
    """The first value that was typed, else 0."""
    return next((value for value in values if value is not None), 0)


def initial_for_new(project: Project, person: Person, now: datetime, assembly: str = "") -> dict[str, Any]:
    """What a new session's form says before anything is typed: the last hour up to now, by the person who logs."""
    zone = project.zone
    start, end = (now - timedelta(hours=1)).astimezone(zone), now.astimezone(zone)
    return {
        "request_id": new_key(),
        "assembly": assembly,
        "day": start.date(),
        "started": shown(start),
        "ended": shown(end),
        "start_twice": told_twice(start, zone),
        "end_twice": told_twice(end, zone),
        "people": [person.pk],
        "kind": "labor",
        "work": "",
        "place": project.place,
    }


def initial_of(session: WorkSession) -> dict[str, Any]:
    """What the form of a session that is there says: what everybody shares on top, own times where they differ.

    The end of a timer that ran for more than a day is left open: the clock alone would say another.
    """
    zone = session.project.zone
    start, end = session.started_at.astimezone(zone), session.end.astimezone(zone)
    rows = list(session.people.all())
    common_breaks, common_off = rows[0].break_seconds, rows[0].unattended_seconds
    values: dict[str, Any] = {
        "request_id": session.request_id,
        "day": start.date(),
        "started": shown(start),
        "ended": None if session.too_long else shown(end),
        "start_twice": told_twice(session.started_at, zone),
        "end_twice": told_twice(session.end, zone),
        "breaks": common_breaks // 60 or None,
        "unattended": common_off // 60 or None,
        "people": [row.person_id for row in rows],
        "kind": session.kind,
        "work": session.work,
        "note": session.note,
        "place": session.place,
        "private_note": session.private_note,
    }
    for row in rows:
        if row.started_at != session.started_at:
            values[f"start_{row.person_id}"] = shown(row.started_at.astimezone(zone))
        if row.ended_at != session.ended_at:
            values[f"end_{row.person_id}"] = shown(row.end.astimezone(zone))
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


def told_twice(at: datetime, zone: ZoneInfo) -> str:
    """Which of two equal clock times an instant is; empty where there is only one."""
    local = at.astimezone(zone)
    if local.replace(fold=0).utcoffset() == local.replace(fold=1).utcoffset():
        return ""
    return "second" if local.fold else "first"


class WithdrawForm(forms.Form):
    """The reason for taking something out of the record's totals."""

    reason = forms.CharField(label="Why", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
