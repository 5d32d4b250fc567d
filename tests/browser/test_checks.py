"""Checks in a real browser: the setting before tightening, marks tapped on a photo, three scales under an aircraft."""

import os
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from accounts.models import Person
from foundation.fields import new_key
from process.commands import checks, shots
from process.models import TapMap, Tool
from tests.browser.conftest import Desk
from tests.factories import NOW, make_assembly, make_part, make_photo, make_project, make_user, picture_bytes

pytestmark = pytest.mark.browser


@pytest.fixture
def builder(flushable: None) -> Person:
    edda = make_project(user=make_user("edda"))[1]
    make_assembly(edda, "24.1", "Tip float, left")
    return edda


def picture(page: Page, name: str) -> None:
    """Leave a picture to be looked at where a folder for it is named."""
    folder = os.environ.get("SHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}-{page.viewport_size['width']}.png", full_page=True)


def test_the_setting_stands_there_before_it_is_tightened(desks, builder) -> None:
    Tool(project=builder.project, number="W1", name="Click wrench", kind="torque", full_scale="200 in-lb",
         resolution="1 in-lb").save(force_insert=True)  # fmt: skip
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/checks/")
    desk.look()
    page.get_by_role("link", name="Tighten a fastener").click()
    page.get_by_label("Which one").fill("Strut, lower bolt")
    page.get_by_label("Thread").select_option("1/4-28")
    page.get_by_label("Nut", exact=False).first.select_option("tension")
    page.get_by_label("Wrench").first.select_option(label="W1 Click wrench")
    page.get_by_label("Drag of the nut").fill("8 in-lb")
    page.get_by_label("Drag of the nut").blur()
    expect(page.locator(".setting-figure")).to_have_text("Set the wrench to 68 in-lb")
    page.get_by_text("Adapter", exact=True).click()
    page.get_by_label("Lever").fill("10 in")
    page.get_by_label("Adapter length").fill("2.5 in")
    page.get_by_label("Adapter length").blur()
    expect(page.locator(".setting-figure")).to_have_text("Set the wrench to 54.4 in-lb")
    page.get_by_label("Assembly").select_option(label="24.1 Tip float, left")
    desk.look()
    picture(page, "torque-new")
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".setting-figure")).to_have_text("Set the wrench to 54.4 in-lb")
    desk.look()
    page.get_by_label("Wrench showed").fill("54.4 in-lb")
    page.get_by_label("Witness mark painted").check()
    page.get_by_role("button", name="Tightened: judge it").click()
    expect(page.locator("[data-verdict]").first).to_contain_text("60 in-lb on the nut, in the window")
    desk.look()
    picture(page, "torque")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_heard_is_tapped_on_the_photo(desks, builder, scheme) -> None:
    float_ = make_assembly(builder, "24.2", "Tip float, right")
    tapmap = checks.record_check(
        "tapmap", by=builder, at=NOW, project=builder.project, assembly=float_, request_id=new_key(),
        place="Left skin", skin="1 mm", skin_mm=Decimal(1),
    )  # fmt: skip
    photo = make_photo(builder, data=picture_bytes(size=(1200, 800), seed=5), at=NOW)
    shots.show_shot(by=builder, at=NOW, record=tapmap, photo=photo)
    desk: Desk = desks("edda", color_scheme=scheme)
    page = desk.go(f"/{builder.project.slug}/checks/tapmap/{tapmap.pk}/marks/")
    rows = page.locator("[data-row]")
    expect(rows).to_have_count(0)
    canvas = page.locator("[data-canvas]")
    box = canvas.bounding_box()
    canvas.click(position={"x": box["width"] * 0.25, "y": box["height"] * 0.5})
    page.get_by_role("button", name="Good", exact=True).click()
    canvas.click(position={"x": box["width"] * 0.75, "y": box["height"] * 0.25})
    expect(rows).to_have_count(2)
    # The same by keys alone.
    page.get_by_role("button", name="Doubtful", exact=True).focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add one in the middle").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    expect(page.get_by_label("% from the left, mark 3")).to_have_value("51")
    expect(page.get_by_label("% from the top, mark 3")).to_have_value("40")
    page.get_by_label("Words, mark 1").fill("near the rib")
    expect(canvas.locator(".tap-layer > svg")).to_have_count(3)
    page.get_by_label("Yes", exact=True).check()
    desk.look()
    picture(page, f"taps-edit-{scheme}")
    page.get_by_role("button", name="Keep what was heard").click()
    expect(page.locator(".tap-list li")).to_have_count(3)
    expect(page.locator(".tap-list li").first).to_contain_text("near the rib")
    desk.look()
    picture(page, f"taps-{scheme}")
    found = [(tap.sound, round(tap.x / 100), round(tap.y / 100)) for tap in TapMap.objects.get().taps.all()]
    assert found == [("dull", 25, 50), ("good", 75, 25), ("doubtful", 51, 40)]


def test_a_part_is_weighed_and_gets_its_weight(desks, builder) -> None:
    make_part(builder, make_assembly(builder, "24.3", "Lid"), "P-9", estimate=Decimal(400), estimate_unit="g")
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/checks/weighing/new/")
    page.get_by_label("What is weighed").fill("Hatch lid")
    page.get_by_label("Scale shows", exact=False).first.fill("14.5 oz")
    page.get_by_label("Assembly").select_option(label="24.3 Lid")
    page.get_by_label("Part", exact=False).first.select_option(index=1)
    expect(page.locator(".check-look")).to_contain_text("off the estimate of 400 g")
    page.get_by_text("Whole aircraft on three scales").click()
    desk.look()
    picture(page, "weighing-new")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("button", name="Write 14.5 oz to the part").click()
    expect(page.get_by_text("now weighs 14.5 oz, from W-1.")).to_be_visible()
    desk.look()
    picture(page, "weighing")
