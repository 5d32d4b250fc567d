"""Credit for tasks: the published and constructed examples of tests/data, and what holds of any list.

Each example names its source. No completed checklist's totals were seen, so most are constructed from the rules.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import major_portion
from calc.major_portion import ASSEMBLY, COLUMNS, FABRICATION, FULL, MAKER, MORE, PAID, Task
from calc.trouble import Impossible
from config.computing.lines import answer
from tests.calc.facts import differences

EXAMPLES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent.parent / "data" / "major_portion_examples.json").read_text(encoding="utf-8")
)["examples"]


def compute(**inputs: Any) -> dict[str, Any]:
    return answer(json.dumps({"id": 1, "calc": "major_portion", **inputs}).encode()).said


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["id"])
def test_example(example) -> None:
    said, expected = compute(**example["inputs"]), example["expected"]
    wrong = differences({name: said.get(name) for name in expected}, expected, "exact")
    assert not wrong, f"{example['rule_tested']} [{example['source']}; {example['provenance']}]"


def test_the_examples_are_whole() -> None:
    assert [example["id"] for example in EXAMPLES] == [f"MP-{number:02}" for number in range(1, 11)]


@st.composite
def tasks(draw: st.DrawFn) -> list[Task]:
    """Lists of up to twelve tasks; each is split into ten tenths, or does not apply."""
    found = []
    for number in range(draw(st.integers(0, 12))):
        if draw(st.integers(0, 5)) == 0:
            found.append(major_portion.task(f"X{number}", None))
            continue
        cuts = sorted(draw(st.lists(st.integers(0, FULL), min_size=3, max_size=3)))
        parts = [end - begin for begin, end in zip([0, *cuts], [*cuts, FULL], strict=True)]
        found.append(major_portion.task(f"X{number}", dict(zip(COLUMNS, parts, strict=True))))
    return found


@given(tasks())
def test_tenths_add_up(rows: list[Task]) -> None:
    share = major_portion.share(rows)
    assert sum(share.totals.values()) == share.points == share.builders + share.others
    assert share.unbalanced == ()
    assert share.percent is None or 0 <= share.percent <= 100


@given(tasks(), st.data())
def test_hiring_out_never_raises_the_share(rows: list[Task], data: st.DataObject) -> None:
    names = data.draw(st.sets(st.sampled_from([one.name for one in rows] or ["none"])))
    before, after = major_portion.share(rows), major_portion.share(major_portion.hired_out(rows, names))
    assert (after.counted, after.totals[MAKER]) == (before.counted, before.totals[MAKER])
    assert sum(after.totals.values()) == after.points
    assert after.builders <= before.builders
    assert not after.more_than_half or before.more_than_half


@given(tasks())
def test_the_order_of_tasks_and_what_does_not_apply_change_nothing(rows: list[Task]) -> None:
    assert major_portion.share(rows) == major_portion.share([one for one in rows if one.counted])
    assert major_portion.share(rows).totals == major_portion.share(rows[::-1]).totals


@pytest.mark.parametrize(
    ("builders", "standing"),
    [(0, "short"), (500, "short"), (501, "marginal"), (509, "marginal"), (510, MORE), (1000, MORE)],
)
def test_the_reading_between_half_and_51_percent_is_marginal(builders: int, standing: str) -> None:
    """Published papers say "more than half" and "51 percent"; between them nothing seen settles it."""
    full, rest = divmod(builders, FULL)
    rows = [major_portion.task(f"B{n}", {FABRICATION: FULL}) for n in range(full)]
    rows += [major_portion.task("split", {FABRICATION: rest, MAKER: FULL - rest})] if rest else []
    rows += [major_portion.task(f"M{n}", {MAKER: FULL}) for n in range(100 - len(rows))]
    assert major_portion.share(rows).standing == standing


def test_a_list_of_nothing_has_no_share() -> None:
    share = major_portion.share([major_portion.task("X1", None)])
    assert (share.percent, share.standing, share.more_than_half) == (None, "nothing_counted", False)


def test_a_task_that_is_not_given_away_whole_is_named_and_its_rest_is_nobodys() -> None:
    share = major_portion.share([major_portion.task("X1", {ASSEMBLY: 6}), major_portion.task("X2", {ASSEMBLY: FULL})])
    assert share.unbalanced == ("X1",)
    assert (share.points, share.builders, share.others) == (20, 16, 0)


def test_no_fabrication_is_flagged_and_paid_help_is_not_the_builders() -> None:
    rows = [major_portion.task("X1", {ASSEMBLY: 6, PAID: 4})]
    assert major_portion.share(rows).without_fabrication
    assert major_portion.share(rows).others == 4


@pytest.mark.parametrize(
    ("inputs", "words"),
    [
        ({"tasks": [{"task_id": "X", "status": "counted", "tenths": {"mfr": 11}}]}, "0 to 10"),
        ({"tasks": [{"task_id": "X", "status": "counted", "tenths": {"mfr": -1}}]}, "0 to 10"),
        ({"tasks": [{"task_id": "X", "status": "counted", "tenths": {"mfr": 2.5}}]}, "whole number"),
        ({"tasks": [{"task_id": "X", "status": "counted", "tenths": {"kit": 2}}]}, "no column"),
        ({"tasks": [{"task_id": "X", "status": "counted"}]}, "must be said"),
        ({"tasks": [{"task_id": "X", "status": "perhaps"}]}, "status"),
        ({"tasks": [{"task_id": "X", "status": "counted", "tenths": {"mfr": 1}}] * 2}, "twice"),
        ({"tasks": [], "attempted_addition": {"task_id": "X", "mfr": 1}}, "no task"),
    ],
)
def test_what_cannot_be_is_said(inputs: dict[str, Any], words: str) -> None:
    assert words in compute(**inputs)["error"]["sentence"]


def test_more_of_a_column_that_is_unknown_is_an_error_and_not_a_refused_credit() -> None:
    with pytest.raises(Impossible) as no:
        major_portion.more(major_portion.task("X", {MAKER: 1}), "kit", 1)
    assert no.value.code == "unknown"
