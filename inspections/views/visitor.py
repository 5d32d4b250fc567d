"""The pages that a visitor opens by his link: no account, no frame of the members, nothing outside of his visit."""

from typing import Any

from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from evidence import queries as evidence
from evidence.commands import TakenIn, draw_now, take_in_many
from foundation.answer import answer
from foundation.refusal import Refusal
from foundation.sending import send_file
from inspections import access
from inspections.access import VisitRequest, for_visitor, has_opened, remember
from inspections.commands import visits as commands
from inspections.forms import visits as forms
from inspections.queries import discrepancies as found
from inspections.queries import visits as queries
from inspections.queries.visits import Thing
from inspections.rules.visits import device_words

EXTENT = "Inspection before closing, of what is listed here"
# A picture stays with the visitor's browser for a while, so that a poor link carries it once.
A_WHILE = "private, max-age=3600"


def nothing(request: VisitRequest) -> HttpResponseBase:
    """Whatever is asked for below the visits and is no address of theirs."""
    return access.sealed(access.nothing(request))


nothing.csrf_exempt = True  # type: ignore[attr-defined]  # a form sent nowhere gets the same answer


@for_visitor("GET", cover=True)
def cover(request: VisitRequest) -> HttpResponse:
    """What a link shows before it is opened. Programs that look at links see this page, and it tells nothing."""
    if has_opened(request, request.visit):
        return home_of(request)
    return answer(request, "inspections/visitor/cover.html", {"token": request.token})


@for_visitor("POST", cover=True)
def opened(request: VisitRequest) -> HttpResponse:
    """Open the visit in this browser; the first time it is kept in the journal."""
    if has_opened(request, request.visit):
        return home_of(request)
    device = device_words(request.headers.get("User-Agent", ""))
    try:
        commands.opened(visit=request.visit, at=timezone.now(), device=device)
    except Refusal:
        raise Http404 from None
    response = home_of(request)
    remember(response, request.visit, request.token)
    return response


def home_of(request: VisitRequest) -> HttpResponse:
    return redirect("visitor:home", request.token)


@for_visitor("GET")
def home(request: VisitRequest) -> HttpResponse:
    """What this is, for whom and until when; what is asked of him; what there is to look at."""
    visit = request.visit
    things = queries.things(visit)
    context = framed(request) | {
        "things": things,
        "remarks": found.judged(visit.project, queries.remarks(visit)),
        "signed": [(one, given) for one in things for given in one.signed],
        "unsigned": [one for one in things if not one.done],
    }
    return answer(request, "inspections/visitor/home.html", context)


def framed(request: VisitRequest) -> dict[str, Any]:
    """What stands on every page of a visit."""
    return {"visit": request.visit, "token": request.token, "project": request.visit.project}


def one_of(request: VisitRequest, kind: str, key: str) -> Thing:
    """A thing of this visit, or the one answer."""
    one = queries.thing(request.visit, kind, key)
    if one is None:
        raise Http404
    return one


@for_visitor("GET")
def thing(request: VisitRequest, kind: str, key: str) -> HttpResponse:
    """One area or point with all that is recorded of it, to be looked at and remarked on."""
    one = one_of(request, kind, key)
    return answer(request, "inspections/visitor/thing.html", thing_context(request, one))


def thing_context(request: VisitRequest, one: Thing) -> dict[str, Any]:
    """What the page of one thing shows."""
    visit = request.visit
    return framed(request) | {
        "one": one,
        "found": found.judged(visit.project, queries.discrepancies(visit, [one])),
        "holds": queries.holds_beside(visit, one) if one.kind == queries.AREA else [],
    }


@for_visitor("POST")
def look(request: VisitRequest) -> HttpResponse:
    """Save one tap: seen, could not be reached and why, or not said. For htmx the piece alone."""
    form = forms.LookForm(request.POST)
    things = queries.things(request.visit)
    named = {name: (one, label) for one in things for name, label in one.names().items()}
    about = named.get(request.POST.get("thing", ""))
    if about is None or not form.is_valid():
        raise Http404
    one, label = about
    wrong = ""
    values = form.cleaned_data
    try:
        commands.look(visit=request.visit, at=timezone.now(), label=label, **values)
    except Refusal as no:
        wrong = no.message
    if not request.htmx and not wrong:
        return redirect(address(request, one) + f"#{values['thing'].partition(':')[2]}")
    one = one_of(fresh(request), one.kind, one.key)
    context = framed(request) | {"wrong": wrong, "typed": values["words"] if wrong else ""}
    if request.htmx:
        row = next((row for row in one.rows if row["subject"] == values["thing"]), None)
        context |= {
            "about": values["thing"],
            "id": f"{values['thing'].partition(':')[2]}-look",
            "label": row["line"].requirement.words if row else one.label,
            "said": one.looks.get(values["thing"]),
        }
        response = answer(request, "inspections/visitor/_look.html", context)
    else:
        context |= thing_context(request, one) | {"wrong_about": values["thing"]}
        response = answer(request, "inspections/visitor/thing.html", context)
    response.status_code = 422 if wrong else 200
    return response


def fresh(request: VisitRequest) -> VisitRequest:
    """The request with its visit read again, after something was written."""
    request.visit = queries.by_token(request.token) or request.visit
    return request


def address(request: VisitRequest, one: Thing) -> str:
    return reverse("visitor:thing", args=[request.token, one.kind, one.key])


@for_visitor("GET", "POST")
def remark(request: VisitRequest, kind: str, key: str) -> HttpResponse:
    """Say what was found: it becomes a discrepancy under its own number."""
    one, visit, at = one_of(request, kind, key), request.visit, timezone.now()
    data = request.POST if request.method == "POST" else None
    form = forms.RemarkForm(data, about=one, initial={"item": request.GET.get("item", "")})
    if data is not None and form.is_valid():
        taken = pictures(request)
        if taken.refused:
            form.add_error(None, " ".join(taken.refused))
        else:
            values = {name: form.cleaned_data[name] for name in ("words", "severity", "blocks")}
            try:
                commands.remark(visit=visit, at=at, about=one, label=form.label, photos=taken.photos, **values)
            except Refusal as no:
                forms.refuse(form, no)
            else:
                return redirect(address(request, one) + "#found")
    context = framed(request) | {"form": form, "one": one, "most": forms.MOST_REMARK_PHOTOS}
    return answer(request, "inspections/visitor/remark.html", context, forms=(form,))


def pictures(request: VisitRequest) -> TakenIn:
    """The photos sent along with a remark, taken into the record as sent by the visitor; none but pictures."""
    files = request.FILES.getlist("new_photos")
    if len(files) > forms.MOST_REMARK_PHOTOS:
        return TakenIn([], set(), [f"Send at most {forms.MOST_REMARK_PHOTOS} photos with one remark."])
    if any((one.content_type or "").split("/")[0] in {"video", "audio"} for one in files):
        return TakenIn([], set(), ["Send photos, no video or sound."])
    return take_in_many(by=request.visit.person, at=timezone.now(), project=request.visit.project, files=files)


@for_visitor("GET", "POST")
def sign(request: VisitRequest) -> HttpResponse:
    """Show exactly what the signature covers; sign it, accepted or not."""
    visit, at = request.visit, timezone.now()
    things = queries.things(visit)
    wanted = request.GET.get("thing", "")
    offered = [one for one in things if not one.done and wanted in {"", f"{one.kind}:{one.key}"}]
    if not offered:
        return home_of(request)
    data = request.POST if request.method == "POST" else None
    form = forms.VisitorSignForm(data, offered=offered, initial=initial(request))
    if data is not None and form.is_valid():
        values = form.cleaned_data
        try:
            commands.sign(
                visit=visit,
                at=at,
                chosen=form.chosen,
                accepted=form.accepted,
                reason="" if form.accepted else values["reason"],
                strokes=[] if values["typed"] else values["strokes"],
                place=visit.project.place,
                **form.signer,
            )
        except Refusal as no:
            forms.refuse(form, no)
            offered = [queries.thing(fresh(request).visit, one.kind, one.key) or one for one in offered]
        else:
            return redirect(reverse("visitor:home", args=[request.token]) + "#signed")
    rows = [
        {
            "one": one,
            "name": f"{one.kind}:{one.key}",
            "picked": f"{one.kind}:{one.key}" in form.picked,
            "seen": one.seen,
            "statement": commands.statement_of(one.kind, accepted=True),
        }
        for one in offered
    ]
    context = framed(request) | {
        "form": form,
        "rows": rows,
        "statements": list(dict.fromkeys(row["statement"] for row in rows)),
        "declined": list(dict.fromkeys(commands.statement_of(one.kind, accepted=False) for one in offered)),
        "acceptable": [one for one in offered if not one.lacks and not one.closing],
        "wanted": wanted,
    }
    return answer(request, "inspections/visitor/sign.html", context, forms=(form,))


def initial(request: VisitRequest) -> dict[str, str]:
    """What is known of the visitor already: from the people of the project, and from what he signed before."""
    person = request.visit.person
    known = {
        "name": person.name,
        "certificate_kind": person.certificate_kind,
        "certificate_number": person.certificate_number,
        "extent": EXTENT,
    }
    last = queries.signatures(request.visit).last()
    if last is None:
        return known
    again = ("name", "certificate_kind", "certificate_number", "extent", "capacity", "time_in_service")
    return known | {name: getattr(last, name) for name in again}


@for_visitor("GET", "POST")
def end(request: VisitRequest) -> HttpResponse:
    """The visitor says that he is done."""
    if request.method == "POST":
        try:
            commands.end_visit(visit=request.visit, at=timezone.now())
        except Refusal:
            raise Http404 from None
        return redirect("visitor:cover", request.token)
    unsigned = [one for one in queries.things(request.visit) if not one.done]
    return answer(request, "inspections/visitor/end.html", framed(request) | {"unsigned": unsigned})


@for_visitor("GET")
def photo(request: VisitRequest, key: str) -> HttpResponse:
    """One photo large, with its marks and all that is known of its time."""
    shown = list(queries.photos_in_scope(request.visit).prefetch_related("marks"))
    place = next((number for number, one in enumerate(shown) if one.pk == key), None)
    if place is None:
        raise Http404
    context = framed(request) | {
        "photo": shown[place],
        "before": shown[place - 1] if place else None,
        "after": shown[place + 1] if place + 1 < len(shown) else None,
        "place": place + 1,
        "count": len(shown),
    }
    return answer(request, "inspections/visitor/photo.html", context)


@for_visitor("GET")
def rendition(request: VisitRequest, key: str, size: int) -> HttpResponseBase:
    """A drawn picture of a photo of this visit, without the location that its original may hold."""
    shown = get_object_or_404(queries.photos_in_scope(request.visit), pk=key)
    if size not in evidence.SIZES or shown.is_clip:
        raise Http404
    if not evidence.has_rendition(shown, size) and not draw_now(shown):
        raise Http404
    path = evidence.rendition_path(shown.digest, size)
    return send_file(request, path, etag=f"{shown.digest}-{size}", content_type="image/jpeg", cache=A_WHILE)
