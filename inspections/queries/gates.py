"""Gates judged from what lies below, and what a signature covers."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from buildlog import queries as work
from evidence.models import Photo
from foundation.record import plain
from inspections import rules
from inspections.models import Answer, Area, Closing, Exhibit, Requirement
from inspections.rules import Asked, Gate, PhotoFacts, SignatureFacts
from journal.models import Signature
from journal.queries import signatures


def areas(project: Project) -> QuerySet[Area]:
    """The areas of a project that stand, with all that their gates need: a fixed number of queries."""
    exhibits = Exhibit.objects.select_related("photo", "by").prefetch_related("photo__marks")
    answers = Answer.objects.select_related("by")
    requirements = Requirement.objects.filter(dropped_at__isnull=True).prefetch_related(
        Prefetch("exhibits", exhibits), Prefetch("answers", answers)
    )
    closings = Closing.objects.select_related("closed_by", "reopened_by")
    along: list[Prefetch] = [
        Prefetch("requirements", requirements, to_attr="asked"),
        Prefetch("closings", closings, to_attr="all_closings"),
    ]
    rows = Area.objects.standing().filter(project=project).select_related("assembly", "project")
    return rows.prefetch_related(*along)


@dataclass(frozen=True)
class Signed:
    """A signature, what was changed under it since, and whether it was given for a closing that was opened again."""

    signature: Signature
    changes: tuple[str, ...]
    void: bool = False


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
            and not self.gate.missing_before_signing
            and any(item.asked.role == role for item in self.gate.missing)
        )

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


def judged(project: Project, rows: Iterable[Area] | None = None) -> list[JudgedArea]:
    """The areas of a project judged, or just the given ones (as fetched by `areas`)."""
    rows = list(areas(project) if rows is None else rows)
    by_subject: dict[str, list[Signature]] = defaultdict(list)
    for signature in signatures(*[area.subject for area in rows]):
        by_subject[signature.under].append(signature)
    worked = {key for key, seconds in work.rolled_hours(project).items() if seconds.total}
    return [judge(area, by_subject[area.subject], area.assembly_id in worked) for area in rows]


def judge(area: Area, given: list[Signature], worked: bool) -> JudgedArea:
    """Judge one area that was fetched by `areas`."""
    closing = next((one for one in area.all_closings if one.reopened_at is None), None)
    reopened = sorted(one.reopened_at for one in area.all_closings if one.reopened_at is not None)
    signed = tuple(judge_signature(area, one, reopened) for one in given)
    marks = tuple(SignatureFacts(s.signature.pk, s.signature.role, s.signature.at, s.changes) for s in signed)
    gate = rules.gate(
        [asked(requirement, marks) for requirement in area.asked],
        worked=worked,
        since=max(reopened, default=None),
        closed_at=closing.closed_at if closing else None,
        advised=bool(closing and closing.missing),
    )
    return JudgedArea(area, gate, signed, closing, tuple(area.all_closings))


def judge_signature(area: Area, signature: Signature, reopened: list[datetime]) -> Signed:
    """What was changed under a signature.

    A check answered anew after a reopening is no change of what was signed before.
    """
    until = next((at for at in reopened if at > signature.at), None)
    facts = {item["subject"]: item["facts"] for item in present(area, until)}
    return Signed(signature, rules.changes_since(signature.covers, facts), until is not None)


def latest_answer(requirement: Requirement, until: datetime | None = None) -> Answer | None:
    """The answer that counts: the last one, with `until` the last one given by then."""
    given = [one for one in requirement.answers.all() if until is None or one.at <= until]
    return max(given, key=lambda one: (one.at, one.pk), default=None)


def asked(requirement: Requirement, marks: tuple[SignatureFacts, ...]) -> Asked:
    """A requirement and what was supplied for it, as plain facts."""
    answer = latest_answer(requirement)
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
    )


def photo_facts(photo: Photo) -> PhotoFacts:
    times = photo.taken_at, photo.taken_known, photo.received_at
    return PhotoFacts(photo.pk, photo.label, *times, photo.withdrawn, photo.medium)


def covers(one: JudgedArea) -> list[dict]:
    """What a signature given now covers: the gate's wording, each photo that counts, each check answered."""
    serving = {key for item in one.gate.items for key in item.serving}
    return cover_items(one.area, lambda photo: photo.pk in serving)


def seen(items: list[dict]) -> str:
    """The digest of what a signature would cover, as it stood before the signer's eyes."""
    return rules.digest_of(items)


def present(area: Area, until: datetime | None = None) -> list[dict]:
    """All under an area as it is now, to compare with what was signed; with `until` the answers given by then."""
    return cover_items(area, lambda photo: not photo.withdrawn, until)


def cover_items(area: Area, counts: Callable[[Photo], bool], until: datetime | None = None) -> list[dict]:
    """The wording of a gate, the photos in place that `counts` lets through, and the answers, each with its digest."""
    items = [rules.cover(area.subject, f"{area.number} {area.name}", area_words(area))]
    for requirement in area.asked:
        label = f"Item {requirement.position}"
        if requirement.kind == rules.PHOTO:
            items += [
                rules.cover(
                    f"{requirement.subject}+{one.photo.subject}", f"{label}, {one.photo.label}", photo_words(one.photo)
                )
                for one in requirement.exhibits.all()
                if counts(one.photo)
            ]
        elif requirement.kind == rules.CHECK and (answer := latest_answer(requirement, until)):
            items.append(rules.cover(requirement.subject, f"{label}, {requirement.words}", answer_words(answer)))
    return items


def area_words(area: Area) -> dict:
    """The wording of an area and its gate, as far as a signature covers it."""
    return {
        "number": area.number,
        "name": area.name,
        "kind": area.kind,
        "assembly": area.assembly_id,
        "items": [[r.position, r.kind, r.words, r.detail, r.count, r.role] for r in area.asked],
    }


def photo_words(photo: Photo) -> dict:
    """What a signature covers of a photo: the very bytes, its time, what is said of it, and the marks drawn over it.

    Without marks they are not mentioned, so that what was signed before there were any still reads the same.
    """
    marks = [[mark.kind, *mark.corners, mark.words] for mark in photo.marks.all()]
    return ({"marks": marks} if marks else {}) | {
        "photo": photo.digest,
        "taken_at": plain(photo.taken_at),
        "taken_known": photo.taken_known,
        "caption": photo.caption,
        "shows": photo.shows,
        "builder_in_frame": photo.builder_in_frame,
    }


def answer_words(answer: Answer) -> dict:
    return {
        "answer": answer.answer,
        "reason": answer.reason,
        "answered_at": plain(answer.at),
        "answered_by": answer.by.name,
    }
