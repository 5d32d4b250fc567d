"""The main job end to end in a real browser, on a phone and on a laptop, on real files."""

import re
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import expect
from pypdf import PdfReader

from accounts.models import Person
from buildlog.models import WorkSession
from evidence.models import Photo
from tests.browser.conftest import Desk
from tests.factories import make_area, make_assembly, make_person, make_project, make_user, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def crew(flushable: None) -> tuple[Person, Person]:
    """A builder and an inspector; the project's clocks show the middle of the day, so that no test meets midnight."""
    hour = timezone.now().hour
    west = (hour - 14) % 24
    zone = f"Etc/GMT+{west}" if west <= 12 else f"Etc/GMT-{24 - west}"
    project, edda = make_project(user=make_user("edda"), time_zone=zone)
    hal = make_person(
        project, "inspector", name="Hal Venning", certificate_kind="A&P mechanic", certificate_number="DEMO-0417"
    )
    return edda, hal


@pytest.fixture
def camera_roll(tmp_path: Path) -> list[Path]:
    """Three photos as phones write them: a JPEG, one stored on its side, and a HEIC."""
    heif = pytest.importorskip("pillow_heif")
    from PIL import Image

    upright, turned, heic = tmp_path / "IMG_1.jpg", tmp_path / "IMG_2.jpg", tmp_path / "IMG_3.heic"
    upright.write_bytes(picture_bytes(size=(1600, 1200), seed=1))
    turned.write_bytes(picture_bytes(size=(1600, 1200), orientation=6, seed=2))
    out = BytesIO()
    heif.from_pillow(Image.linear_gradient("L").resize((1024, 768)).convert("RGB")).save(out, quality=60)
    heic.write_bytes(out.getvalue())
    return [upright, turned, heic]


def test_from_the_timer_to_the_printed_record(desks, crew, camera_roll, size: str) -> None:
    edda, hal = crew
    assembly = make_assembly(edda, "24.1", "Tip float, left")
    area = make_area(edda, assembly, number="24.1-C1", name="Interior before deck bond")
    desk: Desk = desks("edda")
    page = desk.page

    # The timer runs after one tap, and still runs after a reload and on another device.
    expect(page).to_have_url(re.compile("/tarnwader-2/$"))
    desk.look()
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.get_by_text("Running", exact=True)).to_be_visible()
    page.reload()
    expect(page.get_by_text("Running", exact=True)).to_be_visible()
    other = desks("edda")
    expect(other.page.get_by_text("Running", exact=True)).to_be_visible()
    desk.look()

    # Three photos right at the timer while it runs; they stand on the page for the session's photos as well.
    for photo in camera_roll:
        page.locator("section[data-request] [data-take]").set_input_files(photo)
    expect(page.get_by_text("3 photos kept on the server")).to_be_visible(timeout=20_000)
    desk.go(f"/tarnwader-2/timer/{WorkSession.objects.get().pk}/photo/")
    expect(page.locator("[data-attached]")).to_have_count(3)
    desk.look()
    desk.go("/tarnwader-2/")
    assert sorted(Photo.objects.values_list("kind", flat=True)) == ["heic", "jpg", "jpg"]

    # Stop in one tap; the start is put right; saved.
    page.get_by_role("button", name="Stop and log").click()
    expect(page.get_by_role("heading", name="Log the session")).to_be_visible()
    desk.look()
    start = (timezone.now().astimezone(edda.project.zone) - timedelta(hours=2)).strftime("%H:%M")
    page.get_by_label("From", exact=True).first.fill(start)
    page.get_by_label("What was done").fill("Bulkhead B taped, both faces.")
    page.get_by_role("button", name="Save session").click()
    expect(page.get_by_text(re.compile("Session 1 is kept"))).to_be_visible()
    expect(page.get_by_role("figure")).to_have_count(3)
    desk.look()

    # The hours stand on the assembly.
    desk.go(f"/tarnwader-2/assemblies/{assembly.pk}/")
    expect(page.locator(".title-block")).to_contain_text("2.0")
    expect(page.get_by_role("heading", name="May not be closed: 3 missing")).to_be_visible()
    desk.look()

    supply(desk, area.pk, camera_roll[0])
    sign(desks(hal.user.username), area.pk)
    close(desk, area.pk)
    check_record(desk, size)
    tour(desk, assembly.pk)


def supply(desk: Desk, area: str, photo: Path) -> None:
    """The builder supplies the photo and the answer that the gate asks for."""
    page = desk.go(f"/tarnwader-2/areas/{area}/")
    desk.look()
    page.get_by_label("Take this photo").set_input_files(photo)
    expect(page.get_by_role("heading", name="May not be closed: 2 missing")).to_be_visible(timeout=15_000)
    page.get_by_role("button", name="Yes").click()
    expect(page.get_by_role("heading", name="May not be closed: 1 missing")).to_be_visible()
    expect(page.get_by_text("This becomes a button when 3 is in place.")).to_be_visible()
    expect(page.get_by_role("link", name="Read and sign")).to_have_count(0)


def sign(desk: Desk, area: str) -> None:
    """The inspector reads what he signs and signs it with his password; a wrong one is refused and nothing is lost."""
    page = desk.go(f"/tarnwader-2/areas/{area}/")
    page.get_by_role("link", name="Read and sign").click()
    desk.look()
    page.get_by_label("I have read what this signature covers").check()
    page.get_by_label("Your password, again").fill("not the password")
    page.get_by_role("button", name="Sign: accepted").click()
    expect(page.get_by_text("That is not this account's password.").first).to_be_visible()
    desk.look()
    desk.said[:] = [line for line in desk.said if "422" not in line]  # the refusal itself; the browser notes its status
    page.get_by_label("I have read what this signature covers").check()
    page.get_by_label("Your password, again").fill("birch ply and glass")
    page.get_by_role("button", name="Sign: accepted").click()
    expect(page.get_by_text("Not changed since signing")).to_be_visible()
    expect(page.locator(".signature-block").first).to_contain_text("DEMO-0417")
    desk.look()


def close(desk: Desk, area: str) -> None:
    """All in place, the sentence has become a button."""
    page = desk.go(f"/tarnwader-2/areas/{area}/")
    expect(page.get_by_role("heading", name="May be closed")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Close up 24.1-C1").click()
    desk.look()
    page.get_by_role("button", name="Close up 24.1-C1").click()
    expect(page.get_by_role("heading", name=re.compile("^Closed up .* 20"))).to_be_visible()
    desk.look()


def check_record(desk: Desk, size: str) -> None:
    """The builder's record is made and downloaded, and says what was done."""
    page = desk.go("/tarnwader-2/record/")
    desk.look()
    page.get_by_role("button", name="Make the builder's record").click()
    with page.expect_download(timeout=20_000) as waiting:
        page.get_by_role("link", name=re.compile("Download")).first.click()
    reader = PdfReader(waiting.value.path())
    words = "\n".join(sheet.extract_text() for sheet in reader.pages)
    assert "Bulkhead B taped, both faces." in words
    assert "Hal Venning" in words
    assert f"1 of {len(reader.pages)}" in words


def tour(desk: Desk, assembly: str) -> None:
    """Every other page of the project once: no finding, no console error."""
    for path in (
        "/projects/new/",
        "/settings/",
        "/tarnwader-2/assemblies/",
        "/tarnwader-2/assemblies/new/",
        f"/tarnwader-2/assemblies/{assembly}/edit/",
        f"/tarnwader-2/assemblies/{assembly}/move/",
        "/tarnwader-2/parts/",
        "/tarnwader-2/parts/new/",
        "/tarnwader-2/sessions/",
        "/tarnwader-2/sessions/new/",
        "/tarnwader-2/photos/",
        f"/tarnwader-2/photos/{Photo.objects.first().pk}/",
        "/tarnwader-2/holds/",
        "/tarnwader-2/areas/new/",
        "/tarnwader-2/hours/",
        "/tarnwader-2/people/",
        "/tarnwader-2/people/new/",
        "/tarnwader-2/project/",
        "/tarnwader-2/journal/",
        "/health/",
    ):
        desk.go(path)
        desk.look()


def test_the_main_job_works_without_javascript(desks, crew, camera_roll) -> None:
    edda, _ = crew
    assembly = make_assembly(edda, "24.1", "Tip float, left")
    desk: Desk = desks("edda", java_script_enabled=False)
    page = desk.go("/tarnwader-2/sessions/new/")
    page.get_by_role("combobox", name="Assembly", exact=True).select_option(assembly.pk)
    page.get_by_label("What was done").fill("Logged without scripts.")
    page.get_by_label("From phone or disk").set_input_files(camera_roll[:2])
    page.get_by_role("button", name="Save session").click()
    expect(page.get_by_text("Session 1 is kept")).to_be_visible()
    expect(page.get_by_role("figure")).to_have_count(2)
