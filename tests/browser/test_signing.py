"""A key is made in the browser and the builder's record signed with it, on the phone and on the laptop."""

from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from certification import commands
from certification.models import SignedCopy
from evidence.queries import document_path
from foundation.pdf_signature import check_pdf
from tests import factories
from tests.browser.conftest import Desk

pytestmark = pytest.mark.browser
WORDS = "rib spar keel strake"


def test_a_key_is_made_and_the_record_signed_with_it(desks, transactional_db, tmp_path: Path) -> None:
    project, edda = factories.make_project(user=factories.make_user("edda"))
    factories.make_session(edda, factories.make_assembly(edda, "10", "Hull"))
    pack = commands.freeze_record(by=edda, at=timezone.now(), project=project)
    desk: Desk = desks("edda")
    page = desk.go(f"/{project.slug}/record/{pack.pk}/")
    desk.look()
    page.get_by_role("link", name="Sign the file").click()
    desk.look()
    page.get_by_role("link", name="Make a key").click()
    desk.look()
    page.get_by_label("Passphrase", exact=True).fill(WORDS)
    page.get_by_label("Passphrase again").fill("rib spar keel")
    page.get_by_role("button", name="Make the key file").click()
    expect(page.get_by_text("The two passphrases differ. Type both again.").first).to_be_visible()
    desk.look()
    page.get_by_label("Passphrase", exact=True).fill(WORDS)
    page.get_by_label("Passphrase again").fill(WORDS)
    with page.expect_download() as coming:
        page.get_by_role("button", name="Make the key file").click()
    key = tmp_path / "signing-key.p12"
    coming.value.save_as(key)

    page = desk.go(f"/{project.slug}/record/{pack.pk}/sign/")
    page.get_by_label("Key file (.p12 or .pfx)").set_input_files(key)
    page.get_by_label("Its passphrase").fill("another one entirely")
    page.get_by_role("button", name="Sign the file").click()
    expect(page.get_by_text("This key file cannot be opened").first).to_be_visible()
    desk.look()
    page.get_by_label("Key file (.p12 or .pfx)").set_input_files(key)
    page.get_by_label("Its passphrase").fill(WORDS)
    page.get_by_role("button", name="Sign the file").click()
    expect(page.get_by_role("link", name="Signed file")).to_be_visible()
    desk.look()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Signed file").click()
    coming.value.save_as(tmp_path / "signed.pdf")
    copy = SignedCopy.objects.get()
    assert (tmp_path / "signed.pdf").read_bytes() == document_path(copy.document).read_bytes()
    assert check_pdf(tmp_path / "signed.pdf", copy.certificate).good
    # The browser notes both refusals by their status.
    desk.said[:] = [line for line in desk.said if "422" not in line]
