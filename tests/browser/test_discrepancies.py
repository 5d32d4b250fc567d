"""A discrepancy in a real browser: found with a photo and marked, decided, put right, inspected again, printed."""

import pytest
from playwright.sync_api import expect

from accounts.models import Person
from inspections.models import Discrepancy
from parts.models import Assembly
from tests.factories import PASSWORD, make_area, make_assembly, make_person, make_project, make_user, picture_bytes

pytestmark = pytest.mark.browser


@pytest.fixture
def edda(flushable: None) -> Person:
    _, builder = make_project(user=make_user("edda"))
    return builder


@pytest.fixture
def hull(edda: Person) -> Assembly:
    return make_assembly(edda, "10", name="Hull")


def photo(seed: int) -> dict:
    return {"name": f"void-{seed}.jpg", "mimeType": "image/jpeg", "buffer": picture_bytes(seed=seed)}


def test_from_the_finding_to_the_signature(desks, edda: Person, hull: Assembly) -> None:  # noqa: ANN001
    make_person(edda.project, "inspector", name="Hal Venning", certificate_kind="A&P mechanic")
    hal_person = edda.project.people.get(name="Hal Venning")
    area = make_area(edda, hull, number="10-C1", name="Aft tank")
    slug = edda.project.slug
    desk = desks("edda")
    page = desk.go(f"/{slug}/discrepancies/")
    expect(page.get_by_role("heading", name="No open discrepancies")).to_be_visible()
    desk.look()

    desk.go(f"/{slug}/discrepancies/new/?area={area.pk}")
    page.get_by_role("textbox", name="What was found").fill("Void at the fillet of frame 4, 12 mm long")
    page.get_by_role("radio", name="Major").check()
    page.locator("input[type=file]").first.set_input_files(photo(1))
    desk.look()
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("heading", name="Found, to be decided")).to_be_visible()
    desk.look()

    page.get_by_role("link", name="Mark it").click()
    page.get_by_role("button", name="Ring").click()
    page.get_by_role("button", name="Add in the middle").click()
    page.get_by_role("button", name="Keep marks").click()
    expect(page.get_by_text("The marks on P-0001 are kept: 1 mark")).to_be_visible()

    one = Discrepancy.objects.get()
    desk.go(f"/{slug}/discrepancies/{one.pk}/")
    expect(page.get_by_role("link", name="Change marks")).to_be_visible()
    page.get_by_role("link", name="Decide what is to become of it").click()
    page.get_by_role("radio", name="Rework").check()
    page.get_by_role("textbox", name="How, why, or until when").fill("Grind out and refill")
    desk.look()
    page.get_by_role("button", name="Decide").click()

    page.get_by_role("link", name="Tell what was done").click()
    page.get_by_role("textbox", name="What was done").fill("Ground out, refilled with flox")
    page.locator("input[type=file]").first.set_input_files(photo(2))
    desk.look()
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("heading", name="To be inspected again")).to_be_visible()
    with page.expect_file_chooser() as chooser:
        page.locator("label", has_text="Take a photo, corrected").click()
    chooser.value.set_files(photo(3))
    expect(page.get_by_text("P-0003: kept.")).to_be_visible()
    desk.look()

    hal = desks(hal_person.user.username)
    signing = hal.go(f"/{slug}/discrepancies/{one.pk}/")
    signing.get_by_role("link", name="Inspect again and sign").click()
    hal.look()
    signing.locator("input[name=accepted][value=yes]").check()
    signing.get_by_role("checkbox").check()
    signing.get_by_label("Your password, again").fill(PASSWORD)
    signing.get_by_role("button", name="Sign").click()
    expect(signing.get_by_role("heading", name="Done", exact=True)).to_be_visible()
    hal.look()
    hal.go(f"/{slug}/discrepancies/?state=all")
    expect(signing.get_by_text("Void at the fillet of frame 4")).to_be_visible()
    hal.look()


def test_every_action_of_the_shop_is_large_enough_for_gloves(desks, edda: Person, hull: Assembly) -> None:  # noqa: ANN001
    desk = desks("edda")
    page = desk.go(f"/{edda.project.slug}/discrepancies/new/?assembly={hull.pk}")
    page.get_by_role("textbox", name="What was found").fill("Wrong drill")
    page.get_by_role("button", name="Record it").click()
    box = page.get_by_role("link", name="Decide what is to become of it").bounding_box()
    assert box and box["height"] >= 56
    tall = page.evaluate(
        "[...document.querySelectorAll('main .button.shop')].map(b => b.getBoundingClientRect().height)"
    )
    assert tall and all(height >= 56 for height in tall)


def test_the_filter_works_without_a_script(desks, edda: Person, hull: Assembly) -> None:  # noqa: ANN001
    desk = desks("edda", java_script_enabled=False)
    page = desk.go(f"/{edda.project.slug}/discrepancies/new/?assembly={hull.pk}")
    page.get_by_role("textbox", name="What was found").fill("Crack in the rib")
    page.locator("input[type=file]").first.set_input_files(photo(5))
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="Discrepancies").first.click()
    page.get_by_text("Show only some").click()
    page.get_by_label("Severity").select_option("safety")
    page.get_by_role("button", name="Show these").click()
    expect(page.get_by_role("heading", name="None like that")).to_be_visible()
    page.get_by_role("link", name="Show all").click()
    expect(page.get_by_text("Crack in the rib")).to_be_visible()
