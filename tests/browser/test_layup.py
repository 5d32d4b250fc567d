"""A layup from before to demold on a phone, without signal while resin is wet; the mix form and the server agree."""

import time
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from accounts.models import Person
from evidence.models import Photo
from parts.models import Assembly
from process.commands import common, layups
from process.models import Layup, Mix, Shot
from process.rules import mixes as rules
from process.rules.mixes import MixFacts, Scale
from tests.browser.conftest import Desk
from tests.factories import NOW, make_assembly, make_project, make_user, picture_bytes
from tests.process.shop import make_layup, make_mix, make_scale

pytestmark = [pytest.mark.browser, pytest.mark.slow]
phone = pytest.mark.parametrize("size", ["phone"], indirect=True)
laptop = pytest.mark.parametrize("size", ["laptop"], indirect=True)


@pytest.fixture
def edda(flushable: None) -> Person:
    return make_project(user=make_user("edda"))[1]


@pytest.fixture
def shell(edda: Person) -> Assembly:
    return make_assembly(edda, "24.1", "Tip float, left")


def wait_until_kept(page: Page) -> None:
    """The worker has the page that is open, so that it opens without signal."""
    until = time.monotonic() + 30
    while not page.evaluate("async () => Boolean(await caches.match(location.pathname))"):
        assert time.monotonic() < until, "the worker has not kept the page of the layup"
        page.wait_for_timeout(100)


def forgive_lost_signal(desk: Desk) -> None:
    """The browser notes each fetch that fails without signal; those are what this test is about."""
    desk.said[:] = [line for line in desk.said if "ERR_INTERNET_DISCONNECTED" not in line]


def fill_ratio(page: Page) -> None:
    ratio = page.get_by_text("Ratio, pot life, lots and scale")
    if not page.get_by_label("Parts of hardener").is_visible():
        ratio.click()
    page.get_by_label("Parts of hardener").fill("27")
    page.get_by_label("May lie off by, %").fill("2")
    page.get_by_label("Pot life, minutes").fill("30")


@phone
def test_from_before_to_demold_with_no_signal_while_it_is_wet(desks, edda, shell, tmp_path: Path) -> None:  # noqa: ANN001
    desk: Desk = desks("edda", service_workers="allow")
    page = desk.go("/tarnwader-2/layups/new/")
    page.get_by_label("Assembly").select_option(shell.pk)
    page.get_by_label("What is laid up").fill("Shell, lower")
    page.get_by_role("button", name="Begin the layup").click()

    # Before: clean hands.
    rows = page.locator("[data-ply-row]")
    for at, (cloth, degrees) in enumerate([("Glass twill", "±45"), ("Glass twill", "0/90"), ("Glass plain", "±45")]):
        rows.nth(at).locator("[name=cloth]").fill(cloth)
        rows.nth(at).locator("[name=orientation]").fill(degrees)
        rows.nth(at).locator("[name=faw]").fill("280")
    desk.look()
    page.locator(".save-bar button").click()
    page.get_by_label("Room temperature").fill("72 °F")
    page.get_by_label("Humidity, %").fill("48")
    page.get_by_label("Cut cloth, weighed").fill("412 g")
    desk.look()
    page.get_by_role("button", name="Keep: before").click()
    expect(page.locator("[data-mix-here]")).to_contain_text("Mix about 288.4 g")
    desk.look()

    # Mixing: the verdict stands there before the pot is spread.
    layup = Layup.objects.get()
    wait_until_kept(page)
    page.wait_for_timeout(300)
    desk.context.set_offline(True)
    page.reload()
    fill_ratio(page)
    page.get_by_label("Resin on the scale").fill("145.0")
    page.get_by_label("Hardener on the scale").fill("49")
    expect(page.locator("[data-mix-verdict]")).to_have_attribute("data-verdict", "bad")
    expect(page.locator("[data-mix-verdict]")).to_contain_text("Do not spread it")
    page.get_by_label("Hardener on the scale").fill("39,0")
    expect(page.locator("[data-mix-verdict]")).to_contain_text("Good: 26.9 per 100 of resin, +0.4 % off")
    page.get_by_role("button", name="Mixed: keep it").click()
    pot = page.locator("[data-pots] [data-pot]")
    expect(pot).to_contain_text("min:s left")
    expect(page.locator("[data-wet-said]")).to_contain_text("1 mix")

    # Wet: gloves on, a reload in between, still no signal.
    taken = tmp_path / "IMG_7.jpg"
    taken.write_bytes(picture_bytes(seed=77))
    with page.expect_file_chooser() as camera:
        page.locator("[data-ply='1'] [data-take]").click()
    camera.value.set_files(taken)
    expect(page.locator("[data-wet-said]")).to_contain_text("1 photo")
    page.get_by_role("button", name="Ply 1 laid").click()
    page.reload()
    expect(page.locator("[data-wet-count]")).to_have_text("1 of 3 laid")
    expect(pot).to_contain_text("min:s left")
    page.get_by_role("button", name="Ply 2 laid").click()
    page.get_by_role("button", name="Ply 3 laid").click()
    expect(page.locator("[data-wet-count]")).to_have_text("3 of 3 laid")
    pot.get_by_role("button", name="Pot finished").click()
    expect(pot).to_have_count(0)
    assert not Mix.objects.exists() and not Shot.objects.exists()
    assert not layup.plies.filter(laid_at__isnull=False).exists()

    # Signal again: everything comes once, with the times of the taps.
    desk.context.set_offline(False)
    expect(page.locator("[data-wet-said]")).to_be_hidden(timeout=90_000)
    until = time.monotonic() + 60
    while not (Shot.objects.exists() and Mix.objects.filter(spread_at__isnull=False).exists()):
        assert time.monotonic() < until, "what was captured has not come"
        page.wait_for_timeout(250)
    mix, shot = Mix.objects.get(), Shot.objects.get()
    assert (mix.resin, mix.hardener, mix.spread_at > mix.mixed_at) == ("145.0 g", "39,0 g", True)
    assert (shot.layup, shot.ply, shot.photo) == (layup, 1, Photo.objects.get())
    assert layup.plies.filter(laid_at__isnull=False).count() == 3
    layup.refresh_from_db()
    assert layup.first_wetout_at <= layup.last_wetout_at
    forgive_lost_signal(desk)

    # Bag and demold.
    page = desk.go(f"/tarnwader-2/layups/{layup.pk}/?moment=bag")
    page.get_by_label("Vacuum, below ambient").fill("24")
    page.get_by_label("Drop test, pump off at").fill("24")
    page.get_by_label("Drop test, then").fill("21")
    page.get_by_label("After, minutes").fill("5")
    desk.look()
    page.get_by_role("button", name="Keep: bag").click()
    expect(page.locator(".at-a-glance")).to_contain_text("Bag leaks")
    page.goto(f"{desk.base}/tarnwader-2/layups/{layup.pk}/?moment=demold")
    page.get_by_label("Thickness").fill("0.65 mm")
    page.get_by_label("Weight").fill("1 lb 12 oz")
    page.locator("#id_fate_0").check()
    page.get_by_role("button", name="Keep: demold").click()
    expect(page.get_by_text("Fiber volume 0.50")).to_be_visible()
    desk.look()
    page.get_by_role("button", name="Everything is told: finish").click()
    expect(page.locator(".layup-block")).to_contain_text("Finished")
    expect(page.locator(".layup-block")).to_contain_text("1 outside its limits")
    desk.look()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_finished_layup_begins_with_what_is_wrong_and_leads_to_it(desks, edda, shell, scheme) -> None:  # noqa: ANN001
    layup = make_layup(edda, shell)
    for position in (1, 2, 3):
        layups.lay_ply(layup, by=edda, at=NOW, position=position)
    make_mix(edda, shell, used_in=layup, spread_at=NOW)
    make_mix(edda, shell, hardener="45.0 g", used_in=layup, spread_at=NOW)
    common.finish(Layup.objects.get(pk=layup.pk), by=edda, at=NOW)
    desk: Desk = desks("edda", color_scheme=scheme)
    page = desk.go("/tarnwader-2/layups/")
    desk.look()
    page.get_by_role("link", name="L-1").click()
    glance = page.locator(".at-a-glance")
    expect(glance).to_contain_text("1 of 5 verdicts is outside its limits")
    expect(page.get_by_role("button", name="Keep: demold")).to_have_count(0)
    glance.get_by_role("link", name="M-2 mix ratio").click()
    expect(page.locator(".verdict:target")).to_be_in_viewport()
    expect(page.locator(".verdict:target")).to_contain_text("Rule: ")
    # A good one says its rule once it is asked.
    good = page.locator(".verdict", has_text="M-1 mix ratio")
    expect(good.get_by_text("Rule: ")).to_be_hidden()
    good.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(good.get_by_text("Rule: ")).to_be_visible()
    desk.look()
    # On paper nothing is folded.
    page.emulate_media(media="print", color_scheme=scheme)
    other = page.locator(".verdict", has_text="Plies").locator(".rule > p")
    assert other.evaluate("(rule) => rule.getBoundingClientRect().height") > 0
    page.emulate_media(media="screen", color_scheme=scheme)
    page.get_by_role("link", name="Demold").click()
    expect(page.get_by_role("button", name="Keep: demold")).to_be_visible()


@phone
def test_a_ply_is_told_in_less_than_a_screen(desks, edda, shell) -> None:  # noqa: ANN001
    layup = make_layup(edda, shell)
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/layups/{layup.pk}/plies/")
    card = page.locator("[data-ply-row]").first
    assert card.bounding_box()["height"] < page.viewport_size["height"] / 2
    extent, splice = (card.locator(f"[name={name}]").bounding_box() for name in ("extent", "splice"))
    assert extent["y"] == splice["y"]
    # What is chosen stops before the arrow.
    assert card.locator("[name=lot]").evaluate("(lot) => parseFloat(getComputedStyle(lot).paddingRight)") > 30


@phone
def test_the_alarm_sounds_at_the_end_of_the_pot_life_and_is_silenced(desks, edda, shell) -> None:  # noqa: ANN001
    layup = make_layup(edda, shell)
    desk: Desk = desks("edda")
    # The tones that are played, counted where they begin.
    desk.context.add_init_script(
        "globalThis.tones = 0; const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (...at) { globalThis.tones += 1; return start.apply(this, at); };"
    )
    page = desk.go(f"/tarnwader-2/layups/{layup.pk}/?moment=mixing")
    fill_ratio(page)
    page.get_by_label("Pot life, minutes").fill("0.05")
    page.get_by_label("Resin on the scale").fill("100")
    page.get_by_label("Hardener on the scale").fill("27")
    page.get_by_role("button", name="Mixed: keep it").click()
    pot = page.locator("[data-pots] [data-pot]")
    expect(pot).to_contain_text("min:s over")
    # The page was loaded again since; until it is tapped no browser lets it sound.
    page.locator("[data-pot-left]").click()
    expect(pot).to_have_attribute("data-alarm", "sounding")
    until = time.monotonic() + 10
    while page.evaluate("globalThis.tones") < 3:
        assert time.monotonic() < until, "no tone is played"
        page.wait_for_timeout(200)
    assert "Pot life over" in page.title()
    desk.look()
    pot.get_by_role("button", name="Silence the alarm").click()
    expect(pot).to_have_attribute("data-alarm", "quiet")
    before = page.evaluate("globalThis.tones")
    page.wait_for_timeout(1500)
    assert page.evaluate("globalThis.tones") == before
    pot.get_by_role("button", name="Pot finished").click()
    expect(page.locator("[data-pots] [data-pot]")).to_have_count(0)
    until = time.monotonic() + 10
    while not Mix.objects.get().spread_at:
        assert time.monotonic() < until, "the end of the pot has not come"
        page.wait_for_timeout(200)


# Resin, hardener, parts, window, and how: edges of the window, units, commas, volumes.
MIXES = [
    ("145.0", "39.0", "100", "27", "2", "weight"),
    ("98", "27", "100", "27", "2", "weight"),
    ("102", "27", "100", "27", "2", "weight"),
    ("102.0001", "27", "100", "27", "2", "weight"),
    ("97.9999 g", "27 g", "100", "27", "2", "weight"),
    ("1 lb", "4.32 oz", "100", "27", "0", "weight"),
    ("1 lb", "4.321 oz", "100", "27", "0", "weight"),
    ("12,5", "3,4 g", "100", "27", "3", "weight"),
    ("0.5 kg", "135", "100", "27", "0.5", "weight"),
    ("100", "45", "2", "1", "10", "weight"),
    ("90", "30", "3", "1", "1", "volume"),
    ("90 mL", "0.03 L", "3", "1", "0", "volume"),
    ("90", "31", "3", "1", "3", "volume"),
    ("14.5", "3.9", "100", "27", "2", "weight"),
]


def with_unit(temperature: str, unit: str) -> str:
    return f"{temperature} °{unit}" if temperature and "°" not in temperature else temperature


@laptop
def test_the_page_and_the_server_judge_every_mix_alike(desks, edda, shell) -> None:  # noqa: ANN001
    scale = make_scale(edda, "0.5 g")
    desk: Desk = desks("edda")
    page = desk.go("/tarnwader-2/mixes/new/")
    asked = [
        {"resin": r, "hardener": h, "partsResin": p, "partsHardener": q, "window": w, "by": by}
        | {"scale": {"step": "0.5", "percent": "0"}}
        for r, h, p, q, w, by in MIXES
    ]
    module = page.locator("script[src*='mix-form']").get_attribute("src").replace("mix-form", "mix-ratio")
    script = "async ([from, asked]) => { const { judgeMix } = await import(from); return asked.map(judgeMix); }"
    told = page.evaluate(script, [module, asked])
    for (resin, hardener, parts, other, window, by), there in zip(MIXES, told, strict=True):
        facts = MixFacts(
            by,
            Decimal(parts),
            Decimal(other),
            Decimal(window),
            rules.amount(resin, by)[0],
            rules.amount(hardener, by)[0],
            Scale(str(scale), scale.resolution),
        )
        here = rules.ratio_verdict(facts)
        assert there["state"] == here.state, (resin, hardener, here.words)
        assert here.words.startswith(f"{there['per100']} of hardener per 100 of resin, {there['deviation']} % off")
        lines = " ".join(here.lines)
        if "fix" in there:
            assert f"add {there['fix']['add']} " in lines and f"of {there['fix']['of']}," in lines
        if "worst" in there:
            assert f"{there['worst']['low']} to {there['worst']['high']} per 100 at worst" in lines
            assert there["worst"]["inside"] == ("leaves the window" not in lines)
    # The hint of the pot life too.
    hint = "async ([from, all]) => { const { potHint } = await import(from); return all.map((o) => potHint(...o)); }"
    pots = [("30", "35 °C", "C"), ("30", "77", "F"), ("45,5", "18 °C", "F"), ("30", "200", "C"), ("30", "", "C")]
    expected = [
        found.minutes if (found := rules.pot_hint(Decimal(life.replace(",", ".")), with_unit(temp, unit))) else None
        for life, temp, unit in pots
    ]
    assert page.evaluate(hint, [module, pots]) == expected
    # What only the server reads stays open on the page.
    odd = [{"resin": one, "hardener": "27", "partsResin": "100", "partsHardener": "27", "window": "2", "by": "weight"}
           for one in ("1,200", "2 lb 3 oz", "a cup", "", "0")]  # fmt: skip
    assert {one["state"] for one in page.evaluate(script, [module, odd])} == {"open"}


@laptop
def test_plies_move_by_keyboard_and_buttons(desks, edda, shell) -> None:  # noqa: ANN001
    layup = make_layup(edda, shell, "0", "45", "90")
    desk: Desk = desks("edda")
    page = desk.go(f"/tarnwader-2/layups/{layup.pk}/plies/")
    rows = page.locator("[data-ply-row]")
    first = rows.nth(0).locator("[name=orientation]")
    first.focus()
    page.keyboard.press("Alt+ArrowDown")
    expect(page.locator("[data-plies-status]")).to_have_text("Layer 1 is now 2 of 3")
    degrees = "() => [...document.querySelectorAll('[name=orientation]')].map((field) => field.value)"
    assert page.evaluate(degrees) == ["45", "0", "90"]
    assert page.evaluate("document.activeElement.value") == "0"
    page.keyboard.press("Alt+c")
    assert page.evaluate(degrees) == ["45", "0", "0", "90"]
    rows.nth(3).get_by_role("button", name="Take out").click()
    rows.nth(2).get_by_role("button", name="Up").click()
    page.get_by_role("button", name="Add a row").click()
    expect(rows).to_have_count(4)
    page.locator(":focus").fill("Peel ply")
    desk.look()
    page.locator(".save-bar button").click()
    page.wait_for_url(f"**/layups/{layup.pk}/")
    assert [(ply.cloth, ply.orientation) for ply in layup.plies.all()] == [
        ("Glass twill", "45"),
        ("Glass twill", "0"),
        ("Glass twill", "0"),
        ("Peel ply", ""),
    ]
    desk.look()
