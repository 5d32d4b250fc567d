"""Drawn signatures: read strictly, thinned without being altered, told as lines."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import strokes

point = st.integers(0, strokes.WIDTH)
stroke = st.lists(st.tuples(point, point), min_size=1, max_size=60).map(
    lambda points: [number for point in points for number in point]
)


@pytest.mark.parametrize(
    "text",
    [
        "nonsense",
        "{}",
        "7",
        "[7]",
        "[[1]]",
        "[[1, 2, 3]]",
        "[[1, 2.5]]",
        "[[1, true]]",
        '[[1, "2"]]',
        "[[1, -1]]",
        "[[1, 1001]]",
        "[[1, null]]",
        "[[[1, 2], [3, 4]]]",
        "[" * 30_000,
        json.dumps([[1, 1]] * (strokes.MOST_STROKES + 1)),
        json.dumps([[1, 1] * (strokes.MOST_POINTS + 1)]),
        "[[1, 1" + " " * strokes.LONGEST_TEXT + "]]",
        "[[1, 1e400]]",
        "[[NaN, 1]]",
    ],
)
def test_what_is_no_drawing_is_refused(text: str) -> None:
    with pytest.raises(strokes.BadStrokes):
        strokes.parse(text)


def test_nothing_drawn_is_no_stroke() -> None:
    assert strokes.parse("") == strokes.parse("  ") == strokes.parse("[]") == strokes.parse("[[]]") == []


def test_the_most_that_is_taken_is_taken() -> None:
    assert len(strokes.parse(json.dumps([[1, 1]] * strokes.MOST_STROKES))) == strokes.MOST_STROKES
    assert strokes.parse(json.dumps([[1, 1] * strokes.MOST_POINTS]))


def test_a_straight_line_needs_its_two_ends_only() -> None:
    assert strokes.thinned([number for x in range(0, 500, 5) for number in (x, 100)]) == [0, 100, 495, 100]


def test_a_corner_stays() -> None:
    assert strokes.thinned([0, 0, 50, 0, 100, 0, 100, 50, 100, 100]) == [0, 0, 100, 0, 100, 100]


@given(stroke)
def test_thinning_keeps_both_ends_and_adds_no_point(one: list[int]) -> None:
    thin = strokes.thinned(one)
    assert thin[:2] == one[:2] and thin[-2:] == one[-2:]
    assert set(strokes.points(thin)) <= set(strokes.points(one)) and len(thin) <= len(one)


@given(st.lists(stroke, max_size=8))
def test_what_is_kept_is_read_again_as_it_is_kept(drawn: list[list[int]]) -> None:
    kept = strokes.parse(json.dumps(drawn))
    strokes.check(kept)
    assert all(type(number) is int for one in kept for number in one)


def test_length_is_told_in_thousandths_of_the_pad() -> None:
    assert strokes.length([[0, 0, 300, 400], [10, 10]]) == 500
    assert math.isclose(strokes.length([[0, 0, 0, 100, 100, 100]]), 200)
    assert strokes.enough([[0, 0, 200, 0]]) and not strokes.enough([[0, 0, 199, 0]]) and not strokes.enough([[5, 5]])


def test_the_path_draws_each_stroke_and_a_dot() -> None:
    assert strokes.path([[1, 2, 3, 4, 5, 6], [7, 8]]) == "M1 2L3 4 5 6M7 8L7 8"
    assert strokes.path([]) == ""


def test_the_box_goes_around_everything() -> None:
    assert strokes.box([[100, 50, 300, 250]], margin=10) == (90, 40, 220, 220)
    assert strokes.box([], margin=0) == (0, 0, 0, 0)
