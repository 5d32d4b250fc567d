"""The certification file through its pages: list, papers, documents, sheets, drafts, equipment, placards."""

import json
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO
from random import Random
from unittest.mock import patch

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader

from accounts import commands as accounts
from archive import queries as archive
from certification.commands import drafts, equipment, papers, placards
from certification.models import Draft, Equipment, FileProfile, Paper, Placard, Statement
from certification.queries import file_profiles
from certification.queries import papers as queries
from certification.queries.drafts import drafts_facts
from certification.queries.equipment import equipment_facts
from certification.queries.placards import asked_for, placards_facts
from config.demo import papers_file
from evidence.models import Document
from foundation.digest import canonical, digest_bytes
from foundation.refusal import Refusal
from journal.models import Entry
from tests import factories
from tests.archive import honest
from tests.certification.rfc5545 import read_calendar
from tests.factories import NOW

pytestmark = pytest.mark.django_db

ACTS_HERE = (
    *("take_file_list", "tell_paper", "paper_of_our_own", "paper_document", "write_draft"),
    *("list_equipment", "list_placard"),
)
IDENTITY = {"model_designation": "Tarnwader 2", "serial_number": "001", "builder_name": "Edda Norrell"}


@pytest.fixture
def shop():
    return factories.make_project(**IDENTITY)


@pytest.fixture
def taken(shop):
    project, edda = shop
    papers.take_profile(by=edda, at=NOW, project=project)
    return project, edda


def page(client, name, project, *more):
    return client.get(address(name, project, *more)).content.decode()


def address(name, project, *more):
    return reverse(f"certification:{name}", args=[project.slug, *more])


def told(edda, code="8130-6", **said):
    return papers.tell_paper(by=edda, at=NOW, project=edda.project, code=code, **said)


def entries():
    return Entry.objects.count()


# ---- the list ----


def test_a_list_is_taken_up_by_one_click_and_kept(shop):
    project, edda = shop
    client = factories.client_for(edda)
    assert "Take up this list" in page(client, "file", project)
    before, seen = entries(), file_profiles.bundled_for(project).digest
    assert client.post(address("file_take_profile", project), {"seen": seen}).status_code == 302
    assert entries() == before + 1
    kept = FileProfile.objects.get()
    assert (kept.authority, kept.digest) == ("US", digest_bytes(kept.content.encode()))
    client.post(address("file_take_profile", project), {"seen": seen})
    assert FileProfile.objects.count() == 1 and entries() == before + 1
    html = page(client, "file", project)
    assert "Take up this list" not in html and "Form 8130-12" in html


def test_a_list_that_was_not_seen_is_not_taken_up(shop):
    project, edda = shop
    take = address("file_take_profile", project)
    response = factories.client_for(edda).post(take, {"seen": "sha256:00"}, follow=True)
    assert "has changed since this page was made" in response.content.decode()
    assert not FileProfile.objects.exists()


def test_a_newer_edition_shows_the_difference_and_waits(taken):
    project, edda = taken
    kept = FileProfile.objects.get()
    older = json.loads(kept.content)
    older["edition"] = "0"
    older["items"][0]["lead_months"] = 3
    gone = {**older["items"][1], "code": "old-form", "title": "Old form"}
    older["items"].append(gone)
    content = canonical(older)
    FileProfile.objects.filter(pk=kept.pk).update(content=content, digest=digest_bytes(content.encode()))
    client = factories.client_for(edda)
    told(edda, "old-form", state_word="draft")
    html = page(client, "file", project)
    assert "The program has another edition of the list" in html
    html = page(client, "file_profile", project)
    assert "Registration certificate: lead months" in html and "<del>3</del>" in html and "<ins>2</ins>" in html
    assert "would be gone" in html
    client.post(address("file_take_profile", project), {"seen": file_profiles.bundled_for(project).digest})
    html = page(client, "file", project)
    assert "another edition" not in html and "Not in this edition of the list" in html and "Old form" in html


def test_another_authority_is_told_and_its_list_offered(taken):
    project, edda = taken
    accounts.correct_project(by=edda, at=NOW, project=project, authority="CA", reason="Moved")
    project.refresh_from_db()
    html = page(factories.client_for(edda), "file", project)
    assert "is not that of Canada" in html


@pytest.mark.parametrize("code", ["US", "CA", "UK", "AU", "other"])
def test_every_list_makes_every_page(shop, code):
    project, edda = shop
    accounts.correct_project(by=edda, at=NOW, project=project, authority=code, reason="x")
    project.refresh_from_db()
    papers.take_profile(by=edda, at=NOW, project=project)
    client = factories.client_for(edda)
    for item in file_profiles.profile_of(project).list.items:
        assert client.get(address("paper", project, item.code)).status_code == 200
        sheet = client.get(address("paper_sheet", project, item.code))
        assert sheet.status_code == (200 if item.fill_in else 404)
    for name in ("file", "file_profile", "drafts", "equipment", "placards"):
        html = page(client, name, project).lower()
        assert "airworthy" not in html and "compliant" not in html
    for kind in ("program_letter", "completion"):
        assert client.get(address("draft", project, kind)).status_code == 200


# ---- papers ----


def test_a_paper_goes_its_way_with_one_entry_each(taken):
    project, edda = taken
    client = factories.client_for(edda)
    edit = address("paper_edit", project, "registration")
    before = entries()
    sent = {"state_word": "draft", "due_on": "2026-12-03", "said_marks": "N0-DEMO"}
    assert client.post(edit, sent).status_code == 302
    assert client.post(edit, sent).status_code == 302  # the same again
    assert entries() == before + 1
    html = page(client, "file", project)
    assert "needed two months before" in html and "3 Oct 2026" in html
    assert client.post(edit, sent | {"state_word": "filed"}).status_code == 422
    assert client.post(edit, sent | {"state_word": "filed", "filed_on": "2026-05-14"}).status_code == 302
    again = client.post(edit, sent | {"state_word": "filed", "filed_on": "2026-05-14", "note": "Copy at home"})
    assert again.status_code == 422 and "It is filed" in again.content.decode()
    assert "Copy at home" in again.content.decode()
    sent |= {"state_word": "filed", "filed_on": "2026-05-14", "note": "Copy at home", "reason": "Forgotten"}
    assert client.post(edit, sent).status_code == 302
    html = page(client, "paper", project, "registration")
    assert "Reason: Forgotten" in html and "the same" in html
    withdraw = address("paper_withdraw", project, "registration")
    assert client.post(withdraw, {"reason": ""}).status_code == 422
    assert client.post(withdraw, {"reason": "Wrong paper"}).status_code == 302
    html = page(client, "paper", project, "registration")
    assert "Not started" in html and "Wrong paper" in html


def test_nothing_is_told_before_a_list_is_taken_up(shop):
    _, edda = shop
    with pytest.raises(Refusal, match="Take up the list"):
        told(edda, state_word="draft")


def test_an_own_paper_is_added_and_withdrawn(taken):
    project, edda = taken
    client = factories.client_for(edda)
    assert client.post(address("paper_new", project), {"state_word": "draft"}).status_code == 422
    client.post(address("paper_new", project), {"title": "Noise letter", "state_word": "draft"})
    assert Paper.objects.get().code == "own-1"
    assert "Noise letter" in page(client, "file", project)
    client.post(address("paper_withdraw", project, "own-1"), {"reason": "Not asked for"})
    page(client, "file", project)  # which tells it once
    assert "Noise letter" not in page(client, "file", project)
    assert "Withdrawn on" in page(client, "paper", project, "own-1")
    client.post(address("paper_new", project), {"title": "Insurance", "state_word": "draft"})
    assert Paper.objects.filter(withdrawn_at=None).get().code == "own-2"


def test_documents_are_put_with_a_paper_and_taken_off(taken):
    project, edda = taken
    client = factories.client_for(edda)
    new = address("paper_document", project, "8130-12")
    assert client.post(new, {"kind": "other"}).status_code == 422
    before = entries()
    file = SimpleUploadedFile("form.pdf", b"%PDF-1.7 signed")
    assert client.post(new, {"file": file, "kind": "other"}).status_code == 302
    assert entries() == before + 2  # the document, and that it is with the paper
    paper, document = Paper.objects.get(), Document.objects.get()
    assert (paper.state_word, document.title) == ("draft", "Eligibility statement, Form 8130-12")
    assert "DOC-1" in page(client, "paper", project, "8130-12")
    other = address("paper_document", project, "8130-6")
    assert client.post(other, {"kept": document.pk, "kind": "other"}).status_code == 302
    off = address("paper_document_off", project, "8130-12", document.pk)
    assert client.post(off).status_code == 302
    assert "DOC-1" not in page(client, "paper", project, "8130-12").split("History")[0]
    assert "1 document" in page(client, "file", project)


# ---- one identity (rule R52) ----


def test_a_mismatch_stands_on_top_and_before_printing(taken):
    project, edda = taken
    told(edda, state_word="ready", said_marks="NO-DEMO", said_serial="001", said_builder="Edda Norrell")
    plate = {"kind": "plate", "words": "Edda Norrell\nTarnwader2\n001", "letter_mm": Decimal(4), "count": 1}
    placards.add_placard(by=edda, at=NOW, project=project, **plate)
    found = queries.identity_troubles(project)
    assert [(one.where, one.mismatch.field, one.mismatch.said) for one in found] == [
        ("Application for the certificate, Form 8130-6", "marks", "NO-DEMO"),
        ("Plate", "model", "Tarnwader2"),
    ]
    assert "letter O and zero" in found[0].mismatch.words and "spaces" in found[1].mismatch.words
    client = factories.client_for(edda)
    for name, more in (("file", ()), ("record", ()), ("paper_sheet", ("8130-6",))):
        html = page(client, name, project, *more)
        assert "2 places where the identity is told otherwise" in html, name
    told(edda, said_marks="N0-DEMO")
    assert len(queries.identity_troubles(project)) == 1
    assert "Not copied off it yet: model" in page(client, "file", project)


def test_a_change_of_the_project_is_caught_on_every_paper(taken):
    project, edda = taken
    told(edda, "8130-6", state_word="ready", said_serial="001")
    told(edda, "8130-12", state_word="ready", said_serial="001")
    assert not queries.identity_troubles(project)
    accounts.correct_project(by=edda, at=NOW, project=project, serial_number="0001", reason="As registered")
    project.refresh_from_db()
    assert len(queries.identity_troubles(project)) == 2


# ---- needs and sheets ----


def test_needs_come_from_the_record(taken):
    project, edda = taken
    client = factories.client_for(edda)
    html = page(client, "file", project)
    for words in ("Not weighed yet", "No photo yet", "Builder&#x27;s record not made yet", "No paid help is recorded"):
        assert words in html
    paid = factories.make_person(project, "paid", name="Tam Wray", account=False)
    accounts.withdraw_person(by=edda, at=NOW, person=paid, reason="Finished")
    factories.make_photo(edda, builder_in_frame=True)
    html = page(client, "file", project)
    # Paid help cannot be hidden, whoever was taken off since (rule R53).
    assert "Paid help to be named: Tam Wray" in html and "Photos: 1, the builder in 1" in html
    assert "Tam Wray" in page(client, "paper_sheet", project, "8130-12")


def test_a_fill_in_sheet_has_the_exact_strings(taken):
    project, edda = taken
    client = factories.client_for(edda)
    html = page(client, "paper_sheet", project, "8130-6")
    for own in ("N0-DEMO", "Edda Norrell", "Tarnwader 2", ">001<"):
        assert own in html
    assert "old edition are rejected" in html and "Not in the record" in html
    motor = {"name": "Engine", "maker": "Brackwater", "model": "B4", "serial": "77"}
    equipment.add_equipment(by=edda, at=NOW, project=project, **motor)
    assert "Brackwater B4 77" in page(client, "paper_sheet", project, "8130-6")


def test_the_calendar_has_the_days_with_stable_names(taken):
    project, edda = taken
    told(edda, "registration", state_word="draft", due_on=date(2026, 12, 3))
    client = factories.client_for(edda)
    response = client.get(address("file_calendar", project))
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    first = read_calendar(response.content)
    assert [one["DTSTART"] for one in first.events] == [date(2026, 10, 3), date(2026, 12, 3)]
    told(edda, "registration", due_on=date(2027, 1, 7))
    second = read_calendar(client.get(address("file_calendar", project)).content)
    assert [one["UID"] for one in first.events] == [one["UID"] for one in second.events]
    told(edda, "registration", state_word="filed", filed_on=NOW.date())
    assert not read_calendar(client.get(address("file_calendar", project)).content).events


def test_the_yearly_inspection_comes_again(taken):
    project, edda = taken
    client = factories.client_for(edda)
    assert "Counts from the first one" in page(client, "file", project)
    done = {"kind": "condition", "text": "Done", "made_on": date(2026, 5, 14), "entered_at": NOW, "entered_by": edda}
    Statement(project=project, **done).save(force_insert=True)
    html = page(client, "file", project)
    # Within 12 calendar months (operating limitations, seen in copies), counted to the day.
    assert "by 14 May 2027" in html and "the last condition inspection on 14 May 2026" in html
    events = read_calendar(client.get(address("file_calendar", project)).content).events
    assert [(one["DTSTART"], one["SUMMARY"]) for one in events] == [
        (date(2027, 5, 14), "Condition inspection (Tarnwader 2)")
    ]


# ---- drafts ----


def test_a_draft_is_begun_from_the_elements_and_written(taken):
    project, edda = taken
    client = factories.client_for(edda)
    html = page(client, "draft", project, "program_letter")
    assert "[Purpose of the program]" in html and "serial number 001, marks N0-DEMO" in html
    before = entries()
    for _ in range(2):
        client.post(address("draft", project, "program_letter"), {"text": "Purpose: [say]\r\nArea: the lake"})
    assert entries() == before + 1 and Draft.objects.get().text == "Purpose: [say]\nArea: the lake\n"
    assert "Still to fill in" in page(client, "draft", project, "program_letter")
    assert "Program letter: 1 place to fill in" in page(client, "paper", project, "program-letter")
    response = client.post(address("draft", project, "completion"), {"text": "  "})
    assert response.status_code == 422
    client.post(address("draft_withdraw", project, "program_letter"), {"reason": "Again"})
    assert not drafts_facts(project)
    assert client.get(address("draft", project, "other")).status_code == 404


# ---- equipment ----


def test_equipment_keeps_what_was_typed_beside_the_figure(taken):
    project, edda = taken
    client = factories.client_for(edda)
    sent = {"name": "Battery", "weight": "2 lb 4 oz", "arm": "-120 mm"}
    assert client.post(address("equipment_new", project), sent).status_code == 302
    row = Equipment.objects.get()
    # 2 lb 4 oz is 36 oz of 28.349523125 g (international avoirdupois, exact).
    assert (row.weight, row.weight_g) == ("2 lb 4 oz", Decimal("1020.5828325"))
    assert (row.arm, row.arm_mm) == ("-120 mm", Decimal(-120))
    bad = client.post(address("equipment_edit", project, row.pk), {"name": "Battery", "weight": "two"})
    assert bad.status_code == 422 and 'value="two"' in bad.content.decode()
    client.post(address("equipment_edit", project, row.pk), sent | {"weight": "1.1 kg", "reason": "Weighed"})
    html = page(client, "equipment", project)
    assert "1.1 kg" in html and "1,100" in html
    assert "Weighed" in page(client, "equipment_edit", project, row.pk)
    client.post(address("equipment_withdraw", project, row.pk), {"reason": "Sold"})
    assert not equipment_facts(project)


# ---- placards ----


def test_a_placard_comes_from_the_list_and_is_checked(taken):
    project, edda = taken
    client = factories.client_for(edda)
    html = client.get(address("placard_new", project) + "?from=plate").content.decode()
    assert "Edda Norrell\nTarnwader 2\n001" in html
    marks = {"kind": "marks", "words": "N0-DEMO", "letter_mm": Decimal("76.2"), "count": 1}
    low = placards.add_placard(by=edda, at=NOW, project=project, **marks)
    asked = {one.plate.code: (one.there, one.instead) for one in asked_for(project)}
    assert (asked["marks-3"], asked["marks-12"]) == ((True, False), (False, True))
    assert asked["warning"] == asked["experimental"] == (False, False)
    placards.withdraw_placard(by=edda, at=NOW, row=low, reason="x")
    sent = {"kind": "placard", "words": "EXPERIMENTAL", "letter_mm": "40", "count": "2"}
    assert client.post(address("placard_new", project), sent).status_code == 302
    row = Placard.objects.get(kind="placard")
    html = page(client, "placards", project)
    assert "Too low: at least 50.8 mm" in html and "45.23(b)" in html
    client.post(address("placard", project, row.pk), sent | {"letter_mm": "50.8", "reason": "2 in"})
    assert placards_facts(project)[0]["letter_mm"] == "50.8"
    for wrong in ({"letter_mm": "0"}, {"count": "21"}, {"words": " "}):
        assert client.post(address("placard_new", project), sent | wrong).status_code == 422
    client.post(address("placard_withdraw", project, row.pk), {"reason": "Twice"})
    assert not placards_facts(project)


# ---- doors ----

PAGES = [
    *(("file",), ("file_profile",), ("file_calendar",), ("paper", "8130-6"), ("paper_sheet", "8130-6"), ("drafts",)),
    *(("draft", "completion"), ("equipment",), ("placards",), ("placards_pdf",)),
]
BUILDERS = [
    *(("paper_new",), ("paper_edit", "8130-6"), ("paper_document", "8130-6"), ("equipment_new",), ("placard_new",)),
]


def test_a_stranger_learns_nothing_and_a_reader_changes_nothing(taken):
    project, _ = taken
    _, other = factories.make_project("Second hull")
    stranger, reader = factories.client_for(other), factories.client_for(factories.make_person(project, "reader"))
    for name, *more in [*PAGES, *BUILDERS]:
        assert stranger.get(address(name, project, *more)).status_code == 404, name
    for name, *more in PAGES:
        assert reader.get(address(name, project, *more)).status_code in {200, 302}, name
    for name, *more in BUILDERS:
        assert reader.post(address(name, project, *more), {}).status_code == 403, name
    assert reader.post(address("file_take_profile", project)).status_code == 403
    assert reader.post(address("draft", project, "completion"), {"text": "x"}).status_code == 403


def test_rows_of_another_project_are_not_there(taken):
    project, edda = taken
    _, other = factories.make_project("Second hull", **IDENTITY)
    row = equipment.add_equipment(by=other, at=NOW, project=other.project, name="Radio")
    sign = placards.add_placard(
        by=other, at=NOW, project=other.project, kind="placard", words="X", letter_mm=Decimal(5), count=1
    )
    client = factories.client_for(edda)
    assert client.get(address("equipment_edit", project, row.pk)).status_code == 404
    assert client.get(address("placard", project, sign.pk)).status_code == 404
    paper = SimpleUploadedFile("a.txt", b"of the second hull")
    kept = papers.keep_with_paper
    papers.take_profile(by=other, at=NOW, project=other.project)
    kept(by=other, at=NOW, project=other.project, code="8130-6", file=paper, name="a", kind="other", title="A")
    with pytest.raises(Refusal, match="another project"):
        papers.put_document(by=edda, at=NOW, project=project, code="8130-6", document=Document.objects.get())


# ---- the story of the demo, and honest histories ----


def test_the_demo_has_half_a_file_with_one_paper_filed_and_one_mismatch(shop):
    project, edda = shop
    papers_file.fill(project, edda, NOW)
    found = queries.the_file(project, NOW.date())
    assert [one.mismatch.said for one in found.troubles] == ["NO-DEMO"]
    assert {word: count for _, word, count in found.tally} == {"Not started": 11, "Draft": 2, "Ready": 2, "Filed": 1}
    client = factories.client_for(edda)
    html = page(client, "file", project)
    assert "1 place where the identity is told otherwise" in html
    assert "Registration certificate" in client.get(f"/{project.slug}/documents/").content.decode()
    document = client.get(f"/{project.slug}/documents/{Document.objects.get().pk}/").content.decode()
    assert address("paper", project, "registration") in document
    assert client.get(address("placards_pdf", project)).content.startswith(b"%PDF")
    only = {"only": Placard.objects.get(kind="plate").pk, "paper": "letter"}
    pdf = PdfReader(BytesIO(client.get(address("placards_pdf", project), only).content))
    assert len(pdf.pages) == 1 and "Tarnwader 2" in pdf.pages[0].extract_text()


def test_whatever_happens_to_the_file_a_check_finds_nothing():
    mine = [act for act in honest.ACTS if act.__name__ in ACTS_HERE]
    assert len(mine) == len(ACTS_HERE)
    history = honest.History(Random(7))
    with patch.dict(honest.ACTS, dict.fromkeys([honest.keep_document, *mine], 4), clear=True):
        history.live(90)
    assert [fault.words for fault in archive.check(history.project.pk).faults] == []
    assert set(ACTS_HERE) <= set(history.done)


# ---- facts for print ----


def test_the_facts_are_plain_values_without_a_clock(taken):
    project, edda = taken
    told(edda, state_word="filed", filed_on=NOW.date(), said_marks="NO-DEMO")
    drafts.write_draft(by=edda, at=NOW, project=project, kind="completion", text="Done")
    equipment.add_equipment(by=edda, at=NOW, project=project, name="Radio")
    facts = queries.file_facts(project)
    text = canonical([facts, drafts_facts(project), equipment_facts(project), placards_facts(project)])
    assert "airworthy" not in text.lower() and "compliant" not in text.lower()
    line = next(one for one in facts["papers"] if one["code"] == "8130-6")
    assert (line["state_words"], line["filed_on"], line["said"]["Marks"]) == ("Filed", "2026-05-14", "NO-DEMO")
    assert facts["mismatches"][0]["words"].startswith("differs only in letters and figures")
    assert facts["profile"]["digest"] == FileProfile.objects.get().digest


def test_the_file_reads_a_fixed_number_of_queries(taken, django_assert_max_num_queries):
    project, edda = taken
    for item in file_profiles.profile_of(project).list.items:
        told(edda, item.code, state_word="draft", due_on=NOW.date() + timedelta(days=90))
    with django_assert_max_num_queries(45):
        queries.the_file(project, NOW.date())
