"""Supplying measured values, counts, process records and inner areas at a gate, by its pages."""

import re
from decimal import Decimal
from html import unescape

import pytest
from django.test import Client

from inspections.models import Answer, Area, Requirement, ShownRecord
from inspections.queries import processes
from inspections.queries.processes import ProcessRecord, ProcessSource
from tests.factories import NOW, client_for, make_area, make_person
from tests.inspections.shop import Shop

pytestmark = pytest.mark.django_db

GAP = {"kind": "measure", "words": "Gap, the widest", "low": Decimal("0.5"), "high": Decimal("2.5"), "unit": "mm"}
TOOLS = {"kind": "count", "words": "Tools out"}
BOND = {"kind": "process", "words": "Bond record", "process": "bond"}


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.fixture
def edda(shop: Shop) -> Client:
    return client_for(shop.edda)


def record(subject: str, verdict: str) -> ProcessRecord:
    return ProcessRecord(subject, f"B-{subject[-1]}", verdict, NOW)


RECORDS = {one.subject: one for one in (record("bond:1", "good"), record("bond:2", "bad"))}


@pytest.fixture
def bonds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bond records, of which one is good, in place of the real kind."""
    source = ProcessSource(
        "bond",
        "Bond",
        named=lambda project, wanted: [RECORDS[one] for one in wanted if one in RECORDS],
        on=lambda project, assemblies: list(RECORDS.values()),
    )
    monkeypatch.setitem(processes.SOURCES, "bond", source)


def ask(shop: Shop, *items: dict) -> Requirement:
    """An area with these items; the first of them."""
    shop.area = make_area(shop.edda, shop.assembly, *items, number="24.1-C7")
    return shop.item(1)


def send(client: Client, shop: Shop, item: Requirement, **said: str):  # noqa: ANN202
    return client.post(shop.url("item_answer", shop.area.pk, item.pk), said)


def text(answer) -> str:  # noqa: ANN001
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


# ---- measured values ----


@pytest.mark.parametrize(("typed", "value"), [("2.5", "2.5"), ("2,5", "2.5"), (" 0.5 ", "0.5"), ("1", "1")])
def test_a_value_is_kept_as_a_builder_types_it(shop: Shop, edda: Client, typed: str, value: str) -> None:
    item = ask(shop, GAP)
    assert send(edda, shop, item, value=typed).status_code == 302
    answer = Answer.objects.get()
    assert (answer.value, answer.unit, answer.by) == (Decimal(value), "mm", shop.edda)
    assert shop.now.gate.may_close
    page = text(edda.get(shop.url("area")))
    assert f"{value} mm . Edda Norrell" in page and "From 0.5 mm to 2.5 mm" in page


def test_a_value_outside_its_limits_is_kept_told_and_holds(shop: Shop, edda: Client) -> None:
    item = ask(shop, GAP)
    assert send(edda, shop, item, value="3", reason="At rib 4").status_code == 302
    page = text(edda.get(shop.url("area")))
    assert "3 mm is over the most, 2.5 mm." in page and "3 mm: At rib 4" in page and "Not as it should be" in page
    assert not shop.now.gate.may_close
    send(edda, shop, item, value="2.4")
    page = edda.get(shop.url("area")).content.decode()
    assert "<del>3 mm: At rib 4</del>" in page and shop.now.gate.may_close


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Type the value that you read."),
        ("two", "Write a number such as 2.5, without the unit."),
        ("2.5 mm", "Write a number such as 2.5, without the unit."),
        ("1.23456", "Write at most four decimals."),
        ("1e99", "Write a"),
        ("NaN", "Write a number such as 2.5, without the unit."),
    ],
)
def test_what_is_no_value_is_refused_at_the_item_and_stays_typed(
    shop: Shop, edda: Client, typed: str, words: str
) -> None:
    item = ask(shop, GAP)
    answer = send(edda, shop, item, value=typed, reason="At rib 4")
    assert answer.status_code == 422 and words in text(answer)
    page = answer.content.decode()
    assert f'value="{typed}"' in page and 'value="At rib 4"' in page and 'href="#item-1"' in page
    assert not Answer.objects.exists()


# ---- counts ----


def test_a_count_agrees_or_is_told(shop: Shop, edda: Client) -> None:
    item = ask(shop, TOOLS)
    assert send(edda, shop, item, number_in="12", number_out="11").status_code == 302
    assert "12 went in, 11 came out." in text(edda.get(shop.url("area")))
    assert not shop.now.gate.may_close
    send(edda, shop, item, number_in="12", number_out="12")
    assert "12 in, 12 out" in text(edda.get(shop.url("area"))) and shop.now.gate.may_close


@pytest.mark.parametrize(
    "said", [{"number_in": "12"}, {"number_in": "a dozen", "number_out": "12"}, {"number_in": "-1"}]
)
def test_half_a_count_is_refused_and_stays_typed(shop: Shop, edda: Client, said: dict) -> None:
    item = ask(shop, TOOLS)
    answer = send(edda, shop, item, **said)
    assert answer.status_code == 422 and not Answer.objects.exists()
    assert f'value="{said["number_in"]}"' in answer.content.decode()


# ---- process records ----


@pytest.mark.usefixtures("bonds")
def test_a_good_record_is_put_in_place_and_taken_away(shop: Shop, edda: Client) -> None:
    item = ask(shop, BOND)
    page = edda.get(shop.url("area")).content.decode()
    assert 'value="bond:1"' in page and "bad verdict" in page
    put = shop.url("item_record", shop.area.pk, item.pk)
    assert edda.post(put, {"record": "bond:1"}).status_code == 302
    assert shop.now.gate.may_close and "B-1" in text(edda.get(shop.url("area")))
    away = shop.url("record_away", shop.area.pk, item.pk)
    assert edda.post(away, {"record": "bond:1"}).status_code == 302
    assert not ShownRecord.objects.exists() and edda.post(away, {"record": "bond:1"}).status_code == 404


@pytest.mark.usefixtures("bonds")
@pytest.mark.parametrize(
    ("record", "words"),
    [("bond:2", "has a bad verdict"), ("bond:9", "is not of the kind"), ("", "Choose a record first.")],
)
def test_a_record_that_does_not_count_is_refused(shop: Shop, edda: Client, record: str, words: str) -> None:
    item = ask(shop, BOND)
    answer = edda.post(shop.url("item_record", shop.area.pk, item.pk), {"record": record}, follow=True)
    assert words in text(answer) and not ShownRecord.objects.exists()


# ---- inner areas, and what does not apply ----


def test_an_inner_area_is_asked_for_and_stands_in_place_when_it_is_closed(shop: Shop, edda: Client) -> None:
    inner, outer = shop.area, make_area(shop.edda, shop.assembly, TOOLS, number="24.1-C9")
    asked = edda.post(shop.url("item_new", outer.pk), {"kind": "inner", "inner": inner.pk, "words": ""})
    assert asked.status_code == 302
    assert str(inner) in text(edda.get(shop.url("area", outer.pk)))
    shop.closed()
    row = outer.requirements.get(kind="inner")
    assert row.words == str(inner) and "is closed" in text(edda.get(shop.url("area", outer.pk)))


@pytest.mark.parametrize("asked", [GAP, TOOLS, BOND, {"kind": "check", "words": "Vacuumed"}])
def test_what_does_not_apply_says_why(shop: Shop, edda: Client, asked: dict) -> None:
    item = ask(shop, asked)
    answer = send(edda, shop, item, answer="na", reason=" ")
    assert answer.status_code == 422 and "Say why this does not apply." in text(answer)
    assert send(edda, shop, item, answer="na", reason="No drain here").status_code == 302
    assert shop.now.gate.may_close and "Does not apply: No drain here" in text(edda.get(shop.url("area")))


def test_a_measure_is_not_answered_with_a_plain_yes(shop: Shop, edda: Client) -> None:
    item = ask(shop, GAP)
    assert send(edda, shop, item, answer="yes").status_code == 422 and not Answer.objects.exists()


def test_a_closed_area_takes_no_value(shop: Shop, edda: Client) -> None:
    item = ask(shop, GAP)
    send(edda, shop, item, value="2")
    shop.close()
    answer = send(edda, shop, item, value="1")
    assert answer.status_code == 422 and "This area is closed." in text(answer)


@pytest.mark.parametrize("name", ["item_record", "record_away", "item_answer"])
@pytest.mark.parametrize("role", ["inspector", "reader", "stranger", "signed out"])
def test_only_who_logs_supplies(shop: Shop, name: str, role: str) -> None:
    item = ask(shop, BOND)
    url = shop.url(name, shop.area.pk, item.pk)
    if role == "signed out":
        assert Client().post(url, {"answer": "yes"}).status_code == 302
    elif role == "stranger":
        assert client_for(Shop().edda).post(url, {"answer": "yes"}).status_code == 404
    else:
        assert client_for(make_person(shop.project, role)).post(url, {"answer": "yes"}).status_code == 403
    assert not Answer.objects.exists() and not ShownRecord.objects.exists()


def test_an_item_of_another_area_is_not_found(shop: Shop, edda: Client) -> None:
    other = Shop()
    item = ask(other, GAP)
    for area in (shop.area, other.area):
        assert edda.post(shop.url("item_answer", area.pk, item.pk), {"value": "1"}).status_code == 404


# ---- asking ----


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"kind": "measure", "words": "Gap"}, "low"),
        ({"kind": "measure", "words": "Gap", "low": "3", "high": "1"}, "low"),
        ({"kind": "measure", "words": "Gap", "low": "x"}, "low"),
        ({"kind": "measure", "words": "", "high": "1"}, "words"),
        ({"kind": "inner", "words": "Box"}, "inner"),
        ({"kind": "inner", "words": "Box", "inner": "zzzz"}, "inner"),
        ({"kind": "process", "words": "Bond"}, "process"),
    ],
)
def test_an_item_that_could_never_be_supplied_is_not_asked_for(
    shop: Shop, edda: Client, said: dict, field: str
) -> None:
    make_area(shop.edda, shop.assembly, TOOLS, number="24.1-C9")
    answer = edda.post(shop.url("item_new"), said)
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert shop.area.requirements.count() == 3


def test_what_a_kind_has_no_use_for_is_left_out(shop: Shop, edda: Client) -> None:
    said = {"kind": "measure", "words": "Gap", "high": "2,5", "unit": "mm", "count": "4", "role": "builder"}
    assert edda.post(shop.url("item_new"), said).status_code == 302
    item = Requirement.objects.get(words="Gap")
    assert (item.low, item.high, item.unit, item.count, item.role) == (None, Decimal("2.5"), "mm", 1, "")
    assert edda.post(shop.url("item_new"), said | {"kind": "check", "words": "Dry"}).status_code == 302
    item = Requirement.objects.get(words="Dry")
    assert (item.high, item.unit) == (None, "")


def test_an_area_waiting_for_itself_is_refused(shop: Shop, edda: Client) -> None:
    outer = make_area(shop.edda, shop.assembly, {"kind": "inner", "words": "In", "inner": shop.area}, number="24.1-C9")
    answer = edda.post(shop.url("item_new"), {"kind": "inner", "inner": outer.pk})
    assert answer.status_code == 422 and "inner" in answer.context["form"].errors
    assert Area.objects.count() == 2
