"""Pages that tell where something was used, what is in something, and the whole story of a part."""

from django.http import Http404, HttpResponse
from django.views.decorators.http import require_safe

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from process.queries import story, trace
from process.rules import trace as rules

# So many lines of one kind are shown at once.
A_LIST = 400


@require_safe
@for_member()
def where_used(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Everything that holds a lot, or a record's work, or a part: as a list with the way to each, and as a picture."""
    return traced_page(request, kind, key, back=False)


@require_safe
@for_member()
def contents(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Everything that is in a part, an assembly or a record, down to the lots."""
    return traced_page(request, kind, key, back=True)


def traced_page(request: SeatedRequest, kind: str, key: str, *, back: bool) -> HttpResponse:
    """The page of one walk; for htmx the short piece for the page of the thing itself."""
    project = request.seat.project
    start = trace.named(project, [(kind, key)]).get((kind, key)) if kind in rules.KINDS else None
    if start is None:
        raise Http404
    traced = trace.contents(project, kind, key) if back else trace.where_used(project, kind, key)
    context = {
        "kind": kind,
        "key": key,
        "start": start,
        "traced": traced,
        "back": back,
        "most": A_LIST,
        "rule": rules.RULE,
        "caution": rules.CAUTION,
    }
    return answer(request, "process/traced.html", context, piece="short")


@require_safe
@for_member()
def part_story(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """All that was recorded about a part, what it comes from and what comes from it, in order of time."""
    part = story.any_part(request.seat.project, key)
    if part is None:
        raise Http404
    return answer(request, "process/part_story.html", {"part": part, "story": story.story_of(part)})
