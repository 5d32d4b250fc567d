"""All shop facts through `manage.py compute`, within their own tolerance; the source of each stands beside it."""

import json
from collections import Counter

import pytest
from django.core.management import call_command

from calc import torque
from config.computing.lines import COMPUTATIONS
from tests.calc.facts import FACTS, TABLE, differences, line


@pytest.fixture(scope="module")
def computed(tmp_path_factory) -> dict[str, dict]:
    """What one run of the command says of every fact."""
    asked = tmp_path_factory.mktemp("facts") / "facts.jsonl"
    asked.write_text("".join(json.dumps(line(fact)) + "\n" for fact in FACTS), encoding="utf-8")
    said = tmp_path_factory.mktemp("said") / "said.jsonl"
    with said.open("w", encoding="utf-8") as out:
        call_command("compute", str(asked), stdout=out)
    answers = [json.loads(one) for one in said.read_text(encoding="utf-8").splitlines()]
    return {answer.pop("id"): answer for answer in answers}


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: fact["id"])
def test_shop_fact(fact, computed) -> None:
    """Each fact names its source; a failure shows it."""
    wrong = differences(computed[fact["id"]], fact["expected"], fact["tolerance"])
    assert not wrong, f"{fact['statement']} [{fact['source']}; {fact['provenance']}]"


def test_the_table_is_whole_and_every_fact_has_a_source() -> None:
    assert len(FACTS) == TABLE["about"]["count"] == 199
    assert max(Counter(fact["id"] for fact in FACTS).values()) == 1
    assert all(fact["source"] and fact["provenance"] in TABLE["about"]["provenance"] for fact in FACTS)


def test_every_computation_of_the_facts_is_there_and_says_where_it_comes_from() -> None:
    # Credit for tasks has examples of its own: test_major_portion.py.
    assert {fact["inputs"]["calc"] for fact in FACTS} | {"major_portion"} == set(COMPUTATIONS)
    for found in COMPUTATIONS.values():
        assert found.rule.words and found.rule.source and found.rule.valid and found.rule.caution, found.name
        assert found.rule.provenance in TABLE["about"]["provenance"], found.name


def test_a_wrong_answer_would_be_seen() -> None:
    fact = FACTS[0]
    near = fact["expected"] | {"tension_min_inlb": 12.01}
    assert differences(near, fact["expected"], "exact")
    assert not differences(near, fact["expected"], {"abs": 0.05})
    assert differences({}, fact["expected"], "exact")
    assert differences({"ok": 1}, {"ok": True}, "exact")


# FAA AC 43.13-1B (8 Sep 1998), page 7-9: the rows of Table 7-1 that are not among the facts, as the circular prints
# them (a later reprint has misprints at 10-24 and 3/8-16).
@pytest.mark.parametrize(
    ("thread", "tension", "shear", "limits"),
    [
        ("10-24", (20, 25), (12, 15), (35, 21)),
        ("3/8-16", (160, 185), (95, 100), (275, 170)),
        ("1/2-13", (400, 480), (240, 290), (880, 520)),
        ("5/8-11", (700, 900), (420, 540), (1500, 900)),
        ("7/8-9", (2200, 3000), (1300, 1800), (4600, 2700)),
    ],
)
def test_the_other_coarse_rows_of_table_7_1(thread, tension, shear, limits) -> None:
    row = torque.row(thread, "coarse")
    assert (row.tension, row.shear, (row.tension_limit, row.shear_limit)) == (tension, shear, limits)


# FAA AC 43.13-1B, page 7-12: the rows of Table 7-2 that are not among the facts.
@pytest.mark.parametrize(
    ("thread", "least"),
    [
        ("1-14", 55),
        ("1-1/8-12", 73),
        ("1-1/4-12", 94),
        ("7/16-14", 8),
        ("1/2-13", 10),
        ("9/16-12", 14),
        ("5/8-11", 20),
        ("3/4-10", 27),
        ("7/8-9", 40),
        ("1-8", 51),
        ("1-1/8-8", 68),
        ("1-1/4-8", 88),
        ("10-24", None),
        ("3/8-16", None),
    ],
)
def test_the_other_rows_of_table_7_2(thread, least) -> None:
    assert torque.prevailing_minimum(thread) == least
