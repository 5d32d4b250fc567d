"""Whoever logs work is told of hold points and of areas that are closed for good there (R23, R25)."""

from datetime import timedelta

import pytest

from inspections import commands
from inspections.commands import points
from inspections.queries.at_work import notices
from tests.factories import NOW, client_for, make_area, make_assembly, make_project

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    project, edda = make_project()
    float_ = make_assembly(edda, "24", "Tip floats")
    deck = make_assembly(edda, "24.1", "Tip float, left", parent=float_)
    return project, edda, float_, deck


def close(edda, assembly, kind="permanent"):
    area = make_area(edda, assembly, kind=kind)
    commands.close_area(by=edda, at=NOW - timedelta(days=9), area=area, reason="The deck is glued")
    return area


def test_an_area_closed_for_good_is_named_to_who_works_on_it_or_below(shop) -> None:
    project, edda, float_, deck = shop
    area = close(edda, float_)
    (said,) = notices(project, [deck.pk])
    assert str(area) in said and "closed for good" in said
    assert notices(project, [float_.pk]) == [said]
    assert notices(project, []) == []


def test_an_area_that_is_opened_again_or_a_panel_or_one_below_is_not(shop) -> None:
    project, edda, float_, deck = shop
    below = close(edda, deck)
    assert notices(project, [float_.pk]) == []
    commands.reopen_area(by=edda, at=NOW, area=below, reason="The link rubs")
    close(edda, float_, kind="access")
    assert notices(project, [deck.pk]) == []


def test_a_hold_point_is_named_until_it_is_released(shop) -> None:
    project, edda, _, deck = shop
    point = points.add_point(
        by=edda,
        at=NOW,
        project=project,
        assembly=deck,
        number="H-1",
        kind="hold",
        words="Stiffeners bonded",
        role="inspector",
    )
    (said,) = notices(project, [deck.pk])
    assert point.number in said and "Stiffeners bonded" in said


def test_timer_and_session_say_it(shop, django_assert_max_num_queries) -> None:
    project, edda, float_, deck = shop
    area, client = close(edda, float_), client_for(edda)
    said = client.post(f"/{project.slug}/timer/start/", {"assembly": deck.pk}, follow=True).content.decode()
    assert f"{area} is closed for good" in said
    with django_assert_max_num_queries(12):
        notices(project, [deck.pk])
