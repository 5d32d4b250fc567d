"""What works without signal: the worker with its list of files, and the page for what is not kept."""

import json
import re

import pytest
from django.contrib.staticfiles.finders import find
from django.urls import reverse

from foundation import offline

pytestmark = pytest.mark.django_db


def told(client) -> dict:  # noqa: ANN001
    source = client.get("/sw.js").content.decode()
    text = re.search(r'JSON\.parse\("(.*?)"\)', source)[1]
    return json.loads(json.loads('"' + text.replace("\\u0027", "'") + '"'))


def test_the_worker_may_answer_for_every_page_and_is_asked_for_anew(client):
    response = client.get("/sw.js")
    assert response["Content-Type"] == "text/javascript; charset=utf-8"
    assert (response["Cache-Control"], response["Service-Worker-Allowed"]) == ("no-cache", "/")
    assert client.post("/sw.js").status_code == 405


def test_the_worker_keeps_all_styles_scripts_and_fonts_of_the_pages(client):
    kept = told(client)["assets"]
    assert kept[0] == reverse("foundation:offline")
    for name in ("css/tokens.css", "js/base.js", "js/outbox/store.js", "fonts/national-park-latin.woff2"):
        assert f"/static/{name}" in kept
    assert not [one for one in kept if "-ext." in one]
    assert all(find(one.removeprefix("/static/")) for one in kept[1:])


def test_the_version_follows_the_contents(client, settings, tmp_path):
    before = told(client)["version"]
    offline.assets.cache_clear()
    assert told(client)["version"] == before
    (tmp_path / "css").mkdir()
    (tmp_path / "css" / "more.css").write_text("p { color: red }")
    settings.STATICFILES_DIRS = [*settings.STATICFILES_DIRS, tmp_path]
    offline.assets.cache_clear()
    offline.get_finders.__globals__["get_finder"].cache_clear()
    try:
        assert told(client)["version"] != before
    finally:
        offline.assets.cache_clear()
        offline.get_finders.__globals__["get_finder"].cache_clear()


def test_the_page_for_what_is_not_kept_needs_no_signing_in_and_sets_nothing(client):
    response = client.get("/offline/")
    assert response.status_code == 200
    assert "this page is not kept here" in response.content.decode()
    assert not response.cookies
