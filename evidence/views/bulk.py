"""Many photos from a laptop: the page that sends a folder, and what it asks before it sends."""

from typing import Any

from django.http import HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries, rules
from evidence.models import Photo
from foundation.answer import in_json, says_json


@in_json
@for_member("log")
def bulk(request: SeatedRequest, slug: str) -> HttpResponseBase:
    """The page; for its script a fresh token, and a POST tells which of up to a hundred files need not be sent."""
    if request.method == "POST":
        return known(request)
    if says_json(request):
        return JsonResponse({"csrf": get_token(request)})
    form = forms.BulkForm(project=request.seat.project)
    endings = sorted({*rules.TYPES, "jpeg", "heif", "hif"})
    return render(request, "evidence/bulk.html", {"form": form, "endings": endings, "at_once": rules.MOST_AT_ONCE})


def known(request: SeatedRequest) -> HttpResponse:
    """Which of these digests the record has, each with its photo; those that stand are placed where was asked."""
    seat = request.seat
    form = forms.BulkForm(request.POST, project=seat.project)
    if not form.is_valid():
        return JsonResponse({"error": next(iter(form.errors.values()))[0]}, status=422)
    photos = queries.with_bytes(seat.project, form.digests(request.POST))
    place = form.cleaned_data["assembly"]
    for photo in photos:
        if place and not photo.withdrawn:
            commands.place_photo(by=seat.person, at=timezone.now(), photo=photo, places=[place])
    return JsonResponse({"photos": {photo.digest: told(slug=seat.project.slug, photo=photo) for photo in photos}})


def told(*, slug: str, photo: Photo) -> dict[str, Any]:
    """A photo that the record has, as the script is told of it."""
    page = reverse("evidence:photo", args=[slug, photo.pk])
    return {"id": photo.pk, "label": photo.label, "page": page, "withdrawn": photo.withdrawn}
