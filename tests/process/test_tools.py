"""Tools: when they are due, what upset them, and every record a bad one touched (rule R44)."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from accounts.models import Person
from archive.queries import faults
from calc import room
from foundation.fields import new_key
from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import tools as commands
from process.models import KINDS, Fasteners, Layup, Mix, Recheck, Tool, Torque
from process.queries import checks, stores
from process.queries import tools as queries
from process.rules import tools as rules
from process.rules.stores import left_of
from tests.factories import NOW, client_for, make_assembly, make_lot, make_person, make_project

TODAY = date(2026, 5, 14)
DAYS = st.integers(0, 900).map(lambda days: TODAY - timedelta(days=days))


def event(kind: str, day: str) -> rules.Event:
    return rules.Event(kind, date.fromisoformat(day))


# ---- when it is due: TQ-CAL-01, -02 (FAA AC 43.13-1B para 7-40 a) ----


@pytest.mark.parametrize(
    ("events", "interval", "today", "state", "due"),
    [
        ([], None, "2026-05-14", "open", None),
        ([], 12, "2026-05-14", "open", None),
        ([event("calibrated", "2024-03-15")], 12, "2025-03-15", "good", "2025-03-15"),
        ([event("calibrated", "2024-03-15")], 12, "2025-03-16", "bad", "2025-03-15"),
        ([event("calibrated", "2024-03-15")], None, "2026-05-14", "good", None),
        ([event("calibrated", "2024-03-15"), event("dropped", "2024-07-02")], 12, "2024-07-03", "bad", "2024-07-02"),
        ([event("dropped", "2024-07-02")], None, "2024-07-03", "bad", "2024-07-02"),
        # Checked after the drop: good again, but the interval runs from the certificate.
        (
            [event("calibrated", "2024-03-15"), event("dropped", "2024-07-02"), event("good", "2024-07-02")],
            *(12, "2024-08-01", "good", "2025-03-15"),
        ),
        (
            [event("calibrated", "2024-03-15"), event("bad", "2024-07-02"), event("calibrated", "2024-07-20")],
            *(12, "2024-08-01", "good", "2025-07-20"),
        ),
        ([event("calibrated", "2024-02-29")], 12, "2024-08-01", "good", "2025-02-28"),
    ],
)
def test_a_tool_is_due_by_its_interval_and_at_once_after_what_upset_it(events, interval, today, state, due) -> None:
    found = rules.standing(interval, events, date.fromisoformat(today))
    assert found.verdict.state == state and found.due == (date.fromisoformat(due) if due else None)
    assert found.verdict.rule and "43.13-1B" in found.verdict.source and found.verdict.caution


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(["calibrated", "dropped", "bad"]), DAYS), max_size=8), DAYS)
def test_it_stands_as_the_figures_say_it_does(happened, today: date) -> None:
    """Without checks in between, `calc.room.calibration_due` says the same, the day of an event itself left aside."""
    happened = sorted(
        (pair for pair in happened if pair[1] < today), key=lambda pair: (pair[1], pair[0] != "calibrated")
    )
    events = [rules.Event(kind, day) for kind, day in happened]
    calibrated = [day for kind, day in happened if kind == "calibrated"]
    if not calibrated:
        return
    told = [room.Event(day, "found bad" if kind == "bad" else kind) for kind, day in happened if kind != "calibrated"]
    due = room.calibration_due(max(calibrated), 12, [one for one in told if one.day >= max(calibrated)])
    assert rules.standing(12, events, today).verdict.good == (due.usable_on(today) is True)


# ---- what it touched: TQ-CAL-03 (ordinary calibration practice) ----


def test_what_was_made_since_a_tool_was_last_good_is_suspect_and_nothing_before() -> None:
    records = [(key, date.fromisoformat(day)) for key, day in
               (("a", "2024-03-10"), ("b", "2024-06-01"), ("c", "2025-02-19"), ("d", "2025-02-21"))]  # fmt: skip
    [doubt] = rules.doubts([event("calibrated", "2024-03-15"), event("bad", "2025-02-20")])
    assert rules.suspects(doubt, records) == ["b", "c"]
    assert rules.used_though_bad(doubt, records) == ["d"]
    # Found bad by the very calibration that is entered for that day: it was good at the one before.
    same_day = [event("calibrated", "2024-03-15"), event("calibrated", "2025-02-20"), event("bad", "2025-02-20")]
    assert rules.suspects(rules.doubts(same_day)[0], records) == ["b", "c"]
    [never] = rules.doubts([event("bad", "2025-02-20")])
    assert rules.suspects(never, records) == ["a", "b", "c"]
    [again] = rules.doubts([event("bad", "2025-02-20"), event("good", "2025-02-21"), event("dropped", "2025-03-01")])
    assert again.set_right == date(2025, 2, 21) and rules.used_though_bad(again, records) == []


# ---- commands ----


@pytest.fixture
def builder(db: None) -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def make_tool(by: Person, number: str = "T-1", **more: object) -> Tool:
    values = {"name": "Torque wrench", "kind": "torque", "interval_months": 12} | more
    return commands.add_tool(by=by, at=NOW, project=by.project, number=number, **values)


def happened(by: Person, tool: Tool, kind: str, day: str, said: str = "Read against another"):  # noqa: ANN201
    return commands.record_event(by=by, at=NOW, tool=tool, kind=kind, happened_on=date.fromisoformat(day), words=said)


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"process:{name}", args=[by.project.slug, *keys])


def test_the_life_of_a_tool_is_journaled(builder: Person) -> None:
    tool = make_tool(builder, full_scale="150 in-lb", resolution="1 in-lb")
    assert tool.full_scale_si == 150 and tool.resolution_si == 1
    entered = happened(builder, tool, "bad", "2026-05-01")
    commands.correct_event(
        by=builder, at=NOW, event=entered, kind="dropped", happened_on=date(2026, 5, 1), words="Fell", reason="Not read"
    )
    commands.correct_tool(by=builder, at=NOW, tool=tool, name="Click wrench", reason="Its maker calls it so")
    commands.withdraw_tool(by=builder, at=NOW, tool=tool, reason="Twice")
    verbs = list(Entry.objects.filter(subject=tool.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["tool.added", "tool.event", "tool.event_corrected", "tool.corrected", "tool.withdrawn"]
    assert list(faults(builder.project)) == []


@pytest.mark.parametrize(
    ("kind", "typed", "step", "kept", "figure"),
    [
        ("torque", "20 N*m", False, "20 N*m", "177.0149"),
        ("scale", "2000", False, "2000 g", "2000"),
        ("temperature", "212 °F", False, "212 °F", "100"),
        ("temperature", "0.9 °F", True, "0.9 °F", "0.5"),  # a difference: without the 32
        ("other", "as long as my arm", False, "as long as my arm", None),
    ],
)
def test_range_and_step_are_kept_as_typed_beside_their_figure(kind, typed, step, kept, figure) -> None:
    said, value = rules.reading(kind, typed, "si", "x", step=step)
    assert said == kept and (value is None if figure is None else abs(value - Decimal(figure)) < Decimal("0.0001"))


def test_what_cannot_be_is_refused(builder: Person) -> None:
    tool = make_tool(builder)
    for no, do in {
        "number_taken": lambda: make_tool(builder),
        "in_future": lambda: happened(builder, tool, "good", "2026-05-15"),
        "no_words": lambda: happened(builder, tool, "bad", "2026-05-01", " "),
        "unknown": lambda: make_tool(builder, "T-2", full_scale="5 kg"),
    }.items():
        with pytest.raises(Refusal) as refusal:
            do()
        assert refusal.value.code == no


# ---- every kind of record ----


def record(model, by: Person, number: int, day: str, **more):  # noqa: ANN001, ANN201
    when = datetime.fromisoformat(day).replace(tzinfo=UTC)
    common = {"project": by.project, "number": number, "request_id": new_key(), "done_at": when, "done_by": by}
    return model.objects.create(**common, entered_at=when, entered_by=by, **more)


def test_every_kind_of_record_that_names_a_tool_is_asked(builder: Person) -> None:
    asked = {kind for kind, model in KINDS.items() if queries.tool_fields(model)}
    assert asked >= {"layup", "mix", "cure", "fasteners", "torque", "weighing", "hardness", "tapmap", "function"}
    assert set(queries.tool_fields(KINDS["cure"])) >= {"equipment", "logger"}


def test_a_tool_found_bad_lists_what_was_made_with_it_since_it_was_last_good(builder: Person, client: Client) -> None:
    tool, other = make_tool(builder), make_tool(builder, "T-2", kind="scale", name="Scale")
    hull = make_assembly(builder)
    for number, day in enumerate(("2024-03-10", "2024-06-01", "2025-02-19", "2025-02-21"), start=1):
        record(Torque, builder, number, f"{day}T18:00", assembly=hull, wrench=tool, place="Bolt")
    record(Layup, builder, 1, "2024-08-01T18:00", assembly=hull, gauge=tool, scale=other)
    gone = record(Torque, builder, 9, "2024-09-01T18:00", assembly=hull, wrench=tool, place="Bolt")
    Torque.objects.filter(pk=gone.pk).update(withdrawn_at=NOW)
    # 03:00 UTC on the 16th is still the 15th in the shop, and that day counts.
    record(Fasteners, builder, 1, "2024-03-16T03:00", assembly=hull, gauge=tool, place="Row", count=3, spec="Pop")
    happened(builder, tool, "calibrated", "2024-03-15")
    happened(builder, tool, "bad", "2025-02-20", "Eight percent high")
    [suspect] = queries.suspects(tool)
    assert [row.record.label for row in suspect.made] == ["F-1", "TQ-2", "L-1", "TQ-3"]
    assert [row.record.label for row in suspect.after] == ["TQ-4"]
    assert not queries.suspects(other)
    page = client.get(at("tool_suspects", builder, tool.pk)).content.decode()
    assert "TQ-2" in page and "TQ-1<" not in page and "Made though it was known to be bad" in page
    assert "5 records to look at again" in client.get(at("tool", builder, tool.pk)).content.decode()


# ---- pages ----


def test_a_tool_is_entered_upset_checked_and_listed_by_its_pages(builder: Person, client: Client) -> None:
    assert "No tools yet" in client.get(at("tools", builder)).content.decode()
    sent = {
        "number": "T-1",
        "name": "Click wrench",
        "kind": "torque",
        "interval_months": "12",
        "full_scale": "150 in-lb",
    }
    assert client.post(at("tool_new", builder), sent | {"full_scale": "5 apples"}).status_code == 422
    client.post(at("tool_new", builder), sent)
    tool = Tool.objects.get()
    page = client.get(at("tool", builder, tool.pk)).content.decode()
    assert "No calibration is recorded yet" in page and "150 in-lb" in page
    helper = client_for(make_person(builder.project, "helper"))
    fell = {"kind": "dropped", "happened_on": "2026-05-02", "words": "Off the bench"}
    assert helper.post(at("tool_event", builder, tool.pk), fell | {"words": ""}).status_code == 422
    helper.post(at("tool_event", builder, tool.pk), fell)
    assert "not to be used until" in client.get(at("tools", builder)).content.decode()
    client.post(at("tool_event", builder, tool.pk), fell | {"kind": "good", "happened_on": "2026-05-03"})
    assert "not to be used until" not in client.get(at("tools", builder)).content.decode()
    client.post(at("tool_edit", builder, tool.pk), sent | {"name": "Wrench", "reason": "Shorter"})
    client.post(at("tool_event_edit", builder, tool.pk, tool.events.get(kind="good").pk),
                fell | {"kind": "calibrated", "reason": "With a paper"})  # fmt: skip
    page = client.get(at("tool", builder, tool.pk)).content.decode()
    assert "<ins>Wrench</ins>" in page and "Calibrated" in page
    client.post(at("tool_withdraw", builder, tool.pk), {"reason": "Twice"})
    assert "Withdrawn on" in client.get(at("tool", builder, tool.pk)).content.decode()
    assert client.get(at("tool_edit", builder, tool.pk)).status_code == 404


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
@pytest.mark.parametrize("name", ["tool_new", "tool_edit", "tool_withdraw"])
def test_only_the_builder_changes_tools(builder: Person, role: str, name: str) -> None:
    keys = [] if name == "tool_new" else [make_tool(builder).pk]
    assert client_for(make_person(builder.project, role)).post(at(name, builder, *keys), {}).status_code == 403


@pytest.mark.parametrize("name", ["tool", "tool_edit", "tool_event", "tool_suspects", "tool_withdraw"])
def test_a_tool_of_another_project_is_not_found_here(builder: Person, client: Client, name: str) -> None:
    theirs = make_tool(make_project("Other")[1])
    assert client.get(at(name, builder, theirs.pk)).status_code == 404


# ---- low, expiring, due ----


@pytest.mark.parametrize(
    ("quantity", "grams", "pieces", "words", "low"),
    [
        ("5 kg", 4000, 0, "about 1000 g of 5000 g left", True),
        ("5 kg", 3000, 0, "about 2000 g of 5000 g left", False),
        ("1 lb", 500, 0, "46 g more taken than came", True),
        ("100 pieces", 0, 80, "about 20 pieces of 100 pieces left", True),
        ("100", 0, 10, "about 90 pieces of 100 pieces left", False),
        ("12 m", 400, 0, None, False),
        ("", 0, 0, None, False),
    ],
)
def test_what_is_left_of_a_lot_is_reckoned_where_it_can_be(quantity, grams, pieces, words, low) -> None:
    left = left_of(quantity, grams, pieces)
    assert (left.words if left else None) == words and bool(left and left.low) == low


def test_the_shop_is_told_what_is_low_expiring_or_due(builder: Person, client: Client) -> None:
    today = datetime.now(UTC).astimezone(builder.project.zone).date()
    assert not stores.watch(builder.project, today)
    assert "Nothing wants attention" in client.get(at("stores_watch", builder)).content.decode()
    resin = make_lot(builder, "R-1", quantity="1 kg")
    make_lot(builder, "H-1", expires_on=date(2026, 1, 1))
    make_lot(builder, "H-2", expires_on=date(2026, 1, 1), status="used_up")
    rivets = make_lot(builder, "N-1", quantity="50 pcs")
    hull, tool = make_assembly(builder), make_tool(builder)
    mixed = {"assembly": hull, "parts_resin": 10, "parts_hardener": 3, "resin": "900 g", "resin_g": 900}
    record(Mix, builder, 1, "2026-05-01", resin_lot=resin, **mixed)
    record(
        Fasteners, builder, 1, "2026-05-01", assembly=hull, lot=rivets, place="Row", count=44, spec="Pop", rejected=2
    )
    happened(builder, tool, "dropped", "2026-05-02")
    found = stores.watch(builder.project, today)
    assert [(one.lot.number, one.low) for one in found.lots] == [("H-1", False), ("N-1", True), ("R-1", True)]
    assert [one.tool for one in found.tools] == [tool]
    piece = client.get(at("stores_watch", builder), headers={"HX-Request": "true"}).content.decode()
    assert "about 100 g of 1000 g left" in piece and "about 4 pieces of 50 pieces left" in piece
    assert "<html" not in piece and "H-2" not in piece and "T-1" in piece


# ---- looked at again ----


@pytest.fixture
def bad(builder: Person) -> dict:
    """A wrench found bad, with three torques made since it was last good."""
    tool, hull = make_tool(builder), make_assembly(builder)
    happened(builder, tool, "calibrated", "2026-03-01")
    rows = [
        record(Torque, builder, number, f"2026-04-0{number}T18:00", assembly=hull, wrench=tool, place="Bolt")
        for number in (1, 2, 3)
    ]
    return {"tool": tool, "event": happened(builder, tool, "bad", "2026-05-01"), "rows": rows}


LOOKED = {"outcome": "good", "looked_on": date(2026, 5, 3), "words": "Read again with T2: 46 in-lb"}


def looked(by: Person, bad: dict, place: int = 0, **more: object) -> Recheck:
    said = LOOKED | more
    return commands.look_again(by=by, at=NOW, event=bad["event"], record=bad["rows"][place], **said)


def open_ones(tool: Tool) -> list[int]:
    return [one.open for one in queries.suspects(tool)]


def test_what_was_looked_at_again_leaves_the_list_until_it_is_withdrawn(builder: Person, bad: dict) -> None:
    assert open_ones(bad["tool"]) == [3]
    one = looked(builder, bad)
    assert open_ones(bad["tool"]) == [2] and str(one) == "TQ-1: good"
    commands.correct_recheck(by=builder, at=NOW, recheck=one, reason="Read wrong", **LOOKED | {"outcome": "redone"})
    assert queries.suspects(bad["tool"])[0].made[0].recheck.outcome == "redone"
    commands.withdraw_recheck(by=builder, at=NOW, recheck=one, reason="Another bolt")
    assert open_ones(bad["tool"]) == [3]
    verbs = list(Entry.objects.filter(subject=one.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["recheck.told", "recheck.corrected", "recheck.withdrawn"]
    looked(builder, bad)
    assert open_ones(bad["tool"]) == [2]
    # The torques themselves were written past the journal here.
    assert [fault for fault in map(str, faults(builder.project)) if not fault.startswith("Torque")] == []


def test_found_bad_again_is_the_same_doubt_and_found_bad_later_is_another(builder: Person, bad: dict) -> None:
    looked(builder, bad)
    happened(builder, bad["tool"], "bad", "2026-05-02")
    assert open_ones(bad["tool"]) == [2]
    happened(builder, bad["tool"], "good", "2026-05-03")
    happened(builder, bad["tool"], "bad", "2026-05-04")
    # What was made before it was set right is not cast in doubt by the later finding.
    assert open_ones(bad["tool"]) == [0, 2]


@pytest.mark.parametrize(("outcome", "state"), [("good", "good"), ("accepted", "good"), ("redone", "bad")])
def test_a_record_looked_at_again_is_judged_by_what_came_of_it(
    builder: Person, bad: dict, outcome: str, state: str
) -> None:
    def about_the_tool() -> list[tuple[str, str]]:
        row = checks.whole("torque", Torque.objects.filter(pk=bad["rows"][0].pk)).get()
        return [(one.state, one.words) for one in checks.about_tools(row)]

    assert [said for said, _ in about_the_tool()] == ["bad"]
    looked(builder, bad, outcome=outcome)
    [(said, told)] = about_the_tool()
    assert said == state and "Looked at again on 3 May 2026" in told


def test_what_was_used_though_known_to_be_bad_is_settled_by_looking_again(builder: Person, bad: dict) -> None:
    hull = bad["rows"][0].assembly
    late = record(Torque, builder, 8, "2026-05-02T18:00", assembly=hull, wrench=bad["tool"], place="Bolt")
    assert [one.state for one in checks.about_tools(late)] == ["bad"]
    looked(builder, bad | {"rows": [late]})
    assert [one.state for one in checks.about_tools(Torque.objects.get(pk=late.pk))] == ["good"]
    assert open_ones(bad["tool"]) == [3]


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("no_words", {"words": " "}),
        ("too_early", {"looked_on": date(2026, 4, 30)}),
        ("in_future", {"looked_on": date(2026, 5, 15)}),
        ("no_outcome", {"outcome": "airborne"}),
    ],
)
def test_a_look_that_cannot_be_is_refused(builder: Person, bad: dict, code: str, said: dict) -> None:
    with pytest.raises(Refusal) as refusal:
        looked(builder, bad, **said)
    assert refusal.value.code == code and open_ones(bad["tool"]) == [3]


def test_only_what_is_on_the_list_is_looked_at_and_once(builder: Person, bad: dict) -> None:
    looked(builder, bad)
    old = record(
        Torque, builder, 9, "2026-02-01T18:00", assembly=bad["rows"][0].assembly, wrench=bad["tool"], place="x"
    )
    for code, do in {
        "looked_at": lambda: looked(builder, bad),
        "not_suspect": lambda: looked(builder, bad | {"rows": [old]}),
    }.items():
        with pytest.raises(Refusal) as refusal:
            do()
        assert refusal.value.code == code


def test_the_list_the_shop_and_the_record_say_what_is_still_to_look_at(
    builder: Person, client: Client, bad: dict
) -> None:
    tool, rows = bad["tool"], bad["rows"]
    check = reverse("process:check", args=[builder.project.slug, "torque", rows[0].pk])
    assert "not looked at again yet" in client.get(check).content.decode()
    happened(builder, tool, "good", "2026-05-02")
    for name in ("stores_watch", "tools"):
        assert "3 records to look at again" in client.get(at(name, builder)).content.decode()
    page = at("tool_look_again", builder, tool.pk, bad["event"].pk, "torque", rows[0].pk)
    assert "TQ-1" in client.get(page).content.decode()
    sent = {"outcome": "accepted", "looked_on": "2026-05-03", "words": ""}
    again = client.post(page, sent)
    assert again.status_code == 422 and "or why it is accepted" in again.content.decode()
    client.post(page, sent | {"words": "Light duty, plan sheet 3"})
    listed = client.get(at("tool_suspects", builder, tool.pk)).content.decode()
    assert "2 of 3 still to look at" in listed and "Light duty, plan sheet 3" in listed
    assert "2 records to look at again" in client.get(at("tool", builder, tool.pk)).content.decode()
    assert "accepted as it is" in client.get(check).content.decode()
    change = at("tool_recheck", builder, tool.pk, Recheck.objects.get().pk)
    assert client.post(change, sent | {"words": "Plan, sheet 4"}).status_code == 422  # no reason
    client.post(change, sent | {"words": "Plan, sheet 4", "reason": "Wrong sheet"})
    assert "<del>Light duty, plan sheet 3</del>" in client.get(change).content.decode()
    client.post(at("tool_recheck_withdraw", builder, tool.pk, Recheck.objects.get().pk), {"reason": "Not this one"})
    for number in range(3):
        page = at("tool_look_again", builder, tool.pk, bad["event"].pk, "torque", rows[number].pk)
        client.post(page, sent | {"words": "Read again"})
    assert "all looked at" in client.get(at("tool_suspects", builder, tool.pk)).content.decode()
    assert "to look at again" not in client.get(at("stores_watch", builder)).content.decode()


def test_the_watch_takes_as_many_queries_however_many_tools_are_bad(
    builder: Person, bad: dict, django_assert_max_num_queries: Callable
) -> None:
    with CaptureQueriesContext(connection) as few:
        assert [one.again for one in queries.stood(builder.project, TODAY)] == [3]
    for number in range(2, 8):
        happened(builder, make_tool(builder, f"T-{number}"), "bad", "2026-05-01")
    with django_assert_max_num_queries(len(few)):
        assert len(queries.stood(builder.project, TODAY)) == 7


# ---- documents ----


def a_file(name: str = "cal.pdf", data: bytes = b"%PDF-1.7 certificate") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data, "application/pdf")


def test_a_certificate_comes_with_the_calibration_and_stands_on_both_pages(builder: Person, client: Client) -> None:
    tool = make_tool(builder)
    sent = {"kind": "calibrated", "happened_on": "2026-05-02", "words": "", "certificate": "DEMO-CAL-0311"}
    assert client.post(at("tool_event", builder, tool.pk), sent | {"paper": a_file(data=b"")}).status_code == 422
    assert not tool.events.exists()
    client.post(at("tool_event", builder, tool.pk), sent | {"paper": a_file()})
    [paper] = queries.papers(tool)
    assert paper.event == tool.events.get() and paper.document.kind == "calibration"
    assert paper.document.title == "Calibration certificate DEMO-CAL-0311, T-1 Torque wrench"
    page = client.get(at("tool", builder, tool.pk)).content.decode()
    assert page.count("DOC-1</span> Calibration certificate DEMO-CAL-0311") == 2  # with the event and among documents
    about = client.get(reverse("evidence:document", args=[builder.project.slug, paper.document.pk])).content.decode()
    assert 'Tool <span class="code">T-1</span>' in about and at("tool", builder, tool.pk) in about
    assert list(faults(builder.project)) == []


def test_a_document_is_put_with_a_tool_from_its_page_and_taken_off(builder: Person, client: Client) -> None:
    tool = make_tool(builder)
    event = happened(builder, tool, "good", "2026-05-02")
    page = at("tool_paper", builder, tool.pk)
    sent = {"kind": "sheet", "title": "", "event": ""}
    for wrong in ({}, {"file": a_file(), "kept": "no"}, {"file": a_file(), "event": "no"}):
        assert client.post(page, sent | wrong).status_code == 422
    client.post(page, sent | {"file": a_file()})
    [paper] = queries.papers(tool)
    assert paper.document.title == "Data sheet, T-1 Torque wrench" and paper.event is None
    other = make_tool(builder, "T-2")
    there = at("tool_paper", builder, other.pk)
    assert client.post(there, sent | {"file": a_file(), "kept": paper.document.pk}).status_code == 422  # both
    client.post(there, sent | {"kept": paper.document.pk})
    assert [one.document for one in queries.papers(other)] == [paper.document]
    assert [one.number for one in queries.tools_of(paper.document)] == ["T-1", "T-2"]
    # The same bytes again, now about what happened to it: one document, one link.
    client.post(page, sent | {"file": a_file(), "event": event.pk})
    assert [(one.document, one.event) for one in queries.papers(tool)] == [(paper.document, event)]
    off = at("tool_paper_off", builder, tool.pk, paper.pk)
    assert client_for(make_person(builder.project, "helper")).post(off).status_code == 403
    client.post(off)
    assert not queries.papers(tool) and queries.papers(other)
    verbs = list(Entry.objects.filter(subject=tool.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["tool.added", "tool.event", "tool.paper", "tool.paper", "tool.paper_off"]
    assert list(faults(builder.project)) == []


def test_documents_and_rechecks_of_another_project_are_not_found_here(
    builder: Person, client: Client, bad: dict
) -> None:
    stranger = make_project("Other")[1]
    theirs = make_tool(stranger)
    paper = commands.keep_paper(
        by=stranger, at=NOW, tool=theirs, file=BytesIO(b"x"), name="x.txt", kind="other", title="Theirs"
    )
    assert client.post(at("tool_paper_off", builder, bad["tool"].pk, paper.pk)).status_code == 404
    assert client.get(at("tool_paper", builder, theirs.pk)).status_code == 404
    sent = {"kind": "other", "kept": paper.document.pk, "event": ""}
    assert client.post(at("tool_paper", builder, bad["tool"].pk), sent).status_code == 422
    with pytest.raises(Refusal):
        commands.put_paper(by=builder, at=NOW, tool=bad["tool"], document=paper.document)
    one = looked(builder, bad)
    for name in ("tool_recheck", "tool_recheck_withdraw"):
        assert client_for(stranger).get(at(name, stranger, theirs.pk, one.pk)).status_code == 404
    row = bad["rows"][1]
    page = at("tool_look_again", stranger, theirs.pk, bad["event"].pk, "torque", row.pk)
    assert client_for(stranger).get(page).status_code == 404
    reader = client_for(make_person(builder.project, "helper"))
    assert (
        reader.get(at("tool_look_again", builder, bad["tool"].pk, bad["event"].pk, "torque", row.pk)).status_code == 403
    )
