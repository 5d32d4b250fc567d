"""Pages of work sessions: list, one session, logging and correcting."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from accounts.queries import Seat
from buildlog import commands, forms, queries, rules
from buildlog.access import notices
from buildlog.models import WorkSession
from evidence.access import chosen_photos
from evidence.models import Photo
from foundation.answer import answer
from foundation.refusal import Refusal
from journal.queries.story import Step, told
from parts import queries as parts

PAGE = 30
NOT_YOURS = "Only the builder, whoever entered a session, and those who worked in it change it."


@for_member()
def sessions(request: SeatedRequest, slug: str) -> HttpResponse:
    """Every session, newest first; of one assembly and what is below it when `assembly` says so."""
    project = request.seat.project
    only = parts.assemblies(project).filter(pk=request.GET.get("assembly", "")).first()
    rows = queries.sessions_on(project, only) if only else queries.sessions(project)
    page = Paginator(rows, PAGE).get_page(request.GET.get("page"))
    return answer(request, "buildlog/sessions.html", {"page": page, "only": only})


@for_member()
def session(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One session with its people, shares, photos, conflicts and history; a withdrawn one stays readable."""
    shown = get_object_or_404(queries.all_sessions(request.seat.project), pk=key)
    history = told(shown.project_id, shown.subject)
    versions = list(shown.versions.select_related("session", "by"))
    context = {
        "session": shown,
        "photos": queries.photos_of(shown),
        "overlaps": queries.overlaps_of(shown),
        "open_versions": [one for one in versions if one.settled_at is None],
        "settled_versions": [one for one in versions if one.settled_at is not None],
        "history": history,
        "corrections": corrections(history),
        "why_withdrawn": next((step.entry.reason for step in history if step.entry.verb == "session.withdrawn"), ""),
        "may_change": may_change(request.seat, shown),
    }
    return answer(request, "buildlog/session.html", context)


def corrections(history: list[Step]) -> list[Step]:
    """The corrections in a history, newest first; a timer's first description has no reason and is none."""
    return [step for step in history if step.entry.verb == "session.corrected" and step.entry.reason]


def may_change(seat: Seat, session: WorkSession) -> bool:
    """Whether a member corrects or withdraws this session."""
    person = seat.person
    workers = {row.person_id for row in session.people.all()}
    return seat.may("log") and rules.may_change(
        person.pk, edits=seat.may("edit"), entered_by=session.entered_by_id, workers=workers
    )


def check_may_change(seat: Seat, session: WorkSession) -> None:
    """Answer 403 with a sentence to a member who may not change this session."""
    if not may_change(seat, session):
        raise PermissionDenied(NOT_YOURS)


@for_member("log")
def session_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Log a session that has ended: today's, yesterday's, or one from long ago."""
    seat, now = request.seat, timezone.now()
    if not parts.assemblies(seat.project).exists():
        return answer(request, "buildlog/no_assembly.html", {})
    initial = forms.initial_for_new(seat.project, seat.person, now, request.GET.get("assembly", ""))
    form = forms.SessionForm(request.POST or None, project=seat.project, initial=initial)
    photos, refused = chosen_photos(request, seat.project, seat.person, now)
    if request.method == "POST" and form.is_valid() and not refused and not form.ask(questions(form)):
        try:
            logged, new = commands.log_session(
                by=seat.person,
                at=now,
                project=seat.project,
                request_id=form.cleaned_data["request_id"],
                photos=photos,
                **meant(form),
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
        else:
            return saved(request, logged) if new else sent_again(request, form, logged, photos)
    return page(request, form, photos, refused)


def questions(form: forms.SessionForm) -> dict[str, str]:
    """What to ask before a session as typed is kept, by name: it may be there already, or its year may be wrong."""
    values, asked = form.cleaned_data, too_early(form)
    assemblies = {assembly.pk for assembly, _ in values["shares"]}
    known = queries.like(form.project, values["worked"], assemblies, request_id=values["request_id"])
    if known is not None:
        words = f"This looks like session {known.number}, logged already. Save again to log it all the same."
        asked[f"like-{known.number}"] = words
    return asked


def too_early(form: forms.SessionForm) -> dict[str, str]:
    """The question about a day before the work on the project started."""
    began, day = form.project.started_on, form.cleaned_data["day"]
    if began is None or day >= began or "day" not in form.changed_data:
        return {}
    return {f"day-{day}": f"The work started {began:%-d %b %Y}. Is the year right? Save again if it is."}


def sent_again(request: HttpRequest, form: forms.SessionForm, kept: WorkSession, photos: list[Photo]) -> HttpResponse:
    """A retry is what is kept already; what was typed in between is not lost but becomes a correction."""
    kept = queries.all_sessions(kept.project).get(pk=kept.pk)
    if kept.withdrawn or (form.says_the_same(kept) and {*photos} == {*queries.photos_of(kept)}):
        return saved(request, kept)
    initial = forms.initial_of(kept)
    again = forms.SessionForm(request.POST, project=kept.project, session=kept, needs_reason=True, initial=initial)
    return page(request, again, photos, [], kept, conflict=True)


@for_member("log")
def session_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Describe a session that a timer left, or correct one; a correction asks why."""
    seat, now = request.seat, timezone.now()
    shown = get_object_or_404(queries.sessions(seat.project).filter(ended_at__isnull=False), pk=key)
    check_may_change(seat, shown)
    needs_reason = queries.is_described(shown)
    initial = forms.initial_of(shown) | {"seen": commands.version_of(shown)}
    form = forms.SessionForm(
        request.POST or None, project=seat.project, session=shown, needs_reason=needs_reason, initial=initial
    )
    photos, refused = chosen_photos(request, seat.project, seat.person, now)
    if request.method == "POST" and form.is_valid() and not refused and not form.ask(too_early(form)):
        try:
            corrected = commands.correct_session(
                by=seat.person,
                at=now,
                session=shown,
                seen=form.cleaned_data["seen"],
                reason=form.cleaned_data["reason"],
                photos=photos,
                **meant(form),
            )
        except Refusal as no:
            form.add_error(no.field if no.field in form.fields else None, no.message)
            return page(request, form, photos, refused, shown, conflict=no.code == "changed_elsewhere")
        else:
            return saved(request, corrected)
    return page(request, form, photos if form.is_bound else queries.photos_of(shown), refused, shown)


def meant(form: forms.SessionForm) -> dict[str, Any]:
    """What a good form says, as the commands take it."""
    values = form.cleaned_data
    return {name: values[name] for name in ("worked", "shares", *forms.WORDS)}


def saved(request: HttpRequest, session: WorkSession) -> HttpResponse:
    """Say that it is kept, and what it collides with (rule R3)."""
    messages.success(request, f"Session {session.number} is kept.")
    for overlap in queries.overlaps_of(session):
        messages.warning(
            request,
            f"{overlap.name} also stands in session {overlap.other(session.pk)} at that time. "
            "It counts once in the total.",
        )
    for sentence in notices(session.project, [share.assembly_id for share in session.shares.all()]):
        messages.warning(request, sentence)
    return redirect("buildlog:session", session.project.slug, session.pk)


def page(
    request: HttpRequest,
    form: forms.SessionForm,
    photos: list[Photo],
    refused: list[str],
    session: WorkSession | None = None,
    conflict: bool = False,
) -> HttpResponse:
    """The log page with everything that was typed; status 422 when something has to be put right."""
    context = {
        "form": form,
        "photos": photos,
        "refused": refused,
        "session": session,
        "conflict": conflict,
        "fresh_seen": commands.version_of(session) if conflict and session else "",
    }
    response = answer(request, "buildlog/session_form.html", context, forms=(form,))
    if refused:
        response.status_code = 422
    return response


@for_member("log")
def session_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a session out of all totals, with a reason."""
    shown = get_object_or_404(queries.sessions(request.seat.project), pk=key)
    check_may_change(request.seat, shown)
    form = forms.WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            commands.withdraw_session(
                by=request.seat.person, at=timezone.now(), session=shown, reason=form.cleaned_data["reason"]
            )
        except Refusal as no:
            messages.error(request, no.message)
            return redirect("buildlog:session", slug, shown.pk)
        messages.success(request, f"Session {shown.number} is withdrawn. It stays readable, and out of every total.")
        return redirect("buildlog:session", slug, shown.pk)
    return answer(request, "buildlog/session_withdraw.html", {"form": form, "session": shown}, forms=(form,))
