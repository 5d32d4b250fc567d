"""The photos of a record: which of them print, what is said of each, and where one stands."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet, prefetch_related_objects

from accounts.models import Project
from buildlog import queries as work
from buildlog.models import SessionPhoto, WorkSession
from certification.queries.history import corrections
from certification.queries.signatures import Known, ink_pages
from certification.queries.words import megabytes, moment
from evidence import queries as evidence
from evidence.models import Photo, Placement
from inspections.models import Discrepancy, Exhibit, FoundPhoto, Point, PointPhoto, Requirement, ShownRecord
from inspections.queries import JudgedArea
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.queries.points import JudgedPoint
from journal.models import Entry, Signature
from journal.queries import signatures
from process.models import KINDS, ProcessRecord, Shot

# What alters what is said of a photo.
CORRECTIONS = {"photo.described", "photo.time_typed", "photo.marked"}


def unused(project: Project) -> QuerySet[Photo]:
    """The photos that stand nowhere in the record: placed on nothing, in no session, gate, point, discrepancy or
    process record."""
    pages = ink_pages(project).values("pk")
    return evidence.photos(project).exclude(evidence.has_place(project)).exclude(pk__in=pages)


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
class PointUse:
    """A point at which a photo stands, and the names of those whose signatures cover the photo there."""

    point: Point
    signers: list[str]


@dataclass(frozen=True)
class FoundUse:
    """A discrepancy that a photo shows, and the names of those whose signatures cover the photo there."""

    discrepancy: Discrepancy
    phase: str
    signers: list[str]


@dataclass(frozen=True)
class MadeUse:
    """A process record that a photo shows, with the moment, and whose signatures at gates cover the record."""

    record: ProcessRecord
    moment: str
    signers: list[str]


@dataclass(frozen=True)
class PhotoUses:
    """Where a photo stands beside its places on assemblies and parts."""

    sessions: list[WorkSession]
    gates: list[GateUse]
    points: list[PointUse]
    found: list[FoundUse]
    made: list[MadeUse]

    @property
    def any(self) -> bool:
        return bool(self.sessions or self.gates or self.points or self.found or self.made)

    @property
    def signed(self) -> bool:
        """Whether a signature covers the photo: then a change of it shows under that signature (rule R31)."""
        uses: list[GateUse | PointUse | FoundUse | MadeUse] = [*self.gates, *self.points, *self.found, *self.made]
        return any(use.signers for use in uses)


def photo_uses(photo: Photo) -> PhotoUses:
    """The sessions, gate items, points, discrepancies and process records that a photo stands in: a few queries."""
    attached = attachments(photo.project).filter(photo=photo).select_related("session")
    shown = list(exhibits(photo.project).filter(photo=photo).select_related("requirement__area"))
    shown.sort(key=lambda one: (one.requirement.area.number, one.requirement.position))
    at_points = list(PointPhoto.objects.filter(photo=photo, point__withdrawn_at=None).select_related("point"))
    found = list(FoundPhoto.objects.filter(photo=photo, discrepancy__withdrawn_at=None).select_related("discrepancy"))
    shots = [
        shot for shot in Shot.objects.filter(photo=photo).select_related(*KINDS) if not made_record(shot).withdrawn
    ]
    at_gates = shown_at(photo.project, [made_record(shot).subject for shot in shots])
    under = {
        *(area for areas in at_gates.values() for area in areas),
        *(one.requirement.area.subject for one in shown),
        *(one.point.subject for one in at_points),
        *(one.discrepancy.subject for one in found),
    }
    given = signatures(*under) if under else []
    signers: dict[str, list[str]] = defaultdict(list)
    for signature in given:
        for subject in {item["subject"] for item in signature.covers}:
            signers[subject].append(signature.name)
    return PhotoUses(
        sessions=sorted((one.session for one in attached), key=lambda session: session.number),
        gates=[GateUse(one.requirement, signers[f"{one.requirement.subject}+{photo.subject}"]) for one in shown],
        points=[PointUse(one.point, signers[f"{one.point.subject}+{photo.subject}"]) for one in at_points],
        found=[
            FoundUse(
                one.discrepancy,
                one.get_phase_display(),
                signers[f"{one.discrepancy.subject}+{photo.subject}+{one.phase}"],
            )
            for one in found
        ],
        made=[MadeUse(made_record(shot), shot.get_moment_display(), covering(shot, at_gates, given)) for shot in shots],
    )


def made_record(shot: Shot) -> ProcessRecord:
    """The process record that a photo stands for."""
    return next(record for kind in KINDS if (record := getattr(shot, kind)) is not None)


def shown_at(project: Project, subjects: list[str]) -> dict[str, list[str]]:
    """The names of the standing areas at whose gates these process records are in place, by the record's name."""
    if not subjects:
        return {}
    rows = ShownRecord.objects.filter(
        record__in=subjects, requirement__area__project=project, requirement__area__withdrawn_at=None
    )
    found: dict[str, list[str]] = defaultdict(list)
    for row in rows.select_related("requirement__area"):
        found[row.record].append(row.requirement.area.subject)
    return found


def covering(shot: Shot, at_gates: dict[str, list[str]], given: Iterable[Signature]) -> list[str]:
    """Who signed at a gate where the record of this photo is in place: it is covered with its photos."""
    subject = made_record(shot).subject
    areas = at_gates.get(subject, [])
    return [
        one.name
        for one in given
        if one.under in areas and any(item["subject"].endswith(f"+{subject}") for item in one.covers)
    ]


def photos_printed(
    project: Project,
    sessions: list[WorkSession],
    areas: list[JudgedArea],
    points: Iterable[JudgedPoint] = (),
    discrepancies: Iterable[JudgedDiscrepancy] = (),
    beside: Known | None = None,
    process: Iterable[Photo] = (),
) -> list[Photo]:
    """The photos that print, by number: of sessions, gates, points, discrepancies, process records, and pages signed
    in ink."""
    rows = [photo for session in sessions for photo in work.photos_of(session)]
    rows += [one.photo for area in areas for item in area.area.asked for one in item.exhibits.all()]
    rows += [photo for one in points for photo in one.photos]
    rows += [one.photo for row in discrepancies for one in row.discrepancy.found_photos.all()]
    rows += beside.pages.values() if beside else ()
    rows += process
    found = {photo.pk: photo for photo in rows if not photo.withdrawn}
    printed = sorted(found.values(), key=lambda photo: photo.number)
    things = Placement.objects.select_related("assembly", "part", "bin", "lot").order_by("pk")
    prefetch_related_objects(printed, "marks", Prefetch("placements", things))
    return printed


def photos_facts(project: Project, printed: list[Photo]) -> dict[str, dict[str, Any]]:
    """Everything that is said of the photos that print, by their labels, with what was corrected of it."""
    corrected = corrections(project, Photo._meta.label_lower, is_correction, CORRECTIONS)
    facts = {photo.label: photo_facts(photo, project.zone) for photo in printed}
    for photo in printed:
        if photo.subject in corrected:
            facts[photo.label]["corrections"] = corrected[photo.subject]
    return facts


def is_correction(entry: Entry) -> bool:
    """Whether an entry may alter what was said of a photo."""
    return entry.verb in CORRECTIONS


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
