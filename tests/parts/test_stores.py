"""Bins, lots of material, and parts that are molds: commands, rules, and their pages."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person
from archive.queries import faults
from evidence.commands import place_photo
from foundation.refusal import Refusal
from journal.models import Entry
from parts import commands, queries, rules
from parts.models import Bin, Lot, Part
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_bin,
    make_lot,
    make_part,
    make_person,
    make_photo,
    make_project,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 14)


@pytest.fixture
def builder() -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"parts:{name}", args=[by.project.slug, *keys])


def verbs(subject: str) -> list[str]:
    return list(Entry.objects.filter(subject=subject).order_by("seq").values_list("verb", flat=True))


# ---- rules ----


@pytest.mark.parametrize(
    ("made", "opened", "expires", "code"),
    [
        (None, None, None, ""),
        (TODAY, TODAY, TODAY, ""),
        (date(2026, 1, 1), date(2026, 2, 1), date(2026, 1, 15), ""),  # opened past its date: a caution, no refusal
        (date(2026, 5, 15), None, None, "made_later"),
        (None, date(2026, 5, 15), None, "opened_later"),
        (date(2026, 2, 1), date(2026, 1, 31), None, "opened_before_made"),
        (date(2026, 2, 1), None, date(2026, 1, 31), "expired_before_made"),
    ],
)
def test_a_lot_is_made_then_opened_and_not_expired_when_made(made, opened, expires, code: str) -> None:
    try:
        rules.check_lot_dates(made, opened, expires, TODAY)
    except Refusal as no:
        assert no.code == code
    else:
        assert not code


@pytest.mark.parametrize(
    ("days", "state"), [(None, ""), (-1, "past"), (0, "soon"), (60, "soon"), (61, "good"), (4000, "good")]
)
def test_a_lot_is_past_its_date_from_the_day_after_it(days: int | None, state: str) -> None:
    expires = None if days is None else TODAY + timedelta(days=days)
    assert rules.lot_state(expires, TODAY) == state


def test_a_mold_is_in_use_where_a_part_is_for_flight(builder: Person) -> None:
    hull = make_assembly(builder)
    assert make_part(builder, hull).status_words == "Flight"
    assert make_part(builder, hull, kind="mold").status_words == "In use"
    assert make_part(builder, hull, kind="mold", status="scrapped").status_words == "Scrapped"


# ---- commands ----


def test_the_life_of_a_bin_is_journaled(builder: Person) -> None:
    store = make_bin(builder, "B1")
    commands.correct_bin(by=builder, at=NOW, store=store, number="B2", name="Nuts", reason="Sorted anew")
    commands.withdraw_bin(by=builder, at=NOW, store=store, reason="Broken")
    assert verbs(store.subject) == ["bin.added", "bin.corrected", "bin.withdrawn"]
    assert not queries.bins(builder.project).exists() and list(faults(builder.project)) == []


def test_the_life_of_a_lot_is_journaled(builder: Person) -> None:
    lot = make_lot(builder, maker_lot="EX-1", made_on=date(2026, 1, 1), expires_on=date(2027, 1, 1))
    commands.correct_lot(by=builder, at=NOW, lot=lot, opened_on=TODAY, reason="Opened for the keel shoe")
    commands.withdraw_lot(by=builder, at=NOW, lot=lot, reason="Entered twice")
    assert verbs(lot.subject) == ["lot.added", "lot.corrected", "lot.withdrawn"]
    assert not queries.lots(builder.project).exists() and list(faults(builder.project)) == []


@pytest.mark.parametrize("make", [make_bin, make_lot])
def test_a_number_stands_once_among_its_kind_and_is_free_again_when_withdrawn(builder: Person, make: Any) -> None:
    first = make(builder, "X1")
    with pytest.raises(Refusal) as no:
        make(builder, "X1")
    assert no.value.code == "number_taken" and no.value.field == "number"
    other = make_lot if make is make_bin else make_bin
    other(builder, "X1")
    withdraw = {Bin: lambda b: commands.withdraw_bin(by=builder, at=NOW, store=b, reason="x")}.get(
        type(first), lambda b: commands.withdraw_lot(by=builder, at=NOW, lot=b, reason="x")
    )
    withdraw(first)
    make(builder, "X1")
    make(make_project("Other")[1], "X1")


def test_a_lot_can_keep_its_own_number_when_it_is_corrected(builder: Person) -> None:
    lot = make_lot(builder, "L-1")
    commands.correct_lot(by=builder, at=NOW, lot=lot, number="L-1", name="Hardener")
    assert Lot.objects.get().name == "Hardener"


def test_the_day_of_the_shop_counts_and_not_that_of_greenwich(builder: Person) -> None:
    # 03:00 UTC on 15 May is still 14 May in the shop.
    late = NOW.replace(day=15, hour=3)
    with pytest.raises(Refusal, match="has not come yet"):
        commands.add_lot(
            by=builder, at=late, project=builder.project, number="L", name="x", opened_on=date(2026, 5, 15)
        )


# ---- queries ----


def test_lots_past_their_date_or_close_to_it_come_first(builder: Person) -> None:
    for number, days in (("1", 400), ("2", 30), ("3", -5), ("4", None)):
        make_lot(builder, number, expires_on=None if days is None else TODAY + timedelta(days=days))
    assert [lot.number for lot in queries.find_lots(builder.project, TODAY)] == ["2", "3", "1", "4"]


@pytest.mark.parametrize("text", ["L-77", "resin", "ex-41", "Haven", "top shelf"])
def test_a_lot_is_found_by_what_its_label_says(builder: Person, text: str) -> None:
    make_lot(builder, "L-78", name="Cloth")
    lot = make_lot(builder, "L-77", maker_lot="EX-41", supplier="Haven Supply", note="On the top shelf")
    assert list(queries.find_lots(builder.project, TODAY, text)) == [lot]


def test_what_changed_since_a_moment_is_known_and_moves_do_not_count(builder: Person) -> None:
    hull, wing = make_assembly(builder, "1"), make_assembly(builder, "2")
    part, lot = make_part(builder, hull), make_lot(builder)
    later = NOW + timedelta(days=1)
    commands.correct_part(by=builder, at=later, part=part, name="Longeron")
    commands.move_assembly(by=builder, at=later, assembly=wing, parent=None)
    assert queries.changed_since(builder.project, later) == {part.subject}
    assert {hull.subject, wing.subject, part.subject, lot.subject} == queries.changed_since(builder.project, NOW)


def test_parts_are_found_by_kind(builder: Person) -> None:
    hull = make_assembly(builder)
    make_part(builder, hull)
    mold = make_part(builder, hull, kind="mold")
    assert list(queries.find_parts(builder.project, kind="mold")) == [mold]


# ---- shelf life by label and by opening ----


@pytest.mark.parametrize(
    ("label", "expires", "by"),
    [
        ({}, None, ""),
        ({"expires_on": date(2026, 12, 1)}, date(2026, 12, 1), "label"),
        # 24 months from the last day of February end on the last day of February.
        ({"made_on": date(2024, 2, 29), "months": 24}, date(2026, 2, 28), "sealed"),
        ({"made_on": date(2026, 1, 31), "months": 24, "opened_on": date(2026, 4, 1), "months_open": 3},
         date(2026, 7, 1), "opened"),
        ({"opened_on": date(2026, 5, 1), "months_open": 12, "expires_on": date(2026, 6, 1)}, date(2026, 6, 1), "label"),
        ({"months_open": 6, "made_on": date(2026, 1, 1)}, None, ""),  # sealed, and nothing said of that
    ],
)  # fmt: skip
def test_a_lot_keeps_until_whichever_of_its_dates_ends_first(builder: Person, label, expires, by: str) -> None:
    keeps = make_lot(builder, **label).shelf_life(TODAY)
    assert keeps.expires == expires and (keeps.by == rules.SHELF_WORDS[by])
    assert keeps.state == rules.lot_state(expires, TODAY)


def test_a_lot_past_its_months_since_opening_comes_first_and_one_used_up_last(builder: Person) -> None:
    make_lot(builder, "1", expires_on=TODAY - timedelta(days=9), status="used_up")
    make_lot(builder, "2")
    make_lot(builder, "3", opened_on=date(2025, 1, 1), months_open=6)
    assert [lot.number for lot in queries.find_lots(builder.project, TODAY)] == ["3", "2", "1"]


@pytest.mark.parametrize("status", ["hold", "reject"])
def test_a_lot_put_aside_says_why(builder: Person, client: Client, status: str) -> None:
    sent = {"number": "L-1", "name": "Hardener", "status": status}
    answer = client.post(at("lot_new", builder), sent)
    assert answer.status_code == 422 and "Say why it is on hold or rejected." in answer.content.decode()
    client.post(at("lot_new", builder), sent | {"status_words": "Crystals in it"})
    lot = Lot.objects.get()
    assert lot.status == status and not (status == "reject" and lot.in_use)
    assert "Crystals in it" in client.get(at("lot", builder, lot.pk)).content.decode()


@pytest.mark.parametrize(
    ("units", "typed", "kept", "gsm"),
    [("si", "290", "290 g/m2", "290"), ("us", "5.7", "5.7 oz/yd2", "193.26"), ("us", "290 g/m2", "290 g/m2", "290")],
)
def test_the_weight_of_a_cloth_is_kept_as_typed_beside_its_figure(units: str, typed: str, kept: str, gsm: str) -> None:
    lot = make_lot(make_project(units=units)[1], faw=typed, material="cloth")
    assert lot.faw == kept and abs(lot.faw_gsm - Decimal(gsm)) < Decimal("0.01")
    with pytest.raises(Refusal) as no:
        commands.correct_lot(by=lot.project.people.get(), at=NOW, lot=lot, faw="5 kg")
    assert no.value.field == "faw"


def test_a_lot_entered_before_it_had_a_status_reads_the_same(builder: Person) -> None:
    told = set(make_lot(builder).state())
    assert not told & {"status", "material", "months", "months_open", "faw", "faw_gsm", "stored", "retest_on"}


# ---- who may ----


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
@pytest.mark.parametrize("name", ["bin_new", "bin_edit", "bin_withdraw", "lot_new", "lot_edit", "lot_withdraw"])
def test_only_the_builder_changes_bins_and_lots(builder: Person, role: str, name: str) -> None:
    thing = make_bin(builder) if name.startswith("bin") else make_lot(builder)
    keys = [] if name.endswith("new") else [thing.pk]
    member = client_for(make_person(builder.project, role))
    answer = member.post(at(name, builder, *keys), {"number": "9", "name": "x", "reason": "x"})
    assert answer.status_code == 403 and "Only the builder changes this." in answer.content.decode()


@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_every_member_reads_bins_and_lots_without_buttons_to_change_them(builder: Person, role: str) -> None:
    store, lot = make_bin(builder), make_lot(builder)
    member = client_for(make_person(builder.project, role))
    pages = [at(name, builder) for name in ("stores", "bins", "lots")]
    for url in [*pages, at("bin", builder, store.pk), at("lot", builder, lot.pk)]:
        page = member.get(url)
        assert page.status_code == 200 and not [
            word for word in ("/new/", "/edit/", "/withdraw/") if word in page.content.decode()
        ]


@pytest.mark.parametrize("name", ["bin", "bin_edit", "bin_withdraw", "lot", "lot_edit", "lot_withdraw"])
def test_a_bin_or_lot_of_another_project_is_not_found_here(builder: Person, client: Client, name: str) -> None:
    other = make_project("Other")[1]
    theirs = make_bin(other) if name.startswith("bin") else make_lot(other)
    assert client.get(at(name, builder, theirs.pk)).status_code == 404


# ---- pages ----


def test_without_any_the_page_says_what_they_are_for(builder: Person, client: Client) -> None:
    page = client.get(at("stores", builder)).content.decode()
    assert "No bins yet" in page and "No lots yet" in page and at("bin_new", builder) in page
    assert "No bins yet" in client.get(at("bins", builder)).content.decode()
    assert "No lots yet" in client.get(at("lots", builder)).content.decode()
    assert "No lot like that" in client.get(at("lots", builder) + "?text=zz").content.decode()


def test_a_bin_is_added_corrected_and_withdrawn_by_its_pages(builder: Person, client: Client) -> None:
    client.post(at("bin_new", builder), {"number": "B1", "name": "Bolts"})
    store = Bin.objects.get()
    client.post(at("bin_edit", builder, store.pk), {"number": "B1", "name": "Nuts", "reason": "Bolts moved out"})
    page = client.get(at("bin", builder, store.pk)).content.decode()
    assert "<del>Bolts</del>" in page and "<ins>Nuts</ins>" in page and "Reason: Bolts moved out" in page
    assert client.post(at("bin_withdraw", builder, store.pk), {"reason": ""}).status_code == 422
    client.post(at("bin_withdraw", builder, store.pk), {"reason": "Shelf taken down"})
    page = client.get(at("bin", builder, store.pk)).content.decode()
    assert "Withdrawn on" in page and "Shelf taken down" in page and "/edit/" not in page
    assert client.get(at("bin_edit", builder, store.pk)).status_code == 404


def test_a_lot_is_added_corrected_and_withdrawn_by_its_pages(builder: Person, client: Client) -> None:
    sent = {"number": "L-1", "name": "Epoxy resin", "maker_lot": "EX-7", "made_on": "2026-01-02", "quantity": "5 kg"}
    client.post(at("lot_new", builder), sent)
    lot = Lot.objects.get()
    assert lot.made_on == date(2026, 1, 2) and lot.expires_on is None
    client.post(at("lot_edit", builder, lot.pk), sent | {"expires_on": "2027-02-28", "reason": "Label read again"})
    page = client.get(at("lot", builder, lot.pk)).content.decode()
    assert "EX-7" in page and "5 kg" in page and "<ins>28 Feb 2027</ins>" in page and "Sealed, or not said" in page
    client.post(at("lot_withdraw", builder, lot.pk), {"reason": "Sent back"})
    assert "Withdrawn on" in client.get(at("lot", builder, lot.pk)).content.decode()
    assert "EX-7" not in client.get(at("lots", builder)).content.decode()


def test_what_is_wrong_with_a_lot_is_said_at_its_field_and_nothing_typed_is_lost(
    builder: Person, client: Client
) -> None:
    sent = {"number": "L-1", "name": "Resin", "made_on": "2026-01-02", "expires_on": "2025-12-31", "note": "Blue can"}
    answer = client.post(at("lot_new", builder), sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and "It expires before it was made." in page and "Blue can" in page
    assert not Lot.objects.exists()


def test_a_lot_past_its_date_gets_a_caution_and_is_no_less_usable(builder: Person, client: Client) -> None:
    today = timezone.now().astimezone(builder.project.zone).date()
    past = make_lot(builder, "L-1", expires_on=today - timedelta(days=1))
    soon = make_lot(builder, "L-2", expires_on=today + timedelta(days=10))
    page = client.get(at("lot", builder, past.pk)).content.decode()
    assert f"Past its date since {today - timedelta(days=1):%-d %b %Y}" in page and "Take photos" in page
    page = client.get(at("lot", builder, soon.pk)).content.decode()
    assert f"Good until {today + timedelta(days=10):%-d %b %Y}" in page and "By the date on its label" in page
    listed = client.get(at("stores", builder)).content.decode()
    assert "Past its date" in listed and "Soon" in listed


@pytest.mark.parametrize("kind", ["bin", "lot", "part"])
def test_photos_placed_on_a_thing_are_shown_on_its_page(builder: Person, client: Client, kind: str) -> None:
    thing = {"bin": make_bin, "lot": make_lot}.get(kind, lambda by: make_part(by, make_assembly(by)))(builder)
    url = reverse("evidence:photos_of", args=[builder.project.slug, thing.pk])
    assert url in client.get(at(kind, builder, thing.pk)).content.decode()
    assert "No photos are placed on it yet." in client.get(url).content.decode()
    photo = make_photo(builder)
    place_photo(by=builder, at=NOW, photo=photo, places=[thing])
    make_photo(builder, places=[make_assembly(builder)])
    strip = client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert photo.label in strip and "P-0002" not in strip and "<html" not in strip


def test_photos_of_a_thing_of_another_project_are_not_shown(builder: Person, client: Client) -> None:
    other = make_project("Other")[1]
    store = make_bin(other)
    assert client.get(reverse("evidence:photos_of", args=[builder.project.slug, store.pk])).status_code == 404


@pytest.mark.parametrize("kind", ["bin", "lot"])
def test_a_photo_is_placed_on_a_bin_or_lot_from_its_page(builder: Person, client: Client, kind: str) -> None:
    photo, thing = make_photo(builder), (make_bin if kind == "bin" else make_lot)(builder)
    where = [builder.project.slug, photo.pk]
    assert client.post(reverse("evidence:photo_place", args=where), {kind: thing.pk}).status_code == 302
    assert photo.placements.get().thing == thing
    page = client.get(reverse("evidence:photo", args=where)).content.decode()
    assert at(kind, builder, thing.pk) in page and list(faults(builder.project)) == []


def test_a_mold_is_entered_listed_and_told_as_one(builder: Person, client: Client) -> None:
    hull = make_assembly(builder)
    sent = {"kind": "mold", "assembly": hull.pk, "number": "M-1", "name": "Shell mold", "status": "flight"}
    client.post(at("part_new", builder), sent | {"origin": "builder", "weight_unit": "g", "estimate_unit": "g"})
    mold = Part.objects.get()
    assert mold.kind == "mold"
    page = client.get(at("part", builder, mold.pk)).content.decode()
    assert "Mold" in page and "In use" in page
    assert "Mold, in use" in client.get(at("parts", builder) + "?kind=mold").content.decode()
    assert "No part like that" in client.get(at("parts", builder) + "?kind=plug").content.decode()
    commands.correct_part(by=builder, at=NOW, part=mold, kind="plug", reason="It is the plug")
    page = client.get(at("part", builder, mold.pk)).content.decode()
    assert "<del>Mold</del>" in page and "<ins>Plug</ins>" in page


def test_a_part_entered_before_there_were_kinds_reads_the_same(builder: Person) -> None:
    part = make_part(builder, make_assembly(builder))
    assert "kind" not in part.state() and make_part(builder, part.assembly, kind="mold").state()["kind"] == "mold"
