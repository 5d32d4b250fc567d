"""Pages about tools, what happened to them and what they touched; and what the stores want done."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from evidence.access import chosen_photos
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told
from process.commands import tools as commands
from process.forms.tools import (
    CorrectEventForm,
    CorrectRecheckForm,
    CorrectToolForm,
    NewEventForm,
    PaperForm,
    RecheckForm,
    ToolForm,
    WithdrawForm,
    values_of_event,
    values_of_recheck,
    values_of_tool,
)
from process.models import Recheck, Tool, ToolDocument, ToolEvent
from process.queries import stores
from process.queries import tools as queries


@require_safe
@for_member()
def tools(request: SeatedRequest, slug: str) -> HttpResponse:
    """All tools with how they stand; those that want something done first."""
    return render(request, "process/tools.html", {"stood": queries.stood(request.seat.project, timezone.localdate())})


@require_safe
@for_member()
def stores_watch(request: SeatedRequest, slug: str) -> HttpResponse:
    """Lots that expire or run low, and tools that are due: the whole list, or for htmx the piece for the shop home."""
    found = stores.watch(request.seat.project, timezone.localdate())
    return answer(request, "process/stores_watch.html", {"watch": found}, piece="watch")


def any_tool(request: SeatedRequest, key: str) -> Tool:
    """A tool of the project at hand, standing or withdrawn, or 404."""
    return get_object_or_404(queries.all_tools(request.seat.project), pk=key)


def one_tool(request: SeatedRequest, key: str) -> Tool:
    """A standing tool of the project at hand, or 404."""
    return get_object_or_404(queries.tools(request.seat.project).select_related("project"), pk=key)


@require_safe
@for_member()
def tool(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One tool: how it stands, what happened to it, what was made with it."""
    shown = any_tool(request, key)
    used = queries.made_with(shown)
    papers = queries.papers(shown)
    context = {
        "tool": shown,
        "papers": papers,
        "standing": queries.standing_of(shown, timezone.localdate()),
        "events": [(row, [one for one in papers if one.event_id == row.pk]) for row in queries.events_of(shown)[::-1]],
        "used": used[::-1][:20],
        "used_count": len(used),
        "suspects": queries.suspects(shown),
        "history": told(shown.project_id, shown.subject),
    }
    return render(request, "process/tool.html", context)


@require_safe
@for_member()
def tool_suspects(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Every record made with a tool since it was last good, for each time it was found bad. Made to be printed."""
    shown = any_tool(request, key)
    context = {"tool": shown, "suspects": queries.suspects(shown), "rule": queries.rules.room.SUSPECT}
    return render(request, "process/tool_suspects.html", context)


@for_member("edit")
def tool_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a tool."""
    form = ToolForm(sent(request))
    if made := written(form, commands.add_tool, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made} is entered. Say when it was last calibrated or checked.")
        return redirect("process:tool", slug, made.pk)
    return answer(request, "process/tool_form.html", {"form": form}, forms=(form,))


@for_member("edit")
def tool_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct what is said of a tool."""
    shown = one_tool(request, key)
    form = CorrectToolForm(sent(request), initial=values_of_tool(shown))
    if made := written(form, commands.correct_tool, by=request.seat.person, tool=shown):
        messages.success(request, f"{made} is corrected. The old values stay in the history.")
        return redirect("process:tool", slug, made.pk)
    return answer(request, "process/tool_form.html", {"form": form, "tool": one_tool(request, key)}, forms=(form,))


@for_member("log")
def tool_event(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say what happened to a tool; anybody who works here may, since he who dropped it should."""
    shown, now, person = one_tool(request, key), timezone.now(), request.seat.person
    form = NewEventForm(sent(request), request.FILES or None, initial={"happened_on": timezone.localdate()})
    photos, refused = chosen_photos(request, request.seat.project, person, now)
    photo = photos[0] if photos else None
    event = None if refused else written(form, commands.record_event, by=person, tool=shown, photo=photo)
    if event:
        messages.success(request, f"{event.get_kind_display()}: it stands with {shown}.")
        keep_certificate(request, form, event)
        bad = event.kind == "bad"
        return redirect("process:tool_suspects" if bad else "process:tool", slug, shown.pk)
    context = {"form": form, "tool": shown, "photo": photo, "refused": refused}
    return answer(request, "process/tool_event.html", context, forms=(form,))


def keep_certificate(request: SeatedRequest, form: NewEventForm, event: ToolEvent) -> None:
    """Keep the paper that came with an event. The event stands even where there is no room for the file."""
    if file := form.cleaned_data["paper"]:
        said = form.said_of_paper(event.tool)
        known: dict[str, Any] = {"by": request.seat.person, "at": timezone.now(), "tool": event.tool, "event": event}
        try:
            commands.keep_paper(**known, file=file, name=file.name or "", **said)
        except Refusal as no:
            messages.error(request, f"Its paper was not kept: {no.message} Add it below.")


@for_member("log")
def tool_paper(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Put a document with a tool: a new file, or one that is kept already; `?event=` names what it is about."""
    shown = one_tool(request, key)
    form = PaperForm(sent(request), request.FILES or None, tool=shown, initial={"event": request.GET.get("event")})
    if form.is_valid():
        known: dict[str, Any] = {"by": request.seat.person, "at": timezone.now(), "tool": shown}
        known["event"] = form.event_chosen
        file, kept = form.cleaned_data["file"], form.cleaned_data["kept"]
        try:
            if kept:
                paper = commands.put_paper(**known, document=kept)
            else:
                paper = commands.keep_paper(**known, file=file, name=file.name or "", **form.said)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{paper.document} is with {shown}.")
            return redirect("process:tool", slug, shown.pk)
    return answer(request, "process/tool_paper.html", {"form": form, "tool": shown}, forms=(form,))


@require_POST
@for_member("edit")
def tool_paper_off(request: SeatedRequest, slug: str, key: str, paper: str) -> HttpResponse:
    """Say that a document is not about a tool after all."""
    row = get_object_or_404(
        ToolDocument.objects.select_related("tool", "document"), pk=paper, tool=one_tool(request, key)
    )
    commands.take_paper_off(by=request.seat.person, at=timezone.now(), paper=row)
    messages.success(request, f"{row.document} is taken off. It stays among the documents.")
    return redirect("process:tool", slug, key)


@for_member("edit")
def tool_look_again(request: SeatedRequest, slug: str, key: str, event: str, kind: str, record: str) -> HttpResponse:
    """Say what came of looking again at a record that was made with a tool found bad."""
    shown = one_tool(request, key)
    row = get_object_or_404(ToolEvent.objects.select_related("tool__project"), pk=event, tool=shown)
    made = queries.made_of(request.seat.project, kind, record)
    if made is None:
        raise Http404
    form = RecheckForm(sent(request), initial={"looked_on": timezone.localdate()})
    if written(form, commands.look_again, by=request.seat.person, event=row, record=made):
        messages.success(request, f"{made.label} was looked at again: it is told.")
        return redirect("process:tool_suspects", slug, shown.pk)
    context = {"form": form, "tool": shown, "event": row, "record": made}
    return answer(request, "process/tool_recheck.html", context, forms=(form,))


def one_recheck(request: SeatedRequest, key: str, recheck: str) -> Recheck:
    """How a record of the project at hand was looked at again, as it stands, or 404."""
    rows = queries.all_rechecks(request.seat.project).filter(tool=one_tool(request, key), withdrawn_at=None)
    return get_object_or_404(rows, pk=recheck)


@for_member("edit")
def tool_recheck(request: SeatedRequest, slug: str, key: str, recheck: str) -> HttpResponse:
    """Put right what was said of looking again, with a reason; with its history."""
    row = one_recheck(request, key, recheck)
    form = CorrectRecheckForm(sent(request), initial=values_of_recheck(row))
    if written(form, commands.correct_recheck, by=request.seat.person, recheck=row):
        messages.success(request, "It is corrected. The old words stay in the history.")
        return redirect("process:tool_suspects", slug, key)
    context = {
        "form": form,
        "tool": row.tool,
        "event": row.event,
        "record": queries.made_of(row.project, row.kind, row.record),
        "recheck": one_recheck(request, key, recheck),
        "history": told(row.project_id, row.subject),
    }
    return answer(request, "process/tool_recheck.html", context, forms=(form,))


@for_member("edit")
def tool_recheck_withdraw(request: SeatedRequest, slug: str, key: str, recheck: str) -> HttpResponse:
    """Say that a record was not looked at again after all."""
    row = one_recheck(request, key, recheck)
    form = WithdrawForm(sent(request))
    if written(form, commands.withdraw_recheck, by=request.seat.person, recheck=row):
        messages.success(request, f"{row.cited} is on the list again.")
        return redirect("process:tool_suspects", slug, key)
    return answer(request, "process/tool_recheck_withdraw.html", {"form": form, "recheck": row}, forms=(form,))


@for_member("edit")
def tool_event_edit(request: SeatedRequest, slug: str, key: str, event: str) -> HttpResponse:
    """Put right what was entered about an event, with a reason."""
    shown = one_tool(request, key)
    row = get_object_or_404(ToolEvent.objects.select_related("tool__project"), pk=event, tool=shown)
    form = CorrectEventForm(sent(request), initial=values_of_event(row))
    if written(form, commands.correct_event, by=request.seat.person, event=row):
        messages.success(request, "It is corrected. The old words stay in the history.")
        return redirect("process:tool", slug, shown.pk)
    return answer(request, "process/tool_event.html", {"form": form, "tool": shown, "event": row}, forms=(form,))


@for_member("edit")
def tool_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a tool that was entered by mistake out of the lists."""
    shown = one_tool(request, key)
    form = WithdrawForm(sent(request))
    if written(form, commands.withdraw_tool, by=request.seat.person, tool=shown):
        messages.success(request, f"{shown} is withdrawn. Records made with it keep naming it.")
        return redirect("process:tools", slug)
    return answer(request, "process/tool_withdraw.html", {"form": form, "tool": shown}, forms=(form,))
