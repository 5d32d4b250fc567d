"""Sessions and timers."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime

from django.db.models import Max, Prefetch, Q, QuerySet

from accounts.models import Person, Project
from buildlog.models import OtherVersion, SessionPerson, SessionPhoto, SessionShare, WorkSession
from buildlog.queries.hours import Overlap, overlap_of, work
from buildlog.rules import LONGEST, Worked
from evidence.models import Photo
from journal.models import Entry
from parts import queries as parts_queries
from parts.models import Assembly


def sessions(project: Project) -> QuerySet[WorkSession]:
    """The sessions of a project that stand, newest first, with people, shares and photos at hand."""
    return (
        WorkSession.objects.standing()
        .filter(project=project)
        .select_related("project", "entered_by")
        .prefetch_related(*whole())
        .order_by("-started_at", "-number")
    )


def all_sessions(project: Project) -> QuerySet[WorkSession]:
    """The sessions of a project with the withdrawn ones among them."""
    return (
        WorkSession.objects.filter(project=project).select_related("project", "entered_by").prefetch_related(*whole())
    )


def sessions_on(project: Project, assembly: Assembly) -> QuerySet[WorkSession]:
    """The sessions worked on an assembly or on anything below it, newest first."""
    below = parts_queries.subtree(assembly.pk, parts_queries.parents(project))
    shares = SessionShare.objects.filter(assembly__in=below)
    return sessions(project).filter(pk__in=shares.values("session"))


def is_described(session: WorkSession) -> bool:
    """Whether somebody has put words to a session; until then a stopped timer is only being finished."""
    entries = Entry.objects.filter(subject=session.subject)
    return entries.filter(verb__in=["session.logged", "session.corrected"]).exists()


def was_timed(session: WorkSession) -> bool:
    """Whether a session came of a timer."""
    return Entry.objects.filter(subject=session.subject, verb="timer.started").exists()


def like(
    project: Project, worked: Sequence[Worked], assemblies: Collection[str], *, request_id: str
) -> WorkSession | None:
    """A standing session of the same people, start, end and assemblies that came of another request, if any."""
    if not worked:
        return None
    start, end = min(stretch.start for stretch in worked), max(stretch.end for stretch in worked)
    near = sessions(project).filter(started_at=start, ended_at=end).exclude(request_id=request_id)
    people = {stretch.person for stretch in worked}
    same = (
        one
        for one in near
        if {row.person_id for row in one.people.all()} == people
        and {share.assembly_id for share in one.shares.all()} == {*assemblies}
    )
    return next(same, None)


def overlaps_of(session: WorkSession) -> "list[Overlap]":
    """The overlaps that this session has a part in: only its people and its hours are read."""
    if session.withdrawn or session.ended_at is None:
        return []
    people = [row.person_id for row in (session.held or {}).get("people") or session.people.all()]
    beside = SessionPerson.objects.filter(
        person__in=people, started_at__lt=session.ended_at, ended_at__gt=session.started_at
    )
    if not beside.exclude(session=session.pk).order_by().exists():
        return []
    near = work(session.project, people, since=session.started_at - LONGEST, until=session.ended_at)
    mine = {stretch.person: stretch for stretch in near if stretch.session == session.pk}
    others = (stretch for stretch in near if stretch.session != session.pk)
    pairs = (sorted((other, mine[other.person]), key=lambda one: one.started_at) for other in others)
    return [overlap for first, second in pairs if (overlap := overlap_of(first, second)).end > overlap.start]


def whole() -> list[Prefetch]:
    """What a session is shown with: four queries for any number of sessions."""
    return [
        Prefetch("people", SessionPerson.objects.select_related("person")),
        Prefetch("shares", SessionShare.objects.select_related("assembly")),
        Prefetch("attachments", SessionPhoto.objects.select_related("photo")),
    ]


def next_number(project: Project) -> int:
    """The number for the next session; withdrawn sessions keep theirs."""
    return (WorkSession.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def running_of(person: Person) -> WorkSession | None:
    """The session that this person's timer runs in, if any."""
    return (
        WorkSession.objects.running()
        .filter(people__person=person, people__ended_at__isnull=True)
        .select_related("project")
        .first()
    )


def session_named(project: Project, name: str) -> WorkSession | None:
    """The session of a project, withdrawn or not, with this key or this request id."""
    named = Q(pk=name) | Q(request_id=name)
    return WorkSession.objects.select_related("project").filter(named, project=project).first()


def open_versions(session: WorkSession) -> QuerySet[OtherVersion]:
    """The second versions of a session about which nobody has decided yet."""
    return OtherVersion.objects.filter(session=session, settled_at__isnull=True)


def versions_to_settle(project: Project) -> QuerySet[OtherVersion]:
    """All second versions of a project about which somebody has to decide, the oldest first."""
    rows = OtherVersion.objects.standing().filter(project=project, settled_at__isnull=True)
    return rows.select_related("session", "by").order_by("received_at")


def on_timer_since(person: Person, *, after: datetime) -> datetime | None:
    """When the timer started that this person is on, if that was after an instant."""
    rows = SessionPerson.objects.filter(person=person, ended_at__isnull=True, session__withdrawn_at__isnull=True)
    return rows.filter(started_at__gt=after).values_list("started_at", flat=True).first()


def runs_elsewhere(person: Person) -> bool:
    """Whether a timer runs for the same account in another project."""
    if person.user_id is None:
        return False
    rows = SessionPerson.objects.filter(person__user=person.user_id, ended_at__isnull=True)
    return rows.filter(session__withdrawn_at__isnull=True).exclude(session__project=person.project_id).exists()


def running(project: Project) -> QuerySet[WorkSession]:
    """All timers that run in a project, the oldest first."""
    return WorkSession.objects.running().filter(project=project).prefetch_related(*whole()).order_by("started_at")


def photos_of(session: WorkSession) -> list[Photo]:
    """The standing photos attached to a session that was fetched `whole()`."""
    return session.photos


def photos_on(assemblies: Iterable[str]) -> QuerySet[Photo]:
    """Photos attached to sessions that were worked on any of these assemblies."""
    attached = SessionPhoto.objects.filter(
        session__withdrawn_at__isnull=True, session__shares__assembly__in=list(assemblies)
    )
    return Photo.objects.standing().filter(pk__in=attached.values("photo"))


def workers_on(assemblies: Iterable[str]) -> set[str]:
    """Keys of the people who worked on any of these assemblies, in sessions that stand."""
    rows = SessionPerson.objects.filter(
        session__withdrawn_at__isnull=True, session__shares__assembly__in=list(assemblies)
    )
    return set(rows.values_list("person", flat=True))


def workers_by_assembly(project: Project) -> dict[str, set[str]]:
    """Keys of the people who worked on each assembly itself, in sessions that stand: one query."""
    rows = SessionShare.objects.filter(session__project=project, session__withdrawn_at__isnull=True).order_by()
    found: dict[str, set[str]] = defaultdict(set)
    for assembly, person in rows.values_list("assembly", "session__people__person").distinct():
        if person:
            found[assembly].add(person)
    return found


def last_worked(project: Project) -> dict[str, datetime]:
    """When each assembly was last worked on, by key."""
    rows = (
        SessionShare.objects.filter(session__project=project, session__withdrawn_at__isnull=True)
        .order_by()
        .values_list("assembly")
        .annotate(last=Max("session__started_at"))
    )
    return dict(rows)
