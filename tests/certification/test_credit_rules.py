"""Lists of tasks as they are read and compared, and how a task may be split."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import major_portion as calc
from certification.queries import credit as queries
from certification.rules import credit as rules
from foundation.refusal import Refusal

HEAD = "section,section_title,task_id,task_text,provenance\n"
GOOD = HEAD + 'F,Fuselage,F1,Fabricate Longitudinal Members,seen\nF,Fuselage,F2,"Cores or Shells, Skins",memory\n'


def test_the_starter_list_is_whole_and_says_what_it_is() -> None:
    """Rows per section as the trade brief counts them; 7 of 172 texts were seen, the rest is from memory."""
    one = queries.starter()
    assert {section.code: len(section.tasks) for section in one.sections} == {
        "F": 22,
        "W": 37,
        "E": 57,
        "L": 16,
        "P": 26,
        "C": 14,
    }
    assert one.count == 172
    seen = [task for task in rules.tasks(one.sections).values() if task.provenance == "seen"]
    assert len(seen) == 7
    assert "NOT the official form" in one.source
    assert json.loads(queries.DATA.read_text())["date"] in one.edition


def test_a_list_is_read_with_quotes_and_a_byte_order_mark() -> None:
    found = rules.read("\ufeff" + GOOD)
    assert not found.faults
    assert found.sections == (
        rules.Section(
            "F",
            "Fuselage",
            (
                rules.Listed("F1", "Fabricate Longitudinal Members", "seen"),
                rules.Listed("F2", "Cores or Shells, Skins", "memory"),
            ),
        ),
    )


@pytest.mark.parametrize("sign", [";", "\t"])
def test_other_separators_are_read(sign: str) -> None:
    text = "section,section_title,task_id,task_text\nF,Fuselage,F1,Fabricate\n".replace(",", sign)
    assert rules.read(text).count == 1


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("section,task_id\nF,F1\n", 1, "names no column section_title"),
        ("", 1, "names no column section"),
        (HEAD, 2, "No task stands below the head"),
        (GOOD + "F,Fuselage,,Something\n", 4, "task_id is empty"),
        (GOOD + "F,Fuselage,F1,Again\n", 4, "stands in line 2 already"),
        (GOOD + "F,Hull,F3,Other title\n", 4, "is called “Fuselage” further up"),
        (GOOD + "F,Fuselage,F+1,A plus sign is the builder's\n", 4, "letters, digits, dots or hyphens"),
        (GOOD + "F,Fuselage,F/3,Slash\n", 4, "letters, digits, dots or hyphens"),
        (GOOD + f"F,Fuselage,F3,{'x' * 201}\n", 4, "has 201 letters"),
        (HEAD + "F,Fuselage,F1\n", 2, "task_text is empty"),
    ],
)
def test_a_fault_names_its_line_and_what_to_do(text: str, line: int, words: str) -> None:
    found = rules.read(text)
    assert [fault.line for fault in found.faults] == [line]
    assert words in found.faults[0].words


def test_good_lines_beside_bad_ones_are_read_all_the_same() -> None:
    found = rules.read(GOOD + "F,Fuselage,,x\nF,Fuselage,F9,Last\n")
    assert (found.count, len(found.faults)) == (3, 1)


@given(st.text(max_size=300))
def test_no_text_makes_reading_fall_over(text: str) -> None:
    rules.read(text)
    rules.read(HEAD + text)


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=30)


@given(st.dictionaries(st.from_regex(r"[A-Z][0-9]{1,3}", fullmatch=True), WORDS, min_size=1, max_size=20))
def test_a_list_comes_back_as_it_was_kept(tasks: dict[str, str]) -> None:
    section = rules.Section("A", "All", tuple(rules.Listed(code, words) for code, words in tasks.items()))
    text, _ = queries.kept([section])
    assert rules.sections(json.loads(text)) == (section,)


def lists_of(**tasks: str) -> tuple[rules.Section, ...]:
    return (rules.Section("F", "Fuselage", tuple(rules.Listed(code, words) for code, words in tasks.items())),)


def test_the_difference_names_what_comes_goes_and_changes() -> None:
    found = rules.difference(lists_of(F1="a", F2="b", F3="c"), lists_of(F1="a", F2="B", F4="d"), {"F3", "F1", "F+1"})
    assert [one.code for one in found.added] == ["F4"]
    assert [one.code for one in found.gone] == ["F3"]
    assert [(old.words, new.words) for old, new in found.reworded] == [("b", "B")]
    assert found.lost == ("F3",)
    assert not rules.difference(lists_of(F1="a"), lists_of(F1="a"), {"F1"}).any


TENTHS = st.integers(0, 10)
SPLITS = st.fixed_dictionaries(dict.fromkeys(calc.COLUMNS, TENTHS))


@given(SPLITS)
def test_a_split_is_refused_exactly_when_it_gives_more_than_one_task(tenths: dict[str, int]) -> None:
    if sum(tenths.values()) <= 10:
        rules.check_split(tenths, applies=True, reason="")
    else:
        with pytest.raises(Refusal) as no:
            rules.check_split(tenths, applies=True, reason="")
        assert f"Take {sum(tenths.values()) - 10} away" in no.value.message


def test_what_does_not_apply_earns_nothing_and_says_why() -> None:
    with pytest.raises(Refusal, match="why this task does not apply"):
        rules.check_split(rules.NOTHING, applies=False, reason=" ")
    with pytest.raises(Refusal, match="earns no credit"):
        rules.check_split({**rules.NOTHING, "mfr": 1}, applies=False, reason="no flaps")
    rules.check_split(rules.NOTHING, applies=False, reason="no flaps")


@given(st.lists(SPLITS.filter(lambda row: sum(row.values()) <= 10), min_size=1, max_size=30), st.data())
def test_hiring_out_never_raises_the_share(rows: list[dict[str, int]], data: st.DataObject) -> None:
    tasks = [calc.task(f"T{n}", row) for n, row in enumerate(rows)]
    away = data.draw(st.sets(st.sampled_from([one.name for one in tasks])))
    before, after = calc.share(tasks), calc.share(calc.hired_out(tasks, away))
    assert after.percent <= before.percent
    assert sum(after.totals.values()) == sum(before.totals.values())


@pytest.mark.parametrize(
    ("builders", "counted", "words"),
    [(1, 2, "50.0 %"), (5001, 10000, "50.01 %"), (50999, 100_000, "51.00 %"), (51, 100, "51.0 %"), (2, 3, "66.7 %")],
)
def test_a_share_is_not_rounded_over_a_limit_unseen(builders: int, counted: int, words: str) -> None:
    share = calc.Share(counted, {**rules.NOTHING, calc.FABRICATION: builders * 10}, ())
    assert queries.percent_words(share) == words


def test_an_added_task_takes_a_number_that_no_list_can_have() -> None:
    assert rules.next_code("F", {"F+1", "F+2", "F1"}) == "F+3"
    assert not rules.CODE.fullmatch("F+3")
