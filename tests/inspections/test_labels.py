"""Labels and part cards: the arithmetic of the sheets, codes read back by an independent reader, and the page."""

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from accounts.models import Person
from calc import labels as places
from calc.labels import EDGE, LEAST_MODULE, MOST_NUDGE, PAPERS, Box, Sheet
from foundation import lettering as let
from inspections.pages import SHEETS, Job, Label, NoRoom, label_of, larger, print_sheets
from inspections.pages.codes import code_of
from inspections.pages.letters import Words, composed, depth
from inspections.rules import address_caution
from parts import commands as parts
from parts.models import Assembly
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_bin,
    make_lot,
    make_part,
    make_person,
    make_project,
)

GRIDS = [sheet for sheet in SHEETS.values() if sheet.use == "labels"]
CARDS = [sheet for sheet in SHEETS.values() if sheet.use == "cards"]
HOME = "http://192.168.1.20:8000/tarnwader-2/capture/{}/"
# Short enough for the smallest labels.
SHORT = "http://shop/t2/capture/{}/"
TALLEST = 50.0
every_sheet = pytest.mark.parametrize("sheet", SHEETS.values(), ids=lambda sheet: sheet.key)


def some_labels(count: int, address: str = HOME) -> list[Label]:
    """So many different labels, among them ones with long words."""
    kinds = [
        ("24.1", "Tip float, left", "Assembly", ()),
        ("TW2-2410-05", "Hardpoint plate, birch ply 6 mm", "Part", ("left, 1 of 2",)),
        (
            "L-0311",
            "Epoxy resin, laminating, slow, in the large can",
            "Lot",
            ("Maker's lot EX-77/B", "Expires 3 May 2027"),
        ),
        ("W" * 40, "Unbreakablewordunbreakablewordunbreakableword", "Template", ("right, 12 of 24",)),
    ]
    rows = []
    for number in range(count):
        name = kinds[number % len(kinds)]
        rows.append(Label(address.format(f"{number:016d}"), name[0], name[1], name[2], "N0-DEMO", name[3]))
    return rows


def codes_in(content: bytes, dots_per_mm: float = 7.0) -> Iterator[list[tuple[str, Box]]]:
    """What an independent reader finds on each page: text, and where in mm from the upper left corner of the paper."""
    document = pypdfium2.PdfDocument(content)
    for page in document:
        image = page.render(scale=dots_per_mm * 25.4 / 72, grayscale=True).to_pil()
        found = zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)
        yield [(code.text, spot(code.position, dots_per_mm)) for code in found]


def spot(position: Any, dots_per_mm: float) -> Box:
    corners = (position.top_left, position.top_right, position.bottom_left, position.bottom_right)
    across, down = [corner.x / dots_per_mm for corner in corners], [corner.y / dots_per_mm for corner in corners]
    return Box(min(across), min(down), max(across) - min(across), max(down) - min(down))


def inside(inner: Box, outer: Box, slack: float = 0.001) -> bool:
    return (
        inner.x >= outer.x - slack
        and inner.y >= outer.y - slack
        and inner.x + inner.width <= outer.x + outer.width + slack
        and inner.y + inner.height <= outer.y + outer.height + slack
    )


def apart(one: Box, other: Box, slack: float = 0.001) -> bool:
    return (
        one.x + one.width <= other.x + slack
        or other.x + other.width <= one.x + slack
        or one.y + one.height <= other.y + slack
        or other.y + other.height <= one.y + slack
    )


# ---- sheets ----


@every_sheet
def test_the_figures_of_a_sheet_add_up_to_its_paper(sheet: Sheet) -> None:
    """Label paper is cut with the same margin left and right, top and bottom, to within a millimeter."""
    wide, tall = PAPERS[sheet.paper]
    assert abs(2 * sheet.left + (sheet.columns - 1) * sheet.pitch_x + sheet.width - wide) < 1
    assert abs(2 * sheet.top + (sheet.rows - 1) * sheet.pitch_y + sheet.height - tall) < 1
    assert sheet.right >= -0.001 and sheet.bottom >= -0.001
    assert sheet.pitch_x >= sheet.width and sheet.pitch_y >= sheet.height


@every_sheet
def test_labels_lie_on_the_paper_and_do_not_overlap(sheet: Sheet) -> None:
    paper = Box(0, 0, *sheet.paper_size)
    assert len(sheet.boxes) == sheet.labels
    for number, box in enumerate(sheet.boxes):
        assert inside(box, paper) and all(apart(box, other) for other in sheet.boxes[number + 1 :])


nudges = st.floats(-MOST_NUDGE, MOST_NUDGE)


@given(st.sampled_from(list(SHEETS.values())), st.integers(1, 80), st.integers(1, 200), nudges, nudges)
def test_what_is_printed_lies_on_the_paper_wherever_it_starts_and_is_moved(
    sheet: Sheet, start: int, count: int, across: float, down: float
) -> None:
    start = min(start, sheet.labels)
    paper, used = Box(0, 0, *sheet.paper_size), list(sheet.filled(count, start))
    assert used[0] == (0, start) and len(set(used)) == count
    pages: dict[int, list[Box]] = {}
    for page, number in used:
        pages.setdefault(page, []).append(sheet.printable(number).moved(across, down))
    assert list(pages) == list(range(len(pages)))
    for boxes in pages.values():
        assert all(inside(box, paper.within(EDGE - MOST_NUDGE, EDGE - MOST_NUDGE)) for box in boxes)
        assert all(apart(one, other) for number, one in enumerate(boxes) for other in boxes[number + 1 :])


@given(st.sampled_from(GRIDS), st.integers(25, 85))
def test_a_code_is_read_from_afar_or_refused_and_the_words_stay_beside_it(sheet: Sheet, modules: int) -> None:
    box = sheet.printable(1)
    code = places.code_box(box, modules)
    if code is None:
        assert modules * LEAST_MODULE > min(box.width, box.height)
        return
    words = places.beside_code(box, code, 1.2)
    assert code.width / modules >= LEAST_MODULE - 1e-9 and code.width == code.height
    assert inside(code, box) and inside(words, box) and apart(code, words)


# ---- letters ----


texts = st.text(st.characters(codec="latin-1", exclude_categories=["Cc", "Cf"]), max_size=120)


@settings(deadline=None, max_examples=60)
@given(texts, texts, texts, st.lists(texts, max_size=3), st.floats(40, 300), st.floats(28, 400))
def test_letters_stay_in_their_box_and_the_number_is_always_there(
    top: str, number: str, name: str, facts: list[str], wide: float, tall: float
) -> None:
    words = Words(top.strip(), number.strip() or "1", name.strip() or "x", tuple(filter(str.strip, facts)))
    lines = composed(words, wide, tall)
    assert depth(lines) <= tall
    assert all(let.width(line.text, line.style) <= wide + 0.01 for line in lines)
    letters = "".join(line.text for line in lines if line.style.font == let.LETTER).replace(" ", "")
    assert words.number.replace(" ", "")[:3] in letters


def test_a_name_that_does_not_fit_is_cut_between_words() -> None:
    words = Words("", "B3", "Bolts and nuts and washers and split pins of every length that there is", ())
    lines = [line.text for line in composed(words, 60, 24)]
    said = " ".join(lines[1:])
    assert said.endswith(" …") and words.name.startswith(said.removesuffix(" …"))
    assert words.name.removeprefix(said.removesuffix(" …")).startswith(" ")


def test_a_lot_says_its_makers_lot_and_when_it_expires(db: None) -> None:
    builder = make_project()[1]
    lot = make_lot(builder, "L-1", maker_lot="EX-7", expires_on=date(2027, 5, 3))
    label = label_of(lot, "http://x/", "N0-DEMO")
    assert (label.kind, label.number, label.facts) == ("Lot", "L-1", ("Maker's lot EX-7", "Expires 3 May 2027"))
    part = make_part(builder, make_assembly(builder, "24.1"), kind="mold", side="L", n=1, of=2)
    label = label_of(part, "http://x/", "N0-DEMO")
    assert (label.kind, label.facts, label.place) == ("Mold", ("left, 1 of 2",), "24.1 Tip float, left")


# ---- codes, read back ----


@every_sheet
def test_every_code_reads_back_as_its_exact_address_at_its_own_place(sheet: Sheet) -> None:
    rows = some_labels(sheet.labels + 1, SHORT if sheet.height < 15 else HOME)
    job = Job(sheet, start=1, nudge_x=1.5, nudge_y=-1.0, outline=True)
    pages = list(codes_in(print_sheets(rows, job, "Labels")))
    assert [len(found) for found in pages] == [sheet.labels, 1]
    for page, found in enumerate(pages):
        for number in range(1, len(found) + 1):
            wanted = rows[page * sheet.labels + number - 1].address
            where = [box for text, box in found if text == wanted]
            assert len(where) == 1
            assert inside(where[0], sheet.label(number).moved(job.nudge_x, job.nudge_y), slack=0.3)


@every_sheet
def test_no_module_is_too_small_and_the_quiet_zone_stays_on_the_label(sheet: Sheet) -> None:
    row = some_labels(1, SHORT if sheet.height < 15 else HOME)[0]
    ((_, seen),) = next(codes_in(print_sheets([row], Job(sheet), "Labels"), 12))
    modules = code_of(row.address).modules
    size = seen.width / (modules - 2 * places.QUIET)
    assert size >= LEAST_MODULE - 0.01
    around = Box(seen.x - 4 * size, seen.y - 4 * size, seen.width + 8 * size, seen.height + 8 * size)
    assert inside(around, sheet.label(1), slack=0.35)


def test_a_sheet_that_is_partly_used_is_filled_from_the_label_named() -> None:
    sheet = SHEETS["a4-3x7"]
    content = print_sheets(some_labels(3), Job(sheet, start=20), "Labels")
    first, second = codes_in(content)
    assert len(first) == 2 and len(second) == 1
    assert all(box.y > sheet.label(19).y for _, box in first) and second[0][1].y < sheet.label(4).y


def test_a_code_that_does_not_fit_is_refused_and_larger_labels_are_named() -> None:
    small = SHEETS["letter-4x20"]
    with pytest.raises(NoRoom) as no:
        print_sheets(some_labels(2), Job(small), "Labels")
    assert no.value.needs > no.value.has == pytest.approx(12.7)
    offered = larger(small)
    assert [sheet.key for sheet in offered[:2]] == ["letter-3x10", "letter-2x5"]
    print_sheets(some_labels(2), Job(offered[0]), "Labels")


@every_sheet
def test_the_file_embeds_its_fonts_and_says_the_paper(sheet: Sheet) -> None:
    content = print_sheets(some_labels(4, SHORT), Job(sheet), "Labels, Tarnwader 2")
    reader = PdfReader(BytesIO(content))
    assert reader.metadata.title == "Labels, Tarnwader 2"
    assert [round(float(side) * 25.4 / 72, 1) for side in reader.pages[0].mediabox[2:]] == list(sheet.paper_size)
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"]
        assert "/XObject" not in page["/Resources"] or not page["/Resources"]["/XObject"]  # codes are no pictures
    assert content == print_sheets(some_labels(4, SHORT), Job(sheet), "Labels, Tarnwader 2")


@pytest.mark.parametrize("sheet", CARDS, ids=lambda sheet: sheet.key)
def test_a_card_has_number_boxes_to_write_in_and_scales_true_to_size(sheet: Sheet) -> None:
    content = print_sheets(some_labels(1), Job(sheet), "Cards")
    text = PdfReader(BytesIO(content)).pages[0].extract_text()
    for words in ("24.1", "Tip float, left", "Date", "Ply", "of", "Who", "0 mm", "0 in", "100", "Check the scales"):
        assert words in text
    # The tick of every ten reaches furthest from the left edge of the card: rows of dark dots, ten mm apart.
    dots = 10
    page = pypdfium2.PdfDocument(content)[0].render(scale=dots * 25.4 / 72, grayscale=True).to_pil()
    column = [page.getpixel((round(10.5 * dots), y)) for y in range(page.height)]
    dark = [y for y, shade in enumerate(column) if shade < 128]
    ticks = [y for at, y in enumerate(dark) if at == 0 or y > dark[at - 1] + 1]
    steps = [(later - tick) / dots for tick, later in zip(ticks, ticks[1:], strict=False)]
    assert len(ticks) >= 11 and all(step == pytest.approx(10, abs=0.15) for step in steps)


# ---- the address ----


@pytest.mark.parametrize(
    ("base", "words"),
    [
        ("http://localhost:8000", "this machine"),
        ("http://127.0.0.1:8000", "this machine"),
        ("http://[::1]:8000", "this machine"),
        ("http://192.168.1.20:8000", "router"),
        ("https://10.0.0.4", "router"),
        ("https://shop.example", ""),
        ("http://shop-server:8000", ""),
    ],
)
def test_what_is_known_against_an_address_is_said(base: str, words: str) -> None:
    caution = address_caution(base)
    assert words in caution and bool(caution) == bool(words)


# ---- the page ----


@pytest.fixture
def builder(db: None) -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def url(by: Person) -> str:
    return reverse("inspections:labels", args=[by.project.slug])


def sent(**changed: Any) -> dict[str, Any]:
    values = {"which": "all", "kinds": ["assembly", "bin", "lot"], "sheet": "a4-3x8", "start": "1", "copies": "1"}
    return values | {"base": "http://192.168.1.20:8000"} | changed


def addresses(answer: Any) -> list[str]:
    assert answer.status_code == 200 and answer["Content-Type"] == "application/pdf", answer.content[:2000]
    return sorted(text for page in codes_in(answer.content) for text, _ in page)


def leads_to(by: Person, *things: Any, base: str = "http://192.168.1.20:8000") -> list[str]:
    return sorted(base + reverse("buildlog:capture_on", args=[by.project.slug, thing.pk]) for thing in things)


@pytest.fixture
def hull(builder: Person) -> Assembly:
    return make_assembly(builder, "10", "Hull")


def test_the_labels_of_chosen_kinds_lead_to_their_capture_pages(
    builder: Person, client: Client, hull: Assembly
) -> None:
    rows = [hull, make_assembly(builder), make_bin(builder), make_lot(builder)]
    part, mold = make_part(builder, hull), make_part(builder, hull, kind="mold")
    assert addresses(client.post(url(builder), sent())) == leads_to(builder, *rows)
    assert addresses(client.post(url(builder), sent(kinds=["mold"]))) == leads_to(builder, mold)
    assert addresses(client.post(url(builder), sent(kinds=["part"], copies="2"))) == leads_to(builder, part, part)


def test_one_assembly_stands_for_all_that_hangs_below_it(builder: Person, client: Client, hull: Assembly) -> None:
    deck = make_assembly(builder, "11", "Deck", hull)
    wing = make_assembly(builder, "20", "Wing")
    inner, _outer = make_part(builder, deck), make_part(builder, wing)
    found = client.post(url(builder), sent(kinds=["assembly", "part"], assembly=hull.pk))
    assert addresses(found) == leads_to(builder, hull, deck, inner)


def test_only_what_changed_since_a_day_is_printed_again(builder: Person, client: Client, hull: Assembly) -> None:
    lot, _other = make_lot(builder), make_lot(builder)
    parts.correct_lot(by=builder, at=NOW + timedelta(days=5), lot=lot, name="Hardener")
    found = client.post(url(builder), sent(which="since", since="2026-05-18"))
    assert addresses(found) == leads_to(builder, lot)


def test_the_ticked_ones_are_printed_whatever_their_kind(builder: Person, client: Client, hull: Assembly) -> None:
    part, store = make_part(builder, hull), make_bin(builder)
    found = client.post(url(builder), sent(which="ticked", kinds=[], ticked=[store.pk, part.pk]))
    assert addresses(found) == leads_to(builder, part, store)


def test_the_page_of_a_thing_leads_to_its_label(builder: Person, client: Client) -> None:
    store, other = make_bin(builder), make_bin(builder)
    page = client.get(f"{url(builder)}?on={store.pk}").content.decode()
    assert f"now 1: {store}" in page
    ticked = page.partition(f'value="{store.pk}"')[2].partition(">")[0]
    assert "checked" in ticked and "checked" not in page.partition(f'value="{other.pk}"')[2].partition(">")[0]


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"kinds": []}, "Choose one kind at least."),
        ({"which": "ticked"}, "Tick what wants a label."),
        ({"which": "since"}, "Choose the day."),
        ({"which": "since", "since": "2030-01-01"}, "Nothing was added or changed since."),
        ({"start": "25"}, "This sheet has 24 labels."),
        ({"nudge_x": "4.5"}, "4.0"),
        ({"base": "192.168.1.20"}, "Write it like"),
        ({"base": "http://192.168.1.20/shop"}, "Write it like"),
        ({"base": "http://edda@shop"}, "Write it like"),
        ({"base": "ftp://shop"}, "Write it like"),
        ({"base": "http://shop:port"}, "Write it like"),
        ({"base": "http://[shop"}, "Write it like"),
        ({"sheet": "letter-4x20"}, "The code does not fit these labels"),
    ],
)
def test_what_cannot_be_printed_is_said_and_nothing_chosen_is_lost(
    builder: Person, client: Client, hull: Assembly, changed: dict[str, Any], words: str
) -> None:
    answer = client.post(url(builder), sent(copies="7") | changed)
    page = answer.content.decode()
    assert answer.status_code == 422 and words in page and 'value="7"' in page


def test_more_labels_than_anybody_wants_are_refused(builder: Person, client: Client, hull: Assembly) -> None:
    for number in range(101):
        make_bin(builder, f"B{number}")
    answer = client.post(url(builder), sent(kinds=["bin"], copies="20"))
    assert answer.status_code == 422 and "more than 2,000 labels" in answer.content.decode()


def test_paper_and_address_are_kept_for_the_next_print_of_this_project(
    builder: Person, client: Client, hull: Assembly
) -> None:
    page = client.get(url(builder)).content.decode()
    assert 'value="http://testserver"' in page and "keeps its address for years" in page
    client.post(url(builder), sent(base="HTTP://Shop:8000/", sheet="a4-2x7", nudge_y="-0.5"))
    page = client.get(url(builder)).content.decode()
    assert 'value="http://shop:8000"' in page and 'value="-0.5"' in page
    assert "checked" in page.partition('value="a4-2x7"')[2].partition(">")[0]
    other = make_project("Other", user=builder.user)[1]
    assert 'value="http://testserver"' in client.get(url(other)).content.decode()


def test_every_member_may_print_labels_and_a_stranger_may_not(builder: Person, hull: Assembly) -> None:
    reader = client_for(make_person(builder.project, "reader"))
    assert addresses(reader.post(url(builder), sent())) == leads_to(builder, hull)
    assert client_for(make_project("Other")[1]).get(url(builder)).status_code == 404


def test_things_of_another_project_cannot_be_ticked(builder: Person, client: Client, hull: Assembly) -> None:
    theirs = make_bin(make_project("Other")[1])
    assert client.post(url(builder), sent(which="ticked", ticked=[theirs.pk])).status_code == 422


def test_part_cards_are_printed_from_the_same_page(builder: Person, client: Client, hull: Assembly) -> None:
    answer = client.post(url(builder), sent(sheet="card-a4"))
    assert addresses(answer) == leads_to(builder, hull)
    assert 'filename="cards-tarnwader-2.pdf"' in answer["Content-Disposition"]
