"""Pure decisions about inspection lists: reading one, what an answer needs, what is open, when a run is finished."""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import StringIO
from typing import Any

from calc.times import in_months
from foundation.refusal import Refusal

YES, NO, NOT_APPLICABLE = "yes", "no", "na"
FINAL, CONDITION = "final", "condition"
OWN_LINES = "Own lines"
KNOWN = {"seen": "Source seen", "memory": "From memory", "common practice": "Common practice", "own": "Own list"}
MOST_LINES = 400
MOST_GROUPS = 60
LONGEST_WORDS, LONGEST_GROUP, LONGEST_SOURCE = 200, 80, 300
COLUMNS = ("group", "item", "source", "provenance")
# Within 12 calendar months: copies of operating limitations, seen. How their end is meant was not seen.
MONTHS = 12
DUE_SOURCE = (
    "A condition inspection within 12 calendar months stands in copies of operating limitations (seen). The day shown "
    "is the cautious reading; your own operating limitations decide."
)


@dataclass(frozen=True)
class Line:
    """Something to look at."""

    code: str
    words: str
    source: str = ""
    provenance: str = ""
    added: bool = False

    @property
    def known(self) -> str:
        """How its source is known, in words."""
        return KNOWN.get(self.provenance, self.provenance)


@dataclass(frozen=True)
class Answered:
    """What was said at one line, as the rules see it."""

    code: str
    answer: str
    tied: bool = False


@dataclass(frozen=True)
class Counts:
    """How the lines of a group, or of the whole list, stand."""

    lines: int
    in_order: int
    not_in_order: int
    not_applicable: int
    untied: int

    @property
    def open(self) -> int:
        return self.lines - self.in_order - self.not_in_order - self.not_applicable

    @property
    def words(self) -> str:
        """The counts that are not nothing, what is open first."""
        said = [
            (self.open, "open"),
            (self.not_in_order, "not in order"),
            (self.in_order, "in order"),
            (self.not_applicable, "not applicable"),
        ]
        return ", ".join(f"{count} {words}" for count, words in said if count) or "no lines"


@dataclass(frozen=True)
class Read:
    """What a file of lines says, and what is wrong with it, by the number of its line."""

    groups: tuple[dict[str, Any], ...]
    errors: tuple[tuple[int, str], ...]

    @property
    def lines(self) -> int:
        return sum(len(group["lines"]) for group in self.groups)


def read_list(text: str) -> Read:
    """Read a list of one's own: group, item and, where known, source and provenance; a first line may name them.

    A blank group goes on with the one before it.
    """
    groups: dict[str, list[dict[str, str]]] = {}
    errors: list[tuple[int, str]] = []
    seen: set[tuple[str, str]] = set()
    last = ""
    reader = csv.reader(StringIO(text.removeprefix("\ufeff")), delimiter=delimiter(text), strict=True)
    columns: tuple[str, ...] = COLUMNS
    first = True
    while True:
        try:
            row = next(reader, None)
        except csv.Error as no:
            errors.append((reader.line_num, f"This line cannot be read ({no}). Look at its quotation marks."))
            break
        if row is None:
            break
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        if first and {"group", "item"} <= {cell.lower() for cell in cells}:
            columns, first = tuple(cell.lower() for cell in cells), False
            continue
        first = False
        said = dict(zip(columns, cells, strict=False))
        last = said.get("group") or last
        wrong = wrong_with(last, said, len(cells) > len(columns), seen)
        if wrong:
            errors.append((reader.line_num, wrong))
            continue
        seen.add((last, said["item"]))
        source, known = said.get("source", ""), said.get("provenance", "").lower()
        groups.setdefault(last, []).append({"words": said["item"], "source": source, "provenance": known or "own"})
    count = sum(len(lines) for lines in groups.values())
    if not count and not errors:
        errors.append((1, "There is no line to look at. Write one line for each thing: group, item."))
    if count > MOST_LINES or len(groups) > MOST_GROUPS:
        errors.append((1, f"At most {MOST_LINES} lines in {MOST_GROUPS} groups fit into one list; these are {count}."))
    return Read(tuple({"title": title, "lines": lines} for title, lines in groups.items()), tuple(errors))


def delimiter(text: str) -> str:
    """Comma, or what a spreadsheet writes in its place."""
    head = text.partition("\n")[0]
    return max(",;\t", key=head.count)


def wrong_with(group: str, said: Mapping[str, str], too_many: bool, seen: set[tuple[str, str]]) -> str:
    """What is wrong with one line; empty where nothing is."""
    item = said.get("item", "")
    if too_many:
        return "There are more columns than the list has. Put an item with commas between quotation marks."
    if not group:
        return "The group is missing: under which heading does it stand?"
    if not item:
        return "The item is missing: what is to be looked at?"
    if len(item) > LONGEST_WORDS or len(group) > LONGEST_GROUP or len(said.get("source", "")) > LONGEST_SOURCE:
        return (
            f"Too long: {LONGEST_WORDS} signs for an item, {LONGEST_GROUP} for a group, {LONGEST_SOURCE} for a source."
        )
    if said.get("provenance", "").lower() not in {"", *KNOWN}:
        return f"Provenance is one of: {', '.join(KNOWN)}; or empty."
    if (group, item) in seen:
        return "This item stands in the group already."
    return ""


def content(title: str, edition: str, source: str, groups: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """A list as an inspection keeps it: every line with a code, such as 3.02 for the second of the third group."""
    coded = [
        {
            "title": group["title"],
            "lines": [
                {
                    "code": f"{number}.{place:02d}",
                    "words": line["words"],
                    "source": line.get("source", ""),
                    "provenance": line.get("provenance", ""),
                }
                for place, line in enumerate(group["lines"], start=1)
            ],
        }
        for number, group in enumerate(groups, start=1)
    ]
    return {"title": title, "edition": edition, "source": source, "groups": coded}


def groups_of(kept: Mapping[str, Any], added: Sequence[Line] = ()) -> list[tuple[str, list[Line]]]:
    """The lines of a kept list under their headings, and those that the builder added at its end."""
    found = [(group["title"], [Line(**line) for line in group["lines"]]) for group in kept["groups"]]
    return [*found, (OWN_LINES, list(added))] if added else found


def next_own_code(taken: Iterable[str]) -> str:
    """The code of the next line of one's own: A-1, A-2, never one that was given before."""
    numbers = [int(code[2:]) for code in taken if code.startswith("A-") and code[2:].isdecimal()]
    return f"A-{max(numbers, default=0) + 1}"


def count(lines: Iterable[Line], answers: Mapping[str, Answered]) -> Counts:
    """How these lines stand."""
    listed = list(lines)
    said = [answers[line.code] for line in listed if line.code in answers]
    return Counts(
        lines=len(listed),
        in_order=sum(one.answer == YES for one in said),
        not_in_order=sum(one.answer == NO for one in said),
        not_applicable=sum(one.answer == NOT_APPLICABLE for one in said),
        untied=sum(one.answer == NO and not one.tied for one in said),
    )


def added_up(counts: Iterable[Counts]) -> Counts:
    """The whole of some groups."""
    rows = list(counts)
    return Counts(
        sum(one.lines for one in rows),
        sum(one.in_order for one in rows),
        sum(one.not_in_order for one in rows),
        sum(one.not_applicable for one in rows),
        sum(one.untied for one in rows),
    )


def check_answer(answer: str, before: str, reason: str) -> None:
    """Refuse an answer that is none, and a change of an answer without a reason."""
    if answer not in {YES, NO, NOT_APPLICABLE}:
        raise Refusal("no_such_answer", "Answer In order, Not in order or Does not apply.", "answer")
    if before and before != answer and not reason.strip():
        raise Refusal("no_reason", "Say why the answer changes. The old one stays in the history.", "reason")


def gaps(counts: Counts) -> list[str]:
    """What stands between this run and its end, in sentences."""
    found = []
    if counts.open:
        found.append(f"{counts.open} {'line is' if counts.open == 1 else 'lines are'} not answered.")
    if counts.untied:
        found.append(
            f"{counts.untied} {'line is' if counts.untied == 1 else 'lines are'} not in order and "
            f"{'belongs' if counts.untied == 1 else 'belong'} to no discrepancy."
        )
    return found


def check_finish(
    kind: str,
    counts: Counts,
    *,
    done_on: date,
    today: date,
    begun_on: date,
    done_by: str,
    certificate: str,
    total_hours: Decimal | None,
    statement: str,
    gap_reason: str,
) -> None:
    """Refuse an end that cannot be, or that lacks what an entry of this kind carries (14 CFR 43.11(a), seen)."""
    if done_on > today:
        raise Refusal("ahead", "That day has not come yet.", "done_on")
    if done_on < begun_on:
        raise Refusal("before", f"This inspection was begun on {begun_on:%-d %b %Y}.", "done_on")
    if not done_by.strip():
        raise Refusal("nobody", "Say who inspected.", "done_by")
    if not statement.strip():
        raise Refusal("no_statement", "Write the words of the statement, as they stand in the logbook.", "statement")
    if kind == CONDITION and not certificate.strip():
        raise Refusal("no_certificate", "A yearly entry carries the kind and number of the certificate.", "certificate")
    if kind == CONDITION and total_hours is None:
        raise Refusal("no_hours", "A yearly entry carries the total time in service.", "total_hours")
    missing = gaps(counts)
    if missing and not gap_reason.strip():
        raise Refusal(
            "gaps",
            f"{' '.join(missing)} Answer them, or say why it is finished all the same; that prints with it for ever.",
            "gap_reason",
        )


def due_after(last: date | None) -> date | None:
    """By when the next condition inspection is due: 12 months after the last one, clamped at the end of a month."""
    return in_months(last, MONTHS) if last else None


def end_of_that_month(due: date) -> date:
    """The last day of the month of a date: how 12 calendar months are often read."""
    return date.fromordinal(in_months(due.replace(day=1), 1).toordinal() - 1)
