"""Pure decisions about visits: whether a link still opens, and what a visitor says of what he looked at."""

from collections.abc import Mapping
from typing import Any

SEEN, NO_ACCESS = "seen", "no_access"
OUTCOMES = {SEEN: "Seen", NO_ACCESS: "Could not be reached", "cleared": "Not said"}


def look_in_words(said: Mapping[str, Any]) -> str:
    """What was said of one thing, in one line."""
    return ": ".join(filter(None, (said["outcome"], said["words"])))
