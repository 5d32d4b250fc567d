"""Marks over a photo: what is taken and refused, that the photo stays as it is, and where they are drawn."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from django.test import Client
from PIL import Image, ImageChops
from pypdf import PdfReader

from calc import marks as lines
from certification.pages import print_record
from evidence import commands, queries, renditions, rules
from evidence.commands import MarkFacts
from evidence.models import Photo
from foundation.refusal import Refusal
from inspections import queries as gates
from journal.models import Entry
from tests.certification import record_facts
from tests.evidence.pictures import saved
from tests.factories import NOW, client_for, make_person, make_photo, picture_bytes
from tests.inspections.shop import Shop

ARROW = MarkFacts("arrow", (1000, 8000, 3000, 6000), "Dry spot")
RING = MarkFacts("ring", (4000, 3000, 7000, 7000), "Fillet radius 10 mm")
NOTE = MarkFacts("note", (2000, 1500, 2000, 1500), "310 mm")


def draw(photo: Photo, *marks: MarkFacts, seen: str | None = None) -> Photo:
    token = queries.marks_token(photo.marks.all()) if seen is None else seen
    return commands.mark_photo(by=photo.sent_by, at=NOW, photo=photo, marks=marks, seen=token)


# ---- the command ----


def test_all_marks_are_one_entry_and_the_original_stays_byte_for_byte(bench):
    photo = make_photo(bench.builder)
    before, number = queries.original_path(photo).read_bytes(), Entry.objects.count()
    draw(photo, ARROW, RING, NOTE)
    entry = Entry.objects.latest("seq")
    assert (Entry.objects.count(), entry.verb) == (number + 1, "photo.marked")
    assert [(row.position, row.kind, row.corners, row.words) for row in photo.marks.all()] == [
        (1, "arrow", (1000, 8000, 3000, 6000), "Dry spot"),
        (2, "ring", (4000, 3000, 7000, 7000), "Fillet radius 10 mm"),
        (3, "note", (2000, 1500, 2000, 1500), "310 mm"),
    ]
    assert '"words":"Dry spot"' in entry.state
    assert queries.original_path(photo).read_bytes() == before


def test_a_photo_without_marks_reads_as_before_there_were_any(bench):
    assert "marks" not in make_photo(bench.builder).state()


def test_the_same_marks_again_write_nothing(bench):
    photo = draw(make_photo(bench.builder), ARROW)
    number = Entry.objects.count()
    draw(photo, ARROW)
    assert Entry.objects.count() == number


def test_a_mark_that_was_there_keeps_its_key_and_its_history_is_told_as_a_change(bench):
    photo = draw(make_photo(bench.builder), ARROW, RING)
    first, second = photo.marks.all()
    moved = MarkFacts("ring", (5500, 5000, 9900, 9900), "Fillet radius 12 mm", second.pk)
    draw(photo, MarkFacts("arrow", ARROW.corners, ARROW.words, first.pk), moved)
    assert [row.pk for row in photo.marks.all()] == [first.pk, second.pk]
    shown = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "Marks drawn" in shown
    assert "<del>ring in the middle: Fillet radius 10 mm</del>" in shown
    assert "<ins>ring at the lower right: Fillet radius 12 mm</ins>" in shown


def test_a_key_of_another_photo_is_not_taken_over(bench):
    other = draw(make_photo(bench.builder), ARROW)
    photo = make_photo(bench.builder)
    theirs = other.marks.get().pk
    draw(photo, MarkFacts("arrow", ARROW.corners, "", theirs), MarkFacts("arrow", (0, 0, 5000, 5000), "", theirs))
    assert theirs not in {row.pk for row in photo.marks.all()}
    assert other.marks.get().pk == theirs


def test_marks_drawn_meanwhile_are_never_written_over_unseen(bench):
    photo = make_photo(bench.builder)
    token = queries.marks_token([])
    draw(photo, ARROW)
    with pytest.raises(Refusal) as no:
        draw(photo, RING, seen=token)
    assert no.value.code == "changed_meanwhile"
    assert photo.marks.get().kind == "arrow"


@pytest.mark.parametrize(
    ("mark", "code"),
    [
        (MarkFacts("arrow", (-1, 0, 5000, 5000)), "off_the_picture"),
        (MarkFacts("ring", (0, 0, 5000, 10_001)), "off_the_picture"),
        (MarkFacts("star", (0, 0, 5000, 5000)), "no_such_mark"),
        (MarkFacts("arrow", (5000, 5000, 5010, 5000)), "no_size"),
        (MarkFacts("ring", (5000, 5000, 9000, 5010)), "no_size"),
        (MarkFacts("note", (5000, 5000, 5000, 5000), "  "), "no_words"),
        (MarkFacts("note", (5000, 5000, 5000, 5000), "x" * 81), "too_long"),
    ],
)
def test_what_cannot_be_drawn_is_refused_whole(bench, mark, code):
    photo = draw(make_photo(bench.builder), ARROW)
    with pytest.raises(Refusal) as no:
        draw(photo, RING, mark)
    assert no.value.code == code
    assert "2" in no.value.message
    assert photo.marks.get().kind == "arrow"


def test_forty_marks_fit_and_one_more_is_refused(bench):
    photo = draw(make_photo(bench.builder), *[ARROW] * rules.MOST_MARKS)
    assert photo.marks.count() == 40
    with pytest.raises(Refusal) as no:
        draw(photo, *[RING] * 41)
    assert no.value.code == "too_many"


def test_a_ring_is_kept_by_its_upper_left_corner_and_a_note_by_one_place(bench):
    photo = draw(
        make_photo(bench.builder),
        MarkFacts("ring", (9000, 8000, 2000, 1000)),
        MarkFacts("note", (100, 200, 900, 900), "a  b"),
    )
    ring, note = photo.marks.all()
    assert ring.corners == (2000, 1000, 9000, 8000)
    assert (note.corners, note.words) == ((100, 200, 100, 200), "a b")


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ((0, 0, 500, 500), "arrow at the upper left"),
        ((0, 0, 5000, 400), "arrow at the top"),
        ((0, 0, 5000, 5000), "arrow in the middle"),
        ((0, 0, 10_000, 10_000), "arrow at the lower right"),
    ],
)
def test_where_a_mark_points_is_told_in_words(corners, words):
    facts = dict(zip(("x1", "y1", "x2", "y2"), corners, strict=True))
    assert rules.mark_in_words({"kind": "Arrow", "words": "", **facts}) == words


def test_every_place_to_choose_lies_on_the_picture():
    for kind in rules.MARKS:
        for place in range(9):
            corners = rules.corners_at(kind, place)
            rules.check_mark(kind, corners, "x", 1)
            facts = dict(zip(("x1", "y1", "x2", "y2"), corners, strict=True))
            assert rules.mark_in_words({"kind": kind, "words": "", **facts}).endswith(rules.PLACES[place])


# ---- one place, three ways to draw ----


def plain_photo(bench, size: tuple[int, int] = (1280, 960)) -> Photo:
    return make_photo(bench.builder, data=saved(Image.new("RGB", size, (130, 130, 130)), quality=95))


@pytest.mark.parametrize("size", [(1280, 960), (900, 1200), (400, 300)])
def test_a_mark_is_at_the_same_place_on_the_page_in_the_copy_and_on_paper(bench, size, tmp_path):
    photo = draw(plain_photo(bench, size), MarkFacts("ring", (2000, 2500, 6000, 7500)))
    share = (0.4, 0.5, 0.2, 0.25)  # middle and half axes, as shares of width and height
    assert on_the_page(bench, photo) == pytest.approx(share, abs=0.001)
    assert in_the_copy(photo) == pytest.approx(share, abs=0.004)
    assert on_paper(photo, tmp_path) == pytest.approx(share, abs=0.001)


def on_the_page(bench, photo: Photo) -> tuple[float, ...]:
    """The ring of the page's overlay, as shares of its view box."""
    shown = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert 'style="' not in shown
    width, height = map(float, re.search(r'class="layer" viewBox="0 0 ([\d.]+) ([\d.]+)"', shown).groups())
    ring = re.search(r'<ellipse class="stroke" cx="([\d.]+)" cy="([\d.]+)" rx="([\d.]+)" ry="([\d.]+)"', shown)
    x, y, half_x, half_y = map(float, ring.groups())
    return x / width, y / height, half_x / width, half_y / height


def in_the_copy(photo: Photo) -> tuple[float, ...]:
    """The ring in the drawn copy, found by its dark pixels along both axes through where its middle has to be."""
    path = renditions.marked_copy(photo.digest, [mark.drawing for mark in photo.marks.all()])
    with Image.open(path) as image:
        gray = image.convert("L")
    width, height = gray.size
    dark = lambda x, y: gray.getpixel((x, y)) < 80  # noqa: E731
    across = [x for x in range(width) if dark(x, height // 2)]
    down = [y for y in range(height) if dark(round(width * 0.4), y)]
    left, right = edges(across)
    top, foot = edges(down)
    return (left + right) / 2 / width, (top + foot) / 2 / height, (right - left) / 2 / width, (foot - top) / 2 / height


def edges(places: list[int]) -> tuple[float, float]:
    """The middles of the two runs of dark pixels, counted at the middle of a pixel."""
    cut = next(n for n, (a, b) in enumerate(zip(places, places[1:], strict=False)) if b - a > 5) + 1
    first, second = places[:cut], places[cut:]
    return (first[0] + first[-1] + 1) / 2, (second[0] + second[-1] + 1) / 2


def on_paper(photo: Photo, tmp_path: Path) -> tuple[float, ...]:
    """The ring in the PDF as its drawing operators have it, as shares of the placed picture."""
    told = record_facts.photo(photo.digest, marks=[asdict_of(mark) for mark in photo.marks.all()])
    given = record_facts.facts(sessions=[record_facts.session(1, photos=["P-0001"])], photos={"P-0001": told})
    print_record(given, tmp_path / "record.pdf")
    reader = PdfReader(tmp_path / "record.pdf")
    sheet = next(page for page in reader.pages if "Marks drawn over the photo: 1 ring." in page.extract_text())
    text = sheet.get_contents().get_data().decode("latin-1")
    placed = re.search(r"([\d.]+) 0 0 ([\d.]+) ([\d.]+) ([\d.]+) cm\s+/\S+ Do", text)
    width, height, left, foot = map(float, placed.groups())
    number = r"(-?[\d.]+)"
    after = text[placed.end() :]
    curve = re.search(rf"n\s+{number} {number} m\s+(?:(?:{number} ){{6}}c\s+){{4}}", after)
    values = [float(value) for value in re.findall(r"-?[\d.]+", curve[0])]
    xs, ys = values[0::2], values[1::2]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    return (
        (x - left) / width,
        1 - (y - foot) / height,
        (max(xs) - min(xs)) / 2 / width,
        (max(ys) - min(ys)) / 2 / height,
    )


def asdict_of(mark) -> dict:  # noqa: ANN001
    one = mark.drawing
    return {name: getattr(one, name) for name in ("number", "kind", "x1", "y1", "x2", "y2", "words")}


def test_the_words_of_all_marks_stand_in_the_print_below_the_photo(tmp_path):
    rows = [
        {"number": 1, "kind": "arrow", "x1": 1000, "y1": 1000, "x2": 5000, "y2": 5000, "words": "Dry spot, Größe 3"},
        {"number": 2, "kind": "note", "x1": 1000, "y1": 8000, "x2": 1000, "y2": 8000, "words": "310 mm"},
    ]
    told = record_facts.photo(record_facts.rendition(1, (640, 480)), marks=rows)
    given = record_facts.facts(sessions=[record_facts.session(1, photos=["P-0001"])], photos={"P-0001": told})
    print_record(given, tmp_path / "record.pdf")
    words = "\n".join(sheet.extract_text() for sheet in PdfReader(tmp_path / "record.pdf").pages)
    assert "Marks drawn over the photo: 1 arrow: Dry spot, Größe 3; 2 note: 310 mm." in " ".join(words.split())


def test_a_record_frozen_before_there_were_marks_still_prints(tmp_path):
    told = record_facts.photo(record_facts.rendition(1))
    assert "marks" not in told
    given = record_facts.facts(sessions=[record_facts.session(1, photos=["P-0001"])], photos={"P-0001": told})
    assert print_record(given, tmp_path / "record.pdf").remarks == []


@pytest.mark.parametrize("ground", [(250, 250, 250), (8, 8, 8), (130, 130, 130)])
def test_marks_can_be_seen_on_light_and_on_dark_pictures(ground):
    image = Image.new("RGB", (640, 480), ground)
    drawn = renditions.with_marks(image, [lines.Mark(1, "arrow", 1000, 5000, 9000, 5000)])
    column = [drawn.convert("L").getpixel((320, y)) for y in range(200, 280)]
    assert max(column) - min(column) > 150


def test_marks_stay_inside_however_small_or_narrow_the_picture_is():
    for width, height in ((1280, 960), (30, 400), (4000, 20), (1, 1)):
        frame = lines.Frame(width, height)
        for corners in ((0, 0, 10_000, 10_000), (10_000, 10_000, 0, 0), (9990, 0, 10_000, 40)):
            for kind in ("arrow", "ring", "note"):
                one = lines.drawn([lines.Mark(1, kind, *corners, "Fillet radius 10 mm, no dry tape")], frame)[0]
                x, y = one.balloon
                assert kind == "note" or (0 <= x <= width and 0 <= y <= height)
                renditions.with_marks(Image.new("RGB", (width, height)), [lines.Mark(1, kind, *corners, "words")])


def test_long_words_are_broken_into_lines_that_fit_and_nothing_is_lost():
    for text in ("Fillet radius 10 mm, no dry tape anywhere along the aft face", "x" * 80, "日本語" * 20, "a"):
        found = lines.broken(text, 10)
        assert "".join(found).replace(" ", "") == text.replace(" ", "")
        assert all(lines.ems(line) <= 10 for line in found)


# ---- the copy ----


def test_the_copy_is_made_once_holds_no_metadata_and_changes_with_the_marks(bench):
    photo = draw(make_photo(bench.builder, data=picture_bytes(size=(640, 480))), RING)
    url = bench.url("marked_copy", photo.pk)
    answer = bench.client.get(url)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Content-Disposition"] == f'attachment; filename="{photo.label} with marks.jpg"'
    first = b"".join(answer.streaming_content)
    with Image.open(BytesIO(first)) as image, Image.open(queries.rendition_path(photo.digest, 1280)) as plain:
        assert not image.getexif() and "exif" not in image.info and "comment" not in image.info
        assert ImageChops.difference(image.convert("L"), plain.convert("L")).getbbox()
    path = queries.marked_path(photo.digest, [mark.drawing for mark in photo.marks.all()])
    before = path.stat().st_mtime_ns
    b"".join(bench.client.get(url).streaming_content)
    assert path.stat().st_mtime_ns == before
    draw(photo, ARROW)
    assert b"".join(bench.client.get(url).streaming_content) != first
    assert not path.exists()


def test_there_is_no_copy_without_marks(bench):
    assert bench.client.get(bench.url("marked_copy", make_photo(bench.builder).pk)).status_code == 404


# ---- the page ----


def sent(seen: str, *rows: dict) -> dict[str, str]:
    """The form as a browser sends it."""
    body = {"seen": seen, "form-TOTAL_FORMS": str(len(rows)), "form-INITIAL_FORMS": "0"}
    for number, row in enumerate(rows):
        body |= {f"form-{number}-{name}": str(value) for name, value in row.items()}
    return body


NUMBERS = {"kind": "arrow", "words": "Dry spot", "x1": "10", "y1": "80.5", "x2": "30", "y2": "60"}


def test_marks_are_drawn_by_the_list_alone(bench):
    photo = make_photo(bench.builder)
    token = queries.marks_token([])
    body = sent(token, NUMBERS, {"kind": "ring", "at": "8", "words": ""}, {"kind": "", "words": ""})
    answer = bench.client.post(bench.url("photo_marks", photo.pk), body)
    assert answer["Location"] == bench.url("photo", photo.pk)
    arrow, ring = photo.marks.all()
    assert (arrow.corners, arrow.words) == ((1000, 8050, 3000, 6000), "Dry spot")
    assert ring.where == "ring at the lower right"
    shown = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "Dry spot" in shown and "Download with marks" in shown
    again = bench.client.get(bench.url("photo_marks", photo.pk)).content.decode()
    assert 'value="80.5"' in again and f'value="{arrow.pk}"' in again


def test_a_mark_is_taken_away_by_its_tick(bench):
    photo = draw(make_photo(bench.builder), ARROW, RING)
    first, second = photo.marks.all()
    body = sent(
        queries.marks_token([first, second]),
        NUMBERS | {"key": first.pk, "gone": "on"},
        {"key": second.pk, "kind": "ring", "words": "", "x1": 40, "y1": 30, "x2": 70, "y2": 70},
    )
    bench.client.post(bench.url("photo_marks", photo.pk), body)
    assert [(row.pk, row.position) for row in photo.marks.all()] == [(second.pk, 1)]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"kind": "arrow", "words": "typed words"}, "Say where on the picture"),
        (
            {"kind": "arrow", "words": "typed", "x1": "10", "y1": "10", "x2": "300", "y2": "10"},
            "less than or equal",
        ),
        ({"kind": "note", "words": "", "at": "4"}, "has no words"),
        ({"kind": "note", "words": "x" * 81, "at": "4"}, "at most 80"),
    ],
)
def test_a_bad_line_is_refused_in_words_and_nothing_typed_is_lost(bench, row, words):
    photo = make_photo(bench.builder)
    answer = bench.client.post(bench.url("photo_marks", photo.pk), sent(queries.marks_token([]), NUMBERS, row))
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert words in shown
    assert 'value="Dry spot"' in shown
    assert not photo.marks.exists()


def test_who_saves_over_marks_of_somebody_else_sees_both_and_then_may(bench):
    photo = make_photo(bench.builder)
    old = queries.marks_token([])
    draw(photo, RING)
    answer = bench.client.post(bench.url("photo_marks", photo.pk), sent(old, NUMBERS))
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "Somebody drew on this photo meanwhile" in shown
    assert "Fillet radius 10 mm" in shown and 'value="Dry spot"' in shown
    token = re.search(r'name="seen" value="([^"]+)"', shown)[1]
    bench.client.post(bench.url("photo_marks", photo.pk), sent(token, NUMBERS))
    assert photo.marks.get().words == "Dry spot"


@pytest.mark.parametrize(("role", "status"), [("helper", 200), ("inspector", 403), ("reader", 403)])
def test_who_may_draw(bench, role, status):
    photo = make_photo(bench.builder)
    client = client_for(make_person(bench.project, role))
    assert client.get(bench.url("photo_marks", photo.pk)).status_code == status
    assert (bench.url("photo_marks", photo.pk) in client.get(bench.url("photo", photo.pk)).content.decode()) is (
        status == 200
    )
    assert Client().get(bench.url("photo_marks", photo.pk)).status_code == 302


def test_what_is_not_drawn_yet_or_is_no_picture_cannot_be_drawn_on(bench):
    photo = make_photo(bench.builder)
    Photo.objects.filter(pk=photo.pk).update(drawn_at=None)
    assert bench.client.get(bench.url("photo_marks", photo.pk)).status_code == 404
    Photo.objects.filter(pk=photo.pk).update(kind="mp4")
    with pytest.raises(Refusal) as no:
        draw(Photo.objects.get(pk=photo.pk), ARROW)
    assert no.value.code == "not_a_picture"


def test_the_contact_sheet_says_how_many_marks_a_photo_has(bench):
    draw(make_photo(bench.builder), ARROW, RING)
    draw(make_photo(bench.builder), ARROW)
    make_photo(bench.builder)
    shown = bench.client.get(bench.url("photos")).content.decode()
    assert shown.count("2 marks") == 1 and shown.count("1 mark<") == 1


# ---- under a signature ----


def test_marks_drawn_under_a_signature_are_told_on_the_gate_and_taking_them_off_heals_it(db):
    shop = Shop()
    photo = shop.supply()
    shop.sign()
    shown = lambda: client_for(shop.edda).get(shop.url("area")).content.decode()  # noqa: E731
    assert "Not changed since signing" in shown()
    draw(photo, ARROW)
    told = " ".join(shown().split())
    assert "Signed, then changed" in told
    assert f"{photo.label}: marks drawn" in told
    assert gates.judged(shop.project)[0].changed
    draw(photo)
    assert "Not changed since signing" in shown()


def test_marks_that_were_signed_count_as_changed_when_moved_or_taken_away(db):
    shop = Shop()
    photo = shop.supply()
    draw(photo, ARROW)
    shop.sign()
    draw(photo, RING)
    assert gates.judged(shop.project)[0].signed[0].changes[0].endswith("marks changed")
    draw(photo)
    assert gates.judged(shop.project)[0].signed[0].changes[0].endswith("marks taken away")


def test_who_signs_sees_the_marks_and_their_words(db):
    shop = Shop()
    draw(shop.supply(), ARROW)
    shown = client_for(shop.hal).get(shop.url("area_sign")).content.decode()
    assert 'class="layer"' in shown and "Dry spot" in shown
