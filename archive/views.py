"""The journal, the history of one record, and the health of the installation."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse

from accounts.access import SeatedRequest, SignedInRequest, for_member
from archive import rules
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
    "parts.assembly": "inspections:assembly",
    "parts.part": "parts:part",
}


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
    return answer(request, "archive/history.html", {"told": told, "page_name": PAGES.get(told.kind, "")})


@login_required
def health(request: SignedInRequest) -> HttpResponse:
    """How the installation is, for anybody who is signed in."""
    return answer(request, "archive/health.html", {"health": installation.health(request.user)})
