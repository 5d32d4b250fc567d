"""The certification file in the builder's record: its sections, what each reader gets of them, and none for nothing."""

import json
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from accounts.models import Project
from certification.commands import credit, equipment, papers, placards, statements
from certification.commands import flights as flying
from certification.commands import inspection_lists as inspecting
from certification.models import TestPoint as Point
from certification.pages import print_record, words
from certification.queries import builder_record
from certification.queries.credit import starter
from certification.queries.scope import scope
from certification.rules import profiles
from foundation.digest import canonical
from inspections.commands import discrepancies
from tests.certification.test_balance import item, limit, weigh
from tests.certification.test_flying_pages import answer, begin, fly, phase
from tests.factories import NOW, make_assembly, make_person, make_photo, make_project, make_session, worked

pytestmark = pytest.mark.django_db

AREA = "Ten miles around Quillfield"
CERTIFICATE = "RB-55-117"
FILE = {"credit", "coverage", "papers", "equipment", "placards", "balance", "inspections", "flights", "people"}


@pytest.fixture
def project() -> Project:
    """A small project that has something of every part of the file."""
    made, edda = make_project(
        model_designation="Tarnwader 2", serial_number="001", builder_name="Edda Norrell", registration="N0-DEMO"
    )
    known: dict[str, Any] = {"by": edda, "at": NOW, "project": made}
    hull, wing = make_assembly(edda, "10", "Hull"), make_assembly(edda, "20", "Wing")
    paid = make_person(made, "paid", name="Orla Finch")
    make_session(edda, hull, worked(edda), worked(paid), note="Sprayed", photos=[make_photo(edda)])
    make_session(edda, wing, worked(edda), note="Ribs", request_id="wing")
    one = starter()
    credit.take_up_list(**known, title=one.title, edition="1", source="from memory", sections=one.sections)
    credit.give_credit(**known, code="F1", tenths={"builder_fabrication": 7, "mfr": 2}, places=[hull])
    credit.give_credit(**known, code="F2", tenths={"builder_assembly": 10}, reason="Ours from the first cut")
    papers.take_profile(**known)
    papers.tell_paper(
        **known, code="8130-6", state_word="ready", due_on=date(2027, 3, 4), said_marks="NO-DEMO", note="Ask Thursday"
    )
    equipment.add_equipment(**known, name="Radio", maker="Lumenfold", weight="0.9 kg", weight_g=Decimal(900))
    placards.add_placard(
        **known, kind="plate", words="Edda Norrell\nTarnwader 2\nS/N 002", place="aft of the door",
        letter_mm=Decimal("3.5"), source="My own measure",
    )  # fmt: skip
    weigh(edda)
    item(edda, "Pilot", "80 in", "200 lb")
    limit(edda, "1600 lb", [("1000 lb", "60 in"), ("1600 lb", "60 in")], [("1000 lb", "80 in"), ("1600 lb", "80 in")])
    run = begin(edda)
    for code, said in (("1.01", "yes"), ("1.02", "no"), ("2.01", "na")):
        given = answer(edda, run, code, said)
        if said == "no":
            crack = discrepancies.find(**known, assembly=hull, words="Crack at frame 3", severity="minor")
            inspecting.tie(by=edda, at=NOW, answer=given, discrepancy=crack)
    inspecting.finish(
        by=edda,
        at=NOW,
        inspection=run,
        done_on=NOW.date(),
        done_by="Edda Norrell",
        certificate=CERTIFICATE,
        statement=f"Inspected by me, {CERTIFICATE}.",
        wording="limits",
    )
    phase(edda, area=AREA, wording=f"Within {AREA}.")
    flight = fly(edda, minutes=90, landings=3, note="Trim is heavy")
    flying.plan_points(**known, points="Stall, clean | no wing drop")
    flying.tell_point(by=edda, at=NOW, point=Point.objects.get(), outcome="good", found="44 kt", flight=flight)
    statements.make_statement(
        **known, kind="completion", text=f"Built by me, {CERTIFICATE}.", wording="own", made_on=NOW.date(),
        elements=["own_purpose", "scope", "eligible", "signed"],
    )  # fmt: skip
    return made


def text_of(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(data), strict=True).pages).split())


def drawn(facts: dict[str, Any], folder: Path) -> bytes:
    path = folder / "record.pdf"
    print_record(json.loads(canonical(facts)), path)
    return path.read_bytes()


def test_every_part_of_the_file_is_printed_with_its_cautions(project: Project, tmp_path: Path) -> None:
    facts = builder_record(project, NOW, "Edda Norrell")
    assert json.loads(canonical(facts)) == facts and set(facts["file"]) == FILE
    told = text_of(drawn(facts, tmp_path))
    for said in (
        # R50, R54: the share with its standing, rule, source, who decides, and that the list is a starter list.
        "half or less by these entries (not the official list); the inspector decides.",
        "Starter list, not the official form. Load the official list before you rely on this.",
        "The inspector decides. Use the official list of tasks",
        "From: Amateur-Built Fabrication and Assembly Checklist (2011)",
        "Sums of the columns",
        # R51: evidence of a task, what is missing, both lists.
        "Thin: only one photo, no photo with the builder in it",
        "Edda Norrell (builder) 2.0 h, Orla Finch (paid help) 2.0 h; 1 session, 1 photo; at 10 Hull.",
        "Claimed without evidence F2",
        "Evidence without a claim 20 Wing: builders and unpaid help 2.0 h",
        "Credited in part: less than ten tenths are given F1.",
        # R53: paid help that no column says, and session by session.
        "F1: Paid help in the record, none in its column: sessions of Orla Finch, paid help.",
        "Orla Finch, paid help, entered in the record",
        "10 Hull. Sprayed",
        # R52: trouble with the identity stands above the papers.
        "“NO-DEMO”, here “N0-DEMO”",
        "Ready 4 Mar 2027",
        "Radio Lumenfold 0.9 kg not said",
        "Plates, marks and placards",
        "Edda Norrell / Tarnwader 2 / S/N 002 3.5 mm aft of the door",
        "Empty weight",
        "1 not in order, 1 in order, 1 not applicable",
        "1.02 Keel: no damage (discrepancy D-1, sheet",
        f"Statement: Inspected by me, {CERTIFICATE}.",
        AREA,
        "Trim is heavy",
        "As it should be",
        "44 kt",
        f"“Built by me, {CERTIFICATE}.”",
    ):
        assert said in told, said
    assert told.index("Not the same as the aircraft's identity") < told.index("What the builder says of each paper")
    for word in ("airworthy", "compliant"):
        assert word not in told.lower()


def test_the_contents_name_the_parts_in_their_order(project: Project) -> None:
    keys = [key for key, _ in words.sections(builder_record(project, NOW, "Edda Norrell"))]
    assert keys[keys.index("visits") + 1 : keys.index("stores")] == [
        "credit", "people", "papers", "equipment", "placards", "balance", "inspections", "flights",
    ]  # fmt: skip


def test_the_same_facts_give_the_same_bytes(project: Project, tmp_path: Path) -> None:
    facts = builder_record(project, NOW, "Edda Norrell")
    assert drawn(facts, tmp_path) == drawn(facts, tmp_path)
    assert canonical(builder_record(project, NOW, "Edda Norrell")) == canonical(facts)


def test_a_project_without_a_file_prints_nothing_of_it(tmp_path: Path) -> None:
    bare, _ = make_project()
    facts = builder_record(bare, NOW, "Edda Norrell")
    assert facts["file"] == {}
    told = text_of(drawn(facts, tmp_path))
    for key in words.FILE:
        assert words.TITLES[key] not in told
    assert "Credit" not in told


def test_placards_stand_with_where_and_source_and_what_was_frozen_before_has_none(
    project: Project, tmp_path: Path
) -> None:
    facts = builder_record(project, NOW, "Edda Norrell")
    told = text_of(drawn(facts, tmp_path))
    assert "It does not show as in this record: serial number." in told
    for profile in ("buyer", "insurer"):
        (plate,) = profiles.for_profile(facts, profile)["file"]["placards"]
        assert plate["where"] == "aft of the door" and plate["lacks"] == []
        assert "aft of the door" in text_of(drawn(profiles.for_profile(facts, profile), tmp_path))
    assert "placards" not in profiles.for_profile(facts, "public")["file"]
    before = facts | {"file": {part: said for part, said in facts["file"].items() if part != "placards"}}
    assert "Plates, marks and placards" not in text_of(drawn(before, tmp_path))


def test_a_part_of_the_record_and_records_of_before_have_no_file(project: Project, tmp_path: Path) -> None:
    part = builder_record(project, NOW, "Edda Norrell", scope(project, since=NOW.date() - timedelta(days=9)))
    assert "file" not in part
    old = {key: value for key, value in builder_record(project, NOW, "E").items() if key not in {"file", "stores"}}
    for facts in (part, old | {"edition": 3}):
        assert "Credit for tasks and evidence" not in text_of(drawn(facts, tmp_path))


@pytest.mark.parametrize(
    ("profile", "parts"),
    [
        ("examiner", FILE),
        ("buyer", FILE),
        ("insurer", {"placards", "balance", "inspections", "flights"}),
        ("public", {"credit", "coverage"}),
    ],
)
def test_each_reader_gets_his_parts_of_the_file(
    project: Project, profile: str, parts: set[str], tmp_path: Path
) -> None:
    cut = profiles.for_profile(builder_record(project, NOW, "Edda Norrell"), profile)
    assert set(cut["file"]) == parts
    kept, told = canonical(cut), text_of(drawn(cut, tmp_path))
    whole = profile == "examiner"
    for secret in (AREA, CERTIFICATE, "Ask Thursday", "“NO-DEMO”"):
        assert (secret in told) is whole, secret
        assert secret == "“NO-DEMO”" or (secret in kept) is whole, secret
    assert ("Trim is heavy" in kept) is (profile in {"examiner", "buyer"})
    if "credit" in parts:
        # R53: whoever reads of credit reads of paid help; the public without a name.
        assert "Paid help in the record, none in its column" in told
        assert ("Orla Finch" in kept) is (profile != "public")
    if profile == "public":
        assert not cut["file"]["credit"]["sections"] and not cut["file"]["coverage"]["tasks"]
        assert "strong 0, thin 1, no evidence 1" in told
