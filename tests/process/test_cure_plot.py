"""The plot of a cure: words of a limit stand where no line runs."""

from itertools import pairwise

import pytest

from process.pages import cure_plot
from tests.process.test_cures import ZONE, judge, spec

UP = [(0, 21), (60, 39), (500, 39), (560, 25)]
LIMITS = {"low": 36, "high": 42, "peak_max": 45, "ramp_max": 0.5}


def crossed(drawn: cure_plot.Plot) -> list[str]:
    """The limits whose words a line goes through."""
    pieces = []
    for line in drawn.lines:
        points = [tuple(float(n) for n in pair.split()) for pair in line.path[1:].split("L")]
        pieces += pairwise(points)
    found = []
    for level in drawn.levels:
        box = cure_plot._box(level.text_x, level.text_y, level.anchor, len(level.words) * cure_plot.LETTER)
        if level.words and any(cure_plot._crosses(piece, box) for piece in pieces):
            found.append(level.words)
    return found


@pytest.mark.parametrize("size", [cure_plot.WIDE, cure_plot.NARROW])
@pytest.mark.parametrize("points", [UP, [(0, 34), (120, 37), (600, 37)], [(0, 38), (300, 35), (320, 39), (600, 30)]])
def test_no_line_crosses_the_words_of_a_limit(size, points) -> None:
    drawn = cure_plot.plot(judge(points, **LIMITS), spec(**LIMITS), ZONE, size)
    assert [level.words for level in drawn.levels if level.words] == ["soak 36 to 42 °C", "at most 45 °C"]
    assert crossed(drawn) == []


def test_a_steep_way_up_moves_the_words_off_the_left_edge() -> None:
    drawn = cure_plot.plot(judge(UP, **LIMITS), spec(**LIMITS), ZONE, cure_plot.WIDE)
    band = next(level for level in drawn.levels if level.words.startswith("soak"))
    assert band.anchor == "middle" and band.text_y > band.y


def test_a_piece_goes_through_a_box_or_past_it() -> None:
    box = (10.0, 10.0, 30.0, 20.0)
    through = [((0, 15), (40, 15)), ((20, 0), (20, 40)), ((0, 0), (40, 30)), ((15, 12), (16, 13))]
    past = [((0, 5), (40, 5)), ((5, 0), (5, 40)), ((0, 20), (40, 40)), ((31, 12), (40, 18)), ((20, 0), (20, 9))]
    assert all(cure_plot._crosses(piece, box) for piece in through)
    assert not any(cure_plot._crosses(piece, box) for piece in past)
