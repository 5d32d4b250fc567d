"""The list of tasks that counts, what is credited for each task, and what that adds up to (rules R50, R54)."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from calc import major_portion as calc
from certification.models import Credit, CreditPlace, TaskList
from certification.rules import credit as rules
from foundation.digest import canonical, digest_bytes
from parts.models import Assembly, Part

DATA = Path(__file__).parent.parent / "data" / "tasks_us_fixed_wing.json"

STANDING_WORDS = {
    calc.MORE: ("in-place", "More than half"),
    calc.MARGINAL: ("thin", "Marginal: over 50, under 51 %"),
    calc.SHORT: ("missing", "Half or less"),
    calc.EMPTY: ("not-started", "Nothing counted"),
}


@dataclass(frozen=True)
class Starter:
    """The list that comes with the program. It is not the official form."""

    title: str
    edition: str
    source: str
    note: str
    sections: tuple[rules.Section, ...]

    @property
    def count(self) -> int:
        return len(rules.tasks(self.sections))


@cache
def starter() -> Starter:
    """The bundled starter list from its data file."""
    data = json.loads(DATA.read_text())
    edition = f"{data['edition']}, {data['date']}"
    return Starter(data["title"], edition, data["source"], data["note"], rules.sections(data))


def kept(sections: Iterable[rules.Section]) -> tuple[str, str]:
    """A list as it is stored, with its digest."""
    text = canonical(rules.content(sections))
    return text, digest_bytes(text.encode())


@cache
def starter_digest() -> str:
    return kept(starter().sections)[1]


def is_starter(row: TaskList) -> bool:
    """Whether a list that was taken up is the bundled one, whatever it is called."""
    return row.digest == starter_digest()


def caution(row: TaskList | None) -> str:
    """What stands beside every number of this list; empty for the official one."""
    return rules.official_words(row.official, is_starter(row)) if row else ""


def all_lists(project: Project) -> QuerySet[TaskList]:
    """Every list that a project took up, newest first, withdrawn ones too, without their bulk."""
    return TaskList.objects.filter(project=project).select_related("taken_by").defer("content")


def list_now(project: Project) -> TaskList | None:
    """The list that counts: the newest that stands."""
    return TaskList.objects.standing().filter(project=project).order_by("-taken_at", "-pk").first()


def sections_of(row: TaskList | None) -> tuple[rules.Section, ...]:
    """What a list holds."""
    return rules.sections(json.loads(row.content)) if row else ()


def credits(project: Project) -> QuerySet[Credit]:
    """What is credited in a project, with its places: two queries."""
    places = CreditPlace.objects.select_related("assembly", "part__assembly")
    rows = Credit.objects.standing().filter(project=project).select_related("entered_by")
    return rows.prefetch_related(Prefetch("places", places))


def tenths_of(row: Credit) -> dict[str, int]:
    """The four columns of a credit."""
    return {column: getattr(row, column) for column in calc.COLUMNS}


@dataclass(frozen=True)
class Line:
    """One task: as the list or the builder words it, with what is credited."""

    code: str
    words: str
    section: str
    provenance: str = ""
    credit: Credit | None = None

    @property
    def added(self) -> bool:
        return self.credit is not None and self.credit.added

    @property
    def applies(self) -> bool:
        return self.credit is None or self.credit.applies

    @property
    def tenths(self) -> dict[str, int] | None:
        """The four columns; None where the task does not apply, noughts where nothing is credited yet."""
        if self.credit is None:
            return dict(rules.NOTHING)
        return tenths_of(self.credit) if self.credit.applies else None

    @property
    def split(self) -> rules.Split:
        """How it stands: what is not credited yet says nothing."""
        if self.credit is None:
            return rules.Split()
        return rules.Split(tuple(tenths_of(self.credit).values()), self.credit.applies)

    @cached_property
    def task(self) -> calc.Task:
        """The task as it is counted."""
        return calc.task(self.code, self.tenths, added=self.added)

    @property
    def given(self) -> int:
        return self.task.given

    @property
    def rest(self) -> int:
        """Tenths that are nobody's yet."""
        return calc.FULL - self.task.given if self.applies else 0

    @property
    def builders(self) -> int:
        return self.task.of(calc.ASSEMBLY, calc.FABRICATION)

    @property
    def claimed(self) -> bool:
        """Whether the builders claim something of it."""
        return self.applies and self.builders > 0

    @property
    def columns(self) -> list[tuple[str, str, int]]:
        """Key, head and tenths of each column."""
        return [(column, rules.COLUMN_HEADS[column], self.task.of(column)) for column in calc.COLUMNS]

    @property
    def places(self) -> list[CreditPlace]:
        return list(self.credit.places.all()) if self.credit else []

    @property
    def assemblies(self) -> list[Assembly]:
        return [one.assembly for one in self.places if one.assembly]

    @property
    def parts(self) -> list[Part]:
        return [one.part for one in self.places if one.part]

    def __str__(self) -> str:
        return f"{self.code} {self.words}"


@dataclass(frozen=True)
class SectionLines:
    """A section with its tasks, added ones last."""

    code: str
    title: str
    lines: tuple[Line, ...]

    @cached_property
    def share(self) -> calc.Share:
        return calc.share(one.task for one in self.lines)

    @property
    def columns(self) -> list[tuple[str, str, int]]:
        """Key, head and tenths of each column in this section."""
        return [(column, rules.COLUMN_HEADS[column], self.share.totals[column]) for column in calc.COLUMNS]


@dataclass(frozen=True)
class Sheet:
    """The whole list as it stands: sections, what has no place in the list any more, and the share."""

    tasks: TaskList | None
    sections: tuple[SectionLines, ...]
    without_task: tuple[Credit, ...]

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        return tuple(line for section in self.sections for line in section.lines)

    @cached_property
    def share(self) -> calc.Share:
        return calc.share(one.task for one in self.lines)

    @property
    def caution(self) -> str:
        return caution(self.tasks)

    @property
    def untouched(self) -> tuple[Line, ...]:
        """Tasks of which nothing is credited yet: they count, with nothing for anybody."""
        return tuple(one for one in self.lines if one.applies and not one.given)

    @property
    def unfinished(self) -> tuple[Line, ...]:
        """Tasks of which something is credited, and not all."""
        return tuple(one for one in self.lines if one.applies and one.given and one.rest)

    @property
    def not_applying(self) -> tuple[Line, ...]:
        return tuple(one for one in self.lines if not one.applies)

    @property
    def added(self) -> tuple[Line, ...]:
        return tuple(one for one in self.lines if one.added)

    def line(self, code: str) -> Line | None:
        """The task of this number, or none."""
        return next((one for one in self.lines if one.code == code), None)

    def section(self, code: str) -> SectionLines | None:
        """The section of this letter, or none."""
        return next((one for one in self.sections if one.code == code), None)

    @property
    def totals(self) -> list[tuple[str, str, int]]:
        """Key, words and tenths of each column in all."""
        return [(column, rules.COLUMN_WORDS[column], self.share.totals[column]) for column in calc.COLUMNS]

    @property
    def unclaimed(self) -> int:
        """Tenths that are nobody's yet."""
        return self.share.points - self.share.builders - self.share.others


def sheet(project: Project) -> Sheet:
    """The list with all that is credited: three queries."""
    row = list_now(project)
    return sheet_of(row, list(credits(project)))


def sheet_of(row: TaskList | None, rows: Iterable[Credit]) -> Sheet:
    """Put credits on the tasks of a list."""
    listed = sections_of(row)
    by_code = {one.code: one for one in rows}
    titles = {section.code: section.title for section in listed}
    lines = {
        section.code: [
            Line(one.code, one.words, section.code, one.provenance, by_code.pop(one.code, None))
            for one in section.tasks
        ]
        for section in listed
    }
    for one in sorted((one for one in by_code.values() if one.added), key=lambda one: (one.entered_at, one.code)):
        titles.setdefault(one.section, one.section or "Further tasks")
        lines.setdefault(one.section, []).append(Line(one.code, one.words, one.section, "added", one))
    left = tuple(one for one in by_code.values() if not one.added)
    return Sheet(row, tuple(SectionLines(code, titles[code], tuple(lines[code])) for code in lines), left)


def what_if(found: Sheet, codes: Iterable[str]) -> calc.Share:
    """What the share would be if the builders' work on these tasks were hired out. Nothing is written."""
    return calc.share(calc.hired_out([one.task for one in found.lines], codes))


def percent_words(share: calc.Share) -> str:
    """The share as it is shown: one place, and never rounded over a limit it does not reach."""
    if share.percent is None:
        return "–"
    shown = round(share.percent * 10)
    for limit in (500, 510):
        if shown == limit and share.percent * 10 != limit:
            return f"{float(share.percent):.2f} %"
    return f"{shown // 10}.{shown % 10} %"


def standing_words(share: calc.Share) -> tuple[str, str]:
    """The mark and the word for how a share stands."""
    return STANDING_WORDS[share.standing]


def credited_codes(project: Project) -> set[str]:
    """The numbers of listed tasks that have credit."""
    rows = Credit.objects.standing().filter(project=project, added=False)
    return set(rows.values_list("code", flat=True))


def credit_facts(project: Project) -> dict[str, Any]:
    """The list and its credit as plain values, for the printed record and the page of the file."""
    found = sheet(project)
    share, row = found.share, found.tasks
    return {
        "list": row
        and {
            "title": row.title,
            "edition": row.edition,
            "source": row.source,
            "official": row.official,
            "taken_on": f"{row.taken_at.astimezone(project.zone):%Y-%m-%d}",
            "digest": row.digest,
        },
        "caution": found.caution,
        "rule": calc.SHARE.words,
        "source": calc.SHARE.source,
        "inspector": calc.SHARE.caution,
        "standing": share.standing,
        "standing_words": standing_words(share)[1],
        "percent": percent_words(share),
        "counted": share.counted,
        "not_applying": len(found.not_applying),
        "added": len(found.added),
        "untouched": len(found.untouched),
        "unbalanced": [one.code for one in found.unfinished],
        "without_fabrication": share.without_fabrication,
        "totals": {column: share.totals[column] for column in calc.COLUMNS},
        "columns": rules.COLUMN_WORDS,
        "sections": [
            {
                "code": section.code,
                "title": section.title,
                "tasks": [line_facts(one) for one in section.lines],
                "totals": {column: section.share.totals[column] for column in calc.COLUMNS},
                "counted": section.share.counted,
            }
            for section in found.sections
        ],
        "without_task": [str(one) for one in found.without_task],
    }


def line_facts(one: Line) -> dict[str, Any]:
    """One task as plain values."""
    return {
        "code": one.code,
        "words": one.words,
        "added": one.added,
        "applies": one.applies,
        "tenths": one.tenths,
        "reason": one.credit.reason if one.credit else "",
        "places": [str(place) for place in [*one.assemblies, *one.parts]],
    }
