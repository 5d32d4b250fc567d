"""Bonds: the window by the sheet that counts, steps in their order, told once, corrected with a reason."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import bonds as commands
from process.models import Bond
from process.rules.bonds import BondFacts, lasted, steps, verdicts, whole_minute, window
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project

ZONE = ZoneInfo("America/Denver")
WIPED = datetime(2026, 3, 13, 18, 0, tzinfo=UTC)


def after(**more: int) -> datetime:
    return WIPED + timedelta(**more)


# ---- Rules


@pytest.mark.parametrize(
    ("facts", "state", "words"),
    [
        (BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(minutes=15)), "good", "15 min after"),
        (BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(minutes=14, seconds=59)), "bad", "14 min 59 s"),
        (BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(hours=24)), "good", "24 h after"),
        (BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(hours=24, seconds=1)), "bad", "cleaned again"),
        (BondFacts(had_peel_ply="yes", wiped_at=WIPED, on_at=after(hours=1)), "bad", "peel ply is not recorded"),
        (BondFacts(had_peel_ply="yes", peel_off_at=after(hours=-1), wiped_at=WIPED, on_at=after(hours=1)), "good", ""),
        (BondFacts(wiped_at=WIPED, on_at=after(hours=1)), "open", "whether there was peel ply"),
        (BondFacts(wiped_at=WIPED), "open", "from 13 Mar 12:15 to 14 Mar 12:00"),
        (BondFacts(), "open", "last wipe is not told"),
        (BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(hours=-1)), "bad", "before the last wipe"),
    ],
)
def test_the_window(facts: BondFacts, state: str, words: str) -> None:
    found = window(facts, ZONE)
    assert found.state == state
    assert words in found.words
    assert "manual" in found.source
    assert "data sheet" in found.caution


def test_the_own_sheet_wins() -> None:
    own = BondFacts(
        had_peel_ply="no",
        wiped_at=WIPED,
        on_at=after(hours=3),
        dry_min=Decimal(60),
        within_h=Decimal(2),
        source="Sheet 7",
    )
    found = window(own, ZONE)
    assert found.bad
    assert found.source == "Sheet 7"
    assert "within 2 h" in found.rule
    half = BondFacts(had_peel_ply="no", wiped_at=WIPED, on_at=after(hours=1), within_h=Decimal(2), source="Sheet 7")
    assert "drying time built in" in window(half, ZONE).source


def test_steps_out_of_order_are_said() -> None:
    facts = BondFacts(had_peel_ply="no", abraded_at=after(minutes=5), wiped_at=WIPED, on_at=after(hours=1))
    found = {one.about: one for one in verdicts(facts, ZONE)}
    assert "Last wipe at 13 Mar 12:00 is before abraded at 13 Mar 12:05" in found["Order of the steps"].words


def test_squeeze_out_and_water_are_judged_as_told() -> None:
    found = {one.about: one.state for one in verdicts(BondFacts(squeeze_out="no", water_break="yes"), ZONE)}
    assert found["Squeeze-out"] == "bad"
    assert found["Water film"] == "good"
    assert {one.about for one in verdicts(BondFacts(), ZONE)} == {"Surface and window", "Squeeze-out"}


def test_the_next_step_is_the_first_that_is_missing() -> None:
    assert [step.key for step in steps(BondFacts()) if step.next] == ["peel_off_at"]
    assert [step.key for step in steps(BondFacts(had_peel_ply="no")) if step.next] == ["abraded_at"]
    assert [step.key for step in steps(BondFacts(had_peel_ply="no", abraded_at=WIPED)) if step.next] == ["wiped_at"]


@given(st.integers(0, 200_000), st.integers(0, 600), st.integers(1, 100))
def test_the_window_holds_at_both_ends(seconds: int, dry: int, hours: int) -> None:
    facts = BondFacts("no", None, None, WIPED, after(seconds=seconds), Decimal(dry), Decimal(hours), "Sheet")
    good = dry * 60 <= seconds <= hours * 3600
    assert window(facts, ZONE).good == good


def test_lengths_are_never_rounded_onto_a_limit() -> None:
    assert lasted(1440 + 1 / 60) == "24 h 1 s"
    assert lasted(15) == "15 min"
    assert lasted(0) == "0 min"
    assert lasted(90) == "1 h 30 min"


# ---- Pages


@pytest.fixture
def shop(db):  # noqa: ANN001, ANN201
    project, builder = make_project()
    return project, builder, make_assembly(builder)


def url(name: str, shop, *args) -> str:  # noqa: ANN001, ANN002
    return reverse(f"process:{name}", args=[shop[0].slug, *args])


def begun(shop, **more) -> Bond:  # noqa: ANN001, ANN003
    project, builder, assembly = shop
    values = {"kind": "secondary"} | more
    return commands.start_bond(by=builder, at=NOW, project=project, assembly=assembly, **values)


def test_a_bond_goes_from_begun_to_finished(shop) -> None:  # noqa: ANN001
    client = client_for(shop[1])
    parts = [make_part(shop[1], shop[2]) for _ in range(2)]
    data = {"kind": "secondary", "assembly": shop[2].pk, "title": "Rib to skin", "request_id": "b-1"}
    data |= {"joined": [f"part:{part.pk}" for part in parts], "had_peel_ply": "yes"}
    for _ in range(2):
        assert client.post(url("bond_new", shop), data).status_code == 302
    bond = Bond.objects.get()
    assert {row.part for row in bond.joined.all()} == set(parts)
    assert Entry.objects.filter(verb="bond.begun").count() == 1
    for step in ("peel_off_at", "abraded_at", "wiped_at"):
        assert client.post(url("bond_step", shop, bond.pk, step)).status_code == 302
    page = client.get(url("bond", shop, bond.pk)).content.decode()
    assert 'data-dry="15" data-within="1440" data-wiped=' in page
    assert "js/bond.js" in page
    # What is still to come is not a fault, and no time has seconds.
    assert "Not yet" in page
    assert "Not told" not in page
    bond.refresh_from_db()
    wiped = timezone.localtime(bond.wiped_at, ZoneInfo(shop[0].time_zone))
    assert f'<span class="small">{wiped.day} {wiped:%b %Y, %H:%M}</span>' in page
    client.post(url("bond_step", shop, bond.pk, "on_at"))
    client.post(url("bond_squeeze", shop, bond.pk), {"squeeze_out": "yes"})
    page = client.get(url("bond", shop, bond.pk)).content.decode()
    assert "which has to dry 15 min" in page
    assert "Seen all round" in page
    assert client.post(url("bond_finish", shop, bond.pk)).status_code == 302
    bond.refresh_from_db()
    assert bond.finished_at is not None
    commands.correct_bond(bond, by=shop[1], at=timezone.now(), reason="Tapped by mistake", abraded_at=None)
    page = client.get(url("bond", shop, bond.pk)).content.decode()
    assert "Not told" in page
    assert "Not yet" not in page


def test_the_time_for_the_adhesive_is_told_from_a_whole_minute() -> None:
    assert whole_minute(WIPED) == WIPED
    assert whole_minute(after(seconds=1)) == after(minutes=1)
    waits = window(BondFacts(wiped_at=after(seconds=30)), ZONE)
    assert "from 13 Mar 12:16 to 14 Mar 12:00" in waits.words


def test_a_wipe_is_told_again_but_not_once_the_adhesive_is_on(shop) -> None:  # noqa: ANN001
    bond = begun(shop)
    bond = commands.tell_step(bond, by=shop[1], at=NOW, step="wiped_at", when=NOW - timedelta(hours=30))
    bond = commands.tell_step(bond, by=shop[1], at=NOW, step="wiped_at", when=NOW - timedelta(hours=1))
    assert bond.wiped_at == NOW - timedelta(hours=1)
    bond = commands.tell_step(bond, by=shop[1], at=NOW, step="on_at")
    with pytest.raises(Refusal, match="on already"):
        commands.tell_step(bond, by=shop[1], at=NOW, step="wiped_at")
    with pytest.raises(Refusal, match="told already"):
        commands.tell_step(bond, by=shop[1], at=NOW, step="on_at")
    with pytest.raises(Refusal, match="no such step"):
        commands.tell_step(bond, by=shop[1], at=NOW, step="note")


def test_what_lies_in_the_future_is_refused(shop) -> None:  # noqa: ANN001
    with pytest.raises(Refusal, match="future"):
        commands.tell_step(begun(shop), by=shop[1], at=NOW, step="wiped_at", when=NOW + timedelta(hours=2))


def test_own_times_need_their_source(shop) -> None:  # noqa: ANN001
    client, bond = client_for(shop[1]), begun(shop)
    response = client.post(url("bond_edit", shop, bond.pk), {"kind": "tape", "dry_min": "30"})
    assert response.status_code == 422
    assert "Say which sheet" in response.content.decode()
    data = {"kind": "tape", "dry_min": "30", "within_h": "0,25", "source": "Sheet"}
    assert "before it is dry" in client.post(url("bond_edit", shop, bond.pk), data).content.decode()
    data["within_h"] = "8"
    assert client.post(url("bond_edit", shop, bond.pk), data).status_code == 302
    bond.refresh_from_db()
    assert (bond.dry_min, bond.within_h) == (30, 8)


def test_a_finished_bond_is_corrected_with_a_reason_only(shop) -> None:  # noqa: ANN001
    client, bond = client_for(shop[1]), begun(shop)
    commands.finish_bond(bond, by=shop[1], at=timezone.now())
    assert client.post(url("bond_edit", shop, bond.pk), {"kind": "tape"}).status_code == 422
    assert client.post(url("bond_edit", shop, bond.pk), {"kind": "tape", "reason": "Misread"}).status_code == 302
    client.post(url("bond_step", shop, bond.pk, "wiped_at"))
    bond.refresh_from_db()
    assert bond.wiped_at is None
    assert client.post(url("bond_reopen", shop, bond.pk), {"reason": "More"}).status_code == 302
    assert client.post(url("bond_withdraw", shop, bond.pk), {"reason": "Twice"}).status_code == 302
    assert "Withdrawn" in client.get(url("bond", shop, bond.pk)).content.decode()


def test_strangers_are_kept_out_and_lists_open(shop) -> None:  # noqa: ANN001
    bond = begun(shop)
    _, stranger = make_project("Another")
    assert client_for(stranger).get(url("bond", shop, bond.pk)).status_code == 404
    inspector = client_for(make_person(shop[0], "inspector"))
    assert inspector.get(url("bond", shop, bond.pk)).status_code == 200
    assert inspector.post(url("bond_step", shop, bond.pk, "on_at")).status_code == 403
    client = client_for(shop[1])
    for name in ("bonds", "bond_new"):
        assert client.get(url(name, shop)).status_code == 200
    assert client.get(url("bond_edit", shop, bond.pk)).status_code == 200
