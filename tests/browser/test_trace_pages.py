"""Lots, tools, papers and where things were used, on a phone's and a laptop's screen."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from foundation.fields import new_key
from parts import commands as parts
from process.commands import tools
from process.models import Layup, Mix, MixUse, Ply, Torque
from tests.factories import (
    make_assembly,
    make_lot,
    make_part,
    make_photo,
    make_project,
    make_user,
)

pytestmark = pytest.mark.browser


def test_a_bad_lot_and_a_bad_tool_are_followed(desks, tmp_path) -> None:  # noqa: ANN001
    project, builder = make_project(user=make_user("edda"))
    now = timezone.now()
    hull = make_assembly(builder, "10", "Hull")
    deck = make_assembly(builder, "10.1", "Deck", parent=hull)
    sheet = make_part(builder, deck, "S-1", name="Flat sheet, four plies")
    common = {"project": project, "assembly": deck, "done_at": now, "done_by": builder, "entered_at": now}
    common |= {"entered_by": builder, "finished_at": now}
    resin = make_lot(builder, "R-3", quantity="5 kg", material="resin", expires_on=now.date() - timedelta(days=4))
    hardener = make_lot(builder, "H-17", name="Slow hardener", quantity="1 kg", material="hardener")
    cloth = make_lot(builder, "G-2", name="Glass cloth", faw="290 g/m2", material="cloth")
    layup = Layup.objects.create(number=1, part=sheet, title="Sheet", request_id=new_key(), **common)
    mix = Mix.objects.create(
        number=1, request_id=new_key(), resin_lot=resin, hardener_lot=hardener, parts_resin=10, parts_hardener=3,
        hardener="900 g", hardener_g=900, **common,
    )  # fmt: skip
    MixUse.objects.create(mix=mix, layup=layup)
    for place in range(3):
        Ply.objects.create(layup=layup, position=place + 1, kind="cloth", cloth="Twill", lot=cloth)
        piece = make_part(builder, deck, f"S-1{place}", name=f"Gusset {place + 1}")
        parts.add_origin(by=builder, at=now, part=piece, kind="cut_from", source=sheet)
    make_photo(builder, caption="Sheet, first ply", places=[sheet])
    wrench = tools.add_tool(
        by=builder, at=now, project=project, number="T-1", name="Click wrench", kind="torque",
        full_scale="150 in-lb", interval_months=12,
    )  # fmt: skip
    day = now.date() - timedelta(days=30)
    tools.record_event(by=builder, at=now, tool=wrench, kind="calibrated", happened_on=day, certificate="C-88")
    Torque.objects.create(number=1, request_id=new_key(), wrench=wrench, place="Hinge bolt", **common)
    desk = desks("edda")
    page, at = desk.page, f"/{project.slug}"

    desk.go(f"{at}/lots/{hardener.pk}/")
    expect(page.get_by_text("Layups: L-1")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="List and picture").click()
    expect(page.get_by_role("img", name="The same as the lists below")).to_be_visible()
    expect(page.get_by_text("was cut into").first).to_be_visible()
    # The picture scrolls inside its panel, and the page says so where it is wider than that.
    panel = page.get_by_role("group", name="Picture, may be wider than the screen")
    wider = panel.evaluate("box => box.scrollWidth > box.clientWidth")
    hint = page.get_by_text("push it sideways")
    expect(hint).to_be_visible() if wider else expect(hint).to_be_hidden()
    assert wider == panel.evaluate("box => { box.scrollLeft = 500; return box.scrollLeft > 0 }")
    desk.look()
    page.get_by_role("link", name="S-10 Gusset 1").click()
    desk.look()
    page.get_by_role("link", name="All lots in it").click()
    expect(page.get_by_role("link", name="H-17 Slow hardener")).to_be_visible()
    desk.look()
    page.go_back()
    page.get_by_role("link", name="Its whole story on one page").click()
    expect(page.get_by_text("Mix, by Edda Norrell")).to_be_visible()
    desk.look()
    desk.go(f"{at}/parts/{sheet.pk}/origins/")
    desk.look()

    # The wrench turns out bad: the next page lists what was made with it.
    desk.go(f"{at}/tools/{wrench.pk}/event/")
    desk.look()
    page.get_by_label("Found bad").check()
    page.get_by_label("In words").fill("Eight percent high")
    page.get_by_role("button", name="Enter it").click()
    expect(page.get_by_role("heading", name="Found bad on")).to_be_visible()
    expect(page.get_by_text("1 of 1 still to look at")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Looked at it TQ-1").click()
    desk.look()
    page.get_by_label("Still good").check()
    page.get_by_label("How, and what it read").fill("Read again with T-2: 46 in-lb")
    page.get_by_role("button", name="It was looked at").click()
    expect(page.get_by_text("all looked at")).to_be_visible()
    desk.look()
    page.get_by_role("link", name="Correct TQ-1").click()
    desk.look()

    # Its certificate is put with it, straight from its page.
    desk.go(f"{at}/tools/{wrench.pk}/")
    page.get_by_role("link", name="Add one").click()
    desk.look()
    certificate = tmp_path / "cal.pdf"
    certificate.write_bytes(b"%PDF-1.7 certificate")
    page.get_by_label("File").set_input_files(certificate)
    page.get_by_label("About what happened to it").select_option(index=2)
    page.get_by_role("button", name="Put it with the tool").click()
    page.get_by_role("link", name="Calibration certificate, T-1 Click wrench").first.click()
    expect(page.get_by_role("link", name="Tool T-1 Click wrench")).to_be_visible()
    desk.look()
    for path in (f"/tools/{wrench.pk}/", "/tools/", "/tools/new/", "/stores/watch/", f"/lots/{resin.pk}/edit/"):
        desk.go(at + path)
        desk.look()

    # A receipt is kept with the lot.
    desk.go(f"{at}/documents/new/?on={hardener.pk}&kind=receipt")
    desk.look()
    paper = tmp_path / "receipt.pdf"
    paper.write_bytes(b"%PDF-1.7 receipt")
    page.get_by_label("File").set_input_files(paper)
    page.get_by_label("Title").fill("Receipt of the hardener")
    page.get_by_role("button", name="Keep the document").click()
    expect(page.get_by_role("heading", name="Receipt of the hardener")).to_be_visible()
    desk.look()
    with page.expect_download() as saved:
        page.get_by_role("link", name="Download the file").click()
    assert saved.value.suggested_filename == "DOC-2 receipt.pdf"
    desk.go(f"{at}/documents/")
    desk.look()
