"""Digests, the one JSON text of a value, and what a row looks like as plain data."""

import hashlib
import json
import struct
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from foundation.digest import CHUNK, canonical, digest_bytes, digest_file, short
from foundation.record import part_states, plain
from journal.queries import quick_digest
from journal.rules import entry_digest
from tests import factories

DATA = Path(__file__).parent.parent / "data"
# The published examples themselves, with their sources in the files.
RFC = json.loads((DATA / "rfc8785_examples.json").read_text())
SHA = json.loads((DATA / "sha256_vectors.json").read_text())["messages"]

values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


def test_primitive_values_as_published():
    text = canonical(json.loads(RFC["sample"]["input"]))
    assert text == RFC["sample"]["canonical"]
    assert text.encode().hex() == RFC["sample"]["bytes"]


def test_members_are_sorted_as_published():
    assert list(json.loads(canonical(json.loads(RFC["sorting"]["input"]))).values()) == RFC["sorting"]["order"]


@pytest.mark.parametrize(("bits", "text"), RFC["numbers"])
def test_numbers_as_published(bits, text):
    number = struct.unpack(">d", bytes.fromhex(bits))[0]
    if text is None:
        with pytest.raises(ValueError, match="not representable"):
            canonical(number)
    else:
        assert canonical(number) == text


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


@pytest.mark.parametrize("known", SHA, ids=lambda known: known["source"])
def test_digests_as_published_of_bytes_and_of_a_file_on_the_disk(known, tmp_path):
    data = bytes.fromhex(known["message"]) * known["times"]
    path = tmp_path / "original"
    path.write_bytes(data)
    with path.open("rb") as file:
        assert digest_file(file) == ("sha256:" + known["digest"], len(data))
    assert digest_bytes(data) == "sha256:" + known["digest"]


def test_the_digest_of_an_entry_is_the_digest_of_its_canonical_text_by_either_way():
    facts = {"seq": 7, "state": '{"a":"€ \\u000f \\"x\\""}', "by_name": "Zażółć\u007f\u2028", "reason": "\b\f\t\u0001"}
    assert quick_digest(facts) == entry_digest(facts)


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
