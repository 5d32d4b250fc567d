"""Checks that were made: the last one of a project, one under way, and what each found as a person reads it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from django.db.models import QuerySet

from accounts.models import Project
from accounts.queries import Seat
from archive import rules
from archive.models import Verification
from archive.queries.whole import Reading
from archive.rules import ADVICE, CHAPTERS, Advice, Fault
from foundation.digest import short


def runs(project: Project | str) -> QuerySet[Verification]:
    """The checks of a project, newest first."""
    return Verification.objects.filter(project=project).order_by("-started_at", "-pk")


def run_under_way(project: Project, now: datetime) -> Verification | None:
    """A check that waits for the worker or is at work."""
    newest = runs(project).first()
    return newest if newest and state_word(newest, now) in (rules.WAITING, rules.RUNNING) else None


def state_word(run: Verification, now: datetime) -> str:
    """How far a run came."""
    if run.ended_at is not None:
        return rules.DONE
    if run.broken_off_at is not None:
        return rules.BROKEN_OFF
    # One that waits may wait for long: the worker has other work, or is not running.
    if rules.is_silent(run.heard_at or run.started_at, now):
        return rules.BROKEN_OFF
    return rules.RUNNING if run.heard_at else rules.WAITING


@dataclass(frozen=True)
class Checked:
    """How it stands with the checks of one project: the last one that came to its end, and a later one that did not."""

    project: Project
    may_ask: bool
    last: Verification | None
    outcome: "Outcome | None"
    later: Verification | None
    later_word: str
    stale: bool

    @property
    def under_way(self) -> bool:
        return self.later_word in (rules.WAITING, rules.RUNNING)


def checked(seat: Seat, now: datetime) -> Checked:
    """How it stands with the checks of the project in which somebody has this seat: two queries."""
    last = runs(seat.project).filter(ended_at__isnull=False).select_related("project").first()
    newest = runs(seat.project).first()
    later = newest if newest is not None and newest != last else None
    return Checked(
        project=seat.project,
        may_ask=seat.person.may("manage"),
        last=last,
        outcome=outcome_of(last) if last else None,
        later=later,
        later_word=state_word(later, now) if later else "",
        stale=rules.is_stale(last.ended_at if last else None, now),
    )


@dataclass(frozen=True)
class Group:
    """Faults of one kind, with what they mean and what to do."""

    advice: Advice
    faults: list[Fault]


@dataclass(frozen=True)
class Outcome:
    """What one check looked at and found."""

    name: str
    started_at: datetime
    ended_at: datetime | None
    records: int
    entries: int
    signatures: int
    originals: int
    faults: tuple[Fault, ...]
    fault_count: int
    newest_seq: int
    newest_digest: str

    @property
    def whole(self) -> bool:
        return not self.fault_count

    @property
    def found(self) -> str:
        """The number of faults in words."""
        return rules.count_words(self.fault_count, "fault")

    @property
    def took(self) -> str:
        """How long it took, in words."""
        return rules.lasting((self.ended_at - self.started_at).total_seconds()) if self.ended_at else ""

    @property
    def short_digest(self) -> str:
        return short(self.newest_digest)

    @property
    def more(self) -> int:
        """Faults that were counted but not kept."""
        return self.fault_count - len(self.faults)

    @property
    def chapters(self) -> Iterator[tuple[str, str, str]]:
        """Each chapter in words, how much it looked at, and its faults: how many, or nothing."""
        looked_at = {
            "journal": rules.count_words(self.entries, "entry", "entries"),
            "rows": rules.count_words(self.records, "record"),
            "signatures": rules.count_words(self.signatures, "signature"),
            "originals": rules.count_words(self.originals, "original"),
        }
        for chapter, words in CHAPTERS.items():
            found = sum(fault.chapter == chapter for fault in self.faults)
            yield words, looked_at.get(chapter, ""), rules.count_words(found, "fault") if found else ""

    @property
    def groups(self) -> list[Group]:
        return grouped(self.faults)


def grouped(faults: Iterable[Fault]) -> list[Group]:
    """Faults by kind, the kinds in the order in which they are explained."""
    rows = list(faults)
    found = {kind: [fault for fault in rows if fault.kind == kind] for kind in ADVICE}
    return [Group(ADVICE[kind], some) for kind, some in found.items() if some]


def outcome_of(run: Verification, zone: tzinfo = UTC) -> Outcome:
    """What a run found, as it was written down, with its times on this clock."""
    return Outcome(
        name=run.project.name,
        started_at=run.started_at.astimezone(zone),
        ended_at=run.ended_at.astimezone(zone) if run.ended_at else None,
        records=run.records,
        entries=run.entries,
        signatures=run.signatures,
        originals=run.originals,
        faults=tuple(Fault(*told) for told in run.faults),
        fault_count=run.fault_count,
        newest_seq=run.newest_seq,
        newest_digest=run.newest_digest,
    )


def outcome(reading: Reading, name: str, started_at: datetime, ended_at: datetime) -> Outcome:
    """What a check found that was just made."""
    return Outcome(
        name=name,
        started_at=started_at,
        ended_at=ended_at,
        records=reading.records,
        entries=reading.chain.entries,
        signatures=reading.signatures,
        originals=reading.originals,
        faults=tuple(reading.faults),
        fault_count=len(reading.faults),
        newest_seq=reading.chain.newest_seq,
        newest_digest=reading.chain.newest_digest,
    )
