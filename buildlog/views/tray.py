"""The tray: photos without a place, in proposed sessions, sorted with one tap for each group or many at once."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from accounts.models import Person, Project
from accounts.queries import people
from buildlog import commands, forms, queries, rules
from buildlog.commands import Sorted
from buildlog.models import WorkSession
from buildlog.queries import TrayGroup
from calc import hours
from evidence import queries as evidence
from evidence.models import Photo
from foundation.answer import answer
from foundation.refusal import Refusal

GROUPS, TIMELESS, RECENT = 8, 60, 30
LAST_DONE = "tray"
UNDO_WITHIN = timedelta(hours=12)
NONE_CHOSEN = "Choose one or more photos first: tap them, then place them."
NO_PLACE = "Choose where the chosen photos belong, then press the button beside it."
NO_SESSION = "Choose a session for the chosen photos, then press the button beside it."
NOTHING_TO_UNDO = "There is nothing to undo any more."


@dataclass(frozen=True)
class Wish:
    """How somebody wants the tray gathered. It stands in the page's address, so that reload and Back keep it."""

    minutes: int
    marks: rules.Marks
    page: str

    @classmethod
    def of(cls, request: SeatedRequest) -> "Wish":
        said = request.GET.get("gap", "")
        minutes = int(said) if said.isdecimal() and int(said) in rules.TRAY_GAPS else 0
        apart, together = (frozenset(request.GET.getlist(name)) for name in ("split", "join"))
        return cls(
            minutes or rules.TRAY_GAP.seconds // 60, rules.Marks(apart, together - apart), request.GET.get("page", "")
        )

    @property
    def gap(self) -> timedelta:
        return timedelta(minutes=self.minutes)

    def query(self, marks: rules.Marks | None = None) -> str:
        """The query of the address that gathers in this way, with other marks if those are given."""
        marks = self.marks if marks is None else marks
        said = [("gap", str(self.minutes))] if self.gap != rules.TRAY_GAP else []
        said += [("split", key) for key in sorted(marks.apart)] + [("join", key) for key in sorted(marks.together)]
        said += [("page", self.page)] if self.page else []
        return urlencode(said)


@dataclass(frozen=True)
class Shown:
    """One group on the page: its photos with the address that splits before each, and its line."""

    group: TrayGroup
    photos: list[tuple[Photo, str]]
    join: str
    form: forms.TrayForm
    workers: str
    others: list[WorkSession]

    @property
    def proposed(self) -> WorkSession | None:
        """The session that the photos probably belong to."""
        return self.group.sessions[0] if self.group.sessions else None


@dataclass(frozen=True)
class Trouble:
    """What of a page that was sent has to be put right: the keys of the photos it was about, and what was said."""

    photos: Sequence[str]
    words: str = ""
    said: forms.SessionForm | None = None


@for_member("log")
def tray(request: SeatedRequest, slug: str) -> HttpResponse:
    """Photos without a place, in groups by time; a POST sorts some of them or takes the last sorting back."""
    if request.method != "POST":
        return page(request)
    act = ACTS.get(request.POST.get("do", "").partition(":")[0], again)
    return act(request)


def page(request: SeatedRequest, trouble: Trouble | None = None) -> HttpResponse:
    """The page of the tray; status 422 with what was typed and chosen when something has to be put right."""
    project, wish, now = request.seat.project, Wish.of(request), timezone.now()
    whole = queries.tray(project, gap=wish.gap, marks=wish.marks)
    leaf: Page[Any] = Paginator(whole.groups, GROUPS).get_page(wish.page)
    groups = queries.shown_groups(project, whole, list(leaf), now)
    assemblies = forms.assembly_choices(project)
    workers = list(people(project).workers())
    bad = trouble if trouble and trouble.said else None
    timeless = queries.timeless(project, whole)
    context = {
        "count": whole.count,
        "page": leaf,
        "groups": [shown(request, wish, group, assemblies, workers, bad) for group in groups],
        "timeless": timeless[:TIMELESS] if leaf.number == leaf.paginator.num_pages else [],
        "timeless_count": len(timeless),
        "assemblies": assemblies,
        "places": places(project, assemblies),
        "sessions": sessions_to_choose(project, groups),
        "wish": wish,
        "here": f"?{wish.query()}",
        "gaps": [(minutes, gap_words(minutes)) for minutes in rules.TRAY_GAPS],
        "trouble": trouble.words if trouble else "",
        "chosen": set(trouble.photos) if trouble and not trouble.said else set(),
        "done": last_done(request, now),
        "now": now,
    }
    response = answer(request, "buildlog/tray.html", context)
    if trouble:
        response.status_code = 422
    return response


def shown(
    request: SeatedRequest,
    wish: Wish,
    group: TrayGroup,
    assemblies: Sequence[tuple[str, str]],
    workers: Sequence[Person],
    bad: Trouble | None,
) -> Shown:
    """One group with its line: as it is proposed, or as it was sent when that could not be read."""
    project = request.seat.project
    sent = bad is not None and group.key in bad.photos
    senders = {person.pk for person in group.senders}
    worked = [one for one in workers if one.pk in senders] or [
        one for one in workers if one.pk == request.seat.person.pk
    ]
    times = (group.start, group.end) if group.start and group.end else None
    form = forms.TrayForm(
        request.POST if sent else None,
        initial=forms.initial_from_photos(project, group.first, times, group.assembly, worked),
        auto_id=f"id_{group.key}_%s",
        assemblies=assemblies,
        workers=[(person.pk, person.name) for person in workers],
        said=bad.said if bad and sent else None,
    )
    return Shown(
        group,
        [(photo, wish.query(wish.marks.split(photo.pk))) for photo in group.photos],
        wish.query(wish.marks.join(group.key)),
        form,
        ", ".join(person.name for person in worked) or "Nobody yet",
        group.sessions[1:],
    )


def gap_words(minutes: int) -> str:
    """A length of time in words, such as 45 minutes or 2 hours."""
    if minutes % 60:
        return f"{minutes} minutes"
    return "1 hour" if minutes == 60 else f"{minutes // 60} hours"


def places(project: Project, assemblies: Sequence[tuple[str, str]]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Everything that a photo can be placed on, by what it is."""
    rows = [("Assemblies", list(assemblies))]
    rows += [(name, [(row.pk, str(row)) for row in there]) for name, there in queries.further_places(project)]
    return [(name, there) for name, there in rows if there]


def sessions_to_choose(project: Project, groups: Iterable[TrayGroup]) -> list[WorkSession]:
    """The sessions that chosen photos can be attached to: those beside the groups shown, then the latest."""
    beside = {session.pk: session for group in groups for session in group.sessions}
    latest = {session.pk: session for session in queries.sessions(project)[:RECENT]}
    return sorted((latest | beside).values(), key=lambda session: session.started_at, reverse=True)


# ---- what a POST does ----


def again(request: SeatedRequest) -> HttpResponse:
    """Nothing that this page knows was asked for: show it as it is."""
    return back(request)


def back(request: SeatedRequest) -> HttpResponse:
    """On to the tray as it was gathered, without marks at photos that are not in it any more."""
    wish, project = Wish.of(request), request.seat.project
    query = wish.query(wish.marks.only(queries.tray(project).keys()))
    return redirect(f"{reverse('buildlog:tray', args=[project.slug])}{'?' if query else ''}{query}")


def sent_photos(request: SeatedRequest) -> list[Photo]:
    """The photos that a form is about: ticked one by one, or all of a group."""
    keys = [*request.POST.getlist("photos"), *request.POST.get("group", "").split()]
    return evidence.by_keys(request.seat.project, keys)


def log(request: SeatedRequest) -> HttpResponse:
    """Log a session with the photos of a group."""
    seat, photos = request.seat, sent_photos(request)
    form = forms.SessionForm(request.POST, project=seat.project)
    keys = [photo.pk for photo in photos]
    if not form.is_valid() or form.ask(too_long(form)):
        return page(request, Trouble(keys, said=form))
    values = form.cleaned_data
    words = {name: values[name] for name in ("worked", "shares", "kind", "work", "note", "place")}
    try:
        done, new = commands.log_from_tray(
            by=seat.person,
            at=timezone.now(),
            project=seat.project,
            request_id=values["request_id"],
            photos=photos,
            **words,
        )
    except Refusal as no:
        if no.code == "moved_on":
            return refused(request, no)
        form.add_error(no.field if no.field in form.fields else None, no.message)
        return page(request, Trouble(keys, said=form))
    session = done.session
    assert session is not None
    if new:
        remember(request, done, f"{counted(photos)} logged as session {session.number} on {done.place}.")
    for overlap in queries.overlaps_of(session):
        messages.warning(
            request,
            f"{overlap.name} also stands in session {overlap.other(session.pk)} at that time. "
            "It counts once in the total.",
        )
    return back(request)


def too_long(form: forms.SessionForm) -> dict[str, str]:
    """The question about more hours than people work: an end typed before the start counts as the next day."""
    lengths = [stretch.end - stretch.start for stretch in form.cleaned_data["worked"]]
    longest = max(lengths, default=timedelta())
    if longest <= rules.LONG_WORK:
        return {}
    words = hours.clock_hours(round(longest.total_seconds()))
    return {f"long-{words}": f"From and to make {words} hours. Log it again if that is right."}


def refused(request: SeatedRequest, no: Refusal) -> HttpResponse:
    """Say why nothing was done, on the page as it is now."""
    messages.error(request, no.message)
    return back(request)


def attach(request: SeatedRequest) -> HttpResponse:
    """Attach photos to a session that is there: the one that the button names, or else the one chosen."""
    photos, project = sent_photos(request), request.seat.project
    named = request.POST.get("do", "").partition(":")[2] or request.POST.get("session", "")
    session = queries.sessions(project).filter(pk=named).first()
    if not photos or session is None:
        return page(request, Trouble([photo.pk for photo in photos], NO_SESSION if photos else NONE_CHOSEN))
    try:
        done = commands.attach_from_tray(by=request.seat.person, at=timezone.now(), session=session, photos=photos)
    except Refusal as no:
        return refused(request, no)
    remember(request, done, f"{counted(photos)} attached to session {session.number}.")
    return back(request)


def place(request: SeatedRequest) -> HttpResponse:
    """Place photos on one thing, without a session."""
    photos, project = sent_photos(request), request.seat.project
    named = request.POST.get("place_on") or request.POST.get("assembly", "")
    thing = evidence.place_by_key(project, named)
    if not photos or thing is None:
        return page(request, Trouble([photo.pk for photo in photos], NO_PLACE if photos else NONE_CHOSEN))
    done = commands.place_from_tray(
        by=request.seat.person, at=timezone.now(), project=project, photos=photos, place=thing
    )
    remember(request, done, f"{counted(photos)} placed on {thing}.")
    return back(request)


def counted(photos: Sequence[Photo]) -> str:
    return f"{len(photos)} photo{'s' if len(photos) != 1 else ''}"


# ---- the last sorting, and taking it back ----


def remember(request: SeatedRequest, done: Sorted, words: str) -> None:
    """Keep what was done last, for a look at it and for Undo; each sorting replaces the one before."""
    request.session[LAST_DONE] = {
        "project": request.seat.project.pk,
        "at": timezone.now().isoformat(),
        "words": words,
        "place": done.place.pk if done.place else "",
        "placed": list(done.placed),
        "session": done.session.pk if done.session else "",
        "attached": list(done.attached),
        "version": done.version,
    }


def last_done(request: SeatedRequest, now: datetime) -> dict[str, Any] | None:
    """What was done last in this project's tray by whoever is signed in here, if that was not long ago."""
    done = request.session.get(LAST_DONE)
    if not done or done["project"] != request.seat.project.pk:
        return None
    return done if now - datetime.fromisoformat(done["at"]) < UNDO_WITHIN else None


def undo(request: SeatedRequest) -> HttpResponse:
    """Take the last sorting back."""
    project, done = request.seat.project, last_done(request, timezone.now())
    if done is None:
        messages.error(request, NOTHING_TO_UNDO)
        return back(request)
    session = queries.all_sessions(project).filter(pk=done["session"]).first()
    try:
        commands.put_back(
            by=request.seat.person,
            at=timezone.now(),
            project=project,
            place=evidence.place_by_key(project, done["place"]),
            placed=evidence.by_keys(project, done["placed"]),
            session=session,
            attached=evidence.by_keys(project, done["attached"]),
            version=done["version"],
        )
    except Refusal as no:
        return refused(request, no)
    del request.session[LAST_DONE]
    withdrawn = f" Session {session.number} is withdrawn." if session and done["version"] else ""
    messages.success(request, f"Undone. The photos are in the tray again.{withdrawn}")
    return back(request)


ACTS: dict[str, Callable[[SeatedRequest], HttpResponse]] = {"log": log, "attach": attach, "place": place, "undo": undo}
