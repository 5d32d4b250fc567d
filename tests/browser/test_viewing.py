"""Looking at photos in a real browser: 5,000 on a sheet, the page of one, marks by finger and key, before and after."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from accounts.models import Person
from evidence import commands, queries
from evidence.models import Photo
from tests.browser.conftest import Desk
from tests.factories import make_assembly, make_photo, make_project, make_user, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.slow]

# On the phone, where it is hardest, as many as a long project has.
MANY = {"phone": 5_000, "laptop": 1_500}
LONGEST_GAP = 2_000  # ms: generous, because the machine may be busy with other tests
WATCH = """
window.seen = {shift: 0, afterInput: 0, gap: 0};
new PerformanceObserver((list) => list.getEntries().forEach((one) => {
  if (one.hadRecentInput) seen.afterInput += one.value; else seen.shift += one.value;
})).observe({type: "layout-shift", buffered: true});
let last = performance.now();
const frame = (now) => { seen.gap = Math.max(seen.gap, now - last); last = now; requestAnimationFrame(frame); };
requestAnimationFrame(frame);
"""


@pytest.fixture
def edda(flushable: None) -> Person:
    _, builder = make_project(user=make_user("edda"))
    return builder


# ---- the contact sheet ----


def many(edda: Person, count: int) -> list[Photo]:
    """Rows of photos over up to three years, from the newest to the oldest; their pictures are made up on the way."""
    now = timezone.now()
    rows = [
        Photo(
            project=edda.project,
            number=n + 1,
            digest=f"sha256:{n:064x}",
            size=1000,
            kind="jpg",
            width=640,
            height=480,
            taken_at=now - timedelta(hours=5 * n),
            taken_known="camera",
            received_at=now,
            sent_by=edda,
            drawn_at=now,
            caption="Bulkhead B, fillet and tape" if n % 3 else "",
        )
        for n in range(count)
    ]
    return Photo.objects.bulk_create(rows, batch_size=1000)


def watch_images(page: Page) -> list[str]:
    """The keys of the photos whose small pictures were asked for."""
    asked: list[str] = []
    picture = picture_bytes(size=(320, 240))

    def answer(route) -> None:  # noqa: ANN001
        asked.append(route.request.url.split("/")[-2])
        route.fulfill(body=picture, content_type="image/jpeg")

    page.route(re.compile(r"/320\.jpg$"), answer)
    return asked


def far_away(page: Page, asked: list[str]) -> int:
    """How many of the photos asked for lie more than 6,000 px from the screen."""
    return page.evaluate(
        """(keys) => keys.filter((key) => {
          const box = document.getElementById("p-" + key).getBoundingClientRect();
          return box.top > innerHeight + 6000 || box.bottom < -6000;
        }).length""",
        asked,
    )


def test_many_photos_scroll_to_the_end(desks, edda, size: str) -> None:
    """On the phone by wheel, as a finger moves it, and on the laptop by key."""
    photos = many(edda, MANY[size])
    last = photos[-1]
    desk: Desk = desks("edda")
    page = desk.page
    page.add_init_script(WATCH)
    asked = watch_images(page)
    desk.go("/tarnwader-2/photos/")
    desk.look()
    expect(page.get_by_text(f"{MANY[size]} in the record")).to_be_visible()
    assert asked and far_away(page, asked) == 0
    assert len(asked) < 100
    page.evaluate("seen.gap = 0")
    if size == "phone":
        by_wheel(page, last.pk)
    else:
        by_key(page)
    expect(page.locator(f"#p-{last.pk} img")).to_be_in_viewport(timeout=15_000)
    assert page.locator(".contact-sheet > li").count() == MANY[size]
    assert page.locator("[data-further]").count() == 0
    page.wait_for_load_state("networkidle")
    assert last.pk in asked
    seen = page.evaluate("seen")
    print(f"\n{size}: longest gap {seen['gap']:.0f} ms, layout shift {seen['shift']:.4f}, {len(asked)} pictures")  # noqa: T201
    assert seen["shift"] < 0.1
    assert seen["gap"] < LONGEST_GAP


def by_wheel(page: Page, last: str) -> None:
    """What comes next is there before it is reached."""
    page.mouse.move(200, 400)
    for _ in range(600):
        if page.locator(f"#p-{last}").count() and at_the_end(page):
            return
        page.mouse.wheel(0, 2400)
        page.wait_for_timeout(30)


def by_key(page: Page) -> None:
    """From stop to stop."""
    for _ in range(200):
        page.keyboard.press("End")
        page.wait_for_timeout(60)
        if not page.locator("[data-further]").count():
            break
    page.keyboard.press("End")


def at_the_end(page: Page) -> bool:
    return page.evaluate("scrollY + innerHeight >= document.documentElement.scrollHeight - 4")


def test_a_month_is_one_jump_away_and_two_ticked_photos_are_compared(desks, edda) -> None:
    photos = many(edda, 400)
    desk: Desk = desks("edda")
    page = desk.page
    watch_images(page)
    desk.go("/tarnwader-2/photos/?compare=on")
    page.get_by_text("Jump to a month").click()
    months = page.locator("[data-to-month]")
    desk.look()
    last = months.last.get_attribute("data-to-month")
    months.last.click()
    expect(page.locator(f"#{last}")).to_be_in_viewport()
    expect(page.get_by_role("link", name=re.compile("Newer: "))).to_be_visible()
    expect(page.locator(".month-name").first).to_have_attribute("id", last)
    desk.go("/tarnwader-2/photos/?compare=on")
    ticks = page.get_by_role("checkbox", name=re.compile("Compare P-"))
    for place in range(3):
        ticks.nth(place).check(force=True)
    expect(ticks.nth(0)).not_to_be_checked()
    page.route(re.compile(r"/1280\.jpg$"), lambda route: route.fulfill(body=picture_bytes(), content_type="image/jpeg"))
    page.get_by_role("button", name="Compare the two ticked").click()
    expect(page.get_by_role("heading", name="Before and after")).to_be_visible()
    assert f"pick={photos[1].pk}" in page.url and f"pick={photos[2].pk}" in page.url


# ---- the page of one photo ----


def three(edda: Person) -> list[Photo]:
    """Three photos on one assembly, from the oldest to the newest."""
    assembly = make_assembly(edda, "24.1", "Tip float, left")
    return [
        make_photo(
            edda,
            data=picture_bytes(size=(1600, 1200), seed=n, taken=f"2026:05:1{n} 09:30:00"),
            caption=f"Number {n}",
            places=[assembly],
        )
        for n in range(1, 4)
    ]


def at(page: Page, photo: Photo) -> None:
    expect(page).to_have_url(re.compile(f"/photos/{photo.pk}/"))
    expect(page.get_by_role("heading", name=photo.label, exact=True)).to_be_visible()


def test_keys_lead_through_the_photos_of_the_sheet_it_was_opened_from(desks, edda) -> None:
    old, middle, new = three(edda)
    make_photo(edda, data=picture_bytes(size=(800, 600), seed=9, taken="2026:05:11 12:00:00"))
    place = middle.placements.get().assembly_id
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{middle.pk}/?assembly={place}")
    desk.look()
    expect(page.get_by_text("2 of 3 on this assembly")).to_be_visible()
    page.keyboard.press("ArrowRight")
    at(page, old)
    page.keyboard.press("ArrowRight")
    expect(page.locator("[data-view-status]")).to_have_text("This is the oldest.")
    page.keyboard.press("Home")
    at(page, new)
    page.keyboard.press("End")
    at(page, old)
    page.keyboard.press("ArrowLeft")
    at(page, middle)
    # Keys belong to the field while somebody types in it.
    page.locator("#id_caption").fill("Fillet")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("f")
    at(page, middle)
    page.get_by_role("button", name="Save caption").click()
    expect(page.get_by_text(f"The caption of {middle.label} is saved.")).to_be_visible()
    expect(page.get_by_text("2 of 3 on this assembly")).to_be_visible()
    page.keyboard.press("e")
    expect(page).to_have_url(re.compile(f"/photos/{middle.pk}/edit/"))
    page.go_back()
    page.keyboard.press("Escape")
    expect(page).to_have_url(re.compile(rf"/photos/\?assembly={place}&month=2026-05#p-{middle.pk}"))
    expect(page.locator(f"#p-{middle.pk}")).to_be_in_viewport()


def test_letters_as_keys_can_be_switched_off(desks, edda, size: str) -> None:
    photo = three(edda)[0]
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/")
    if size == "phone":
        page.evaluate("localStorage.setItem('photo-letters-off', '1')")
    else:
        page.get_by_text("Keys", exact=True).click()
        page.get_by_label("Letters E and F are keys here").uncheck(force=True)
        desk.look()
    page.reload()
    page.keyboard.press("f")
    page.keyboard.press("e")
    at(page, photo)
    expect(page.locator("dialog")).not_to_be_visible()


def test_the_full_view_enlarges_and_gives_the_focus_back(desks, edda) -> None:
    photo = three(edda)[1]
    mark(photo, commands.MarkFacts("ring", (2000, 2000, 6000, 6000), "Here"))
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/")
    opener = page.get_by_role("link", name="Full view")
    opener.focus()
    page.keyboard.press("Enter")
    dialog = page.get_by_role("dialog", name=f"{photo.label}, full view")
    expect(dialog).to_be_visible()
    desk.look()
    size_of = lambda: page.locator("[data-plate]").bounding_box()["width"]  # noqa: E731
    fitted = size_of()
    page.keyboard.press("+")
    assert size_of() == pytest.approx(fitted * 1.5, rel=0.01)
    dialog.get_by_role("button", name="Larger").click()
    assert size_of() == pytest.approx(fitted * 2.25, rel=0.01)
    page.keyboard.press("-")
    page.keyboard.press("0")
    assert size_of() == pytest.approx(fitted, rel=0.01)
    page.locator("[data-stage]").dblclick(position={"x": 150, "y": 200})
    assert size_of() == pytest.approx(fitted * 2.5, rel=0.01)
    dialog.get_by_role("button", name="Fit").click()
    dialog.get_by_role("button", name="Hide marks").click()
    expect(dialog.locator("svg.layer")).not_to_be_visible()
    dialog.get_by_role("button", name="Hide marks").click()
    expect(dialog.locator("svg.layer")).to_be_visible()
    dialog.get_by_role("button", name="Original size").click()
    expect(dialog.locator("img")).to_have_js_property("naturalWidth", 1600)
    page.keyboard.press("Escape")
    expect(dialog).not_to_be_visible()
    expect(opener).to_be_focused()
    # The next photo opens in full view, too.
    page.keyboard.press("f")
    page.keyboard.press("ArrowRight")
    expect(page).to_have_url(re.compile("#full$"))
    expect(page.get_by_role("dialog")).to_be_visible()


@pytest.mark.parametrize("size", ["phone"], indirect=False)
def test_a_finger_across_leads_on_and_a_finger_down_only_scrolls(desks, edda, size: str) -> None:
    old, middle, new = three(edda)
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{middle.pk}/")
    swipe(page, (320, 300), (60, 310))
    at(page, old)
    swipe(page, (60, 300), (330, 290))
    at(page, middle)
    swipe(page, (60, 300), (330, 290))
    at(page, new)
    swipe(page, (60, 300), (330, 290))  # there is none newer
    expect(page.locator("[data-view-status]")).to_have_text("This is the newest.")
    swipe(page, (200, 420), (150, 150))
    page.wait_for_timeout(200)
    at(page, new)
    assert page.evaluate("scrollY") > 50
    expect(page.locator("dialog")).not_to_be_visible()


def swipe(page: Page, start: tuple[int, int], end: tuple[int, int], steps: int = 8) -> None:
    """One finger from one place to another, as the browser itself reports it."""
    page.wait_for_load_state("networkidle")
    session = page.context.new_cdp_session(page)
    point = lambda n: [  # noqa: E731
        {"x": start[0] + (end[0] - start[0]) * n / steps, "y": start[1] + (end[1] - start[1]) * n / steps}
    ]
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": point(0)})
    for n in range(1, steps + 1):
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": point(n)})
        page.wait_for_timeout(16)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


# ---- marks ----


def mark(photo: Photo, *marks: commands.MarkFacts) -> None:
    token = queries.marks_token(photo.marks.all())
    commands.mark_photo(by=photo.sent_by, at=timezone.now(), photo=photo, marks=marks, seen=token)


def tap(page: Page, size: str, x: float, y: float) -> None:
    """Tap the picture at shares of its width and height."""
    page.locator("[data-canvas]").scroll_into_view_if_needed()
    box = page.locator("[data-canvas]").bounding_box()
    place = box["x"] + box["width"] * x, box["y"] + box["height"] * y
    page.touchscreen.tap(*place) if size == "phone" else page.mouse.click(*place)


def layer(page: Page) -> str:
    """The drawn layer without handles, as text."""
    return page.evaluate(
        """() => { const copy = document.querySelector(".markup svg.layer").cloneNode(true);
        copy.querySelectorAll(".handle").forEach((one) => one.remove()); return copy.innerHTML; }"""
    )


def test_marks_are_drawn_by_two_taps_kept_and_drawn_alike_by_the_server(desks, edda, size: str) -> None:
    photo = three(edda)[0]
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/")
    page.get_by_role("link", name="Draw marks").click()
    desk.look()
    page.locator("[data-tool=arrow]").click()
    expect(page.locator("[data-tool-words]")).to_contain_text("Tap where the arrow starts")
    tap(page, size, 0.2, 0.8)
    expect(page.locator("[data-tool-words]")).to_contain_text("Tap what it points at")
    tap(page, size, 0.45, 0.6)
    page.locator("[data-tool=ring]").click()
    tap(page, size, 0.9, 0.5)
    tap(page, size, 0.6, 0.2)
    page.locator("[data-tool=note]").click()
    tap(page, size, 0.1, 0.25)
    page.keyboard.type("Fillet radius 10 mm, no dry tape anywhere along the aft face")
    page.locator("[data-row]").first.get_by_label("Words").fill("Dry spot")
    desk.look()
    drawn = layer(page)
    page.get_by_role("button", name="Keep marks").click()
    expect(page.get_by_text("are kept: 3 marks.")).to_be_visible()
    arrow, ring, note = photo.marks.all()
    assert arrow.corners == pytest.approx((2000, 8000, 4500, 6000), abs=60)
    assert ring.corners == pytest.approx((6000, 2000, 9000, 5000), abs=60)
    assert (note.corners[:2], arrow.words) == (pytest.approx((1000, 2500), abs=60), "Dry spot")
    desk.look()
    expect(page.locator(".marks-list")).to_contain_text("Fillet radius 10 mm")
    assert same_drawing(layer(page), drawn)
    page.reload()
    assert same_drawing(layer(page), drawn)


def same_drawing(one: str, other: str) -> bool:
    """Whether two layers have the same shapes, with the same words, in the same places to a fifth of a unit."""
    number = re.compile(r"-?\d+\.\d")
    numbers = [[float(value) for value in number.findall(text)] for text in (one, other)]
    shapes = [re.sub(r"\s*/?></\w+>|\s*/>", "/>", number.sub("#", text)) for text in (one, other)]
    assert shapes[0] == shapes[1]
    return numbers[0] == pytest.approx(numbers[1], abs=0.2)


def test_marks_are_drawn_moved_taken_back_and_taken_away_by_keys_alone(desks, edda) -> None:
    photo = three(edda)[0]
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/marks/")
    page.locator("[data-tool=arrow]").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add in the middle").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")  # from its start to its point
    expect(page.get_by_role("button", name=re.compile("Point of mark 1"))).to_be_focused()
    for key in ("ArrowRight", "Shift+ArrowRight", "ArrowUp", "Shift+ArrowLeft", "ArrowDown", "ArrowDown"):
        page.keyboard.press(key)
    page.get_by_role("button", name="Undo").focus()
    page.keyboard.press("Enter")
    page.get_by_text("By numbers").first.click()
    page.get_by_label("End, from left").fill("75.5")
    page.get_by_label("End, from left").press("Tab")
    page.locator("[data-tool=ring]").click()
    page.get_by_role("button", name="Add in the middle").click()
    page.get_by_role("button", name="Take away mark 2").focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-row]")).to_have_count(1)
    page.get_by_role("button", name="Keep marks").click()
    expect(page.get_by_text("are kept: 1 mark.")).to_be_visible()
    assert photo.marks.get().corners == (4000, 4000, 7550, 6000)


def test_a_mark_is_moved_by_dragging_its_corner(desks, edda, size: str) -> None:
    photo = three(edda)[0]
    mark(photo, commands.MarkFacts("arrow", (2000, 2000, 5000, 5000), "Here"))
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/marks/")
    box = page.locator("[data-canvas]").bounding_box()
    spot = lambda x, y: (box["x"] + box["width"] * x, box["y"] + box["height"] * y)  # noqa: E731
    page.mouse.move(*spot(0.5, 0.5))
    page.mouse.down()
    page.mouse.move(*spot(0.6, 0.6), steps=4)
    page.mouse.move(*spot(1.4, 0.7), steps=4)
    page.mouse.up()
    page.get_by_role("button", name="Keep marks").click()
    expect(page.get_by_text("are kept: 1 mark.")).to_be_visible()
    kept = photo.marks.get()
    assert kept.corners == pytest.approx((2000, 2000, 10_000, 7000), abs=60)
    assert kept.words == "Here"


def test_marks_and_older_photos_work_without_javascript(desks, edda) -> None:
    many(edda, 300)
    photo = make_photo(edda, data=picture_bytes(size=(800, 600), seed=77))
    desk: Desk = desks("edda", java_script_enabled=False)
    watch_images(desk.page)
    page = desk.go(f"/tarnwader-2/photos/{photo.pk}/marks/")
    page.get_by_label("Mark", exact=True).first.select_option("ring")
    page.get_by_label("Words").first.fill("Drain boss")
    page.locator("#id_form-0-at").select_option("Lower right")
    page.get_by_role("button", name="Keep marks").click()
    expect(page.get_by_text("are kept: 1 mark.")).to_be_visible()
    expect(page.locator(".marks-list")).to_contain_text("Drain boss (ring at the lower right)")
    desk.go("/tarnwader-2/photos/")
    first = page.locator(".contact-sheet > li").count()
    page.get_by_role("link", name="Older photos").click()
    assert page.locator(".contact-sheet > li").count() >= 60 and first >= 60
    expect(page.get_by_role("link", name="To the newest")).to_be_visible()


# ---- before and after ----


def test_before_and_after_lie_over_each_other_under_the_slider(desks, edda) -> None:
    old, _, new = three(edda)
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/photos/{new.pk}/")
    page.get_by_role("link", name=re.compile(f"{old.label} ")).click()
    expect(page.get_by_text("2 days between them")).to_be_visible()
    desk.look()
    slider = page.get_by_label("How much of the one before")
    slider.focus()
    cut = lambda: page.evaluate("getComputedStyle(document.querySelector('.over')).clipPath")  # noqa: E731
    assert "50%" in cut()
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    assert "60%" in cut()
