"""Photos of an evening belong together: grouping moments by the pauses between them."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from calc.groups import grouped

GAP, LONGEST = timedelta(minutes=45), timedelta(hours=24)
START = datetime(2026, 5, 14, 19, 2, tzinfo=UTC)

minutes = st.lists(st.integers(0, 4 * 24 * 60), max_size=40)
gaps = st.integers(1, 600).map(lambda number: timedelta(minutes=number))


def moments(offsets: list[int]) -> list[tuple[datetime, int]]:
    return [(START + timedelta(minutes=offset), number) for number, offset in enumerate(offsets)]


def members(groups) -> list[tuple[int, ...]]:
    return [group.members for group in groups]


def test_an_evening_is_one_group_and_the_next_day_another():
    found = grouped(moments([0, 20, 60, 158, 1400]), gap=GAP, longest=LONGEST)
    assert members(found) == [(0, 1, 2), (3,), (4,)]
    assert (found[0].first, found[0].last) == (START, START + timedelta(hours=1))


def test_a_pause_of_just_the_gap_does_not_part():
    assert members(grouped(moments([0, 45]), gap=GAP, longest=LONGEST)) == [(0, 1)]
    assert members(grouped(moments([0, 46]), gap=GAP, longest=LONGEST)) == [(0,), (1,)]


def test_no_group_is_longer_than_a_day_even_when_asked_to_stay_together():
    every_half_hour = moments(list(range(0, 50 * 60, 30)))
    for together in ((), range(len(every_half_hour))):
        found = grouped(every_half_hour, gap=GAP, longest=LONGEST, together=together)
        assert all(group.last - group.first <= LONGEST for group in found)
        assert len(found) == 3


def test_the_night_the_clocks_go_back_is_measured_in_real_time():
    denver = ZoneInfo("America/Denver")
    before = datetime(2026, 11, 1, 1, 50, tzinfo=denver)
    after = datetime(2026, 11, 1, 1, 10, tzinfo=denver, fold=1)
    found = grouped([(after, "after"), (before, "before")], gap=GAP, longest=LONGEST)
    assert members(found) == [("before", "after")]


@given(minutes, gaps, st.data())
def test_every_photo_stands_in_one_group_and_the_order_is_kept(offsets, gap, data):
    some = st.sets(st.integers(0, 40))
    found = grouped(moments(offsets), gap=gap, longest=LONGEST, apart=data.draw(some), together=data.draw(some))
    told = [number for group in found for number in group.members]
    assert told == sorted(range(len(offsets)), key=lambda number: (offsets[number], number))
    for group in found:
        times = [START + timedelta(minutes=offsets[number]) for number in group.members]
        assert (group.first, group.last) == (times[0], times[-1])


@given(minutes, gaps)
def test_pauses_inside_a_group_are_short_and_those_between_groups_long(offsets, gap):
    found = grouped(moments(offsets), gap=gap, longest=LONGEST)
    for group in found:
        inside = [offsets[number] for number in group.members]
        assert all(timedelta(minutes=later - before) <= gap for before, later in pairwise(inside))
        assert group.last - group.first <= LONGEST
    for before, after in pairwise(found):
        next_moment = after.first
        assert next_moment - before.last > gap or next_moment - before.first > LONGEST


@given(minutes, gaps, st.data())
def test_a_group_that_is_split_and_joined_again_is_what_it_was(offsets, gap, data):
    before = grouped(moments(offsets), gap=gap, longest=LONGEST)
    inner = [number for group in before for number in group.members[1:]]
    if not inner:
        return
    where = data.draw(st.sampled_from(inner))
    split = grouped(moments(offsets), gap=gap, longest=LONGEST, apart={where})
    assert where in [group.members[0] for group in split]
    assert members(grouped(moments(offsets), gap=gap, longest=LONGEST, together={where})) == members(before)


@given(minutes, gaps, st.data())
def test_groups_that_are_joined_and_split_again_are_what_they_were(offsets, gap, data):
    before = grouped(moments(offsets), gap=gap, longest=LONGEST)
    if len(before) < 2:
        return
    where = data.draw(st.sampled_from([group.members[0] for group in before[1:]]))
    joined = grouped(moments(offsets), gap=gap, longest=LONGEST, together={where})
    starts = [group.members[0] for group in joined]
    reach = next(group for group in before if group.members[0] == where).first
    earlier = next(b for b, a in pairwise(before) if a.members[0] == where)
    assert (where not in starts) or reach - earlier.first > LONGEST
    assert members(grouped(moments(offsets), gap=gap, longest=LONGEST, apart={where})) == members(before)
