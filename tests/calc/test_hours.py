"""Hours against independent arithmetic (rules R1 to R4) and against the table of shop facts."""

import json
import random
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calc import hours
from calc.hours import Stretch

FACTS = json.loads((Path(__file__).parent.parent / "data" / "shop_facts_hours.json").read_text())["facts"]
ZONES = [
    "America/Denver",
    "Europe/London",
    "Australia/Lord_Howe",
    "America/St_Johns",
    "Asia/Kathmandu",
    "Pacific/Apia",
    "Pacific/Chatham",
    "America/Sao_Paulo",
    "Africa/Casablanca",
    "UTC",
]
zones = st.sampled_from(ZONES).map(ZoneInfo)
instants = st.integers(946_684_800, 2_208_988_800)  # seconds since 1970: the years 2000 to 2039


def at(epoch: int, zone: ZoneInfo = UTC) -> datetime:
    return datetime.fromtimestamp(epoch, zone)


# ---- R1: labor ----


@given(instants, st.integers(0, 3 * 86_400), zones, zones)
def test_elapsed_time_is_the_difference_of_the_instants_whatever_the_zones(start, length, here, there):
    assert hours.elapsed(at(start, here), at(start + length, there)) == length


@given(instants, st.integers(0, 86_400), zones, st.data())
def test_labor_is_what_passed_less_breaks_and_unattended_time(start, length, zone, data):
    breaks = data.draw(st.integers(0, length))
    unattended = data.draw(st.integers(0, length - breaks))
    assert hours.labor(at(start, zone), at(start + length, zone), breaks, unattended) == length - breaks - unattended


@given(instants, st.integers(0, 86_400), zones, st.integers(1, 9999))
def test_more_time_off_than_passed_is_refused(start, length, zone, more):
    with pytest.raises(ValueError, match="more time taken off"):
        hours.labor(at(start, zone), at(start + length, zone), length + more)


@pytest.mark.parametrize(("breaks", "unattended"), [(-1, 0), (0, -1)])
def test_negative_breaks_are_refused(breaks, unattended):
    with pytest.raises(ValueError, match="more time taken off"):
        hours.labor(at(0), at(3600), breaks, unattended)


@given(instants, zones)
def test_a_clock_reading_leads_back_to_its_instant(epoch, zone):
    moment = at(epoch, zone)
    found = hours.on_the_clock(
        moment.date(), moment.timetz().replace(tzinfo=None, fold=0), zone, second=bool(moment.fold)
    )
    assert found.timestamp() == epoch


@given(st.dates(date(2000, 1, 1), date(2039, 12, 31)), st.times(), zones)
def test_a_clock_reading_is_refused_exactly_when_no_instant_shows_it(day, clock, zone):
    clock = clock.replace(microsecond=0)
    wanted = datetime.combine(day, clock)
    around = wanted.replace(tzinfo=UTC).timestamp()
    # Every zone here is off by whole multiples of 15 minutes, up to 14 hours either way.
    shown = [
        off for off in range(-15 * 3600, 15 * 3600, 900) if at(int(around) + off, zone).replace(tzinfo=None) == wanted
    ]
    if not shown:
        with pytest.raises(hours.NoSuchTime):
            hours.on_the_clock(day, clock, zone, second=False)
    elif len(shown) == 2:
        with pytest.raises(hours.TimeTwice):
            hours.on_the_clock(day, clock, zone)
        both = [hours.on_the_clock(day, clock, zone, second=second).timestamp() for second in (False, True)]
        assert both == [around + off for off in shown]
    else:
        assert hours.on_the_clock(day, clock, zone).timestamp() == around + shown[0]


def test_the_hour_that_the_clocks_skip_is_refused():
    with pytest.raises(hours.NoSuchTime):
        hours.on_the_clock(date(2025, 3, 9), time(2, 30), ZoneInfo("America/Denver"))


def test_the_hour_that_comes_twice_asks_which():
    denver = ZoneInfo("America/Denver")
    with pytest.raises(hours.TimeTwice):
        hours.on_the_clock(date(2025, 11, 2), time(1, 30), denver)
    first, second = (
        hours.on_the_clock(date(2025, 11, 2), time(1, 30), denver, second=which) for which in (False, True)
    )
    assert hours.elapsed(first, second) == 3600


def test_lord_howe_moves_its_clocks_by_half_an_hour():
    island = ZoneInfo("Australia/Lord_Howe")
    first, second = (hours.on_the_clock(date(2025, 4, 6), time(1, 45), island, second=which) for which in (False, True))
    assert hours.elapsed(first, second) == 1800


# ---- R2: shares ----

weights = st.lists(st.integers(0, 1000), min_size=1, max_size=12).filter(any)


@given(st.integers(0, 10**7), weights)
def test_shares_add_back_to_the_second_and_lie_within_one_second_of_the_exact_share(total, weights):
    shares = hours.split(total, weights)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - Fraction(total * weight, sum(weights))) < 1


@given(st.integers(0, 10**6), weights)
def test_equal_weights_differ_by_one_second_at_most_and_no_weight_gets_nothing(total, weights):
    by_weight: dict[int, set[int]] = {}
    for share, weight in zip(hours.split(total, weights), weights, strict=True):
        by_weight.setdefault(weight, set()).add(share)
    assert all(max(shares) - min(shares) <= 1 for shares in by_weight.values())
    assert by_weight.get(0, {0}) == {0}


@pytest.mark.parametrize(("total", "weights"), [(-1, [1]), (1, []), (1, [0, 0]), (1, [2, -1])])
def test_shares_that_cannot_be_are_refused(total, weights):
    with pytest.raises(ValueError, match="shares need"):
        hours.split(total, weights)


# ---- R3: overlaps count once ----

BASE = 1_700_000_000


@st.composite
def stretches(draw, breaks: bool = True, zone: ZoneInfo = UTC) -> list[Stretch]:
    """Stretches on a grid of minutes within a day, so that many of them overlap."""
    found = []
    for _ in range(draw(st.integers(1, 8))):
        start, length = draw(st.integers(0, 400)), draw(st.integers(1, 200))
        off = draw(st.integers(0, length)) if breaks else 0
        begin = BASE + start * 60
        found.append(Stretch(at(begin, zone), at(begin + length * 60, zone), (length - off) * 60))
    return found


@given(stretches(breaks=False))
def test_without_breaks_what_counts_is_the_union_of_the_minutes(some):
    grid = {minute for s in some for minute in range(int(s.start.timestamp()) // 60, int(s.end.timestamp()) // 60)}
    assert hours.counted_once(some) == len(grid) * 60


@given(stretches())
def test_what_counts_lies_between_the_longest_stretch_and_the_sum(some):
    counted = hours.counted_once(some)
    assert max(s.labor for s in some) <= counted <= sum(s.labor for s in some)


@given(stretches())
def test_what_counts_never_exceeds_the_time_that_passed(some):
    grid = {minute for s in some for minute in range(int(s.start.timestamp()) // 60, int(s.end.timestamp()) // 60)}
    assert hours.counted_once(some) <= len(grid) * 60


@given(stretches(), st.randoms(use_true_random=False))
def test_the_order_of_entry_does_not_matter(some, chance):
    shuffled = list(some)
    chance.shuffle(shuffled)
    assert hours.counted_once(shuffled) == hours.counted_once(some)


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(1, 300), st.integers(0, 300)), min_size=1, max_size=8))
def test_without_overlap_everything_counts(pieces):
    now, some = BASE, []
    for gap, length, off in pieces:
        now += gap * 60
        some.append(Stretch(at(now), at(now + length * 60), (length - min(off, length)) * 60))
        now += length * 60
    assert hours.counted_once(some) == sum(s.labor for s in some)
    assert all(len(group) == 1 for group in hours.clusters(some))


@settings(max_examples=200)
@given(
    st.lists(st.tuples(st.integers(-240, 240), st.integers(1, 120)), min_size=1, max_size=6),
    st.sampled_from([1762070400, 1741510800]),
)
def test_the_night_the_clocks_change_counts_like_any_other(pieces, change):
    denver = ZoneInfo("America/Denver")
    some = [(change + start * 60, change + (start + length) * 60) for start, length in pieces]
    local = [Stretch(at(a, denver), at(b, denver), b - a) for a, b in some]
    world = [Stretch(at(a), at(b), b - a) for a, b in some]
    assert hours.counted_once(local) == hours.counted_once(world)


def test_nobody_counts_nothing():
    assert hours.counted_once([]) == 0


# ---- R4: roll-up ----


@st.composite
def forests(draw) -> tuple[dict[int, int | None], dict[int, int]]:
    """Random forests in random order of nodes, some nodes with hours of their own."""
    size = draw(st.integers(1, 40))
    names = draw(st.permutations(range(size)))
    parents = {names[i]: names[draw(st.integers(0, i - 1))] if i and draw(st.booleans()) else None for i in range(size)}
    own = {name: draw(st.integers(0, 100_000)) for name in range(size) if draw(st.booleans())}
    order = draw(st.permutations(range(size)))
    return {name: parents[name] for name in order}, own


def ancestors(node, parents):
    while parents[node] is not None:
        node = parents[node]
        yield node


@given(forests())
def test_the_roll_up_agrees_with_walking_up_from_every_node(forest):
    parents, own = forest
    below = dict.fromkeys(parents, 0)
    for node in parents:
        for upper in ancestors(node, parents):
            below[upper] += own.get(node, 0)
    rolled = hours.roll_up(parents, own)
    assert {node: (r.own, r.below, r.total) for node, r in rolled.items()} == {
        node: (own.get(node, 0), below[node], own.get(node, 0) + below[node]) for node in parents
    }


@given(forests())
def test_the_tops_hold_everything_and_each_level_adds_up(forest):
    parents, own = forest
    rolled = hours.roll_up(parents, own)
    assert sum(rolled[node].total for node, parent in parents.items() if parent is None) == sum(own.values())
    for node in parents:
        children = [child for child, parent in parents.items() if parent == node]
        assert rolled[node].below == sum(rolled[child].total for child in children)


@given(forests(), st.data())
def test_a_cycle_is_found(forest, data):
    parents, own = forest
    node = data.draw(st.sampled_from(sorted(parents)))
    line = [node, *ancestors(node, parents)]
    looped = parents | {line[-1]: node}
    with pytest.raises(ValueError, match="cycle"):
        hours.roll_up(looped, own)


def test_a_parent_outside_the_tree_is_refused():
    with pytest.raises(ValueError, match="not in the tree"):
        hours.roll_up({"a": "gone"}, {})


def test_a_tree_ten_thousand_deep_needs_no_recursion():
    parents = {node: node - 1 if node else None for node in range(10_000)}
    assert hours.roll_up(parents, dict.fromkeys(parents, 1))[0] == hours.Rolled(1, 9_999)


# ---- display ----


@given(st.integers(0, 10**8), st.integers(0, 4))
def test_decimal_hours_round_halves_up(seconds, places):
    exact = Fraction(seconds, 3600) * 10**places
    assert hours.decimal_hours(seconds, places) == Decimal(int(exact + Fraction(1, 2))).scaleb(-places)


@given(st.integers(0, 10**8))
def test_clock_hours_cut_off_seconds(seconds):
    whole, minutes = hours.clock_hours(seconds).split(":")
    assert len(minutes) == 2
    assert int(whole) * 60 + int(minutes) == seconds // 60


@given(st.dates())
def test_a_week_begins_on_the_monday_before_or_on_the_day(day):
    assume(day >= date(1, 1, 8))
    start = hours.week_start(day)
    assert start.weekday() == 0
    assert timedelta(0) <= day - start < timedelta(7)


# ---- the table of shop facts ----


def per_year(weekday_hours_each, weekend_hours_total, weeks):
    """Shares of a year's hours rolled up over weeks, as the tree does it."""
    own = dict.fromkeys(range(weeks), (5 * weekday_hours_each + weekend_hours_total) * hours.HOUR)
    return {"hours": hours.roll_up({"year": None} | dict.fromkeys(own, "year"), own)["year"].total / hours.HOUR}


def session_split(start, end, break_min, unattended_cure_min, shares):
    began, ended = (datetime.fromisoformat(clock).replace(tzinfo=UTC) for clock in (start, end))
    labor = hours.labor(began, ended, break_min * 60, unattended_cure_min * 60)
    parts = dict(zip(shares, hours.split(labor, list(shares.values())), strict=True))
    return {
        "labour_min": labor / 60,
        "labour_h": float(hours.decimal_hours(labor, 2)),
        "by_assembly_min": {name: seconds / 60 for name, seconds in parts.items()},
        "sum_min": sum(parts.values()) / 60,
    }


def elapsed_zoned(start_local, end_local, zone):
    place = ZoneInfo(zone)
    read = [datetime.fromisoformat(clock) for clock in (start_local, end_local)]
    began, ended = (hours.on_the_clock(clock.date(), clock.time(), place) for clock in read)
    return {"elapsed_min": hours.elapsed(began, ended) / 60}


def sum_sessions(minutes, display_decimals):
    return {"hours": float(hours.decimal_hours(sum(minutes) * 60, display_decimals))}


def forecast(logged_h, months, remaining_h):
    pace = hours.pace(logged_h, months)
    return {"pace_h_per_month": pace, "months_to_go": hours.months_at_pace(remaining_h, pace)}


COMPUTED = {
    "hours_per_year": per_year,
    "months_at_pace": lambda hours_per_month, **given: {
        "months": hours.months_at_pace(given["hours"], hours_per_month)
    },
    "session_split": session_split,
    "elapsed_zoned": elapsed_zoned,
    "sum_sessions_min": sum_sessions,
    "forecast": forecast,
}


def test_the_table_of_facts_is_complete():
    assert [fact["id"] for fact in FACTS] == [f"HRS-{number:02d}" for number in range(1, 10)]
    assert all(fact["source"] and fact["provenance"] for fact in FACTS)


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact["id"])
def test_shop_fact(fact):
    given = {name: value for name, value in fact["inputs"].items() if name != "calc"}
    found = COMPUTED[fact["inputs"]["calc"]](**given)
    tolerance = 0 if fact["tolerance"] == "exact" else fact["tolerance"]["abs"]
    assert found.keys() == fact["expected"].keys()
    for name, expected in fact["expected"].items():
        assert found[name] == pytest.approx(expected, rel=0, abs=tolerance), name


def test_three_times_twenty_minutes_would_be_wrong_if_each_were_rounded_first():
    assert 3 * hours.decimal_hours(1200) == Decimal("0.9")
    assert hours.decimal_hours(3 * 1200) == Decimal("1.0")


def test_a_long_random_log_splits_and_rolls_up_to_the_second():
    chance = random.Random(7)
    parents = {node: chance.randrange(node) if node and chance.random() < 0.9 else None for node in range(60)}
    own: dict[int, int] = {}
    total = 0
    for _ in range(2000):
        labor, nodes = chance.randrange(86_400), chance.sample(range(60), chance.randint(1, 5))
        total += labor
        for node, seconds in zip(nodes, hours.split(labor, [chance.randint(1, 9) for _ in nodes]), strict=True):
            own[node] = own.get(node, 0) + seconds
    rolled = hours.roll_up(parents, own)
    assert sum(rolled[node].total for node, parent in parents.items() if parent is None) == total
