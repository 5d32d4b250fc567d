"""Stored values are taken in the form alone in which the program writes them (rule R33)."""

import math
from decimal import Decimal

import pytest
from django.db import connection
from hypothesis import given, settings
from hypothesis import strategies as st

from archive import queries
from archive.queries import stored, whole
from foundation.record import plain
from inspections.models import Requirement
from parts.models import Part
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db
ON_SQLITE = pytest.mark.skipif(connection.vendor != "sqlite", reason="its types let one form through")


@pytest.fixture
def part():
    _, edda = factories.make_project()
    assembly = factories.make_assembly(edda)
    factories.make_photo(edda, caption="Drain boss", places=[assembly])
    factories.make_area(edda, assembly, {"kind": "measure", "words": "Gap", "low": Decimal("0.1"), "unit": "mm"})
    factories.make_session(edda, assembly, at=NOW.replace(microsecond=250_000))
    return factories.make_part(edda, assembly, weight=Decimal("1.2345"), weight_unit="lb", n=1, of=2)


# What reads the same to the program, or nearly so, and is another thing in the file.
ODD = [
    ("parts_part", "name", "CAST('Rib' AS BLOB)", "name"),
    ("parts_part", "name", "CAST(x'52696200' AS TEXT)", "name"),
    ("parts_part", "note", "x''", "note"),
    ("parts_part", "weight", "1.2345000000000002", "weight, weighed"),
    ("parts_part", "weight", "CAST('1.2345' AS BLOB)", "weight, weighed"),
    ("parts_part", "n", "1.5", "number of"),
    ("parts_part", "n", "CAST('1' AS BLOB)", "number of"),
    ("evidence_photo", "located", "2", "file names a place"),
    ("evidence_photo", "located", "'f'", "file names a place"),
    ("evidence_photo", "received_at", "received_at || '.000000'", "received"),
    ("evidence_photo", "received_at", "replace(received_at, ' ', 'T')", "received"),
    ("evidence_photo", "received_at", "received_at || '+00:00'", "received"),
    ("buildlog_worksession", "entered_at", "rtrim(entered_at, '0')", "entered at"),
    ("inspections_requirement", "low", "0.10000000000000002", "requirements (least)"),
    ("accounts_project", "started_on", "''", "started on"),
]


@ON_SQLITE
@pytest.mark.parametrize(("table", "column", "value", "words"), ODD)
def test_a_value_in_a_form_that_is_not_the_programs_is_a_fault(part, table, column, value, words):
    assert queries.faults(part.project) == []
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        cursor.execute(f"UPDATE {table} SET {column} = {value}")
        cursor.execute("PRAGMA ignore_check_constraints = OFF")
    faults = [fault for fault in queries.faults(part.project) if not fault.startswith("The database file is damaged")]
    assert len(faults) == 1
    assert f": {words} changed outside the program." in faults[0]


@ON_SQLITE
def test_json_with_a_blank_too_many_is_a_fault():
    project, edda = factories.make_project()
    area = factories.make_area(edda, factories.make_assembly(edda))
    factories.inspections.close_area(by=edda, at=NOW, area=area, reason="Flight is next week")
    assert queries.faults(project) == []
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inspections_closing SET missing = replace(missing, ', ', ',  ')")
    (fault,) = queries.faults(project)
    assert "closings (missing) changed outside the program" in fault


@ON_SQLITE
@settings(deadline=None)
@given(st.decimals(-(10**8), 10**8, places=4), st.decimals(-(10**9), 10**9, places=6))
def test_every_decimal_that_sqlite_keeps_is_read_as_it_was_written(weight, grams):
    for field, value in ((Part._meta.get_field("weight"), weight), (Part._meta.get_field("weight_g"), grams)):
        assert stored.sqlite_decimal(field, stored.sqlite_number(value)) == plain(value)


@ON_SQLITE
@settings(deadline=None)
@given(st.decimals(Decimal("0.0001"), 10**7, places=4), st.sampled_from([1, -1]))
def test_a_decimal_changed_in_its_last_bit_is_odd(value, step):
    near = math.nextafter(float(value), math.inf * step)
    field = Requirement._meta.get_field("low")
    assert isinstance(stored.sqlite_decimal(field, ("real", near)), stored.Odd)


@ON_SQLITE
def test_numbers_that_are_none_are_odd():
    field = Requirement._meta.get_field("low")
    for value in (float("inf"), 1e300, 3.0):
        assert isinstance(stored.sqlite_decimal(field, ("real", value)), stored.Odd)


def test_every_field_of_the_record_has_a_known_stored_form():
    for model in [*whole.root_models(), *whole.part_models()]:
        for field in whole.recorded_fields(model):
            assert stored.kind_of(field)


def test_rows_read_as_they_are_stored_are_the_states_that_the_program_tells(part):
    for model in [*whole.root_models(), *whole.part_models()]:
        rows = {row["id"]: row for row in stored.rows(model, whole.recorded_fields(model))}
        for record in model._base_manager.all():
            told = {name: value for name, value in record.state().items() if name not in model.PARTS}
            assert {name: rows[record.pk][name] for name in told} == told
