"""Marks over a photo: the page on which they are drawn, and the copy with them drawn in."""

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries, renditions, rules
from evidence.models import Photo, PhotoMark
from evidence.views.photos import address, found
from foundation.answer import answer
from foundation.refusal import Refusal
from foundation.sending import send_file


@for_member("log")
def photo_marks(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Draw arrows, rings and notes over a photo; without a script by a list of places."""
    shown = found(request, key)
    if shown.medium != "picture" or shown.drawn_at is None:
        raise Http404("There is no picture to draw on.")
    there = list(shown.marks.all())
    if request.method == "POST":
        rows = forms.MarkForms(request.POST)
    else:
        rows = forms.MarkForms(initial=[as_typed(mark) for mark in there])
    refusal, meanwhile = "", []
    if request.method == "POST" and rows.is_valid():
        drawn = [facts for row in rows if (facts := row.facts)]
        try:
            commands.mark_photo(
                by=request.seat.person,
                at=timezone.now(),
                photo=shown,
                marks=drawn,
                seen=request.POST.get("seen", ""),
            )
        except Refusal as no:
            refusal, meanwhile = no.message, there if no.code == "changed_meanwhile" else []
        else:
            messages.success(request, f"The marks on {shown.label} are kept: {rules.marks_counted(len(drawn))}.")
            return redirect(address(shown))
    context = {
        "photo": shown,
        "rows": rows,
        "refusal": refusal,
        "meanwhile": meanwhile,
        # Saved again after both were looked at, the typed ones are meant.
        "seen": seen(request, there, refused=bool(meanwhile) or not rows.is_bound),
        "most": rules.MOST_MARKS,
        "longest": rules.LONGEST_MARK_WORDS,
    }
    response = answer(request, "evidence/photo_marks.html", context, forms=tuple(rows))
    if refusal or rows.non_form_errors():
        response.status_code = 422
    return response


def seen(request: SeatedRequest, there: list[PhotoMark], *, refused: bool) -> str:
    """The token that the form carries: of what stands now, or of what it had before its eyes all along."""
    return queries.marks_token(there) if refused else request.POST.get("seen", "")


def as_typed(mark: PhotoMark) -> dict[str, object]:
    """A mark as a line of the form holds it, places in per cent."""
    places = {name: f"{value / 100:g}" for name, value in zip(forms.CORNER_LABELS, mark.corners, strict=True)}
    return {"key": mark.pk, "kind": mark.kind, "words": mark.words, **places}


@require_safe
@for_member()
def marked_copy(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The large picture with its marks drawn in."""
    shown = found(request, key)
    drawn = [mark.drawing for mark in shown.marks.all()]
    if not drawn or not ready(shown):
        raise Http404("There is no picture with marks.")
    path = renditions.marked_copy(shown.digest, drawn)
    return send_file(
        request,
        path,
        etag=path.stem,
        content_type="image/jpeg",
        cache="private, no-cache",
        save_as=f"{shown.label} with marks.jpg",
    )


def ready(shown: Photo) -> bool:
    """Whether the large picture is there, drawn again where it was lost."""
    return shown.medium == "picture" and (queries.has_rendition(shown, max(queries.SIZES)) or commands.draw_now(shown))
