"""What is read about areas and assemblies: states, what a gate's page lists, and how many queries it takes."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import AnonymousUser
from django.db import connection
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext

from accounts.queries import Seat
from certification.queries import area_facts
from evidence import commands as evidence
from inspections import commands, queries
from inspections.context import Frame
from tests.factories import NOW, make_area, make_assembly, make_photo, make_session, picture_bytes, worked
from tests.inspections.shop import HOUR, LATER, Shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return Shop()


def state_of(shop: Shop, number: str = "24.1") -> str:
    return next(branch.state for branch in queries.branches(shop.project) if branch.number == number)


# ---- the state of an assembly is derived ----


def test_an_assembly_goes_through_its_states_by_what_is_done(shop: Shop) -> None:
    assert state_of(shop) == "not-started"
    make_session(shop.edda, shop.assembly)
    assert state_of(shop) == "hold", "work was done and its gate is not satisfied"
    shop.supply()
    assert state_of(shop) == "hold"
    shop.sign()
    assert state_of(shop) == "signed"
    shop.close()
    assert state_of(shop) == "closed"
    shop.reopen()
    assert state_of(shop) == "hold"


def test_an_assembly_without_areas_is_in_work_as_soon_as_hours_stand_on_it_or_below(shop: Shop) -> None:
    wing = make_assembly(shop.edda, "20")
    rib = make_assembly(shop.edda, "22", parent=wing)
    assert state_of(shop, "20") == "not-started"
    make_session(shop.edda, rib, worked(shop.edda))
    assert (state_of(shop, "20"), state_of(shop, "22")) == ("work", "work")


def test_nothing_is_called_signed_that_nobody_signed(shop: Shop) -> None:
    hull = make_assembly(shop.edda, "10")
    area = make_area(shop.edda, hull, {"kind": "check", "words": "Rags out"}, number="10-C1")
    commands.answer_check(by=shop.edda, at=NOW, requirement=area.requirements.get(), answer="yes")
    make_session(shop.edda, hull, worked(shop.edda))
    one = commands.judged(area)
    assert one.gate.may_close and one.line == "work" and state_of(shop, "10") == "work"


def test_one_open_area_keeps_an_assembly_from_being_closed(shop: Shop) -> None:
    shop.closed()
    second = make_area(shop.edda, shop.assembly, {"kind": "check", "words": "Rags out"}, number="24.1-C2")
    assert state_of(shop) == "not-started"
    make_session(shop.edda, shop.assembly)
    assert state_of(shop) == "hold"
    commands.close_area(by=shop.edda, at=LATER + HOUR, area=second, reason="Glued already")
    assert state_of(shop) == "closed"


def test_a_withdrawn_area_no_longer_holds_its_assembly(shop: Shop) -> None:
    make_session(shop.edda, shop.assembly)
    commands.withdraw_area(by=shop.edda, at=NOW, area=shop.area, reason="Twice")
    assert state_of(shop) == "work" and queries.judged(shop.project) == []


@pytest.mark.parametrize(
    ("steps", "line"),
    [([], "not-started"), (["supply"], "hold"), (["supply", "sign"], "signed"), (["closed"], "closed")],
)
def test_the_line_of_an_area_follows_its_gate(shop: Shop, steps: list[str], line: str) -> None:
    for step in steps:
        getattr(shop, step)()
    assert shop.now.line == line


def test_an_open_area_does_not_read_as_closed(shop: Shop) -> None:
    assert shop.now.kind_words == "Will be closed for good"
    assert shop.closed().now.kind_words == "Closed for good"


# ---- the lines of a gate's page ----


def test_what_is_missing_comes_first_and_under_a_closing_the_order_stays(shop: Shop) -> None:
    shop.answer()

    def numbers() -> list[tuple[str, list[int]]]:
        return [(words, [line.requirement.position for line in found]) for words, found in queries.lines(shop.now)]

    assert numbers() == [("Missing", [1, 3]), ("In place", [2])]
    shop.close(reason="Glue was mixed")
    assert numbers() == [("What the gate asked", [1, 2, 3])]


def test_a_line_shows_the_answer_that_counts_and_the_earlier_ones(shop: Shop) -> None:
    shop.answer("no")
    shop.answer("yes", at=NOW + timedelta(minutes=1))
    line = queries.line_of(shop.now, shop.item(2))
    assert line.answer.answer == "yes" and [one.answer for one in line.earlier] == ["no"]


def test_after_a_reopening_every_answer_is_an_earlier_one(shop: Shop) -> None:
    shop.closed().reopen()
    line = queries.line_of(shop.now, shop.item(2))
    assert line.answer is None and [one.answer for one in line.earlier] == ["yes"]


def test_a_line_shows_which_photos_count_and_pictures_one_of_them(shop: Shop) -> None:
    gone, good = shop.show(), shop.show()
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=gone, reason="Blurred")
    line = queries.line_of(shop.now, shop.item(1))
    assert dict(line.photos) == {gone: False, good: True} and line.picture == good


def test_what_the_sign_page_lists_is_what_the_signature_covers(shop: Shop) -> None:
    shop.supply()
    gone = shop.show()
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=gone, reason="Blurred")
    listed = queries.covered_lines(shop.now)
    covers = queries.covers(shop.now)
    assert sum(len(photos) for _, photos in listed) == sum("photo" in item["facts"] for item in covers) == 1
    assert [line.requirement.position for line, _ in listed] == [1, 2]


def test_photos_to_choose_are_those_of_the_assembly_and_below_that_are_not_in_place(shop: Shop) -> None:
    below = make_assembly(shop.edda, "24.1.1", parent=shop.assembly)
    elsewhere = make_assembly(shop.edda, "40")
    here = [make_photo(shop.edda, places=[one]) for one in (shop.assembly, below)]
    make_photo(shop.edda, places=[elsewhere])
    shop.show(here[0])
    assert list(queries.photos_to_choose(shop.project, shop.area, shop.item(1))) == [here[1]]


def test_photos_of_sessions_count_as_photos_of_the_assembly(shop: Shop) -> None:
    photo = make_photo(shop.edda)
    make_session(shop.edda, shop.assembly, photos=[photo])
    assert list(queries.photos_of(shop.project, {shop.assembly.pk})) == [photo]


# ---- the record keeps a closing over a gap for ever (rule R22) ----


def test_a_closing_over_a_gap_stands_in_the_record_with_its_reason_after_reopening_too(shop: Shop) -> None:
    shop.close(reason="The resin was mixed")
    shop.reopen(reason="To look again")
    late = make_photo(shop.edda, data=picture_bytes(taken="2026:05:14 14:45:00", seed=5), at=LATER + 3 * HOUR)
    shop.show(late, at=LATER + 3 * HOUR)
    facts = area_facts(shop.now, shop.project.zone)
    assert facts["closings"][0]["reason"] == "The resin was mixed"
    assert facts["closings"][0]["missing"][0] == "1 Drain boss, sealed"
    assert facts["closings"][0]["reopen_reason"] == "To look again"


def test_the_record_says_that_what_was_signed_was_changed(shop: Shop) -> None:
    photo = shop.supply()
    shop.sign()
    shop.close()
    evidence.describe_photo(by=shop.edda, at=LATER + 2 * HOUR, photo=photo, caption="Plate B")
    facts = area_facts(shop.now, shop.project.zone)
    assert facts["state"] == "closed" and facts["signatures"][0]["changes"] == [
        f"Item 1, {photo.label}: caption, signed empty, now 'Plate B'"
    ]


# ---- few queries, whatever the size ----


def queries_of(act) -> int:  # noqa: ANN001
    with CaptureQueriesContext(connection) as captured:
        act()
    return len(captured)


def test_judging_eight_areas_takes_as_many_queries_as_judging_one(shop: Shop) -> None:
    shop.closed()
    one = queries_of(lambda: queries.judged(shop.project))
    for number in range(7):
        assembly = make_assembly(shop.edda)
        area = make_area(shop.edda, assembly, number=f"C{number}")
        item = area.requirements.get(position=1)
        commands.show_photo(by=shop.edda, at=NOW, requirement=item, photo=make_photo(shop.edda))
    assert queries_of(lambda: queries.judged(shop.project)) == one <= 20
    assert len(queries.judged(shop.project)) == 8


def frame_of(seat: Seat | None, **cookies: str) -> Frame:
    request = RequestFactory().get("/")
    request.user = AnonymousUser()
    request.COOKIES.update(cookies)
    request.resolver_match = None
    if seat:
        request.seat = seat
    return Frame(request)


def test_the_frame_costs_nothing_on_a_page_without_a_project(django_assert_num_queries) -> None:
    with django_assert_num_queries(0):
        frame = frame_of(None)
        assert (frame.gates, frame.branches, frame.tree, frame.open_holds, frame.section) == ([], [], [], 0, "")
        assert not (frame.can_log or frame.can_edit or frame.can_close or frame.can_manage or frame.can_sign)


def test_the_frame_reads_nothing_until_it_is_asked(shop: Shop, django_assert_num_queries) -> None:
    with django_assert_num_queries(0):
        frame = frame_of(Seat(shop.project, shop.edda))
        assert frame.can_edit and frame.can_close and frame.can_manage


def test_the_frame_reads_gates_and_tree_once_and_counts_the_holds(shop: Shop) -> None:
    make_session(shop.edda, shop.assembly)
    frame = frame_of(Seat(shop.project, shop.edda))
    first = queries_of(lambda: (frame.gates, frame.tree))
    assert first <= 24 and queries_of(lambda: (frame.tree, frame.open_holds)) == 0
    assert frame.open_holds == 1
    node = frame.tree[0]
    assert (node.number, node.state, node.state_word, node.hours) == ("24.1", "hold", "Hold", "2.0")


@pytest.mark.parametrize(("cookie", "scheme"), [("dark", "dark"), ("light", "light"), ("</style>", ""), ("", "")])
def test_only_known_schemes_come_from_the_cookie(cookie: str, scheme: str) -> None:
    assert frame_of(None, scheme=cookie).scheme == scheme


@pytest.mark.parametrize(
    ("role", "rights"),
    [
        ("builder", {"log", "edit", "close", "manage", "sign"}),
        ("helper", {"log"}),
        ("inspector", {"sign"}),
        ("reader", set()),
    ],
)
def test_the_frame_says_what_each_role_may_do(shop: Shop, role: str, rights: set[str]) -> None:
    shop.edda.role = role
    frame = frame_of(Seat(shop.project, shop.edda))
    assert {act for act in ("log", "edit", "close", "manage", "sign") if getattr(frame, f"can_{act}")} == rights
