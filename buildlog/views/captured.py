"""What phones capture: what they may know, and taking it in, each thing exactly once.

A phone believes an answer only if it repeats the request's id, and for a photo its digest.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.forms import Form
from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST

from accounts.access import SeatedRequest, for_member
from buildlog import commands, forms, queries
from buildlog.access import TAKERS
from buildlog.commands import Capture
from buildlog.forms import captured as parse
from buildlog.models import Receipt, WorkSession
from buildlog.views.sessions import may_change
from evidence import commands as evidence
from evidence import queries as photos
from evidence import rules as limits
from evidence.models import Photo
from foundation.answer import in_json
from foundation.refusal import Refusal

# What a refusal means to a sender: try again when the rest has come, send the bytes again, give up on a size.
STATUS = {"not_yet": 425, "digest_differs": 409, "gap": 409, "too_large": 413}
ASKED_AT_ONCE = 200
OWN_FIELDS = frozenset({"request_id", "happened_at", "sent_at", "ahead", "person", "session", "csrfmiddlewaretoken"})
NO_KIND = "This program does not know what was sent. Reload the page; what is kept on the phone stays there."


class Unfit(Exception):
    """What was sent cannot be taken as it is; says why by field."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.errors = {name: [str(one) for one in errors] for name, errors in form.errors.items()}


def good(form: Form) -> dict[str, Any]:
    """What a form says. Raises Unfit."""
    if not form.is_valid():
        raise Unfit(form)
    return form.cleaned_data


@csrf_exempt
def captured(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """GET: what a phone should know. POST: one thing that it captured.

    The token of a POST is checked further in, because checking it reads the whole request, and whether it is too large
    has to be known before.
    """
    return receive(request, slug) if request.method == "POST" else status(request, slug)


# What a phone knows


@in_json
@never_cache
@require_http_methods(["GET", "HEAD"])
@for_member()
def status(request: SeatedRequest, slug: str) -> HttpResponse:
    """Who is signed in, what may be sent, and what a phone remembers of the project for when there is no signal."""
    seat = request.seat
    project, person = seat.project, seat.person
    known = queries.phone_facts(project, person)
    said = {
        "csrf": get_token(request),
        "now": round(timezone.now().timestamp() * 1000),
        "project": {"slug": project.slug, "name": project.name, "registration": project.registration},
        "person": {"key": person.pk, "name": person.name},
        "can_log": seat.may("log"),
        "limits": {"photo": settings.PHOTO_MAX_BYTES, "clip": settings.CLIP_MAX_BYTES, "piece": limits.PIECE},
    }
    return JsonResponse(said | known)


@in_json
@require_POST
@for_member("log")
def known(request: SeatedRequest, slug: str) -> HttpResponse:
    """Which of these requests came, and which of these bytes are here: so nothing is sent twice."""
    project = request.seat.project
    ids, digests = (request.POST.getlist(name)[:ASKED_AT_ONCE] for name in ("id", "digest"))
    answers = {receipt.pk: told(request, receipt) for receipt in queries.receipts(project, ids)}
    for session in queries.all_sessions(project).filter(request_id__in=set(ids) - set(answers)):
        answers[session.request_id] = {"request_id": session.request_id, **told_session(slug, session), "is_new": False}
    found = photos.by_digests(project, digests)
    kept = {digest: told_photo(slug, photo) for digest, photo in found.items()}
    return JsonResponse({"items": answers, "photos": kept})


@csrf_exempt
def piece(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """GET: how much of a large file is here. POST: one more piece of it, as the bare body of the request."""
    return pieces(request, slug)


@in_json
@csrf_protect
@require_http_methods(["GET", "POST"])
@for_member("log")
def pieces(request: SeatedRequest, slug: str) -> HttpResponse:
    """Put a piece in its place, or say how many bytes there are."""
    person, asked = request.seat.person, request.GET
    digest, offset, size = asked.get("digest", ""), asked.get("offset", ""), asked.get("size", "")
    try:
        have = photos.gathered(person.pk, digest)
    except ValueError:
        return JsonResponse({"error": "This is not a digest."}, status=422)
    if request.method == "GET":
        return JsonResponse({"digest": digest, "have": have})
    if not (offset.isdecimal() and size.isdecimal()):
        return JsonResponse({"error": "The request does not say where the piece belongs."}, status=422)
    try:
        have = evidence.add_piece(person=person, digest=digest, offset=int(offset), size=int(size), read=request.read)
    except Refusal as no:
        answer = {"error": no.message, "code": no.code, "digest": digest, "have": have}
        return JsonResponse(answer, status=STATUS.get(no.code, 422))
    return JsonResponse({"digest": digest, "have": have})


# Taking in


@in_json
@for_member("log")
def receive(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """Let in a request whose stated length can be right."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    try:
        limits.check_request(
            int(length) if length.isdecimal() else 0, max(settings.PHOTO_MAX_BYTES, settings.CLIP_MAX_BYTES)
        )
    except Refusal as no:
        return JsonResponse({"error": no.message, "code": no.code}, status=413)
    return take_in(request)


@csrf_protect
def take_in(request: SeatedRequest) -> HttpResponse:
    """Take in one captured thing: 201 for a new one, 200 for one that was here before."""
    kind = request.GET.get("kind") or request.POST.get("kind", "")
    if kind not in TAKE and kind not in TAKERS:
        return JsonResponse({"error": NO_KIND}, status=422)
    try:
        said = parse.CaptureForm(request.POST)
        values, now = good(said), timezone.now()
        at, ahead = said.when(now)
        seat = request.seat
        capture = Capture(values["request_id"], kind, seat.project, seat.person, at, now, ahead)
        before = queries.receipts(seat.project, [capture.request_id]).first()
        receipt = before or taken(kind, request, capture)
    except Unfit as no:
        first = next(iter(no.errors.values()))[0]
        return JsonResponse({"error": first, "errors": no.errors}, status=422)
    except Refusal as no:
        return JsonResponse({"error": no.message, "code": no.code}, status=STATUS.get(no.code, 422))
    return JsonResponse(told(request, receipt), status=200 if before else 201)


def taken(kind: str, request: SeatedRequest, capture: Capture) -> Receipt:
    """Take in one thing by its kind, here or in an app above (see `buildlog.access`)."""
    if kind in TAKERS:
        return TAKERS[kind].take(request.POST, capture)
    return TAKE[kind](request, capture)


def take_start(request: SeatedRequest, capture: Capture) -> Receipt:
    values = good(parse.StartForm(request.POST, project=capture.project))
    return commands.receive_start(capture=capture, assembly=values["assembly"], people=list(values["people"]))


def take_tap(command: Callable[..., Receipt]) -> Callable[[SeatedRequest, Capture], Receipt]:
    """A tap on a timer that runs."""

    def take(request: SeatedRequest, capture: Capture) -> Receipt:
        return command(capture=capture, session=good(parse.TapForm(request.POST))["session"])

    return take


def take_photo(request: SeatedRequest, capture: Capture) -> Receipt:
    """Keep the bytes first, then write down that they came; killed in between, the next try finds the bytes."""
    form = parse.PhotoForm(request.POST, request.FILES, project=capture.project)
    values = good(form)
    place, digest, ahead = values["place"], values["digest"], capture.clock_ahead or 0
    was_there = photos.is_on(capture.project, digest, place)
    taken = values["file_time"]
    facts = {
        "by": capture.by,
        "at": capture.received_at,
        "project": capture.project,
        "file_time": taken - timedelta(seconds=ahead) if taken else None,
        "places": [place] if place else [],
        "claimed": digest,
        "captured_at": capture.at,
        "clock_ahead": capture.clock_ahead,
        **form.words,
    }
    if values["photo"]:
        photo, is_new = evidence.take_in(file=values["photo"], name=values["photo"].name, **facts)
    else:
        photo, is_new = take_gathered(capture, digest, values["file_name"], facts)
    return commands.receive_photo(
        capture=capture,
        photo=photo,
        is_new=is_new,
        place=None if was_there else place,
        session=values["session"],
    )


def take_gathered(capture: Capture, digest: str, name: str, facts: dict[str, Any]) -> tuple[Photo, bool]:
    """Take in a file that came in pieces; where they do not make up what was read on the phone, it begins again."""
    path = photos.piece_path(capture.by.pk, digest)
    try:
        with path.open("rb") as file:
            kept = evidence.take_in(file=file, name=name, **facts)
    except FileNotFoundError:
        raise Refusal("digest_differs", "The pieces of this file are not here. It is sent again.") from None
    except Refusal as no:
        if no.code != "no_room":
            evidence.drop_pieces(person=capture.by, digest=digest)
        raise
    evidence.drop_pieces(person=capture.by, digest=digest)
    return kept


def take_session(request: SeatedRequest, capture: Capture) -> Receipt:
    """Log a session that was typed without signal; if it is here already, and says otherwise, both are kept."""
    initial = forms.initial_for_new(capture.project, capture.by, capture.at)
    form = forms.SessionForm(request.POST, project=capture.project, initial=initial)
    values = good(form)
    before = queries.session_named(capture.project, capture.request_id)
    return commands.receive_session(
        capture=capture,
        request_id=capture.request_id,
        photos=photos.by_keys(capture.project, request.POST.getlist("photos")),
        typed=parse.typed(request.POST, OWN_FIELDS),
        same=before is not None and before.ended_at is not None and form.says_the_same(whole(before)),
        worked=values["worked"],
        shares=values["shares"],
        **{name: values[name] for name in forms.WORDS},
    )


def take_edit(request: SeatedRequest, capture: Capture) -> Receipt:
    """Correct a session as it was typed without signal; if it was changed since, both are kept."""
    found = queries.session_named(capture.project, good(parse.TapForm(request.POST))["session"])
    if found is None or found.running:
        raise Refusal("not_yet", "The session that this corrects has not come yet. It is sent again.")
    session = whole(found)
    if not may_change(request.seat, session):
        raise Refusal("not_yours", "Only the builder, whoever entered a session, and those who worked in it change it.")
    said = request.POST.copy()
    said["request_id"] = session.request_id
    form = forms.SessionForm(
        said,
        project=capture.project,
        session=session,
        needs_reason=queries.is_described(session),
        initial=forms.initial_of(session) | {"seen": commands.version_of(session)},
    )
    values = good(form)
    chosen = photos.by_keys(capture.project, request.POST.getlist("photos"))
    return commands.receive_correction(
        capture=capture,
        session=session,
        typed=parse.typed(request.POST, OWN_FIELDS),
        same=form.says_the_same(session) and {*chosen} == {*queries.photos_of(session)},
        worked=values["worked"],
        shares=values["shares"],
        photos=chosen,
        reason=values["reason"],
        seen=values["seen"],
        **{name: values[name] for name in forms.WORDS},
    )


def whole(session: WorkSession) -> WorkSession:
    """The same session with its people, shares and photos at hand."""
    return queries.all_sessions(session.project).get(pk=session.pk)


def take_description(request: SeatedRequest, capture: Capture) -> Receipt:
    form = parse.Described(request.POST, project=capture.project)
    values = good(form)
    about = good(parse.AboutPhoto(request.POST))["photo_request"]
    return commands.receive_description(capture=capture, photo_request=about, words=form.words, place=values["place"])


def take_undo(request: SeatedRequest, capture: Capture) -> Receipt:
    about = good(parse.AboutPhoto(request.POST))["photo_request"]
    return commands.receive_undo(capture=capture, photo_request=about)


TAKE: dict[str, Callable[[SeatedRequest, Capture], Receipt]] = {
    "photo": take_photo,
    "timer_start": take_start,
    "timer_stop": take_tap(commands.receive_stop),
    "timer_break": take_tap(commands.receive_break),
    "timer_on": take_tap(commands.receive_on),
    "session": take_session,
    "session_edit": take_edit,
    "describe": take_description,
    "undo": take_undo,
}


# Telling


def told(request: SeatedRequest, receipt: Receipt) -> dict[str, Any]:
    """What became of a captured thing, as a phone is told of it."""
    slug = request.seat.project.slug
    answer: dict[str, Any] = {"request_id": receipt.pk, "kind": receipt.kind, "is_new": receipt.is_new}
    if receipt.photo is not None and receipt.kind == "photo":
        return answer | told_photo(slug, receipt.photo)
    if receipt.session is not None:
        return answer | told_session(slug, receipt.session) | {"ask": receipt.asks}
    if receipt.kind in TAKERS:
        return answer | TAKERS[receipt.kind].tell(receipt)
    return answer


def told_photo(slug: str, photo: Photo) -> dict[str, Any]:
    """A kept photo; `thumb` is empty while the small picture is still to be drawn, and for a clip."""
    size = min(photos.SIZES)
    ready = photo.medium == "picture" and photos.has_rendition(photo, size)
    return {
        "id": photo.pk,
        "label": photo.label,
        "digest": photo.digest,
        "page": reverse("evidence:photo", args=[slug, photo.pk]),
        "thumb": reverse("evidence:rendition", args=[slug, photo.pk, size]) if ready else "",
        "taken": photo.taken_at.isoformat() if photo.taken_at else None,
        "known": photo.taken_known,
    }


def told_session(slug: str, session: WorkSession) -> dict[str, Any]:
    """A kept session: a stopped one leads to the form in which it is described."""
    return {
        "session": session.pk,
        "number": session.number,
        "page": reverse("buildlog:session", args=[slug, session.pk]),
    }
