"""A bond in a real browser: its steps tapped one after the other, and the time for the adhesive counted down."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from accounts.models import Person
from process.commands import bonds as commands
from process.models import Bond
from tests.browser.conftest import Desk
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
    expect(page.get_by_text("Squeeze-out was seen all round.")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Correct", exact=True).click()
    desk.look()
