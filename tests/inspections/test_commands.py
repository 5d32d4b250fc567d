"""What is written about areas: supplying, signing, closing, reopening, and what is refused."""

import json
from datetime import timedelta

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from accounts.models import Person
from evidence import commands as evidence
from evidence.models import Photo
from foundation.digest import canonical, digest_bytes
from foundation.refusal import Refusal
from inspections import commands, queries
from inspections.models import Answer, Closing, Exhibit, Requirement
from journal.models import Entry, Signature
from tests.factories import (
    NOW,
    make_area,
    make_assembly,
    make_person,
    make_photo,
    make_project,
    make_session,
    picture_bytes,
    worked,
)
from tests.inspections.shop import HOUR, LATER, Shop

pytestmark = pytest.mark.django_db

MINUTE = timedelta(minutes=1)


@pytest.fixture
def shop() -> Shop:
    return Shop()


def last_entry(shop: Shop) -> Entry:
    return Entry.objects.filter(project=shop.project.pk).latest("seq")


def refused(code: str):  # noqa: ANN201
    """Expect a refusal with this code, and no journal entry by it."""

    class Expect:
        """What was refused."""

        def __enter__(self) -> "Expect":
            self.before = Entry.objects.count()
            return self

        def __exit__(self, kind, no, trace) -> bool:  # noqa: ANN001
            assert kind is Refusal, f"not refused: {no!r}"
            assert no.code == code, no.code
            assert Entry.objects.count() == self.before
            self.message, self.field = no.message, no.field
            return True

    return Expect()


# ---- setting up ----


def test_an_area_is_set_up_with_its_items_in_order_and_one_journal_entry() -> None:
    project, edda = make_project()
    before = Entry.objects.count()
    area = make_area(edda, make_assembly(edda))
    entry = Entry.objects.get(subject=area.subject)
    assert Entry.objects.count() == before + 2 and entry.verb == "area.added"
    state = json.loads(entry.state)
    assert sorted((r["position"], r["kind"]) for r in state["requirements"]) == [
        (1, "photo"),
        (2, "check"),
        (3, "signoff"),
    ]


def test_a_number_stands_once_and_is_free_again_after_withdrawal(shop: Shop) -> None:
    with refused("number_taken") as no:
        make_area(shop.edda, shop.assembly, number="24.1-C1")
    assert no.field == "number"
    commands.withdraw_area(by=shop.edda, at=NOW, area=shop.area, reason="Twice")
    make_area(shop.edda, shop.assembly, number="24.1-C1")


def test_another_project_may_use_the_same_number(shop: Shop) -> None:
    _, other = make_project("Other")
    assert make_area(other, make_assembly(other), number="24.1-C1").pk


def test_an_area_is_corrected_with_a_reason_and_nothing_is_written_when_nothing_changes(shop: Shop) -> None:
    before = Entry.objects.count()
    commands.correct_area(by=shop.edda, at=NOW, area=shop.area, name=shop.area.name, note="")
    assert Entry.objects.count() == before
    commands.correct_area(by=shop.edda, at=NOW, area=shop.area, name="Interior", reason="Shorter")
    assert (last_entry(shop).verb, last_entry(shop).reason) == ("area.corrected", "Shorter")
    other = make_area(shop.edda, shop.assembly, number="24.1-C2")
    with refused("number_taken"):
        commands.correct_area(by=shop.edda, at=NOW, area=other, number="24.1-C1")


def test_one_thing_more_is_asked_for_behind_the_others(shop: Shop) -> None:
    more = commands.ask_for(by=shop.edda, at=NOW, area=shop.area, kind="check", words="Rags out")
    assert more.position == 4 and last_entry(shop).verb == "area.item_added"


def test_an_item_is_dropped_only_with_a_reason_and_once(shop: Shop) -> None:
    with refused("no_reason") as no:
        commands.drop_requirement(by=shop.edda, at=NOW, requirement=shop.item(1), reason=" ")
    assert no.field == "reason"
    item = shop.item(1)
    commands.drop_requirement(by=shop.edda, at=NOW, requirement=item, reason="Not in the plan")
    assert last_entry(shop).reason == "Not in the plan"
    assert Requirement.objects.get(pk=item.pk).dropped_at == NOW
    with refused("dropped"):
        commands.drop_requirement(by=shop.edda, at=NOW, requirement=item, reason="Again")
    with refused("dropped"):
        commands.show_photo(by=shop.edda, at=NOW, requirement=item, photo=make_photo_quietly(shop))


def make_photo_quietly(shop: Shop) -> Photo:
    return Photo.objects.first() or make_photo(shop.edda)


@pytest.fixture(autouse=True)
def a_photo_that_is_there(shop: Shop) -> None:
    make_photo(shop.edda)


# ---- photos ----


def test_a_photo_is_put_in_place_once(shop: Shop) -> None:
    photo = shop.show()
    entries = Entry.objects.count()
    shop.show(photo)
    assert Exhibit.objects.count() == 1 and Entry.objects.count() == entries
    assert shop.now.gate.items[0].in_place


def test_a_check_takes_no_photo_and_a_photo_item_no_answer(shop: Shop) -> None:
    photo = make_photo(shop.edda)
    with refused("not_a_photo_item"):
        commands.show_photo(by=shop.edda, at=NOW, requirement=shop.item(2), photo=photo)
    with refused("not_a_check"):
        commands.answer_check(by=shop.edda, at=NOW, requirement=shop.item(1), answer="yes")


def test_a_withdrawn_photo_is_not_put_in_place_and_one_that_stood_no_longer_counts(shop: Shop) -> None:
    photo = shop.show()
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=photo, reason="Wrong float")
    assert not shop.now.gate.items[0].in_place
    with refused("does_not_count") as no:
        shop.show(photo)
    assert no.message == f"{photo.label} was withdrawn, so it does not count here."


def test_a_photo_is_taken_away_from_the_gate_and_stays_in_the_record(shop: Shop) -> None:
    photo = shop.show()
    commands.take_away_photo(by=shop.edda, at=NOW, exhibit=Exhibit.objects.get())
    assert not shop.now.gate.items[0].in_place and Photo.objects.standing().filter(pk=photo.pk).exists()
    assert last_entry(shop).verb == "area.photo_taken_away"


def test_a_closed_area_takes_a_photo_from_before_marked_late_and_none_from_after(shop: Shop) -> None:
    shop.close(at=NOW + HOUR, reason="Glue was mixed")
    before = make_photo(shop.edda, data=picture_bytes(taken="2026:05:14 11:30:00", seed=9001), at=NOW + 3 * HOUR)
    after = make_photo(shop.edda, data=picture_bytes(taken="2026:05:14 12:30:00", seed=9002), at=NOW + 3 * HOUR)
    with refused("does_not_count") as no:
        shop.show(after, at=NOW + 3 * HOUR)
    assert no.message == f"{after.label} was taken after closing, so it does not count here."
    shop.show(before, at=NOW + 3 * HOUR)
    item = shop.now.gate.items[0]
    assert item.in_place and item.late == (before.label,)
    assert shop.now.closing.missing[0].startswith("1 "), "what was missing at closing stays for ever"


# ---- checks ----


def test_answers_stand_beside_each_other_and_the_latest_counts(shop: Shop) -> None:
    shop.answer("no")
    assert not shop.now.gate.items[1].in_place
    shop.answer("yes", at=NOW + MINUTE)
    assert shop.now.gate.items[1].in_place
    shop.answer("no", at=NOW + 2 * MINUTE)
    assert not shop.now.gate.items[1].in_place and Answer.objects.count() == 3


def test_a_second_tap_on_the_same_answer_adds_nothing_but_another_person_does(shop: Shop) -> None:
    first = shop.answer("yes")
    assert shop.answer("yes", at=NOW + MINUTE) == first and Answer.objects.count() == 1
    shop.answer("yes", at=NOW + MINUTE, by=make_person(shop.project))
    assert Answer.objects.count() == 2


def test_the_same_answer_after_a_reopening_is_a_new_one(shop: Shop) -> None:
    shop.closed().reopen()
    shop.answer("yes", at=LATER + 3 * HOUR)
    assert Answer.objects.count() == 2 and shop.now.gate.items[1].in_place


def test_does_not_apply_needs_a_reason(shop: Shop) -> None:
    with refused("no_reason") as no:
        shop.answer("na", reason="  ")
    assert no.field == "reason"
    shop.answer("na", reason="No foam in this bay")
    assert shop.now.gate.items[1].in_place


def test_the_database_itself_wants_a_reason_for_does_not_apply(shop: Shop) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Answer(requirement=shop.item(2), answer="na", at=NOW, by=shop.edda).save(force_insert=True)


# ---- signing (rules R24, R30, ER-1 to ER-4) ----


def test_a_signature_says_who_with_what_right_when_how_known_and_what(shop: Shop) -> None:
    shop.supply()
    signature = shop.sign()
    assert (signature.name, signature.role) == ("Hal Venning", "inspector")
    assert (signature.certificate_kind, signature.certificate_number) == ("A&P mechanic", "DEMO-0417")
    assert (signature.at, signature.zone, signature.shown_by) == (LATER, "America/Denver", "password")
    assert signature.statement == commands.STATEMENT and "airworthy" not in signature.statement.lower()
    assert signature.under == shop.area.subject and not signature.self_inspected
    entry = last_entry(shop)
    assert (entry.verb, entry.by_name) == ("signed", "Hal Venning")
    assert json.loads(entry.state)["covers_digest"] == signature.covers_digest


def test_a_signature_covers_the_wording_every_photo_in_place_and_every_answer(shop: Shop) -> None:
    photo = shop.supply()
    gone = shop.show()
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=gone, reason="Blurred")
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Boss, sealed all round")
    covers = shop.sign().covers
    assert [item["label"] for item in covers] == [
        "24.1-C1 Interior before deck bond",
        f"Item 1, {photo.label}",
        "Item 2, Interior vacuumed, nothing loose",
    ]
    words, picture, check = (item["facts"] for item in covers)
    assert words["items"][0] == [1, "photo", "Drain boss, sealed", "", 1, ""] and len(words["items"]) == 3
    assert picture["photo"] == photo.digest and picture["caption"] == "Boss, sealed all round"
    assert picture["taken_at"] == "2026-05-14T15:30:00Z"
    assert (check["answer"], check["answered_by"]) == ("yes", "Edda Norrell")
    assert all(item["digest"] == digest_bytes(canonical(item["facts"]).encode()) for item in covers)


def test_after_a_reopening_a_signature_covers_only_what_is_new(shop: Shop) -> None:
    shop.closed().reopen()
    after = LATER + 3 * HOUR
    new = make_photo(shop.edda, data=picture_bytes(taken="2026:05:14 14:45:00", seed=77), at=after)
    shop.show(new, at=after)
    shop.answer("yes", at=after)
    covers = shop.sign(at=after + HOUR).covers
    assert [item["label"] for item in covers if item["label"].startswith("Item 1")] == [f"Item 1, {new.label}"]


@pytest.mark.parametrize("supplied", ["nothing", "photo", "check"])
def test_nothing_is_signed_over_a_gap(shop: Shop, supplied: str) -> None:
    if supplied == "photo":
        shop.show()
    if supplied == "check":
        shop.answer()
    with refused("missing") as no:
        shop.sign()
    assert no.message.startswith("Nothing is signed over a gap. Missing: ")
    assert not Signature.objects.exists()


@pytest.mark.parametrize("role", ["builder", "helper"])
def test_only_the_asked_role_signs(shop: Shop, role: str) -> None:
    shop.supply()
    with refused("wrong_role") as no:
        shop.sign(by=shop.edda if role == "builder" else make_person_quietly(shop, role))
    assert "for the inspector" in no.message


def make_person_quietly(shop: Shop, role: str) -> Person:
    return shop.project.people.filter(role=role).first() or Person.objects.create(
        project=shop.project, name="X", role=role
    )


def test_a_gate_without_a_sign_off_is_not_signed(shop: Shop) -> None:
    area = make_area(shop.edda, shop.assembly, {"kind": "check", "words": "Rags out"})
    with refused("no_sign_off"):
        commands.sign_area(by=shop.hal, at=LATER, area=area)


def test_the_same_person_does_not_sign_the_same_thing_twice(shop: Shop) -> None:
    shop.supply()
    shop.sign()
    with refused("signed_already"):
        shop.sign(at=LATER + MINUTE)


def test_what_was_changed_while_the_signer_read_is_not_signed(shop: Shop) -> None:
    photo = shop.supply()
    seen = queries.seen(queries.covers(shop.now))
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Something else")
    with refused("changed_meanwhile"):
        shop.sign(seen=seen)
    shop.sign(seen=queries.seen(queries.covers(shop.now)))


@pytest.mark.parametrize(
    ("where", "inspected"), [("here", True), ("below", True), ("above", False), ("elsewhere", False)]
)
def test_who_worked_on_the_assembly_or_below_it_signs_as_self_inspected(where: str, inspected: bool) -> None:
    project, edda = make_project()
    wing = make_assembly(edda, "20")
    float_ = make_assembly(edda, "24", parent=wing)
    strut = make_assembly(edda, "24.1", parent=float_)
    other = make_assembly(edda, "40")
    make_session(edda, {"here": float_, "below": strut, "above": wing, "elsewhere": other}[where], worked(edda))
    area = make_area(edda, float_, {"kind": "signoff", "words": "Builder sign-off", "role": "builder"})
    signature = commands.sign_area(by=edda, at=LATER, area=area)
    assert signature.self_inspected is inspected


@pytest.mark.parametrize("act", ["update", "delete"])
def test_the_database_itself_refuses_to_change_or_delete_a_signature(shop: Shop, act: str) -> None:
    shop.supply()
    signature = shop.sign()
    rows = Signature.objects.filter(pk=signature.pk)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(name="Somebody Else") if act == "update" else rows.delete()
    assert Signature.objects.get().name == "Hal Venning"


# ---- signed, then changed (rule R31) ----


def changes(shop: Shop) -> tuple[str, ...]:
    return shop.now.signed[0].changes


def change_caption(shop: Shop, photo: Photo) -> str:
    evidence.describe_photo(by=shop.edda, at=LATER, photo=photo, caption="Plate B")
    return f"Item 1, {photo.label}: caption, signed empty, now 'Plate B'"


def change_time(shop: Shop, photo: Photo) -> str:
    evidence.correct_taken(by=shop.edda, at=LATER, photo=photo, typed=NOW - HOUR, reason="Clock was off")
    return f"Item 1, {photo.label}: when it was taken, how its time is known"


def take_away(shop: Shop, photo: Photo) -> str:
    commands.take_away_photo(by=shop.edda, at=LATER, exhibit=Exhibit.objects.get())
    return f"Item 1, {photo.label}: no longer in place"


def withdraw_photo(shop: Shop, photo: Photo) -> str:
    evidence.withdraw_photo(by=shop.edda, at=LATER, photo=photo, reason="Wrong float")
    return f"Item 1, {photo.label}: no longer in place"


def ask_more(shop: Shop, photo: Photo) -> str:
    commands.ask_for(by=shop.edda, at=LATER, area=shop.area, kind="check", words="Rags out")
    return "24.1-C1 Interior before deck bond: item 4 Rags out asked for since"


def drop_check(shop: Shop, photo: Photo) -> str:
    commands.drop_requirement(by=shop.edda, at=LATER, requirement=shop.item(2), reason="Not in the plan")
    return "24.1-C1 Interior before deck bond: item 2 Interior vacuumed, nothing loose no longer asked for"


def answer_no(shop: Shop, photo: Photo) -> str:
    shop.answer("no", at=LATER + MINUTE)
    return "Item 2, Interior vacuumed, nothing loose: answer, signed as 'Yes', now 'No'"


def rename(shop: Shop, photo: Photo) -> str:
    commands.correct_area(by=shop.edda, at=LATER, area=shop.area, name="Interior")
    return "24.1-C1 Interior before deck bond: name, signed as 'Interior before deck bond', now 'Interior'"


CHANGES = [change_caption, change_time, take_away, withdraw_photo, ask_more, drop_check, answer_no, rename]


@pytest.mark.parametrize("change", CHANGES, ids=lambda one: one.__name__)
def test_a_change_under_a_signature_is_named_and_the_gate_waits_for_a_new_one(shop: Shop, change) -> None:
    photo = shop.supply()
    shop.sign()
    assert shop.now.gate.may_close and not changes(shop)
    words = change(shop, photo)
    assert words in changes(shop)
    assert not shop.now.gate.may_close and shop.now.changed
    item = shop.now.gate.items[-1] if change is not ask_more else shop.now.gate.items[2]
    assert item.why.startswith("Signed, then changed: ") and words in item.why
    with refused("missing"):
        Shop.close(shop_under("CA", shop))


def shop_under(authority: str, shop: Shop) -> Shop:
    """The same shop under another authority."""
    shop.project.authority = authority
    shop.project.save(update_fields=["authority"])
    shop.area.refresh_from_db()
    return shop


def test_signing_again_satisfies_and_the_first_signature_keeps_its_change(shop: Shop) -> None:
    photo = shop.supply()
    shop.sign()
    change_caption(shop, photo)
    shop.sign(at=LATER + HOUR)
    now = shop.now
    assert now.gate.may_close and not now.changed
    assert [bool(signed.changes) for signed in now.signed] == [True, False]


@pytest.mark.parametrize("change", [change_caption, withdraw_photo], ids=lambda one: one.__name__)
def test_a_closed_gate_stays_closed_and_shows_the_change_for_ever(shop: Shop, change) -> None:
    photo = shop.supply()
    shop.sign()
    shop.close()
    words = change(shop, photo)
    now = shop.now
    assert now.gate.state == "closed" and now.closing is not None
    assert words in now.signed[0].changes and now.changed
    assert not now.gate.items[2].in_place


def test_a_new_answer_after_a_reopening_is_no_change_of_what_was_signed_before(shop: Shop) -> None:
    shop.closed().reopen()
    shop.answer("no", at=LATER + 3 * HOUR)
    signed = shop.now.signed[0]
    assert signed.void and signed.changes == () and not shop.now.changed


# ---- closing (rule R22) ----


@pytest.mark.parametrize("authority", ["CA", "UK"])
def test_block_refuses_and_names_what_is_missing_whatever_is_said(authority: str) -> None:
    shop = Shop(authority)
    shop.show()
    with refused("missing") as no:
        shop.close(reason="I am in a hurry")
    assert "2 Interior vacuumed, nothing loose, 3 Inspector sign-off" in no.message
    assert not Closing.objects.exists()


def test_block_closes_what_is_complete() -> None:
    closing = Shop("CA").closed().now.closing
    assert closing.missing == [] and closing.reason == ""


@pytest.mark.parametrize("authority", ["US", "AU", "other"])
def test_advise_closes_with_a_reason_that_stays(authority: str) -> None:
    shop = Shop(authority)
    with refused("reason_needed") as no:
        shop.close(reason="  ")
    assert no.field == "reason"
    closing = shop.close(reason=" The resin was mixed ")
    assert closing.missing == ["1 Drain boss, sealed", "2 Interior vacuumed, nothing loose", "3 Inspector sign-off"]
    assert closing.reason == "The resin was mixed"
    assert (last_entry(shop).verb, last_entry(shop).reason) == ("area.closed", "The resin was mixed")
    assert shop.now.gate.state == "advised"
    assert json.loads(last_entry(shop).state)["closings"][0]["missing"] == closing.missing


def test_a_reason_is_not_kept_where_nothing_was_missing(shop: Shop) -> None:
    shop.supply()
    shop.sign()
    assert shop.close(reason="just because").reason == ""


def test_a_gate_that_asks_for_nothing_closes_only_with_a_reason_that_says_so(shop: Shop) -> None:
    area = commands.add_area(
        by=shop.edda, at=NOW, project=shop.project, assembly=shop.assembly, number="X", name="Empty", requirements=()
    )
    closing = commands.close_area(by=shop.edda, at=LATER, area=area, reason="Never opened")
    assert closing.missing == ["a list of what its gate asks for"]


def test_one_closing_stands_and_the_database_says_so(shop: Shop) -> None:
    shop.closed()
    with refused("closed_already"):
        shop.close(at=LATER + 2 * HOUR)
    with pytest.raises(IntegrityError), transaction.atomic():
        Closing(area=shop.area, closed_at=LATER, closed_by=shop.edda).save(force_insert=True)


def test_a_closed_area_is_not_signed(shop: Shop) -> None:
    shop.closed()
    with refused("closed_already"):
        shop.sign(at=LATER + 2 * HOUR)


def test_nothing_under_a_closing_is_changed_without_a_reopening(shop: Shop) -> None:
    shop.closed()
    known = {"by": shop.edda, "at": LATER + 2 * HOUR}
    acts = [
        lambda: commands.correct_area(area=shop.area, name="X", **known),
        lambda: commands.ask_for(area=shop.area, kind="check", words="X", **known),
        lambda: commands.drop_requirement(requirement=shop.item(1), reason="X", **known),
        lambda: commands.take_away_photo(exhibit=Exhibit.objects.get(), **known),
        lambda: commands.answer_check(requirement=shop.item(2), answer="no", **known),
        lambda: commands.withdraw_area(area=shop.area, reason="X", **known),
    ]
    for act in acts:
        with refused("closed"):
            act()


# ---- reopening (rule R23, ER-9) ----


def test_reopening_needs_a_reason_and_arms_the_gate_again(shop: Shop) -> None:
    shop.closed()
    with refused("no_reason") as no:
        shop.reopen(reason=" ")
    assert no.field == "reason"
    closing = shop.reopen()
    assert (closing.reopened_by, closing.reopen_reason) == (shop.edda, "The link rubs")
    assert (last_entry(shop).verb, last_entry(shop).reason) == ("area.reopened", "The link rubs")
    now = shop.now
    assert now.gate.state == "hold" and len(now.gate.missing) == 3 and now.closing is None
    assert len(now.closings) == 1 and now.signed[0].void, "the old closing and its signature stay"


def test_an_open_area_is_not_reopened(shop: Shop) -> None:
    with refused("not_closed"):
        shop.reopen()


def test_an_area_is_closed_again_after_everything_is_new(shop: Shop) -> None:
    shop.closed().reopen()
    after = LATER + 3 * HOUR
    with refused("does_not_count"):
        shop.show(Photo.objects.filter(pk__in=Exhibit.objects.values("photo")).get(), at=after)
    shop.show(make_photo(shop.edda, data=picture_bytes(taken="2026:05:14 14:45:00", seed=78), at=after), at=after)
    shop.answer("yes", at=after)
    assert not shop.now.gate.may_close, "the signature from before does not stand"
    shop.sign(at=after)
    shop.close(at=after + HOUR)
    assert [c.reopened_at is None for c in shop.now.closings] == [False, True]


def test_the_database_itself_wants_a_reason_for_reopening(shop: Shop) -> None:
    shop.closed()
    with pytest.raises(IntegrityError), transaction.atomic():
        Closing.objects.update(reopened_at=LATER)


# ---- withdrawing ----


def test_an_area_is_withdrawn_with_a_reason_and_takes_nothing_more(shop: Shop) -> None:
    with refused("no_reason"):
        commands.withdraw_area(by=shop.edda, at=NOW, area=shop.area, reason="")
    commands.withdraw_area(by=shop.edda, at=NOW, area=shop.area, reason="Set up twice")
    assert (last_entry(shop).verb, last_entry(shop).reason) == ("area.withdrawn", "Set up twice")
    for act in (shop.answer, shop.sign, shop.close, lambda: shop.show(make_photo_quietly(shop))):
        with refused("withdrawn"):
            act()
