"""The journal, the history of one record, the health of the installation, and checks of the record."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, SignedInRequest, for_member
from archive import commands, pages, queries, rules
from archive.queries import health as installation
from archive.queries import story
from foundation.answer import answer

PAGE = 50

# Where each kind of record has its page.
PAGES = {
    "accounts.person": "accounts:person",
    "buildlog.worksession": "buildlog:session",
    "certification.pack": "certification:pack",
    "evidence.photo": "evidence:photo",
    "inspections.area": "inspections:area",
    "inspections.closurelist": "inspections:closure",
    "inspections.discrepancy": "inspections:discrepancy",
    "inspections.point": "inspections:point",
    "inspections.visit": "inspections:visit",
    "parts.assembly": "inspections:assembly",
    "parts.part": "parts:part",
}

# Pages that are not for every member.
ACTS = {"inspections.visit": "manage"}


@for_member("read")
def journal(request: SeatedRequest, slug: str) -> HttpResponse:
    """All entries of a project, newest first, by page; ?kind= shows one kind of record."""
    kind = request.GET.get("kind", "")
    page = Paginator(story.entries(request.seat.project, kind), PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "lines": story.lines(page), "kinds": rules.KINDS, "kind": kind}
    return answer(request, "archive/journal.html", context)


@for_member("read")
def history(request: SeatedRequest, slug: str, subject: str) -> HttpResponse:
    """What happened to one record, with every value it ever had."""
    told = story.history(request.seat.project, subject)
    if told is None:
        raise Http404("No such record.")
    may_open = request.seat.person.may(ACTS.get(told.kind, "read"))
    page_name = PAGES.get(told.kind, "") if may_open else ""
    return answer(request, "archive/history.html", {"told": told, "page_name": page_name})


@login_required
def health(request: SignedInRequest) -> HttpResponse:
    """How the installation is, for anybody who is signed in."""
    return answer(request, "archive/health.html", {"health": installation.health(request.user, timezone.now())})


@require_POST
@for_member("manage")
def check_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Have the record checked by the worker, or show the check that is under way."""
    run = commands.ask_for_check(project=request.seat.project, at=timezone.now())
    return redirect("archive:check", slug, run.pk)


@for_member("read")
def check(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One check: how far it is, or what it found."""
    run = get_object_or_404(queries.runs(request.seat.project).select_related("project"), pk=key)
    context = {
        "run": run,
        "word": queries.state_word(run, timezone.now()),
        "outcome": queries.outcome_of(run),
        "chapter": rules.CHAPTERS.get(run.chapter, ""),
    }
    return answer(request, "archive/check.html", context, piece="state")


@for_member("read")
def check_report(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The report of a check that came to its end, as text to be kept or printed."""
    ended = queries.runs(request.seat.project).select_related("project").filter(ended_at__isnull=False)
    run = get_object_or_404(ended, pk=key)
    outcome = queries.outcome_of(run, timezone.get_current_timezone())
    return HttpResponse(
        pages.report([outcome]),
        content_type="text/plain; charset=utf-8",
        headers={"Content-Disposition": f'inline; filename="check-{slug}-{run.started_at:%Y-%m-%d}.txt"'},
    )
