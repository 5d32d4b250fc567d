"""For whom a builder's record is printed, and which part: what is left out is not in facts, bytes or text (R61)."""

import json
import re
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from buildlog import commands as buildlog
from buildlog import forms
from buildlog import queries as work
from certification import commands, pages, queries
from certification.models import Pack
from certification.queries.scope import scope
from certification.rules import profiles
from foundation.digest import canonical
from foundation.refusal import Refusal
from inspections.queries import processes
from tests import factories
from tests.certification import closeout
from tests.certification.closeout import hours
from tests.factories import NOW

PRIVATE = "Ask the neighbor whether the drill press is for sale"
PLACE = "Hangar 7, Quillfield"
# How a drawn signature begins in the facts.
STROKED = '"strokes":[['


def text_of(data: bytes) -> str:
    """All text of a file, and what its outline and its metadata say."""
    reader = PdfReader(BytesIO(data), strict=True)
    found = [page.extract_text() for page in reader.pages] + [str(reader.metadata), str(reader.outline)]
    return " ".join(" ".join(found).split())


def drawn(facts: dict, tmp_path) -> bytes:
    path = tmp_path / "record.pdf"
    pages.write_record(json.loads(canonical(facts)), path)
    return path.read_bytes()


@pytest.fixture
def shop():
    project, edda = factories.make_project(place=PLACE, serial_number="TW2-0001")
    jory = factories.make_person(project, name="Jory Tamsin")
    hull, wing = (factories.make_assembly(edda, number, name) for number, name in (("10", "Hull"), ("20", "Wing")))
    keel = factories.make_assembly(edda, "11", "Keel", parent=hull)
    said = {"place": PLACE, "private_note": PRIVATE}
    factories.make_session(edda, keel, note="Faired the keel", **said)
    early = factories.worked(jory, NOW - timedelta(days=40, hours=3))
    factories.make_session(jory, wing, early, at=NOW - timedelta(days=40), note="Cut ribs with Jory Tamsin", **said)
    return project, edda, jory, hull, keel, wing


@pytest.mark.django_db
@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_remarks_for_oneself_print_for_nobody_and_places_for_the_examiner_only(shop, profile, tmp_path) -> None:
    project = shop[0]
    facts = profiles.for_profile(queries.builder_record(project, NOW, "Edda Norrell"), profile)
    data = drawn(facts, tmp_path)
    told = text_of(data)
    assert PRIVATE not in canonical(facts) and PRIVATE not in told and PRIVATE.encode() not in data
    assert (PLACE in canonical(facts), PLACE in told) == ((profile == "examiner"),) * 2
    assert ("America/Denver" in told) is (profile == "examiner")
    assert ("Cut ribs" in told) is (profile != "insurer")


@pytest.mark.django_db
def test_a_corrected_place_leaks_by_no_correction(shop, tmp_path) -> None:
    project, edda, *_ = shop
    session = work.sessions(project).get(number=1)
    form = forms.initial_of(session)
    assert form["place"] == PLACE
    buildlog.correct_session(
        by=edda,
        at=NOW,
        session=session,
        worked=[factories.worked(edda)],
        shares=[(share.assembly, share.weight) for share in session.shares.all()],
        reason="Wrong shed",
        place="Shed at Ostermill",
        private_note="Neighbor said yes",
    )
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    assert PLACE in canonical(facts) and "Ostermill" in canonical(facts)
    assert "Neighbor said yes" not in canonical(facts)
    told = canonical(profiles.for_profile(facts, "buyer"))
    assert PLACE not in told and "Ostermill" not in told and "Wrong shed" in told


@pytest.mark.django_db
def test_the_public_reads_no_names_but_the_builders_no_serial_number_and_no_visits(monkeypatch, tmp_path) -> None:
    monkeypatch.setitem(processes.SOURCES, "layup", closeout.layups())
    world = closeout.make()
    facts = queries.builder_record(world.project, hours(100), "Edda Norrell")
    others = {person["name"] for person in facts["people"] if person["role"] != "Builder"}
    assert others and STROKED in canonical(facts)
    cut = profiles.for_profile(facts, "public")
    data = drawn(cut, tmp_path)
    told = text_of(data)
    for name in others:
        assert name not in canonical(cut) and name not in told and name.encode() not in data
    assert "Edda Norrell" in told and "Inspector" in told
    assert "visits" not in cut
    assert STROKED not in canonical(cut)


@pytest.mark.django_db
@pytest.mark.parametrize("profile", list(profiles.PROFILES))
def test_paid_help_is_said_to_every_reader(shop, profile, tmp_path) -> None:
    """Rule R53."""
    project, edda, *_ = shop
    paid = factories.make_person(project, "paid", name="Orla Finch")
    factories.make_session(edda, shop[3], factories.worked(paid), note="Sprayed")
    facts = profiles.for_profile(queries.builder_record(project, NOW, "Edda Norrell"), profile)
    told = text_of(drawn(facts, tmp_path))
    assert "Paid help: none" not in told
    assert ("Paid help: Orla Finch" in told) is (profile != "public")


@pytest.mark.django_db
def test_a_part_of_the_record_holds_its_assembly_and_what_is_below(shop, tmp_path) -> None:
    project, _, _, hull, keel, _ = shop
    facts = queries.builder_record(project, NOW, "Edda Norrell", scope(project, hull))
    assert [line["number"] for line in facts["hours"]["assemblies"]] == ["10", "11"]
    assert [one["number"] for one in facts["sessions"]] == [1]
    assert facts["hours"]["total"] == 7200
    told = text_of(drawn(facts, tmp_path))
    assert "A part of the record: 10 Hull and everything below it" in told
    assert "Wing" not in told
    assert [
        line["depth"] for line in queries.builder_record(project, NOW, "E", scope(project, keel))["hours"]["assemblies"]
    ] == [0]


@pytest.mark.django_db
def test_a_stretch_of_days_holds_both_its_ends(shop) -> None:
    project = shop[0]
    day = (NOW - timedelta(days=40, hours=3)).astimezone(project.zone).date()
    for since, until, numbers in (
        (day, day, [2]),
        (day + timedelta(days=1), None, [1]),
        (None, day - timedelta(days=1), []),
        (None, None, [2, 1]),
    ):
        facts = queries.builder_record(project, NOW, "Edda", scope(project, None, since, until))
        assert [one["number"] for one in facts["sessions"]] == numbers
        assert facts["hours"]["total"] == 7200 * len(numbers)


@pytest.mark.django_db
def test_both_orders_have_every_session_on_the_same_sheet_and_other_bookmarks(shop, tmp_path) -> None:
    project, edda, _, hull, keel, wing = shop
    for n in range(12):
        assembly = (hull, keel, wing)[n % 3]
        stretch = factories.worked(edda, NOW - timedelta(days=n, hours=5))
        factories.make_session(edda, assembly, stretch, note=f"Day {n}. " * 40)
    facts = queries.builder_record(project, NOW, "Edda Norrell")
    by_date, by_assembly = (
        PdfReader(BytesIO(drawn(facts | {"order": order}, tmp_path))) for order in ("date", "assembly")
    )
    assert len(by_date.pages) == len(by_assembly.pages) > 5

    def sheets(reader: PdfReader) -> dict[str, int]:
        found = {str(one.title): reader.get_destination_page_number(one) for one in flat(reader.outline)}
        return {title: sheet for title, sheet in found.items() if re.match(r"\d+ \w{3} \d", title)}

    assert sheets(by_date) == sheets(by_assembly)
    assert len(sheets(by_date)) == len(facts["sessions"]) == 14
    assert len(set(sheets(by_date).values())) > 2
    titles = [str(one.title) for one in flat(by_assembly.outline)]
    assert "10 Hull" in titles and "11 Keel" in titles
    assert not any(title.startswith("10 Hull") for title in (str(one.title) for one in flat(by_date.outline)))


def flat(outline) -> list:
    return [row for one in outline for row in (flat(one) if isinstance(one, list) else [one])]


@pytest.mark.django_db
def test_a_newer_record_of_the_same_part_supersedes_and_the_old_one_stays(shop) -> None:
    project, edda, _, hull, *_ = shop
    freeze = {"by": edda, "at": NOW, "project": project}
    whole, part = commands.freeze_record(**freeze), commands.freeze_record(**freeze, assembly=hull)
    again = commands.freeze_record(**freeze)
    buyer = commands.freeze_record(**freeze, profile="buyer")
    assert (whole.supersedes, part.supersedes, again.supersedes, buyer.supersedes) == (None, None, whole, None)
    assert Pack.objects.get(pk=whole.pk).facts == whole.facts
    told = factories.client_for(edda).get(f"/{project.slug}/record/{whole.pk}/").content.decode()
    assert "Superseded by" in told


@pytest.mark.django_db
def test_what_is_asked_for_on_the_page_is_what_is_frozen(shop) -> None:
    project, edda, _, hull, *_ = shop
    client, page = factories.client_for(edda), f"/{project.slug}/record/new/"
    said = {
        "profile": "insurer",
        "order": "assembly",
        "assembly": hull.pk,
        "since": "2020-01-01",
        "until": "2099-01-01",
    }
    assert client.post(page, said).status_code == 302
    pack = Pack.objects.get()
    assert (pack.profile, pack.order, pack.assembly) == ("insurer", "assembly", hull)
    assert json.loads(pack.facts)["profile"] == "insurer"
    assert client.post(page, {"since": "2026-02-01", "until": "2026-01-01"}).status_code == 422
    assert client.post(page, {"profile": "anybody"}).status_code == 422
    _, other = factories.make_project("Other", builder="Other Builder")
    with pytest.raises(Refusal):
        commands.freeze_record(by=edda, at=NOW, project=project, assembly=factories.make_assembly(other))


def test_statements_lose_the_numbers_of_certificates_and_flights_their_area() -> None:
    flights = {"area": "Quillfield", "wording": "Near Quillfield", "flights": [{"note": "Loud", "pilot": "Edda"}]}
    flights["statements"] = [{"text": "Built by me, RB-55 and RB-55-1.", "wording": "own"}]
    inspections = [{"certificate": "RB-55-1", "statement": "By me, RB-55-1.", "done_by": "Edda"}]
    file = {"flights": flights, "inspections": inspections, "equipment": [{"name": "Radio", "note": "RB-55"}]}
    facts = {"people": [{"name": "Edda", "role": "Builder", "certificate": "RB-55"}], "file": file}
    facts |= {"sessions": [], "withdrawn": [], "project": {"serial_number": "001"}}
    buyer, insurer, public = (profiles.for_profile(facts, one)["file"] for one in ("buyer", "insurer", "public"))
    assert (buyer["flights"]["area"], buyer["flights"]["wording"]) == ("", "")
    assert buyer["flights"]["statements"][0]["text"] == "Built by me, (number left out) and (number left out)."
    assert buyer["inspections"][0] == {
        "certificate": "", "statement": "By me, (number left out).", "done_by": "Edda",
    }  # fmt: skip
    assert buyer["equipment"] == file["equipment"] and buyer["flights"]["flights"][0]["note"] == "Loud"
    assert set(insurer) == {"flights", "inspections"} and insurer["flights"]["flights"] == [
        {"note": "", "pilot": "Edda"}
    ]
    assert public == {} and profiles.for_profile(facts, "examiner")["file"] == file


words = st.text(st.characters(categories=["L"]), min_size=5, max_size=9)
facts_like = st.recursive(
    st.none() | st.booleans() | st.integers() | words,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["place", "note", "items"]), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(facts_like)
def test_no_place_survives_however_deep_it_stands(facts) -> None:
    def places(value) -> list[str]:
        if isinstance(value, dict):
            own = [value["place"]] if isinstance(value.get("place"), str) else []
            return own + [one for inner in value.values() for one in places(inner)]
        return [one for inner in value for one in places(inner)] if isinstance(value, list) else []

    assert not any(places(profiles.blanked(facts, profiles.PLACES)))


@pytest.mark.django_db
def test_the_command_prints_for_a_reader_and_of_an_assembly(shop, tmp_path, capsys) -> None:
    project, out = shop[0], tmp_path / "out.pdf"
    call_command("record_pdf", project.slug, str(out), "--for", "buyer", "--order", "assembly", "--assembly", "11")
    told = text_of(out.read_bytes())
    assert "Printed for: buyer" in told and "A part of the record: 11 Keel" in told and PLACE not in told
    with pytest.raises(CommandError, match="no assembly"):
        call_command("record_pdf", project.slug, str(out), "--assembly", "99")


def names_told(note: str, **more) -> dict:
    """Facts that name a builder, members and somebody who signed through a link."""
    people = [
        {"name": "Edda Norrell", "role": "Builder"},
        {"name": "Hal Venning", "role": "Inspector"},
        {"name": "May Norrell", "role": "Helper, unpaid"},
    ]
    signature = {"name": "Rune A. Dahl jr.", "capacity": "Inspector", "strokes": []}
    facts = {"people": people, "note": note, "by": "Edda Norrell", "signatures": [signature], "project": {}}
    return facts | {"head": {"verb": "", "by": "Tam Wray"}} | more


@pytest.mark.parametrize(
    ("note", "told"),
    [
        ("Hal Venning came", "Inspector 2 came"),
        ("Hal came; Venning's mirror", "Inspector 2 came; Inspector 2's mirror"),
        ("Halfway, Halyard, hal", "Halfway, Halyard, hal"),
        ("Edda and May", "Edda and Helper, unpaid 3"),
        ("Norrell family", "Norrell family"),
        ("On 16 May 2026 and May 3 we sanded", "On 16 May 2026 and May 3 we sanded"),
        ("Rune A. Dahl jr. signed, A. was there", "Somebody else signed, A. was there"),
        ("Rune looked", "Somebody else looked"),
        ("Tam held the lamp", "Somebody else 2 held the lamp"),
    ],
)
def test_the_public_reads_no_first_name_either(note, told) -> None:
    cut = profiles.for_profile(names_told(note), "public")
    assert cut["note"] == told
    assert cut["signatures"][0]["name"] == "Somebody else"
    assert cut["head"]["by"] == "Somebody else 2"
    assert cut["by"] == "Edda Norrell"


def test_with_the_builder_alone_nothing_is_replaced() -> None:
    facts = names_told("Edda Norrell sanded") | {
        "people": [{"name": "Edda Norrell", "role": "Builder"}],
        "signatures": [],
        "head": {},
    }
    assert profiles.for_profile(facts, "public")["note"] == "Edda Norrell sanded"
