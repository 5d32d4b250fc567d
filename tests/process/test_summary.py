"""Verdicts in one line: lists never hide a bad one behind "finished", and no caution is lost where many share it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from process.rules import summary
from process.rules.verdicts import BAD, GOOD, OPEN, Verdict


def verdicts(*states: str) -> list[Verdict]:
    return [Verdict(state, "Said.", "a rule", "a book", about=f"Thing {at}") for at, state in enumerate(states, 1)]


@pytest.mark.parametrize(
    ("states", "now", "told"),
    [
        ((GOOD, GOOD), "", ("in-place", "Good")),
        ((GOOD, OPEN), "", ("curing", "1 still open")),
        ((GOOD, OPEN, BAD), "", ("missing", "1 outside its limits")),
        ((BAD, BAD), "", ("missing", "2 outside their limits")),
        ((), "", ("curing", "No verdict")),
        ((GOOD, OPEN), "Wet", ("work", "Wet")),
        ((BAD,), "Bag", ("missing", "Bag, 1 outside its limits")),
    ],
)
def test_a_list_says_what_is_wrong_before_anything_else(states, now, told) -> None:
    found = summary.in_a_word(verdicts(*states), now)
    assert (found.mark, found.words) == told


@pytest.mark.parametrize(
    ("states", "words"),
    [
        ((), "No verdict"),
        ((GOOD,), "The only verdict is good"),
        ((BAD,), "The only verdict is outside its limits"),
        ((GOOD, GOOD), "All 2 verdicts are good"),
        ((GOOD, OPEN), "1 of 2 verdicts is still open"),
        ((GOOD, BAD), "1 of 2 verdicts is outside its limits"),
        ((BAD, BAD, OPEN), "2 of 3 verdicts are outside their limits, 1 still open"),
    ],
)
def test_a_heading_counts_what_is_outside_and_what_is_open(states, words: str) -> None:
    assert summary.at_a_glance(summary.placed([("", one) for one in verdicts(*states)])) == words


def test_what_is_worth_a_look_comes_bad_ones_first_and_names_its_mix() -> None:
    ratio = Verdict(BAD, "13 % off", about="Mix ratio")
    rows = summary.placed([("", verdicts(OPEN)[0]), ("M-9", verdicts(GOOD)[0]), ("M-10", ratio)])
    assert [one.name for one in summary.worth_a_look(rows)] == ["M-10 mix ratio", "Thing 1"]
    assert [one.name for one in summary.worth_a_look(rows, open_too=False)] == ["M-10 mix ratio"]
    assert len({one.anchor for one in rows}) == 3


@given(st.lists(st.tuples(st.sampled_from([GOOD, BAD, OPEN]), st.sampled_from(["one", "two", "three"])), max_size=9))
def test_every_verdict_has_its_caution_beside_it_or_below_under_its_name(told: list[tuple[str, str]]) -> None:
    found = [("", Verdict(state, "Said.", caution=caution, about=f"{at}")) for at, (state, caution) in enumerate(told)]
    rows = summary.placed(found)
    below = {(name, caution) for caution, names in summary.cautions(rows) for name in names}
    for one in rows:
        assert one.caution_below == ((one.name, one.verdict.caution) in below)
        # What is not good keeps everything beside it.
        assert one.verdict.good or not one.caution_below
    assert all(len(names) > 1 for _, names in summary.cautions(rows))
