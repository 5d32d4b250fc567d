"""Work logged after an area was closed for good (rule R23): told, explained, or the area opened again."""

from datetime import timedelta

import pytest
from django.test import Client

from foundation.refusal import Refusal
from inspections import commands, queries
from inspections.commands.since import explain_work
from inspections.models import Area, Explained
from inspections.queries import since
from journal.models import Entry
from tests.factories import client_for, make_area, make_assembly, make_person, make_session, worked
from tests.inspections.shop import LATER, Shop

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)
CLOSED = LATER + HOUR
AFTER = CLOSED + HOUR


@pytest.fixture
def shop() -> Shop:
    return Shop().closed()


@pytest.fixture
def edda(shop: Shop) -> Client:
    return client_for(shop.edda)


def work(shop: Shop, start=AFTER, assembly=None, **more):  # noqa: ANN001, ANN202
    stretch = worked(shop.edda, start=start, minutes=30)
    return make_session(shop.edda, assembly or shop.assembly, stretch, at=start + HOUR, **more)


def untold(shop: Shop) -> list:
    found = since.to_explain(since.worked_after(shop.project, [shop.now], untold=True))
    return [session.pk for row in found for session in row.to_explain]


def explain(shop: Shop, *sessions, words: str = "Sanded the outside", **more):  # noqa: ANN002, ANN202
    return explain_work(by=shop.edda, at=AFTER + 3 * HOUR, area=shop.area, sessions=sessions, words=words, **more)


def test_work_on_the_assembly_or_below_that_began_after_the_closing_is_listed(shop: Shop) -> None:
    before = work(shop, CLOSED - HOUR)
    here = work(shop)
    below = work(shop, AFTER + HOUR, make_assembly(shop.edda, "24.1.1", parent=shop.assembly))
    work(shop, AFTER + 2 * HOUR, make_assembly(shop.edda, "40"))
    assert untold(shop) == [here.pk, below.pk] and before.pk not in untold(shop)


def test_of_two_areas_each_counts_from_its_own_closing(shop: Shop) -> None:
    later = make_area(shop.edda, shop.assembly, number="24.1-C2")
    commands.close_area(by=shop.edda, at=AFTER + HOUR, area=later, reason="No time")
    between, after = work(shop), work(shop, AFTER + 2 * HOUR)
    both = [one for one in queries.judged(shop.project) if one.closing]
    found = {row.area.pk: [s.pk for s in row.to_explain] for row in since.worked_after(shop.project, both)}
    assert found == {shop.area.pk: [between.pk, after.pk], later.pk: [after.pk]}


def test_an_access_panel_and_an_open_area_ask_nothing(shop: Shop) -> None:
    session = work(shop)
    shop.reopen(at=AFTER + 2 * HOUR)
    assert untold(shop) == []
    with pytest.raises(Refusal) as no:
        explain(shop, session)
    assert no.value.code == "not_closed"
    Area.objects.filter(pk=shop.area.pk).update(kind="access")
    commands.close_area(by=shop.edda, at=AFTER + 4 * HOUR, area=shop.area, reason="Panel back on")
    work(shop, AFTER + 5 * HOUR)
    assert untold(shop) == []


def test_an_explanation_stays_with_the_area_and_its_history_and_may_be_said_better(shop: Shop) -> None:
    session = work(shop)
    entries = Entry.objects.count()
    explain(shop, session)
    assert untold(shop) == [] and Entry.objects.count() == entries + 1
    explain(shop, session)
    assert Entry.objects.count() == entries + 1, "the same words again add nothing"
    explain(shop, session, words="Sanded and primed the outside")
    assert Explained.objects.get().words == "Sanded and primed the outside"
    states = [e.state for e in Entry.objects.filter(verb="area.worked_inside").order_by("seq")]
    assert "Sanded the outside" in states[0]
    assert shop.now.gate.state == "closed" and not shop.now.changed, "nothing that was signed is changed by it"


@pytest.mark.parametrize("words", ["", "  ", "x"])
def test_an_explanation_says_something(shop: Shop, words: str) -> None:
    session = work(shop)
    with pytest.raises(Refusal) as no:
        explain(shop, session, words=words)
    assert no.value.field == "words"


def test_only_work_after_the_closing_is_explained(shop: Shop) -> None:
    for sessions in ((), (work(shop, CLOSED - HOUR),), (work(shop, AFTER, make_assembly(shop.edda, "40")),)):
        with pytest.raises(Refusal) as no:
            explain(shop, *sessions)
        assert no.value.field == "sessions"
    assert not Explained.objects.exists()


# ---- pages ----


def test_the_gate_the_shop_the_assembly_and_the_session_tell_of_it(shop: Shop, edda: Client) -> None:
    session = work(shop, note="Sanded the tip")
    gate = edda.get(shop.url("area")).content.decode()
    assert "Work since it was closed" in gate and "1 to explain" in gate and "Sanded the tip" in gate
    assert "Work after closing" in edda.get(f"/{shop.project.slug}/").content.decode()
    assert "1 session to explain" in edda.get(shop.url("assembly", shop.assembly.pk)).content.decode()
    panel = edda.get(shop.url("session_panel", session.pk), headers={"HX-Request": "true"}).content.decode()
    assert "had been closed for good" in panel and "<html" not in panel
    assert (
        shop.url("session_panel", session.pk)
        in edda.get(f"/{shop.project.slug}/sessions/{session.pk}/").content.decode()
    )


def test_an_assembly_with_an_area_closed_for_good_says_so_before_work_is_logged(shop: Shop, edda: Client) -> None:
    below = make_assembly(shop.edda, "24.1.1", parent=shop.assembly)
    for assembly in (shop.assembly, below):
        assert "closed for good" in edda.get(shop.url("assembly", assembly.pk)).content.decode()


def test_it_is_said_by_a_page(shop: Shop, edda: Client) -> None:
    session = work(shop)
    url = shop.url("area_since")
    assert edda.get(url).status_code == 200
    refused = edda.post(url, {"words": "Sanded the outside"})
    assert refused.status_code == 422 and "Sanded the outside" in refused.content.decode()
    assert edda.post(url, {"sessions": [session.pk], "words": ""}).status_code == 422
    assert edda.post(url, {"sessions": ["nothing"], "words": "Sanded"}).status_code == 422
    assert edda.post(url, {"sessions": [session.pk], "words": "Sanded the outside"}).status_code == 302
    page = edda.get(shop.url("area")).content.decode()
    assert "Sanded the outside" in page and "to explain" not in page


@pytest.mark.parametrize(("role", "status"), [("helper", 403), ("inspector", 403), ("reader", 403)])
def test_only_the_builder_explains(shop: Shop, role: str, status: int) -> None:
    work(shop)
    assert client_for(make_person(shop.project, role)).post(shop.url("area_since"), {}).status_code == status


def test_the_pages_of_another_project_are_not_found(shop: Shop) -> None:
    session = work(shop)
    stranger = client_for(Shop().edda)
    assert stranger.get(shop.url("area_since")).status_code == 404
    assert stranger.get(shop.url("session_panel", session.pk)).status_code == 404
    own = Shop()
    assert client_for(own.edda).get(own.url("session_panel", session.pk)).status_code == 404
    assert client_for(own.edda).get(own.url("area_since", shop.area.pk)).status_code == 404
