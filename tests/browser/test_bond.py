"""A bond in a real browser: its steps tapped one after the other, and the time for the adhesive counted down."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from buildlog.models import Receipt
from foundation.fields import new_key
from process.commands import bonds as commands
from process.models import Bond
from tests.browser.conftest import Desk
from tests.browser.offline import forgive_lost_signal, until, wait_until_kept
from tests.factories import make_assembly, make_part, make_project, make_user

pytestmark = pytest.mark.browser


@pytest.fixture
def builder(flushable: None) -> Person:
    edda = make_project(user=make_user("edda"))[1]
    make_part(edda, make_assembly(edda, "24.1", "Tip float, left"), "TW2-RIB", name="Rib")
    return edda


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_steps_are_tapped_and_the_wipe_has_to_dry(desks, builder, scheme) -> None:
    desk: Desk = desks("edda", color_scheme=scheme)
    page = desk.go(f"/{builder.project.slug}/bonds/new/")
    desk.look()
    page.get_by_label("Assembly").select_option(label="24.1 Tip float, left")
    page.get_by_label("What is bonded").fill("Rib to skin")
    page.get_by_label("Was there peel ply?").select_option("yes")
    page.get_by_role("button", name="Begin the bond").click()
    expect(page.get_by_text("B-1 is begun")).to_be_visible()
    desk.look()
    for step in ("Peel ply off", "Abraded", "Last wipe"):
        page.get_by_role("button", name=re.compile(f"^Done now: {step}$")).click()
    # Once all is sent the page is the server's by itself.
    expect(row(page, "wiped_at").locator("[data-step-state]")).to_contain_text("In place")
    expect(row(page, "wiped_at").locator("[data-step-kept]")).to_be_hidden()
    timer = page.get_by_role("timer")
    expect(timer).to_have_text(re.compile(r"^0:1[45]:\d\d$"))
    expect(page.get_by_text("until the last wipe is dry. Wait.")).to_be_visible()
    desk.look()
    # As if it had been wiped twenty minutes ago.
    bond = Bond.objects.get()
    commands.tell_step(
        bond, by=builder, at=timezone.now(), step="wiped_at", when=timezone.now() - timedelta(minutes=20)
    )
    page.reload()
    expect(page.get_by_text("left: the adhesive may go on now.")).to_be_visible()
    expect(timer).to_have_text(re.compile(r"^23:\d\d:\d\d$"))
    page.get_by_role("button", name=re.compile("^Done now: Adhesive on$")).click()
    expect(page.get_by_text("Last wipe at")).to_be_visible()
    page.get_by_role("button", name="Seen all round").click()
    expect(row(page, "squeeze_out").locator("[data-step-state]")).to_be_visible()
    expect(page.get_by_text("Squeeze-out was seen all round.")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Correct", exact=True).click()
    desk.look()


@pytest.fixture
def bond(builder: Person) -> Bond:
    values = {"kind": "secondary", "had_peel_ply": "no", "title": "Rib to skin", "request_id": new_key()}
    now, assembly = timezone.now(), make_assembly(builder, "24.2", "Tip float, right")
    made = commands.start_bond(by=builder, at=now, project=builder.project, assembly=assembly, **values)
    return commands.tell_step(made, by=builder, at=now, step="abraded_at", when=now - timedelta(minutes=5))


def row(page: Page, step: str):  # noqa: ANN201
    return page.locator(f"[data-step={step}]")


@pytest.mark.slow
@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_from_wipe_to_squeeze_out_without_signal(desks, builder, bond) -> None:  # noqa: ANN001
    desk: Desk = desks("edda", service_workers="allow")
    page = desk.go(f"/{builder.project.slug}/bonds/{bond.pk}/")
    expect(row(page, "wiped_at")).to_contain_text("Not yet")
    desk.look()
    wait_until_kept(page)
    desk.context.set_offline(True)
    page.reload()
    before = timezone.now()
    page.get_by_role("button", name="Done now: Last wipe").click()
    expect(row(page, "wiped_at")).to_contain_text(re.compile(r"Kept on this phone, \d\d:\d\d – will be sent"))
    timer = page.locator("[data-window] [data-left]")
    expect(timer).to_have_text(re.compile(r"^0:1[45]:\d\d$"))
    desk.look()
    # The tap and its clock are still there when the page is opened again.
    page.wait_for_timeout(1200)
    page.reload()
    expect(row(page, "wiped_at")).to_contain_text("will be sent")
    expect(timer).to_have_text(re.compile(r"^0:14:\d\d$"))
    again = timezone.now()
    page.get_by_role("button", name="Wiped again now: Last wipe").click()
    page.wait_for_timeout(1200)
    on = timezone.now()
    page.get_by_role("button", name="Done now: Adhesive on").click()
    expect(timer).to_be_hidden()
    expect(page.get_by_role("button", name="Wiped again now")).to_have_count(0)
    page.get_by_role("button", name="Not all round").click()
    page.get_by_role("button", name="Seen all round").click()
    expect(row(page, "squeeze_out")).to_contain_text("Yes. Kept on this phone")
    desk.look()
    bond.refresh_from_db()
    assert (bond.wiped_at, bond.on_at, bond.squeeze_out) == (None, None, "")
    page.wait_for_timeout(3000)

    # Signal again: everything comes once, with the times of the taps.
    came = timezone.now()
    desk.context.set_offline(False)
    until(page, lambda: Receipt.objects.count() == 5, "what was tapped has not come")
    bond.refresh_from_db()
    assert before < again < bond.wiped_at < on < bond.on_at < came - timedelta(seconds=2)
    assert bond.wiped_at - again < timedelta(seconds=1.2)
    assert bond.on_at - on < timedelta(seconds=2)
    assert bond.squeeze_out == "yes"
    # By itself the page becomes that of the server.
    expect(page.get_by_text("Squeeze-out was seen all round.")).to_be_visible(timeout=30_000)
    expect(row(page, "on_at")).not_to_contain_text("Kept on this phone")
    desk.look()
    forgive_lost_signal(desk)


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_a_tap_that_is_not_taken_says_why_and_stays(desks, builder, bond) -> None:  # noqa: ANN001
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/bonds/{bond.pk}/")
    commands.finish_bond(bond, by=builder, at=timezone.now())
    page.get_by_role("button", name="Done now: Last wipe").click()
    expect(page.get_by_role("alert")).to_contain_text("Open it again on its page, then send this again")
    page.get_by_role("link", name="It is still kept on this phone").click()
    expect(page.locator("[data-list=stuck]")).to_contain_text("B-1: last wipe")
    commands.reopen_bond(bond, by=builder, at=timezone.now(), reason="A tap was still on the phone")
    page.locator("[data-list=stuck] [data-act=send]").click()
    until(page, lambda: Bond.objects.get().wiped_at is not None, "the tap was not sent again")
    desk.said[:] = [line for line in desk.said if "422" not in line]
