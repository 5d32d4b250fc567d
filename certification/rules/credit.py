"""Lists of tasks as they are read from a file, what changes between two of them, and how a task may be split."""

import csv
import io
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.major_portion import ASSEMBLY, COLUMNS, FABRICATION, FULL, MAKER, PAID
from foundation.refusal import Refusal

COLUMN_WORDS = {
    MAKER: "Maker of the kit or part",
    PAID: "Paid help",
    ASSEMBLY: "Builders, assembly",
    FABRICATION: "Builders, fabrication",
}
COLUMN_HEADS = {MAKER: "Maker", PAID: "Paid help", ASSEMBLY: "Assembled", FABRICATION: "Fabricated"}
NOTHING = dict.fromkeys(COLUMNS, 0)

NEEDED = ("section", "section_title", "task_id", "task_text")
# A plus sign is kept for tasks that a builder adds, so that no list can take their number.
CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,23}")
LONGEST = 200
MOST_ROWS = 2000


@dataclass(frozen=True)
class Listed:
    """One task of a list. `provenance` tells how its text is known, such as seen or memory."""

    code: str
    words: str
    provenance: str = ""


@dataclass(frozen=True)
class Section:
    """A section of a list with its tasks, in the order of the list."""

    code: str
    title: str
    tasks: tuple[Listed, ...]


@dataclass(frozen=True)
class Fault:
    """What is wrong in one line of a file, and what to do about it."""

    line: int
    words: str


@dataclass(frozen=True)
class Reading:
    """What a file holds: its sections, and what stands in the way of using it."""

    sections: tuple[Section, ...]
    faults: tuple[Fault, ...]

    @property
    def count(self) -> int:
        return sum(len(section.tasks) for section in self.sections)


def content(sections: Iterable[Section]) -> dict[str, Any]:
    """A list as it is kept."""
    return {
        "sections": [
            {
                "code": section.code,
                "title": section.title,
                "tasks": [
                    {"code": one.code, "words": one.words, "provenance": one.provenance} for one in section.tasks
                ],
            }
            for section in sections
        ]
    }


def sections(kept: Mapping[str, Any]) -> tuple[Section, ...]:
    """A list from what was kept."""
    return tuple(
        Section(
            row["code"],
            row["title"],
            tuple(Listed(one["code"], one["words"], one.get("provenance", "")) for one in row["tasks"]),
        )
        for row in kept["sections"]
    )


def tasks(found: Iterable[Section]) -> dict[str, Listed]:
    """Every task of a list by its number."""
    return {one.code: one for section in found for one in section.tasks}


def read(text: str) -> Reading:
    """Read a list from the text of a CSV file. Lines count as a text editor counts them."""
    rows = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=separator(text))
    try:
        head = [cell.strip().lower() for cell in next(rows, [])]
        missing = [name for name in NEEDED if name not in head]
        if missing:
            needed = ", ".join(NEEDED)
            return Reading((), (Fault(1, f"The first line names no column {missing[0]}. It has to name {needed}."),))
        return read_rows(head, rows)
    except csv.Error as no:
        words = f"This line cannot be read as CSV ({no}). Look for a quote that is not closed."
        return Reading((), (Fault(rows.line_num, words),))


def separator(text: str) -> str:
    """What stands between the cells: some spreadsheet programs write semicolons or tabs."""
    first = text.partition("\n")[0]
    return max((",", ";", "\t"), key=first.count)


def read_rows(head: Sequence[str], rows: Any) -> Reading:
    """Read the lines below the head."""
    found: dict[str, tuple[str, list[Listed]]] = {}
    faults: list[Fault] = []
    lines: dict[str, int] = {}
    for cells in rows:
        if not any(cell.strip() for cell in cells):
            continue
        if len(lines) >= MOST_ROWS:
            faults.append(Fault(rows.line_num, f"More than {MOST_ROWS} tasks. Take up a shorter list."))
            break
        row = {name: " ".join(cell.split()) for name, cell in zip(head, cells, strict=False)}
        words = wrong(row, lines, found)
        if words:
            faults.append(Fault(rows.line_num, words))
            continue
        lines[row["task_id"]] = rows.line_num
        listed = Listed(row["task_id"], row["task_text"], row.get("provenance", "")[:40])
        found.setdefault(row["section"], (row["section_title"], []))[1].append(listed)
    if not lines and not faults:
        faults.append(Fault(2, "No task stands below the head. Add a line for each task."))
    made = (Section(code, title, tuple(listed)) for code, (title, listed) in found.items())
    return Reading(tuple(made), tuple(faults))


def wrong(row: Mapping[str, str], lines: Mapping[str, int], found: Mapping[str, tuple[str, list[Listed]]]) -> str:
    """What is wrong with a line, and what to do; empty where nothing is."""
    empty = next((name for name in NEEDED if not row.get(name)), "")
    if empty:
        return f"{empty} is empty. Fill it in, or take the line out."
    code, section = row["task_id"], row["section"]
    if not CODE.fullmatch(code):
        return f"task_id “{code[:40]}” has to be at most 24 letters, digits, dots or hyphens, without blanks."
    if not CODE.fullmatch(section):
        return f"section “{section[:40]}” has to be at most 24 letters, digits, dots or hyphens, without blanks."
    if code in lines:
        return f"Task {code} stands in line {lines[code]} already. Give one of them another task_id."
    if len(row["task_text"]) > LONGEST:
        return f"task_text has {len(row['task_text'])} letters; at most {LONGEST} are kept. Shorten it."
    if section in found and found[section][0] != row["section_title"]:
        return f"Section {section} is called “{found[section][0]}” further up. Use one title for it."
    return ""


@dataclass(frozen=True)
class Difference:
    """What a newer list changes: tasks that come, go or are worded anew, and credits that would lose their task."""

    added: tuple[Listed, ...]
    gone: tuple[Listed, ...]
    reworded: tuple[tuple[Listed, Listed], ...]
    lost: tuple[str, ...]

    @property
    def any(self) -> bool:
        return bool(self.added or self.gone or self.reworded)


def difference(before: Iterable[Section], after: Iterable[Section], credited: Collection[str]) -> Difference:
    """What changes from one list to another; `credited` names the tasks that have credit now."""
    old, new = tasks(before), tasks(after)
    gone = tuple(one for code, one in old.items() if code not in new)
    return Difference(
        tuple(one for code, one in new.items() if code not in old),
        gone,
        tuple((one, new[code]) for code, one in old.items() if code in new and new[code].words != one.words),
        tuple(one.code for one in gone if one.code in credited),
    )


def next_code(section: str, taken: Collection[str]) -> str:
    """The number of the next task that a builder adds to a section."""
    n = 1
    while f"{section}+{n}" in taken:
        n += 1
    return f"{section}+{n}"


def check_list(title: str, edition: str, source: str, count: int) -> None:
    """Refuse a list that does not tell where it comes from, or that holds nothing."""
    for value, field, words in (
        (title, "title", "Say what the list is called."),
        (edition, "edition", "Say which edition it is, such as a date or a revision."),
        (source, "source", "Say where the list comes from, so that a reader can find it again."),
    ):
        if not value.strip():
            raise Refusal("list_unnamed", words, field)
    if not count:
        raise Refusal("list_empty", "The list holds no task.", "text")


def check_split(tenths: Mapping[str, int], *, applies: bool, reason: str) -> None:
    """Refuse a split that gives away more than one task, or that counts a task out without saying why."""
    if not applies:
        if any(tenths.values()):
            raise Refusal(
                "not_applying", "A task that does not apply earns no credit. Set the columns to 0.", "applies"
            )
        if not reason.strip():
            raise Refusal("no_reason", "Say why this task does not apply to this aircraft.", "reason")
        return
    if any(not 0 <= number <= FULL for number in tenths.values()):
        raise Refusal("tenths", f"A column holds 0 to {FULL} tenths.", None)
    given = sum(tenths.values())
    if given > FULL:
        raise Refusal("too_much", f"That is {given} tenths; one task is {FULL}. Take {given - FULL} away.", None)


@dataclass(frozen=True)
class Split:
    """How a task stands or is to stand: its four columns in tenths, or that it does not apply."""

    tenths: tuple[int, ...] = (0,) * len(COLUMNS)
    applies: bool = True

    @property
    def told(self) -> bool:
        """Whether it says anything: credit of nothing, which only ties places, does not."""
        return any(self.tenths) or not self.applies

    @property
    def by_column(self) -> dict[str, int]:
        return dict(zip(COLUMNS, self.tenths, strict=True))

    @property
    def words(self) -> str:
        """It in a sentence: 0.3 maker, 0.7 fabricated."""
        if not self.applies:
            return "does not apply"
        return ", ".join(
            f"{tenths_words(n)} {COLUMN_HEADS[column].lower()}" for column, n in self.by_column.items() if n
        ) or "nothing for anybody"  # fmt: skip


def read_split(typed: Mapping[str, str], *, applies: bool) -> Split:
    """What is typed for one task: whole tenths, an empty column is none of it. Raises Refusal."""
    tenths = []
    for column in COLUMNS:
        text = typed.get(column, "").strip() or "0"
        if not (text.isascii() and text.isdigit() and int(text[:9]) <= FULL):
            words = f"{COLUMN_HEADS[column]}: “{text[:20]}” is not 0 to {FULL}. Write whole tenths: 5 for half a task."
            raise Refusal("tenths", words, column)
        tenths.append(int(text))
    return Split(tuple(tenths), applies)


def changed_words(now: Split) -> str:
    """What is said of a task that somebody else changed while it was being typed."""
    return f"Changed meanwhile, now: {now.words}. What you typed is still here; save again to put it in its place."


def kept_splits(found: Mapping[str, Split]) -> str:
    """What a page showed of every task, short enough to come back with its form."""
    return " ".join(
        f"{code}={'.'.join(map(str, one.tenths)) if one.applies else '-'}" for code, one in found.items() if one.told
    )


def splits_kept(text: str) -> dict[str, Split]:
    """What a page showed, from the form that came back; what cannot be read was not shown."""
    found = {}
    for piece in text.split():
        code, _, said = piece.partition("=")
        tenths = said.split(".")
        if said == "-":
            found[code] = Split(applies=False)
        elif len(tenths) == len(COLUMNS) and all(re.fullmatch(r"\d{1,2}", one, re.ASCII) for one in tenths):
            found[code] = Split(tuple(map(int, tenths)))
    return found


def official_words(official: bool, starter: bool) -> str:
    """What stands beside every number of a list that is not the official one; empty for the official one."""
    if official:
        return ""
    kind = "Starter list, not the official form." if starter else "Own list, not the official form."
    return f"{kind} Load the official list before you rely on this."


def tenths_words(tenths: int) -> str:
    """Tenths as a table of points has them: 0.3, 1.0."""
    return f"{tenths // FULL}.{tenths % FULL}"
