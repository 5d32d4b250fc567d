"""Discrepancies judged from their steps and signatures, and what a signature under one covers."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Max, Prefetch, QuerySet
from django.utils import timezone

from accounts.models import Person, Project
from evidence.models import Photo
from evidence.queries import Elsewhere
from foundation.record import plain
from inspections.models import Area, Discrepancy, DiscrepancyStep, FoundPhoto, Visit
from inspections.queries.covered import photo_words
from inspections.rules import covers as covering
from inspections.rules import discrepancies as rules
from journal.models import Signature
from journal.queries import signatures
from parts import queries as parts
from parts.models import Assembly, Part


def rows(project: Project) -> QuerySet[Discrepancy]:
    """The discrepancies of a project that stand, with all that judging them needs, the newest first."""
    return all_rows(project).filter(withdrawn_at__isnull=True)


def all_rows(project: Project) -> QuerySet[Discrepancy]:
    """Every discrepancy of a project, withdrawn ones too: they stay readable."""
    photos = FoundPhoto.objects.select_related("photo", "by").prefetch_related("photo__marks")
    steps = DiscrepancyStep.objects.select_related("person", "by")
    along = [Prefetch("found_photos", photos), Prefetch("steps", steps)]
    near = ("project", "assembly", "part", "area", "visit", "found_by", "entered_by")
    return (
        Discrepancy.objects.filter(project=project).select_related(*near).prefetch_related(*along).order_by("-number")
    )


@dataclass(frozen=True)
class ToldStep:
    """A step as the page shows it: with its signature and what was changed under that since."""

    step: DiscrepancyStep
    signature: Signature | None = None
    changes: tuple[str, ...] = ()
    void = False

    @property
    def facts(self) -> rules.StepFacts:
        """The step as the rules take it."""
        one = self.step
        return rules.StepFacts(one.kind, one.person_id, one.disposition, one.accepted, self.changes)

    @property
    def name(self) -> str:
        """Who did it; for an inspection the name as it was signed."""
        return self.signature.name if self.signature else self.step.person.name

    @property
    def called(self) -> dict[str, str]:
        """What was signed, as the block of the signature is headed; the time tells one from the next."""
        when = timezone.localtime(self.step.done_at)
        return {"number": self.step.discrepancy.label, "name": f"inspected again, {when:%-d %b %Y, %H:%M}"}

    @property
    def late(self) -> bool:
        """Told more than a day after it was done (rule R6)."""
        return (self.step.at - self.step.done_at).total_seconds() > rules.LATE


@dataclass(frozen=True)
class JudgedDiscrepancy:
    """A discrepancy and where it stands now."""

    discrepancy: Discrepancy
    standing: rules.Standing
    steps: tuple[ToldStep, ...]

    @property
    def state(self) -> str:
        return self.standing.state

    @property
    def words(self) -> str:
        return self.standing.words

    @property
    def open(self) -> bool:
        return self.standing.open

    @property
    def blocking(self) -> bool:
        """Whether nothing above it may be closed now."""
        return self.open and self.discrepancy.blocks

    @property
    def changes(self) -> tuple[str, ...]:
        return self.standing.changes

    @property
    def disposition(self) -> str:
        """What was decided last, in words."""
        return rules.DISPOSITIONS.get(self.standing.disposition, "")

    @property
    def decision(self) -> ToldStep | None:
        """The decision that holds now."""
        return next((one for one in reversed(self.steps) if one.step.kind == rules.DECIDED), None)

    @property
    def accepted_by(self) -> ToldStep | None:
        """The inspection by which it is done."""
        return self.steps[-1] if self.state == rules.DONE else None

    @property
    def self_inspected(self) -> bool:
        """Done by a signature of somebody who decided or corrected it himself (rule R24)."""
        return self.accepted_by is not None and self.accepted_by.step.self_inspected

    @property
    def mark(self) -> str:
        """The mark that stands beside the state's word on a page."""
        return {rules.DONE: "in-place", rules.CHANGED: "changed", rules.WITHDRAWN: "withdrawn"}.get(
            self.state, "hold" if self.discrepancy.blocks else "waiting"
        )

    @property
    def where(self) -> str:
        """Part, area or assembly, the nearest first."""
        one = self.discrepancy
        return ", ".join(str(place) for place in (one.part, one.area, one.assembly) if place)

    def photos(self, phase: str) -> list[FoundPhoto]:
        """The photos of one phase, withdrawn ones too."""
        return [one for one in self.discrepancy.found_photos.all() if one.phase == phase]

    @property
    def found_photos(self) -> list[FoundPhoto]:
        return self.photos("found")

    @property
    def corrected_photos(self) -> list[FoundPhoto]:
        return self.photos("corrected")

    @property
    def picture(self) -> Photo | None:
        """The first photo that stands and can be shown."""
        photos = (one.photo for one in [*self.found_photos, *self.corrected_photos])
        return next((photo for photo in photos if photo.drawn_at and not photo.withdrawn), None)


def judged(project: Project, found: Iterable[Discrepancy] | None = None) -> list[JudgedDiscrepancy]:
    """The discrepancies of a project judged, or the given ones (fetched by `rows`): a fixed number of queries."""
    found = list(rows(project) if found is None else found)
    given = {one.pk: one for one in signatures(*[one.subject for one in found])}
    return [judge(one, given) for one in found]


def judge(one: Discrepancy, given: dict[str, Signature]) -> JudgedDiscrepancy:
    """Judge one discrepancy that was fetched by `rows`; `given` are signatures by key."""
    now = {item["subject"]: item["facts"] for item in covers(one)}
    steps = tuple(told(step, given.get(step.signature), now) for step in one.steps.all())
    return JudgedDiscrepancy(one, rules.standing([step.facts for step in steps], one.withdrawn), steps)


def told(step: DiscrepancyStep, signature: Signature | None, now: dict[str, dict[str, Any]]) -> ToldStep:
    """One step with what was changed under its signature."""
    changes = covering.changes_since(signature.covers, now) if signature else ()
    return ToldStep(step, signature, changes)


def covers(one: Discrepancy) -> list[dict[str, Any]]:
    """What a signature given now covers: what was found and where, the photos that stand, and every step so far."""
    items = [covering.cover(one.subject, one.label, found_words(one))]
    items += [
        covering.cover(
            f"{one.subject}+{row.photo.subject}+{row.phase}",
            f"{row.photo.label}, {rules.PHASES[row.phase].lower()}",
            photo_words(row.photo),
        )
        for row in one.found_photos.all()
        if not row.photo.withdrawn
    ]
    items += [
        covering.cover(step.subject, f"Step {number}, {rules.STEPS[step.kind].lower()}", step_words(step))
        for number, step in enumerate(one.steps.all(), start=1)
    ]
    return items


def found_words(one: Discrepancy) -> dict[str, Any]:
    """The wording of a discrepancy, as far as a signature covers it."""
    return {
        "number": one.number,
        "found": one.words,
        "severity": one.severity,
        "closing": "blocked" if one.blocks else "not blocked",
        "assembly": one.assembly_id,
        "part": one.part_id or "",
        "area": one.area_id or "",
        "found_at": plain(one.found_at),
        "found_by": one.found_by.name,
    }


def step_words(step: DiscrepancyStep) -> dict[str, Any]:
    """What a signature covers of a step."""
    return {
        "kind": step.kind,
        "disposition": step.disposition,
        "accepted": step.accepted,
        "words": step.words,
        "person": step.person.name,
        "done_at": plain(step.done_at),
    }


def all_blocking(project: Project) -> list[JudgedDiscrepancy]:
    """The standing discrepancies that block, settled ones too, with no more than judging them needs."""
    lean = rows(project).filter(blocks=True).order_by("number").select_related(None).select_related("found_by")
    return judged(project, lean)


def open_blocking(project: Project) -> dict[str, list[Discrepancy]]:
    """The open discrepancies that block, by the key of the assembly they stand on."""
    found: dict[str, list[Discrepancy]] = defaultdict(list)
    for one in all_blocking(project):
        if one.open:
            found[one.discrepancy.assembly_id].append(one.discrepancy)
    return dict(found)


def next_number(project: Project) -> int:
    """The number of the next discrepancy; that of a withdrawn one is not given again."""
    return (Discrepancy.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


# ---- the list ----

OPEN, SETTLED, ALL = "open", "done", "all"
SHOWN = {OPEN: "Open", SETTLED: "Done", ALL: "All"}


@dataclass(frozen=True)
class Wanted:
    """Which discrepancies a list shows: those for which everything said here is so. An assembly brings all below it."""

    state: str = OPEN
    blocks: bool = False
    severity: str = ""
    assembly: Assembly | None = None
    part: Part | None = None
    area: Area | None = None
    visit: Visit | None = None
    found_by: Person | None = None

    @property
    def any(self) -> bool:
        """Whether it leaves anything out besides what is done."""
        return self != replace(Wanted(), state=self.state)


def wanted_rows(project: Project, wanted: Wanted) -> QuerySet[Discrepancy]:
    """The discrepancies that a list is about, whatever their state."""
    found = rows(project)
    if wanted.blocks:
        found = found.filter(blocks=True)
    if wanted.severity:
        found = found.filter(severity=wanted.severity)
    if wanted.assembly is not None:
        found = found.filter(assembly__in=parts.subtree(wanted.assembly.pk, parts.parents(project)))
    for name in ("part", "area", "visit", "found_by"):
        if (value := getattr(wanted, name)) is not None:
            found = found.filter(**{name: value})
    return found


@dataclass(frozen=True)
class Listed:
    """A list: what is shown, and how many of each state the rest of the filter lets through."""

    shown: list[JudgedDiscrepancy]
    counts: dict[str, int]
    blocking: int


def listed(project: Project, wanted: Wanted) -> Listed:
    """The list that was asked for; among the open ones those that block come first."""
    found = judged(project, wanted_rows(project, wanted))
    by_state = {OPEN: [one for one in found if one.open], SETTLED: [one for one in found if not one.open], ALL: found}
    shown = sorted(by_state[wanted.state], key=lambda one: (not one.blocking, -one.discrepancy.number))
    counts = {state: len(rows) for state, rows in by_state.items()}
    return Listed(shown, counts, sum(one.blocking for one in found))


def of(project: Project, *, assemblies: Iterable[str] = (), area: Area | None = None) -> list[JudgedDiscrepancy]:
    """The discrepancies of some assemblies, or of one area, those that block first: for their own pages."""
    found = rows(project).filter(area=area) if area else rows(project).filter(assembly__in=list(assemblies))
    return sorted(judged(project, found), key=lambda one: (not one.open, not one.blocking, -one.discrepancy.number))


# ---- photos ----


def standing_photos() -> QuerySet[FoundPhoto]:
    """The photos of discrepancies that stand."""
    return FoundPhoto.objects.filter(discrepancy__withdrawn_at=None)


# Told to the contact sheet below: photos of discrepancies have a home, on their assemblies.
OF_DISCREPANCIES = Elsewhere(
    keys=lambda project: standing_photos().filter(discrepancy__project=project).values("photo"),
    on=lambda assemblies: standing_photos().filter(discrepancy__assembly__in=list(assemblies)).values("photo"),
    assemblies=lambda photo: standing_photos().filter(photo=photo).values_list("discrepancy__assembly", flat=True),
)
