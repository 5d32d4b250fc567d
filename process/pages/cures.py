"""The verdict of a cure run, made from its record, its points and its log; it can be made again at any time."""

from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from calc.units import convert
from evidence.models import Document
from foundation.refusal import Refusal
from process.models import CureRun
from process.queries import cures as queries
from process.queries import own
from process.rules import cures, log_cells, logs, quantities
from process.rules.usual import Own, usual
from process.rules.words import ADDED_UP

# What a verdict depends on, of the run itself.
FIELDS = (
    *("unit", "low", "high", "soak_min", "soak_max", "soak_rule", "peak_max", "ramp_max_per_min"),
    *("cool_max_per_min", "cool_to", "source", "vacuum", "mapping"),
)


def inputs(run: CureRun, known: Own | None = None) -> dict[str, Any]:
    """Everything that the verdict of a run depends on."""
    least = usual("vacuum_least_inhg", own.own_values(run.project) if known is None else known)
    return {
        **{name: _plain(getattr(run, name)) for name in FIELDS},
        "started": run.started_at.isoformat(),
        "over": run.stopped_at is not None or run.finished_at is not None,
        "log": run.log.digest if run.log else "",
        "zone": run.project.time_zone,
        "points": [] if run.log else [[row.sensor, row.at.isoformat(), row.temp] for row in queries.points(run)],
        "stack": [[row.name, _plain(row.limit), row.source] for row in queries.stack(run)],
        "areas": [layup.area for layup in queries.layups_in(run)],
        "vacuum_least": [str(least.value), least.source],
    }


def _plain(value: Any) -> Any:
    return format(value.normalize(), "f") if isinstance(value, Decimal) else value


def basis(run: CureRun, known: Own | None = None) -> str:
    """By what a kept verdict is known to be of the record as it is now."""
    return cures.basis(inputs(run, known))


def spec(run: CureRun, known: Own | None = None) -> cures.Spec:
    """What the run has to keep to."""
    least = usual("vacuum_least_inhg", own.own_values(run.project) if known is None else known)
    areas = [quantities.exact(layup.area, "m2") for layup in queries.layups_in(run)]
    square_meters = sum(area for area in areas if area is not None)
    vacuum = quantities.exact(run.vacuum, "inhg")
    return cures.Spec(
        unit=run.unit,
        low=run.low,
        high=run.high,
        soak_min=run.soak_min,
        soak_max=run.soak_max,
        added_up=run.soak_rule == ADDED_UP,
        peak_max=run.peak_max,
        ramp_max=run.ramp_max_per_min,
        cool_max=run.cool_max_per_min,
        cool_to=run.cool_to,
        source=run.source,
        stack=tuple(cures.Material(row.name, row.limit, row.source) for row in queries.stack(run)),
        over=run.stopped_at is not None or run.finished_at is not None,
        ramp_over=float(run.mapping.get("ramp_over", 0)) if run.log else 0.0,
        area_ft2=float(convert(square_meters, "m2", "ft2")) if square_meters else 0.0,
        vacuum_inhg=vacuum,
        vacuum_least=least.value,
        vacuum_source=least.source,
    )


def read_log(document: Document, reading: logs.Reading, zone: ZoneInfo, started: datetime) -> logs.Log:
    """Read a kept logger file."""
    return logs.read(log_cells.decode(queries.log_bytes(document)), reading, zone, started)


def judged(run: CureRun, log: logs.Log | None = None, known: Own | None = None) -> cures.Judged:
    """Judge a run by all its points. A log that cannot be read any more is said, never passed over."""
    zone = ZoneInfo(run.project.time_zone)
    asked = spec(run, known)
    if run.log is not None:
        try:
            log = log or read_log(run.log, logs.Reading.from_json(run.mapping), zone, run.started_at)
        except Refusal as no:
            return cures.unread(no.message)
        sensors = [
            cures.sensed(track.name, track.place, track.minutes, track.degrees, log.unit, run.unit)
            for track in log.tracks
        ]
        found = cures.judge(sensors, asked, log.starts, zone)
        found.notes = [*log.notes, *found.notes]
        found.interval = log.interval
        return found
    starts, sensors = typed(run)
    return cures.judge(sensors, asked, starts, zone)


def typed(run: CureRun) -> tuple[datetime, list[cures.Sensed]]:
    """Points that were typed, as sensors; one with a single point says nothing of a cure."""
    rows = list(queries.points(run))
    if not rows:
        return run.started_at, []
    starts = min(row.at for row in rows)
    by_sensor: dict[str, tuple[list[float], list[float]]] = {}
    for row in rows:
        minutes, temps = by_sensor.setdefault(row.sensor, ([], []))
        minutes.append((row.at - starts).total_seconds() / 60)
        temps.append(in_unit(row.temp, run.unit))
    return starts, [
        cures.Sensed(name, "", cures.Points(minutes, temps))
        for name, (minutes, temps) in by_sensor.items()
        if len(minutes) >= 2
    ]


def in_unit(text: str, unit: str) -> float:
    """A temperature as it was typed, exactly, in the unit of the run."""
    exact = quantities.size(text, "degc")
    return round(float(convert(exact, "degC", cures.UNITS[unit])), cures.SENSOR_DIGITS)


def standing(run: CureRun, known: Own | None = None) -> cures.Judged:
    """The kept verdict of a run if it is of the record as it is now; else one made anew.

    `known` are the project's own values, where the caller has them at hand.
    """
    kept = run.verdict
    if kept and kept.get("basis") == basis(run, known):
        return cures.Judged.from_json(kept)
    return judged(run, known=known)
