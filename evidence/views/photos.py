"""The page of one photo with its words, times and places, and all that is corrected there."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries
from evidence.models import Photo
from foundation.answer import answer, go_back
from foundation.refusal import Refusal
from journal.queries import story


@require_GET
@for_member()
def photo(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One photo with everything that is known about it; a withdrawn one stays readable."""
    return photo_page(request, found(request, key))


def found(request: SeatedRequest, key: str) -> Photo:
    """The photo with this key in the member's project, standing or withdrawn, or 404."""
    rows = queries.all_photos(request.seat.project).select_related("project", "sent_by", "taken_by")
    return get_object_or_404(rows, pk=key)


def photo_page(
    request: SeatedRequest,
    shown: Photo,
    place_form: forms.PlaceForm | None = None,
    caption_form: forms.CaptionForm | None = None,
) -> HttpResponse:
    """The page of one photo among those of the contact sheet it was opened from.

    For htmx the picture alone, which is asked for again until it is drawn.
    """
    project = request.seat.project
    place_form = place_form or forms.PlaceForm(project=project)
    caption_form = caption_form or forms.CaptionForm(photo=shown)
    sheet = forms.FilterForm(request.GET, project=project)
    wanted = sheet.wanted
    context = {
        "photo": shown,
        "marks": list(shown.marks.all()),
        "around": queries.around(shown, queries.shown(project, wanted)),
        "wanted": wanted,
        "filtered": wanted != queries.Wanted(),
        "carried": sheet.carried,
        "placements": queries.placements(shown),
        "to_compare": queries.earlier_of_same_place(shown) if shown.medium == "picture" else [],
        "history": story.told(shown.project_id, shown.subject),
        "place_form": place_form,
        "caption_form": caption_form,
    }
    return answer(request, "evidence/photo.html", context, piece="picture", forms=(place_form, caption_form))


@require_POST
@for_member("log")
def photo_caption(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Change the caption alone, from the page of the photo."""
    shown = found(request, key)
    form = forms.CaptionForm(request.POST, photo=shown)
    if not form.is_valid():
        return photo_page(request, shown, caption_form=form)
    if (caption := form.cleaned_data["caption"]) != shown.caption:
        commands.describe_photo(by=request.seat.person, at=timezone.now(), photo=shown, caption=caption)
        messages.success(request, f"The caption of {shown.label} is saved.")
    return go_back(request, address(shown))


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
    """Show a photo on one more thing: an assembly, a part, a bin or a lot."""
    shown = found(request, key)
    form = forms.PlaceForm(request.POST, project=request.seat.project)
    if not form.is_valid():
        return photo_page(request, shown, place_form=form)
    commands.place_photo(by=request.seat.person, at=timezone.now(), photo=shown, places=form.places)
    messages.success(request, f"{shown.label} is placed.")
    return go_back(request, address(shown))


@require_POST
@for_member("log")
def photo_unplace(request: SeatedRequest, slug: str, key: str, placement: str) -> HttpResponse:
    """Take a photo off one of its things."""
    shown = found(request, key)
    place = get_object_or_404(queries.placements(shown), pk=placement)
    commands.unplace_photo(by=request.seat.person, at=timezone.now(), photo=shown, placement=place)
    messages.success(request, f"{shown.label} is taken off {place.thing}.")
    return redirect(address(shown))
