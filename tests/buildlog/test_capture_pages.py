"""The shells of the ten-second path: who may have them, what is in them, and the plain form without a script."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext

from evidence.models import Photo, Placement
from tests.buildlog.browse import Shop, text_of
from tests.factories import client_for, make_assembly, make_part, make_person, make_session, picture_bytes

PAGES = ("capture", "kept")


@pytest.fixture
def wing(shop: Shop):  # noqa: ANN201
    return make_assembly(shop.person, "20", "Wing")


def without_token(page: str) -> str:
    """A page without what is made anew for every request."""
    return re.sub(r'csrfmiddlewaretoken" value="[^"]*"|"X-CSRFToken": "[^"]*"', "", page)


def test_the_shell_is_the_same_for_every_label(shop, wing):
    part = make_part(shop.person, wing, "TW2-0100", name="Rib 4")
    plain = shop.get("capture").content.decode()
    for key in (wing.pk, part.pk, "nothing-of-that-name"):
        page = shop.get("capture_on", key)
        assert page.status_code == 200
        assert without_token(page.content.decode()) == without_token(plain)
    assert "Rib 4" not in plain
    assert f'<option value="{wing.pk}">20 Wing</option>' in plain


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize(("role", "status"), [("helper", 200), ("paid", 200), ("inspector", 403), ("reader", 403)])
def test_they_are_for_those_who_log(shop, name, role, status):
    answer = Shop(person := make_person(shop.project, role), client_for(person)).get(name)
    assert answer.status_code == status
    if status == 403:
        assert "Only builders and helpers log work here." in text_of(answer)


@pytest.mark.parametrize("name", PAGES)
def test_strangers_and_the_signed_out_see_nothing(shop, name):
    assert shop.client.get(shop.url(name).replace(shop.project.slug, "other-boat")).status_code == 404
    shop.client.logout()
    assert shop.get(name).status_code == 302


@pytest.mark.parametrize("name", PAGES)
def test_they_cost_as_little_on_a_large_project(shop, wing, name):
    shop.get(name)
    with CaptureQueriesContext(connection) as small:
        shop.get(name)
    for rib in range(12):
        assembly = make_assembly(shop.person, f"20.{rib}", parent=wing)
        make_part(shop.person, assembly)
        make_session(shop.person, assembly)
    with CaptureQueriesContext(connection) as large:
        shop.get(name)
    assert len(large) == len(small) <= 6


def test_the_pages_load_no_more_than_they_need(shop, wing):
    page = shop.get("capture").content.decode()
    assert "htmx" not in re.sub(r'<meta name="htmx-config"[^>]*>|hx-headers', "", page)
    styles = re.findall(r'<link rel="stylesheet" href="[^"]*/css/([a-z]+)', page)
    assert styles == ["fonts", "tokens", "base", "frame", "sheets", "marks", "controls", "forms", "capture"]


def test_without_a_script_photos_go_to_the_assembly_chosen(shop, wing):
    files = [SimpleUploadedFile(f"{seed}.jpg", picture_bytes(seed=seed)) for seed in (9501, 9502)]
    answer = shop.post("evidence:photos", photo=files, assembly=wing.pk)
    assert answer.status_code == 200
    assert {placement.assembly for placement in Placement.objects.all()} == {wing}
    assert Photo.objects.count() == 2


@pytest.mark.parametrize("place", ["", "not-there-any-more"])
def test_without_a_place_they_are_kept_all_the_same(shop, wing, place):
    shop.post("evidence:photos", photo=[SimpleUploadedFile("a.jpg", picture_bytes(seed=9503))], assembly=place)
    assert Photo.objects.count() == 1
    assert not Placement.objects.exists()


def test_the_shop_tells_the_script_what_runs(shop, wing):
    shop.post("timer_start", assembly=wing.pk, request_id="tap-1")
    page = shop.get("inspections:shop").content.decode()
    timer = re.search(r"<section class=\"timer[^>]*data-request=[^>]*>", page).group()
    for said in ('data-request="tap-1"', f'data-assembly="{wing.pk}"', 'data-off-seconds="0"', 'data-break-since=""'):
        assert said in timer
    assert "data-mine" in timer
    assert re.search(r'data-served-at="\d{13}"', page)
    helper = make_person(shop.project)
    assert "data-mine" not in Shop(helper, client_for(helper)).get("inspections:shop").content.decode()


def test_a_reader_gets_the_shop_without_the_script_and_its_templates(shop, wing):
    reader = make_person(shop.project, "reader")
    page = Shop(reader, client_for(reader)).get("inspections:shop").content.decode()
    assert "js/shop" not in page
    assert "<template" not in page
