"""Weight and balance in a real browser: a weighing typed with its sum below, cases loud when outside, the plot."""

import os
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from accounts.models import Person
from certification.models import WeighIn
from certification.queries.balance import weigh_in_facts
from certification.rules import balance as rules
from tests.browser.conftest import Desk
from tests.certification.test_balance import amphibian, case
from tests.factories import make_project, make_user

pytestmark = pytest.mark.browser


@pytest.fixture
def builder(flushable: None) -> Person:
    return make_project(user=make_user("edda"))[1]


def picture(page: Page, name: str) -> None:
    """Leave a picture to be looked at where a folder for it is named."""
    folder = os.environ.get("SHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"{name}-{page.viewport_size['width']}.png", full_page=True)


def test_a_weighing_says_its_sum_while_it_is_typed(desks, builder) -> None:
    desk: Desk = desks("edda")
    page = desk.go(f"/{builder.project.slug}/balance/")
    desk.look()
    page.get_by_role("link", name="Weigh the aircraft").click()
    told = page.locator("[data-sum]")
    expect(told).to_have_text("Nothing is read yet.")
    for at, (reading, arm) in enumerate((("524 lb", "62 in"), ("523 lb", "62 in"), ("67 lb", "")), start=1):
        page.get_by_label(f"Scale {at} shows").fill(reading)
        if arm:
            page.get_by_label(f"Arm {at}", exact=False).first.fill(arm)
    expect(told).to_contain_text("505.3 kg. An arm is missing")
    page.get_by_label("Arm 3").fill("244 in")
    expect(told).to_have_text("505.3 kg, center of gravity 1852.8 mm aft of the datum")
    page.get_by_label("Tare 1").fill("half a pound")
    expect(told).to_contain_text("worked out on its page")
    page.get_by_label("Tare 1").fill("")
    # One more row by the server: what is typed stays.
    page.get_by_role("button", name="One more scale").click()
    expect(page.get_by_label("Scale 4 stands under")).to_be_visible()
    expect(page.locator("[data-sum]")).to_have_text("505.3 kg, center of gravity 1852.8 mm aft of the datum")
    page.get_by_label("Where the datum is").fill("Tip of the bow")
    desk.look()
    picture(page, "weighin-form")
    page.get_by_role("button", name="Keep the draft").click()
    expect(page.get_by_role("heading", name="Before it can be finished")).to_be_visible()
    facts = weigh_in_facts(WeighIn.objects.get())
    assert (facts["weight"], facts["arm"]) == ("505.3 kg", "1852.8 mm")
    desk.look()
    picture(page, "weighin")
    page.get_by_role("link", name="Go on").click()
    page.get_by_label("How it was leveled").fill("Seat rails")
    page.get_by_label("Condition").fill("Empty, oil full")
    page.get_by_role("button", name="Keep the draft").click()
    page.get_by_role("button", name="It is all told: finish").click()
    expect(page.get_by_text("Finished: it counts")).to_be_visible()
    desk.look()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_cases_outside_are_loud_and_the_plot_has_its_table(desks, builder, scheme) -> None:
    amphibian(builder)
    case(builder, "Alone", Seats="80 kg", Tank="40 kg")
    case(builder, "Everything", Seats="200 kg", Tank="60 kg", Locker="40 kg")
    desk: Desk = desks("edda", color_scheme=scheme)
    page = desk.go(f"/{builder.project.slug}/balance/")
    notice = page.get_by_role("note").filter(has_text="outside the limits")
    expect(notice).to_contain_text("2 Everything: 80.0 kg over the most weight")
    expect(page.locator("svg.balance-plot:visible")).to_have_count(1)
    expect(page.locator("svg.balance-plot:visible rect.ring.off").first).to_be_visible()
    table = page.get_by_role("table", name="Loading cases with their room to each limit")
    expect(table).to_contain_text("Inside the limits")
    desk.look()
    picture(page, f"balance-{scheme}")
    if scheme == "light":
        for link in ("Correct the limits", "Add an item", "Add a case"):
            page.get_by_role("link", name=link).click()
            desk.look()
            picture(page, link.lower().replace(" ", "-"))
            page.go_back()


# What a phone would type, and what only the server reads.
TYPED = [
    ("524 lb", "62 in"),
    ("12,5", "1,25 m"),
    ("0.5 kg", "-40 mm"),
    ("900 g", "3 ft"),
    ("8 oz", '12"'),
    (".5", "+7"),
    ("0,125 kg", "1 mm"),
]


def test_the_sum_of_the_script_is_the_sum_of_the_server(desks, builder) -> None:
    page = desks("edda").go(f"/{builder.project.slug}/balance/weighings/new/")
    script = page.locator('script[src*="weighin"]').get_attribute("src")
    module = page.evaluate(
        """async ([rows, path]) => {
          const { sum } = await import(path);
          return rows.map(([reading, arm]) => sum([{ reading, arm }, { reading: "100 kg", arm: "2 m", tare: "1 kg" },
            { reading: "2 kg", arm: "1 m", sign: -1 }], { mass: "kg", length: "mm" }));
        }""",
        [TYPED, script.replace("weighin", "weighin-sum")],
    )
    for (reading, arm), told in zip(TYPED, module, strict=True):
        kept = [with_unit(reading, "kg"), with_unit(arm, "mm")]
        found = rules.weighed(
            [rules.Reading("A", kept[0], "", kept[1]), rules.Reading("B", "100 kg", "1 kg", "2 m")],
            [rules.Poured("Fuel", "2 kg", "1 m")],
        )
        assert found is not None and found.arm is not None
        assert told["state"] == "whole", (reading, arm)
        assert told["weight"] == pytest.approx(float(found.weight), rel=1e-12)
        assert told["arm"] == pytest.approx(float(found.arm), rel=1e-12)


def with_unit(text: str, unit: str) -> str:
    """As the form keeps it: with the project's unit where none was typed."""
    return text if any(sign.isalpha() or sign == '"' for sign in text) else f"{Decimal(text.replace(',', '.'))} {unit}"
