"""Where parts come from: no rings, written once, taken away with a reason, and shown on both pages."""

import networkx
import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from accounts.models import Person
from archive.queries import faults
from foundation.refusal import Refusal
from journal.models import Entry
from parts import commands, queries, rules
from parts.models import Part
from tests.factories import NOW, client_for, make_assembly, make_lot, make_part, make_person, make_project


@pytest.fixture
def builder(db: None) -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


@pytest.fixture
def sheet(builder: Person) -> Part:
    return make_part(builder, make_assembly(builder), "S-1", name="Flat sheet")


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"parts:{name}", args=[by.project.slug, *keys])


# ---- rules ----


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=25))
def test_a_web_of_origins_never_holds_a_ring_whatever_is_tried(tried: list[tuple[int, int]]) -> None:
    links: list[tuple[str, str]] = []
    graph = networkx.DiGraph()
    for later, earlier in tried:
        ring = later == earlier or (graph.has_node(later) and later in networkx.descendants(graph, earlier)
                                    if graph.has_node(earlier) else False)  # fmt: skip
        try:
            rules.check_origin(str(later), str(earlier), links)
        except Refusal as no:
            assert ring and no.code in {"ring", "own_origin"}
        else:
            assert not ring
            links.append((str(later), str(earlier)))
            graph.add_edge(later, earlier)
    assert networkx.is_directed_acyclic_graph(graph)


# ---- commands ----


def test_an_origin_is_written_once_and_taken_away_with_a_reason(builder: Person, sheet: Part) -> None:
    lid, lot = make_part(builder, sheet.assembly, name="Lid"), make_lot(builder)
    commands.add_origin(by=builder, at=NOW, part=lid, kind="cut_from", source=sheet)
    commands.add_made_of(by=builder, at=NOW, part=lid, lot=lot, words="Upper half")
    for again in (
        lambda: commands.add_origin(by=builder, at=NOW, part=lid, kind="cut_from", source=sheet),
        lambda: commands.add_made_of(by=builder, at=NOW, part=lid, lot=lot),
        lambda: commands.add_origin(by=builder, at=NOW, part=sheet, kind="made_from", source=lid),
        lambda: commands.add_origin(by=builder, at=NOW, part=lid, kind="stolen", source=sheet),
        lambda: commands.take_away_origin(by=builder, at=NOW, part=lid, link=lid.origins.get().pk, reason=" "),
    ):
        with pytest.raises(Refusal):
            again()
    commands.take_away_origin(by=builder, at=NOW, part=lid, link=lid.origins.get().pk, reason="Wrong sheet")
    commands.take_away_origin(by=builder, at=NOW, part=lid, link="gone", reason="Again")
    verbs = list(Entry.objects.filter(subject=lid.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["part.added", "part.traced", "part.traced", "part.traced"]
    assert not lid.origins.exists() and lid.made_of.get().lot == lot and list(faults(builder.project)) == []


def test_nothing_comes_from_a_withdrawn_part_or_lot_or_from_another_project(builder: Person, sheet: Part) -> None:
    other = make_project("Other")[1]
    theirs, gone = make_part(other, make_assembly(other)), make_part(builder, sheet.assembly)
    commands.withdraw_part(by=builder, at=NOW, part=gone, reason="Twice")
    for source in (theirs, gone):
        with pytest.raises(Refusal, match="not there any more"):
            commands.add_origin(by=builder, at=NOW, part=sheet, kind="made_from", source=source)
    with pytest.raises(Refusal, match="not there any more"):
        commands.add_made_of(by=builder, at=NOW, part=sheet, lot=make_lot(other))


def test_a_part_entered_before_there_were_origins_reads_the_same(builder: Person, sheet: Part) -> None:
    assert not {"origins", "made_of", "arm", "arm_mm", "revision"} & set(sheet.state())


def test_an_arm_is_kept_as_typed_beside_its_millimeters(builder: Person, sheet: Part) -> None:
    commands.correct_part(by=builder, at=NOW, part=sheet, arm="-2 1/4 in")
    assert sheet.arm == "-2 1/4 in" and str(sheet.arm_mm.normalize()) == "-57.15"


# ---- pages ----


def test_both_pages_tell_of_an_origin(builder: Person, client: Client, sheet: Part) -> None:
    lid, lot = make_part(builder, sheet.assembly, "S-1A", name="Lid", side="L"), make_lot(builder, "L-9")
    url = at("part_origins", builder, lid.pk)
    assert client.post(url, {"kind": "cut_from", "source": sheet.pk}).status_code == 302
    assert client.post(url, {"lot": lot.pk, "words": "Core block"}).status_code == 302
    page = client.get(at("part", builder, lid.pk)).content.decode()
    assert "Cut from" in page and "S-1" in page and "L-9" in page and "Core block" in page
    page = client.get(at("part", builder, sheet.pk)).content.decode()
    assert "cut from it" in page and "S-1A" in page
    link = queries.origins(lid).get()
    away = at("part_origin_away", builder, lid.pk, link.pk)
    assert "Take S-1 Flat sheet away?" in client.get(away).content.decode()
    assert client.post(away, {"reason": ""}).status_code == 422
    client.post(away, {"reason": "It was another sheet"})
    page = client.get(at("part", builder, lid.pk)).content.decode()
    assert "It was another sheet" in page and not queries.origins(lid).exists()


def test_what_is_wrong_with_an_origin_is_said_at_its_form(builder: Person, client: Client, sheet: Part) -> None:
    lid = make_part(builder, sheet.assembly)
    commands.add_origin(by=builder, at=NOW, part=lid, kind="cut_from", source=sheet)
    answer = client.post(at("part_origins", builder, sheet.pk), {"kind": "made_from", "source": lid.pk})
    assert answer.status_code == 422 and "comes from this one already" in answer.content.decode()
    assert client.post(at("part_origins", builder, sheet.pk), {"kind": "", "source": lid.pk}).status_code == 422
    assert client.post(at("part_origins", builder, sheet.pk), {"lot": ""}).status_code == 422


def test_only_the_builder_says_where_a_part_comes_from(builder: Person, sheet: Part) -> None:
    helper = client_for(make_person(builder.project, "helper"))
    lid = make_part(builder, sheet.assembly)
    url = at("part_origins", builder, lid.pk)
    assert helper.get(url).status_code == 200
    assert helper.post(url, {"kind": "cut_from", "source": sheet.pk}).status_code == 403
    other = client_for(make_project("Other")[1])
    assert other.get(url).status_code == 404
