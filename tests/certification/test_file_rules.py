"""Rules of the certification file: identity letter by letter, states and days, calendar, drafts, placards, editions."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certification.queries.file_profiles import bundled
from certification.queries.papers_needs import NEEDS, STRINGS
from certification.rules import drafts, file_profiles, identity, papers, placards
from certification.rules.papers_calendar import Day, calendar, escaped
from tests.certification.rfc5545 import read_calendar

STAMP = datetime(2026, 5, 14, 17, 0, tzinfo=UTC)


# ---- identity (rule R52) ----


@pytest.mark.parametrize(
    ("own", "said", "near"),
    [
        ("Tarnwader 2", "tarnwader 2", ("capital and small letters",)),
        ("Tarnwader 2", "Tarnwader2", ("spaces",)),
        ("Tarnwader 2", "Tarnwader  2", ("spaces",)),
        ("N0-DEMO", "N0DEMO", ("hyphens",)),
        ("N0-DEMO", "N0–DEMO", ("hyphens",)),
        ("N0-DEMO", "NO-DEMO", ("letters and figures that look alike, such as the letter O and zero",)),
        ("001", "OOI", ("letters and figures that look alike, such as the letter O and zero",)),
        ("Edda B. Norrell", "Edda B Norrell", ("periods and commas",)),
        ("N0-DEMO", "no demo", ("capital and small letters", "spaces", "hyphens")),
        ("Edda Norrell", "Norrell, Edda", ()),
        ("001", "002", ()),
    ],
)
def test_near_misses_are_told_by_what_makes_them_near(own, said, near):
    found = identity.held_against("marks", own, said)
    assert found is not None
    if near == ("capital and small letters", "spaces", "hyphens"):
        # Spaces, hyphens and look-alikes together explain it; every fold named is needed.
        assert set(near) <= set(found.near)
    else:
        assert found.near == near


def test_the_same_letters_are_no_mismatch_and_nothing_said_is_none():
    assert identity.held_against("serial", "001", "001") is None
    assert identity.held_against("serial", "001", "") is None
    found = identity.held_against("serial", "", "001")
    assert found is not None and found.words == "the project does not say it yet"


@given(st.text(min_size=1), st.text(min_size=1))
def test_whatever_differs_by_a_letter_is_found(own, said):
    assert (identity.held_against("model", own, said) is None) == (own == said)


# ---- states and days ----


def test_registration_is_asked_for_two_months_before():
    # A designee's article: the certificate has to be in hand, apply at least two months ahead (seen).
    assert papers.ask_by(date(2026, 7, 3), 2) == date(2026, 5, 3)
    assert papers.ask_by(date(2026, 4, 30), 2) == date(2026, 2, 28)
    assert papers.ask_by(None, 2) is None
    assert papers.lead_words(2) == "needed two months before"


TODAY = date(2026, 5, 14)


@pytest.mark.parametrize(
    ("state", "due", "filed", "code"),
    [
        ("filed", None, None, "no_day"),
        ("draft", None, TODAY, "not_filed"),
        ("filed", None, date(2026, 5, 15), "in_future"),
        ("draft", date(20, 5, 1), None, "far_off"),
        ("filed", None, TODAY, None),
        ("draft", date(2026, 5, 1), None, None),
    ],
)
def test_a_paper_is_filed_on_a_day_that_has_come(state, due, filed, code):
    wrong = papers.wrong_with(state, due, filed, TODAY)
    assert (wrong[0] if wrong else None) == code


# ---- calendar, RFC 5545 ----


def test_the_calendar_reads_back():
    days = [
        Day("ask-a@x", date(2026, 5, 3), "Ask for: Registration, Form 1; now", "needed two months before\nsecond line"),
        Day("due-a@x", date(2026, 7, 3), "Żółw " * 40, "back\\slash"),
    ]
    found = read_calendar(calendar(days, "File, Tarnwader 2", STAMP))
    assert [one["UID"] for one in found.events] == ["ask-a@x", "due-a@x"]
    assert found.events[0]["SUMMARY"] == "Ask for: Registration, Form 1; now"
    assert found.events[0]["DESCRIPTION"] == "needed two months before\nsecond line"
    assert found.events[1]["SUMMARY"] == "Żółw " * 40
    assert found.events[1]["DESCRIPTION"] == "back\\slash"
    assert found.events[0]["DTSTART"] == date(2026, 5, 3)
    assert found.events[0]["DTEND"] == date(2026, 5, 4)
    assert found.events[0]["DTSTAMP"] == STAMP


@given(st.lists(st.text(max_size=300), min_size=1, max_size=4))
def test_any_words_survive_the_calendar(words):
    days = [Day(f"d{n}@x", date(2026, 1, 1), text, text[::-1]) for n, text in enumerate(words)]
    for day, event in zip(days, read_calendar(calendar(days, "x", STAMP)).events, strict=True):
        assert escaped(event["SUMMARY"]) == escaped(day.title)


# ---- drafts ----


def test_a_draft_begins_with_its_elements_and_tells_what_is_left():
    text = drafts.skeleton("Program letter", [drafts.Filled("Purpose", ""), drafts.Filled("The aircraft", "No 1")])
    assert text == "Program letter\n\n[Purpose]\nThe aircraft: No 1\n"
    assert drafts.holes(text) == ["Purpose"]
    assert drafts.holes("done") == []


def test_a_word_of_a_standard_certificate_is_cautioned_without_repeating_it():
    assert drafts.SAFE in drafts.caution("I find it AIRWORTHY.")
    assert "airworthy" not in drafts.caution("airworthy").lower()
    assert not drafts.caution("It is in a condition for safe operation.")


# ---- placards ----


PLATES = bundled()["US"].list.plates


@pytest.mark.parametrize(
    ("kind", "words", "mm", "state"),
    [
        # 14 CFR 45.23(b): 2 in or more (seen).
        ("placard", "EXPERIMENTAL", "50.8", "good"),
        ("placard", "Experimental", "50.7", "bad"),
        # 14 CFR 45.29(b): 3 in up to 180 kt CAS, else 12 in (seen).
        ("marks", "N0-DEMO", "76.1", "bad"),
        ("marks", "N0-DEMO", "76.2", "partly"),
        ("marks", "N0-DEMO", "304.8", "good"),
        ("placard", "No smoking", "5", "unknown"),
    ],
)
def test_letters_are_held_against_the_least_height_with_its_source(kind, words, mm, state):
    found = placards.height(kind, words, Decimal(mm), PLATES)
    assert found.state == state
    assert ("45.2" in found.source) == (state != "unknown")
    if state == "partly":
        assert "180 kt" in found.words


def test_a_plate_shows_the_identity_to_the_letter():
    own = {"builder": "Edda Norrell", "model": "Tarnwader 2", "serial": "001", "marks": "N0-DEMO"}
    assert placards.lacking("plate", "Edda Norrell\nTarnwader 2\nS/N 001", own) == []
    assert placards.lacking("plate", "Edda Norrell\nTarnwader 2\nS/N 0011", own) == ["serial"]
    assert placards.lacking("plate", "Edda Norrell\nTarnwader II\nS/N OO1", own) == ["model", "serial"]
    assert placards.nearest("Edda Norrell\nS/N OO1", "001") == ("OO1", (list(identity.FOLDS)[-1],))
    assert placards.lacking("marks", "NO-DEMO", own) == ["marks"]
    assert placards.lacking("marks", "N0-DEMO", own) == []
    assert placards.lacking("placard", "EXPERIMENTAL", own) == []


# ---- the lists ----


@pytest.mark.parametrize("code", ["US", "CA", "UK", "AU", "other"])
def test_every_line_of_a_list_says_how_it_is_known(code):
    found = bundled()[code].list
    assert found.edition and found.date and found.note and found.source
    codes = [item.code for item in found.items]
    assert len(codes) == len(set(codes))
    for item in found.items:
        assert item.source and known(item.mark), item.code
        assert set(item.says) <= set(identity.FIELDS)
        assert set(item.needs) <= set(NEEDS)
        assert {box.source for box in item.fill_in} <= set(STRINGS)
    for statement in found.statements:
        for element in statement.elements:
            assert element.source and known(element.mark)
            assert not element.fact or element.fact in STRINGS
    for plate in found.plates:
        assert plate.source and known(plate.mark) and Decimal(plate.letter_mm) > 0
        assert set(plate.facts) <= set(identity.FIELDS)
    for one in found.dates:
        assert one.source and known(one.mark)


def known(mark):
    return any(word in mark for word in ("seen", "memory", "inferred", "common practice"))


def test_the_lists_never_claim():
    folder = Path(file_profiles.__file__).parents[1] / "data" / "profiles"
    for path in folder.glob("*.json"):
        text = path.read_text().lower()
        assert "airworthy" not in text and "compliant" not in text and "approved" not in text
        assert "closing" not in json.loads(text)  # that stands with the authority, once


def test_what_a_newer_edition_says_otherwise_is_told_line_by_line():
    old = bundled()["US"].list
    changed = replace(old.items[0], lead_months=3, purpose="Other words")
    new = replace(old, edition="2", items=(changed, *old.items[2:]))
    found = file_profiles.differences(old, new)
    assert [(one.about, one.before, one.after) for one in found][:2] == [
        ("Paper Registration certificate: purpose", old.items[0].purpose, "Other words"),
        ("Paper Registration certificate: lead months", "2", "3"),
    ]
    assert found[-1].about == "Paper Application for registration" and found[-1].after == ""
    assert file_profiles.differences(old, old) == []
