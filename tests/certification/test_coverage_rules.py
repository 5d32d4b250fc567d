"""Strong, thin or nothing: our own rule, common practice."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certification.rules import coverage as rules
from certification.rules.coverage import Evidence, Hours

FULL = Evidence(sessions=1, photos=2, in_frame=1, areas=1, looks=1)


def test_everything_asked_for_is_strong() -> None:
    assert rules.grade(FULL) == rules.Grade(rules.STRONG)
    assert rules.grade(replace(FULL, areas=0, looks=0)).state == rules.STRONG


@pytest.mark.parametrize(
    ("change", "lacks"),
    [
        ({"sessions": 0}, "no session of a builder or unpaid helper"),
        ({"photos": 1}, "only one photo"),
        ({"photos": 0, "in_frame": 0}, "no photo"),
        ({"in_frame": 0}, "no photo with the builder in it"),
        ({"looks": 0}, "no dated look by somebody else"),
    ],
)
def test_what_is_missing_makes_it_thin_and_is_named(change: dict[str, int], lacks: str) -> None:
    assert rules.grade(replace(FULL, **change)) == rules.Grade(rules.THIN, (lacks,))


def test_nothing_at_all_is_no_evidence() -> None:
    found = rules.grade(Evidence(areas=2))
    assert found.state == rules.NONE
    assert "no photo" in found.lacks


def test_an_area_alone_or_paid_hours_are_no_evidence_of_the_builders() -> None:
    assert rules.grade(Evidence(people=(Hours("Rue Tell", "paid", 7200),))).state == rules.NONE


COUNTS = st.integers(0, 4)


@given(COUNTS, COUNTS, COUNTS, COUNTS, COUNTS)
def test_more_evidence_never_makes_it_worse(sessions: int, photos: int, frame: int, areas: int, looks: int) -> None:
    order = [rules.NONE, rules.THIN, rules.STRONG]
    held = Evidence(sessions=sessions, photos=photos, in_frame=min(frame, photos), areas=areas, looks=looks)
    here = rules.grade(held)
    assert (here.state == rules.STRONG) == (not here.lacks)
    for name in ("sessions", "photos", "in_frame", "looks"):
        more = replace(held, **{name: getattr(held, name) + 1})
        if more.in_frame <= more.photos:
            assert order.index(rules.grade(more).state) >= order.index(here.state)


def test_paid_help_is_said_until_its_column_has_something() -> None:
    """Rule R53: paid help cannot be hidden."""
    paid = Evidence(people=(Hours("Edda", "builder", 60), Hours("Rue Tell", "paid", 7200)))
    assert "Rue Tell" in rules.hidden_help(paid, {"commercial": 0})
    assert not rules.hidden_help(paid, {"commercial": 1})
    assert not rules.hidden_help(replace(paid, people=paid.people[:1]), {"commercial": 0})
    assert "Rue Tell" in rules.hidden_help(paid, None)
    assert "Retract link" in rules.hidden_help(Evidence(paid_parts=("4002 Retract link",)), {})
