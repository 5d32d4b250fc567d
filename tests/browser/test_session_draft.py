"""What is typed about a session stays on the device until the server has it."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from buildlog import commands
from buildlog.models import WorkSession
from evidence.models import Photo
from tests.factories import make_assembly, make_project, make_session, picture_bytes, worked

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.parametrize("size", ["phone"], indirect=True)]

DRAFT = "session-draft:"


@pytest.fixture
def edda(flushable):  # noqa: ANN001, ANN201
    _, builder = make_project()
    make_assembly(builder, "20", "Wing")
    return builder


def keys(page) -> list[str]:  # noqa: ANN001
    return page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('session-draft:'))")


def new(person) -> str:  # noqa: ANN001
    return f"/{person.project.slug}/sessions/new/"


def test_a_draft_with_its_photo_comes_back_after_a_reload_and_goes_once_it_is_saved(edda, desks):
    desk = desks(edda.user.username)
    page = desk.go(new(edda))
    page.get_by_label("What was done").fill("Ribs glued")
    page.locator("select[name=assembly]").select_option(label="20 Wing")
    page.get_by_label("Bonding").check()
    page.locator("input[name=new_photos][multiple]").set_input_files(
        {"name": "rib.jpg", "mimeType": "image/jpeg", "buffer": picture_bytes(seed=9900)}
    )
    page.get_by_text("Sent", exact=True).wait_for()
    page.reload()
    assert page.get_by_label("What was done").input_value() == "Ribs glued"
    assert page.get_by_label("Bonding").is_checked()
    assert page.locator("input[name=photos]").input_value() == Photo.objects.get().pk
    assert page.get_by_text("Typed on this device and not saved yet").is_visible()
    assert page.locator("[data-draft-take]").is_hidden()
    desk.look()
    page.get_by_role("button", name="Save session").click()
    page.wait_for_url(lambda url: "/new/" not in url)
    session = WorkSession.objects.get()
    assert (session.note, session.attachments.count()) == ("Ribs glued", 1)
    assert keys(page) == []
    assert desk.go(new(edda)).get_by_label("What was done").input_value() == ""


def test_a_photo_taken_while_the_timer_runs_outlives_leaving_the_page_and_can_be_removed(edda, desks):
    wing = make_assembly(edda)
    session = commands.start_timer(by=edda, at=timezone.now(), project=edda.project, assembly=wing)
    desk = desks(edda.user.username)
    address = f"/{edda.project.slug}/timer/{session.pk}/photo/"
    page = desk.go(address)
    for number in (1, 2):
        page.locator("input[name=new_photos][multiple]").set_input_files(
            {"name": f"rib-{number}.jpg", "mimeType": "image/jpeg", "buffer": picture_bytes(seed=9910 + number)}
        )
        page.get_by_text("Sent", exact=True).nth(number - 1).wait_for()
    page.get_by_role("button", name="Remove rib-2.jpg").click()
    desk.go(f"/{edda.project.slug}/")  # left without a word
    assert session.attachments.count() == 2
    page = desk.go(address)
    assert page.locator("[data-attached]").count() == 2
    desk.look()
    page.locator("input[name=new_photos][multiple]").set_input_files(
        {"name": "rib-3.jpg", "mimeType": "image/jpeg", "buffer": picture_bytes(seed=9913)}
    )
    page.get_by_text("Sent", exact=True).wait_for()
    for _ in range(2):
        page.locator("[data-attached] [data-remove]").last.click()
    page.get_by_role("button", name="Keep with session 1").click()
    page.get_by_text("1 photo kept with session 1").wait_for()
    assert session.attachments.count() == 1
    assert Photo.objects.count() == 3


def test_start_afresh_drops_the_draft(edda, desks):
    page = desks(edda.user.username).go(new(edda))
    page.get_by_label("What was done").fill("Not this")
    page.reload()
    page.get_by_role("button", name="Start afresh").click()
    page.wait_for_function("document.querySelector('[name=note]').value === ''")
    assert keys(page) == []


def test_a_draft_does_not_cover_what_somebody_else_wrote_meanwhile_but_can_be_put_in(edda, desks):
    wing = make_assembly(edda)
    stretch = worked(edda, timezone.now() - timedelta(hours=3), minutes=60)
    session = make_session(edda, wing, stretch, at=timezone.now(), note="First words")
    page = desks(edda.user.username).go(f"/{edda.project.slug}/sessions/{session.pk}/edit/")
    page.get_by_label("What was done").fill("Words on the phone")
    commands.correct_session(
        by=edda,
        at=timezone.now(),
        session=session,
        worked=[stretch],
        shares=[(wing, 1)],
        note="Words of another",
        reason="Wrong",
    )
    page.reload()
    assert page.get_by_label("What was done").input_value() == "Words of another"
    assert page.get_by_text("The session was changed since then").is_visible()
    page.get_by_role("button", name="Put in what was typed").click()
    assert page.get_by_label("What was done").input_value() == "Words on the phone"


def test_drafts_that_are_too_old_or_cannot_be_read_are_dropped_in_silence(edda, desks):
    page = desks(edda.user.username).go(new(edda))
    drafts = {
        "broken": "{not json",
        "former": json.dumps([["note", "x"]]),
        "empty": "null",
        "old": json.dumps(
            {"at": (timezone.now() - timedelta(days=8)).timestamp() * 1000, "seen": "", "values": [["note", "Old"]]}
        ),
    }
    for name, text in [*drafts.items(), (new(edda), drafts["old"])]:
        page.evaluate("([name, text]) => localStorage.setItem(name, text)", [DRAFT + name, text])
    page.reload()
    assert keys(page) == []
    assert page.get_by_label("What was done").input_value() == ""


def test_a_device_that_keeps_nothing_does_not_hinder_the_form(edda, desks):
    desk = desks(edda.user.username)
    desk.page.add_init_script(
        "Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }"
    )
    page = desk.go(new(edda))
    page.get_by_label("What was done").fill("Ribs glued")
    page.locator("select[name=assembly]").select_option(label="20 Wing")
    page.get_by_role("button", name="Save session").click()
    page.wait_for_url(lambda url: "/new/" not in url)
    assert WorkSession.objects.get().note == "Ribs glued"
