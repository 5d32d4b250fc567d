"""Where a lot went and what is in a part, both ways (rule R43), against an independent graph library."""

import random

import networkx
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Person
from calc import genealogy
from config.bench.trace import Web, fill
from foundation.fields import new_key
from parts import commands as parts
from parts.models import Part
from process.models import Bond, Coupon, Cured, CureRun, Fasteners, JoinedPart, Layup, Mix, MixUse, Ply
from process.queries import story, trace
from process.rules import trace as rules
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_lot,
    make_part,
    make_person,
    make_photo,
    make_project,
    make_session,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def builder() -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def record(model, by: Person, number: int, assembly, **more):  # noqa: ANN001, ANN201
    """One row of a kind of process record, done now."""
    common = {"project": by.project, "number": number, "request_id": new_key(), "assembly": assembly, "done_at": NOW}
    return model.objects.create(**common, done_by=by, entered_at=NOW, entered_by=by, finished_at=NOW, **more)


@pytest.fixture
def shop(builder: Person) -> dict:
    """LOT-01 of the shop facts, with a bond, a cure and rivets: a bad hardener, two sheets, and what came of them."""
    hull = make_assembly(builder, "10", "Hull")
    deck = make_assembly(builder, "10.1", "Deck", parent=hull)
    made = {name: make_part(builder, deck, name, name=name.title()) for name in ("sheet-1", "rail-1", "strip-1")}
    cut = {name: make_part(builder, deck, name, name=name.title()) for name in ("lid-1", "gusset-2")}
    for part in cut.values():
        parts.add_origin(by=builder, at=NOW, part=part, kind="cut_from", source=made["sheet-1"])
    lots = {name: make_lot(builder, name) for name in ("R-3", "R-4", "H-17", "H-18", "Cloth", "Rivets")}
    mixes = [
        record(
            Mix,
            builder,
            n,
            deck,
            resin_lot=lots[resin],
            hardener_lot=lots[hardener],
            parts_resin=100,
            parts_hardener=30,
        )
        for n, resin, hardener in ((1, "R-3", "H-17"), (2, "R-3", "H-18"), (3, "R-4", "H-17"))
    ]
    layups = [record(Layup, builder, n, deck, part=made[p]) for n, p in ((1, "sheet-1"), (2, "rail-1"), (3, "strip-1"))]
    for mix, layup in ((0, 0), (1, 1), (1, 2), (2, 2)):
        MixUse.objects.create(mix=mixes[mix], layup=layups[layup])
    Ply.objects.create(layup=layups[1], position=1, kind="cloth", cloth="Twill", lot=lots["Cloth"])
    return {"hull": hull, "deck": deck, "lots": lots, "mixes": mixes, "layups": layups, **made, **cut}


def labels(traced: trace.Traced) -> dict[str, list[str]]:
    return {group.kind: [hit.label for hit in group.hits] for group in traced.groups}


def test_a_bad_hardener_is_followed_into_pieces_cut_from_a_sheet(builder: Person, shop: dict) -> None:
    found = labels(trace.where_used(builder.project, "lot", shop["lots"]["H-17"].pk))
    fact = genealogy.where_used(
        "H-17",
        [
            genealogy.Mix("M-1", ("R-3", "H-17")),
            genealogy.Mix("M-2", ("R-3", "H-18")),
            genealogy.Mix("M-3", ("R-4", "H-17")),
        ],
        [
            genealogy.Layup("L-1", ("M-1",), makes=("sheet-1",)),
            genealogy.Layup("L-2", ("M-2",), makes=("rail-1",)),
            genealogy.Layup("L-3", ("M-2", "M-3"), makes=("strip-1",)),
        ],
        {"lid-1": ["sheet-1"], "gusset-2": ["sheet-1"]},
    )
    # The expected lists of LOT-01 in the shop facts (common practice; no published source).
    assert fact.mixes == ["M-1", "M-3"] and fact.layups == ["L-1", "L-3"]
    assert fact.parts == ["gusset-2", "lid-1", "sheet-1", "strip-1"]
    assert found["mix"] == fact.mixes and found["layup"] == fact.layups and sorted(found["part"]) == fact.parts
    assert found["assembly"] == ["10", "10.1"]


def test_each_hit_says_why_it_is_there(builder: Person, shop: dict) -> None:
    traced = trace.where_used(builder.project, "lot", shop["lots"]["H-17"].pk)
    why = {hit.label: hit.why for group in traced.groups for hit in group.hits}
    assert why["lid-1"] == ("H-17 is the hardener of M-1 was used in L-1 makes sheet-1 was cut into lid-1")
    assert why["10"].endswith("is in 10.1 part of 10")


def test_bonds_cures_rivets_and_straight_lots_are_followed(builder: Person, shop: dict) -> None:
    deck, lots, box = shop["deck"], shop["lots"], make_part(builder, shop["deck"], "box-1", name="Box")
    bond = record(Bond, builder, 1, deck, kind="secondary", part=box)
    for part in (shop["lid-1"], shop["rail-1"]):
        JoinedPart.objects.create(bond=bond, part=part)
    MixUse.objects.create(mix=shop["mixes"][2], bond=bond)
    run = record(CureRun, builder, 1, deck, heat="oven", started_at=NOW)
    Cured.objects.create(run=run, bond=bond)
    record(Fasteners, builder, 1, deck, part=shop["rail-1"], lot=lots["Rivets"], place="Edge", count=6, spec="Pop")
    parts.add_made_of(by=builder, at=NOW, part=shop["strip-1"], lot=lots["Cloth"])
    found = labels(trace.where_used(builder.project, "lot", lots["R-4"].pk))
    assert found == {
        "mix": ["M-3"], "layup": ["L-3"], "bond": ["B-1"], "cure": ["C-1"],
        "part": ["box-1", "lid-1", "rail-1", "strip-1"], "assembly": ["10", "10.1"],
    }  # fmt: skip
    assert labels(trace.where_used(builder.project, "lot", lots["Rivets"].pk))["part"] == ["box-1", "rail-1"]
    assert labels(trace.where_used(builder.project, "lot", lots["Cloth"].pk))["part"] == ["box-1", "rail-1", "strip-1"]
    # And back: all lots of the box, and only its own.
    assert labels(trace.contents(builder.project, "part", box.pk))["lot"] == [
        "Cloth", "H-17", "H-18", "R-3", "R-4", "Rivets",
    ]  # fmt: skip
    assert labels(trace.contents(builder.project, "part", shop["sheet-1"].pk))["lot"] == ["H-17", "R-3"]
    assert "Rivets" in labels(trace.contents(builder.project, "assembly", shop["hull"].pk))["lot"]
    assert labels(trace.contents(builder.project, "cure", run.pk))["lot"] == ["H-17", "R-4"]


def test_coupons_are_found_from_the_lot_and_lead_back_to_it(builder: Person, shop: dict) -> None:
    deck, lots = shop["deck"], shop["lots"]
    coupon = record(Coupon, builder, 1, deck, made_with="L-2, M-3", test="Bending")
    record(Coupon, builder, 2, deck, made_with="M-3, M-77")
    record(Coupon, builder, 3, deck, made_with="")
    record(Coupon, builder, 4, deck, made_with="M-3", withdrawn_at=NOW)
    run = record(CureRun, builder, 1, deck, heat="oven", started_at=NOW)
    Cured.objects.create(run=run, coupon=coupon)
    traced = trace.where_used(builder.project, "lot", lots["R-4"].pk)
    found = labels(traced)
    assert found["coupon"] == ["CP-1", "CP-2"] and found["cure"] == ["C-1"]
    why = {hit.label: hit.why for group in traced.groups for hit in group.hits}
    assert why["CP-1"] == "R-4 is the resin of M-3 is in CP-1"
    assert why["C-1"] == "R-4 is the resin of M-3 is in CP-1 was cured in C-1"
    assert {"CP-1", "C-1"} <= {box.label for box in traced.picture.boxes}
    cloth = trace.where_used(builder.project, "lot", lots["Cloth"].pk)
    assert labels(cloth)["coupon"] == ["CP-1"]  # through the layup that it tests
    # A coupon hands nothing on: the part has its lots from the layup alone.
    assert labels(trace.contents(builder.project, "part", shop["sheet-1"].pk))["lot"] == ["H-17", "R-3"]
    assert labels(trace.contents(builder.project, "coupon", coupon.pk)) == {
        "lot": ["Cloth", "H-17", "H-18", "R-3", "R-4"], "mix": ["M-2", "M-3"], "layup": ["L-2"],
    }  # fmt: skip
    assert labels(trace.contents(builder.project, "cure", run.pk))["coupon"] == ["CP-1"]
    Coupon.objects.filter(pk=coupon.pk).update(withdrawn_at=NOW)
    assert "coupon" not in labels(trace.contents(builder.project, "cure", run.pk))


@pytest.mark.parametrize(
    ("said", "named"),
    [
        ("L-3, M-6", [("layup", 3), ("mix", 6)]),
        ("M-6, M-6", [("mix", 6)]),
        ("B-12", [("bond", 12)]),
        ("TQ-3 and XL-4", []),
        ("the rest of the pot", []),
    ],
)
def test_what_a_coupon_names_is_read_from_its_words(said: str, named: list) -> None:
    assert rules.cited(said) == named


def test_what_was_withdrawn_hands_nothing_on(builder: Person, shop: dict) -> None:
    Layup.objects.filter(pk=shop["layups"][0].pk).update(withdrawn_at=NOW)
    parts.withdraw_part(by=builder, at=NOW, part=shop["strip-1"], reason="Twice")
    found = labels(trace.where_used(builder.project, "lot", shop["lots"]["H-17"].pk))
    # The mix without a use that stands is somewhere on its assembly.
    assert found == {"mix": ["M-1", "M-3"], "layup": ["L-3"], "assembly": ["10", "10.1"]}
    back = labels(trace.contents(builder.project, "part", shop["sheet-1"].pk))
    assert back == {}


def test_a_mix_without_a_use_stays_with_its_assembly(builder: Person, shop: dict) -> None:
    lot = make_lot(builder, "H-99")
    record(Mix, builder, 9, shop["deck"], hardener_lot=lot, parts_resin=2, parts_hardener=1)
    assert labels(trace.where_used(builder.project, "lot", lot.pk)) == {"mix": ["M-9"], "assembly": ["10", "10.1"]}


def graph_of(web: Web) -> networkx.DiGraph:
    graph = networkx.DiGraph(web.links)
    graph.add_nodes_from([*web.lots, *web.parts])
    return graph


def test_a_random_web_of_5000_parts_is_told_as_the_graph_library_tells_it(builder: Person) -> None:
    chance = random.Random(2026)
    web = fill(builder.project, builder, 5000, chance)
    graph = graph_of(web)
    most = 0
    for lot in chance.sample(web.lots, 8):
        with CaptureQueriesContext(connection) as captured:
            traced = trace.where_used(builder.project, "lot", lot)
        assert len(captured) < 40  # and not one for each part
        walked = traced.walked
        assert {key for _, key in walked.found} == networkx.descendants(graph, lot)
        most = max(most, len(walked.found))
        for node in chance.sample(walked.found, 40):
            way = [key for (_, key), _ in walked.way(node)]
            assert way[0] == lot and networkx.is_path(graph, way)
            assert len(way) - 1 == networkx.shortest_path_length(graph, lot, node[1])
    assert most > 300  # the web is thick enough to be worth it
    assert traced.count == len(traced.walked.found)  # every hit has a name
    lots = set(web.lots)
    for part in chance.sample(web.parts, 25):
        if Part.objects.get(pk=part).withdrawn_at:
            continue
        back = trace.contents(builder.project, "part", part)
        assert {key for _, key in back.walked.found} == networkx.ancestors(graph, part)
        inside = {hit.key for group in back.groups if group.kind == "lot" for hit in group.hits}
        assert inside == networkx.ancestors(graph, part) & lots


# ---- the picture ----


def test_a_picture_holds_every_node_once_and_a_line_for_each_link() -> None:
    links = [
        (("lot", "a"), ("mix", "m"), "in"),
        (("mix", "m"), ("layup", "l"), "in"),
        (("layup", "l"), ("part", "p"), "x"),
    ]
    links += [(("part", "p"), ("assembly", "s"), "in"), (("lot", "a"), ("layup", "l"), "in")]
    walked = rules.walk(links, [("lot", "a")])
    drawn = rules.picture(walked, links, {node: (node[1], node[0]) for node in walked.before})
    assert drawn and len(drawn.boxes) == 5 and len(drawn.lines) == 5
    assert len({(box.x, box.y) for box in drawn.boxes}) == 5
    assert max(box.x for box in drawn.boxes) == next(box.x for box in drawn.boxes if box.node[0] == "assembly")
    assert all(
        0 <= box.x <= drawn.width - rules.WIDTH and 0 <= box.y <= drawn.height - rules.HEIGHT for box in drawn.boxes
    )


def test_a_line_within_a_column_bulges_out_beside_it() -> None:
    links = [
        (("lot", "a"), ("mix", "m"), "x"),
        (("lot", "a"), ("coupon", "c"), "x"),
        (("mix", "m"), ("coupon", "c"), "x"),
    ]
    walked = rules.walk(links, [("lot", "a")])
    drawn = rules.picture(walked, links, {node: (node[1], node[0]) for node in walked.before})
    assert drawn and drawn.columns == 2
    right = max(box.x for box in drawn.boxes) + rules.WIDTH
    assert drawn.lines[-1].startswith(f"M{right} ") and drawn.lines[-1].split()[-2] == str(right)
    assert drawn.width > right + rules.ACROSS // 2  # and is not cut off


def test_a_ring_of_bonds_is_walked_and_drawn_once() -> None:
    links = [
        (("part", "a"), ("part", "b"), "x"),
        (("part", "b"), ("part", "a"), "x"),
        (("lot", "l"), ("part", "a"), "x"),
    ]
    walked = rules.walk(links, [("lot", "l")])
    assert walked.found == [("part", "a"), ("part", "b")]
    assert rules.picture(walked, links, dict.fromkeys(walked.before, ("n", "n")))


def test_too_many_are_not_drawn() -> None:
    links = [(("lot", "l"), ("part", str(n)), "x") for n in range(rules.MOST_DRAWN)]
    walked = rules.walk(links, [("lot", "l")])
    assert rules.picture(walked, links, dict.fromkeys(walked.before, ("n", "n"))) is None


# ---- pages ----


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"process:{name}", args=[by.project.slug, *keys])


def test_the_page_lists_everything_with_its_way_a_picture_and_what_it_does_not_know(
    builder: Person, client: Client, shop: dict
) -> None:
    lot = shop["lots"]["H-17"]
    page = client.get(at("where_used", builder, "lot", lot.pk)).content.decode()
    for words in ("M-1", "L-3", "gusset-2", "was cut into", "<svg", "It knows only what was recorded", "Fastener rows"):
        assert (words in page) == (words != "Fastener rows"), words
    short = client.get(at("where_used", builder, "lot", lot.pk), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in short and "List and picture" in short and "M-1" in short
    assert (
        at("where_used", builder, "lot", lot.pk)
        in client.get(reverse("parts:lot", args=[builder.project.slug, lot.pk])).content.decode()
    )
    empty = make_lot(builder, "E-1")
    assert (
        "Nothing that was recorded holds it." in client.get(at("where_used", builder, "lot", empty.pk)).content.decode()
    )
    back = client.get(at("contents", builder, "part", shop["lid-1"].pk)).content.decode()
    assert "H-17" in back and "R-3" in back and "R-4" not in back


@pytest.mark.parametrize(("name", "kind"), [("where_used", "lot"), ("contents", "part"), ("where_used", "nothing")])
def test_a_thing_of_another_project_is_not_traced(builder: Person, client: Client, name: str, kind: str) -> None:
    other = make_project("Other")[1]
    key = make_lot(other).pk if kind == "lot" else make_part(other, make_assembly(other)).pk
    assert client.get(at(name, builder, kind, key)).status_code == 404
    assert client_for(other).get(at(name, builder, kind, key)).status_code == 404


def test_the_story_of_a_part_shows_what_was_recorded_on_its_sheet(builder: Person, client: Client, shop: dict) -> None:
    lid, sheet = shop["lid-1"], shop["sheet-1"]
    mold = make_part(builder, shop["deck"], "M-9", name="Table", kind="mold")
    parts.add_origin(by=builder, at=NOW, part=sheet, kind="made_on", source=mold)
    photo = make_photo(builder, caption="Sheet under the bag", places=[sheet])
    session = make_session(builder, shop["deck"], note="Laid up the sheet")
    Layup.objects.filter(pk=shop["layups"][0].pk).update(session=session)
    told = story.story_of(lid)
    assert [(one.part, one.how) for one in told.ancestors] == [(sheet, "cut from"), (mold, "made on")]
    assert {event.label for event in told.events} >= {"L-1", "M-1", photo.label, str(session)}
    assert "L-2" not in {event.label for event in told.events}
    assert [event.at for event in told.events] == sorted(event.at for event in told.events)
    assert [hit.label for hit in told.lots] == ["H-17", "R-3"]
    page = client.get(at("part_story", builder, lid.pk)).content.decode()
    assert "Sheet under the bag" in page and "L-1" in page and "H-17" in page and "Laid up the sheet" in page
    assert "cut from it" in client.get(at("part_story", builder, sheet.pk)).content.decode()
    assert client_for(make_project("Other")[1]).get(at("part_story", builder, lid.pk)).status_code == 404
    assert client_for(make_person(builder.project, "reader")).get(at("part_story", builder, lid.pk)).status_code == 200


def test_the_story_takes_as_many_queries_however_much_is_recorded(builder: Person, shop: dict) -> None:
    with CaptureQueriesContext(connection) as few:
        story.story_of(shop["lid-1"])
    for number in range(20):
        made = record(Layup, builder, 100 + number, shop["deck"], part=shop["sheet-1"])
        MixUse.objects.create(mix=shop["mixes"][0], layup=made)
        make_photo(builder, places=[shop["lid-1"]])
    with CaptureQueriesContext(connection) as many:
        assert len(story.story_of(shop["lid-1"]).events) >= 20
    assert len(many) <= len(few) + 1
