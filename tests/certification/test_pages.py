"""The printed record, read back with a library that had no part in drawing it."""

import copy
import json
import re
import tracemalloc
from collections import Counter
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from certification.management.commands.record_pdf import moment
from certification.pages import CannotDraw, print_record, write_record
from evidence.queries import rendition_path
from tests import factories
from tests.certification import record_facts as made
from tests.certification.record_facts import area, closing, facts, item, photo, rendition, session, signature, worker

NAMES = [
    "Łukasz Żółć",
    "Đorđe Šćepanović",
    "Gülşen İnönü",
    "Nguyễn Văn Ân",
    "Βασίλης Παπαδόπουλος",
    "Иван Щербаков",
    "Þórður Ægisson",
]


def flat(text: str) -> str:
    return " ".join(text.split())


def read(path: Path) -> PdfReader:
    return PdfReader(path, strict=True)


def text_of(path: Path) -> str:
    return flat(" ".join(page.extract_text() for page in read(path).pages))


def drawn(tmp_path: Path, given: dict[str, Any]) -> Path:
    path = tmp_path / "record.pdf"
    write_record(given, path)
    return path


def images(path: Path) -> dict[int, bytes]:
    """The bytes of every picture in the file as they stand there, by object number."""
    found = {}
    for page in read(path).pages:
        for reference in page["/Resources"].get("/XObject", {}).values():
            found[reference.idnum] = reference.get_object()._data
    return found


def fonts(path: Path) -> dict[str, Any]:
    found = {}
    for page in read(path).pages:
        for reference in page["/Resources"]["/Font"].values():
            font = reference.get_object()
            found[font["/BaseFont"]] = font
    return found


@pytest.fixture
def full() -> dict[str, Any]:
    """A record in which everything occurs."""
    photos = {f"P-{n:04d}": photo(rendition(n), caption=f"Caption of photo {n}.") for n in range(1, 8)}
    photos["P-0008"] = photo(rendition(8, (30, 400)), caption="A tall one.", in_frame=True)
    sessions = [session(n, iso_date=f"2026-{n:02d}-03") for n in range(1, 6)]
    sessions.append(
        session(
            6,
            people=[worker(), worker("Jory Pask", "Helper, unpaid", breaks=1200), worker("Tam Wray", "Paid help")],
            photos=list(photos),
            place="Hangar B",
            late="Reconstructed later: worked 14 May 2026, entered 2 Jun 2026, 20:12 MDT",
            corrections=[
                {
                    "at": "15 May 2026, 08:00 MDT",
                    "by": "Edda Norrell",
                    "reason": "wrong ply count",
                    "changes": [{"field": "note", "before": "Three plies of tape.", "after": "Two plies of tape."}],
                }
            ],
        )
    )
    areas = [
        area(
            "24.1-H1",
            state="advised",
            state_words="Closed with a reason",
            items=[
                item(1, "Bulkhead A, both faces", photos=["P-0001", "P-0002"], late=["P-0002"]),
                item(2, "Drain boss, sealed", in_place=False, why="Photo missing."),
                item(3, "Nothing loose", kind="Check", answer="Yes, Edda Norrell, 14 May 2026, 18:50 MDT"),
            ],
            signatures=[signature(changes=["P-0001: caption"]), signature(name="Edda Norrell", self_inspected=True)],
            closings=[
                closing(
                    missing=["2 Drain boss, sealed"], reason="The camera was flat.", reopened="9 May 2026, 10:00 MDT"
                )
            ],
        ),
        area("30-H1", state="not_started", state_words="Not started"),
    ]
    withdrawn = {
        "number": 9,
        "date": "7 May 2026",
        "note": "Entered twice.",
        "at": "8 May 2026, 07:00 MDT",
        "by": "Edda Norrell",
        "reason": "same as 8",
    }
    return facts(sessions=sessions, areas=areas, photos=photos, withdrawn=[withdrawn])


def test_every_sheet_says_which_of_how_many_it_is(tmp_path, full):
    path = tmp_path / "record.pdf"
    sheets = print_record(full, path).sheets
    pages = read(path).pages
    assert len(pages) == sheets > 5
    for number, page in enumerate(pages, 1):
        words = flat(page.extract_text())
        assert f"{number} of {sheets}" in words
        assert "Tarnwader 2, N0-DEMO" in words
        assert "58D2-C0B7-11FE" in words


def test_the_cover_answers_without_hours(tmp_path, full):
    words = flat(read(drawn(tmp_path, full)).pages[0].extract_text())
    for part in (
        "N0-DEMO",
        "001",
        "Edda Norrell",
        "11 Aug 2024 to 14 May 2026",
        "Paid help: Tam Wray",
        "Unpaid: Jory Pask",
    ):
        assert part in words
    assert "Hal Venning, Inspector, A&P mechanic DEMO-0417: 1 signature, of these 1 signed, then changed." in words
    assert "1 self-inspected" in words
    assert "the authority decide" in words
    assert "1,366.5" not in words


def test_the_contents_name_the_sheets_on_which_the_sections_begin(tmp_path, full):
    reader = read(drawn(tmp_path, full))
    cover = flat(reader.pages[0].extract_text())
    sections = [entry for entry in reader.outline if not isinstance(entry, list)][1:]
    assert [entry.title for entry in sections] == [
        "Hours",
        "Sessions by date",
        "Areas and signatures",
        "Hold and witness points",
        "Discrepancies",
        "Visits",
        "Sessions by assembly",
        "Notes on this print",
    ]
    for entry in sections:
        assert f"{entry.title} {reader.get_destination_page_number(entry) + 1}" in cover


def test_the_outline_leads_to_every_session_and_area(tmp_path, full):
    reader = read(drawn(tmp_path, full))

    def leaves(entries: list[Any]) -> list[Any]:
        return [leaf for entry in entries for leaf in (leaves(entry) if isinstance(entry, list) else [entry])]

    found = {entry.title: reader.get_destination_page_number(entry) for entry in leaves(reader.outline)}
    for number in range(1, 7):
        [at] = [page for title, page in found.items() if title.startswith(f"{number} Thu")]
        assert f"Session {number} " in flat(reader.pages[at].extract_text())
    assert {"January 2026", "24.1-H1 Interior before deck bond Closed with a reason", "Withdrawn sessions"} <= set(
        found
    )


def test_every_session_prints_whole(tmp_path, full):
    words = text_of(drawn(tmp_path, full))
    for one in full["sessions"]:
        assert flat(one["note"]) in words
        assert f"Session {one['number']} " in words
    for part in (
        "Jory Pask (helper, unpaid)",
        "Tam Wray (paid help)",
        "break 0:20 h",
        "Hangar B",
        "worked 14 May 2026, entered 2 Jun 2026, 20:12 MDT",
        "Caption of photo 7.",
        "Taken 14 May 2026, 18:31 MDT, by the camera, with its time zone.",
        "Builder in frame.",
        full["photos"]["P-0001"]["short"],
        "Reason: same as 8",
    ):
        assert part in words


def test_a_correction_prints_old_and_new_and_why(tmp_path, full):
    words = text_of(drawn(tmp_path, full))
    assert "Corrected 15 May 2026, 08:00 MDT by Edda Norrell, because: wrong ply count" in words
    assert "note, before Three plies of tape. note, after Two plies of tape." in words


def test_a_photo_that_stands_only_at_a_gate_says_when_it_was_taken_and_how_that_is_known(tmp_path, full):
    full["sessions"] = []
    words = " ".join(text_of(drawn(tmp_path, full)).split())
    photo = full["photos"]["P-0001"]
    assert "18:31" in photo["taken"] and "18:31" in words and "by the camera" in words


def test_an_area_prints_items_signatures_and_closings(tmp_path, full):
    words = text_of(drawn(tmp_path, full))
    for part in (
        "In place · Photo Bulkhead A, both faces",
        "Missing · Photo Drain boss, sealed",
        "Answer: Yes, Edda Norrell, 14 May 2026, 18:50 MDT",
        "Sent in after closing: P-0002",
        "Signed, then changed",
        "Changed since signing: 1 thing P-0001: caption",
        "Not changed since signing",
        "Self-inspected: signed by somebody who did the work",
        "A&P mechanic DEMO-0417",
        "I looked at what is listed here before it was closed.",
        "Closed with something missing, 3 May 2026, 09:10 MDT, Edda Norrell",
        "Reason: The camera was flat.",
        "Reopened 9 May 2026, 10:00 MDT",
    ):
        assert part in words


def lines_drawn(path: Path) -> int:
    return sum(len(re.findall(rb" l\s", page.get_contents().get_data())) for page in read(path).pages)


def test_what_no_longer_counts_is_struck_through(tmp_path):
    def given(*earlier: str) -> dict[str, Any]:
        return facts(areas=[area("24.1-C1", items=[item(1, "Nothing loose", kind="Check", earlier=list(earlier))])])

    none = lines_drawn(drawn(tmp_path, given()))
    assert lines_drawn(drawn(tmp_path, given("No, Edda Norrell", "No, Jory"))) - none == 2


def test_the_word_for_a_finding_never_prints(tmp_path, full):
    assert "airworth" not in text_of(drawn(tmp_path, full)).lower()


def test_every_font_is_embedded(tmp_path, full):
    full["sessions"][0]["note"] = " ".join(NAMES)
    found = fonts(drawn(tmp_path, full))
    assert len(found) >= 5
    for name, font in found.items():
        assert "Helvetica" not in name
        assert "/FontFile2" in font["/FontDescriptor"]
        assert "/ToUnicode" in font


def test_pictures_are_the_bytes_of_the_renditions_each_stored_once(tmp_path, full):
    stored = list(images(drawn(tmp_path, full)).values())
    files = [rendition_path(one["digest"], 1280).read_bytes() for one in full["photos"].values()]
    assert Counter(stored) == Counter(files)


def test_the_same_facts_give_the_same_bytes(tmp_path, full):
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    write_record(full, first)
    turned = json.loads(json.dumps(full), object_pairs_hook=lambda pairs: dict(reversed(pairs)))
    write_record(turned, second)
    assert first.read_bytes() == second.read_bytes()
    changed = copy.deepcopy(full)
    changed["printed"] = "18 May 2026, 09:00 MDT"
    write_record(changed, second)
    assert first.read_bytes() != second.read_bytes()


def test_the_file_says_whose_it_is_and_tells_no_time_of_its_own(tmp_path, full):
    reader = read(drawn(tmp_path, full))
    assert reader.metadata.title == "Builder's record of Tarnwader 2, N0-DEMO"
    assert reader.metadata.author == "Edda Norrell"
    assert "/CreationDate" not in reader.metadata
    assert "/ModDate" not in reader.metadata
    assert reader.trailer["/Root"]["/Lang"] == "en-US"


@pytest.mark.parametrize("name", NAMES)
def test_names_of_many_scripts_print_and_can_be_copied_out(tmp_path, name):
    given = facts(sessions=[session(1, people=[worker(name)], note=f"With {name} at the bench.")])
    given["project"]["builder_name"] = name
    given["people"][0]["name"] = name
    path = tmp_path / "record.pdf"
    assert write_record(given, path) == []
    words = text_of(path)
    assert words.count(name) >= 4
    assert f"With {name} at the bench." in words
    assert read(path).metadata.author == name


def test_a_character_without_a_font_prints_as_its_code_and_is_named(tmp_path):
    path = tmp_path / "record.pdf"
    remarks = write_record(facts(sessions=[session(1, note="Bench of 王 and \U0001f600\ufe0f.")]), path)
    assert remarks == [
        "No embedded font has U+738B, U+1F600, printed as code in brackets in “Bench of [U+738B] and [U+1F600].”"
    ]
    words = text_of(path)
    assert "Bench of [U+738B] and [U+1F600]." in words
    assert flat(remarks[0]) in words


def test_letters_and_accents_typed_apart_print_as_one(tmp_path):
    path = tmp_path / "record.pdf"
    assert write_record(facts(sessions=[session(1, note="Cafe\u0301")]), path) == []
    assert "Café" in text_of(path)


def test_writing_from_right_to_left_is_remarked_on(tmp_path):
    [remark] = write_record(facts(sessions=[session(1, note="سلام")]), tmp_path / "record.pdf")
    assert remark.startswith("Writing from right to left")


@pytest.mark.parametrize("harm", ["missing", "cut off", "not a picture", "no digest"])
def test_a_picture_that_is_not_at_hand_leaves_its_place_and_a_remark(tmp_path, harm):
    digest = rendition(1)
    path = rendition_path(digest, 1280)
    if harm == "missing":
        path.unlink()
    elif harm == "cut off":
        path.write_bytes(path.read_bytes()[:-40])
    elif harm == "not a picture":
        path.write_bytes(b"words\xff\xd9")
    given = facts(
        sessions=[session(1, photos=["P-0001"])], photos={"P-0001": photo("" if harm == "no digest" else digest)}
    )
    remarks = write_record(given, tmp_path / "record.pdf")
    assert remarks == ["The picture of photo P-0001 was not at hand when this was printed; its place is marked."]
    assert "Picture not at hand" in text_of(tmp_path / "record.pdf")
    assert remarks[0] in text_of(tmp_path / "record.pdf")


@pytest.mark.parametrize("size", [(8, 2000), (2000, 8), (1, 1), (960, 1280)])
def test_pictures_of_any_shape_stay_on_their_sheet(tmp_path, size):
    photos = {"P-0001": photo(rendition(1, size))}
    given = facts(
        sessions=[session(1, photos=["P-0001"])],
        photos=photos,
        areas=[area("1", items=[item(1, "Inside", photos=["P-0001"])])],
    )
    path = drawn(tmp_path, given)
    seen = []
    for page in read(path).pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)

        def look(operator, operands, matrix, _, width=width, height=height):  # noqa: ANN001
            if operator == b"Do":
                w, _b, _c, h, x, y = matrix
                seen.append((w, h))
                assert x >= 26
                assert x + w <= width - 26
                assert y >= 59
                assert y + h <= height - 26

        page.extract_text(visitor_operand_before=look)
    assert len(seen) == 2
    for w, h in seen:
        assert w / h == pytest.approx(size[0] / size[1], rel=1e-3)


def test_a_note_of_ten_thousand_characters_flows_over_the_sheets(tmp_path):
    words = [f"word{number}" for number in range(1, 1250)]
    note = " ".join(words)
    assert len(note) > 10_000
    path = drawn(tmp_path, facts(sessions=[session(1, note=note), session(2)]))
    printed = " ".join(flat(page.extract_text()) for page in read(path).pages)
    positions = [printed.find(word + " ") for word in words[:-1]]
    assert -1 not in positions
    assert positions == sorted(positions)
    assert "Session 1, continued" in printed


def test_a_word_longer_than_the_line_is_broken_and_kept(tmp_path):
    word = "x" * 10_000
    path = drawn(tmp_path, facts(sessions=[session(1, note=word, people=[worker(word[:400])])]))
    assert sum(page.extract_text().count("x") for page in read(path).pages) >= 10_400


def test_nothing_is_lettered_outside_the_border(tmp_path, full):
    full["project"] |= {"name": "N" * 80, "description": "D" * 120, "registration": "R" * 20, "place": "P" * 120}
    full["sessions"][0] |= {"place": "W" * 120, "shares": [{"number": "9" * 40, "name": "W" * 120, "seconds": 5040}]}
    full["areas"][0] |= {"name": "W" * 120, "assembly": "W" * 160}
    full["areas"][0]["signatures"][0] |= {"name": "W" * 120, "certificate": "W" * 140, "covers": ["W" * 120] * 80}
    path = drawn(tmp_path, full)
    for page in read(path).pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)

        def look(text, matrix, inner, font, size, width=width, height=height):  # noqa: ANN001
            if text.strip():
                assert 26 <= inner[4] <= width - 26 or matrix[4]
                assert 26 <= inner[5] <= height - 26 or matrix[5]

        page.extract_text(visitor_text=look)


def test_paper_follows_the_authority(tmp_path):
    given = facts()
    assert read(drawn(tmp_path, given)).pages[0].mediabox[2:] == [612, 792]
    given["project"]["authority"] = "Canada"
    assert [round(side) for side in read(drawn(tmp_path, given)).pages[0].mediabox[2:]] == [595, 842]


def test_an_empty_record_prints(tmp_path):
    given = facts(sessions=[], period=None, people=[], head=None)
    given["hours"] = {"total": 0} | {
        key: [] for key in ("assemblies", "kinds", "works", "roles", "months", "conflicts")
    }
    given["project"] |= {
        "registration": "",
        "builder_name": "",
        "serial_number": "",
        "model_designation": "",
        "place": "",
    }
    words = text_of(drawn(tmp_path, given))
    for part in (
        "No sessions yet",
        "No enclosed areas yet",
        "Nobody has signed yet",
        "not given",
        "Paid help: none recorded",
    ):
        assert part in words


def test_a_missing_folder_and_an_unknown_edition_are_told(tmp_path):
    with pytest.raises(CannotDraw, match="no folder"):
        write_record(facts(), tmp_path / "nowhere" / "record.pdf")
    with pytest.raises(CannotDraw, match="edition 99"):
        write_record(facts(edition=99), tmp_path / "record.pdf")
    assert list(tmp_path.iterdir()) == []


def test_a_failure_leaves_the_old_file_and_no_half(tmp_path, monkeypatch):
    path = drawn(tmp_path, facts())
    before = path.read_bytes()

    def full_disk(*_: Any) -> None:
        raise OSError("No space left on device")

    monkeypatch.setattr("certification.pages.paper.write", full_disk)
    with pytest.raises(CannotDraw, match="No space left"):
        write_record(facts(), path)
    assert [file.name for file in tmp_path.iterdir()] == ["record.pdf"]
    assert path.read_bytes() == before


def test_pictures_are_not_held_in_memory(tmp_path):
    source = tmp_path / "large.jpg"
    made.Image.effect_noise((1280, 960), 90).convert("RGB").save(source, "JPEG", quality=80)
    photos = {f"P-{n:04d}": photo(rendition(n, source=source)) for n in range(200)}
    labels = list(photos)
    given = facts(sessions=[session(n, photos=labels[n * 20 : n * 20 + 20]) for n in range(10)], photos=photos)
    path = drawn(tmp_path, given)
    whole = path.stat().st_size
    assert whole > 200 * source.stat().st_size > 60_000_000
    tracemalloc.start()
    write_record(given, path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < whole / 4


@pytest.mark.django_db
def test_the_command_says_what_is_wrong_in_one_line(tmp_path):
    with pytest.raises(CommandError, match="There is no project 'nowhere'"):
        call_command("record_pdf", "nowhere", str(tmp_path / "out.pdf"), stdout=StringIO())


def test_the_command_takes_times_with_a_zone_only():
    assert moment("2026-05-17T09:00:00+00:00").tzinfo is not None
    for wrong in ("yesterday", "2026-05-17T09:00:00"):
        with pytest.raises(CommandError):
            moment(wrong)


@pytest.mark.django_db
def test_the_command_draws_the_record_of_a_project(tmp_path):
    project, builder = factories.make_project()
    assembly = factories.make_assembly(builder)
    taken = factories.make_photo(builder)
    factories.make_session(builder, assembly, note="Ribs fitted dry.", photos=[taken])
    out, said = tmp_path / "out.pdf", StringIO()
    call_command("record_pdf", project.slug, str(out), "--at", "2026-05-17T09:00:00+00:00", stdout=said)
    assert f"{len(read(out).pages)} sheets, {out.stat().st_size:,} bytes" in said.getvalue()
    assert "Ribs fitted dry." in text_of(out)
    first = out.read_bytes()
    call_command("record_pdf", project.slug, str(out), "--at", "2026-05-17T09:00:00+00:00", stdout=StringIO())
    assert out.read_bytes() == first
    with pytest.raises(CommandError, match="There is no folder"):
        call_command("record_pdf", project.slug, str(tmp_path / "nowhere" / "out.pdf"), stdout=StringIO())


def test_a_photo_of_an_area_that_came_late_says_so(tmp_path):
    given = facts(
        photos={"P-0001": photo(rendition(1), late=True)},
        areas=[area("24.1-H1", items=[item(1, "Drain boss", photos=["P-0001"])])],
        sessions=[],
    )
    assert "20:12 MDT, late." in text_of(drawn(tmp_path, given))


def test_the_hours_say_what_an_overlap_does_to_the_sums(tmp_path):
    words = "where one person's sessions overlap (below), the time counts once in that person's counted hours."
    assert words in text_of(drawn(tmp_path, facts()))
    assert words not in text_of(drawn(tmp_path, facts(hours=facts()["hours"] | {"conflicts": []})))
