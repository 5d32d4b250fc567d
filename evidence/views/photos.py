"""Pages of photos: the contact sheet and one photo with its words, times and places."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries
from evidence.models import Photo
from foundation.answer import answer, go_back
from foundation.refusal import Refusal
from journal.queries import story

PAGE = 60


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
    commands.place_photo(by=request.seat.person, at=timezone.now(), photo=shown, places=form.places)
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
