"""Closure lists: the bundled data, setting up an area from one, and the project's own with their editions."""

from decimal import Decimal

import pytest
from django.test import Client

from foundation.refusal import Refusal
from inspections import rules
from inspections.commands import closures as commands
from inspections.models import Area, ClosureItem, ClosureList
from inspections.queries import closures
from inspections.rules import closures as list_rules
from journal.models import Entry
from tests.factories import NOW, client_for, make_person
from tests.inspections.shop import LATER, Shop

CLOSURES = {"bonded-skin", "sealed-box", "fuselage-joint", "tank", "control-run", "firewall-forward", "covering"}


# ---- the data file ----


def test_the_file_has_a_list_for_each_common_closure_with_edition_date_and_source() -> None:
    data = closures.data()
    assert data["edition"] and data["date"] and "decide" in data["note"]
    assert set(closures.bundled()) == CLOSURES
    for one in closures.bundled().values():
        assert one.source and one.use and one.kind in rules.AREA_KINDS
        assert one.words.startswith(f"{one.name}, edition {data['edition']}, {data['date']}")


@pytest.mark.parametrize("key", sorted(CLOSURES))
def test_a_list_asks_for_photos_that_say_what_they_must_show_a_count_and_a_sign_off(key: str) -> None:
    items = closures.bundled()[key].items
    assert 6 <= len(items) <= 12
    assert all(item["detail"] for item in items if item["kind"] == rules.PHOTO)
    kinds = [item["kind"] for item in items]
    assert kinds[-2:] == [rules.COUNT, rules.SIGN_OFF] and len(set(kinds)) >= 4
    for item in items:
        assert item["kind"] in rules.KINDS and 0 < len(item["words"]) <= 120 and len(item["detail"]) <= 300
        assert not list_rules.waits_for_plan(item) or "Limit from the plan." in item["detail"]
        assert (item["kind"] == rules.SIGN_OFF) == bool(item["role"])


def test_a_process_record_of_a_kind_that_is_not_known_is_asked_as_a_check() -> None:
    item = list_rules.from_data({"kind": "process", "words": "Bond record", "process": "bond"})
    assert list_rules.offered(item, ["bond"])["kind"] == rules.PROCESS
    asked = list_rules.offered(item, [])
    assert (asked["kind"], asked["process"]) == (rules.CHECK, "")


def test_a_list_needs_a_line_and_limits_the_right_way_round() -> None:
    gap = list_rules.listed({"kind": "measure", "words": "Gap"})
    list_rules.check_items([gap])
    with pytest.raises(Refusal):
        list_rules.check_items([])
    with pytest.raises(Refusal):
        list_rules.check_items([gap | {"low": Decimal(3), "high": Decimal(1)}])


# ---- setting up an area ----

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.fixture
def edda(shop: Shop) -> Client:
    return client_for(shop.edda)


def filled(page) -> dict[str, str]:  # noqa: ANN001
    """What a form with its lines holds, as a browser would send it."""
    form, items = page.context["form"], page.context["items"]
    values = {name: form[name].value() or "" for name in form.fields}
    values |= {"item-TOTAL_FORMS": str(len(items.forms)), "item-INITIAL_FORMS": str(items.initial_form_count())}
    for row in items:
        values |= {
            row.add_prefix(name): row[name].value() for name in row.fields if row[name].value() not in (None, "")
        }
        values.pop(row.add_prefix("drop"), None)
    return values


def test_an_area_is_set_up_from_a_list_and_says_so(shop: Shop, edda: Client) -> None:
    url = f"/{shop.project.slug}/areas/new/?list=bonded-skin&assembly={shop.assembly.pk}"
    page = edda.get(url)
    assert page.context["form"]["kind"].value() == "permanent"
    values = filled(page) | {"number": "22-C1", "name": "Left wing, top skin"}
    gap = next(row for row in page.context["items"] if row.picked == rules.MEASURE)
    refused = edda.post(url, values)
    assert refused.status_code == 422, "a measured value without a limit has to be completed"
    assert Area.objects.count() == 1
    values |= {gap.add_prefix("high"): "1,5", "item-0-words": "Inside, from the root", "item-1-drop": "on"}
    assert edda.post(url, values).status_code == 302
    area = Area.objects.get(number="22-C1")
    assert area.closure_list == closures.bundled()["bonded-skin"].words
    asked = list(area.requirements.values_list("position", "kind", "words"))
    assert len(asked) == 11 and asked[0] == (1, "photo", "Inside, from the root")
    assert area.requirements.get(kind="measure").high == Decimal("1.5")
    assert "Set up from the list Bonded skin, edition" in edda.get(shop.url("area", area.pk)).content.decode()


def test_a_line_that_is_left_out_has_no_errors(shop: Shop, edda: Client) -> None:
    url = f"/{shop.project.slug}/areas/new/?list=fuselage-joint&assembly={shop.assembly.pk}"
    page = edda.get(url)
    values = filled(page) | {"number": "10-C1", "name": "Joint"}
    values |= {row.add_prefix("drop"): "on" for row in page.context["items"] if row.picked == rules.MEASURE}
    assert edda.post(url, values).status_code == 302
    assert not Area.objects.get(number="10-C1").requirements.filter(kind="measure").exists()


def test_a_list_that_is_not_there_gives_the_usual_few_things(shop: Shop, edda: Client) -> None:
    page = edda.get(f"/{shop.project.slug}/areas/new/?list=nothing")
    assert page.status_code == 200 and page.context["chosen"] is None


# ---- the project's own lists ----


def own(shop: Shop, **more: object) -> ClosureList:
    items = [
        list_rules.listed({"kind": "check", "words": "Dry"}),
        list_rules.listed({"kind": "count", "words": "Tools"}),
    ]
    values = {"name": "Our skin", "kind": "permanent", "items": items} | more
    return commands.add_list(by=shop.edda, at=NOW, project=shop.project, **values)


def test_each_correction_is_the_next_edition_and_areas_keep_what_they_had(shop: Shop, edda: Client) -> None:
    made = own(shop)
    key = made.pk
    url = f"/{shop.project.slug}/areas/new/?list={key}&assembly={shop.assembly.pk}"
    edda.post(url, filled(edda.get(url)) | {"number": "N1", "name": "Skin"})
    area = Area.objects.get(number="N1")
    assert area.closure_list.startswith("Our skin, edition 1, ")
    items = [list_rules.listed({"kind": "check", "words": "Very dry"})]
    now = commands.correct_list(
        by=shop.edda, at=LATER, closure_list=made, name="Our skin", kind="access", items=items, reason="Twice"
    )
    assert (now.edition, ClosureItem.objects.count()) == (2, 1)
    assert [r.words for r in area.requirements.all()] == ["Dry", "Tools"]
    same = commands.correct_list(by=shop.edda, at=LATER, closure_list=made, name="Our skin", kind="access", items=items)
    assert same.edition == 2 and Entry.objects.filter(subject=made.subject).count() == 2


def test_a_name_stands_once_and_a_withdrawn_list_is_no_longer_offered(shop: Shop, edda: Client) -> None:
    made = own(shop)
    with pytest.raises(Refusal):
        own(shop)
    page = edda.post(shop.url("closure_withdraw", made.pk), {"reason": "Not ours"})
    assert page.status_code == 302
    assert edda.get(shop.url("closure", made.pk)).status_code == 404
    with pytest.raises(Refusal):
        commands.correct_list(by=shop.edda, at=LATER, closure_list=made, name="X", kind="access", items=[])
    assert own(shop).pk != made.pk


def test_a_list_is_copied_from_a_bundled_one_and_from_a_gate_by_pages(shop: Shop, edda: Client) -> None:
    new = f"/{shop.project.slug}/closure-lists/new/"
    url = f"{new}?list=tank"
    assert edda.post(url, filled(edda.get(url)) | {"name": "Our tank"}).status_code == 302
    tank = ClosureList.objects.get(name="Our tank")
    assert tank.based_on == closures.bundled()["tank"].words and tank.items.count() == 12
    assert tank.items.filter(kind="measure", low=None, high=None).exists(), "limits may be left to the plan"
    url = f"{new}?area={shop.area.pk}"
    assert edda.post(url, filled(edda.get(url)) | {"name": "As the float"}).status_code == 302
    copied = ClosureList.objects.get(name="As the float")
    assert [i.words for i in copied.items.all()] == [r.words for r in shop.area.requirements.all()]
    edit = shop.url("closure_edit", copied.pk)
    assert edda.post(edit, filled(edda.get(edit)) | {"name": "As the left float"}).status_code == 302
    copied.refresh_from_db()
    assert (copied.edition, copied.name) == (2, "As the left float")


@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_everybody_reads_lists_and_only_the_builder_changes_them(shop: Shop, role: str) -> None:
    made = own(shop)
    client = client_for(make_person(shop.project, role))
    base = f"/{shop.project.slug}/closure-lists/"
    assert all(client.get(base + page).status_code == 200 for page in ("", f"{made.pk}/", "tank/"))
    assert all(
        client.get(base + page).status_code == 403 for page in ("new/", f"{made.pk}/edit/", f"{made.pk}/withdraw/")
    )


def test_the_lists_of_another_project_are_not_found_and_bundled_ones_not_changed(shop: Shop, edda: Client) -> None:
    other = Shop()
    made = own(other)
    base = f"/{shop.project.slug}/closure-lists/"
    for page in (f"{made.pk}/", f"{made.pk}/edit/", f"{made.pk}/withdraw/", "tank/edit/", "tank/withdraw/", "x/"):
        assert edda.get(base + page).status_code == 404, page
    assert edda.get(f"/{other.project.slug}/closure-lists/").status_code == 404
    assert made.name not in edda.get(base).content.decode()
    assert edda.get(f"{base}new/?area={other.area.pk}").context["based_on"] == ""
