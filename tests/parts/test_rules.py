"""Decisions about the tree, counts and weights, for any tree and any figure."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import units
from foundation.refusal import Refusal
from parts import queries, rules
from parts.models import Assembly

Parents = dict[str, str | None]


@st.composite
def trees(draw: st.DrawFn) -> Parents:
    """Any forest of up to 25 nodes: each hangs on an earlier one or stands at the top; told in any order."""
    count = draw(st.integers(1, 25))
    hung = {str(n): draw(st.one_of(st.none(), st.integers(0, n - 1).map(str))) if n else None for n in range(count)}
    return {key: hung[key] for key in draw(st.permutations(list(hung)))}


@st.composite
def moves(draw: st.DrawFn) -> tuple[Parents, str, str | None]:
    tree = draw(trees())
    return tree, draw(st.sampled_from(list(tree))), draw(st.one_of(st.none(), st.sampled_from(list(tree))))


def reaches_top(tree: Parents) -> bool:
    """Whether walking up from every node ends, which is what it means to have no cycle."""
    for node in tree:
        steps, at = 0, tree[node]
        while at is not None and steps <= len(tree):
            steps, at = steps + 1, tree[at]
        if at is not None:
            return False
    return True


@given(moves())
def test_a_move_is_refused_exactly_when_it_would_make_a_cycle(move: tuple[Parents, str, str | None]) -> None:
    tree, node, parent = move
    try:
        rules.check_move(node, parent, tree)
    except Refusal as refused:
        assert refused.code == "cycle"
        assert not reaches_top(tree | {node: parent})
    else:
        assert reaches_top(tree | {node: parent})


@given(moves())
def test_the_refused_places_are_the_subtree(move: tuple[Parents, str, str | None]) -> None:
    tree, node, parent = move
    refused = False
    try:
        rules.check_move(node, parent, tree)
    except Refusal:
        refused = True
    assert refused == (parent in queries.subtree(node, tree))


@given(trees())
def test_a_subtree_holds_the_node_and_the_subtrees_of_its_children(tree: Parents) -> None:
    for node in tree:
        below = {node}.union(*(queries.subtree(child, tree) for child, parent in tree.items() if parent == node))
        assert queries.subtree(node, tree) == below


@given(trees())
def test_reading_order_tells_every_node_once_each_below_its_parent(tree: Parents) -> None:
    nodes = queries.in_order([Assembly(pk=key, parent_id=parent, number=key, name="x") for key, parent in tree.items()])
    assert sorted(node.assembly.pk for node in nodes) == sorted(tree)
    open_above: list[str] = []
    for node in nodes:
        del open_above[node.depth :]
        assert (open_above[-1] if open_above else None) == node.assembly.parent_id
        assert len(open_above) == node.depth
        open_above.append(node.assembly.pk)


@given(trees())
def test_neighbors_keep_the_order_they_were_given_in(tree: Parents) -> None:
    nodes = queries.in_order([Assembly(pk=key, parent_id=parent) for key, parent in tree.items()])
    told = [node.assembly.pk for node in nodes]
    for parent in (None, *tree):
        given_order = [key for key, above in tree.items() if above == parent]
        assert [key for key in told if key in given_order] == given_order


def test_an_assembly_whose_parent_is_gone_is_shown_at_the_top() -> None:
    assert [
        node.depth for node in queries.in_order([Assembly(pk="a", parent_id="gone"), Assembly(pk="b", parent_id="a")])
    ] == [0, 1]


def test_a_deep_tree_is_no_trouble() -> None:
    rows = [Assembly(pk=str(n), parent_id=str(n - 1) if n else None) for n in range(3000)]
    assert queries.in_order(rows)[-1].depth == 2999


def test_nothing_is_hung_below_an_assembly_that_is_gone() -> None:
    with pytest.raises(Refusal, match="not there any more"):
        rules.check_move("a", "gone", {"a": None})


@given(st.lists(st.integers(), unique=True, min_size=1, max_size=8), st.data(), st.booleans())
def test_a_step_swaps_with_the_neighbor_or_stays(keys: list[int], data: st.DataObject, up: bool) -> None:
    order = [str(key) for key in keys]
    node = data.draw(st.sampled_from(order))
    place = order.index(node)
    moves, after = rules.step(order, node, up)
    other = place + (-1 if up else 1)
    assert moves == (0 <= other < len(order))
    if moves:
        wanted = order.copy()
        wanted[place], wanted[other] = wanted[other], wanted[place]
        rest = [key for key in order if key != node]
        rest.insert(rest.index(after) + 1 if after is not None else 0, node)
        assert rest == wanted


@pytest.mark.parametrize(("n", "of"), [(None, None), (1, 1), (1, 2), (2, 2), (40, 40)])
def test_a_count_that_can_be(n: int | None, of: int | None) -> None:
    rules.check_count(n, of)


@pytest.mark.parametrize(
    ("n", "of", "code"),
    [
        (1, None, "half_count"),
        (None, 2, "half_count"),
        (3, 2, "count_out_of_range"),
        (0, 2, "count_out_of_range"),
        (0, 0, "count_out_of_range"),
    ],
)
def test_a_count_that_cannot_be(n: int | None, of: int | None, code: str) -> None:
    with pytest.raises(Refusal) as refused:
        rules.check_count(n, of)
    assert refused.value.code == code


@pytest.mark.parametrize("grams", [None, Decimal(0), Decimal("0.000001"), Decimal("9999999.999999")])
def test_a_weight_that_can_be(grams: Decimal | None) -> None:
    rules.check_weight(grams, "weight")


@pytest.mark.parametrize(
    ("grams", "code"), [(Decimal("-0.000001"), "weight_negative"), (Decimal(10_000_000), "weight_too_great")]
)
def test_a_weight_that_cannot_be_is_refused_at_its_field(grams: Decimal, code: str) -> None:
    with pytest.raises(Refusal) as refused:
        rules.check_weight(grams, "estimate")
    assert (refused.value.code, refused.value.field) == (code, "estimate")


# International yard and pound agreement, 1959: 1 lb = 0.45359237 kg exactly; 1 oz = 1/16 lb.
@pytest.mark.parametrize(
    ("value", "unit", "grams"),
    [
        ("1", "lb", "453.59237"),
        ("16", "oz", "453.59237"),
        ("1", "oz", "28.349523125"),
        ("1", "kg", "1000"),
        ("0.1", "g", "0.1"),
    ],
)
def test_weights_are_converted_exactly(value: str, unit: str, grams: str) -> None:
    assert units.grams(Decimal(value), unit) == Decimal(grams)


@pytest.mark.parametrize(
    ("grams", "system", "words"),
    [
        ("453.59237", "us", "1.000 lb"),
        ("453.59237", "si", "453.6 g"),
        ("1250000", "si", "1,250,000.0 g"),
        ("0", "si", "0.0 g"),
        ("1000", "us", "2.205 lb"),
    ],
)
def test_a_converted_weight_is_rounded_for_reading_only(grams: str, system: str, words: str) -> None:
    assert rules.converted(Decimal(grams), system) == words


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [("12.5000", "lb", "12.5 lb"), ("100.0000", "g", "100 g"), ("0.0000", "kg", "0 kg"), (None, "", "")],
)
def test_an_entered_weight_reads_as_it_was_entered(value: str | None, unit: str, words: str) -> None:
    assert rules.entered(Decimal(value) if value else None, unit) == words


def test_every_unit_on_offer_can_be_converted() -> None:
    assert set(rules.UNITS) == set(units.GRAMS)
    assert set(rules.SHOWN_IN.values()) <= set(rules.UNITS)
