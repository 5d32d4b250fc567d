"""Gates judged from what lies below, and what a signature covers."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from buildlog import queries as work
from evidence.models import Photo
from foundation.record import plain
from inspections import rules
from inspections.models import Answer, Area, Closing, Discrepancy, Exhibit, Requirement
from inspections.queries import discrepancies, points, processes
from inspections.queries.covered import Signed, photo_words
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.queries.processes import ProcessRecord
from inspections.rules import Asked, Gate, InnerFacts, PhotoFacts, SignatureFacts, Wait
from journal.models import Signature
from journal.queries import signatures
from parts import queries as parts


def areas(project: Project) -> QuerySet[Area]:
    """The areas of a project that stand, with all that their gates need: a fixed number of queries."""
    exhibits = Exhibit.objects.select_related("photo", "by").prefetch_related("photo__marks")
    answers = Answer.objects.select_related("by")
    inner = Area.objects.prefetch_related("closings")
    requirements = Requirement.objects.filter(dropped_at__isnull=True).prefetch_related(
        Prefetch("exhibits", exhibits), Prefetch("answers", answers), Prefetch("inner", inner), "shown_records"
    )
    closings = Closing.objects.select_related("closed_by", "reopened_by")
    along: list[Prefetch] = [
        Prefetch("requirements", requirements, to_attr="asked"),
        Prefetch("closings", closings, to_attr="all_closings"),
    ]
    rows = Area.objects.standing().filter(project=project).select_related("assembly", "project")
    return rows.prefetch_related(*along)


def open_between(area: Area) -> tuple[datetime | None, datetime | None]:
    """When an area was last opened again, and when it was closed after that; None where it was not."""
    closings = list(Closing.objects.filter(area=area))
    since = max((one.reopened_at for one in closings if one.reopened_at), default=None)
    return since, next((one.closed_at for one in closings if one.reopened_at is None), None)


def asked_inside(project: Project) -> dict[str, set[str]]:
    """For each standing area the inner areas that its gate asks to be closed."""
    found: dict[str, set[str]] = defaultdict(set)
    standing = {"area__project": project, "area__withdrawn_at": None, "dropped_at": None, "inner__isnull": False}
    for outer, inner in Requirement.objects.filter(**standing).values_list("area", "inner"):
        found[outer].add(inner)
    return found


@dataclass(frozen=True)
class JudgedArea:
    """An area with its gate as it stands now."""

    area: Area
    gate: Gate
    signed: tuple[Signed, ...]
    closing: Closing | None
    closings: tuple[Closing, ...]

    @property
    def since(self) -> datetime | None:
        """When the area was last opened again: what came before does not count for the next closing."""
        return max((one.reopened_at for one in self.closings if one.reopened_at is not None), default=None)

    @property
    def kind_words(self) -> str:
        """How the area is closed, told so that an open one does not read as closed."""
        if self.area.kind == "permanent" and not self.closing:
            return "Will be closed for good"
        return self.area.get_kind_display()

    @property
    def line(self) -> str:
        """The line in which a drawing shows this state."""
        if self.gate.state == rules.READY:
            return "signed" if self.is_signed else "work"
        return {rules.NOT_STARTED: "not-started", rules.HOLD: "hold"}.get(self.gate.state, "closed")

    @property
    def is_signed(self) -> bool:
        """Everything is in place, a signature among it: nothing is called signed that nobody signed."""
        return self.gate.may_close and any(item.asked.kind == rules.SIGN_OFF for item in self.gate.items)

    @property
    def changed(self) -> bool:
        """Signed, then changed: of each role the last signature that was not given for an earlier closing."""
        last = {signed.signature.role: signed for signed in self.signed if not signed.void}
        return any(signed.changes for signed in last.values())

    def awaits(self, role: str) -> bool:
        """Nothing but signing is missing, a sign-off of this role among it."""
        return (
            self.closing is None
            and not self.gate.lacks_before_signing
            and any(item.asked.role == role for item in self.gate.missing)
        )

    def signed_by(self, person: str, role: str) -> bool:
        """Whether a signature of this person stands unchanged and nothing of this role is asked for any more."""
        wanted = any(item.asked.kind == rules.SIGN_OFF and item.asked.role == role for item in self.gate.missing)
        own = (one for one in self.signed if one.signature.person == person and one.signature.accepted)
        return not wanted and any(not one.void and not one.changes for one in own)

    def changed_under(self, person: str) -> tuple[str, ...]:
        """What was changed since this person last signed; nothing under a signature for an earlier closing."""
        own = [one for one in self.signed if one.signature.person == person and not one.void]
        return max(own, key=lambda one: one.signature.at).changes if own else ()


@dataclass(frozen=True)
class Line:
    """One requirement as the gate's page shows it: judged, with the photos and answers given for it."""

    item: rules.Item
    requirement: Requirement
    since: datetime | None = None

    @property
    def photos(self) -> list[tuple[Photo, bool]]:
        """Each photo put in place and whether it counts."""
        return [(one.photo, one.photo_id in self.item.serving) for one in self.requirement.exhibits.all()]

    @property
    def picture(self) -> Photo | None:
        """The first photo that counts, if it can be shown."""
        return next((photo for photo, counts in self.photos if counts and photo.drawn_at), None)

    @property
    def answer(self) -> Answer | None:
        """The answer that counts: none from before the last reopening."""
        last = latest_answer(self.requirement)
        return last if last and (self.since is None or last.at >= self.since) else None

    @property
    def earlier(self) -> list[Answer]:
        """The answers that no longer count, newest first."""
        rows = sorted(self.requirement.answers.all(), key=lambda one: (one.at, one.pk), reverse=True)
        return rows[1:] if self.answer else rows


def lines(one: JudgedArea) -> list[tuple[str, list[Line]]]:
    """The items of a gate under headings: what is missing comes first; under a closing they stay in their order."""
    by_key = {requirement.pk: requirement for requirement in one.area.asked}
    rows = [Line(item, by_key[item.asked.key], one.since) for item in one.gate.items]
    if one.closing:
        groups = [("What the gate asked", rows)]
    else:
        groups = [
            ("Missing", [r for r in rows if not r.item.in_place]),
            ("In place", [r for r in rows if r.item.in_place]),
        ]
    return [(words, found) for words, found in groups if found]


def line_of(one: JudgedArea, requirement: Requirement) -> Line:
    """One item of a gate with what was given for it."""
    return next(line for _, found in lines(one) for line in found if line.requirement.pk == requirement.pk)


def covered_lines(one: JudgedArea) -> list[tuple[Line, list[Photo]]]:
    """The photos and checks that a signature covers, in the gate's order, each with the photos that count."""
    rows = [line for _, found in lines(one) for line in found if line.item.asked.kind != rules.SIGN_OFF]
    rows.sort(key=lambda line: line.item.asked.position)
    return [(line, [photo for photo, counts in line.photos if counts]) for line in rows]


@dataclass(frozen=True)
class Surroundings:
    """What gates have to know beside their own rows: work, process records, and what waits below each assembly."""

    parent_of: dict[str, str | None]
    worked: Set[str]
    workers: Mapping[str, Set[str]]
    records: Mapping[str, ProcessRecord]
    waits: Mapping[str, Sequence[Wait]]
    found: Mapping[str, Sequence[Discrepancy]]

    def below[T](self, assembly: str, by_assembly: Mapping[str, Iterable[T]]) -> list[T]:
        """What belongs to an assembly or to anything below it."""
        keys = [key for key in by_assembly if key == assembly or assembly in parts.above(key, self.parent_of)]
        return [one for key in keys for one in by_assembly[key]]


def surroundings(project: Project, rows: Iterable[Area]) -> Surroundings:
    """All that the gates of these areas have to know beside their own rows: a fixed number of queries."""
    shown = [(item.process, one.record) for area in rows for item in area.asked for one in item.shown_records.all()]
    blocking = discrepancies.all_blocking(project)
    found: dict[str, list[Discrepancy]] = defaultdict(list)
    for one in blocking:
        found[one.discrepancy.assembly_id].append(one.discrepancy)
    return Surroundings(
        parent_of=dict(parts.parents(project)),
        worked={key for key, seconds in work.rolled_hours(project).items() if seconds.total},
        workers=work.workers_by_assembly(project),
        records=processes.records(project, shown),
        waits=waits(project, blocking),
        found=found,
    )


def waits(project: Project, blocking: Iterable[JudgedDiscrepancy]) -> dict[str, list[Wait]]:
    """The open ones of these discrepancies and the hold points not released, by the assembly they stand on."""
    rows: dict[str, list[Wait]] = defaultdict(list)
    for one in (judged.discrepancy for judged in blocking if judged.open):
        rows[one.assembly_id].append(Wait(rules.DISCREPANCY, one.pk, one.label, one.words))
    for assembly, holds in points.open_holds(project).items():
        rows[assembly] += [Wait(rules.POINT, one.point.pk, one.point.number, one.point.words) for one in holds]
    return rows


def judged(project: Project, rows: Iterable[Area] | None = None) -> list[JudgedArea]:
    """The areas of a project judged, or just the given ones (as fetched by `areas`)."""
    rows = list(areas(project) if rows is None else rows)
    if not rows:
        return []
    by_subject: dict[str, list[Signature]] = defaultdict(list)
    for signature in signatures(*[area.subject for area in rows]):
        by_subject[signature.under].append(signature)
    around = surroundings(project, rows)
    return [judge(area, by_subject[area.subject], around) for area in rows]


def judge(area: Area, given: list[Signature], around: Surroundings) -> JudgedArea:
    """Judge one area that was fetched by `areas`."""
    closing = next((one for one in area.all_closings if one.reopened_at is None), None)
    reopened = sorted(one.reopened_at for one in area.all_closings if one.reopened_at is not None)
    signed = tuple(judge_signature(area, one, reopened, around) for one in given)
    marks = tuple(signature_facts(one) for one in signed)
    gate = rules.gate(
        [asked(requirement, marks, around.records) for requirement in area.asked],
        worked=area.assembly_id in around.worked,
        since=max(reopened, default=None),
        closed_at=closing.closed_at if closing else None,
        advised=bool(closing and closing.missing),
        waits=around.below(area.assembly_id, around.waits),
    )
    return JudgedArea(area, gate, signed, closing, tuple(area.all_closings))


def judge_signature(area: Area, signature: Signature, reopened: list[datetime], around: Surroundings) -> Signed:
    """What was changed under a signature, and what was found since that it did not know of.

    A check answered anew after a reopening is no change of what was signed before. What is found below after the area
    was closed is no news about what was signed before closing, unless it is about this area and came before it was
    opened again.
    """
    until = next((at for at in reopened if at > signature.at), None)
    facts = {item["subject"]: item["facts"] for item in present(area, until, around.records)}
    end = min((one.closed_at for one in area.all_closings if one.closed_at >= signature.at), default=None)
    news = [
        f"{one.label}: found since"
        for one in around.below(area.assembly_id, around.found)
        if one.entered_at > signature.at
        and (
            end is None
            or one.entered_at <= end
            or (one.area_id == area.pk and (until is None or one.entered_at <= until))
        )
    ]
    own_work = signature.person in around.below(area.assembly_id, around.workers)
    changes = (*rules.changes_since(signature.covers, facts), *news)
    return Signed(signature, changes, until is not None, own_work)


def signature_facts(signed: Signed) -> SignatureFacts:
    """A signature as the rules of gates take it."""
    one = signed.signature
    return SignatureFacts(one.pk, one.role, one.at, signed.changes, one.accepted, one.reason)


def latest_answer(requirement: Requirement, until: datetime | None = None) -> Answer | None:
    """The answer that counts: the last one, with `until` the last one given by then."""
    given = [one for one in requirement.answers.all() if until is None or one.at <= until]
    return max(given, key=lambda one: (one.at, one.pk), default=None)


def asked(
    requirement: Requirement, marks: tuple[SignatureFacts, ...], known: Mapping[str, ProcessRecord] | None = None
) -> Asked:
    """A requirement and what was supplied for it, as plain facts."""
    answer = latest_answer(requirement)
    shown = [(known or {}).get(one.record) for one in requirement.shown_records.all()]
    return Asked(
        key=requirement.pk,
        position=requirement.position,
        kind=requirement.kind,
        words=requirement.words,
        count=requirement.count,
        role=requirement.role,
        photos=tuple(photo_facts(exhibit.photo) for exhibit in requirement.exhibits.all()),
        answer=answer.answer if answer else "",
        answered_at=answer.at if answer else None,
        signatures=marks if requirement.kind == rules.SIGN_OFF else (),
        low=requirement.low,
        high=requirement.high,
        unit=requirement.unit,
        value=answer.value if answer else None,
        value_unit=answer.unit if answer else "",
        number_in=answer.number_in if answer else None,
        number_out=answer.number_out if answer else None,
        records=tuple(record.told() for record in shown if record is not None),
        inner=inner_facts(requirement.inner) if requirement.inner else None,
    )


def inner_facts(area: Area) -> InnerFacts:
    """An area as the gate around it sees it."""
    closing = next((one for one in area.closings.all() if one.reopened_at is None), None)
    return InnerFacts(str(area), closing is not None, bool(closing and closing.missing), area.withdrawn)


def photo_facts(photo: Photo) -> PhotoFacts:
    times = photo.taken_at, photo.taken_known, photo.received_at
    return PhotoFacts(photo.pk, photo.label, *times, photo.withdrawn, photo.medium)


def covers(one: JudgedArea) -> list[dict]:
    """What a signature given now covers: the gate's wording, and of each item what counts now."""
    serving = {key for item in one.gate.items for key in item.serving}
    shown = [(i.process, row.record) for i in one.area.asked for row in i.shown_records.all()]
    known = processes.records(one.area.project, shown)
    return cover_items(one.area, lambda key: key in serving, known=known, since=one.since)


def present(area: Area, until: datetime | None = None, known: Mapping[str, ProcessRecord] | None = None) -> list[dict]:
    """All under an area as it is now, to compare with what was signed; with `until` the answers given by then."""
    withdrawn = {one.photo_id for item in area.asked for one in item.exhibits.all() if one.photo.withdrawn}
    withdrawn |= {key for key, record in (known or {}).items() if record.withdrawn}
    return cover_items(area, lambda key: key not in withdrawn, until, known)


def cover_items(
    area: Area,
    counts: Callable[[str], bool],
    until: datetime | None = None,
    known: Mapping[str, ProcessRecord] | None = None,
    since: datetime | None = None,
) -> list[dict]:
    """The wording of a gate, what is in place that `counts` lets through, and the answers, each with its digest.

    `counts` is asked by the key of a photo and by the name of a process record. No answer from before `since` is told.
    """
    items = [rules.cover(area.subject, f"{area.number} {area.name}", area_words(area))]
    for requirement in area.asked:
        label = f"Item {requirement.position}"
        items += [
            rules.cover(
                f"{requirement.subject}+{one.photo.subject}", f"{label}, {one.photo.label}", photo_words(one.photo)
            )
            for one in requirement.exhibits.all()
            if counts(one.photo_id)
        ]
        for shown in requirement.shown_records.all():
            record = (known or {}).get(shown.record)
            if record is not None and counts(record.subject):
                facts = {"verdict": record.verdict, "at": plain(record.at), **record.facts}
                items.append(rules.cover(f"{requirement.subject}+{record.subject}", f"{label}, {record.label}", facts))
        if requirement.inner and not requirement.inner.withdrawn:
            name = f"{requirement.subject}+{requirement.inner.subject}"
            items.append(rules.cover(name, f"{label}, {requirement.inner.number}", inner_words(requirement.inner)))
        answer = latest_answer(requirement, until)
        if answer and (since is None or answer.at >= since):
            items.append(rules.cover(requirement.subject, f"{label}, {requirement.words}", answer_words(answer)))
    return items


def inner_words(area: Area) -> dict:
    """What a signature covers of an inner area: which it is, and the closing that stands."""
    closing = next((one for one in area.closings.all() if one.reopened_at is None), None)
    return {
        "number": area.number,
        "name": area.name,
        "closed_at": plain(closing.closed_at) if closing else None,
        "missing": list(closing.missing) if closing else [],
    }


def area_words(area: Area) -> dict:
    """The wording of an area and its gate, as far as a signature covers it."""
    return {
        "number": area.number,
        "name": area.name,
        "kind": area.kind,
        "assembly": area.assembly_id,
        "items": [item_words(one) for one in area.asked],
    }


def item_words(item: Requirement) -> list:
    """One item's wording: position, kind, words, what it must show, how many, who signs; and its limits or kind."""
    more = {
        "low": plain(item.low),
        "high": plain(item.high),
        "unit": item.unit,
        "inner": item.inner_id,
        "process": item.process,
    }
    told = {name: value for name, value in more.items() if value}
    return [item.position, item.kind, item.words, item.detail, item.count, item.role, *([told] if told else [])]


def answer_words(answer: Answer) -> dict:
    """What a signature covers of an answer; what an answer of its kind does not have is not mentioned."""
    more = {
        "value": plain(answer.value),
        "unit": answer.unit,
        "number_in": answer.number_in,
        "number_out": answer.number_out,
    }
    return {name: value for name, value in more.items() if value not in (None, "")} | {
        "answer": answer.answer,
        "reason": answer.reason,
        "answered_at": plain(answer.at),
        "answered_by": answer.by.name,
    }
