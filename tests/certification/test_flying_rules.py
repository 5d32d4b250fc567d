"""Inspection lists, test flights, statements and people: the pure rules."""

import json
from calendar import monthrange
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from certification.rules import flights, inspection_lists, people, statements
from foundation.refusal import Refusal

DATA = Path(__file__).parents[2] / "certification" / "data" / "final_inspection.json"
TODAY = date(2026, 5, 14)


def finish(kind: str = "final", counts: inspection_lists.Counts | None = None, **more: object) -> None:
    said = {
        "done_on": TODAY,
        "today": TODAY,
        "begun_on": TODAY,
        "done_by": "Edda Norrell",
        "certificate": "Repairman 1",
        "total_hours": Decimal("12.3"),
        "statement": "As our limitations word it.",
        "gap_reason": "",
    }
    inspection_lists.check_finish(kind, counts or inspection_lists.Counts(1, 1, 0, 0, 0), **(said | more))


# ---- the bundled lists ----


def test_the_bundled_list_says_of_every_line_whether_its_source_was_seen() -> None:
    """77 short items, 37 with a seen source; the yearly list holds those of part 43 Appendix D."""
    final, yearly = json.loads(DATA.read_text())["lists"]
    lines = [line for group in final["groups"] for line in group["lines"]]
    assert len(lines) == 77
    assert sum(line["provenance"] == "seen" for line in lines) == 37
    assert all(line["source"] and line["provenance"] in inspection_lists.KNOWN for line in lines)
    due = [line for group in yearly["groups"] for line in group["lines"]]
    assert len(due) == 30
    assert all("Appendix D" in line["source"] or "App. D" in line["source"] for line in due)
    assert all(line in lines for line in due)
    assert "airworthy" not in DATA.read_text().lower()


# ---- reading one's own ----


def test_a_list_of_ones_own_is_read_with_and_without_a_head() -> None:
    bare = inspection_lists.read_list("Hull,Drain plugs fitted\n,Keel: no damage\nWings,Pins locked,Handbook 4-2\n")
    assert not bare.errors and bare.lines == 3
    assert [group["title"] for group in bare.groups] == ["Hull", "Wings"]
    assert bare.groups[1]["lines"][0] == {"words": "Pins locked", "source": "Handbook 4-2", "provenance": "own"}
    head = inspection_lists.read_list('\ufeffitem;group;provenance\r\n"Plugs; fitted";Hull;memory\r\n')
    assert head.groups[0]["lines"][0] == {"words": "Plugs; fitted", "source": "", "provenance": "memory"}


@pytest.mark.parametrize(
    ("text", "line", "part"),
    [
        ("", 1, "no line"),
        (",Drain plugs", 1, "group is missing"),
        ("Hull,\n", 1, "item is missing"),
        ("Hull,Plugs\nHull,Plugs\n", 2, "already"),
        ("Hull,Plugs,Handbook,guessed\n", 1, "Provenance"),
        ("Hull,Plugs,a,seen,more\n", 1, "more columns"),
        ("Hull," + "x" * 201, 1, "Too long"),
        ('Hull,Plugs\nHull,"open\n', 2, "cannot be read"),
    ],
)
def test_what_cannot_be_taken_is_told_by_its_line(text: str, line: int, part: str) -> None:
    errors = inspection_lists.read_list(text).errors
    assert [number for number, _ in errors] == [line]
    assert part in errors[0][1]


@given(st.text(max_size=300))
def test_any_text_is_read_or_told(text: str) -> None:
    read = inspection_lists.read_list(text)
    assert read.lines or read.errors


# ---- counting ----

ANSWER = st.sampled_from(["", "yes", "no", "na"])


@given(st.lists(st.lists(st.tuples(ANSWER, st.booleans()), max_size=9), max_size=6))
def test_counts_add_up_whatever_was_answered(groups: list[list[tuple[str, bool]]]) -> None:
    counts = []
    for number, rows in enumerate(groups):
        lines = [inspection_lists.Line(f"{number}.{place}", "Look") for place in range(len(rows))]
        said = {
            line.code: inspection_lists.Answered(line.code, answer, tied)
            for line, (answer, tied) in zip(lines, rows, strict=True)
            if answer
        }
        one = inspection_lists.count(lines, said)
        assert one.open == sum(not answer for answer, _ in rows)
        counts.append(one)
    whole = inspection_lists.added_up(counts)
    flat = [row for rows in groups for row in rows]
    assert whole.lines == len(flat)
    assert whole.open == sum(not answer for answer, _ in flat)
    assert whole.untied == sum(answer == "no" and not tied for answer, tied in flat)
    assert bool(inspection_lists.gaps(whole)) == any(
        not answer or (answer == "no" and not tied) for answer, tied in flat
    )
    assert "%" not in whole.words


def test_another_answer_needs_a_reason_and_the_same_does_not() -> None:
    inspection_lists.check_answer("yes", "", "")
    inspection_lists.check_answer("yes", "yes", "")
    inspection_lists.check_answer("no", "yes", "Looked again with a lamp")
    with pytest.raises(Refusal, match="Say why the answer changes"):
        inspection_lists.check_answer("no", "yes", " ")
    with pytest.raises(Refusal, match="Answer In order"):
        inspection_lists.check_answer("perhaps", "", "")


def test_codes_of_own_lines_are_never_given_twice() -> None:
    assert inspection_lists.next_own_code([]) == "A-1"
    assert inspection_lists.next_own_code(["A-1", "A-10", "3.02"]) == "A-11"


# ---- the end of a run ----


def test_a_run_over_gaps_needs_a_reason_and_a_yearly_one_its_certificate_and_hours() -> None:
    """14 CFR 43.11(a): date, total time, signature, certificate number and kind (summaries, seen)."""
    finish()
    open_line = inspection_lists.Counts(2, 1, 0, 0, 0)
    with pytest.raises(Refusal, match="1 line is not answered"):
        finish(counts=open_line)
    with pytest.raises(Refusal, match="no discrepancy"):
        finish(counts=inspection_lists.Counts(1, 0, 1, 0, 1))
    finish(counts=open_line, gap_reason="No skis fitted this year")
    finish(certificate="", total_hours=None)
    for field in ("certificate", "total_hours"):
        with pytest.raises(Refusal) as no:
            finish("condition", **{field: "" if field == "certificate" else None})
        assert no.value.field == field
    for field, wrong in (
        ("done_by", " "),
        ("statement", ""),
        ("done_on", date(2026, 5, 15)),
        ("done_on", date(2026, 5, 1)),
    ):
        with pytest.raises(Refusal) as no:
            finish(**{field: wrong})
        assert no.value.field == field


@given(st.dates(date(1950, 1, 1), date(2100, 1, 1)))
def test_the_next_one_is_due_twelve_months_later_clamped_at_the_end_of_the_month(last: date) -> None:
    due = inspection_lists.due_after(last)
    assert due == last + relativedelta(months=12)
    end = inspection_lists.end_of_that_month(due)
    assert (end.year, end.month, end.day) == (due.year, due.month, monthrange(due.year, due.month)[1])


def test_a_leap_day_is_due_on_the_last_of_february() -> None:
    assert inspection_lists.due_after(date(2028, 2, 29)) == date(2029, 2, 28)
    assert inspection_lists.due_after(None) is None


# ---- flights ----

MINUTES = st.lists(st.integers(1, 1440), max_size=40)


def progress(flown: int, asked: Decimal | None) -> flights.Progress:
    return flights.Progress(flown, 1, 1, asked, 0, 0, 0, 0)


@given(MINUTES)
def test_the_running_total_ends_at_the_sum_and_never_falls(minutes: list[int]) -> None:
    totals = flights.running(minutes)
    assert len(totals) == len(minutes)
    assert (totals[-1] if totals else 0) == sum(minutes)
    assert totals == sorted(totals)


@given(st.integers(0, 6000), st.integers(1, 900))
def test_no_rounding_fills_up_the_hours_asked(flown: int, asked_tenths: int) -> None:
    asked = Decimal(asked_tenths) / 10
    now = progress(flown, asked)
    assert now.enough == (flown >= asked_tenths * 6)
    assert now.enough == (now.left == 0)
    assert now.flown + now.left >= asked_tenths * 6
    assert now.hours <= Decimal(flown) / 60


def test_a_minute_short_of_forty_hours_is_short() -> None:
    """40 h unless engine and propeller are a type-certificated combination: magazine column on limitations (seen)."""
    assert [hours for hours, _ in flights.HOURS_HINTS] == [25, 40]
    short = progress(40 * 60 - 1, Decimal(40))
    assert not short.enough and short.left_words == "0:01" and short.hours == Decimal("39.9")
    assert progress(40 * 60, Decimal(40)).enough
    assert not progress(10**6, None).enough


@pytest.mark.parametrize(
    ("text", "minutes"), [("1:12", 72), ("72 min", 72), ("1 h 12 min", 72), ("1.2 h", 72), ("0,5 h", 30), ("0:05", 5)]
)
def test_time_is_typed_as_people_do(text: str, minutes: int) -> None:
    assert flights.minutes_of(text) == minutes


@pytest.mark.parametrize("text", ["1.2", "1:75", "soon", "", "3 kg"])
def test_a_time_that_says_no_unit_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="Write 1:12"):
        flights.minutes_of(text)


@given(st.integers(0, 5999))
def test_a_clock_time_reads_back(minutes: int) -> None:
    assert flights.minutes_of(flights.clock(minutes)) == minutes


def test_quantities_keep_what_was_typed() -> None:
    assert flights.quantity("612", "mass", "si", "weight") == "612 kg"
    assert flights.quantity("1349 lb", "mass", "si", "weight") == "1349 lb"
    assert flights.quantity("-12.5", "length", "us", "arm") == "-12.5 in"
    assert flights.quantity("54", "speed", "us", "vx") == "54 kt"
    assert flights.quantity("", "speed", "us", "vx") == ""
    with pytest.raises(Refusal):
        flights.quantity("54 kg", "speed", "us", "vx")
    with pytest.raises(Refusal):
        flights.quantity("0 kt", "speed", "us", "vx")


def test_points_are_read_one_a_line() -> None:
    assert flights.read_points("Stall, clean | no wing drop\n\nClimb at 60 kt\n") == [
        ("Stall, clean", "no wing drop"),
        ("Climb at 60 kt", ""),
    ]
    for wrong in ("", " | only limits", "x" * 201):
        with pytest.raises(Refusal):
            flights.read_points(wrong)


def test_what_is_not_as_it_should_be_needs_words() -> None:
    flights.check_told("good", "")
    for outcome in ("again", "bad"):
        with pytest.raises(Refusal, match="what was found"):
            flights.check_told(outcome, " ")


# ---- statements ----

FIGURES = {"vso": "41 kt", "vx": "54 kt", "vy": "62 kt", "weight": "612 kg", "arm": "2210 mm"}
TICKS = ["controllable", "no_hazard", "safe"]
FLOWN = progress(40 * 60, Decimal(40))


def state(kind: str = "phase_end", ticks: list[str] = TICKS, said: dict = FIGURES, flown=FLOWN, **more: object) -> None:  # noqa: ANN001
    words = {"text": "Words", "wording": "limits", "made_on": TODAY, "today": TODAY} | more
    statements.check(kind, ticks, said, flown, **words)


def test_the_end_of_the_phase_is_not_stated_while_an_element_is_missing() -> None:
    """Elements of 91.319(b) and Vso, Vx, Vy with weight and center of gravity: magazine column, forum copies (seen)."""
    state()
    for tick in TICKS:
        with pytest.raises(Refusal, match="Still missing"):
            state(ticks=[one for one in TICKS if one != tick])
    for figure in FIGURES:
        with pytest.raises(Refusal) as no:
            state(said=FIGURES | {figure: ""})
        assert no.value.field == figure
    with pytest.raises(Refusal, match="hours asked"):
        state(flown=progress(40 * 60 - 1, Decimal(40)))
    with pytest.raises(Refusal, match="hours asked"):
        state(flown=progress(10_000, None))


def test_words_and_where_they_are_from_are_asked_for() -> None:
    for field, wrong in (("text", " "), ("wording", ""), ("made_on", date(2027, 1, 1))):
        with pytest.raises(Refusal) as no:
            state(**{field: wrong})
        assert no.value.field == field
    with pytest.raises(Refusal, match="Choose what it states"):
        state("praise")


@pytest.mark.parametrize("kind", list(statements.ELEMENTS))
def test_every_kind_names_its_elements_and_source(kind: str) -> None:
    assert statements.ELEMENTS[kind] and statements.SOURCES[kind]
    assert not any("airworthy" in element.words.lower() for element in statements.ELEMENTS[kind])
    ticks = [one.key for one in statements.ELEMENTS[kind] if one.tick]
    assert not statements.missing(kind, ticks, FIGURES | {"hours": Decimal(1)}, FLOWN)
    assert statements.missing(kind, [], {}, progress(0, None))


# ---- people ----

STRETCH = st.builds(
    people.Stretch,
    session=st.sampled_from("abcdef"),
    day=st.dates(date(2025, 1, 1), date(2026, 1, 1)),
    kind=st.sampled_from(["labor", "study"]),
    work=st.sampled_from(["", "layup"]),
    labor=st.integers(0, 40_000),
    shares=st.lists(st.tuples(st.sampled_from("xyz"), st.integers(1, 9)), min_size=1, max_size=3).map(tuple),
)


@given(st.lists(STRETCH, max_size=12))
def test_a_persons_sums_add_back_to_the_second(stretches: list[people.Stretch]) -> None:
    found = people.sums(stretches)
    logged = sum(one.labor for one in stretches)
    for by in (found.by_kind, found.by_work, found.by_assembly):
        assert sum(by.values()) == logged == found.logged
    assert found.sessions == len({one.session for one in stretches})
    assert found.first == min((one.day for one in stretches), default=None)
    assert found.last == max((one.day for one in stretches), default=None)
