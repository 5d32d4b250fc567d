"""Hold and witness points: what stops, who releases, what a signature covers, and their pages."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from accounts.models import Person
from evidence import commands as evidence
from evidence.models import Photo
from evidence.queries import has_place, photos
from foundation.refusal import Refusal
from inspections.commands import points as commands
from inspections.models import Point, PointCall, PointPhoto
from inspections.queries import covered, points
from inspections.queries.points import JudgedPoint
from inspections.rules import points as rules
from inspections.rules.gates import SignatureFacts
from journal.models import Entry, Signature
from journal.queries.story import told
from tests.factories import (
    NOW,
    PASSWORD,
    client_for,
    make_assembly,
    make_part,
    make_person,
    make_photo,
    make_project,
    make_session,
    picture_bytes,
)

HOUR = timedelta(hours=1)
LATER = NOW + HOUR


# ---- rules ----


def mark(hours: int = 0, role: str = "inspector", changes: tuple[str, ...] = (), accepted: bool = True) -> Any:
    return SignatureFacts(f"s{hours}", role, NOW + hours * HOUR, changes, accepted)


def test_a_hold_point_is_open_until_the_asked_role_accepts_it() -> None:
    assert rules.state("hold", "inspector") == "open"
    assert rules.state("hold", "inspector", [mark()]) == "released"
    assert rules.stops("hold", "open") and not rules.stops("hold", "released")


def test_the_last_signature_decides() -> None:
    assert rules.state("hold", "inspector", [mark(1), mark(2, accepted=False)]) == "not_accepted"
    assert rules.state("hold", "inspector", [mark(2), mark(1, accepted=False)]) == "released"
    assert rules.state("hold", "inspector", [mark(1), mark(2, changes=("Photo 1: caption",))]) == "changed"
    assert rules.state("hold", "inspector", [mark(1, changes=("Photo 1: caption",)), mark(2)]) == "released"


def test_of_two_signatures_at_one_time_the_doubt_counts() -> None:
    assert rules.state("hold", "inspector", [mark(1), mark(1, accepted=False)]) == "not_accepted"
    assert rules.state("hold", "inspector", [mark(1, changes=("x",)), mark(1)]) == "changed"


def test_a_signature_of_another_role_never_releases() -> None:
    assert rules.state("hold", "inspector", [mark(role="builder")]) == "changed"
    assert rules.state("hold", "inspector", [mark(role="builder", accepted=False)]) == "not_accepted"
    assert rules.state("hold", "inspector", [mark(1), mark(2, role="builder", accepted=False)]) == "released"


def test_a_witness_point_never_stops() -> None:
    for state in ("open", "invited", "released", "not_accepted", "changed", "went_on"):
        assert not rules.stops("witness", state)


def test_calls_count_until_a_signature_settles_them() -> None:
    invited, went = (NOW + HOUR, "invited"), (NOW + 2 * HOUR, "went_on")
    assert rules.state("hold", "inspector", [], [invited]) == "invited"
    assert rules.state("witness", "inspector", [], [invited, went]) == "went_on"
    assert rules.state("witness", "inspector", [mark(3)], [invited, went]) == "released"
    assert rules.state("witness", "inspector", [mark(1, accepted=False)], [went]) == "went_on"
    assert rules.state("witness", "inspector", [mark(3, accepted=False)], [went]) == "not_accepted"


def test_no_call_moves_a_hold_point_on() -> None:
    """Not even one from when it was a witness point."""
    assert rules.state("hold", "inspector", [], [(NOW, "went_on")]) == "open"
    assert rules.state("hold", "inspector", [mark(0, changes=("x",))], [(LATER, "went_on")]) == "changed"


marks = st.builds(
    mark,
    st.integers(0, 4),
    st.sampled_from(["inspector", "builder"]),
    st.sampled_from([(), ("Photo 1: caption",)]),
    st.booleans(),
)
calls = st.tuples(st.integers(0, 4).map(lambda h: NOW + h * HOUR), st.sampled_from(["invited", "went_on"]))


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(["hold", "witness"]), st.lists(marks, max_size=5), st.lists(calls, max_size=3))
def test_nothing_is_released_without_an_accepted_unchanged_last_signature_of_the_role(kind, given, called) -> None:
    """Told again in other words than the rule's: sorted by time, the role's newest moment has no doubt in it."""
    state = rules.state(kind, "inspector", given, called)
    own = sorted((one for one in given if one.role == "inspector"), key=lambda one: one.at)
    newest = [one for one in own if one.at == own[-1].at]
    good = bool(own) and not any(one.changes or not one.accepted for one in newest)
    assert (state == "released") == good
    assert rules.stops(kind, state) == (kind == "hold" and not good)
    assert state in rules.STATE_WORDS[kind]
    assert not rules.settled(state) or kind == "witness" or good


def test_the_next_number_is_behind_the_highest() -> None:
    assert rules.next_number("hold", []) == "H-1"
    assert rules.next_number("hold", ["H-1", "H-7", "W-9", "24.1-H9", "H-x", "H-²"]) == "H-8"
    assert sorted(["H-10", "H-2", "B3", "H-1"], key=rules.order_of) == ["B3", "H-1", "H-2", "H-10"]


# ---- commands ----


class Shop:
    """One assembly with a hold point by an inspector, and the people about it."""

    def __init__(self) -> None:
        self.project, self.edda = make_project()
        self.hal = make_person(
            self.project,
            "inspector",
            name="Hal Venning",
            certificate_kind="A&P mechanic",
            certificate_number="DEMO-0417",
        )
        self.jory = make_person(self.project, "helper", name="Jory")
        self.assembly = make_assembly(self.edda, "24.1")
        self.point = self.set()

    def set(self, **more: Any) -> Point:
        values = {"kind": "hold", "words": "Strut hardpoint bond", "role": "inspector", "assembly": self.assembly}
        return commands.add_point(by=self.edda, at=NOW, project=self.project, **(values | more))

    def show(self, point: Point | None = None, photo: Photo | None = None, at: datetime = NOW) -> Photo:
        photo = photo or make_photo(self.edda, caption="Bond line")
        commands.show_photo(by=self.edda, at=at, point=point or self.point, photo=photo)
        return photo

    def sign(
        self, point: Point | None = None, by: Person | None = None, at: datetime = LATER, **more: Any
    ) -> Signature:
        return commands.sign_point(by=by or self.hal, at=at, point=point or self.point, **more)

    def now(self, point: Point | None = None) -> JudgedPoint:
        return commands.judged(point or self.point)

    def url(self, name: str, *more: object) -> str:
        return reverse(f"inspections:{name}", args=[self.project.slug, *(more or [self.point.pk])])


@pytest.fixture
def shop(db: None) -> Shop:
    return Shop()


@pytest.fixture(autouse=True)
def no_tries_yet() -> None:
    cache.clear()


class refused:  # noqa: N801
    """Expect a refusal with this code, and no journal entry by it."""

    def __init__(self, code: str) -> None:
        self.code = code

    def __enter__(self) -> "refused":
        self.before = Entry.objects.count()
        return self

    def __exit__(self, kind, no, trace) -> bool:  # noqa: ANN001
        assert kind is Refusal, f"not refused: {no!r}"
        assert no.code == self.code, no.code
        assert Entry.objects.count() == self.before
        self.message, self.field = no.message, no.field
        return True


def last_entry() -> Entry:
    return Entry.objects.latest("seq")


def test_a_point_gets_the_next_number_or_its_own_and_one_entry(shop: Shop) -> None:
    before = Entry.objects.count()
    witness = shop.set(kind="witness", words="First run")
    assert (shop.point.number, witness.number) == ("H-1", "W-1")
    assert Entry.objects.count() == before + 1 and last_entry().verb == "point.added"
    assert json.loads(last_entry().state)["words"] == "First run"
    assert shop.set(number=" 24.1-H1 ").number == "24.1-H1" and shop.set().number == "H-2"
    with refused("number_taken") as no:
        shop.set(number="H-2")
    assert no.field == "number"


def test_the_number_of_a_withdrawn_point_is_free_but_not_proposed(shop: Shop) -> None:
    commands.withdraw_point(by=shop.edda, at=NOW, point=shop.point, reason="Twice")
    assert points.judged(shop.project) == []
    assert shop.set().number == "H-2" and shop.set(number="H-1").number == "H-1"
    for command in (
        lambda: shop.sign(),
        lambda: commands.invite(by=shop.edda, at=NOW, point=shop.point, whom="Hal"),
        lambda: commands.correct_point(by=shop.edda, at=NOW, point=shop.point, words="New"),
    ):
        with refused("withdrawn"):
            command()


def test_a_part_of_another_assembly_is_refused(shop: Shop) -> None:
    part = make_part(shop.edda, make_assembly(shop.edda, "30"))
    with refused("part_elsewhere") as no:
        shop.set(part=part)
    assert no.field == "part"
    with refused("part_elsewhere"):
        commands.correct_point(by=shop.edda, at=NOW, point=shop.point, part=part)
    moved = commands.correct_point(by=shop.edda, at=NOW, point=shop.point, part=part, assembly=part.assembly)
    assert (moved.part, moved.assembly) == (part, part.assembly)


def test_an_inspectors_signature_releases_it_and_stores_all_that_it_covers(shop: Shop) -> None:
    photo = shop.show()
    assert shop.now().stops
    entries = Entry.objects.count()
    signature = shop.sign(seen=covered.seen(points.covers(shop.now().point)))
    one = shop.now()
    assert one.is_released and not one.stops and one.words == "Released" and Entry.objects.count() == entries + 1
    assert signature.under == shop.point.subject and signature.accepted and not signature.self_inspected
    assert (signature.role, signature.certificate_number, signature.shown_by) == ("inspector", "DEMO-0417", "password")
    assert signature.statement == commands.STATEMENT
    own, shown = signature.covers
    assert own["facts"] == {
        "number": "H-1",
        "point": "hold",
        "step": "",
        "words": "Strut hardpoint bond",
        "detail": "",
        "role": "inspector",
        "assembly": shop.assembly.pk,
        "part": None,
    }
    assert shown["label"] == photo.label and shown["facts"]["photo"] == photo.digest


def test_only_the_asked_role_releases(shop: Shop) -> None:
    with refused("wrong_role") as no:
        shop.sign(by=shop.edda)
    assert no.message == "This hold point is for the inspector to sign."
    own = shop.set(role="builder")
    with refused("wrong_role"):
        shop.sign(own)
    shop.sign(own, by=shop.edda)
    assert shop.now(own).is_released


def test_who_worked_on_it_signs_as_self_inspected_and_so_does_who_logs_work_later(shop: Shop) -> None:
    below = make_assembly(shop.edda, "24.1.1", parent=shop.assembly)
    own = shop.set(role="builder")
    early = shop.sign(own, by=shop.edda)
    assert not early.self_inspected and not shop.now(own).last.self_inspected
    make_session(shop.edda, below)
    assert shop.now(own).last.self_inspected
    commands.correct_point(by=shop.edda, at=LATER, point=own, step="Before the skin", reason="Plan, sheet 4")
    assert shop.sign(own, by=shop.edda, at=LATER + HOUR).self_inspected


def test_not_accepted_needs_a_reason_and_stays_until_accepted(shop: Shop) -> None:
    with refused("no_reason") as no:
        shop.sign(accepted=False, reason=" ")
    assert no.field == "reason"
    signature = shop.sign(accepted=False, reason="Voids at the aft edge")
    one = shop.now()
    assert (one.state, one.stops, one.last.signature.reason) == ("not_accepted", True, "Voids at the aft edge")
    assert signature.statement == commands.STATEMENT_NOT_ACCEPTED and not signature.accepted
    shop.show()
    assert shop.now().state == "not_accepted"
    shop.sign(at=LATER + HOUR)
    assert shop.now().is_released
    shop.sign(at=LATER + 2 * HOUR, accepted=False, reason="Looked again: voids")
    assert shop.now().stops


def test_signing_twice_is_refused_while_nothing_was_changed(shop: Shop) -> None:
    shop.sign()
    with refused("signed_already"):
        shop.sign(at=LATER + HOUR)
    shop.sign(at=LATER + HOUR, accepted=False, reason="Voids")
    with refused("signed_already"):
        shop.sign(at=LATER + 2 * HOUR, accepted=False, reason="Voids")


def test_nobody_signs_what_was_changed_while_he_read(shop: Shop) -> None:
    photo = shop.show()
    seen = covered.seen(points.covers(shop.now().point))
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Other words")
    with refused("changed_meanwhile"):
        shop.sign(seen=seen)


def change_caption(shop: Shop, photo: Photo) -> str:
    evidence.describe_photo(by=shop.edda, at=LATER, photo=photo, caption="Aft edge")
    return f"{photo.label}: caption, signed as 'Bond line', now 'Aft edge'"


def change_words(shop: Shop, photo: Photo) -> str:
    commands.correct_point(by=shop.edda, at=LATER, point=shop.point, words="Strut bond", reason="Shorter")
    return "H-1 Strut hardpoint bond: what is to be seen, signed as 'Strut hardpoint bond', now 'Strut bond'"


def change_role(shop: Shop, photo: Photo) -> str:
    commands.correct_point(by=shop.edda, at=LATER, point=shop.point, role="builder", reason="Plan allows it")
    return "H-1 Strut hardpoint bond: who may release it, signed as 'Inspector', now 'Builder'"


def take_photo_away(shop: Shop, photo: Photo) -> str:
    shown = PointPhoto.objects.get()
    with refused("no_reason"):
        commands.take_away_photo(by=shop.edda, at=LATER, shown=shown)
    commands.take_away_photo(by=shop.edda, at=LATER, shown=shown, reason="Other strut")
    return f"{photo.label}: no longer in place"


def withdraw_photo(shop: Shop, photo: Photo) -> str:
    evidence.withdraw_photo(by=shop.edda, at=LATER, photo=photo, reason="Other strut")
    return f"{photo.label}: no longer in place"


def make_witness(shop: Shop, photo: Photo) -> str:
    commands.correct_point(by=shop.edda, at=LATER, point=shop.point, kind="witness", reason="Plan says witness")
    return "H-1 Strut hardpoint bond: hold or witness, signed as 'Hold point', now 'Witness point'"


@pytest.mark.parametrize(
    "change", [change_caption, change_words, change_role, take_photo_away, withdraw_photo, make_witness]
)
def test_a_change_of_what_was_signed_asks_for_a_signature_again(shop: Shop, change) -> None:
    photo = shop.show()
    shop.sign()
    words = change(shop, photo)
    one = shop.now()
    assert one.state == "changed" and one.changes == (words,) and not one.is_released
    assert one.stops == (one.point.kind == "hold")
    assert one.signed[0].signature.pk == Signature.objects.get().pk
    signer = shop.edda if one.point.role == "builder" else shop.hal
    shop.sign(by=signer, at=LATER + HOUR)
    assert shop.now().is_released and len(shop.now().signed) == 2


def test_what_was_signed_is_not_corrected_without_a_reason_nor_withdrawn(shop: Shop) -> None:
    commands.correct_point(by=shop.edda, at=NOW, point=shop.point, step="Before the skin")
    shop.sign()
    with refused("no_reason") as no:
        commands.correct_point(by=shop.edda, at=LATER, point=shop.point, step="")
    assert no.field == "reason"
    with refused("signed"):
        commands.withdraw_point(by=shop.edda, at=LATER, point=shop.point, reason="Mistake")
    entries = Entry.objects.count()
    commands.correct_point(by=shop.edda, at=LATER, point=shop.point, step="Before the skin", number="")
    assert Entry.objects.count() == entries and shop.now().is_released


def test_a_photo_added_after_signing_is_no_change(shop: Shop) -> None:
    shop.sign()
    photo = shop.show(at=LATER)
    assert shop.now().is_released and not points.is_covered(shop.now(), photo)
    commands.take_away_photo(by=shop.edda, at=LATER, shown=PointPhoto.objects.get())
    assert shop.now().is_released


def test_a_photo_stands_once_and_a_withdrawn_one_or_a_clip_not_at_all(shop: Shop) -> None:
    photo = shop.show()
    entries = Entry.objects.count()
    shop.show(photo=photo)
    assert PointPhoto.objects.count() == 1 and Entry.objects.count() == entries
    gone = make_photo(shop.edda)
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=gone, reason="Blurred")
    with refused("does_not_count"):
        shop.show(photo=gone)


def test_a_photo_at_a_point_has_a_home_there(shop: Shop) -> None:
    photo = shop.show()
    homeless = make_photo(shop.edda)
    rows = photos(shop.project)
    assert photo in rows.filter(has_place(shop.project)) and homeless not in rows.filter(has_place(shop.project))
    commands.withdraw_point(by=shop.edda, at=NOW, point=shop.point, reason="Twice")
    assert photo not in rows.filter(has_place(shop.project))


def test_somebody_is_invited_and_comes(shop: Shop) -> None:
    with refused("nobody") as no:
        commands.invite(by=shop.edda, at=NOW, point=shop.point, whom=" ")
    assert no.field == "whom"
    commands.invite(by=shop.edda, at=NOW, point=shop.point, whom="Hal Venning", planned_at=LATER)
    one = shop.now()
    assert (one.state, one.stops, one.call.whom, one.words) == ("invited", True, "Hal Venning", "Hold, invited")
    shop.sign()
    assert shop.now().call is None and len(shop.now().calls) == 1
    with refused("released"):
        commands.invite(by=shop.edda, at=LATER, point=shop.point, whom="Hal Venning")


def test_a_witness_point_is_passed_with_words_and_a_hold_point_never(shop: Shop) -> None:
    witness = shop.set(kind="witness")
    with refused("hold_stops"):
        commands.go_on(by=shop.edda, at=NOW, point=shop.point, words="Could not wait")
    with refused("no_words") as no:
        commands.go_on(by=shop.edda, at=NOW, point=witness, words=" ")
    assert no.field == "words"
    commands.go_on(by=shop.edda, at=NOW, point=witness, words="Could not wait")
    one = shop.now(witness)
    assert (one.state, one.settled, one.stops) == ("went_on", True, False)
    assert json.loads(last_entry().state)["calls"][0]["words"] == "Could not wait"
    shop.sign(witness)
    assert shop.now(witness).words == "Witnessed"
    with refused("released"):
        commands.go_on(by=shop.edda, at=LATER, point=witness, words="Again")


def test_open_holds_are_told_by_assembly(shop: Shop) -> None:
    other = make_assembly(shop.edda, "30")
    shop.set(kind="witness")
    second, third = shop.set(assembly=other), shop.set(assembly=other)
    shop.sign(third)
    found = points.open_holds(shop.project)
    assert {key: [one.number for one in rows] for key, rows in found.items()} == {
        shop.assembly.pk: ["H-1"],
        other.pk: [second.number],
    }


def test_points_are_judged_in_a_fixed_number_of_queries(shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            points.judged(shop.project)
        return len(caught)

    shop.show()
    shop.sign()
    few = queries()
    for _ in range(4):
        point = shop.set()
        shop.show(point)
        commands.invite(by=shop.edda, at=NOW, point=point, whom="Hal")
        shop.sign(point)
    assert queries() == few


def test_the_points_of_another_project_are_not_told(shop: Shop) -> None:
    other, _ = make_project("Other")
    assert points.judged(other) == [] and points.open_holds(other) == {}


def test_the_history_is_told_in_words(shop: Shop) -> None:
    photo = shop.show()
    planned = datetime(2026, 5, 16, 16, 0, tzinfo=UTC)
    commands.invite(by=shop.edda, at=NOW, point=shop.point, whom="Hal Venning", planned_at=planned, words="By phone")
    commands.correct_point(by=shop.edda, at=NOW, point=shop.point, step="Before the skin", kind="witness")
    commands.go_on(by=shop.edda, at=NOW, point=shop.point, words="Could not wait")
    steps = told(shop.project.pk, shop.point.subject)[::-1]
    assert [step.what for step in steps] == [
        "Point set",
        "Photo put in place",
        "Invited to look",
        "Point corrected",
        "Went on without",
    ]
    lines = [[(one.label, one.before, one.after) for one in step.changes] for step in steps]
    assert lines[1] == [(f"{photo.label} Bond line", "", "in place")] or lines[1][0][2] == "in place"
    assert lines[2][0][2].startswith("Invited Hal Venning for 16 May 2026, ") and "By phone" in lines[2][0][2]
    assert ("At which step", "", "Before the skin") in lines[3]
    assert ("Kind", "Hold point", "Witness point") in lines[3]
    assert lines[4][0][2] == "Went on without: Could not wait"


# ---- pages ----


def text(answer) -> str:  # noqa: ANN001
    """What a reader of the page sees, roughly."""
    main = re.sub(r"(?s).*<main", "<main", answer.content.decode())
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", main)).split())


def everybody(shop: Shop) -> Iterator[tuple[str, Client]]:
    for person in (shop.edda, shop.jory, shop.hal, make_person(shop.project, "reader")):
        yield person.role, client_for(person)


PAGES = {
    "points": {"builder", "helper", "inspector", "reader"},
    "point": {"builder", "helper", "inspector", "reader"},
    "point_new": {"builder"},
    "point_edit": {"builder"},
    "point_withdraw": {"builder"},
    "point_invite": {"builder"},
    "point_go_on": {"builder"},
    "point_photo": {"builder", "helper"},
    "point_sign": {"builder", "inspector"},
}


def address(shop: Shop, name: str, point: Point | None = None) -> str:
    arguments = [] if name in {"points", "point_new"} else [(point or shop.point).pk]
    return reverse(f"inspections:{name}", args=[shop.project.slug, *arguments])


@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_for_whom_it_is_and_for_nobody_else(shop: Shop, name: str) -> None:
    for role, client in everybody(shop):
        status = client.get(address(shop, name)).status_code
        assert status == (200 if role in PAGES[name] else 403), (role, status)
    _, stranger = make_project("Other")
    assert client_for(stranger).get(address(shop, name)).status_code == 404
    assert Client().get(address(shop, name)).status_code == 302


@pytest.mark.parametrize("name", [name for name in PAGES if name not in {"points", "point_new"}])
def test_the_points_of_another_project_are_not_found(shop: Shop, name: str) -> None:
    _, stranger = make_project("Other")
    foreign = commands.add_point(
        by=stranger,
        at=NOW,
        project=stranger.project,
        assembly=make_assembly(stranger),
        kind="hold",
        words="Theirs",
        role="builder",
    )
    client = client_for(shop.edda)
    assert client.get(address(shop, name, foreign)).status_code == 404
    assert client.post(address(shop, name, foreign), {"reason": "x"}).status_code in {404, 405}
    assert points.judged(stranger.project)[0].point == foreign


def test_the_photo_of_another_project_is_not_put_in_place(shop: Shop) -> None:
    _, stranger = make_project("Other")
    photo = make_photo(stranger)
    answer = client_for(shop.edda).post(shop.url("point_photo"), {"photos": [photo.pk]})
    assert answer.status_code == 422 and not PointPhoto.objects.exists()


def test_a_point_is_set_by_its_form_and_a_refusal_keeps_what_was_typed(shop: Shop) -> None:
    client = client_for(shop.edda)
    page = client.get(address(shop, "point_new"))
    assert "Left empty it becomes H-2 or W-1." in text(page)
    typed = {"kind": "witness", "words": "First run", "assembly": shop.assembly.pk, "role": "inspector", "step": "Tied"}
    answer = client.post(address(shop, "point_new"), typed | {"number": "H-1"})
    assert answer.status_code == 422 and "Point H-1 is there already." in text(answer)
    assert 'value="First run"' in answer.content.decode() and 'value="Tied"' in answer.content.decode()
    answer = client.post(address(shop, "point_new"), typed)
    made = Point.objects.get(words="First run")
    assert answer.status_code == 302 and (made.number, made.step) == ("W-1", "Tied")


def test_a_part_alone_says_the_assembly(shop: Shop) -> None:
    client, part = client_for(shop.edda), make_part(shop.edda, shop.assembly)
    page = client.get(address(shop, "point_new") + f"?part={part.pk}").content.decode()
    assert f'value="{part.pk}" selected' in page and f'value="{shop.assembly.pk}" selected' in page
    typed = {"kind": "hold", "words": "Bushing", "role": "builder", "part": part.pk}
    client.post(address(shop, "point_new"), typed)
    assert Point.objects.get(part=part).assembly == shop.assembly
    answer = client.post(address(shop, "point_new"), typed | {"part": ""})
    assert answer.status_code == 422 and "Choose the assembly or the part that it is about." in text(answer)


def test_an_inspector_reads_and_signs(shop: Shop) -> None:
    photo, hal = shop.show(), client_for(shop.hal)
    page = hal.get(shop.url("point_sign"))
    told = text(page)
    assert "Strut hardpoint bond" in told and photo.label in told and commands.STATEMENT in told
    assert "checked" not in re.search(r'<input[^>]*name="agreed"[^>]*>', page.content.decode()).group()
    seen = page.context["seen"]
    typed = {"seen": seen, "agreed": "on", "password": PASSWORD, "outcome": "accepted"}
    assert hal.post(shop.url("point_sign"), typed | {"password": "no"}).status_code == 422
    assert hal.post(shop.url("point_sign"), typed | {"agreed": ""}).status_code == 422
    assert hal.post(shop.url("point_sign"), typed | {"seen": "sha256:0"}).status_code == 422
    assert hal.post(shop.url("point_sign"), typed | {"outcome": ""}).status_code == 422
    assert not Signature.objects.exists()
    assert hal.post(shop.url("point_sign"), typed).status_code == 302
    page = text(hal.get(shop.url("point")))
    assert "Released" in page and "Hal Venning" in page and "Not changed since signing" in page
    answer = hal.post(shop.url("point_sign"), typed)
    assert answer.status_code == 422 and "You signed this already" in text(answer)


def test_an_inspector_does_not_accept_and_says_why(shop: Shop) -> None:
    hal = client_for(shop.hal)
    seen = hal.get(shop.url("point_sign")).context["seen"]
    typed = {"seen": seen, "agreed": "on", "password": PASSWORD, "outcome": "not_accepted"}
    answer = hal.post(shop.url("point_sign"), typed | {"reason": " "})
    assert answer.status_code == 422 and "Say what is not accepted" in text(answer)
    answer = hal.post(shop.url("point_sign"), typed | {"reason": "Voids aft", "password": "no"})
    assert answer.status_code == 422 and "Voids aft" in text(answer)
    assert hal.post(shop.url("point_sign"), typed | {"reason": "Voids aft"}).status_code == 302
    page = text(client_for(shop.edda).get(shop.url("point")))
    assert "Not accepted by Hal Venning" in page and "Voids aft" in page
    assert "stops until an inspector releases it" in page


def test_what_is_not_accepted_is_never_dropped_by_the_other_button(shop: Shop) -> None:
    hal = client_for(shop.hal)
    seen = hal.get(shop.url("point_sign")).context["seen"]
    typed = {"seen": seen, "agreed": "on", "password": PASSWORD, "outcome": "accepted", "reason": "Voids aft"}
    answer = hal.post(shop.url("point_sign"), typed)
    assert answer.status_code == 422 and "Voids aft" in text(answer) and not Signature.objects.exists()


def test_the_builder_sees_why_he_does_not_sign_for_the_inspector(shop: Shop) -> None:
    edda = client_for(shop.edda)
    page = edda.get(shop.url("point_sign"))
    assert (
        "This hold point is for the inspector to sign." in text(page) and 'name="agreed"' not in page.content.decode()
    )
    typed = {"seen": page.context["seen"], "agreed": "on", "password": PASSWORD, "outcome": "accepted"}
    assert edda.post(shop.url("point_sign"), typed).status_code == 422
    assert not Signature.objects.exists()


def test_a_helper_adds_and_takes_away_photos(shop: Shop) -> None:
    jory = client_for(shop.jory)
    file = SimpleUploadedFile("bond.jpg", picture_bytes(), "image/jpeg")
    assert jory.post(shop.url("point_photo"), {"new_photos": [file]}).status_code == 302
    photo = PointPhoto.objects.get().photo
    assert photo.label in text(jory.get(shop.url("point")))
    away = shop.url("point_photo_away", shop.point.pk, photo.pk)
    assert jory.post(away).status_code == 302 and not PointPhoto.objects.exists()
    assert jory.get(away).status_code == 404
    answer = jory.post(shop.url("point_photo"), {"photos": [photo.pk]})
    assert answer.status_code == 302 and PointPhoto.objects.get().photo == photo
    shop.sign()
    answer = jory.post(away)
    assert answer.status_code == 422 and PointPhoto.objects.exists()
    assert jory.post(away, {"reason": "Other strut"}).status_code == 302
    assert "Needs signing again" in text(jory.get(address(shop, "points")))
    assert jory.post(shop.url("point_photo"), {}).status_code == 422


def test_the_builder_invites_and_goes_on_by_the_pages(shop: Shop) -> None:
    edda, witness = client_for(shop.edda), shop.set(kind="witness")
    page = edda.get(shop.url("point_invite", witness.pk))
    assert 'value="Hal Venning"' in page.content.decode()
    typed = {"whom": "Hal Venning", "planned_at": "2026-05-16T10:00", "words": "By phone"}
    answer = edda.post(shop.url("point_invite", witness.pk), typed | {"planned_at": "soon"})
    assert answer.status_code == 422 and 'value="By phone"' in answer.content.decode()
    assert edda.post(shop.url("point_invite", witness.pk), typed).status_code == 302
    assert PointCall.objects.get().planned_at == datetime(2026, 5, 16, 16, 0, tzinfo=UTC)
    assert "Hal Venning is invited for 16 May 2026, 10:00." in text(edda.get(address(shop, "points")))
    assert edda.post(shop.url("point_go_on", witness.pk), {"words": ""}).status_code == 422
    assert edda.post(shop.url("point_go_on", witness.pk), {"words": "Could not come"}).status_code == 302
    assert "Could not come" in text(edda.get(shop.url("point", witness.pk)))
    answer = edda.post(shop.url("point_go_on"), {"words": "Could not wait"})
    assert answer.status_code == 422 and shop.now().stops
    assert "A hold point stops until it is released." in text(edda.get(shop.url("point_go_on")))


def test_a_signed_point_is_corrected_on_its_page_only_with_a_reason(shop: Shop) -> None:
    edda = client_for(shop.edda)
    shop.sign()
    typed = {
        "kind": "hold",
        "words": "Strut bond",
        "assembly": shop.assembly.pk,
        "role": "inspector",
        "number": "H-1",
    }
    answer = edda.post(shop.url("point_edit"), typed)
    assert answer.status_code == 422 and 'value="Strut bond"' in answer.content.decode()
    assert edda.post(shop.url("point_edit"), typed | {"reason": "Shorter"}).status_code == 302
    assert "Signed, then changed" in text(edda.get(shop.url("point")))
    answer = edda.post(shop.url("point_withdraw"), {"reason": "Mistake"})
    assert answer.status_code == 422 and not Point.objects.get().withdrawn


def test_a_point_that_nobody_signed_is_withdrawn_on_its_page(shop: Shop) -> None:
    edda = client_for(shop.edda)
    assert edda.post(shop.url("point_withdraw"), {"reason": ""}).status_code == 422
    assert edda.post(shop.url("point_withdraw"), {"reason": "Mistake"}).status_code == 302
    assert Point.objects.get().withdrawn and edda.get(shop.url("point")).status_code == 404


def test_the_list_says_what_stops_and_is_narrowed_to_an_assembly(shop: Shop) -> None:
    wing = make_assembly(shop.edda, "20", "Wing")
    tip = make_assembly(shop.edda, "20.1", "Tip", parent=wing)
    shop.set(kind="witness", words="Tip fit", assembly=tip)
    done = shop.set(words="Spar bond", assembly=wing)
    shop.sign(done)
    client = client_for(shop.hal)
    page = text(client.get(address(shop, "points")))
    places = [page.index(words) for words in ("Stops work now", "Strut hardpoint", "To be witnessed", "Tip fit")]
    assert places == sorted(places) and page.index("Released or gone on") < page.index("Spar bond")
    narrowed = text(client.get(address(shop, "points") + f"?assembly={wing.pk}"))
    assert "Tip fit" in narrowed and "Spar bond" in narrowed and "Strut hardpoint" not in narrowed


def test_the_panel_of_a_part_is_a_page_and_a_piece(shop: Shop) -> None:
    part = make_part(shop.edda, shop.assembly)
    shop.set(words="Bushing fit", part=part)
    client, url = client_for(shop.hal), reverse("inspections:points_panel", args=[shop.project.slug, part.pk])
    page, piece = client.get(url), client.get(url, headers={"HX-Request": "true"})
    assert "Bushing fit" in text(page) and "Strut hardpoint" not in text(page)
    assert "Bushing fit" in piece.content.decode() and "<html" not in piece.content.decode()
    _, stranger = make_project("Other")
    assert client_for(stranger).get(url).status_code == 404
    assert url in client.get(reverse("parts:part", args=[shop.project.slug, part.pk])).content.decode()
