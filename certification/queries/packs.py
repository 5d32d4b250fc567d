"""Records handed out, and what the record has now: worth knowing before it is printed."""

from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.models import Max, QuerySet

from accounts.models import Project
from buildlog import queries as work
from buildlog.models import WorkSession
from certification.models import Pack, SignedCopy
from certification.queries.gates import lost
from certification.queries.pictures import unused
from certification.queries.process import process_judged
from evidence import queries as evidence
from inspections import queries as inspections
from inspections.queries import discrepancies, points
from inspections.rules import discrepancies as found_rules
from process.pages.judged import Judged
from process.rules.verdicts import BAD

CHECKS = "process:checks_overview"


def packs(project: Project) -> QuerySet[Pack]:
    """The records handed out, newest first, without their bulk."""
    return Pack.objects.standing().filter(project=project).select_related("made_by", "assembly").defer("facts")


def next_number(project: Project) -> int:
    """The number for the next record handed out."""
    return (Pack.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def signed_copies(pack: Pack) -> QuerySet[SignedCopy]:
    """The digitally signed copies of a record handed out, oldest first."""
    return SignedCopy.objects.standing().filter(pack=pack).select_related("document", "signed_by", "pack")


def pack_path(pack: Pack) -> Path:
    """Where the drawn file lies."""
    return settings.EXPORTS_DIR / f"{pack.pk}.pdf"


@dataclass(frozen=True)
class Gap:
    """Something that a reader of the printed record would miss, and the page on which it is supplied."""

    count: int
    thing: str
    lack: str
    page: str
    things: str = ""

    def __str__(self) -> str:
        many = self.things or f"{self.thing}s"
        return f"{self.count} {self.thing if self.count == 1 else many} {self.lack}"


@dataclass(frozen=True)
class Standing:
    """What the builder's record has now. Hours in seconds."""

    sessions: int
    total: int
    photos: int
    areas: int
    closed: int
    points: int
    released: int
    discrepancies: int
    settled: int
    signatures: int
    gaps: list[Gap]


# Where the records of each kind are listed; those not named here are checks.
LISTS = {kind: f"process:{kind}s" for kind in ("layup", "mix", "cure", "bond")} | {"mix": "process:mixes"}


def process_gaps(made: list[Judged]) -> list[Gap]:
    """Process records that are not finished, or whose verdict is bad, kind by kind."""
    gaps = []
    for noun, page in dict.fromkeys((one.record.TELLING.noun, LISTS.get(one.record.KIND, CHECKS)) for one in made):
        rows = [one for one in made if one.record.TELLING.noun == noun]
        name, many = noun.lower(), f"{noun.lower()}es" if noun.endswith(("x", "s")) else ""
        open_now = sum(one.record.finished_at is None for one in rows)
        gaps.append(Gap(open_now, name, "not finished", page, many))
        gaps.append(Gap(sum(one.state == BAD for one in rows), name, "with a bad verdict", page, many))
    return gaps


def standing(project: Project) -> Standing:
    """What would be printed now, and what is missing that is worth knowing before."""
    judged, spots, found = inspections.judged(project), points.judged(project), discrepancies.judged(project)
    photos = evidence.photos(project)
    sessions = WorkSession.objects.counted().filter(project=project)
    made = process_judged(project)
    still_open = sum(one.open for one in found)
    gaps = [
        Gap(photos.filter(caption="").count(), "photo", "without a caption", "evidence:photos"),
        Gap(photos.filter(taken_at=None).count(), "photo", "without a known time", "evidence:photos"),
        Gap(
            unused(project).count(),
            "photo",
            "on no session, gate, point, discrepancy, process record, assembly, part, bin or lot",
            "evidence:photos",
        ),
        Gap(sum(one.closing is None for one in judged), "area", "not closed yet", "inspections:holds"),
        Gap(
            sum(bool(lost(one)) for one in judged),
            "closed area",
            "in which something is not in place now",
            "inspections:holds",
        ),
        Gap(sum(one.changed for one in judged), "area", "signed, then changed", "inspections:holds"),
        Gap(sum(one.stops for one in spots), "hold point", "not released", "inspections:points"),
        Gap(sum(one.changed for one in spots), "point", "signed, then changed", "inspections:points"),
        Gap(still_open, "discrepancy", "open", "inspections:discrepancies", "discrepancies"),
        Gap(
            sum(one.state == found_rules.CHANGED for one in found),
            "discrepancy",
            "accepted, then changed",
            "inspections:discrepancies",
            "discrepancies",
        ),
        *process_gaps(made),
        Gap(sessions.filter(note="").count(), "session", "without a note", "buildlog:sessions"),
        Gap(len(work.overlaps(work.work(project))), "overlap", "in one person's time", "buildlog:hours"),
        Gap(
            WorkSession.objects.running().filter(project=project).count(),
            "timer",
            "running, which will not print",
            "buildlog:sessions",
        ),
    ]
    given = sum(len(one.signed) for one in judged) + sum(len(one.signed) for one in spots)
    return Standing(
        sessions=sessions.count(),
        total=work.total_seconds(project),
        photos=photos.count(),
        areas=len(judged),
        closed=sum(one.closing is not None for one in judged),
        points=len(spots),
        released=sum(one.is_released for one in spots),
        discrepancies=len(found),
        settled=len(found) - still_open,
        signatures=given + sum(step.signature is not None for one in found for step in one.steps),
        gaps=[gap for gap in gaps if gap.count],
    )
