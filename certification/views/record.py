"""The builder's record: what it has, making one, waiting for it, taking the file; and where a photo stands in it."""

from django.contrib import messages
from django.http import FileResponse, HttpResponse, HttpResponseBase, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from certification import commands, queries
from certification.forms.packs import PackForm
from certification.rules import profiles
from evidence.queries import all_photos
from foundation.answer import answer
from foundation.refusal import Refusal


@for_member("read")
def photo_uses(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The sessions and gate items that a photo belongs to: a piece of its page, and a page of its own without htmx."""
    photo = get_object_or_404(all_photos(request.seat.project).select_related("project"), pk=key)
    context = {"photo": photo, "uses": queries.photo_uses(photo)}
    return answer(request, "certification/photo_uses.html", context, piece="uses")


@for_member("read")
def record(request: SeatedRequest, slug: str) -> HttpResponse:
    """What the builder's record has now, what is missing, and the records made so far."""
    return record_page(request, PackForm(project=request.seat.project))


def record_page(request: SeatedRequest, form: PackForm) -> HttpResponse:
    project = request.seat.project
    left_out = [(key, words, profiles.ABOUT[key]) for key, words in profiles.PROFILES.items()]
    context = {
        "standing": queries.standing(project),
        "packs": queries.packs(project),
        "form": form,
        "profiles": left_out,
    }
    return answer(request, "certification/record.html", context, forms=(form,))


@require_POST
@for_member("read")
def record_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Freeze the record as it stands and have it drawn."""
    form, seat = PackForm(request.POST, project=request.seat.project), request.seat
    if not form.is_valid():
        return record_page(request, form)
    try:
        made = commands.freeze_record(by=seat.person, at=timezone.now(), project=seat.project, **form.values)
    except Refusal as no:
        form.refuse(no)
        return record_page(request, form)
    messages.success(request, f"{made} is frozen as the record stands now.")
    return redirect("certification:pack", slug, made.pk)


@for_member("read")
def pack(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One record handed out: still being drawn, ready, or failed."""
    found = get_object_or_404(queries.packs(request.seat.project), pk=key)
    newer = queries.packs(request.seat.project).filter(supersedes=found).first()
    return answer(request, "certification/pack.html", {"pack": found, "newer": newer}, piece="state")


@require_POST
@for_member("read")
def pack_again(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Have the file drawn once more."""
    found = get_object_or_404(queries.packs(request.seat.project), pk=key)
    commands.draw_again(pack=found)
    return redirect("certification:pack", slug, found.pk)


@for_member("read")
def pack_file(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The file itself; when it is gone from the disk it is drawn again from the frozen facts first."""
    found = get_object_or_404(queries.packs(request.seat.project), pk=key)
    path = queries.pack_path(found)
    if not found.ready or not path.exists():
        if found.ready:
            commands.draw_again(pack=found)
        return redirect("certification:pack", slug, found.pk)
    etag = f'"{found.file_digest}"'
    known = get_conditional_response(request, etag)
    if isinstance(known, HttpResponseNotModified):
        return known
    name = f"builders-record-{request.seat.project.slug}-{found.number}.pdf"
    response = FileResponse(path.open("rb"), as_attachment=True, filename=name, content_type="application/pdf")
    response["ETag"] = etag
    response["Cache-Control"] = "private, no-cache"
    return response
