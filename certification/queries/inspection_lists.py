"""Reads about inspection lists: the bundled ones, the runs through a list and how they stand, what is due next year."""

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.db.models import Max, QuerySet

from accounts.models import Project
from certification.models import Inspection, LineAnswer
from certification.models.flying import ANSWERS, INSPECTIONS, WORDINGS
from certification.rules import inspection_lists as rules
from foundation.digest import canonical, digest_bytes, short
from inspections.models import Discrepancy

DATA = Path(__file__).parent.parent / "data" / "final_inspection.json"


@cache
def data() -> dict[str, Any]:
    """The bundled data file."""
    return json.loads(DATA.read_text())


def edition() -> str:
    """The edition of the bundled lists."""
    return f"{data()['edition']}, {data()['date']}"


@cache
def bundled() -> dict[str, dict[str, Any]]:
    """The bundled lists by kind, as an inspection keeps them."""
    return {
        row["kind"]: rules.content(row["title"], edition(), row["source"], row["groups"]) for row in data()["lists"]
    }


def seal(content: dict[str, Any]) -> tuple[str, str]:
    """A list as it is kept, and its digest."""
    text = canonical(content)
    return text, digest_bytes(text.encode())


def inspections(project: Project) -> QuerySet[Inspection]:
    """The runs through a list that stand, newest first."""
    return Inspection.objects.standing().filter(project=project).select_related("begun_by", "project")


def all_inspections(project: Project) -> QuerySet[Inspection]:
    """Every run, withdrawn ones too: they stay readable."""
    return Inspection.objects.filter(project=project).select_related("begun_by", "project")


def next_number(project: Project) -> int:
    """The number of the next run."""
    return (all_inspections(project).aggregate(last=Max("number"))["last"] or 0) + 1


@dataclass(frozen=True)
class JudgedLine:
    """A line of the list with what was said at it."""

    line: rules.Line
    answer: LineAnswer | None

    @property
    def said(self) -> str:
        return self.answer.answer if self.answer else ""

    @property
    def said_words(self) -> str:
        return ANSWERS.get(self.said, "")

    @property
    def note(self) -> str:
        return self.answer.note if self.answer else ""

    @property
    def discrepancy(self) -> Discrepancy | None:
        return self.answer.discrepancy if self.answer else None

    @property
    def untied(self) -> bool:
        """Not in order, and no discrepancy tells what becomes of it."""
        return self.said == rules.NO and self.discrepancy is None

    @property
    def mark(self) -> str:
        return {rules.YES: "in-place", rules.NO: "refused", rules.NOT_APPLICABLE: "in-place"}.get(self.said, "missing")


@dataclass(frozen=True)
class JudgedGroup:
    """Lines under one heading, and how they stand."""

    number: int
    title: str
    lines: tuple[JudgedLine, ...]
    counts: rules.Counts


@dataclass(frozen=True)
class JudgedInspection:
    """A run through a list, judged."""

    inspection: Inspection
    source: str
    groups: tuple[JudgedGroup, ...]
    counts: rules.Counts

    @property
    def gaps(self) -> list[str]:
        return rules.gaps(self.counts)

    @property
    def open_lines(self) -> list[JudgedLine]:
        """What has still to be answered or tied to a discrepancy."""
        return [line for group in self.groups for line in group.lines if not line.said or line.untied]

    @property
    def short_digest(self) -> str:
        return short(self.inspection.digest)

    @property
    def state(self) -> tuple[str, str]:
        """Its mark and word for a list."""
        one = self.inspection
        if one.withdrawn:
            return "withdrawn", "Withdrawn"
        if one.finished_at is None:
            return "waiting", "Being worked through"
        return ("changed", "Finished over gaps") if one.gap_reason else ("in-place", "Finished")

    def line(self, code: str) -> tuple[JudgedGroup, JudgedLine] | None:
        """A line with its group; None where the list has none of this code."""
        found = ((group, line) for group in self.groups for line in group.lines if line.line.code == code)
        return next(found, None)


def answers(rows: Iterable[Inspection]) -> dict[str, list[LineAnswer]]:
    """What was said in these runs, by run: one query."""
    found: dict[str, list[LineAnswer]] = defaultdict(list)
    given = LineAnswer.objects.standing().filter(inspection__in=[row.pk for row in rows])
    for answer in given.select_related("discrepancy", "by").order_by("at", "id"):
        found[answer.inspection_id].append(answer)
    return found


def judged(rows: Iterable[Inspection]) -> list[JudgedInspection]:
    """These runs, judged: one query however many they are."""
    rows = list(rows)
    given = answers(rows)
    return [judge(row, given[row.pk]) for row in rows]


def judge(inspection: Inspection, given: Iterable[LineAnswer]) -> JudgedInspection:
    """One run with what was said in it."""
    kept = json.loads(inspection.content)
    by_code = {answer.code: answer for answer in given}
    own = [rules.Line(code, one.words, "", "own", added=True) for code, one in by_code.items() if one.added]
    said = {code: rules.Answered(code, one.answer, one.discrepancy_id is not None) for code, one in by_code.items()}
    groups = tuple(
        JudgedGroup(
            number, title, tuple(JudgedLine(line, by_code.get(line.code)) for line in lines), rules.count(lines, said)
        )
        for number, (title, lines) in enumerate(rules.groups_of(kept, own), start=1)
    )
    return JudgedInspection(inspection, kept["source"], groups, rules.added_up(group.counts for group in groups))


def lines_about(project: Project, discrepancy: Discrepancy) -> list[LineAnswer]:
    """The lines that led to a discrepancy or were tied to it."""
    rows = LineAnswer.objects.standing().filter(project=project, discrepancy=discrepancy)
    return list(rows.filter(inspection__withdrawn_at__isnull=True).select_related("inspection", "by"))


def words_of(answer: LineAnswer) -> str:
    """The words of the line that was answered."""
    if answer.added:
        return answer.words
    groups = rules.groups_of(json.loads(answer.inspection.content))
    return next((line.words for _, lines in groups for line in lines if line.code == answer.code), answer.code)


@dataclass(frozen=True)
class Due:
    """When the next condition inspection is due, and what that is reckoned from."""

    on: date
    month_ends: date
    since: date
    from_words: str

    def passed(self, today: date) -> bool:
        return today > self.on


def last_looked(rows: Iterable[tuple[str, date]]) -> tuple[date, str] | None:
    """The last condition inspection, or the final one where there was none, with words for it."""
    found = list(rows)
    for kind, words in ((rules.CONDITION, "the last condition inspection"), (rules.FINAL, "the final inspection")):
        days = [day for one, day in found if one == kind]
        if days:
            return max(days), words
    return None


def inspections_facts(project: Project) -> list[dict[str, Any]]:
    """The runs through a list, for the printed record, oldest first."""
    return [facts_of(one) for one in reversed(judged(inspections(project)))]


def facts_of(one: JudgedInspection) -> dict[str, Any]:
    """One run as JSON values."""
    row = one.inspection
    return {
        "label": str(row),
        "kind": INSPECTIONS[row.kind],
        "title": row.title,
        "edition": row.edition,
        "source": one.source,
        "digest": row.digest,
        "begun_at": row.begun_at.isoformat(),
        "begun_by": row.begun_by.name,
        "finished": row.finished_at is not None,
        "done_on": row.done_on.isoformat() if row.done_on else "",
        "done_by": row.done_by,
        "certificate": row.certificate,
        "total_hours": "" if row.total_hours is None else f"{row.total_hours:f}",
        "statement": row.statement,
        "wording": WORDINGS.get(row.wording, "") if row.wording else "",
        "gap_reason": row.gap_reason,
        "counts": one.counts.words,
        "groups": [
            {
                "title": group.title,
                "counts": group.counts.words,
                "lines": [line_facts(line) for line in group.lines],
            }
            for group in one.groups
        ],
    }


def line_facts(one: JudgedLine) -> dict[str, Any]:
    """One line as JSON values."""
    said = one.answer
    return {
        "code": one.line.code,
        "words": one.line.words,
        "source": one.line.source,
        "known": one.line.known,
        "answer": one.said_words,
        "note": one.note,
        "by": said.by.name if said and said.answer else "",
        "at": said.at.isoformat() if said and said.answer else "",
        "discrepancy": one.discrepancy.label if one.discrepancy else "",
    }
