"""Many files from a laptop in a real browser: stopped on the way, chosen again, nothing lost and nothing doubled."""

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from accounts.models import Person
from evidence.models import Photo, Placement
from journal.models import Entry
from tests.browser.conftest import Desk
from tests.factories import make_assembly, make_photo, make_project, make_user, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PHOTOS, TWINS = 34, 4


@pytest.fixture
def builder(flushable: None) -> Person:
    return make_project(user=make_user("edda"))[1]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Forty files in two folders: 34 photos, 4 of them twice, one that is none, one that is empty; and some clutter."""
    root = tmp_path / "camera"
    for part in ("a", "b"):
        (root / part).mkdir(parents=True)
    for number in range(PHOTOS):
        data = picture_bytes(seed=8000 + number, size=(320, 240))
        (root / "a" / f"IMG_{number:02d}.jpg").write_bytes(data)
        if number < TWINS:
            (root / "b" / f"copy_{number}.jpg").write_bytes(data)
    (root / "b" / "broken.jpg").write_bytes(b"no photo at all")
    (root / "b" / "empty.jpg").write_bytes(b"")
    (root / "b" / "notes.txt").write_text("not a photo")
    (root / ".hidden.jpg").write_bytes(picture_bytes(seed=8999))
    return root


@pytest.fixture
def size(request: pytest.FixtureRequest) -> str:
    return "laptop"


def choose(page: Page, folder: Path) -> None:
    page.locator("[data-folder]").set_input_files(folder)


def expect_all(page: Page) -> None:
    expect(page.locator("[data-figures]")).to_contain_text("40 of 40 files", timeout=60_000)
    expect(page.locator("[data-title]")).to_have_text("Done")


def test_a_folder_is_sent_once_whatever_happens_on_the_way(desks, builder, folder, size) -> None:
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/photos/bulk/")
    desk.look()
    sent = [0]

    def hold_after_ten(route: Route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        sent[0] += 1
        if sent[0] <= 10:
            route.continue_()
        # The others never get an answer: the page is reloaded while they are on their way.

    page.route(re.compile(r"/photos/$"), hold_after_ten)
    choose(page, folder)
    expect(page.locator("[data-figures]")).to_contain_text(re.compile(r"1[0-9] of 40 files"), timeout=60_000)
    page.wait_for_timeout(2000)
    page.unroute_all(behavior="ignoreErrors")
    page.on("dialog", lambda dialog: dialog.accept())
    page.reload()
    assert 10 <= Photo.objects.count() < 38
    expect(page.get_by_text("Not finished last time")).to_be_visible()
    desk.look()

    choose(page, folder)
    expect_all(page)
    assert Photo.objects.count() == PHOTOS
    assert Entry.objects.filter(verb="photo.kept").count() == PHOTOS
    expect(page.locator("[data-refused-list] li")).to_have_count(2)
    expect(page.locator("[data-refused-list]")).to_contain_text("camera/b/broken.jpg")
    expect(page.locator("[data-refused-list]")).to_contain_text("The file is empty")
    expect(page.locator("[data-passed-count]")).to_contain_text("2 files passed over")
    desk.look()
    desk.said = [line for line in desk.said if "422" not in line]  # what the browser itself logs of the refused file

    # Once more, now for a place: nothing is sent, everything is placed.
    assembly = make_assembly(builder, "24.1")
    posts = []
    page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    page.reload()
    expect(page.get_by_text("Not finished last time")).to_be_hidden()
    page.get_by_label("Where they go").select_option(label="24.1 Tip float, left")
    choose(page, folder)
    expect_all(page)
    assert Placement.objects.filter(assembly=assembly).count() == PHOTOS
    assert Photo.objects.count() == PHOTOS
    assert len([url for url in posts if url.endswith("/photos/")]) == 1  # broken.jpg is tried again
    expect(page.get_by_role("link", name="To the photos")).to_be_visible()
    desk.said = [line for line in desk.said if "422" not in line]


def test_pause_no_connection_and_signing_out_lose_nothing(desks, builder, folder, size) -> None:
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/photos/bulk/")
    answer = ["down"]

    def trouble(route: Route) -> None:
        if route.request.method != "POST" or answer[0] == "well":
            route.continue_()
        elif answer[0] == "down":
            answer[0] = 500
            route.abort("failed")
        else:
            route.fulfill(status=answer[0], body=json.dumps({"error": "no"}), content_type="application/json")

    page.route(re.compile(r"/photos/$"), trouble)
    choose(page, folder)
    expect(page.get_by_text("No connection to the server.")).to_be_visible(timeout=20_000)
    answer[0] = 401
    expect(page.get_by_text("You are signed out. Sign in in another tab")).to_be_visible(timeout=60_000)
    expect(page.locator("[data-title]")).to_have_text("Paused")
    answer[0] = "well"
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Pause").click()
    expect(page.locator("[data-title]")).to_have_text("Paused")
    page.get_by_role("button", name="Go on").click()
    expect_all(page)
    assert Photo.objects.count() == PHOTOS
    expect(page.get_by_role("link", name="Sort them in the tray")).to_be_visible()
    desk.said = [line for line in desk.said if "Failed to load resource" not in line]


def test_a_dropped_folder_is_read_to_its_last_corner(desks, builder, size) -> None:
    """The browser's own folder entries cannot be made by a test, so these are played; the files are real."""
    known = make_photo(builder, data=picture_bytes(seed=8500))
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/photos/bulk/")
    expect(page.get_by_text("Drop files or whole folders here")).to_be_visible()
    page.evaluate(
        """async ([known, fresh]) => {
          const make = (bytes, name) => new File([Uint8Array.from(bytes)], name, { type: "image/jpeg" });
          const entry = (file, fullPath) => {
            return { isDirectory: false, name: file.name, fullPath, file: (done) => done(file) };
          };
          const folder = (path, portions) => ({
            isDirectory: true, name: path, fullPath: path,
            createReader: () => ({ readEntries: (done) => done(portions.shift() ?? []) }),
          });
          const deep = folder("/camera/deep", [[entry(make(fresh, "new.jpg"), "/camera/deep/new.jpg")]]);
          const root = folder("/camera", [[entry(make(known, "old.jpg"), "/camera/old.jpg")], [deep]]);
          const event = new Event("drop", { bubbles: true, cancelable: true });
          event.dataTransfer = { items: [{ webkitGetAsEntry: () => root }], files: [] };
          document.querySelector("[data-drop]").dispatchEvent(event);
        }""",
        [list(picture_bytes(seed=8500)), list(picture_bytes(seed=8501))],
    )
    expect(page.locator("[data-detail]")).to_have_text("1 kept, 1 was in the record before", timeout=20_000)
    assert sorted(photo.file_name for photo in Photo.objects.all()) == ["new.jpg", known.file_name]
