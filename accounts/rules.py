"""Who may do what, and whether an identity is told the same everywhere."""

from zoneinfo import available_timezones

from foundation.refusal import Refusal

BUILDER, HELPER, PAID, INSPECTOR, READER = "builder", "helper", "paid", "inspector", "reader"

ROLES = {
    BUILDER: "Builder",
    HELPER: "Helper, unpaid",
    PAID: "Paid help",
    INSPECTOR: "Inspector",
    READER: "Reader",
}

# What each role may do. Reading is open to every member; strangers do not learn that a project exists.
ACTS = {
    BUILDER: {"read", "log", "find", "edit", "close", "manage", "sign"},
    HELPER: {"read", "log", "find"},
    PAID: {"read", "log", "find"},
    INSPECTOR: {"read", "find", "sign"},
    READER: {"read"},
}

WORKERS = (BUILDER, HELPER, PAID)

# How the hours of each role stand in the totals (rule R5).
HOURS = {
    BUILDER: "Builder hours",
    HELPER: "Helper hours, unpaid",
    PAID: "Paid hours",
    INSPECTOR: "Logs no hours",
    READER: "Logs no hours",
}

# In which units a project shows its weights and lengths.
UNITS = {"si": "Grams and millimeters", "us": "Pounds and inches"}

# What a country's closing policy means, for somebody who has to choose (rule R22).
CLOSING = {
    "block": "An area with something missing may not be closed.",
    "advise": "An area with something missing may be closed with a reason, which prints with it for ever.",
}

REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Arctic",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)


def zones() -> list[str]:
    """Time zones named after a place, and UTC: those worth offering in a list."""
    return sorted(zone for zone in available_timezones() if zone == "UTC" or zone.split("/")[0] in REGIONS)


def may(role: str, act: str) -> bool:
    """Whether a member with this role may do this act: read, log, find, edit, close, manage or sign."""
    return act in ACTS.get(role, ())


def check_zone(zone: str) -> None:
    """Refuse a time zone that is not in the IANA database."""
    if zone not in available_timezones():
        raise Refusal("no_such_zone", f"{zone!r} is not a time zone. Write it like America/Denver.", "time_zone")


def check_last_builder(role: str, builders: int) -> None:
    """Refuse to leave a project without a builder who can open it."""
    if role == BUILDER and builders <= 1:
        raise Refusal("last_builder", "A project needs a builder with an account. Give the role to someone else first.")


def check_link(*, owns_installation: bool, stands_elsewhere: bool) -> None:
    """Refuse a sign-in link that would open more than the project it was made in.

    `owns_installation`: the account is the owner's and somebody else asks. `stands_elsewhere`: the account is also
    on a project whose builder is not the one who asks.
    """
    if owns_installation:
        raise Refusal("owners_account", "Only the owner of this installation makes a link for the owner's account.")
    if stands_elsewhere:
        raise Refusal(
            "account_elsewhere",
            "This account is used on another project too, so a link made here would open that as well. "
            "The person signs in with the password, or asks the builder of the other project.",
        )
