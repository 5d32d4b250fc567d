"""Pages of cure runs: started, logged, specified, judged."""

from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SENTENCES, SeatedRequest, for_member
from evidence.models import Document
from evidence.queries import document_path
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from foundation.sending import send_file
from journal.queries.story import told
from process.commands import cures as commands
from process.commands.logger_files import keep_log
from process.forms import cures as forms
from process.models import CureRun
from process.pages import cure_plot
from process.pages import cures as pages
from process.queries import cures as queries
from process.queries.shots import shots
from process.rules import cures as rules
from process.rules import log_cells, log_guess, logs
from process.views.common import may_change, page_of, with_reason

A_PAGE = 40
FIGURES = 24


def one(request: SeatedRequest, key: str) -> CureRun:
    """A run of the project at hand, withdrawn ones too, or 404."""
    return get_object_or_404(queries.all_runs(request.seat.project), pk=key)


def one_to_change(request: SeatedRequest, key: str) -> CureRun:
    """A run that this member may correct, finish or withdraw."""
    run = one(request, key)
    if not may_change(request, run):
        raise PermissionDenied(SENTENCES["edit"])
    return run


@require_safe
@for_member()
def cures(request: SeatedRequest, slug: str) -> HttpResponse:
    """The runs of the project, newest first, with their verdicts."""
    page = Paginator(queries.runs(request.seat.project), A_PAGE).get_page(request.GET.get("page"))
    judged = [(run, rules.Judged.from_json(run.verdict) if run.verdict else pages.standing(run)) for run in page]
    return answer(request, "process/cures.html", {"page": page, "judged": judged})


@for_member("log")
def cure_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Start a run now, or write down one that was."""
    seat, project = request.seat, request.seat.project
    last = queries.runs(project).first()
    initial: dict[str, Any] = {name: request.GET[name] for name in ("assembly", "part") if name in request.GET}
    if last is not None:
        initial |= {"heat": last.heat, "equipment": last.equipment_id, "logger": last.logger_id}
    if "in" in request.GET:
        initial["cured"] = request.GET.getlist("in")
    form = forms.NewRunForm(sent(request), project=project, last=last, initial={"heat": "oven"} | initial)
    made = None
    if request.method == "POST":
        made = written(form, lambda **values: commands.start_run(project=project, **values), by=seat.person)
    if made is not None:
        messages.success(request, f"{made.label} is kept.")
        return redirect("process:cure", slug, made.pk)
    return answer(request, "process/cure_new.html", {"form": form}, forms=(form,))


@require_safe
@for_member()
def cure(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One run: plot, verdict with its reasons, specification, stack, what lay in it, photos."""
    run = one(request, key)
    found = pages.standing(run)
    spec, zone = pages.spec(run), ZoneInfo(run.project.time_zone)
    context = {
        "run": run,
        "record": run,
        "found": found,
        "spec": spec,
        "band": rules.band(spec),
        "sign": spec.sign,
        "soak_min": rules.lasted(float(run.soak_min)) if run.soak_min else "",
        "soak_max": rules.lasted(float(run.soak_max)) if run.soak_max else "",
        "ramp": rules.rate(float(run.ramp_max_per_min), spec) if run.ramp_max_per_min else "",
        "cool": rules.rate(float(run.cool_max_per_min), spec) if run.cool_max_per_min else "",
        "plots": [
            drawn for size in (cure_plot.WIDE, cure_plot.NARROW) if (drawn := cure_plot.plot(found, spec, zone, size))
        ],
        "figures": rules.figures(found, spec, zone, FIGURES),
        "things": [(thing, page_of(thing) if hasattr(thing, "KIND") else "") for thing in forms.things_of(run)],
        "shots": shots(run),
        "may_change": may_change(request, run),
        "history": told(run.project_id, run.subject),
    }
    return answer(request, "process/cure.html", context)


@for_member("log")
@require_POST
def cure_stop(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One tap: the heat is off."""
    try:
        commands.stop_run(one(request, key), by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    return redirect("process:cure", slug, key)


@for_member("log")
def cure_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a run."""
    run = one_to_change(request, key)
    form = forms.CorrectRunForm(sent(request), project=run.project, record=run, initial=forms.initial_of(run))
    return changed(request, run, form, "process/cure_edit.html", f"{run.label} is corrected.")


@for_member("log")
def cure_spec(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """What the run has to keep to."""
    run = one_to_change(request, key)
    form = forms.SpecForm(sent(request), project=run.project, record=run, initial=forms.initial_of_spec(run))
    return changed(request, run, form, "process/cure_spec.html", "The specification is kept; the run is judged anew.")


def changed(request: SeatedRequest, run: CureRun, form: Any, template: str, words: str) -> HttpResponse:
    """Correct a run by a form, or show the form again."""

    def write(**values: Any) -> CureRun:
        return commands.correct_run(run, **values)

    if request.method == "POST" and written(form, write, by=request.seat.person) is not None:
        messages.success(request, words)
        return redirect("process:cure", run.project.slug, run.pk)
    return answer(request, template, {"form": form, "run": run}, forms=(form,))


@for_member("log")
def cure_stack(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """The materials in the heated stack, with the most that each bears."""
    run = one_to_change(request, key)
    form = forms.StackForm(sent(request), project=run.project, run=run, rows=forms.rows_of_stack(run))

    def write(**values: Any) -> CureRun:
        return commands.correct_run(run, stack=form.read, verb="cure.stack_said", **values)

    if request.method == "POST" and written(form, write, by=request.seat.person) is not None:
        messages.success(request, "The stack is kept; the run is judged anew.")
        return redirect("process:cure", slug, key)
    context = {"form": form, "run": run, "films": rules.FILMS, "sign": rules.SIGNS[run.unit]}
    return answer(request, "process/cure_stack.html", context, forms=(form,))


@for_member("log")
def cure_points(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Temperatures that were read by hand."""
    run = one_to_change(request, key)
    form = forms.PointsForm(sent(request), project=run.project, run=run, rows=forms.rows_of_points(run))

    def write(**values: Any) -> CureRun:
        return commands.type_points(run, points=form.read, **values)

    if request.method == "POST" and written(form, write, by=request.seat.person) is not None:
        messages.success(request, "The temperatures are kept; the run is judged anew.")
        return redirect("process:cure", slug, key)
    context = {"form": form, "run": run, "sign": rules.SIGNS[run.unit]}
    return answer(request, "process/cure_points.html", context, forms=(form,))


@for_member("log")
def cure_log(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Send a logger's file, or choose one that is kept; how it is read is confirmed on the next page."""
    run = one_to_change(request, key)
    documents = list(queries.documents(run.project)[:60])
    form = forms.LogForm(sent(request), request.FILES or None, documents=documents)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data.get("file")
        if file is None:
            return redirect("process:cure_mapping", slug, key, form.cleaned_data["kept"])
        try:
            document = keep_log(
                by=request.seat.person, at=timezone.now(), project=run.project, file=file, name=file.name
            )
        except Refusal as no:
            form.refuse(no)
        else:
            return redirect("process:cure_mapping", slug, key, document.pk)
    return answer(request, "process/cure_log.html", {"form": form, "run": run}, forms=(form,))


@for_member("log")
def cure_mapping(request: SeatedRequest, slug: str, key: str, document: str) -> HttpResponse:
    """Show how a log would be read, with its first lines; confirmed, the log speaks for the run."""
    run = one_to_change(request, key)
    kept = get_object_or_404(Document.objects.standing(), project=run.project, pk=document)
    context: dict[str, Any] = {"run": run, "document": kept}
    zone = ZoneInfo(run.project.time_zone)
    try:
        text = log_cells.decode(queries.log_bytes(kept))
        guess = log_guess.guess(text, run.started_at.astimezone(zone).date())
    except Refusal as no:
        response = answer(request, "process/cure_mapping.html", context | {"refused": no.message})
        response.status_code = 422
        return response
    guess = forms.as_remembered(guess, queries.remembered(run.project, guess.reading.header))
    form = forms.MappingForm(sent(request), guess=guess, run=run)
    reading = guess.reading
    if request.method == "POST" and form.is_valid():
        said, reading = form.cleaned_data, form.reading
        try:
            commands.read_in(
                run,
                by=request.seat.person,
                at=timezone.now(),
                document=kept,
                reading=reading,
                take_times=said["take_times"],
                reason=said.get("reason", ""),
            )
        except Refusal as no:
            form.refuse(no)
        else:
            messages.success(request, f"{kept.label} is read in; {run.label} is judged by it.")
            return redirect("process:cure", slug, key)
    try:
        context["readings"] = logs.first_readings(text, reading, zone, run.started_at)
    except Refusal:
        context["readings"] = []
    return answer(request, "process/cure_mapping.html", context | {"form": form, "guess": guess}, forms=(form,))


@require_safe
@for_member()
def cure_file(request: SeatedRequest, slug: str, key: str) -> HttpResponseBase:
    """The logger's file exactly as it came."""
    run = one(request, key)
    if run.log is None:
        raise Http404
    try:
        return send_file(
            request,
            document_path(run.log),
            etag=run.log.digest,
            content_type="text/plain; charset=utf-8",
            cache="private, no-cache",
            save_as=run.log.file_name or f"{run.log.label}.csv",
        )
    except FileNotFoundError:
        raise Http404("The file is not on the server's disk. Check the health of the record.") from None


@for_member("log")
def cure_log_away(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a log off that belongs to another cure."""
    run = one_to_change(request, key)
    return with_reason(
        request,
        run,
        lambda **values: commands.take_off_log(run, **values),
        f"Take the log off {run.label}?",
        "The log no longer speaks for this run. The file stays kept.",
        "Take it off",
    )


@for_member("log")
@require_POST
def cure_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say that a run is told completely."""
    run = one_to_change(request, key)
    try:
        commands.finish_run(run, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{run.label} is finished. From now on a correction needs a reason.")
    return redirect("process:cure", slug, key)


@for_member("log")
def cure_reopen(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Open a finished run again, with a reason."""
    run = one_to_change(request, key)
    return with_reason(
        request,
        run,
        lambda **values: commands.reopen_run(run, **values),
        f"Open {run.label} again?",
        f"{run.label} is open again.",
        "Open it again",
    )


@for_member("log")
def cure_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a run that was recorded by mistake out of what counts."""
    run = one_to_change(request, key)
    return with_reason(
        request,
        run,
        lambda **values: commands.withdraw_run(run, **values),
        f"Withdraw {run.label}?",
        f"{run.label} is withdrawn. It stays readable.",
        "Withdraw",
    )
