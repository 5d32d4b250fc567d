"""Real process records at gates: which are offered, which count, and what a signature over them covers."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from inspections import commands as inspecting
from inspections.models import ShownRecord
from inspections.queries import processes
from inspections.queries.closures import bundled
from process.commands import checks, common, layups, mixes
from process.models import KINDS, Layup, Mix, Ply
from process.rules.words import LETTERS
from tests.factories import NOW, client_for, make_area, make_assembly
from tests.inspections.shop import Shop
from tests.process.shop import make_layup, make_mix

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)
LAYUP = {"kind": "process", "words": "Layup of the shell", "process": "layup"}
MIX = {"kind": "process", "words": "Mix", "process": "mix"}
SIGN = {"kind": "signoff", "words": "Inspector sign-off", "role": "inspector"}


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.fixture
def edda(shop: Shop) -> Client:
    return client_for(shop.edda)


def whole_layup(shop: Shop, **more: Any) -> Layup:
    """A finished layup with a good verdict and a mix in it."""
    layup = make_layup(shop.edda, shop.assembly, **more)
    for ply in Ply.objects.filter(layup=layup):
        layups.lay_ply(layup, by=shop.edda, at=NOW, position=ply.position, laid_at=NOW)
    make_mix(shop.edda, shop.assembly, used_in=layup)
    return common.finish(Layup.objects.get(pk=layup.pk), by=shop.edda, at=NOW)


def told(shop: Shop, record: Any) -> processes.ProcessRecord:
    (found,) = processes.SOURCES[record.KIND].named(shop.project, [record.subject])
    return found


def test_gates_know_every_kind_and_bundled_lists_ask_for_known_ones_only() -> None:
    assert set(processes.kinds()) == set(KINDS) == set(LETTERS)
    asked = {item["process"] for one in bundled().values() for item in one.items if item["kind"] == "process"}
    assert asked and asked <= set(KINDS)


def test_a_record_is_open_until_it_is_finished_then_it_has_its_verdict(shop: Shop) -> None:
    mix = make_mix(shop.edda, shop.assembly, spread_at=NOW)
    assert told(shop, mix).verdict == "open"
    common.finish(mix, by=shop.edda, at=NOW + HOUR)
    assert (told(shop, mix).verdict, told(shop, mix).at) == ("good", NOW + HOUR)
    wrong = make_mix(shop.edda, shop.assembly, hardener="45.0 g", hardener_g=Decimal(45))
    assert told(shop, common.finish(wrong, by=shop.edda, at=NOW)).verdict == "bad"


def test_a_layup_with_a_bad_mix_is_bad(shop: Shop) -> None:
    layup = whole_layup(shop)
    assert told(shop, layup).verdict == "good"
    make_mix(shop.edda, shop.assembly, hardener="45.0 g", hardener_g=Decimal(45), used_in=layup)
    assert told(shop, layup).verdict == "bad"


def test_records_are_offered_below_newest_first_withdrawn_ones_are_not(shop: Shop) -> None:
    below = make_assembly(shop.edda, "24.1.9", "Step of the float", shop.assembly)
    elsewhere = make_assembly(shop.edda, "77", "Elsewhere")
    first = make_mix(shop.edda, shop.assembly, done_at=NOW - HOUR)
    second = make_mix(shop.edda, below, done_at=NOW)
    make_mix(shop.edda, elsewhere)
    gone = make_mix(shop.edda, shop.assembly)
    common.withdraw(gone, by=shop.edda, at=NOW, reason="Entered twice")
    found = processes.to_choose(shop.project, "mix", [shop.assembly.pk, below.pk])
    assert [one.subject for one in found] == [second.subject, first.subject]
    assert told(shop, gone).withdrawn and told(shop, gone).page


def test_a_gate_takes_a_good_record_and_offers_to_make_one(shop: Shop, edda: Client) -> None:
    shop.area = make_area(shop.edda, shop.assembly, LAYUP, number="24.1-C7")
    page = edda.get(shop.url("area")).content.decode()
    assert f"/layups/new/?assembly={shop.assembly.pk}" in page
    layup = whole_layup(shop)
    assert f'value="{layup.subject}"' in edda.get(shop.url("area")).content.decode()
    put = shop.url("item_record", shop.area.pk, shop.item(1).pk)
    assert edda.post(put, {"record": layup.subject}).status_code == 302
    assert shop.now.gate.may_close
    page = edda.get(shop.url("area")).content.decode()
    assert f'href="/{shop.project.slug}/layups/{layup.pk}/"' in page and layup.label in page


def test_a_gate_takes_what_no_rule_judges_and_does_not_call_it_good(shop: Shop, edda: Client) -> None:
    asked = {"kind": "process", "words": "Last row", "process": "fasteners"}
    shop.area = make_area(shop.edda, shop.assembly, asked, SIGN, number="24.1-C7")
    row = checks.record_check(
        "fasteners", by=shop.edda, at=NOW, project=shop.project, assembly=shop.assembly, request_id="row-1",
        place="Step", spec="Bronze screw, 4 x 25", count=46,
    )  # fmt: skip
    assert not told(shop, row).recorded
    common.finish(row, by=shop.edda, at=NOW)
    assert (told(shop, row).verdict, told(shop, row).recorded) == ("good", True)
    assert not told(shop, whole_layup(shop)).recorded
    inspecting.show_record(by=shop.edda, at=NOW, requirement=shop.item(1), record=row.subject)
    page = edda.get(shop.url("area_sign")).content.decode()
    assert "recorded, no rule judges it" in page and "good verdict" not in page


@pytest.fixture
def signed(shop: Shop) -> tuple[Shop, Layup, Mix]:
    """A gate that was signed with a layup and a mix in place."""
    shop.area = make_area(shop.edda, shop.assembly, LAYUP, MIX, SIGN, number="24.1-C7")
    layup = whole_layup(shop)
    mix = common.finish(make_mix(shop.edda, shop.assembly, spread_at=NOW), by=shop.edda, at=NOW)
    for number, record in ((1, layup), (2, mix)):
        inspecting.show_record(by=shop.edda, at=NOW, requirement=shop.item(number), record=record.subject)
    shop.sign()
    assert shop.now.gate.may_close and not shop.now.changed
    return shop, layup, mix


def test_a_correction_under_a_signature_shows(signed: tuple[Shop, Layup, Mix]) -> None:
    shop, _, mix = signed
    common.correct_fields(mix, by=shop.edda, at=NOW + HOUR, reason="Read wrong", resin="146 g", resin_g=Decimal(146))
    assert shop.now.changed and not shop.now.gate.may_close
    (change,) = shop.now.signed[0].changes
    assert change.startswith("Item 2, M-") and change.endswith(": resin")
    common.correct_fields(
        mix, by=shop.edda, at=NOW + HOUR, reason="It was right", resin="145.0 g", resin_g=Decimal(145)
    )
    assert not shop.now.changed


def test_a_ply_and_a_mix_inside_a_layup_are_covered_too(signed: tuple[Shop, Layup, Mix]) -> None:
    shop, layup, _ = signed
    inside = Mix.objects.get(uses__layup=layup)
    mixes.correct_mix(inside, by=shop.edda, at=NOW + HOUR, reason="Typed wrong", filler="flox")
    assert "mixes" in shop.now.signed[0].changes[0]
    mixes.correct_mix(inside, by=shop.edda, at=NOW + HOUR, reason="No", filler="")
    assert not shop.now.changed
    plies = [
        {name: getattr(ply, name) for name in ("id", "kind", "cloth", "faw", "faw_gsm", "orientation", "extent")}
        for ply in Ply.objects.filter(layup=layup)
    ]
    plies[0]["orientation"] = "0/90"
    layups.set_plies(Layup.objects.get(pk=layup.pk), by=shop.edda, at=NOW + HOUR, plies=plies, reason="Laid so")
    assert "plies" in shop.now.signed[0].changes[0]


def test_withdrawn_and_opened_again_records_no_longer_count(signed: tuple[Shop, Layup, Mix]) -> None:
    shop, layup, mix = signed
    common.reopen(Layup.objects.get(pk=layup.pk), by=shop.edda, at=NOW + HOUR, reason="Not weighed yet")
    assert shop.now.changed and not shop.now.gate.may_close
    layups.finish_layup(Layup.objects.get(pk=layup.pk), by=shop.edda, at=NOW + HOUR)
    common.withdraw(mix, by=shop.edda, at=NOW + HOUR, reason="Another pot")
    assert any("no longer in place" in change for change in shop.now.signed[0].changes)


def test_gates_read_records_in_a_fixed_number_of_queries(shop: Shop, django_assert_max_num_queries: Any) -> None:
    rows = [whole_layup(shop) for _ in range(4)]
    with django_assert_max_num_queries(16):
        found = processes.records(shop.project, [("layup", one.subject) for one in rows])
    assert len(found) == 4 and ShownRecord.objects.count() == 0
