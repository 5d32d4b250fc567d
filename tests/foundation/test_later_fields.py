"""A field that comes with a later release says nothing in the record until it is used: digests and signatures stand."""

import pytest
from django.apps import apps

from foundation.record import Recorded
from tests import factories

pytestmark = pytest.mark.django_db
RECORDED = [model for model in apps.get_models() if issubclass(model, Recorded)]


def test_what_a_later_release_added_is_left_out_while_it_says_nothing() -> None:
    _, edda = factories.make_project()
    wing = factories.make_assembly(edda)
    photo, part = factories.make_photo(edda, places=[wing]), factories.make_part(edda, wing)
    assert not set(photo.state()) & {"captured_at", "clock_ahead", "seconds", "marks"}
    assert set(photo.state()["placements"][0]) == {"id", "photo", "assembly", "part"}
    assert "kind" not in part.state()
    part.kind = "mold"
    photo.clock_ahead = 0
    assert part.state()["kind"] == "mold"
    assert photo.state()["clock_ahead"] == 0


@pytest.mark.parametrize("model", RECORDED, ids=lambda model: model._meta.label)
def test_later_names_are_fields_or_parts(model: type[Recorded]) -> None:
    fields = {field.name for field in model._meta.concrete_fields}
    assert fields | set(model.PARTS) >= model.LATER
