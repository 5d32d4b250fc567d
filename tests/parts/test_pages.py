"""The pages about the tree and about parts."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Person
from parts.models import Assembly, Part
from parts.queries import tree
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project, make_session

pytestmark = pytest.mark.django_db


@pytest.fixture
def builder() -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"parts:{name}", args=[by.project.slug, *keys])


def queries_of(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


def part_values(assembly: Assembly, **changed: str) -> dict[str, str]:
    values = {"assembly": assembly.pk, "number": "B-3", "name": "Bulkhead", "status": "flight", "origin": "builder"}
    return values | {"kind": "part", "weight_unit": "g", "estimate_unit": "g"} | changed


# ---- who may ----


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
@pytest.mark.parametrize(
    "name",
    [
        "assembly_new",
        "assembly_edit",
        "assembly_move",
        "assembly_withdraw",
        "assemblies",
        "part_new",
        "part_edit",
        "part_withdraw",
    ],
)
def test_only_the_builder_changes_the_tree_and_the_parts(builder: Person, role: str, name: str) -> None:
    hull = make_assembly(builder)
    keys = [make_part(builder, hull).pk] if name in {"part_edit", "part_withdraw"} else []
    keys = [hull.pk] if name in {"assembly_edit", "assembly_move", "assembly_withdraw"} else keys
    member = client_for(make_person(builder.project, role))
    answer = member.post(at(name, builder, *keys), {"reason": "x", "up": hull.pk, "place": "/"})
    assert answer.status_code == 403 and "Only the builder changes this." in answer.content.decode()


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
def test_every_member_reads_tree_and_parts_without_buttons_to_change_them(builder: Person, role: str) -> None:
    part = make_part(builder, make_assembly(builder))
    member = client_for(make_person(builder.project, role))
    for url in (
        at("assemblies", builder),
        at("assemblies", builder) + "?arrange=1",
        at("parts", builder),
        at("part", builder, part.pk),
    ):
        page = member.get(url)
        assert page.status_code == 200
        assert not [word for word in ("/new/", "/edit/", "arrange=1", 'name="up"') if word in page.content.decode()]


@pytest.mark.parametrize("name", ["assembly_edit", "assembly_move", "assembly_withdraw"])
def test_an_assembly_of_another_project_is_not_found_here(builder: Person, client: Client, name: str) -> None:
    theirs = make_assembly(make_project("Other")[1])
    assert client.get(at(name, builder, theirs.pk)).status_code == 404
    assert client.post(at(name, builder, theirs.pk), {"reason": "x", "number": "1", "name": "x"}).status_code == 404


@pytest.mark.parametrize("name", ["part", "part_edit", "part_withdraw"])
def test_a_part_of_another_project_is_not_found_here(builder: Person, client: Client, name: str) -> None:
    other = make_project("Other")[1]
    theirs = make_part(other, make_assembly(other))
    assert client.get(at(name, builder, theirs.pk)).status_code == 404


def test_nothing_is_hung_below_or_put_into_an_assembly_of_another_project(builder: Person, client: Client) -> None:
    theirs, mine = make_assembly(make_project("Other")[1]), make_assembly(builder)
    assert (
        client.post(at("assembly_new", builder), {"number": "1", "name": "x", "parent": theirs.pk}).status_code == 422
    )
    assert client.post(at("assembly_move", builder, mine.pk), {"place": f"{theirs.pk}/"}).status_code == 422
    assert client.post(at("part_new", builder), part_values(theirs)).status_code == 422
    assert client.post(at("assemblies", builder), {"up": theirs.pk}).status_code == 404


# ---- assemblies ----


def test_an_empty_tree_offers_the_first_assembly(builder: Person, client: Client) -> None:
    page = client.get(at("assemblies", builder)).content.decode()
    assert "No assemblies yet" in page and at("assembly_new", builder) in page


def test_the_tree_shows_own_hours_hours_below_and_the_whole(builder: Person, client: Client) -> None:
    wing = make_assembly(builder, "20", "Wing")
    spar = make_assembly(builder, "21", "Main spar", wing)
    make_session(builder, wing)
    make_session(builder, spar, at=NOW)
    make_part(builder, spar)
    page = client.get(at("assemblies", builder)).content.decode()
    row = " ".join(page.split(f'id="a-{wing.pk}"')[1].split("</tr>")[0].split())
    assert '<td class="number wide-only">2.0</td><td class="number wide-only">2.0</td>' in row and "<b>4.0</b>" in row
    assert "In work" in row and reverse("inspections:assembly", args=[builder.project.slug, wing.pk]) in row


@pytest.mark.parametrize("arranging", ["", "?arrange=1"])
def test_the_tree_costs_the_same_for_one_assembly_and_for_thirty(
    builder: Person, client: Client, arranging: str
) -> None:
    hull = make_assembly(builder)
    make_part(builder, hull)
    url = at("assemblies", builder) + arranging
    one = queries_of(client, url)
    for _ in range(10):
        parent = make_assembly(builder)
        make_part(builder, make_assembly(builder, parent=make_assembly(builder, parent=parent)))
    assert queries_of(client, url) == one <= 16


def test_an_assembly_is_added_below_the_one_asked_for(builder: Person, client: Client) -> None:
    wing = make_assembly(builder, "20", "Wing")
    form = client.get(at("assembly_new", builder) + f"?parent={wing.pk}").content.decode()
    assert f'<option value="{wing.pk}" selected>' in form
    answer = client.post(at("assembly_new", builder), {"number": "21", "name": "Main spar", "parent": wing.pk})
    spar = Assembly.objects.get(number="21")
    assert spar.parent == wing
    assert answer.headers["Location"] == reverse("inspections:assembly", args=[builder.project.slug, spar.pk])


def test_a_number_that_is_taken_is_told_at_its_field(builder: Person, client: Client) -> None:
    make_assembly(builder, "20")
    answer = client.post(at("assembly_new", builder), {"number": "20", "name": "Again", "parent": ""})
    assert answer.status_code == 422 and "number" in answer.context["form"].errors


def test_an_assembly_is_corrected_and_withdrawn_by_pages(builder: Person, client: Client) -> None:
    hull = make_assembly(builder, "10", "Hull")
    client.post(at("assembly_edit", builder, hull.pk), {"number": "10", "name": "Hull and deck", "reason": "One piece"})
    hull.refresh_from_db()
    assert hull.name == "Hull and deck"
    assert client.get(at("assembly_withdraw", builder, hull.pk)).status_code == 200
    assert client.post(at("assembly_withdraw", builder, hull.pk), {"reason": ""}).status_code == 422
    answer = client.post(at("assembly_withdraw", builder, hull.pk), {"reason": "Entered twice"})
    assert answer.headers["Location"] == at("assemblies", builder)
    assert client.get(at("assembly_edit", builder, hull.pk)).status_code == 404


def test_an_assembly_with_parts_says_why_it_is_not_withdrawn(builder: Person, client: Client) -> None:
    hull = make_assembly(builder)
    make_part(builder, hull)
    answer = client.post(at("assembly_withdraw", builder, hull.pk), {"reason": "x"})
    assert answer.status_code == 422 and "There are parts in this assembly" in answer.content.decode()


def test_the_move_page_offers_every_place_but_those_below_and_stands_on_the_present_one(
    builder: Person, client: Client
) -> None:
    hull, wing = make_assembly(builder, "10", "Hull"), make_assembly(builder, "20", "Wing")
    make_assembly(builder, "21", "Main spar", wing)
    url = at("assembly_move", builder, wing.pk)
    page = client.get(url).content.decode()
    assert f'<option value="/{hull.pk}" selected>After 10 Hull, at the top</option>' in page
    assert "in 21 Main spar" not in page and "in 20 Wing" not in page
    client.post(url, {"place": f"{hull.pk}/"})
    assert [(node.assembly.number, node.depth) for node in tree(builder.project)] == [("10", 0), ("20", 1), ("21", 2)]


def test_up_and_down_work_without_script(builder: Person, client: Client) -> None:
    first, second = make_assembly(builder, "10"), make_assembly(builder, "20")
    answer = client.post(at("assemblies", builder), {"up": second.pk})
    assert answer.headers["Location"] == f"{at('assemblies', builder)}?arrange=1#a-{second.pk}"
    assert [node.assembly.number for node in tree(builder.project)] == ["20", "10"]
    client.post(at("assemblies", builder), {"down": second.pk})
    assert [node.assembly.number for node in tree(builder.project)] == ["10", "20"]
    client.post(at("assemblies", builder), {"up": first.pk})
    assert [node.assembly.number for node in tree(builder.project)] == ["10", "20"]


# ---- parts ----


def test_a_part_needs_an_assembly_first(builder: Person, client: Client) -> None:
    assert "An assembly comes first" in client.get(at("part_new", builder)).content.decode()


@pytest.mark.parametrize(
    ("typed", "kept"), [("12.5", "12.5000"), ("12,5", "12.5000"), (" 3 ", "3.0000"), ("0", "0.0000"), ("", "None")]
)
def test_a_weight_is_written_with_a_point_or_a_comma(builder: Person, client: Client, typed: str, kept: str) -> None:
    answer = client.post(at("part_new", builder), part_values(make_assembly(builder), weight=typed, weight_unit="oz"))
    part = Part.objects.get()
    assert answer.headers["Location"] == at("part", builder, part.pk)
    assert str(part.weight) == kept


@pytest.mark.parametrize("typed", ["-1", "-0,5", "1,234.5", "1.234,5", "12 g", "NaN", "Infinity", "1e99", "0.12345"])
def test_a_weight_that_cannot_be_is_told_at_its_field(builder: Person, client: Client, typed: str) -> None:
    answer = client.post(at("part_new", builder), part_values(make_assembly(builder), weight=typed))
    assert answer.status_code == 422 and "weight" in answer.context["form"].errors
    assert not Part.objects.exists()


def test_half_a_count_is_told_at_its_field(builder: Person, client: Client) -> None:
    answer = client.post(at("part_new", builder), part_values(make_assembly(builder), n="1"))
    assert answer.status_code == 422 and "Fill in both numbers" in str(answer.context["form"].errors["n"])


@pytest.mark.parametrize(("system", "unit"), [("si", "g"), ("us", "lb")])
def test_the_form_starts_with_the_projects_unit(system: str, unit: str) -> None:
    _, builder = make_project(units=system)
    make_assembly(builder)
    form = client_for(builder).get(at("part_new", builder)).context["form"]
    assert (form["weight_unit"].value(), form["estimate_unit"].value()) == (unit, unit)


def test_a_part_that_was_not_weighed_can_be_corrected(builder: Person, client: Client) -> None:
    part = make_part(builder, make_assembly(builder), "B-3")
    form = client.get(at("part_edit", builder, part.pk)).context["form"]
    values = {bound.name: bound.value() for bound in form if bound.value() is not None}
    assert client.post(at("part_edit", builder, part.pk), values).status_code == 302


def test_the_page_of_a_part_shows_what_was_struck(builder: Person, client: Client) -> None:
    hull = make_assembly(builder, "10", "Hull")
    client.post(at("part_new", builder), part_values(hull, weight="1", weight_unit="lb"))
    part = Part.objects.get()
    client.post(
        at("part_edit", builder, part.pk),
        part_values(hull, weight="1,5", weight_unit="lb", status="scrapped", reason="Delaminated"),
    )
    page = client.get(at("part", builder, part.pk)).content.decode()
    assert "<del>Flight</del>" in page and "<ins>Scrapped</ins>" in page and "<ins>1.5</ins>" in page
    assert "Reason: Delaminated" in page and "(680.4 g)" in page
    assert reverse("evidence:photos_of", args=[builder.project.slug, part.pk]) in page


def test_a_part_is_withdrawn_by_its_page_with_a_hint_about_scrap(builder: Person, client: Client) -> None:
    part = make_part(builder, make_assembly(builder))
    url = at("part_withdraw", builder, part.pk)
    assert "status to Scrapped" in client.get(url).content.decode()
    assert client.post(url, {"reason": " "}).status_code == 422
    assert client.post(url, {"reason": "Entered twice"}).status_code == 302
    assert client.get(at("part", builder, part.pk)).status_code == 404
    assert "No parts yet" in client.get(at("parts", builder)).content.decode()


def test_parts_are_looked_for_and_a_filter_without_sense_is_left_out(builder: Person, client: Client) -> None:
    hull = make_assembly(builder, "10")
    make_part(builder, hull, "B-3", name="Bulkhead")
    make_part(builder, hull, "K-1", name="Keel", status="scrapped")

    def found(asked: str) -> list[str]:
        return [part.number for part in client.get(at("parts", builder) + asked).context["page"]]

    assert found("") == ["B-3", "K-1"]
    assert found("?text=bulk") == ["B-3"]
    assert found(f"?assembly={hull.pk}&status=scrapped") == ["K-1"]
    assert found("?status=nonsense&assembly=zzz&page=nine") == ["B-3", "K-1"]
    assert "No part like that" in client.get(at("parts", builder) + "?text=zzz").content.decode()


def test_the_parts_page_costs_the_same_for_one_part_and_for_thirty(builder: Person, client: Client) -> None:
    make_part(builder, make_assembly(builder))
    one = queries_of(client, at("parts", builder))
    for _ in range(29):
        make_part(builder, make_assembly(builder))
    assert queries_of(client, at("parts", builder)) == one <= 17


def test_a_long_list_of_parts_is_turned_over_with_its_filter(builder: Person, client: Client) -> None:
    hull = make_assembly(builder)
    for n in range(61):
        make_part(builder, hull, f"R-{n:02d}")
    page = client.get(at("parts", builder) + "?text=R-&page=2")
    assert [part.number for part in page.context["page"]] == ["R-60"]
    assert "text=R-" in page.content.decode()


def test_what_was_typed_is_shown_as_text(builder: Person, client: Client) -> None:
    hull = make_assembly(builder, "10", "<b>Hull</b>")
    part = make_part(builder, hull, "<i>", name="<script>x</script>", note="<u>")
    for url in (
        at("assemblies", builder),
        at("assemblies", builder) + "?arrange=1",
        at("parts", builder),
        at("part", builder, part.pk),
    ):
        page = client.get(url).content.decode()
        assert not [sign for sign in ("<b>Hull", "<i>", "<script>x", "<u>") if sign in page]
