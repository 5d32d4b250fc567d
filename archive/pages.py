"""The report of a check as plain text, for a person to read, print and keep."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from textwrap import wrap

from archive.queries import Outcome, grouped
from archive.rules import Fault, count_words

WIDTH = 78
CANNOT = (
    "A check cannot find a change by somebody who rewrote the whole journal after it. For that, compare the entry and "
    "the digest above with a record that was printed, sent or copied before: it names its newest entry and the digest "
    "of that entry, and the journal must still have the same."
)


def report(outcomes: Sequence[Outcome], strays: Sequence[Fault] = (), notes: Sequence[str] = ()) -> str:
    """The report of one or more checked projects, and of what belongs to none of them."""
    lines = [line for outcome in outcomes for line in [*project_lines(outcome), ""]]
    if strays or notes:
        lines += [*headed("Belonging to no project"), *fault_lines(strays)]
        lines += [line for note in notes for line in wrap(note, WIDTH)] + [""]
    return "\n".join([*lines, *wrap(CANNOT, WIDTH), ""])


def project_lines(outcome: Outcome) -> Iterator[str]:
    """One project: what was checked, what was found, what to compare."""
    yield from headed(f"Check of the record: {outcome.name}")
    yield f"Begun  {moment(outcome.started_at)}"
    yield f"Ended  {moment(outcome.ended_at)}, after {outcome.took}"
    yield f"Found  {'nothing: the record is whole' if outcome.whole else count_words(outcome.fault_count, 'fault')}"
    yield ""
    for words, looked_at, faults in outcome.chapters:
        yield f"  {words}"
        found = faults or "nothing wrong"
        yield f"    {looked_at}: {found}" if looked_at else f"    {found}"
    yield ""
    yield from fault_lines(outcome.faults)
    if outcome.more:
        yield from [f"And {count_words(outcome.more, 'further fault')} that the report leaves out.", ""]
    if outcome.newest_seq:
        yield "To compare with a printed record:"
        yield f"  Newest journal entry  {outcome.newest_seq}"
        yield f"  Its digest            {outcome.short_digest}"
        yield f"  In full               {outcome.newest_digest}"
    else:
        yield "The journal has no entries."


def fault_lines(faults: Sequence[Fault]) -> Iterator[str]:
    """Each fault, those of one kind together with what they mean and what to do."""
    for group in grouped(faults):
        for fault in group.faults:
            yield from wrap(fault.words, WIDTH, initial_indent="* ", subsequent_indent="  ")
        yield from wrap(f"What it means: {group.advice.means}", WIDTH, initial_indent="  ", subsequent_indent="  ")
        yield from wrap(f"What to do: {group.advice.do}", WIDTH, initial_indent="  ", subsequent_indent="  ")
        yield ""


def headed(words: str) -> list[str]:
    """A heading, underlined."""
    return [words, "=" * len(words)]


def moment(at: datetime | None) -> str:
    """A time on the clock that the reader is shown."""
    return f"{at:%Y-%m-%d %H:%M:%S} {at:%Z}" if at else "never"
