"""Pages of inspection lists: beginning one, working through it, its discrepancies, its end, its print."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import inspection_lists as commands
from certification.forms import inspection_lists as forms
from certification.models import Inspection
from certification.models.flying import ANSWERS, INSPECTIONS
from certification.queries import flights as due_queries
from certification.queries import inspection_lists as queries
from certification.queries.inspection_lists import JudgedGroup, JudgedInspection, JudgedLine
from certification.rules import inspection_lists as rules
from certification.rules import statements
from foundation.answer import answer
from foundation.posting import sent, written
from inspections.queries import discrepancies
from journal.queries.story import told


def with_reason(
    request: SeatedRequest, write: Callable[..., Any], to: str, heading: str, words: str, button: str, done: str
) -> HttpResponse:
    """A page that asks for a reason, then does it and goes where `to` says."""
    form = forms.WhyForm(sent(request))
    if written(form, write, by=request.seat.person):
        messages.success(request, done)
        return redirect(to)
    context = {"form": form, "heading": heading, "words": words, "button": button, "back": to}
    return answer(request, "certification/inspection_reason.html", context, forms=(form,))


def found(request: SeatedRequest, key: str) -> Inspection:
    """A run of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_inspections(request.seat.project), pk=key)


def line_of(one: JudgedInspection, code: str) -> tuple[JudgedGroup, JudgedLine]:
    """A line of a run, or 404."""
    line = one.line(code)
    if line is None:
        raise Http404("The list has no such line.")
    return line


def page_of(request: SeatedRequest, one: Inspection, code: str = "") -> str:
    """The address of a run, at one of its lines."""
    address = reverse("certification:inspection", args=[request.seat.project.slug, one.pk])
    return f"{address}#line-{code}" if code else address


@require_safe
@for_member()
def inspections(request: SeatedRequest, slug: str) -> HttpResponse:
    """The runs so far, and when the next yearly one is due."""
    project = request.seat.project
    context = {
        "runs": queries.judged(queries.inspections(project)),
        "due": due_queries.due(project),
        "due_source": rules.DUE_SOURCE,
        "kinds": INSPECTIONS,
        "today": timezone.localdate(),
    }
    return answer(request, "certification/inspections.html", context)


@require_safe
@for_member()
def inspection_blank(request: SeatedRequest, slug: str, kind: str) -> HttpResponse:
    """A bundled list as an empty sheet with boxes, to be filled in by hand."""
    content = queries.bundled().get(kind)
    if content is None:
        raise Http404("There is no such list.")
    groups = [(title, [(line, None) for line in lines]) for title, lines in rules.groups_of(content)]
    context = {"groups": groups, "content": content, "kind_words": INSPECTIONS[kind], "note": queries.data()["note"]}
    return answer(request, "certification/inspection_print.html", context)


@for_member("edit")
def inspection_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Begin a run: choose the list, see what one's own says line by line, then begin."""
    wanted = request.GET.get("kind", "")
    initial = {"kind": wanted if wanted in INSPECTIONS else rules.FINAL, "which": forms.BUNDLED}
    form = forms.BeginForm(sent(request), request.FILES or None, initial=initial)
    looked = request.POST.get("act") == "look"
    if form.is_bound and form.is_valid() and not looked:
        seat = request.seat
        made = commands.begin(
            by=seat.person,
            at=timezone.now(),
            project=seat.project,
            kind=form.cleaned_data["kind"],
            content=form.content,
        )
        messages.success(request, f"{made} is begun. It keeps this list, whatever becomes of it elsewhere.")
        return redirect(page_of(request, made))
    context = {
        "form": form,
        "read": getattr(form, "read", None),
        "bundled": [(kind, INSPECTIONS[kind], content) for kind, content in queries.bundled().items()],
        "note": queries.data()["note"],
    }
    return answer(request, "certification/inspection_new.html", context, forms=(form,))


@require_safe
@for_member()
def inspection(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Work through the list: every line with its large answers; `?open=1` shows only what is open."""
    return inspection_page(request, found(request, key), forms.OwnLineForm())


def inspection_page(request: SeatedRequest, shown: Inspection, own: forms.OwnLineForm) -> HttpResponse:
    """The page of a run."""
    one = queries.judged([shown])[0]
    only_open = request.GET.get("open") == "1"
    groups = [
        (group, [line for line in group.lines if not only_open or not line.said or line.untied]) for group in one.groups
    ]
    context = {
        "one": one,
        "inspection": shown,
        "groups": [row for row in groups if row[1]],
        "only_open": only_open,
        "answers": ANSWERS,
        "own": own,
        "working": not (shown.withdrawn or shown.finished_at),
        "history": told(shown.project_id, shown.subject),
    }
    return answer(request, "certification/inspection.html", context, forms=(own,))


@require_POST
@for_member("find")
def inspection_answer(request: SeatedRequest, slug: str, key: str, code: str) -> HttpResponse:
    """One tap at a line: a piece of the page for htmx, the page at that line without it."""
    shown = found(request, key)
    form = forms.AnswerForm(request.POST)
    line_of(queries.judged([shown])[0], code)
    known = {"by": request.seat.person, "inspection": shown, "code": code}
    if not written(form, commands.give_answer, **known) and not request.htmx:  # type: ignore[attr-defined]  # by its middleware
        return line_page(request, shown, code, form)
    if not request.htmx:  # type: ignore[attr-defined]  # by its middleware
        return redirect(page_of(request, shown, code))
    one = queries.judged([shown])[0]
    group, line = line_of(one, code)
    context = {
        "one": one,
        "inspection": shown,
        "group": group,
        "line": line,
        "answers": ANSWERS,
        "working": not (shown.withdrawn or shown.finished_at),
        "wrong": form if form.errors else None,
    }
    return answer(request, "certification/inspection_line_piece.html", context, forms=(form,))


@require_safe
@for_member()
def inspection_line(request: SeatedRequest, slug: str, key: str, code: str) -> HttpResponse:
    """One line: its source, what was said and before that, and its discrepancy."""
    return line_page(request, found(request, key), code)


def line_page(
    request: SeatedRequest,
    shown: Inspection,
    code: str,
    wrong: forms.AnswerForm | None = None,
    make: forms.DiscrepancyForm | None = None,
    tie: forms.TieForm | None = None,
) -> HttpResponse:
    """The page of a line, with what was refused."""
    project = request.seat.project
    one = queries.judged([shown])[0]
    group, line = line_of(one, code)
    working = not (shown.withdrawn or shown.finished_at)
    if line.untied and working:
        words = f"{shown}, {line.line.words}"
        start = {"words": f"{words}: {line.note}" if line.note else words, "blocks": True}
        make = make or forms.DiscrepancyForm(project=project, initial=start)
        tie = tie or forms.TieForm(project=project)
    given = line.answer
    context = {
        "one": one,
        "inspection": shown,
        "group": group,
        "line": line,
        "answers": ANSWERS,
        "working": working,
        "wrong": wrong,
        "make": make,
        "tie": tie,
        "history": told(shown.project_id, given.subject) if given else [],
    }
    bad = tuple(form for form in (wrong, make, tie) if form is not None)
    return answer(request, "certification/inspection_line.html", context, forms=bad)


@require_POST
@for_member("find")
def inspection_discrepancy(request: SeatedRequest, slug: str, key: str, code: str) -> HttpResponse:
    """Make a discrepancy of a line that is not in order."""
    shown, project = found(request, key), request.seat.project
    given = answered(shown, code)
    form = forms.DiscrepancyForm(request.POST, project=project)
    if made := written(form, commands.make_discrepancy, by=request.seat.person, answer=given):
        messages.success(request, f"{made.label} is recorded. It says where it was found.")
        return redirect(page_of(request, shown, code))
    return line_page(request, shown, code, make=form)


@require_POST
@for_member("find")
def inspection_tie(request: SeatedRequest, slug: str, key: str, code: str) -> HttpResponse:
    """Tie a line that is not in order to a discrepancy that is there."""
    shown = found(request, key)
    given = answered(shown, code)
    form = forms.TieForm(request.POST, project=request.seat.project)
    if row := written(form, commands.tie, by=request.seat.person, answer=given):
        messages.success(request, f"{row.discrepancy.label} tells of this line.")
        return redirect(page_of(request, shown, code))
    return line_page(request, shown, code, tie=form)


def answered(shown: Inspection, code: str) -> Any:
    """What stands at a line, or 404."""
    given = line_of(queries.judged([shown])[0], code)[1].answer
    if given is None:
        raise Http404("This line is not answered.")
    return given


@for_member("edit")
def inspection_take_back(request: SeatedRequest, slug: str, key: str, code: str) -> HttpResponse:
    """Take an answer back, or a line of one's own off the list."""
    shown = found(request, key)
    given = answered(shown, code)
    own = given.added
    return with_reason(
        request,
        lambda **said: commands.take_back(answer=given, **said),
        page_of(request, shown),
        "Take this line off the list?" if own else "Take this answer back?",
        f"{queries.words_of(given)}. What was said stays in the history with your reason.",
        "Take it off" if own else "Take it back",
        "Taken off. It stays in the history." if own else "Taken back. The line is open again.",
    )


@require_POST
@for_member("find")
def inspection_own_line(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Add a line of one's own."""
    shown = found(request, key)
    form = forms.OwnLineForm(request.POST)
    if row := written(form, commands.add_line, by=request.seat.person, inspection=shown):
        messages.success(request, f"{row.code} is added at the end of the list.")
        return redirect(page_of(request, shown, row.code))
    return inspection_page(request, shown, form)


@for_member("edit")
def inspection_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """What the entry carries; over what is open only with a reason."""
    shown, person = found(request, key), request.seat.person
    one = queries.judged([shown])[0]
    initial = {
        "done_on": shown.done_on or timezone.localdate(),
        "done_by": shown.done_by or person.name,
        "certificate": shown.certificate or person.certificate,
        "total_hours": shown.total_hours,
        "wording": shown.wording,
        "statement": shown.statement,
        "gap_reason": shown.gap_reason,
    }
    form = forms.FinishForm(sent(request), initial=initial)
    if written(form, commands.finish, by=person, inspection=shown):
        messages.success(request, f"{shown} is finished. What it says is what was recorded; the inspector decides.")
        return redirect(page_of(request, shown))
    kind = statements.CONDITION if shown.kind == rules.CONDITION else statements.COMPLETION
    context = {
        "form": form,
        "one": one,
        "inspection": shown,
        "elements": statements.ELEMENTS[kind],
        "elements_source": statements.SOURCES[kind],
    }
    return answer(request, "certification/inspection_finish.html", context, forms=(form,))


@for_member("edit")
def inspection_reopen(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Open a finished run again."""
    shown = found(request, key)
    return with_reason(
        request,
        lambda **said: commands.reopen(inspection=shown, **said),
        page_of(request, shown),
        f"Open {shown} again?",
        "It can then be corrected, and has to be finished anew. What it said stays in its history.",
        "Open it again",
        f"{shown} is open again.",
    )


@for_member("edit")
def inspection_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a run that was begun by mistake off the lists."""
    shown = found(request, key)
    return with_reason(
        request,
        lambda **said: commands.withdraw_inspection(inspection=shown, **said),
        page_of(request, shown),
        f"Withdraw {shown}?",
        "It goes off the lists and stays readable with your reason. Its number is not given again.",
        "Withdraw it",
        f"{shown} is withdrawn.",
    )


@require_safe
@for_member()
def inspection_print(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The run as a sheet: with what was said, or with empty boxes (`?blank=1`)."""
    shown = found(request, key)
    one = queries.judged([shown])[0]
    blank = request.GET.get("blank") == "1"
    groups = [(group.title, [(row.line, None if blank else row) for row in group.lines]) for group in one.groups]
    context = {
        "groups": groups,
        "one": None if blank else one,
        "inspection": shown,
        "content": {"title": shown.title, "edition": shown.edition, "source": one.source},
        "kind_words": shown.get_kind_display(),
        "short_digest": one.short_digest,
    }
    return answer(request, "certification/inspection_print.html", context)


@require_safe
@for_member()
def discrepancy_from(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """What led to a discrepancy: lines of inspections and test points. A piece of its page, and a page without htmx."""
    project = request.seat.project
    one = get_object_or_404(discrepancies.all_rows(project), pk=key)
    context = {
        "found": one,
        "lines": [(row, queries.words_of(row)) for row in queries.lines_about(project, one)],
        "points": due_queries.points_about(project, one),
    }
    return answer(request, "certification/inspection_from.html", context, piece="led")
