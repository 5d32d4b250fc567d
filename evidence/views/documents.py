"""Documents: files kept as they came, with what they are about."""

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from evidence import commands, forms, queries, rules
from evidence.models import Document
from evidence.views.files import ASK_AGAIN
from foundation.answer import answer
from foundation.refusal import Refusal
from foundation.sending import send_file
from journal.queries import story

A_PAGE, A_FEW = 60, 12
NOT_ON_DISK = "The file is not on the server's disk. Check the health of the record."


@require_safe
@for_member()
def documents(request: SeatedRequest, slug: str) -> HttpResponse:
    """All documents, or those looked for, newest first."""
    form = forms.FindDocumentForm(request.GET)
    found = queries.find_documents(request.seat.project, **form.wanted)
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "evidence/documents.html", {"form": form, "page": page, "looking": bool(form.wanted)})


@require_safe
@for_member()
def documents_of(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The documents about an assembly, part, bin or lot, as a piece of its page; photographed papers with them."""
    thing = queries.place_by_key(request.seat.project, key, withdrawn_too=True)
    if thing is None:
        raise Http404
    rows = queries.documents_about(thing)
    context = {
        "thing": thing,
        "kind": thing._meta.model_name,
        "documents": rows[:A_FEW],
        "count": rows.count(),
        "papers": queries.papers_photographed(thing)[:A_FEW],
    }
    return answer(request, "evidence/documents_of.html", context, piece="strip")


def found(request: SeatedRequest, key: str) -> Document:
    """The document with this key in the member's project, standing or withdrawn, or 404."""
    return get_object_or_404(queries.all_documents(request.seat.project).select_related("project", "sent_by"), pk=key)


def standing(request: SeatedRequest, key: str) -> Document:
    """A standing document of the member's project, or 404."""
    return get_object_or_404(queries.documents(request.seat.project).select_related("project"), pk=key)


@require_safe
@for_member()
def document(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One document with what it is about and its history; a withdrawn one stays readable."""
    return document_page(request, found(request, key), forms.PlaceForm(project=request.seat.project))


def document_page(request: SeatedRequest, shown: Document, place_form: forms.PlaceForm) -> HttpResponse:
    """The page of a document, with the form that says what else it is about."""
    context = {
        "document": shown,
        "places": queries.document_places(shown),
        "elsewhere": queries.about_elsewhere(shown),
        "place_form": place_form,
        "history": story.told(shown.project_id, shown.subject),
    }
    return answer(request, "evidence/document.html", context, forms=(place_form,))


@require_safe
@for_member()
def document_file(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The file exactly as it came, always to be saved and never shown by the browser: nobody knows what is in it."""
    shown = found(request, key)
    try:
        return send_file(
            request,
            queries.document_path(shown),
            etag=shown.digest,
            content_type=shown.media_type if shown.media_type in rules.DOCUMENT_ENDINGS else rules.PLAIN_FILE,
            cache=ASK_AGAIN,
            save_as=f"{shown.label} {shown.file_name}".strip(),
        )
    except FileNotFoundError:
        raise Http404(NOT_ON_DISK) from None


@for_member("log")
def document_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Take in a document; `?on=` names the thing it is about."""
    seat = request.seat
    on = queries.place_by_key(seat.project, request.GET.get("on", ""))
    start = {str(on._meta.model_name): on.pk} if on else {}
    posted = (request.POST, request.FILES) if request.method == "POST" else ()
    form = forms.NewDocumentForm(*posted, project=seat.project, initial=start | {"kind": request.GET.get("kind", "")})
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            kept, is_new = commands.keep_document(
                by=seat.person, at=timezone.now(), project=seat.project, file=file, name=file.name or "", **form.words
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            said = "is kept as it came" if is_new else "was here already with the same bytes; it stands once"
            messages.success(request, f"{kept} {said}.")
            return redirect("evidence:document", slug, kept.pk)
    most = settings.DOCUMENT_MAX_BYTES // rules.MB
    return answer(request, "evidence/document_form.html", {"form": form, "most": most}, forms=(form,))


@for_member("edit")
def document_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct what is said of a document."""
    shown = standing(request, key)
    now = {name: getattr(shown, name) for name in forms.DocumentForm.base_fields}
    form = forms.CorrectDocumentForm(request.POST or None, initial=now)
    if request.method == "POST" and form.is_valid():
        commands.correct_document(by=request.seat.person, at=timezone.now(), document=shown, **form.cleaned_data)
        messages.success(request, f"{shown} is corrected. The old words stay in the history.")
        return redirect("evidence:document", slug, shown.pk)
    context = {"form": form, "document": standing(request, key)}
    return answer(request, "evidence/document_form.html", context, forms=(form,))


@require_POST
@for_member("log")
def document_place(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say what else a document is about."""
    shown = standing(request, key)
    form = forms.PlaceForm(request.POST, project=request.seat.project)
    if not form.is_valid():
        return document_page(request, shown, form)
    commands.place_document(by=request.seat.person, at=timezone.now(), document=shown, places=form.places)
    return redirect("evidence:document", slug, shown.pk)


@require_POST
@for_member("edit")
def document_unplace(request: SeatedRequest, slug: str, key: str, place: str) -> HttpResponse:
    """Say that a document is not about a thing after all."""
    shown = standing(request, key)
    row = get_object_or_404(queries.document_places(shown), pk=place)
    commands.unplace_document(by=request.seat.person, at=timezone.now(), document=shown, place=row)
    return redirect("evidence:document", slug, shown.pk)


@for_member("edit")
def document_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a document out of the lists, with a reason."""
    shown = standing(request, key)
    form = forms.WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_document(by=request.seat.person, at=timezone.now(), document=shown, **form.cleaned_data)
        except Refusal as no:
            form.add_error("reason", no.message)
        else:
            messages.success(request, f"{shown} is withdrawn. The file and its history stay.")
            return redirect("evidence:documents", slug)
    return answer(request, "evidence/document_withdraw.html", {"form": form, "document": shown}, forms=(form,))
