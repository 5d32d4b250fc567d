"""Pure decisions about sessions: what is refused, how fresh an entry is, on which day a clock time falls."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog import rules
from buildlog.rules import Worked
from foundation.refusal import Refusal

NOW = datetime(2026, 5, 14, 17, 0, tzinfo=UTC)
DAY = date(2026, 5, 14)


def stretch(
    minutes: float = 60, *, person: str = "a", end: datetime = NOW, breaks: int = 0, unattended: int = 0
) -> Worked:
    return Worked(person, f"Person {person}", end - timedelta(minutes=minutes), end, breaks, unattended)


def refused(code: str, field: str, *worked: Worked) -> None:
    with pytest.raises(Refusal) as no:
        rules.check_worked(worked, NOW)
    assert (no.value.code, no.value.field) == (code, field)
    assert no.value.message.endswith(".")


def test_a_session_of_nobody_is_refused():
    refused("nobody", "people")


def test_a_person_stands_once_in_a_session():
    refused("person_twice", "people", stretch(), stretch(30))


@pytest.mark.parametrize("minutes", [0, -1, -600])
def test_an_end_that_does_not_come_after_the_start_is_refused(minutes):
    refused("ends_before_start", "ended", stretch(minutes))


def test_twenty_four_hours_are_the_longest_session_to_the_second():
    rules.check_worked([stretch(24 * 60)], NOW)
    refused("too_long", "ended", stretch(24 * 60 + 1 / 60))


def test_an_end_in_the_future_is_refused_beyond_what_two_clocks_differ():
    rules.check_worked([stretch(end=NOW + timedelta(minutes=10))], NOW)
    refused("in_future", "ended", stretch(end=NOW + timedelta(minutes=10, seconds=1)))


@pytest.mark.parametrize(("breaks", "unattended"), [(3601, 0), (0, 3601), (1800, 1801), (-1, 0), (0, -1)])
def test_more_taken_off_than_passed_is_refused(breaks, unattended):
    refused("too_much_off", "breaks", stretch(60, breaks=breaks, unattended=unattended))


def test_all_of_a_session_may_be_off():
    worked = stretch(60, breaks=1800, unattended=1800)
    rules.check_worked([worked], NOW)
    assert worked.labor == 0


def test_what_is_wrong_with_one_of_several_people_is_told_by_name():
    with pytest.raises(Refusal, match="Person b"):
        rules.check_worked([stretch(), stretch(-5, person="b")], NOW)


@pytest.mark.parametrize(
    ("weights", "code"),
    [([], "no_assembly"), ([("a", 1), ("a", 2)], "assembly_twice"), ([("a", 1), ("b", 0)], "no_weight")],
)
def test_shares_that_cannot_be_split_are_refused(weights, code):
    with pytest.raises(Refusal) as no:
        rules.check_shares(weights)
    assert no.value.code == code


@pytest.mark.parametrize(
    ("days", "source"), [(-1, "live"), (0, "live"), (1, "next_day"), (2, "reconstructed"), (4000, "reconstructed")]
)
def test_an_entry_is_live_next_day_or_reconstructed_by_local_dates(days, source):
    assert rules.source(DAY, DAY + timedelta(days=days)) == source


@pytest.mark.parametrize(
    ("person", "edits", "may"), [("a", False, True), ("b", False, True), ("c", False, False), ("c", True, True)]
)
def test_who_edits_changes_any_session_others_what_they_entered_or_stand_in(person, edits, may):
    assert rules.may_change(person, edits=edits, entered_by="a", workers={"b"}) is may


@given(
    start=st.integers(0, 10**6),
    passed=st.integers(1, 86_400),
    parts=st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_labor_is_end_less_start_less_breaks_less_unattended(start, passed, parts):
    breaks = int(passed * parts[0])
    unattended = int((passed - breaks) * parts[1])
    began = datetime.fromtimestamp(1_700_000_000 + start, UTC)
    worked = Worked("a", "A", began, datetime.fromtimestamp(began.timestamp() + passed, UTC), breaks, unattended)
    rules.check_worked([worked], datetime(2030, 1, 1, tzinfo=UTC))
    assert worked.labor == passed - breaks - unattended


@pytest.mark.parametrize(
    ("clock", "start", "end", "days"),
    [
        ("07:00", "08:00", "17:00", 0),  # came before the others
        ("18:00", "08:00", "17:00", 0),  # came after them
        ("09:00", "18:00", "22:00", 0),  # long before is still that day
        ("00:30", "22:00", "02:00+", 1),  # past midnight
        ("23:00", "22:00", "02:00+", 0),
        ("19:00", "22:00", "02:00+", 0),
        ("03:00", "22:00", "02:00+", 1),
    ],
)
def test_a_persons_own_start_falls_on_the_day_nearest_to_the_work(clock, start, end, days):
    first = datetime.combine(DAY, time.fromisoformat(start))
    last = datetime.combine(DAY + timedelta(days=end.endswith("+")), time.fromisoformat(end.rstrip("+")))
    assert rules.day_of_own_start(time.fromisoformat(clock), first, last) == DAY + timedelta(days=days)


def test_every_kind_of_work_has_a_hatch_of_its_own():
    from buildlog.templatetags.work import HATCHES, hatch

    named = [kind for kind in rules.WORK if kind]
    assert {hatch(kind) for kind in named} == set(HATCHES.values())
    assert len(set(HATCHES.values())) == len(named)
    assert hatch("") == "plain"
