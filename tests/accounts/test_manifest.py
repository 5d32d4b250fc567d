"""The project on the home screen of a phone."""

import re

import pytest
from django.conf import settings
from django.contrib.staticfiles.finders import find
from django.test import Client
from PIL import Image

from accounts.pages import BOARD, SHEET
from tests.factories import make_project

pytestmark = pytest.mark.django_db


def token(name: str) -> str:
    sheet = (settings.BASE_DIR / "static" / "css" / "tokens.css").read_text()
    return re.search(rf"--{name}:\s*(#\w+)", sheet)[1]


def test_the_manifest_names_the_project_its_pages_and_icons_that_exist(client):
    project, builder = make_project()
    client.force_login(builder.user)
    response = client.get(f"/{project.slug}/app.webmanifest")
    told = response.json()
    assert response["Content-Type"] == "application/manifest+json"
    assert told["name"] == f"{project.name} build log"
    assert told["start_url"] == f"/{project.slug}/?source=home-screen"
    assert (told["scope"], told["display"]) == ("/", "standalone")
    assert [one["url"] for one in told["shortcuts"]] == [f"/{project.slug}/capture/", f"/{project.slug}/kept/"]
    for one in told["icons"]:
        with Image.open(find(one["src"].removeprefix("/static/"))) as picture:
            assert "x".join(map(str, picture.size)) == one["sizes"]
    assert any(one.get("purpose") == "maskable" for one in told["icons"])


def test_its_colors_and_those_of_the_head_are_our_own(client):
    assert (token("sheet"), token("board")) == (SHEET, BOARD)
    head = (settings.BASE_DIR / "templates" / "_head.html").read_text()
    sheet = (settings.BASE_DIR / "static" / "css" / "tokens.css").read_text()
    dark = re.search(r"prefers-color-scheme: dark\).*?--sheet: (#\w+)", sheet, re.DOTALL)[1]
    assert set(re.findall(r'theme-color".*?content="(#\w+)"', head)) == {SHEET, dark, "#ffffff"}


def test_a_stranger_learns_nothing_and_pages_of_a_project_name_it(client):
    project, builder = make_project()
    assert client.get(f"/{project.slug}/app.webmanifest").status_code == 302
    member = Client()
    member.force_login(builder.user)
    page = member.get(f"/{project.slug}/people/").content.decode()
    assert f'<link rel="manifest" href="/{project.slug}/app.webmanifest" crossorigin="use-credentials">' in page
    assert 'rel="manifest"' not in member.get("/settings/").content.decode()
