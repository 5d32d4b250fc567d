"""The certification file on a phone's and a laptop's screen: readiness, a mismatch, a sheet to copy from, placards."""

from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from certification.commands import equipment, placards
from tests.factories import make_project, make_user

pytestmark = pytest.mark.browser


def test_the_file_is_taken_up_told_and_put_right(desks, tmp_path) -> None:  # noqa: ANN001
    identity = {"model_designation": "Tarnwader 2", "serial_number": "001", "builder_name": "Edda Norrell"}
    project, builder = make_project(user=make_user("edda"), **identity)
    known = {"by": builder, "at": timezone.now(), "project": project}
    desk = desks("edda", permissions=["clipboard-read", "clipboard-write"])
    page, at = desk.page, f"/{project.slug}/file"

    desk.go(f"{at}/")
    desk.look()
    page.get_by_role("button", name="Take up this list").click()
    expect(page.get_by_text("is taken up")).to_be_visible()
    desk.look()

    # One paper is told, with O for 0.
    page.get_by_role("link", name="Application for the certificate, Form 8130-6").click()
    desk.look()
    page.get_by_role("link", name="Say how it stands").click()
    desk.look()
    page.get_by_label("Ready").check()
    page.get_by_label("Needed on").fill("2030-07-03")
    page.get_by_label("Marks").fill("NO-DEMO")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("look alike").first).to_be_visible()
    desk.look()

    # Its document is put with it.
    page.get_by_role("link", name="Add one").click()
    desk.look()
    paper = tmp_path / "form.pdf"
    paper.write_bytes(b"%PDF-1.7 form")
    page.get_by_label("File").set_input_files(paper)
    page.get_by_role("button", name="Put it with the paper").click()
    expect(page.get_by_text("DOC-1").first).to_be_visible()

    # What to write where: copied to the letter.
    page.get_by_role("link", name="What to write where").click()
    expect(page.get_by_text("told otherwise")).to_be_visible()
    desk.look()
    page.get_by_role("button", name="Copy Registration marks").click()
    expect(page.get_by_text("Copied: N0-DEMO")).to_be_visible()
    if page.context.browser:
        assert page.evaluate("navigator.clipboard.readText()") == "N0-DEMO"

    # The registration is needed two months before.
    desk.go(f"{at}/papers/registration/edit/")
    page.get_by_label("Needed on").fill("2030-07-03")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("ask by 3 May 2030")).to_be_visible()

    # The mismatch stands on top of the file and of the printed record, until it is put right.
    desk.go(f"/{project.slug}/record/")
    expect(page.get_by_text("told otherwise")).to_be_visible()
    desk.go(f"{at}/")
    desk.look()
    page.get_by_role("link", name="Application for the certificate, Form 8130-6").first.click()
    page.get_by_role("link", name="Say how it stands").click()
    page.get_by_label("Marks").fill("N0-DEMO")
    page.get_by_role("button", name="Keep it").click()
    desk.go(f"{at}/")
    expect(page.get_by_text("told otherwise")).to_have_count(0)

    # A draft, the equipment list, placards and their sheet.
    desk.go(f"{at}/drafts/program_letter/")
    desk.look()
    page.get_by_role("button", name="Keep the draft").click()
    expect(page.get_by_text("Still to fill in")).to_be_visible()
    desk.look()
    line = equipment.add_equipment(**known, name="Radio", weight="0.9 kg", weight_g=Decimal(900))
    placards.add_placard(
        **known, kind="marks", words="N0-DEMO", letter_mm=Decimal("76.2"), count=2, place="Both sides of the hull"
    )
    sign = placards.add_placard(**known, kind="placard", words="EXPERIMENTAL", letter_mm=Decimal("40"), count=1)
    for path in (
        *("list/", "drafts/", "equipment/", f"equipment/{line.pk}/", "equipment/new/", "papers/new/"),
        *("placards/", f"placards/{sign.pk}/", "placards/new/?from=plate", "papers/8130-6/withdraw/"),
    ):
        desk.go(f"{at}/{path}")
        desk.look()
    desk.go(f"{at}/placards/")
    expect(page.get_by_text("Too low: at least 50.8 mm")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="All on A4").click()
    assert download.value.suggested_filename == f"placards-{project.slug}.pdf"
