"""What a gate asks, what counts for it, and when it lets an area be closed: pure rules, no database."""

import json
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.rules import serves_as_inside
from foundation.refusal import Refusal
from inspections import rules
from inspections.rules import Asked, PhotoFacts, SignatureFacts

FACTS = {
    fact["id"]: fact
    for fact in json.loads((Path(__file__).parent.parent / "data" / "shop_facts_closeout.json").read_text())["facts"]
}
T = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def photo(key: str = "a", taken: datetime | None = T, received: datetime | None = None, **more) -> PhotoFacts:
    known = more.pop("known", "camera" if taken else "unknown")
    return PhotoFacts(key, f"P-{key}", taken, known, received or taken or T, **more)


def signed(at: datetime = T, role: str = "inspector", *changes: str) -> SignatureFacts:
    return SignatureFacts("s", role, at, changes)


def photo_item(position: int = 1, *photos: PhotoFacts, count: int = 1) -> Asked:
    return Asked(f"k{position}", position, "photo", f"Photo {position}", count=count, photos=photos)


def check_item(position: int = 1, answer: str = "", at: datetime = T) -> Asked:
    return Asked(
        f"k{position}", position, "check", f"Check {position}", answer=answer, answered_at=at if answer else None
    )


def sign_item(position: int = 1, *signatures: SignatureFacts, role: str = "inspector") -> Asked:
    return Asked(f"k{position}", position, "signoff", f"Sign {position}", role=role, signatures=signatures)


def judged(*items: Asked, worked: bool = True, **more) -> rules.Gate:
    return rules.gate(items, worked=worked, **more)


def found(count: int) -> list[rules.Wait]:
    """So many open discrepancies below."""
    return [rules.Wait(rules.DISCREPANCY, f"d{n}", f"D-{n}", "a dry spot") for n in range(1, count + 1)]


# ---- the facts of the shop ----


@pytest.mark.parametrize("name", ["CLS-01", "CLS-02"])
def test_a_gate_opens_only_when_everything_required_is_present_and_nothing_is_open(name: str) -> None:
    fact = FACTS[name]
    told, expected = fact["inputs"], fact["expected"]
    items = [
        Asked(words, position, "check", words, answer="yes" if words in told["present"] else "", answered_at=T)
        for position, words in enumerate(told["required"], start=1)
    ]
    gate = judged(*items, waits=found(told["open_discrepancies"]))
    assert gate.may_close is expected["may_close"]
    assert [item.asked.words for item in gate.missing] == expected["missing"]


def test_a_photo_taken_after_closing_does_not_count() -> None:
    fact = FACTS["CLS-03"]
    taken, closed = (
        datetime.fromisoformat(fact["inputs"][name]).replace(tzinfo=UTC) for name in ("photo_taken", "closed_at")
    )
    assert serves_as_inside(taken, "camera", taken, closed) is fact["expected"]["counts"]
    gate = judged(photo_item(1, photo(taken=taken)), closed_at=closed)
    assert gate.items[0].in_place is fact["expected"]["counts"]
    assert gate.items[0].why == "Photo missing. P-a was taken after closing."


def test_every_fact_names_its_source() -> None:
    assert set(FACTS) == {"CLS-01", "CLS-02", "CLS-03"} and all(fact["source"] for fact in FACTS.values())


def test_an_open_discrepancy_is_named_as_what_stands_in_the_way() -> None:
    gate = judged(check_item(1, "yes"), waits=found(1))
    with pytest.raises(Refusal) as no:
        rules.check_close(gate, "block", "")
    assert "D-1 a dry spot" in no.value.message


# ---- photos (rule R14) ----


def test_a_photo_taken_before_closing_and_sent_later_counts_and_is_named_late() -> None:
    item = judged(photo_item(1, photo(received=T + 3 * HOUR)), closed_at=T + HOUR).items[0]
    assert item.in_place and item.late == ("P-a",) and item.serving == {"a"}


def test_a_photo_that_came_before_closing_is_not_late() -> None:
    assert judged(photo_item(1, photo()), closed_at=T + HOUR).items[0].late == ()


def test_a_photo_of_unknown_time_counts_from_when_it_was_received() -> None:
    item = photo_item(1, photo(taken=None, received=T))
    assert judged(item, closed_at=T + HOUR).items[0].in_place
    assert not judged(item, closed_at=T - HOUR).items[0].in_place


def test_a_photo_at_the_very_moment_of_closing_does_not_count() -> None:
    assert not judged(photo_item(1, photo()), closed_at=T).items[0].in_place


def test_a_camera_clock_that_runs_ahead_does_not_turn_a_photo_away_that_was_here_before_closing() -> None:
    ahead = photo(taken=T + 2 * HOUR, received=T)
    assert judged(photo_item(1, ahead), closed_at=T + HOUR).items[0].in_place


def test_a_withdrawn_photo_does_not_count_and_the_gate_says_which() -> None:
    item = judged(photo_item(1, photo(withdrawn=True))).items[0]
    assert not item.in_place and item.why == "Photo missing. P-a was withdrawn."


def test_of_several_photos_the_gate_says_how_many_are_short() -> None:
    item = judged(photo_item(1, photo("a"), photo("b", withdrawn=True), count=3)).items[0]
    assert item.why == "2 of 3 photos missing. P-b was withdrawn."


def test_more_photos_than_asked_do_no_harm() -> None:
    item = judged(photo_item(1, photo("a"), photo("b"), photo("c", withdrawn=True))).items[0]
    assert item.in_place and item.why == ""


# ---- checks ----


@pytest.mark.parametrize(("answer", "in_place"), [("yes", True), ("na", True), ("no", False), ("", False)])
def test_a_check_is_in_place_with_yes_or_does_not_apply(answer: str, in_place: bool) -> None:
    assert judged(check_item(1, answer)).items[0].in_place is in_place


def test_a_check_answered_no_says_so() -> None:
    assert judged(check_item(1, "no")).items[0].why == "Answered no."


# ---- sign-offs (rules R23, R31) ----


def test_only_the_asked_role_satisfies_a_sign_off() -> None:
    assert not judged(sign_item(1, signed(T, "builder"))).items[0].in_place
    assert judged(sign_item(1, signed(T, "inspector"))).items[0].in_place


def test_a_signature_under_a_changed_record_no_longer_satisfies_and_names_the_change() -> None:
    item = judged(sign_item(1, signed(T, "inspector", "Item 1, P-0001: caption"))).items[0]
    assert not item.in_place and item.why == "Signed, then changed: Item 1, P-0001: caption."


def test_signing_again_satisfies_again() -> None:
    assert judged(sign_item(1, signed(T, "inspector", "x"), signed(T + HOUR))).items[0].in_place


def test_the_last_signature_tells_what_changed() -> None:
    item = judged(sign_item(1, signed(T + HOUR, "inspector", "new"), signed(T, "inspector", "old"))).items[0]
    assert item.why == "Signed, then changed: new."


# ---- reopening arms the gate again (rule R23) ----


@pytest.mark.parametrize(
    "item", [photo_item(1, photo()), check_item(1, "yes"), sign_item(1, signed())], ids=lambda i: i.kind
)
def test_nothing_from_before_the_reopening_counts(item: Asked) -> None:
    assert judged(item).may_close
    again = judged(item, since=T + HOUR)
    assert not again.items[0].in_place and again.state == "hold"
    assert judged(item, since=T - HOUR).may_close


def test_a_photo_from_before_the_reopening_is_named() -> None:
    item = judged(photo_item(1, photo()), since=T + HOUR).items[0]
    assert item.why == "Photo missing. P-a was taken before the area was opened again."


def test_a_photo_taken_before_the_reopening_and_sent_after_does_not_count() -> None:
    assert not judged(photo_item(1, photo(received=T + 2 * HOUR)), since=T + HOUR).items[0].in_place


def test_a_reopened_area_holds_even_when_nothing_was_worked() -> None:
    assert judged(check_item(1, "yes"), worked=False, since=T + HOUR).state == "hold"


# ---- the state is derived (rule R20) ----


@pytest.mark.parametrize(
    ("items", "more", "state"),
    [
        ((), {"worked": False}, "not_started"),
        ((), {"worked": True}, "hold"),
        ((check_item(1),), {"worked": False}, "not_started"),
        ((check_item(1),), {"worked": True}, "hold"),
        ((check_item(1, "yes"), check_item(2)), {"worked": False}, "hold"),
        ((check_item(1, "yes"),), {"worked": False}, "ready"),
        ((check_item(1),), {"closed_at": T}, "closed"),
        ((check_item(1),), {"closed_at": T, "advised": True}, "advised"),
    ],
)
def test_the_state_of_an_area_follows_from_what_is_there(items: tuple, more: dict, state: str) -> None:
    gate = judged(*items, **more)
    assert gate.state == state and gate.words == rules.STATE_WORDS[state]


def test_items_stand_in_their_order_and_the_seam_shows_each() -> None:
    gate = judged(check_item(2), check_item(1, "yes"))
    assert gate.bays == [{"number": 1, "in_place": True}, {"number": 2, "in_place": False}]


def test_sign_offs_are_not_among_what_has_to_be_there_before_signing() -> None:
    gate = judged(check_item(1), sign_item(2))
    assert [item.asked.position for item in gate.missing_before_signing] == [1]


# ---- any gate at all ----

times = st.integers(-6, 6).map(lambda hours: T + hours * HOUR)
photos = st.builds(
    lambda key, taken, received, withdrawn: photo(
        key, taken, max(received, taken) if taken else received, withdrawn=withdrawn
    ),
    st.uuids().map(str),
    st.one_of(st.none(), times),
    times,
    st.booleans(),
)
signatures = st.builds(
    SignatureFacts, st.uuids().map(str), st.sampled_from(["inspector", "builder"]), times, st.sampled_from([(), ("x",)])
)
loose = st.one_of(
    st.builds(lambda shown, count: photo_item(1, *shown, count=count), st.lists(photos, max_size=3), st.integers(1, 3)),
    st.builds(check_item, st.just(1), st.sampled_from(["", "yes", "no", "na"]), times),
    st.builds(
        lambda given, role: sign_item(1, *given, role=role),
        st.lists(signatures, max_size=3),
        st.sampled_from(["inspector", "builder"]),
    ),
)
any_items = st.lists(loose, max_size=6).map(
    lambda items: [replace(one, position=n, key=f"k{n}") for n, one in enumerate(items, 1)]
)
reopened = st.one_of(st.none(), times)


@given(any_items, st.booleans(), reopened, st.integers(0, 2))
def test_an_area_may_be_closed_exactly_when_all_of_at_least_one_item_is_in_place(
    items, worked, since, discrepancies
) -> None:
    gate = rules.gate(items, worked=worked, since=since, waits=found(discrepancies))
    assert gate.may_close == (bool(items) and all(i.in_place for i in gate.items) and not discrepancies)
    assert gate.may_close == (not gate.lacks)


@given(any_items, reopened, st.text(max_size=20))
def test_block_never_closes_over_a_gap_whatever_the_reason(items, since, reason) -> None:
    gate = rules.gate(items, worked=True, since=since)
    if gate.may_close:
        rules.check_close(gate, "block", reason)
    else:
        with pytest.raises(Refusal) as no:
            rules.check_close(gate, "block", reason)
        assert all(item.asked.words in no.value.message for item in gate.missing)


@given(any_items, reopened, st.sampled_from(["", " ", "\n\t"]))
def test_advise_closes_over_a_gap_only_with_a_reason(items, since, nothing) -> None:
    gate = rules.gate(items, worked=True, since=since)
    rules.check_close(gate, "advise", "The panel is glued")
    if not gate.may_close:
        with pytest.raises(Refusal) as no:
            rules.check_close(gate, "advise", nothing)
        assert no.value.field == "reason"


@given(any_items, reopened, st.integers(0, 5), photos, signatures)
def test_more_evidence_never_makes_a_gate_worse(items, since, which, more_photo, more_signature) -> None:
    before = rules.gate(items, worked=True, since=since)
    if not items:
        return
    one = items[which % len(items)]
    richer = {
        "photo": replace(one, photos=(*one.photos, more_photo)),
        "check": replace(one, answer="yes", answered_at=T + 100 * HOUR),
        "signoff": replace(one, signatures=(*one.signatures, more_signature)),
    }[one.kind]
    after = rules.gate([richer if it is one else it for it in items], worked=True, since=since)
    assert {i.asked.position for i in after.missing} <= {i.asked.position for i in before.missing}
    assert after.may_close >= before.may_close


@given(photos, times)
def test_no_photo_taken_after_closing_ever_counts(shown, closed_at) -> None:
    item = judged(photo_item(1, shown), closed_at=closed_at).items[0]
    taken = min(shown.taken_at, shown.received_at) if shown.taken_at else shown.received_at
    assert item.in_place == (not shown.withdrawn and taken < closed_at)
    assert bool(item.late) == (item.in_place and shown.received_at >= closed_at)


@given(any_items, times)
def test_after_a_reopening_only_newer_things_count(items, since) -> None:
    def newer(one: Asked) -> Asked:
        taken = lambda p: min(p.taken_at, p.received_at) if p.taken_at else p.received_at  # noqa: E731
        answered = one.answered_at is not None and one.answered_at >= since
        return replace(
            one,
            photos=tuple(p for p in one.photos if taken(p) >= since),
            answer=one.answer if answered else "",
            signatures=tuple(s for s in one.signatures if s.at >= since),
        )

    armed = rules.gate(items, worked=True, since=since)
    fresh = rules.gate([newer(one) for one in items], worked=True)
    assert [i.in_place for i in armed.items] == [i.in_place for i in fresh.items]


# ---- refusals ----


@pytest.mark.parametrize("advised", [False, True])
def test_a_closed_area_is_not_closed_or_signed_again(advised: bool) -> None:
    gate = judged(sign_item(1, signed()), closed_at=T + HOUR, advised=advised)
    with pytest.raises(Refusal, match="is closed"):
        rules.check_close(gate, "advise", "x")
    with pytest.raises(Refusal, match="is closed"):
        rules.check_sign(gate, "inspector")


def test_a_gate_that_asks_for_nothing_is_refused_in_words() -> None:
    with pytest.raises(Refusal, match="a list of what its gate asks for"):
        rules.check_close(judged(), "block", "")


def test_nothing_is_signed_over_a_gap() -> None:
    gate = judged(photo_item(1), check_item(2, "no"), sign_item(3))
    with pytest.raises(Refusal) as no:
        rules.check_sign(gate, "inspector")
    assert no.value.message == "Nothing is signed over a gap. Missing: 1 Photo 1, 2 Check 2."


def test_a_sign_off_is_for_its_role() -> None:
    gate = judged(check_item(1, "yes"), sign_item(2), sign_item(3, role="builder"))
    rules.check_sign(gate, "inspector")
    rules.check_sign(gate, "builder")
    with pytest.raises(Refusal, match="for the inspector or the builder"):
        rules.check_sign(gate, "helper")


def test_a_gate_without_a_sign_off_is_not_signed() -> None:
    with pytest.raises(Refusal, match="asks for no sign-off"):
        rules.check_sign(judged(check_item(1, "yes")), "inspector")


# ---- what was changed under a signature (rule R31) ----


def area(**changed) -> dict:
    facts = {"number": "24.1-C1", "name": "Interior", "kind": "permanent", "items": [[1, "photo", "Boss", "", 1, ""]]}
    return facts | changed


def change_of(then: dict, now: dict | None) -> tuple[str, ...]:
    return rules.changes_since([rules.cover("a", "24.1-C1 Interior", then)], {} if now is None else {"a": now})


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (area(name="Inside"), "name, signed as 'Interior', now 'Inside'"),
        (area(kind="access"), "how it is closed, signed as 'Closed for good', now 'Access panel'"),
        (area(items=[]), "item 1 Boss no longer asked for"),
        (area(items=[*area()["items"], [2, "check", "Vacuumed", "", 1, ""]]), "item 2 Vacuumed asked for since"),
        (area(items=[[1, "photo", "Boss", "All round", 1, ""]]), "item 1 Boss asked for differently"),
        (area(items=[[1, "check", "Rags", "", 1, ""]]), "item 1 Boss no longer asked for, item 1 Rags asked for since"),
        (None, "no longer in place"),
    ],
)
def test_a_change_under_a_signature_is_named_in_words(now: dict | None, words: str) -> None:
    assert change_of(area(), now) == (f"24.1-C1 Interior: {words}",)


def test_a_changed_answer_says_what_it_was() -> None:
    then = {"answer": "yes", "reason": "", "answered_at": "a", "answered_by": "Edda"}
    assert change_of(then, then | {"answer": "no", "answered_at": "b"})[0].endswith(
        "Interior: answer, signed as 'Yes', now 'No'"
    )
    assert change_of(then, then | {"answered_at": "b"})[0].endswith("answered again")
    assert change_of(then, then | {"answer": "na", "reason": "No drain", "answered_at": "b"})[0].endswith(
        "answer, signed as 'Yes', now 'Does not apply', reason, signed empty, now 'No drain'"
    )


@pytest.mark.parametrize(
    ("then", "now", "words"),
    [
        ("Plate A", "Plate B", "caption, signed as 'Plate A', now 'Plate B'"),
        ("", "Plate B", "caption, signed empty, now 'Plate B'"),
        ("Plate A", "", "caption, signed as 'Plate A', now empty"),
        ("One\nTwo", "x" * 121, f"caption, signed as 'One Two', now '{'x' * 119}…'"),
    ],
)
def test_a_changed_caption_says_what_was_signed_and_what_stands_there_now(then: str, now: str, words: str) -> None:
    assert change_of({"caption": then}, {"caption": now})[0].endswith(words)


def test_a_photo_says_what_it_was_signed_to_show_behind_what_else_was_changed() -> None:
    then = {"taken_at": "a", "shows": "inside"}
    words = "when it was taken, what it shows, signed as 'Inside before closing', now 'Gauge'"
    assert change_of(then, {"taken_at": "b", "shows": "gauge"})[0].endswith(f": {words}")


@given(
    st.dictionaries(st.text(max_size=5), st.one_of(st.text(max_size=5), st.integers(-9, 9), st.booleans()), max_size=5)
)
def test_what_is_as_signed_has_no_changes(facts: dict) -> None:
    assert change_of(facts, dict(reversed(facts.items()))) == ()


# ---- measured values, counts, process records, inner areas ----


def measure_item(
    value: str | None, low: str | None = "2", high: str | None = "4.50", unit: str = "mm", read: str = "mm"
):
    ends = {"low": Decimal(low) if low else None, "high": Decimal(high) if high else None}
    given = {"value": Decimal(value), "value_unit": read, "answered_at": T} if value is not None else {}
    return Asked("k1", 1, "measure", "Gap", unit=unit, **ends, **given)


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (measure_item(None), "Not measured yet. From 2 mm to 4.5 mm."),
        (measure_item("2"), ""),
        (measure_item("4.5"), ""),
        (measure_item("1.9999"), "1.9999 mm is under the least, 2 mm."),
        (measure_item("4.5001"), "4.5001 mm is over the most, 4.5 mm."),
        (measure_item("300", low=None), "300 mm is over the most, 4.5 mm."),
        (measure_item("300", high=None), ""),
        (measure_item("3", read="in"), "Measured as 3 in, asked for in mm."),
    ],
)
def test_a_measured_value_is_held_against_its_limits(item: Asked, why: str) -> None:
    judged_item = judged(item).items[0]
    assert (judged_item.why, judged_item.in_place) == (why, not why)


@pytest.mark.parametrize(
    ("went_in", "came_out", "fits"), [(12, 12, True), (12, 11, False), (0, 0, True), (3, 4, False)]
)
def test_as_many_tools_come_out_as_went_in(went_in: int, came_out: int, fits: bool) -> None:
    item = Asked("k1", 1, "count", "Tools", number_in=went_in, number_out=came_out, answered_at=T)
    assert judged(item).may_close is fits
    assert not judged(item, since=T + DAY).may_close, "a count from before the reopening says nothing"


def record(verdict: str = "good", at: datetime = T, withdrawn: bool = False) -> rules.RecordFacts:
    return rules.RecordFacts(f"r-{verdict}", f"Bond {verdict}", verdict, at, withdrawn)


@pytest.mark.parametrize(
    ("records", "why"),
    [
        ([record()], ""),
        ([record("bad"), record()], ""),
        ([record("bad")], "No record that counts. Bond bad has a bad verdict."),
        ([record("open")], "No record that counts. Bond open has no verdict yet."),
        ([record(withdrawn=True)], "No record that counts. Bond good was withdrawn."),
        ([], "No record that counts."),
    ],
)
def test_a_process_record_counts_with_a_good_verdict_only(records: list, why: str) -> None:
    item = judged(Asked("k1", 1, "process", "Bond", records=tuple(records))).items[0]
    assert (item.why, item.in_place) == (why, not why)


def test_an_inner_area_has_to_be_closed_now() -> None:
    def gate(inner: rules.InnerFacts | None) -> rules.Item:
        return judged(Asked("k1", 1, "inner", "Tank", inner=inner)).items[0]

    assert gate(rules.InnerFacts("24.2-C1", closed=True)).in_place
    assert gate(rules.InnerFacts("24.2-C1", closed=True, advised=True)).why == "Closed with a reason."
    assert gate(rules.InnerFacts("24.2-C1", closed=False)).why == "24.2-C1 is open."
    assert not gate(rules.InnerFacts("24.2-C1", closed=True, withdrawn=True)).in_place


@given(st.dictionaries(st.sampled_from("abcdef"), st.sets(st.sampled_from("abcdef")), max_size=6))
def test_no_two_areas_can_be_made_to_wait_for_each_other(graph: dict) -> None:
    kept: dict[str, set[str]] = {}
    for outer, inners in graph.items():
        for inner in inners:
            with suppress(Refusal):
                rules.check_inner(outer, inner, kept)
                kept.setdefault(outer, set()).add(inner)
    # What was let through is without rings: it can be put in an order.
    TopologicalSorter(kept).prepare()


# ---- what is not accepted ----


def verdict(*told: tuple[int, bool], changes: tuple[str, ...] = ()) -> rules.Item:
    marks = [SignatureFacts(str(n), "inspector", T + n * DAY, changes, ok, "dry spot") for n, ok in told]
    return judged(sign_item(1, *marks)).items[0]


def test_who_does_not_accept_takes_the_sign_off_away_until_it_is_signed_again() -> None:
    assert verdict((1, True)).in_place
    assert verdict((1, True), (2, False)).why == "Not accepted: dry spot."
    assert verdict((1, False), (2, True)).in_place
    assert not verdict((1, False), (1, True)).in_place
    assert verdict((1, False), (2, True), changes=("P-1: caption",)).why == "Signed, then changed: P-1: caption."


@given(st.lists(st.tuples(st.integers(0, 9), st.booleans()), max_size=6))
def test_a_sign_off_is_in_place_exactly_when_the_last_word_is_an_unchanged_yes(told: list) -> None:
    last = max(told, key=lambda one: (one[0], not one[1]), default=None)
    assert verdict(*told).in_place == (last is not None and last[1])


def test_nothing_is_signed_over_a_hold_point_but_not_accepting_needs_nothing() -> None:
    wait = rules.Wait(rules.POINT, "h", "H-1", "Fillets before the skin")
    gate = judged(check_item(1, "yes"), sign_item(2), waits=[wait])
    with pytest.raises(Refusal, match="H-1 Fillets before the skin"):
        rules.check_sign(gate, "inspector")
    rules.check_sign(gate, "inspector", accepted=False)
    with pytest.raises(Refusal):
        rules.check_not_accepted(False, " ")


def test_a_closed_gate_says_when_something_is_lost() -> None:
    assert not judged(check_item(1, "yes"), closed_at=T + DAY).lost
    gate = judged(check_item(1, "no"), closed_at=T + DAY)
    assert gate.lost and gate.state == rules.CLOSED
