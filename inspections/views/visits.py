"""The builder's pages of visits: links made, given once, taken back; and pages that were signed in ink."""

import secrets
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from accounts.access import SeatedRequest, for_member
from accounts.models import Person
from evidence import commands as evidence
from evidence import queries as photos
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from inspections.commands import visits as commands
from inspections.forms import areas as area_forms
from inspections.forms import visits as forms
from inspections.models import Visit
from inspections.pages import visit_link, visit_sheet
from inspections.queries import discrepancies, gates, points
from inspections.queries import visits as queries
from inspections.queries.visits import AREA, POINT, Thing
from inspections.rules import visits as rules
from journal.models import Signature
from journal.queries.story import told

TOKEN_BYTES = 32
ASKED = "Look at the work and at this record, and sign."


@for_member("manage")
def visits(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every visit: those whose link opens, then those that are over."""
    now = timezone.now()
    rows = [(one, words_of(one, now)) for one in queries.visits(request.seat.project)]
    groups = [
        ("Open", [row for row in rows if queries.standing(row[0], now) == rules.OPEN]),
        ("Over", [row for row in rows if queries.standing(row[0], now) != rules.OPEN]),
    ]
    return answer(request, "inspections/visits.html", {"groups": [group for group in groups if group[1]]})


def words_of(visit: Visit, now: Any) -> str:
    """How the link of a visit stands, in words."""
    if visit.revoked_at:
        return f"Taken back {local(visit.revoked_at)}"
    if visit.ended_at:
        return f"Ended {local(visit.ended_at)}"
    return f"{'Open until' if visit.expires_at > now else 'Ran out'} {local(visit.expires_at)}"


def local(at: Any) -> str:
    return f"{timezone.localtime(at):%-d %b %Y, %H:%M}"


@for_member("manage")
@never_cache
def visit_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Make a link for somebody to look at chosen areas and points. It is shown once."""
    seat, now = request.seat, timezone.now()
    areas = [one.area for one in gates.judged(seat.project) if not one.closing]
    spots = [one.point for one in points.judged(seat.project)]
    form = forms.VisitForm(sent(request), project=seat.project, areas=areas, points=spots, initial=asked_for(request))
    if request.method == "POST" and form.is_valid():
        token = secrets.token_urlsafe(TOKEN_BYTES)
        try:
            visit = commands.make_visit(by=seat.person, at=now, project=seat.project, token=token, **form.wanted(now))
        except Refusal as no:
            forms.refuse(form, no)
        else:
            return made(request, visit, token)
    context = {"form": form, "nothing": not areas and not spots}
    return answer(request, "inspections/visit_form.html", context, forms=(form,))


def asked_for(request: SeatedRequest) -> dict[str, Any]:
    """What is chosen already: things named in the address, or all that an earlier visit was about."""
    chosen: dict[str, Any] = {
        "areas": request.GET.getlist("area"),
        "points": request.GET.getlist("point"),
        "days": rules.USUAL_DAYS,
        "purpose": ASKED,
    }
    like = queries.visits(request.seat.project).filter(pk=request.GET.get("like", "")).first()
    if like is None:
        people = list(queries.inspectors(request.seat.project)[:2])
        return chosen | {"person": people[0].pk if len(people) == 1 else "" if people else forms.SOMEBODY_NEW}
    return chosen | {
        "areas": [one.area_id for one in like.visit_areas.all()],
        "points": [one.point_id for one in like.visit_points.all()],
        "person": like.person_id,
        "purpose": like.purpose,
        "note": like.note,
    }


def made(request: SeatedRequest, visit: Visit, token: str) -> HttpResponse:
    """The page that shows a link, this once."""
    path = reverse("visitor:cover", args=[token])
    address = request.build_absolute_uri(path)
    context = {
        "visit": visit,
        "address": address,
        "path": path,
        "code": visit_link.draw_code(address),
        "only_here": request.get_host().split(":")[0] in {"localhost", "127.0.0.1"},
    }
    return answer(request, "inspections/visit_made.html", context)


@for_member("manage")
def visit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One visit: who opened it when, what he saw, remarked and signed; and the way to take its link back."""
    shown = found(request, key)
    things = queries.things(shown)
    context = {
        "visit": shown,
        "words": words_of(shown, timezone.now()),
        "open": queries.standing(shown, timezone.now()) == rules.OPEN,
        "things": things,
        "looks": sorted(queries.latest_looks(shown).values(), key=lambda one: one.at),
        "remarks": discrepancies.judged(shown.project, queries.remarks(shown)),
        "signed": [(one, given) for one in things for given in one.signed],
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "inspections/visit.html", context)


def found(request: SeatedRequest, key: str) -> Visit:
    """A visit of this project."""
    return get_object_or_404(queries.visits(request.seat.project), pk=key)


@for_member("manage")
def visit_revoke(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a link back, with a reason."""
    shown = found(request, key)
    form = area_forms.ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            commands.revoke(by=request.seat.person, at=timezone.now(), visit=shown, **form.cleaned_data)
        except Refusal as no:
            forms.refuse(form, no)
        else:
            messages.success(request, f"The link of {shown.label} opens nothing any more.")
            return redirect("inspections:visit", slug, shown.pk)
    return answer(request, "inspections/visit_revoke.html", {"form": form, "visit": shown}, forms=(form,))


# ---- signed in ink ----


def thing_of(request: SeatedRequest, kind: str, key: str) -> Thing:
    """An area or a point of this project, judged."""
    project = request.seat.project
    if kind == AREA:
        area = get_object_or_404(gates.areas(project), pk=key)
        return Thing(AREA, gates.judged(project, [area])[0], {}, ())
    if kind == POINT:
        point = get_object_or_404(points.points(project), pk=key)
        return Thing(POINT, points.judged(project, [point])[0], {}, ())
    raise Http404


@for_member("manage")
def ink_sheet(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """The page to print and to have signed in ink."""
    one = thing_of(request, kind, key)
    accepted, declined = (commands.statement_of(one.kind, accepted=yes) for yes in (True, False))
    content = visit_sheet.draw(
        project=request.seat.project, thing=one, accepted=accepted, declined=declined, printed=timezone.localtime()
    )
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="sign-{one.row.pk}.pdf"'
    response["Cache-Control"] = "no-store"
    return response


@for_member("manage")
def ink(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Take a page that was signed in ink: its photo, and what stands on it."""
    one, seat, now = thing_of(request, kind, key), request.seat, timezone.now()
    files = request.FILES if request.method == "POST" else None
    people = list(queries.inspectors(seat.project))
    start = {"extent": "Inspection before closing, of what is listed on the page"} | known(people)
    form = forms.InkForm(sent(request), files, project=seat.project, initial=start)
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        accepted = values["outcome"] == "accepted"
        try:
            page, _ = evidence.take_in(
                by=seat.person,
                at=now,
                project=seat.project,
                file=values["page"],
                name=values["page"].name or "",
                places=[one.row.assembly],
                caption=f"Page signed in ink: {one.label}"[:300],
            )
            given = commands.sign_in_ink(
                by=seat.person,
                at=now,
                person=form.people[values["person"]],
                thing=one,
                page=page,
                number=values["number"],
                signed_on=values["signed_on"],
                accepted=accepted,
                reason="" if accepted else values["reason"],
                place=seat.project.place,
                **form.signer,
            )
        except Refusal as no:
            forms.refuse(form, no)
        else:
            messages.success(request, f"The page signed by {given.name} stands with {one.number}.")
            return redirect(f"inspections:{kind}", slug, key)
    return answer(request, "inspections/ink.html", {"form": form, "one": one, "people": people}, forms=(form,))


def known(people: list[Person]) -> dict[str, str]:
    """What is known of the only inspector there is."""
    if len(people) != 1:
        return {}
    one = people[0]
    return {
        "person": one.pk,
        "name": one.name,
        "certificate_kind": one.certificate_kind,
        "certificate_number": one.certificate_number,
    }


@for_member()
def signed_page(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The page of the photo of a page that was signed in ink."""
    signature = get_object_or_404(Signature, pk=key, project=request.seat.project.pk)
    photo = get_object_or_404(photos.all_photos(request.seat.project), digest=signature.ink)
    return redirect("evidence:photo", slug, photo.pk)
