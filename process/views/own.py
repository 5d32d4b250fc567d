"""Pages of own values in place of built-in ones."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from foundation.posting import sent, written
from process.commands import own as commands
from process.forms.common import ReasonForm
from process.forms.own import OwnValueForm
from process.pages.judged import Judged, turned
from process.queries import own as queries
from process.rules.quantities import plain
from process.rules.usual import Usual


def one(request: SeatedRequest, key: str) -> queries.Line:
    """One value by its key, or 404."""
    found = next((line for line in queries.lines(request.seat.project) if line.key == key), None)
    if found is None:
        raise Http404
    return found


def unseen(request: SeatedRequest, key: str, value: Usual | None) -> list[tuple[Judged, Judged]]:
    """The records that another value turns, until whoever changes it was shown them: `sure` says so."""
    if "sure" in request.POST:
        return []
    project = request.seat.project
    others = {name: own for name, own in queries.own_values(project).items() if name != key}
    return turned(project, others | ({key: value} if value else {}))


@for_member()
def own_values(request: SeatedRequest, slug: str) -> HttpResponse:
    """All values that verdicts use where plan and sheet give none, with their sources."""
    return answer(request, "process/own_values.html", {"lines": queries.lines(request.seat.project)})


@for_member("edit")
def own_value(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Put an own value in place of a built-in one."""
    line, seat = one(request, key), request.seat
    initial = {"value": plain(line.own.value), "source": line.own.source} if line.own else {}
    form = OwnValueForm(sent(request), changes=line.own is not None, initial=initial)

    def put(**values: object) -> object:
        return commands.set_value(project=seat.project, key=key, **values)  # type: ignore[arg-type]

    turns = []
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        turns = unseen(request, key, queries.as_own(key, said["value"], line.built_in.unit, said["source"]))
    if request.method == "POST" and not turns and written(form, put, by=seat.person) is not None:
        messages.success(request, f"From now on: {line.built_in.words} by your own value.")
        return redirect("process:own_values", slug)
    context = {"form": form, "line": line, "turns": turns, "sure": "sure" in request.POST}
    return answer(request, "process/own_value.html", context, forms=(form,))


@for_member("edit")
def own_value_away(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Go back to the built-in value."""
    line = one(request, key)
    row = line.own
    if row is None:
        raise Http404
    form = ReasonForm(sent(request))

    def take_away(**values: object) -> object:
        return commands.take_away_value(row=row, **values)  # type: ignore[arg-type]

    turns = unseen(request, key, None) if request.method == "POST" and form.is_valid() else []
    if request.method == "POST" and not turns and written(form, take_away, by=request.seat.person) is not None:
        messages.success(request, f"The built-in value counts again: {line.built_in.words}.")
        return redirect("process:own_values", slug)
    context = {"form": form, "line": line, "turns": turns, "sure": "sure" in request.POST}
    return answer(request, "process/own_value_away.html", context, forms=(form,))
