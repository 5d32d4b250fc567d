"""Pages of credit: the list with its share, one task, tasks added, what if, and taking up a list."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from calc.major_portion import SHARE
from certification.commands import credit as commands
from certification.forms import credit as forms
from certification.models import TaskList
from certification.queries import credit as queries
from certification.queries.coverage import coverage
from certification.rules import coverage as coverage_rules
from certification.rules import credit as rules
from foundation.answer import answer
from foundation.posting import sent
from foundation.refusal import Refusal
from journal.queries.story import told
from parts import queries as parts
from parts.models import Assembly


def share_words(share: Any) -> dict[str, Any]:
    """A share as pages tell it."""
    mark, word = queries.standing_words(share)
    return {"share": share, "percent": queries.percent_words(share), "mark": mark, "word": word}


@for_member()
def sheet(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every task with its four columns, and what that adds up to."""
    project = request.seat.project
    found = queries.sheet(project)
    context = {"sheet": found, "rule": SHARE, "starter": queries.starter(), "heads": rules.COLUMN_HEADS}
    context["tie"] = to_tie(request)
    context |= share_words(found.share)
    if found.lines:
        held = coverage(project, found)
        context["coverage"] = held
        context["sections"] = [(one, [held.by_code[line.code] for line in one.lines]) for one in found.sections]
    return answer(request, "certification/credit.html", context)


def to_tie(request: SeatedRequest) -> Assembly | None:
    """The assembly that the builder came from to tie it to a task, if he may."""
    key = request.GET.get("tie", "")
    return parts.assemblies(request.seat.project).filter(pk=key).first() if key and request.seat.may("edit") else None


@for_member("edit")
def tasks(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every task with its four columns to fill in; what was changed is kept at once."""
    seat = request.seat
    found = queries.sheet(seat.project)
    if not found.lines:
        return redirect("certification:credit", slug)
    form = forms.AllTasksForm(sent(request), sheet=found)
    if request.method == "POST" and form.is_valid():
        try:
            said = {"changes": form.changes, "reason": form.cleaned_data["reason"]}
            made = commands.give_all(by=seat.person, at=timezone.now(), project=seat.project, **said)
        except Refusal as no:
            form.refuse(no)
        else:
            count = len(made)
            words = f"{count} task{'s are' if count != 1 else ' is'} kept." if count else "Nothing was changed."
            messages.success(request, words)
            return redirect("certification:credit", slug)
    context = {"form": form, "sheet": found, "heads": rules.COLUMN_HEADS}
    return answer(request, "certification/credit_tasks.html", context, forms=(form,))


@for_member()
def what_if(request: SeatedRequest, slug: str) -> HttpResponse:
    """The share if the builders' work on the chosen tasks were hired out; nothing is written."""
    found = queries.sheet(request.seat.project)
    known = {one.code for one in found.lines}
    chosen = [code for code in dict.fromkeys(request.GET.getlist("task")) if code in known]
    context = {"sheet": found, "chosen": chosen, "rule": SHARE, "now": share_words(found.share)}
    if chosen:
        after = queries.what_if(found, chosen)
        context["after"] = share_words(after)
        context["moved"] = found.share.builders - after.builders
    return answer(request, "certification/credit_what_if.html", context)


def line_or_404(found: queries.Sheet, code: str) -> queries.Line:
    """A task of the list that counts, or 404."""
    line = found.line(code)
    if line is None:
        raise Http404("No such task.")
    return line


@for_member(post="edit")
def task(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """One task: its split, why, where its evidence stands, and what happened to it. The builder changes it here."""
    seat = request.seat
    found = queries.sheet(seat.project)
    line = line_or_404(found, code)
    at = found.lines.index(line)
    before, after = (found.lines[at - 1] if at else None), next(iter(found.lines[at + 1 :]), None)
    tie = to_tie(request)
    form = forms.SplitForm(sent(request), project=seat.project, line=line, tie=tie) if seat.may("edit") else None
    if request.method == "POST" and form is not None and form.is_valid():
        try:
            commands.give_credit(by=seat.person, at=timezone.now(), project=seat.project, code=code, **form.values)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{code} is kept.")
            further = after.code if after and "on" in request.POST else code
            return redirect("certification:credit_task", slug, further)
    context = {
        "sheet": found,
        "line": line,
        "covered": coverage(seat.project, found).by_code[code],
        "section": found.section(line.section),
        "before": before,
        "after": after,
        "form": form,
        "tie": tie,
        "history": told(seat.project.pk, line.credit.subject) if line.credit else [],
        "coverage_rule": coverage_rules.RULE,
        "coverage_source": coverage_rules.RULE_SOURCE,
        **share_words(found.share),
    }
    return answer(request, "certification/credit_task.html", context, forms=(form,) if form else ())


@for_member("edit")
def task_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Add a task that the list does not have."""
    seat = request.seat
    found = queries.sheet(seat.project)
    if not found.sections:
        return redirect("certification:credit_lists", slug)
    chosen: dict[str, Any] = {"section": request.GET.get("section", ""), "tie": to_tie(request)}
    form = forms.OwnTaskForm(sent(request), project=seat.project, sheet=found, **chosen)
    if request.method == "POST" and form.is_valid():
        try:
            made = commands.add_task(by=seat.person, at=timezone.now(), project=seat.project, **form.values)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{made} is added and counts as one more task.")
            return redirect("certification:credit_task", slug, made.code)
    return answer(request, "certification/credit_new.html", {"form": form, "sheet": found}, forms=(form,))


@for_member("edit")
def withdraw(request: SeatedRequest, slug: str, code: str) -> HttpResponse:
    """Take back what is credited for a task."""
    line = line_or_404(queries.sheet(request.seat.project), code)
    if line.credit is None:
        raise Http404("Nothing is credited here.")
    words = (
        "It is no longer counted." if line.added else "The task stays in the list and counts, with nothing for anybody."
    )
    return taken_back(request, slug, line.credit, words)


@for_member("edit")
def gone_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take back credit whose task is not in the list that counts."""
    found = queries.sheet(request.seat.project)
    row = next((one for one in found.without_task if one.pk == key), None)
    if row is None:
        raise Http404("No such credit.")
    return taken_back(request, slug, row, "Its task is not in the list that counts, so nothing changes in the share.")


def taken_back(request: SeatedRequest, slug: str, row: Any, words: str) -> HttpResponse:
    """Ask why, then withdraw."""
    form = forms.ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            reason = form.cleaned_data["reason"]
            commands.withdraw_credit(by=request.seat.person, at=timezone.now(), credit=row, reason=reason)
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"The credit for {row.code} is withdrawn.")
            return redirect("certification:credit", slug)
    context = {"form": form, "heading": f"Withdraw the credit for {row.code}?", "words": words}
    return answer(request, "certification/credit_reason.html", context, forms=(form,))


# ---- lists ----


@for_member()
def lists(request: SeatedRequest, slug: str) -> HttpResponse:
    """The lists a project took up, which of them counts, and where to take up another."""
    project = request.seat.project
    rows = list(queries.all_lists(project))
    now = next((row for row in rows if not row.withdrawn), None)
    context = {"rows": rows, "now": now, "caution": queries.caution(now), "starter": queries.starter()}
    return answer(request, "certification/credit_lists.html", context)


@for_member()
def task_list(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One list as it was taken up, whole."""
    project = request.seat.project
    row = get_object_or_404(TaskList.objects.select_related("taken_by"), project=project, pk=key)
    now = queries.list_now(project)
    context = {
        "row": row,
        "sections": queries.sections_of(row),
        "counts": now == row,
        "caution": queries.caution(row),
        "history": told(project.pk, row.subject),
    }
    return answer(request, "certification/credit_list.html", context)


@for_member("edit")
def list_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Withdraw a list that was taken up by mistake."""
    row = get_object_or_404(TaskList.objects.standing(), project=request.seat.project, pk=key)
    form = forms.ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_list(
                by=request.seat.person, at=timezone.now(), task_list=row, reason=form.cleaned_data["reason"]
            )
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{row} is withdrawn. The list before it counts, if there is one.")
            return redirect("certification:credit_lists", slug)
    words = "It stays readable. The list before it counts again; credit stays with its tasks' numbers."
    context = {"form": form, "heading": f"Withdraw {row}?", "words": words}
    return answer(request, "certification/credit_reason.html", context, forms=(form,))


def seen_difference(request: SeatedRequest, sections: tuple[rules.Section, ...]) -> rules.Difference | None:
    """What another list would change; None where none counts yet."""
    project = request.seat.project
    now = queries.list_now(project)
    if now is None:
        return None
    return rules.difference(queries.sections_of(now), sections, queries.credited_codes(project))


@for_member("edit")
def list_starter(request: SeatedRequest, slug: str) -> HttpResponse:
    """Show what the bundled list holds and changes; take it up."""
    one, no = queries.starter(), ""
    if request.method == "POST":
        try:
            commands.take_up_list(
                by=request.seat.person,
                at=timezone.now(),
                project=request.seat.project,
                title=one.title,
                edition=one.edition,
                source=one.source,
                sections=one.sections,
            )
        except Refusal as refusal:
            no = refusal.message
        else:
            messages.success(request, f"The starter list counts now, {one.count} tasks.")
            return redirect("certification:credit", slug)
    context = {"starter": one, "difference": seen_difference(request, one.sections), "refused": no}
    response = answer(request, "certification/credit_starter.html", context)
    response.status_code = 422 if no else 200
    return response


@for_member("edit")
def list_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Read a list of one's own, show what was read and what it changes, and take it up when that is confirmed."""
    seat = request.seat
    form = forms.ListForm(sent(request), request.FILES or None)
    context: dict[str, Any] = {"form": form, "needed": rules.NEEDED}
    if request.method == "POST" and form.is_valid():
        reading = form.reading
        context["reading"] = reading
        if reading.faults:
            count = len(reading.faults)
            lines = "One line needs" if count == 1 else f"{count} lines need"
            form.add_error("text", f"{lines} putting right. Nothing was taken up.")
        else:
            context["difference"] = seen_difference(request, reading.sections)
            # A file that came is only shown at first; what is taken up is the text that was shown.
            if "take" in request.POST and not request.FILES:
                try:
                    row = commands.take_up_list(
                        by=seat.person,
                        at=timezone.now(),
                        project=seat.project,
                        sections=reading.sections,
                        **form.words,
                    )
                except Refusal as no:
                    form.refuse(no)
                else:
                    messages.success(request, f"{row} counts now, {reading.count} tasks.")
                    return redirect("certification:credit", slug)
    return answer(request, "certification/credit_list_new.html", context, forms=(form,))
