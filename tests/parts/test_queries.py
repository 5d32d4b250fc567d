"""Reads of the tree and of parts give the right rows, and cost the same for few and for many."""

from decimal import Decimal

import pytest
from pytest_django import DjangoAssertNumQueries

from accounts.models import Person
from journal.queries.story import told
from parts import commands, queries
from tests.factories import NOW, make_assembly, make_part, make_project

pytestmark = pytest.mark.django_db


@pytest.fixture
def builder() -> Person:
    return make_project()[1]


def test_the_tree_is_one_query_whatever_its_size(
    builder: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    parent = make_assembly(builder)
    with django_assert_num_queries(1):
        assert len(queries.tree(builder.project)) == 1
    for _ in range(30):
        parent = make_assembly(builder, parent=parent)
    with django_assert_num_queries(1):
        assert [node.depth for node in queries.tree(builder.project)] == list(range(31))


def test_a_list_of_parts_with_assemblies_is_one_query(
    builder: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(3):
        make_part(builder, make_assembly(builder))
    with django_assert_num_queries(1):
        assert len({part.assembly.number for part in queries.parts_of(builder.project)}) == 3


def test_one_project_reads_nothing_of_another(builder: Person) -> None:
    other = make_project("Other")[1]
    make_part(other, make_assembly(other))
    assert queries.tree(builder.project) == [] and not queries.parts_of(builder.project)
    assert queries.part_counts(builder.project) == {} and queries.parent_names(builder.project) == {}


def test_parts_are_counted_where_they_stand(builder: Person) -> None:
    wing = make_assembly(builder, "20")
    spar, rib = make_assembly(builder, "21", parent=wing), make_assembly(builder, "22", parent=wing)
    parts = [make_part(builder, spar) for _ in range(3)] + [make_part(builder, rib)]
    commands.withdraw_part(by=builder, at=NOW, part=parts[0], reason="x")
    assert queries.part_counts(builder.project) == {spar.pk: 2, rib.pk: 1}


def test_parts_are_found_by_text_status_and_assembly_with_all_below(builder: Person) -> None:
    wing = make_assembly(builder, "20")
    spar, hull = make_assembly(builder, "21", parent=wing), make_assembly(builder, "10")
    cap = make_part(builder, spar, "21-1", name="Spar cap", status="scrapped")
    web = make_part(builder, spar, "21-2", name="Shear web", note="Cap strip glued on")
    keel = make_part(builder, hull, "10-1", name="Keel")

    def found(**wanted: str) -> set[str]:
        return {part.pk for part in queries.find_parts(builder.project, **wanted)}

    assert found() == {cap.pk, web.pk, keel.pk}
    assert found(text="cap") == {cap.pk, web.pk}
    assert found(text="10-") == {keel.pk}
    assert found(status="scrapped") == {cap.pk}
    assert found(assembly=wing.pk) == {cap.pk, web.pk}
    assert found(assembly=wing.pk, text="CAP", status="flight") == {web.pk}
    assert found(text="100%") == set()


def test_every_place_on_offer_leads_where_its_words_say(builder: Person) -> None:
    a, b = make_assembly(builder, "1", "Hull"), make_assembly(builder, "2", "Wing")
    inner, moved = make_assembly(builder, "21", "Spar", parent=b), make_assembly(builder, "3", "Tail")
    make_assembly(builder, "31", "Fin", parent=moved)
    places = queries.places(builder.project, moved)
    assert [place.words for place in places] == [
        "first at the top",
        "first in 1 Hull",
        "after 1 Hull, at the top",
        "first in 2 Wing",
        "first in 21 Spar",
        "after 21 Spar, in 2 Wing",
        "after 2 Wing, at the top",
    ]
    assert [place.depth for place in places] == [0, 1, 0, 1, 2, 1, 0]
    for place in places:
        commands.move_assembly(by=builder, at=NOW, assembly=moved, parent=place.parent, after=place.after)
        moved.refresh_from_db()
        assert queries.present_place(builder.project, moved) == place.key
        assert (moved.parent_id or "") == place.key.split("/")[0]
    assert {a.pk, b.pk, inner.pk} == {place.after.pk for place in places if place.after}


def test_the_places_cost_one_query_whatever_the_tree(
    builder: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    rows = [make_assembly(builder) for _ in range(12)]
    with django_assert_num_queries(1):
        assert len(queries.places(builder.project, rows[0])) == 1 + 2 * 11


@pytest.mark.parametrize(
    ("system", "unit", "entered", "converted"),
    [
        ("si", "lb", "1 lb", "453.6 g"),
        ("si", "g", "1 g", ""),
        ("si", "kg", "1 kg", "1,000.0 g"),
        ("us", "g", "1 g", "0.002 lb"),
        ("us", "lb", "1 lb", ""),
        ("us", "oz", "1 oz", "0.063 lb"),
    ],
)
def test_a_weight_shows_what_was_entered_and_the_projects_unit(
    system: str, unit: str, entered: str, converted: str
) -> None:
    project, builder = make_project(units=system)
    part = make_part(
        builder, make_assembly(builder), weight=Decimal(1), weight_unit=unit, estimate=Decimal(1), estimate_unit=unit
    )
    part.refresh_from_db()
    for shown in (queries.weight_of(part, project), queries.estimate_of(part, project)):
        assert (shown.entered, shown.converted) == (entered, converted)


def test_what_was_not_weighed_shows_nothing() -> None:
    project, builder = make_project()
    shown = queries.weight_of(make_part(builder, make_assembly(builder)), project)
    assert (shown.entered, shown.converted) == ("", "")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({}, ""),
        ({"side": "L"}, "left"),
        ({"n": 1, "of": 2}, "1 of 2"),
        ({"side": "R", "n": 2, "of": 2}, "right, 2 of 2"),
    ],
)
def test_side_and_count_are_told_in_words(builder: Person, more: dict, words: str) -> None:
    assert make_part(builder, make_assembly(builder), **more).counted == words


def test_the_history_of_a_part_is_two_queries_however_long(
    builder: Person, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    part = make_part(builder, make_assembly(builder))
    for name in ("a", "b", "c"):
        commands.correct_part(
            by=builder, at=NOW, part=part, name=name, assembly=make_assembly(builder, f"4{name}", "Frame")
        )
    with django_assert_num_queries(2):
        steps = told(part.project_id, part.subject)
    assert [change.after for change in steps[0].changes] == ["4c Frame", "c"]
    assert len(steps) == 4
