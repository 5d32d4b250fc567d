"""Reads about the test phase: flights with their running total, points, statements, and what is due when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max, QuerySet

from accounts.models import Project
from certification.models import Flight, Inspection, Statement, TestPhase, TestPoint
from certification.models.flying import OUTCOMES, STATEMENTS, WORDINGS
from certification.queries import inspection_lists
from certification.rules import flights as rules
from certification.rules import inspection_lists as list_rules
from certification.rules import statements as statement_rules
from inspections.models import Discrepancy


def flights(project: Project) -> QuerySet[Flight]:
    """The flights that stand, in the order in which they were flown."""
    return all_flights(project).filter(withdrawn_at__isnull=True)


def all_flights(project: Project) -> QuerySet[Flight]:
    """Every flight, withdrawn ones too."""
    return Flight.objects.filter(project=project).select_related("entered_by", "project")


def points(project: Project) -> QuerySet[TestPoint]:
    """The test points that stand, by number."""
    return all_points(project).filter(withdrawn_at__isnull=True)


def all_points(project: Project) -> QuerySet[TestPoint]:
    """Every test point, withdrawn ones too."""
    return TestPoint.objects.filter(project=project).select_related("flight", "discrepancy", "project")


def statements(project: Project) -> QuerySet[Statement]:
    """The statements that stand, newest first."""
    return all_statements(project).filter(withdrawn_at__isnull=True)


def all_statements(project: Project) -> QuerySet[Statement]:
    """Every statement, withdrawn ones too."""
    return Statement.objects.filter(project=project).select_related("document", "entered_by", "project")


def phase(project: Project) -> TestPhase | None:
    """What the test phase asks, once it was set up."""
    return TestPhase.objects.standing().filter(project=project).select_related("project").first()


def next_flight(project: Project) -> int:
    return (Flight.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def next_point(project: Project) -> int:
    return (TestPoint.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def points_about(project: Project, discrepancy: Discrepancy) -> list[TestPoint]:
    """The test points that led to a discrepancy."""
    return list(points(project).filter(discrepancy=discrepancy))


@dataclass(frozen=True)
class Logged:
    """A flight with the total after it and the points that were found in it."""

    flight: Flight
    total: int
    points: tuple[TestPoint, ...]

    @property
    def time(self) -> str:
        return rules.clock(self.flight.minutes)

    @property
    def total_words(self) -> str:
        return rules.clock(self.total)


@dataclass(frozen=True)
class Standing:
    """The test phase as it stands."""

    phase: TestPhase | None
    flights: tuple[Logged, ...]
    points: tuple[TestPoint, ...]
    progress: rules.Progress


def standing(project: Project) -> Standing:
    """Flights, points and progress: three queries, however much was flown."""
    asked, flown, found = phase(project), list(flights(project)), list(points(project))
    totals = rules.running(flight.minutes for flight in flown)
    logged = tuple(
        Logged(flight, total, tuple(point for point in found if point.flight_id == flight.pk))
        for flight, total in zip(flown, totals, strict=True)
    )
    return Standing(asked, logged, tuple(found), progress_of(asked, flown, found))


def progress(project: Project) -> rules.Progress:
    """Progress alone."""
    return progress_of(phase(project), list(flights(project)), list(points(project)))


def progress_of(asked: TestPhase | None, flown: Iterable[Flight], found: Iterable[TestPoint]) -> rules.Progress:
    """Hours against hours asked, and points by what came of them."""
    flown, found = list(flown), list(found)
    return rules.Progress(
        flown=sum(flight.minutes for flight in flown),
        flights=len(flown),
        landings=sum(flight.landings for flight in flown),
        asked=asked.hours_asked if asked else None,
        points=len(found),
        good=sum(point.outcome == rules.GOOD for point in found),
        again=sum(point.outcome == rules.AGAIN for point in found),
        bad=sum(point.outcome == rules.BAD for point in found),
    )


def due(project: Project) -> inspection_lists.Due | None:
    """When the next condition inspection is due; none until there was an inspection to reckon from."""
    done = Inspection.objects.standing().filter(project=project, finished_at__isnull=False, done_on__isnull=False)
    rows = [(kind, day) for kind, day in done.values_list("kind", "done_on") if day]
    entered = Statement.objects.standing().filter(project=project, kind=statement_rules.CONDITION)
    rows += [(list_rules.CONDITION, day) for day in entered.values_list("made_on", flat=True)]
    last = inspection_lists.last_looked(rows)
    if last is None:
        return None
    on = list_rules.due_after(last[0])
    assert on is not None
    return inspection_lists.Due(on, list_rules.end_of_that_month(on), *last)


def dates(project: Project) -> list[tuple[date, str]]:
    """What the calendar is told of: each day with its words."""
    next_due = due(project)
    if next_due is None:
        return []
    since = f"{next_due.since:%-d %b %Y}"
    words = f"Condition inspection due (12 months after {next_due.from_words} on {since}; your limitations decide)"
    return [(next_due.on, words)]


def flights_facts(project: Project) -> dict[str, Any]:
    """The test phase for the printed record."""
    now = standing(project)
    asked = now.phase
    return {
        "asked": f"{asked.hours_asked.normalize():f}" if asked else "",
        "asked_source": asked.source if asked else "",
        "area": asked.area if asked else "",
        "wording": asked.wording if asked else "",
        "flown": now.progress.flown_words,
        "landings": now.progress.landings,
        "flights": [
            {
                "label": row.flight.label,
                "flown_on": row.flight.flown_on.isoformat(),
                "pilot": row.flight.pilot,
                "time": row.time,
                "total": row.total_words,
                "landings": row.flight.landings,
                "weight": row.flight.weight,
                "arm": row.flight.arm,
                "note": row.flight.note,
                "points": [f"TP-{point.number}" for point in row.points],
            }
            for row in now.flights
        ],
        "points": [
            {
                "label": f"TP-{point.number}",
                "words": point.words,
                "limits": point.limits,
                "outcome": OUTCOMES[point.outcome],
                "found": point.found,
                "flight": point.flight.label if point.flight else "",
                "discrepancy": point.discrepancy.label if point.discrepancy else "",
            }
            for point in now.points
        ],
        "statements": [statement_facts(one) for one in reversed(statements(project))],
        "dates": [{"on": day.isoformat(), "words": words} for day, words in dates(project)],
    }


def elements_of(one: Statement) -> list[str]:
    """The elements that a statement was made with, in words."""
    return [
        element.words
        for element in statement_rules.ELEMENTS[one.kind]
        if not element.tick or element.key in one.elements
    ]


def statement_facts(one: Statement) -> dict[str, Any]:
    """One statement as JSON values."""
    return {
        "kind": STATEMENTS[one.kind],
        "made_on": one.made_on.isoformat(),
        "text": one.text,
        "wording": WORDINGS[one.wording],
        "elements": elements_of(one),
        "hours": "" if one.hours is None else f"{one.hours:f}",
        "figures": {name: getattr(one, name) for name in ("vso", "vx", "vy", "weight", "arm")},
        "document": str(one.document) if one.document else "",
        "entered_by": one.entered_by.name,
    }
