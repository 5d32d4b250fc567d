"""Pure decisions about visits: whether a link still opens, and what a visitor says of what he looked at."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from foundation.refusal import Refusal

SEEN, NO_ACCESS, CLEARED = "seen", "no_access", "cleared"
OUTCOMES = {SEEN: "Seen", NO_ACCESS: "Could not be reached", CLEARED: "Not said"}

# States of a link. Shut tells nothing: an expired one, one taken back and one that never was look the same.
OPEN, ENDED, SHUT = "open", "ended", "shut"

USUAL_DAYS, MOST_DAYS = 7, 60
MOST_OPENINGS = 200

DECLINED = (
    "I looked at what is listed here as far as the record and the open area show it, and do not accept it, for the "
    "reason given."
)

# What a browser says of itself, from the particular to the general.
SYSTEMS = {
    "iPhone": "iPhone",
    "iPad": "iPad",
    "Android": "Android",
    "Windows": "Windows",
    "Mac OS": "Mac",
    "Linux": "Linux",
}
BROWSERS = {"Firefox/": "Firefox", "FxiOS/": "Firefox", "Edg": "Edge", "Chrome/": "Chrome", "CriOS/": "Chrome"}


def look_in_words(said: Mapping[str, Any]) -> str:
    """What was said of one thing, in one line."""
    return ": ".join(filter(None, (said["outcome"], said["words"])))


def standing(
    *, at: datetime, expires_at: datetime, revoked_at: datetime | None = None, ended_at: datetime | None = None
) -> str:
    """Whether a link opens at this moment."""
    if revoked_at is not None or at >= expires_at:
        return SHUT
    return ENDED if ended_at is not None else OPEN


def check_open(state: str) -> None:
    """Refuse anything on a visit whose link does not open any more."""
    if state != OPEN:
        raise Refusal("visit_over", "This visit is over. Ask whoever gave you the link for a new one.")


def check_made(*, at: datetime, expires_at: datetime, things: int) -> None:
    """Refuse a link that leads to nothing, or that would stay open for too long."""
    if not things:
        raise Refusal("nothing_chosen", "Choose at least one area or point to look at.", "areas")
    if not at < expires_at <= at + timedelta(days=MOST_DAYS):
        raise Refusal("bad_life", f"A link is open for 1 to {MOST_DAYS} days.", "days")


def check_look(outcome: str, words: str) -> None:
    """Refuse a look that leaves open why something was not seen."""
    if outcome not in OUTCOMES:
        raise Refusal("no_such_outcome", "Say whether it was seen, or could not be reached.")
    if outcome == NO_ACCESS and not words.strip():
        raise Refusal("no_words", "Say why it could not be reached.", "words")


def check_signature(*, accepted: bool, reason: str, chosen: int) -> None:
    """Refuse a signature under nothing, and one that does not say why it does not accept."""
    if not chosen:
        raise Refusal("nothing_chosen", "Choose what you sign.", "things")
    if not accepted and not reason.strip():
        raise Refusal("no_reason", "Say what is not accepted and why. It stays with the record.", "reason")


def check_page(
    *, number: str, present: str, signed_on: date, today: date, since: date | None, is_picture: bool
) -> None:
    """Refuse a page signed in ink that is not about what stands in the record now.

    `number` and `present` are the record number on the page and the one that would be printed on it now; `since` is the
    day on which an area was last opened again.
    """
    if not is_picture:
        raise Refusal("no_picture", "Photograph the signed page. A video or a sound is no page.", "page")
    if plain_number(number) != plain_number(present):
        raise Refusal(
            "other_record",
            "The number on the page is not that of the record as it stands now: something was changed since it was "
            "printed, or a digit is wrong. Compare it, or print the page again and have it signed.",
            "number",
        )
    if signed_on > today:
        raise Refusal("not_yet", "The day on the page is still to come.", "signed_on")
    if since is not None and signed_on < since:
        raise Refusal("before_reopening", "The page was signed before the area was opened again.", "signed_on")


def plain_number(number: str) -> str:
    """A record number without its dashes and spaces, in capitals."""
    return "".join(sign for sign in number.upper() if sign.isalnum())


def device_words(user_agent: str) -> str:
    """What a browser runs on, in two words; nothing that tells one person's phone from another's."""
    found = (next((words for sign, words in signs.items() if sign in user_agent), "") for signs in (SYSTEMS, BROWSERS))
    return ", ".join(filter(None, found))
