"""Assemblies and parts are written with a journal entry each, or not at all."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Person
from foundation.refusal import Refusal
from journal.models import Entry
from journal.queries import chain_faults
from journal.queries.story import told
from parts import commands, queries
from parts.models import Assembly, Part
from tests.factories import NOW, make_assembly, make_part, make_project

pytestmark = pytest.mark.django_db


@pytest.fixture
def builder() -> Person:
    return make_project()[1]


def order(by: Person) -> list[str]:
    """The tree as numbers, each with a dot for each level above it."""
    return ["." * node.depth + node.assembly.number for node in queries.tree(by.project)]


def wing(by: Person) -> dict[str, Assembly]:
    """10 and 20 at the top; 21 and 24 in 20; 24.1 and 24.2 in 24."""
    made: dict[str, Assembly] = {}
    for number, parent in (("10", ""), ("20", ""), ("21", "20"), ("24", "20"), ("24.1", "24"), ("24.2", "24")):
        made[number] = make_assembly(by, number, f"Assembly {number}", made.get(parent))
    return made


def verbs(subject: str) -> list[str]:
    return list(Entry.objects.filter(subject=subject).order_by("seq").values_list("verb", flat=True))


def correct(by: Person, assembly: Assembly, **changed: str) -> Assembly:
    values = {"number": assembly.number, "name": assembly.name} | changed
    return commands.correct_assembly(by=by, at=NOW, assembly=assembly, **values)


def move(by: Person, assembly: Assembly, parent: Assembly | None, after: Assembly | None = None) -> None:
    commands.move_assembly(by=by, at=NOW, assembly=assembly, parent=parent, after=after)


# ---- assemblies ----


def test_assemblies_stand_in_the_order_they_were_added(builder: Person) -> None:
    made = wing(builder)
    assert order(builder) == ["10", "20", ".21", ".24", "..24.1", "..24.2"]
    assert verbs(made["24.1"].subject) == ["assembly.added"]


def test_a_number_stands_once_in_a_project(builder: Person) -> None:
    made = wing(builder)
    with pytest.raises(Refusal, match="there already") as refused:
        make_assembly(builder, "10")
    assert refused.value.field == "number"
    with pytest.raises(Refusal):
        correct(builder, made["20"], number="10")
    make_assembly(make_project("Other")[1], "10")


def test_the_database_itself_refuses_the_same_number_twice(builder: Person) -> None:
    make_assembly(builder, "10")
    with pytest.raises(IntegrityError), transaction.atomic():
        Assembly.objects.create(project=builder.project, number="10", name="Again")


def test_a_number_is_free_again_after_its_assembly_was_withdrawn(builder: Person) -> None:
    hull = make_assembly(builder, "10")
    commands.withdraw_assembly(by=builder, at=NOW, assembly=hull, reason="Entered twice")
    make_assembly(builder, "10")
    assert order(builder) == ["10"]


def test_a_corrected_assembly_keeps_the_old_name_readable(builder: Person) -> None:
    hull = make_assembly(builder, "10", "Hull")
    correct(builder, hull, name="Hull and deck", note="Two halves", reason="Deck is bonded in")
    newest = told(hull.project_id, hull.subject)[0]
    assert [(line.label, line.before, line.after) for line in newest.changes] == [
        ("Name", "Hull", "Hull and deck"),
        ("Note", "", "Two halves"),
    ]
    assert (newest.what, newest.entry.reason) == ("Assembly corrected", "Deck is bonded in")


def test_an_assembly_moves_with_all_below_it(builder: Person) -> None:
    made = wing(builder)
    move(builder, made["24"], made["10"])
    assert order(builder) == ["10", ".24", "..24.1", "..24.2", "20", ".21"]


def test_a_move_keeps_the_order_of_all_others(builder: Person) -> None:
    numbers = [str(n) for n in range(1, 7)]
    made = {number: make_assembly(builder, number) for number in numbers}
    move(builder, made["2"], None, made["5"])
    assert order(builder) == ["1", "3", "4", "5", "2", "6"]
    move(builder, made["6"], None)
    assert order(builder) == ["6", "1", "3", "4", "5", "2"]


def test_a_move_is_in_the_journal_for_each_assembly_that_changed_place_and_no_other(builder: Person) -> None:
    made = {number: make_assembly(builder, number) for number in "1234"}
    move(builder, made["3"], None, made["1"])
    assert [verbs(made[n].subject)[1:] for n in "1234"] == [[], ["assembly.moved"], ["assembly.moved"], []]


def test_a_move_to_the_present_place_changes_nothing(builder: Person) -> None:
    made = wing(builder)
    entries = Entry.objects.count()
    move(builder, made["24.2"], made["24"], made["24.1"])
    assert Entry.objects.count() == entries


@pytest.mark.parametrize("below", ["20", "24", "24.1"])
def test_an_assembly_is_never_hung_below_itself(builder: Person, below: str) -> None:
    made = wing(builder)
    before, entries = order(builder), Entry.objects.count()
    with pytest.raises(Refusal, match="part of itself"):
        move(builder, made["20"], made[below])
    assert (order(builder), Entry.objects.count()) == (before, entries)


def test_the_database_itself_refuses_an_assembly_that_is_its_own_parent(builder: Person) -> None:
    hull = make_assembly(builder, "10")
    with pytest.raises(IntegrityError), transaction.atomic():
        Assembly.objects.filter(pk=hull.pk).update(parent=hull)


def test_nothing_goes_into_an_assembly_that_was_withdrawn_meanwhile(builder: Person) -> None:
    gone, hull = make_assembly(builder, "9"), make_assembly(builder, "10")
    commands.withdraw_assembly(by=builder, at=NOW, assembly=Assembly.objects.get(pk=gone.pk), reason="Twice")
    for attempt in (
        lambda: move(builder, hull, gone),
        lambda: make_assembly(builder, "11", parent=gone),
        lambda: make_part(builder, gone),
    ):
        with pytest.raises(Refusal, match="not there any more"):
            attempt()


@pytest.mark.parametrize(
    ("number", "up", "wanted"),
    [
        ("24", True, ["10", "20", ".24", "..24.1", "..24.2", ".21"]),
        ("24.1", False, ["10", "20", ".21", ".24", "..24.2", "..24.1"]),
        ("20", True, ["20", ".21", ".24", "..24.1", "..24.2", "10"]),
        ("10", True, ["10", "20", ".21", ".24", "..24.1", "..24.2"]),
        ("24.2", False, ["10", "20", ".21", ".24", "..24.1", "..24.2"]),
    ],
)
def test_a_step_swaps_an_assembly_with_its_neighbor(builder: Person, number: str, up: bool, wanted: list[str]) -> None:
    made = wing(builder)
    commands.step_assembly(by=builder, at=NOW, assembly=made[number], up=up)
    assert order(builder) == wanted


@pytest.mark.parametrize(("number", "code"), [("20", "has_children"), ("10", "has_parts")])
def test_an_assembly_that_holds_something_is_not_withdrawn(builder: Person, number: str, code: str) -> None:
    made = wing(builder)
    make_part(builder, made["10"])
    with pytest.raises(Refusal) as refused:
        commands.withdraw_assembly(by=builder, at=NOW, assembly=made[number], reason="x")
    assert refused.value.code == code


def test_an_assembly_is_withdrawn_once_with_its_reason(builder: Person) -> None:
    hull = make_assembly(builder, "10")
    with pytest.raises(Refusal, match="Say why"):
        commands.withdraw_assembly(by=builder, at=NOW, assembly=hull, reason=" ")
    commands.withdraw_assembly(by=builder, at=NOW, assembly=hull, reason="Entered twice")
    with pytest.raises(Refusal, match="withdrawn before"):
        commands.withdraw_assembly(by=builder, at=NOW, assembly=hull, reason="Again")
    assert verbs(hull.subject) == ["assembly.added", "assembly.withdrawn"]
    assert Assembly.objects.filter(pk=hull.pk).exists()


# ---- parts ----


def test_a_weight_is_kept_as_entered_and_in_grams_exactly(builder: Person) -> None:
    part = make_part(
        builder,
        make_assembly(builder),
        weight=Decimal("1"),
        weight_unit="lb",
        estimate=Decimal("16"),
        estimate_unit="oz",
    )
    part.refresh_from_db()
    assert (part.weight, part.weight_unit, part.weight_g) == (Decimal(1), "lb", Decimal("453.59237"))
    assert (part.estimate, part.estimate_unit, part.estimate_g) == (Decimal(16), "oz", Decimal("453.59237"))


def test_a_weight_taken_away_takes_unit_and_grams_along(builder: Person) -> None:
    part = make_part(builder, make_assembly(builder), weight=Decimal("2"), weight_unit="kg")
    commands.correct_part(by=builder, at=NOW, part=part, weight=None)
    part.refresh_from_db()
    assert (part.weight, part.weight_unit, part.weight_g) == (None, "", None)


@pytest.mark.parametrize(
    ("field", "value"), [("weight", Decimal("-1")), ("estimate", Decimal("-0.1")), ("weight", Decimal("99999999"))]
)
def test_a_weight_that_cannot_be_is_not_filed(builder: Person, field: str, value: Decimal) -> None:
    with pytest.raises(Refusal) as refused:
        make_part(builder, make_assembly(builder), **{field: value, f"{field}_unit": "kg"})
    assert refused.value.field == field and not Part.objects.exists()


def test_a_corrected_part_keeps_every_old_value_readable(builder: Person) -> None:
    left, right = make_assembly(builder, "24.1", "Tip float, left"), make_assembly(builder, "24.2", "Tip float, right")
    part = make_part(builder, left, "B-3", side="L", n=1, of=2, weight=Decimal("540"), weight_unit="g")
    commands.correct_part(
        by=builder,
        at=NOW,
        part=part,
        assembly=right,
        side="R",
        status="scrapped",
        weight=Decimal("1.2"),
        weight_unit="lb",
        reason="Swapped",
    )
    newest = told(part.project_id, part.subject)[0]
    assert [(line.label, line.before, line.after) for line in newest.changes] == [
        ("Assembly", "24.1 Tip float, left", "24.2 Tip float, right"),
        ("Side", "Left", "Right"),
        ("Status", "Flight", "Scrapped"),
        ("Weight, weighed", "540", "1.2"),
        ("Unit of the weight", "g", "lb"),
    ]
    assert newest.entry.reason == "Swapped"


@pytest.mark.parametrize("same", [{}, {"side": "L"}, {"n": 1, "of": 2}, {"side": "R", "n": 2, "of": 2}])
def test_a_part_of_the_same_number_side_and_count_stands_once(builder: Person, same: dict[str, Any]) -> None:
    hull = make_assembly(builder)
    make_part(builder, hull, "B-3", **same)
    with pytest.raises(Refusal, match="there already") as refused:
        make_part(builder, hull, "B-3", **same)
    assert refused.value.field == "number"


def test_left_and_right_and_first_and_second_are_parts_of_their_own(builder: Person) -> None:
    hull = make_assembly(builder)
    for side in ("L", "R"):
        for n in (1, 2):
            make_part(builder, hull, "B-3", side=side, n=n, of=2)
    assert [part.counted for part in queries.parts_of(builder.project)] == [
        "left, 1 of 2",
        "left, 2 of 2",
        "right, 1 of 2",
        "right, 2 of 2",
    ]


def test_the_database_itself_refuses_the_same_part_twice(builder: Person) -> None:
    part = make_part(builder, make_assembly(builder), "B-3")
    with pytest.raises(IntegrityError), transaction.atomic():
        Part.objects.create(project=builder.project, assembly=part.assembly, number="B-3", name="Again")


def test_a_part_is_withdrawn_with_a_reason_and_its_number_is_free(builder: Person) -> None:
    hull = make_assembly(builder)
    part = make_part(builder, hull, "B-3")
    with pytest.raises(Refusal, match="Say why"):
        commands.withdraw_part(by=builder, at=NOW, part=part, reason="")
    commands.withdraw_part(by=builder, at=NOW, part=part, reason="Entered twice")
    make_part(builder, hull, "B-3")
    assert queries.parts_of(builder.project).count() == 1
    assert [step.what for step in told(part.project_id, part.subject)] == ["Part withdrawn", "Part added"]


def test_the_chain_of_the_journal_holds_after_all_of_it(builder: Person) -> None:
    made = wing(builder)
    move(builder, made["24"], made["10"])
    part = make_part(builder, made["21"])
    commands.correct_part(by=builder, at=NOW, part=part, name="Rib, shortened")
    commands.withdraw_part(by=builder, at=NOW, part=part, reason="x")
    assert list(chain_faults(builder.project_id)) == []
