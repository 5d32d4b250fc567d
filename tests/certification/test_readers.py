"""One whole record in every profile, read by two independent readers: what leads where, and what never stands there."""

import ctypes
import json
import re
from collections.abc import Callable
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest
from pypdf import PdfReader

from certification import pages, queries
from certification.pages import cover
from certification.rules import profiles
from evidence import commands as evidence
from evidence.queries import rendition_path
from foundation.digest import canonical
from inspections.queries import processes
from process.commands import checks
from tests.certification import closeout, test_file_record
from tests.certification import record_facts as made
from tests.factories import NOW

pytestmark = pytest.mark.django_db

DATA = Path(__file__).parent.parent / "data"
# Words that would be a finding about the aircraft. The program makes none, so they stand in no print.
CLAIMS = re.compile(r"airworth|complian|complies", re.IGNORECASE)
# The eleven that the trade brief tells; asked here in the words of the first sheet.
ELEVEN = 11

# Made once for all tests here, which only read: facts and files by name, and the bytes of every rendition.
KEPT: dict[str, bytes] = {}
RENDITIONS: set[bytes] = set()

project = test_file_record.project


@pytest.fixture
def drawn(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., bytes]:
    """The file for a profile, in an order: of a world in which about everything happened, with a certification file."""
    if not KEPT:
        monkeypatch.setitem(processes.SOURCES, "layup", closeout.layups())
        world = closeout.make()
        known = {"by": world.edda, "at": NOW, "project": world.project}
        checks.record_check(
            "torque", **known, assembly=world.float, place="Bolt 1", shown="85 in-lb", shown_inlb=Decimal(85)
        )
        evidence.keep_document(
            **known, file=BytesIO(b"%PDF-1.7 plan"), name="plan.pdf", kind="sheet", title="Plan, sheet 3"
        )
        other = queries.builder_record(request.getfixturevalue("project"), NOW, "Edda Norrell")
        facts = queries.builder_record(world.project, closeout.hours(100), "Edda Norrell") | {"file": other["file"]}
        paths = [rendition_path(one["digest"], 1280) for one in facts["photos"].values()]
        RENDITIONS.update(path.read_bytes() for path in paths if path.is_file())
        for profile, order in [*((one, "date") for one in profiles.PROFILES), (profiles.EXAMINER, "assembly")]:
            path = tmp_path / "record.pdf"
            pages.write_record(profiles.for_profile(facts, profile) | {"order": order}, path)
            KEPT[f"{profile}, {order}"] = path.read_bytes()
        KEPT["facts"] = canonical(facts).encode()

    return lambda profile=profiles.EXAMINER, order="date": KEPT[f"{profile}, {order}"]


def read(data: bytes) -> PdfReader:
    return PdfReader(BytesIO(data), strict=True)


def flat(text: str) -> str:
    return " ".join(text.split())


def texts(reader: PdfReader) -> list[str]:
    return [flat(page.extract_text()) for page in reader.pages]


def leaves(entries: list[Any]) -> list[Any]:
    return [leaf for entry in entries for leaf in (leaves(entry) if isinstance(entry, list) else [entry])]


def links(reader: PdfReader) -> list[tuple[float, float, int]]:
    """The links of the first sheet: their left edge and upper edge, and the page they lead to, from 0."""
    found = []
    for one in reader.pages[0].get("/Annots", []):
        link = one.get_object()
        assert link["/Subtype"] == "/Link"
        left, _, _, top = map(float, link["/Rect"])
        goal = link["/Dest"]
        named = reader.named_destinations[goal] if isinstance(goal, str) else None
        sheet = reader.get_destination_page_number(named) if named else reader.get_page_number(goal[0].get_object())
        found.append((left, top, sheet))
    return found


# ---- the first sheet ----


def test_each_question_of_an_examiner_leads_to_the_sheet_that_answers_it(drawn: Callable[..., bytes]) -> None:
    reader = read(drawn())
    sheets = texts(reader)
    assert len(cover.ASKED) == ELEVEN
    asked = links(reader)[:ELEVEN]
    # In the order in which they are drawn: down the first column, then down the second.
    assert asked == sorted(asked, key=lambda link: (link[0], -link[1]))
    for (question, places), (_, _, sheet) in zip(cover.ASKED, asked, strict=True):
        title = places[0][1]
        assert title in sheets[sheet], f"{question} leads to sheet {sheet + 1}, which does not say “{title}”"
        assert re.search(rf"{re.escape(question)} {sheet + 1}\b", sheets[0]), question


def test_a_question_goes_to_the_next_best_place_or_nowhere(tmp_path: Path) -> None:
    """A print that has no such section promises none: the oldest facts, and a small record without a file."""
    old = json.loads((DATA / "record_edition_1.json").read_text())
    for facts in (old, made.facts()):
        path = tmp_path / "record.pdf"
        pages.write_record(facts, path)
        reader = read(path.read_bytes())
        sheets, led = texts(reader), {sheet for _, _, sheet in links(reader)}
        assert "Do all papers say the same name, serial and marks? –" in sheets[0]
        [at] = [number for number, words in enumerate(sheets) if "By person Person Role" in words]
        assert f"Who built it, and is that you? {at + 1}" in sheets[0] and at in led


def test_the_first_sheet_answers_within_two_minutes(drawn: Callable[..., bytes]) -> None:
    """Who, what, when, with whose help, what is closed, open, signed, refused, and what this is not; no hours."""
    first, facts = texts(read(drawn()))[0], json.loads(KEPT["facts"])
    counts = facts["counts"]
    for said in (
        facts["project"]["registration"],
        "Builder Edda Norrell",
        facts["period"][0],
        "Paid help: none recorded.",
        f"Enclosed areas {counts['areas']} Closed, nothing missing",
        f"Hold points not released {counts['holds_open']} of {counts['holds']}",
        f"Open discrepancies {counts['discrepancies_open']}",
        f"Not accepted {counts['not_accepted']}",
        f"Signed, then changed {counts['changed']}",
        "Hal Venning, Inspector, A&P mechanic DEMO-0417:",
        "It is not a finding about the aircraft.",
        "In this record Hours",
    ):
        assert said in first, said
    assert all(
        f"{line['number']} {line['name']}" in first for line in facts["hours"]["assemblies"] if not line["depth"]
    )


def test_every_signature_is_found_from_one_table(drawn: Callable[..., bytes]) -> None:
    reader = read(drawn())
    sheets, facts = texts(reader), json.loads(KEPT["facts"])
    [table] = [words for words in sheets[1:] if "Who looked, and what was signed Under By When Outcome Sheet" in words]
    rows = [one for key in ("areas", "points", "discrepancies") for one in facts[key]]
    signed = [signature for one in rows for signature in one["signatures"]]
    assert len(signed) == facts["counts"]["signatures"] > 3
    for signature in signed:
        line = re.search(rf"{signature['at']} (?:Accepted|Not accepted)[^0-9]* (\d+)\b", table)
        assert line, signature["at"]
        assert "Record as signed" in sheets[int(line[1]) - 1]


@pytest.mark.parametrize("profile", [profiles.BUYER, profiles.INSURER, profiles.PUBLIC])
def test_other_readers_are_not_told_what_an_examiner_asks(drawn: Callable[..., bytes], profile: str) -> None:
    sheets = texts(read(drawn(profile)))
    assert "What an examiner asks" not in sheets[0] and "In this record Hours" in sheets[0]
    # What is left out is not said to be missing.
    assert "Certificate none given or left out" in " ".join(sheets)


# ---- what never stands there ----


@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_no_print_claims_a_finding(drawn: Callable[..., bytes], profile: str) -> None:
    data = drawn(profile)
    reader = read(data)
    told = " ".join([*texts(reader), str(reader.metadata), *(str(one.title) for one in leaves(reader.outline))])
    assert CLAIMS.findall(told) == []
    assert CLAIMS.findall(" ".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(data))) == []


# ---- two readers ----


@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_both_readers_find_the_same_bookmarks(drawn: Callable[..., bytes], profile: str) -> None:
    data = drawn(profile)
    reader, other = read(data), pdfium.PdfDocument(data)
    ours = [(flat(str(one.title)), reader.get_destination_page_number(one)) for one in leaves(reader.outline)]
    theirs = [(flat(one.get_title()), one.get_dest().get_index()) for one in other.get_toc()]
    assert ours == theirs and len(ours) > 15
    assert len(reader.pages) == len(other)


def test_both_orders_have_the_same_sheets_with_the_same_numbers(drawn: Callable[..., bytes]) -> None:
    by_date, by_assembly = (read(drawn(order=order)) for order in ("date", "assembly"))
    assert texts(by_date) == texts(by_assembly)
    assert by_date.page_labels == by_assembly.page_labels == [str(n + 1) for n in range(len(by_date.pages))]
    for number, words in enumerate(texts(by_date), 1):
        assert f"{number} of {len(by_date.pages)}" in words
    assert [one.title for one in leaves(by_date.outline)] != [one.title for one in leaves(by_assembly.outline)]


@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_both_readers_find_every_session(drawn: Callable[..., bytes], profile: str) -> None:
    data = drawn(profile)
    ours = " ".join(texts(read(data)))
    theirs = flat(" ".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(data)))
    facts = json.loads(KEPT["facts"])
    numbers = [one["number"] for one in (*facts["sessions"], *facts["withdrawn"])]
    assert len(numbers) > 1
    for number in numbers:
        assert re.search(rf"Session {number}\b", ours) and re.search(rf"Session {number}\b", theirs)


@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_the_other_reader_finds_every_font_embedded(drawn: Callable[..., bytes], profile: str) -> None:
    seen = 0
    for page in pdfium.PdfDocument(drawn(profile)):
        for text in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
            assert raw.FPDFFont_GetIsEmbedded(raw.FPDFTextObj_GetFont(text)) == 1
            seen += 1
    assert seen > 300


def test_the_other_reader_finds_the_untouched_bytes_of_every_picture(drawn: Callable[..., bytes]) -> None:
    found = {
        raw_bytes(image)
        for page in pdfium.PdfDocument(drawn())
        for image in page.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE])
    }
    assert found == RENDITIONS and len(found) > 1


def raw_bytes(image: Any) -> bytes:
    """The bytes of a picture as they stand in the file."""
    length = raw.FPDFImageObj_GetImageDataRaw(image, None, 0)
    data = (ctypes.c_ubyte * length)()
    raw.FPDFImageObj_GetImageDataRaw(image, data, length)
    return bytes(data)
