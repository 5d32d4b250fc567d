"""Pages and files of photos."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries, rules
from evidence.models import Photo
from foundation.answer import answer, go_back
from foundation.refusal import Refusal
from foundation.sending import send_file
from journal.queries import story

PAGE = 60
FOR_EVER = "private, max-age=31536000, immutable"
ASK_AGAIN = "private, no-cache"
SIGNED_OUT = "You are signed out. Sign in in another tab, then try again."
NOT_HERE = "This project is not to be found. Reload the page."
STALE = "This page is too old to send from. Reload it, then choose the photo again."

View = Callable[..., HttpResponseBase]


# Receiving


def says_json(request: HttpRequest) -> bool:
    """Whether a script asks, which wants every answer as JSON."""
    return "application/json" in request.headers.get("Accept", "")


def in_json(view: View) -> View:
    """Give a script JSON also where the answer is no: signed out, no such project, not allowed, stale page."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not says_json(request):
            return view(request, *args, **kwargs)
        if not request.user.is_authenticated:
            return JsonResponse({"error": SIGNED_OUT}, status=401)
        try:
            response = view(request, *args, **kwargs)
        except PermissionDenied as no:
            return JsonResponse({"error": str(no) or "You may not do this here."}, status=403)
        except Http404:
            return JsonResponse({"error": NOT_HERE}, status=404)
        if response.status_code == 403 and not isinstance(response, JsonResponse):
            return JsonResponse({"error": STALE}, status=403)
        return response

    return answered


@csrf_exempt
def photos(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """The contact sheet; a POST takes photos in.

    The token of a POST is checked further in, because checking it reads the whole request, and whether the sender may
    send and whether it is too large has to be known before.
    """
    return receive(request, slug) if request.method == "POST" else contact_sheet(request, slug)


@in_json
@for_member("log")
def receive(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """Let in a request whose stated length can be right."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    files = 1 if says_json(request) else rules.MOST_AT_ONCE
    try:
        rules.check_request(int(length) if length.isdecimal() else 0, settings.PHOTO_MAX_BYTES, files)
    except Refusal as no:
        if says_json(request):
            return JsonResponse({"error": no.message}, status=413)
        return render(request, "evidence/photos_kept.html", {"refused": [no.message]}, status=413)
    return take_in(request)


@csrf_protect
def take_in(request: SeatedRequest) -> HttpResponseBase:
    """Take in one photo for a script, or several from a form."""
    return take_in_one(request) if says_json(request) or request.POST.get("json") else take_in_several(request)


def take_in_one(request: SeatedRequest) -> HttpResponse:
    """Take in one photo and say what became of it: 201 for a new one, 200 for bytes known before, 422 for a refusal."""
    seat = request.seat
    form = forms.UploadForm(request.POST, request.FILES, project=seat.project)
    if not form.is_valid():
        return JsonResponse({"error": next(iter(form.errors.values()))[0]}, status=422)
    sent = form.cleaned_data
    try:
        photo, is_new = commands.take_in(
            by=seat.person,
            at=timezone.now(),
            project=seat.project,
            file=sent["photo"],
            name=sent["photo"].name,
            file_time=sent["file_time"],
            assembly=sent["assembly"],
            part=sent["part"],
        )
    except Refusal as no:
        return JsonResponse({"error": no.message}, status=422)
    return JsonResponse(told(photo, is_new), status=201 if is_new else 200)


def told(photo: Photo, is_new: bool) -> dict[str, Any]:
    """A kept photo as a script is told of it. `thumb` is empty while the small picture is still to be drawn."""
    slug = photo.project.slug
    ready = queries.has_rendition(photo, min(queries.SIZES))
    return {
        "id": photo.pk,
        "label": photo.label,
        "digest": photo.digest,
        "is_new": is_new,
        "page": reverse("evidence:photo", args=[slug, photo.pk]),
        "thumb": reverse("evidence:rendition", args=[slug, photo.pk, min(queries.SIZES)]) if ready else "",
        "taken": photo.taken_at.isoformat() if photo.taken_at else None,
        "known": photo.taken_known,
    }


def take_in_several(request: SeatedRequest) -> HttpResponse:
    """Take in the files of a form and list what was kept and what was refused, each by its file name."""
    seat, files = request.seat, request.FILES.getlist("photo")
    taken = commands.take_in_many(by=seat.person, at=timezone.now(), project=seat.project, files=files)
    refused = taken.refused if files else ["No photo was chosen. Go back and choose one or more."]
    context = {"kept": taken.photos, "new": taken.new, "refused": refused}
    return render(request, "evidence/photos_kept.html", context, status=422 if refused else 200)


# Pages


@require_safe
@for_member()
def contact_sheet(request: SeatedRequest, slug: str) -> HttpResponse:
    """The photos of the project, newest first; of one assembly, or those without a caption, when asked."""
    project = request.seat.project
    form = forms.FilterForm(request.GET, project=project)
    form.is_valid()
    wanted = form.cleaned_data
    assembly, bare = wanted.get("assembly"), wanted.get("caption") == "none"
    rows = queries.shown(project, assembly=assembly, below=not wanted.get("only"), uncaptioned_only=bare)
    context = {
        "page": Paginator(rows, PAGE).get_page(request.GET.get("page")),
        "form": form,
        "assembly": assembly,
        "bare": bare,
        "all": queries.photos(project).count(),
        "uncaptioned": queries.uncaptioned(project).count(),
        "waiting": queries.waiting(project).count(),
    }
    return answer(request, "evidence/photos.html", context)


@require_GET
@for_member()
def photo(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One photo with everything that is known about it; a withdrawn one stays readable."""
    return photo_page(request, found(request, key), forms.PlaceForm(project=request.seat.project))


def found(request: SeatedRequest, key: str) -> Photo:
    """The photo with this key in the member's project, standing or withdrawn, or 404."""
    rows = queries.all_photos(request.seat.project).select_related("project", "sent_by", "taken_by")
    return get_object_or_404(rows, pk=key)


def photo_page(request: HttpRequest, shown: Photo, place_form: forms.PlaceForm) -> HttpResponse:
    """The page of one photo; for htmx the picture alone, which is asked for again until it is drawn."""
    newer, older = queries.neighbors(shown)
    context = {
        "photo": shown,
        "newer": newer,
        "older": older,
        "placements": queries.placements(shown),
        "history": story.told(shown.project_id, shown.subject),
        "place_form": place_form,
    }
    return answer(request, "evidence/photo.html", context, piece="picture", forms=(place_form,))


@for_member("log")
def photo_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Change the words that go with a photo."""
    shown = found(request, key)
    form = forms.PhotoForm(request.POST or None, photo=shown)
    if request.method == "POST" and form.is_valid():
        if changes := form.changes():
            reason = form.cleaned_data["reason"]
            commands.describe_photo(by=request.seat.person, at=timezone.now(), photo=shown, reason=reason, **changes)
            messages.success(request, f"{shown.label} is saved.")
        return go_back(request, address(shown))
    return answer(request, "evidence/photo_edit.html", {"photo": shown, "form": form}, forms=(form,))


def address(shown: Photo) -> str:
    """The page of a photo."""
    return reverse("evidence:photo", args=[shown.project.slug, shown.pk])


@for_member("edit")
def photo_time(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Type when a photo was taken."""
    shown, at = found(request, key), timezone.now()
    form = forms.TimeForm(request.POST or None, initial={"taken_at": shown.taken_at})
    if request.method == "POST" and form.is_valid():
        typed, reason = form.cleaned_data["taken_at"], form.cleaned_data["reason"]
        try:
            commands.correct_taken(by=request.seat.person, at=at, photo=shown, typed=typed, reason=reason)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"The time of {shown.label} is corrected. It is marked as typed.")
            return redirect(address(shown))
    return answer(request, "evidence/photo_time.html", {"photo": shown, "form": form}, forms=(form,))


@for_member("edit")
def photo_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Withdraw a photo, with a reason."""
    shown = found(request, key)
    form = forms.WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        reason = form.cleaned_data["reason"]
        try:
            commands.withdraw_photo(by=request.seat.person, at=timezone.now(), photo=shown, reason=reason)
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            messages.success(request, f"{shown.label} is withdrawn. The file and its history are kept.")
            return redirect(address(shown))
    return answer(request, "evidence/photo_withdraw.html", {"photo": shown, "form": form}, forms=(form,))


@require_POST
@for_member("edit")
def photo_restore(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Bring a withdrawn photo back."""
    shown = found(request, key)
    commands.restore_photo(by=request.seat.person, at=timezone.now(), photo=shown)
    messages.success(request, f"{shown.label} is back in the record.")
    return redirect(address(shown))


@require_POST
@for_member("log")
def photo_place(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Show a photo on one more assembly or part."""
    shown = found(request, key)
    form = forms.PlaceForm(request.POST, project=request.seat.project)
    if not form.is_valid():
        return photo_page(request, shown, form)
    commands.place_photo(by=request.seat.person, at=timezone.now(), photo=shown, **form.cleaned_data)
    messages.success(request, f"{shown.label} is placed.")
    return go_back(request, address(shown))


@require_POST
@for_member("log")
def photo_unplace(request: SeatedRequest, slug: str, key: str, placement: str) -> HttpResponse:
    """Take a photo off an assembly or part."""
    shown = found(request, key)
    place = get_object_or_404(queries.placements(shown), pk=placement)
    commands.unplace_photo(by=request.seat.person, at=timezone.now(), photo=shown, placement=place)
    messages.success(request, f"{shown.label} is taken off {place.assembly or place.part}.")
    return redirect(address(shown))


# Files


@require_safe
@for_member()
def rendition(request: SeatedRequest, slug: str, key: str, size: int) -> HttpResponseBase:
    """A drawn picture, 320 or 1280 pixels at its longest side; a lost one is drawn again."""
    if size not in queries.SIZES:
        raise Http404("No such size.")
    shown = found(request, key)
    if not queries.has_rendition(shown, size) and not commands.draw_now(shown):
        raise Http404("Not drawn yet.")
    return send_file(
        request,
        queries.rendition_path(shown.digest, size),
        etag=f"{shown.digest}-{size}",
        content_type="image/jpeg",
        cache=FOR_EVER,
    )


@require_safe
@for_member()
def original(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The file exactly as it came."""
    shown = found(request, key)
    try:
        return send_file(
            request,
            queries.original_path(shown),
            etag=shown.digest,
            content_type=rules.TYPES[shown.kind],
            cache=ASK_AGAIN,
            save_as=f"{shown.label}.{shown.kind}",
        )
    except FileNotFoundError:
        raise Http404("The original is not on the server's disk. Check the health of the record.") from None
