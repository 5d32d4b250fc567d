"""Where the columns of a chart stand."""

from hypothesis import given
from hypothesis import strategies as st

from calc import chart

values = st.lists(st.floats(0, 500), min_size=1, max_size=20)


@given(values, st.floats(0, 500))
def test_everything_stays_inside_the_drawing(values, mean):
    drawn = chart.columns(values, mean)
    for column in drawn.columns:
        assert chart.TOP - 0.2 <= column.y <= chart.BASE
        assert chart.LEFT <= column.x < column.middle < column.x + column.width <= chart.RIGHT
    assert chart.TOP - 0.2 <= drawn.mean.y <= chart.BASE
    assert 1 <= len(drawn.lines) <= chart.MOST_LINES


@given(values, st.floats(0, 500))
def test_heights_are_in_proportion_and_stand_on_the_base(values, mean):
    drawn = chart.columns(values, mean)
    scale = (chart.BASE - drawn.lines[-1].y) / drawn.lines[-1].value
    for value, column in zip(values, drawn.columns, strict=True):
        assert abs(column.height - value * scale) < 0.2
        assert abs(column.y + column.height - chart.BASE) < 0.2


def test_lines_stand_at_round_values():
    assert [line.value for line in chart.columns([19.5, 3], 12.2).lines] == [5, 10, 15, 20]
    assert [line.value for line in chart.columns([0.4], 0).lines] == [1]
    assert [line.value for line in chart.columns([41], 0).lines] == [10, 20, 30, 40, 50]
