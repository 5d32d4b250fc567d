"""Who may do what, and which links may be made."""

import pytest

from accounts import rules
from foundation.refusal import Refusal


@pytest.mark.parametrize(
    ("role", "acts"),
    [
        ("builder", {"read", "log", "find", "edit", "close", "manage", "sign"}),
        ("helper", {"read", "log", "find"}),
        ("paid", {"read", "log", "find"}),
        ("inspector", {"read", "find", "sign"}),
        ("reader", {"read"}),
        ("stowaway", set()),
    ],
)
def test_each_role_may_do_its_acts_and_no_others(role: str, acts: set[str]) -> None:
    every = ("read", "log", "find", "edit", "close", "manage", "sign")
    assert {act for act in every if rules.may(role, act)} == acts


def test_every_role_says_how_its_hours_count() -> None:
    assert set(rules.HOURS) == set(rules.ROLES)
    assert all("hours" in rules.HOURS[role].lower() for role in rules.WORKERS)


@pytest.mark.parametrize("zone", ["America/Denver", "UTC", "US/Mountain"])
def test_a_zone_of_the_database_is_taken(zone: str) -> None:
    rules.check_zone(zone)


@pytest.mark.parametrize("zone", ["", "Denver", "MST+7", "america/denver", "../etc/passwd"])
def test_anything_else_is_refused_with_an_example(zone: str) -> None:
    with pytest.raises(Refusal, match="America/Denver") as refused:
        rules.check_zone(zone)
    assert refused.value.field == "time_zone"


def test_the_zones_offered_are_places_and_utc_in_order() -> None:
    zones = rules.zones()
    assert {"America/Denver", "Europe/Vienna", "UTC"} <= set(zones)
    assert not [zone for zone in zones if zone.startswith(("Etc/", "SystemV/", "US/"))]
    assert zones == sorted(zones)


@pytest.mark.parametrize(
    ("role", "builders", "fine"), [("builder", 2, True), ("builder", 1, False), ("helper", 1, True)]
)
def test_a_project_keeps_a_builder(role: str, builders: int, fine: bool) -> None:
    if fine:
        rules.check_last_builder(role, builders)
    else:
        with pytest.raises(Refusal, match="needs a builder"):
            rules.check_last_builder(role, builders)


@pytest.mark.parametrize(
    ("owns", "elsewhere", "code"),
    [(False, False, ""), (True, False, "owners_account"), (False, True, "account_elsewhere")],
)
def test_a_link_opens_no_more_than_the_project_it_is_made_in(owns: bool, elsewhere: bool, code: str) -> None:
    if not code:
        rules.check_link(owns_installation=owns, stands_elsewhere=elsewhere)
        return
    with pytest.raises(Refusal) as refused:
        rules.check_link(owns_installation=owns, stands_elsewhere=elsewhere)
    assert refused.value.code == code
