"""Gates, points, discrepancies, visits and signatures in the printed record: first the facts, then the sheets."""

import json
import re
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from certification import pages, queries
from evidence import commands as evidence
from foundation.digest import canonical
from inspections.commands import points
from inspections.queries import processes
from tests import factories
from tests.certification import closeout
from tests.certification.closeout import STROKES, TOKEN, hours
from tests.factories import NOW
from tests.inspections.shop import Shop

DATA = Path(__file__).parent.parent / "data"

pytestmark = pytest.mark.django_db


@pytest.fixture
def world(monkeypatch) -> SimpleNamespace:
    monkeypatch.setitem(processes.SOURCES, "layup", closeout.layups())
    return closeout.make()


# The world is made once for the tests that only read what was told of it; they get their own copy.
KEPT: dict[str, Any] = {}


@pytest.fixture
def kept(request, tmp_path) -> dict[str, Any]:
    """The facts of the world, as they are frozen, and the file drawn from them with all its pictures."""
    if not KEPT:
        world, path = request.getfixturevalue("world"), tmp_path / "kept.pdf"
        facts = canonical(queries.builder_record(world.project, hours(100), "Edda Norrell"))
        remarks = pages.write_record(json.loads(facts), path)
        KEPT.update(facts=facts, file=path.read_bytes(), remarks=remarks, digest=world.visit.digest)
    return KEPT


@pytest.fixture
def facts(kept) -> dict[str, Any]:
    return json.loads(kept["facts"])


@pytest.fixture
def reader(kept) -> PdfReader:
    return PdfReader(BytesIO(kept["file"]), strict=True)


@pytest.fixture
def words(reader) -> str:
    """The text of the whole print."""
    return flat(" ".join(page.extract_text() for page in reader.pages))


def named(rows: list[dict[str, Any]], key: str, value: Any) -> dict[str, Any]:
    [row] = [row for row in rows if row[key] == value]
    return row


def flat(text: str) -> str:
    return " ".join(text.split())


# ---- gates ----


def test_each_kind_of_item_tells_what_was_asked_given_and_given_before(facts):
    area = named(facts["areas"], "number", "24.1-C1")
    items = {item["position"]: item for item in area["items"]}
    assert items[2]["answer"].startswith("Yes, Edda Norrell, 14 May 2026, 12:00")
    [before] = items[2]["earlier"]
    assert before.startswith("No: Chips in the corner, Edda Norrell, 14 May 2026, 11:00")
    assert (items[3]["asks"], items[3]["answer"][:6]) == ("From 0.2 mm to 1.5 mm", "1.2 mm")
    assert items[3]["earlier"][0].startswith("1.8 mm, Edda Norrell")
    assert items[4]["answer"].startswith("12 went in, 12 came out, Edda Norrell")
    assert items[5]["records"] == ["Layup Y-7 skin bond: good, 14 May 2026, 11:00 MDT"]
    assert items[6]["inner"].startswith("24.1-C0 Keel box: closed 14 May 2026")
    assert 7 not in items
    [dropped] = area["dropped"]
    assert (dropped["words"], dropped["by"], dropped["reason"]) == (
        "Asked by mistake",
        "Edda Norrell",
        "Belongs to the other float",
    )
    assert dropped["given"][0].startswith("No, Edda Norrell")
    assert area["list"] == "Sealed box, edition 3"


def test_a_closed_area_tells_what_it_lost_waits_for_and_what_was_worked_since(facts):
    area = named(facts["areas"], "number", "24.1-C1")
    assert area["state"] == "closed"
    assert [wait["label"] for wait in area["waits"]] == ["D-2", "H-1", "H-2"]
    assert any("Inspector sign-off" in one for one in area["lost"])
    assert [one["words"] for one in area["explained"]] == ["Outer skin sanded only"]
    [corrected] = area["corrections"]
    assert corrected["changes"] == [
        {"field": "Name", "before": "Interior before deck bond", "after": "Interior before deck bond, left"}
    ]


def test_what_was_missing_when_an_area_was_closed_is_not_told_again_as_lost():
    shop = Shop()
    shop.close(reason="The camera was flat")
    facts = queries.builder_record(shop.project, hours(100), "Edda Norrell")
    assert (facts["areas"][0]["state"], facts["areas"][0]["lost"]) == ("advised", [])
    assert facts["counts"]["areas_lost"] == 0


def test_a_signature_tells_all_that_it_stores(facts):
    refused, ink = named(facts["areas"], "number", "24.1-C1")["signatures"]
    assert (refused["accepted"], refused["reason"]) == (False, "A chip is left beside the boss")
    assert (ink["accepted"], ink["capacity"], ink["certificate"]) == (
        True,
        "Technical counselor",
        "A&P mechanic DEMO-0417",
    )
    assert (ink["extent"], ink["time_in_service"]) == ("Interior and drain, visual", "0 h, not flown")
    assert ink["ink"] == ink["ink_page"] and ink["ink"] in facts["photos"]
    assert ink["entered_by"] == "Edda Norrell, from a page dated 14 May 2026"
    assert len(ink["digests"]) == len(ink["covers"]) > 5
    assert any("caption" in change for change in ink["changes"])
    [link] = named(facts["points"], "number", "H-2")["signatures"]
    assert (link["name"], link["visit"], link["strokes"]) == ("H. Venning", "V-2", STROKES)


# ---- points, discrepancies, visits ----


def test_points_tell_state_calls_and_corrections(facts):
    states = {one["number"]: (one["state_words"], one["stops"]) for one in facts["points"]}
    assert states == {
        "H-1": ("Signed, then changed", True),
        "H-2": ("Not accepted", True),
        "W-1": ("Went on without", False),
    }
    first = named(facts["points"], "number", "H-1")
    assert first["calls"][0]["what"] == "Invited: Hal Venning for 14 May 2026, 15:00 MDT"
    assert first["corrections"][0]["reason"] == "Both were meant"
    [gone] = facts["withdrawn_points"]
    assert (gone["title"], gone["reason"]) == ("W-2 Set twice", "Same as W-1")


def test_discrepancies_tell_their_steps_with_both_dates_where_they_came_late(facts):
    by_label = {one["label"]: one for one in facts["discrepancies"]}
    assert list(by_label) == ["D-1", "D-2", "D-3", "D-4"]
    done = by_label["D-1"]
    assert (done["state_words"], done["found_by"], done["late"]) == ("Done", "Jory", True)
    assert [step["what"] for step in done["steps"]] == ["Rework", "", "Not accepted", "", "Accepted"]
    assert done["steps"][1]["late"] and "Entered" in done["steps"][1]["entered"]
    assert len(done["signatures"]) == 2
    assert {phase: len(labels) for phase, labels in done["photos"].items()} == {"found": 1, "corrected": 1}
    [corrected] = by_label["D-2"]["corrections"]
    assert (corrected["changes"][0]["before"], corrected["changes"][0]["after"]) == ("Minor", "Flight safety")
    assert by_label["D-3"]["withdrawn"]["reason"] == "Same as D-2"
    assert by_label["D-4"]["visit"] == "V-2"


def test_visits_tell_openings_looks_remarks_and_signatures(facts):
    page, link = facts["visits"]
    assert page["link"].startswith("Link taken back") and "He signed on paper" in page["revoked_reason"]
    assert link["openings"] == [{"at": "17 May 2026, 04:00 MDT", "device": "iPhone, Safari"}]
    assert [(one["outcome"], one["counts"]) for one in link["looks"]] == [
        ("Could not be reached", False),
        ("Seen", True),
        ("Could not be reached", True),
    ]
    assert link["remarks"] == ["D-4"]
    assert [(one["number"], one["outcome"]) for one in link["signed"]] == [("H-2", "Not accepted")]


def test_the_link_of_a_visit_and_what_was_written_to_the_visitor_alone_never_print(kept, words):
    for text in (kept["facts"], words):
        assert TOKEN not in text
        assert kept["digest"] not in text and kept["digest"][7:23] not in text
        assert "hangs behind the door" not in text


def test_the_counts_of_the_first_sheet(facts):
    wanted = {
        "areas": 2,
        "areas_closed": 2,
        "areas_lost": 2,
        "holds": 2,
        "holds_open": 2,
        "witness": 1,
        "discrepancies": 3,
        "discrepancies_open": 2,
        "discrepancies_blocking": 1,
        "not_accepted": 1,
        "changed": 2,
        "signatures": 6,
    }
    assert {name: facts["counts"][name] for name in wanted} == wanted


# ---- on paper ----

PRINTED = [
    # the two-minute answer
    "Hold points not released: H-1, H-2.",
    "Open discrepancies: D-2, D-4.",
    "Closed areas in which something is not in place now: 24.1-C0, 24.1-C1.",
    # areas
    "Set up from the list Sealed box, edition 3.",
    "Closed, and not everything it asked for is in place now",
    "From 0.2 mm to 1.5 mm",
    "Answer: 1.8 mm, Edda Norrell",
    "Answer: 12 went in, 12 came out",
    "Layup Y-7 skin bond: good",
    "24.1-C0 Keel box: closed 14 May 2026",
    "Waits · Open discrepancy D-2 Drain hole is 2 mm off the plan",
    "Waits · Hold point not released H-2 Deck bond dry fit",
    "No longer asked for · Check 7 Asked by mistake",
    "because: Belongs to the other float",
    "Work on the assembly after closing: 1 session, not on the inside",
    "Outer skin sanded only",
    "Name, before Interior before deck bond Name, after Interior before deck bond, left",
    # signatures
    "Not accepted: see the reason below",
    "What is not accepted, and why A chip is left beside the boss",
    "NOT ACCEPTED",
    "Capacity Technical counselor",
    "Type and extent Interior and drain, visual",
    "Total time in service 0 h, not flown",
    "wet ink, photographed, page P-",
    "Entered by Edda Norrell, from a page dated 14 May 2026",
    "The page signed in ink",
    "visit link, visit V-2",
    "Drawn signature",
    "Signed, then changed",
    # points
    "May release it Inspector",
    "What it must show: Squeeze-out all round",
    "Invited: Hal Venning for 14 May 2026, 15:00 MDT",
    "Went on without",
    "The resin would not wait",
    "Withdrawn points W-2 Set twice",
    # discrepancies
    "3 discrepancies, 2 open, of which 1 blocks closing.",
    "1 Disposition: Rework",
    "Late: entered 15 May 2026",
    "3 Inspection after it: Not accepted",
    "5 Inspection after it: Accepted",
    "Marks drawn over the photo: 1 ring; 2 note: 40 mm long.",
    "Severity, before Minor Severity, after Flight safety",
    "because: Water stays in",
    "Withdrawn 15 May 2026, 18:00 MDT by Edda Norrell. Reason: Same as D-2",
    # visits
    "Opened 1 time 17 May 2026, 04:00 MDT (iPhone, Safari)",
    "Could not be reached: W-1 First ply of tape. Taped over already",
    "Became D-4",
    "Not accepted: H-2 Deck bond dry fit",
    "Taken back, because: He signed on paper",
    # photos
    "because: Wrong face named",
    "Caption before: Drain boss, aft face",
]


def test_everything_prints(kept, words):
    assert kept["remarks"] == []
    assert [part for part in PRINTED if part not in words] == []
    for word in ("airworthy", "approved", "compliant", "legal"):
        assert word not in words.lower()


def test_the_contents_and_bookmarks_lead_to_the_new_sections(reader):
    cover = flat(reader.pages[0].extract_text() + reader.pages[1].extract_text())
    found = {entry.title: reader.get_destination_page_number(entry) for entry in leaves(reader.outline)}
    for title in ("Hold and witness points", "Discrepancies", "Visits"):
        assert f"{title} {found[title] + 1}" in cover
    for beginning in ("H-1 Strut hardpoint bond", "D-2 Drain hole", "V-2 Deck dry fit"):
        [at] = [page for title, page in found.items() if title.startswith(beginning)]
        assert beginning in flat(reader.pages[at].extract_text())


def leaves(entries: list[Any]) -> list[Any]:
    return [leaf for entry in entries for leaf in (leaves(entry) if isinstance(entry, list) else [entry])]


def test_a_drawn_signature_is_drawn_as_lines(facts, tmp_path):
    def lines(given: dict[str, Any]) -> int:
        pages.write_record(given, path := tmp_path / "record.pdf")
        return sum(len(re.findall(rb" l\s", page.get_contents().get_data())) for page in PdfReader(path).pages)

    drawn = lines(facts)
    named(facts["points"], "number", "H-2")["signatures"][0]["strokes"] = []
    assert drawn - lines(facts) >= sum(len(stroke) // 2 - 1 for stroke in STROKES)


def test_nothing_is_lettered_outside_the_border_or_over_its_neighbor(facts, tmp_path):
    long = "W" * 300
    for area in facts["areas"]:
        for signature in area["signatures"]:
            signature |= {"capacity": long[:120], "extent": long, "entered_by": long[:120], "place": long[:120]}
            signature |= {"reason": "Much is wrong here. " * 400, "covers": [long] * 40, "digests": ["7C41"] * 40}
        area["waits"] = [{"kind": "discrepancy", "label": "D-9999", "words": long}]
        area["lost"] = [long] * 30
    for point in facts["points"]:
        point |= {"words": long[:200], "step": long[:120], "detail": long, "part": long[:120], "number": "9" * 24}
    for row in facts["discrepancies"]:
        row |= {"words": "Much was found here. " * 500, "part": long[:120], "area": long[:120]}
    for visit in facts["visits"]:
        visit |= {"purpose": long[:200], "things": [long] * 40, "person": long[:120]}
    path = tmp_path / "record.pdf"
    pages.write_record(facts, path)
    for page in PdfReader(path, strict=True).pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)

        def look(text, matrix, inner, font, size, width=width, height=height):  # noqa: ANN001
            if text.strip():
                assert 26 <= inner[4] <= width - 26 or matrix[4]
                assert 26 <= inner[5] <= height - 26 or matrix[5]

        page.extract_text(visitor_text=look)


def test_a_record_frozen_before_there_were_points_still_prints(tmp_path):
    old = json.loads((DATA / "record_edition_1.json").read_text())
    assert old["edition"] == 1
    path = tmp_path / "record.pdf"
    pages.write_record(old, path)
    words = flat(" ".join(page.extract_text() for page in PdfReader(path, strict=True).pages))
    for part in (
        "Drain boss, left float",
        "Closed with something missing",
        "Reason: The camera was flat.",
        "Changed since signing: 1 thing",
        "Answer: Yes, Edda Norrell",
        "because: Counted again",
        "Covers 3 items 24.1-C1 Interior before deck bond, Item 1, P-0001",
    ):
        assert part in words
    for part in ("Hold and witness points", "Discrepancies", "Visits", "Open discrepancies"):
        assert part not in words


def test_it_costs_no_more_queries_for_more_of_everything(django_assert_max_num_queries):
    world = closeout.people()
    closeout.more_of_everything(world, 40)
    with django_assert_max_num_queries(130) as few:
        queries.builder_record(world.project, hours(100), "Edda Norrell")
    for number in (41, 42):
        closeout.more_of_everything(world, number)
    with django_assert_max_num_queries(len(few)):
        queries.builder_record(world.project, hours(100), "Edda Norrell")


# ---- before it is printed ----


def test_the_page_names_what_is_open_before_printing(world):
    html = factories.client_for(world.edda).get(reverse("certification:record", args=[world.project.slug]))
    text = html.content.decode()
    for part in (
        "2 discrepancies open",
        "2 hold points not released",
        "1 point signed, then changed",
        "1 area signed, then changed",
        "2 closed areas in which something is not in place now",
    ):
        assert part in text
    assert "photo on no session" not in text and "photos on no session" not in text


def test_a_photo_tells_at_which_point_and_discrepancy_it_stands_and_who_signed(world):
    client = factories.client_for(world.edda)
    for photo, place, signed in (
        (world.squeeze, "Hold point H-1", True),
        (world.void, "D-1, as found", True),
        (world.filled, "D-1, corrected", True),
    ):
        html = client.get(reverse("certification:photo_uses", args=[world.project.slug, photo.pk])).content.decode()
        assert place in html
        assert ("Covered by the signature of Hal Venning" in html) is signed
    assert queries.photo_uses(world.page).any is False


def test_where_a_photo_was_taken_never_prints(tmp_path):
    project, edda = factories.make_project()
    photo = factories.make_photo(edda, data=located())
    assert photo.located
    evidence.draw_now(photo)
    more = {"assembly": factories.make_assembly(edda), "words": "Look", "kind": "hold", "role": "inspector"}
    point = points.add_point(by=edda, at=NOW, project=project, **more)
    points.show_photo(by=edda, at=NOW, point=point, photo=photo)
    facts = queries.builder_record(project, hours(100), "Edda Norrell")
    assert photo.label in facts["photos"]
    path = tmp_path / "record.pdf"
    pages.write_record(facts, path)
    assert b"GPS" not in path.read_bytes() and b"Exif" not in path.read_bytes()
    assert "54.3" not in canonical(facts)


def located() -> bytes:
    """A picture whose camera noted where it stood."""
    image, exif = Image.new("RGB", (64, 48), (9, 99, 9)), Image.Exif()
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (54.0, 19.0, 15.6), "W", (3.0, 1.0, 2.0)
    out = BytesIO()
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()
