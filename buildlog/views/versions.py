"""Two versions of one session: what the server had, and what a phone brought later. Somebody says which counts."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from buildlog import commands, forms, queries, rules
from buildlog.models import OtherVersion, WorkSession
from buildlog.rules import Worked
from buildlog.views.sessions import check_may_change, meant
from evidence import queries as photos
from foundation.answer import answer
from foundation.refusal import Refusal

WHY = "Chosen of two versions: the one from the phone of {:%-d %b %Y, %H:%M}."
UNREADABLE = "The phone's version does not fit the project any more. Correct the session by hand; the version stays."


@dataclass(frozen=True)
class Line:
    """One thing that the two versions of a session say differently."""

    name: str
    here: str
    phone: str


@for_member("log")
def version(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Both versions side by side, and one button for each; the one that is not chosen stays readable."""
    project = request.seat.project
    shown = get_object_or_404(OtherVersion.objects.filter(project=project).select_related("by", "settled_by"), pk=key)
    session = get_object_or_404(queries.all_sessions(project), pk=shown.session_id)
    check_may_change(request.seat, session)
    corrected = read(shown, session)
    if request.method == "POST":
        return settle(request, shown, session, corrected)
    lines = list(compare(session, corrected)) if corrected else []
    context = {"version": shown, "session": session, "lines": lines, "readable": corrected is not None}
    return answer(request, "buildlog/version.html", context)


def settle(
    request: SeatedRequest, shown: OtherVersion, session: WorkSession, corrected: dict[str, Any] | None
) -> HttpResponse:
    """Let the chosen version count."""
    slug, phone = request.seat.project.slug, request.POST.get("choose") == "phone"
    if phone and corrected is None:
        messages.error(request, UNREADABLE)
        return redirect("buildlog:version", slug, shown.pk)
    try:
        commands.settle_version(
            by=request.seat.person,
            at=timezone.now(),
            version=shown,
            corrected=corrected if phone else None,
            reason=WHY.format(shown.captured_at.astimezone(session.project.zone)),
        )
    except Refusal as no:
        messages.error(request, no.message)
        return redirect("buildlog:version", slug, shown.pk)
    counts = "what the phone said" if phone else "what the server had"
    messages.success(request, f"Session {session.number}: {counts} counts. The other version stays readable.")
    return redirect("buildlog:session", slug, session.pk)


def read(version: OtherVersion, session: WorkSession) -> dict[str, Any] | None:
    """What the phone's version makes of a session, as a correction; None where it cannot be read that way."""
    said = version.said
    if session.ended_at is None:
        return None
    if version.kind == "form":
        return read_form(version, session)
    if version.kind == "end":
        return changed(session, end=datetime.fromisoformat(said["end"]))
    longer = datetime.fromisoformat(said["to"]) - datetime.fromisoformat(said["from"])
    return changed(session, person=version.by_id, longer=max(longer, timedelta()))


def changed(
    session: WorkSession, *, end: datetime | None = None, person: str = "", longer: timedelta = timedelta()
) -> dict[str, Any]:
    """A session with another end for whoever stayed to its end, or with a longer break for one person."""
    worked = [
        Worked(
            row.person_id,
            row.person.name,
            row.started_at,
            end if end is not None and row.ended_at == session.ended_at else row.end,
            row.break_seconds + (round(longer.total_seconds()) if row.person_id == person else 0),
            row.unattended_seconds,
        )
        for row in session.people.all()
    ]
    return {"worked": worked, "shares": [(share.assembly, share.weight) for share in session.shares.all()]}


def read_form(version: OtherVersion, session: WorkSession) -> dict[str, Any] | None:
    """A session form as it was typed on the phone; photos that the server has meanwhile stay."""
    typed = QueryDict(mutable=True)
    for name, value in version.said["typed"]:
        typed.appendlist(name, value)
    typed["request_id"] = session.request_id
    form = forms.SessionForm(typed, project=version.project, session=session, initial=forms.initial_of(session))
    if not form.is_valid():
        return None
    there = queries.photos_of(session)
    chosen = photos.by_keys(version.project, typed.getlist("photos"))
    return meant(form) | {"photos": [*there, *(photo for photo in chosen if photo not in there)]}


def compare(session: WorkSession, corrected: dict[str, Any]) -> Iterator[Line]:
    """What differs, in words."""
    words = {name: getattr(session, name) for name in forms.WORDS}
    here = in_words(session, changed(session) | words | {"photos": queries.photos_of(session)})
    there = in_words(session, changed(session) | words | {"photos": queries.photos_of(session)} | corrected)
    return (Line(name, said, there[name]) for name, said in here.items() if there[name] != said)


def in_words(session: WorkSession, values: dict[str, Any]) -> dict[str, str]:
    """A session's values as a reader compares them."""
    zone, shares = session.project.zone, values["shares"]
    return {
        "Who worked when": "; ".join(stretch_in_words(one, zone) for one in values["worked"]),
        "Worked on": ", ".join(f"{one} (share {weight})" if len(shares) > 1 else str(one) for one, weight in shares),
        "Counts as": rules.KINDS[values["kind"]],
        "Kind of work": rules.WORK[values["work"]],
        "What was done": values["note"],
        "Where": values["place"],
        "For yourself": values["private_note"],
        "Photos": str(len(values["photos"])),
    }


def stretch_in_words(one: Worked, zone: Any) -> str:
    """One person's time, from when to when and what was taken off."""
    off = round((one.breaks + one.unattended) / 60)
    words = f"{one.name} {one.start.astimezone(zone):%-d %b %Y, %H:%M:%S} to {one.end.astimezone(zone):%H:%M:%S}"
    return f"{words}, {off} min off" if off else words
