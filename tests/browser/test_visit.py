"""A whole visit on a phone, by link and not signed in; then a correction, and signing again by a second link."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from evidence.commands import MarkFacts, mark_photo
from evidence.queries import marks_token
from inspections import commands
from inspections.models import Area, Discrepancy
from journal.models import Signature
from tests.browser.conftest import Desk
from tests.factories import client_for, make_area, make_assembly, make_person, make_photo, make_project, make_user

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NARROW = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}


@pytest.fixture(params=["phone"])
def size(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture
def edda(flushable: None) -> Iterator[Person]:
    cache.clear()
    _, builder = make_project(user=make_user("edda"), place="Hangar row 3")
    yield builder


@pytest.fixture
def area(edda: Person) -> Area:
    """A gate with everything in place but the inspector's signature."""
    now = timezone.now()
    make_person(edda.project, "inspector", name="Hal Venning", account=False, certificate_number="DEMO-0417")
    made = make_area(edda, make_assembly(edda, "24.1"), number="24.1-C1")
    photo = make_photo(edda, at=now - timedelta(hours=1), caption="Drain boss, sealed and taped")
    marks = [MarkFacts("ring", (3000, 3000, 6000, 6500), "Sealant")]
    mark_photo(by=edda, at=now, photo=photo, marks=marks, seen=marks_token([]))
    items = {one.kind: one for one in made.requirements.all()}
    commands.show_photo(by=edda, at=now, requirement=items["photo"], photo=photo)
    commands.answer_check(by=edda, at=now, requirement=items["check"], answer="yes")
    return made


def link(edda: Person, area: Area) -> str:
    """The path of a new visit link for Hal."""
    form = {
        "person": edda.project.people.get(name="Hal Venning").pk,
        "areas": [area.pk],
        "purpose": "Interior before the deck is bonded",
        "days": 7,
    }
    return client_for(edda).post(f"/{edda.project.slug}/visits/new/", form).context["path"]


def draw(page: Page) -> None:
    """A name, with real moves of the pointer."""
    pad = page.locator("[data-pad]")
    pad.scroll_into_view_if_needed()
    box = pad.bounding_box()
    assert box
    for start, *way in ([(0.1, 0.7), (0.2, 0.2), (0.3, 0.7)], [(0.4, 0.4), (0.5, 0.75), (0.6, 0.35), (0.9, 0.6)]):
        page.mouse.move(box["x"] + start[0] * box["width"], box["y"] + start[1] * box["height"])
        page.mouse.down()
        for x, y in way:
            page.mouse.move(box["x"] + x * box["width"], box["y"] + y * box["height"], steps=8)
        page.mouse.up()


def open_visit(desk: Desk, path: str) -> Page:
    page = desk.go(path)
    desk.look()
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("heading", name="Visit page for Hal Venning")).to_be_visible()
    desk.look()
    return page


def test_a_whole_visit_by_link_then_a_correction_then_signing_again(desks, edda, area) -> None:
    desk: Desk = desks(**NARROW)
    page = open_visit(desk, link(edda, area))
    page.get_by_role("link", name="24.1-C1 Interior").click()
    expect(page.get_by_text("Only the sign-off is missing")).to_be_visible()
    desk.look()
    page.get_by_role("button", name="Seen Drain boss").click()
    expect(page.get_by_role("button", name="Seen Drain boss")).to_have_attribute("aria-pressed", "true")
    page.locator("summary", has_text="Interior vacuumed").click()
    page.get_by_label("Why it could not be reached").last.fill("Bay 3 is behind the tank")
    page.get_by_role("button", name="Save this").last.click()
    expect(page.get_by_text("Bay 3 is behind the tank")).to_be_visible()
    desk.look()
    page.locator(".photo a").first.click()
    expect(page.get_by_role("heading", name="P-0001")).to_be_visible()
    expect(page.locator(".layer ellipse").first).to_be_attached()
    desk.look()
    page.go_back()
    page.get_by_role("link", name="Remark on 24.1-C1").click()
    desk.look()
    page.get_by_label("What you found").fill("Label on the drain tube is missing")
    page.get_by_label("Minor").check()
    page.get_by_label("Closing has to wait for it").uncheck()
    page.get_by_role("button", name="Save this remark").click()
    expect(page.get_by_text("Label on the drain tube is missing")).to_be_visible()
    assert Discrepancy.objects.get().blocks is False

    page.get_by_role("link", name="Read what you sign").click()
    lacks = page.locator("[data-sign-lacks]")
    expect(lacks).to_contain_text("tick the statement")
    expect(page.get_by_role("button", name="Accepted: sign 24.1-C1")).to_be_hidden()
    expect(page.locator("#id_agreed")).not_to_be_checked()
    desk.look()
    page.get_by_label("Signing as").fill("Technical counselor")
    draw(page)
    expect(lacks).to_have_text("To sign as accepted, tick the statement.")
    # What is typed and drawn is still there when the page comes back; the statement has to be ticked anew.
    page.reload()
    expect(page.get_by_label("Signing as")).to_have_value("Technical counselor")
    expect(lacks).to_have_text("To sign as accepted, tick the statement.")
    page.locator("#id_agreed").check()
    desk.look()
    page.get_by_role("button", name="Accepted: sign 24.1-C1").click()
    expect(page.get_by_role("heading", name="This visit has ended")).to_be_visible()
    desk.look()
    assert page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('visit:'))") == []
    signature = Signature.objects.get()
    assert signature.accepted and len(signature.strokes) == 2 and signature.capacity == "Technical counselor"

    builder: Desk = desks("edda")
    builder.go(f"/tarnwader-2/areas/{area.pk}/")
    expect(builder.page.get_by_role("img", name="Drawn signature of Hal Venning")).to_be_visible()
    builder.look()
    builder.page.get_by_role("link", name="P-0001").first.click()
    builder.page.get_by_role("textbox", name="Caption").fill("Drain boss, sealed again")
    builder.page.get_by_role("button", name="Save caption").click()
    builder.go(f"/tarnwader-2/areas/{area.pk}/")
    changed = builder.page.locator(".signature-block .since")
    expect(changed).to_contain_text("Signed, then changed")
    expect(changed).to_contain_text("Drain boss, sealed again")
    builder.look()

    again: Desk = desks(**NARROW)
    page = open_visit(again, link(edda, area))
    page.get_by_role("link", name="Read and sign 24.1-C1").click()
    page.get_by_label("Signing as").fill("Technical counselor")
    page.get_by_text("Type my name instead").click()
    page.get_by_label("Your name as your signature").fill("Hal Venning")
    page.locator("#id_agreed").check()
    page.get_by_role("button", name="Accepted: sign 24.1-C1").click()
    expect(page.get_by_role("heading", name="This visit has ended")).to_be_visible()
    builder.page.reload()
    expect(builder.page.get_by_role("heading", name="May be closed")).to_be_visible()


def test_over_a_poor_link_the_words_come_first_and_a_lost_tap_says_so(desks, edda, area) -> None:
    """Slow 3G with a bad latency; then no link at all."""
    desk: Desk = desks(**NARROW)
    page = open_visit(desk, link(edda, area))
    session = desk.context.new_cdp_session(page)
    session.send("Network.enable")
    slow = {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000}
    session.send("Network.emulateNetworkConditions", slow)
    page.get_by_role("link", name="24.1-C1 Interior").click()
    seen = page.get_by_role("button", name="Seen Interior vacuumed")
    seen.click()
    expect(seen).to_have_attribute("aria-pressed", "true")
    session.send("Network.emulateNetworkConditions", {**slow, "offline": True})
    page.get_by_role("button", name="Seen Drain boss").click()
    expect(page.get_by_role("status").filter(has_text="No signal")).to_be_visible()
    session.send("Network.emulateNetworkConditions", slow)
    page.get_by_role("button", name="Seen Drain boss").click()
    expect(page.get_by_role("button", name="Seen Drain boss")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text("No signal")).to_be_hidden()
    desk.said.clear()


def test_not_accepted_and_why(desks, edda, area) -> None:
    desk: Desk = desks(**NARROW)
    page = open_visit(desk, link(edda, area))
    page.get_by_role("link", name="Read and sign 24.1-C1").click()
    page.get_by_label("Signing as").fill("Inspector")
    draw(page)
    page.get_by_text("Not accepted, say why").click()
    button = page.get_by_role("button", name="Sign as not accepted")
    expect(button).to_be_hidden()
    page.get_by_label("What is not accepted, and why").fill("Chips under the bulkhead")
    expect(button).to_be_visible()
    desk.look()
    button.click()
    expect(page.get_by_role("heading", name="This visit has ended")).to_be_visible()
    assert Signature.objects.get().reason == "Chips under the bulkhead"
    builder: Desk = desks("edda")
    builder.go(f"/tarnwader-2/areas/{area.pk}/")
    expect(builder.page.locator(".signature-block")).to_contain_text("Chips under the bulkhead")
    builder.look()


def test_the_builder_makes_a_link_and_hands_over_the_phone(desks, edda, area) -> None:
    desk: Desk = desks("edda", **NARROW)
    page = desk.go("/tarnwader-2/visits/")
    desk.look()
    page.get_by_role("link", name="Make a visit link").click()
    desk.look()
    page.get_by_label("24.1-C1 Interior before deck bond").check()
    page.get_by_role("button", name="Make the link").click()
    expect(page.get_by_text("Shown this once")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Hand over this phone").click()
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("heading", name="Visit page for Hal Venning")).to_be_visible()
    assert page.locator("nav").count() == 0
    desk.go("/tarnwader-2/visits/")
    page.get_by_role("link", name="V-1 Hal Venning").click()
    expect(page.get_by_role("heading", name="Opened")).to_be_visible()
    desk.look()
    desk.go(f"/tarnwader-2/paper/area/{area.pk}/")
    desk.look()
