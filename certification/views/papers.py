"""Pages of the certification file: readiness, one paper, its documents and fill-in sheet, the list, the calendar."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import papers as commands
from certification.forms.papers import PaperDocumentForm, PaperForm, ReasonForm
from certification.queries import file_profiles
from certification.queries import papers as queries
from certification.rules.papers_calendar import calendar
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told


@require_safe
@for_member()
def file(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every paper with its state, days and needs; what does not fit the identity stands on top."""
    whole = queries.the_file(request.seat.project, timezone.localdate())
    return render(request, "certification/file.html", {"file": whole, "profile": whole.profile})


@require_safe
@for_member()
def file_profile(request: SeatedRequest, slug: str) -> HttpResponse:
    """The list that counts, with edition and sources, and what a newer one would change."""
    project = request.seat.project
    context = {
        "profile": file_profiles.profile_of(project),
        "ever": file_profiles.profiles_kept(project),
        "history": told(project.pk, *[row.subject for row in file_profiles.profiles_kept(project)]),
    }
    return render(request, "certification/file_profile.html", context)


@require_POST
@for_member("edit")
def file_take_profile(request: SeatedRequest, slug: str) -> HttpResponse:
    """Take up the list that comes with the program, as it was seen."""
    known: dict[str, Any] = {"by": request.seat.person, "at": timezone.now(), "project": request.seat.project}
    try:
        profile = commands.take_profile(**known, seen=request.POST.get("seen", ""))
    except Refusal as no:
        messages.error(request, no.message)
        return redirect("certification:file_profile", slug)
    messages.success(request, f"The list for {profile} is taken up. It stays as it is until you take up another.")
    return redirect("certification:file", slug)


@require_safe
@for_member()
def file_calendar(request: SeatedRequest, slug: str) -> HttpResponse:
    """The days of the file for a calendar."""
    project = request.seat.project
    days = queries.calendar_days(project, timezone.localdate())
    content = calendar(days, f"Certification file, {project.name}", timezone.now())
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="certification-file-{project.slug}.ics"'
    response["Cache-Control"] = "no-store"
    return response


def one_line(request: SeatedRequest, code: str) -> queries.Line:
    """A paper of the file as it stands, or 404."""
    found = queries.one_line(request.seat.project, code, timezone.localdate())
    if found is None:
        raise Http404
    return found


@require_safe
@for_member()
def paper(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """One paper: how it stands, what it needs, what stands on it, its documents and history."""
    project = request.seat.project
    ever = queries.papers_ever(project, code)
    line = queries.one_line(project, code, timezone.localdate())
    if line is None and not ever:
        raise Http404
    context = {
        "line": line,
        "gone": ever[-1] if line is None else None,
        "taken": file_profiles.kept_profile(project) is not None,
        "kept": queries.kept_with(line.paper) if line and line.paper else [],
        "identity": queries.identity_lines(project, line.paper, line.item) if line else [],
        "history": told(project.pk, *[row.subject for row in ever]) if ever else [],
    }
    return render(request, "certification/paper.html", context)


@for_member("edit")
def paper_edit(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """Say how a paper stands and what stands on it."""
    line = one_line(request, code)
    form = PaperForm(sent(request), item=line.item, paper=line.paper)
    known = {"by": request.seat.person, "project": request.seat.project, "code": code}
    if made := written(form, commands.tell_paper, **known):
        messages.success(request, f"{line.title}: {made.get_state_word_display().lower()}.")
        return redirect("certification:paper", slug, code)
    own = queries.own_identity(request.seat.project)
    return answer(request, "certification/paper_form.html", {"form": form, "line": line, "own": own}, forms=(form,))


@for_member("edit")
def paper_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Add a paper that the list does not have."""
    form = PaperForm(sent(request))
    if made := written(form, commands.add_paper, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made.title} is in the file.")
        return redirect("certification:paper", slug, made.code)
    return answer(request, "certification/paper_form.html", {"form": form}, forms=(form,))


@for_member("edit")
def paper_withdraw(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """Take back what was said of a paper."""
    line = one_line(request, code)
    if line.paper is None:
        raise Http404
    form = ReasonForm(sent(request))
    if written(form, commands.withdraw_paper, by=request.seat.person, paper=line.paper):
        messages.success(request, f"{line.title}: what was said of it is withdrawn. The history keeps it.")
        return redirect("certification:file", slug)
    return answer(request, "certification/paper_withdraw.html", {"form": form, "line": line}, forms=(form,))


@for_member("edit")
def paper_document(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """Put a document with a paper: a new file, or one that is kept already."""
    line, project = one_line(request, code), request.seat.project
    files = request.FILES or None
    form = PaperDocumentForm(sent(request), files, project=project, paper=line.paper, name=line.title)
    if form.is_valid():
        known: dict[str, Any] = {"by": request.seat.person, "at": timezone.now(), "project": project, "code": code}
        chosen, kept = form.cleaned_data["file"], form.cleaned_data["kept"]
        try:
            if kept:
                commands.put_document(**known, document=kept)
            else:
                commands.keep_with_paper(**known, file=chosen, name=chosen.name or "", **form.words)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"The document is with {line.title}.")
            return redirect("certification:paper", slug, code)
    return answer(request, "certification/paper_document.html", {"form": form, "line": line}, forms=(form,))


@require_POST
@for_member("edit")
def paper_document_off(request: SeatedRequest, slug: str, code: str, document: str) -> HttpResponse:
    """Say that a document does not belong to a paper after all."""
    line = one_line(request, code)
    if line.paper is None:
        raise Http404
    row = get_object_or_404(line.paper.documents.select_related("document"), document_id=document)
    commands.take_document_off(by=request.seat.person, at=timezone.now(), paper=line.paper, document=row.document)
    messages.success(request, f"{row.document} is taken off. It stays among the documents.")
    return redirect("certification:paper", slug, code)


@require_safe
@for_member()
def paper_sheet(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """What to write where on an official form, with the exact strings of the record."""
    line = one_line(request, code)
    if line.item is None or not line.item.fill_in:
        raise Http404
    context = {
        "line": line,
        "boxes": queries.boxes(request.seat.project, line.item),
        "troubles": queries.identity_troubles(request.seat.project),
        "profile": file_profiles.profile_of(request.seat.project),
    }
    return render(request, "certification/paper_sheet.html", context)
