"""Pages of the test phase: what it asks, flights with their running total, test points and what was found."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import flights as commands
from certification.forms import flights as forms
from certification.models import Flight, TestPoint
from certification.models.flying import STATEMENTS
from certification.queries import flights as queries
from certification.rules import flights as rules
from certification.rules import inspection_lists as list_rules
from certification.views.inspection_lists import with_reason
from foundation.answer import answer
from foundation.posting import sent, written
from journal.queries.story import told


def flight_found(request: SeatedRequest, key: str) -> Flight:
    """A flight of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_flights(request.seat.project), pk=key)


def point_found(request: SeatedRequest, key: str) -> TestPoint:
    """A test point of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_points(request.seat.project), pk=key)


@require_safe
@for_member()
def flights(request: SeatedRequest, slug: str) -> HttpResponse:
    """The test phase at a glance."""
    return flights_page(request, forms.PointsForm())


def flights_page(request: SeatedRequest, form: forms.PointsForm) -> HttpResponse:
    """The page of the test phase, with the form for points."""
    project = request.seat.project
    now = queries.standing(project)
    context = {
        "now": now,
        "newest_first": now.flights[::-1],
        "form": form,
        "statements": list(queries.statements(project)),
        "statement_kinds": STATEMENTS,
        "due": queries.due(project),
        "due_source": list_rules.DUE_SOURCE,
        "today": timezone.localdate(),
        "history": told(project.pk, now.phase.subject) if now.phase else [],
    }
    return answer(request, "certification/flights.html", context, forms=(form,))


@for_member("edit")
def flight_phase(request: SeatedRequest, slug: str) -> HttpResponse:
    """Say what the test phase asks, and where that stands."""
    project = request.seat.project
    phase = queries.phase(project)
    names = ("hours_asked", "source", "area", "wording")
    if phase:
        form: forms.PhaseForm = forms.CorrectPhaseForm(
            sent(request), initial={name: getattr(phase, name) for name in names}
        )
    else:
        form = forms.PhaseForm(sent(request))
    if written(form, commands.set_phase, by=request.seat.person, project=project):
        messages.success(request, "Kept. Your operating limitations decide.")
        return redirect("certification:flights", slug)
    context = {"form": form, "phase": phase, "hints": rules.HOURS_HINTS, "hints_source": rules.HOURS_SOURCE}
    return answer(request, "certification/flight_phase.html", context, forms=(form,))


# ---- flights ----


@for_member("log")
def flight_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Log a flight."""
    form = forms.FlightForm(
        sent(request), initial={"flown_on": timezone.localdate(), "pilot": request.seat.person.name}
    )
    if made := written(form, commands.log_flight, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made} is logged. Say now what was found at its test points.")
        return redirect("certification:flights", slug)
    return answer(request, "certification/flight_form.html", {"form": form}, forms=(form,))


@require_safe
@for_member()
def flight(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One flight, what was found in it, its history."""
    shown = flight_found(request, key)
    context = {
        "flight": shown,
        "time": rules.clock(shown.minutes),
        "points": [point for point in queries.points(request.seat.project) if point.flight_id == shown.pk],
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "certification/flight.html", context)


@for_member("edit")
def flight_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a flight."""
    shown = flight_found(request, key)
    form = forms.CorrectFlightForm(sent(request), initial=forms.values_of_flight(shown))
    if written(form, commands.correct_flight, by=request.seat.person, flight=shown):
        messages.success(request, f"{shown} is corrected. The old values stay in its history.")
        return redirect("certification:flight", slug, shown.pk)
    return answer(request, "certification/flight_form.html", {"form": form, "flight": shown}, forms=(form,))


@for_member("edit")
def flight_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a flight that was never flown out of the totals."""
    shown = flight_found(request, key)
    return with_reason(
        request,
        lambda **said: commands.withdraw_flight(flight=shown, **said),
        reverse("certification:flight", args=[slug, shown.pk]),
        f"Withdraw {shown}?",
        "It leaves the totals and stays readable with your reason. Its number is not given again.",
        "Withdraw it",
        f"{shown} is withdrawn.",
    )


# ---- test points ----


@require_POST
@for_member("edit")
def test_points_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Plan points, one a line."""
    form = forms.PointsForm(request.POST)
    if made := written(form, commands.plan_points, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{len(made)} test point{'s' if len(made) > 1 else ''} planned.")
        return redirect("certification:flights", slug)
    return flights_page(request, form)


@for_member(post="log")
def test_point(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One point: say what was found; one that is not as it should be becomes a discrepancy."""
    shown = point_found(request, key)
    form = forms.ToldForm(sent(request), project=request.seat.project, point=shown)
    if told_now := written(form, commands.tell_point, by=request.seat.person, point=shown):
        messages.success(request, f"Kept with TP-{told_now.number}.")
        to = "certification:test_point" if told_now.outcome == rules.BAD else "certification:flights"
        return redirect(to, slug, shown.pk) if told_now.outcome == rules.BAD else redirect(to, slug)
    return point_page(request, shown, form)


def point_page(
    request: SeatedRequest,
    shown: TestPoint,
    form: forms.ToldForm,
    make: forms.PointDiscrepancyForm | None = None,
) -> HttpResponse:
    """The page of a point."""
    ask = shown.outcome == rules.BAD and shown.discrepancy is None and not shown.withdrawn
    make = make or (forms.PointDiscrepancyForm(project=request.seat.project) if ask else None)
    context = {
        "point": shown,
        "form": form,
        "make": make,
        "history": told(shown.project_id, shown.subject),
    }
    bad = tuple(one for one in (form, make) if one is not None)
    return answer(request, "certification/test_point.html", context, forms=bad)


@require_POST
@for_member("find")
def test_point_discrepancy(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Make a discrepancy of a point that is not as it should be."""
    shown = point_found(request, key)
    project = request.seat.project
    make = forms.PointDiscrepancyForm(request.POST, project=project)
    if made := written(make, commands.point_discrepancy, by=request.seat.person, point=shown):
        messages.success(request, f"{made.label} is recorded. Decide there what is to become of it.")
        return redirect("certification:test_point", slug, shown.pk)
    return point_page(request, shown, forms.ToldForm(project=project, point=shown), make)


@for_member("edit")
def test_point_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Word a point anew."""
    shown = point_found(request, key)
    form = forms.PointForm(sent(request), initial={"words": shown.words, "limits": shown.limits})
    if written(form, commands.correct_point, by=request.seat.person, point=shown):
        messages.success(request, f"TP-{shown.number} is corrected. The old words stay in its history.")
        return redirect("certification:test_point", slug, shown.pk)
    return answer(request, "certification/test_point_form.html", {"form": form, "point": shown}, forms=(form,))


@for_member("edit")
def test_point_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a point off the list."""
    shown = point_found(request, key)
    return with_reason(
        request,
        lambda **said: commands.withdraw_point(point=shown, **said),
        reverse("certification:test_point", args=[slug, shown.pk]),
        f"Withdraw TP-{shown.number}?",
        "It is not to be flown any more. It stays readable with your reason.",
        "Withdraw it",
        f"TP-{shown.number} is withdrawn.",
    )
