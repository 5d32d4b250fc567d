"""Process records on the pages of assemblies and parts, and on the shop page."""

import pytest
from django.urls import reverse

from process.commands import common
from tests.factories import NOW, client_for, make_assembly, make_part, make_project
from tests.process.shop import make_layup, make_mix

pytestmark = pytest.mark.django_db


def test_an_assembly_and_a_part_show_how_they_were_made() -> None:
    project, edda = make_project()
    client, assembly = client_for(edda), make_assembly(edda)
    part = make_part(edda, assembly)
    layup = make_layup(edda, assembly, part=part)
    mix = common.finish(make_mix(edda, assembly, used_in=layup, spread_at=NOW), by=edda, at=NOW)
    elsewhere = make_mix(edda, make_assembly(edda, "77", "Elsewhere"))
    page = client.get(reverse("process:on_assembly", args=[project.slug, assembly.pk])).content.decode()
    assert layup.label in page and "Not finished" in page and mix.label in page and "Good" in page
    assert elsewhere.label not in page and f"/layups/new/?assembly={assembly.pk}" in page
    piece = client.get(
        reverse("process:on_part", args=[project.slug, part.pk]), headers={"HX-Request": "true"}
    ).content.decode()
    assert "<html" not in piece and layup.label in piece and mix.label in piece
    for name, key in (("inspections:assembly", assembly.pk), ("parts:part", part.pk)):
        assert "How it was made and checked" in client.get(reverse(name, args=[project.slug, key])).content.decode()


def test_strangers_see_none_of_it() -> None:
    project, edda = make_project()
    assembly = make_assembly(edda)
    _, stranger = make_project("Second hull")
    client = client_for(stranger)
    for slug in (project.slug, stranger.project.slug):
        assert client.get(reverse("process:on_assembly", args=[slug, assembly.pk])).status_code == 404


def test_the_shop_page_shows_clocks_that_run_and_what_the_stores_want() -> None:
    project, edda = make_project()
    mix = make_mix(edda, make_assembly(edda))
    page = client_for(edda).get(reverse("inspections:shop", args=[project.slug])).content.decode()
    assert f'data-id="{mix.pk}"' in page and "js/pots" in page
    assert all(reverse(f"process:{name}", args=[project.slug]) in page for name in ("layups", "tools"))
