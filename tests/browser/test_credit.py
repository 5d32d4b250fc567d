"""Credit from nothing to a share: a list read and taken up, tasks split, evidence seen, and what if it is hired out."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from certification.commands import credit as commands
from certification.queries import credit as credit_queries
from evidence import commands as evidence
from tests.browser.conftest import Desk
from tests.factories import (
    NOW,
    make_assembly,
    make_person,
    make_photo,
    make_project,
    make_session,
    make_user,
    worked,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]
LIST = (
    "section,section_title,task_id,task_text\nF,Fuselage,F1,Fabricate Members\nF,Fuselage,F2,Fabricate Skins\n"
    "W,Wings,W1,Fabricate Spars\n"
)


def forget_refusal(desk: Desk) -> None:
    """The browser notes the status of a refusal; it is expected."""
    desk.said[:] = [line for line in desk.said if "422" not in line]


@pytest.fixture
def edda(flushable: None):  # noqa: ANN201
    _, edda = make_project(user=make_user("edda"))
    hull = make_assembly(edda, "10", "Hull")
    gear = make_assembly(edda, "40", "Landing gear")
    at_work = make_photo(edda)
    evidence.describe_photo(by=edda, at=NOW, photo=at_work, caption="Edda at the strongback", builder_in_frame=True)
    make_session(edda, hull, photos=[at_work, make_photo(edda)])
    make_session(edda, gear, worked(make_person(edda.project, "paid", name="Rue Tell")))
    return edda


def test_credit_from_a_list_to_a_share_and_its_evidence(desks, edda, tmp_path: Path) -> None:
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/credit/")
    expect(page.get_by_role("heading", name="No list of tasks yet")).to_be_visible()
    desk.look()

    # A list with a fault: the line is named, and can be put right on the page.
    page.get_by_role("link", name="Load a list").click()
    file = tmp_path / "tasks.csv"
    file.write_text(LIST + "W,Wings,W1,Twice\n")
    page.get_by_label("Title").fill("Own list")
    page.get_by_label("Edition").fill("2026-05")
    page.get_by_label("Where it comes from").fill("Typed from the form")
    page.get_by_label("CSV file").set_input_files(file)
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_text("Task W1 stands in line 4 already.")).to_be_visible()
    forget_refusal(desk)
    desk.look()
    pasted = page.get_by_label("Or paste it here")
    pasted.fill(pasted.input_value().replace("W1,Twice", "W2,Fabricate Ribs"))
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_role("heading", name="4 tasks read, none taken up yet")).to_be_visible()
    desk.look()
    page.get_by_role("button", name="Take it up").click()
    expect(page.get_by_text("Own list, not the official form.")).to_be_visible()
    expect(page.get_by_role("heading", name="The builders' share")).to_be_visible()
    desk.look()

    # One task: the rest is counted while choosing, and one tap gives it away.
    page.get_by_role("link", name="F1 Fabricate Members").click()
    page.get_by_label("Maker of the kit or part", exact=True).select_option("3")
    expect(page.get_by_text("7 of 10 tenths nobody's yet.")).to_be_visible()
    page.get_by_role("button", name="Rest to: Builders, fabrication").click()
    expect(page.get_by_text("All ten tenths are given.")).to_be_visible()
    page.get_by_label("Reason for the split").fill("Stringers came in the kit")
    page.get_by_label("10 Hull").check()
    desk.look()
    page.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.get_by_text("F1 is kept.")).to_be_visible()
    held = page.get_by_role("region", name="What the record holds")
    expect(held.get_by_text("Strong", exact=True)).to_be_visible()
    expect(held.get_by_role("link", name="Take photos at 10")).to_be_visible()
    desk.look()

    # Too much is refused with what was chosen still there.
    page.get_by_role("link", name=re.compile("^Next: F2")).first.click()
    page.get_by_label("Maker of the kit or part", exact=True).select_option("8")
    page.get_by_label("Builders, assembly", exact=True).select_option("4")
    expect(page.get_by_text("12 tenths; one task is 10.")).to_be_visible()
    page.get_by_label("40 Landing gear").check()
    page.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.get_by_text("Take 2 away.").first).to_be_visible()
    expect(page.get_by_label("Builders, assembly", exact=True)).to_have_value("4")
    forget_refusal(desk)
    desk.look()
    page.get_by_label("Builders, assembly", exact=True).select_option("2")
    page.get_by_role("button", name="Keep it", exact=True).click()
    expect(page.get_by_text("Paid help stands in the record and not in its column")).to_be_visible()
    desk.look()

    desk.go("/tarnwader-2/credit/evidence/")
    expect(page.get_by_role("heading", name="1 of 2 claimed tasks can be shown well")).to_be_visible()
    expect(page.get_by_text("sessions of Rue Tell, paid help")).to_be_visible()
    desk.look()
    page.get_by_role("link", name=re.compile("Photos at 40")).first.click()
    expect(page).to_have_url(re.compile("/capture/"))

    desk.go("/tarnwader-2/credit/what-if/")
    page.get_by_role("checkbox", name=re.compile("^F1 ")).check()
    page.get_by_role("button", name="Count it").click()
    expect(page.get_by_role("heading", name="1 task hired out")).to_be_visible()
    expect(page.get_by_text("0.7 of 4 points would go from the builders to paid help")).to_be_visible()
    desk.look()

    desk.go("/tarnwader-2/credit/add/?section=W")
    desk.look()
    desk.go("/tarnwader-2/credit/lists/")
    desk.look()
    desk.go("/tarnwader-2/credit/lists/starter/")
    expect(page.get_by_text("not the official form").first).to_be_visible()
    desk.look()


def test_many_tasks_are_filled_in_on_one_page(desks, edda) -> None:
    one = credit_queries.starter()
    commands.take_up_list(
        by=edda, at=NOW, project=edda.project, title=one.title, edition="1", source=one.source, sections=one.sections
    )
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/credit/")
    page.get_by_role("link", name="Fill in many tasks").click()
    desk.look()
    task = page.get_by_role("group", name=re.compile(r"^F1\b"))
    for label, tenths in (("Maker", "5"), ("Fabricated", "7")):
        task.get_by_label(label, exact=True).fill(tenths)
    for field in task.locator("label").all():
        box = field.bounding_box()
        assert box["height"] >= 44 and box["width"] >= 44
    heights = {round(field.bounding_box()["y"]) for field in task.locator("input[type=text]").all()}
    assert len(heights) == 1
    page.get_by_role("group", name=re.compile(r"^F2\b")).get_by_label("N/A").check()
    page.get_by_role("button", name="Keep what changed").click()
    expect(page.get_by_text("That is 12 tenths").first).to_be_visible()
    expect(page.get_by_text("Say why, for F2").first).to_be_visible()
    expect(task.get_by_label("Fabricated", exact=True)).to_have_value("7")
    forget_refusal(desk)
    desk.look()
    task.get_by_label("Fabricated", exact=True).fill("5")
    page.get_by_label("Reason for all that you change here").fill("As the kit list says")
    page.get_by_role("button", name="Keep what changed").click()
    expect(page.get_by_text("2 tasks are kept.")).to_be_visible()

    # An assembly that no task names is ticked at the task that is opened from there.
    desk.go("/tarnwader-2/credit/evidence/")
    page.get_by_role("link", name=re.compile("^Tie it to a task.*10 Hull")).click()
    expect(page.get_by_text("Which task is 10 Hull part of?")).to_be_visible()
    desk.look()
    page.get_by_role("link", name=re.compile("^F1 ")).click()
    expect(page.get_by_label("10 Hull")).to_be_checked()
    desk.look()
