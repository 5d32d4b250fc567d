"""The facts of a builder's record: everything that is printed, gathered once and frozen as JSON values."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Max, Prefetch, Q, QuerySet, prefetch_related_objects

from accounts.models import Person, Project
from accounts.queries import authority_of
from accounts.rules import ROLES
from buildlog import queries as work
from buildlog import rules as work_rules
from buildlog.models import SessionPhoto, WorkSession
from calc.hours import decimal_hours
from certification.models import Pack
from evidence import queries as evidence
from evidence.models import Photo, Placement
from evidence.rules import MB
from foundation.digest import short
from inspections import queries as inspections
from inspections import rules as gates
from inspections.models import Answer, Exhibit, Requirement
from inspections.queries import JudgedArea
from journal.models import Entry
from journal.queries import head, signatures
from journal.queries.story import Step, tell
from journal.rules import SHOWN_BY
from parts.models import Assembly

EDITION = 1
# What alters what a session said; breaks, joining, leaving and further photos are only how it goes on.
CORRECTIONS = {"session.corrected", "session.photos_changed"}


def packs(project: Project) -> QuerySet[Pack]:
    """The records handed out, newest first, without their bulk."""
    return Pack.objects.standing().filter(project=project).select_related("made_by").defer("facts")


def next_number(project: Project) -> int:
    """The number for the next record handed out."""
    return (Pack.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


@dataclass(frozen=True)
class Gap:
    """Something that a reader of the printed record would miss, and the page on which it is supplied."""

    count: int
    thing: str
    lack: str
    page: str

    def __str__(self) -> str:
        return f"{self.count} {self.thing}{'' if self.count == 1 else 's'} {self.lack}"


@dataclass(frozen=True)
class Standing:
    """What the builder's record has now. Hours in seconds."""

    sessions: int
    total: int
    photos: int
    areas: int
    closed: int
    signatures: int
    gaps: list[Gap]


def standing(project: Project) -> Standing:
    """What would be printed now, and what is missing that is worth knowing before."""
    judged = inspections.judged(project)
    photos = evidence.photos(project)
    sessions = WorkSession.objects.counted().filter(project=project)
    found = [
        Gap(photos.filter(caption="").count(), "photo", "without a caption", "evidence:photos"),
        Gap(photos.filter(taken_at=None).count(), "photo", "without a known time", "evidence:photos"),
        Gap(unused(project).count(), "photo", "on no session, gate, assembly, part, bin or lot", "evidence:photos"),
        Gap(sum(one.closing is None for one in judged), "area", "not closed yet", "inspections:holds"),
        Gap(sum(one.changed for one in judged), "area", "signed, then changed", "inspections:holds"),
        Gap(sessions.filter(note="").count(), "session", "without a note", "buildlog:sessions"),
        Gap(len(work.overlaps(work.work(project))), "overlap", "in one person's time", "buildlog:hours"),
        Gap(
            WorkSession.objects.running().filter(project=project).count(),
            "timer",
            "running, which will not print",
            "buildlog:sessions",
        ),
    ]
    return Standing(
        sessions=sessions.count(),
        total=work.total_seconds(project),
        photos=photos.count(),
        areas=len(judged),
        closed=sum(one.closing is not None for one in judged),
        signatures=sum(len(one.signed) for one in judged),
        gaps=[gap for gap in found if gap.count],
    )


def unused(project: Project) -> QuerySet[Photo]:
    """The photos that stand nowhere in the record: on no session, no item of a gate, and placed on nothing."""
    return (
        evidence.photos(project)
        .exclude(pk__in=Placement.objects.filter(photo__project=project).values("photo"))
        .exclude(pk__in=attachments(project).values("photo"))
        .exclude(pk__in=exhibits(project).values("photo"))
    )


def attachments(project: Project) -> QuerySet[SessionPhoto]:
    """The photos of the sessions that stand, timers too."""
    return SessionPhoto.objects.filter(session__project=project, session__withdrawn_at=None)


def exhibits(project: Project) -> QuerySet[Exhibit]:
    """The photos in place for what the gates of standing areas still ask for."""
    standing_areas = {"requirement__area__project": project, "requirement__area__withdrawn_at": None}
    return Exhibit.objects.filter(requirement__dropped_at=None, **standing_areas)


@dataclass(frozen=True)
class GateUse:
    """An item of a gate that a photo stands for, and the names of those whose signatures cover the photo there."""

    requirement: Requirement
    signers: list[str]


@dataclass(frozen=True)
class PhotoUses:
    """Where a photo stands beside its places on assemblies and parts."""

    sessions: list[WorkSession]
    gates: list[GateUse]

    @property
    def signed(self) -> bool:
        """Whether a signature covers the photo: then a change of it shows under that signature (rule R31)."""
        return any(use.signers for use in self.gates)


def photo_uses(photo: Photo) -> PhotoUses:
    """The sessions that a photo belongs to and the gate items that it stands for: three queries."""
    attached = attachments(photo.project).filter(photo=photo).select_related("session")
    shown = list(exhibits(photo.project).filter(photo=photo).select_related("requirement__area"))
    shown.sort(key=lambda one: (one.requirement.area.number, one.requirement.position))
    given = signatures(*{one.requirement.area.subject for one in shown}) if shown else []
    signers: dict[str, list[str]] = defaultdict(list)
    for signature in given:
        for subject in {item["subject"] for item in signature.covers}:
            signers[subject].append(signature.name)
    return PhotoUses(
        sessions=sorted((one.session for one in attached), key=lambda session: session.number),
        gates=[GateUse(one.requirement, signers[f"{one.requirement.subject}+{photo.subject}"]) for one in shown],
    )


def pack_path(pack: Pack) -> Path:
    """Where the drawn file lies."""
    return settings.EXPORTS_DIR / f"{pack.pk}.pdf"


def builder_record(project: Project, at: datetime, by_name: str) -> dict[str, Any]:
    """The facts of the builder's record of a project as they stand now."""
    zone = project.zone
    sessions = list(work.sessions(project).exclude(ended_at=None).order_by("started_at", "number"))
    gates_now = inspections.judged(project)
    stretches = work.work(project)
    photos = photos_printed(project, sessions, gates_now)
    newest = head(project.pk)
    return {
        "edition": EDITION,
        "printed": moment(at, zone),
        "printed_by": by_name,
        "head": {"seq": newest.seq, "digest": newest.digest, "short": short(newest.digest)} if newest else None,
        "project": identity(project),
        "counts": {
            "sessions": len(sessions),
            "photos": evidence.photos(project).count(),
            "photos_printed": sum(not photo.is_clip for photo in photos),
            "builder_in_frame": evidence.photos(project).filter(builder_in_frame=True).count(),
            "areas": len(gates_now),
            "areas_closed": sum(one.closing is not None for one in gates_now),
            "areas_advised": sum(one.gate.state == gates.ADVISED for one in gates_now),
            "signatures": sum(len(one.signed) for one in gates_now),
        },
        "period": [day(sessions[0].started_at, zone), day(sessions[-1].started_at, zone)] if sessions else None,
        "people": people_facts(project, work.by_person(stretches)),
        "hours": hours_facts(project, stretches, gates_now, zone),
        "sessions": [session_facts(pair, zone) for pair in with_corrections(project, sessions)],
        "withdrawn": [withdrawn_facts(session, zone) for session in withdrawn_sessions(project)],
        "areas": [area_facts(one, zone) for one in gates_now],
        "photos": {photo.label: photo_facts(photo, zone) for photo in photos},
    }


def identity(project: Project) -> dict[str, Any]:
    """The aircraft exactly as registered (rule R52), and the rules it is built under."""
    authority = authority_of(project)
    return {
        "name": project.name,
        "description": project.description,
        "registration": project.registration,
        "model_designation": project.model_designation,
        "serial_number": project.serial_number,
        "builder_name": project.builder_name,
        "place": project.place,
        "started_on": f"{project.started_on:%-d %B %Y}" if project.started_on else "",
        "time_zone": project.time_zone,
        "authority": authority.name,
        "closing_policy": authority.closing,
        "authority_edition": authority.edition,
    }


def day(at: datetime, zone: ZoneInfo) -> str:
    """A local date in words."""
    return f"{at.astimezone(zone):%-d %b %Y}"


def clock(at: datetime, zone: ZoneInfo) -> str:
    """A local time of day."""
    return f"{at.astimezone(zone):%H:%M}"


def moment(at: datetime, zone: ZoneInfo) -> str:
    """A local date and time with its zone."""
    return f"{at.astimezone(zone):%-d %b %Y, %H:%M %Z}"


def people_facts(project: Project, totals: list[work.PersonHours]) -> list[dict[str, Any]]:
    """Everybody who stands in the record, and whoever has left it but worked."""
    everybody = Person.objects.filter(Q(withdrawn_at=None) | Q(pk__in=[row.person for row in totals]), project=project)
    return [person_line(person, totals) for person in everybody]


def person_line(person: Any, totals: list[work.PersonHours]) -> dict[str, Any]:
    """One person with what he logged."""
    mine = next((row for row in totals if row.person == person.pk), None)
    return {
        "name": person.name,
        "role": ROLES[person.role],
        "certificate": person.certificate,
        "sessions": mine.sessions if mine else 0,
        "logged": mine.logged if mine else 0,
        "counted": mine.counted if mine else 0,
    }


def hours_facts(
    project: Project, stretches: list[work.Work], gates_now: list[JudgedArea], zone: ZoneInfo
) -> dict[str, Any]:
    """The tables of hours, in seconds."""
    months = work.summed(stretches, work.month_of(zone))
    return {
        "total": sum(stretch.labor for stretch in stretches),
        "assemblies": [
            {
                "number": branch.number,
                "name": branch.name,
                "depth": branch.depth,
                "own": branch.own,
                "below": branch.below,
                "total": branch.total,
                "state": branch.state,
                "state_words": branch.state_word,
            }
            for branch in inspections.branches(project, gates_now)
        ]
        + [withdrawn_line(assembly, seconds) for assembly, seconds in work.hours_elsewhere(project)],
        "kinds": lines(work.summed(stretches, lambda s: s.kind), work_rules.KINDS),
        "works": lines(work.summed(stretches, lambda s: s.work), work_rules.WORK),
        "roles": lines(work.summed(stretches, lambda s: s.role), ROLES),
        "months": [{"words": f"{month:%B %Y}", "seconds": seconds} for month, seconds in sorted(months.items())],
        "conflicts": [
            f"{one.name}: sessions {one.first_number} and {one.second_number} overlap by "
            f"{decimal_hours(one.seconds, 2)} h on {day(one.start, zone)}; counted once in this person's total."
            for one in work.overlaps(stretches)
        ],
    }


def withdrawn_line(assembly: Assembly, seconds: int) -> dict[str, Any]:
    """An assembly that was withdrawn but has hours: without it the lines would not make the total (rule R4)."""
    return {
        "number": assembly.number,
        "name": assembly.name,
        "depth": 0,
        "own": seconds,
        "below": 0,
        "total": seconds,
        "state": "not-started",
        "state_words": "Withdrawn",
    }


def lines(sums: dict[str, int], words: dict[str, str]) -> list[dict[str, Any]]:
    """Sums as table lines, most first."""
    rows = [{"words": words.get(key, key), "seconds": seconds} for key, seconds in sums.items()]
    return sorted(rows, key=lambda row: (-row["seconds"], row["words"]))


def with_corrections(
    project: Project, sessions: list[WorkSession]
) -> Iterable[tuple[WorkSession, list[dict[str, Any]]]]:
    """Each session with its corrections out of the journal: two queries for all of them."""
    entries: dict[str, list[Entry]] = {session.subject: [] for session in sessions}
    about = Entry.objects.filter(project=project.pk, subject__startswith="buildlog.worksession:")
    for entry in about.order_by("seq").iterator():
        if entry.subject in entries:
            entries[entry.subject].append(entry)
    corrected = [rows for rows in entries.values() if any(map(is_correction, rows[1:]))]
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for step in tell([entry for rows in corrected for entry in rows], project.zone):
        if step.entry != entries[step.entry.subject][0] and is_correction(step.entry):
            found[step.entry.subject].append(correction_facts(step, project.zone))
    for session in sessions:
        yield session, found[session.subject]


def is_correction(entry: Entry) -> bool:
    """Whether an entry alters what a session said; a timer's first description, which has no reason, does not."""
    return entry.verb in CORRECTIONS and (entry.verb != "session.corrected" or bool(entry.reason))


def correction_facts(step: Step, zone: ZoneInfo) -> dict[str, Any]:
    """One correction with the old values, each person's times, each share and each photo by itself."""
    return {
        "at": moment(step.entry.at, zone),
        "by": step.entry.by_name,
        "reason": step.entry.reason,
        "changes": [
            {"field": one.label, "before": one.before or "nothing", "after": one.after or "nothing"}
            for one in step.changes
        ],
    }


def session_facts(pair: tuple[WorkSession, list[dict[str, Any]]], zone: ZoneInfo) -> dict[str, Any]:
    """One session as it prints."""
    session, corrected = pair
    start, end = session.started_at.astimezone(zone), session.end.astimezone(zone)
    return {
        "number": session.number,
        "date": f"{start:%a %-d %b %Y}",
        "iso_date": f"{start:%Y-%m-%d}",
        "start": f"{start:%H:%M}",
        "end": f"{end:%H:%M}" if end.date() == start.date() else f"{end:%H:%M on %-d %b}",
        "people": [
            {
                "name": row.person.name,
                "role": ROLES[row.person.role],
                "start": clock(row.started_at, zone),
                "end": clock(row.end, zone),
                "breaks": row.break_seconds,
                "unattended": row.unattended_seconds,
                "labor": row.labor_seconds,
            }
            for row in session.people.all()
        ],
        "shares": [
            {"number": share.assembly.number, "name": share.assembly.name, "seconds": share.seconds}
            for share in session.shares.all()
        ],
        "kind": session.get_kind_display(),
        "work": session.get_work_display() if session.work else "",
        "note": session.note,
        "place": session.place,
        "late": late_words(session, zone),
        "labor": session.labor_seconds,
        "photos": [photo.label for photo in work.photos_of(session)],
        "corrections": corrected,
    }


def kept_first(session: WorkSession, zone: ZoneInfo) -> str:
    """When a session was entered on a phone, and how wrong the phone's clock was."""
    clock = f" by a clock that was {session.clock_words}, put right" if session.clock_ahead else ""
    how = f"{session.get_source_display()}, kept on a phone" if session.late else "Kept on a phone"
    return f"{how}: entered {moment(session.entered_at, zone)}{clock}"


def late_words(session: WorkSession, zone: ZoneInfo) -> str:
    """The dates of a session that was entered after its day, or on a phone that brought it later (rule R6)."""
    if session.received_at is not None:
        return f"{kept_first(session, zone)}, received {moment(session.received_at, zone)}"
    if not session.late:
        return ""
    worked, entered = day(session.ended_at or session.started_at, zone), moment(session.entered_at, zone)
    return f"{session.get_source_display()}: worked {worked}, entered {entered}"


def withdrawn_sessions(project: Project) -> QuerySet[WorkSession]:
    """Sessions that were withdrawn: listed with their reason, out of every total."""
    return WorkSession.objects.withdrawn().filter(project=project).order_by("number")


def withdrawn_facts(session: WorkSession, zone: ZoneInfo) -> dict[str, Any]:
    """A withdrawn session and why."""
    assert session.withdrawn_at is not None  # none but withdrawn ones are told here
    entry = Entry.objects.filter(subject=session.subject, verb="session.withdrawn").order_by("-seq").first()
    return {
        "number": session.number,
        "date": day(session.started_at, zone),
        "note": session.note,
        "at": moment(session.withdrawn_at, zone),
        "by": entry.by_name if entry else "",
        "reason": entry.reason if entry else "",
    }


def area_facts(one: JudgedArea, zone: ZoneInfo) -> dict[str, Any]:
    """One enclosed area with its gate, signatures and closings."""
    asked = {requirement.pk: requirement for requirement in one.area.asked}
    return {
        "number": one.area.number,
        "name": one.area.name,
        "assembly": str(one.area.assembly),
        "kind": one.area.get_kind_display(),
        "state": one.gate.state,
        "state_words": one.gate.words,
        "items": [item_facts(item, asked[item.asked.key], zone) for item in one.gate.items],
        "signatures": [signature_facts(signed, zone) for signed in one.signed],
        "closings": [closing_facts(closing, zone) for closing in one.closings],
    }


def item_facts(item: Any, requirement: Any, zone: ZoneInfo) -> dict[str, Any]:
    """One item of a gate and what was supplied for it."""
    answer = max(requirement.answers.all(), key=lambda row: (row.at, row.pk), default=None)
    return {
        "position": item.asked.position,
        "kind": gates.KINDS[item.asked.kind],
        "words": item.asked.words,
        "detail": requirement.detail,
        "in_place": item.in_place,
        "why": item.why,
        "photos": [exhibit.photo.label for exhibit in requirement.exhibits.all() if not exhibit.photo.withdrawn],
        "answer": answer_words(answer, zone) if answer else "",
        "late": list(item.late),
    }


def answer_words(answer: Answer, zone: ZoneInfo) -> str:
    """An answer to a check, with its reason, by whom and when."""
    said = gates.ANSWERS[answer.answer] + (f": {answer.reason}" if answer.reason else "")
    return f"{said}, {answer.by.name}, {moment(answer.at, zone)}"


def signature_facts(signed: inspections.Signed, zone: ZoneInfo) -> dict[str, Any]:
    """One signature with what it covers and what was changed since (rules R30, R31)."""
    signature = signed.signature
    return {
        "name": signature.name,
        "initials": signature.initials,
        "role": ROLES.get(signature.role, signature.role),
        "certificate": " ".join(part for part in (signature.certificate_kind, signature.certificate_number) if part),
        "at": moment(signature.at, ZoneInfo(signature.zone)),
        "day": f"{signature.at.astimezone(ZoneInfo(signature.zone)):%-d %b %Y}",
        "shown_by": SHOWN_BY.get(signature.shown_by, signature.shown_by),
        "statement": signature.statement,
        "self_inspected": signature.self_inspected,
        "covers": [item["label"] for item in signature.covers],
        "digest": signature.short_digest,
        "changes": list(signed.changes),
    }


def closing_facts(closing: Any, zone: ZoneInfo) -> dict[str, Any]:
    """One closing; what was missing and why it was closed all the same stays for ever (rule R22)."""
    return {
        "closed": moment(closing.closed_at, zone),
        "by": closing.closed_by.name,
        "missing": closing.missing,
        "reason": closing.reason,
        "reopened": moment(closing.reopened_at, zone) if closing.reopened_at else "",
        "reopened_by": closing.reopened_by.name if closing.reopened_by else "",
        "reopen_reason": closing.reopen_reason,
    }


def photos_printed(project: Project, sessions: list[WorkSession], gates_now: list[JudgedArea]) -> list[Photo]:
    """The photos that print: those of sessions and of gates whose renditions are drawn, by number."""
    found = {photo.pk: photo for session in sessions for photo in work.photos_of(session)}
    for one in gates_now:
        for requirement in one.area.asked:
            found |= {
                exhibit.photo.pk: exhibit.photo for exhibit in requirement.exhibits.all() if not exhibit.photo.withdrawn
            }
    printed = sorted(found.values(), key=lambda photo: photo.number)
    things = Placement.objects.select_related("assembly", "part", "bin", "lot").order_by("pk")
    prefetch_related_objects(printed, "marks", Prefetch("placements", things))
    return printed


def photo_facts(photo: Photo, zone: ZoneInfo) -> dict[str, Any]:
    """One photo as it prints, with the digest by which its rendition is found."""
    width, height = photo.large_size
    return {
        "digest": photo.digest,
        "short": photo.short_digest,
        "width": width,
        "height": height,
        "drawn": photo.drawn_at is not None,
        "caption": photo.caption,
        "taken": moment(photo.taken_at, zone) if photo.taken_at else "not known",
        "known": photo.get_taken_known_display(),
        "received": moment(photo.received_at, zone),
        "late": photo.late,
        "in_frame": photo.builder_in_frame,
        "marks": [asdict(mark.drawing) for mark in photo.marks.all()],
        "placed": [placed_words(placement) for placement in photo.placements.all()],
        "clip": ", ".join(filter(None, (photo.noun, photo.lasting, megabytes(photo.size)))) if photo.is_clip else "",
    }


def placed_words(placement: Placement) -> str:
    """What a photo is placed on, such as "lot L-0310 Epoxy glue, resin"."""
    return f"{placement.thing.TELLING.noun.lower()} {placement.thing}"


def megabytes(size: int) -> str:
    """The size of a file in MB, at least 0.1."""
    return f"{max(size / MB, 0.1):.1f} MB"
