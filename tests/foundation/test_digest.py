"""Digests, the one JSON text of a value, and what a row looks like as plain data."""

import hashlib
import json
import struct
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from foundation.digest import CHUNK, canonical, digest_bytes, digest_file, short
from foundation.record import part_states, plain
from tests import factories

# RFC 8785, sections 3.2.2 (primitive values) and 3.2.3 (sorting), numbers of its appendix B; all from memory.
RFC_PRIMITIVES = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
RFC_PRIMITIVES_TEXT = (
    r'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'
    "'"
    r'B\"\\\\\"/"}'
)
RFC_SORTING = r"""{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}"""
RFC_SORTED = [
    "Carriage Return",
    "One",
    "Control",
    "Latin Small Letter O With Diaeresis",
    "Euro Sign",
    "Emoji: Grinning Face",
    "Hebrew Letter Dalet With Dagesh",
]
RFC_NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]

values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


def test_primitive_values_as_published():
    assert canonical(json.loads(RFC_PRIMITIVES)) == RFC_PRIMITIVES_TEXT


def test_members_are_sorted_as_published():
    assert list(json.loads(canonical(json.loads(RFC_SORTING))).values()) == RFC_SORTED


@pytest.mark.parametrize(("bits", "text"), RFC_NUMBERS)
def test_numbers_as_published(bits, text):
    assert canonical(struct.unpack(">d", bytes.fromhex(bits))[0]) == text


@pytest.mark.parametrize("number", [float("nan"), float("inf"), 2**53])
def test_numbers_that_json_cannot_carry_are_refused(number):
    with pytest.raises(ValueError, match=r".*"):
        canonical(number)


@given(values)
def test_the_same_value_has_one_text_and_it_says_the_value(value):
    text = canonical(value)
    assert json.loads(text) == value
    assert canonical(json.loads(text)) == text


@given(st.dictionaries(st.text(max_size=5), st.integers(0, 9), max_size=6), st.randoms(use_true_random=False))
def test_the_order_in_which_members_were_put_in_does_not_matter(value, chance):
    members = list(value.items())
    chance.shuffle(members)
    assert canonical(dict(members)) == canonical(value)


@pytest.mark.parametrize("size", [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK + 7])
def test_a_file_has_the_digest_of_its_bytes_and_their_number(size):
    data = bytes(range(256)) * (size // 256 + 1)
    file = BytesIO(data[:size])
    file.read(5)
    assert digest_file(file) == ("sha256:" + hashlib.sha256(data[:size]).hexdigest(), size)


def test_the_digest_of_nothing_as_published():
    # FIPS 180-4, the digest of the empty message.
    assert digest_bytes(b"") == "sha256:e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_a_short_digest_has_three_groups():
    assert short(digest_bytes(b"")) == "E3B0-C442-98FC"


# ---- rows as plain data ----


def test_plain_values():
    denver = timezone(timedelta(hours=-6))
    assert plain(datetime(2026, 5, 14, 9, 30, 0, 250_000, denver)) == "2026-05-14T15:30:00.250000Z"
    assert plain(datetime(2026, 5, 14, tzinfo=UTC)) == "2026-05-14T00:00:00Z"
    assert plain(date(2026, 5, 14)) == "2026-05-14"
    assert plain(Decimal("2.5000")) == plain(Decimal("2.5")) == "2.5"
    assert plain(Decimal("1E+3")) == "1000"
    assert plain(True) is True
    with pytest.raises(TypeError, match="no plain form"):
        plain(b"bytes")


@pytest.mark.django_db
def test_a_state_names_every_field_but_those_set_apart_and_holds_the_parts():
    project, edda = factories.make_project()
    session = factories.make_session(edda, factories.make_assembly(edda), note="Bonded the strut block")
    state = session.state()
    assert state["note"] == "Bonded the strut block"
    assert state["project"] == project.pk
    assert state["started_at"].endswith("Z")
    assert [row["person"] for row in state["people"]] == [edda.pk]
    assert sum(row["seconds"] for row in state["shares"]) == state["labor_seconds"] == 7200
    assert "user" not in edda.state()


@pytest.mark.django_db
def test_a_state_read_back_from_the_database_is_the_state_that_was_written():
    _, edda = factories.make_project()
    assembly = factories.make_assembly(edda)
    part = factories.make_part(edda, assembly, weight=Decimal("1.2500"), weight_unit="lb")
    session = factories.make_session(edda, assembly)
    for row in (part, session, assembly, edda):
        assert canonical(type(row).objects.get(pk=row.pk).state()) == canonical(row.state())


@pytest.mark.django_db
def test_parts_stand_in_the_order_of_their_keys():
    project, edda = factories.make_project()
    helpers = [factories.make_person(project) for _ in range(4)]
    session = factories.make_session(edda, factories.make_assembly(edda), *[factories.worked(one) for one in helpers])
    states = part_states(reversed(list(session.people.all())))
    assert [state["id"] for state in states] == sorted(state["id"] for state in states)
