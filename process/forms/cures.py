"""What is typed about a cure run: its start, its specification, its stack, points, and how a log is read."""

from collections.abc import Sequence
from datetime import datetime
from decimal import ROUND_CEILING, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils import timezone

from accounts.models import Project
from calc import quantities as calc
from calc.trouble import Impossible
from foundation.plain_form import PlainForm
from parts.models import Part
from parts.queries import parts_of
from process.commands.cures import Typed, typed_point
from process.forms.common import (
    MomentField,
    NewForm,
    NumberField,
    ProcessForm,
    ToolField,
    reason_field,
    values_of,
    when,
)
from process.forms.quantity import QuantityField
from process.models import Bond, Coupon, CureRun, Layup
from process.rules import cures as rules
from process.rules import log_guess, logs, quantities, words

RATES = {"min": "For each minute", "h": "For each hour"}
MOST_OFFERED = 60
BLANK_ROWS = 6
KEEP_DECIMALS = Decimal("0.00000001")


class DurationField(forms.CharField):
    """A length of time such as 4 h or 90 min, as minutes."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("required", False)
        more.setdefault("max_length", 40)
        more.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "size": 14}))
        super().__init__(**more)

    def clean(self, value: Any) -> Decimal | None:
        typed = super().clean(value)
        if not typed:
            return None
        try:
            minutes = calc.parse(typed, "time").within("min")
        except Impossible as no:
            raise ValidationError(no.sentence, code=no.code) from None
        if minutes <= 0:
            raise ValidationError("It must be more than zero.", code="impossible")
        if minutes >= 999_999:
            raise ValidationError("That is longer than any cure.", code="impossible")
        return quantities.kept(minutes).quantize(Decimal("0.001"))


class ThingsField(forms.MultipleChoiceField):
    """Layups, bonds, coupons and parts that lay in a run."""

    def __init__(self, **more: Any) -> None:
        super().__init__(required=False, **more)
        self.things: dict[str, Any] = {}

    def offer(self, things: Sequence[Any]) -> None:
        self.things = {f"{_kind(thing)}:{thing.pk}": thing for thing in things}
        self.choices = [(key, _said(thing)) for key, thing in self.things.items()]

    def clean(self, value: Any) -> list[Any]:
        return [self.things[key] for key in super().clean(value) if key in self.things]


def _kind(thing: Any) -> str:
    return getattr(thing, "KIND", "part")


def _said(thing: Any) -> str:
    return str(thing) if isinstance(thing, Part) else f"{thing}, {thing.assembly}"


def things_of(run: CureRun | None) -> list[Any]:
    """What lay in a run."""
    rows = run.cured.all() if run is not None else ()
    return [thing for row in rows if (thing := row.layup or row.bond or row.coupon or row.part) is not None]


def offered(project: Project, run: CureRun | None) -> list[Any]:
    """What can have lain in a run: what is in it, and what was not cured yet, newest first."""
    inside = things_of(run)
    keys = {thing.pk for thing in inside}
    found = list(inside)
    for model in (Layup, Bond, Coupon):
        rows = model.objects.standing().filter(project=project).filter(Q(finished_at=None) | Q(cures=None))
        rows = rows.select_related("assembly").order_by("-number").distinct()
        found += [row for row in rows[:MOST_OFFERED] if row.pk not in keys]
    return found


class RunFields(ProcessForm):
    """What every form about a run itself asks for."""

    heat = forms.ChoiceField(label="Heat", choices=list(words.HEAT.items()), widget=forms.RadioSelect)
    setpoint = QuantityField("degc", label="Set to")
    equipment = ToolField("heat", label="Oven, blanket or lamp")
    logger = ToolField("temperature", label="Logger or thermometer")
    vacuum = QuantityField("inhg", label="Bag vacuum", help_text="Below ambient.", zero=True)
    cured = ThingsField(label="What lies in it", widget=forms.CheckboxSelectMultiple)
    cured_parts = ThingsField(label="Parts in it", widget=forms.SelectMultiple(attrs={"size": 6}))
    note = forms.CharField(label="Note", required=False, max_length=20000, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        run = self.record if isinstance(self.record, CureRun) else None
        inside = things_of(run)
        things, parts = self.fields["cured"], self.fields["cured_parts"]
        assert isinstance(things, ThingsField)
        assert isinstance(parts, ThingsField)
        things.offer([one for one in offered(self.project, run) if not isinstance(one, Part)])
        chosen = [one for one in inside if isinstance(one, Part)]
        keys = {one.pk for one in chosen}
        parts.offer([*chosen, *(one for one in parts_of(self.project) if one.pk not in keys)])

    @property
    def values(self) -> dict[str, Any]:
        found = super().values
        found["cured"] = [*found["cured"], *found.pop("cured_parts")]
        return found


class NewRunForm(RunFields, NewForm):
    """A run that starts now, or is written down later."""

    title = forms.CharField(label="What it is", required=False, max_length=120, help_text="Such as post-cure.")
    started_at = MomentField(label="Heat on at", help_text="Empty: now.")
    stopped_at = MomentField(label="Heat off at", help_text="Empty: it still runs.")
    like_last = forms.BooleanField(label="Same specification and stack", required=False, initial=True)

    def __init__(self, *args: Any, last: CureRun | None, **more: Any) -> None:
        super().__init__(*args, **more)
        self.last = last
        if last is None or (last.low is None and not last.source):
            del self.fields["like_last"]
        else:
            self.fields["like_last"].label = f"Same specification and stack as {last.label}"

    @property
    def values(self) -> dict[str, Any]:
        found = super().values
        if found.pop("like_last", False) and self.last is not None:
            found |= {name: getattr(self.last, name) for name in SPECIFIED}
            found["stack"] = [rules.Material(row.name, row.limit, row.source) for row in self.last.stack.all()]
        return found


class CorrectRunForm(RunFields):
    """A run that is put right."""

    title = forms.CharField(label="What it is", required=False, max_length=120)
    started_at = MomentField(label="Heat on at", required=True)
    stopped_at = MomentField(label="Heat off at", help_text="Empty: it still runs.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["reason"] = reason_field(self.record)


SPECIFIED = (
    *("unit", "low", "high", "soak_min", "soak_max", "soak_rule", "peak_max", "ramp_max_per_min"),
    *("cool_max_per_min", "cool_to", "source"),
)


def degrees_field(label: str, **more: Any) -> NumberField:
    return NumberField(label=label, max_digits=8, decimal_places=3, **more)


class SpecForm(ProcessForm):
    """The cure as the maker's own sheet gives it, in the sheet's unit."""

    unit = forms.ChoiceField(
        label="Temperatures are in", choices=list(rules.SIGNS.items()), widget=forms.RadioSelect, initial="C"
    )
    source = forms.CharField(
        label="Where it is from",
        required=False,
        max_length=160,
        help_text="The maker's sheet or the plan.",
    )
    low = degrees_field("Soak from", help_text="The soak counts while the coldest sensor is at or above this.")
    high = degrees_field("Soak to", help_text="Empty: no upper end.")
    soak_min = DurationField(label="Soak at least", help_text="Such as 4 h or 90 min.")
    soak_max = DurationField(label="Soak at most", help_text="Empty: no limit.")
    soak_rule = forms.ChoiceField(
        label="Times in the band",
        choices=[(words.UNBROKEN, "Must be unbroken"), (words.ADDED_UP, "May add up")],
        widget=forms.RadioSelect,
        initial=words.UNBROKEN,
        help_text="They may add up only where the sheet says so.",
    )
    peak_max = degrees_field("Never hotter than", help_text="Empty: no hotter than the upper end of the soak.")
    ramp = NumberField(label="Heat up by at most", max_digits=8, decimal_places=4, min_value=0)
    cool = NumberField(label="Cool down by at most", max_digits=8, decimal_places=4, min_value=0)
    rate_per = forms.ChoiceField(
        label="Degrees", choices=list(RATES.items()), widget=forms.RadioSelect, initial="min", help_text="For both."
    )
    cool_to = degrees_field("Cooling counts down to", help_text="Below this the door may be opened.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        if self.record is not None and self.record.finished_at is not None:
            self.fields["reason"] = reason_field(self.record)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        for name in ("ramp", "cool"):
            if values.get(name) == 0:
                self.add_error(name, "It must be more than zero. Leave it empty where there is no limit.")
        return values

    @property
    def values(self) -> dict[str, Any]:
        found = super().values
        size = 60 if found.pop("rate_per") == "h" else 1
        for name in ("ramp", "cool"):
            rate = found.pop(name)
            # Rounded up: a rate at its limit must not fail by rounding.
            per_minute = None if rate is None else (rate / size).quantize(KEEP_DECIMALS, ROUND_CEILING)
            found[f"{name}_max_per_min"] = per_minute
        return found


def initial_of(run: CureRun) -> dict[str, Any]:
    """What a run has now, for its form."""
    found = values_of(run, ("heat", "setpoint", "equipment", "logger", "vacuum", "note", "title"))
    found |= {"started_at": run.started_at, "stopped_at": run.stopped_at}
    keys = [f"{_kind(thing)}:{thing.pk}" for thing in things_of(run)]
    return found | {"cured": keys, "cured_parts": keys}


def initial_of_spec(run: CureRun) -> dict[str, Any]:
    """What a run's specification is now; small rates for each hour, as home post-cures are written."""
    found = values_of(run, ("unit", "low", "high", "soak_rule", "peak_max", "cool_to", "source"))
    for name in ("soak_min", "soak_max"):
        minutes = getattr(run, name)
        found[name] = "" if minutes is None else f"{minutes.normalize():f} min"
    rates = [rate for rate in (run.ramp_max_per_min, run.cool_max_per_min) if rate is not None]
    per_hour = any(rate < 1 and rate != rate.quantize(Decimal("0.01")) for rate in rates)
    for name in ("ramp", "cool"):
        rate = getattr(run, f"{name}_max_per_min")
        shown = None if rate is None else (rate * 60).quantize(Decimal("0.0001")) if per_hour else rate
        found[name] = "" if shown is None else f"{shown.normalize():f}"
    return found | {"rate_per": "h" if per_hour else "min"}


class RowsForm(ProcessForm):
    """A form with rows of cells, as many as are needed; what was typed stays there, with what is wrong beside it."""

    cells: tuple[str, ...] = ()

    def __init__(self, *args: Any, rows: Sequence[Sequence[str]] = (), run: CureRun, **more: Any) -> None:
        super().__init__(*args, record=run, **more)
        self.run = run
        self.read: list[Any] = []
        if run.finished_at is not None:
            self.fields["reason"] = reason_field(run)
        if self.is_bound:
            lists = [self.data.getlist(name) for name in self.cells]  # type: ignore[attr-defined]
            typed = [tuple(cell.strip() for cell in row) for row in zip(*lists, strict=False)]
            self.rows = typed
        else:
            self.rows = [*(tuple(row) for row in rows), *[("",) * len(self.cells)] * BLANK_ROWS]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        for number, row in enumerate(self.rows, start=1):
            if not any(row):
                continue
            try:
                self.read.append(self.one(row))
            except (ValidationError, Impossible) as no:
                said = no.sentence if isinstance(no, Impossible) else no.message
                self.add_error(None, f"Row {number}: {said}")
        return values

    def one(self, row: Sequence[str]) -> Any:
        """What a row says."""
        raise NotImplementedError


class PointsForm(RowsForm):
    """Temperatures read by hand."""

    cells = ("sensor", "at", "temp")

    def one(self, row: Sequence[str]) -> Typed:
        sensor, at, temp = row
        if not temp:
            raise ValidationError("Write the temperature.")
        if not at:
            raise ValidationError("Write when it was read.")
        try:
            read = datetime.fromisoformat(at)
        except ValueError:
            raise ValidationError(f"“{at[:30]}” is no date and time.") from None
        if read.tzinfo is None:
            read = timezone.make_aware(read)
        return typed_point(sensor[:40] or "Sensor 1", read, temp, self.run.unit)


def rows_of_points(run: CureRun) -> list[tuple[str, str, str]]:
    return [(row.sensor, when(row.at), row.temp) for row in run.points.all()]


class StackForm(RowsForm):
    """What lies in the heated stack, with the most that each bears."""

    cells = ("name", "limit", "limit_source")

    def one(self, row: Sequence[str]) -> rules.Material:
        name, limit, source = row[0][:80], row[1], row[2][:160]
        if not name:
            raise ValidationError("Name the material.")
        if not limit:
            known = rules.built_in(name, self.run.unit)
            if known is None:
                raise ValidationError(f"No limit is known here for “{name}”: take it from its maker's data sheet.")
            return rules.Material(name, known[0], source or known[1])
        found = calc.parse(limit, "temperature", rules.UNITS[self.run.unit], "limit")
        unit = rules.FAHRENHEIT if found.unit == "degF" else rules.CELSIUS
        return rules.Material(name, rules.limit_in(found.value, unit, self.run.unit), source)


def rows_of_stack(run: CureRun) -> list[tuple[str, str, str]]:
    return [(row.name, f"{row.limit.normalize():f} {rules.SIGNS[run.unit]}", row.source) for row in run.stack.all()]


class LogForm(forms.Form):
    """A logger's file, or one that was kept before."""

    file = forms.FileField(label="Logger file", required=False, help_text="CSV or text, as the logger writes it.")
    kept = forms.ChoiceField(label="Or one that is kept already", required=False)

    def __init__(self, *args: Any, documents: Sequence[Any], **more: Any) -> None:
        super().__init__(*args, **more)
        kept = self.fields["kept"]
        assert isinstance(kept, forms.ChoiceField)
        kept.choices = [("", "None"), *((row.pk, str(row)) for row in documents)]
        if not documents:
            del self.fields["kept"]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not values.get("file") and not values.get("kept") and not self.errors:
            self.add_error("file", "Choose the logger's file.")
        return values

    def refuse(self, no: Any) -> None:
        self.add_error("file", no.message)


class MappingForm(PlainForm):
    """How a log is read: guessed, and confirmed by the builder."""

    delimiter = forms.ChoiceField(label="Cells are parted by", choices=list(logs.DELIMITERS.items()))
    decimal = forms.ChoiceField(label="Decimals", choices=list(logs.DECIMALS.items()))
    first = forms.IntegerField(label="Figures begin in line", min_value=1, max_value=100_000)
    time = forms.ChoiceField(label="The time is", choices=list(logs.TIMES.items()))
    time_column = forms.IntegerField(label="Column of the time", min_value=1, max_value=200)
    date_column = forms.IntegerField(label="Column of the date", min_value=1, max_value=200, required=False)
    order = forms.ChoiceField(label="Order of the date", choices=list(logs.ORDERS.items()))
    elapsed = forms.ChoiceField(label="Time since the start is in", choices=list(logs.ELAPSED.items()))
    unit = forms.ChoiceField(label="Temperatures are in", choices=list(rules.SIGNS.items()), widget=forms.RadioSelect)
    ramp_over = NumberField(
        label="Measure ramps over, minutes",
        min_value=0,
        max_value=240,
        max_digits=6,
        decimal_places=2,
        help_text="Zero: from reading to reading. A fast logger shows its own noise as steep ramps.",
    )
    take_times = forms.BooleanField(label="Take start and end of the run from the log", required=False, initial=True)

    def __init__(self, *args: Any, guess: log_guess.Guess, run: CureRun, **more: Any) -> None:
        reading = guess.reading
        more.setdefault(
            "initial",
            reading.as_json()
            | {
                "first": reading.first + 1,
                "time_column": reading.time_column + 1,
                "date_column": reading.date_column + 1,
                "ramp_over": f"{reading.ramp_over:g}",
            },
        )
        super().__init__(*args, **more)
        self.guess = guess
        if run.finished_at is not None:
            self.fields["reason"] = reason_field(run)
        chosen = {one.column: one for one in reading.sensors}
        self.columns = []
        for column in guess.columns:
            at = column.number
            taken = chosen.get(at)
            self.fields[f"take_{at}"] = forms.BooleanField(
                label=f"Column {at + 1} is a temperature", required=False, initial=taken is not None
            )
            self.fields[f"name_{at}"] = forms.CharField(
                label=f"Name of column {at + 1}",
                required=False,
                max_length=40,
                initial=taken.name if taken else column.name[:40],
            )
            self.fields[f"place_{at}"] = forms.CharField(
                label=f"Where the sensor of column {at + 1} sat",
                required=False,
                max_length=60,
                initial=taken.place if taken else "",
            )
            self.columns.append((column, self[f"take_{at}"], self[f"name_{at}"], self[f"place_{at}"]))

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        sensors, names = [], set()
        for column, *_ in self.columns:
            at = column.number
            if not values.get(f"take_{at}"):
                continue
            name = values.get(f"name_{at}") or f"Sensor {at + 1}"
            if name in names:
                self.add_error(f"name_{at}", f"Two columns are called {name}. Give each its own name.")
            names.add(name)
            sensors.append(logs.Sensor(at, name, values.get(f"place_{at}", "")))
        if not sensors:
            self.add_error(None, "Choose at least one column of temperatures.")
        self.sensors = tuple(sensors)
        return values

    @property
    def reading(self) -> logs.Reading:
        """The way of reading that was confirmed."""
        said = self.cleaned_data
        return logs.Reading(
            delimiter=said["delimiter"],
            decimal=said["decimal"],
            first=said["first"] - 1,
            header=self.guess.reading.header,
            time=said["time"],
            time_column=said["time_column"] - 1,
            date_column=(said["date_column"] or 1) - 1,
            order=said["order"],
            elapsed=said["elapsed"],
            unit=said["unit"],
            sensors=self.sensors,
            ramp_over=float(said["ramp_over"] or 0),
        )


def as_remembered(guess: log_guess.Guess, kept: dict[str, Any] | None) -> log_guess.Guess:
    """A guess with what was confirmed for the last log of the same logger, where its columns are the same."""
    if not kept:
        return guess
    reading = logs.Reading.from_json(kept | {"first": guess.reading.first})
    columns = {column.number for column in guess.columns}
    same = reading.delimiter == guess.reading.delimiter and reading.time == guess.reading.time
    if not same or any(one.column not in columns for one in reading.sensors):
        return guess
    return log_guess.Guess(reading, guess.columns, guess.lines, guess.rows, ())
