"""The builder's record: what it has, making one, waiting for it, taking the file; and where a photo stands in it."""

from django.contrib import messages
from django.http import FileResponse, HttpResponse, HttpResponseBase, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from certification import commands, queries
from certification.forms.packs import PackForm, SigningKeyForm, SignPackForm
from certification.rules import profiles
from evidence.queries import all_photos
from foundation.answer import answer
from foundation.pdf_signature import INSTALL, KEY_LASTS, can_sign, make_key
from foundation.posting import sent
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
    context = {"pack": found, "newer": newer, "signed": queries.signed_copies(found)}
    return answer(request, "certification/pack.html", context, piece="state")


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


@for_member("edit")
def pack_sign(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Sign the file of a record digitally with the builder's own key."""
    found = get_object_or_404(queries.packs(request.seat.project).select_related("project"), pk=key)
    if not found.ready:
        return redirect("certification:pack", slug, found.pk)
    form = SignPackForm(sent(request), request.FILES or None)
    if form.is_valid() and can_sign():
        try:
            now = timezone.now()
            copy = commands.sign_record(by=request.seat.person, at=now, pack=found, key=form.opened(now))
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{copy}. The signed file is kept as {copy.document.label}.")
            return redirect("certification:pack", slug, found.pk)
    context = {"pack": found, "form": form, "install": "" if can_sign() else INSTALL}
    return answer(request, "certification/pack_sign.html", context, forms=(form,))


@for_member("edit")
@never_cache
def signing_key(request: SeatedRequest, slug: str) -> HttpResponse:
    """Make a key to sign with: a file to download, of which nothing stays here."""
    form = SigningKeyForm(sent(request), initial={"name": request.seat.person.name})
    if form.is_valid():
        said = form.cleaned_data
        try:
            made = make_key(said["name"], said["passphrase"], timezone.now())
        except Refusal as no:
            form.refuse(no)
        else:
            response = HttpResponse(made, content_type="application/x-pkcs12")
            response["Content-Disposition"] = 'attachment; filename="signing-key.p12"'
            return response
    context = {"form": form, "years": KEY_LASTS.days // 365}
    return answer(request, "certification/signing_key.html", context, forms=(form,))
