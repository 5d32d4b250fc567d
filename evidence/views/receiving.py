"""Photos coming in: one for a script, several from a form, and the page that lists what was kept."""

from typing import Any

from django.conf import settings
from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries, rules
from evidence.models import Photo
from evidence.views.sheet import contact_sheet
from foundation.answer import in_json, says_json
from foundation.refusal import Refusal
from parts import queries as parts


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
        most = max(settings.PHOTO_MAX_BYTES, settings.CLIP_MAX_BYTES if files == 1 else 0)
        rules.check_request(int(length) if length.isdecimal() else 0, most, files)
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
            places=[place for place in (sent["assembly"], sent["part"]) if place],
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
    """Take in the files of a form and list what was kept and what was refused, each by its file name.

    They are placed on the `assembly` that the form names; one that is not there any more costs nobody his photos.
    """
    seat, files = request.seat, request.FILES.getlist("photo")
    places = list(parts.assemblies(seat.project).filter(pk=request.POST.get("assembly", "")))
    taken = commands.take_in_many(by=seat.person, at=timezone.now(), project=seat.project, files=files, places=places)
    refused = taken.refused if files else ["No photo was chosen. Go back and choose one or more."]
    context = {"kept": taken.photos, "new": taken.new, "refused": refused}
    return render(request, "evidence/photos_kept.html", context, status=422 if refused else 200)
