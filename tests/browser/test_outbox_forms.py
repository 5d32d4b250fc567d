"""Forms without signal: what was typed and photographed is kept on the phone and arrives once there is signal."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Route, expect

from buildlog.models import WorkSession
from evidence.models import Photo
from parts.models import Assembly
from tests.browser.conftest import Desk
from tests.factories import make_area, make_assembly, make_project, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.parametrize("size", ["phone"], indirect=True)]

PHOTO = {"name": "rib.jpg", "mimeType": "image/jpeg", "buffer": picture_bytes(seed=7700)}


@pytest.fixture
def edda(flushable):  # noqa: ANN001, ANN201
    _, builder = make_project()
    make_assembly(builder, "20", "Wing")
    return builder


def wait_for_worker(desk: Desk, path: str) -> None:
    desk.page.evaluate(
        """async (path) => {
          while (!(await caches.match(path)) || !navigator.serviceWorker.controller)
            await new Promise((done) => setTimeout(done, 50));
        }""",
        path,
    )


def fill(desk: Desk, slug: str, photo: bool = True):  # noqa: ANN201
    page = desk.go(f"/{slug}/sessions/new/")
    page.get_by_label("What was done").fill("Ribs glued without signal")
    page.locator("select[name=assembly]").select_option(label="20 Wing")
    if photo:
        desk.context.set_offline(True)
        page.locator("input[name=new_photos][multiple]").set_input_files(PHOTO)
        expect(page.locator("figcaption")).to_have_text(re.compile("Kept on this phone|No signal"))
    return page


def nothing_waits(page) -> None:  # noqa: ANN001
    expect(page.locator("html")).to_have_attribute("data-waiting", "0", timeout=30_000)


def test_a_session_saved_without_signal_is_kept_with_its_photo_and_arrives_once(edda, desks):
    desk = desks(edda.user.username, service_workers="allow")
    home = f"/{edda.project.slug}/"
    desk.go(home)
    wait_for_worker(desk, home + "kept/")
    page = fill(desk, edda.project.slug)
    page.get_by_role("button", name="Save session").click()
    expect(page).to_have_url(re.compile("/kept/$"))
    expect(page.get_by_text("Kept on this phone. It is sent as soon as there is signal.")).to_be_visible()
    expect(page.get_by_text(re.compile("^Session on 20 Wing")).first).to_be_visible()
    assert not WorkSession.objects.exists()
    desk.context.set_offline(False)
    page.reload()
    nothing_waits(page)
    session = WorkSession.objects.get()
    assert (session.note, session.attachments.count()) == ("Ribs glued without signal", 1)
    assert desk.go(home + "sessions/new/").get_by_label("What was done").input_value() == ""
    expect(desk.page.locator("figure[data-attached]")).to_have_count(0)
    desk.said.clear()


def test_two_sessions_from_the_one_form_that_is_kept_are_two(edda, desks):
    desk = desks(edda.user.username, service_workers="allow")
    home = f"/{edda.project.slug}/"
    desk.go(home)
    wait_for_worker(desk, home + "sessions/new/")
    desk.context.set_offline(True)
    for words in ("Ribs glued", "Spar sanded"):
        page = desk.go(home + "sessions/new/")
        assert page.get_by_label("What was done").input_value() == ""
        page.get_by_label("What was done").fill(words)
        page.locator("select[name=assembly]").select_option(label="20 Wing")
        page.get_by_role("button", name="Save session").click()
        expect(page).to_have_url(re.compile("/kept/$"))
    desk.context.set_offline(False)
    page.reload()
    nothing_waits(page)
    assert {session.note for session in WorkSession.objects.all()} == {"Ribs glued", "Spar sanded"}
    desk.said.clear()


def test_a_form_kept_since_another_day_is_about_today(edda, desks):
    """The page as it was kept on another day, opened now."""
    desk = desks(edda.user.username)

    def old(route: Route) -> None:
        answer = route.fetch()
        body = re.sub(r'data-made="\d+"', 'data-made="1700000000"', answer.text())
        body = re.sub(r'name="day" value="[\d-]+"', 'name="day" value="2023-11-14"', body)
        route.fulfill(response=answer, body=body)

    desk.page.route("**/sessions/new/?assembly=*", old)
    wing = Assembly.objects.get().pk
    page = desk.go(f"/{edda.project.slug}/sessions/new/?assembly={wing}")
    today = timezone.now().astimezone(edda.project.zone)
    assert page.locator("[name=day]").input_value() in {str(today.date()), str((today - timedelta(hours=1)).date())}
    assert page.locator("select[name=assembly]").input_value() == wing


def test_without_a_worker_the_page_stays_and_sends_by_itself(edda, desks):
    desk = desks(edda.user.username)
    page = fill(desk, edda.project.slug)
    page.get_by_role("button", name="Save session").click()
    expect(page.get_by_text("Leave this page open until then")).to_be_visible()
    expect(page.locator("html")).to_have_attribute("data-waiting", re.compile("[1-9]"))
    desk.context.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    nothing_waits(page)
    assert WorkSession.objects.get().attachments.count() == 1
    desk.said.clear()


def test_a_session_whose_answer_was_lost_is_there_once(edda, desks):
    desk = desks(edda.user.username)
    lost = []

    def lose(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch())  # the server has it, the phone never hears
            route.abort("connectionreset")
        else:
            route.continue_()

    page = fill(desk, edda.project.slug, photo=False)
    page.route("**/sessions/new/", lose)
    with page.expect_event("requestfailed", lambda request: request.method == "POST" and "/new/" in request.url):
        page.get_by_role("button", name="Save session").click(no_wait_after=True)
    page.wait_for_url("chrome-error://chromewebdata/")
    page = desk.go(f"/{edda.project.slug}/")
    expect(page.locator("html")).to_have_attribute("data-waiting", re.compile("[01]"))
    nothing_waits(page)
    assert WorkSession.objects.count() == 1
    desk.said.clear()


def test_a_form_that_came_back_with_errors_is_not_sent_by_itself(edda, desks):
    desk = desks(edda.user.username)
    page = fill(desk, edda.project.slug, photo=False)
    page.locator("select[name=assembly]").select_option(index=0)
    page.get_by_role("button", name="Save session").click()
    expect(page.locator("#error-summary")).to_be_visible()
    nothing_waits(page)
    desk.said[:] = [line for line in desk.said if "422" not in line]


def test_at_the_gate_a_photo_without_signal_is_kept_for_its_assembly(edda, desks):
    assembly = make_assembly(edda, "24.1", "Tip float, left")
    area = make_area(edda, assembly, number="24.1-C1", name="Interior before deck bond")
    desk = desks(edda.user.username)
    page = desk.go(f"/{edda.project.slug}/areas/{area.pk}/")
    desk.context.set_offline(True)
    page.get_by_label("Take this photo").first.set_input_files(PHOTO)
    expect(page.get_by_text("No signal. The photo is kept on this phone. When it is sent, choose it")).to_be_visible()
    desk.context.set_offline(False)
    page.reload()
    nothing_waits(page)
    assert [one.thing.pk for one in Photo.objects.get().placements.all()] == [assembly.pk]
    desk.said.clear()
